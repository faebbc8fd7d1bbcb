from __future__ import annotations

from datetime import date

import pytest

from journal.settings import Settings, Tent
from journal.writing.new_entry import CannotAdd, new_entry
from tests.builders import WASH_HOUSE, draft

TODAY = date(2026, 11, 25)


DRAFTS = [
    draft("finds/alder/find.md", "kind: find\nid: F26-001\ndate: 2026-09-12\nspecies: Pleurotus pulmonarius"),
    draft("cultures/PP-26A.md", "kind: culture\nid: PP-26A\ndate: 2026-09-12\nfrom: F26-001"),
    draft("cultures/PP-26B.md", "kind: culture\nid: PP-26B\ndate: 2026-11-13\nfrom: PP-26A"),
    draft("batches/B-031/batch.md", "kind: batch\nid: B-031\ndate: 2026-10-06\nculture: PP-26A"),
    draft("batches/B-031/2026-11-01.md", "kind: note\nabout: B-031\nstage: fruiting"),
    draft("devices/fan-1.md", "kind: device\nid: fan-1\ndate: 2026-02-01\ntent: wash-house"),
]


@pytest.mark.parametrize(
    ("expected_path", "expected_id", "kind", "about"),
    [
        ("finds/2026-11-25-F26-002/find.md", "F26-002", "find", None),
        ("cultures/PP-26C.md", "PP-26C", "culture", "F26-001"),
        ("batches/B-032/batch.md", "B-032", "batch", "pp-26b"),
        ("batches/B-031/2026-11-25.md", None, "note", "B-031"),
        ("batches/B-031/2026-11-25.md", None, "note", "b-031.2"),
        ("finds/alder/2026-11-25.md", None, "note", "F26-001"),
        ("notes/2026-11-25-PP-26A.md", None, "note", "PP-26A"),
        ("tents/2026-11-25-wash-house.md", None, "note", "wash-house"),
        ("tents/2026-11-25-wash-house.md", None, "tent", "Wash-House"),
        ("devices/fan-2.md", "fan-2", "device", "wash-house"),
    ],
)
def test_an_entry_lies_with_what_it_is_about(expected_path: str, expected_id, kind: str, about) -> None:
    made = new_entry(kind, DRAFTS, WASH_HOUSE, TODAY, about)
    assert (expected_path, expected_id) == (made.path, made.id)


def test_what_lies_alone_in_the_folder_of_its_kind_has_no_folder_to_itself() -> None:
    lone = draft("batches/B-040.md", "kind: batch\nid: B-040\ndate: 2026-10-06")
    assert "notes/2026-11-25-B-040.md" == new_entry("note", [lone], WASH_HOUSE, TODAY, "B-040").path


def test_an_id_is_spelled_as_where_it_was_defined() -> None:
    assert "\nabout: B-031.2\n" in new_entry("note", DRAFTS, WASH_HOUSE, TODAY, "b-031.2").text


@pytest.mark.parametrize(
    ("says", "kind", "about"),
    [
        ("there is no B-013 in this journal; did you mean B-031", "note", "B-013"),
        ("a find cannot be about anything", "find", "B-031"),
        ("B-031 is a batch; a tent must be about a tent", "tent", "B-031"),
        ("F26-001 is a find; a batch must be about a culture", "batch", "F26-001"),
        ("--about: .* cannot be an ID", "note", "no id at all"),
    ],
)
def test_what_an_entry_cannot_be_about_is_reported(says: str, kind: str, about: str) -> None:
    with pytest.raises(CannotAdd, match=says):
        new_entry(kind, DRAFTS, WASH_HOUSE, TODAY, about)


def test_a_note_about_a_tent_is_a_tent_entry() -> None:
    made = new_entry("note", DRAFTS, WASH_HOUSE, TODAY, "wash-house")
    assert "tent" == made.kind
    assert made.text.startswith("---\nkind: tent\n")
    assert "\nabout: wash-house\n" in made.text


@pytest.mark.parametrize(("kind", "key"), [("tent", "about"), ("device", "tent")])
def test_the_only_tent_is_filled_in_and_of_two_none(kind: str, key: str) -> None:
    assert f"\n{key}: wash-house\n" in new_entry(kind, DRAFTS, WASH_HOUSE, TODAY).text
    two = Settings(tents=(*WASH_HOUSE.tents, Tent(id="loft", name="Loft")))
    assert f"\n{key}:\n" in new_entry(kind, DRAFTS, two, TODAY).text


def test_a_culture_presumes_neither_method_nor_form_and_takes_a_form_as_entries_do() -> None:
    text = new_entry("culture", DRAFTS, WASH_HOUSE, TODAY, "F26-001").text
    assert "\nmethod:\n" in text
    assert "\nform:\n" in text
    assert "\nform: spore print\n" in new_entry("culture", DRAFTS, WASH_HOUSE, TODAY, "F26-001", "spore-print").text


@pytest.mark.parametrize(
    ("says", "kind", "form"),
    [
        ("--form: .pate. is not a form; fix: .*plate", "culture", "pate"),
        ("only a culture has a form, and not a batch; leave out --form", "batch", "plate"),
    ],
)
def test_a_form_that_is_none_is_refused(says: str, kind: str, form: str) -> None:
    with pytest.raises(CannotAdd, match=says):
        new_entry(kind, DRAFTS, WASH_HOUSE, TODAY, None, form)


@pytest.mark.parametrize("kind", ["note", "tent", "device"])
def test_a_tent_that_is_not_there_comes_with_its_lines(kind: str) -> None:
    with pytest.raises(CannotAdd, match="if it is a tent or room, add these lines") as refused:
        new_entry(kind, DRAFTS, WASH_HOUSE, TODAY, "cellar")
    assert refused.value.paste.startswith('[tents.cellar]\nname = "Cellar"\n')
    with pytest.raises(CannotAdd, match="there is no house in this journal; did you mean wash-house"):
        new_entry(kind, DRAFTS, WASH_HOUSE, TODAY, "house")
