"""What the author wrote, without anything private, as if that had never been written."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from urllib.parse import unquote

from journal.reading.entries import Draft
from journal.reading.folder import nfc
from journal.reading.photo_claims import Album, path_from, photos_beside, photos_named
from journal.reading.private_passages import split_private

_DEFINITION = re.compile(r"^ {0,3}\[(?P<label>[^\[\]]+)\]:\s*(?:<(?P<pointed>[^<>\n]*)>|(?P<bare>\S+))", re.MULTILINE)
_LABEL = re.compile(r"\[([^\[\]]+)\]")
_TARGET = re.compile(r"[^\s()<>\"'\[\]]+")


@dataclass(frozen=True, slots=True)
class PublicPart:
    """drafts: those that are not private, their texts without private passages. own_photos: the photos that belong to
    each of them because they are beside it, by its path."""

    drafts: tuple[Draft, ...]
    own_photos: Mapping[str, Sequence[str]]


def public_part(drafts: Iterable[Draft], album: Album) -> PublicPart:
    """A journal's drafts without what is private.

    A photo that private text names (lists, shows by a link or by reference, or mentions by file name) does not belong
    to an entry merely because it is beside it; it belongs to a public entry that lists or shows it. A photo that
    belongs to no entry because a private one is also in its folder belongs to none here either: what the author never
    saw on a page of their own goes into no share.
    """
    drafts = list(drafts)
    kept = tuple(_without_private(draft) for draft in drafts if not _is_private(draft))
    secret = frozenset(path for draft in drafts for path in _named_privately(draft, album))
    beside = photos_beside(drafts, album)
    own_photos = {draft.path: [path for path in beside.get(draft.path, ()) if path not in secret] for draft in kept}
    return PublicPart(kept, own_photos)


def _is_private(draft: Draft) -> bool:
    return bool(draft.values.get("private", False))


def _without_private(draft: Draft) -> Draft:
    passages = split_private(draft.text)
    if not any(is_private for _, is_private in passages):
        return draft
    return replace(draft, text="".join(passage for passage, is_private in passages if not is_private))


def _named_privately(draft: Draft, album: Album) -> Iterator[str]:
    """Paths of the photos that a private entry or passage names in any way; in doubt included."""
    if _is_private(draft):
        private = draft.text
        yield from photos_named(draft, album)
    else:
        private = "".join(passage for passage, is_private in split_private(draft.text) if is_private)
        yield from photos_named(replace(draft, text=private, values={}), album)
    if not private.strip():
        return
    plain = nfc(unquote(private)).casefold()
    yield from (path for path in album.beside(draft.path) if nfc(posixpath.basename(path)).casefold() in plain)
    for target in (*_TARGET.findall(private), *_targets_by_reference(private, draft.text)):
        found = album.find(path_from(draft, unquote(target)))
        if found is not None:
            yield found


def _targets_by_reference(private: str, whole: str) -> Iterator[str]:
    """Targets of the reference labels that private text uses, wherever in the entry they are defined."""
    used = {_label(label) for label in _LABEL.findall(private)}
    for found in _DEFINITION.finditer(whole):
        if _label(found["label"]) in used:
            yield found["pointed"] if found["pointed"] is not None else found["bare"]


def _label(written: str) -> str:
    return " ".join(written.split()).casefold()
