"""journal.toml: the journal's settings, its tents, logger files and shares."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from types import MappingProxyType
from typing import Any, TypeVar
from zoneinfo import ZoneInfo, available_timezones

from journal.problems import Problem, Unreadable, nearest, shortened
from journal.quantities import Parsed, duration_d, duration_min, flow_m3_h, length_m, percentage
from journal.reading.own_maps import MAP_POINT, map_points
from journal.reading.toml_tables import Setting, Toml, read_toml, toml_string
from journal.reading.values import humidity_range, parse_id, parse_label_size, temperature_range, text_value, yes_or_no
from journal.settings import CameraClock, ClimateSource, LabelSettings, OwnMap, Settings, Share, Tent

T = TypeVar("T")
Reader = Callable[[Any], Parsed[Any]]


def read_settings(data: bytes | None, path: str = "journal.toml") -> tuple[Settings, tuple[Problem, ...]]:
    """The settings, and their problems. data: the file's bytes, None where there is no file.

    What is absent or cannot be read keeps its default; a file that is not TOML gives the defaults. A tent without a
    usable ID, a logger source that lacks what it needs, and a share with any error are left out: a share of which a
    word was lost might show more than was meant.
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
    settings = Settings(
        **values,
        ingredients=tuple(_ingredients(toml)),
        names=tuple(_names(toml)),
        tents=tents,
        climate=tuple(_climate(toml, {tent.id.lower(): tent.id for tent in tents})),
        shares=tuple(_shares(toml)),
        camera_clocks=tuple(_camera_clocks(toml)),
        maps=tuple(_maps(toml)),
        labels=_labels(toml),
    )
    return settings, tuple(sorted(set(toml.problems)))


def _from_text(read: Callable[[str], Parsed[T]], example: str, or_number: bool = False) -> Reader:
    """For a setting that is written in quotation marks. or_number: a bare number may stand for it."""

    def reader(written: Any) -> Parsed[T]:
        if or_number and isinstance(written, int | float) and not isinstance(written, bool):
            written = str(written)
        if not isinstance(written, str):
            fix = f'write text in quotation marks, like "{example}"'
            raise Unreadable(f"{_shown(written)} is {_kind_of(written)}", fix)
        return read(written.strip())

    return reader


def _shown(written: Any) -> str:
    if isinstance(written, bool):
        return str(written).lower()
    return shortened(written) if isinstance(written, str) else shortened(str(written)).strip('"')


def _kind_of(written: Any) -> str:
    names = {bool: "true or false", int: "a number", float: "a number", list: "a list", dict: "a table", str: "text"}
    return names.get(type(written), "a date or time")


def _filled(text: str) -> Parsed[str]:
    if not text:
        raise Unreadable("there is nothing between the quotation marks", "write something, or remove the line")
    return text_value(text)


def _text(example: str) -> Reader:
    return _from_text(_filled, example)


def _one_of(*words: str) -> Reader:
    def read(text: str) -> Parsed[str]:
        if text.casefold() not in words:
            near = nearest(text[:60], words)
            fix = f"write {near}, if you mean that; " if near else ""
            raise Unreadable(f"{shortened(text)} is not known", f"{fix}write one of {', '.join(words)}")
        return Parsed(text.casefold())

    return _from_text(read, words[0])


def _zone(text: str) -> Parsed[str]:
    try:
        ZoneInfo(text)
        return Parsed(text)
    except (ValueError, OSError, KeyError):  # no such zone; a folder of zones; a name that leaves the zones
        zones = sorted(available_timezones())
        place = "/" + text.casefold().replace(" ", "_")
        same_place = next((zone for zone in zones if f"/{zone}".casefold().endswith(place)), None)
        near = same_place or nearest(text[:60], zones)
        fix = f"write {near}, if you mean that" if near else "write an IANA name, like Europe/London"
        raise Unreadable(f"{shortened(text)} is not a time zone", fix) from None


def _day(written: Any) -> Parsed[date]:
    if isinstance(written, datetime):
        return Parsed(written.date())
    if isinstance(written, date):
        return Parsed(written)
    try:
        return Parsed(date.fromisoformat(written if isinstance(written, str) and len(written) == 10 else ""))
    except ValueError:
        raise Unreadable(f"{_shown(written)} is not a day", "write it like 2026-09-01") from None


