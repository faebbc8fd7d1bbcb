"""What photos are of, which folder of the journal they go to, and what their copies and notes are called."""

from __future__ import annotations

import os
import posixpath
import re
import unicodedata
from collections.abc import Collection, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from journal.model import Photo, Ref
from journal.problems import Refusal, Unreadable, nearest, shortened
from journal.reading.consistency import stated_date
from journal.reading.entries import Draft, ProblemList, read_entry
from journal.reading.everyday_words import stages_of, word_meant, words_to_try
from journal.reading.folder import kind_of_file, nfc, path_key
from journal.reading.id_index import PARTS, IdOwner, Names, owners_in
from journal.reading.keys import STAGES
from journal.reading.label_codes import without_check
from journal.reading.listing import SITE_MARK, journal_around
from journal.reading.photo_claims import Album, uses_of
from journal.reading.values import is_reserved, parse_ref
from journal.settings import Settings


@dataclass(frozen=True, slots=True)
class Subject:
    """What a note will be about.

    ref: spelled as defined. kind: find, culture, batch, device or tent. path: of the entry that defines it; for a tent,
    which is in the settings, None. began: the date of its entry, None where it is less exact than a day.
    """

    ref: Ref
    kind: str
    path: str | None = None
    began: date | None = None

    @property
    def entry_kind(self) -> str:
        """The kind of entry that tells of it on a day."""
        return "tent" if self.kind == "tent" else "note"


def subject_named(typed: str, drafts: Sequence[Draft], settings: Settings) -> Subject:
    """What has the ID typed, or had it before, without regard to case, with its check character or without. Raises
    Refusal that names the nearest where nothing does."""
    _refuse_path(typed, drafts)
    names, owners = Names(settings.tents), owners_in(drafts)
    try:
        ref = parse_ref(without_check(typed, {owner.id.lower() for owner in owners.values()}))
    except Unreadable as unreadable:
        raise Refusal(f"{unreadable.message}; {unreadable.fix}") from None
    for path in sorted(owners, key=path_key):
        names.give(owners[path])
    for draft in drafts:
        for former in draft.values.get("formerly", ()) if draft.path in owners else ():
            names.give_former(former, owners[draft.path])
    owner = names.get(ref.id)
    if owner is None:
        near = nearest(ref.id, names.ids())
        raise Refusal(f"there is no {ref.id} in this journal" + (f"; did you mean {near}?" if near else ""))
    _refuse_missing_part(ref, owner)
    own = next((draft for draft in drafts if draft.path == owner.path), None)
    if own is None:
        return Subject(Ref(owner.id, ref.part), owner.kind)
    when = stated_date(own, ())
    began = when.first if when is not None and when.counts_days else None
    return Subject(Ref(owner.id, ref.part), owner.kind, own.path, began)


def _refuse_path(typed: str, drafts: Sequence[Draft]) -> None:
    """A path is there where the photos were typed first, or where a note is to get more photos."""
    path = posixpath.normpath(typed.strip().replace("\\", "/"))
    if "/" not in path and kind_of_file(path) not in ("entry", "photo"):
        return
    while path.startswith("../"):
        path = path[3:]
    meant = [draft for draft in drafts if f"/{draft.path}".endswith(f"/{path}")]
    found = [ref for draft in meant for ref in (draft.values.get("id"), *draft.values.get("about", ())) if ref]
    example = found[0] if len(meant) == 1 and found else "B-031"
    raise Refusal(
        f"{shortened(typed)} cannot be an ID: it looks like a file or folder; write the ID first, then the photos: "
        f"`journal attach {example} PHOTOS`"
    )


def _refuse_missing_part(ref: Ref, owner: IdOwner) -> None:
    if ref.part is None:
        return
    if owner.kind not in PARTS:
        raise Refusal(f"{owner.id} is a {owner.kind} and has no part {ref.part}; name {owner.id} itself")
    if owner.parts is not None and ref.part > owner.parts:
        word = PARTS[owner.kind]
        raise Refusal(
            f"{owner.id} has {owner.parts_in_words}, so there is no {owner.id}.{ref.part}; "
            f"correct the number, or `{word}` in {owner.path}"
        )


def stage_of(subject: Subject, typed: str | None) -> str | None:
    """The stage typed, as a note writes it; raises Refusal where what the note is about knows no such stage."""
    if typed is None:
        return None
    known = STAGES[subject.kind]
    stage = word_meant(stages_of(subject.kind), typed, known)
    if stage is not None:
        return stage
    if not known:
        raise Refusal(f"{subject.ref} is a {subject.kind}, which has no stages; leave out --stage")
    meant = words_to_try(stages_of(subject.kind), typed, known)
    raise Refusal(
        f"{shortened(typed)} is not a stage of a {subject.kind} ({subject.ref}); "
        + (f"did you mean {' or '.join(meant)}? The" if meant else "the")
        + f" stages are {', '.join(known)}"
    )


