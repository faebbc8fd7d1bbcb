"""What pages look up of a journal again and again, by ID, by path, or by both."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import groupby
from typing import ClassVar, TypeVar

from journal.analysis.analysis import Analysis
from journal.analysis.due import Due, entries_about
from journal.analysis.kept import each_kept, kept_equal
from journal.analysis.patches import Patch
from journal.analysis.tent_settings import Change, history_of
from journal.model import Culture, Device, Entry, Journal, Note, TentEntry, sort_key
from journal.reading.id_index import by_former_id
from journal.settings import Tent
from journal.site import addresses
from journal.site.addresses import Named
from journal.site.markdown import Links, id_in, links_of
from journal.site.pages.entry_words import names_in_keys
from journal.site.pages.long_lists import newest_year
from journal.site.parts import in_parts

K = TypeVar("K", date, str, tuple[str, ...])
T = TypeVar("T")

_NamedIn = tuple[Links, tuple[str, ...], tuple[str, ...]]
"""Which words of an entry's text are IDs, each with its address; the IDs of what the entry is about; and those of all
that its keys and its text name; both in lower case."""

DIARY_ROWS = 40
"""How many entries a page of the diary has at most, but for those of one day."""


@dataclass(frozen=True, slots=True)
class Label:
    """An ID as a tag."""

    id: str
    address: str


class Indexes:
    """Each is made when it is first asked for. IDs that are keys are in lower case, except those of `cultures_from` and
    `nexts_about`, which are spelled as defined."""

    is_read_in_parts: ClassVar[bool] = True

    def __init__(self, journal: Journal, analysis: Analysis) -> None:
        self._journal = journal
        self._analysis = analysis

    @cached_property
    def addresses(self) -> Mapping[str, str]:
        """The page of everything with an ID, by that ID and its earlier ones."""
        return self._meaning[0]

    @cached_property
    def labels(self) -> Mapping[str, Label]:
        """The tag of everything with an ID, by that ID."""
        found = {name: Label(row.id, self.addresses[name]) for name, row in self._journal.by_id.items()}
        return kept_equal(self._journal, "labels", found)

    @cached_property
    def _meaning(self) -> tuple[dict[str, str], dict[str, str], frozenset[str]]:
        """All that decides what an ID in a text means: addresses, the present ID of each earlier one, and all present
        ones, in lower case. The same object as long as none of it changes."""
        journal, former = self._journal, by_former_id(self._journal)
        pages = {name: addresses.page_of(row) for name, row in (former | journal.by_id).items()}
        now = {name: row.id.lower() for name, row in former.items()}
        return kept_equal(journal, "meaning of IDs", (pages, now, frozenset(journal.by_id)))

    @cached_property
    def entry_by_path(self) -> Mapping[str, Entry]:
        return {entry.path: entry for entry in self._journal.entries()}

    @cached_property
    def _named_in(self) -> Mapping[str, _NamedIn]:
        """Entry path -> what the entry names."""
        journal, meaning = self._journal, self._meaning
        (pages, now, ids) = meaning
        links_in = links_of(pages)

        def named_in(entry: Entry, _: object) -> _NamedIn:
            links = links_in(entry.text)
            names = (*names_in_keys(entry), *(id_in(word) for word, _ in links))
            subjects = tuple(row.id.lower() for row in addresses.subjects_of(journal, entry))
            return (
                links,
                subjects,
                tuple(id for id in dict.fromkeys(now.get(name, name) for name in names) if id in ids),
            )

        return each_kept(journal, "names", named_in, {entry.path: (entry, meaning) for entry in journal.entries()})

    def _rows(self, name: str, found: Mapping[K, Sequence[T]]) -> Mapping[K, tuple[T, ...]]:
        """The same rows by the same keys, as the same tuples as before where they are."""
        inputs = {key: tuple(each) for key, each in found.items()}
        return each_kept(self._journal, name, _as_tuple, inputs)

    @cached_property
    def _dated(self) -> list[tuple[Entry, tuple[str, ...]]]:
        """The notes and tent entries in order of time, each with the IDs of what it is about."""
        dated = (entry for entry in self._journal.entries() if isinstance(entry, Note | TentEntry))
        return [(entry, self._named_in[entry.path][1]) for entry in dated]

    @cached_property
    def subjects(self) -> Mapping[str, tuple[Named, ...]]:
        """The path of a note or tent entry -> what it is about, each once."""
        by_id = self._journal.by_id
        all_ids = dict.fromkeys(ids for _, ids in self._dated)
        rows = self._rows("subjects", {ids: [by_id[id] for id in ids] for ids in all_ids})
        return {entry.path: rows[ids] for entry, ids in self._dated}

    @cached_property
    def about(self) -> Mapping[str, tuple[Entry, ...]]:
        """ID -> the notes and tent entries about it, in order of time."""
        found: dict[str, list[Entry]] = defaultdict(list)
        for entry, ids in self._dated:
            for id in ids:
                found[id].append(entry)
        return self._rows("entries about", found)

    @cached_property
    def devices_by_id(self) -> Mapping[str, Device]:
        return {device.id.lower(): device for device in self._journal.devices}

    @cached_property
    def devices_in(self) -> Mapping[str, tuple[Device, ...]]:
        """A tent's ID -> its devices; "" -> those in no known tent."""
        found: dict[str, list[Device]] = defaultdict(list)
        for device in self._journal.devices:
            found[device.tent.lower()].append(device)
        return {tent: tuple(devices) for tent, devices in found.items()}

    @cached_property
    def cultures_from(self) -> Mapping[str, tuple[Culture, ...]]:
        """ID -> the cultures taken directly from it, in the journal's order; only IDs with such cultures."""
        found: dict[str, list[Culture]] = defaultdict(list)
        for culture in self._journal.cultures:
            for name in dict.fromkeys(ref.id for ref in culture.sources):
                found[name].append(culture)
        return self._rows("cultures from", found)

    @cached_property
    def anchors(self) -> Mapping[tuple[str, str], str]:
        """(ID, an entry's path) -> the entry's anchor on the ID's page; ID "": on the list of tents, of devices in no
        known tent."""
        journal = self._journal
        rows: list[Named] = [*journal.finds, *journal.cultures, *journal.batches]
        names = [row.id.lower() for row in rows]
        anchored: dict[str, tuple[Entry, ...]] = {name: self.about.get(name, ()) for name in names}
        for tent in journal.settings.tents:
            anchored[tent.id.lower()] = self.entries_on_tent(tent.id)
        anchored[""] = self.entries_of_devices("")
        inputs = {name: (entries,) for name, entries in anchored.items()}
        found = each_kept(journal, "anchors", addresses.dated_anchors, inputs)
        return {(name, path): anchor for name, anchors in found.items() for path, anchor in anchors.items()}

    def entries_on(self, row: Named) -> tuple[Entry, ...]:
        """The dated entries that are on an ID's page; a tent's page has those about its devices too."""
        return self.entries_on_tent(row.id) if isinstance(row, Tent) else self.about.get(row.id.lower(), ())

    def entries_on_tent(self, tent: str) -> tuple[Entry, ...]:
        return self._together(tent, *(device.id for device in self.devices_in.get(tent.lower(), ())))

    def entries_of_devices(self, tent: str) -> tuple[Entry, ...]:
        return self._together(*(device.id for device in self.devices_in.get(tent.lower(), ())))

    def _together(self, *names: str) -> tuple[Entry, ...]:
        unique = {entry.path: entry for name in names for entry in self.about.get(name.lower(), ())}
        return tuple(sorted(unique.values(), key=sort_key))

    @cached_property
    def history_parts(self) -> Mapping[tuple[str, str], str]:
        """(a tent's ID, an entry's path) -> the page of the tent's history that it is on, of folded entries."""
        found: dict[tuple[str, str], str] = {}
        for tent in self._journal.settings.tents:
            name = tent.id.lower()
            _, earlier = newest_year([(entry.date.first, entry) for entry in self.entries_on_tent(name)[::-1]])
            for key, entries in in_parts(earlier).items():
                address = addresses.part_of_list(addresses.history_list(name), key)
                found |= {(name, entry.path): address for entry in entries}
        return found

    @cached_property
    def diary_anchors(self) -> Mapping[str, str]:
        """Entry path -> anchor in the diary, of entries about nothing that has a page."""
        return addresses.dated_anchors(entry for entry, ids in self._dated if not ids)

    @cached_property
    def by_month(self) -> Mapping[date, tuple[Entry, ...]]:
        """The first day of every month with entries -> these, in order of time."""
        months = groupby(self._journal.entries(), key=lambda entry: entry.date.first.replace(day=1))
        return self._rows("months", {month: tuple(entries) for month, entries in months})

    @cached_property
    def days_of_month(self) -> Mapping[date, tuple[tuple[date, tuple[Entry, ...]], ...]]:
        """The first day of a month with more entries than one page shows -> its days in stretches, each from its first
        day with entries on, with these in order of time. What comes later changes only the last of them."""
        long = {month: (entries,) for month, entries in self.by_month.items() if len(entries) > DIARY_ROWS}
        return each_kept(self._journal, "days of months", _stretches, long)

    @cached_property
    def diary_pages(self) -> Mapping[str, str]:
        """Entry path -> the diary's page that it is on."""
        pages = {entry.path: addresses.diary_month(entry.date.first.isoformat()) for entry in self._journal.entries()}
        for stretches in self.days_of_month.values():
            for first, entries in stretches:
                pages |= dict.fromkeys((entry.path for entry in entries), addresses.diary_days(first.isoformat()))
        return pages

    @cached_property
    def counts_by_month(self) -> Mapping[date, int]:
        """How many entries each of these months has."""
        return {month: len(entries) for month, entries in self.by_month.items()}

    @cached_property
    def months_beside(self) -> Mapping[date, tuple[date | None, date | None]]:
        """For each of these months, in order, the month before and the month after."""
        months = [*self.by_month]
        around = zip([None, *months], months, [*months[1:], None], strict=False)
        return {month: (before, after) for before, month, after in around}

    @cached_property
    def open_nexts(self) -> frozenset[tuple[str | None, str]]:
        """(an entry's path, what is under its `next`), as far as it is still to be done."""
        return frozenset((row.path, row.what) for row in self._analysis.open_nexts)

    @cached_property
    def ended_nexts(self) -> frozenset[tuple[str | None, str]]:
        """The same of what is not due any more, because what it is about has ended."""
        return frozenset((row.path, row.what) for row in self._analysis.ended_nexts)

    @cached_property
    def nexts_about(self) -> Mapping[str, tuple[Due, ...]]:
        found: dict[str, list[Due]] = defaultdict(list)
        for row in self._analysis.open_nexts:
            for id in dict.fromkeys(row.about):
                found[id].append(row)
        return {id: tuple(rows) for id, rows in found.items()}

    @cached_property
    def in_future(self) -> frozenset[str]:
        """Paths of the entries whose day is doubtful because it is in the future."""
        return frozenset(doubt.entry.path for doubt in self._analysis.doubts if doubt.is_future)

    @cached_property
    def entries_about_tent(self) -> Mapping[str, tuple[TentEntry, ...]]:
        """A tent's ID, as defined -> its own entries, oldest first."""
        return {tent.id: tuple(entries_about(self._journal, tent)) for tent in self._journal.settings.tents}

    @cached_property
    def history_of_tent(self) -> Mapping[str, tuple[Change, ...]]:
        """A tent's ID, as defined -> every setting of it and each change."""
        return {tent.id: history_of(self._journal, tent) for tent in self._journal.settings.tents}

    @cached_property
    def naming(self) -> Mapping[str, tuple[Entry, ...]]:
        """ID -> every entry that names it in a key or in its text."""
        found: dict[str, list[Entry]] = defaultdict(list)
        for entry in self._journal.entries():
            for name in self._named_in[entry.path][2]:
                found[name].append(entry)
        return self._rows("entries naming", found)

    @cached_property
    def places(self) -> tuple[str, ...]:
        """The places of all finds in folded case, sorted, without those that begin with another one: what names such a
        place names the other too."""
        found: list[str] = []
        for place in sorted({find.place.casefold() for find in self._journal.finds if find.place}):
            if not found or not place.startswith(found[-1]):
                found.append(place)
        return tuple(found)

    @cached_property
    def patch_of(self) -> Mapping[str, tuple[str, str]]:
        """The ID of a find that is of a patch, as defined -> the title and the key of that patch."""
        found = {id: (patch.title, patch.key) for id, patch in self._analysis.patch_of.items()}
        return kept_equal(self._journal, "patch of each find", found)

    @cached_property
    def patches(self) -> Mapping[str, tuple[Patch, tuple[str, ...]]]:
        """The key of a patch -> it, and the keys under which it was found before: a find that is entered later with an
        earlier date, or gets another ID, gives its ID to the patch."""
        patches = self._analysis.patches
        taken = {patch.key for patch in patches}
        found: dict[str, tuple[Patch, tuple[str, ...]]] = {}
        for patch in patches:
            ids = [*patch.former, *(id.lower() for find in patch.finds for id in (find.id, *find.formerly))]
            old = tuple(key for key in dict.fromkeys(ids) if key not in taken)
            found[patch.key] = (patch, old)
            taken |= {*old}
        return found

    @cached_property
    def links(self) -> Mapping[str, Links]:
        """Entry path -> which words of its text are IDs, and the address of each."""
        return {path: links for path, (links, _, _) in self._named_in.items()}

    @cached_property
    def growing(self) -> frozenset[str]:
        """IDs, as defined, of the batches that are not over and of all above them."""
        analysis = self._analysis
        growing = [batch.id for batch in self._journal.batches if not analysis.progress[batch.id].is_over]
        return frozenset([*growing, *analysis.lineage.reached(growing, analysis.lineage.parents)])


def _as_tuple(*rows: T) -> tuple[T, ...]:
    return rows


def _stretches(entries: Sequence[Entry]) -> tuple[tuple[date, tuple[Entry, ...]], ...]:
    stretches: list[list[Entry]] = []
    for _, rows in groupby(entries, key=lambda entry: entry.date.first):
        day = list(rows)
        if not stretches or len(stretches[-1]) + len(day) > DIARY_ROWS:
            stretches.append([])
        stretches[-1] += day
    return tuple((rows[0].date.first, tuple(rows)) for rows in stretches)
