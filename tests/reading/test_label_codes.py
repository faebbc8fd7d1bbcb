from __future__ import annotations

import json
from contextlib import nullcontext
from pathlib import Path

import pytest

from journal.model import Ref
from journal.problems import Unreadable
from journal.reading.label_codes import check_fits, label_text, read_label, without_check

CASES = json.loads((Path(__file__).parents[1] / "label_cases.json").read_text(encoding="utf-8"))
SITE = CASES["site_url"]
PAGE = "batches/b-031/index.html"


@pytest.mark.parametrize(("text", "named"), CASES["read"])
def test_what_a_text_names(text: str, named: str | None) -> None:
    found = read_label(text, SITE)
    assert named == (str(found) if found else None)


@pytest.mark.parametrize(("text", "times", "is_one"), CASES["repeated"])
def test_what_a_very_long_text_names(text: str, times: int, is_one: bool) -> None:
    assert is_one == (read_label(text * times, SITE) is not None)


def test_no_address_is_a_label_where_the_journal_has_none() -> None:
    assert read_label(f"https://journal.example/tarn-skerry/{PAGE}") is None
    assert Ref("B-031") == read_label("B-031")


@pytest.mark.parametrize(
    ("label", "text"),
    [
        (label_text(Ref("B-031")), "B-031"),
        (label_text(Ref("B-031", 2), has_check=True), "B-031.2+O"),
        (label_text(Ref("B-031"), PAGE), "B-031"),
        (label_text(Ref("B-031"), None, SITE), "B-031"),
        (label_text(Ref("B-031"), PAGE, SITE), f"{SITE}/batches/b-031/"),
        (label_text(Ref("B-031", 2), PAGE, f"{SITE}/", has_check=True), f"{SITE}/batches/b-031/#2"),
        (
            label_text(Ref("D-04"), "tents/hut/index.html#d-04", f"{SITE}/index.html"),
            f"{SITE}/tents/hut/index.html#d-04",
        ),
    ],
)
def test_a_label_holds_the_address_of_its_page_or_its_id_and_is_read_back(label: str, text: str) -> None:
    assert text == label
    read = read_label(text, SITE)
    assert read is not None
    assert str(read).lower() in ("b-031", "b-031.2", "d-04")


@pytest.mark.parametrize(("typed", "id"), [("B-031", "B-031"), ("b-031+x", "b-031"), ("B-031.2+O", "B-031.2")])
def test_a_typed_id_may_have_its_check_character(typed: str, id: str) -> None:
    assert id == without_check(typed)


@pytest.mark.parametrize(("typed", "known", "fits"), CASES["typed"])
def test_o_and_0_are_taken_for_each_other_where_no_other_id_may_be_meant(
    typed: str, known: list[str], fits: bool
) -> None:
    """ISO/IEC 7064, MOD 37-2 finds any one wrong character: F26-062 has 0, F26-002 has O, and one may be typed for the
    other."""
    assert fits == check_fits(*typed.split("+"), known)
    with nullcontext() if fits else pytest.raises(Unreadable):
        assert typed.split("+")[0] == without_check(typed, known)


def test_a_wrong_check_character_is_refused() -> None:
    with pytest.raises(Unreadable, match='check character of "B-013" is not "X"'):
        without_check("B-013+X")
