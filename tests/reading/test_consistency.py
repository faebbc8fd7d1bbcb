"""What two sources tell differently is said."""

from __future__ import annotations

from collections.abc import Callable, Sequence
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
    ("is_empty", "kind", "more"),
    [
        (True, "note", {}),
        (True, "note", {"text": "\n \n"}),
        (True, "note", {"by": "me", "private": "yes", "stage": "", "harvest": ""}),
        (True, "tent", {}),
        (False, "note", {"text": "Pins."}),
        (False, "note", {"title": "Pins"}),
        (False, "note", {"stage": "pinning"}),
        (False, "note", {"done": "soaked"}),
        (False, "note", {"next": "soak it"}),
        (False, "tent", {"door": "open"}),
        (False, "find", {"id": "F-1"}),
        (False, "device", {"id": "fan-1", "tent": "hut"}),
    ],
)
def test_a_note_or_a_tents_entry_that_was_left_empty_is_a_warning(
    make_journal: Make, is_empty: bool, kind: str, more: dict[str, str]
) -> None:
    about = {"note": {"about": "B-1"}, "tent": {"about": "hut"}}.get(kind, {})
    batch = front("batch", id="B-1", culture="C-1", date="2026-09-01")
    culture = front("culture", id="C-1", received_from="x", date="2026-08-01")
    journal = make_journal(files(b=batch, c=culture, e=front(kind, **{"text": "", **about, **more})))
    assert [("e/e.md", "warning")] * is_empty == weights(journal)
    if is_empty:
        (problem,) = journal.problems
        assert problem.message == f"this {'note' if kind == 'note' else 'tent entry'} says nothing yet"


def test_a_note_with_a_photo_beside_it_says_something_and_one_with_a_bad_value_has_that_problem_alone(
    make_journal: Make,
) -> None:
    journal = make_journal(files(e=front("note", text="")), {"e/a.jpg": {}})
    assert [] == weights(journal)
    journal = make_journal(files(e=front("note", text="", minutes="long")))
    assert [("e/e.md", "error")] == weights(journal)


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


US = """[journal]
time_zone = "Europe/London"
units = "us"
[tents.hut]
name = "Hut"
[permits.wood]
limit_a_day = "2 lb"
limit = "4 lb"
"""


HEAVY = {"about": "B1", "harvest": "90 kg", "flush": "1"}


@pytest.mark.parametrize(
    ("expected", "keys"),
    [
        # 1 lb = 453.592 37 g, 1 ft = 0.3048 m, t/°F = 1.8 t/°C + 32: NIST SP 811 (2008), B.8 and B.9.
        ("198 lb 6.7 oz in flush 1 is more than the unit weighed wet (5 lb)", HEAVY),
        ("the dry mass of a unit is more than its wet mass: 6 lb dry in 5 lb wet", {"dry_mass": "6 lb"}),
        (
            "`dry mass` gives 2 lb dry a unit, `wet mass` with `moisture` 2 lb 8 oz; 2 lb is used",
            {"dry_mass": "2 lb", "moisture": "50 %"},
        ),
        ("the stage is `nothing there`, but 8 oz was harvested", {"stage": "nothing there", "harvest": "8 oz"}),
        ("3 lb picked that day under the permit wood, which allows 2 lb a day", {"picked_mass": "3 lb"}),
        ("5 lb picked in all under the permit wood, which allows 4 lb", {"picked_mass": "5 lb"}),
        ('temperature reading: "120 °F" is outside 14 to 113 °F, so no tent\'s', {"temperature_reading": "120 °F"}),
        ('elevation: an elevation of "25000 ft" is outside -164 to 19685 ft', {"elevation": "25000 ft"}),
    ],
)
def test_in_us_units_the_program_words_what_it_measured_in_them(
    expected: str, keys: dict[str, str], make_journal: Make
) -> None:
    if "harvest" in keys:
        one = front("note", **{"about": "F1"} | keys)
    elif "temperature_reading" in keys:
        one = front("tent", about="hut", **keys)
    elif "dry_mass" in keys:
        one = front("batch", id="B2", wet_mass="5 lb", **keys)
    else:
        one = front("find", id="F2", permit="wood", **keys)
    stands = files(f=front("find", id="F1"), b=front("batch", id="B1", wet_mass="5 lb"), one=one)
    journal = make_journal({**stands, "journal.toml": US})
    assert expected in [found.message for found in journal.problems]


def test_in_us_units_a_photo_is_so_many_feet_from_its_find(make_journal: Make) -> None:
    """0.0023 degrees of latitude are 256 m at 58 N (WGS 84): 840 ft."""
    us = {**files(f=front("find", id="F1", where="58.3023, -8.9")), "journal.toml": US}
    (found,) = make_journal(us, {"f/a.jpg": HERE}).problems
    assert "a.jpg was taken 840 ft from `where`" == found.message


