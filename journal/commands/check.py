"""`journal check`: the problems as lines or as JSON, their summary, and how the lines of one file were read."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from journal.amounts import exact_mass
from journal.cache.last_build import Findings
from journal.commands.console import plain, plain_json, problem_counts, problem_lines
from journal.commands.workspace import Workspace
from journal.geo.format import degrees_of
from journal.model import Colony, Entry, Journal, MixPart, Next, Note, PhotoUse, Position, Ref, When
from journal.problems import Problem, Refusal, nearest
from journal.quantities import Mass, Money, counted
from journal.reading.consistency import stated_date
from journal.reading.entries import Draft
from journal.reading.keys import KEYS, Key
from journal.settings import Exhaust, LightHours, ValueRange
from journal.site import wording

if TYPE_CHECKING:
    from journal.pipeline import ReadJournal


def check_journal(workspace: Workspace, as_json: bool) -> int:
    """Prints every problem, and then their summary; returns the exit code: 1 if there is an error."""
    found = workspace.check()
    if as_json:
        document = {"folder": str(workspace.root), "problems": _rows(found.problems), "summary": _counts(found)}
        click.echo(plain_json(json.dumps(document, ensure_ascii=False, indent=1)).encode())
    else:
        for line in problem_lines(found.problems):
            click.echo(line)
        click.echo(summary(found))
    return _exit_code(found.problems)


def _rows(problems: tuple[Problem, ...]) -> list[dict[str, Any]]:
    return [asdict(problem) | {"line": problem.line or None} for problem in problems]


def _exit_code(problems: tuple[Problem, ...]) -> int:
    return int(any(problem.severity == "error" for problem in problems))


def _counts(found: Findings) -> dict[str, int]:
    errors = sum(problem.severity == "error" for problem in found.problems)
    return {
        "errors": errors,
        "warnings": len(found.problems) - errors,
        "files_with_problems": len({problem.path for problem in found.problems}),
        "entries": found.entries,
        "photos": found.photos,
        "logger_files": found.logger_files,
    }


def summary(found: Findings) -> str:
    """What was read, and how many problems in how many files; if there are any, what they mean."""
    count = _counts(found)
    read = (
        f"{counted(count['entries'], 'entry', 'entries')}, {counted(count['photos'], 'photo')} and "
        f"{counted(count['logger_files'], 'logger file')} read"
    )
    if not found.problems:
        return f"{read}: no problems"
    lines = [f"{read}: {problem_counts(found.problems)} in {counted(count['files_with_problems'], 'file')}"]
    if count["errors"]:
        lines.append("What an error is about is left out until you fix it.")
    lines.append("How the lines of an entry were read: journal check --explain FILE")
    return "\n".join(lines)


def explain_file(workspace: Workspace, named: Path) -> int:
    """Prints the lines of an entry's file, each with how it was read; returns 1 if there is an error in it.

    named: from the current folder, or from the journal's. Raises Refusal if it is not an entry's file of the journal.
    """
    read = workspace.read_whole()
    path = _path_in(workspace.root, named)
    draft = next((draft for draft in read.written.drafts if draft.path == path), None)
    if draft is None:
        near = nearest(path, (draft.path for draft in read.written.drafts))
        also = f"; did you mean {near}?" if near else "; name the Markdown file of an entry"
        raise Refusal(f"{named} is not an entry of this journal{also}")
    lines = (workspace.root / path).read_bytes().decode("utf-8-sig", "replace").splitlines()
    for line in explained(read, draft, lines):
        click.echo(plain(line))
    return _exit_code(tuple(problem for problem in read.journal.problems if problem.path == path))


def _path_in(root: Path, named: Path) -> str:
    for one in (named, root / named):
        if one.is_file() and one.resolve().is_relative_to(root):
            return one.resolve().relative_to(root).as_posix()
    return named.as_posix()


def explained(read: ReadJournal, draft: Draft, lines: list[str]) -> Iterator[str]:
    """The lines of an entry's front matter, each followed by what it was read as and by its problems; then what the
    entry gets from elsewhere. lines: of its file."""
    journal = read.journal
    entry = next((entry for entry in journal.entries() if entry.path == draft.path), None)
    problems = [problem for problem in journal.problems if problem.path == draft.path]
    names = {line: name for name, line in draft.lines.items()}
    last = max(1, draft.text_line - 2) if draft.kind or draft.lines else len(lines)
    yield draft.path if entry else f"{draft.path}: left out of the journal; the errors say why"
    for number, line in enumerate(lines[1:last], 2):
        here = [problem for problem in problems if problem.line == number]
        yield f"{number:4}  {line}"
        yield from (f"      {words}" for words in _read_as(journal, draft, entry, names.get(number), here))
        if line.endswith(":") and number not in names and not here:
            yield "      = nothing, for no value is written"
    if draft.text.strip():
        yield f"{draft.text_line:4}  … the text, {counted(len(draft.text.splitlines()), 'line')}"
    for problem in problems:
        if problem.line < 2 or problem.line > last:
            yield f"{problem.line or '':4}  {problem.severity}: {problem.sentence}"
    elsewhere = list(_from_elsewhere(journal, draft, entry)) if entry else []
    if elsewhere:
        yield "Not written, and known all the same:"
        yield from (f"      {words}" for words in elsewhere)


def _read_as(
    journal: Journal, draft: Draft, entry: Entry | None, name: str | None, here: list[Problem]
) -> Iterator[str]:
    """Of the line on which a key stands. here: the problems of that line."""
    key = KEYS.get(draft.kind or "", {}).get(name or "")
    if key and key.name in draft.values and not any(problem.severity == "error" for problem in here):
        value = entry.stage if key.name == "stage" and isinstance(entry, Note) else draft.values[key.name]
        yield f"= {key.name}: {in_words(value, key, journal)}"
    yield from (f"{problem.severity}: {problem.sentence}" for problem in here)


def _from_elsewhere(journal: Journal, draft: Draft, entry: Entry) -> Iterator[str]:
    """What the entry has that is not in its front matter, and where it comes from."""
    for key in KEYS[entry.kind].values():
        value = getattr(entry, key.field, None) if key.field else None
        if key.name not in draft.lines and value not in (None, (), "", False) and key.name != "by":
            yield f"{key.name}: {in_words(value, key, journal)} ({_source(key, value, draft)})"


def _source(key: Key, value: object, draft: Draft) -> str:
    if key.name == "date":
        return "from the name of its file or folder" if value == stated_date(draft, ()) else "from its first photo"
    if isinstance(value, Position):
        return f"from a {value.source}"
    return {
        "title": "made from the rest",
        "photos": "beside it, or in its text",
        "about": "the one entry of its folder that is not a note",
        "species": "from what it was taken from",
        "method": "by what it was taken from",
        "dry mass": "calculated for a unit",
    }.get(key.name, "as long as nothing is written")


def in_words(value: object, key: Key, journal: Journal) -> str:
    """A value as it was read, in the journal's units. key: what it is a value of."""
    if isinstance(value, tuple) and key.several:
        return "; ".join(_one_in_words(one, key, journal) for one in value)
    return _one_in_words(value, key, journal)


