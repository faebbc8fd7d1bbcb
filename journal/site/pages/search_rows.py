"""What the search finds: one row an entry, one a tent, and pages that are looked for by what they do."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from functools import partial

from journal.analysis.species_names import english_names, is_of_species, species_meant
from journal.model import Batch, Culture, Device, Entry, Find, Note
from journal.reading.id_index import by_former_id
from journal.site import addresses, wording
from journal.site.pages.calculators import CALCULATORS
from journal.site.pages.entry_words import facts, weighed
from journal.site.pages.finds import position_words, shows_places
from journal.site.pages.lookup import Lookup
from journal.site.pages.printed_labels import set_aside
from journal.site.search import SearchLine, SearchRow, line_of

_PAGES = (
    SearchRow("Now", addresses.NOW, "page", words="home today start growing latest"),
    SearchRow("Finds", addresses.FINDS, "page", words="list map season weeks"),
    SearchRow("Cultures", addresses.CULTURES, "page", words="list table lines fridge renew"),
    SearchRow("Compare lines", addresses.COMPARE, "page", words="comparison yield BE biological efficiency medians"),
    SearchRow("Batches", addresses.BATCHES, "page", words="list growing finished"),
    SearchRow("Tents", addresses.TENTS, "page", words="tent climate humidity temperature power devices"),
    SearchRow("Due", addresses.DUE, "page", words="overdue expected next services renew"),
    SearchRow("Diary", addresses.DIARY, "page", words="days months entries calendar"),
    SearchRow("Safety", addresses.SAFETY, "page", words="poison centre spores mould heat flame fog law eating"),
    *(
        SearchRow(one.title, f"{addresses.CALCULATORS}#{one.key}", "page", words=f"calculator {one.short} {one.lead}")
        for one in CALCULATORS
    ),
)
"""The site's own pages, and each calculator."""

_AUTHORS_PAGES = (
    SearchRow("This device", addresses.DEVICE, "page", words="offline saved update storage theme install version"),
    SearchRow("Outbox", addresses.OUTBOX, "page", words="recorded waiting export receipt"),
    SearchRow("Record", addresses.RECORD, "page", words="new entry add write find culture batch note harvest photo"),
    SearchRow("Format", addresses.FORMAT, "page", words="new entry keys kinds words units help"),
    SearchRow(
        "Calculators", addresses.CALCULATORS, "page", words="moisture spawn rate efficiency dew point boiling point F0"
    ),
    SearchRow("Plan", addresses.PLAN, "page", words="forecast calendar inoculate how many blocks coming weeks"),
    SearchRow("Losses", addresses.LOSSES, "page", words="contamination share lost causes treatment spawn month chart"),
    SearchRow("Costs", addresses.COSTS, "page", words="money price paid sold labour work hours minutes kilogram"),
    SearchRow("Labels", addresses.LABELS, "page", words="print label sheet sticker jar block dish QR code"),
    SearchRow("Problems", addresses.PROBLEMS, "page", words="errors warnings check"),
)

_OF_METHOD: Mapping[str, str] = {
    "tissue": "clone tissue", "spores": "spores multispore", "transfer": "transfer", "received": "received",
}  # fmt: skip
_OF_FORM: Mapping[str, str] = {
    "plate": "agar petri dish", "slant": "agar", "liquid": "culture LC", "syringe": "liquid culture LC",
    "grain": "spawn", "sawdust": "spawn", "plugs": "dowels spawn",
}  # fmt: skip
"""Words of the trade for how a culture was made, and for what it is kept as, beside the form itself."""

_CONTAMINANTS = ("mould", "mold", "cobweb", "bacteria")


def rows(lookup: Lookup) -> Iterator[SearchRow]:
    yield from _pages_and_tents(lookup)
    for entry in lookup.journal.entries():
        yield _row(lookup, entry)


def lines(lookup: Lookup) -> Iterator[SearchLine]:
    """The same, as the index holds them."""
    yield from map(line_of, _pages_and_tents(lookup))
    for entry in lookup.journal.entries():
        yield lookup.keep("search", entry, partial(_line, lookup, entry))


def _pages_and_tents(lookup: Lookup) -> Iterator[SearchRow]:
    yield from _PAGES
    if lookup.share is None:
        yield from _AUTHORS_PAGES
    else:
        yield SearchRow("This copy", addresses.DEVICE, "page", words="share read me")
    yield from _patches(lookup)
    for tent in lookup.settings.tents:
        yield SearchRow(tent.name, addresses.page_of(tent), "tent", tent.id)
    for former, row in by_former_id(lookup.journal).items():
        old = next(id for id in row.formerly if id.lower() == former)
        yield SearchRow(f"{old}, now {row.id}", addresses.page_of(row), row.kind, old, row.date.iso)
    for kind, id, path in set_aside(lookup):
        yield SearchRow("label printed ahead, not recorded yet", path, kind, id)