LONGEST_BYTES = 200
"""Of a name. File systems take 255; the name that a copy has while it is written is longer than its own."""

# What Windows takes in no name. Source: Microsoft, Naming Files, Paths, and Namespaces.
_NOT_ON_WINDOWS = frozenset('<>:"/\\|?*')


def folded(name: str) -> str:
    """What two names have in common that are one name on some system: Windows and macOS go by no case."""
    return nfc(name).casefold()


def name_for_copy(name: str, endings: Sequence[str], digest: str) -> str:
    """The name a photo gets in a journal: its own, where an entry can name it so.

    endings: how the name of a file of its kind may end, the usual first; empty where its kind is unknown.
    """
    # Composed Unicode text; what no name should hold becomes a hyphen, every run of blanks a space.
    text = nfc(os.fsencode(name).decode("utf-8", "replace"))
    kept = (" " if char.isspace() else "-" if _is_unfit(char) else char for char in text)
    stem, ending = os.path.splitext(re.sub(" +", " ", "".join(kept)).strip())
    if endings and ending.lower() not in endings:
        ending = endings[0]
    most_bytes = LONGEST_BYTES - len(ending.encode())
    stem = (stem.strip(" .") or "photo").encode()[:most_bytes].decode("utf-8", "ignore").rstrip(" .")
    if is_reserved(stem):
        stem = f"photo-{stem}"
    return stem + ending if can_be_listed(stem + ending) else f"photo-{digest[:12]}{ending}"


def _is_unfit(char: str) -> bool:
    return char in _NOT_ON_WINDOWS or char == "\ufffd" or unicodedata.category(char)[0] == "C"


def can_be_listed(name: str) -> bool:
    """Whether an entry that lists this name under `photos` names this very file."""
    entry = read_entry("note.md", photo_lines([name]).join(("---\n", "\n---\n")).encode("utf-8", "replace"), Settings())
    return entry is not None and entry.values.get("photos") == ((name, None),)


def photo_lines(names: Sequence[str]) -> str:
    """The lines of front matter that list these photos."""
    return "\n".join(["photos:", *(f"  - {name}" for name in names)])


def first_free(name: str, taken: Collection[str]) -> str:
    """The name, or the first like it (`IMG_0533-2.jpg`) that is free on every system. taken: as `folded` gives them."""
    return next(free for free in numbered(name) if folded(free) not in taken)


def numbered(name: str) -> Iterator[str]:
    """`IMG_0533.jpg`, `IMG_0533-2.jpg`, `IMG_0533-3.jpg` and so on."""
    yield name
    stem, ending = os.path.splitext(name)
    number = 2
    while True:
        yield f"{stem}-{number}{ending}"
        number += 1


_FOR_MANY = frozenset({"finds", "cultures", "batches", "devices", "tents", "notes"})
"""Folders that are for all entries of a kind, even while one of them is there alone."""


@dataclass(frozen=True, slots=True)
class Destination:
    """A folder for notes. path: relative to the journal, "" for the journal itself. own: whether it is the subject's
    alone, so that a name in it need not say whose it is."""

    path: str
    own: bool

    def file(self, name: str) -> str:
        """A file in it, relative to the journal."""
        return f"{self.path}/{name}" if self.path else name


def journal_and_folder(here: Path, into: Path | None) -> tuple[Path, str | None]:
    """The journal meant, and the folder in it that was asked for (relative; None where none was).

    here: where the command was given, in a journal or not. into: the journal, or a folder in it that there need not be
    yet. Raises Refusal for a folder that a journal does not read.
    """
    if into is None:
        found = _around(here.resolve())
        if found is None and not any(here.resolve().rglob("*.md")):  # without settings it may be a journal all the same
            raise Refusal(
                f"{here.resolve()} is not a journal; change to your journal's folder, or name it: --into my-journal"
            )
        return found or here.resolve(), None
    wanted = into.resolve()
    around = _around(Path(os.path.abspath(into))) or _around_or_itself(here, wanted, into)
    root = around.resolve()
    if not wanted.is_relative_to(root):
        raise Refusal(f"--into {into} is a link that leads out of the journal {root}; name a folder in it")
    if wanted == root:
        return root, None
    _refuse_unread(wanted, root, into)
    return root, spelled_on_disk(root, wanted.relative_to(root).as_posix())


