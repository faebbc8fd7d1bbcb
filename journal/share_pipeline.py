"""A share of the journal: reads it, redacts it, builds the pages and a zip of them.

All is built again every time, so that nothing of an earlier share stays, and searched before it is put into place.
"""

from __future__ import annotations

import hmac
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from journal.cache.file_cache import FileCache
from journal.cache.resources import files_below, find_resources, page_version
from journal.cache.static_files import static_files
from journal.locking.key_file import KeyFile
from journal.locking.placing import lock_folder
from journal.model import Journal
from journal.pipeline import ReadJournal, publish, read_files, read_journal
from journal.problems import Refusal
from journal.reading.folder import LARGEST_BYTES
from journal.reading.front_matter import FrontMatter, guess_front_matter, read_front_matter
from journal.reading.listing import SITE_MARK
from journal.reading.values import is_reserved
from journal.settings import Share
from journal.sharing.decoders import camera_words
from journal.sharing.detectors import Leak, Search, detectors_of
from journal.sharing.grant import share_named
from journal.sharing.redact import Redaction, redaction_of
from journal.sharing.review import Piece, Review, ReviewRecord, new_in_words, pieces_of, without
from journal.sharing.review_record import key_of_share, read_key, read_record, write_record
from journal.sharing.secrets import BrokenEntries, broken_entries_of
from journal.site.app import create_app, not_in_a_share
from journal.site.build.incremental import Copy, CorruptPictures, Plan, Report, WriteOffline, update_site
from journal.site.build.swap import (
    SHARE_SENTENCE,
    SHEET_SENTENCE,
    clean_up,
    new_tree,
    put_in_place,
    refuse_unless_ours,
    remove_tree,
)
from journal.site.images import published_name
from journal.site.pages import plan_site
from journal.site.plan import Published, Site
from journal.site.share_files import Group, MarkedText, PhotoSeen, TextSeen, write_preview, zip_folder

_NAME = re.compile(r"[^\W_](?:[\w -]{0,58}[^\W_])?")
PAGES = "pages"
"""The folder of a share's pages, beside its zip; both are in one folder, so that they take their place in one step."""


class LeaksFound(Refusal):
    """A finished share reveals something private, and was not put into place."""

    def __init__(self, share: str, leaks: Sequence[Leak]) -> None:
        self.leaks = tuple(leaks)
        places = len({leak.file for leak in leaks})
        super().__init__(
            f"the share {share} would reveal something private, in {places} of its files; no share was made, "
            "and an earlier one is unchanged"
        )


class NotReviewed(Refusal):
    """Something would be shared that nobody has looked at; no share was made. pieces: all of that."""

    def __init__(self, share: str, pieces: Sequence[Piece]) -> None:
        self.pieces = tuple(pieces)
        super().__init__(
            f"you have not looked at what the share {share} would reveal as it is now; no share was made. Look at the "
            f"page of `journal share {share} --preview`, then run `journal share {share} --reviewed`"
        )


@dataclass(frozen=True, slots=True)
class Prepared:
    """A share before any of it is made. read: the whole journal. whole: what is granted of it; redaction: the same
    without the texts that the author leaves out. files: all that is in its folder. key: the journal's; share_key:
    this share's."""

    share: Share
    read: ReadJournal
    whole: Redaction
    review: Review
    files: tuple[str, ...] = field(repr=False)
    broken: BrokenEntries = field(repr=False)
    key: bytes = field(repr=False)

    @property
    def share_key(self) -> bytes:
        return key_of_share(self.key, self.share.name)

    @property
    def redaction(self) -> Redaction:
        return replace(self.whole, journal=without(self.whole.journal, self.review.left_out))


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
    if not _NAME.fullmatch(share.name) or is_reserved(share.name):
        raise Refusal(
            f"the share {share.name!r} cannot be made, because its folder and its zip get its name; "
            "name it with letters, digits and hyphens, like [shares.mentor]"
        )
    return prepared_for(file_cache, read_journal(file_cache, report), share)


def prepared_for(file_cache: FileCache, read: ReadJournal, share: Share) -> Prepared:
    """A journal that was read, redacted for a share, which the settings need not have. Raises Refusal where the share
    cannot be made."""
    folder = read.written.folder
    files = tuple(file.path for files in (folder.entries, folder.photos, folder.csvs, folder.gpxs) for file in files)
    broken = broken_entries_of(_entries_with_errors(file_cache.root, read.journal))
    key = read_key(file_cache.root)
    share_key = key_of_share(key, share.name)
    whole = redaction_of(read.journal, share, files, broken, share_key)
    review = Review(pieces_of(read.journal, whole, share_key), read_record(file_cache.root, share.name))
    return Prepared(share, read, whole, review, files, broken, key)


