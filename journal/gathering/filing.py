"""Camera photos -> notes: which photo goes into the note of which day, and which stays out and why. Writes nothing."""

from __future__ import annotations

import posixpath
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Literal

from journal.gathering.claims import Claim
from journal.gathering.homes import Home, disturbed_by, homes_for
from journal.gathering.looking import Content, Looked
from journal.gathering.naming import can_be_listed, first_free, folded, name_for_copy, numbered
from journal.gathering.notes import note_name, note_text
from journal.gathering.subjects import Subject
from journal.model import Settings
from journal.reading.entries import Draft, read_entry
from journal.reading.folder import nfc
from journal.refusal import Refusal

Fate = Literal["copied", "listed", "known", "again", "no day", "no picture", "elsewhere", "unlisted"]
"""What becomes of a photo.

copied: into the note's folder. listed: it lies there already. known: an entry has it. again: the same as one named
before it. no day: it tells none, and nobody else does. no picture: it is another file under a picture's name.
elsewhere: it lies in the journal, in another folder, and no entry has it. unlisted: it lies in the note's folder under
a name that no entry can list.
"""

LEFT_OUT: tuple[Fate, ...] = ("no day", "no picture", "elsewhere", "unlisted")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a keeper asked for. folder: in the journal; None for the usual one."""

    subject: Subject
    stage: str | None = None
    folder: str | None = None


@dataclass(frozen=True, slots=True)
class Shelf:
    """What the journal holds, as far as filing has to know it.

    photos: the path of each. contents: digest -> paths of photos. claims: photo path -> who has it. names_in: gives the
    names in a folder, by its path in the journal, as `folded`. waiting: digest of each copy that a stopped run left
    hidden, by the path that it was meant to have.
    """

    drafts: Sequence[Draft]
    photos: Sequence[str]
    contents: Mapping[str, tuple[str, ...]]
    claims: Mapping[str, Claim]
    names_in: Callable[[str], Collection[str]]
    waiting: Mapping[str, str] = field(default_factory=dict)

    def holder(self, digest: str, day: date | None) -> tuple[str, str] | None:
        """(photo path, entry path) of an entry that has this content, on that day; None where none has."""
        held = ((path, self.claims.get(path)) for path in self.contents.get(digest, ()))
        return next(((path, claim.entry) for path, claim in held if claim and claim.holds(day)), None)

    def holds_on_any_day(self, digest: str) -> bool:
        """Whether an entry has this content whenever it was taken, so that nobody need look."""
        claims = (self.claims.get(path) for path in self.contents.get(digest, ()))
        return any(claim is not None and claim.only_of is None for claim in claims)


@dataclass(frozen=True, slots=True)
class Filed:
    """One photo and what becomes of it.

    looked: None where an entry has it already, or it was named before. day: of its note. path: where it lies or will
    lie in the journal. besides: the entry that has it, or the photo that it is the same as.
    """

    content: Content
    fate: Fate
    looked: Looked | None = None
    day: date | None = None
    path: str = ""
    besides: str = ""

    @property
    def name(self) -> str:
        """Its name in the journal."""
        return posixpath.basename(self.path)


@dataclass(frozen=True, slots=True)
class PlannedNote:
    """A note to be written. photos: copied or listed, in the order in which they were taken."""

    path: str
    day: date
    photos: tuple[Filed, ...]

    @property
    def to_copy(self) -> tuple[Filed, ...]:
        return tuple(photo for photo in self.photos if photo.fate == "copied")


@dataclass(frozen=True, slots=True)
class Plan:
    """notes: by day. filed: every photo, in the order in which they were named."""

    wanted: Wanted
    home: Home
    notes: tuple[PlannedNote, ...]
    filed: tuple[Filed, ...]

    def with_fate(self, *fates: Fate) -> list[Filed]:
        return [one for one in self.filed if one.fate in fates]

    @property
    def left_out(self) -> list[Filed]:
        return self.with_fate(*LEFT_OUT)

    @property
    def copied_bytes(self) -> int:
        return sum(one.content.size for one in self.with_fate("copied"))

    def text_of(self, note: PlannedNote, names: Sequence[str]) -> str:
        """The note's text, where it names these photos."""
        return note_text(self.wanted.subject, note.day, self.wanted.stage, names)


def file_photos(
    wanted: Wanted, contents: Sequence[Content], looked: Mapping[str, Looked], days: Mapping[str, date], shelf: Shelf
) -> Plan:
    """What becomes of every photo, and the notes: one for each day.

    looked: by digest, for every content that no entry has for certain. days: by digest, for photos that tell no time.
    Raises Refusal where the folder asked for would upset which photo belongs to whom.
    """
    for home in _homes(wanted, shelf):
        filed = list(_filed(contents, looked, days, home, shelf))
        plan = _plan(wanted, home, filed, shelf)
        upset = _upset_by(plan, shelf) if plan.notes else None
        if upset is None:
            return plan
        if wanted.folder is not None:
            raise Refusal(f"--into {home.path}: {upset}; name another folder, or leave --into out")
    raise AssertionError("a folder that is not there yet upsets nothing")


