"""The sample journal: what a new user sees first. It must read as it is meant to, its few meant faults included."""

from __future__ import annotations

import csv
import statistics
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.lineage import lineage_of
from journal.model import Journal, Note
from journal.reading.consistency import stated_date
from journal.reading.dates import journal_zone
from journal.reading.entries import Draft, read_entry
from journal.reading.keys import KEYS, KINDS, STAGES
from journal.reading.linking import assemble
from journal.reading.logger_files import files_of, read_log
from journal.reading.photos import photo_of, read_facts
from journal.reading.settings_file import read_settings
from journal.reading.tracks import read_track
from journal.settings import Settings

SAMPLE = Path(__file__).parent.parent / "sample_entries"
PICTURES = sorted(p for p in SAMPLE.rglob("*") if p.suffix in {".jpg", ".heic", ".webp"})
UNCLAIMED = "batches/B-031/IMG_0553.jpg"


@pytest.fixture(scope="module")
def drafts() -> tuple[Draft, ...]:
    settings = Settings(time_zone="Europe/London")
    read = (read_entry(_path(p), p.read_bytes(), settings) for p in sorted(SAMPLE.rglob("*.md")))
    return tuple(draft for draft in read if draft is not None)


@pytest.fixture(scope="module")
def tags(need_exiftool_for_all: Callable[..., list[dict[str, Any]]]) -> dict[str, dict[str, Any]]:
    """What ExifTool, an independent reader, finds in each picture; positions signed."""
    asked = ("DateTimeOriginal", "OffsetTimeOriginal", "GPSTimeStamp", "Orientation", "ImageWidth", "ImageHeight")
    options = ("-n", *(f"-{name}" for name in asked), "-Composite:GPSLatitude", "-Composite:GPSLongitude")
    return dict(zip(map(_path, PICTURES), need_exiftool_for_all(PICTURES, *options), strict=True))


@pytest.fixture(scope="module")
def journal() -> Journal:
    settings, problems = read_settings((SAMPLE / "journal.toml").read_bytes())
    zone = journal_zone(settings.time_zone)
    entries = [read_entry(_path(p), p.read_bytes(), settings) for p in sorted(SAMPLE.rglob("*.md"))]
    photos = [photo_of(read_facts(p), _path(p), zone) for p in PICTURES]
    tracks = [read_track(_path(p), p.read_bytes()) for p in sorted(SAMPLE.glob("tracks/*.gpx"))]
    claims, unclaimed = files_of(settings.climate, [_path(p) for p in sorted(SAMPLE.rglob("*.csv"))])
    logs = [read_log(path, (SAMPLE / path).read_bytes(), source, settings.time_zone) for path, source in claims]
    return assemble(
        settings,
        [entry for entry in entries if entry is not None],
        photos=[photo for photo, _ in photos],
        tracks=[track for track, _ in tracks],
        logs=[log for log, _ in logs],
        problems=[*problems, *unclaimed, *(problem for _, found in (*photos, *tracks, *logs) for problem in found)],
    )


def test_it_holds_a_year_of_entries_of_every_kind(drafts: tuple[Draft, ...]) -> None:
    told = Counter(draft.kind for draft in drafts)
    assert set(KINDS) == set(told)
    dated = sum(told.values()) - told["device"]
    assert 85 <= dated <= 100, told
    assert 111 == sum(told.values())


def test_every_markdown_file_in_it_is_an_entry(drafts: tuple[Draft, ...]) -> None:
    assert {_path(p) for p in SAMPLE.rglob("*.md")} == {draft.path for draft in drafts}


def test_every_key_is_in_use_somewhere(drafts: tuple[Draft, ...]) -> None:
    used = {name for draft in drafts for name in draft.values}
    assert set() == {name for table in KEYS.values() for name in table} - used


