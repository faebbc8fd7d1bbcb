"""journal.toml: the journal's settings, its tents, logger files and shares."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from types import MappingProxyType
from typing import Any

from journal.problems import Problem, Refusal, Unreadable, nearest, nearest_name, shortened
from journal.quantities import (
    Parsed,
    area_m2,
    duration_d,
    duration_min,
    flow_m3_h,
    length_m,
    mass_g,
    percentage,
    temperature_c,
)
from journal.reading.own_maps import MAP_POINT, map_points
from journal.reading.setting_values import (
    SettingReader,
    above_zero,
    area_side_deg,
    currency_code,
    day_written,
    dry_share,
    files_within,
    filled,
    format_number,
    from_text,
    ids_written,
    one_of,
    paper,
    some_text,
    true_or_false,
    unit_of_temperature,
    web_address,
    zone_named,
)
from journal.reading.toml_tables import Setting, Toml, read_toml, toml_string
from journal.reading.values import elevation_m, humidity_range, parse_id, parse_label_size, temperature_range
from journal.settings import (
    FORMAT,
    LABEL_SIZES,
    CameraClock,
    ClimateSource,
    LabelSettings,
    OwnMap,
    Permit,
    Settings,
    Share,
    Tent,
    WeatherSource,
)


def read_settings(data: bytes | None, path: str = "journal.toml") -> tuple[Settings, tuple[Problem, ...]]:
    """The settings, and their problems. data: the file's bytes, None if there is no file.

    What is absent or cannot be read keeps its default; a file that is not TOML gives the defaults. A tent without a
    usable ID, a logger source that lacks something required, and a share with any error are left out: a share with an
    unread setting might show more than was meant. Raises Refusal if the journal is in a later format than this program
    knows: it could be misread, and private text be shown.
    """
    if data is None:
        fix = "write one, like that of a new journal (`journal start`)"
        return Settings(), (Problem(path, 0, "warning", "there is no journal.toml", fix),)
    toml = read_toml(path, data)
    for name in toml.document:
        if name not in _TABLES:
            toml.report_unknown((name,), _TABLES, "table of the settings")
    tents = tuple(_tents(toml))
    journal = _table(toml, ("journal",), toml.document.get("journal", {}), "[journal], then its settings below")
    values = toml.read_table(("journal",), journal, SETTINGS["journal"])
    if values.get("format", 1) > FORMAT:
        raise Refusal(_later_format(toml, values["format"]))
    settings = Settings(
        **values,
        ingredients=tuple(_ingredients(toml)),
        names=tuple(_names(toml)),
        tents=tents,
        climate=tuple(_climate(toml, {tent.id.lower(): tent.id for tent in tents})),
        weather=tuple(_weather(toml)),
        shares=tuple(_shares(toml)),
        permits=tuple(_permits(toml)),
        camera_clocks=tuple(_camera_clocks(toml)),
        maps=tuple(_maps(toml)),
        labels=_labels(toml),
    )
    return settings, tuple(sorted(set(toml.problems)))


def _later_format(toml: Toml, written: int) -> str:
    """What is said of a journal that a later program wrote."""
    known = "format 1" if FORMAT == 1 else f"formats 1 to {FORMAT}"
    return (
        f"{toml.path}:{toml.lines.get(('journal', 'format'), 1)}: this journal is written in format {written}, and "
        f"this program reads {known}; fix: install the newest version of the program"
    )


_LENGTH = from_text(above_zero(length_m), "4 ft")

SETTINGS: Mapping[str, tuple[Setting, ...]] = MappingProxyType(
    {
        "journal": (
            Setting("format", "format", format_number, "of the journal folder; `1` where absent"),
            Setting("title", "title", some_text("Wash-house & Woods")),
            Setting("author", "author", some_text("Night porter"), old="keeper"),
            Setting("time_zone", "time_zone", from_text(zone_named, "Europe/London"), '`"Europe/London"`'),
            Setting("units", "units", one_of("metric", "us"), '`"metric"` or `"us"`'),
            Setting("currency", "currency", from_text(currency_code, "GBP"), "of all money in the journal (ISO 4217)"),
            Setting("site_url", "site_url", from_text(web_address, "https://journal.example")),
            Setting(
                "poison_centre",
                "poison_centre",
                from_text(filled, "+00 000 000", or_number=True),
                "a number to call, one tap from every find",
            ),
            Setting(
                "elevation",
                "elevation_m",
                from_text(elevation_m, "120 m"),
                'where you sterilise, above sea level, like `"120 m"` or `"390 ft"`: how hot water boils there',
                meant_by=("altitude", "height", "height_above_sea_level"),
            ),
            Setting("as_of", "as_of", day_written, "for samples: the day that counts as today"),
            Setting("locked", "locked", true_or_false, "`true`: the site is encrypted, as by `journal build --locked`"),
        ),
        "tents.NAME": (
            Setting("name", "name", some_text("Wash-house tent")),
            Setting("width", "width_m", _LENGTH),
            Setting("depth", "depth_m", _LENGTH),
            Setting("height", "height_m", _LENGTH),
            Setting(
                "shelf_area",
                "shelf_area_m2",
                from_text(above_zero(area_m2), "1.7 m²"),
                'all shelves together, like `"1.7 m²"` or `"18 ft²"`',
                meant_by=("area", "shelves", "shelf"),
            ),
            Setting("floor", "floor", some_text("single sheet, no film")),
            Setting("exhaust_flow", "exhaust_m3_h", from_text(flow_m3_h, "118 cfm")),
            Setting("exhaust_flow_is", "exhaust_flow_is", one_of("rated", "measured"), '`"rated"` or `"measured"`'),
            Setting("humidity", "humidity_pct", from_text(humidity_range, "85–95 %"), "the range wanted"),
            Setting("temperature", "temperature_c", from_text(temperature_range, "12–18 °C"), "the range wanted"),
        ),
        "climate": (
            Setting("files", "files", from_text(files_within, "climate/wash-house-*.csv"), required=True),
            Setting("tent", "tent", from_text(lambda text: Parsed(parse_id(text)), "wash-house"), required=True),
            Setting("time", "time", some_text("Time"), "name of a column"),
            Setting("temperature", "temperature", some_text("Temp (°C)"), "name of a column"),
            Setting("humidity", "humidity", some_text("RH (%)"), "name of a column"),
            Setting("time_zone", "time_zone", from_text(zone_named, "Europe/London")),
            Setting("time_format", "time_format", some_text("%d/%m/%Y %H:%M")),
            Setting("temperature_unit", "temperature_unit", from_text(unit_of_temperature, "°C")),
            Setting("humidity_accuracy", "humidity_accuracy_pct", from_text(percentage, "3 %", or_number=True)),
        ),
        "weather": (
            Setting("files", "files", from_text(files_within, "weather/station-*.csv"), required=True),
            Setting("date", "date", some_text("Date"), "name of a column", required=True),
            Setting("rain", "rain", some_text("Rain (mm)"), "name of a column"),
            Setting("temperature_max", "temperature_max", some_text("Max (°C)"), "name of a column"),
            Setting("temperature_min", "temperature_min", some_text("Min (°C)"), "name of a column"),
            Setting("temperature", "temperature", some_text("Temp (°C)"), "name of a column"),
            Setting("date_format", "date_format", some_text("%d/%m/%Y")),
            Setting("base", "base_c", from_text(temperature_c, "5 °C"), "of degree-days; 5 °C where absent"),
        ),
        "map": (
            Setting("file", "file", from_text(files_within, "maps/alder-bank.jpg"), required=True),
            Setting("points", "points", map_points, f"three or more, like `{MAP_POINT}`", required=True),
        ),
        "shares.NAME": (
            Setting("about", "about", ids_written, required=True),
            Setting("since", "since", day_written),
            Setting("positions", "positions", one_of("hidden", "area", "exact")),
            Setting("area", "area_deg", from_text(area_side_deg, "0.1°", or_number=True)),
            Setting("times", "times", one_of("day", "minute")),
            Setting("by", "by", true_or_false),
            Setting("texts", "texts", one_of("grown", "all"), '`"grown"` or `"all"`: also the texts of finds'),
            Setting("locked", "locked", true_or_false),
        ),
        "permits.NAME": (
            Setting("limit_a_day", "a_day_g", from_text(above_zero(mass_g), "2 kg"), "the most to pick on a day"),
            Setting("limit", "in_all_g", from_text(above_zero(mass_g), "20 kg"), "the most to pick in all"),
            Setting("first", "first", day_written),
            Setting("last", "last", day_written, "the last day on which it is valid"),
        ),
        "labels": (
            Setting("size", "size", some_text("jar"), "the usual one: `dish`, `jar`, `block` or one of your own"),
            Setting("sheet", "sheet", from_text(paper, "A4"), '`"A4"` or `"Letter"`'),
            Setting("check_character", "has_check", true_or_false, "`true`: an ID is printed with its check character"),
        ),
        "reserved": (
            Setting("kind", "kind", one_of("find", "culture", "batch", "device"), required=True),
            Setting(
                "ids",
                "ids",
                ids_written,
                "IDs that no other entry gets; `journal labels --new` writes them",
                required=True,
            ),
        ),
    }
)
"""Every setting by the table it is in. [ingredients], [names] and [tents.NAME.every] have names of the author's
own."""

_TABLES = (
    "journal",
    "ingredients",
    "names",
    "tents",
    "climate",
    "weather",
    "shares",
    "permits",
    "camera_clocks",
    "map",
    "labels",
    "reserved",
)


def _table(toml: Toml, at: tuple[str, ...], table: Any, example: str) -> Mapping[str, Any]:
    """A table of the document; anything else is reported and counts as empty. example: what to write instead."""
    if isinstance(table, dict):
        return table
    toml.report(at, "error", f"{at[-1]} is not a table", f"write {example}")
    return {}


def _named_values(
    toml: Toml, at: tuple[str, ...], table: Mapping[str, Any], read: SettingReader
) -> list[tuple[str, Any]]:
    """The values of a table whose names are the author's own."""
    values = ((name.strip(), toml.read_value((*at, name), written, read)) for name, written in table.items())
    return [(name, value) for name, value in values if value is not None]


