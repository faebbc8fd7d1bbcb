"""What the search finds: one row an entry, and one a tent."""

from __future__ import annotations

from collections.abc import Iterator

from journal.model import Batch, Culture, Device, Entry, Find, Note
from journal.site import addresses, wording
from journal.site.pages.entry_words import facts
from journal.site.pages.finds import position_words
from journal.site.pages.lookup import Lookup
from journal.site.search import SearchRow


def rows(lookup: Lookup) -> Iterator[SearchRow]:
    for tent in lookup.settings.tents:
        yield SearchRow(tent.name, addresses.page_of(tent), "tent", tent.id)
    for entry in lookup.journal.entries():
        label = lookup.label_of(entry)
        pictures = [picture for picture in lookup.pictures.of_entry(entry) if picture.sources]
        yield SearchRow(
            title=entry.title,
            path=lookup.address_of(entry),
            kind=entry.kind,
            id=label.id if label else "",
            date=entry.date.iso,
            words=" ".join(filter(None, _words(lookup, entry))),
            photo=pictures[0].small if pictures else None,
        )


def _words(lookup: Lookup, entry: Entry) -> Iterator[str | None]:
    """The weightiest first."""
    match entry:
        case Find():
            now = lookup.identified(entry)
            yield from (entry.species, now.species, entry.place, entry.host, entry.habitat, entry.growing_on)
            yield from (entry.specimen, position_words(lookup, entry))
        case Culture():
            yield from (entry.species, entry.form, entry.received_from, entry.kept, entry.medium)
        case Batch():
            yield from (entry.species, entry.substrate, entry.container, *(part.name for part in entry.mix))
        case Note():
            yield entry.species
        case Device():
            yield from (entry.does, entry.rated_for)
    yield wording.when_in_words(entry.date)
    yield from facts(entry, lookup.units)
    yield entry.text
