"""`journal logger`: asks how a logger's file is to be read, and adds the answer to journal.toml."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

import click

from journal.atomic_write import write_atomically
from journal.cache.folders import journal_folder, not_a_journal
from journal.commands.console import Output, plain, problem_lines, sentence_of
from journal.commands.prompts import NONE, ask_one_of, ask_text, ask_yes, zone_named
from journal.model import LoggerFile
from journal.problems import Problem, Refusal, Unreadable
from journal.quantities import counted, percentage
from journal.reading.consistency import doubts_of_readings
from journal.reading.csv_tables import stamp_reader
from journal.reading.dates import journal_zone
from journal.reading.folder import LARGEST_BYTES, kind_of_file, scan, too_large
from journal.reading.listing import SETTINGS_NAME, journal_around
from journal.reading.logger_files import files_of, read_log
from journal.reading.logger_layout import Layout, layout_of, order_of, stamp_fits
from journal.reading.logger_settings import climate_block, pattern_of, tents_for, unclaimed
from journal.reading.settings_file import read_settings, tent_block
from journal.reading.toml_tables import addition_to
from journal.reading.values import parse_id
from journal.settings import ClimateSource, Settings

CLIMATE = "climate"
"""The folder that a logger's file from elsewhere is copied into."""


@dataclass(frozen=True, slots=True)
class LoggerAnswers:
    """Answers given by options; None is asked for. yes: whether to add the lines without asking."""

    tent: str | None = None
    time: str | None = None
    temperature: str | None = None
    humidity: str | None = None
    humidity_accuracy: str | None = None
    day_first: bool | None = None
    time_zone: str | None = None
    yes: bool = False


def journal_of(file: Path, folder: Path | None) -> Path:
    """The journal's folder: the one named, else the one around the current folder, else the one around the file."""
    if folder is not None:
        return journal_folder(folder)
    here = str(Path().resolve())
    root = journal_around(here) or journal_around(str(file.resolve().parent))
    if root is None:
        raise not_a_journal(Path(here))
    Output().name_journal(Path(root))
    return Path(root)


def connect(file: Path, root: Path, answers: LoggerAnswers) -> None:
    """Shows the lines of settings that read a file, asks for what it leaves open, and adds them after a yes.

    Nothing else of journal.toml changes. A file from outside the journal is copied into its folder `climate`. Raises
    Refusal if the file or the settings cannot be used, or if an open question cannot be asked.
    """
    file = root / file if (root / file).exists() and not file.exists() else file
    data = _bytes_of(file)
    written, settings = _settings_of(root)
    path = _path_in(root, file)
    claims, _ = files_of(settings.climate, [path])
    if claims:
        _say_how_read(path, data, claims[0][1], settings)
        return
    try:
        layout = layout_of(data)
    except Unreadable as fault:
        raise Refusal(f"{file}: {fault.message}; {fault.fix}") from None
    claimed = [claim for claim, _ in files_of(settings.climate, [csv.path for csv in scan(root).csvs])[0]]
    source = _asked(file, layout, ClimateSource(files=pattern_of(path, claimed), tent=""), settings, path, answers)
    block = climate_block(layout, source, settings.time_zone)
    if source.tent not in {tent.id for tent in settings.tents}:
        block = f"{tent_block(source.tent)}\n\n{block}"
    addition = addition_to(written, block)
    settings, source = _as_it_will_be(root, written + addition, source)
    click.echo("\n".join(plain(line) for line in block.splitlines()))
    outside = root / path != file.resolve()
    copying = f", and copy the file to {path}" if outside else ""
    if not (answers.yes or ask_yes(f"Add these lines to {SETTINGS_NAME}{copying}?")):
        click.echo(f"{SETTINGS_NAME} was not changed.", err=True)
        return
    if outside:
        _copy(data, root / path)
    now = (root / SETTINGS_NAME).read_bytes()  # the author may have changed it while they were asked
    write_atomically(root / SETTINGS_NAME, now + addition)
    click.echo(f"The lines were added to {plain(str(root / SETTINGS_NAME))}.", err=True)
    _say_how_read(path, data, source, settings)