def _homes(wanted: Wanted, shelf: Shelf) -> Iterator[Home]:
    usual = homes_for(wanted.subject, shelf.drafts)
    if wanted.folder is None:
        yield from usual
        return
    first = next(usual)
    yield first if nfc(first.path) == nfc(wanted.folder) else Home(wanted.folder, own=False)


def _filed(
    contents: Sequence[Content], looked: Mapping[str, Looked], days: Mapping[str, date], home: Home, shelf: Shelf
) -> Iterator[Filed]:
    """Every photo and what becomes of it; those to be copied have no path yet."""
    first_of: dict[str, Content] = {}
    for content in contents:
        first = first_of.setdefault(content.digest, content)
        if first is not content:
            yield Filed(content, "again", besides=first.source.shown)
            continue
        look = looked.get(content.digest)
        day = (look.day if look else None) or days.get(content.digest)
        yield replace(_one_filed(content, look, day, home, shelf), looked=look, day=day)


def _one_filed(content: Content, look: Looked | None, day: date | None, home: Home, shelf: Shelf) -> Filed:
    holder = shelf.holder(content.digest, day)
    if holder:
        return Filed(content, "known", path=holder[0], besides=holder[1])
    if look is not None and not look.is_picture:
        return Filed(content, "no picture")
    if day is None:
        return Filed(content, "no day")
    lying = shelf.contents.get(content.digest, ())
    beside = [path for path in lying if nfc(posixpath.dirname(path)) == nfc(home.path)]
    if beside:
        listable = can_be_listed(posixpath.basename(beside[0]))
        return Filed(content, "listed" if listable else "unlisted", path=beside[0])
    return Filed(content, "elsewhere", path=lying[0]) if lying else Filed(content, "copied")


def _plan(wanted: Wanted, home: Home, filed: list[Filed], shelf: Shelf) -> Plan:
    """Names for notes and copies, each free in the folder, and the photos laid together by day."""
    taken = set(shelf.names_in(home.path))
    named: dict[int, Filed] = {}
    notes = []
    for day, photos in sorted(_by_day(filed).items()):
        photos.sort(key=lambda at: _when(filed[at]))
        in_order = [(at, _named(filed[at], home, taken, shelf)) for at in photos]
        named.update(in_order)
        name = first_free(note_name(wanted.subject, day, wanted.stage, home.own), taken)
        taken.add(folded(name))
        notes.append(PlannedNote(home.file(name), day, tuple(photo for _, photo in in_order)))
    return Plan(wanted, home, tuple(notes), tuple(named.get(at, one) for at, one in enumerate(filed)))


def _by_day(filed: Sequence[Filed]) -> dict[date, list[int]]:
    """Day -> places in the sequence of the photos for its note."""
    days: dict[date, list[int]] = defaultdict(list)
    for at, one in enumerate(filed):
        if one.fate in ("copied", "listed") and one.day:
            days[one.day].append(at)
    return days


def _when(one: Filed) -> tuple[float, str]:
    """Sorts by the moment it was taken, and those that tell none behind, by name."""
    taken = one.looked.taken if one.looked else None
    return (taken.timestamp() if taken else float("inf"), folded(one.content.source.name))


def _named(one: Filed, home: Home, taken: set[str], shelf: Shelf) -> Filed:
    """The photo with its path; a name that a stopped run's copy of the same content waits for is free to it alone."""
    if one.fate == "listed":
        return one
    digest = one.content.digest
    wish = name_for_copy(one.content.source.name, one.looked.endings if one.looked else (), digest)
    name = next(
        name
        for name in numbered(wish)
        if folded(name) not in taken and shelf.waiting.get(home.file(name), digest) == digest
    )
    taken.add(folded(name))
    return replace(one, path=home.file(name))


def _upset_by(plan: Plan, shelf: Shelf) -> str | None:
    drafts = []
    for note in plan.notes:
        text = plan.text_of(note, [photo.name for photo in note.photos])
        draft = read_entry(note.path, text.encode(), Settings())
        assert draft is not None, "what we write is an entry"
        drafts.append(draft)
    new = [photo.path for note in plan.notes for photo in note.to_copy]
    there = [path for path in shelf.photos if nfc(posixpath.dirname(path)) == nfc(plan.home.path)]
    return disturbed_by(drafts, plan.home, shelf.drafts, [*there, *new])


def refuse_several_days(plan: Plan) -> None:
    """Raises Refusal where the photos are of more days than one, which one note cannot tell of."""
    days = [note.day.isoformat() for note in plan.notes]
    if len(days) > 1:
        named = f"{', '.join(days[:-1])} and {days[-1]}" if len(days) <= 5 else f"from {days[0]} to {days[-1]}"
        raise Refusal(
            f"these photos are of {len(days)} days ({named}), and one note tells of one; "
            "--by-day writes a note for each, or name the photos of one day"
        )


def odd_days(plan: Plan, today: date) -> Iterable[str]:
    """Days that a camera's wrong clock may have told, as sentences."""
    subject = plan.wanted.subject
    for note in plan.notes:
        if note.day > today:
            yield f"{note.day} is yet to come: look at the camera's clock, and at the date in {note.path}"
        elif subject.began and note.day < subject.began:
            yield f"{note.day} is before {subject.ref.id} began ({subject.began}): look whether {note.path} is right"