def test_ends_of_a_range_that_cross_are_read_the_other_way_round(make_journal: Make) -> None:
    toml = TOML.replace('name = "Wash-house"', 'humidity = "95–85 %"')
    made = front("batch", id="B1", wants_temperature="18–12 °C")
    journal = make_journal({**files(b=made), "journal.toml": toml})
    assert ValueRange(85, 95) == journal.settings.tents[0].humidity_pct
    assert ValueRange(12, 18) == journal.batches[0].wants_temperature_c
    assert ["has the higher end first and was read the other way round"] * 2 == [
        found.message.partition('" ')[2] for found in journal.problems
    ]


def test_a_loggers_readings_that_no_tent_has_are_reported_with_their_values(make_journal: Make) -> None:
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
        "1 reading of humidity outside 10 to 100 %, which no tent has, left out (5 %)",
        "2 readings of temperature outside -10 to 45 °C, which no tent has, left out (46 °C to 60 °C)",
    ] == [found.message for found in journal.problems]
    in_us_units = make_journal({"journal.toml": US}, logs=[log]).problems
    message = "2 readings of temperature outside 14 to 113 °F, which no tent has, left out (114.8 °F to 140 °F)"
    assert message in [one.message for one in in_us_units]


READS = '[[climate]]\nfiles = "hut-*.csv"\ntent = "hut"\ntime = "Time"\ntemperature = "Temp (C)"\n'


@pytest.mark.parametrize(
    ("temperature_c", "unit", "fix"),
    [
        # 53.1 to 60.5 is a tent in °F: 11.7 to 15.8 °C; −12.2 °C is 10 °C read as °F.
        (
            (53.1, 60.5),
            "",
            'the file has 53.1 to 60.5, read as °C; if that is °F, write temperature_unit = "°F" in the [[climate]] of '
            "hut with files = ",
        ),
        (
            (-12.2, -12.8),
            "",
            'the file has 9 to 10, read as °F; if that is °C, write temperature_unit = "°C" in the [[climate]] of hut '
            "with files = ",
        ),
        # One peak among others, or the unit that the settings have already: the unit is not what is wrong.
        ((15.0, 15.2, 60.5), "", "check `temperature` and `temperature_unit` in the [[climate]] of hut with files = "),
        ((53.1, 60.5), "°F", "check `temperature` and `temperature_unit` in the [[climate]] of hut with files = "),
    ],
)
def test_where_the_other_unit_makes_the_readings_those_of_a_tent_the_line_to_write_is_named(
    make_journal: Make, temperature_c: tuple[float, ...], unit: str, fix: str
) -> None:
    stamps_s = tuple(900.0 * at for at in range(len(temperature_c)))
    log = LoggerFile(path="hut-10.csv", tent="hut", stamps_s=stamps_s, temperature_c=temperature_c)
    toml = TOML + READS + (f'temperature_unit = "{unit}"\n' if unit else "")
    found = make_journal({**files(), "journal.toml": toml}, logs=[log]).problems
    (doubt,) = [one for one in found if "no tent has" in one.message]
    assert doubt.fix is not None
    assert doubt.fix.startswith(f'{fix}"hut-*.csv"')


IN_F = 'if that is °F, write temperature_unit = "°F" in the [[climate]] of hut'
FAR = "nearly all readings of temperature are far from what is wanted in hut, and near it in the other unit"


