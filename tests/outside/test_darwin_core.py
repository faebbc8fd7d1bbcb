"""Records of finds against the published terms; each row of darwin_core.json names its kind and source. The archive is
read back by python-dwca-reader."""

from __future__ import annotations

import json
import re
import zipfile
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from dwca.read import DwCAReader

from journal.export.darwin_core import Medium, archive_of
from journal.export.occurrences import (
    NAMESPACE,
    TERMS,
    OccurrenceRecord,
    RecordOptions,
    event_date,
    records_of,
    scientific_name,
)
from journal.model import Position, When
from journal.settings import Settings
from tests.builders import find, journal_of, note, when

CHECKS = json.loads((Path(__file__).parent / "darwin_core.json").read_text(encoding="utf-8"))
ROWS = {row["id"]: row for row in CHECKS["rows"]}
Row = dict[str, Any]

GROUPS = {
    "terms": r"dwc-term-.+",
    "no substrate": r"dwc-no-substrate",
    "dates": r"dwc-date-.+",
    "ranges": r"dwc-l(at|on)-\d",
    "uncertainty": r"dwc-unc-(zero|empty)",
    "not used": r"dwc-(unc-\d+|prec)",  # a stated uncertainty is never made up; the precision told is the grid's
    "list": r"dwc-list",
    "host": r"dwc-host",
    "doubt": r"dwc-qual",
    "basis": r"dwc-basis-\d",
}


def rows(group: str) -> Any:
    found = [row for id, row in ROWS.items() if re.fullmatch(GROUPS[group], id)]
    return pytest.mark.parametrize("row", found, ids=[row["id"] for row in found])


def records(*entries: Any, **wanted: Any) -> tuple[OccurrenceRecord, ...]:
    """The records of a journal as it is, exact where nothing else is asked for."""
    journal = journal_of(*entries)
    return records_of(journal, journal, [row.id for row in journal.finds], RecordOptions(**{"exact": True, **wanted}))


def terms_of(**more: Any) -> dict[str, str]:
    return dict(records(find("F-1", **more))[0].terms)


def test_every_row_is_in_exactly_one_group() -> None:
    counts = {id: sum(bool(re.fullmatch(pattern, id)) for pattern in GROUPS.values()) for id in ROWS}
    assert dict.fromkeys(counts, 1) == counts


def test_every_column_is_a_published_term_and_none_is_shown_twice() -> None:
    assert set() == {f"{NAMESPACE}{term}" for term in TERMS} - set(CHECKS["terms"]["occurrence"])
    assert len(TERMS) == len(set(TERMS))


def test_a_column_has_the_iri_of_its_definition() -> None:
    defined = {row["inputs"]["term"]: row["expected"]["iri"] for id, row in ROWS.items() if id.startswith("dwc-term-")}
    ours = {term: f"{NAMESPACE}{term}" for term in TERMS if term in defined}
    assert {term: defined[term] for term in ours} == ours
    assert len(ours) > 20


@rows("no substrate")
def test_what_it_grew_on_is_in_habitat(row: Row) -> None:
    assert row["expected"]["exists"] is (row["inputs"]["term"] in TERMS)
    assert "alder carr; growing on: a log" == terms_of(habitat="alder carr", growing_on="a log")["habitat"]


def is_event_date(text: str) -> bool:
    """Whether a text is a date, a time or an interval of ISO 8601 with no part abbreviated, the first not after the
    last: by Python's own reader."""
    try:
        ends = [_first_moment(part) for part in text.split("/")]
    except ValueError:
        return False
    return len(ends) <= 2 and ends == sorted(ends)


def _first_moment(text: str) -> date:
    if re.fullmatch(r"\d{4}(-\d\d)?", text):
        return date.fromisoformat(f"{text}-01-01"[:10] if len(text) == 4 else f"{text}-01")
    if not re.match(r"\d{4}-\d\d-\d\d(T|$)", text):
        raise ValueError(text)
    return datetime.fromisoformat(text).date()


@rows("dates")
def test_the_reader_of_dates_in_these_tests_agrees_with_the_published_ones(row: Row) -> None:
    if row["id"] != "dwc-date-short":  # an abbreviated interval, from memory: the program writes none
        assert row["expected"]["valid"] is is_event_date(row["inputs"]["eventDate"])


MOMENT = datetime.fromisoformat("2026-09-12T14:38:59+01:00")


