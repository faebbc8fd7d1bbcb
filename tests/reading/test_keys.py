"""The table of keys."""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC

import pytest

from journal import model
from journal.reading.keys import COMMON_KEYS, KEYS, KINDS, STAGES, Key, canonical, kinds_with, names_of
from journal.reading.values import NOTATIONS

EVERY_KEY = [pytest.param(kind, key, id=f"{kind}-{key.name}") for kind in KINDS for key in KEYS[kind].values()]


@pytest.mark.parametrize(("kind", "key"), EVERY_KEY)
def test_a_keys_notation_is_one_and_reads_its_own_example(kind: str, key: Key) -> None:
    notation = NOTATIONS[key.notation]
    text = key.words[0] if key.notation == "word" else notation.example
    assert () == notation.read(text, key, UTC).remarks


@pytest.mark.parametrize(("kind", "key"), EVERY_KEY)
def test_a_keys_name_is_spelt_as_the_table_spells_names(kind: str, key: Key) -> None:
    assert key.name == canonical(key.name)
    assert key.words == tuple(canonical(word) for word in key.words)
    assert kind in kinds_with(key.name)
    assert key.name in names_of()


MODEL = {
    "find": model.Find, "culture": model.Culture, "batch": model.Batch, "note": model.Note, "tent": model.TentEntry,
    "device": model.Device,
}  # fmt: skip
RENAMED = {
    "where": "position", "from": "sources", "culture": "cultures", "elevation": "elevation_m", "wet mass": "wet_g",
    "dry mass": "dry_g", "moisture": "moisture_pct", "spawn mass": "spawn_g", "harvest": "harvest_g",
    "dried": "dried_g",
    "wants humidity": "wants_humidity_pct", "wants temperature": "wants_temperature_c", "light colour": "light_k",
    "humidity set point": "humidity_set_pct", "humidity differential": "humidity_differential_pct",
    "temperature set point": "temperature_set_c", "humidity reading": "humidity_reading_pct",
    "temperature reading": "temperature_reading_c", "co2 reading": "co2_ppm",
}  # fmt: skip
CALCULATED = {"path", "text", "lines", "dry_from", "unknown_sources", "unshared_sources", "sums_kept_back", "told_from"}


@pytest.mark.parametrize("kind", KINDS)
def test_every_field_of_the_model_has_its_key_and_every_key_its_field(kind: str) -> None:
    of_keys = {RENAMED.get(name, name.replace(" ", "_")) for name in KEYS[kind]} - {"kind"}
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
