"""The journal's files through their readers and the cache: one that cannot be read is a problem, the rest is read."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from journal.cache.file_cache import FileCache, Packed, TooLarge
from journal.cache.unchanged import sha256_of
from journal.forked import Forked, fitting_processes
from journal.model import CoreLog, LoggerFile, WeatherFile
from journal.problems import Problem
from journal.reading.core_logs import KEY, core_logs_named, read_core_log
from journal.reading.entries import Draft
from journal.reading.folder import LARGEST_BYTES, File, Folder, ReadKind, too_large
from journal.reading.logger_files import files_of, read_log
from journal.reading.logger_settings import read_unclaimed, unclaimed
from journal.reading.receipts import Received, as_they_are_now, received_in
from journal.reading.weather_files import read_weather
from journal.settings import Settings
from journal.unexpected import attempt

T = TypeVar("T")

_CACHED_AS: Mapping[ReadKind, str] = {
    "entry": "entry", "settings": "settings", "csv": "log", "gpx": "track", "receipt": "receipt",
    "weather": "weather",
}  # fmt: skip
"""The kind of value, as the cache knows it, that a file of that kind is read into."""


def read_file(
    file_cache: FileCache, file: File, kind: ReadKind, depends_on: str, reader: Callable[[str, bytes], T]
) -> T | Problem:
    given = (file, _CACHED_AS[kind], depends_on, partial(reader, file.path), LARGEST_BYTES[kind])
    try:
        return attempt(file.path, file_cache.read, *given)
    except TooLarge:
        return too_large(file.path, kind)
    except OSError as error:
        file_cache.is_repeatable = False
        message = f"this file cannot be read ({(error.strerror or 'unknown error').lower()})"
        return Problem(file.path, 0, "error", message, "give yourself permission to read it")


def read_all(
    file_cache: FileCache,
    files: Iterable[File],
    kind: ReadKind,
    depends_on: str,
    reader: Callable[[str, bytes], tuple[T, tuple[Problem, ...]]],
    problems: list[Problem],
) -> list[T]:
    """What `reader` makes of those files that can be read; all problems of the files are added to the others."""
    values = []
    for file in files:
        read = read_file(file_cache, file, kind, depends_on, reader)
        if isinstance(read, Problem):
            problems.append(read)
        else:
            values.append(read[0])
            problems += read[1]
    return values


_FILES_THAT_PAY = 500
"""A process that reads files ahead pays from so many on."""


def read_ahead(
    file_cache: FileCache,
    files: Sequence[File],
    kind: ReadKind,
    depends_on: str,
    reader: Callable[[str, bytes], object],
) -> None:
    """Has other processes read what the cache does not know of these files, if these are so many that it pays. What
    one of them cannot read is left for `read_file`."""
    known_as = _CACHED_AS[kind]
    unknown = [file for file in files if not file_cache.is_known(file, known_as, depends_on)]
    count = fitting_processes(len(unknown), _FILES_THAT_PAY)
    if count == 1:
        return

    def answer(share: Sequence[File], _: object) -> Iterator[tuple[File, Packed]]:
        for file in share:
            read_file(file_cache, file, kind, depends_on, reader)
            packed = file_cache.packed_of(file, known_as, depends_on)
            if packed is not None:
                yield file, packed

    shares = [partial(answer, unknown[n::count]) for n in range(count)]
    with Forked(shares, "read entries") as forked:
        for file, packed in forked.ask([None] * count):
            file_cache.take_packed(file, known_as, depends_on, packed)


def read_received(
    file_cache: FileCache, folder: Folder, drafts: Sequence[Draft], problems: list[Problem]
) -> tuple[Received, ...]:
    """What came in from phones by the receipts, and whether it still is there; their problems are added to the others.
    drafts: all entries of the folder."""
    rows = [row for rows in read_all(file_cache, folder.receipts, "receipt", "", received_in, problems) for row in rows]
    if not rows:
        return ()
    files = {file.path: file for file in folder.entries}

    def digest_of(path: str) -> str | None:
        with suppress(OSError):
            return (file_cache.digest_of(files[path]) or sha256_of(file_cache.root / path)) if path in files else None
        return None

    return as_they_are_now(rows, drafts, digest_of)


@dataclass(frozen=True, slots=True)
class Logs:
    """What was read of a journal's CSV files."""

    climate: tuple[LoggerFile, ...]
    core: tuple[CoreLog, ...]
    weather: tuple[WeatherFile, ...]


def read_logs(
    file_cache: FileCache,
    files: Iterable[File],
    settings: Settings,
    drafts: Sequence[Draft],
    problems: list[Problem],
) -> Logs:
    """The CSV files that the settings or the entries name; their problems, and those of files that none names, are
    added to the others."""
    csvs = {file.path: file for file in files}
    return Logs(
        climate=tuple(_climate(file_cache, csvs, settings, problems)),
        core=tuple(_core(file_cache, csvs, settings, drafts, problems)),
        weather=tuple(_weather(file_cache, csvs, settings, problems)),
    )


def _climate(
    file_cache: FileCache, csvs: Mapping[str, File], settings: Settings, problems: list[Problem]
) -> list[LoggerFile]:
    logs: list[LoggerFile] = []
    claims, found = files_of(settings.climate, tuple(csvs))
    problems += found
    for path, source in claims:
        read_csv = partial(read_log, source=source, zone_name=settings.time_zone)
        logs += read_all(file_cache, [csvs[path]], "csv", f"{source}|{settings.time_zone}", read_csv, problems)
    for pattern, paths in unclaimed(claims, tuple(csvs)).items():
        example = partial(read_unclaimed, pattern=pattern, count=len(paths), settings=settings)
        depends_on = f"{pattern}|{len(paths)}|{settings.tents}|{settings.time_zone}"
        read_all(file_cache, [csvs[paths[-1]]], "csv", depends_on, example, problems)
    return logs


def _core(
    file_cache: FileCache,
    csvs: Mapping[str, File],
    settings: Settings,
    drafts: Sequence[Draft],
    problems: list[Problem],
) -> list[CoreLog]:
    """Of every entry that names one: without readings where its file cannot be read, so that its page can say so."""
    named, found = core_logs_named(drafts, csvs)
    problems += found
    logs = []
    for one in named:
        read = partial(read_core_log, column=one.column, zone_name=settings.time_zone)
        depends_on = f"core|{one.column}|{settings.time_zone}"
        read_logs = read_all(file_cache, [csvs[one.path]], "csv", depends_on, read, problems)
        logs += [CoreLog(entry=one.entry, log=log) for log in read_logs]
    read_of = {one.entry for one in logs}
    unread = [draft for draft in drafts if KEY in draft.values and draft.path not in read_of]
    return logs + [CoreLog(entry=one.path, log=LoggerFile(path=one.values[KEY][0], tent="")) for one in unread]


def _weather(
    file_cache: FileCache, csvs: Mapping[str, File], settings: Settings, problems: list[Problem]
) -> list[WeatherFile]:
    files: list[WeatherFile] = []
    claims, found = files_of(settings.weather, list(csvs))
    problems += found
    for path, source in claims:
        files += read_all(
            file_cache, [csvs[path]], "weather", str(source), partial(read_weather, source=source), problems
        )
    return files
