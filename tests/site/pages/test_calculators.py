"""The page of sums as it is built: what is on it with no script, and what it is handed of batches and tents."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import parse_qs

import pytest

from journal.analysis import psychrometrics
from journal.analysis.substrate import DRY_SHARES
from journal.model import Journal
from journal.site.pages import plan_site
from journal.site.pages.calculators import CALCULATORS, link_with
from journal.site.pages.lookup import Lookup
from journal.site.wording import with_units
from tests.site.test_pages import WOOD, Rendered

MIXED = WOOD["batches/B-031/batch.md"].replace(
    "units: 4\n",
    "units: 4\nmix: oak pellets 3.2 kg, wheat bran 560 g, water 5,4 kg\nspawn mass: 200 g\n",
)
TENT = (
    '[journal]\nunits = "us"\n[ingredients]\n"Alder chips" = "57.5 %"\n[tents.wash-house]\nname = "Wash-house tent"\n'
    'width = "4 ft"\ndepth = "4 ft"\nheight = "6 ft 6 in"\nexhaust_flow = "118 cfm"\nexhaust_flow_is = "measured"\n'
)
SET = (
    "---\nkind: tent\nabout: wash-house\nexhaust: 2 min every 15 min\nhumidity reading: 86 %\n"
    "temperature reading: 16.5 °C\ndate: 2026-10-20 07:00\n---\n"
)


@pytest.fixture(scope="module")
def site(make_journal: Callable[..., Journal]) -> Callable[..., Any]:
    """Gives a journal's lookup and rendered pages, of WOOD with these files on top."""

    def made(files: dict[str, str] | None = None) -> tuple[Lookup, Rendered]:
        journal = make_journal({**WOOD, **(files or {})})
        return Lookup(journal, {}), Rendered(plan_site(journal, {}))

    return made


@pytest.fixture(scope="module")
def us(site: Callable[..., Any]) -> Any:
    return site({"journal.toml": TENT, "tents/set.md": SET, "batches/B-031/batch.md": MIXED})[1]["calculators/"]


def values(lookup: Lookup, name: str) -> dict[str, list[str]]:
    batch = next(batch for batch in lookup.journal.batches if batch.id == name)
    return parse_qs(link_with(lookup, batch).partition("#?")[2])


def test_a_batch_passes_on_its_values_in_grams_a_unit(site: Callable[..., Any]) -> None:
    lookup, _ = site({"batches/B-031/batch.md": MIXED})
    assert {
        "batch": ["B-031"],
        "part": ["3200 oak pellets", "560 wheat bran", "5400 water"],
        "wet": ["2300"],
        "moisture": ["62"],
        "dry": ["874"],
        "spawn": ["200"],
        "units": ["4"],
        "lost": ["1"],
        "fresh": ["1290"],
        "tent": ["wash-house"],
    } == values(lookup, "B-031")


def test_only_what_was_lost_before_the_harvest_is_passed_on_as_lost(site: Callable[..., Any]) -> None:
    late = "---\nkind: note\nabout: B-031\nlost: 2\ndate: 2026-12-20\n---\n"
    lookup, _ = site({"batches/B-031/late.md": late})
    assert ["1"] == values(lookup, "B-031")["lost"]


def test_a_batch_without_a_moisture_passes_on_that_of_its_mix(site: Callable[..., Any]) -> None:
    batch = MIXED.replace("moisture: 62 %\n", "").replace("water 5,4 kg", "water 3468.8 g")
    lookup, _ = site({"batches/B-031/batch.md": batch})
    # 3200 g × 0.93 + 560 g × 0.88 = 3468.8 g dry of 7228.8 g: common-practice dry shares, plain arithmetic.
    assert 52.014 == pytest.approx(float(values(lookup, "B-031")["moisture"][0]), abs=0.001)


def test_what_is_not_known_is_not_handed_over(site: Callable[..., Any]) -> None:
    bare = "---\nkind: batch\nid: B-040\nculture: PP-26A\ndate: 2026-11-20\n---\n"
    lookup, _ = site({"batches/B-040.md": bare})
    assert {"batch": ["B-040"], "units": ["1"], "lost": ["0"]} == values(lookup, "B-040")


def test_the_batches_that_grow_are_offered_and_those_that_are_over_are_not(site: Callable[..., Any]) -> None:
    spent = "---\nkind: note\nabout: B-031\nstage: spent\ndate: 2026-11-20\n---\n"
    assert ["B-031"] == [link.text for link in site()[1]["calculators/"].select(".fill a")]
    assert [] == site({"batches/B-031/spent.md": spent})[1]["calculators/"].select(".fill a")


