"""Lines compared: which batches count, and no verdict that they do not support."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.comparison import MOST_IN_PAIRS, Comparison, Difference
from journal.analysis.comparison_words import difference_words, lost_words, median_words, rarity_words, short_words
from journal.model import Journal
from tests.builders import batch_files, entry, noted, some

Make = Callable[..., Journal]
Grow = Callable[..., Comparison]


def batch(id: str, culture: str, grams: float | None, *, finished: bool = True, lost: int = 0) -> Mapping[str, str]:
    """A batch of four units, 250 g dry each: 10 g picked are 1 % BE."""
    stage = "stage: spent\n" if finished else ""
    picked = f"harvest: {grams} g\nflush: 1\n" if grams is not None else ""
    losses = f"lost: {lost}\n" if lost else ""
    end = ("2026-03-01", stage + picked + losses)
    return batch_files(id, culture, "2026-01-01", end, keys="units: 4\ndry mass: 250 g")


@pytest.fixture
def grown(make_journal: Make) -> Grow:
    """Called with lines' BEs in % it gives the comparison of those lines, all of one species but where told."""

    def grow(lines: Mapping[str, list[float]], species: Mapping[str, str] | None = None, **more: str) -> Comparison:
        files = dict(more)
        for line, values in lines.items():
            kind = (species or {}).get(line, "Pleurotus pulmonarius")
            files[f"{line}.md"] = entry("culture", f"id: {line}\ndate: 2025-11-01\nreceived from: x\nspecies: {kind}")
            for at, value in enumerate(values):
                files |= batch(f"{line}-{at}b", line, value * 10)
        return Analysis(make_journal(files)).comparison

    return grow


def be(found: Comparison) -> Difference:
    (row,) = (row for row in found.differences if row.measure == "be")
    return row


@pytest.mark.parametrize(
    ("outcome", "first", "second"),
    [
        ("too few", [40, 50], [60, 70, 80, 90]),
        ("too few", [40, 50, 60], []),
        ("out of reach", [10, 11, 12], [90, 91, 92]),
        ("no difference", [40, 50, 60, 45], [42, 52, 61, 44]),
        ("first more", [90, 91, 92, 93], [10, 11, 12, 13]),
        ("second more", [10, 11, 12, 13], [90, 91, 92, 93]),
        ("out of reach", [50, 50, 50, 50], [50, 50, 50, 50]),
        ("too many", [float(v) for v in range(17)], [float(v) for v in range(17)]),
    ],
)
def test_a_verdict_claims_no_more_than_the_batches_bear(
    outcome: str, first: list[float], second: list[float], grown: Grow
) -> None:
    found = grown({"A": first, "B": second or [1.0]})
    assert outcome == be(found).outcome


OWN_NAME = '[names]\n"shelf oyster" = "Pleurotus pulmonarius"\n'


def test_a_line_under_an_own_name_is_compared_with_those_of_the_species_that_it_means(grown: Grow) -> None:
    found = grown({"A": [40, 41, 42], "B": [40, 41, 42]}, {"B": "shelf oyster"}, **{"journal.toml": OWN_NAME})
    assert ("A", "B", "out of reach") == (be(found).first, be(found).second, be(found).outcome)


def test_only_finished_batches_are_dots(grown: Grow) -> None:
    found = grown({"A": [40]}, **batch("G", "A", 100, finished=False))
    (line,) = found.lines
    assert (["A-0b"], ("G",)) == ([dot.batch for dot in line.dots], line.growing)


def test_a_batch_of_which_all_was_lost_is_a_dot_with_no_other_note(grown: Grow) -> None:
    found = grown(
        {"A": [40]}, **batch("N", "A", None, finished=False, lost=4), **batch("M", "A", 100, finished=False, lost=3)
    )
    (line,) = found.lines
    assert (["A-0b", "N"], ("M",)) == ([dot.batch for dot in line.dots], line.growing)
    assert (0.0, pytest.approx(40.0)) == line.be.values


def test_a_batch_whose_units_cannot_be_read_is_in_no_share_of_units(grown: Grow) -> None:
    unread = {name: text.replace("units: 4", "units: four") for name, text in batch("N", "A", 100, lost=2).items()}
    (line,) = grown({"A": [40]}, **unread).lines
    assert {"A-0b": 40.0, "N": None} == {dot.batch: dot.own_value("be") for dot in line.dots}
    assert {"A-0b": 0.0, "N": None} == {dot.batch: dot.own_value("lost") for dot in line.dots}
    assert line.lost is not None
    assert (0, 4, 1) == (line.lost.part, line.lost.whole, line.lost_batches)