def _around_or_itself(here: Path, wanted: Path, into: Path) -> Path:
    """The journal, where none with settings holds the folder asked for."""
    if wanted.is_relative_to(here.resolve()):
        return here
    mine = _around(here.resolve())
    if mine is not None:
        raise Refusal(f"--into {into} is outside this journal ({mine}) and is not a journal; name a folder in it")
    return wanted


def _around(folder: Path) -> Path | None:
    found = journal_around(str(folder))
    return None if found is None else Path(found)


def _refuse_unread(wanted: Path, root: Path, into: Path) -> None:
    below = wanted.relative_to(root)
    if any(part.startswith(".") for part in below.parts):
        raise Refusal(f"--into {into} is a hidden folder, which a journal does not read; name another folder")
    if any("\\" in part or not part.isprintable() for part in below.parts):  # no name in another encoding is printable
        raise Refusal(f"--into {into} has a name that a journal cannot read; name a folder in plain letters")
    for folder in (wanted, *wanted.parents):
        if (folder / SITE_MARK).exists():
            raise Refusal(f"--into {into} is in a built site, which the next build replaces; name another folder")
        if folder.exists() and not folder.is_dir():
            raise Refusal(f"--into {into}: {folder} is a file; name a folder")


def spelled_on_disk(root: Path, folder: str) -> str:
    """The folder as it is spelled where it is there, in whatever case or form it was asked for."""
    spelled: list[str] = []
    for part in folder.split("/") if folder else ():
        above, alike = root.joinpath(*spelled), []
        if not (above / part).exists():
            with suppress(OSError):
                alike = [other for other in os.listdir(above) if folded(other) == folded(part)]
        spelled.append(alike[0] if len(alike) == 1 else part)
    return "/".join(spelled)


def destinations_for(subject: Subject, drafts: Sequence[Draft]) -> Iterator[Destination]:
    """Where its notes may go, the best first, without end; the folders need not be there.

    That is the entry's own folder, else one of its name beside it, else a folder `notes` in that.
    """
    first = _first_home(subject, drafts)
    yield first
    inside = first.path if first.own else first.file(subject.ref.id)
    if not first.own:
        yield Destination(inside, own=True)
    yield from (Destination(f"{inside}/{name}", own=True) for name in numbered("notes"))


def _first_home(subject: Subject, drafts: Sequence[Draft]) -> Destination:
    if subject.path is None:  # a tent: where the last entry about it lies, by its path
        entries = [draft for draft in drafts if draft.kind == "tent"]
        own = [
            draft.path
            for draft in entries
            if subject.ref.id.lower() in (id.lower() for id in draft.values.get("about", ()))
        ]
        return Destination(posixpath.dirname(max(own, key=path_key)) if own else "tents", own=False)
    folder = posixpath.dirname(subject.path)
    is_for_many = posixpath.basename(folder).lower() in _FOR_MANY
    alone = all(draft.kind == "note" or draft.path == subject.path for draft in _in_folder(folder, drafts))
    if folder and not is_for_many and alone:
        return Destination(folder, own=True)
    return Destination(posixpath.join(folder, subject.ref.id), own=True)


def _in_folder(folder: str, drafts: Sequence[Draft]) -> list[Draft]:
    return [draft for draft in drafts if nfc(posixpath.dirname(draft.path)) == nfc(folder)]


def conflict_with(
    new: Sequence[Draft], home: Destination, drafts: Sequence[Draft], photos: Sequence[str]
) -> str | None:
    """What new entries in a folder would change there, as the end of a sentence; None where nothing.

    A photo that no entry names belongs to the entry that stands alone beside it, until another comes to be there.
    photos: every photo in that folder, those that come with the new entries included.
    """
    inside = _in_folder(home.path, drafts)
    album = Album(Photo(path=path, digest="") for path in photos)
    before, after = uses_of(inside, album, ProblemList(())), uses_of([*inside, *new], album, ProblemList(()))
    listed = {home.file(name) for draft in new for name, _ in draft.values.get("photos", ())}
    for draft in inside:
        lost = {use.path for use in before[draft.path]} - {use.path for use in after[draft.path]} - listed
        if lost:
            return f"{_shown(min(lost))} belongs to {draft.path} only while no other entry is in that folder"
    for draft in new:
        gained = {use.path for use in after[draft.path]} - listed
        if gained:
            return f"{_shown(min(gained))} is there and in no entry, and would become part of the new one"
    nameless = [draft.path for draft in inside if draft.kind == "note" and "about" not in draft.lines]
    if nameless and any(draft.kind != "note" for draft in new):
        return f"{nameless[0]} has no `about`, and gets it from the one other entry in that folder"
    return None


def _shown(path: str) -> str:
    return shortened(posixpath.basename(path))