@pytest.mark.parametrize(
    ("expected", "known"),
    [
        ("2026-09-12T14:38+01:00", When("", date(2026, 9, 12), "minute", MOMENT)),
        ("2026-09-12", When("", date(2026, 9, 12), "day")),
        ("2026-09", When("", date(2026, 9, 1), "month")),
        ("2026", When("", date(2026, 1, 1), "year")),
        ("2024-02-01/2024-02-29", When("about 2024-02-10", date(2024, 2, 10), "about")),
    ],
)  # fmt: skip
def test_a_date_is_shown_as_far_as_it_is_known(expected: str, known: When) -> None:
    assert expected == event_date(known)
    assert is_event_date(expected)
    terms = terms_of(date=known)
    assert ("about" == known.exact) is ("verbatimEventDate" in terms)
    parts = [name for name in ("year", "month", "day") if name in terms]
    assert {"year": 1, "month": 2, "about": 2, "day": 3, "minute": 3}[known.exact] == len(parts)


@rows("ranges")
def test_coordinates_at_the_ends_of_their_ranges_are_shown_as_they_are(row: Row) -> None:
    ((term, value),) = row["inputs"].items()
    place = Position(value, 0, 5, "entry") if term == "decimalLatitude" else Position(0, value, 5, "entry")
    if row["expected"]["valid"]:  # what is out of range is refused where it is read: see tests/geo
        assert value == float(terms_of(position=place)[term])
        assert "EPSG:4326" == terms_of(position=place)["geodeticDatum"]


@pytest.mark.parametrize(("lat", "lon"), [(0.0, 0.0), (90.0, 0.0), (-90.0, 180.0), (1e-7, -1e-6), (-0.0, -180.0)])
def test_a_number_has_no_exponent_and_zero_no_sign(lat: float, lon: float) -> None:
    terms = terms_of(position=Position(lat, lon, 1, "entry"))
    for term, value in (("decimalLatitude", lat), ("decimalLongitude", lon)):
        assert re.fullmatch(r"-?\d+(\.\d+)?", terms[term])
        assert terms[term] != "-0"
        assert value == pytest.approx(float(terms[term]), abs=1e-9)


@rows("uncertainty")
def test_an_uncertainty_of_zero_or_none_is_left_empty(row: Row) -> None:
    stated = row["inputs"]["coordinateUncertaintyInMeters"]
    assert "coordinateUncertaintyInMeters" not in terms_of(position=Position(58, -8, stated, "entry"))
    assert "8" == terms_of(position=Position(58, -8, 7.2, "entry"))["coordinateUncertaintyInMeters"]


@rows("list")
def test_parts_of_a_list_have_the_published_sign_between_them(row: Row) -> None:
    sign = row["expected"]["string"].removeprefix("a.jpg").removesuffix("b.jpg")
    said = (note("F-1", day, species=name, certainty="unsure") for day, name in ((1, "velvet foot"), (2, "oyster")))
    (record,) = records(find("F-1", species="nameko"), *said)
    assert f"nameko (unsure){sign}velvet foot (unsure)" == record.terms["previousIdentifications"]
    assert "2026-10-02" == record.terms["dateIdentified"]


@rows("host")
def test_the_host_is_an_associated_taxon(row: Row) -> None:
    given, expected = row["inputs"], row["expected"]["string"]
    assert expected == terms_of(host=given["taxon"])["associatedTaxa"]
    assert expected == terms_of(host=f"{given['taxon']}, living, hollow")["associatedTaxa"]


@rows("doubt")
def test_doubt_is_never_in_the_scientific_name(row: Row) -> None:
    name = scientific_name(row["inputs"]["scientificName"], "confirmed")
    assert (row["expected"]["scientificName"], row["expected"]["identificationQualifier"]) == (
        name.name,
        name.qualifier,
    )


