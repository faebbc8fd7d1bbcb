"""Finds as records in the terms of Darwin Core, with as much of the place as may be shown, and what is withheld.

*Source:* Darwin Core Maintenance Group, TDWG, list of Darwin Core terms (http://rs.tdwg.org/dwc/terms/); what is done
to positions, and that it is said: A. D. Chapman, Current Best Practices for Generalizing Sensitive Species Occurrence
Data (GBIF Secretariat, 2020; version 1.1 of 2023), sections 4.1 to 4.3.
"""

from __future__ import annotations

import re
import unicodedata
import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil
from typing import NamedTuple

from journal.analysis.identity import Identification, identifications
from journal.analysis.progress import last_day_meant
from journal.analysis.species_names import COMMON_NAMES, SYNONYMS, OwnNames, species_meant, species_named
from journal.geo.format import degrees_of
from journal.model import Certainty, Find, Journal, Position, When
from journal.problems import Refusal, Unreadable, nearest
from journal.reading.id_index import by_former_id
from journal.reading.label_codes import without_check
from journal.settings import Share
from journal.sharing.clean_text import NOT_SHARED

TERMS = (
    "occurrenceID", "basisOfRecord", "recordNumber", "recordedBy", "occurrenceStatus", "associatedTaxa",
    "occurrenceRemarks", "previousIdentifications", "preparations", "eventDate", "year", "month", "day",
    "verbatimEventDate", "habitat", "fieldNotes", "eventRemarks", "locality", "minimumElevationInMeters",
    "maximumElevationInMeters", "decimalLatitude", "decimalLongitude", "geodeticDatum",
    "coordinateUncertaintyInMeters", "coordinatePrecision", "verbatimCoordinates", "georeferenceProtocol", "kingdom",
    "scientificName", "taxonRank", "vernacularName", "verbatimIdentification", "identificationQualifier",
    "identifiedBy", "dateIdentified", "identificationRemarks", "dataGeneralizations", "informationWithheld",
)  # fmt: skip
"""The terms that a record may have, in the order of their columns; all are of the namespace `NAMESPACE`."""
NAMESPACE = "http://rs.tdwg.org/dwc/terms/"
LIST_SIGN = " | "
"""Between the parts of a list in one value, as the terms' definitions recommend."""
DATUM = "EPSG:4326"
GUIDE = "Chapman 2020, https://doi.org/10.15468/doc-5jp4-5g10"


@dataclass(frozen=True, slots=True)
class RecordOptions:
    """What records tell. exact: positions, names of places, elevations and times of day as they are known, whatever a
    find's `locality` says; else what that allows, coarse at best. names: who found and who identified. texts: the
    entries' texts. Habitat and weather, which can tell a place, are told with either of the two."""

    exact: bool = False
    names: bool = True
    texts: bool = False

    @property
    def surroundings(self) -> bool:
        return self.exact or self.texts


@dataclass(frozen=True, slots=True)
class OccurrenceRecord:
    """One find. find: as it is told, with its date and place as far as they may be. certainty: of its latest
    identification. terms: values by `TERMS`, none
    empty. withholds: whether its place is known better than it is told."""

    find: Find
    certainty: Certainty
    terms: Mapping[str, str]
    withholds: bool

    @property
    def position(self) -> Position | None:
        return self.find.position


class ScientificName(NamedTuple):
    """rank: "species", "genus" or "kingdom". qualifier: what is doubted of it; "" where nothing is."""

    name: str
    rank: str
    qualifier: str


def _id_of_now(journal: Journal, typed: str) -> str:
    """An ID without its check character, and where a thing had it before, the one that it has now. Raises Refusal."""
    try:
        bare = without_check(typed, journal.by_id)
    except Unreadable as unreadable:
        raise Refusal(f"{unreadable.message}; {unreadable.fix}") from None
    row = by_former_id(journal).get(bare.lower())
    return row.id if row else bare