def test_a_finished_batch_that_gave_nothing_counts_as_nothing_given(grown: Grow) -> None:
    found = grown({"A": [40]}, **batch("N", "A", None, lost=4))
    (line,) = found.lines
    assert (0.0, pytest.approx(40.0)) == line.be.values
    assert (0.0, pytest.approx(40.0)) == line.first_flush.values
    assert line.lost is not None
    assert (4, 8, 2) == (line.lost.part, line.lost.whole, line.lost_batches)


def test_a_batch_of_two_lines_is_a_dot_in_each_and_counts_for_neither(grown: Grow) -> None:
    found = grown({"A": [40], "B": [50]}, **batch("M", "A, B", 300))
    for line in some(found.lines, 2):
        (mixed,) = (dot for dot in line.dots if dot.batch == "M")
        assert mixed.left_out == "it is made of several lines: A, B"
        assert 1 == len(line.be.values)


def test_a_batch_in_doubt_counts_for_no_line(grown: Grow) -> None:
    doubt = noted("2025-12-01", "stage: doubtful", "A")
    (line,) = grown({"A": [40, 50]}, **{"doubt.md": doubt}).lines
    assert ((), None) == (line.be.values, line.be.median)
    assert all("in doubt since A" in (dot.left_out or "") for dot in some(line.dots, 2))


def test_lines_of_two_species_are_not_compared_with_each_other(grown: Grow) -> None:
    found = grown({"A": [40, 50, 60], "B": [40, 50, 60]}, {"B": "Grifola frondosa"})
    assert ((), 2) == (found.differences, len(found.lines))


@pytest.mark.parametrize(
    ("together", "first", "second"),
    [
        (True, "Pleurotus pulmonarius", "*Pleurotus pulmonarius*"),
        (True, "Pleurotus pulmonarius", "phoenix oyster"),
        (True, "Pleurotus pulmonarius (Fr.) Quél.", "phoenix oyster (Pleurotus pulmonarius)"),
        (True, "oyster from the slip", "Oyster  from the slip"),  # names no species: its text is all there is
        (False, "Pleurotus pulmonarius", "Pleurotus ostreatus"),
        (False, "Pleurotus pulmonarius", "Pleurotus sp."),
        (False, "Pleurotus pulmonarius", "Pleurotus pulmonarius?"),
    ],
)
def test_lines_of_one_species_are_known_by_any_of_its_names(
    together: bool, first: str, second: str, grown: Grow
) -> None:
    found = grown({"A": [40, 50, 60], "B": [40, 50, 60]}, {"A": first, "B": second})
    assert together == bool(found.differences)


def test_a_line_whose_species_nobody_wrote_is_compared_with_none(grown: Grow) -> None:
    found = grown({"A": [40, 50, 60], "B": [40, 50, 60]}, {"A": "", "B": ""})
    assert ((), 2) == (found.differences, len(found.lines))


def test_a_line_with_no_finished_batch_is_listed_and_compared_with_none(grown: Grow) -> None:
    found = grown({"A": [40, 50, 60], "B": []}, **batch("G", "B", 100, finished=False))
    assert ((), ["A", "B"]) == (found.differences, [line.line for line in found.lines])


def test_of_many_lines_only_those_with_enough_batches_are_paired(grown: Grow) -> None:
    lines = {f"L{at:02}": [40.0] for at in range(MOST_IN_PAIRS - 1)} | {"X": [40.0, 50, 60]}
    assert MOST_IN_PAIRS * (MOST_IN_PAIRS - 1) / 2 * 3 == len(grown(lines).differences)
    lines |= {"Y": [50.0, 60, 70]}
    assert {("X", "Y")} == {(row.first, row.second) for row in grown(lines).differences}


def test_three_pairs_looked_at_together_need_more_than_one_alone(grown: Grow) -> None:
    low, high = [10.0, 11.0, 12.0, 13.0], [90.0, 91.0, 92.0, 93.0]
    assert "second more" == be(grown({"A": low, "B": high})).outcome
    three = [row for row in grown({"A": low, "B": high, "C": [11.0, 12.0, 14.0, 15.0]}).differences
             if row.measure == "be"]  # fmt: skip
    pair = next(row for row in three if (row.first, row.second) == ("A", "B"))
    assert pair.test is not None
    assert (2 / 70, 3) == (pytest.approx(pair.test.p), pair.tests)
    assert pair.p == pytest.approx(3 * 2 / 70)
    assert "no difference" == pair.outcome


