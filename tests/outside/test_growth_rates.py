"""Least squares and Student's t against published values and a reference library (SciPy)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.statistics import mean_interval, straight_line, t_quantile, t_within

(NORRIS,) = json.loads((Path(__file__).parent / "growth.json").read_text(encoding="utf-8"))["rows"]


@pytest.fixture(scope="module")
def stats() -> Any:
    """SciPy's; to import it takes seconds, which only the process that runs these tests is to spend."""
    from scipy import stats

    return stats


@pytest.fixture(scope="module")
def norris() -> Any:
    return straight_line(list(zip(NORRIS["inputs"]["x"], NORRIS["inputs"]["y"], strict=True)))


@pytest.mark.parametrize("name", ["slope", "intercept", "slope_error"])
def test_a_line_of_least_squares_has_the_certified_values(name: str, norris: Any) -> None:
    """*Source:* NIST, Statistical Reference Datasets, Norris."""
    assert NORRIS["expected"][name] == pytest.approx(getattr(norris, name), **NORRIS["tolerance"])


def test_the_interval_of_a_slope_is_that_of_scipy(norris: Any, stats: Any) -> None:
    fitted = stats.linregress(NORRIS["inputs"]["x"], NORRIS["inputs"]["y"])
    off = stats.t.ppf(0.975, 34) * fitted.stderr
    assert (fitted.slope - off, fitted.slope + off) == pytest.approx(norris.slope_interval, rel=1e-9)


@pytest.mark.parametrize("degrees", [1, 2, 3, 4, 7, 8, 30, 121])
def test_t_is_that_of_scipy(degrees: int, stats: Any) -> None:
    assert stats.t.ppf(0.975, degrees) == pytest.approx(t_quantile(degrees), rel=1e-9)
    assert 1 - 2 * stats.t.sf(1.3, degrees) == pytest.approx(t_within(1.3, degrees), rel=1e-9)


def test_the_interval_of_a_mean_is_that_of_scipy(stats: Any) -> None:
    values = [6.0, 5.5, 7.1, 6.3]
    low, high = stats.t.interval(0.95, 3, loc=sum(values) / 4, scale=stats.sem(values))
    assert (low, high) == pytest.approx(mean_interval(values), rel=1e-9)
    assert mean_interval(values[:2]) is None
