"""The journal that a share shows: everything that is not granted is removed before any page exists."""

from __future__ import annotations

import hmac
import posixpath
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import UTC, datetime, time
from typing import Any, TypeVar

from journal.analysis.progress import progress_of
from journal.analysis.species_names import OwnNames, english_names, is_of_species, species_meant
from journal.geo import coarsen
from journal.geo.known_positions import KnownPlaces, places_of
from journal.model import (
    Batch,
    Culture,
    Device,
    Entry,
    Find,
    Journal,
    MixPart,
    Next,
    Note,
    Photo,
    PhotoUse,
    Ref,
    TentEntry,
    When,
    sort_key,
)
from journal.reading.photo_claims import Album
from journal.settings import Settings, Share, Tent
from journal.sharing.clean_text import NOT_SHARED, Cleaner, file_names_of
from journal.sharing.daily_climate import AllDays, climate_by_day, days_in_tents, last_day_read
from journal.sharing.grant import (
    FIELDS,
    Grant,
    LeftOutOfShare,
    grant_of,
    is_visit,
    is_whole,
    known_until,
    left_out_of,
    sums_left_out,
    withheld_fields,
)
from journal.sharing.identities import shared_identities
from journal.sharing.secrets import METHODS, NO_BROKEN_ENTRIES, BrokenEntries, secrets_of

T = TypeVar("T")

AUTHOR = "the author"
"""What the author is called in a share that shows no persons."""
TITLE = "A shared journal"
UNSHARED_TENT = "Not shared"
"""The name of a tent that is not shared but in which a shared batch stood."""


@dataclass(frozen=True, slots=True)
class Redaction:
    """A share's journal. photos: path in the whole journal -> path in the shared one, of every photo that is shared;
    photos with the same content become one. paths: path of an entry in the shared journal -> in the whole one.
    left_out: what was left out."""

    grant: Grant
    journal: Journal
    photos: Mapping[str, str]
    left_out: tuple[LeftOutOfShare, ...]
    paths: Mapping[str, str] = field(default_factory=dict)

    def published(self, published: Mapping[str, T]) -> dict[str, T]:
        """The published files of the shared photos, by their paths in the shared journal."""
        return {self.photos[path]: made for path, made in published.items() if path in self.photos}


def redaction_of(
    journal: Journal,
    share: Share,
    files: Iterable[str] = (),
    broken: BrokenEntries = NO_BROKEN_ENTRIES,
    key: bytes = b"",
) -> Redaction:
    """The journal that a share shows, with what was left out. files: paths of other files in the journal's folder.
    Names of files, and the content of entries that could not be read, are removed too. key: of this share only; the
    names of photos are derived from it. Raises Refusal if the share cannot be made."""
    grant = grant_of(journal, share)
    return _Redactor(journal, grant, cleaner_of(journal, grant, files, broken), key).whole()


def cleaner_of(
    journal: Journal, grant: Grant, files: Iterable[str] = (), broken: BrokenEntries = NO_BROKEN_ENTRIES
) -> Cleaner:
    """What cleans the texts of a share."""
    return Cleaner(
        grant.share,
        secrets_of(journal, grant, broken),
        KnownPlaces((*all_places(journal), *broken.positions), keen=True),
        file_names_of(journal, files),
        clocks_of(journal),
    )


def clocks_of(journal: Journal) -> frozenset[str]:
    """Times of day (`14:05`) of everything in the journal: of entries, including those that only the public one has,
    and of photos."""
    dates = [entry.date.moment for entry in (*journal.entries(), *journal.public.entries())]
    moments = [*dates, *(photo.taken for photo in journal.photos)]
    return frozenset(moment.strftime("%H:%M") for moment in moments if moment is not None)


def all_places(journal: Journal) -> tuple[tuple[float, float], ...]:
    """Every position in the journal: of finds, including those that only the public one has, of photos, of places on
    tracks, and of the points of the author's own maps."""
    every = dict.fromkeys(find.position for find in (*journal.finds, *journal.public.finds) if find.position)
    finds = [(position.lat_deg, position.lon_deg) for position in every]
    photos = [(photo.lat_deg, photo.lon_deg) for photo in journal.photos]
    tracks = [(photo.track.lat_deg, photo.track.lon_deg) for photo in journal.photos if photo.track]
    maps = [point[2:] for own in journal.settings.maps for point in own.points]
    return places_of([*finds, *photos, *tracks, *maps])


