from __future__ import annotations

from datetime import date

import pytest

from journal.importing.destinations import Subject, stage_of, subject_named
from journal.model import Ref
from journal.problems import Refusal
from journal.reading.keys import STAGES
from tests.builders import WASH_HOUSE, draft

DRAFTS = [
    draft("batches/B-031/batch.md", "kind: batch\nid: B-031\ndate: 2026-10-06\nunits: 4"),
    draft("cultures/PP-26A.md", "kind: culture\nid: PP-26A\ndate: 2026-09"),
    draft("a/other.md", "kind: culture\nid: pp-26b\ndate: 2026-09-12"),
    draft("b/other.md", "kind: batch\nid: PP-26B\ndate: 2026-09-13"),
    draft("batches/B-031/2026-10-27.md", "kind: note\nabout: B-031.2, PP-26A\ndate: 2026-10-27"),
    draft("batches/B-031/2026-10-28.md", "kind: note\ndate: 2026-10-28"),
]


@pytest.mark.parametrize(
    ("expected", "typed"),
    [
        (Subject(Ref("B-031"), "batch", "batches/B-031/batch.md", date(2026, 10, 6)), "b-031"),
        (Subject(Ref("B-031", 4), "batch", "batches/B-031/batch.md", date(2026, 10, 6)), " B-031.04 "),
        # A month is no day from which anything could be told to be too early; nobody counted its vessels.
        (Subject(Ref("PP-26A", 9), "culture", "cultures/PP-26A.md", None), "PP-26A.9"),
        # Of two entries with one ID the one whose path sorts first keeps it.
        (Subject(Ref("pp-26b"), "culture", "a/other.md", date(2026, 9, 12)), "PP-26B"),
        (Subject(Ref("wash-house"), "tent"), "Wash-House"),
    ],
)
def test_an_id_is_known_in_any_case_and_spelled_as_defined(expected: Subject, typed: str) -> None:
    assert expected == subject_named(typed, DRAFTS, WASH_HOUSE)


@pytest.mark.parametrize(
    ("says", "typed"),
    [
        ("did you mean B-031", "B-013"),
        ("there is no Q in this journal$", "Q"),
        ("there is no B-031.5; correct the number, or `units` in batches/B-031/batch.md", "B-031.5"),
        ("does not name a part", "B-031.0"),
        ("wash-house is a tent and has no part 1", "wash-house.1"),
        ("cannot be an ID", "B_031"),
    ],
)
def test_what_is_not_there_is_reported_with_what_may_be_meant(says: str, typed: str) -> None:
    with pytest.raises(Refusal, match=says):
        subject_named(typed, DRAFTS, WASH_HOUSE)


@pytest.mark.parametrize(
    ("example", "typed"),
    [
        ("journal attach B-031.2 PHOTOS", "batches/B-031/2026-10-27.md"),
        ("journal attach B-031.2 PHOTOS", "../B-031/2026-10-27.md"),
        ("journal attach B-031.2 PHOTOS", "2026-10-27.md"),
        ("journal attach PP-26A PHOTOS", "cultures\\PP-26A.md"),
        # Two entries of that name; one that says what it is about only by lying there; photos typed first; a folder.
        ("journal attach B-031 PHOTOS", "other.md"),
        ("journal attach B-031 PHOTOS", "2026-10-28.md"),
        ("journal attach B-031 PHOTOS", "IMG_0001.JPG"),
        ("journal attach B-031 PHOTOS", "DCIM/100"),
    ],
)
def test_a_path_where_the_id_should_stand_is_told_from_one_with_how_to_type_it(example: str, typed: str) -> None:
    with pytest.raises(Refusal) as refused:
        subject_named(typed, DRAFTS, WASH_HOUSE)
    assert str(refused.value).startswith(f'"{typed}" cannot be an ID')
    assert str(refused.value).endswith(f"`{example}`")


@pytest.mark.parametrize(("kind", "stage"), [(kind, stage) for kind, stages in STAGES.items() for stage in stages])
def test_every_stage_of_a_kind_may_be_given_however_it_is_typed(kind: str, stage: str) -> None:
    assert stage == stage_of(Subject(Ref("X"), kind), stage.upper().replace(" ", "_"))


@pytest.mark.parametrize(("kind", "typed", "stage"), [("batch", "pins", "pinning"), ("find", "pins", "young")])
def test_an_everyday_word_for_a_stage_is_read(kind: str, typed: str, stage: str) -> None:
    assert stage == stage_of(Subject(Ref("X"), kind), typed)


@pytest.mark.parametrize(
    ("kind", "stage"), [("batch", "clean"), ("find", "pinning"), ("device", "spent"), ("tent", "pinning")]
)
def test_a_stage_of_another_kind_is_refused(kind: str, stage: str) -> None:
    with pytest.raises(Refusal, match=r"--stage|; the stages are "):
        stage_of(Subject(Ref("X"), kind), stage)


def test_a_stage_that_is_empty_is_shown_as_that() -> None:
    with pytest.raises(Refusal, match=r'^"" is not a stage of a batch'):
        stage_of(Subject(Ref("X"), "batch"), "")