def _switch(written: Any) -> Parsed[bool]:
    if isinstance(written, bool):
        return Parsed(written)
    if isinstance(written, str):
        return yes_or_no(written)
    raise Unreadable(f"{_shown(written)} is {_kind_of(written)}", "write true or false")


def _web_address(text: str) -> Parsed[str]:
    if not re.fullmatch(r"https?://[^\s/]\S*", text):
        raise Unreadable(f"{shortened(text)} is not a web address", "write it like https://journal.example")
    return Parsed(text)


def _above_zero(read: Callable[[str], Parsed[float]]) -> Callable[[str], Parsed[float]]:
    def reader(text: str) -> Parsed[float]:
        found = read(text)
        if found.value <= 0:
            raise Unreadable(f"{shortened(text)} is not above zero", "write the measured value")
        return found

    return reader


def _dry_share(text: str) -> Parsed[float]:
    found = percentage(text)
    if not 0 <= found.value <= 100:
        raise Unreadable(f"{shortened(text)} is outside 0 to 100 %", "write the dry share, like 93 %")
    if 0 < found.value <= 1:
        found = found.noting(f"{shortened(text)} was read as {found.value:g} %", f"write {found.value * 100:g} %")
    return found.then(lambda pct: pct / 100)


def _files(text: str) -> Parsed[str]:
    plain = _filled(text).value.replace("\\", "/")
    if plain.startswith("/") or ":" in plain or ".." in plain.split("/"):
        raise Unreadable("it is outside the journal folder", "name files in it, like climate/wash-house-*.csv")
    return Parsed(plain)


def _ids(written: Any) -> Parsed[tuple[str, ...]]:
    names = written if isinstance(written, list) else [written]
    if not all(isinstance(name, str) for name in names):
        raise Unreadable("this is not a list of IDs", 'write it like ["B-031", "PP-26A"]')
    return Parsed(tuple(dict.fromkeys(parse_id(name) for name in names)))


def _area_deg(text: str) -> Parsed[float]:
    size = text.strip().removesuffix("°").strip().replace(",", ".")
    found = next((deg for deg in (1.0, 0.1, 0.01, 0.001) if size in {f"{deg:g}", str(deg)}), None)
    if found is None:
        raise Unreadable(f"{shortened(text)} is not a size of an area", "write 1°, 0.1°, 0.01° or 0.001°")
    return Parsed(found)


def _degrees_c_or_f(text: str) -> Parsed[str]:
    unit = text.replace("°", "").strip().upper()
    if unit not in {"C", "F"}:
        raise Unreadable(f"{shortened(text)} is not a unit of temperature", "write °C or °F")
    return Parsed(f"°{unit}")


def _sheet(text: str) -> Parsed[str]:
    return _one_of("a4", "letter")(text).then(lambda name: {"a4": "A4", "letter": "Letter"}[name])


_LENGTH = _from_text(_above_zero(length_m), "4 ft")