class _Redactor:
    """Makes the shared journal from the public one; the whole one only determines what must not be shown, or is
    private."""

    def __init__(self, journal: Journal, grant: Grant, cleaner: Cleaner, key: bytes) -> None:
        self.key = key
        self.whole_journal, self.public, self.grant, self.cleaner = journal, journal.public, grant, cleaner
        self.share = grant.share
        self.album = Album(journal.photos)
        self.as_written = {entry.path: entry for entry in journal.entries()}
        self.entries = sorted((e for e in self.public.entries() if grant.why_left_out(e) is None), key=sort_key)
        self.rank = {entry.path: number for number, entry in enumerate(self.entries, 1)}
        self.identities = shared_identities(journal, grant, self.entries)
        worded = [entry for entry in self.entries if not grant.is_wordless(entry)]
        used = {use.path for entry in worded for use in entry.photos}
        named = {p.path: self._neutral(p.digest)[:20] for p in self.public.photos if p.path in used}
        self.photos = {path: f"picture-{name}.jpg" for path, name in named.items()}
        self.tents = self._tent_names()
        self.totals_are_partial, self.known_until = sums_left_out(journal, grant), known_until(journal, grant)

    def whole(self) -> Redaction:
        made = [self._entry(entry) for entry in self.entries]
        batches = [entry for entry in self.entries if isinstance(entry, Batch)]
        stood = days_in_tents(batches, progress_of(self.public), self.share.since, last_day_read(self.public))
        named = {id: AllDays(self.share.since) for id in self.tents if self.grant.has(id)}
        kinds = {
            "finds": Find, "cultures": Culture, "batches": Batch, "notes": Note, "tent_entries": TentEntry,
            "devices": Device,
        }  # fmt: skip
        rows: dict[str, Any] = {name: tuple(e for e in made if isinstance(e, kind)) for name, kind in kinds.items()}
        journal = Journal(
            settings=self._settings(),
            **rows,
            photos=self._photos(made),
            logs=climate_by_day(self.public, {**stood, **named}, self.tents),
            newest=self.public.newest,
            surest=self.identities.certain,
        )
        left_out = tuple(left_out_of(self.whole_journal, self.grant))
        paths = {self._path(entry): entry.path for entry in self.entries}
        return Redaction(self.grant, journal, self.photos, left_out, paths)

    def _path(self, entry: Entry) -> str:
        return f"{self.rank[entry.path]:06d}.md"  # reveals only the order

    def _plain(self, row: Any) -> dict[str, Any]:
        """The fields of a row that are shared as they are; all others get their default values."""
        ways = FIELDS[type(row)]
        values: dict[str, Any] = {}
        for one in fields(row):
            value = getattr(row, one.name)
            way = ways.get(one.name, "gone")
            if way in ("kept", "number"):
                values[one.name] = value
            elif value and (way in ("words", "surroundings") or (way == "person" and self.share.by)):
                words = self.cleaner.words
                values[one.name] = tuple(map(words, value)) if isinstance(value, tuple) else words(value)
        return values

    def _entry(self, entry: Entry) -> Entry:
        is_wordless, withheld = self.grant.is_wordless(entry), withheld_fields(entry, self.grant)
        id = f" {entry.id}" if isinstance(entry, Find | Culture | Batch | Device) else ""
        values = {
            **{name: value for name, value in self._plain(entry).items() if name not in withheld},
            "path": self._path(entry),
            "date": self._when(entry.date),
            "title": f"{entry.kind.capitalize()}{id}",
            "by": self._person(entry.by) or self._author(),
            **({} if is_wordless else self._shown_without_text(entry) if withheld else self._cleaned_texts(entry)),
        }
        if isinstance(entry, Find):
            values |= self._of_find(entry, is_wordless)
        elif isinstance(entry, Culture):
            values |= self._origin(entry, entry.sources, "sources")
        elif isinstance(entry, Batch):
            values |= self._of_batch(entry)
        elif isinstance(entry, Note):
            values |= self._of_note(entry)
        elif isinstance(entry, TentEntry):
            values["about"] = tuple(id for id in entry.about if self.grant.has(id))
        elif isinstance(entry, Device):
            values["tent"] = entry.tent if self.grant.has(entry.tent) else ""
            values["powered_by"] = self._feeders(entry.powered_by)
            values["controlled_by"] = self._feeders(entry.controlled_by)
        made: Entry = type(entry)(**values)
        return made

    def _cleaned_texts(self, entry: Entry) -> dict[str, Any]:
        words = self.cleaner.words
        return {
            "title": words(entry.title),
            "next": tuple(Next(words(one.text), one.date) for one in entry.next),
            "done": tuple(map(words, entry.done)),
            "text": self.cleaner.prose(entry.text, lambda target: self._shown(entry, target)),
            "photos": self._uses(entry.photos),
            "lines": {"title": 1} if "title" in entry.lines else {},
        }

    def _shown_without_text(self, entry: Entry) -> dict[str, Any]:
        """The photos of a find or visit whose words are kept back, and a title from its facts."""
        uses = (PhotoUse(use.path) for use in entry.photos)
        about = [str(ref) for ref in entry.about if self.grant.has(ref.id)] if isinstance(entry, Note) else []
        title = f"Note on {', '.join(about)}" if about else ""
        if isinstance(entry, Note) and entry.stage:
            title = f"{title}: {entry.stage}"
        return {"photos": self._uses(uses), **({"title": title} if title else {})}

    def _of_find(self, find: Find, is_wordless: bool) -> dict[str, Any]:
        position = None if is_wordless else coarsen.shown(find.position, find.locality, self.share)
        is_exact = position is not None and position.grid_deg is None
        return {
            **self.identities.of_find(find, self.cleaner.words),
            "position": position,
            "locality": "hidden" if position is None else "exact" if is_exact else "area",
            "elevation_m": find.elevation_m if is_exact else None,
            "identified_by": None if is_wordless else self._identified_by(find.identified_by),
        }

    def _of_batch(self, batch: Batch) -> dict[str, Any]:
        return {
            **self._origin(batch, batch.cultures, "cultures"),
            "mix": tuple(MixPart(self.cleaner.words(part.name), part.mass_g) for part in batch.mix),
            "tent": self.tents.get(batch.tent or ""),
            "totals_are_partial": batch.id in self.totals_are_partial,
            "shared_from": self.share.since if self.grant.is_wordless(batch) else None,
            "known_until": self.known_until[batch.id],
        }

    def _of_note(self, note: Note) -> dict[str, Any]:
        """A note about several IDs, of which not all are shared, cannot divide a total between them: the total is
        removed. So is the mass that was picked at a find, as the find's own is: it counts under a permit."""
        written = self.as_written.get(note.path)
        whole = is_whole(written if isinstance(written, Note) else note, self.grant)
        return {
            "about": tuple(ref for ref in note.about if self.grant.has(ref.id)),
            "moved_to": self.tents.get(note.moved_to or ""),
            "harvest_g": note.harvest_g if whole and not is_visit(self.whole_journal, note) else None,
            "dried_g": note.dried_g if whole else None,
            "dried_from_g": note.dried_from_g if whole else None,
            "lost": note.lost if whole else None,
            **self.identities.of_note(note),
            "identified_by": self._identified_by(note.identified_by),
        }

    def _feeders(self, names: str | None) -> str | None:
        kept = []
        for name in (names or "").split(", "):
            is_device = name.lower() in self.whole_journal.by_id
            if name and (self.grant.has(name) or not is_device):
                kept.append(name if is_device else self.cleaner.words(name))
        return ", ".join(kept) or None

    def _origin(self, row: Culture | Batch, refs: tuple[Ref, ...], field: str) -> dict[str, Any]:
        """What a row came from. A private source is unknown in the public journal, and *not shared* for the reader."""
        kept = tuple(ref for ref in refs if self.grant.has(ref.id))
        lost = len(refs) - len(kept)
        written = getattr(self.as_written.get(row.path), field, ())
        private = sum(ref.id.lower() not in self.public.by_id for ref in written)
        return {
            field: kept,
            "unknown_sources": row.unknown_sources + lost,
            "unshared_sources": min(lost + private, row.unknown_sources + lost),
        }

    def _when(self, when: When) -> When:
        if when.moment is None or self.share.times == "day":
            exact = "day" if when.exact == "minute" else when.exact
            day = When("", when.first, exact)
            return replace(day, written=f"about {day.iso}" if exact == "about" else day.iso)
        moment = when.moment.replace(second=0, microsecond=0)
        return When(moment.isoformat(), when.first, when.exact, moment)

    def _author(self) -> str:
        author = self.whole_journal.settings.author
        return self.cleaner.words(author) if self.share.by else AUTHOR

    def _person(self, name: str | None) -> str | None:
        return self.cleaner.words(name) if name and self.share.by else None

    def _identified_by(self, written: str | None) -> str | None:
        """Who identified it; if persons are not shared, how it was identified, as far as usual words say so."""
        if self.share.by or not written:
            return self._person(written)
        methods = [word for word in written.replace(",", " ").split() if word.lower() in METHODS - {"by", "and"}]
        return " ".join(methods) or None

    def _tent_names(self) -> dict[str, str]:
        """Every tent that the share names, and every one in which something shared stood, by the ID that it has in the
        share."""
        stood = [entry.tent for entry in self.entries if isinstance(entry, Batch)]
        stood += [entry.moved_to for entry in self.entries if isinstance(entry, Note)]
        unnamed = dict.fromkeys(id for id in stood if id and not self.grant.has(id))
        known = self.whole_journal.by_id
        spare = (f"not-shared-{number}" for number in range(1, len(known) + len(unnamed) + 2))
        free = (name for name in spare if name not in known)
        named = {tent.id: tent.id for tent in self.whole_journal.settings.tents if self.grant.has(tent.id)}
        return named | {id: next(free) for id in unnamed}

    def _neutral(self, digest: str) -> str:
        """A name for a file with this digest, from which neither the file nor its digest can be found."""
        return hmac.digest(self.key or b"share", f"photo\0{digest}".encode(), "sha256").hex()

    def _shown(self, entry: Entry, target: str) -> str | None:
        path = posixpath.normpath(posixpath.join(posixpath.dirname(entry.path), target.replace("\\", "/")))
        found = self.album.find(path)
        return self.photos.get(found) if found and any(use.path == found for use in entry.photos) else None

    def _uses(self, uses: Iterable[PhotoUse]) -> tuple[PhotoUse, ...]:
        """Uses of shared photos; uses of photos that became one are merged."""
        made: dict[str, PhotoUse] = {}
        for use in uses:
            path, caption = self.photos[use.path], self.cleaner.words(use.caption) if use.caption else None
            first = made.get(path, PhotoUse(path))
            made[path] = PhotoUse(path, first.caption or caption, first.in_text or use.in_text)
        return tuple(made.values())

    def _photos(self, entries: Iterable[Entry]) -> tuple[Photo, ...]:
        shown_by: dict[str, list[str]] = {}
        for entry in entries:
            for use in entry.photos:
                shown_by.setdefault(use.path, []).append(entry.path)
        made: dict[str, Photo] = {}
        for photo in self.public.photos:
            path = self.photos.get(photo.path)
            if path is not None and path not in made:
                made[path] = Photo(
                    **self._plain(photo), **self._taken(photo),
                    path=path, digest=self._neutral(photo.digest), entries=tuple(shown_by.get(path, ())),
                )  # fmt: skip
        return tuple(made[path] for path in sorted(made))

    def _taken(self, photo: Photo) -> dict[str, Any]:
        taken = photo.taken
        if taken and self.share.times == "day":
            return {"taken": datetime.combine(taken.date(), time(12), UTC), "by_day": True}
        return {"taken": taken.replace(second=0, microsecond=0), "by_day": photo.by_day} if taken else {}

    def _settings(self) -> Settings:
        whole = self.whole_journal.settings
        title = self.cleaner.words(whole.title)
        names, english = self._names(whole.names)
        used = {part.name.casefold() for e in self.entries if isinstance(e, Batch) for part in e.mix}
        return Settings(
            **{**self._plain(whole), "title": TITLE if NOT_SHARED in title else title},  # no title with a gap
            author=self._author(),
            time_zone="UTC" if self.share.times == "day" else whole.time_zone,
            ingredients=tuple(
                (self.cleaner.words(name), share) for name, share in whole.ingredients if name.casefold() in used
            ),
            names=names,
            english_names=english,
            tents=tuple(self._tents(whole.tents)),
        )

    def _names(self, own: OwnNames) -> tuple[OwnNames, OwnNames]:
        """The author's own names for the species that the share shows, and English ones of them, except those that
        reveal something else as well, as `St George's mushroom` may a person's name."""
        species = dict.fromkeys(getattr(entry, "species", None) for entry in self.entries)
        species |= dict.fromkeys(latin for latin in (species_meant(one, own) for one in species) if latin)
        english = ((name, latin) for one in species for latin, names in english_names(one).items() for name in names)

        def shown(names: Iterable[tuple[str, str]]) -> OwnNames:
            of_shown = (row for row in dict.fromkeys(names) if any(is_of_species(one, row[1]) for one in species))
            return tuple(row for row in of_shown if all(self.cleaner.words(text) == text for text in row))

        return shown(own), shown(english)

    def _tents(self, tents: Iterable[Tent]) -> Iterator[Tent]:
        for tent in tents:
            if self.grant.has(tent.id):
                every = tuple((self.cleaner.words(name), every_d) for name, every_d in tent.every)
                yield Tent(**self._plain(tent), every=every)
            elif tent.id in self.tents:
                yield Tent(id=self.tents[tent.id], name=UNSHARED_TENT, unshared=True)
