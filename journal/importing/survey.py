"""Compares the named photos with the journal, and finds the hidden files that a stopped run left in it."""

from __future__ import annotations

import os
import posixpath
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from journal.analysis.progress import GROWING, OVER
from journal.cache.file_cache import FileCache
from journal.cache.unchanged import sha256_of
from journal.importing.copying import PART, READY, Disk
from journal.importing.destinations import Subject, folded
from journal.importing.filing import JournalContents, claims_in
from journal.importing.photo_files import Content, Inspected, Report, Source, contents_of, inspect, known_contents
from journal.model import Ref
from journal.problems import Refusal
from journal.reading.consistency import stated_date
from journal.reading.dates import journal_zone
from journal.reading.entries import Draft
from journal.reading.folder import Folder, kind_of_file, nfc
from journal.reading.listing import SITE_MARK
from journal.settings import CameraClock


@dataclass(frozen=True, slots=True)
class Leftover:
    """A hidden file. path: the one that it was to have, relative to the journal. is_whole: whether it is ready."""

    file: Path
    path: str
    is_whole: bool

    @property
    def is_note(self) -> bool:
        return kind_of_file(self.path) == "entry"


def leftovers_in(root: Path) -> list[Leftover]:
    """Every such file, wherever a journal is read; opens none."""
    found = []
    for here, folders, files in os.walk(root):
        if SITE_MARK in files:
            folders.clear()
            continue
        folders[:] = [name for name in folders if not name.startswith(".")]
        found += [one for name in files if (one := _leftover(root, Path(here) / name))]
    return sorted(found, key=lambda one: one.path)


def _leftover(root: Path, file: Path) -> Leftover | None:
    ending = next((ending for ending in (PART, READY) if file.name.endswith(ending)), None)
    if ending is None or not file.name.startswith("."):
        return None
    final = file.with_name(file.name[1 : -len(ending)] or "none")
    if kind_of_file(final.name) not in ("entry", "photo"):
        return None
    return Leftover(file, final.relative_to(root).as_posix(), ending == READY)


def clear_notes(leftovers: Iterable[Leftover], root: Path, disk: Disk) -> list[Leftover]:
    """Removes what is not a complete photo, and gives those that are.

    A note that was never put in place goes too: the run that comes again writes it again. One whose name was taken
    before it was filled gets it.
    """
    photos = []
    for one in leftovers:
        final = root / one.path
        if one.is_whole and not one.is_note:
            photos.append(one)
        elif one.is_whole and final.is_file() and final.stat().st_size == 0:
            disk.reveal(one.file, final)
        else:
            disk.remove(one.file)
    return photos


def finish_photos(photos: Iterable[Leftover], drafts: Sequence[Draft], root: Path, disk: Disk) -> list[Leftover]:
    """Gives every photo its name that a note beside it names already; gives the photos that none names."""
    named = {
        nfc(posixpath.normpath(posixpath.join(posixpath.dirname(draft.path), name)))
        for draft in drafts
        for name, _ in draft.values.get("photos", ())
    }
    return [one for one in photos if nfc(one.path) not in named or not disk.reveal(one.file, root / one.path)]


def digests_of(waiting: Iterable[Leftover]) -> Mapping[str, str]:
    """Digest (hex) of each waiting photo, by the path that it was to have."""
    return {one.path: sha256_of(one.file) for one in waiting}


def remove_duplicates(waiting: Iterable[Leftover], contents: Collection[str], disk: Disk) -> list[Leftover]:
    """Removes every waiting photo whose content (its digest) is to be seen in the journal; gives the others."""
    others = []
    for one in waiting:
        if sha256_of(one.file) in contents:
            disk.remove(one.file)
        else:
            others.append(one)
    return others


@dataclass(frozen=True, slots=True)
class Survey:
    """contents: of every photo that can be read, in the order named. inspected: by digest, those that no entry has for
    certain. left_out: (photo as typed, why) of the others."""

    contents: Sequence[Content]
    inspected: Mapping[str, Inspected]
    inventory: JournalContents
    left_out: Sequence[tuple[str, str]]

    @property
    def timeless(self) -> list[Inspected]:
        """Photos that have no time in them and are in no entry."""
        new = (one for digest, one in self.inspected.items() if not self.inventory.holder(digest, None))
        return [one for one in new if one.day is None and one.is_picture]


def survey(
    sources: Sequence[Source],
    folder: Folder,
    drafts: Sequence[Draft],
    zone_name: str,
    memory: FileCache,
    waiting: Sequence[Leftover],
    report: Report,
    clocks: Sequence[CameraClock] = (),
    known_too: bool = False,
) -> Survey:
    """Looks at every photo that is new, and at no other. waiting: whole photos that a stopped run left hidden. clocks:
    of cameras that are off. known_too: looks at those in the journal as well."""
    contents, left_out = contents_of(sources, report)
    sizes = {content.size for content in contents} | {one.file.stat().st_size for one in waiting}
    photos = [file.path for file in folder.photos]
    inventory = JournalContents(
        drafts=drafts,
        photos=photos,
        contents=known_contents(memory, folder.photos, sizes),
        claims=claims_in(drafts, photos),
        names_in=lambda path: _names_in(folder.root / path),
        waiting=digests_of(waiting),
    )
    by_digest = {content.digest: content for content in reversed(contents)}
    unsure = [content for digest, content in by_digest.items() if known_too or not inventory.holds_on_any_day(digest)]
    inspected = inspect(unsure[::-1], memory, journal_zone(zone_name), report, clocks)
    return Survey(contents, {one.content.digest: one for one in inspected}, inventory, left_out)


def _names_in(folder: Path) -> set[str]:
    """The names in a folder, as `folded`; none where there is no such folder."""
    try:
        return {folded(name) for name in os.listdir(folder)}
    except FileNotFoundError:
        return set()


def over_since(ref: Ref, drafts: Sequence[Draft]) -> tuple[str, date] | None:
    """The stage and its day where the last note of a stage says that the whole is spent, discarded or dead."""
    rows = [
        (when.iso, draft.values["stage"], when.first)
        for draft in drafts
        if draft.kind == "note" and draft.values.get("stage") in OVER | GROWING
        if any(about.id.lower() == ref.id.lower() and about.part is None for about in draft.values.get("about", ()))
        if (when := stated_date(draft, ())) is not None
    ]
    _, stage, day = max(rows, default=("", "", date.min))
    return (stage, day) if stage in OVER else None


def refuse_undated(subject: Subject, inventory: JournalContents) -> None:
    """Raises Refusal where the entry that defines the ID is left out of the journal because it has no date."""
    own = next((draft for draft in inventory.drafts if draft.path == subject.path), None)
    if own is None or stated_date(own, ()) or any(claim.entry == own.path for claim in inventory.claims.values()):
        return
    raise Refusal(f"{own.path} has no date, so {subject.ref.id} is not in the journal yet; write its date first")
