"""Planning backwards from a day, and what is still to come: from own batches, else as published."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.planning import Prospect
from journal.analysis.statistics import prediction_interval, t_quantile
from journal.analysis.upcoming import Ahead
from journal.export.document import document

Make = Callable[..., Any]
OYSTER = "Pleurotus pulmonarius"


def batch(id: str, day: str, dry: str = "dry mass: 1 kg\n", species: str = OYSTER) -> dict[str, str]:
    culture = f"---\nkind: culture\nid: C{id}\ndate: 2025-01-01\nreceived from: x\nspecies: {species}\n---\n"
    return {
        f"c{id}.md": culture,
        f"{id}.md": f"---\nkind: batch\nid: {id}\ndate: {day}\nculture: C{id}\nunits: 2\n{dry}---\n",
    }


def note(id: str, day: str, lines: str) -> dict[str, str]:
    return {f"{id}-{day}.md": f"---\nkind: note\nabout: {id}\ndate: {day}\n{lines}\n---\n"}


def finished(id: str, day: str, first: tuple[str, int], last: tuple[str, int], end: str) -> dict[str, str]:
    return (
        batch(id, day)
        | note(id, first[0], f"harvest: {first[1]} g\nflush: 1")
        | note(id, last[0], f"harvest: {last[1]} g\nflush: 2")
        | note(id, end, "stage: spent")
    )


HUT = {"journal.toml": "[journal]\ntitle = 't'\n[tents.hut]\nname = 'Hut'\n"}
THREE = (
    finished("B1", "2026-01-01", ("2026-01-25", 1000), ("2026-02-05", 400), "2026-02-20")
    | finished("B2", "2026-02-01", ("2026-03-01", 1200), ("2026-03-10", 500), "2026-03-20")
    | finished("B3", "2026-03-01", ("2026-03-27", 900), ("2026-04-08", 300), "2026-04-20")
)


def of(make: Make, files: dict[str, str]) -> Analysis:
    return Analysis(make(files))


def only(found: Analysis) -> Prospect:
    (prospect,) = found.prospects
    return prospect


def test_a_batch_under_an_own_name_counts_for_the_species_that_it_means(make_journal: Make) -> None:
    own = {"journal.toml": f'[names]\n"shelf oyster" = "{OYSTER}"\n'}
    renamed = {path: text.replace(OYSTER, "shelf oyster") if "B1" in path else text for path, text in THREE.items()}
    growing = batch("B4", "2026-05-01", species="Shelf oyster")
    found, plain = of(make_journal, own | renamed | growing), of(make_journal, THREE | batch("B4", "2026-05-01"))
    assert plain.prospects == found.prospects
    assert plain.expected == found.expected != {}
    assert plain.ahead == found.ahead != Ahead()


# Student's t as the NIST/SEMATECH e-Handbook of Statistical Methods tables it, 1.3.6.7.2 (from memory; the same as
# scipy has): upper critical values at 0.10 and 0.025.
@pytest.mark.parametrize(
    ("t", "degrees", "confidence"),
    [(3.078, 1, 0.8), (1.886, 2, 0.8), (1.638, 3, 0.8), (1.533, 4, 0.8), (12.706, 1, 0.95), (2.228, 10, 0.95)],
)
def test_students_t_is_the_tables(t: float, degrees: int, confidence: float) -> None:
    assert pytest.approx(t, abs=0.0006) == t_quantile(degrees, confidence)


def test_a_prediction_interval_is_that_of_the_worked_example() -> None:
    """D. C. Montgomery, G. C. Runger, Applied Statistics and Probability for Engineers, 3rd edition, example 8-8: the
    load at failure of 22 specimens, mean 13.71 and s 3.55; the next is between 6.16 and 21.26 (95 %)."""
    values = (
        19.8, 10.1, 14.9, 7.5, 15.4, 15.4, 15.4, 18.5, 7.9, 12.7, 11.9, 11.4, 11.4, 14.1, 17.6, 16.7, 15.8, 19.5, 8.8,
        13.6, 11.9, 11.4,
    )  # fmt: skip
    found = prediction_interval(values, 0.95)
    assert found is not None
    assert (6.16, 13.71, 21.26) == pytest.approx((found.low, found.middle, found.high), abs=0.02)
    assert prediction_interval(values[:2]) is None
    assert prediction_interval((0.0, 1.0, 2.0), by_logarithms=True) is None


def test_a_span_of_time_is_predicted_by_its_logarithm(make_journal: Make) -> None:
    """Days to the first flush: 24, 28, 26. Their logarithms have the mean 3.2561 and s 0.0771; t(2) for 80 % is 1.886:
    exp(3.2561 ± 1.886 · 0.0771 · √(4/3)) = 21.9 to 30.7."""
    days = only(of(make_journal, THREE)).days["first flush"]
    assert days is not None
    assert ("own", (("B1", 24.0), ("B2", 28.0), ("B3", 26.0))) == (days.basis, days.own)
    assert (21.94, 25.95, 30.70) == pytest.approx((days.low, days.middle, days.high), abs=0.02)


def test_yields_are_predicted_from_the_authors_own_batches(make_journal: Make) -> None:
    """BE of all flushes: 70, 85 and 60 % (mean 71.67, s 12.58): 71.67 ± 1.886 · 12.58 · √(4/3) = 44.3 to 99.1."""
    prospect = only(of(make_journal, THREE))
    be = prospect.be_pct["all flushes"]
    assert be is not None
    assert (44.3, 71.67, 99.1) == pytest.approx((be.low, be.middle, be.high), abs=0.06)
    assert (1000.0, 37.0) == (prospect.dry_g, round((prospect.days["all flushes"] or be).middle))


def test_fewer_than_three_finished_batches_leave_it_to_what_is_told_and_stand_beside_it(make_journal: Make) -> None:
    two = {name: text for name, text in THREE.items() if "B3" not in name}
    prospect = only(of(make_journal, two))
    days, be = prospect.days["first flush"], prospect.be_pct["all flushes"]
    assert days is not None
    assert be is not None
    # Stamets: 8 to 14 days to colonise, 3 to 5 to pins after the move, 3 to 5 to picking.
    assert (14, 19, 24, "published") == (days.low, days.middle, days.high, days.basis)
    assert (2, True) == (len(days.own), "too few" in days.words)
    assert (50, 100, "practice") == (be.low, be.high, be.basis)
    first = prospect.be_pct["first flush"]  # of which no table tells
    assert first is not None
    assert (50, 60, "few") == (first.low, first.high, first.basis)


def test_a_line_with_batches_enough_of_its_own_comes_before_its_species(make_journal: Make) -> None:
    """Three of one line as above, and a fourth of another that gave twice as much; one that grows is of the first."""
    other = finished("B4", "2026-03-01", ("2026-03-27", 1800), ("2026-04-08", 900), "2026-04-20")
    growing = batch("B5", "2026-04-25")
    files = THREE | other | growing
    for id in ("B2", "B3", "B5"):
        files[f"{id}.md"] = files[f"{id}.md"].replace(f"culture: C{id}", "culture: CB1")
    found = of(make_journal, files)
    whole, line = found.prospects
    assert [(OYSTER, None), (OYSTER, "CB1")] == [(one.species, one.line) for one in (whole, line)]
    all_be, be = whole.be_pct["all flushes"], line.be_pct["all flushes"]
    assert all_be is not None
    assert be is not None
    assert (4, 3) == (len(all_be.own), len(be.own))
    assert (44.3, 71.67, 99.1) == pytest.approx((be.low, be.middle, be.high), abs=0.06)
    assert be.words.startswith("by your 3 finished batches of line CB1:")
    # Flush 1 of the line: 50, 60 and 45 % (mean 51.67, s 7.64), 51.67 ± 1.886 · 7.64 · √(4/3) = 35.0 to 68.3 % of 2 kg
    assert (701, 1366) == pytest.approx((found.coming[0].low_g, found.coming[0].high_g), abs=1)
    assert ("CB1", None) == tuple(row["line"] for row in document(make_journal(files))["plan"][2::-2])


def test_a_species_of_which_nothing_is_told_has_no_range(make_journal: Make) -> None:
    prospect = only(of(make_journal, batch("B1", "2026-01-01", species="Agrocybe rara")))
    assert [None] * 4 == [*prospect.days.values(), *prospect.be_pct.values()]


def test_batches_in_doubt_and_not_finished_do_not_count(make_journal: Make) -> None:
    doubted = THREE | {"d.md": "---\nkind: note\nabout: CB3\ndate: 2026-02-01\nstage: doubtful\n---\n"}
    assert "published" == getattr(only(of(make_journal, doubted)).days["first flush"], "basis", None)


@pytest.mark.parametrize(
    ("first", "last", "extra"),
    [
        ("2026-11-15", "2026-11-25", {}),  # from inoculation: 14 to 24 days
        ("2026-11-16", "2026-11-20", note("B", "2026-11-10", "moved to: hut")),  # 6 to 10 from the move
        ("2026-11-18", "2026-11-20", note("B", "2026-11-15", "stage: pinning")),  # 3 to 5 from pins
        ("2026-11-27", "2026-11-30", note("B", "2026-11-20", "harvest: 500 g\nflush: 1")),  # 7 to 10 from flush 1
    ],
)
def test_what_is_coming_counts_from_what_was_last_seen(
    first: str, last: str, extra: dict[str, str], make_journal: Make
) -> None:
    found = of(make_journal, HUT | batch("B", "2026-11-01") | extra).coming
    assert (first, last) == (found[0].first.isoformat(), found[0].last.isoformat())


def of_line_cb(id: str, day: str, colonised: str, flushes: list[str], end: str) -> dict[str, str]:
    """A finished batch of the culture CB; a flush of 400 g on each of these days."""
    files = batch(id, day) | note(id, colonised, "stage: colonised") | note(id, end, "stage: spent")
    files[f"{id}.md"] = files[f"{id}.md"].replace(f"culture: C{id}", "culture: CB")
    for number, one in enumerate(flushes, 1):
        files |= note(id, one, f"harvest: 400 g\nflush: {number}")
    return files


ONCE = of_line_cb("P", "2026-01-01", "2026-01-16", ["2026-01-27", "2026-02-10"], "2026-03-01")
AGAIN = of_line_cb("Q", "2026-02-01", "2026-02-17", ["2026-03-01", "2026-03-17"], "2026-04-01")
FOUR = of_line_cb(
    "P", "2026-01-01", "2026-01-16", ["2026-01-27", "2026-02-06", "2026-02-20", "2026-03-04"], "2026-03-20"
)
THREE_FLUSHES = of_line_cb("Q", "2026-02-01", "2026-02-17", ["2026-03-01", "2026-03-12", "2026-03-24"], "2026-04-10")
PINNED = ONCE | AGAIN | note("P", "2026-01-21", "stage: pinning") | note("Q", "2026-02-24", "stage: pinning")
COLONISED = note("B", "2026-11-16", "stage: colonised")
UNPICKED = of_line_cb("P", "2026-01-01", "2026-01-21", [], "2026-03-01")
ONLY_FLUSH_2 = note("B", "2026-11-01", "harvest: 500 g\nflush: 2")
TWO_FLUSHES = (
    note("B", "2026-10-28", "harvest: 500 g\nflush: 1")
    | note("B", "2026-10-31", "harvest: 100 g\nflush: 1")
    | note("B", "2026-11-12", "harvest: 300 g\nflush: 2")
)


@pytest.mark.parametrize(
    ("awaited", "coming", "began", "extra"),
    [
        # Its own 12 days, with the 3 from first to last of the 7 to 10 that Stamets tells.
        ("next flush 2026-11-24", ["3: 2026-11-24 to 2026-11-27"], "2026-10-01", TWO_FLUSHES),
        # The same, with the 4 from first to last of the line's 10 to 14; so the next flush, 12 to 16 days on.
        (
            "next flush 2026-11-24",
            ["3: 2026-11-24 to 2026-11-28", "4: 2026-12-06 to 2026-12-14"],
            "2026-10-01",
            FOUR | TWO_FLUSHES,
        ),
        # Once 26 days to the first harvest, with the 10 from first to last of the 14 to 24 that Stamets's steps make.
        ("colonised 2026-11-25", ["1: 2026-12-06 to 2026-12-16"], "2026-11-10", ONCE),
        # Twice: 26 and 28 days.
        ("colonised 2026-11-25", ["1: 2026-12-06 to 2026-12-08"], "2026-11-10", ONCE | AGAIN),
        # Pins after 20 and 23 days, and harvested 6 and 5 days later, whether it is moved or not.
        ("pins 2026-11-19", ["1: 2026-11-24 to 2026-11-28"], "2026-10-30", PINNED | COLONISED),
        (
            "pins 2026-11-19",
            ["1: 2026-11-24 to 2026-11-28"],
            "2026-10-30",
            PINNED | COLONISED | note("B", "2026-11-20", "moved to: hut"),
        ),
        # Once colonised after 20 days, then no harvest: by Stamets 6 days more from the move to picking.
        ("colonised 2026-11-30", ["1: 2026-12-06 to 2026-12-16"], "2026-11-10", UNPICKED),
        # Once 14 days after flush 2, with the 4 from first to last of the line's 10 to 14 after any flush.
        ("next flush 2026-11-15", ["3: 2026-11-15 to 2026-11-19"], "2026-10-01", FOUR | ONLY_FLUSH_2),
        # Twice 12 to 14 days after flush 2, although 10 to 14 after any flush.
        ("next flush 2026-11-13", ["3: 2026-11-13 to 2026-11-15"], "2026-10-01", FOUR | THREE_FLUSHES | ONLY_FLUSH_2),
    ],
)
def test_what_is_coming_agrees_with_what_is_expected_next(
    awaited: str, coming: list[str], began: str, extra: dict[str, str], make_journal: Make
) -> None:
    found = of(make_journal, HUT | batch("B", began) | extra)
    one = found.expected["B"]
    told = [f"{row.flush}: {row.first} to {row.last}" for row in found.coming if row.batch == "B"]
    assert awaited == f"{one.what} {one.from_day}"
    assert coming == told[: len(coming)]


def test_a_harvest_is_expected_from_the_days_to_the_first_of_a_flush_and_planned_by_those_to_its_last(
    make_journal: Make,
) -> None:
    """First harvested after 24, 28 and 26 days, and the last of flush 1 is five days after that."""
    later = (
        note("B1", "2026-01-30", "harvest: 10 g\nflush: 1")
        | note("B2", "2026-03-06", "harvest: 10 g\nflush: 1")
        | note("B3", "2026-04-01", "harvest: 10 g\nflush: 1")
    )
    found = of(make_journal, THREE | later | batch("B", "2026-06-01"))
    days = only(found).days["first flush"]
    assert days is not None
    assert [("B1", 29.0), ("B2", 33.0), ("B3", 31.0)] == list(days.own)
    assert ("2026-06-25", "2026-06-29") == (found.coming[0].first.isoformat(), found.coming[0].last.isoformat())


def test_nothing_is_coming_after_the_last_flush_that_the_line_gave(make_journal: Make) -> None:
    """Stamets tells of three flushes, but the only batch of the line gave two."""
    found = of(make_journal, batch("B", "2026-10-01") | ONCE | TWO_FLUSHES)
    assert ((), {}) == (found.coming, found.expected)


def test_the_mass_still_to_come_is_what_the_be_leaves_shared_among_the_flushes_left(make_journal: Make) -> None:
    """2 kg dry at 50 to 100 % are 1 to 2 kg over three flushes; 500 g are harvested, and two flushes are left."""
    files = batch("B", "2026-11-01") | note("B", "2026-11-20", "harvest: 500 g\nflush: 1")
    found = of(make_journal, files).coming
    assert [(2, 250.0, 500.0, 750.0, "divided"), (3, 250.0, 500.0, 750.0, "divided")] == [
        (one.flush, one.low_g, one.middle_g, one.high_g, one.mass_by) for one in found
    ]


@pytest.mark.parametrize(
    "extra",
    [
        note("B", "2026-11-20", "stage: spent"),
        note("B", "2026-11-20", "stage: stored"),
        note("B", "2026-11-20", "lost: 2"),
        note("B", "2026-11-20", "harvest: 500 g\nflush: 3"),
    ],
)
def test_nothing_is_coming_of_a_batch_that_is_over_or_has_given_all_its_flushes(
    extra: dict[str, str], make_journal: Make
) -> None:
    assert () == of(make_journal, batch("B", "2026-11-01") | extra).coming


@pytest.mark.parametrize(
    ("coming", "overdue", "day"), [([1, 2, 3], [], "2026-11-25"), ([], [("B", 1, "2026-11-25")], "2026-11-26")]
)
def test_no_flush_is_counted_on_from_one_that_did_not_come_in_its_days(
    coming: list[int], overdue: list[tuple[str, int, str]], day: str, make_journal: Make
) -> None:
    """Flush 1 may come up to 25 November; the journal was written in up to that day, or to the next."""
    found = of(make_journal, batch("B", "2026-11-01") | note("CB", day, "done: looked"))
    assert coming == [one.flush for one in found.coming]
    assert overdue == [(one.batch, one.flush, str(one.last)) for one in found.ahead.overdue]


GROWING = (
    batch("B", "2026-10-16", species="Pleurotus ostreatus")
    | note("B", "2026-11-13", "harvest: 1840 g\nflush: 1")
    | note("B", "2026-11-26", "harvest: 720 g\nflush: 2")
)
NOBODY_TELLS = {
    name: text.replace("pulmonarius", "ostreatus")
    for name, text in finished("B1", "2026-01-01", ("2026-01-25", 1000), ("2026-02-05", 400), "2026-02-20").items()
}


def test_where_no_table_tells_a_be_the_batches_own_record_does(make_journal: Make) -> None:
    """2560 g of 2 kg dry are 128 % so far, 1840 g of flush 1 are 92 %; a finished one gave 70 and 50 %."""
    be = only(of(make_journal, GROWING)).be_pct
    so_far, first = be["all flushes"], be["first flush"]
    assert so_far is not None
    assert first is not None
    assert ((128.0, 128.0, 128.0), "few") == ((so_far.low, so_far.middle, so_far.high), so_far.basis)
    assert 92.0 == first.low
    assert "by 1 batch of yours, as far as it is harvested; a range takes 3 finished ones" == so_far.words
    two = only(of(make_journal, GROWING | NOBODY_TELLS)).be_pct["all flushes"]
    assert two is not None
    assert (70.0, 99.0, 128.0) == pytest.approx((two.low, two.middle, two.high))
    assert "by 2 batches of yours, 1 as far as it is harvested; a range takes 3 finished ones" == two.words
    one = only(of(make_journal, NOBODY_TELLS)).be_pct["all flushes"]
    assert one is not None
    assert "by 1 batch of yours; a range takes 3 finished ones" == one.words
