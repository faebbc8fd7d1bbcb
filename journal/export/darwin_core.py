"""A Darwin Core Archive: a zip of occurrence records, what their columns mean, and a description of the data set.

*Source:* TDWG, Darwin Core text guide (http://rs.tdwg.org/dwc/text/) with its schema tdwg_dwc_text.xsd; Ecological
Metadata Language 2.2.0, as the GBIF metadata profile 1.3 has it; for media Audiovisual Core (http://rs.tdwg.org/ac/).
"""

from __future__ import annotations

import hashlib
import io
import uuid
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from xml.etree import ElementTree

from journal.export.occurrences import NAMESPACE, TERMS, OccurrenceRecord, one_line
from journal.settings import Settings

_TEXT = "http://rs.tdwg.org/dwc/text/"
_EML = "https://eml.ecoinformatics.org/eml-2.2.0"
_LONG_AGO = (1980, 1, 1, 0, 0, 0)
_MEDIA_TERMS: Mapping[str, str] = {
    "identifier": "http://purl.org/dc/terms/identifier",
    "type": "http://purl.org/dc/terms/type",
    "metadataLanguageLiteral": "http://rs.tdwg.org/ac/terms/metadataLanguageLiteral",
    "providerManagedID": "http://rs.tdwg.org/ac/terms/providerManagedID",
    "rights": "http://purl.org/dc/elements/1.1/rights",
    "format": "http://purl.org/dc/elements/1.1/format",
    "caption": "http://rs.tdwg.org/ac/terms/caption",
    "CreateDate": "http://ns.adobe.com/xap/1.0/CreateDate",
    "hashFunction": "http://rs.tdwg.org/ac/terms/hashFunction",
    "hashValue": "http://rs.tdwg.org/ac/terms/hashValue",
}
# By their definitions `type` of dcterms is a URI, `format` and `rights` of dc are literals, one of each pair for type,
# rights and language must be there, and `accessURI` would be the URI of a service: a file of this archive has none.
NO_LICENCE = (
    "No licence is granted by this file. Agree with the recorder how the records may be used before you publish them."
)


@dataclass(frozen=True, slots=True)
class Medium:
    """A published picture of a find. data: WebP. taken: ISO 8601, as far as it is told; "" where nothing is."""

    find_id: str
    data: bytes = field(repr=False)
    caption: str = ""
    taken: str = ""


def archive_of(
    records: Sequence[OccurrenceRecord], settings: Settings, names: bool, published: date, media: Iterable[Medium] = ()
) -> bytes:
    """The archive as one zip, the same for the same input. settings: of the journal as it is told; where names
    of persons are included, its author is the creator of the data set. published: the date that it has."""
    rows = [tuple(record.terms.get(term, "") for term in TERMS) for record in records]
    files = {"occurrence.txt": _table(TERMS, rows)}
    media_rows, pictures = _media(records, media)
    if media_rows:
        files["multimedia.txt"] = _table(("coreid", *_MEDIA_TERMS), media_rows)
    files["meta.xml"] = _meta(bool(media_rows))
    files["eml.xml"] = _eml(records, settings, names, published)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in {**files, **pictures}.items():
            row = zipfile.ZipInfo(name, _LONG_AGO)
            row.create_system = 3  # or a zip made under Windows would differ
            row.external_attr = 0o100644 << 16
            row.compress_type = zipfile.ZIP_STORED if name in pictures else zipfile.ZIP_DEFLATED
            packed.writestr(row, content)
    return out.getvalue()


