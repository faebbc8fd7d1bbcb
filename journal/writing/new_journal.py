"""A new journal folder: short settings, and examples that are not read as entries."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from importlib.resources import files
from pathlib import Path
from zoneinfo import available_timezones

from journal.reading.listing import SETTINGS_NAME
from journal.reading.toml_tables import toml_string
from journal.settings import FORMAT
from journal.writing.blanks import write_new

EXAMPLES_NAME = "examples"

_SETTINGS = """\
# The journal's settings. Everything after a # is a comment; remove the # to use a line.

[journal]
format = {format}
title = {title}
author = {author}
time_zone = {time_zone}
units = {units}
# poison_centre = "the number to call after a suspect meal"
# currency = "GBP"            # of every `cost` and `sold` in this journal (ISO 4217)
# elevation = "120 m"         # of where you sterilise, above sea level: how hot water boils there

# A tent or room, one table each; the name after "tents." is its ID.
# [tents.wash-house]
# name = "Wash-house tent"
# width = "4 ft"
# depth = "4 ft"
# height = "6.5 ft"
# shelf_area = "1.7 m²"       # all shelves together: for the yield by area
# humidity = "85–95 %"        # the range wanted while fruiting
# temperature = "12–18 °C"

# [tents.wash-house.every]    # what needs service, and how often
# tank = "7 d"

# What a permit allows to pick, under the name that a find has in `permit`.
# [permits.common-wood]
# limit_a_day = "1 kg"
# limit = "6 kg"              # in all, while the permit is valid
# first = 2026-08-01
# last = 2026-12-31

# A weather station's files, for the rain and warmth before outings; the other lines name its columns.
# [[weather]]
# files = "weather/*.csv"
# date = "Date"
# rain = "Rain (mm)"
# temperature_max = "Max (°C)"
# temperature_min = "Min (°C)"

# `journal keys settings` lists every setting.
"""

EXAMPLES: Mapping[str, str] = {
    "find.txt": """\
---
kind: find
id: F26-001
date: 2026-09-12 16:40
species: Pleurotus pulmonarius
certainty: likely
identified by: the ferry baker, by eye
where: 58.30412, -8.90177 ±8 m
place: Alder Bank, third log
growing on: fallen alder, bark on
permission: the crofter, by word
---

Two shelves on the shaded side, smell of aniseed. Took one cluster and left the rest.

(Put this and its photos into a folder of its own, finds/2026-09-12-alder-bank, as find.md.)
""",
    "clone.txt": """\
---
kind: culture
id: PP-26A
date: 2026-09-12
from: F26-001
method: tissue
form: plate
medium: malt agar
vessels: 5
---

From the inner flesh of the stem's base. Plate 4 has a speck near the rim.

(Put this into cultures, as PP-26A.md.)
""",
    "batch.txt": """\
---
kind: batch
id: B-031
date: 2026-10-06
culture: PP-26A
container: filter bag
units: 4
mix: alder pellets 2.9 kg, wheat bran 0.7 kg, gypsum 40 g, water 5.5 kg
wet mass: 2.3 kg
moisture: 62 %
treatment: 121 °C 2.5 h
---

Weighed each bag before sterilising; every yield is later calculated from this number.

(Put this into batches/B-031, as batch.md.)
""",
    "note.txt": """\
---
kind: note
about: B-031
date: 2026-11-01
stage: fruiting
harvest: 1290 g
flush: 1
next: 2026-11-03 soak the three blocks
---

Caps still curled under. Picked all three before the spores came.

(Put this and its photos into the batch's folder, batches/B-031, as 2026-11-01.md.)
""",
    "tent.txt": """\
---
kind: tent
about: wash-house
date: 2026-10-22 20:15
humidity set point: 92 %
light: 12 h on, 12 h off
exhaust: 2 min every 15 min
why: pins dried at the tips last time
---

Changed one thing only, to see what it does.

(Put this into tents, as 2026-10-22.md. The tent itself is described in journal.toml.)
""",
    "device.txt": """\
---
kind: device
id: fan-1
date: 2026-02-01
tent: wash-house
does: fan
powered by: strip-1
controlled by: timer-2
rated for: indoor use
---

Hangs from the rear bar and swings to both sides.

(Put this into devices, as fan-1.md.)
""",
}
"""Texts that show an entry of each kind; they end in .txt, so that no command reads them as entries."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What a new journal is asked for. time_zone: an IANA name."""

    title: str
    author: str
    time_zone: str
    units: str


def write_journal(folder: Path, answers: Answers) -> tuple[Path, ...]:
    """Makes a folder a journal and gives the files written; one that is there already is never overwritten.

    Raises FileExistsError where the folder has settings already, else OSError; then nothing of it stays.
    """
    examples = folder / EXAMPLES_NAME
    made = [path for path in (examples, *examples.parents) if not path.exists()]
    texts = {folder / SETTINGS_NAME: settings_text(answers)}
    written: list[Path] = []
    try:
        examples.mkdir(parents=True, exist_ok=True)
        texts.update({examples / name: text for name, text in EXAMPLES.items() if not (examples / name).exists()})
        for path, text in texts.items():
            write_new(path, text)
            written.append(path)
    except OSError:
        for path in (*written, *made):
            with suppress(OSError):
                path.unlink() if path in written else path.rmdir()
        raise
    return tuple(written)


def settings_text(answers: Answers) -> str:
    return _SETTINGS.format(format=FORMAT, **{name: toml_string(value) for name, value in asdict(answers).items()})


def guess_time_zone(environment: Mapping[str, str] = os.environ, etc: Path = Path("/etc")) -> str:
    """The IANA name of this computer's time zone, "UTC" where it is not known."""
    known = available_timezones()
    return next((name for name in _zone_hints(environment, etc) if name in known), "UTC")


def _zone_hints(environment: Mapping[str, str], etc: Path) -> Iterator[str]:
    yield environment.get("TZ", "").removeprefix(":")
    if (etc / "timezone").is_file():
        yield (etc / "timezone").read_text(encoding="utf-8", errors="replace").strip()
    yield os.path.realpath(etc / "localtime").rpartition("zoneinfo/")[2]


_US = "US"
"""The country that does not use metric units: of the locales of the GNU C library, en_US alone has them so."""


def guess_units(time_zone: str, environment: Mapping[str, str] = os.environ) -> str:
    """ "us" where the locale that is set for measures names the US or the time zone lies there, else "metric"."""
    names = (environment.get(name) for name in ("LC_ALL", "LC_MEASUREMENT", "LANG"))
    language, _, country = re.split("[.@]", next(filter(None, names), ""))[0].rpartition("_")
    is_us = bool(language) and country == _US
    return "us" if is_us or time_zone.startswith("US/") or time_zone in _zones_of(_US) else "metric"


def _zones_of(country: str) -> set[str]:
    """The time zones of a country (ISO 3166), by the time zone database."""
    table = (files("tzdata") / "zoneinfo" / "zone.tab").read_text(encoding="utf-8")
    rows = (line.split("\t") for line in table.splitlines() if not line.startswith("#"))
    return {row[2] for row in rows if row[0] == country}
