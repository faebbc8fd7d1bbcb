"""What two sources tell differently is said."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from journal.model import Journal, LoggerFile
from journal.settings import ValueRange
from tests.builders import entry
from tests.reading.written import GPX, HERE, TOML, files, front, weights

Make = Callable[..., Journal]


@pytest.mark.parametrize(
    ("warning", "kind", "written", "taken"),
    [
        (False, "find", "2026-09-12 12:00", "2026-09-13T11:59+01:00"),
        (True, "find", "2026-09-12 12:00", "2026-09-13T12:01+01:00"),
        (True, "find", "2026-09-12 12:00", "2026-09-11T11:59+01:00"),
        (False, "find", "2026-09-12", "2026-09-13T23:59+01:00"),
        (True, "find", "2026-09-12", "2026-09-14T00:01+01:00"),
        (False, "find", "2026-09-12", "2026-09-11T00:01+01:00"),
        (True, "find", "2026-09-12", "2026-09-10T23:59+01:00"),
        (False, "find", "2026-09", "2026-09-30T12:00+01:00"),
        (True, "find", "2026-09", "2026-10-02T12:00+01:00"),
        (True, "find", "2026", "2027-01-02T12:00+00:00"),
        (False, "find", "about 2026-09-12", "2026-09-20T12:00+01:00"),
        (True, "note", "2026-09-12", "2026-09-20T12:00+01:00"),
        (True, "tent", "2026-09-12", "2026-09-20T12:00+01:00"),
        (False, "culture", "2026-09-12", "2026-12-20T12:00+00:00"),
        (False, "batch", "2026-09-12", "2026-12-20T12:00+00:00"),
        (False, "device", "2026-09-12", "2026-12-20T12:00+00:00"),
    ],
)
def test_a_photo_over_a_day_from_its_entry_is_odd(
    make_journal: Make, warning: bool, kind: str, written: str, taken: str
) -> None:
    more = {"note": {"about": "hut"}, "tent": {"about": "hut"}, "culture": {"received_from": "x"}}.get(kind, {})
    more |= {"device": {"tent": "hut"}}.get(kind, {}) | ({} if kind in ("note", "tent") else {"id": "X1"})
    journal = make_journal(files(e=front(kind, date=written, **more)), {"e/a.jpg": {"taken": taken}})
    assert ([("e/e.md", "warning")] if warning else []) == weights(journal)


@pytest.mark.parametrize(
    ("warning", "where", "photo", "track"),
    [
        # One minute of latitude is 1857 m at 58 N (WGS 84), so 0.0022 degrees are 245 m, 0.0023 are 256 m.
        (False, "58.3022, -8.9", HERE, False),
        (True, "58.3023, -8.9", HERE, False),
        (True, "58.3050, -8.9", {"taken": "2026-09-12T10:01+01:00"}, True),
        (False, "58.3050, -8.9", {"taken": "2026-09-12T10:01+01:00"}, False),
    ],
)
def test_a_photo_over_250_m_from_where_is_odd(
    make_journal: Make, warning: bool, where: str, photo: dict[str, Any], track: bool
) -> None:
    tracks = {"walk.gpx": GPX} if track else {}
    journal = make_journal({**files(f=front("find", id="F1", where=where)), **tracks}, {"f/a.jpg": photo})
    assert ([("f/f.md", "warning")] if warning else []) == weights(journal)
    assert "58.3" not in "".join(problem.sentence for problem in journal.problems), "a place in a message"


@pytest.mark.parametrize(
    ("warned", "notes"),
    [
        ([], [("B1", 2)]),
        ([], [("B1.1, B1.2", 2)]),
        (["n1"], [("B1", 3)]),
        (["n2"], [("B1", 1), ("B1.2", 1), ("B1", 1)]),
        (["n0"], [("B1, C1", 1)]),
    ],
)
def test_losses_add_up_to_what_there_was(make_journal: Make, warned: list[str], notes: list[tuple[str, int]]) -> None:
    rows = {
        f"n{n}": front("note", about=about, lost=str(lost), date=f"2026-10-{n + 1:02}")
        for n, (about, lost) in enumerate(notes, len(notes) == 1 and notes[0][1] == 3)
    }
    journal = make_journal(
        files(b=front("batch", id="B1", units="2"), c=front("culture", id="C1", received_from="x"), **rows)
    )
    assert [(f"{name}/{name}.md", "warning") for name in warned] == weights(journal)


@pytest.mark.parametrize(
    ("expected", "keys", "of"),
    [
        ("90 kg in flush 1 is more than the unit weighed wet (2.3 kg)", "harvest: 90 kg\nflush: 1", "B1"),
        ("2027-10-03 is in the future: no file of this journal is as new", "date: 2027-10-03\nharvest: 90 g", "B1"),
        ("humidity reading: \"5 %\" is outside 10 to 100 %", "humidity reading: 5 %", "hut"),
        ("humidity set point: \"120 %\" is outside 10 to 100 %", "humidity set point: 120 %", "hut"),
        ("temperature set point: \"99 °C\" is outside -10 to 45 °C, so no tent's", "temperature set point: 99 °C", "hut"),  # noqa: E501
        ("temperature reading: \"61 °C\" is outside -10 to 45 °C, so no tent's", "temperature reading: 61 °C", "hut"),
    ],
)  # fmt: skip
def test_what_is_hardly_possible_is_a_warning_and_is_kept(
    make_journal: Make, expected: str, keys: str, of: str
) -> None:
    date = "" if "date" in keys else "2026-10-30"
    toml = TOML.replace("[journal]", "[journal]\nas_of = 2026-11-25")
    one = entry("tent" if of == "hut" else "note", keys, about=of, date=date)
    made = front("batch", id="B1", wet_mass="2.3 kg", dry_mass="870 g")
    journal = make_journal({**files(b=made), "journal.toml": toml, "n.md": one})
    assert ("warning", expected) in [(found.severity, found.message) for found in journal.problems]
    if of == "B1":
        assert journal.notes[0].harvest_g in (90.0, 90_000.0), "dropped"
    else:
        (read,) = journal.tent_entries
        values = (read.humidity_reading_pct, read.humidity_set_pct, read.temperature_set_c, read.temperature_reading_c)
        assert any(value is not None for value in values), "dropped"


def test_ends_of_a_range_that_cross_are_read_the_other_way_round(make_journal: Make) -> None:
    toml = TOML.replace('name = "Wash-house"', 'humidity = "95–85 %"')
    made = front("batch", id="B1", wants_temperature="18–12 °C")
    journal = make_journal({**files(b=made), "journal.toml": toml})
    assert ValueRange(85, 95) == journal.settings.tents[0].humidity_pct
    assert ValueRange(12, 18) == journal.batches[0].wants_temperature_c
    assert ["has the higher end first and was read the other way round"] * 2 == [
        found.message.partition('" ')[2] for found in journal.problems
    ]


def test_a_loggers_readings_that_no_tent_has_are_kept_and_counted(make_journal: Make) -> None:
    log = LoggerFile(
        path="hut.csv",
        tent="hut",
        stamps_s=(0.0, 900.0, 1800.0),
        temperature_c=(15.0, 46.0, 60.0),
        humidity_pct=(5.0, 90.0, float("nan")),
    )
    journal = make_journal(files(), logs=[log])
    assert [log] == list(journal.logs)
    assert [
        "1 reading of humidity outside 10 to 100 %, which no tent has",
        "2 readings of temperature outside -10 to 45 °C, which no tent has",
    ] == [found.message for found in journal.problems]


EVERY = TOML.replace("[tents.loft]", '[tents.hut.every]\ntank = "7 d"\nduct = "14 d"\n[tents.loft]')


@pytest.mark.parametrize(
    ("fix", "serviced"),
    [
        ("start with one of those names, or add it under [tents.hut.every]", "filters washed"),
        ("write tank, if you mean that, or add it under [tents.hut.every]", "tanks emptied"),
        (None, "tank emptied"),
        (None, "cleaned the duct"),
        (None, "probe-1 read 77 % over table salt at 18 °C"),
    ],
)
def test_a_service_that_is_none_of_the_tents_is_told_with_the_names_there_are(
    make_journal: Make, fix: str | None, serviced: str
) -> None:
    journal = make_journal({**files(t=front("tent", about="hut", serviced=serviced)), "journal.toml": EVERY})
    said = [(found.severity, found.line, found.message, found.fix) for found in journal.problems]
    message = f'no service of hut (tank, duct) starts with "{serviced}", so none is reset'
    assert ([] if fix is None else [("warning", 5, message, fix)]) == said


def test_a_tent_without_regular_services_takes_any_words(make_journal: Make) -> None:
    journal = make_journal({**files(t=front("tent", about="loft", serviced="filters washed")), "journal.toml": EVERY})
    assert () == journal.problems


# Places on one line north: 0.001 degrees of latitude are 111.4 m at 58 N (WGS 84).
_SPOTS = {"a": "58.3, -8.9 ±8 m", "b": "58.30005, -8.9 ±8 m", "c": "58.3007, -8.9 ±8 m", "d": "58.30075, -8.9 ±8 m"}
_BETWEEN = "58.30037, -8.9 ±10 m"


@pytest.mark.parametrize(
    ("words", "patch", "patches"),
    [
        (["patches F-A and F-C, and makes them one", "one name for all"], "", {}),
        ([], "the bank", {}),  # who names it means it
        (["patches low and high", "counts to low, the older", "`patch: low`"], "", {"a": "low", "c": "high"}),
        ([], "high", {"a": "low", "c": "high"}),
    ],
)
def test_a_find_within_reach_of_two_patches_is_reported(
    make_journal: Make, words: list[str], patch: str, patches: dict[str, str]
) -> None:
    found = {
        f"{name}.md": entry("find", id=f"F-{name}", date="2026-09-01", where=where, patch=patches.get(name, ""))
        for name, where in _SPOTS.items()
    }
    journal = make_journal({**found, "x.md": entry("find", id="X", date="2026-09-20", where=_BETWEEN, patch=patch)})
    told = [problem for problem in journal.problems if "reach" in problem.message]
    assert ([("x.md", "warning", 5)] if words else []) == [(one.path, one.severity, one.line) for one in told]
    assert all(word.lower() in told[0].sentence.lower() for word in words)
