"""What several pages show: tags, thumbnails, dated entries, and where a page is mentioned."""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache, partial
from typing import Any, TypeVar
from urllib.parse import quote

from journal.analysis.analysis import Analysis
from journal.analysis.calendar import zone_of
from journal.analysis.identity import Identification
from journal.analysis.progress import iso_day
from journal.model import Batch, Culture, Device, Entry, Find, Journal, PhotoUse, sort_key
from journal.reading.folder import nfc
from journal.reading.pictures_in_text import shown_in
from journal.reading.tracks import Track
from journal.settings import Tent
from journal.site import addresses, wording
from journal.site.addresses import Named
from journal.site.identity_words import why_not_confirmed
from journal.site.images import Picture, Pictures, filed_photos
from journal.site.markdown import Prose, photo_path, targets_in
from journal.site.memory import Memory
from journal.site.pages import entry_words
from journal.site.pages.indexes import Indexes, Label
from journal.site.plan import Page, PagesLater, PictureFiles, Planned, Published, made_at

T = TypeVar("T")

_OF_AN_ID = frozenset({"find", "culture", "batch", "tent", "power", "history", "door"})

LISTED_FIRST = 3
"""How many of a find's photos one is chosen from to show it by: those that its author put first."""

_LATIN = re.compile(r"[A-Z][a-z]+ (?:(?:cf|aff)\. )?[a-z-]{3,}(?: .*)?$")


@dataclass(frozen=True, slots=True)
class SpeciesWords:
    """A species' name; latin: whether it is set in italics."""

    text: str
    latin: bool


@lru_cache(maxsize=1024)
def species_words(text: str | None) -> SpeciesWords | None:
    """A species' name, with asterisks of emphasis taken off and its language told from its shape."""
    if not text:
        return None
    bare = text.strip("*_ ")
    return SpeciesWords(bare, bool(_LATIN.match(bare)) or bare != text.strip())


def _planned(what: str, day: date | None) -> dict[str, Any]:
    """What is to be done, and the day on which it falls due, if any: as an ISO date, and in words."""
    return {"text": what, "iso": day.isoformat() if day else None, "words": wording.day_in_words(day) if day else None}