def chosen_ids(journal: Journal, named: Sequence[str]) -> tuple[str, ...]:
    """The IDs of the finds that may be in a record, of those named where any are. Private ones never are. Raises
    Refusal for a name that is not one of them."""
    public = {find.id.lower(): find.id for find in journal.public.finds}
    named = [_id_of_now(journal, name) for name in named]
    for name in named:
        if name.lower() in public:
            continue
        row = journal.by_id.get(name.lower())
        if isinstance(row, Find):
            raise Refusal(f"{row.id} is private, so it goes into no record; take `private` out of {row.path}")
        near = nearest(name, public.values())
        hint = f"; did you mean {near}?" if near else ""
        raise Refusal(f"{name} is not a find in this journal{hint}")
    return tuple(dict.fromkeys(public[name.lower()] for name in named)) or tuple(public.values())


def share_of_finds(ids: Iterable[str], wanted: RecordOptions, area_deg: float) -> Share:
    """The share whose journal `records_of` tells where not all may be told. What it says of words is more than records
    take from it. area_deg: the side of a cell."""
    return Share(
        name="records",
        about=tuple(ids),
        positions="area",
        area_deg=area_deg,
        times="minute" if wanted.exact else "day",
        by=wanted.names,
        texts="all",
    )


def records_of(
    shown: Journal, public: Journal, ids: Iterable[str], wanted: RecordOptions
) -> tuple[OccurrenceRecord, ...]:
    """The records of these finds, by date. shown: the journal whose words, dates and positions are
    included, that of a share where not all may be. public: the same journal without what is private, for exact places,
    and to know what is withheld."""
    shown_finds = {find.id: find for find in shown.finds}
    original = {find.id: find for find in public.finds}
    identified = identifications(shown)
    dates = {entry.path: entry.date for entry in shown.entries()}
    records = []
    for id in ids:
        find = _placed(shown_finds[id], original[id]) if wanted.exact else shown_finds[id]
        terms = dict(_terms(find, original[id], identified[id], dates, shown.settings.names, wanted))
        terms["occurrenceID"] = _occurrence_id(public, id)
        plain = {name: words for name in TERMS if (words := one_line(terms.get(name) or ""))}
        is_better_known = original[id].position is not None and not wanted.exact
        records.append(OccurrenceRecord(find, identified[id][-1].certainty, plain, is_better_known))
    return tuple(sorted(records, key=lambda record: (record.find.date.first, record.find.id)))


def one_line(text: str) -> str:
    """A text on one line, without the characters that XML 1.0 has no place for. *Source:* XML 1.0, production 2."""
    shown = (" " if unicodedata.category(sign) in ("Cc", "Cs", "Cn") else sign for sign in text)
    return " ".join("".join(shown).split())


def decimal(value: float) -> str:
    """A number of degrees or metres with at most 7 decimals (1 cm), and never with an exponent."""
    return f"{value:z.7f}".rstrip("0").rstrip(".")


def _placed(find: Find, original: Find) -> Find:
    exact = {name: getattr(original, name) for name in ("position", "place", "elevation_m", "date", "locality")}
    return replace(find, **exact)


def _occurrence_id(journal: Journal, id: str) -> str:
    """The same for the same find as long as title and author of the journal stay; tells nothing of its address."""
    settings = journal.settings
    return uuid.uuid5(uuid.NAMESPACE_OID, f"{settings.author}\n{settings.title}\n{id.lower()}").urn


Terms = Iterator[tuple[str, str | None]]


