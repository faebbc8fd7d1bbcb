"""The table of keys."""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC

import pytest

from journal import model
from journal.reading.entries import read_entry
from journal.reading.keys import (
    COMMON_KEYS,
    CURRENT_NAMES,
    KEYS,
    KINDS,
    STAGES,
    UNITS,
    Key,
    canonical,
    kinds_with,
    names_of,
)
from journal.reading.values import NOTATIONS
from journal.settings import Settings

EVERY_KEY = [pytest.param(kind, key, id=f"{kind}-{key.name}") for kind in KINDS for key in KEYS[kind].values()]


@pytest.mark.parametrize(("kind", "key"), EVERY_KEY)
def test_a_keys_notation_is_one_and_reads_its_own_example(kind: str, key: Key) -> None:
    notation = NOTATIONS[key.notation]
    text = key.words[0] if key.notation == "word" else notation.example
    assert () == notation.read(text, key, UTC).remarks


@pytest.mark.parametrize(("kind", "key"), EVERY_KEY)
def test_a_keys_name_is_written_as_the_table_writes_names(kind: str, key: Key) -> None:
    assert key.name == canonical(key.name)
    assert key.words == tuple(canonical(word) for word in key.words)
    assert kind in kinds_with(key.name)
    assert key.name in names_of()


MODEL = {
    "find": model.Find, "culture": model.Culture, "batch": model.Batch, "note": model.Note, "tent": model.TentEntry,
    "device": model.Device,
}  # fmt: skip
CALCULATED = {
    "path",
    "text",
    "lines",
    "dry_from",
    "unknown_sources",
    "unshared_sources",
    "totals_are_partial",
    "shared_from",
    "known_until",
}


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_of_the_model_has_its_key_and_every_key_its_field(kind: str) -> None:
    of_keys = {key.field for key in KEYS[kind].values() if key.field}
    of_model = {field.name for field in fields(MODEL[kind])} - CALCULATED
    if kind == "batch":
        of_model -= {"species"}  # that of its culture
    assert of_model == of_keys


def test_every_kind_has_the_common_keys() -> None:
    assert all(set(COMMON_KEYS) <= set(KEYS[kind]) for kind in KINDS)


def test_a_culture_may_be_at_every_stage_of_a_batch_and_at_its_own() -> None:
    assert {*STAGES["batch"], "clean", "sectored", "doubtful", "dead"} == set(STAGES["culture"])
    assert set(KEYS["note"]["stage"].words) == {stage for stages in STAGES.values() for stage in stages}


@pytest.mark.parametrize(
    "written", ["growing on", "growing-on", "growing_on", "Growing On", "GROWING  ON", " growing\u00a0on "]
)
def test_spaces_hyphens_underscores_and_capitals_make_no_difference(written: str) -> None:
    assert "growing on" == canonical(written)


def test_a_small_two_is_a_two() -> None:
    assert "co2 reading" == canonical("CO₂ reading")


@pytest.mark.parametrize("old", sorted(CURRENT_NAMES))
def test_an_older_spelling_of_a_key_is_read_and_is_no_other_key(old: str) -> None:
    name = CURRENT_NAMES[old]
    assert old not in names_of()
    kind = kinds_with(name)[0]
    read = read_entry("a.md", f"---\nkind: {kind}\nid: A-1\ntent: hut\n{old}: lime\n---\n".encode(), Settings())
    assert read is not None
    assert ("lime", 5) == (read.values[name], read.lines[name])


@pytest.mark.parametrize("order", [("heat", "treatment"), ("treatment", "heat")])
def test_a_key_in_both_spellings_is_written_twice(order: tuple[str, str]) -> None:
    text = f"---\nkind: batch\nid: B-1\n{order[0]}: lime\n{order[1]}: steam\n---\n"
    read = read_entry("a.md", text.encode(), Settings())
    assert read is not None
    assert "lime" == read.values["treatment"]
    (problem,) = read.problems
    assert (5, "error") == (problem.line, problem.severity)
    assert '"treatment" is written twice' in problem.message


def test_a_key_that_says_nothing_of_shares_is_in_none() -> None:
    assert "gone" == Key("rainfall", "mm in the week before").share


def test_a_field_ends_in_the_unit_of_its_notation() -> None:
    assert "wingspan_m" == Key("wingspan", "", "length").field
    assert "wingspan_m" == Key("wingspan", "", "length").column
    assert set(UNITS) <= set(NOTATIONS)
