"""The air of tents and batches: worked by hand, and the sample's own as the sample's entries tell it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.climate import Climate
from journal.analysis.in_range import Shares
from journal.analysis.psychrometrics import dew_point_c
from journal.model import Journal, LoggerFile
from journal.reading.logger_files import files_of, read_log
from journal.reading.settings_file import read_settings
from tests.analysis.aired import logged

Make = Callable[..., Journal]
SAMPLE = Path(__file__).parents[2] / "sample_entries"
LONDON = ZoneInfo("Europe/London")

TOML = """[journal]
time_zone = "Europe/London"
[tents.hut]
humidity = "85–95 %"
temperature = "12–18 °C"
[tents.loft]
humidity = "70–80 %"
"""


@pytest.fixture
def air(make_journal: Make) -> Callable[..., Climate]:
    """Called with logger files and entries (path -> text) it gives the air of that journal."""

    def of(*logs: LoggerFile, toml: str = TOML, **entries: str) -> Climate:
        files = {f"{name}.md": f"---\n{text}\n---\n" for name, text in entries.items()}
        return Analysis(make_journal({"journal.toml": toml, **files}, logs=logs)).climate

    return of


AirOf = Callable[..., Climate]


def in_loft(log: LoggerFile) -> LoggerFile:
    return replace(log, tent="loft", path="climate/loft.csv")


def test_a_tent_has_its_share_its_periods_out_of_range_and_its_spread(air: AirOf) -> None:
    found = air(logged([90, 91, 80, 80, 92, 93])).tents["hut"]
    assert 4 / 6 == pytest.approx(found.in_range_share)
    assert 2.0 == found.longest_out_h
    assert found.humidity_pct is not None
    assert (90.5, 80, 93, 6) == (
        found.humidity_pct.median, found.humidity_pct.low, found.humidity_pct.high, found.humidity_pct.count,
    )  # fmt: skip
    assert found.share is not None
    assert 100 * 4 / 6 == pytest.approx(found.share.value)
    assert (None, None) == (found.no_share, found.one_sided)


def test_readings_that_do_not_count_are_in_no_median(air: AirOf) -> None:
    eye = "kind: tent\nabout: hut\ndate: 2026-11-02T01:30Z\nhumidity reading: 50 %\ndoor: open"
    found = air(logged([90, 91, 92]), eye=eye).tents["hut"]
    assert found.humidity_pct is not None
    assert (91, 90, 3) == (found.humidity_pct.median, found.humidity_pct.low, found.humidity_pct.count)


@pytest.mark.parametrize(
    ("words", "toml", "logs", "entries"),
    [
        ("the air was not read", TOML, [], {}),
        ("without a time of day", TOML, [], {"e": "kind: tent\nabout: hut\ndate: 2026-11-02\nhumidity reading: 90 %"}),
        ("neither a humidity nor a temperature is wanted", "[tents.hut]\n", [logged([90])], {}),
        (
            "with the door open, or by a logger that was stuck",
            TOML,
            [],
            {"e": "kind: tent\nabout: hut\ndate: 2026-11-02 08:00\nhumidity reading: 90 %\ndoor: open"},
        ),
        ("was not read: a humidity alone", '[tents.hut]\nhumidity = "85–95 %"\n', [logged([None])], {}),
    ],
)
def test_where_there_is_no_share_it_is_said_why(
    words: str, toml: str, logs: list[LoggerFile], entries: dict[str, str], air: AirOf
) -> None:
    found = air(*logs, toml=toml, **entries).tents["hut"]
    assert (None, None, None, None) == (found.in_range_share, found.longest_out_h, found.out_of_range, found.share)
    assert words in (found.no_share or "")


def test_where_one_value_is_wanted_it_decides_and_that_is_said(air: AirOf) -> None:
    found = air(in_loft(logged([75, 75, 90, 90], 40))).tents["loft"]
    assert 0.5 == found.in_range_share
    assert "no temperature is wanted" in (found.one_sided or "")


def test_each_day_of_the_journals_zone_has_its_medians_and_its_share(air: AirOf) -> None:
    """26 hourly readings from 23:00 in London, on the last day of summer time and the first of winter."""
    log = logged([90, *[91] * 20, *[80] * 5, 90, 92], start="2026-10-24T22:00+00:00")
    before, after, last = air(log).tents["hut"].days
    assert [date(2026, 10, 24), date(2026, 10, 25), date(2026, 10, 26)] == [before.day, after.day, last.day]
    assert after.humidity_pct is not None
    assert (25, 91) == (after.humidity_pct.count, after.humidity_pct.median)
    assert (1.0, 0.8) == pytest.approx((before.shares.in_range, after.shares.in_range))
    assert dew_point_c(16, 91) == after.dew_point_c


def test_a_day_without_a_reading_that_counts_is_left_out(air: AirOf) -> None:
    later = logged([90], start="2026-11-05T12:00+00:00", path="b.csv")
    assert [date(2026, 11, 2), date(2026, 11, 5)] == [day.day for day in air(logged([90]), later).tents["hut"].days]


def test_how_near_the_air_came_to_condensing_is_given_of_its_dampest_reading(air: AirOf) -> None:
    found = air(logged([90, 96, 96, None, 93], [16, 17, 15, 16, 18])).tents["hut"]
    assert found.dampest is not None
    assert (96, 15) == (found.dampest.humidity_pct, found.dampest.temperature_c)
    assert dew_point_c(15, 96) == found.dampest.dew_point_c
    assert 15 - (dew_point_c(15, 96) or 0) == pytest.approx(found.dampest.margin_c)
    assert (found.dampest,) == tuple(day.dampest for day in found.days)


def test_saturated_air_condenses_on_what_is_no_warmer_and_a_thermometer_alone_cannot_tell(air: AirOf) -> None:
    saturated = air(logged([100])).tents["hut"].dampest
    assert saturated is not None
    assert (16, 0) == pytest.approx((saturated.dew_point_c, saturated.margin_c), abs=1e-3)
    blind = air(logged([None, None])).tents["hut"]
    assert (None, None) == (blind.dampest, blind.days[0].dew_point_c)


def batch(keys: str = "") -> str:
    return f"kind: batch\nid: B\ndate: 2026-11-02\ntent: hut\n{keys}"


FRUITS = "kind: note\nabout: B\ndate: 2026-11-02\nstage: fruiting"


def test_a_batch_has_the_air_of_its_own_days(air: AirOf) -> None:
    """Hourly for three days; it came on the second."""
    log = logged([*[60] * 24, *[90] * 18, *[80] * 6, *[90] * 24], start="2026-11-01T00:00+00:00")
    over = "kind: note\nabout: B\ndate: 2026-11-02\nstage: spent"
    found = air(log, b=batch(), f=FRUITS, n=over).batches["B"]
    assert 0.75 == found.in_range_share
    assert 6.0 == found.longest_out_h
    assert found.humidity_pct is not None
    assert (24, 90) == (found.humidity_pct.count, found.humidity_pct.median)


@pytest.mark.parametrize(
    ("share", "keys"),
    [
        (0.75, ""),
        (0.5, "wants humidity: 75–85 %"),
        (0.75, "wants temperature: 10–20 °C"),
        (0.0, "wants temperature: 1–2 °C"),
    ],
)
def test_a_batch_is_compared_with_its_own_range_and_else_its_tents(share: float, keys: str, air: AirOf) -> None:
    assert share == air(logged([85, 90, 95, 80]), b=batch(keys), f=FRUITS).batches["B"].in_range_share


def test_a_batch_that_was_moved_is_compared_with_each_tents_range_in_turn(air: AirOf) -> None:
    """12 h in the hut, all in its band; then 12 h in the loft, where 6 h are."""
    hut = logged([90] * 24)
    loft = in_loft(logged([*[90] * 12, *[75] * 6, *[90] * 6], 30))
    move = "kind: note\nabout: B\ndate: 2026-11-02 12:00\nmoved to: loft"
    found = air(hut, loft, b=batch(), f=FRUITS, n=move).batches["B"]
    assert Shares(in_s=18 * 3600, out_s=6 * 3600) == found.shares
    stood = [(one.location.tent, one.readings) for one in found.locations]
    assert [("hut", range(12)), ("loft", range(12, 24))] == stood
    assert 6.0 == found.longest_out_h


COLONISED = "kind: note\nabout: B\ndate: 2026-11-03\nstage: colonised"
WANTS = "wants temperature while colonising: 20–24 °C"


@pytest.mark.parametrize(
    ("shares", "keys"),
    [
        # A day at 22 °C while it colonised, then one at 16 °C, in a tent for 12 to 18 °C.
        (Shares(in_s=24 * 3600), ""),
        (Shares(in_s=48 * 3600), WANTS),
        (Shares(in_s=24 * 3600, out_s=24 * 3600), "wants temperature while colonising: 24–26 °C"),
    ],
)
def test_a_batch_that_colonises_is_compared_with_what_it_wants_then(shares: Shares, keys: str, air: AirOf) -> None:
    log = logged([90] * 48, [22] * 24 + [16] * 24)
    over = "kind: note\nabout: B\ndate: 2026-11-03 23:59\nstage: spent"
    found = air(log, b=batch(keys), n=COLONISED, o=over).batches["B"]
    assert shares == found.shares
    assert ["hut", "hut"] == [one.location.tent for one in found.locations]


COOL = '[journal]\ntime_zone = "Europe/London"\n[tents.hut]\ntemperature = "8–12 °C"\n'
RANGES = "wants temperature: 8–12 °C\nwants temperature while colonising: 16–20 °C"
TOO_COLD, TOO_WARM = ("too cold",), ("too warm",)


@pytest.mark.parametrize(
    ("sides", "keys", "notes"),
    [
        # 48 hours at 15 °C: too cold to colonise, too warm to fruit.
        ([TOO_COLD], RANGES, {}),
        ([], "wants temperature: 8–12 °C", {}),
        ([TOO_COLD], RANGES, {"1": "stage: inoculated"}),
        ([TOO_COLD], RANGES, {"1": "moved to: hut"}),
        ([TOO_COLD, TOO_WARM], RANGES, {"2": "stage: fruiting"}),
        ([TOO_WARM], "wants temperature: 8–12 °C", {"2": "stage: pinning"}),
        ([TOO_COLD, TOO_WARM], RANGES, {"2": "harvest: 90 g"}),
        ([TOO_WARM], RANGES, {"1": "stage: fruiting"}),
    ],
)
def test_a_batch_colonises_from_its_inoculation_until_a_note_says_otherwise(
    sides: list[tuple[str, ...]], keys: str, notes: dict[str, str], air: AirOf
) -> None:
    told = {f"n{at}": f"kind: note\nabout: B\ndate: 2026-11-0{int(at) + 1}\n{text}" for at, text in notes.items()}
    found = air(logged([90] * 48, 15), toml=COOL, b=batch(keys), **told)
    out, tent_out = found.batches["B"].out_of_range, found.tents["hut"].out_of_range
    assert sides == [period.sides for period in (out.periods if out else ())]
    assert (TOO_WARM in sides) == bool(tent_out and tent_out.periods)


def test_a_batch_that_has_only_colonised_without_a_range_for_it_says_so(air: AirOf) -> None:
    """Also where it was colonised after the last reading."""
    said = "it was colonising while the air was read, and no range is given for that"
    assert said == air(logged([90] * 24), b=batch()).batches["B"].no_share
    assert said == air(logged([90] * 24), b=batch(), n=COLONISED).batches["B"].no_share


def test_a_batch_whose_beginning_a_share_leaves_out_is_not_taken_to_colonise(make_journal: Make) -> None:
    files = {"journal.toml": COOL, "b.md": f"---\n{batch(RANGES)}\n---\n"}
    journal = make_journal(files, logs=[logged([90] * 24, 15)])
    for left_out in ({"shared_from": date(2026, 11, 2)}, {"totals_are_partial": True}):
        shared = replace(journal, batches=tuple(replace(one, **left_out) for one in journal.batches))
        out = Analysis(shared).climate.batches["B"].out_of_range
        assert [TOO_WARM] == [period.sides for period in (out.periods if out else ())]


def test_a_tent_is_not_judged_by_its_range_for_fruiting_while_all_in_it_colonises(air: AirOf) -> None:
    log = logged([90] * 48, [22] * 24 + [16] * 24)
    alone = air(log, b=batch(), n=COLONISED).tents["hut"]
    assert Shares(in_s=24 * 3600) == alone.shares
    assert () == (alone.out_of_range and alone.out_of_range.periods)
    fruiting = "kind: batch\nid: A\ndate: 2026-09-01\ntent: hut"
    pins = "kind: note\nabout: A\ndate: 2026-10-01\nstage: pinning"
    beside = air(log, a=fruiting, b=batch(), n=COLONISED, p=pins).tents["hut"]
    assert beside.shares.out_s == 24 * 3600
    still = air(log, b=batch(), n="kind: note\nabout: B\ndate: 2026-11-02\nstage: colonising").tents["hut"]
    assert "colonising, and its range is for fruiting" in (still.no_share or "")


def test_no_share_is_told_where_the_air_was_read_on_few_of_the_days(air: AirOf) -> None:
    last = "kind: note\nabout: B\ndate: 2027-01-01\nharvest: 90 g"
    once = air(logged([60]), b=batch(), f=FRUITS, n=last).batches["B"]
    assert (None, None, 1, 61) == (once.in_range_share, once.longest_out_h, once.days_read, once.days_spanned)
    assert "the air was read on 1 of 61 days where it was, too few to give a share" == once.no_share
    often = air(logged([90, 91] * 12 * 13), b=batch(), f=FRUITS, n=last).batches["B"]
    assert (1.0, 13, 61) == (often.in_range_share, often.days_read, often.days_spanned)


def test_a_period_out_of_range_that_began_before_a_batch_came_is_counted_from_its_coming(air: AirOf) -> None:
    log = logged([80] * 10, start="2026-11-01T20:00+00:00")
    found = air(log, b=batch(), f=FRUITS)
    assert (10.0, 6.0) == (found.tents["hut"].longest_out_h, found.batches["B"].longest_out_h)


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ("no entry says in which tent", "kind: batch\nid: B\ndate: 2026-11-02"),
        (
            "no entry says in which tent or room it was, and from which day",
            "kind: batch\nid: B\ndate: 2026-11\ntent: hut",
        ),
        ("the air was not read where it was", "kind: batch\nid: B\ndate: 2026-12-01\ntent: hut"),
    ],
)
def test_a_batch_without_a_share_says_why(words: str, text: str, air: AirOf) -> None:
    found = air(logged([90, 91]), b=text).batches["B"]
    assert (None, None) == (found.in_range_share, found.longest_out_h)
    assert words in (found.no_share or "")


def test_air_told_by_the_day_has_its_medians_and_no_share_of_time(air: AirOf) -> None:
    told = replace(logged([80, 91, 92], every_min=1440, start="2026-11-02T12:00+00:00"), by_day=True)
    found = air(told, b=batch(), f=FRUITS)
    tent = found.tents["hut"]
    for one in (tent, found.batches["B"]):
        assert (None, None, True) == (one.in_range_share, one.out_of_range, "known by the day" in (one.no_share or ""))
    assert [(2, 80), (3, 91), (4, 92)] == [(day.day.day, day.humidity_pct.median) for day in tent.days]
    assert {None} == {tent.dampest, *(day.dampest for day in tent.days)}


# The sample


@pytest.fixture(scope="module")
def sample(make_journal: Make) -> Climate:
    entries: dict[str, Any] = {
        path.relative_to(SAMPLE).as_posix(): path.read_bytes()
        for path in (*sorted(SAMPLE.rglob("*.md")), SAMPLE / "journal.toml")
    }
    settings, _ = read_settings((SAMPLE / "journal.toml").read_bytes())
    names = sorted(path.relative_to(SAMPLE).as_posix() for path in SAMPLE.rglob("*.csv"))
    claims, _ = files_of(settings.climate, names)
    logs = [read_log(name, (SAMPLE / name).read_bytes(), source, settings.time_zone)[0] for name, source in claims]
    return Analysis(make_journal(entries, logs=logs)).climate


def hours_of(stretches: Iterable[Any]) -> list[tuple[str, str]]:
    def words(stamp_s: float) -> str:
        return datetime.fromtimestamp(stamp_s, LONDON).strftime("%d %b %H:%M")

    return [(words(one.from_s), words(one.until_s)) for one in stretches]


def test_the_samples_stuck_thirty_hours_and_missing_nine_are_found(sample: Climate) -> None:
    """The author wrote: the same to a tenth from the small hours of the 4th until the morning of the 5th; and, in the
    night to the 17th, a battery that gave out, with nine hours missing."""
    found = sample.tents["wash-house"].series
    assert [("04 Nov 02:15", "05 Nov 07:45")] == hours_of(found.stuck_stretches)
    assert [("16 Nov 22:00", "17 Nov 07:30")] == hours_of(found.gaps)


def test_the_samples_longest_period_out_of_range_is_the_night_of_the_empty_tank(sample: Climate) -> None:
    """The author wrote: 72 % at ten past seven on the 30th; the tank had been dry since about ten the night before."""
    tent = sample.tents["wash-house"]
    assert tent.out_of_range is not None
    assert tent.out_of_range.longest is not None
    assert [("29 Oct 23:22", "30 Oct 07:37")] == hours_of([tent.out_of_range.longest])
    assert ("too dry",) == tent.out_of_range.longest.sides
    assert 8.25 == tent.longest_out_h


def test_the_sample_came_short_when_its_duct_sagged(sample: Climate) -> None:
    """The author wrote on the 20th: two or three per cent short since Tuesday, the 17th."""
    medians = {day.day: day.humidity_pct.median for day in sample.tents["wash-house"].days if day.humidity_pct}
    before = [medians[date(2026, 11, number)] for number in range(11, 16)]
    after = [medians[date(2026, 11, number)] for number in range(18, 24)]
    assert 2 < sum(before) / len(before) - sum(after) / len(after) < 4


def test_the_samples_cold_room_is_as_its_batch_wants_it(sample: Climate) -> None:
    assert 1.0 == sample.tents["net-loft"].shares.in_range_at_most  # no accuracy is stated: ±5 %
    assert ["wash-house", "wash-house", "net-loft"] == [one.location.tent for one in sample.batches["B-033"].locations]


def test_the_samples_shares_make_one_wherever_there_are_any(sample: Climate) -> None:
    every = [one.shares for one in (*sample.tents.values(), *sample.batches.values()) if one.shares.all_s]
    assert len(every) >= 4
    assert [1.0] * len(every) == pytest.approx(
        [(one.in_range or 0) + (one.out or 0) + (one.cannot_tell or 0) for one in every]
    )