def _terms(
    find: Find,
    original: Find,
    identified: Sequence[Identification],
    dates: Mapping[str, When],
    own: OwnNames,
    wanted: RecordOptions,
) -> Terms:
    kept = find.specimen and not _NOTHING_KEPT.match(find.specimen)
    yield "basisOfRecord", "PreservedSpecimen" if kept else "HumanObservation"
    yield "occurrenceStatus", "present"
    yield "kingdom", "Fungi"
    yield "recordNumber", find.id
    yield "recordedBy", find.by if wanted.names else None
    yield "preparations", find.specimen
    yield from _event(find.date)
    if wanted.surroundings:
        yield "habitat", _joined(find.habitat, _named("growing on", find.growing_on), _named("host", find.host))
        yield "eventRemarks", _named("weather", find.weather)
    yield "associatedTaxa", _host(find.host)
    remarks = (("growth", find.growth), ("smell", find.smell), ("spore print", find.spore_print))
    yield "occurrenceRemarks", _joined(*(_named(*remark) for remark in remarks))
    yield "fieldNotes", find.text if wanted.texts else None
    yield "locality", find.place if wanted.exact else None
    if wanted.exact and find.elevation_m is not None:
        yield "minimumElevationInMeters", decimal(find.elevation_m)
        yield "maximumElevationInMeters", decimal(find.elevation_m)
    yield from _coordinates(find.position)
    yield from _identification(identified, dates, own, wanted)
    yield "dataGeneralizations", _generalised(find, original, wanted)
    yield "informationWithheld", _withheld(find, original, wanted)


_NOTHING_KEPT = re.compile(r"(?:no|not|none|nothing)\b", re.IGNORECASE)


def _joined(*parts: str | None) -> str:
    return "; ".join(filter(None, parts))


def _named(name: str, words: str | None) -> str | None:
    return f"{name}: {words}" if words else None


def _host(host: str | None) -> str | None:
    """`"host":"goat willow"`, as the definition of associatedTaxa shows; what is said of it besides is in habitat."""
    taxon = re.split(r"[,;(]", host or "")[0].strip().replace('"', "'")
    return f'"host":"{taxon}"' if taxon else None


def event_date(when: When) -> str:
    """ISO 8601 as far as known: a minute, a day, `2026-10`, `2026`; one that is only about right, its month's days."""
    if when.moment is not None:
        return when.moment.isoformat(timespec="minutes")
    if when.exact == "about":
        return f"{when.first.replace(day=1).isoformat()}/{last_day_meant(when).isoformat()}"
    return when.iso


def _event(when: When) -> Terms:
    yield "eventDate", event_date(when)
    yield "year", str(when.first.year)
    if when.exact != "year":
        yield "month", str(when.first.month)
    if when.counts_days:
        yield "day", str(when.first.day)
    if when.exact == "about":
        yield "verbatimEventDate", when.written


_HOW_PLACED: Mapping[str, str] = {
    "entry": "coordinates written down by the recorder",
    "photo": "GPS coordinates recorded in the photograph",
    "track": "interpolated by time on a GPS track log",
}


def _coordinates(position: Position | None) -> Terms:
    if position is None:
        return
    yield "decimalLatitude", decimal(position.lat_deg)
    yield "decimalLongitude", decimal(position.lon_deg)
    yield "geodeticDatum", DATUM
    if position.uncertainty_m:  # zero is not a valid value, and what is not known stays empty
        yield "coordinateUncertaintyInMeters", str(ceil(round(position.uncertainty_m, 6)))
    if position.grid_deg is not None:
        yield "coordinatePrecision", decimal(position.grid_deg)
        yield "georeferenceProtocol", f"centre of a cell of a decimal geographic grid: {GUIDE}"
    else:
        yield "verbatimCoordinates", position.written
        yield "georeferenceProtocol", _HOW_PLACED[position.source]


def _generalised(find: Find, original: Find, wanted: RecordOptions) -> str:
    identified = []
    if find.position and find.position.grid_deg and original.position:
        digits = degrees_of(original.position).partition(",")[0].partition(".")[2]
        identified.append(
            f"coordinates rounded from {decimal(10.0 ** -len(digits))}° to the centre of a cell of "
            f"{decimal(find.position.grid_deg)}° of a decimal geographic grid ({GUIDE})"
        )
    if original.date.moment and not find.date.moment:
        identified.append("date given to the day")
    words = [find.species, find.host, find.growth, find.smell, find.spore_print, find.specimen]
    words += [find.habitat, find.growing_on, find.weather] if wanted.surroundings else []
    words += [find.text] if wanted.texts else []
    if any(NOT_SHARED in (text or "") for text in words):
        identified.append(f"names of places and persons in texts replaced by {NOT_SHARED}")
    return "; ".join(identified)