def remember(
    file_cache: FileCache, prepared: Prepared, day: date, looked_at: Iterable[Piece], left_out: Iterable[Piece] = ()
) -> Prepared:
    """Keeps in the journal's folder that the author looked at these pieces that day, and leaves these texts out; gives
    the share as it is then. Raises OSError."""
    return _keep(file_cache, prepared, prepared.review.after(looked_at, left_out, day))


def _keep(file_cache: FileCache, prepared: Prepared, record: ReviewRecord) -> Prepared:
    if record != prepared.review.record:
        write_record(file_cache.root, prepared.share.name, record, prepared.key)
    return replace(prepared, review=replace(prepared.review, record=record))


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
    # named for what a reader gets, never for the original; keyed, so that no two shares can be laid side by side
    names = {}
    for path, row in made.items():
        largest = (file_cache.cache.pictures / f"{row.name}-{row.sizes[-1].width}.webp").read_bytes()
        names[path] = hmac.digest(prepared.share_key, b"picture\0" + largest, "sha256").hex()[:16]
    shared = prepared.redaction.published({path: replace(row, name=names[path]) for path, row in made.items()})
    return shared, {names[path]: row.name for path, row in made.items()}


def make_share_files(
    file_cache: FileCache, prepared: Prepared, out: Path, report: Report, keys: KeyFile | None = None
) -> FinishedShare:
    """Makes the share's pages and zip in a folder of its name in `out`; both are replaced in one step. out: absolute,
    links resolved. keys: with a key for this share, where it is to be locked. Raises Refusal where the folder there is
    not ours to replace, NotReviewed where something would be shared that nobody has looked at, LeaksFound where the
    share would reveal something private, OSError where the disk refuses; the earlier share is then unchanged."""
    if prepared.review.new:
        raise NotReviewed(prepared.share.name, prepared.review.new)
    if prepared.share.locked and keys is None:
        raise Refusal(f"the share {prepared.share.name} is to be locked, and there is no key for it")
    folder = share_folder(out, prepared.share.name)
    refuse_unless_ours(folder, file_cache.root, SHARE_SENTENCE)
    try:
        return _made_in(folder, file_cache, prepared, report, keys)
    except CorruptPictures as harmed:
        harmed.remove()
        return _made_in(folder, file_cache, prepared, report, keys)


def _made_in(
    folder: Path, file_cache: FileCache, prepared: Prepared, report: Report, keys: KeyFile | None
) -> FinishedShare:
    """As `make_share_files`, in the share's own folder; raises CorruptPictures too."""
    published, cached_names = published_of(file_cache, prepared, report)
    journal = prepared.redaction.journal
    # by what a reader's device remembers the share, from one copy to the next
    remembered = hmac.digest(prepared.share_key, b"reader", "sha256").hex()[:10]
    report("planning", 0, 1)
    site = plan_site(journal, published, remembered, key=prepared.share_key)
    report("planning", 1, 1)
    clean_up(folder)
    with new_tree(folder, mark_text=SHARE_SENTENCE) as tree:
        archive, packing = tree / f"{prepared.share.name}.zip", tree / "packing"
        packing.mkdir()
        packed = packing / "packed.zip"  # its own name is its author's choice, and no leak
        search = _Searching(_search_of(file_cache, prepared), prepared.share.name, report, 2 if keys is None else 3)
        plan = _plan(site, _pictures(file_cache, published, cached_names), lambda pages, *_: search.through(pages))
        pages = tree / (PAGES if keys is None else "plain")
        update_site(plan, pages, {}, lambda what, *far: None if what == "offline" else report(what, *far))
        if keys is not None:
            lock_folder(pages, tree / PAGES, keys, prepared.share.name, "share")
            remove_tree(pages)
            (tree / PAGES / SITE_MARK).write_text(SHARE_SENTENCE, encoding="utf-8", newline="\n")
            search.through(tree / PAGES)
        zip_folder(tree / PAGES, packed)
        search.through(packing)
        packed.rename(archive)
        packing.rmdir()
        sizes = sum((tree / PAGES / name).stat().st_size for name in files_below(tree / PAGES)), archive.stat().st_size
        put_in_place(tree, folder)
    return FinishedShare(journal, folder / PAGES, folder / archive.name, len(site.pages), *sizes)


def share_folder(out: Path, name: str) -> Path:
    """Where the share of this name lies; absolute, links resolved, as `out` is."""
    return (out / name).resolve()


_ByNameAndWidth = Mapping[tuple[str, int], Copy]


def _pictures(
    file_cache: FileCache, published: Mapping[str, Published], cached_names: Mapping[str, str]
) -> _ByNameAndWidth:
    """The published pictures of a share, each by its name there and its width."""
    found = {}
    for made in published.values():
        for size in made.sizes:
            file = file_cache.cache.pictures / f"{cached_names[made.name]}-{size.width}.webp"
            found[made.name, size.width] = Copy(file, f"{made.name}-{size.width}", sha256=size.sha256)
    return found


