"""The order of the steps: read, link, plan, render, pack, put into place. Only this module and `share_pipeline`, which
builds on it, call every layer.
"""

from __future__ import annotations

import re
import time
from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TypeVar

from journal.cache.file_cache import FileCache, TooLarge
from journal.cache.folders import not_a_journal
from journal.cache.resources import files_below, find_resources, page_version
from journal.cache.store import Cache, sha256_of
from journal.model import Batch, Culture, Device, Find, Journal, LoggerFile, Photo
from journal.problems import Problem
from journal.reading.dates import journal_zone
from journal.reading.entries import Draft, ProblemList, no_entry, read_entry
from journal.reading.folder import LARGEST_BYTES, File, Folder, ReadKind, scan, too_large
from journal.reading.linking import assemble
from journal.reading.logger_files import files_of, read_log
from journal.reading.photo_claims import Album, uses_of
from journal.reading.photos import PhotoFacts, photo_of
from journal.reading.receipts import Received, received_in
from journal.reading.settings_file import read_settings
from journal.reading.tracks import read_track
from journal.settings import Settings
from journal.site.addresses import subjects_of
from journal.site.app import create_app
from journal.site.build.incremental import Copy, CorruptPicture, Plan, update_site
from journal.site.build.offline import hold, parts_of
from journal.site.build.photo_workers import photo_work
from journal.site.build.swap import refuse_unless_ours
from journal.site.images import published_from_cache
from journal.site.pages import plan_site
from journal.site.plan import Published, Site
from journal.unexpected import attempt

T = TypeVar("T")

Report = Callable[[str, int, int], None]
"""Called with the step ("entries", "photos", "pages", "offline"), how many are done, and of how many."""

_SAVE_EVERY_S = 5.0
_REPORT_EVERY = 50