def _ingredients(toml: Toml) -> list[tuple[str, float]]:
    at = ("ingredients",)
    table = _table(toml, at, toml.document.get("ingredients", {}), "[ingredients], then names below")
    return _named_values(toml, at, table, from_text(dry_share, "93 %", or_number=True))


def _names(toml: Toml) -> list[tuple[str, str]]:
    at = ("names",)
    table = _table(toml, at, toml.document.get("names", {}), "[names], then your names below")
    return _named_values(toml, at, table, some_text("Pleurotus pulmonarius"))


_CLOCK = re.compile(r"(?P<off>.+?) (?P<way>slow|fast)(?: from (?P<first>\S+))?(?: until (?P<last>\S+))?")
_CLOCK_EXAMPLE = "47 min slow from 2026-09-12 until 2026-09-14"


def _camera_clocks(toml: Toml) -> Iterator[CameraClock]:
    at = ("camera_clocks",)
    example = f'[camera_clocks], then "the camera\'s name" = "{_CLOCK_EXAMPLE}"'
    for name, written in _table(toml, at, toml.document.get("camera_clocks", {}), example).items():
        read = toml.read_value((*at, name), written, from_text(_clock_off, _CLOCK_EXAMPLE))
        if read is not None:
            add_min, first, last = read
            yield CameraClock(camera=name.strip(), add_min=add_min, first=first, last=last)


