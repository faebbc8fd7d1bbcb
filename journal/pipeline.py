"""The order of the steps: read, link, plan, render, pack, put into place. Only this module and `share_pipeline`, which
builds on it, call every layer.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from journal.cache import last_build
from journal.cache.file_cache import FileCache
from journal.cache.folders import not_a_journal
from journal.cache.resources import find_resources, page_version
from journal.cache.static_files import static_files
from journal.cache.store import Cache, Output
from journal.cache.unchanged import program_digest, sha256_of
from journal.file_reading import read_ahead, read_all, read_file, read_logs, read_received
from journal.model import Journal, Photo
from journal.problems import Problem, Refusal
from journal.quantities import counted
from journal.reading.dates import journal_zone
from journal.reading.entries import Draft, KeptSteps, ProblemList, no_entry, read_entry
from journal.reading.folder import File, Folder, scan
from journal.reading.linking import assemble
from journal.reading.photo_claims import Album, uses_of
from journal.reading.photos import PhotoFacts, photo_of
from journal.reading.receipts import Received
from journal.reading.settings_file import read_settings
from journal.reading.tracks import Track, read_track
from journal.settings import Settings
from journal.site.app import create_app
from journal.site.build.freezing import PagesApart
from journal.site.build.incremental import Copy, CorruptPictures, Plan, Report, differences, update_site
from journal.site.build.offline import parts_of, totals_of, write_offline_copy
from journal.site.build.swap import Spare, refuse_unless_ours
from journal.site.images import prune_pictures, published_from_cache, shown_by
from journal.site.memory import Memory, as_before
from journal.site.pages import plan_site
from journal.site.plan import Published, Site
from journal.unexpected import attempt

if TYPE_CHECKING:
    from journal.site.build.photo_workers import Executor

_Waiting = Mapping[bool, Sequence[File]]

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
    received: what came in from phones. tracks: the track logs that can be read, by path."""

    journal: Journal
    published: Mapping[str, Published]
    written: ReadFiles
    received: tuple[Received, ...] = ()
    tracks: tuple[Track, ...] = field(default=(), repr=False)


@dataclass(frozen=True, slots=True)
class Built(last_build.Result):
    """What a build came to, with the journal that it was made from."""

    journal: Journal


def read_files(file_cache: FileCache, report: Report) -> ReadFiles:
    """Settings and entries; a file that cannot be read is a problem. Raises Refusal where there are neither."""
    folder, file_cache.folder = file_cache.folder or scan(file_cache.root), None
    problems = list(folder.problems)
    if folder.settings is None:
        settings, missing = read_settings(None)
        problems += missing
    else:

        def read_named(path: str, data: bytes) -> tuple[Settings, tuple[Problem, ...]]:
            return read_settings(data, path)

        found = read_all(file_cache, [folder.settings], "settings", "", read_named, problems)
        settings = found[0] if found else Settings()
    drafts, not_entries = [], []

    def read(path: str, data: bytes) -> Draft | None:
        return read_entry(path, data, settings)

    read_ahead(file_cache, folder.entries, "entry", settings.time_zone, read)
    total = len(folder.entries)
    for done, file in enumerate(folder.entries, 1):
        draft = read_file(file_cache, file, "entry", settings.time_zone, read)
        if draft is None:
            not_entries.append(file.path)
        else:
            drafts.append(no_entry(draft) if isinstance(draft, Problem) else draft)
        if done % _REPORT_EVERY == 0 or done == total:
            report("entries", done, total)
    if folder.settings is None and not any(draft.kind for draft in drafts):
        raise not_a_journal(file_cache.root)
    return ReadFiles(folder, settings, tuple(drafts), tuple(not_entries), tuple(problems))


