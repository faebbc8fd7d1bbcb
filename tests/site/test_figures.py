"""Calculated numbers as a page shows them."""

from __future__ import annotations

import pytest

from journal.analysis.calculation import Amount, Calculation
from journal.site.figures import amount, figure

BE = Calculation(
    value=53.204,
    unit="%",
    inputs=(
        ("fresh mass picked", Amount(1860, "g")),
        ("units inoculated", "4"),
        ("dry substrate a unit", Amount(874, "g")),
    ),
    formula="BE = fresh mass picked / (units inoculated × dry substrate a unit) × 100",
    source="a source",
)


def test_a_figure_has_its_inputs_formula_and_source() -> None:
    shown = figure(BE, "BE of the 4 blocks inoculated")
    assert "53.2 %" == shown.number
    assert (
        ("fresh mass picked", "1.86 kg"),
        ("units inoculated", "4"),
        ("dry substrate a unit", "874 g"),
    ) == shown.inputs
    assert (BE.formula, BE.source) == (shown.formula, shown.source)


def test_inputs_are_worded_in_the_authors_units() -> None:
    assert ("fresh mass picked", "4 lb 1.6 oz") == figure(BE, "BE", "us").inputs[0]


@pytest.mark.parametrize(
    ("value", "unit", "metric", "us"),
    [
        (15.8, "°C", "15.8 °C", "60.4 °F"),
        (200, "m³/h", "200 m³/h", "118 cfm"),
        (2.945, "m³", "2.95 m³", "104 ft³"),
        (48, "% a day", "48 % a day", "48 % a day"),
        (7, "", "7", "7"),
    ],
)
def test_an_amount_is_shown_in_the_authors_units(value: float, unit: str, metric: str, us: str) -> None:
    assert (metric, us) == (amount(value, unit), amount(value, unit, "us"))
