"""Entries as texts, and what is said of them, for tests that link."""

from __future__ import annotations

from journal.model import Journal
from tests.builders import entry

TOML = """
[journal]
author = "Night porter"
time_zone = "Europe/London"
[tents.hut]
name = "Wash-house"
[tents.loft]
name = "Net-loft"
"""


def front(kind: str, text: str = "Looked in.\n", **keys: str) -> str:
    """An entry's file, of 12 September where nothing else is said; keys: as of an entry."""
    return entry(kind, text=text, **{"date": "2026-09-12", **keys})


def files(**entries: str) -> dict[str, str]:
    """Entries by file name, each in a folder of its own, beside settings with two tents."""
    return {"journal.toml": TOML, **{f"{name}/{name}.md": text for name, text in entries.items()}}


def told(journal: Journal) -> list[tuple[str, str, str]]:
    return [(problem.path, problem.severity, problem.message) for problem in journal.problems]


def weights(journal: Journal) -> list[tuple[str, str]]:
    return [(problem.path, problem.severity) for problem in journal.problems]


GPX = """<?xml version="1.0"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="58.30000" lon="-8.90000"><time>2026-09-12T09:00:00Z</time></trkpt>
<trkpt lat="58.30200" lon="-8.90000"><time>2026-09-12T09:02:00Z</time></trkpt>
</trkseg></trk></gpx>"""
HERE = {"lat_deg": 58.3, "lon_deg": -8.9, "uncertainty_m": 8.0}
