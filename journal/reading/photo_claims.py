"""Which photos belong to which entry."""

from __future__ import annotations

import posixpath
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from journal.model import Photo, PhotoUse
from journal.problems import nearest_file, shortened
from journal.reading.entries import Draft, Kept, ProblemList
from journal.reading.folder import folder_of, kind_of_file, nfc, path_key
from journal.reading.pictures_in_text import shown_in

_ELSEWHERE = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:[/\\\\]|(?:data|file):", re.IGNORECASE)


class Album:
    """The journal's photos, found by path without regard to Unicode form or, if that is unambiguous, case."""

    def __init__(self, photos: Iterable[Photo]) -> None:
        self._by_path = {nfc(photo.path): photo.path for photo in photos}
        self._by_fold: dict[str, list[str]] = defaultdict(list)
        self._by_folder: dict[str, list[str]] = defaultdict(list)
        self._by_name: dict[str, list[str]] = defaultdict(list)
        for path in sorted(self._by_path.values(), key=path_key):
            self._by_fold[nfc(path).casefold()].append(path)
            self._by_folder[folder_of(path)].append(path)
            self._by_name[nfc(posixpath.basename(path)).casefold()].append(path)

    def find(self, path: str) -> str | None:
        """The photo's path as on disk, or None."""
        exact = self._by_path.get(nfc(path))
        if exact is not None:
            return exact
        alike = self._by_fold.get(nfc(path).casefold(), [])
        return alike[0] if len(alike) == 1 else None

    def beside(self, entry_path: str) -> list[str]:
        """The photos in an entry's own folder, in order."""
        return self._by_folder.get(folder_of(entry_path), []) if self._by_folder else []

    def advice(self, path: str) -> str:
        folder, name = posixpath.split(nfc(path))
        elsewhere = self._by_name.get(name.casefold(), [])
        if elsewhere:
            return f"write the path to {elsewhere[0]}, or move it next to the entry"
        near = nearest_file(name, self._by_folder.get(folder, []))
        return (
            f"write {posixpath.basename(near)}, if you mean that"
            if near
            else "put the file next to the entry, or remove its name"
        )


def uses_of(
    drafts: Iterable[Draft],
    album: Album,
    problems: ProblemList,
    own_photos: Mapping[str, Sequence[str]] | None = None,
    kept: Kept | None = None,
) -> dict[str, tuple[PhotoUse, ...]]:
    """The photos of each entry, by its path: those it lists, those its text shows, and, if it is the only entry of its
    folder, those beside it. own_photos: the last of these, if they are known. kept: of an earlier call, with the same
    photos."""
    drafts = list(drafts)
    own_photos = photos_beside(drafts, album) if own_photos is None else own_photos

    def uses_in(draft: Draft) -> tuple[str, tuple[PhotoUse, ...]]:
        """The first use of each photo, with what later uses add: a missing caption, or that the text shows it."""
        kept: dict[str, PhotoUse] = {}
        for use in (*_named(draft, album, problems), *map(PhotoUse, own_photos.get(draft.path, ()))):
            first = kept.setdefault(use.path, use)
            kept[use.path] = replace(first, caption=first.caption or use.caption, in_text=first.in_text or use.in_text)
        return draft.path, tuple(kept.values())

    asked = [draft for draft in drafts if draft.path in own_photos or may_name_photos(draft)]
    found = problems.each(asked, uses_in, kept, lambda draft: (draft, tuple(own_photos.get(draft.path, ()))))
    return {draft.path: () for draft in drafts} | dict(found)


def photos_beside(drafts: Iterable[Draft], album: Album) -> dict[str, list[str]]:
    """The photos beside each entry that is the only one of its folder and has any, by the entry's path."""
    having = [(draft.path, beside) for draft in drafts if (beside := album.beside(draft.path))]
    entries_in = Counter(folder_of(path) for path, _ in having)
    return {path: beside for path, beside in having if entries_in[folder_of(path)] == 1}


def may_name_photos(draft: Draft) -> bool:
    """Whether an entry lists photos, or its text may show some."""
    return "photos" in draft.values or "![" in draft.text


def photos_named(draft: Draft, album: Album) -> frozenset[str]:
    return frozenset(use.path for use in _named(draft, album, ProblemList(())))


def _named(draft: Draft, album: Album, problems: ProblemList) -> Iterator[PhotoUse]:
    """The photos that an entry lists, then those that its text shows."""
    for name, caption in draft.values.get("photos", ()):
        if (path := _find(name, draft, draft.lines.get("photos", 0), album, problems)) is not None:
            yield PhotoUse(path, caption or None)
    for shown in shown_in(draft.text):
        if (path := _find(shown.target, draft, draft.text_line + shown.line, album, problems)) is not None:
            yield PhotoUse(path, shown.alt or None, in_text=True)


def path_from(draft: Draft, written: str) -> str:
    """The path in the journal that an entry means by one relative to its own folder."""
    return posixpath.normpath(posixpath.join(posixpath.dirname(draft.path), written.replace("\\", "/")))


def _find(name: str, draft: Draft, line: int, album: Album, problems: ProblemList) -> str | None:
    """The path of the photo an entry names, or None and a problem."""
    path = path_from(draft, name)
    if _ELSEWHERE.match(name) or path.startswith(("/", "../")) or path == "..":
        message, fix = f"{shortened(name)} is not in the journal folder", "put the photo next to the entry"
    elif kind_of_file(path) != "photo":
        message = f"{shortened(name)} is not a JPEG, HEIC, PNG, WebP, TIFF or AVIF file"
        fix = "name a photo of one of these kinds"
    elif (found := album.find(path)) is not None:
        return found
    else:
        message, fix = f"there is no photo {shortened(name)}", album.advice(path)
    problems.at(draft.path, line, "error", message, fix)
    return None
