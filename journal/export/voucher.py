"""Labels for dried specimens, several on a sheet of A4, as one HTML page to print."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from journal.export.occurrences import OccurrenceRecord, one_line
from journal.geo.format import degrees_of
from journal.settings import Settings
from journal.site.single_page import single_page
from journal.site.wording import date_in_words, length, radius


@dataclass(frozen=True, slots=True)
class VoucherLabel:
    """What is on one label: name in italics with the doubt before its epithet; lines: (heading, words), the fields
    of a herbarium's label in their usual order: place, habitat, fresh characters, collector, determiner."""

    id: str
    genus_or_species: str
    qualifier: str
    is_confirmed: bool
    lines: tuple[tuple[str, str], ...]


def sheet_of(records: Sequence[OccurrenceRecord], settings: Settings, resources: Path) -> str:
    """The page. resources: the folder of the program's templates and static files."""
    labels = [_label(record, settings) for record in records]
    return single_page(resources, "voucher/sheet.html", title=one_line(settings.title), labels=labels) + "\n"


def _label(record: OccurrenceRecord, settings: Settings) -> VoucherLabel:
    terms = record.terms
    return VoucherLabel(
        id=record.find.id,
        genus_or_species=terms["scientificName"],
        qualifier=terms.get("identificationQualifier", ""),
        is_confirmed=record.certainty == "confirmed",
        lines=tuple((heading, words) for heading, words in _lines(record, settings) if words),
    )


def _lines(record: OccurrenceRecord, settings: Settings) -> Iterator[tuple[str, str]]:
    find, terms = record.find, record.terms
    named = terms.get("verbatimIdentification", "")
    yield "As named", "" if named == terms["scientificName"] else named
    where = (terms.get("locality"), _position(record, settings), _elevation(record, settings))
    yield "Place", "; ".join(filter(None, where))
    yield "Habitat", terms.get("habitat", "")
    yield "Notes", "; ".join(filter(None, (terms.get("occurrenceRemarks"), terms.get("eventRemarks"))))
    yield "Kept", terms.get("preparations", "")
    yield "Date", date_in_words(find.date)
    yield "Leg.", " ".join(filter(None, (terms.get("recordedBy"), f"no. {find.id}")))
    how = terms["identificationRemarks"]
    dated = terms.get("dateIdentified")
    yield "Det.", "; ".join(filter(None, (terms.get("identifiedBy"), dated, how)))
    yield "Earlier", terms.get("previousIdentifications", "")


def _position(record: OccurrenceRecord, settings: Settings) -> str:
    position = record.position
    if position is None:
        return "position withheld" if record.withholds else ""
    sure = f" ±{radius(position.uncertainty_m, settings.units)}" if position.uncertainty_m else ""
    if position.grid_deg is not None:
        return f"{degrees_of(position)}{sure} (WGS 84; cell of {position.grid_deg:g}°, exact place withheld)"
    return f"{degrees_of(position)}{sure} (WGS 84)"


def _elevation(record: OccurrenceRecord, settings: Settings) -> str:
    has_elevation = "minimumElevationInMeters" in record.terms and record.find.elevation_m is not None
    return f"{length(record.find.elevation_m or 0.0, settings.units)} above sea level" if has_elevation else ""
