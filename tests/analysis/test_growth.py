"""How fast colonies grow, worked by hand, and what may be said of it."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.growth import Growth
from journal.model import Colony, Note
from tests.builders import culture, journal_of, note

Sizes = dict[int | None, float]


def measured(about: str, on: int, sizes: Sizes) -> Note:
    """Colonies as wide as high, in mm, by plate."""
    return note(about, on, colony=tuple(Colony(part, (mm, mm)) for part, mm in sizes.items()))


def growth(*notes: Note) -> Growth:
    return Analysis(journal_of(culture("C", on=1, medium="MEA"), *notes)).growth["C"]


def test_a_radius_grows_by_half_of_what_the_diameter_does() -> None:
    """From 10 to 34 mm across in 2 days: 12 mm of radius, 6 mm a day."""
    one = growth(measured("C.1", 3, {None: 10}), measured("C.1", 5, {None: 34}))
    assert (6, None, (1,)) == (one.rate_mm_d, one.interval, tuple(plate.part for plate in one.plates))
    assert "two days: too few" in (one.why_no_interval or "")


@pytest.mark.parametrize(
    ("sizes", "over", "says"),
    [
        ([{1: 10}, {1: 34}, {1: 56}], "measurements", None),
        ([{1: 10, 2: 10}, {1: 34, 2: 36}], None, "two plates: too few"),
        ([{1: 10, 2: 10, 3: 12}, {1: 34, 2: 36, 3: 35}], "plates", None),
        ([{1: 10, 2: 10}], None, None),
    ],
)
def test_an_interval_needs_three_plates_or_three_days_of_one(
    sizes: list[Sizes], over: str | None, says: str | None
) -> None:
    one = growth(*(measured("C", 3 + 2 * at, row) for at, row in enumerate(sizes)))
    assert over == one.over
    assert (says is None) == (one.why_no_interval is None)
    assert (says or "") in (one.why_no_interval or "")


def test_the_rate_of_a_culture_is_the_mean_of_its_plates_and_the_interval_is_over_them() -> None:
    """Rates 6, 6.5 and 5.75: mean 6.083, standard deviation 0.3819, t = 4.303 of 2 degrees: ± 0.949."""
    one = growth(measured("C", 3, {1: 10, 2: 10, 3: 12}), measured("C", 5, {1: 34, 2: 36, 3: 35}))
    assert (6, 6.5, 5.75) == one.rates
    assert (6.083 - 0.949, 6.083 + 0.949) == pytest.approx(one.interval, abs=0.001)


def test_a_colony_at_the_edge_of_its_dish_does_not_count() -> None:
    one = growth(*(measured("C", on, {1: mm}) for on, mm in ((3, 10), (5, 34), (9, 84))))
    assert (6, 1) == (one.rate_mm_d, one.plates[0].too_wide)


@pytest.mark.parametrize(
    ("keys", "last_mm", "says"),
    [
        ({}, 10.5, "the colony was 23 mm across on 2026-10-05, and now plate 3 has 10.5 mm"),
        ({}, 21.0, None),  # 2 mm less is still a faint edge
        ({"vessels": 2}, 35.0, "this is a colony on plate 3, but C has 2 vessels"),
    ],
)
def test_a_plate_with_a_doubtful_measure_is_left_out_of_the_mean(
    keys: dict[str, int], last_mm: float, says: str | None
) -> None:
    notes = [measured("C", on, {1: one, 2: two, 3: mm}) for on, one, two, mm in ((3, 10, 10, 11), (5, 34, 36, 23))]
    last = measured("C", 7, {3: last_mm})
    one = Analysis(journal_of(culture("C", on=1, medium="MEA", **keys), *notes, last)).growth["C"]
    assert [None, None, says] == [plate.left_out for plate in one.plates]
    assert (2 if says else 3) == len(one.rates)
    assert says is None or (6.25, None) == (one.rate_mm_d, one.interval)


def test_a_culture_on_no_agar_has_no_rate() -> None:
    rows = culture("C", on=1, form="grain"), measured("C", 3, {1: 10}), measured("C", 5, {1: 34})
    one = Analysis(journal_of(*rows)).growth["C"]
    assert (None, None) == (one.rate_mm_d, one.why_no_interval)
    assert "of the form grain" in (one.plates[0].left_out or "")


def line_of(early: Sequence[float], late: Sequence[float], medium: str = "MEA") -> str | None:
    """What is said of a line whose plates grew from 10 mm to these sizes in two days, at T0 and at T1."""
    rows = [
        culture("A", "", 1, method="received", transfers_before=0, medium="MEA"),
        culture("B", "A", 1, medium=medium),
    ]
    notes = [
        measured(id, on, {at: 10.0 if on == 3 else mm for at, mm in enumerate(sizes, 1)})
        for id, sizes in (("A", early), ("B", late))
        for on in (3, 5)
    ]
    found = Analysis(journal_of(*rows, *notes)).vigours
    return found[0].verdict if found else None


@pytest.mark.parametrize(
    ("early", "late", "verdict"),
    [
        ((34, 36), (34, 36), "too few"),
        ((34, 35, 36), (30, 31, 32), "too few"),  # 20 ways, of which two set them so far apart: p is never under 0.1
        ((34, 35, 36, 37), (30, 31, 32, 33), "slower"),
        ((30, 31, 32, 33), (34, 35, 36, 37), "faster"),
        ((30, 33, 34, 37), (31, 32, 35, 36), "no difference"),
    ],
)
def test_vigour_is_told_only_where_the_plates_can_tell(
    early: Sequence[float], late: Sequence[float], verdict: str
) -> None:
    assert verdict == line_of(early, late)


def test_cultures_on_other_media_are_not_compared() -> None:
    assert line_of((34, 35, 36, 37), (30, 31, 32, 33), "PDA") is None