def _one_in_words(value: object, key: Key, journal: Journal) -> str:
    match value:
        case bool():
            return "yes" if value else "no"
        case float():
            return _number(value, key, journal.settings.units)
        case Mass():
            return f"{exact_mass(value.g, journal.settings.units)} {'in all' if value.in_all else 'a unit'}"
        case Money():
            return wording.money(value.amount, journal.settings.currency)
        case Colony():
            plate = "" if value.part is None else f"{value.part}: "
            return f"{plate}{' × '.join(map(wording.number, value.across_mm))} mm"
        case MixPart():
            return f"{value.name} {exact_mass(value.mass_g, journal.settings.units)}"
        case ValueRange() if key.notation == "temperature range":
            return wording.temperature_range(value, journal.settings.units)
        case ValueRange():
            return wording.humidity_range(value)
        case When():
            return wording.when_in_words(value)
        case Next():
            return f"{wording.day_in_words(value.date)}: {value.text}" if value.date else f"on no day: {value.text}"
        case Position():
            within = (
                ""
                if value.uncertainty_m is None
                else f" ±{wording.radius(value.uncertainty_m, journal.settings.units)}"
            )
            return degrees_of(value) + within
        case LightHours():
            return wording.light(value)
        case Exhaust():
            return wording.exhaust(value)
        case PhotoUse():
            return value.path
        case (str(name), caption):
            return f"{name}, with the words “{caption}”" if caption else name
        case Ref() | str() if key.notation in ("id", "reference") and key.name != "id":
            id, dot, part = str(value).partition(".")
            named = journal.by_id.get(id.lower())
            return f"{named.id}{dot}{part}, a {getattr(named, 'kind', 'tent')}" if named else str(value)
    return str(value)


def _number(value: float, key: Key, units: wording.Units) -> str:
    match key.notation:
        case "mass" | "mass of a lot":
            return exact_mass(value, units)
        case "length" | "elevation":
            return wording.length(value, units)
        case "temperature":
            return wording.temperature(value, units)
        case "colour temperature":
            return f"{wording.number(value, 0)} K"
        case "co2":
            return f"{wording.number(value, 0)} ppm"
        case "minutes":
            return f"{wording.number(value)} min"
        case "energy":
            return f"{wording.number(value, 2)} kWh"
        case "volume":
            return f"{wording.number(value)} ml"
        case "light level":
            return f"{wording.number(value, 0)} lux"
    return wording.percent(value)
