"""What batches gave, rolled up and held against each other: counts, what is missing, and what is final."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.calculation import Amount
from journal.analysis.comparison_words import be_in_words
from journal.analysis.yields import BatchYield, lagging_units
from journal.model import Journal
from tests.builders import entry

Make = Callable[..., Journal]
SAMPLE = Path(__file__).parents[2] / "sample_entries"


@pytest.fixture
def crop_of(make_journal: Make) -> Callable[..., BatchYield]:
    """Called with the keys of a batch and of the notes about it it gives the yield of that batch."""

    def crop(batch: str, *notes: str, about: str = "B", toml: str = "") -> BatchYield:
        files = {f"n{at}.md": entry("note", f"about: {about}\n{keys}") for at, keys in enumerate(notes)}
        files["b.md"] = entry("batch", f"id: B\ndate: 2026-01-01\nculture: C\n{batch}")
        files["c.md"] = entry("culture", "id: C\ndate: 2025-12-01\nreceived from: x\nform: grain")
        if toml:
            files["journal.toml"] = toml
        return Analysis(make_journal(files)).yields["B"]

    return crop


@pytest.fixture(scope="module")
def sample(make_journal: Make) -> Journal:
    files: Mapping[str, Any] = {
        path.relative_to(SAMPLE).as_posix(): path.read_bytes()
        for path in (*sorted(SAMPLE.rglob("*.md")), SAMPLE / "journal.toml")
    }
    return make_journal(files)


@pytest.mark.parametrize(
    ("id", "begun", "lived", "final"),
    [
        ("B-026", 41.7, 41.7, True),
        ("B-027", 17.5, 17.5, True),
        ("B-028", 52.9, 63.5, True),
        ("B-031", 53.2, 70.9, False),
    ],
)
def test_the_samples_batches_yielded_what_is_written_of_them(
    id: str, begun: float, lived: float, final: bool, sample: Journal
) -> None:
    found = Analysis(sample).yields[id]
    assert found.be is not None
    assert found.be_survived is not None
    assert (begun, lived) == pytest.approx((found.be.value, found.be_survived.value), abs=0.05)
    assert final == found.final


def test_units_begun_lead_and_every_figure_names_its_counts(sample: Journal) -> None:
    found = Analysis(sample).yields["B-031"]
    assert (
        "BE 53 % of the 4 blocks inoculated (71 % of the 3 not lost before harvest), 2 flushes so far"
        == be_in_words(found, "blocks")
    )
    assert found.be is not None
    assert ("units inoculated", "4") in found.be.inputs
    assert "Pettipher" in found.be.source


@pytest.mark.parametrize(
    ("final", "about", "notes"),
    [
        (False, "B", ["date: 2026-02-01\nlost: 1"]),
        (True, "B", ["date: 2026-02-01\nlost: 2"]),
        (True, "B", ["date: 2026-02-01\nlost: 1", "date: 2026-02-02\nstage: discarded"]),
        (True, "B", ["date: 2026-02-02\nstage: spent"]),
        (False, "B.1, B.2", ["date: 2026-02-02\nstage: spent"]),
    ],
)
def test_figures_are_final_once_the_whole_is_said_to_be_over_or_lost(
    final: bool, about: str, notes: list[str], crop_of: Callable[..., BatchYield]
) -> None:
    assert final == crop_of("units: 2\ndry mass: 500 g", *notes, about=about).final


def test_drying_counts_what_went_into_the_dryer_and_not_the_whole_harvest(sample: Journal) -> None:
    found = Analysis(sample).yields["B-028"].dried
    assert found is not None
    assert 121 / 1310 * 100 == pytest.approx(found.value)


def test_what_was_dried_apart_from_any_harvest_counts_by_what_it_came_from(crop_of: Callable[..., BatchYield]) -> None:
    found = crop_of("units: 1", "date: 2026-02-01\nharvest: 900 g", "date: 2026-02-03\ndried: 40 g\ndried from: 400 g")
    assert found.dried is not None
    assert 10.0 == pytest.approx(found.dried.value)
    assert not any("weighed dry" in line for line in found.missing)


@pytest.mark.parametrize(
    ("lost_on", "counted", "on_those"),
    [("2026-01-20", 2, 100.0), ("2026-02-01", 4, 50.0), ("2026-02-20", 4, 50.0)],
)
def test_only_units_lost_before_the_first_harvest_leave_the_denominator(
    lost_on: str, counted: int, on_those: float, crop_of: Callable[..., BatchYield]
) -> None:
    harvest = "date: 2026-02-01\nharvest: 1600 g\nflush: 1"
    found = crop_of("units: 4\ndry mass: 800 g", harvest, f"date: {lost_on}\nlost: 2")
    assert found.be_survived is not None
    assert (50.0, on_those, counted) == (found.be and found.be.value, found.be_survived.value, found.survived)


@pytest.mark.parametrize("units", ["four", "0", "-1"])
def test_where_the_units_cannot_be_read_nothing_is_calculated_by_the_unit(
    units: str, crop_of: Callable[..., BatchYield]
) -> None:
    notes = ["date: 2026-02-01\nharvest: 1200 g\nflush: 1", "date: 2026-02-05\nlost: 2"]
    found = crop_of(f"units: {units}\ndry mass: 800 g\nspawn mass: 200 g", *notes, toml="[ingredients]\nspawn = '55 %'")
    assert (None, None, 2, 1200.0, False) == (
        found.inoculated,
        found.survived,
        found.lost,
        found.harvest_g,
        found.final,
    )
    by_the_unit = (
        found.be,
        found.be_survived,
        found.be_with_spawn,
        found.be_per_day,
        found.per_unit,
        found.flushes[0].be,
    )
    assert [None] * 6 == [*by_the_unit]
    assert found.missing[0].startswith("No BE: how many units were inoculated cannot be read")
    assert be_in_words(found) is None
    part = crop_of(f"units: {units}\ndry mass: 800 g", notes[0], about="B.2").parts[0]
    assert part.be is not None
    assert part.be.value == pytest.approx(150)  # one unit, whatever the others are


def test_a_batch_lost_before_its_harvest_has_no_figure_on_those_that_lived(crop_of: Callable[..., BatchYield]) -> None:
    found = crop_of("units: 2\ndry mass: 500 g", "date: 2026-02-01\nlost: 2\nstage: discarded")
    assert (None, 0) == (found.be_survived, found.survived)
    assert "All units were lost before a harvest, so there is no BE on those not lost." in found.missing


def test_a_batch_lost_after_its_harvest_is_said_to_be_lost(crop_of: Callable[..., BatchYield]) -> None:
    found = crop_of("units: 2\ndry mass: 500 g", "date: 2026-02-01\nlost: 2\nharvest: 100 g\nflush: 1")
    assert found.be is not None
    assert (10.0, 2) == (pytest.approx(found.be.value), found.survived)
    assert "BE 10 % of the 2 units inoculated (all lost), 1 flush" == be_in_words(found)


@pytest.mark.parametrize(
    ("told", "stage"), [(None, "pinning"), ("BE 0 % of the 2 units inoculated", "spent"), (None, "dead")]
)
def test_what_has_borne_nothing_yet_is_not_told_as_having_borne_nothing(
    told: str | None, stage: str, crop_of: Callable[..., BatchYield]
) -> None:
    found = crop_of("units: 2\ndry mass: 500 g", f"date: 2026-02-01\nstage: {stage}")
    assert (told, told is None) == (be_in_words(found), found.is_unharvested)


@pytest.mark.parametrize(
    ("lacks", "batch"),
    [
        ("the dry mass of a unit is not known", ""),
        ("its moisture is not known", "wet mass: 2 kg"),
        ("not what a unit weighed", "moisture: 60 %"),
        ("the dry share of leaf mould", "mix: leaf mould 2 kg, wheat bran 1 kg"),
    ],
)
def test_a_harvest_with_no_dry_mass_is_told_what_is_missing(
    lacks: str, batch: str, crop_of: Callable[..., BatchYield]
) -> None:
    found = crop_of(batch, "date: 2026-02-01\nharvest: 100 g\nflush: 1")
    assert (None, None, 100.0) == (found.be, found.be_survived, found.harvest_g)
    assert any(lacks in sentence for sentence in found.missing)


@pytest.mark.parametrize(
    ("says", "flushes"),
    [
        ((), (1, 2)),
        (("No harvest names flush 2, though one names flush 3",), (1, 3)),
        (("No harvest names flush 1, 3, though one names flush 4",), (4, 2)),
    ],
)
def test_a_hole_in_the_flushes_is_said(
    says: tuple[str, ...], flushes: tuple[int, ...], crop_of: Callable[..., BatchYield]
) -> None:
    notes = [f"date: 2026-02-0{at}\nharvest: 100 g\nflush: {number}" for at, number in enumerate(flushes, 1)]
    told = [one.partition(":")[0] for one in crop_of("dry mass: 1 kg", *notes).missing if "names flush" in one]
    assert says == tuple(told)


def test_a_flush_of_two_days_knows_its_first_and_last(crop_of: Callable[..., BatchYield]) -> None:
    found = crop_of(
        "dry mass: 500 g",
        "date: 2026-02-03\nharvest: 50 g\nflush: 1",
        "date: 2026-02-01\nharvest: 200 g\nflush: 1",
        "date: 2026-02-20\nharvest: 25 g",
    )
    (flush,) = found.flushes
    assert (1, 250.0, "2026-02-01", "2026-02-03") == (
        flush.number, flush.harvest_g, flush.first.iso, flush.last.iso,
    )  # fmt: skip
    assert (25.0, 275.0) == (found.unnumbered_g, found.harvest_g)
    assert found.first_flush_pct is None
    assert "1 harvest names no flush: it counts in the total, in no flush." in found.missing


def test_parts_have_their_own_and_what_was_harvested_together_is_not_split(make_journal: Make) -> None:
    files = {
        "b.md": entry("batch", "id: B\ndate: 2026-01-01\nunits: 3\ndry mass: 500 g"),
        "1.md": entry("note", "about: B.1\ndate: 2026-02-01\nharvest: 200 g\nflush: 1"),
        "2.md": entry("note", "about: B.1, B.2\ndate: 2026-02-02\nharvest: 100 g\nflush: 2"),
        "3.md": entry("note", "about: B.3\ndate: 2026-02-03\nlost: 1\ncause: green mould"),
        "4.md": entry("note", "about: B\ndate: 2026-02-04\nharvest: 60 g\nflush: 3"),
    }
    found = Analysis(make_journal(files)).yields["B"]
    assert [((1,), 200.0, 0), ((1, 2), 100.0, 0), ((3,), 0.0, 1)] == [
        (part.parts, part.harvest_g, part.lost) for part in found.parts
    ]
    # Each of them may have given of the 60 g that name no part, and B.1 gave some of what it shared with B.2.
    assert [None, None, None] == [part.be for part in found.parts]
    del files["4.md"]
    files["2.md"] = files["2.md"].replace("B.1, B.2", "B.2, B.3")
    apart = Analysis(make_journal(files)).yields["B"]
    assert [40.0, 10.0, None] == [part.be and pytest.approx(part.be.value) for part in apart.parts]
    assert 360.0 == found.harvest_g


def test_a_harvest_of_nothing_leaves_every_unit_apart(make_journal: Make) -> None:
    """Of 500 g dry each: 200 g of B.1 are 40 %, 50 g of B.2 and B.3 together are 5 %."""
    weighed = ("B.1 200", "B.2, B.3 50", "B 0", "B.3 0")
    notes = (
        f"about: {of}\ndate: 2026-02-0{at}\nharvest: {g} g"
        for at, one in enumerate(weighed, 1)
        for of, _, g in [one.rpartition(" ")]
    )
    files = {f"{at}.md": entry("note", keys) for at, keys in enumerate(notes)}
    found = Analysis(
        make_journal(files | {"b.md": entry("batch", "id: B\ndate: 2026-01-01\nunits: 3\ndry mass: 500 g")})
    )
    assert [((1,), 40.0), ((2, 3), 5.0), ((3,), None)] == [
        (part.parts, part.be and pytest.approx(part.be.value)) for part in found.yields["B"].parts
    ]


SPAWNED = "dry mass: 500 g\nwet mass: 1.25 kg\nspawn mass: 100 g"


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ((), (1, {4})),  # three of four gave flush 1, two of four flush 2
        (("4 lost: 1",), (2, {3})),  # two of three gave flush 2
        ((" lost: 1",), (0, set())),  # which one was lost is not said
        ((" harvest: 50 g\nflush: 3",), (0, set())),  # nor which one gave this
        (("3 harvest: 50 g\nflush: 2", "4 harvest: 50 g\nflush: 3"), (2, set())),
    ],
)
def test_a_unit_lags_that_has_not_given_what_most_of_the_others_gave(
    make_journal: Make, more: tuple[str, ...], expected: tuple[int, set[int]]
) -> None:
    given = {1: (1, 2), 2: (1, 2), 3: (1,)}
    told = [f"{unit} harvest: 100 g\nflush: {flush}" for unit, flushes in given.items() for flush in flushes]
    files = {"b.md": entry("batch", "id: B\ndate: 2026-01-01\nunits: 4")}
    for at, note in enumerate((*told, *more)):
        unit, _, keys = note.partition(" ")
        files[f"n{at}.md"] = entry("note", f"about: B{'.' if unit else ''}{unit}\ndate: 2026-02-01\n{keys}")
    flush, units = lagging_units(Analysis(make_journal(files)).yields["B"])
    assert expected == (flush, set(units))


def test_spawn_is_counted_in_only_where_its_dry_share_was_measured(crop_of: Callable[..., BatchYield]) -> None:
    note = "date: 2026-02-01\nharvest: 275 g\nflush: 1"
    without = crop_of(SPAWNED, note)
    assert without.be_with_spawn is None
    assert any("dry share of the spawn" in sentence for sentence in without.missing)
    measured = crop_of(SPAWNED, note, toml='[ingredients]\n"grain spawn" = "50 %"\n')
    assert measured.be_with_spawn is not None
    assert 50.0 == pytest.approx(measured.be_with_spawn.value)
    assert measured.be is not None
    assert 55.0 == pytest.approx(measured.be.value)


def test_spawn_rate_is_given_on_both_bases(crop_of: Callable[..., BatchYield]) -> None:
    found = crop_of(SPAWNED)
    assert found.spawn_rate_wet is not None
    assert found.spawn_rate_dry is not None
    assert (8.0, 20.0) == pytest.approx((found.spawn_rate_wet.value, found.spawn_rate_dry.value))


@pytest.mark.parametrize(
    ("per_day", "notes"),
    [
        (10.0, ["date: 2026-01-11\nharvest: 100 g\nflush: 1"]),
        (10.0, ["date: 2026-01-11\nharvest: 100 g\nflush: 1", "date: 2026-01-21\nstage: spent"]),
        (None, []),
        (None, ["date: 2026-01-01\nharvest: 100 g\nflush: 1"]),
        (None, ["date: about 2026-01-11\nharvest: 100 g\nflush: 1"]),
    ],
)
def test_days_run_to_the_last_harvest_whether_or_not_the_batch_has_ended(
    per_day: float | None, notes: list[str], crop_of: Callable[..., BatchYield]
) -> None:
    found = crop_of("dry mass: 500 g", *notes)
    assert per_day == (found.per_day and pytest.approx(found.per_day.value))


CULTURES = {
    "f.md": entry("find", "id: F\ndate: 2025-11-01"),
    "c1.md": entry("culture", "id: C1\ndate: 2025-11-02\nfrom: F\nform: plate\nvessels: 5"),
    "c2.md": entry("culture", "id: C2\ndate: 2025-11-10\nfrom: C1\nform: grain\nvessels: 4"),
    "s.md": entry("culture", "id: S\ndate: 2025-11-10\nfrom: F\nmethod: spores\nform: plate"),
    "p.md": entry("note", "about: C1\ndate: 2025-11-05\nlost: 3\ncause: Green mould"),
    "q.md": entry("note", "about: C1\ndate: 2025-11-06\nlost: 1"),
    "b1.md": entry("batch", "id: B1\ndate: 2026-01-01\nculture: C2\nunits: 4\ndry mass: 500 g"),
    "b2.md": entry("batch", "id: B2\ndate: 2026-01-02\nculture: C2, S\nunits: 2\ndry mass: 500 g"),
    "b3.md": entry("batch", "id: B3\ndate: 2026-01-03\nculture: S\nunits: 1"),
    "h1.md": entry("note", "about: B1\ndate: 2026-02-01\nharvest: 1 kg\nflush: 1\nstage: spent"),
    "h0.md": entry("note", "about: B1\ndate: 2026-01-20\nlost: 1"),
    "h2.md": entry("note", "about: B2\ndate: 2026-02-02\nharvest: 300 g\nflush: 1"),
    "h3.md": entry("note", "about: B3\ndate: 2026-02-03\nharvest: 80 g\nflush: 1"),
    "t.md": entry("culture", "id: T\ndate: 2026-02-02\nfrom: B1\nform: plate"),
    "b4.md": entry("batch", "id: B4\ndate: 2026-03-01\nculture: T\nunits: 1\ndry mass: 500 g"),
}


def test_a_culture_counts_what_was_reached_from_it_by_transfer_alone(make_journal: Make) -> None:
    rolled = Analysis(make_journal(CULTURES)).rollups
    c1 = rolled.cultures["C1"]
    assert (("B1", "B2"), ("B2",), ("B1",), 1300.0) == (
        c1.batches, c1.shared, c1.finished, c1.harvest_g,
    )  # fmt: skip
    assert c1.be is not None
    assert c1.be_finished is not None
    assert (1300 / 3000 * 100, 50.0) == pytest.approx((c1.be.value, c1.be_finished.value))
    assert (("B1",), 50.0, None) == (c1.counted, c1.be_median, c1.be_interval)
    assert c1.lost_of_units is not None
    assert (1, 4) == (c1.lost_of_units.part, c1.lost_of_units.whole)
    assert not c1.final


def test_a_batch_of_two_cultures_counts_for_each_and_a_find_counts_everything_once(make_journal: Make) -> None:
    rolled = Analysis(make_journal(CULTURES)).rollups
    assert ("B2", "B3") == rolled.cultures["S"].batches
    assert {"C1", "S", "T"} == set(rolled.lines)
    find = rolled.finds["F"]
    assert (("B1", "B2", "B3", "B4"), (), ("B3",), 1380.0) == (
        find.batches, find.shared, find.without_dry, find.harvest_g,
    )  # fmt: skip


def test_a_batch_that_is_still_to_bear_lowers_no_be(make_journal: Make) -> None:
    bearing = Analysis(make_journal(CULTURES)).rollups.finds["F"]
    later = {**CULTURES, "h4.md": entry("note", "about: B4\ndate: 2026-04-01\nstage: spent")}
    ended = Analysis(make_journal(later)).rollups.finds["F"]
    assert (("B4",), ()) == (bearing.unharvested, ended.unharvested)
    assert bearing.be is not None
    assert ended.be is not None
    assert (1300 / 3000 * 100, 1300 / 3500 * 100) == pytest.approx((bearing.be.value, ended.be.value))


def test_units_that_lived_are_counted_over_all_batches_together_too(make_journal: Make) -> None:
    rolled = Analysis(make_journal(CULTURES)).rollups.cultures["C1"]
    # B1 has lost 1 of 4 units of 500 g; B2 none of 2: 1300 g of 2500 g, where 3000 g were begun.
    assert rolled.be_survived is not None
    assert 1300 / 2500 * 100 == pytest.approx(rolled.be_survived.value)
    assert (
        "dry substrate of all units not lost before the first harvest",
        Amount(2500, "g"),
    ) in rolled.be_survived.inputs


def test_losses_are_given_by_step_and_cause(make_journal: Make) -> None:
    plates, grain, batches = Analysis(make_journal(CULTURES)).rollups.cultures["C1"].losses
    assert ("plate", 5, 4) == (plates.step, plates.inoculated, plates.lost)
    assert (("green mould", 3), ("", 1)) == plates.causes
    assert 0.8 == plates.share
    assert ("grain", 4, 0) == (grain.step, grain.inoculated, grain.lost)
    assert ("batch", 6, 1, (("", 1),)) == (batches.step, batches.inoculated, batches.lost, batches.causes)


def test_vessels_nobody_counted_are_in_no_share_and_are_named(make_journal: Make) -> None:
    (step,) = (loss for loss in Analysis(make_journal(CULTURES)).rollups.finds["F"].losses if loss.step == "plate")
    assert (5, 4, {"S", "T"}) == (step.inoculated, step.lost, set(step.uncounted))