@pytest.mark.parametrize(
    ("message", "fix", "temperature_c", "wanted", "column"),
    [
        # A cold room: 37 to 41 °F are 2.8 to 5 °C, 40 to 48 °F are 4.4 to 8.9 °C.
        (FAR, f"the file has 37 to 41, read as °C; {IN_F}", (37, 38, 39, 40, 41) * 4, "2–5 °C", "Temp (C)"),
        (FAR, IN_F, (*(37, 38, 39, 40, 41) * 4, 12), "2–4 °C", "Temp"),  # one while it was carried there
        ("3 readings of temperature outside -10 to 45", IN_F, range(40, 49), "4–8 °C", "Temp (C)"),
        (FAR, "has 16 to 19, read as °F; if that is °C", (-8.9, -8.3, -7.8, -7.2), "16–20 °C", "T (F)"),
        # As it is in a tent that is too warm or too cold, in another place for a while, or that has no range.
        ("", "", (9, 10, 11, 12), "2–5 °C", "Temp (C)"),
        ("", "", (36, 37, 38, 39, 40), "2–30 °C", "Temp (C)"),
        ("", "", (-9, -6, -4, -2), "20–26 °C", "Temp (C)"),  # a shed in winter; 15.8 to 28.4 in °F
        ("", "", (37, 38, 39, 40, 41, 12, 12, 12), "2–5 °C", "Temp (C)"),
        ("", "", (37, 38, 39, 40, 41), "12–18 °C", "Temp (C)"),
        ("", "", (37, 38, 39, 40, 41), "", "Temp (C)"),
        ("", "", (float("nan"),), "2–5 °C", "Temp (C)"),
    ],
)
def test_readings_far_from_what_the_tent_wants_and_near_it_in_the_other_unit_are_asked_about(
    make_journal: Make, message: str, fix: str, temperature_c: Sequence[float], wanted: str, column: str
) -> None:
    stamps_s = tuple(900.0 * at for at in range(len(temperature_c)))
    log = LoggerFile(path="hut-10.csv", tent="hut", stamps_s=stamps_s, temperature_c=tuple(map(float, temperature_c)))
    room = f'name = "Wash-house"\ntemperature = "{wanted}"\n' if wanted else 'name = "Wash-house"\n'
    toml = TOML.replace('name = "Wash-house"\n', room) + READS.replace("Temp (C)", column)
    found = make_journal({**files(), "journal.toml": toml}, logs=[log]).problems
    assert [bool(message)] * len(found) == [message in one.message for one in found]
    assert (1 if message else 0) == len(found)
    assert all(fix in (one.fix or "") for one in found)
    told = make_journal({**files(), "journal.toml": f'{toml}temperature_unit = "°F"\n'}, logs=[log]).problems
    assert not [one for one in told if IN_F in (one.fix or "")]  # the settings say so already


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


NEAR, FAR, MIRRORED = "58.30412, -8.90177", "51.2, 3.1", "58.30412, 8.90177"
SWAPPED = "latitude and longitude may be swapped"


@pytest.mark.parametrize(
    ("expected", "places"),
    [
        ([], [("Alder Bank", NEAR), ("Alder Bank", "58.31, -8.9"), ("Far Stell", MIRRORED)]),
        ([], [("Alder Bank", NEAR), ("Alder Bank", "59.1, -8.9")]),  # 89 km
        ([("f1", "longitude")], [("Alder Bank", NEAR), ("alder  bank", MIRRORED)]),
        ([("f0", "longitude")], [("Alder Bank", MIRRORED), ("Alder Bank", NEAR), ("Alder Bank", NEAR)]),
        ([("f2", "latitude")], [("Alder Bank", NEAR), ("Alder Bank", NEAR), ("Alder Bank", "-58.3, -8.9")]),
        ([("f1", SWAPPED)], [("Alder Bank", NEAR), ("Alder Bank", "-8.90177, 58.30412")]),
        ([("f0", SWAPPED)], [("Alder Bank", "-8.9, 58.3"), ("Alder Bank", NEAR), ("Alder Bank", NEAR)]),
        ([("f1", "position")], [("Alder Bank", NEAR), ("Alder Bank", FAR)]),
        ([("f1", "position")], [("Alder Bank", NEAR), ("Alder Bank", "10.5, 121.1")]),  # no latitude, if swapped
        ([], [("Alder Bank", NEAR), ("Alder Bank", NEAR), ("Alder Bank", FAR), ("Alder Bank", FAR)]),  # two of a name
        ([], [("", NEAR), ("", FAR)]),
    ],
)
def test_a_find_far_from_all_others_of_its_place_is_told(
    make_journal: Make, expected: list[tuple[str, str]], places: list[tuple[str, str]]
) -> None:
    days = (f"2026-09-1{at}" for at in range(len(places)))
    rows = [
        front("find", id=f"F{at}", place=place, where=where, date=next(days))
        for at, (place, where) in enumerate(places)
    ]
    found = make_journal(files(**{f"f{at}": row for at, row in enumerate(rows)})).problems
    assert [f"{name}/{name}.md" for name, _ in expected] == [one.path for one in found]
    for problem, (_, what) in zip(found, expected, strict=True):
        assert problem.message.startswith("this find is ")
        assert f" km from {'the other' if len(places) == 2 else 'every other find'} at " in problem.message
        assert ("f0/f0.md" in problem.message) == ("of the one that is wrong" in problem.fix) == (len(places) == 2)
        assert problem.fix.startswith((what, f"correct the {what}", f"correct the sign of the {what}"))


def test_how_far_a_find_is_from_its_place_is_told_in_the_units_of_the_journal(make_journal: Make) -> None:
    rows = {
        f"f{at}": front("find", id=f"F{at}", place="Alder Bank", where=where)
        for at, where in enumerate((NEAR, MIRRORED))
    }
    for units, far in (("metric", "1,041 km"), ("us", "647 mi")):  # 1,040.8 km by geographiclib
        (problem,) = make_journal(files(**rows) | {"journal.toml": f'[journal]\nunits = "{units}"\n'}).problems
        assert far in problem.message
