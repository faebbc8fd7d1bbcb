"""The published ranges of species against the rows of species.json, each of which names its source."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.usual_times import PRACTICE, PUBLISHED, Days
from journal.settings import ValueRange

ROWS = {
    row["id"]: row for row in json.loads((Path(__file__).parent / "species.json").read_text(encoding="utf-8"))["rows"]
}

# Our field, and where it is in a row: days from inoculation, from the move, from pins, from flush to flush.
WHERE = {
    "colonised_d": ("incubation", "days"),
    "pinning_after_move_d": ("primordia", "days"),
    "harvest_after_pins_d": ("fruiting", "days"),
    "between_flushes_d": ("cropping", "interval_days"),
    "flushes_most": ("cropping", "flushes"),
}

USED = {
    "sp-pleurotus-pulmonarius": ("Pleurotus pulmonarius", "Stamets", set()),
    "sp-pleurotus-citrinopileatus": ("Pleurotus citrinopileatus", "Stamets", set()),
    # The cultivated one, which the book has under the older, wider name.
    "sp-flammulina-velutipes": ("Flammulina filiformis", "Stamets", set()),
    # Fruits from casing, from which its days to pins count.
    "sp-coprinus-comatus": ("Coprinus comatus", "Stamets", {"pinning_after_move_d"}),
    # Cased too, and picked by the week: its fruiting days are no days from pins to picking.
    "sp-agaricus-bisporus": ("Agaricus bisporus", "Chilton", {"pinning_after_move_d", "harvest_after_pins_d"}),
}

NOT_USED = {
    "sp-pleurotus-spp-lab": "seven species together: no species' own",
    "sp-pleurotus-spp-extension": "a genus: no species' own",
    "sp-pleurotus-djamor-lab": "one laboratory's longest spawn run, and no range",
    "sp-lentinula-edodes-pettipher": "its days count from the move to mushrooms, with no pins named",
    "sp-hericium-erinaceus": "quoted with no page: common practice",
    "sp-cyclocybe-aegerita": "quoted with no page: common practice",
    "sp-lentinula-edodes-spawnrun": "spawn runs that the experimenter set",
    "sp-lentinula-edodes-moist": "no days in it",
    "sp-hericium-erinaceus-pin": "does not say from when the days to pins count",
    "sp-grifola-frondosa-crop": "a whole cycle, with no step in it",
    "sp-ganoderma-lucidum-yield": "no days in it",
    "sp-volvariella-volvacea": "no days in it",
}


def test_every_published_row_is_used_or_left_out_for_a_reason() -> None:
    assert ROWS.keys() == USED.keys() | NOT_USED.keys()
    assert PUBLISHED.keys() == {name for name, _, _ in USED.values()}


@pytest.mark.parametrize("field", WHERE)
@pytest.mark.parametrize("row", USED)
def test_a_range_is_the_published_one_or_none(row: str, field: str) -> None:
    species, _, left_out = USED[row]
    assert _published(ROWS[row], field, left_out) == getattr(PUBLISHED[species], field)


@pytest.mark.parametrize("row", USED)
def test_a_species_is_under_its_own_name_with_its_source(row: str) -> None:
    species, author, _ = USED[row]
    assert ROWS[row]["inputs"]["name"].split(" (")[0] in (species, "Flammulina velutipes")
    assert author in ROWS[row]["source"]["author"]
    assert author in PUBLISHED[species].source
    assert ROWS[row]["source"]["confirmed"] in ("stored-text", "stored-quotation")


@pytest.mark.parametrize("row", USED)
def test_a_published_range_names_its_page_and_its_temperatures(row: str) -> None:
    published, expected = PUBLISHED[USED[row][0]], ROWS[row]["expected"]
    page = ROWS[row]["source"]["where"].split()[1]
    assert f"p. {page}" in published.source
    stages = {"incubation": published.colonising_c, "primordia": published.pinning_c, "fruiting": published.fruiting_c}
    assert {stage: ValueRange(*expected[stage]["temp_C"]) for stage in stages} == stages


@pytest.mark.parametrize("row", USED)
def test_the_light_told_is_the_published_one_or_none(row: str) -> None:
    published, expected = PUBLISHED[USED[row][0]], ROWS[row]["expected"]
    lux = [expected[stage].get("light_lux") for stage in ("primordia", "fruiting")]
    assert [light and ValueRange(*light) for light in lux] == [published.pinning_lux, published.fruiting_lux]


def test_the_ranges_of_the_cultivated_velvet_foot_are_not_those_of_the_wild_one() -> None:
    assert "Flammulina velutipes" not in PUBLISHED


def test_common_practice_claims_no_source() -> None:
    assert {"common practice"} == {usual.source for usual in PRACTICE.values()}


@pytest.mark.parametrize("table", [PUBLISHED, PRACTICE], ids=["published", "practice"])
def test_no_range_runs_backwards(table: dict[str, Any]) -> None:
    spans = [span for usual in table.values() for field in WHERE if isinstance(span := getattr(usual, field), Days)]
    assert spans
    assert [] == [span for span in spans if not 0 < span.low <= span.high]


def _published(row: dict[str, Any], field: str, left_out: set[str]) -> Days | int | None:
    """The row's own value; None where it is not confirmed, or left out."""
    stage, key = WHERE[field]
    memory = row.get("from_memory_fields", [])
    value = row["expected"].get(stage, {}).get(key)
    if value is None or field in left_out or stage in memory or f"{stage}.{key}" in memory:
        return None
    return value[1] if key == "flushes" else Days(*value)
