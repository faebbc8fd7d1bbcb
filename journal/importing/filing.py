"""Camera photos into planned notes: which photo goes into the note of which day, which is left out and why. Writes
nothing.
"""

from __future__ import annotations

import posixpath
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Literal

from journal.importing.destinations import (
    Destination,
    Subject,
    can_be_listed,
    conflict_with,
    destinations_for,
    first_free,
    folded,
    name_for_copy,
    numbered,
    photo_lines,
)
from journal.importing.photo_files import Content, Inspected
from journal.model import Photo
from journal.problems import Refusal
from journal.reading.entries import Draft, ProblemList, read_entry
from journal.reading.folder import nfc
from journal.reading.photo_claims import Album, uses_of
from journal.reading.pictures_in_text import shown_in
from journal.settings import Settings


def note_text(subject: Subject, day: date, stage: str | None, names: Sequence[str]) -> str:
    """The entry file's text: a note, or an entry of the tent."""
    head = [f"kind: {subject.entry_kind}", f"about: {subject.ref}", f"date: {day.isoformat()}"]
    return "\n".join(["---", *head, *([f"stage: {stage}"] if stage else []), photo_lines(names), "---", ""])


def note_name(subject: Subject, day: date, stage: str | None, is_own_home: bool) -> str:
    """Its file name: `2026-10-27-pinning.md`, with the ID in it where its folder does not tell that or it is a part."""
    parts = [day.isoformat()]
    if not is_own_home or subject.ref.part is not None:
        parts.append(str(subject.ref))
    if stage:
        parts.append(stage.replace(" ", "-"))
    return "-".join(parts) + ".md"


@dataclass(frozen=True, slots=True)
class Claim:
    """entry: path of an entry that has the photo. only_of: the one day that a note has it for which does not name it,
    but has it because it is beside; None where the entry has it on any day."""

    entry: str
    only_of: date | None = None

    def holds(self, day: date | None) -> bool:
        """Whether a photo of that day is the entry's. A note that stands alone in its folder would have every photo
        beside it, those of another day as well."""
        return self.only_of is None or day is None or day == self.only_of


def claims_in(drafts: Sequence[Draft], photos: Iterable[str]) -> Mapping[str, Claim]:
    """Photo path -> the first entry that has it, where one has. photos: the paths of all the journal's."""
    uses = uses_of(drafts, Album(Photo(path=path, digest="") for path in photos), ProblemList(()))
    claims: dict[str, Claim] = {}
    for draft in drafts:
        for use in uses[draft.path]:
            claim = Claim(draft.path, _day_it_lies_beside(draft, use.path))
            if use.path not in claims or claim.only_of is None:
                claims[use.path] = claim
    return claims


def _day_it_lies_beside(draft: Draft, path: str) -> date | None:
    when = draft.values.get("date")
    if draft.kind not in ("note", "tent") or when is None or not when.counts_days:
        return None
    name = nfc(posixpath.basename(path)).casefold()
    written = [name for name, _ in draft.values.get("photos", ())]
    written += [shown.target for shown in shown_in(draft.text)]
    is_named = any(nfc(posixpath.basename(one.replace("\\", "/"))).casefold() == name for one in written)
    day: date = when.first
    return None if is_named else day


Fate = Literal["copied", "listed", "known", "again", "no day", "no picture", "elsewhere", "unlisted"]
"""What becomes of a photo.

copied: into the note's folder. listed: it is there already. known: an entry has it. again: the same as one named
before it. no day: it has no time in it, and none was given. no picture: it is another file under a picture's name.
elsewhere: it is in another folder of the journal, and no entry has it. unlisted: it is in the note's folder under
a name that no entry can list.
"""

LEFT_OUT: tuple[Fate, ...] = ("no day", "no picture", "elsewhere", "unlisted")


@dataclass(frozen=True, slots=True)
class PhotoTarget:
    """What an author asked for. folder: in the journal; None for the default one."""

    subject: Subject
    stage: str | None = None
    folder: str | None = None