def read_journal(
    file_cache: FileCache,
    report: Report,
    published_in: Path | None = None,
    executor: Executor | None = None,
    memory: Memory | None = None,
) -> ReadJournal:
    """The whole journal. published_in: where photos' published sizes go, for those that entries show; None: nowhere.
    executor: does the photo work; processes here where None. memory: of the plan that was made before. Raises Refusal
    where the folder is not a journal, OSError where that folder cannot be written."""
    written = read_files(file_cache, report)
    problems = list(written.problems)
    steps = memory.steps if memory else KeptSteps(keeps=False)
    facts, published = _photos(file_cache, written, published_in, report, executor=executor, steps=steps)
    photos = []
    zone = journal_zone(written.settings.time_zone)
    for path, fact in facts.items():
        read = attempt(path, partial(photo_of, fact, path, zone, written.settings.camera_clocks))
        photo, found = (Photo(path=path, digest=fact.digest), (read,)) if isinstance(read, Problem) else read
        photos.append(photo)
        problems += found
    folder = written.folder
    tracks = read_all(file_cache, folder.gpxs, "gpx", "", read_track, problems)
    received = read_received(file_cache, folder, written.drafts, problems)
    logs = read_logs(file_cache, folder.csvs, written.settings, written.drafts, problems)
    journal = assemble(
        written.settings,
        written.drafts,
        not_entries=written.not_entries,
        photos=photos,
        tracks=tracks,
        logs=logs.climate,
        core_logs=logs.core,
        weather=logs.weather,
        problems=problems,
        changed_on=folder.changed_on,
        as_before=partial(as_before, memory.root("journal") if memory else None),
        kept=steps,
    )
    file_cache.forget_the_rest()
    return ReadJournal(journal, published, written, received, tuple(tracks))


def publish(file_cache: FileCache, written: ReadFiles, paths: Collection[str], report: Report) -> dict[str, Published]:
    """The published sizes of these photos, by path, made in the cache where they are not there; raises OSError."""
    return _photos(file_cache, written, file_cache.cache.pictures, report, frozenset(paths))[1]


def _photos(
    file_cache: FileCache,
    written: ReadFiles,
    folder: Path | None,
    report: Report,
    shown: frozenset[str] | None = None,
    executor: Executor | None = None,
    steps: KeptSteps | None = None,
) -> tuple[dict[str, PhotoFacts], dict[str, Published]]:
    """Facts of every photo, in the order of the paths; published sizes of those shown: by entries, or as named."""
    if shown is None and folder and written.folder.photos:  # those that some entry lists, shows, or has beside it
        steps, paths = steps or KeptSteps(keeps=False), [file.path for file in written.folder.photos]
        steps.begin("paths", paths)
        album = Album(Photo(path=path, digest="") for path in paths)
        uses = uses_of(written.drafts, album, ProblemList(()), kept=steps.of("paths", "uses"))
        maps = {own.file for own in written.settings.maps}
        shown = frozenset(use.path for rows in uses.values() for use in rows) | maps
    shown = shown or frozenset()
    facts: dict[str, PhotoFacts] = {}
    published: dict[str, Published] = {}
    waiting: dict[bool, list[File]] = {True: [], False: []}  # to be published, and only to be read
    for file in written.folder.photos:
        known = None
        with suppress(OSError):
            digest = file_cache.digest_of(file)
            known = file_cache.facts_of(digest) if digest else None
        made = published_from_cache(known.digest, folder) if known and folder and file.path in shown else None
        if known is None or (file.path in shown and known.width and made is None):
            waiting[file.path in shown].append(file)
            continue
        facts[file.path] = known
        if made:
            published[file.path] = made
    for path, fact, made in _work(file_cache, waiting, folder, report, executor) if any(waiting.values()) else ():
        facts[path] = fact
        if made:
            published[path] = made
    return {file.path: facts[file.path] for file in written.folder.photos}, published