def _line(lookup: Lookup, entry: Entry) -> SearchLine:
    return line_of(_row(lookup, entry))


def _row(lookup: Lookup, entry: Entry) -> SearchRow:
    label = lookup.label_of(entry)
    pictures = [picture for picture in lookup.pictures.of_entry(entry) if picture.sources]
    return SearchRow(
        title=", ".join((entry.title, *weighed(entry, lookup.units))),
        path=lookup.address_of(entry),
        kind=entry.kind,
        id=label.id if label else "",
        date=entry.date.iso,
        words=" ".join(filter(None, (*_words(lookup, entry), *_facts(lookup, entry)))),
        photo=pictures[0].small if pictures else None,
    )


def _patches(lookup: Lookup) -> Iterator[SearchRow]:
    """Each patch, found by what it is called and by what grows there; and the two pages about them, where there are
    any."""
    if shows_places(lookup):
        yield SearchRow("Patches", addresses.PATCHES, "page", words="spots visits fruiting")
        yield SearchRow("Near me", addresses.NEAR, "page", words="distance finds patches position around here")
    for patch in lookup.analysis.patches:
        texts = ((one.id, one.species, lookup.identified(one).species, one.place, one.host) for one in patch.finds)
        words = " ".join(word for row in texts for word in row if word)
        title = patch.name or f"Patch {patch.title}"
        yield SearchRow(title, addresses.patch_of(patch.key), "patch", date=patch.last_look.iso, words=words)


def common_names(lookup: Lookup) -> dict[str, tuple[str, ...]]:
    """English names of the species in the journal, and the author's own, by the Latin name that they mean. A share has
    those alone that its redaction let through."""
    found: dict[str, list[str]] = defaultdict(list)
    for name, latin in (*lookup.settings.names, *lookup.settings.english_names):
        if any(is_of_species(text, latin) for text in _species(lookup)):
            found[latin].append(name)
    if lookup.share is None:
        for text in _species(lookup):
            for latin, names in english_names(text).items():
                found[latin] += names
    return {latin: tuple(dict.fromkeys(names)) for latin, names in found.items()}


def _species(lookup: Lookup) -> dict[str, None]:
    """Every species as some entry tells it, and in Latin where that is known."""
    texts = (text for entry in lookup.journal.entries() if (text := getattr(entry, "species", None)))
    return dict.fromkeys(text for one in texts for text in (one, species_meant(one, lookup.settings.names)) if text)


def _words(lookup: Lookup, entry: Entry) -> Iterator[str | None]:
    """The weightiest first."""
    own = lookup.settings.names
    match entry:
        case Find():
            now = lookup.identified(entry)
            yield from (entry.species, now.species, species_meant(now.species, own), entry.place)
            yield from (entry.host, entry.habitat, entry.growing_on, entry.specimen, position_words(lookup, entry))
        case Culture():
            yield from (entry.species, species_meant(entry.species, own), *_stage(lookup, entry))
            yield from (_OF_METHOD.get(entry.method or ""), entry.form, _OF_FORM.get(entry.form or ""))
            yield from (entry.received_from, entry.kept, entry.medium)
        case Batch():
            yield from (entry.species, species_meant(entry.species, own), *_stage(lookup, entry))
            yield from (entry.substrate, entry.container, *(part.name for part in entry.mix))
        case Note():
            yield from (entry.species, species_meant(entry.species, own), entry.stage)
            yield wording.stage_in_words(entry.stage)
            yield "picked" if entry.harvest_g is not None else None
            yield "contaminated" if any(word in (entry.cause or "") for word in _CONTAMINANTS) else None
        case Device():
            yield from (entry.does, entry.rated_for)


def _stage(lookup: Lookup, row: Culture | Batch) -> Iterator[str | None]:
    """Its stage as it is written in entries and as pages say it."""
    run = lookup.analysis.progress[row.id]
    yield from (run.stage, wording.stage_in_words(run.stage, run.stage_derived))


def _facts(lookup: Lookup, entry: Entry) -> Iterator[str]:
    yield wording.when_in_words(entry.date)
    yield from facts(entry, lookup.settings)
    yield entry.text
