"""A tent with bands, a logger and devices, and what pages look up of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime, timedelta
from math import nan

import pytest

from journal.model import Journal, LoggerFile
from journal.settings import Tent
from journal.site.pages import plan_site
from journal.site.pages.lookup import Lookup
from tests.reading.written import front
from tests.site.test_pages import Rendered

SETTINGS = """
[journal]
author = "Night porter"
time_zone = "UTC"
[tents.hut]
name = "Hut"
width = "1.2 m"
depth = "1.2 m"
height = "2 m"
exhaust_flow = "144 m³/h"
exhaust_flow_is = "rated"
humidity = "85–95 %"
temperature = "12–18 °C"
[tents.hut.every]
tank = "7 d"
[tents.loft]
name = "Loft"
"""


class Hut:
    """Gives journals, lookups and pages of the hut with these entries and logger files."""

    front = staticmethod(front)

    def __init__(self, make: Callable[..., Journal]) -> None:
        self._make = make

    def journal(self, entries: Mapping[str, str], *logs: LoggerFile, settings: str = SETTINGS) -> Journal:
        return self._make(
            {"journal.toml": settings, **{f"{name}.md": text for name, text in entries.items()}}, logs=logs
        )

    def lookup(self, entries: Mapping[str, str], *logs: LoggerFile, settings: str = SETTINGS) -> tuple[Lookup, Tent]:
        """What pages ask, and the hut."""
        lookup = Lookup(self.journal(entries, *logs, settings=settings), {})
        return lookup, lookup.settings.tents[0]

    def pages(self, entries: Mapping[str, str], *logs: LoggerFile, settings: str = SETTINGS) -> Rendered:
        return Rendered(plan_site(self.journal(entries, *logs, settings=settings), {}))

    @staticmethod
    def log(
        rows: Iterable[tuple[str, float | None, float | None]], accuracy_pct: float | None = 0.0, tent: str = "hut"
    ) -> LoggerFile:
        """rows: (`2026-11-25 06:00` in UTC, °C, %)."""
        read = [(datetime.fromisoformat(f"{stamp}+00:00").timestamp(), air_c, rh_pct) for stamp, air_c, rh_pct in rows]
        return LoggerFile(
            path=f"{tent}.csv",
            tent=tent,
            stamps_s=tuple(stamp_s for stamp_s, _, _ in read),
            temperature_c=tuple(nan if air_c is None else air_c for _, air_c, _ in read),
            humidity_pct=tuple(nan if rh_pct is None else rh_pct for _, _, rh_pct in read),
            humidity_accuracy_pct=accuracy_pct,
        )

    @staticmethod
    def steady(
        first: str, hours: int, air_c: float = 15.0, rh_pct: float = 90.0, step_min: int = 15
    ) -> list[tuple[str, float, float]]:
        """Rows from a moment on that never stand still to the last digit: they swing by a tenth."""
        start = datetime.fromisoformat(first).replace(tzinfo=UTC)
        moments = [start + timedelta(minutes=step_min * at) for at in range(hours * 60 // step_min)]
        return [(f"{m:%Y-%m-%d %H:%M}", air_c, rh_pct + (at % 2) / 10) for at, m in enumerate(moments)]


@pytest.fixture(scope="session")
def hut(make_journal: Callable[..., Journal]) -> Hut:
    return Hut(make_journal)
