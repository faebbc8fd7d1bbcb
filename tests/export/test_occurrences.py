"""What a record of a find tells of its place, of persons and of what is private, and that it says what it withholds."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.cache.resources import find_resources
from journal.export.darwin_core import archive_of
from journal.export.geojson import feature_collection
from journal.export.gpx import gpx_of
from journal.export.occurrences import OccurrenceRecord, RecordOptions, chosen_ids, records_of, share_of_finds
from journal.export.voucher import sheet_of
from journal.model import Journal, Position
from journal.problems import Refusal
from journal.sharing.redact import redaction_of
from tests.builders import entry, examples, find, journal_of, noted
from tests.sharing.planted import planted, sight_of
from tests.sharing.test_nothing_leaks import clocks_told, positions_wrongly_told, words_wrongly_told

Make = Callable[..., Journal]

PLACE = dict.fromkeys(("decimalLatitude", "decimalLongitude", "coordinateUncertaintyInMeters"))


def told_of(journal: Journal, area_deg: float = 0.1, **asked: Any) -> tuple[OccurrenceRecord, ...]:
    """The records as the command makes them."""
    wanted = RecordOptions(**asked)
    ids = chosen_ids(journal, ())
    share = share_of_finds(ids, wanted, area_deg)
    is_whole = wanted.exact and wanted.names
    return records_of(journal.public if is_whole else redaction_of(journal, share).journal, journal.public, ids, wanted)


SPOT = Position(58.30412, -8.90177, 8.0, "entry", "58.30412, -8.90177 ±8 m")


@pytest.mark.parametrize(
    ("locality", "exact", "expected"),
    [
        ("hidden", False, (None, None, None)),
        ("area", False, ("58.3", "-8.9", "13000")),
        ("exact", False, ("58.3", "-8.9", "13000")),
        ("hidden", True, ("58.30412", "-8.90177", "8")),
        ("area", True, ("58.30412", "-8.90177", "8")),
        ("exact", True, ("58.30412", "-8.90177", "8")),
    ],
)
def test_a_place_is_shown_as_its_locality_allows_and_exactly_only_where_that_is_asked_for(
    locality: Any, exact: bool, expected: Any
) -> None:
    one = find("F-1", locality=locality, position=SPOT, place="Heron Slip", elevation_m=3.0)
    (record,) = told_of(journal_of(one), exact=exact)
    assert expected == tuple(record.terms.get(term) for term in PLACE)
    assert exact is ("locality" in record.terms)
    assert exact is ("minimumElevationInMeters" in record.terms)
    assert exact is not record.withholds
    assert exact is not ("informationWithheld" in record.terms)
    assert (not exact and locality != "hidden") is ("dataGeneralizations" in record.terms)


def test_a_coarse_place_says_what_grid_it_is_on_and_how_finely_it_is_known() -> None:
    """Chapman 2020, section 4.3: the precision provided and the precision held, and the kind of grid (gen-document)."""
    (record,) = told_of(journal_of(find("F-1", locality="area", position=SPOT)), 0.01)
    said = record.terms["dataGeneralizations"]
    assert [True] * 3 == [words in said for words in ("0.01°", "0.00001°", "decimal geographic grid")]
    assert "0.01" == record.terms["coordinatePrecision"]
    assert "exact coordinates" in record.terms["informationWithheld"]
    assert "verbatimCoordinates" not in record.terms


@examples(8)
@given(
    lat=st.sampled_from([0.0, 58.30412, -45.05, 89.97]),
    lon=st.sampled_from([0.0, -8.90177, 179.98]),
    steps=st.lists(st.tuples(st.floats(-0.049, 0.049), st.floats(-0.049, 0.049)), min_size=1, max_size=5),
)
def test_neighbours_in_a_cell_are_told_alike_so_that_many_tell_no_more_than_one(
    lat: float, lon: float, steps: list[tuple[float, float]]
) -> None:
    centre = round(lat, 1), round(lon, 1)
    places = [Position(min(centre[0] + north, 90), min(centre[1] + east, 180), 8, "entry") for north, east in steps]
    rows = [find(f"F-{number}", locality="area", position=place) for number, place in enumerate(places)]
    told = {tuple(record.terms[term] for term in PLACE) for record in told_of(journal_of(*rows))}
    assert 1 == len(told)


FILES = {
    "journal.toml": '[journal]\ntitle = "Shore"\nauthor = "Night porter"\ntime_zone = "Europe/London"\n',
    "a.md": entry(
        "find", "id: F-1\ndate: 2026-09-12 14:38\nspecies: Pleurotus pulmonarius\ncertainty: likely\n"
        "identified by: Rosalind Quill, by eye\nby: Hesper Vane\nwhere: 58.30412, -8.90177 ±8 m\nplace: Quillon Combe\n"
        "permission: Tamsin Orrery of the estate\nhabitat: carr below Quillon Combe\nhost: alder, dead\nsmell: anise",
        text="Walked in by Quillon Combe.\n\n::: private\nbehind the zinc trough\n:::\n",
    ),
    "b.md": entry("find", "id: F-2\ndate: 2026-09-13\nprivate: yes\nspecies: Grifola frondosa\nwhere: 58.31, -8.91"),
    "c.md": noted("2026-09-20", "species: Pleurotus ostreatus\nprivate: yes", "F-1"),
}  # fmt: skip


@pytest.fixture
def journal(make_journal: Make) -> Journal:
    return make_journal(FILES)


@pytest.mark.parametrize("exact", [True, False])
def test_nothing_private_and_no_permission_is_in_any_record(journal: Journal, exact: bool) -> None:
    (record,) = told_of(journal, exact=exact, texts=True)
    said = json.dumps(record.terms)
    assert [] == [word for word in ("zinc", "Orrery", "permission", "Grifola", "ostreatus", "F-2") if word in said]
    assert "Walked in by" in record.terms["fieldNotes"]
    assert exact is ("Quillon" in said)


def test_texts_and_surroundings_are_told_where_asked_for_without_names_of_places(journal: Journal) -> None:
    (record,) = told_of(journal)
    assert set() == {"fieldNotes", "habitat", "eventRemarks"} & record.terms.keys()
    assert '"host":"alder"' == record.terms["associatedTaxa"]
    assert "habitat, field notes" in record.terms["informationWithheld"]
    (record,) = told_of(journal, texts=True)
    assert "carr below (not shared); host: alder, dead" == record.terms["habitat"]
    assert "replaced by (not shared)" in record.terms["dataGeneralizations"]


@pytest.mark.parametrize("exact", [True, False])
def test_names_of_persons_are_told_unless_they_are_to_be_left_out(journal: Journal, exact: bool) -> None:
    (record,) = told_of(journal, exact=exact)
    assert ("Hesper Vane", "Rosalind Quill") == (record.terms["recordedBy"], record.terms["identifiedBy"])
    (record,) = told_of(journal, exact=exact, names=False, texts=True)
    assert set() == {"recordedBy", "identifiedBy"} & record.terms.keys()
    assert [] == [word for word in ("Hesper", "Rosalind", "Quill,", "Night") if word in json.dumps(record.terms)]
    assert "names of persons" in record.terms["informationWithheld"]
    assert exact is ("58.30412" == record.terms.get("decimalLatitude"))
    assert "hidden" == record.find.locality


def test_an_exact_record_without_names_still_knows_what_its_find_lets_be_told() -> None:
    one = find("F-1", locality="exact", position=SPOT)
    assert ["exact"] == [record.find.locality for record in told_of(journal_of(one), exact=True, names=False)]


def test_the_time_of_day_is_told_with_the_exact_place_only(journal: Journal) -> None:
    assert "2026-09-12T14:38+01:00" == told_of(journal, exact=True)[0].terms["eventDate"]
    assert "2026-09-12" == told_of(journal)[0].terms["eventDate"]


@pytest.mark.parametrize(
    ("named", "says"),
    [("F-2", "F-2 is private"), ("F-11", "did you mean F-1"), ("zzz", "zzz is not a find in this journal")],
)
def test_a_find_that_can_be_in_no_record_is_refused_by_name(journal: Journal, named: str, says: str) -> None:
    assert ("F-1",) == chosen_ids(journal, ("f-1", "F-1")) == chosen_ids(journal, ())
    with pytest.raises(Refusal, match=says):
        chosen_ids(journal, ("F-1", named))


@pytest.mark.parametrize("names", [True, False])
def test_no_byte_of_any_form_shows_what_a_share_of_the_finds_would_not(names: bool) -> None:
    """Searched as shares are, for what was planted in every field of a whole journal."""
    whole = planted().journal
    asked = RecordOptions(names=names, texts=True)
    share = share_of_finds(chosen_ids(whole, ()), asked, 0.1)
    redacted = redaction_of(whole, share).journal
    records = records_of(redacted, whole.public, share.about, asked)
    assert len(records) == len(sight_of(whole, share).entries & {row.path for row in whole.finds})
    forms = [
        json.dumps(feature_collection(records)),
        gpx_of(records),
        sheet_of(records, redacted.settings, find_resources()),
    ]
    archive = archive_of(records, redacted.settings, names, whole.finds[0].date.first)
    with zipfile.ZipFile(io.BytesIO(archive)) as packed:
        forms += [packed.read(name).decode() for name in packed.namelist()]
    blob = "\n".join(forms).lower()
    assert {} == words_wrongly_told(share, blob)
    assert set() == positions_wrongly_told(share, blob)
    assert set() == clocks_told(blob)