def _clock_off(text: str) -> Parsed[tuple[float, date | None, date | None]]:
    found = _CLOCK.fullmatch(" ".join(text.split()))
    if found is None:
        raise Unreadable(f"{shortened(text)} does not say how far a clock is off", f'write it like "{_CLOCK_EXAMPLE}"')
    minutes = above_zero(duration_min)(found["off"])
    first, last = (day_written(found[name]).value if found[name] else None for name in ("first", "last"))
    if first and last and first > last:
        raise Unreadable(f"{shortened(text)} ends before it starts", "write the earlier day first")
    return minutes.then(lambda value: (value if found["way"] == "slow" else -value, first, last))


def _labels(toml: Toml) -> LabelSettings:
    table = _table(toml, ("labels",), toml.document.get("labels", {}), "[labels], then its settings below")
    at = ("labels", "sizes")
    own = _table(toml, at, table.get("sizes", {}), '[labels.sizes], then "slant" = "40 x 20 mm"')
    sizes = _named_values(toml, at, own, from_text(lambda text: Parsed(parse_label_size(text)), "40 x 20 mm"))
    values = toml.read_table(("labels",), {k: v for k, v in table.items() if k != "sizes"}, SETTINGS["labels"])
    rows = [toml.read_table(at, row, SETTINGS["reserved"]) for at, row in _rows(toml, "reserved")]
    reserved = [(row["kind"], id) for row in rows if {"kind", "ids"} <= row.keys() for id in row["ids"]]
    named = tuple(replace(size, name=name) for name, size in sizes)
    names = {size.name.casefold(): size.name for size in (*named, *LABEL_SIZES)}
    if "size" in values and values["size"].casefold() not in names:
        near = nearest(values["size"][:60], names.values())
        message = f"{shortened(values.pop('size'))} is not a size of labels, so `jar` is used"
        fix = f"write {near}, if you mean that" if near else f"write one of {', '.join(names.values())}"
        toml.report(("labels", "size"), "error", message, fix)
    return LabelSettings(**values, sizes=named, reserved=tuple(reserved))


_CASE = "capital letters make no difference"