@pytest.mark.parametrize(
    ("expected", "written", "certainty"),
    [
        (("Pholiota adiposa", "species", ""), "Pholiota adiposa", "confirmed"),
        (("Pholiota", "genus", "cf. adiposa"), "Pholiota adiposa", "likely"),
        (("Pholiota", "genus", "? adiposa"), "*Pholiota adiposa*", "unsure"),
        (("Flammulina velutipes", "species", ""), "velvet foot", "confirmed"),
        (("Cyclocybe aegerita", "species", ""), "Agrocybe aegerita", "confirmed"),
        (("Inocybe", "genus", ""), "Inocybe sp.", "confirmed"),
        (("Pleurotus", "genus", ""), "Pleurotus species", "confirmed"),
        (("Fungi", "kingdom", ""), "Oyster species", "confirmed"),
        (("Pleurotus", "genus", "?"), "Pleurotus", "unsure"),
        (("Fungi", "kingdom", ""), "Oyster", "confirmed"),
        (("Fungi", "kingdom", ""), "phoenix oyster, or another oyster", "unsure"),
        (("Fungi", "kingdom", ""), None, "unsure"),
    ],
)
def test_a_name_is_of_the_lowest_rank_that_is_sure(expected: Any, written: str | None, certainty: Any) -> None:
    assert expected == scientific_name(written, certainty)
    terms = terms_of(species=written, certainty=certainty)
    assert written == terms.get("verbatimIdentification")
    assert ("velvet foot" if written == "velvet foot" else None) == terms.get("vernacularName")


@pytest.mark.parametrize(
    ("expected", "certainty", "meant"),
    [
        (("Pleurotus pulmonarius", "species", ""), "confirmed", "Pleurotus pulmonarius"),
        (("Pleurotus", "genus", "cf. pulmonarius"), "likely", "Pleurotus pulmonarius"),
        (("Pleurotus pulmonarius", "species", ""), "confirmed", "phoenix oyster"),
        (("Pleurotus", "genus", ""), "confirmed", "Pleurotus"),
        (("Pleurotus", "genus", "cf. djamor"), "confirmed", "Pleurotus cf. djamor"),
    ],
)
def test_an_own_name_is_recorded_as_what_its_author_says_that_it_means(
    expected: tuple[str, ...], certainty: Any, meant: str
) -> None:
    rows = journal_of(find("F-1", species="Shelf oyster", certainty=certainty))
    journal = replace(rows, settings=replace(rows.settings, names=(("shelf oyster", meant),)))
    (record,) = records_of(journal, journal, ["F-1"], RecordOptions(exact=True))
    names = ("scientificName", "taxonRank", "identificationQualifier")
    assert expected == tuple(record.terms.get(name, "") for name in names)
    assert "Shelf oyster" == record.terms["verbatimIdentification"]
    assert ("Shelf oyster" if " " in meant and "cf" not in meant else None) == record.terms.get("vernacularName")


@rows("basis")
def test_what_was_kept_makes_a_specimen_and_nothing_else_does(row: Row) -> None:
    valid = {one["inputs"]["basisOfRecord"] for id, one in ROWS.items() if "basis-" in id and one["expected"]["valid"]}
    kept = {None: "HumanObservation", "voucher 9": "PreservedSpecimen", "nothing kept": "HumanObservation"}
    assert kept == {words: terms_of(specimen=words)["basisOfRecord"] for words in kept}
    assert row["expected"]["valid"] is (row["inputs"]["basisOfRecord"] in valid)
    assert set(kept.values()) <= valid


# The archive

SETTINGS = Settings(title="Shore & <wood>", author="A. Porter & Co")
SEEN = find("F-1", "2026-09-12", species="velvet foot", certainty="confirmed", identified_by="the baker, spores",
            habitat="carr\tby\nthe \x0bburn", position=Position(58.30412, -8.90177, 8, "entry", "58.30412, -8.90177"),
            smell='like "iron" & | salt')  # fmt: skip


def written(tmp_path: Path, made: tuple[OccurrenceRecord, ...], *, names: bool = True, media: Any = ()) -> Path:
    path = tmp_path / "a.zip"
    path.write_bytes(archive_of(made, SETTINGS, names, date(2026, 11, 25), media))
    return path


def test_an_independent_reader_finds_every_value_as_it_was_told(tmp_path: Path) -> None:
    made = records(SEEN, find("F-2", "2026-09-13"))
    with DwCAReader(str(written(tmp_path, made))) as archive:
        assert f"{NAMESPACE}Occurrence" == archive.descriptor.core.type
        found = archive.rows
        assert [record.terms["occurrenceID"] for record in made] == [row.id for row in found]
        for record, row in zip(made, found, strict=True):
            assert {f"{NAMESPACE}{term}": record.terms.get(term, "") for term in TERMS} == row.data
    assert "carr by the burn" == made[0].terms["habitat"]
    assert ("the baker", "certainty: confirmed; spores") == (
        made[0].terms["identifiedBy"], made[0].terms["identificationRemarks"],
    )  # fmt: skip