def _work(
    file_cache: FileCache, waiting: _Waiting, folder: Path | None, report: Report, executor: Executor | None
) -> Iterator[tuple[str, PhotoFacts, Published | None]]:
    """Photos through the worker processes, each remembered as it comes, and kept every few seconds and at the end,
    however that comes: the next run goes on from there."""
    by_path = {file.path: file for files in waiting.values() for file in files}
    done = 0
    try:
        for path, fact, made in _worked(file_cache, by_path, waiting, folder, executor):
            done += 1
            report("photos", done, len(by_path))
            yield path, fact, made
    except BaseException as error:
        if file_cache.cache.save() and done and isinstance(error, KeyboardInterrupt):
            error.add_note(f"{done:,} of {counted(len(by_path), 'photo')} are done; the next run goes on from there.")
        raise


def _worked(
    file_cache: FileCache,
    by_path: Mapping[str, File],
    waiting: _Waiting,
    folder: Path | None,
    executor: Executor | None,
) -> Iterator[tuple[str, PhotoFacts, Published | None]]:
    from journal.site.build.photo_workers import photo_work  # with the pool; only new photos need it

    saved_s = time.monotonic()
    work = partial(photo_work, executor=executor) if executor else photo_work
    if folder is not None and folder.is_file():  # in the place of the cache's own folder
        folder.unlink()
    for is_shown, files in waiting.items():
        rows = [(file.path, file_cache.root / file.path) for file in files]
        for path, fact, made in work(rows, folder if is_shown else None) if rows else ():
            if fact.digest and not fact.passing:
                file_cache.remember_digest(by_path[path], fact.digest)
                file_cache.keep_facts(fact)
            else:
                file_cache.is_repeatable = False
            if time.monotonic() - saved_s > _SAVE_EVERY_S:
                file_cache.cache.save()
                saved_s = time.monotonic()
            yield path, fact, made


@contextmanager
def _few_collections(is_first: bool) -> Iterator[None]:
    """Lets Python look for circular garbage less often: a build makes little, and holds much that is looked through.
    is_first: whether no build went before in this process; a later one makes so little that it is looked for after
    it, when what changed is shown."""
    before = gc.get_threshold()
    gc.set_threshold(1_000_000 if is_first else 0, 20, 50)
    try:
        yield
    finally:
        gc.set_threshold(*before)


def build_site(
    file_cache: FileCache,
    target: Path,
    report: Report,
    executor: Executor | None = None,
    memory: Memory | None = None,
    spare: Spare | None = None,
) -> Built:
    """Reads the journal and brings the site at `target` to what it says, whole or not at all. Both paths are absolute,
    links resolved. executor: where photo work is done, by default processes here. memory: of what this process planned
    before. spare: where this process keeps the site before the last. Raises Refusal where the one is not a journal or
    the other not ours to replace; OSError where the disk refuses; NotFrozen where the program itself is at fault."""
    refuse_unless_ours(target, file_cache.root)
    with _few_collections(is_first=memory is None or memory.root("journal") is None):
        return _build(file_cache, target, report, executor, memory, spare)


def _build(
    file_cache: FileCache,
    target: Path,
    report: Report,
    executor: Executor | None,
    memory: Memory | None,
    spare: Spare | None,
) -> Built:
    """As `build_site`, at a target that may be replaced."""
    cache = file_cache.cache
    program = program_digest()
    for is_last in (False, True):
        read = read_journal(file_cache, report, cache.pictures, executor, memory)
        cache.save()
        try:
            built, outputs = _renewed(read, target, cache, report, memory, spare)
            break
        except FileNotFoundError:
            if is_last:
                raise  # else: the cache was deleted under our hands, and is made again
        except CorruptPictures as harmed:
            if is_last:
                raise
            harmed.remove()
    last_build.keep(
        cache.folder,
        read.written.folder,
        target,
        program=program if file_cache.is_repeatable else None,
        scanned_ns=file_cache.scanned_ns,
        outputs=outputs,
        result=built,
    )
    return built


