"""A share of the journal: reads it, redacts it, builds the pages and a zip of them.

All is built again every time, so that nothing of an earlier share stays, and searched before it is put into place.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from journal.cache.file_cache import FileCache
from journal.cache.resources import files_below, find_resources, page_version
from journal.model import Journal
from journal.pipeline import ReadJournal, publish, read_files, read_journal
from journal.problems import Refusal
from journal.reading.folder import LARGEST_BYTES
from journal.reading.front_matter import FrontMatter, guess_front_matter, read_front_matter
from journal.reading.values import RESERVED
from journal.settings import Share
from journal.sharing.decoders import camera_words
from journal.sharing.detectors import Leak, Search, detectors_of
from journal.sharing.grant import refuse_what_cannot_be, share_named
from journal.sharing.redact import Redaction, redaction_of
from journal.sharing.secrets import BrokenEntries, broken_entries_of
from journal.site.app import AUTHORS_OWN, create_app
from journal.site.build.incremental import Copy, Hold, Plan, Report, update_site
from journal.site.build.swap import SHARE_SENTENCE, SHEET_SENTENCE, clean_up, new_tree, put_in_place, refuse_unless_ours
from journal.site.images import published_name
from journal.site.pages import plan_site
from journal.site.pages.share_pages import NOT_IN_A_SHARE
from journal.site.plan import Published, Site
from journal.site.share_files import ToLookOver, write_sheet, zip_folder

_NAME = re.compile(r"[^\W_](?:[\w -]{0,58}[^\W_])?")
PAGES = "pages"
"""The folder of a share's pages, beside its zip; both lie in one folder, so that they take their place in one step."""


class LeaksFound(Refusal):
    """A finished share reveals something private, and was not put into place."""

    def __init__(self, share: str, leaks: Sequence[Leak]) -> None:
        self.leaks = tuple(leaks)
        places = len({leak.file for leak in leaks})
        super().__init__(
            f"the share {share} would reveal something private, in {places} of its files; no share was made, "
            "and an earlier one is unchanged"
        )


@dataclass(frozen=True, slots=True)
class Prepared:
    """A share before any of it is made. read: the whole journal. files: all that lies in its folder."""

    share: Share
    read: ReadJournal
    redaction: Redaction
    files: tuple[str, ...] = field(repr=False)
    broken: BrokenEntries = field(repr=False)


@dataclass(frozen=True, slots=True)
class FinishedShare:
    """A finished share. pages_folder, archive: the same pages, as files and as one zip. bytes: of each."""

    journal: Journal
    pages_folder: Path
    archive: Path
    pages: int
    pages_bytes: int
    archive_bytes: int


def prepare(file_cache: FileCache, name: str, report: Report) -> Prepared:
    """Reads the whole journal and redacts it. Raises Refusal where the share cannot be made; nothing is written."""
    written = read_files(file_cache, report)
    ids = [draft.values["id"] for draft in written.drafts if draft.kind == "batch" and "id" in draft.values]
    share = share_named(Journal(written.settings, problems=written.problems), name, *ids[-1:])
    refuse_what_cannot_be(share)
    if not _NAME.fullmatch(share.name) or share.name.casefold() in RESERVED:
        raise Refusal(
            f"the share {share.name!r} cannot be made, because its folder and its zip get its name; "
            "name it with letters, digits and hyphens, like [shares.mentor]"
        )
    read = read_journal(file_cache, report)
    folder = read.written.folder
    files = tuple(file.path for files in (folder.entries, folder.photos, folder.csvs, folder.gpxs) for file in files)
    broken = broken_entries_of(_entries_with_errors(file_cache.root, read.journal))
    return Prepared(share, read, redaction_of(read.journal, share, files, broken), files, broken)


def _entries_with_errors(root: Path, journal: Journal) -> Iterator[FrontMatter]:
    most = LARGEST_BYTES["entry"]
    for path in sorted({problem.path for problem in journal.problems if problem.severity == "error"}):
        if path.endswith(".md") and (root / path).is_file():
            with (root / path).open("rb") as opened:
                data = opened.read(most + 1)
            if len(data) > most:
                data = data[: data.rfind(b"\n") + 1]  # the whole lines at its beginning
            front = read_front_matter(path, data)
            if front is not None and not front.legible:
                front = guess_front_matter(path, data)
            if front is not None:
                yield front


def published_of(
    file_cache: FileCache, prepared: Prepared, report: Report
) -> tuple[dict[str, Published], dict[str, str]]:
    """The published sizes of the photos that are shared, by their paths in the shared journal, made where need be; and
    each picture's name in the cache, by its name in the share."""
    made = publish(file_cache, prepared.read.written, prepared.redaction.photos, report)
    # keyed by the share, and by originals that no reader has; named for what a reader gets, never for the original
    originals = sorted(photo.digest for photo in prepared.read.journal.public.photos if photo.entries)
    key = hashlib.sha256("\n".join([prepared.share.name, *originals]).encode("utf-8", "surrogatepass")).digest()
    names = {}
    for path, row in made.items():
        largest = (file_cache.cache.pictures / f"{row.name}-{row.sizes[-1].width}.webp").read_bytes()
        names[path] = hmac.digest(key, largest, "sha256").hex()[:16]
    shared = prepared.redaction.published({path: replace(row, name=names[path]) for path, row in made.items()})
    return shared, {names[path]: row.name for path, row in made.items()}