def test_with_no_script_every_formula_and_source_stands_open_and_no_form_does(us: Any) -> None:
    workings = [working for sum_ in CALCULATORS for result in sum_.results for working in result.workings]
    shown = us.select("details.calculated[open] p.formula:not([hidden])")
    assert [with_units(working.formula) for working in workings] == [formula.text for formula in shown]
    sources = [source.text for source in us.select("details.calculated[open] p.soft")]
    assert [with_units(f"Source: {working.source}.") for working in workings] == sources
    assert [] == us.select("form:not([hidden])")
    assert "need scripts" in us.select_one("[data-without-scripts]:not([hidden])").text


def test_every_source_names_somebody_or_says_that_it_is_common_practice() -> None:
    known = ("Cornell", "Rynk", "Pettipher", "Royse", "Allen", "ASHRAE", "Sehulster", "Pistolesi")
    known += ("common practice",)
    sources = {working.source for sum_ in CALCULATORS for result in sum_.results for working in result.workings}
    assert [] == [source for source in sources if not any(name in source for name in known)]


def test_the_limits_of_air_are_those_that_the_equations_hold_for() -> None:
    (air,) = (calculator for calculator in CALCULATORS if calculator.key == "air")
    assert (psychrometrics.COLDEST_C, psychrometrics.HOTTEST_C) == (air.fields[0].least, air.fields[0].most)


def test_the_authors_own_dry_shares_come_first_and_the_others_are_marked(us: Any) -> None:
    rows = [[cell.text for cell in row.select("td")] for row in us.select("[data-ingredient]")]
    assert ["Alder chips", "57.5 %", "yours, from the settings"] == rows[0]
    assert [[name, f"{share * 100:g} %", "common practice"] for name, share in sorted(DRY_SHARES.items())] == rows[1:]
    offered = [option["value"] for option in us.select("#ingredients option")]
    assert ["oak pellets", "wheat bran", "water", "Alder chips"] == offered[:4]
    assert len(offered) == len({name.casefold() for name in offered})


@pytest.mark.parametrize(
    ("field", "metric", "american"),
    [
        ("#dry [data-field=wet]", "kg", "lb"),
        ("#be [data-field=fresh]", "g", "oz"),
        ("#air [data-field=temperature]", "°C", "°F"),
        ("#changes [data-field=flow]", "m³/h", "cfm"),
        ("#changes [data-field=height]", "m", "ft"),
    ],
)
def test_units_are_at_first_those_of_the_settings(
    site: Callable[..., Any], us: Any, field: str, metric: str, american: str
) -> None:
    for soup, unit in ((site()[1]["calculators/"], metric), (us, american)):
        row = soup.select_one(field).find_parent(class_="input-row")
        assert [unit] == [option.text for option in row.select("option[selected]")]


def test_a_tent_lends_its_size_its_exhaust_and_its_last_reading(us: Any) -> None:
    option = us.select_one("#changes [data-from-tent] option[value=wash-house]")
    assert ("1.2192", "1.2192", "1.9812") == (option["data-width"], option["data-depth"], option["data-height"])
    assert 118 * 1.69901079552 == pytest.approx(float(option["data-flow"]))
    assert ("measured", "cycle", "2", "15") == tuple(
        option[f"data-{key}"] for key in ("flow_is", "runs", "on", "every")
    )
    read = us.select_one("#air [data-from-tent] option[value=wash-house]")
    assert ("16.5", "86") == (read["data-temperature"], read["data-humidity"])
    assert ("Wash-house tent", "20 October 2026, 07:00") == (read.text, read["data-read"])


def test_a_flow_that_nobody_measured_is_taken_for_rated(site: Callable[..., Any]) -> None:
    soup = site({"journal.toml": TENT.replace('exhaust_flow_is = "measured"\n', "")})[1]["calculators/"]
    assert "rated" == soup.select_one("#changes option[value=wash-house]")["data-flow_is"]


def test_a_phone_holds_it_from_the_first_and_every_page_leads_to_it(site: Callable[..., Any]) -> None:
    _, rendered = site()
    page = next(page for page in rendered.site.pages if page.endpoint == "calculators")
    assert ("main", True) == (page.section, page.growing)
    assert "../../calculators/index.html" in [link["href"] for link in rendered["finds/f26-001/"].select("footer a")]
