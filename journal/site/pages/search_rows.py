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
        yield _row(lookup, entry)


def _row(lookup: Lookup, entry: Entry) -> SearchRow:
    label = lookup.label_of(entry)
    pictures = [picture for picture in lookup.pictures.of_entry(entry) if picture.sources]
    return SearchRow(
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
    if isinstance(entry, Find | Culture | Batch | Note):
        yield entry.species
    if isinstance(entry, Find):
        identified = lookup.identified(entry)
        yield from (identified.species, entry.place, entry.host, entry.habitat, entry.growing_on, entry.specimen)
        yield position_words(lookup, entry)
    if isinstance(entry, Culture):
        yield from (entry.form, entry.received_from, entry.kept, entry.medium)
    if isinstance(entry, Batch):
        yield from (entry.substrate, entry.container, *(part.name for part in entry.mix))
    if isinstance(entry, Device):
        yield from (entry.does, entry.rated_for)
    yield wording.when_in_words(entry.date)
    yield from facts(entry, lookup)
    yield entry.text