SETTINGS: Mapping[str, tuple[Setting, ...]] = MappingProxyType(
    {
        "journal": (
            Setting("title", "title", _text("Wash-house & Woods")),
            Setting("author", "author", _text("Night porter"), old="keeper"),
            Setting("time_zone", "time_zone", _from_text(_zone, "Europe/London"), '`"Europe/London"`'),
            Setting("units", "units", _one_of("metric", "us"), '`"metric"` or `"us"`'),
            Setting("site_url", "site_url", _from_text(_web_address, "https://journal.example")),
            Setting(
                "poison_centre",
                "poison_centre",
                _from_text(_filled, "+00 000 000", or_number=True),
                "a number to call, one tap from every find",
            ),
            Setting("as_of", "as_of", _day, "for samples: the day that counts as today"),
            Setting("locked", "locked", _switch, "`true`: the site is encrypted, as by `journal build --locked`"),
        ),
        "tents.NAME": (
            Setting("name", "name", _text("Wash-house tent")),
            Setting("width", "width_m", _LENGTH),
            Setting("depth", "depth_m", _LENGTH),
            Setting("height", "height_m", _LENGTH),
            Setting("floor", "floor", _text("single sheet, no film")),
            Setting("exhaust_flow", "exhaust_m3_h", _from_text(flow_m3_h, "118 cfm")),
            Setting("exhaust_flow_is", "exhaust_flow_is", _one_of("rated", "measured"), '`"rated"` or `"measured"`'),
            Setting("humidity", "humidity_pct", _from_text(humidity_range, "85–95 %"), "the range wanted"),
            Setting("temperature", "temperature_c", _from_text(temperature_range, "12–18 °C"), "the range wanted"),
        ),
        "climate": (
            Setting("files", "files", _from_text(_files, "climate/wash-house-*.csv"), required=True),
            Setting("tent", "tent", _from_text(lambda text: Parsed(parse_id(text)), "wash-house"), required=True),
            Setting("time", "time", _text("Time"), "name of a column"),
            Setting("temperature", "temperature", _text("Temp (°C)"), "name of a column"),
            Setting("humidity", "humidity", _text("RH (%)"), "name of a column"),
            Setting("time_zone", "time_zone", _from_text(_zone, "Europe/London")),
            Setting("time_format", "time_format", _text("%d/%m/%Y %H:%M")),
            Setting("temperature_unit", "temperature_unit", _from_text(_degrees_c_or_f, "°C")),
            Setting("humidity_accuracy", "humidity_accuracy_pct", _from_text(percentage, "3 %", or_number=True)),
        ),
        "map": (
            Setting("file", "file", _from_text(_files, "maps/alder-bank.jpg"), required=True),
            Setting("points", "points", map_points, f"three or more, like `{MAP_POINT}`", required=True),
        ),
        "shares.NAME": (
            Setting("about", "about", _ids, required=True),
            Setting("since", "since", _day),
            Setting("positions", "positions", _one_of("hidden", "area", "exact")),
            Setting("area", "area_deg", _from_text(_area_deg, "0.1°", or_number=True)),
            Setting("times", "times", _one_of("day", "minute")),
            Setting("by", "by", _switch),
            Setting("texts", "texts", _one_of("grown", "all"), '`"grown"` or `"all"`: also the texts of finds'),
            Setting("locked", "locked", _switch),
        ),
        "labels": (
            Setting("size", "size", _text("jar"), "the usual one: `dish`, `jar`, `block` or one of your own"),
            Setting("sheet", "sheet", _from_text(_sheet, "A4"), '`"A4"` or `"Letter"`'),
            Setting("check_character", "has_check", _switch, "`true`: an ID is printed with its check character"),
        ),
        "reserved": (
            Setting("kind", "kind", _one_of("find", "culture", "batch", "device"), required=True),
            Setting(
                "ids",
                "ids",
                _ids,
                "IDs that no other entry gets; `journal labels --new` writes them",
                required=True,
            ),
        ),
    }
)
"""Every setting by the table it stands in. [ingredients], [names] and [tents.NAME.every] have names of the author's
own."""

_TABLES = (
    "journal",
    "ingredients",
    "names",
    "tents",
    "climate",
    "shares",
    "camera_clocks",
    "map",
    "labels",
    "reserved",
)


def _table(toml: Toml, at: tuple[str, ...], table: Any, example: str) -> Mapping[str, Any]:
    """A table of the document; what is none is reported and counts as empty. example: what to write instead."""
    if isinstance(table, dict):
        return table
    toml.report(at, "error", f"{at[-1]} is not a table", f"write {example}")
    return {}


def _named_values(toml: Toml, at: tuple[str, ...], table: Mapping[str, Any], read: Reader) -> list[tuple[str, Any]]:
    """The values of a table whose names are the author's own."""
    values = ((name.strip(), toml.read_value((*at, name), written, read)) for name, written in table.items())
    return [(name, value) for name, value in values if value is not None]


def _ingredients(toml: Toml) -> list[tuple[str, float]]:
    at = ("ingredients",)
    table = _table(toml, at, toml.document.get("ingredients", {}), "[ingredients], then names below")
    return _named_values(toml, at, table, _from_text(_dry_share, "93 %", or_number=True))


def _names(toml: Toml) -> list[tuple[str, str]]:
    at = ("names",)
    table = _table(toml, at, toml.document.get("names", {}), "[names], then your names below")
    return _named_values(toml, at, table, _text("Pleurotus pulmonarius"))