class Lookup:
    """The journal and its analysis, with everything that pages look up repeatedly. share: the name under which a
    reader's device remembers the share that the pages are of; None on the author's own site. key: that share's, secret.
    tracks: where the author was, on their own site only."""

    def __init__(
        self,
        journal: Journal,
        published: Mapping[str, Published],
        share: str | None = None,
        key: bytes = b"",
        memory: Memory | None = None,
        tracks: Sequence[Track] = (),
    ) -> None:
        """memory: what an earlier plan of the same journal kept; None keeps nothing."""
        self.key, self.share, self.settings = key, share, journal.settings
        self.outlines = tuple(line for track in tracks for line in track.outline) if share is None else ()
        self.units: wording.Units = journal.settings.units
        analysis, filed = Analysis(journal), filed_photos(journal, published)
        indexes = Indexes(journal, analysis)
        parts: Mapping[str, Any] = {"journal": journal, "analysis": analysis, "indexes": indexes, "filed": filed}
        self._memory = memory
        if memory is not None:
            parts = memory.begin(parts, depends_on=(journal.settings, self.outlines))
        self.journal: Journal = parts["journal"]
        self.analysis: Analysis = parts["analysis"]
        self.indexes: Indexes = parts["indexes"]
        self.pictures = Pictures(parts["filed"])
        self._prose: dict[str, Prose] = {}
        self.is_later = False
        """Whether pages are planned when they are wanted."""
        self.common: Mapping[str, Any] = {}
        """What the template of every page gets; the same as long as the settings are."""

    def keep(self, kind: str, of: Entry | Tent | date, make: Callable[[], T]) -> T:
        """What `make` makes of one entry, tent or month, or what it made in an earlier plan if nothing it read then has
        changed. It may read only this lookup and `of`."""
        key = of.path if isinstance(of, Entry) else of.id if isinstance(of, Tent) else of

        def noted() -> T:
            if isinstance(of, Entry):  # a tent comes from the settings, and if these change everything is made again
                self.indexes.entry_by_path.get(of.path)
            return make()

        return self._kept(kind, key, noted)

    def _kept(self, kind: str, key: Hashable, make: Callable[[], T]) -> T:
        if self._memory is None:
            return make()
        made, files = self._memory.keep(kind, key, partial(self._with_pictures, make))
        self.pictures.take(files)
        return made

    def _with_pictures(self, make: Callable[[], T]) -> tuple[T, PictureFiles]:
        with self.pictures.collected() as files:
            return make(), files

    def keep_page(self, kind: str, of: Entry | Tent | date, at: str, make: Callable[[], Page]) -> Planned:
        """A page with all that its template gets, at this address, kept as by `keep`; or for later, how to make it."""

        def page() -> tuple[Page, ...]:
            return tuple(map(self.whole, made_at((at,), lambda: (make(),))))

        return PagesLater(kind, partial(self._with_pictures, page)) if self.is_later else self.keep(kind, of, page)[0]

    def together(self, kind: str, at: Sequence[str], make: Callable[[], Iterable[Page]]) -> tuple[Planned, ...]:
        """Pages that are made together, as a list is with its parts; or how to make them. Kept as by `keep`, so `make`
        may read only this lookup. at: as in `made_at`."""

        def pages() -> tuple[Page, ...]:
            return tuple(map(self.whole, made_at(at, make)))

        if self.is_later:
            return (PagesLater(kind, partial(self._with_pictures, pages)),)
        return self._kept("pages together", tuple(at), pages)

    def whole(self, page: Page) -> Page:
        """A page with what the template of every page gets; unchanged if it already has that, or has none."""
        if "root" in page.context or page.text is not None:
            return page
        row = self.journal.by_id.get(dict(page.values).get("name", "")) if page.endpoint in _OF_AN_ID else None
        more = {"root": addresses.root_from(page.path), "about": row.id if row else None}
        hero = page.context.get("hero")
        leading = hero.sources[1][0] if hero and len(hero.sources) > 1 else None
        return replace(page, context={**self.common, **more, **page.context}, leading=leading)

    def moment(self, stamp_s: float) -> datetime:
        """A moment in the journal's time zone. stamp_s: seconds since 1970-01-01T00:00Z."""
        return datetime.fromtimestamp(stamp_s, zone_of(self.settings))

    def label(self, name: str) -> Label:
        return self.indexes.labels[name.lower()]

    def labels(self, names: Iterable[str]) -> tuple[Label, ...]:
        return tuple(self.label(name) for name in dict.fromkeys(names) if name.lower() in self.journal.by_id)

    def name_of(self, row: Named) -> str:
        """What a thing is called in a heading: its species, or what it is."""
        if isinstance(row, Tent):
            return row.name
        if isinstance(row, Device):
            return row.does or "device"
        words = species_words(row.species)
        return words.text if words else {"find": "Unnamed find", "culture": "Culture", "batch": "Batch"}[row.kind]

    def entries_on(self, row: Named) -> tuple[Entry, ...]:
        """The dated entries that are on an ID's page; a tent's page has those about its devices too."""
        return self.indexes.entries_on(row)

    def devices_in(self, tent: str) -> tuple[Device, ...]:
        """The devices of a tent, by its ID; of no known tent, by ""."""
        return self.indexes.devices_in.get(tent.lower(), ())

    def anchor(self, row: Named, entry: Entry) -> str:
        name = row.tent if isinstance(row, Device) else row.id
        return self.indexes.anchors[name.lower(), entry.path]

    def address_on(self, row: Named, entry: Entry) -> str:
        """The address of a dated entry about a row, on the page of that row's entries or where it is folded."""
        name = row.tent if isinstance(row, Device) else row.id
        page = self.indexes.history_parts.get((name.lower(), entry.path)) or addresses.entries_page_of(row)
        return f"{page}#{self.anchor(row, entry)}"

    def address_of(self, entry: Entry) -> str:
        """The address of an entry: its own page if it has an ID, else its anchor on the page of the first ID it is
        about, else its anchor in the diary."""
        if isinstance(entry, Find | Culture | Batch | Device):
            return addresses.page_of(entry)
        subjects = self.indexes.subjects.get(entry.path)
        if not subjects:
            return f"{self.indexes.diary_pages[entry.path]}#{self.indexes.diary_anchors[entry.path]}"
        return self.address_on(subjects[0], entry)

    def label_of(self, entry: Entry) -> Label | None:
        """The tag an entry goes by: its own ID, or the first it is about."""
        if isinstance(entry, Find | Culture | Batch | Device):
            return self.label(entry.id)
        subjects = self.indexes.subjects.get(entry.path)
        return self.label(subjects[0].id) if subjects else None

    def how_made(self, culture: Culture) -> str:
        """`clone of tissue, 5 plates, 3 lost`."""
        return entry_words.how_made(culture, self.analysis.progress[culture.id].lost)

    def what_it_is(self, entry: Entry, *, beside_facts: bool = False) -> str:
        """The kind, name and title of an entry that starts something, else its headline, with what was harvested or
        lost. beside_facts: without harvests and losses, because they are beside it."""
        match entry:
            case Culture():
                begun: tuple[str | None, ...] = (self.name_of(entry), self.how_made(entry))
            case Find():
                begun = (f"found: {self.name_of(entry)}", entry.place)
            case Batch():
                begun = (f"batch inoculated: {self.name_of(entry)}", wording.how_many(entry.units, "unit"))
            case Device():
                return f"put into use: {entry.title}"
            case _:
                begun = ()
        words = entry_words.headline(entry)
        if begun:
            return ", ".join(filter(None, (*begun, words)))
        if words and not beside_facts:
            return ", ".join((words, *entry_words.weighed_and_lost(entry, self.units)))
        return words or entry_words.title_of_facts(entry, self.settings)[0]

    def question(self, entry: Entry, row: Named | None = None) -> entry_words.Question | None:
        """How to ask about an entry on the page of `row`, or where it is first; None on the author's own site."""
        if self.share is None:
            return None
        label = self.label_of(entry) if row is None else self.label(row.id)
        has_own_page = isinstance(entry, Find | Culture | Batch | Device)
        address = self.address_of(entry) if row is None or has_own_page else self.address_on(row, entry)
        id, told = label.id if label else "", self.what_it_is(entry)
        return entry_words.question_about(id, entry, address, told, self.settings.title)

    def prose(self, entry: Entry) -> Prose:
        """An entry's text with its links and pictures found."""
        if self._memory is not None:
            return self.keep("prose", entry, lambda: self._prose_of(entry))
        if entry.path not in self._prose:
            self._prose[entry.path] = self._prose_of(entry)
        return self._prose[entry.path]

    def _prose_of(self, entry: Entry) -> Prose:
        shown = []
        own = {nfc(use.path).casefold(): use for use in reversed(entry.photos)} | {nfc(u.path): u for u in entry.photos}
        targets = [*(quote(one.target) for one in shown_in(entry.text)), *targets_in(entry.text)] if own else ()
        for target in dict.fromkeys(targets):
            path = photo_path(entry.path, target)
            if use := own.get(path) or own.get(path.casefold()):
                shown.append((target, self.pictures.of(use.path, entry.title, use.caption)))
        return Prose(entry.text.strip("\n"), self.indexes.links[entry.path], tuple(shown))

    def entry_on_page(self, entry: Entry, row: Named, day0: date | None = None) -> dict[str, Any]:
        """An entry as shown on the page of `row`, with its day counted from `day0`."""
        subjects = [one.id for one in self.indexes.subjects.get(entry.path, ())]
        # a device has no page of its own: what is about it alone stands under its tent, or under the first of no tent
        is_own = not subjects or (row.id in subjects and not isinstance(row, Device))
        headline = entry_words.headline(entry)
        return {
            "anchor": self.anchor(row, entry),
            "iso": entry.date.iso,
            "when": wording.when_in_words(entry.date),
            "headline": headline if is_own or not headline else f"{wording.joined(subjects)} {headline}",
            "facts": entry_words.facts(entry, self.settings),
            "prose": self.prose(entry),
            "pictures": self.pictures.beside(entry),
            "is_own": is_own,
            "others": self.labels(id for id in subjects if not is_own or id != row.id),
            "nexts": self.nexts(entry),
            "by": entry.by if entry.by != self.settings.author else None,
            "day": (entry.date.first - day0).days if day0 and entry.date.counts_days else None,
            "question": self.question(entry, row),
        }

    def nexts_about(self, id: str) -> tuple[dict[str, Any], ...]:
        """What its author still plans to do about a thing, the earliest first; as in `nexts`."""
        rows = self.indexes.nexts_about.get(id, ())
        in_order = sorted(rows, key=lambda row: (row.day is None, row.day or date.max, row.what))
        return tuple(_planned(row.what, row.day) for row in in_order)

    def nexts(self, entry: Entry) -> tuple[dict[str, Any], ...]:
        """What an entry leaves to be done, and whether that is still open, or what it is about ended before."""
        return tuple(
            _planned(item.text, item.date)
            | {
                "open": (entry.path, item.text) in self.indexes.open_nexts,
                "ended": (entry.path, item.text) in self.indexes.ended_nexts,
            }
            for item in entry.next
        )

    def photos_about(self, row: Named) -> tuple[Picture, ...]:
        """Every picture of a thing, its own and those of the entries about it, oldest first."""
        entries = [*([] if isinstance(row, Tent) else [row]), *self.entries_on(row)]
        seen: dict[str, Picture] = {}
        for entry in entries:
            for use in entry.photos:
                seen.setdefault(use.path, self.pictures.of(use.path, entry.title, use.caption))
        return tuple(seen.values())

    def leading(self, find: Find) -> PhotoUse | None:
        """The main photo of a find: the first in its text, else of the first few listed the one with the most pixels;
        None if it has no visible one of its own."""
        seen = [use for use in find.photos if self.pictures.of(use.path, find.title).sources]
        order = [photo_path(find.path, quote(one.target)).casefold() for one in shown_in(find.text)] if seen else []
        in_text = [use for use in seen if use.in_text and nfc(use.path).casefold() in order]
        if in_text:
            return min(in_text, key=lambda use: order.index(nfc(use.path).casefold()))
        photos = self.journal.photo_by_path
        pixels = {use.path: (photos[use.path].width or 0) * (photos[use.path].height or 0) for use in seen}
        return max(seen[:LISTED_FIRST], key=lambda use: pixels[use.path], default=None)

    def face(self, row: Named, newest: bool = True) -> Picture | None:
        """The picture of a thing in a list: its latest; a find's main one, or else its first."""
        if isinstance(row, Find) and not newest and (use := self.leading(row)):
            return self.pictures.of(use.path, row.title, use.caption)
        pictures = [picture for picture in self.photos_about(row) if picture.sources]
        return (pictures[-1] if newest else pictures[0]) if pictures else None

    def leads_to(self, row: Named) -> tuple[dict[str, Any], ...]:
        """Every entry elsewhere that names this ID in a key or in its text, newest first."""
        here = {entry.path for entry in self.entries_on(row)}
        names = [row.id.lower()]
        if isinstance(row, Tent):
            devices = self.devices_in(row.id)
            names += [d.id.lower() for d in devices]
            here |= {d.path for d in devices}
        elif isinstance(row, Entry):
            here.add(row.path)
        entries = {e.path: e for name in names for e in self.indexes.naming.get(name, ()) if e.path not in here}
        return tuple(
            {
                "address": self.address_of(e),
                "words": self.what_it_is(e),
                "when": wording.when_in_words(e.date),
                "label": self.label_of(e),
            }
            for e in sorted(entries.values(), key=sort_key, reverse=True)
        )

    def identity(self, row: Find | Culture | Batch) -> str | None:
        """Why the identity of a thing is not confirmed, as a sentence; None if it is."""
        return why_not_confirmed(self.analysis, row)

    def doubt(self, row: Culture | Batch) -> str | None:
        """Why it may not be what its label says, as a sentence; None if there is no doubt."""
        began = self.analysis.doubtful.get(row.id)
        if began == row.id:
            return "Its own label is in doubt."
        return f"It was taken from {began}, whose label is in doubt." if began else None

    def doubtful_harvests(self, batches: Iterable[str]) -> str | None:
        """What a total of these batches says of implausible harvests in it: `includes a doubtful harvest: 90 kg on 3
        October 2026`; None if there are none."""
        if not (notes := [note for id in batches for note in self.analysis.doubtful_harvests.get(id, ())]):
            return None
        one = "a doubtful harvest" if len(notes) == 1 else f"{len(notes)} doubtful harvests"
        harvests = [f"{wording.mass(n.harvest_g or 0, self.units)} on {wording.date_in_words(n.date)}" for n in notes]
        return f"includes {one}: {wording.joined(harvests)}"

    def last_entry(self, entry: Entry) -> tuple[str, str | None]:
        """The day of the last entry in words, and as an ISO date; without the latter if it is in the future."""
        day = wording.date_in_words(entry.date)
        if entry.path in self.indexes.in_future:
            return f"{day}, a doubtful date", None
        return day, iso_day(entry.date)

    def identified(self, find: Find) -> Identification:
        """What a find is currently identified as."""
        return self.analysis.identifications[find.id][-1]

    def page_of(self, row: Find | Culture | Batch, context: Mapping[str, Any], day0: date | None = None) -> Page:
        """The page of a find, culture or batch. context: what only its kind shows. day0: for its entries' days."""
        shared = {
            "id": row.id,
            "label": self.label(row.id),
            "own_title": entry_words.headline(row),
            "prose": self.prose(row),
            "question": self.question(row),
            "identity": self.identity(row),
            "entries": [self.entry_on_page(entry, row, day0) for entry in reversed(self.entries_on(row))],
            "nexts": self.nexts(row),
            "leads": self.leads_to(row),
            "larger": any(len(picture.sources) > 1 for picture in self.photos_about(row)),
        }
        path = addresses.page_of(row)
        folder, growing = path.partition("/")[0], row.id in self.indexes.growing
        values, section = (("name", row.id.lower()),), f"{row.date.first:%Y-%m}"
        return Page(row.kind, values, path, f"{folder}/{row.kind}.html", {**shared, **context}, section, growing)