@dataclass(frozen=True, slots=True)
class JournalContents:
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
        claimed = ((path, self.claims.get(path)) for path in self.contents.get(digest, ()))
        return next(((path, claim.entry) for path, claim in claimed if claim and claim.holds(day)), None)

    def with_plan(self, plan: FilingPlan) -> JournalContents:
        """What the journal will hold once a plan is carried out."""
        new = [photo.path for note in plan.notes for photo in note.to_copy]
        names: dict[str, set[str]] = defaultdict(set)
        for path in (*new, *(note.path for note in plan.notes)):
            names[posixpath.dirname(path)].add(folded(posixpath.basename(path)))
        return replace(
            self,
            drafts=[*self.drafts, *drafts_of(plan)],
            photos=[*self.photos, *new],
            names_in=lambda folder: {*self.names_in(folder), *names.get(folder, ())},
        )

    def holds_on_any_day(self, digest: str) -> bool:
        """Whether an entry has this content whenever it was taken, so that nobody need look."""
        claims = (self.claims.get(path) for path in self.contents.get(digest, ()))
        return any(claim is not None and claim.only_of is None for claim in claims)


@dataclass(frozen=True, slots=True)
class Filed:
    """One photo and what becomes of it.

    inspected: None where an entry has it already, or it was named before. day: of its note. path: where it is or will
    be in the journal. same_as: the entry that has it, or the photo that it is the same as.
    """

    content: Content
    fate: Fate
    inspected: Inspected | None = None
    day: date | None = None
    path: str = ""
    same_as: str = ""

    @property
    def name(self) -> str:
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
class FilingPlan:
    """notes: by day. filed: every photo, in the order in which they were named."""

    wanted: PhotoTarget
    home: Destination
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
        return note_text(self.wanted.subject, note.day, self.wanted.stage, names)


def file_photos(
    wanted: PhotoTarget,
    contents: Sequence[Content],
    inspected: Mapping[str, Inspected],
    days: Mapping[str, date],
    inventory: JournalContents,
) -> FilingPlan:
    """What becomes of every photo, and the notes: one for each day.

    inspected: by digest, for every content that no entry has for certain. days: by digest, for photos with no time.
    Raises Refusal where the folder asked for would change which entry a photo belongs to.
    """
    homes = destinations_for(wanted.subject, inventory.drafts)
    if wanted.folder is not None:
        first = next(homes)
        is_first = nfc(first.path) == nfc(wanted.folder)
        homes = iter([first if is_first else Destination(wanted.folder, own=False)])
    for home in homes:
        filed = list(_filed(contents, inspected, days, home, inventory))
        plan = _plan(wanted, home, filed, inventory)
        conflict = _conflict_of(plan, inventory) if plan.notes else None
        if conflict is None:
            return plan
        if wanted.folder is not None:
            raise Refusal(f"--into {home.path}: {conflict}; name another folder, or leave out --into")
    raise AssertionError("a new folder conflicts with nothing")


def _filed(
    contents: Sequence[Content],
    inspected: Mapping[str, Inspected],
    days: Mapping[str, date],
    home: Destination,
    inventory: JournalContents,
) -> Iterator[Filed]:
    """Every photo and what becomes of it; those to be copied have no path yet."""
    first_of: dict[str, Content] = {}
    for content in contents:
        first = first_of.setdefault(content.digest, content)
        if first is not content:
            yield Filed(content, "again", same_as=first.source.shown)
            continue
        look = inspected.get(content.digest)
        day = (look.day if look else None) or days.get(content.digest)
        yield replace(_one_filed(content, look, day, home, inventory), inspected=look, day=day)


def _one_filed(
    content: Content, look: Inspected | None, day: date | None, home: Destination, inventory: JournalContents
) -> Filed:
    holder = inventory.holder(content.digest, day)
    if holder:
        return Filed(content, "known", path=holder[0], same_as=holder[1])
    if look is not None and not look.is_picture:
        return Filed(content, "no picture")
    if day is None:
        return Filed(content, "no day")
    copies = inventory.contents.get(content.digest, ())
    beside = [path for path in copies if nfc(posixpath.dirname(path)) == nfc(home.path)]
    if beside:
        listable = can_be_listed(posixpath.basename(beside[0]))
        return Filed(content, "listed" if listable else "unlisted", path=beside[0])
    return Filed(content, "elsewhere", path=copies[0]) if copies else Filed(content, "copied")