def _tents(toml: Toml) -> Iterator[Tent]:
    taken: set[str] = set()
    for name, table in toml.subtables("tents").items():
        at = ("tents", name)
        if (id := toml.read_value(at, name, lambda text: Parsed(parse_id(text)))) is None:
            continue
        if id.lower() in taken:
            message = f"there is another tent {id}; {_CASE}"
            toml.report(at, "error", message, "rename one of them")
            continue
        taken.add(id.lower())
        example = f'[{".".join(at)}.every], then tank = "7 d"'
        services = _table(toml, (*at, "every"), table.get("every", {}), example)
        every = _named_values(toml, (*at, "every"), services, from_text(above_zero(duration_d), "7 d"))
        settings = {key: value for key, value in table.items() if key != "every"}
        yield Tent(id=id, every=tuple(every), **{"name": id, **toml.read_table(at, settings, SETTINGS["tents.NAME"])})


def _rows(toml: Toml, name: str) -> Iterator[tuple[tuple[str, ...], Mapping[str, Any]]]:
    """The tables of a list of them, each with where it stands."""
    tables = toml.document.get(name, [])
    rows: dict[tuple[str, ...], Any] = {(name,): tables}
    if not isinstance(tables, dict):
        rows = {(name, str(at)): one for at, one in enumerate(tables if isinstance(tables, list) else [tables])}
    for at, table in rows.items():
        if isinstance(table, dict):
            yield at, table
        else:
            _table(toml, (name,), table, f"[[{name}]], then its settings below")


def _climate(toml: Toml, tents: Mapping[str, str]) -> Iterator[ClimateSource]:
    for at, table in _rows(toml, "climate"):
        values = toml.read_table(at, table, SETTINGS["climate"])
        if "tent" in values and values["tent"].lower() not in tents:
            name = values.pop("tent")
            message = f"{shortened(name)} is not a tent in the settings" + ("" if tents else ", which have none")
            if near := nearest_name(name, tents.values()):
                toml.report((*at, "tent"), "error", message, f"write {near}, if you mean that, or add [tents.{name}]")
            else:
                toml.report((*at, "tent"), "error", message, f"add [tents.{name}]", tent_block(name))
        if "tent" in values and "files" in values:
            yield ClimateSource(**{**values, "tent": tents[values["tent"].lower()]})


def _weather(toml: Toml) -> Iterator[WeatherSource]:
    for at, table in _rows(toml, "weather"):
        values = toml.read_table(at, table, SETTINGS["weather"])
        if {"files", "date"} <= values.keys():
            yield WeatherSource(**values)


def _maps(toml: Toml) -> Iterator[OwnMap]:
    for at, table in _rows(toml, "map"):
        values = toml.read_table(at, table, SETTINGS["map"])
        if {"file", "points"} <= values.keys():
            yield OwnMap(**values)


def _permits(toml: Toml) -> Iterator[Permit]:
    for name, table in toml.subtables("permits").items():
        values = toml.read_table(("permits", name), table, SETTINGS["permits.NAME"])
        first, last = values.get("first"), values.get("last")
        if first and last and last < first:
            message = f"last ({last}) is before first ({first}), so neither is used"
            toml.report(("permits", name, "last"), "error", message, "write the earlier day as first")
            values = {key: value for key, value in values.items() if key not in ("first", "last")}
        yield Permit(name=name, **values)


def _shares(toml: Toml) -> Iterator[Share]:
    taken: set[str] = set()
    for name, table in toml.subtables("shares").items():
        before = len(toml.problems)
        if name.casefold() in taken:  # their folders would be one on Windows and macOS
            toml.report(("shares", name), "error", f"there is another share {name}; {_CASE}", "rename one of them")
        taken.add(name.casefold())
        values = toml.read_table(("shares", name), table, SETTINGS["shares.NAME"])
        found = toml.problems[before:]
        if not any(problem.severity == "error" for problem in found):
            yield Share(name=name, **values)
            continue
        message = f"the share {shortened(name)} cannot be made until its settings have no errors"
        toml.report(("shares", name), "error", message, "fix its settings")


def tent_block(id: str) -> str:
    """The lines of settings that a new tent or room begins with."""
    name = toml_string(id.replace("-", " ").capitalize())
    remarks = '# humidity = "85–95 %"            # the range wanted while fruiting\n# temperature = "12–18 °C"'
    return f"[tents.{id}]\nname = {name}\n{remarks}"


def reserved_block(kind: str, ids: Sequence[str]) -> str:
    """The lines of settings that set IDs aside for labels that are printed ahead."""
    return f"[[reserved]]\nkind = {toml_string(kind)}\nids = [{', '.join(map(toml_string, ids))}]"
