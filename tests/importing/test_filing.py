from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from journal.importing.destinations import Subject, folded
from journal.importing.filing import Claim, JournalContents, PhotoTarget, day_warnings, file_photos, refuse_several_days
from journal.importing.photo_files import Content, Inspected, Source
from journal.model import Ref
from journal.problems import Refusal
from journal.reading.entries import read_entry
from journal.settings import Settings

BATCH = read_entry("batches/B-031/batch.md", b"---\nkind: batch\nid: B-031\ndate: 2026-10-06\n---\n", Settings())
NOTE = read_entry("batches/B-031/2026-10-20.md", b"---\nkind: note\n---\n", Settings())
SUBJECT = Subject(Ref("B-031"), "batch", "batches/B-031/batch.md", date(2026, 10, 6))
HERE = "batches/B-031"


def content(name: str, digest: str = "") -> Content:
    return Content(Source(Path("/camera", name), name), digest or name, 1000)


def inspected(photo: Content, taken: str | None) -> Inspected:
    moment = datetime.fromisoformat(taken).replace(tzinfo=UTC) if taken else None
    return Inspected(photo, moment, (".jpg", ".jpeg"))


def plan(
    roll: Mapping[str, str | None],
    wanted: PhotoTarget | None = None,
    days: Mapping[str, date] | None = None,
    names: tuple[str, ...] = ("batch.md",),
    more: tuple[Content, ...] = (),
    **held: Any,
):
    """roll: name -> when taken; each is its own digest. held: fields of the inventory."""
    contents = [content(name) for name in roll]
    rows = {one.digest: inspected(one, taken) for one, taken in zip(contents, roll.values(), strict=True)}
    inventory = JournalContents(
        **{
            "drafts": [BATCH, NOTE],
            "photos": [],
            "contents": {},
            "claims": {},
            "names_in": lambda folder: {folded(name) for name in names} if folder == HERE else set(),
            **held,
        }
    )
    return file_photos(wanted or PhotoTarget(SUBJECT), [*contents, *more], rows, days or {}, inventory)


def fates(planned: Any) -> dict[str, str]:
    return {one.content.source.name: one.fate for one in planned.filed}


def test_a_note_for_each_day_with_its_photos_in_the_order_they_were_taken() -> None:
    made = plan({"c.jpg": "2026-10-28T09:00", "b.jpg": "2026-10-27T08:00", "a.jpg": "2026-10-27T09:00"})
    told = [(note.path, [photo.path for photo in note.photos]) for note in made.notes]
    expected = [
        (f"{HERE}/2026-10-27.md", [f"{HERE}/b.jpg", f"{HERE}/a.jpg"]),
        (f"{HERE}/2026-10-28.md", [f"{HERE}/c.jpg"]),
    ]
    assert (expected, 3000) == (told, made.copied_bytes)


def test_those_that_tell_no_time_are_behind_those_of_their_day() -> None:
    made = plan({"a.jpg": None, "b.jpg": "2026-10-27T08:00"}, days={"a.jpg": date(2026, 10, 27)})
    assert ["b.jpg", "a.jpg"] == [photo.name for photo in made.notes[0].photos]


def test_what_becomes_of_each_photo() -> None:
    made = plan(
        dict.fromkeys(("new.jpg", "known.jpg", "beside.jpg", "else.jpg", "a- b.jpg"), "2026-10-27T08:00")
        | {"timeless.jpg": None},
        contents={
            "known.jpg": ("x/k.jpg",),
            "beside.jpg": (f"{HERE}/beside.jpg",),
            "else.jpg": ("inbox/else.jpg",),
            "a- b.jpg": (f"{HERE}/a: b.jpg",),
        },
        photos=["x/k.jpg", f"{HERE}/beside.jpg", "inbox/else.jpg", f"{HERE}/a: b.jpg"],
        claims={"x/k.jpg": Claim("x/n.md")},
        more=(content("copy of new.jpg", "new.jpg"),),
    )
    expected = {
        "new.jpg": "copied", "known.jpg": "known", "beside.jpg": "listed", "else.jpg": "elsewhere",
        "a- b.jpg": "unlisted", "timeless.jpg": "no day", "copy of new.jpg": "again",
    }  # fmt: skip
    assert expected == fates(made)
    assert {"new.jpg", "beside.jpg"} == {photo.name for photo in made.notes[0].photos}


@pytest.mark.parametrize(("fate", "day"), [("known", "2026-10-27T08:00"), ("listed", "2026-10-28T08:00")])
def test_what_only_lies_beside_a_note_is_its_own_on_its_day_alone(fate: str, day: str) -> None:
    made = plan(
        {"a.jpg": day},
        contents={"a.jpg": (f"{HERE}/a.jpg",)},
        photos=[f"{HERE}/a.jpg"],
        claims={f"{HERE}/a.jpg": Claim(f"{HERE}/n.md", date(2026, 10, 27))},
    )
    assert {"a.jpg": fate} == fates(made)


@pytest.mark.parametrize(
    ("name", "names", "waiting"),
    [
        ("a.jpg", (), {}),
        ("a-2.jpg", ("A.JPG",), {}),
        ("a-3.jpg", ("a.jpg", "a-2.jpg"), {}),
        ("a.jpg", (), {f"{HERE}/a.jpg": "a.jpg"}),
        ("a-2.jpg", (), {f"{HERE}/a.jpg": "another's"}),
    ],
)
def test_no_name_is_taken_twice(name: str, names: tuple[str, ...], waiting: Mapping[str, str]) -> None:
    made = plan({"a.jpg": "2026-10-27T08:00"}, names=names, waiting=waiting)
    assert f"{HERE}/{name}" == made.filed[0].path


def test_nor_is_a_notes() -> None:
    made = plan({"a.jpg": "2026-10-27T08:00"}, names=("2026-10-27.MD",))
    assert f"{HERE}/2026-10-27-2.md" == made.notes[0].path


def test_a_folder_asked_for_is_the_one_or_it_is_refused() -> None:
    photos = {"a.jpg": "2026-10-27T08:00"}
    assert "inbox/2026-10-27-B-031.md" == plan(photos, PhotoTarget(SUBJECT, None, "inbox")).notes[0].path
    assert f"{HERE}/2026-10-27.md" == plan(photos, PhotoTarget(SUBJECT, None, HERE)).notes[0].path
    with pytest.raises(Refusal, match="--into inbox: "):
        plan(photos, PhotoTarget(SUBJECT, None, "inbox"), photos=["inbox/stray.jpg"])


@pytest.mark.parametrize(
    ("says", "days"),
    [
        (None, 0),
        (None, 1),
        ("on 2 days (2026-10-01 and 2026-10-02)", 2),
        ("on 3 days (2026-10-01, 2026-10-02 and 2026-10-03)", 3),
        ("on 9 days (from 2026-10-01 to 2026-10-09)", 9),
    ],
)
def test_several_days_are_named(says: str | None, days: int) -> None:
    made = plan({f"{day}.jpg": f"2026-10-0{day}T08:00" for day in range(1, days + 1)})
    if says is None:
        refuse_several_days(made)
        return
    with pytest.raises(Refusal) as refused:
        refuse_several_days(made)
    assert says in str(refused.value)


def test_days_that_a_wrong_clock_may_have_told() -> None:
    made = plan({f"{day}.jpg": f"2026-{day}T08:00" for day in ("10-05", "10-06", "11-25", "11-26")})
    before, to_come = day_warnings(made, date(2026, 11, 25))
    assert (True, True) == (
        before.startswith("2026-10-05 is before B-031 began"),
        "2026-11-26 is in the future" in to_come,
    )