def make_share_files(file_cache: FileCache, prepared: Prepared, out: Path, report: Report) -> FinishedShare:
    """Makes the share's pages and zip in a folder of its name in `out`; both are replaced in one step. out: absolute,
    links resolved. Raises Refusal where the folder there is not ours to replace, LeaksFound where the share would
    reveal something private, OSError where the disk refuses; the earlier share is then unchanged."""
    folder = share_folder(out, prepared.share.name)
    refuse_unless_ours(folder, file_cache.root, SHARE_SENTENCE)
    published, cached_names = published_of(file_cache, prepared, report)
    journal = prepared.redaction.journal
    # by what a reader's device remembers the share, from one copy to the next
    key = hashlib.sha256(
        f"{journal.settings.title}\n{prepared.share.name}".encode("utf-8", "surrogatepass")
    ).hexdigest()
    site = plan_site(journal, published, key[:10])
    clean_up(folder)
    with new_tree(folder, says=SHARE_SENTENCE) as tree:
        archive, packing = tree / f"{prepared.share.name}.zip", tree / "packing"
        packing.mkdir()
        packed = packing / "packed.zip"  # its own name is its author's choice, and no leak
        plan = _plan(
            site,
            file_cache,
            cached_names,
            lambda pages, *_: _search_and_pack(file_cache, prepared, pages, packed, report),
        )
        update = update_site(
            plan, tree / PAGES, {}, lambda what, *far: None if what == "offline" else report(what, *far)
        )
        packed.rename(archive)
        packing.rmdir()
        sizes = sum(output.size for output in update.outputs.values()), archive.stat().st_size
        put_in_place(tree, folder)
    return FinishedShare(journal, folder / PAGES, folder / archive.name, len(site.pages), *sizes)


def share_folder(out: Path, name: str) -> Path:
    """Where the share of this name lies; absolute, links resolved, as `out` is."""
    return (out / name).resolve()


def _plan(site: Site, file_cache: FileCache, cached_names: Mapping[str, str], hold: Hold) -> Plan:
    resources = find_resources()
    statics = (name for name in files_below(resources / "static") if name not in NOT_IN_A_SHARE)
    copies = {f"static/{name}": Copy(resources / "static" / name, name) for name in statics}
    for path, (name, width) in site.pictures:
        copies[path] = Copy(file_cache.cache.pictures / f"{cached_names[name]}-{width}.webp", f"{name}-{width}")
    return Plan(
        pages=site.pages,
        copies=copies,
        texts=dict(site.texts),
        version=page_version(resources),
        make_app=lambda: create_app(site.pages, resources / "templates", AUTHORS_OWN),
        hold=hold,
        says=SHARE_SENTENCE,
    )


def _search_and_pack(file_cache: FileCache, prepared: Prepared, pages: Path, packed: Path, report: Report) -> None:
    """Searches the finished pages, packs them, and searches what was packed; raises LeaksFound."""
    report("searching", 0, 2)
    journal = prepared.read.journal
    # what cameras wrote into the shared photos, and the names of all pictures on the author's own site
    strings = [words for path in prepared.redaction.photos for words in camera_words(file_cache.root / path)]
    strings += [published_name(photo.digest) for photo in journal.photos if photo.digest]
    search = Search(detectors_of(journal, prepared.share, prepared.files, strings, prepared.broken))
    for step, folder in enumerate((pages, packed.parent), 1):
        if step == 2:
            zip_folder(pages, packed)
        if leaks := search.leaks_in(folder):
            raise LeaksFound(prepared.share.name, leaks)
        report("searching", step, 2)


def photo_sheet(file_cache: FileCache, prepared: Prepared, folder: Path, report: Report) -> Path:
    """Writes a sheet of every photo that would be shared into a folder, and returns its path. folder: absolute, links
    resolved. Raises Refusal where it is not ours to replace, OSError where the disk refuses."""
    refuse_unless_ours(folder, file_cache.root, SHEET_SENTENCE)
    published = publish(file_cache, prepared.read.written, prepared.redaction.photos, report)
    public, grant = prepared.read.journal.public, prepared.redaction.grant
    shown = [entry for entry in public.entries() if grant.why_left_out(entry) is None]
    rows = []
    for path in sorted(prepared.redaction.photos):
        uses = [(entry.title, use.caption) for entry in shown for use in entry.photos if use.path == path]
        words = tuple(f"{title}: {caption}" if caption else title for title, caption in uses)
        rows.append(ToLookOver(path, None, 0, 0, words))
        if path in published:
            largest = published[path].sizes[-1]
            file = file_cache.cache.pictures / f"{published[path].name}-{largest.width}.webp"
            rows[-1] = ToLookOver(path, file, largest.width, largest.height, words)
    clean_up(folder)
    with new_tree(folder, says=SHEET_SENTENCE) as tree:
        sheet = write_sheet(tree, prepared.share.name, rows, find_resources())
        put_in_place(tree, folder)
    return folder / sheet.name