def _withheld(find: Find, original: Find, wanted: RecordOptions) -> str:
    parts = [
        ("coordinates", original.position is not None and find.position is None),
        ("exact coordinates", find.position is not None and find.position.grid_deg is not None),
        ("name of the place", original.place and not wanted.exact),
        ("elevation", original.elevation_m is not None and not wanted.exact),
        ("time of day", original.date.moment and not find.date.moment),
        ("habitat", any((original.habitat, original.growing_on, original.weather)) and not wanted.surroundings),
        ("field notes", original.text.strip() and not wanted.texts),
        ("names of persons", not wanted.names),
    ]
    names = [name for name, is_withheld in parts if is_withheld]
    return f"{', '.join(names)}: ask the recorder" if names else ""


_SIGNED = re.compile(r"(?P<genus>[A-Z][a-z]+) (?P<sign>cf|aff)\.? (?P<rest>[a-z][a-z-]+)")
_ANY_OF_A_GENUS = re.compile(r"(?P<genus>[A-Z][a-z]+) spp?\b")
_GENERA = frozenset(name.partition(" ")[0] for name in (*COMMON_NAMES.values(), *SYNONYMS.values()))


def scientific_name(written: str | None, certainty: Certainty, own: OwnNames = ()) -> ScientificName:
    """The name, or what the author's own names say that it means, in the lowest rank that is sure, and what is doubted
    below it, by the definitions of scientificName and identificationQualifier: `Hericium`, `cf. erinaceus` where that
    species is likely, `? erinaceus` where it is unsure. A text that names no species, and no genus that can be known
    for one, is of the kingdom alone."""
    text = one_line(re.sub(r"[*_]", "", species_meant(written, own) or written or ""))
    doubt = {"confirmed": "", "likely": "cf.", "unsure": "?"}[certainty]
    if signed := _SIGNED.match(text):
        return ScientificName(signed["genus"], "genus", f"{signed['sign']}. {signed['rest']}")
    if species := species_named(text, ()):
        genus, _, epithet = species.partition(" ")
        return ScientificName(genus, "genus", f"{doubt} {epithet}") if doubt else ScientificName(species, "species", "")
    of_a_genus, alone = _ANY_OF_A_GENUS.match(text), text.removesuffix(" species")
    if of_a_genus or alone in _GENERA:
        return ScientificName(of_a_genus["genus"] if of_a_genus else alone, "genus", doubt)
    return ScientificName("Fungi", "kingdom", "")


def _identification(
    identified: Sequence[Identification], dates: Mapping[str, When], own: OwnNames, wanted: RecordOptions
) -> Terms:
    now = identified[-1]
    name = scientific_name(now.species, now.certainty, own)
    yield "scientificName", name.name
    yield "taxonRank", name.rank
    yield "identificationQualifier", name.qualifier
    yield "verbatimIdentification", now.species
    yield "vernacularName", now.species if _is_common(now.species, own) else None
    who, _, how = (now.identified_by or "").partition(",")
    yield "identifiedBy", who if wanted.names else None
    how = how.strip() if wanted.names else now.identified_by or ""
    yield "identificationRemarks", _joined(_named("certainty", now.certainty), how)
    if len(identified) > 1:
        yield "dateIdentified", event_date(dates[now.path])
        earlier = dict.fromkeys(_in_words(one, wanted) for one in identified[:-1])
        yield "previousIdentifications", LIST_SIGN.join(earlier)


def _is_common(written: str | None, own: OwnNames) -> bool:
    """Whether a name is a common one of one species, and begins with no genus, be it the present or an older one."""
    species = species_named(written, own)
    first = (written or "").strip("*_ ").partition(" ")[0].casefold()
    older = {synonym.partition(" ")[0] for synonym in SYNONYMS}
    return species is not None and first not in {species.partition(" ")[0].casefold(), *older}


def _in_words(identified: Identification, wanted: RecordOptions) -> str:
    who = f", {identified.identified_by}" if identified.identified_by and wanted.names else ""
    return f"{identified.species or 'not identified'} ({identified.certainty}{who})"