def _plan(wanted: PhotoTarget, home: Destination, filed: list[Filed], inventory: JournalContents) -> FilingPlan:
    """Names for notes and copies, each free in the folder, and the photos laid together by day."""

    def when(at: int) -> tuple[float, str]:
        """Sorts by the moment it was taken, then those with no time, by name."""
        one = filed[at]
        moment = one.inspected.taken if one.inspected else None
        return (moment.timestamp() if moment else float("inf"), folded(one.content.source.name))

    by_day: dict[date, list[int]] = defaultdict(list)
    for at, one in enumerate(filed):
        if one.fate in ("copied", "listed") and one.day:
            by_day[one.day].append(at)
    taken = set(inventory.names_in(home.path))
    named: dict[int, Filed] = {}
    notes = []
    for day, photos in sorted(by_day.items()):
        photos.sort(key=when)
        in_order = [(at, _named(filed[at], home, taken, inventory)) for at in photos]
        named.update(in_order)
        name = first_free(note_name(wanted.subject, day, wanted.stage, home.own), taken)
        taken.add(folded(name))
        notes.append(PlannedNote(home.file(name), day, tuple(photo for _, photo in in_order)))
    return FilingPlan(wanted, home, tuple(notes), tuple(named.get(at, one) for at, one in enumerate(filed)))


def _named(one: Filed, home: Destination, taken: set[str], inventory: JournalContents) -> Filed:
    """The photo with its path; a name that a stopped run's copy of the same content waits for is free to it alone."""
    if one.fate == "listed":
        return one
    digest = one.content.digest
    wish = name_for_copy(one.content.source.name, one.inspected.endings if one.inspected else (), digest)
    name = next(
        name
        for name in numbered(wish)
        if folded(name) not in taken and inventory.waiting.get(home.file(name), digest) == digest
    )
    taken.add(folded(name))
    return replace(one, path=home.file(name))


def drafts_of(plan: FilingPlan) -> list[Draft]:
    """The entries that its notes will be."""
    drafts = []
    for note in plan.notes:
        text = plan.text_of(note, [photo.name for photo in note.photos])
        draft = read_entry(note.path, text.encode(), Settings())
        assert draft is not None, "a written note is an entry"
        drafts.append(draft)
    return drafts


def _conflict_of(plan: FilingPlan, inventory: JournalContents) -> str | None:
    new = [photo.path for note in plan.notes for photo in note.to_copy]
    there = [path for path in inventory.photos if nfc(posixpath.dirname(path)) == nfc(plan.home.path)]
    return conflict_with(drafts_of(plan), plan.home, inventory.drafts, [*there, *new])


def file_groups(
    groups: Sequence[tuple[PhotoTarget, Sequence[Content]]],
    inspected: Mapping[str, Inspected],
    days: Mapping[str, date],
    inventory: JournalContents,
) -> list[FilingPlan]:
    """A plan for each group, as `file_photos` makes it, none of which is in the way of another. A photo is in one group
    only."""
    plans = []
    for wanted, contents in groups:
        plans.append(file_photos(wanted, contents, inspected, days, inventory))
        inventory = inventory.with_plan(plans[-1])
    return plans


def refuse_several_days(plan: FilingPlan) -> None:
    """Raises Refusal where the photos are of more days than one, which one note cannot tell of."""
    days = [note.day.isoformat() for note in plan.notes]
    if len(days) > 1:
        named = f"{', '.join(days[:-1])} and {days[-1]}" if len(days) <= 5 else f"from {days[0]} to {days[-1]}"
        raise Refusal(
            f"these photos were taken on {len(days)} days ({named}), and a note is of one day; "
            "add --by-day to write a note for each day, or name the photos of one day"
        )


def day_in_doubt(plan: FilingPlan, day: date, today: date) -> str:
    """What is odd about a note's day, which may come from a camera's wrong clock; "" where nothing is."""
    subject = plan.wanted.subject
    if day > today:
        return "in the future"
    return f"before {subject.ref.id} began ({subject.began})" if subject.began and day < subject.began else ""


def day_warnings(plan: FilingPlan, today: date) -> Iterable[str]:
    """Sentences on days that may come from a camera's wrong clock."""
    for note in plan.notes:
        if doubt := day_in_doubt(plan, note.day, today):
            what = "the camera's clock, and the date" if note.day > today else "the date"
            yield f"{note.day} is {doubt}: check {what} in {note.path}"
