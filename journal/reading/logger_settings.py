"""Logger files that no [[climate]] names: which they are, and the block of settings that reads each."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import suppress
from fnmatch import fnmatchcase

from journal.model import LoggerFile
from journal.problems import Problem, Unreadable
from journal.reading.folder import nfc
from journal.reading.listing import SETTINGS_NAME
from journal.reading.logger_layout import Layout, layout_of, order_of
from journal.reading.settings_file import tent_block
from journal.reading.toml_tables import toml_string
from journal.reading.values import parse_id
from journal.settings import ClimateSource, Settings, Tent


def unclaimed(claims: Iterable[tuple[str, ClimateSource]], csv_paths: Sequence[str]) -> dict[str, list[str]]:
    """The CSV files in a folder `climate` that no source claims, by the pattern that would claim similar ones."""
    claimed = {path for path, _ in claims}
    groups: dict[str, list[str]] = {}
    for path in csv_paths:
        if path not in claimed and "climate" in path.casefold().split("/")[:-1]:
            groups.setdefault(pattern_of(path, claimed), []).append(path)
    return groups


def read_unclaimed(
    path: str, data: bytes, pattern: str, count: int, settings: Settings
) -> tuple[LoggerFile, tuple[Problem, ...]]:
    """A log without readings, and the problem of files that no source claims, with the settings that would read them.

    data: of one of them, at `path`. count: how many fit the pattern.
    """
    tents = tents_for(path, settings.tents)
    files = "this file" if count == 1 else f"this file and {count - 1} more like it"
    message = f"no [[climate]] in {SETTINGS_NAME} names {files}, so no readings are taken from there"
    try:
        source = ClimateSource(files=pattern, tent=tents[0])
        block = climate_block(layout_of(data), source, settings.time_zone, tents)
    except Unreadable as fault:
        problem = Problem(path, 0, "warning", f"{message}; {fault.message}", fault.fix)
    else:
        paste = block if settings.tents else f"{tent_block(tents[0])}\n\n{block}"
        fix = f"run `journal logger {path}`, or add the lines below to {SETTINGS_NAME}"
        problem = Problem(path, 0, "warning", message, fix, paste)
    return LoggerFile(path=path, tent="", digest=""), (problem,)


def pattern_of(path: str, claimed: Collection[str]) -> str:
    """The value of `files` for a logger's file and similar ones: `climate/hut-*.csv` for `climate/hut-2026-11.csv`.

    Only what looks like a date is replaced; if the pattern would match a file that is already claimed, it is the path
    itself.
    """
    folder, file = posixpath.split(path)
    stem, suffix = posixpath.splitext(file)
    own = "".join(f"[{char}]" if char in "[*?" else "?" if char in ":\\" else char for char in path)
    name, date = _dated(stem)
    if not re.search(r"[^\W\d_]", name) or len(re.findall(r"\d", date)) < _FEWEST_DIGITS_OF_A_DATE:
        return own
    wide = posixpath.join(folder, f"{name}*{suffix}")
    return own if set(wide) & set("[?:\\") or any(fnmatchcase(other, wide) for other in claimed) else wide


_FEWEST_DIGITS_OF_A_DATE = 4
_DATE_BACKWARDS = re.compile(r"(?:[\W\d_]|(?<=\d)T)*+")


def _dated(stem: str) -> tuple[str, str]:
    """A file's name and the date at its end, from its first digit: `wash-house-` and `2026-11`."""
    backwards = _DATE_BACKWARDS.match(stem[::-1])
    tail = backwards[0][::-1] if backwards else ""
    date = tail[next((at for at, char in enumerate(tail) if char.isdigit()), len(tail)) :]
    return stem[: len(stem) - len(date)], date


