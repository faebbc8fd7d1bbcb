"""The published ranges of species against the rows of species.json, each of which names its source."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.forecast import PRACTICE, PUBLISHED, Days

ROWS = {
    row["id"]: row for row in json.loads((Path(__file__).parent / "species.json").read_text(encoding="utf-8"))["rows"]
}

# Our field, and where it stands in a row: days from inoculation, from the move, from pins, from flush to flush.
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
    "sp-pleurotus-djamor-lab": ("Pleurotus djamor", "Shnyreva", set()),
    "sp-lentinula-edodes-pettipher": ("Lentinula edodes", "Pettipher", set()),
    "sp-hericium-erinaceus": ("Hericium erinaceus", "Stamets", set()),
    "sp-flammulina-velutipes": ("Flammulina velutipes", "Stamets", set()),
    # Its fruiting days stand in pages that are not the book named.
    "sp-cyclocybe-aegerita": ("Cyclocybe aegerita", "Stamets", {"harvest_after_pins_d"}),
    # Fruits from casing, from which its days to pins count.
    "sp-coprinus-comatus": ("Coprinus comatus", "Stamets", {"pinning_after_move_d"}),
    # Cased too, and picked by the week: its fruiting days are no days from pins to picking.
    "sp-agaricus-bisporus": ("Agaricus bisporus", "Chilton", {"pinning_after_move_d", "harvest_after_pins_d"}),
}

NOT_USED = {
    "sp-pleurotus-spp-lab": "seven species together: no species' own",
    "sp-pleurotus-spp-extension": "a genus: no species' own",
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
    assert ROWS[row]["inputs"]["name"].startswith(species)
    assert author in ROWS[row]["source"]["author"]
    assert author in PUBLISHED[species].source
    assert ROWS[row]["source"]["confirmed"] in ("stored-text", "stored-quotation")


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
