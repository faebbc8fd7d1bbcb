"""What may be an ID, and what is named by one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.model import Ref
from journal.problems import Unreadable
from journal.reading.values import parse_id, parse_ref


@pytest.mark.parametrize("text", ["B-031", "PP-26A", "a", "wash-house", "a" * 32, "com10", "console", "B--1"])
def test_an_id_is_kept_as_written(text: str) -> None:
    assert text == parse_id(f" {text} ")


@pytest.mark.parametrize(
    "text", ["", "31B", "-B", "B-", "B 31", "B_31", "B.1", "Ä1", "B-é", "a" * 33, "B/1", "../x", "B-１", "B-1\n2"]
)
def test_what_cannot_be_an_id_is_refused(text: str) -> None:
    with pytest.raises(Unreadable) as fault:
        parse_id(text)
    assert "cannot be an ID" in fault.value.message


# Microsoft, Naming Files, Paths, and Namespaces: names that no file may bear, in any case.
@pytest.mark.parametrize("text", ["CON", "prn", "Aux", "NUL", "COM1", "com9", "LPT1", "lpt9"])
def test_a_name_that_windows_keeps_is_refused(text: str) -> None:
    with pytest.raises(Unreadable) as fault:
        parse_id(text)
    assert "Windows" in fault.value.message


@pytest.mark.parametrize("text", ["compare", "Compare"])
def test_a_name_that_a_page_of_the_site_has_is_refused_with_one_that_is_free(text: str) -> None:
    with pytest.raises(Unreadable) as fault:
        parse_id(text)
    assert "page of the site" in fault.value.message
    assert f"{text}-1" == parse_id(fault.value.fix.removeprefix("add a number: "))


@pytest.mark.parametrize(
    ("text", "ref"), [("B-031", Ref("B-031")), ("B-031.2", Ref("B-031", 2)), (" PP-26A.013 ", Ref("PP-26A", 13))]
)
def test_a_reference_names_a_whole_or_a_part(text: str, ref: Ref) -> None:
    assert ref == parse_ref(text)


@pytest.mark.parametrize(
    "text", ["B-031.", "B-031.0", "B-031.x", "B-031.2.1", ".2", "B-031.-1", "B-031.1234567", "B 1.2"]
)
def test_what_names_no_part_is_refused(text: str) -> None:
    with pytest.raises(Unreadable):
        parse_ref(text)


@given(st.from_regex(r"[A-Za-z][A-Za-z0-9]{3,31}", fullmatch=True), st.integers(1, 999999))
def test_a_reference_reads_back_as_it_is_written(id: str, part: int) -> None:
    if id.lower()[:3] in {"com", "lpt"}:
        return
    assert Ref(id, part) == parse_ref(str(Ref(id, part)))