def tents_for(path: str, tents: Sequence[Tent]) -> tuple[str, ...]:
    """The IDs of the tents, those named in the file's path first; one made from the file's name if there are none
    yet."""
    plain = nfc(path).casefold()
    named = [tent.id for tent in tents if tent.id.casefold() in plain or tent.name.casefold() in plain]
    if not tents:
        stem = _dated(posixpath.splitext(posixpath.basename(path))[0])[0].rstrip("-_. ")
        with suppress(Unreadable):
            return (parse_id(re.sub(r"[\s_]+", "-", stem.casefold())),)
        return ("tent-1",)
    return tuple(dict.fromkeys([*named, *(tent.id for tent in tents)]))


def climate_block(layout: Layout, source: ClimateSource, zone_name: str, tents: Sequence[str] = ()) -> str:
    """The lines of settings that read a file: from `source`, else from the file; what is open is a comment.

    source: its `files` and `tent` are used as they are. zone_name: the journal's. tents: others the logger may have
    been in.
    """
    time = source.time or layout.times[0]
    temperature = source.temperature or next(iter(layout.temperatures), None)
    humidity = source.humidity or next(iter(layout.humidities), None)
    rows: list[_Line] = [("files", source.files, ""), ("tent", source.tent, _or(tents, source.tent))]
    rows.append(("time", time, _or(layout.times, time)))
    rows += _format_lines(layout, time, source.time_format)
    rows.append(("temperature", temperature, _or(layout.temperatures, temperature)))
    if temperature is not None:
        rows += _unit_lines(layout, temperature, source.temperature_unit)
    rows.append(("humidity", humidity, _or(layout.humidities, humidity)))
    if source.humidity_accuracy_pct is not None:
        rows.append(("humidity_accuracy", f"{source.humidity_accuracy_pct:g} %", ""))
    elif humidity is not None:
        rows.append(("# humidity_accuracy", "3 %", _ACCURACY))
    if source.time_zone:
        rows.append(("time_zone", source.time_zone, ""))
    else:
        rows.append(("# time_zone", "UTC", f"if the logger's clock is not set to {zone_name}"))
    numbers = ", ".join(f"{one.name} (like {one.example})" for one in layout.columns if one.is_number)
    parted = "tabs" if layout.table.delimiter == "\t" else toml_string(layout.table.delimiter)
    lines = [("[[climate]]", f"readings from {layout.example(time)} on; columns separated by {parted}")]
    for name, value, remark in rows:
        shown, missing = f"{name} = {toml_string(value or '')}", f"one of: {numbers or 'no column'}"
        lines.append((shown, remark) if value else (f"# {shown}", missing))
    width = max(len(line) for line, remark in lines if remark) + 2
    return "\n".join(f"{line:<{width}}# {remark}" if remark else line for line, remark in lines)


_ACCURACY = "as its maker says; nearer to the range's end is too close to call"

_Line = tuple[str, str | None, str]
"""Name, value (None: not known) and remark of one setting; a name with `# ` before it is a comment."""


def _format_lines(layout: Layout, time: str, time_format: str | None) -> Iterator[_Line]:
    formats = (time_format,) if time_format else layout.formats(time)
    if not formats:
        yield "# time_format", "%d/%m/%Y %H:%M", "the times are not all written in one way"
    for wanted in filter(None, formats):
        if len(formats) == 1:
            yield "time_format", wanted, f"like {layout.example(time)}"
        else:
            yield "# time_format", wanted, f"if {order_of(wanted)}: no day in the file exceeds 12"


def _unit_lines(layout: Layout, temperature: str, asked: str | None) -> Iterator[_Line]:
    unit, is_named = layout.unit(temperature)
    if asked:
        yield "temperature_unit", asked, ""
    elif unit and not is_named:
        yield "temperature_unit", unit, "by its values"
    elif unit is None:
        yield "# temperature_unit", "°C", 'or "°F": neither its name nor its values say'


def _or(names: Sequence[str], taken: str | None) -> str:
    others = [toml_string(name) for name in names if name != taken]
    return f"or {', '.join(others)}" if others and taken is not None else ""