def test_words_name_the_counts_and_the_custom(grown: Grow) -> None:
    found = grown({"A": [90, 91, 92, 93], "B": [10, 11, 12, 13]})
    said = difference_words(be(found))
    assert "Mean BE 91.5 % in 4 batches of A, 11.5 % in 4 of B" in said
    assert "2 of the 70 ways" in said
    assert "p = 0.029" in said
    assert "A gave more than B, in these batches." in said
    said = rarity_words(3, 7)
    assert "Seldom means p up to 0.05" in said
    assert "not allowed for are 3 measures compared for each pair" in said
    assert "with 7 finished batches there were up to 7 occasions to look" in said


@pytest.mark.parametrize(
    ("expected", "first", "second"),
    [
        ("Mean 91.5 % in 4 batches of A, 11.5 % in 4 of B: chance alone seldom does that. "
         "A gave more than B, in these batches.", [90, 91, 92, 93], [10, 11, 12, 13]),
        ("Mean 11.5 % in 4 batches of A, 91.5 % in 4 of B: chance alone seldom does that. "
         "B gave more than A, in these batches.", [10, 11, 12, 13], [90, 91, 92, 93]),
        ("Mean 48.8 % in 4 batches of A, 49.8 % in 4 of B: chance alone does that often enough; "
         "no difference is shown, but they may still differ.", [40, 50, 60, 45], [42, 52, 61, 44]),
        ("Mean 11 % in 3 batches of A, 91 % in 3 of B: too few batches, or too alike, "
         "for any gap between them to show that two lines differ.", [10, 11, 12], [90, 91, 92]),
        ("Mean 8 % in 17 batches of A, 8 % in 17 of B: no verdict, for there are more ways of dealing these batches "
         "out than are gone through here.", [float(v) for v in range(17)], [float(v) for v in range(17)]),
        ("Too few to say: A has 2 finished batches to go by, B 1; each needs 3.", [40, 50], [60]),
    ],
)  # fmt: skip
def test_short_words_say_the_verdict_with_its_counts(
    expected: str, first: list[float], second: list[float], grown: Grow
) -> None:
    assert expected == short_words(be(grown({"A": first, "B": second})))


def test_words_say_too_few_where_there_are(grown: Grow) -> None:
    found = grown({"A": [40, 50], "B": [60]})
    assert "Too few to say: A has 2 finished batches to go by, B 1; each needs 3." == difference_words(be(found))
    assert "median 45 % of 2 batches; too few to give an interval: 6 batches are needed, there are 2" == (
        median_words(found.lines[0].be)
    )
    assert "0 of 8 units lost in 2 batches; too few batches to say" == lost_words(found.lines[0])


def test_words_give_the_intervals_where_there_are_enough(grown: Grow) -> None:
    (line,) = grown({"A": [float(v) for v in range(10, 16)]}).lines
    assert "median 12.5 % of 6 batches; 10 to 15 % with 96.9 % confidence" == median_words(line.be)
    # Wilson 0 of 24, by scipy 1.17: 0 to 13.8 %.
    assert "0 of 24 units lost in 6 batches, 0 %; 0 to 13.8 % if units were lost one by one" == lost_words(line)


@pytest.mark.parametrize(("withheld", "why"), [(0, "not in the journal"), (1, "not shared")])
def test_a_batch_of_which_a_culture_is_lacking_counts_for_no_line(withheld: int, why: str, make_journal: Make) -> None:
    culture = entry("culture", "id: A\ndate: 2025-11-01\nreceived from: x\nspecies: phoenix oyster")
    journal = make_journal({"A.md": culture, **batch("B", "A, GONE", 500)})
    (row,) = journal.batches
    assert 1 == row.unknown_sources
    lacking = replace(journal, batches=(replace(row, unshared_sources=withheld),))
    (line,) = Analysis(lacking).comparison.lines
    assert [f"one of its cultures is {why}"] == [dot.left_out for dot in line.dots]


def test_a_batch_of_which_a_share_keeps_back_a_part_counts_for_no_line(make_journal: Make) -> None:
    files = {"A.md": entry("culture", "id: A\ndate: 2025-11-01\nreceived from: x"), **batch("B", "A", 400, lost=1)}
    whole = make_journal(files)
    (line,) = Analysis(replace(whole, batches=(replace(whole.batches[0], totals_are_partial=True),))).comparison.lines
    assert ["part of what was harvested or lost of it is not shared"] == [dot.left_out for dot in line.dots]
    assert ((), None) == (line.be.values, line.lost)