def _plan(site: Site, pictures: _ByNameAndWidth, write_offline: WriteOffline) -> Plan:
    resources = find_resources()
    statics, texts = static_files(resources, is_share=True)
    copies = {path: Copy(file, path) for path, file in statics.items()}
    copies |= {path: pictures[picture] for path, picture in site.pictures}
    return Plan(
        pages=site.pages,
        copies=copies,
        texts={**texts, **dict(site.texts)},
        version=page_version(resources),
        make_app=lambda: create_app(site.pages, resources / "templates", not_in_a_share(site.pages)),
        write_offline=write_offline,
        mark_text=SHARE_SENTENCE,
    )


def _search_of(file_cache: FileCache, prepared: Prepared) -> Search:
    """What looks for all that this share must not tell."""
    journal = prepared.read.journal
    # what cameras wrote into the shared photos, and the names of all pictures on the author's own site
    strings = [words for path in prepared.redaction.photos for words in camera_words(file_cache.root / path)]
    strings += [published_name(photo.digest) for photo in journal.photos if photo.digest]
    left_out = frozenset(
        (prepared.whole.paths.get(path, ""), name) for one in prepared.review.left_out for path, name, _ in one.at
    )
    detectors = detectors_of(journal, prepared.share, prepared.files, strings, prepared.broken, left_out)
    return Search(detectors)


@dataclass(slots=True)
class _Searching:
    """The search through every form of a share in turn. steps: how many there are."""

    search: Search
    share: str
    report: Report
    steps: int
    done: int = 0

    def through(self, folder: Path) -> None:
        """Raises LeaksFound where anything in the folder tells what must not be told."""
        self.report("searching", self.done, self.steps)
        if leaks := self.search.leaks_in(folder):
            raise LeaksFound(self.share, leaks)
        self.done += 1
        self.report("searching", self.done, self.steps)


def preview_page(file_cache: FileCache, prepared: Prepared, folder: Path, report: Report) -> Path:
    """Writes a page of every text and photo that would be shared into a folder, what is new first, and keeps in the
    journal's folder what it showed; gives the page's path. folder: absolute, links resolved. Raises Refusal where it
    is not ours to replace, OSError where the disk refuses."""
    refuse_unless_ours(folder, file_cache.root, SHEET_SENTENCE)
    published = publish(file_cache, prepared.read.written, prepared.whole.photos, report)
    review = prepared.review
    new, left_out = set(review.new), set(review.left_out)
    known = [piece for piece in review.pieces if piece not in new | left_out]
    groups = [_group(file_cache, prepared, published, pieces) for pieces in (review.new, known, review.left_out)]
    grant = next(piece for piece in review.pieces if piece.kind == "share")
    allows = f"The share allows{' (new or changed)' if grant in new else ''}: {grant.text}"
    news = new_in_words([piece for piece in review.new if piece != grant])
    clean_up(folder)
    with new_tree(folder, mark_text=SHEET_SENTENCE) as tree:
        page = write_preview(tree, prepared.share.name, news, allows, groups, find_resources())
        put_in_place(tree, folder)
    try:
        _keep(file_cache, prepared, review.shown())
    except OSError as error:
        error.add_note(f"The page was written: {folder / page.name}.")
        raise
    return folder / page.name


def _group(
    file_cache: FileCache, prepared: Prepared, published: Mapping[str, Published], pieces: Iterable[Piece]
) -> Group:
    photos, texts = [], []
    for piece in pieces:
        if piece.kind == "photo":
            uses = (
                (entry.title, use.caption)
                for entry in prepared.whole.journal.entries()
                for use in entry.photos
                if use.path == prepared.whole.photos[piece.path]
            )
            words = tuple(f"{title}: {caption}" if caption else title for title, caption in uses)
            photos.append(PhotoSeen(piece.path, None, 0, 0, words))
            if made := published.get(piece.path):
                largest = made.sizes[-1]
                file = file_cache.cache.pictures / f"{made.name}-{largest.width}.webp"
                photos[-1] = PhotoSeen(piece.path, file, largest.width, largest.height, words)
        elif piece.kind == "text":
            texts.append(TextSeen(piece.path, piece.field, tuple(_stretches(piece))))
    return Group(tuple(photos), tuple(texts))


def _stretches(piece: Piece) -> Iterator[MarkedText]:
    at = 0
    for flag in piece.flags:
        if flag.start > at:
            yield MarkedText(piece.text[at : flag.start])
        yield MarkedText(flag.text, flag.kind)
        at = flag.end
    if at < len(piece.text):
        yield MarkedText(piece.text[at:])