def offer(root: Path, named: Path | None, asking: bool) -> None:
    """Connects a logger's file, or each one that is already in a new journal; asks for one if there is none. A file
    that cannot be read is reported and skipped. named: by an option. asking: whether other questions were asked too."""
    csvs = [csv.path for csv in scan(root).csvs]
    files = [named] if named else [root / paths[-1] for paths in unclaimed((), csvs).values()]
    if asking and not files:
        answer = ask_text("A CSV file of your data logger, if you have one", NONE).strip("'\"")
        files = [] if answer.casefold() == NONE else [Path(answer).expanduser()]
    for file in files:
        try:
            connect(file, root, LoggerAnswers())
        except Refusal as refusal:
            click.echo(plain(f"{sentence_of(refusal)} `journal logger FILE {root}` asks again."), err=True)


def _bytes_of(file: Path) -> bytes:
    if not file.is_file():
        raise Refusal(f"there is no file {file}; name the CSV file that the logger wrote")
    if kind_of_file(file.name) != "csv":
        raise Refusal(f"{file} does not end in .csv; export the readings as CSV, or rename it if they are")
    if file.stat().st_size > LARGEST_BYTES["csv"]:
        raise Refusal(too_large(str(file), "csv").sentence)
    return file.read_bytes()


def _settings_of(root: Path) -> tuple[bytes, Settings]:
    """The settings as written and as read."""
    if not (root / SETTINGS_NAME).is_file():
        raise Refusal(f"{root} has no {SETTINGS_NAME}; `journal start {root}` writes one")
    written = (root / SETTINGS_NAME).read_bytes()
    settings, problems = read_settings(written)
    broken = next((problem for problem in problems if "is not TOML" in problem.message), None)
    if broken:
        raise Refusal(f"fix {SETTINGS_NAME} first: {broken}")
    return written, settings


def _path_in(root: Path, file: Path) -> str:
    """The file's path in the journal; for a file from elsewhere, the path that its copy will have."""
    real = file.resolve()
    if real.is_relative_to(root):
        return real.relative_to(root).as_posix()
    path = f"{CLIMATE}/{file.name}"
    if (root / path).exists() and (root / path).read_bytes() != file.read_bytes():
        raise Refusal(f"{root / path} is another file of that name; rename {file} and try again")
    return path


def _asked(
    file: Path, layout: Layout, source: ClimateSource, settings: Settings, path: str, answers: LoggerAnswers
) -> ClimateSource:
    """The source with the answers to all open questions."""
    click.echo(f"The columns of {plain(str(file))}:", err=True)
    for at, column in enumerate(layout.columns, 1):
        click.echo(plain(f"  {at}  {column.name}  (like {column.example})"), err=True)
    time = _column("the time", "--time", layout, layout.times, layout.times, answers.time)
    numbers = [column.name for column in layout.columns if column.is_number]
    temperature = _column("the temperature", "--temperature", layout, numbers, layout.temperatures, answers.temperature)
    humidity = _column("the humidity", "--humidity", layout, numbers, layout.humidities, answers.humidity)
    if temperature == humidity == NONE:
        raise Refusal("a logger's file needs a column of temperatures, or one of humidities")
    time_format = _format(layout, time, answers.day_first)
    source = replace(source, tent=_tent(path, settings, answers.tent), time=time, time_format=time_format)
    if not _has_offset(layout, time, time_format):
        asked = "The time zone that the logger's clock is set to"
        zone = answers.time_zone or ask_text(asked, settings.time_zone, zone_named)
        source = replace(source, time_zone=zone_named(zone))
    unit: Literal["°C", "°F"] | None = None
    if temperature != NONE and layout.unit(temperature)[0] is None:
        question = f"{temperature} does not say its unit. Is it C or F"
        chosen = ask_one_of(question, ["C", "F"], None, f"name the column with its unit, like {temperature} (°C)")
        unit = "°C" if chosen == "C" else "°F"
    return replace(
        source,
        humidity_accuracy_pct=None if humidity == NONE else _accuracy_pct(answers.humidity_accuracy),
        temperature=None if temperature == NONE else temperature,
        humidity=None if humidity == NONE else humidity,
        temperature_unit=unit,
    )


def _column(
    what: str, option: str, layout: Layout, fit: Sequence[str], likely: Sequence[str], answer: str | None
) -> str:
    """The name of the column that has a reading; `none` if the file does not have it."""
    names = [column.name for column in layout.columns]
    others = [] if what == "the time" else [NONE]
    default = likely[0] if len(likely) else (NONE if others and not fit else None)
    chosen = ask_one_of(
        f"Which column has {what} (its number or name{', or none' if others else ''})",
        [*names, *others],
        default,
        f"it is not clear which column has {what}; give {option} COLUMN",
        answer,
    )
    if chosen != NONE and chosen not in fit:
        raise Refusal(f"the column {chosen} does not hold {what}; name another with {option}")
    return chosen


