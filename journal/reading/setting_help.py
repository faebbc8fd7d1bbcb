"""What each table of journal.toml is for, and its settings with an example each: for `journal keys` and the README."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from journal.reading.own_maps import MAP_POINT, map_points
from journal.reading.setting_values import (
    FromText,
    SettingReader,
    day_written,
    format_number,
    ids_written,
    true_or_false,
)
from journal.reading.settings_file import SETTINGS
from journal.reading.toml_tables import Setting, toml_string

TABLES_ARE: Mapping[str, str] = {
    "climate": "a logger's files",
    "weather": "a weather station's files; in no share",
    "permits.NAME": "what a permit allows to pick; in no share",
    "map": "a map of your own, drawn or scanned, beneath the sketch maps; in no share",
    "shares.NAME": "a smaller journal to share",
    "labels": "how labels are printed",
    "reserved": "labels printed ahead",
}
"""What a table holds, where its settings do not say so."""

LISTED = ("climate", "weather", "map", "reserved")
"""Tables of which there may be several, written with two brackets."""

FREE_TABLES: Mapping[str, str] = {
    "names": 'your own names of species, each with what it means: `"shelf oyster" = "Pleurotus pulmonarius"`',
    "ingredients": 'the dry share of what your mixes are made of, where you measured it: `"oak pellets" = "93 %"`',
    "camera_clocks": "a camera whose clock is or was off, by the name that it writes into its photos: "
    '`"Wren 4" = "47 min slow"`, `"Auk" = "1 h fast from 2026-03-29 until 2026-04-02"`; '
    "the times of its photos are corrected",
    "labels.sizes": 'your own sizes of labels: `"slant" = "40 x 12 mm"`; of sheets that are sold cut, with their '
    'margin and gaps: `"lid" = "38.1 x 21.2 mm, margin 4.7 x 10.7 mm, gap 2.5 x 0 mm"`',
    "tents.NAME.every": 'recurring services: `tank = "7 d"`',
}
"""Tables whose settings have names of the author's own."""

_BEHIND: Mapping[str, tuple[str, ...]] = {
    "journal": ("ingredients", "names", "camera_clocks"),
    "tents.NAME": ("tents.NAME.every",),
    "labels": ("labels.sizes",),
}

_PLAIN: Mapping[SettingReader, str] = {
    day_written: "2026-09-01",
    true_or_false: "true",
    ids_written: '["B-031", "PP-26A"]',
    format_number: "1",
    map_points: f"[{MAP_POINT}, …]",
}


@dataclass(frozen=True, slots=True)
class TableHelp:
    """A table as documentation shows it. header: as written in the file. about: what it is for, "" where its settings
    say so. settings: none where their names are the author's own."""

    header: str
    about: str
    settings: tuple[Setting, ...]


def tables_help() -> Iterator[TableHelp]:
    """Every table of journal.toml, in the order of the README."""
    for name, rows in SETTINGS.items():
        yield TableHelp(f"[[{name}]]" if name in LISTED else f"[{name}]", TABLES_ARE.get(name, ""), rows)
        yield from (TableHelp(f"[{table}]", FREE_TABLES[table], ()) for table in _BEHIND.get(name, ()))


def example_of(setting: Setting) -> str:
    """A line that sets it: `elevation = "120 m"`."""
    read = setting.read
    value = toml_string(read.example) if isinstance(read, FromText) else _PLAIN[read]
    return f"{setting.name} = {value}"
