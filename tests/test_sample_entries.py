"""The sample journal: what a new user sees first. It must read as it is meant to, its few meant faults included."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from journal.model import Settings
from journal.reading.dating import date_as_told
from journal.reading.entries import Draft, read_entry
from journal.reading.keys import KEYS, KINDS, STAGES

SAMPLE = Path(__file__).parent.parent / "sample_entries"
PICTURES = sorted(p for p in SAMPLE.rglob("*") if p.suffix in {".jpg", ".heic", ".webp"})
UNCLAIMED = "batches/B-031/IMG_0553.jpg"


@pytest.fixture(scope="module")
def drafts() -> tuple[Draft, ...]:
    settings = Settings(time_zone="Europe/London")
    read = (
        read_entry(p.relative_to(SAMPLE).as_posix(), p.read_bytes(), settings) for p in sorted(SAMPLE.rglob("*.md"))
    )
    return tuple(draft for draft in read if draft is not None)


@pytest.fixture(scope="module")
def tags(need_exiftool: Callable[..., dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """What ExifTool, an independent reader, finds in each picture; positions signed."""
    asked = ("DateTimeOriginal", "OffsetTimeOriginal", "GPSTimeStamp", "Orientation", "ImageWidth", "ImageHeight")
    options = ("-n", *(f"-{name}" for name in asked), "-Composite:GPSLatitude", "-Composite:GPSLongitude")
    return {p.relative_to(SAMPLE).as_posix(): need_exiftool(p, *options) for p in PICTURES}


@pytest.fixture(scope="module")
def about(drafts: tuple[Draft, ...]) -> Callable[[str], list[Draft]]:
    """Called with an ID it gives the notes that name it, or that stand in its folder and name nothing."""

    def notes(id: str) -> list[Draft]:
        home = {d.path.rpartition("/")[0] for d in drafts if d.values.get("id") == id}
        return [
            d
            for d in drafts
            if d.kind == "note"
            and (
                id in {ref.id for ref in d.values.get("about", ())}
                or ("about" not in d.values and d.path.rpartition("/")[0] in home)
            )
        ]

    return notes


def test_it_holds_a_year_of_entries_of_every_kind(drafts: tuple[Draft, ...]) -> None:
    told = Counter(draft.kind for draft in drafts)
    assert set(KINDS) == set(told)
    dated = sum(told.values()) - told["device"]
    assert 85 <= dated <= 95, told
    assert 105 == sum(told.values())


def test_every_markdown_file_in_it_is_an_entry(drafts: tuple[Draft, ...]) -> None:
    assert {p.relative_to(SAMPLE).as_posix() for p in SAMPLE.rglob("*.md")} == {draft.path for draft in drafts}


def test_every_key_is_in_use_somewhere(drafts: tuple[Draft, ...]) -> None:
    used = {name for draft in drafts for name in draft.values}
    assert set() == {name for table in KEYS.values() for name in table} - used


@pytest.mark.parametrize(
    ("kind", "unused"),
    [
        ("find", {"by", "private", "done"}),
        ("culture", {"title", "by", "private", "done"}),
        ("batch", {"by", "photos", "private", "done"}),
        ("note", set()),
        ("tent", {"by", "private"}),
        ("device", {"title", "by", "photos", "private", "next", "done"}),
    ],
)
def test_a_kind_leaves_only_a_few_of_the_common_keys_unused(
    kind: str, unused: set[str], drafts: tuple[Draft, ...]
) -> None:
    used = {name for draft in drafts if draft.kind == kind for name in draft.values}
    assert unused == set(KEYS[kind]) - used


def test_every_stage_of_a_find_and_most_of_a_batch_are_seen(drafts: tuple[Draft, ...]) -> None:
    seen = {draft.values["stage"] for draft in drafts if "stage" in draft.values}
    assert set() == set(STAGES["find"]) - seen
    assert {"inoculated", "discarded", "stored"} == set(STAGES["batch"]) - seen


def test_the_entries_by_themselves_bear_only_the_meant_faults(drafts: tuple[Draft, ...]) -> None:
    assert [
        ("batches/B-028/2026-04-22-pins.md", "odd"),  # a tent's key in a note
        ("finds/2025-10-11-kiln-brae/find.md", "odd"),  # confirmed by nobody
        ("finds/2026-09-12-alder-bank/second-stem.md", "wrong"),  # a mistyped key
        ("tents/2026-10-25-the-hour-twice.md", "odd"),  # a time that came twice
    ] == sorted((p.path, p.weight) for draft in drafts for p in draft.problems)


@pytest.mark.parametrize(
    ("id", "fresh_g", "dry_g_a_unit", "begun", "lived", "be_begun_pct", "be_lived_pct"),
    [
        ("B-026", 1260, 504, 6, 6, 41.7, 41.7),
        ("B-027", 550, 1050, 3, 3, 17.5, 17.5),
        ("B-028", 2700, 851, 6, 5, 52.9, 63.5),
        ("B-031", 1860, 874, 4, 3, 53.2, 70.9),
    ],
)
def test_the_masses_written_down_give_the_biological_efficiencies_told(
    id: str,
    fresh_g: float,
    dry_g_a_unit: float,
    begun: int,
    lived: int,
    be_begun_pct: float,
    be_lived_pct: float,
    drafts: tuple[Draft, ...],
    about: Callable[[str], list[Draft]],
) -> None:
    # Biological efficiency by its definition in use: fresh mass of all flushes over dry substrate, in per cent.
    batch = next(d.values for d in drafts if d.values.get("id") == id)
    notes = [d.values for d in about(id)]
    assert fresh_g == sum(n.get("harvest", 0) for n in notes)
    assert lived == begun - sum(n.get("lost", 0) for n in notes)
    assert begun == batch["units"]
    wet = batch["wet mass"]
    dry = (wet.g / begun if wet.in_all else wet.g) * (1 - batch["moisture"] / 100)
    assert dry_g_a_unit == pytest.approx(dry)
    assert be_begun_pct == pytest.approx(fresh_g / (begun * dry) * 100, abs=0.05)
    assert be_lived_pct == pytest.approx(fresh_g / (lived * dry) * 100, abs=0.05)


@pytest.mark.parametrize(
    ("id", "day", "does"),
    [
        ("B-026", "2026-02-01", "colonised"),
        ("B-026", "2026-02-03", "moved"),
        ("B-026", "2026-02-15", "pinning"),
        ("B-026", "2026-02-25", 840),
        ("B-026", "2026-03-10", "pinning"),
        ("B-026", "2026-03-20", 420),
        ("B-026", "2026-04-06", "spent"),
        ("B-027", "2026-03-07", "colonised"),
        ("B-027", "2026-03-24", "pinning"),
        ("B-027", "2026-04-17", 550),
        ("B-028", "2026-03-24", "contaminated"),
        ("B-028", "2026-04-03", "colonised"),
        ("B-028", "2026-04-12", "moved"),
        ("B-028", "2026-04-22", "pinning"),
        ("B-028", "2026-04-29", 1500),
        ("B-028", "2026-05-15", 850),
        ("B-028", "2026-06-01", 350),
        ("B-028", "2026-06-12", "spent"),
        ("B-031", "2026-10-17", "contaminated"),
        ("B-031", "2026-10-21", "colonised"),
        ("B-031", "2026-10-22", "moved"),
        ("B-031", "2026-10-27", "pinning"),
        ("B-031", "2026-11-01", 1290),
        ("B-031", "2026-11-08", "pinning"),
        ("B-031", "2026-11-13", 570),
        ("B-031", "2026-11-20", "pinning"),
        ("B-033", "2026-11-20", "colonised"),
        ("B-033", "2026-11-22", "moved"),
    ],
)
def test_a_run_goes_day_by_day_as_told(
    id: str, day: str, does: str | float, about: Callable[[str], list[Draft]]
) -> None:
    notes = [d for d in about(id) if _day_of(d) == date.fromisoformat(day)]
    found = [(n.values.get("stage"), n.values.get("harvest"), "moved to" in n.values and "moved") for n in notes]
    assert any(does in row for row in found), found


def test_no_run_is_told_past_the_day_the_sample_is_shown_on(drafts: tuple[Draft, ...]) -> None:
    assert date(2026, 11, 25) == max(_day_of(draft) for draft in drafts)


def test_every_position_lies_on_the_open_sea(drafts: tuple[Draft, ...], tags: dict[str, dict[str, Any]]) -> None:
    written = [(d.values["where"].lat_deg, d.values["where"].lon_deg) for d in drafts if "where" in d.values]
    taken = [(t["GPSLatitude"], t["GPSLongitude"]) for t in tags.values() if "GPSLatitude" in t]
    assert (5, 8) == (len(written), len(taken))
    assert [] == [p for p in (*written, *taken) if not (58.28 < p[0] < 58.32 and -8.97 < p[1] < -8.87)]


def test_every_notation_of_a_position_is_used(drafts: tuple[Draft, ...]) -> None:
    assert {
        "58.30412, -8.90177 ±8 m",
        "58°17.462' N, 8°56.118' W ±15 m",
        "geo:58.298710,-8.913425;u=6",
        "29V NE 0684 6352",
        "+58.3043-008.9019/",
    } == {d.values["where"].written for d in drafts if "where" in d.values}


def test_a_photo_is_of_its_entrys_day(drafts: tuple[Draft, ...], tags: dict[str, dict[str, Any]]) -> None:
    """Those of finds, notes and tent entries; a culture's may come later in its life."""
    checked = 0
    for draft in drafts:
        for name in _photos_of(draft):
            taken = _taken(tags[name])
            if taken is None:
                continue
            day = _day_of(draft, taken)
            latest = day + timedelta(days=21) if draft.kind == "culture" else day
            assert day <= taken.date() <= latest, (draft.path, name)
            checked += 1
    assert 26 == checked


