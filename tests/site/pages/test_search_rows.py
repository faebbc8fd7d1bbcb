"""What the search finds things by."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from journal.model import Journal
from journal.site.pages import search_rows
from journal.site.pages.lookup import Lookup
from journal.site.search import index_words, words_of
from tests.builders import some
from tests.reading.written import files, front

Make = Callable[..., Journal]

ENTRIES = {
    "f1": front("find", id="F1", species="Hericium erinaceus"),
    "f2": front("find", id="F2", species="Pleurotus ostreatus", certainty="likely"),
    "f3": front("find", id="F3", species="shelf oyster"),
    "f4": front("find", id="F4", species="phoenix oyster"),
    "f5": front("find", id="F5", species="a brown one"),
    "c1": front("culture", id="C1", from_="F1", form="plate"),
    "c2": front("culture", id="C2", from_="C1", form="LC", method="transfer"),
    "b1": front("batch", id="B1", culture="C2", units="6"),
    "n1": front("note", about="B1", stage="contaminated", title="Thrown out", date="2026-10-01"),
    "n2": front("note", about="C1", lost="1", cause="green mould", date="2026-09-20"),
    "n3": front("note", about="B1", harvest="300 g", flush="1", date="2026-09-30"),
}
TOML = '\n[names]\n"shelf oyster" = "Pleurotus ostreatus"\n"old friend" = "Hericium erinaceus"\n"none" = "Tuber"\n'


def lookup_of(make_journal: Make, share: str | None = None) -> Lookup:
    written = files(**ENTRIES)
    return Lookup(make_journal(written | {"journal.toml": written["journal.toml"] + TOML}), {}, share)


@pytest.fixture(scope="module")
def lookup(make_journal: Make) -> Any:
    return lookup_of(make_journal)


def test_a_note_with_a_harvest_is_listed_with_its_mass(lookup: Lookup) -> None:
    titles = {row.title for row in search_rows.rows(lookup)}
    assert "Note on B1: harvest, 300 g harvested, flush 1" in titles
    assert "Thrown out" in titles


def found(lookup: Lookup, typed: str) -> set[str]:
    """The IDs, or titles where there is none, of rows that have every word, by the names of what they tell too."""
    names = {tuple(words_of(of)): words_of(" ".join(them)) for of, them in search_rows.common_names(lookup).items()}
    hits = set()
    for row in search_rows.rows(lookup):
        words = {*words_of(row.title), row.kind, *index_words(row).split()}
        words |= {word for of, others in names.items() if words.issuperset(of) for word in others}
        if words.issuperset(words_of(typed)) and not (row.path.count("#") and row.id and "note" == row.kind):
            hits.add(row.id or row.title)
        elif words.issuperset(words_of(typed)):
            hits.add(row.title)
    return hits


@pytest.mark.parametrize(
    ("typed", "at_least", "none_of"),
    [
        ("oyster", {"F2", "F3", "F4"}, {"F1", "F5"}),
        ("lion's mane", {"F1", "C1", "C2", "B1"}, {"F2"}),
        ("Hericium", {"F1", "C1", "C2", "B1"}, {"F2"}),
        ("pearl oyster", {"F2", "F3"}, {"F4"}),
        ("Pleurotus pulmonarius", {"F4"}, {"F2", "F3"}),
        ("pleurotus", {"F2", "F3", "F4"}, {"F1"}),
        ("old friend", {"F1", "C1"}, {"F2"}),
        ("shelf oyster", {"F2", "F3"}, {"F4"}),
        ("clone", {"C1"}, {"C2", "B1"}),
        ("plate", {"C1"}, {"C2"}),
        ("agar", {"C1"}, {"C2"}),
        ("liquid culture", {"C2"}, {"C1"}),
        ("transfer", {"C2"}, {"C1"}),
        ("contaminated", {"B1", "Thrown out", "Note on C1: loss"}, {"C1", "C2"}),
        ("picked", {"Note on B1: harvest, 300 g harvested, flush 1"}, {"B1"}),
        ("find", {"F1", "F5"}, {"B1"}),
        ("new entry", {"Record", "Format"}, {"F1"}),
        ("truffle", set(), set(ENTRIES)),
    ],
)
def test_what_is_typed_finds_by_name_and_by_word_of_the_trade(
    lookup: Lookup, typed: str, at_least: set[str], none_of: set[str]
) -> None:
    hits = found(lookup, typed)
    assert at_least <= hits
    assert not none_of & hits


def test_only_names_of_species_in_the_journal_are_in_the_index(lookup: Lookup) -> None:
    assert {"Hericium", "Hericium erinaceus", "Pleurotus", "Pleurotus ostreatus", "Pleurotus pulmonarius"} == set(
        search_rows.common_names(lookup)
    )


def test_a_share_has_the_names_that_its_redaction_let_through_and_no_page_for_new_entries(make_journal: Make) -> None:
    shared = lookup_of(make_journal, share="mentor")
    assert {"Hericium erinaceus": ("old friend",), "Pleurotus ostreatus": ("shelf oyster",)} == (
        search_rows.common_names(shared)
    )
    paths = {row.path for row in search_rows.rows(shared) if row.kind == "page"}
    assert "calculators/index.html" not in paths  # each of them stands for itself
    authors = ("record/", "labels/", "device/format", "device/problems")
    assert not [path for path in some(paths) if path.startswith(authors)]


@pytest.mark.parametrize("typed", ["dew point", "safety", "compare lines", "spawn rate", "diary"])
def test_the_sites_own_pages_are_found_in_a_share_too(make_journal: Make, typed: str) -> None:
    for share in (None, "mentor"):
        pages = [row for row in search_rows.rows(lookup_of(make_journal, share)) if row.kind == "page"]
        told = [{*words_of(row.title), *index_words(row).split()} for row in pages]
        assert any(words.issuperset(words_of(typed)) for words in told)


def test_a_stage_is_found_as_it_is_written_and_as_pages_say_it(make_journal: Make) -> None:
    entries = {
        "b": front("batch", id="B1", units="6"),
        "n": front("note", about="B1", stage="resting", title="x", date="2026-10-01"),
    }
    rows = [
        row for row in search_rows.rows(Lookup(make_journal(files(**entries)), {})) if row.kind in ("batch", "note")
    ]
    assert 2 == len(rows)
    for row in rows:
        assert {"resting", "between", "flushes"} <= set(words_of(row.words))
