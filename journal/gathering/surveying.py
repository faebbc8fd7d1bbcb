"""The photos that were named, held against what the journal holds."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from journal.gathering.claims import claims_in
from journal.gathering.filing import Shelf
from journal.gathering.leftovers import Leftover, digests_of
from journal.gathering.looking import Content, Looked, Tell, contents_of, known_contents, look_at
from journal.gathering.naming import folded
from journal.gathering.sources import Source
from journal.gathering.subjects import Subject
from journal.keeping.remembering import Memory
from journal.reading.dates import journal_zone
from journal.reading.dating import date_as_told
from journal.reading.entries import Draft
from journal.reading.folder import Folder
from journal.refusal import Refusal


@dataclass(frozen=True, slots=True)
class Survey:
    """contents: of every photo that can be read, in the order named. looked: by digest, those of them that no entry has
    for certain. left_out: (photo as typed, why) of the others."""

    contents: Sequence[Content]
    looked: Mapping[str, Looked]
    shelf: Shelf
    left_out: Sequence[tuple[str, str]]

    @property
    def timeless(self) -> list[Looked]:
        """Photos that tell no time and are in no entry."""
        new = (one for digest, one in self.looked.items() if not self.shelf.holder(digest, None))
        return [one for one in new if one.day is None and one.is_picture]


def survey(
    sources: Sequence[Source],
    folder: Folder,
    drafts: Sequence[Draft],
    zone_name: str,
    memory: Memory,
    waiting: Sequence[Leftover],
    tell: Tell,
) -> Survey:
    """Looks at every photo that is new, and at no other.

    folder, drafts: the journal as read. waiting: whole photos that a stopped run left hidden.
    """
    contents, left_out = contents_of(sources, tell)
    sizes = {content.size for content in contents} | {one.file.stat().st_size for one in waiting}
    photos = [file.path for file in folder.photos]
    shelf = Shelf(
        drafts=drafts,
        photos=photos,
        contents=known_contents(memory, folder.photos, sizes),
        claims=claims_in(drafts, photos),
        names_in=lambda path: _names_in(folder.root / path),
        waiting=digests_of(waiting),
    )
    by_digest = {content.digest: content for content in reversed(contents)}
    unsure = [content for digest, content in by_digest.items() if not shelf.holds_on_any_day(digest)]
    looked = look_at(unsure[::-1], memory, journal_zone(zone_name), tell)
    return Survey(contents, {one.content.digest: one for one in looked}, shelf, left_out)


def _names_in(folder: Path) -> set[str]:
    """The names in a folder, as `folded`; none where there is no such folder."""
    try:
        return {folded(name) for name in os.listdir(folder)}
    except FileNotFoundError:
        return set()


def refuse_undated(subject: Subject, shelf: Shelf) -> None:
    """Raises Refusal where the entry that defines the ID is left out of the journal, because nothing tells its date."""
    own = next((draft for draft in shelf.drafts if draft.path == subject.path), None)
    if own is None or date_as_told(own, ()) or any(claim.entry == own.path for claim in shelf.claims.values()):
        return
    raise Refusal(f"{own.path} tells no date, so {subject.ref.id} is not in the journal yet; write its date first")
