"""Sunrise, sunset and twilight against published rows and reference libraries; sun.json names each row's source. The
script of the site is held against the same rows in `tests/browser/test_walk_back.py`."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.sun import SunTimes, sun_times

ROWS = json.loads((Path(__file__).parent / "sun.json").read_text(encoding="utf-8"))["rows"]
Row = dict[str, Any]

MOMENTS = {"local": "set", "sunset_utc": "set", "civil_dusk_utc": "dusk"}


def wanted(row: Row) -> dict[str, datetime | None]:
    """The moments that a row names, by their names in `SunTimes`."""
    found: dict[str, datetime | None] = {}
    for name, text in row["expected"].items():
        if name not in MOMENTS:
            continue
        moment = None
        if text is not None:
            day = row["inputs"]["date"]
            moment = datetime.fromisoformat(text if "T" in text else f"{day}T{text}")
            zone = timezone(timedelta(hours=row["inputs"]["utc_offset_h"])) if name == "local" else UTC
            moment = moment if moment.tzinfo else moment.replace(tzinfo=zone)
        found["rise" if row["id"] == "sun-spa-rise" else MOMENTS[name]] = moment
    return found


def times_of(row: Row) -> SunTimes:
    inputs = row["inputs"]
    return sun_times(inputs["lat"], inputs["lon"], date.fromisoformat(inputs["date"]))


def assert_near(row: Row, got: dict[str, datetime | None]) -> None:
    assert wanted(row)
    for name, moment in wanted(row).items():
        if moment is None:
            assert got[name] is None
        else:
            assert got[name] is not None
            assert moment.timestamp() == pytest.approx(got[name].timestamp(), abs=row["tolerance"]["s"])


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_the_sun(row: Row) -> None:
    times = times_of(row)
    assert_near(row, {name: getattr(times, name) for name in ("rise", "set", "dusk")})


@pytest.mark.parametrize(("id", "always"), [("sun-polar-1", "up"), ("sun-polar-2", "down"), ("sun-no-civil", None)])
def test_where_it_neither_rises_nor_sets_that_is_said(id: str, always: str | None) -> None:
    assert always == times_of(next(row for row in ROWS if row["id"] == id)).always
