"""Core logs: CSV files of the temperature within a load while it was sterilised or pasteurised, named by entries."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable
from dataclasses import dataclass, replace

from journal.logged import LoggerFile
from journal.problems import Problem, Unreadable, nearest_file, shortened
from journal.reading.entries import Draft
from journal.reading.folder import nfc
from journal.reading.logger_files import read_log
from journal.reading.logger_layout import Layout, layout_of, order_of
from journal.reading.photo_claims import path_from
from journal.settings import ClimateSource

KEY = "core log"


@dataclass(frozen=True, slots=True)
class NamedLog:
    """A core log that the entry at `entry` names: its path, and its column; None: the one that holds temperatures."""

    entry: str
    path: str
    column: str | None


def core_logs_named(
    drafts: Iterable[Draft], csv_paths: Iterable[str]
) -> tuple[tuple[NamedLog, ...], tuple[Problem, ...]]:
    """The core logs that entries name and the journal holds, in the order of the entries; a problem for each other."""
    known = {nfc(path): path for path in csv_paths}
    named: list[NamedLog] = []
    problems: list[Problem] = []
    for draft in drafts:
        if KEY not in draft.values:
            continue
        written, column = draft.values[KEY]
        path = nfc(path_from(draft, written))
        if path in known:
            named.append(NamedLog(draft.path, known[path], column))
        else:
            beside = [posixpath.basename(one) for one in known if posixpath.dirname(one) == posixpath.dirname(path)]
            near = nearest_file(path, beside)
            fix = f"write {near}, if you mean that" if near else "put the file next to the entry"
            message = f"{KEY}: there is no file {shortened(written)} next to this entry"
            problems.append(Problem(draft.path, draft.lines.get(KEY, 0), "error", message, fix))
    return tuple(named), tuple(problems)


def read_core_log(path: str, data: bytes, column: str | None, zone_name: str) -> tuple[LoggerFile, tuple[Problem, ...]]:
    """The readings of a core log, in time order, as `read_log` gives them, with the columns that the file itself shows.
    column: that of the temperature, where the entry names it. Never raises for what the file holds."""
    try:
        layout = layout_of(data)
        source, remarks = _source_of(layout, path, column)
    except Unreadable as fault:
        return LoggerFile(path=path, tent=""), (Problem(path, 0, "error", fault.message, fault.fix),)
    log, problems = read_log(path, data, source, zone_name)
    return log, (*remarks, *problems)


def _source_of(layout: Layout, path: str, column: str | None) -> tuple[ClimateSource, tuple[Problem, ...]]:
    """How the file is read, and what is supposed of it. Unreadable where it leaves that open."""
    if column is None:
        column = _only(layout)
    time = layout.times[0]
    formats = layout.formats(time)
    if len(formats) > 1:
        orders = " or ".join(order_of(one) for one in formats if one)
        message = f"in the times of this file it is open whether {orders}"
        raise Unreadable(message, "write them like 2026-10-05 14:05")
    source = ClimateSource(files=path, tent="", time=time, temperature=column)
    source = replace(source, time_format=formats[0] if formats else None)
    is_there = any(one.name == column for one in layout.columns)
    if not is_there or layout.unit(column)[1]:
        return source, ()
    message = f"the column {shortened(column)} names no unit, so °C is used"
    problem = Problem(path, layout.table.header_line, "warning", message, f"write {column} (°C) or {column} (°F) there")
    return replace(source, temperature_unit="°C"), (problem,)


def _only(layout: Layout) -> str:
    """The one column that may hold the temperature."""
    names = layout.temperatures or tuple(column.name for column in layout.columns if column.is_number)
    if not names:
        raise Unreadable("this file has no column of numbers", "export it with times and temperatures")
    if len(names) > 1:
        message = f"this file has {len(names)} columns that may be the temperature: {', '.join(names)}"
        raise Unreadable(message, f"name one in the entry, like `{KEY}: core.csv: {names[0]}`")
    return names[0]