def _format(layout: Layout, time: str, day_first: bool | None) -> str | None:
    formats = layout.formats(time)
    if not formats:
        raise Refusal(f"the times under {time} are of several formats; export the readings again")
    orders = {order_of(wanted).split()[1]: wanted for wanted in formats if wanted}
    if len(formats) < 2:
        return formats[0]
    if day_first is None:
        example = layout.example(time)
        question = f"No day in the file exceeds 12. What comes first in {example}, day or month"
        missing = "no day in the file exceeds 12, so it does not show whether the day or the month comes first; give "
        chosen = ask_one_of(question, [*orders], None, f"{missing}--day-first or --month-first")
    else:
        chosen = "day" if day_first else "month"
    return orders[chosen]


def _has_offset(layout: Layout, time: str, time_format: str | None) -> bool:
    fits, read = stamp_fits(time_format), stamp_reader(time_format)
    return any(read(cell).tzinfo is not None for cell in layout.cells(time)[:100] if fits(cell))


def _tent(path: str, settings: Settings, answer: str | None) -> str:
    """The ID of the tent or room that the logger was in, which may be a new one."""
    known = {tent.id.casefold(): tent.id for tent in settings.tents}

    def read(text: str) -> str:
        try:
            return known.get(text.strip().casefold()) or parse_id(text.strip())
        except Unreadable as fault:
            raise click.BadParameter(f"{fault.message}; {fault.fix}") from None

    if answer is not None:
        return read(answer)
    named = f"one of {', '.join(known.values())}, or a new ID" if known else "a new ID"
    return ask_text(f"The tent or room that it was in ({named})", tents_for(path, settings.tents)[0], read)


def _accuracy_pct(answer: str | None) -> float | None:
    """How far off a humidity may be, in %; None where nobody knows."""

    def read(text: str) -> str:
        plain = text.strip().removeprefix("+/-").lstrip("±").strip()
        if plain.casefold() in ("", _UNKNOWN):
            return _UNKNOWN
        try:
            return str(percentage(plain).value)
        except Unreadable as fault:
            raise click.BadParameter(f"{fault.message}; write it like 3 %, or {_UNKNOWN}") from None

    asked = "How accurate its humidity is, as its maker says (like 3 %)"
    told = read(answer) if answer is not None else ask_text(asked, _UNKNOWN, read)
    return None if told == _UNKNOWN else float(told)


_UNKNOWN = "unknown"


def _as_it_will_be(root: Path, wanted: bytes, source: ClimateSource) -> tuple[Settings, ClimateSource]:
    """The settings with the new lines, and the source that is read from them. Raises Refusal if the new lines would not
    be read as intended, such as after a table [climate]."""
    settings, problems = read_settings(wanted)
    found = [row for row in settings.climate if (row.files, row.tent) == (source.files, source.tent)]
    if not found:
        why = next((problem.message for problem in reversed(problems)), "they are not read there")
        raise Refusal(f"the lines cannot be added at the end of {root / SETTINGS_NAME} ({why}); add them by hand")
    return settings, found[-1]


def _copy(data: bytes, to: Path) -> None:
    if to.exists():
        return  # it is the same file, as `_path_in` saw
    to.parent.mkdir(exist_ok=True)
    with to.open("xb") as opened:
        opened.write(data)


def _say_how_read(path: str, data: bytes, source: ClimateSource, settings: Settings) -> None:
    log, problems = read_log(path, data, source, settings.time_zone)
    click.echo(plain(_summary(log, settings)), err=True)
    doubts = (Problem(path, 0, "warning", message, fix) for message, fix in doubts_of_readings(log, settings))
    for line in problem_lines([*problems, *doubts]):
        click.echo(line, err=True)


def _summary(log: LoggerFile, settings: Settings) -> str:
    readings = counted(len(log.stamps_s), "reading")
    if not log.stamps_s:
        return f"{log.path} gives {readings} for {log.tent}."
    zone = journal_zone(settings.time_zone)
    ends = (datetime.fromtimestamp(stamp_s, UTC).astimezone(zone) for stamp_s in (log.stamps_s[0], log.stamps_s[-1]))
    first, last = (f"{moment:%Y-%m-%d %H:%M}" for moment in ends)
    return f"{log.path} gives {readings} for {log.tent}, from {first} to {last}."