_CLOCK = re.compile(r"(?P<off>.+?) (?P<way>slow|fast)(?: from (?P<first>\S+))?(?: until (?P<last>\S+))?")
_CLOCK_EXAMPLE = "47 min slow from 2026-09-12 until 2026-09-14"


def _camera_clocks(toml: Toml) -> Iterator[CameraClock]:
    at = ("camera_clocks",)
    example = f'[camera_clocks], then "the camera\'s name" = "{_CLOCK_EXAMPLE}"'
    for name, written in _table(toml, at, toml.document.get("camera_clocks", {}), example).items():
        read = toml.read_value((*at, name), written, _from_text(_clock_off, _CLOCK_EXAMPLE))
        if read is not None:
            add_min, first, last = read
            yield CameraClock(camera=name.strip(), add_min=add_min, first=first, last=last)


def _clock_off(text: str) -> Parsed[tuple[float, date | None, date | None]]:
    found = _CLOCK.fullmatch(" ".join(text.split()))
    if found is None:
        raise Unreadable(f"{shortened(text)} does not say how far a clock is off", f'write it like "{_CLOCK_EXAMPLE}"')
    minutes = _above_zero(duration_min)(found["off"])
    first, last = (_day(found[name]).value if found[name] else None for name in ("first", "last"))
    if first and last and first > last:
        raise Unreadable(f"{shortened(text)} ends before it begins", "write the earlier day first")
    return minutes.then(lambda value: (value if found["way"] == "slow" else -value, first, last))


def _labels(toml: Toml) -> LabelSettings:
    table = _table(toml, ("labels",), toml.document.get("labels", {}), "[labels], then its settings below")
    at = ("labels", "sizes")
    own = _table(toml, at, table.get("sizes", {}), '[labels.sizes], then "slant" = "40 x 20 mm"')
    sizes = _named_values(toml, at, own, _from_text(lambda text: Parsed(parse_label_size(text)), "40 x 20 mm"))
    values = toml.read_table(("labels",), {k: v for k, v in table.items() if k != "sizes"}, SETTINGS["labels"])
    rows = [toml.read_table(at, row, SETTINGS["reserved"]) for at, row in _rows(toml, "reserved")]
    reserved = [(row["kind"], id) for row in rows if {"kind", "ids"} <= row.keys() for id in row["ids"]]
    named = tuple(replace(size, name=name) for name, size in sizes)
    return LabelSettings(**values, sizes=named, reserved=tuple(reserved))


def _tents(toml: Toml) -> Iterator[Tent]:
    taken: set[str] = set()
    for name, table in toml.subtables("tents").items():
        at = ("tents", name)
        if (id := toml.read_value(at, name, lambda text: Parsed(parse_id(text)))) is None:
            continue
        if id.lower() in taken:
            message = f"there is another tent {id}; capital letters make no difference"
            toml.report(at, "error", message, "rename one of them")
            continue
        taken.add(id.lower())
        example = f'[{".".join(at)}.every], then tank = "7 d"'
        services = _table(toml, (*at, "every"), table.get("every", {}), example)
        every = _named_values(toml, (*at, "every"), services, _from_text(_above_zero(duration_d), "7 d"))
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
            if near := nearest(name, tents.values()):
                toml.report((*at, "tent"), "error", message, f"write {near}, if you mean that")
            else:
                toml.report((*at, "tent"), "error", message, f"add [tents.{name}]", tent_block(name))
        if "tent" in values and "files" in values:
            yield ClimateSource(**{**values, "tent": tents[values["tent"].lower()]})


def _maps(toml: Toml) -> Iterator[OwnMap]:
    written = toml.document.get("map", [])
    rows = written if isinstance(written, list) else [written]
    for at, table in enumerate(rows):
        where = ("map", str(at)) if isinstance(written, list) else ("map",)
        if not isinstance(table, dict):
            _table(toml, ("map",), table, "[[map]], then its settings below")
            continue
        values = toml.read_table(where, table, SETTINGS["map"])
        if {"file", "points"} <= values.keys():
            yield OwnMap(**values)


def _shares(toml: Toml) -> Iterator[Share]:
    for name, table in toml.subtables("shares").items():
        before = len(toml.problems)
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
