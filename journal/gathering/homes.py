"""Which folder of the journal a note and its photos go to, so that each photo belongs to that note and to no other."""

from __future__ import annotations

import os
import posixpath
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from journal.gathering.naming import folded, numbered
from journal.gathering.subjects import Subject
from journal.model import Photo
from journal.problems import shortened
from journal.reading.belonging import Album, uses_of
from journal.reading.entries import Draft
from journal.reading.faults import Faults
from journal.reading.folder import SETTINGS_NAME, SITE_MARK, nfc, path_key
from journal.refusal import Refusal

_FOR_MANY = frozenset({"finds", "cultures", "batches", "devices", "tents", "notes"})
"""Folders that are for all entries of a kind, even while one of them lies there alone."""


@dataclass(frozen=True, slots=True)
class Home:
    """A folder for notes. path: relative to the journal, "" for the journal itself. own: whether it is the subject's
    alone, so that a name in it need not say whose it is."""

    path: str
    own: bool

    def file(self, name: str) -> str:
        """A file in it, relative to the journal."""
        return f"{self.path}/{name}" if self.path else name


# -- which journal, and where in it, by what was asked for ------------------------------------------------------------


def journal_and_folder(here: Path, into: Path | None) -> tuple[Path, str | None]:
    """The journal meant, and the folder in it that was asked for (relative; None where none was).

    here: where the command was given, in a journal or not. into: the journal, or a folder in it that there need not be
    yet. Raises Refusal where it is a folder that a journal does not read.
    """
    if into is None:
        return _journal_around(here.resolve()) or _with_entries(here.resolve()), None
    written, wanted = Path(os.path.abspath(into)), into.resolve()
    around = _journal_around(written)
    if around is None:
        around = _around_or_itself(here, wanted, into)
    root = around.resolve()
    if not wanted.is_relative_to(root):
        raise Refusal(f"--into {into} leads out of the journal {root} by a link; name a folder that lies in it")
    if wanted == root:
        return root, None
    _refuse_unread(wanted, root, into)
    return root, spelt_on_disk(root, wanted.relative_to(root).as_posix())


def _with_entries(here: Path) -> Path:
    """A folder without settings, which may be a journal all the same."""
    if not any(here.rglob("*.md")):
        raise Refusal(f"{here} is no journal; stand in yours, or name it: --into my-journal")
    return here


def _around_or_itself(here: Path, wanted: Path, into: Path) -> Path:
    """The journal, where none with settings holds the folder asked for."""
    if wanted.is_relative_to(here.resolve()):
        return here
    mine = _journal_around(here.resolve())
    if mine is not None:
        raise Refusal(f"--into {into} lies outside this journal ({mine}), and is no journal itself")
    return wanted


def _journal_around(folder: Path) -> Path | None:
    """The nearest folder, from this one upwards, that holds a journal's settings."""
    return next((path for path in (folder, *folder.parents) if (path / SETTINGS_NAME).is_file()), None)


def _refuse_unread(wanted: Path, root: Path, into: Path) -> None:
    below = wanted.relative_to(root)
    if any(part.startswith(".") for part in below.parts):
        raise Refusal(f"--into {into} is a hidden folder, which a journal does not read")
    if any("\\" in part or not _is_text(part) for part in below.parts):
        raise Refusal(f"--into {into} has a name that a journal cannot read; name a folder in plain letters")
    for folder in (wanted, *wanted.parents):
        if (folder / SITE_MARK).exists():
            raise Refusal(f"--into {into} lies in a built site, which the next build replaces")
        if folder.exists() and not folder.is_dir():
            raise Refusal(f"--into {into}: {folder} is a file; name a folder")


def _is_text(name: str) -> bool:
    try:
        name.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return name.isprintable()


def spelt_on_disk(root: Path, folder: str) -> str:
    """The folder as it is spelt where it is there, in whatever case or form it was asked for."""
    spelt: list[str] = []
    for part in folder.split("/") if folder else ():
        above = root.joinpath(*spelt)
        alike = [] if (above / part).exists() else _alike(above, part)
        spelt.append(alike[0] if len(alike) == 1 else part)
    return "/".join(spelt)


def _alike(folder: Path, name: str) -> list[str]:
    try:
        return [other for other in os.listdir(folder) if folded(other) == folded(name)]
    except OSError:
        return []


# -- where an entry's notes go ----------------------------------------------------------------------------------------


def homes_for(subject: Subject, drafts: Sequence[Draft]) -> Iterator[Home]:
    """Where its notes may go, the best first, without end; the folders need not be there.

    That is the entry's own folder, else one of its name beside it, else a folder `notes` in that.
    """
    first = _first_home(subject, drafts)
    yield first
    inside = first.path if first.own else first.file(subject.ref.id)
    if not first.own:
        yield Home(inside, own=True)
    yield from (Home(f"{inside}/{name}", own=True) for name in numbered("notes"))


def _first_home(subject: Subject, drafts: Sequence[Draft]) -> Home:
    if subject.path is None:
        return Home(_where_tents_lie(subject, drafts), own=False)
    folder = posixpath.dirname(subject.path)
    is_for_many = posixpath.basename(folder).lower() in _FOR_MANY
    if folder and not is_for_many and _is_alone(subject, folder, drafts):
        return Home(folder, own=True)
    return Home(posixpath.join(folder, subject.ref.id), own=True)


def _is_alone(subject: Subject, folder: str, drafts: Sequence[Draft]) -> bool:
    """Whether a folder holds no other entry but notes."""
    inside = _in_folder(folder, drafts)
    return all(draft.kind == "note" or draft.path == subject.path for draft in inside)


def _where_tents_lie(subject: Subject, drafts: Sequence[Draft]) -> str:
    """Where the last entry about a tent lies, by its path; the usual folder where there is none."""
    own = [
        draft.path
        for draft in drafts
        if draft.kind == "tent" and subject.ref.id.lower() in (id.lower() for id in draft.values.get("about", ()))
    ]
    return posixpath.dirname(max(own, key=path_key)) if own else "tents"


def _in_folder(folder: str, drafts: Sequence[Draft]) -> list[Draft]:
    return [draft for draft in drafts if nfc(posixpath.dirname(draft.path)) == nfc(folder)]


def disturbed_by(new: Sequence[Draft], home: Home, drafts: Sequence[Draft], photos: Sequence[str]) -> str | None:
    """What new entries in a folder would upset there, as the end of a sentence; None where nothing.

    A photo that no entry names belongs to the entry that stands alone beside it, until another comes to stand there.
    photos: every photo in that folder, those that come with the new entries included.
    """
    inside = _in_folder(home.path, drafts)
    album = Album(Photo(path=path, digest="") for path in photos)
    before, after = uses_of(inside, album, Faults(())), uses_of([*inside, *new], album, Faults(()))
    listed = {home.file(name) for draft in new for name, _ in draft.values.get("photos", ())}
    for draft in inside:
        lost = {use.path for use in before[draft.path]} - {use.path for use in after[draft.path]} - listed
        if lost:
            return f"{_shown(min(lost))} belongs to {draft.path} only as long as no other entry stands beside it"
    for draft in new:
        gained = {use.path for use in after[draft.path]} - listed
        if gained:
            return f"{_shown(min(gained))} lies there in no entry, and would come to belong to the new one"
    nameless = [draft.path for draft in inside if draft.kind == "note" and "about" not in draft.lines]
    if nameless and any(draft.kind != "note" for draft in new):
        return f"{nameless[0]} says what it is about only by lying beside it"
    return None


def _shown(path: str) -> str:
    return shortened(posixpath.basename(path))
