"""What a value of the settings may be, and how it is read from its TOML value."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from journal.problems import Unreadable, nearest, shortened
from journal.quantities import Parsed, percentage
from journal.reading.values import parse_id, text_value, yes_or_no
from journal.settings import FORMAT

SettingReader = Callable[[Any], Parsed[Any]]
"""Takes the TOML value, gives the typed one; raises Unreadable."""


@dataclass(frozen=True, slots=True)
class FromText:
    """Reads a setting that is written in quotation marks. or_number: a bare number is accepted too."""

    read: Callable[[str], Parsed[Any]]
    example: str
    or_number: bool = False

    def __call__(self, written: Any) -> Parsed[Any]:
        if self.or_number and isinstance(written, int | float) and not isinstance(written, bool):
            written = str(written)
        if not isinstance(written, str):
            fix = f'write text in quotation marks, like "{self.example}"'
            raise Unreadable(f"{_shown(written)} is {_kind_of(written)}", fix)
        return self.read(written.strip())


def from_text(read: Callable[[str], Parsed[Any]], example: str, or_number: bool = False) -> FromText:
    """A reader of text in quotation marks, as `FromText`."""
    return FromText(read, example, or_number)


def _shown(written: Any) -> str:
    if isinstance(written, bool):
        return str(written).lower()
    return shortened(written) if isinstance(written, str) else shortened(str(written)).strip('"')


def _kind_of(written: Any) -> str:
    names = {bool: "true or false", int: "a number", float: "a number", list: "a list", dict: "a table", str: "text"}
    return names.get(type(written), "a date or time")


def filled(text: str) -> Parsed[str]:
    if not text:
        raise Unreadable("there is nothing between the quotation marks", "write something, or remove the line")
    return text_value(text)


def some_text(example: str) -> SettingReader:
    return from_text(filled, example)


def one_of(*words: str) -> SettingReader:
    def read(text: str) -> Parsed[str]:
        if text.casefold() not in words:
            near = nearest(text[:60], words)
            fix = f"write {near}, if you mean that; " if near else ""
            raise Unreadable(f"{shortened(text)} is not known", f"{fix}write one of {', '.join(words)}")
        return Parsed(text.casefold())

    return from_text(read, words[0])


def zone_named(text: str) -> Parsed[str]:
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


def day_written(written: Any) -> Parsed[date]:
    if isinstance(written, datetime):
        return Parsed(written.date())
    if isinstance(written, date):
        return Parsed(written)
    try:
        return Parsed(date.fromisoformat(written if isinstance(written, str) and len(written) == 10 else ""))
    except ValueError:
        raise Unreadable(f"{_shown(written)} is not a day", "write it like 2026-09-01") from None


def format_number(written: Any) -> Parsed[int]:
    if isinstance(written, bool) or not isinstance(written, int) or written < 1:
        raise Unreadable(f"{_shown(written)} is not a format of a journal", f"write format = {FORMAT}")
    return Parsed(written)


def true_or_false(written: Any) -> Parsed[bool]:
    if isinstance(written, bool):
        return Parsed(written)
    if isinstance(written, str):
        return yes_or_no(written)
    raise Unreadable(f"{_shown(written)} is {_kind_of(written)}", "write true or false")


def web_address(text: str) -> Parsed[str]:
    if not re.fullmatch(r"https?://[^\s/]\S*", text):
        raise Unreadable(f"{shortened(text)} is not a web address", "write it like https://journal.example")
    return Parsed(text)


def currency_code(text: str) -> Parsed[str]:
    code = text.strip().upper()
    if not re.fullmatch(r"[A-Z]{3}", code):
        raise Unreadable(f"{shortened(text)} is not a code of ISO 4217", "write its three letters, like GBP")
    return Parsed(code)


def above_zero(read: Callable[[str], Parsed[float]]) -> Callable[[str], Parsed[float]]:
    def reader(text: str) -> Parsed[float]:
        found = read(text)
        if found.value <= 0:
            raise Unreadable(f"{shortened(text)} is not above zero", "write the measured value")
        return found

    return reader


def dry_share(text: str) -> Parsed[float]:
    found = percentage(text)
    if not 0 <= found.value <= 100:
        raise Unreadable(f"{shortened(text)} is outside 0 to 100 %", "write the dry share, like 93 %")
    if 0 < found.value <= 1:
        found = found.noting(f"{shortened(text)} was read as {found.value:g} %", f"write {found.value * 100:g} %")
    return found.then(lambda pct: pct / 100)


def files_within(text: str) -> Parsed[str]:
    plain = filled(text).value.replace("\\", "/")
    if plain.startswith("/") or ":" in plain or ".." in plain.split("/"):
        raise Unreadable("it is outside the journal folder", "name files in it, like climate/wash-house-*.csv")
    return Parsed(plain)


def ids_written(written: Any) -> Parsed[tuple[str, ...]]:
    names = written if isinstance(written, list) else [written]
    if not all(isinstance(name, str) for name in names):
        raise Unreadable("this is not a list of IDs", 'write it like ["B-031", "PP-26A"]')
    return Parsed(tuple(dict.fromkeys(parse_id(name) for name in names)))


def area_side_deg(text: str) -> Parsed[float]:
    size = text.strip().removesuffix("°").strip().replace(",", ".")
    found = next((deg for deg in (1.0, 0.1, 0.01, 0.001) if size in {f"{deg:g}", str(deg)}), None)
    if found is None:
        raise Unreadable(f"{shortened(text)} is not a size of an area", "write 1°, 0.1°, 0.01° or 0.001°")
    return Parsed(found)


def unit_of_temperature(text: str) -> Parsed[str]:
    unit = text.replace("°", "").strip().upper()
    if unit not in {"C", "F"}:
        raise Unreadable(f"{shortened(text)} is not a unit of temperature", "write °C or °F")
    return Parsed(f"°{unit}")


def paper(text: str) -> Parsed[str]:
    return one_of("a4", "letter")(text).then(lambda name: {"a4": "A4", "letter": "Letter"}[name])