def _table(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """Tab-separated lines; no value holds a tab or a line break, so that none needs quotation marks."""
    return "".join("\t".join(map(one_line, row)) + "\n" for row in (columns, *rows)).encode("utf-8")


def _media(
    records: Sequence[OccurrenceRecord], media: Iterable[Medium]
) -> tuple[list[tuple[str, ...]], dict[str, bytes]]:
    core_ids = {record.find.id: record.terms["occurrenceID"] for record in records}
    rows: list[tuple[str, ...]] = []
    files: dict[str, bytes] = {}
    numbers: dict[str, int] = {}
    for one in media:
        numbers[one.find_id] = number = numbers.get(one.find_id, 0) + 1
        name = f"media/{one.find_id}-{number}.webp"
        files[name] = one.data
        digest = hashlib.sha256(one.data).hexdigest()
        identifier = uuid.uuid5(uuid.NAMESPACE_OID, f"{core_ids[one.find_id]}\n{digest}").urn
        still = "http://purl.org/dc/dcmitype/StillImage"
        described = (identifier, still, "eng", name, NO_LICENCE, "image/webp", one.caption, one.taken)
        rows.append((core_ids[one.find_id], *described, "SHA-256", digest))
    return rows, files


def _meta(has_media: bool) -> bytes:
    archive = ElementTree.Element("archive", {"xmlns": _TEXT, "metadata": "eml.xml"})
    core = _described(archive, "core", "occurrence.txt", f"{NAMESPACE}Occurrence")
    ElementTree.SubElement(core, "id", {"index": "0"})
    for index, term in enumerate(TERMS):
        row = {"index": str(index), "term": f"{NAMESPACE}{term}"}
        ElementTree.SubElement(core, "field", row | ({"delimitedBy": " | "} if term in _LISTS else {}))
    if has_media:
        extension = _described(archive, "extension", "multimedia.txt", "http://rs.tdwg.org/ac/terms/Multimedia")
        ElementTree.SubElement(extension, "coreid", {"index": "0"})
        for index, iri in enumerate(_MEDIA_TERMS.values(), 1):
            ElementTree.SubElement(extension, "field", {"index": str(index), "term": iri})
    return _xml(archive)


_LISTS = frozenset({"previousIdentifications", "associatedTaxa"})


def _described(archive: ElementTree.Element, element: str, file: str, row_type: str) -> ElementTree.Element:
    attributes = {
        "encoding": "UTF-8", "fieldsTerminatedBy": r"\t", "linesTerminatedBy": r"\n", "fieldsEnclosedBy": "",
        "ignoreHeaderLines": "1", "rowType": row_type,
    }  # fmt: skip
    made = ElementTree.SubElement(archive, element, attributes)
    ElementTree.SubElement(ElementTree.SubElement(made, "files"), "location").text = file
    return made


def _eml(records: Sequence[OccurrenceRecord], settings: Settings, names: bool, published: date) -> bytes:
    """The description of the data set, its elements in the order of the schema."""
    package = uuid.uuid5(uuid.NAMESPACE_OID, "\n".join(record.terms["occurrenceID"] for record in records)).urn
    root = ElementTree.Element("eml:eml", {"xmlns:eml": _EML, "packageId": package, "system": "urn:uuid"})
    dataset = ElementTree.SubElement(root, "dataset")
    ElementTree.SubElement(dataset, "title").text = "Records of fungi from a field journal"
    _agent(dataset, "creator", settings, names)
    ElementTree.SubElement(dataset, "pubDate").text = published.isoformat()
    ElementTree.SubElement(dataset, "language").text = "en"
    _paragraph(dataset, "abstract", _abstract(records))
    _paragraph(dataset, "intellectualRights", NO_LICENCE)
    if records:
        _years(ElementTree.SubElement(dataset, "coverage"), records)
    _agent(dataset, "contact", settings, names)
    return _xml(root)


def _abstract(records: Sequence[OccurrenceRecord]) -> str:
    abstract = f"{len(records)} records of fungi from a field journal."
    if any("informationWithheld" in record.terms for record in records):
        abstract += " What is left out or made less exact is said in each record."
    return abstract


def _agent(dataset: ElementTree.Element, role: str, settings: Settings, names: bool) -> None:
    agent = ElementTree.SubElement(dataset, role)
    if names and (author := one_line(settings.author)):
        ElementTree.SubElement(ElementTree.SubElement(agent, "individualName"), "surName").text = author
    else:
        ElementTree.SubElement(agent, "positionName").text = "the recorder"


def _paragraph(dataset: ElementTree.Element, element: str, words: str) -> None:
    ElementTree.SubElement(ElementTree.SubElement(dataset, element), "para").text = words


def _years(coverage: ElementTree.Element, records: Sequence[OccurrenceRecord]) -> None:
    years = [record.find.date.first.year for record in records]
    dates = ElementTree.SubElement(ElementTree.SubElement(coverage, "temporalCoverage"), "rangeOfDates")
    for element, year in (("beginDate", min(years)), ("endDate", max(years))):
        ElementTree.SubElement(ElementTree.SubElement(dates, element), "calendarDate").text = f"{year:04d}"


def _xml(root: ElementTree.Element) -> bytes:
    ElementTree.indent(root)
    written: bytes = ElementTree.tostring(root, encoding="UTF-8", xml_declaration=True)
    return written + b"\n"