def plan_ahead(file_cache: FileCache, report: Report, memory: Memory) -> None:
    """Plans the site, so that the next build with the same memory plans only what changed since."""
    read = read_journal(file_cache, report, file_cache.cache.pictures)
    plan_site(read.journal, read.published, received=read.received, memory=memory, tracks=read.tracks)


def compare_with_clean(root: Path, site: Path, report: Report) -> list[tuple[str, str]]:
    """How the site differs from one that is built now with nothing remembered; see `incremental.differences`. Raises
    Refusal where the journal changes meanwhile, and as `build_site` does."""
    before = scan(root)
    with TemporaryDirectory(prefix="journal-") as room:
        aside = Path(room).resolve()
        build_site(FileCache(Cache(aside / "cache"), root, time.time_ns()), aside / "site", report)
        found = differences(site, aside / "site")
    if scan(root) != before:
        raise Refusal("the journal changed while it was built again; run the same command again")
    return found


def _renewed(
    read: ReadJournal, target: Path, cache: Cache, report: Report, memory: Memory | None, spare: Spare | None
) -> tuple[Built, Mapping[str, Output]]:
    """What the build came to, and what then is at the target. The plan is made here if it is to be kept in memory."""
    resources = find_resources()
    make_app = partial(create_app, templates=resources / "templates")
    known = {path: output.inputs for path, output in cache.outputs_of(target).items()}
    with PagesApart(page_version(resources), make_app, known) as apart:
        report("planning", 0, 1)
        make = apart.make if memory is None else None
        site = plan_site(
            read.journal, read.published, received=read.received, memory=memory, tracks=read.tracks, make=make
        )
        report("planning", 1, 1)
        return _updated(read, site, apart, target, cache, report, spare)


def _updated(
    read: ReadJournal, site: Site, apart: PagesApart, target: Path, cache: Cache, report: Report, spare: Spare | None
) -> tuple[Built, Mapping[str, Output]]:
    """As `_renewed`, of a plan."""
    resources = find_resources()
    statics, texts = static_files(resources)
    used_by = shown_by(read.journal, read.published, site)
    copies = {path: Copy(file, sha256_of(file)) for path, file in statics.items()}
    digests = {(made.name, size.width): size.sha256 for made in read.published.values() for size in made.sizes}
    for path, (picture, width) in site.pictures:
        file, digest = cache.pictures / f"{picture}-{width}.webp", digests[picture, width]
        copies[path] = Copy(file, digest, linked=True, sha256=digest)
    plan = Plan(
        pages=site.pages,
        copies=copies,
        texts={**texts, **dict(site.texts)},
        version=apart.version,
        make_app=lambda: create_app(site.pages, resources / "templates"),
        write_offline=lambda tree, pages, files, earlier: write_offline_copy(
            tree, pages, files, used_by=used_by, earlier=earlier
        ),
        offline_inputs=repr(sorted(used_by.items())),
        freeze=apart.freeze,
    )
    renewal = update_site(plan, target, cache.outputs_of(target), report, spare)
    cache.keep_outputs(target, renewal.outputs)
    cache.save()
    prune_pictures(cache.pictures, {name for _, (name, _) in site.pictures})
    planned = {*(page.path for page in plan.pages), *plan.copies, *plan.texts}
    files = {path: (o.sha256, o.size) for path, o in renewal.outputs.items() if path in planned}
    packs = renewal.offline.packs if renewal.offline else totals_of(parts_of(site.pages, files, used_by))
    found = last_build.found_in(read.journal)
    built = Built(
        entries=found.entries,
        photos=found.photos,
        logger_files=found.logger_files,
        problems=found.problems,
        unchanged=renewal.change == "nothing",
        rendered=len(renewal.rendered),
        offline_bytes=sum(size for pack, (_, size) in packs.items() if pack != "larger"),
        larger_bytes=packs["larger"][1],
        journal=read.journal,
    )
    return built, renewal.outputs
