"""Labels for dried specimens: the fields of a herbarium's label, of what may be told, several on a sheet to print."""

from __future__ import annotations

from typing import Any

import pytest
from bs4 import BeautifulSoup

from journal.cache.resources import find_resources
from journal.export.occurrences import RecordOptions, records_of
from journal.export.voucher import sheet_of
from journal.model import Find, Position
from journal.settings import Settings
from tests.builders import find, journal_of, note

FOUND = find(
    "F-1",
    "2026-09-12",
    species="Pleurotus pulmonarius",
    certainty="likely",
    by="Night porter",
    identified_by="Night porter, by print",
    position=Position(58.30412, -8.90177, 8, "entry"),
    place="Alder Bank",
    elevation_m=17.0,
    habitat="carr & burn",
    host="alder, dead",
    smell="<faint>",
    specimen="one cap, voucher 12",
)
SETTINGS = Settings(title="Shore")


def sheet(*entries: Any, exact: bool = True, settings: Settings = SETTINGS) -> BeautifulSoup:
    journal = journal_of(*entries)
    records = records_of(journal, journal, [row.id for row in journal.finds], RecordOptions(exact=exact))
    return BeautifulSoup(sheet_of(records, settings, find_resources()), "html.parser")


def fields_of(label: Any) -> dict[str, str]:
    return dict(zip((dt.text for dt in label("dt")), (dd.text for dd in label("dd")), strict=True))


def test_a_label_has_the_fields_of_a_specimen() -> None:
    (label,) = sheet(FOUND, note("F-1", "2026-09-20", certainty="unsure", identified_by="the baker")).select(".label")
    assert ["Pleurotus", "pulmonarius"] == [part.text for part in label.h2("i")]
    assert "Pleurotus ? pulmonarius" == " ".join(label.h2.text.split())
    assert {
        "As named": "Pleurotus pulmonarius",
        "Place": "Alder Bank; 58.30412, -8.90177 ±8 m (WGS 84); 17 m above sea level",
        "Habitat": "carr & burn; host: alder, dead",
        "Notes": "smell: <faint>",
        "Kept": "one cap, voucher 12",
        "Date": "12 September 2026",
        "Leg.": "Night porter no. F-1",
        "Det.": "the baker; 2026-09-20; certainty: unsure",
        "Earlier": "Pleurotus pulmonarius (likely, Night porter, by print)",
    } == fields_of(label)


def test_lengths_on_a_label_are_in_the_units_of_the_journal() -> None:
    """8 m are 26.25 ft, rounded up; 17 m are 55.77 ft (1 ft = 0.3048 m exactly: NIST SP 811, 2008, appendix B.8)."""
    (label,) = sheet(FOUND, settings=Settings(title="Shore", units="us")).select(".label")
    told = "Alder Bank; 58.30412, -8.90177 ±27 ft (WGS 84); 55.8 ft above sea level"
    assert told == fields_of(label)["Place"]


@pytest.mark.parametrize(("certainty", "expected"), [("confirmed", 0), ("likely", 1), ("unsure", 1)])
def test_what_is_not_confirmed_says_so(certainty: Any, expected: int) -> None:
    assert expected == str(sheet(find("F-1", certainty=certainty))).count("identity not confirmed")


def test_a_coarse_place_says_that_it_is_coarse() -> None:
    cell = Position(58.3, -8.9, 13000, "entry", grid_deg=0.1)
    told = "58.3, -8.9 ±13 km (WGS 84; cell of 0.1°, exact place withheld)"
    assert told == fields_of(sheet(find("F-1", position=cell), exact=False))["Place"]
    assert "Place" not in fields_of(sheet(find("F-1"), exact=False))


def test_a_withheld_place_says_so() -> None:
    public = journal_of(FOUND)
    told = journal_of(Find(**{name: getattr(FOUND, name) for name in ("path", "date", "title", "by", "id")}))
    (record,) = records_of(told, public, ["F-1"], RecordOptions())
    page = BeautifulSoup(sheet_of([record], SETTINGS, find_resources()), "html.parser")
    assert "position withheld" == fields_of(page)["Place"]


def test_the_sheet_is_one_page_of_html_that_asks_for_nothing_and_knows_paper() -> None:
    page = sheet(FOUND, find("F-2"))
    assert 2 == len(page.select(".sheet > .label"))
    assert [] == page.select("script, link, img, [src], [href]")
    policy = page.select_one('meta[http-equiv="Content-Security-Policy"]')
    assert policy is not None
    assert "default-src 'none'" in policy["content"]
    style = page.style.text if page.style else ""
    assert [True] * 3 == [rule in style for rule in ("@page { size: A4", "break-inside: avoid", "@media print")]