@dataclass(frozen=True, slots=True)
class ReadFiles:
    """What the author wrote, before photos and links: drafts in the order of their paths."""

    folder: Folder
    settings: Settings
    drafts: tuple[Draft, ...] = field(repr=False)
    not_entries: tuple[str, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class ReadJournal:
    """A journal with what it was read from. published: its photos' published sizes by path, where they were made.
    received: what came in from phones."""

    journal: Journal
    published: Mapping[str, Published]
    written: ReadFiles
    received: tuple[Received, ...] = ()


@dataclass(frozen=True, slots=True)
class Built:
    """What a build did. unchanged: nothing had changed. rendered: pages made again.

    held_bytes: what a device saves for offline use; larger_bytes: more, if asked for the larger photos too.
    """

    journal: Journal
    unchanged: bool
    rendered: int
    held_bytes: int
    larger_bytes: int


def read_files(memory: FileCache, tell: Report) -> ReadFiles:
    """Settings and entries; a file that cannot be read is a problem. Raises Refusal where there are neither."""
    folder = scan(memory.root)
    problems = list(folder.problems)
    settings = _settings_of(memory, folder, problems)
    drafts, not_entries = [], []
    zone = settings.time_zone

    def read(path: str, data: bytes) -> Draft | None:
        return read_entry(path, data, settings)

    for file, draft in _read_each(memory, folder.entries, "entry", zone, read, problems, no_entry, tell):
        if draft is None:
            not_entries.append(file.path)
        else:
            drafts.append(draft)
    if folder.settings is None and not any(draft.kind for draft in drafts):
        raise not_a_journal(memory.root)
    return ReadFiles(folder, settings, tuple(drafts), tuple(not_entries), tuple(problems))


def read_journal(memory: FileCache, tell: Report, published_in: Path | None = None) -> ReadJournal:
    """The whole journal. published_in: where photos' published sizes go, for those that entries show; None: nowhere.

    Raises Refusal where the folder is no journal, OSError where that folder cannot be written.
    """
    written = read_files(memory, tell)
    problems = list(written.problems)
    facts, published = _photos(memory, written, published_in, tell)
    photos = []
    zone = journal_zone(written.settings.time_zone)
    for path, fact in facts.items():
        read = attempt(path, partial(photo_of, fact, path, zone))
        photo, found = (Photo(path=path, digest=fact.digest), (read,)) if isinstance(read, Problem) else read
        photos.append(photo)
        problems += found
    tracks = []
    for _, (track, found) in _read_each(memory, written.folder.gpxs, "gpx", "", read_track, problems):
        tracks.append(track)
        problems += found
    received: list[Received] = []
    for _, (rows, found) in _read_each(memory, written.folder.receipts, "receipt", "", received_in, problems):
        received += rows
        problems += found
    journal = assemble(
        written.settings,
        written.drafts,
        not_entries=written.not_entries,
        photos=photos,
        tracks=tracks,
        logs=_logs(memory, written, problems),
        problems=problems,
    )
    memory.forget_the_rest()
    return ReadJournal(journal, published, written, tuple(received))


_CACHED_AS: Mapping[ReadKind, str] = {
    "entry": "entry", "settings": "settings", "csv": "log", "gpx": "track", "receipt": "receipt",
}  # fmt: skip
"""The kind of value, as the cache knows it, that a file of that kind is read into."""


def _read_each(
    memory: FileCache,
    files: Sequence[File],
    kind: ReadKind,
    besides: str,
    reader: Callable[[str, bytes], T],
    problems: list[Problem],
    instead: Callable[[Problem], T] | None = None,
    tell: Report | None = None,
) -> Iterator[tuple[File, T]]:
    """Each file with what `reader` makes of its path and bytes, or `instead` of the problem where it cannot be read;
    without `instead` the problem is put among the others."""
    for done, file in enumerate(files, 1):
        read = partial(memory.read, file, _CACHED_AS[kind], besides, partial(reader, file.path), LARGEST_BYTES[kind])
        try:
            value = attempt(file.path, read)
        except TooLarge:
            value = too_large(file.path, kind)
        except OSError as error:
            message = f"this file cannot be read ({(error.strerror or 'unknown error').lower()})"
            value = Problem(file.path, 0, "error", message, "give yourself permission to read it")
        if not isinstance(value, Problem):
            yield file, value
        elif instead:
            yield file, instead(value)
        else:
            problems.append(value)
        if tell and (done % _REPORT_EVERY == 0 or done == len(files)):
            tell("entries", done, len(files))


def _settings_of(memory: FileCache, folder: Folder, problems: list[Problem]) -> Settings:
    if folder.settings is None:
        settings, found = read_settings(None)
        problems += found
        return settings

    def read(path: str, data: bytes) -> tuple[Settings, tuple[Problem, ...]]:
        return read_settings(data, path)

    for _, (settings, found) in _read_each(memory, [folder.settings], "settings", "", read, problems):
        problems += found
        return settings
    return Settings()


def _logs(memory: FileCache, written: ReadFiles, problems: list[Problem]) -> tuple[LoggerFile, ...]:
    file_by_path = {file.path: file for file in written.folder.csvs}
    zone = written.settings.time_zone
    claims, found = files_of(written.settings.climate, tuple(file_by_path))
    problems += found
    logs = []
    for path, source in claims:
        read = partial(read_log, source=source, zone_name=zone)
        for _, (log, found) in _read_each(memory, [file_by_path[path]], "csv", f"{source}|{zone}", read, problems):
            logs.append(log)
            problems += found
    return tuple(logs)


def publish(memory: FileCache, written: ReadFiles, paths: Collection[str], tell: Report) -> dict[str, Published]:
    """The published sizes of these photos, by path, made in the cache where they are not there; raises OSError."""
    return _photos(memory, written, memory.cache.pictures, tell, frozenset(paths))[1]


def _photos(
    memory: FileCache, written: ReadFiles, folder: Path | None, tell: Report, shown: frozenset[str] | None = None
) -> tuple[dict[str, PhotoFacts], dict[str, Published]]:
    """Facts of every photo by path, in the order of the paths; published sizes of those that are shown: by entries, or
    as named."""
    if shown is None and folder:  # photos that some entry lists, shows, or has beside it
        album = Album(Photo(path=file.path, digest="") for file in written.folder.photos)
        uses = uses_of(written.drafts, album, ProblemList(()))
        shown = frozenset(use.path for rows in uses.values() for use in rows)
    shown = shown or frozenset()
    facts: dict[str, PhotoFacts] = {}
    published: dict[str, Published] = {}
    to_publish: list[File] = []
    to_read: list[File] = []
    for file in written.folder.photos:
        known = _known_facts(memory, file)
        made = published_from_cache(known.digest, folder) if known and folder and file.path in shown else None
        if known is None or (file.path in shown and known.width and made is None):
            (to_publish if file.path in shown else to_read).append(file)
            continue
        facts[file.path] = known
        if made:
            published[file.path] = made
    for path, fact, made in _work(memory, to_publish, to_read, folder, tell):
        facts[path] = fact
        if made:
            published[path] = made
    return {file.path: facts[file.path] for file in written.folder.photos}, published


def _known_facts(memory: FileCache, file: File) -> PhotoFacts | None:
    try:
        digest = memory.digest_of(file)
    except OSError:
        return None
    return memory.facts_of(digest) if digest else None


def _work(
    memory: FileCache, to_publish: Sequence[File], to_read: Sequence[File], folder: Path | None, tell: Report
) -> Iterator[tuple[str, PhotoFacts, Published | None]]:
    """Photos through the worker processes, each remembered as it comes, and kept every few seconds."""
    by_path = {file.path: file for file in (*to_publish, *to_read)}
    saved_s = time.monotonic()
    done = 0
    for files, into in ((to_publish, folder), (to_read, None)):
        rows = [(file.path, memory.root / file.path) for file in files]
        for path, fact, made in photo_work(rows, into) if rows else ():
            if fact.digest and not fact.passing:
                memory.saw(by_path[path], fact.digest)
                memory.keep_facts(fact)
            if time.monotonic() - saved_s > _SAVE_EVERY_S:
                memory.cache.save()
                saved_s = time.monotonic()
            done += 1
            tell("photos", done, len(by_path))
            yield path, fact, made


def build_site(memory: FileCache, target: Path, tell: Report) -> Built:
    """Reads the journal and brings the site at `target` to what it says, whole or not at all.

    target, and the journal's root: absolute, links resolved. Raises Refusal where the one is no journal or the other
    not ours to replace; OSError where the disk refuses; NotFrozen where the program itself is at fault.
    """
    refuse_unless_ours(target, memory.root)
    cache = memory.cache
    for is_last in (False, True):
        read = read_journal(memory, tell, cache.pictures)
        cache.save()
        site = plan_site(read.journal, read.published, received=read.received)
        try:
            return _renewed(read, site, target, cache, tell)
        except FileNotFoundError:
            if is_last:
                raise  # else: the cache was deleted under our hands, and is made again
        except CorruptPicture as harmed:
            if is_last:
                raise
            harmed.source.unlink(missing_ok=True)
    raise AssertionError("the second run returns or raises")


def _renewed(read: ReadJournal, site: Site, target: Path, cache: Cache, tell: Report) -> Built:
    resources = find_resources()
    static = resources / "static"
    used_by = shown_by(read, site)
    copies = {f"static/{name}": Copy(static / name, sha256_of(static / name)) for name in files_below(static)}
    for path, (picture, width) in site.pictures:
        name = f"{picture}-{width}"
        copies[path] = Copy(cache.pictures / f"{name}.webp", name, linked=True)
    plan = Plan(
        pages=site.pages,
        copies=copies,
        texts=dict(site.texts),
        version=page_version(resources),
        make_app=lambda: create_app(site.pages, resources / "templates"),
        hold=lambda tree, pages, files, earlier: hold(tree, pages, files, used_by=used_by, earlier=earlier),
        hold_inputs=repr(sorted(used_by.items())),
    )
    earlier = cache.outputs_of(target)
    renewal = update_site(plan, target, earlier, tell)
    cache.keep_outputs(target, renewal.outputs)
    cache.save()
    prune_pictures(cache.pictures, {name for _, (name, _) in site.pictures})
    planned = {*(page.path for page in plan.pages), *plan.copies, *plan.texts}
    files = {path: (o.sha256, o.size) for path, o in renewal.outputs.items() if path in planned}
    parts = parts_of(site.pages, files, used_by)
    larger = sum(row.bytes for (pack, _), rows in parts.items() if pack == "larger" for row in rows)
    held = sum(row.bytes for rows in parts.values() for row in rows) - larger
    return Built(read.journal, renewal.change == "nothing", len(renewal.rendered), held, larger)


def shown_by(read: ReadJournal, site: Site) -> dict[str, tuple[str, ...]]:
    """A picture's path in the site, without width and ending -> the IDs whose entries show it, sorted."""
    path_of_name = {name: path.rpartition("-")[0] for path, (name, _) in site.pictures}
    ids: dict[str, set[str]] = defaultdict(set)
    for entry in read.journal.entries():
        own = (entry,) if isinstance(entry, Find | Culture | Batch | Device) else subjects_of(read.journal, entry)
        for use in entry.photos:
            made = read.published.get(use.path)
            if made and made.name in path_of_name:
                ids[path_of_name[made.name]].update(row.id.lower() for row in own)
    return {path: tuple(sorted(names)) for path, names in sorted(ids.items())}


_PICTURE_FILE = re.compile(r"\.?(?P<name>[0-9a-f]{16})(?:-\d+\.webp|\.json)(?:\.\d+\.part)?")


def prune_pictures(folder: Path, names: Collection[str]) -> None:
    """Removes published pictures that no page shows any more; a file that cannot be removed may stay."""
    for file in folder.iterdir() if folder.is_dir() else ():
        found = _PICTURE_FILE.fullmatch(file.name)
        if found and (found["name"] not in names or file.suffix == ".part"):
            with suppress(OSError):
                file.unlink()