def test_only_one_photo_is_claimed_by_nobody(drafts: tuple[Draft, ...]) -> None:
    listed = {name for draft in drafts for name in _photos_of(draft)}
    there = {p.relative_to(SAMPLE).as_posix() for p in PICTURES}
    assert ({UNCLAIMED}, set()) == (there - listed, listed - there)


def test_photos_are_small_to_keep_and_large_to_look_at(tags: dict[str, dict[str, Any]]) -> None:
    sizes = [p.stat().st_size for p in PICTURES]
    assert max(sizes) < 500_000
    assert sum(sizes) < 6_000_000
    assert min(max(t["ImageWidth"], t["ImageHeight"]) for t in tags.values()) >= 1200


def test_photos_come_with_every_kind_of_clock_and_turn(tags: dict[str, dict[str, Any]]) -> None:
    rows = tags.values()
    assert {1, 3, 6, 8} == {t["Orientation"] for t in rows if "Orientation" in t}
    assert {"+00:00", "+01:00", None} == {t.get("OffsetTimeOriginal") for t in rows}
    assert 1 == sum("GPSTimeStamp" in t and "OffsetTimeOriginal" not in t for t in rows)
    assert 1 == sum("DateTimeOriginal" not in t for t in rows)


def _day_of(draft: Draft, taken: datetime | None = None) -> date:
    when = date_as_told(draft, [taken] if taken else [])
    assert when is not None, draft.path
    return when.first


def _photos_of(draft: Draft) -> list[str]:
    folder = draft.path.rpartition("/")[0]
    return [f"{folder}/{name}" for name, _ in draft.values.get("photos", ())]


def _taken(tags: dict[str, Any]) -> datetime | None:
    written = tags.get("DateTimeOriginal")
    return datetime.strptime(written, "%Y:%m:%d %H:%M:%S") if written else None
