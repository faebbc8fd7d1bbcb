"""What each kind of entry becomes, and what only its whole shows."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.model import Journal
from tests.reading.written import TOML, files, front, weights

Make = Callable[..., Journal]
BEARERS = {
    "f": front("find", id="F1"),
    "b": front("batch", id="B1"),
    "c": front("culture", id="C1", received_from="x", vessels="2"),
    "d": front("device", id="d1", tent="hut"),
}
"""One of each kind that bears an ID."""


@pytest.mark.parametrize(
    ("method", "keys"),
    [
        ("tissue", {"from_": "F1"}),
        ("tissue", {"from_": "B1"}),
        ("transfer", {"from_": "C1"}),
        ("received", {"received_from": "a friend"}),
        ("spores", {"from_": "F1", "method": "spores"}),
        ("tissue", {"from_": "F1, C1"}),
        (None, {"from_": "nothing"}),
    ],
)
def test_the_method_follows_from_what_it_was_taken_from(
    make_journal: Make, method: str | None, keys: dict[str, str]
) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1"),
            b=front("batch", id="B1"),
            c=front("culture", id="C1", received_from="unknown"),
            x=front("culture", id="X", **keys),
        )
    )
    assert method == next(row.method for row in journal.cultures if row.id == "X")


@pytest.mark.parametrize(
    ("severity", "keys"),
    [
        ("error", {}),
        ("warning", {"from_": "C1", "received_from": "a friend"}),
        ("warning", {"received_from": "a friend", "method": "transfer"}),
        ("error", {"from_": "nothing"}),
    ],
)
def test_a_culture_says_once_where_it_came_from(make_journal: Make, severity: str, keys: dict[str, str]) -> None:
    journal = make_journal(
        files(c=front("culture", id="C1", received_from="unknown"), x=front("culture", id="X", **keys))
    )
    assert [("x/x.md", severity)] == weights(journal)


def test_an_origin_that_cannot_be_followed_is_remembered(make_journal: Make) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1"),
            c=front("culture", id="C1", from_="F1, F2, F1.2"),
            d=front("culture", id="C2", from_="!!"),
            b=front("batch", id="B1", culture="C1, C9"),
        )
    )
    assert {"C1": 2, "C2": 1} == {row.id: row.unknown_sources for row in journal.cultures}
    assert 1 == journal.batches[0].unknown_sources


@pytest.mark.parametrize(
    ("wet_g", "dry_g", "keys"),
    [
        (2300.0, 874.0, {"wet_mass": "2.3 kg", "moisture": "62 %"}),
        (2300.0, 874.0, {"wet_mass": "13.8 kg in all", "moisture": "62 %", "units": "6"}),
        (None, 500.0, {"dry_mass": "3 kg in all", "units": "6"}),
        (None, None, {"dry_mass": "3 kg in all", "units": "some"}),
        (2300.0, None, {"wet_mass": "2.3 kg"}),
    ],
)
def test_masses_are_per_unit(
    make_journal: Make, wet_g: float | None, dry_g: float | None, keys: dict[str, str]
) -> None:
    (batch,) = make_journal(files(b=front("batch", id="B1", **keys))).batches
    assert (wet_g, dry_g) == (pytest.approx(batch.wet_g), pytest.approx(batch.dry_g))


def test_the_authors_own_dry_shares_are_used(make_journal: Make) -> None:
    toml = TOML + '[ingredients]\n"oak pellets" = "50 %"\n'
    journal = make_journal({"journal.toml": toml, "b.md": front("batch", id="B1", mix="oak pellets 2 kg", units="2")})
    assert (500.0, "mix") == (journal.batches[0].dry_g, journal.batches[0].dry_from)


@pytest.mark.parametrize(
    ("line", "keys"),
    [
        (6, {"wet_mass": "2.3 kg", "dry_mass": "900 g", "moisture": "70 %"}),
        (5, {"mix": "seaweed 2 kg"}),
    ],
)
def test_what_is_odd_about_a_dry_mass_is_at_its_line(make_journal: Make, line: int, keys: dict[str, str]) -> None:
    order = {name: keys[name] for name in ("mix", "wet_mass", "moisture", "dry_mass") if name in keys}
    (problem,) = make_journal(files(b=front("batch", id="B1", **order))).problems
    assert ("warning", line) == (problem.severity, problem.line)


@pytest.mark.parametrize(
    ("written", "about", "stage"),
    [
        ("primordia", "B1", "pinning"),
        ("pins", "B1, hut", "pinning"),
        ("colonizing", "C1, B1", "colonising"),
        ("pins", "F1", "young"),
        ("broken", "d1", "faulty"),
        ("pins", "", "pinning"),
    ],
)
def test_an_everyday_word_for_a_stage_is_read_by_what_the_note_is_about(
    make_journal: Make, written: str, about: str, stage: str
) -> None:
    journal = make_journal(files(**BEARERS, n=front("note", about=about, stage=written)))
    assert ((), stage) == (journal.problems, journal.notes[0].stage)


@pytest.mark.parametrize(
    ("written", "about", "fix"),
    [
        ("frooting", "B1", "write fruiting, if you mean that; the words are inoculated · colonising · colonised · "),
        ("senescent", "C1", "write doubtful or dead, if you mean that; the words are "),
        (
            "nothing here",
            "F1",
            "write nothing there, if you mean that; the words are nothing there · young · prime · past",
        ),
        ("xyz", "d1", "write one of faulty · dead · put away"),
        ("pinning", "F1", "write one of nothing there · young · prime · past"),
        ("xyz", "", "name under `about` what it is a stage of"),
    ],
)
def test_a_stage_that_is_none_names_those_of_what_the_note_is_about(
    make_journal: Make, written: str, about: str, fix: str
) -> None:
    journal = make_journal(files(**BEARERS, n=front("note", about=about, stage=written)))
    (problem,) = journal.problems
    assert ("error", None) == (problem.severity, journal.notes[0].stage)
    assert problem.fix.startswith(fix)
    assert ("young" in problem.fix) is (about == "F1")


@pytest.mark.parametrize(
    ("fits", "stage", "about"),
    [
        (True, "pinning", "B1"),
        (True, "pinning", "B1, hut"),
        (True, "colonised", "B1, C1"),
        (False, "clean", "B1"),
        (False, "clean", "B1, C1"),
        (True, "clean", "C1"),
        (True, "doubtful", "C1.1"),
        (False, "pinning", "F1"),
        (True, "nothing there", "F1"),
        (True, "put away", "d1"),
        (False, "spent", "d1"),
        (False, "spent", "hut"),
        (True, "dead", "C1, d1"),
        (False, "pins", "F1, B1"),
    ],
)
def test_a_stage_belongs_to_what_the_note_is_about(make_journal: Make, fits: bool, stage: str, about: str) -> None:
    journal = make_journal(
        files(
            **BEARERS,
            n=front("note", about=about, stage=stage),
        )
    )
    assert (stage if fits else None, [] if fits else [("n/n.md", "error")]) == (
        journal.notes[0].stage,
        weights(journal),
    )


@pytest.mark.parametrize(
    ("harvest_g", "severity", "keys"),
    [
        (300.0, None, {"about": "B1", "flush": "1"}),
        (300.0, None, {"about": "B2.1, B2.2", "flush": "1"}),
        (300.0, "warning", {"about": "B1"}),
        (None, "error", {"about": "B1, B2", "flush": "1"}),
        (None, "error", {"about": "B1, B2.1", "flush": "1"}),
        (300.0, None, {"about": "F1"}),
    ],
)
def test_a_harvest_is_of_one_batch_and_one_flush(
    make_journal: Make, harvest_g: float | None, severity: str | None, keys: dict[str, str]
) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1"),
            a=front("batch", id="B1"),
            b=front("batch", id="B2", units="3"),
            n=front("note", harvest="300 g", **keys),
        )
    )
    assert (harvest_g, [("n/n.md", severity)] if severity else []) == (journal.notes[0].harvest_g, weights(journal))


@pytest.mark.parametrize(("warning", "about"), [(False, "F1"), (False, "F1, B1"), (True, "B1")])
def test_a_name_in_a_note_is_a_finds(make_journal: Make, warning: bool, about: str) -> None:
    journal = make_journal(
        files(f=front("find", id="F1"), b=front("batch", id="B1"), n=front("note", about=about, species="Pholiota"))
    )
    assert ([("n/n.md", "warning")] if warning else []) == weights(journal)


def test_confirmed_by_nobody_is_likely(make_journal: Make) -> None:
    journal = make_journal(
        files(f=front("find", id="F1", certainty="confirmed"), n=front("note", about="F1", certainty="confirmed"))
    )
    assert ("likely", "likely") == (journal.finds[0].certainty, journal.notes[0].certainty)
    assert [("f/f.md", "warning"), ("n/n.md", "warning")] == weights(journal)


def test_a_find_is_unsure_where_nothing_is_said(make_journal: Make) -> None:
    assert "unsure" == make_journal(files(f=front("find", id="F1"))).finds[0].certainty