@pytest.mark.parametrize(
    ("kind", "unused"),
    [
        ("find", {"by", "private", "done", "formerly"}),
        ("culture", {"title", "by", "private", "done", "formerly"}),
        ("batch", {"by", "photos", "private", "done"}),
        ("note", set()),
        ("tent", {"by", "private"}),
        ("device", {"title", "by", "photos", "private", "next", "done", "formerly"}),
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


MEANT_FAULTS = [
    ("batches/B-019/2026-01-16-picked.md", "warning", "has no flush"),
    ("batches/B-028/2026-04-22-pins.md", "warning", "humidity reading"),
    (UNCLAIMED, "warning", "no entry"),
    ("batches/B-032/batch.md", "warning", "878 g"),
    ("finds/2025-10-11-kiln-brae/find.md", "warning", "confirmed"),
    ("finds/2026-09-12-alder-bank/second-stem.md", "error", "smell"),
    ("tents/2026-10-25-the-hour-twice.md", "warning", "twice"),
]


def test_it_has_the_meant_faults_and_no_other(journal: Journal) -> None:
    assert [fault[:2] for fault in MEANT_FAULTS] == [(p.path, p.severity) for p in journal.problems]


@pytest.mark.parametrize(("path", "severity", "word"), MEANT_FAULTS)
def test_a_meant_fault_is_said_plainly_and_announced_beside_the_journal(
    path: str, severity: str, word: str, journal: Journal
) -> None:
    (problem,) = [p for p in journal.problems if p.path == path]
    assert (severity, True) == (problem.severity, word in problem.sentence)
    announced = (SAMPLE / "ABOUT.txt").read_text(encoding="utf-8")
    assert path in announced or path.rpartition("/")[0] in announced


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
    journal: Journal,
) -> None:
    # Biological efficiency by its definition in use: fresh mass of all flushes over dry substrate, in per cent.
    batch = next(batch for batch in journal.batches if batch.id == id)
    notes = _notes_about(journal, id)
    assert fresh_g == sum(note.harvest_g or 0 for note in notes)
    assert (begun, lived) == (batch.units, batch.units - sum(note.lost or 0 for note in notes))
    assert batch.dry_g == pytest.approx(dry_g_a_unit)
    assert fresh_g / (begun * dry_g_a_unit) * 100 == pytest.approx(be_begun_pct, abs=0.05)
    assert fresh_g / (lived * dry_g_a_unit) * 100 == pytest.approx(be_lived_pct, abs=0.05)


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
def test_a_run_goes_day_by_day_as_told(id: str, day: str, does: str | float, journal: Journal) -> None:
    notes = [note for note in _notes_about(journal, id) if note.date.first == date.fromisoformat(day)]
    assert any(does in (note.stage, note.harvest_g, note.moved_to and "moved") for note in notes), notes


@pytest.mark.parametrize(
    ("find", "certainty", "confirmed"),
    [("F25-007", "likely", False), ("F25-009", "confirmed", True), ("F26-001", "likely", False),
     ("F26-002", "unsure", False), ("F26-003", "unsure", False), ("F26-004", "unsure", False)],
)  # fmt: skip
def test_only_the_find_that_was_looked_at_under_a_microscope_is_confirmed(
    find: str, certainty: str, confirmed: bool, journal: Journal
) -> None:
    found = Analysis(journal)
    assert (certainty, confirmed) == (found.identifications[find][-1].certainty, found.confirmed[find])


def test_harvests_of_both_a_confirmed_and_an_unconfirmed_origin_are_shown(journal: Journal) -> None:
    confirmed = Analysis(journal).confirmed
    assert {"B-026": True, "B-027": False, "B-028": False, "B-031": False} == {
        id: confirmed[id] for id in ("B-026", "B-027", "B-028", "B-031")
    }


def test_nothing_is_between_flushes_before_its_first_harvest(journal: Journal) -> None:
    runs = Analysis(journal).progress.values()
    resting = [(run, stage.note) for run in runs for stage in run.stages if stage.name == "resting"]
    assert len(resting) > 5
    assert [] == [
        note.path
        for run, note in resting
        if not any(picked.date.first <= note.date.first for picked in run.nonzero_harvests)
    ]


def test_the_plates_whose_lids_were_swapped_are_doubtful_and_nothing_that_fruits_comes_of_them(
    journal: Journal,
) -> None:
    assert {"PP-26A-5", "PP-26S-2"} == set(Analysis(journal).doubtful)


def test_the_second_stem_is_placed_by_the_track_alone(journal: Journal) -> None:
    assert [("F26-002", "track")] == [
        (row.id, row.position.source) for row in journal.finds if row.position and row.position.source != "entry"
    ]


@pytest.mark.parametrize(
    ("culture", "line", "transfers", "steps_since_wild", "spawn_generation"),
    [
        ("OLD-1", "OLD-1", None, None, None),  # received with nothing told
        ("CA-26R-2", "CA-26R", 3, None, 1),  # told to be at T2, and once more
        ("VF-25A-5", "VF-25A", 3, 3, 1),
        ("PP-26S-2", "PP-26S", 1, 1, None),  # spores: never rolled into the clone's line
        ("PP-26A-6", "PP-26A", 3, 3, 2),  # grain from grain
        ("PP-26B", "PP-26B", 0, 3, None),  # a clone of its own fruit begins a line, no nearer to the wild
    ],
)
def test_the_cultures_descend_as_the_entries_tell(
    culture: str,
    line: str,
    transfers: int | None,
    steps_since_wild: int | None,
    spawn_generation: int | None,
    journal: Journal,
) -> None:
    descent = lineage_of(journal).descents[culture]
    assert (line, transfers, steps_since_wild, spawn_generation) == (
        descent.line, descent.transfers, descent.steps_since_wild, descent.spawn_generation,
    )  # fmt: skip


def test_no_run_goes_on_past_the_day_the_sample_is_shown_on(drafts: tuple[Draft, ...]) -> None:
    assert date(2026, 11, 25) == max(_day_of(draft) for draft in drafts)


def test_every_position_is_on_the_open_sea(journal: Journal, tags: dict[str, dict[str, Any]]) -> None:
    written = [(row.position.lat_deg, row.position.lon_deg) for row in journal.finds if row.position]
    taken = [(t["GPSLatitude"], t["GPSLongitude"]) for t in tags.values() if "GPSLatitude" in t]
    assert (6, 8) == (len(written), len(taken))
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
    there = {_path(p) for p in PICTURES}
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


@pytest.fixture(scope="module")
def logged() -> list[tuple[datetime, float, float]]:
    """The wash-house logger's rows as the csv module reads them: UTC, °C, % relative humidity."""
    rows = []
    for file in sorted(SAMPLE.glob("climate/wash-house-*.csv")):
        with file.open(encoding="utf-8-sig", newline="") as lines:
            for row in csv.DictReader(lines):
                stamp = datetime.strptime(row["Time"], "%d/%m/%Y %H:%M").replace(tzinfo=UTC)
                rows.append((stamp, float(row["Temp (°C)"]), float(row["RH (%)"])))
    return rows


def test_every_logger_file_is_read_whole(journal: Journal, logged: list[tuple[datetime, float, float]]) -> None:
    house = [log for log in journal.logs if log.tent == "wash-house"]
    assert [row[0].timestamp() for row in logged] == [stamp for log in house for stamp in log.stamps_s]
    assert [row[2] for row in logged] == [value for log in house for value in log.humidity_pct]
    assert {3.0} == {log.humidity_accuracy_pct for log in house}


def test_the_cold_rooms_file_with_semicolons_and_decimal_commas_is_read_too(journal: Journal) -> None:
    (loft,) = [log for log in journal.logs if log.tent == "net-loft"]
    assert datetime(2026, 11, 22, 16, tzinfo=UTC).timestamp() == loft.stamps_s[0]
    assert (10.0, 84.6) == (loft.temperature_c[0], loft.humidity_pct[0])
    assert all(6 <= air_c <= 11 for air_c in loft.temperature_c)


def test_the_logger_writes_every_quarter_of_an_hour_but_for_one_night(
    logged: list[tuple[datetime, float, float]],
) -> None:
    steps = [later[0] - earlier[0] for earlier, later in pairwise(logged)]
    assert timedelta(minutes=15) == statistics.median(steps)
    assert [timedelta(hours=9, minutes=30)] == [step for step in steps if step > timedelta(hours=1)]
    assert timedelta(days=35) < logged[-1][0] - logged[0][0] < timedelta(days=42)


def test_the_logger_is_stuck_once_for_more_than_a_day(logged: list[tuple[datetime, float, float]]) -> None:
    runs = [[row[0] for row in rows] for _, rows in groupby(logged, key=lambda row: row[1:])]
    stuck = [run[-1] - run[0] for run in runs if run[-1] - run[0] > timedelta(hours=6)]
    assert [timedelta(hours=29, minutes=30)] == stuck


def test_the_tent_is_humid_as_it_is_set_warm_as_it_is_heated_and_drier_by_the_door(
    logged: list[tuple[datetime, float, float]],
) -> None:
    heated = [row for row in logged if row[0] >= datetime(2026, 10, 22, tzinfo=UTC)]
    assert 90 == pytest.approx(statistics.median(row[2] for row in heated), abs=1.5)
    assert 18 == pytest.approx(statistics.median(row[1] for row in heated), abs=0.6)
    assert statistics.mean(_at_hour(heated, 4)) > statistics.mean(_at_hour(heated, 16)) + 1
    dips = [b for a, b, c in zip(heated, heated[1:], heated[2:], strict=False) if min(a[2], c[2]) - b[2] > 3]
    assert len(dips) > 25


@pytest.mark.parametrize("day", ["2026-10-18", "2026-10-25", "2026-10-30", "2026-11-09"])
def test_a_reading_by_eye_with_the_door_shut_agrees_with_the_logger(
    day: str, drafts: tuple[Draft, ...], logged: list[tuple[datetime, float, float]]
) -> None:
    entry = next(d.values for d in drafts if d.kind == "tent" and d.values["date"].first == date.fromisoformat(day))
    moment = entry["date"].moment
    nearest = min(logged, key=lambda row: abs(row[0] - moment))
    assert "shut" == entry["door"]
    assert nearest[2] == pytest.approx(entry["humidity reading"], abs=4)
    assert nearest[1] == pytest.approx(entry["temperature reading"], abs=1)


def _at_hour(rows: list[tuple[datetime, float, float]], hour: int) -> list[float]:
    return [humidity for stamp, _, humidity in rows if stamp.hour == hour]


def _path(file: Path) -> str:
    return file.relative_to(SAMPLE).as_posix()


def _notes_about(journal: Journal, id: str) -> list[Note]:
    return [note for note in journal.notes if id in {ref.id for ref in note.about}]


def _day_of(draft: Draft, taken: datetime | None = None) -> date:
    when = stated_date(draft, [taken] if taken else [])
    assert when is not None, draft.path
    return when.first


def _photos_of(draft: Draft) -> list[str]:
    folder = draft.path.rpartition("/")[0]
    return [f"{folder}/{name}" for name, _ in draft.values.get("photos", ())]


def _taken(tags: dict[str, Any]) -> datetime | None:
    written = tags.get("DateTimeOriginal")
    return datetime.strptime(written, "%Y:%m:%d %H:%M:%S") if written else None
