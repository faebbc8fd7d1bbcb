"""The search index, without a browser."""

from __future__ import annotations

import json
import re

import pytest

from journal.site.search import SearchRow, fold, index_words, search_parts


def row(number: int, date: str, words: str = "") -> SearchRow:
    return SearchRow(f"Entry {number}", f"notes/{number}/index.html", "note", "", date, words)


def cells(script: str) -> list[list[str | None]]:
    """The rows a part hands over: its script is one call with one JSON value."""
    (value,) = re.findall(r"\AjournalSearch\.add\((.*)\);\n\Z", script, re.DOTALL)
    return list(json.loads(value))


@pytest.mark.parametrize(
    ("text", "folded"),
    [
        ("Süßgräser", "sussgraser"),
        ("Smørbukk", "smorbukk"),
        ("Łąka", "laka"),
        ("ANGSTRÖM", "angstrom"),
        ("ﬁr", "fir"),
        ("On ALDER, 64 %", "on alder, 64 %"),
        ("A\u030angstr\u00f6m, 12 \u212a", "angstrom, 12 k"),
    ],
)
def test_case_and_accents_do_not_count(text: str, folded: str) -> None:
    assert folded == fold(text)


def test_words_are_kept_once_and_not_those_of_the_title() -> None:
    found = SearchRow("Third pins", "x", "note", words="Pins on alder, alder at 64 % a b 7")
    assert "on alder at 64 7" == index_words(found)


def test_a_long_entry_is_cut_to_its_first_hundred_words() -> None:
    found = SearchRow("Long", "x", "note", words=" ".join(f"word{number}" for number in range(5000)))
    assert [f"word{number}" for number in range(100)] == index_words(found).split()


def test_one_endless_word_does_not_fill_the_index() -> None:
    assert 24 == len(index_words(SearchRow("x", "x", "note", words="a" * 5_000_000)))


def test_parts_are_years_newest_first() -> None:
    scripts = search_parts([row(1, "2025-11-22"), row(2, "2026-10-06"), row(3, ""), row(4, "2026")])
    assert 'journalSearch.parts(["2026","2025","undated"]);\n' == scripts["search/parts.js"]
    assert ["Entry 2", "Entry 4"] == [title for title, *_ in cells(scripts["search/2026.js"])]


def test_other_names_stand_once_beside_the_names_of_the_parts() -> None:
    names = {"Pleurotus pulmonarius": ("phoenix oyster", "Indian oyster"), "Hericium": ("lion's mane",)}
    scripts = search_parts([row(1, "2026-10-06", "Pleurotus pulmonarius")], names)
    also = '{"hericium":"lion s mane lions","pleurotus pulmonarius":"phoenix oyster indian"}'
    assert f'journalSearch.parts(["2026"],{also});\n' == scripts["search/parts.js"]
    assert "oyster" not in scripts["search/2026.js"]


def test_a_row_gives_what_a_hit_shows() -> None:
    found = SearchRow("T", "finds/f/index.html", "find", "F-1", "2026-01-02", "willow", "photos/2026-01/a-320.webp")
    (only,) = cells(search_parts([found])["search/2026.js"])
    assert ["T", "finds/f/index.html", "find", "F-1", "2026-01-02", "willow", "photos/2026-01/a-320.webp"] == only


@pytest.mark.parametrize("count", [20, 2000])
def test_a_new_entry_changes_its_own_part_alone(count: int) -> None:
    rows = [row(number, f"{2024 + number % 3}-{number % 12 + 1:02}-05", "alder willow") for number in range(count)]
    before, after = search_parts(rows), search_parts([*rows, row(count, "2025-02-09")])
    changed = [path for path in after if after[path] != before.get(path)]
    assert ["search/2025.js" if count == 20 else "search/2025-02-3.js"] == changed


def test_a_script_stays_whole_whatever_an_entry_holds() -> None:
    title = 'quote " slash \\ line\u2028end </script> \u2029'
    script = search_parts([SearchRow(title, "x", "note", date="2026-01-01")])["search/2026.js"]
    assert title == cells(script)[0][0]
    assert not {"\u2028", "\u2029"} & set(script)


def test_the_order_of_entries_makes_no_difference() -> None:
    rows = [row(number, f"2026-{number % 12 + 1:02}-05") for number in range(50)]
    assert search_parts(rows) == search_parts(rows[::-1])