AC, DC = "http://rs.tdwg.org/ac/terms/", "http://purl.org/dc/elements/1.1/"
# Audiovisual Core: dcterms:type MUST be a URI of a controlled vocabulary, dc:format is a string such as a MIME type,
# metadata language an ISO 639-2 code; one of each pair of dc and dcterms for type, rights and language must be there.
MUST_BE_SAID = {
    "http://purl.org/dc/terms/type": "http://purl.org/dc/dcmitype/StillImage",
    f"{DC}format": "image/webp",
    f"{AC}metadataLanguageLiteral": "eng",
    f"{AC}hashFunction": "SHA-256",
}


def test_pictures_are_an_extension_of_the_core_only_where_there_are_any(tmp_path: Path) -> None:
    made = records(SEEN)
    with DwCAReader(str(written(tmp_path, made))) as archive:
        assert [] == archive.descriptor.extensions
    media = [Medium("F-1", b"RIFF one", "gills,\tand\nstem", "2026-09-12"), Medium("F-1", b"RIFF two")]
    path = written(tmp_path, made, media=media)
    with DwCAReader(str(path)) as archive:
        (row,) = archive.rows
        one, two = row.extensions
    assert "http://rs.tdwg.org/ac/terms/Multimedia" == one.rowtype
    assert set() == set(one.data) - set(CHECKS["terms"]["media"])
    assert ("gills, and stem", "") == tuple(each.data[f"{AC}caption"] for each in (one, two))
    for each in (one, two):
        assert MUST_BE_SAID == {term: each.data[term] for term in MUST_BE_SAID}
        assert each.data[f"{DC}rights"]
        assert f"{AC}accessURI" not in each.data  # the URI of a service, and a file in the archive has none
    assert one.data["http://purl.org/dc/terms/identifier"] != two.data["http://purl.org/dc/terms/identifier"]
    with zipfile.ZipFile(path) as packed:
        names = [each.data[f"{AC}providerManagedID"] for each in (one, two)]
        assert [b"RIFF one", b"RIFF two"] == list(map(packed.read, names))


# GBIF metadata profile 1.3 (eml-gbif-profile.xsd): the elements of a data set, and those that must be there.
EML_ORDER = ["title", "creator", "pubDate", "language", "abstract", "intellectualRights", "coverage", "contact"]


@pytest.mark.parametrize("names", [True, False])
def test_the_data_set_is_described_in_the_order_of_the_profile_with_its_author_only_where_names_are_told(
    tmp_path: Path, names: bool
) -> None:
    with DwCAReader(str(written(tmp_path, records(SEEN), names=names))) as archive:
        assert archive.metadata is not None
        (dataset,) = archive.metadata
    assert EML_ORDER == [element.tag for element in dataset]
    assert names is ("A. Porter & Co" in "".join(dataset.itertext()))
    assert "2026-11-25" == dataset.findtext("pubDate")


def test_the_same_records_make_the_same_bytes(tmp_path: Path) -> None:
    first = written(tmp_path, records(SEEN)).read_bytes()
    assert first == written(tmp_path, records(SEEN)).read_bytes()


def test_a_find_keeps_its_identifier_whatever_is_told_of_it() -> None:
    told, untold = records(SEEN), records(replace(SEEN, date=when(3)), exact=False, names=False)
    assert told[0].terms["occurrenceID"] == untold[0].terms["occurrenceID"]
    assert told[0].terms["occurrenceID"] != records(replace(SEEN, id="F-2"))[0].terms["occurrenceID"]


def test_the_files_are_described_by_the_schema_of_the_text_guide(tmp_path: Path) -> None:
    """tdwg_dwc_text.xsd: one core with files, an id and fields, in that order; attributes as declared."""
    with zipfile.ZipFile(written(tmp_path, records(SEEN))) as packed:
        archive = ElementTree.fromstring(packed.read("meta.xml"))
        header = packed.read("occurrence.txt").decode().splitlines()[0].split("\t")
    space = "{http://rs.tdwg.org/dwc/text/}"
    assert (f"{space}archive", {"metadata": "eml.xml"}) == (archive.tag, archive.attrib)
    (core,) = archive
    assert [f"{space}{name}" for name in ("files", "id", *["field"] * len(TERMS))] == [part.tag for part in core]
    fields = core.findall(f"{space}field")
    assert [f"{NAMESPACE}{name}" for name in header] == [part.get("term") for part in fields]
    assert [str(index) for index in range(len(TERMS))] == [part.get("index") for part in fields]
