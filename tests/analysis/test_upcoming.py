"""How much is still to come of a batch, flush by flush and week by week."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.upcoming import Coming, weeks
from tests.analysis.test_planning import GROWING, NOBODY_TELLS, Make, batch, finished, note, of, of_line_cb, only


def test_where_no_table_tells_a_be_the_next_flush_is_at_most_what_the_last_was(make_journal: Make) -> None:
    """*Common practice*: each flush is smaller than the one before. 13 days after flush 2, as after flush 1."""
    found = of(make_journal, GROWING)
    assert "2026-12-09" == found.expected["B"].from_day.isoformat()
    assert [("B", 3, "2026-12-09", 0.0, 360.0, 720.0)] == [
        (one.batch, one.flush, one.first.isoformat(), one.low_g, one.middle_g, one.high_g) for one in found.coming
    ]


def test_a_batch_without_a_flush_is_planned_by_the_few_of_its_species(make_journal: Make) -> None:
    """The one batch gave 1000 g and 400 g of 2 kg dry; four flushes are usual (common practice), it gave two."""
    begun = batch("B", "2026-10-16", species="Pleurotus ostreatus")
    assert [(1, 1000, 1000, 1000, "each flush"), (2, 400, 400, 400, "each flush")] == told(
        of(make_journal, NOBODY_TELLS | begun)
    )
    assert () == of(make_journal, begun).coming


def test_nothing_is_coming_of_a_batch_whose_units_cannot_be_read(make_journal: Make) -> None:
    unread = {name: text.replace("units: 2", "units: two") for name, text in batch("B", "2026-11-01").items()}
    assert unread != batch("B", "2026-11-01")
    assert () == of(make_journal, unread).coming


def told(found: Analysis) -> list[tuple[int, int, int, int, str]]:
    """Flush, the least, expected and the most of it in g, and what tells it."""
    return [(one.flush, round(one.low_g), round(one.middle_g), round(one.high_g), one.mass_by) for one in found.coming]


TWO_EACH = {
    path: text.replace("units: 2", "units: 1")
    for number, (first, second) in enumerate(((310, 110), (320, 120), (330, 130)), 1)
    for path, text in finished(
        f"B{number}", f"2026-04-0{number}", (f"2026-05-0{number}", first), (f"2026-05-1{number}", second), "2026-06-01"
    ).items()
}
ONE_UNIT = {path: text.replace("units: 2", "units: 1") for path, text in batch("B", "2026-06-20").items()}


def test_a_flush_is_told_by_its_own_be_in_the_finished_batches(make_journal: Make) -> None:
    """1 kg dry each. Flush 1: 310, 320, 330 g (s 10), 320 ± 1.886 · 10 · √(4/3) = 298 to 342; flush 2, 120 ± 22. None
    had a third, though the table tells of three."""
    found = of(make_journal, TWO_EACH | ONE_UNIT)
    assert [(1, 298, 320, 342, "each flush"), (2, 98, 120, 142, "each flush")] == told(found)
    be = only(found).be_pct["all flushes"]
    assert be is not None
    assert 10 * be.middle == pytest.approx(sum(one.middle_g for one in found.coming))
    after = note("B", "2026-07-20", "harvest: 900 g\nflush: 1")
    assert [(2, 98, 120, 142, "each flush")] == told(of(make_journal, TWO_EACH | ONE_UNIT | after))


PINS = note("B", "2026-07-28", "stage: pinning")


@pytest.mark.parametrize(
    ("left", "picked"),
    [
        ([(2, 68, 90, 112)], [("2026-07-20", "harvest: 350 g")]),  # 320 g of them were expected as flush 1
        ([(2, 98, 120, 142)], [("2026-07-20", "harvest: 320 g")]),
        ([(1, 98, 120, 142), (2, 98, 120, 142)], [("2026-07-20", "harvest: 150 g"), ("2026-07-21", "harvest: 50 g")]),
        ([], [("2026-07-20", "harvest: 500 g")]),
        ([(2, 48, 70, 92)], [("2026-07-20", "harvest: 300 g\nflush: 1"), ("2026-07-25", "harvest: 50 g")]),
        # What was picked before the last of flush 1 was of that flush.
        ([(2, 98, 120, 142)], [("2026-07-19", "harvest: 50 g"), ("2026-07-20", "harvest: 300 g\nflush: 1")]),
    ],
)
def test_what_was_picked_without_a_flush_number_is_not_expected_again(
    left: list[tuple[int, ...]], picked: list[tuple[str, str]], make_journal: Make
) -> None:
    """Of flush 1 298 to 342 g were expected, of flush 2 98 to 142; there are new pins."""
    notes = {path: text for day, lines in picked for path, text in note("B", day, lines).items()}
    found = of(make_journal, TWO_EACH | ONE_UNIT | notes | PINS)
    assert [(*row, "each flush") for row in left] == told(found)
    assert [found.expected["B"].from_day] * bool(left) == [one.first for one in found.coming[:1]]


def test_what_was_picked_without_a_flush_number_is_taken_off_a_flush_that_goes_by_the_last(make_journal: Make) -> None:
    """At most 720 g, as flush 2; half of it is expected."""
    after = note("B", "2026-11-30", "harvest: 100 g")
    assert [(3, 0, 260, 620, "last flush")] == told(of(make_journal, GROWING | after))


def test_without_new_pins_the_days_of_what_is_left_are_counted_on_from_the_last_flush_with_a_number(
    make_journal: Make,
) -> None:
    """At least ten days lie between two flushes. Of the 130 g 120 were expected as flush 2; flush 3 gave 60 g."""
    third = {
        k: text for id in ("B1", "B2", "B3") for k, text in note(id, "2026-05-23", "harvest: 60 g\nflush: 3").items()
    }
    notes = note("B", "2026-07-20", "harvest: 300 g\nflush: 1") | note("B", "2026-07-25", "harvest: 130 g")
    found = of(make_journal, TWO_EACH | third | ONE_UNIT | notes)
    assert [(3, 50, 50, 50, "each flush")] == told(found)
    assert ["2026-07-30", "2026-08-09"] == [str(found.expected["B"].from_day), str(found.coming[0].first)]


@pytest.mark.parametrize(
    ("flush_2", "flush", "since"),
    [
        ("2026-07-25", 2, "2026-07-20"),  # five days after flush 1: it may be of that
        ("2026-07-26", 3, "2026-07-26"),
        ("2026-07-26, 2026-07-31", 3, "2026-07-31"),  # one flush, harvested on two days
        ("2026-07-24, 2026-07-29", 2, "2026-07-20"),  # as soon after one another, all may be of flush 1
        ("2026-07-26, 2026-08-01", 4, "2026-08-01"),
    ],
)
def test_a_harvest_without_a_number_that_is_a_flush_by_its_day_ends_the_wait_for_it(
    flush_2: str, flush: int, since: str, make_journal: Make
) -> None:
    """Ten days and more lie between flushes, and one is harvested within five (common practice: `flush_lasts_d`)."""
    fourth = {
        k: text
        for id in ("B1", "B2", "B3")
        for number, day in ((3, "2026-05-23"), (4, "2026-06-02"))
        for k, text in note(id, day, f"harvest: 60 g\nflush: {number}").items()
    }
    files = {k: text.replace("2026-06-01", "2026-06-20") for k, text in TWO_EACH.items()} | fourth | ONE_UNIT
    files |= note("B", "2026-07-20", "harvest: 300 g\nflush: 1")
    for day in flush_2.split(", "):
        files |= note("B", day, "harvest: 13 g")
    found = of(make_journal, files)
    awaited = found.expected["B"]
    assert (date.fromisoformat(since) + timedelta(days=10), "next flush") == (awaited.from_day, awaited.what)
    assert (flush, awaited.from_day) == (found.coming[0].flush, found.coming[0].first)
    assert ("taken as flush" in awaited.words) == (flush > 2)


def test_what_a_flush_by_its_day_gave_is_not_taken_off_the_next(make_journal: Make) -> None:
    """720 g as flush 2, then 500 g as flush 3: at most as much is expected as flush 4."""
    assert [(4, 0, 250, 500, "last flush")] == told(
        of(make_journal, GROWING | note("B", "2026-12-09", "harvest: 500 g"))
    )


def test_a_line_that_gave_fewer_flushes_than_the_species_has_no_more_to_come(make_journal: Make) -> None:
    """Three other batches of the species had two flushes, the only one of its line one."""
    line = of_line_cb("Q", "2026-01-01", "2026-01-16", ["2026-01-27"], "2026-03-01")
    assert [1] == [row[0] for row in told(of(make_journal, TWO_EACH | line | ONE_UNIT))]


def test_a_flush_of_which_no_be_is_known_goes_by_the_last(make_journal: Make) -> None:
    """The batches of a known BE had two flushes; one of its line, with no dry mass, had three."""
    days = ["2026-01-27", "2026-02-06", "2026-02-16"]
    line = {
        path: text.replace("dry mass: 1 kg\n", "")
        for path, text in of_line_cb("Q", "2026-01-01", "2026-01-16", days, "2026-03-01").items()
    }
    given = note("B", "2026-07-20", "harvest: 300 g\nflush: 1") | note("B", "2026-07-30", "harvest: 90 g\nflush: 2")
    assert [(3, 0, 45, 90, "last flush")] == told(of(make_journal, TWO_EACH | line | ONE_UNIT | given))


def test_a_batch_that_did_not_give_a_flush_counts_as_none_of_it_and_the_mean_is_what_is_expected(
    make_journal: Make,
) -> None:
    """Flush 2: 110, 120 and 0 g; mean 76.7, s 66.6, 76.7 ± 1.886 · 66.6 · √(4/3) = −68 to 222; none gave
    more than 120 g."""
    files = {path: text for path, text in TWO_EACH.items() if path != "B3-2026-05-13.md"}
    assert (2, 0, 77, 120, "each flush") == told(of(make_journal, files | ONE_UNIT))[1]


FOUR_UNITS = {"B.md": ONE_UNIT["B.md"].replace("units: 1", "units: 4"), "cB.md": ONE_UNIT["cB.md"]}


@pytest.mark.parametrize(
    ("lost_before", "lost", "middle_g"),
    [
        (0, 0, 320),  # flush 1 gave 310, 320 and 330 g of four units
        (0, 3, 80),  # none of theirs was lost: one of four lives
        (1, 1, 320),  # they had lost as many by then, which is in their BE
        (1, 0, 320),  # no more is told of what lost fewer: it may lose some yet
        (1, 2, 213),  # two live of the three that theirs had
    ],
)
def test_where_more_is_lost_than_was_by_then_a_flush_is_told_by_what_lives(
    lost_before: int, lost: int, middle_g: int, make_journal: Make
) -> None:
    files = {path: text.replace("units: 1", "units: 4") for path, text in TWO_EACH.items()} | FOUR_UNITS
    for id in ("B1", "B2", "B3"):
        files |= note(id, "2026-04-15", f"lost: {lost_before}") | note(id, "2026-05-20", "lost: 2")
    found = told(of(make_journal, files | note("B", "2026-06-21", f"lost: {lost}")))
    assert (1, middle_g, "each flush") == (found[0][0], found[0][2], found[0][4])


def test_losses_after_the_first_flush_count_from_the_next_one_on(make_journal: Make) -> None:
    """Flush 2 gave 110, 120 and 130 g of the two units left of four each; after flush 1 of B, two of four are left, or
    one."""
    files = {path: text.replace("units: 1", "units: 4") for path, text in TWO_EACH.items()} | FOUR_UNITS
    for id in ("B1", "B2", "B3"):
        files |= note(id, "2026-05-10", "lost: 2")
    files |= note("B", "2026-07-20", "harvest: 900 g\nflush: 1")
    expected = [told(of(make_journal, files | note("B", "2026-07-21", f"lost: {lost}")))[0][2] for lost in (0, 2, 3)]
    assert [120, 120, 60] == expected


@pytest.mark.parametrize("lines", ["harvest: 110 g", "harvest: 110 g\nflush: 3"])
def test_where_flushes_are_told_apart_in_too_few_what_all_give_is_divided_as_in_these(
    lines: str, make_journal: Make
) -> None:
    """B1's second harvest names no flush, or one with none before it. B2 gave 320 and 120 g, B3 330 and 130 g: on the
    mean 72.2 % and 27.8 % of the 440 g that all three gave on the mean."""
    files = TWO_EACH | note("B1", "2026-05-11", lines) | ONE_UNIT
    assert [(1, 318, "own shares"), (2, 122, "own shares")] == [
        (flush, middle_g, by) for flush, _, middle_g, _, by in told(of(make_journal, files))
    ]


def test_where_no_flush_is_told_apart_what_all_give_is_divided_evenly(make_journal: Make) -> None:
    files = {path: text.replace("\nflush: 2", "") for path, text in TWO_EACH.items()} | ONE_UNIT
    assert {"divided"} == {row[-1] for row in told(of(make_journal, files))}


@pytest.mark.parametrize(
    ("picked", "expected"),
    [
        # 0.526, 0.316 and 0.158 of 3.8 kg, 0.595, 0.270 and 0.135 of 3.7 kg: on the mean 0.560, 0.293 and 0.147
        ({}, [(1, 1121, 1681, 2242), (2, 586, 879, 1172), (3, 293, 440, 586)]),
        (note("B", "2026-07-20", "harvest: 2.2 kg\nflush: 1"), [(2, 586, 879, 1172), (3, 293, 440, 586)]),
        (  # 5 days later and with no number, so taken off the next
            note("B", "2026-07-20", "harvest: 2.1 kg\nflush: 1") | note("B", "2026-07-25", "harvest: 100 g"),
            [(2, 486, 779, 1072), (3, 293, 440, 586)],
        ),
        # What lives of it is half.
        (note("B", "2026-07-02", "lost: 2"), [(1, 560, 841, 1121), (2, 293, 440, 586), (3, 147, 220, 293)]),
    ],
)
def test_a_be_that_a_table_tells_is_divided_as_in_own_batches(
    picked: dict[str, str], expected: list[tuple[int, ...]], make_journal: Make
) -> None:
    """Two finished ones of 4 kg dry; 50 to 100 % (common practice) of 4 kg are 2 to 4 kg."""
    files: dict[str, str] = {}
    for id, day, masses in (("B1", "2026-01-01", (2000, 1200, 600)), ("B2", "2026-02-01", (2200, 1000, 500))):
        files |= finished(id, day, (day[:-2] + "25", masses[0]), ("2026-03-05", masses[1]), "2026-04-20")
        files |= note(id, "2026-03-19", f"harvest: {masses[2]} g\nflush: 3")
    files |= batch("B", "2026-06-20") | picked
    files = {path: text.replace("units: 2", "units: 4") for path, text in files.items()}
    assert [(*row, "own shares") for row in expected] == told(of(make_journal, files))


def between(one: Coming) -> tuple[int, str, str]:
    return one.flush, one.first.isoformat(), one.last.isoformat()


@pytest.mark.parametrize(
    ("species", "flush", "second"),
    [("Pleurotus pulmonarius", "2026-08-02", "2026-08-07"), ("Xylobolus frustulatus", "2026-08-04", "2026-08-09")],
)
def test_where_all_took_the_same_number_of_days_that_is_the_first_and_not_the_only_one(
    species: str, flush: str, second: str, make_journal: Make
) -> None:
    """Three took 30 days to the first harvest, which no table gives a range of, and 10 to the second: published for the
    one species are three days more between the first and the last, for the other nothing."""
    files = {path: text.replace("Pleurotus pulmonarius", species) for path, text in (TWO_EACH | ONE_UNIT).items()}
    looked = of(make_journal, files | note("CB", "2026-07-21", "done: looked"))
    assert [(1, "2026-07-20", "2026-07-25"), (2, "2026-07-30", second)] == [between(one) for one in looked.coming]
    assert () == looked.ahead.overdue
    late = of(make_journal, files | note("CB", "2026-07-26", "done: looked"))
    assert [(1, "2026-07-20", "2026-07-25")] == [between(one) for one in late.ahead.overdue]
    picked = of(make_journal, files | note("B", "2026-07-20", "harvest: 300 g\nflush: 1"))
    assert [(2, "2026-07-30", flush)] == [between(one) for one in picked.coming]


def test_nothing_is_told_of_a_batch_with_no_dry_mass(make_journal: Make) -> None:
    assert () == of(make_journal, batch("B", "2026-11-01", dry="")).coming


def test_a_week_holds_what_surely_comes_what_may_and_what_is_expected() -> None:
    """One flush lies wholly in the first week, one on its last two days and the next week's first two."""
    whole = Coming("A", 1, date(2026, 11, 24), date(2026, 11, 26), 100, 200, 300, "each flush")
    between = Coming("B", 1, date(2026, 11, 28), date(2026, 12, 1), 100, 400, 600, "each flush")
    later = Coming("B", 2, date(2026, 12, 15), date(2026, 12, 15), 10, 20, 30, "each flush")
    found = weeks((whole, between, later))
    assert [
        ("2026-11-23", 100, 400, 900), ("2026-11-30", 0, 200, 600), ("2026-12-07", 0, 0, 0),
        ("2026-12-14", 10, 20, 30),
    ] == [(one.monday.isoformat(), one.low_g, one.expected_g, one.high_g) for one in found]  # fmt: skip
    assert () == weeks(())
