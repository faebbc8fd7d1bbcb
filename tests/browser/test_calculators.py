"""The trade's sums in a real browser: the table of cases that the Python passes, and the page that works them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.heat import GAUGE_PA
from journal.analysis.psychrometrics import dew_point_c, saturation_pressure_pa, vapour_pressure_deficit_pa
from journal.analysis.substrate import DRY_SHARES
from journal.quantities import Parsed, flow_m3_h, length_m, mass_g, temperature_c
from journal.site import wording
from tests.browser.conftest import PHONE, Visit
from tests.conftest import run_journal
from tests.outside.test_calculator_cases import ROWS, Row, near
from tests.site.test_wording import ROUNDED

pytestmark = pytest.mark.browser

SUMS = "calculators/index.html"

# How each sum of the table is called; what it gives gets the table's names.
CALL = r"""([sum, given, common]) => {
  const { readNumber } = journalAmounts;
  const share = (name, measured) => journalCalculators.dryShareOf(name, measured, common)?.share ?? null;
  const called = {
    read_number: (text) => readNumber(text).value ?? null,
    dry_share_of: share,
    mixed: (mix, measured) =>
      journalCalculators.mixed(mix.map(([name, massG]) => ({ name, massG, dryShare: share(name, measured) }))),
  };
  const camel = sum.replace(/_pct$/, "Pct").replace(/_([a-z])/g, (_, letter) => letter.toUpperCase());
  const found = (called[sum] ?? journalCalculators[camel])(...given);
  if (found === null || typeof found !== "object") return found;
  const snake = (name) => name.replace(/[A-Z]/g, (letter) => `_${letter.toLowerCase()}`);
  return Object.fromEntries(Object.entries(found).map(([name, value]) => [snake(name), value]));
}"""


@pytest.fixture(scope="module")
def loaded(browser: Any, sample_site: Path) -> Iterator[Any]:
    """The page from its folder, for its functions alone."""
    context = browser.new_context()
    page = context.new_page()
    page.goto((sample_site / SUMS).as_uri())
    yield page
    context.close()


@pytest.fixture
def sheet(tab: Any, sample_site: Path) -> Callable[..., Any]:
    """Opens the page afresh from its folder, with this behind the address."""
    return lambda behind="": tab.afresh((sample_site / SUMS).as_uri() + behind)


@pytest.fixture(scope="module")
def typing(browser: Any, sample_site: Path) -> Iterator[Visit]:
    """The page in a tab of its own, opened once for all that is only typed into it."""
    context = browser.new_context(viewport=PHONE)
    yield Visit.of(context).afresh((sample_site / SUMS).as_uri())
    context.close()


@pytest.fixture
def emptied(typing: Visit) -> Visit:
    """That page with all of its fields empty, their units as at first, and nothing told of it."""
    typing.complaints.clear()
    typing.page.click("[data-empty]")
    return typing


# -- the numbers ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['sum']}-{'-'.join(map(str, row['given'].values()))}")
def test_the_sum_is_the_tables(loaded: Any, row: Row) -> None:
    found = loaded.evaluate(CALL, [row["sum"], list(row["given"].values()), list(DRY_SHARES.items())])
    if isinstance(row["expected"], dict):
        found = {name: found[name] for name in row["expected"]}
    assert near(row["expected"], row["within"]) == found


AIR = [
    (t_c, rh_pct)
    for t_c in (-40, -5.5, -0.1, 0, 0.01, 0.02, 3, 11.3, 16, 24, 37.5, 60)
    for rh_pct in (1, 35, 86, 92.5, 100)
]


def test_the_air_is_that_of_the_python_within_a_stated_tolerance(loaded: Any) -> None:
    # Pressures come of the same equations: within 1e-9 of themselves. Dew points are inverted each in its own way,
    # the Python's to 0.001 °C: within 0.002 °C.
    script = """(rows) => rows.map(([t, rh]) => [journalCalculators.saturationPressurePa(t),
      journalCalculators.vapourPressureDeficitPa(t, rh), journalCalculators.dewPointC(t, rh)])"""
    for (t_c, rh_pct), (saturated_pa, deficit_pa, dew_c) in zip(AIR, loaded.evaluate(script, AIR), strict=True):
        assert saturation_pressure_pa(t_c) == pytest.approx(saturated_pa, rel=1e-9)
        assert vapour_pressure_deficit_pa(t_c, rh_pct) == pytest.approx(deficit_pa, rel=1e-9, abs=1e-9)
        assert dew_point_c(t_c, rh_pct) == pytest.approx(dew_c, abs=0.002)


def pressure_pa(text: str) -> Parsed[float]:
    number, unit = text.split()
    return Parsed(float(number) * GAUGE_PA[unit.casefold()])


@pytest.mark.parametrize(
    ("read", "kind", "unit"),
    [
        *((mass_g, "mass", unit) for unit in ("g", "kg", "oz", "lb")),
        *((length_m, "length", unit) for unit in ("m", "cm", "ft", "in")),
        *((flow_m3_h, "flow", unit) for unit in ("m³/h", "cfm")),
        *((temperature_c, "temperature", unit) for unit in ("°C", "°F")),
        *((pressure_pa, "pressure", unit) for unit in ("kPa", "psi", "bar")),
    ],
)
def test_units_are_those_of_the_entries_and_lead_back(loaded: Any, read: Any, kind: str, unit: str) -> None:
    si = loaded.evaluate("(given) => journalAmounts.toSi(...given)", [61.5, kind, unit])
    assert read(f"61.5 {unit}").value == pytest.approx(si, rel=1e-12)
    assert 61.5 == pytest.approx(loaded.evaluate("(given) => journalAmounts.fromSi(...given)", [si, kind, unit]))


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize(
    ("words", "values"),
    [
        (
            "mass",
            [0, 3.24, 9.96, 412, 874.3, 999.2, 1290, 13800, 453.59237, 907.18474, 450, 52.5, 2.25, 1005, 1015, 1145],
        ),
        ("way", [0, 2.5, 150, 999.4, 1000, 1150, 1609.344, 9950, 12_450, 99_949, 160_934.4, 1_288_103, 19_999_999]),
        ("radius", [7.2, 8, 8.04, 7.9248, 9.7536, 999.2, 1000, 1210, 1609.344, 1500, 12_710, 3000]),
        ("length", [0.61, 1.2192, 2.2, 9.99, 26, 1.005, 12.5]),
        ("temperature", [-4.04, 0, 15.83, 21, -2.25, 16.25, 16.35]),
        ("volume", [2.94, 5.02]),
        ("flow", [55.3, 200.48, 12.5]),
    ],
)
def test_amounts_are_worded_as_on_every_page(loaded: Any, words: str, values: list[float], units: Any) -> None:
    said = loaded.evaluate(
        "([words, values, us]) => values.map((value) => journalAmounts[words](value, us))",
        [words, values, units == "us"],
    )
    assert [getattr(wording, words)(value, units) for value in values] == said


def test_numbers_of_any_size_are_rounded_as_on_every_page(loaded: Any) -> None:
    said = loaded.evaluate("(rows) => rows.map(([, ...row]) => journalAmounts.number(...row))", [*map(list, ROUNDED)])
    assert [wording.number(value, decimals) for _, value, decimals in ROUNDED] == said
    assert ["1.235 kPa", "0.000 kPa"] == loaded.evaluate("[1234.5, -0.1].map(journalAmounts.pressure)")


# -- the page ------------------------------------------------------------------------------------------------


def number(visit: Any, sum_: str, result: str) -> str:
    return str(visit.page.inner_text(f"#{sum_} [data-result={result}] [data-number]"))


def says(visit: Any, sum_: str) -> str:
    return str(visit.page.inner_text(f"form[data-calculator={sum_}] [data-status]"))


def put(visit: Any, sum_: str, **fields: str) -> None:
    """Types values, the units behind a space: `wet="2,3 kg"`."""
    for name, text in fields.items():
        value, _, unit = text.partition(" ")
        place = f"form[data-calculator={sum_}] .input-row:has([data-field={name}])"
        visit.page.fill(f"{place} input", value)
        if unit:
            visit.page.select_option(f"{place} [data-unit]", unit)


def add_part(visit: Any, at: int, name: str, mass: str, share: str | None = None) -> None:
    row = f"[data-row]:nth-child({at})"
    if not visit.page.query_selector(row):
        visit.page.click("[data-add-row]")
    value, _, unit = mass.partition(" ")
    visit.page.fill(f"{row} [data-part=name]", name)
    visit.page.fill(f"{row} [data-part=mass]", value)
    if unit:
        visit.page.select_option(f"{row} [data-unit]", unit)
    if share is not None:
        visit.page.fill(f"{row} [data-part=share]", share)


# The figures are those of the table of cases, typed as a thumb would.
@pytest.mark.parametrize(
    ("sum_", "fields", "gives"),
    [
        ("sample", {"wet": "500", "dried": "190"}, {"moisture": "62 %", "share": "38 %"}),
        ("dry", {"wet": "2,3 kg", "moisture": "62", "units": "4"}, {"unit": "874 g", "all": "3.5 kg"}),
        ("dry", {"wet": "2300 g", "moisture": "62"}, {"unit": "874 g", "all": ""}),
        ("dry", {"wet": "5 lb", "moisture": "60"}, {"unit": "2 lb"}),
        ("be", {"fresh": "1248.3 g", "dry": "1500 g", "units": "1"}, {"inoculated": "83.2 %", "survived": "83.2 %"}),
        (
            "be",
            {"fresh": "1.86 kg", "dry": "874 g", "units": "4", "lost": "1"},
            {"inoculated": "53.2 %", "survived": "70.9 %"},
        ),
        ("be", {"fresh": "0 g", "dry": "874 g", "units": "4", "lost": "4"}, {"inoculated": "0 %", "survived": "none"}),
        ("spawn", {"spawn": "135 g", "wet": "2,7 kg", "dry": "1026 g"}, {"rate": "5 %", "needed": ""}),
        ("spawn", {"wet": "2 kg", "rate": "5"}, {"rate": "", "needed": "100 g"}),
        ("air", {"temperature": "25 °C", "humidity": "80"}, {"dew": "21.3 °C", "deficit": "0.634 kPa"}),
        ("air", {"temperature": "77 °F", "humidity": "80"}, {"dew": "70.4 °F", "saturation": "3.169 kPa"}),
        ("boil", {"elevation": "1500 m"}, {"boils": "95 °C", "steam": ""}),
        ("boil", {"elevation": "1500 m", "gauge": "15 psi"}, {"boils": "95 °C", "steam": "118.3 °C"}),
        ("f0", {"start": "111.1 °C", "minutes": "15"}, {"f0": "1.5 min"}),
        ("f0", {"start": "101.1 °C", "end": "121.1 °C", "minutes": "20"}, {"f0": "4.3 min"}),
        ("air", {"temperature": "-5 °C"}, {"saturation": "0.402 kPa", "dew": "", "deficit": ""}),
        (
            "changes",
            {"width": "4 ft", "depth": "4 ft", "height": "80 in", "flow": "100 cfm", "on": "2", "every": "15"},
            {"hour": "at most 7.5", "run": "at most 1.88", "volume": "106.7 ft³"},
        ),
        (
            "changes",
            {"width": "1.2 m", "depth": "120 cm", "height": "2 m", "flow": "170 m³/h", "on": "1", "every": "15"},
            {"hour": "at most 3.9", "run": "at most 0.98", "volume": "2.88 m³"},
        ),
    ],
)
def test_results_stand_there_as_one_types(
    emptied: Visit, sum_: str, fields: dict[str, str], gives: dict[str, str]
) -> None:
    visit = emptied
    put(visit, sum_, **fields)
    assert gives == {result: number(visit, sum_, result) for result in gives}
    assert [] == visit.complaints


def test_a_mix_gives_its_moisture_its_dry_mass_and_the_water_to_add(emptied: Visit) -> None:
    visit = emptied
    add_part(visit, 1, "oak pellets", "3.2 kg")
    add_part(visit, 2, "wheat bran", "560 g")
    add_part(visit, 3, "gypsum", "35 g")
    put(visit, "mix", wanted="62", units="4")
    # 3200 × 0.93 + 560 × 0.88 + 35 = 3503.8 g dry of 3795 g: 7.7 %; 3503.8 / 0.38 = 9220.5 g at 62 %.
    assert "7.7 %" == number(visit, "mix", "moisture")
    assert "3.5 kg" == number(visit, "mix", "dry")
    assert "5.43 kg" == number(visit, "mix", "water")
    assert "9.22 kg" == number(visit, "mix", "wet")
    assert "876 g for each of 4 units" == visit.page.inner_text("#mix [data-result=dry] [data-beside]")
    assert "8.3 % on the dry basis" == visit.page.inner_text("#mix [data-result=moisture] [data-beside]")


def test_a_mix_that_is_too_wet_is_told_how_much_is_too_much(emptied: Visit) -> None:
    visit = emptied
    add_part(visit, 1, "straw", "1000 g", "30")
    put(visit, "mix", wanted="60")
    assert "250 g" == number(visit, "mix", "water")
    assert "too much water for 60 %" == visit.page.inner_text("#mix [data-result=water] [data-words]")
    assert "" == number(visit, "mix", "wet")


@pytest.mark.parametrize(
    ("name", "share", "whose"),
    [
        ("Oak-Pellets", "93", "Dry share: yours, from the settings."),
        ("beech sawdust", "92", "Dry share: common practice."),
        ("water", "0", "Dry share: common practice."),
        (
            "coffee grounds",
            "",
            "Dry share: none known for coffee grounds; dry a weighed sample and write the share that is left.",
        ),
    ],
)
def test_a_dry_share_is_put_in_where_one_is_known_and_it_says_whose(
    emptied: Visit, name: str, share: str, whose: str
) -> None:
    visit = emptied
    visit.page.fill("[data-part=name] >> nth=0", name)
    assert share == visit.page.input_value("[data-part=share] >> nth=0")
    assert whose == visit.page.inner_text("[data-whose] >> nth=0")


def test_a_dry_share_that_the_author_typed_stays(emptied: Visit) -> None:
    visit = emptied
    visit.page.fill("[data-part=share] >> nth=0", "41,5")
    visit.page.fill("[data-part=name] >> nth=0", "oak pellets")
    assert "41,5" == visit.page.input_value("[data-part=share] >> nth=0")
    assert "Dry share: as typed." == visit.page.inner_text("[data-whose] >> nth=0")
    visit.page.fill("[data-part=share] >> nth=0", "")
    visit.page.fill("[data-part=name] >> nth=0", "oak pellets ")
    assert "93" == visit.page.input_value("[data-part=share] >> nth=0")


def test_rows_come_and_go_and_the_last_one_stays(emptied: Visit) -> None:
    visit = emptied
    for at in range(1, 8):
        add_part(visit, at, f"straw {at}", "1 kg", "88")
    put(visit, "mix", wanted="60")
    assert "6.16 kg" == number(visit, "mix", "dry")
    visit.page.click("[data-drop-row] >> nth=0")
    assert "5.28 kg" == number(visit, "mix", "dry")
    assert "straw 2" == visit.page.evaluate("document.activeElement.value")
    assert "Ingredient 1" == visit.page.get_attribute("[data-row] >> nth=0", "aria-label")
    for _ in range(7):
        visit.page.click("[data-drop-row] >> nth=0")
    assert 1 == len(visit.page.query_selector_all("[data-row]"))
    assert "" == number(visit, "mix", "dry")


@pytest.mark.parametrize(
    ("sum_", "fields", "field", "told"),
    [
        (
            "dry",
            {"wet": "2.3 kg", "moisture": "100"},
            "moisture",
            "Its moisture: write less than 100 %, since it is on the wet basis",
        ),
        ("dry", {"wet": "2.3 kg", "moisture": "163"}, "moisture", "Its moisture: write less than 100 %"),
        (
            "dry",
            {"wet": "0 kg", "moisture": "62"},
            "wet",
            "Wet mass of a unit: write more than 0 kg, since a mass is more",
        ),
        (
            "dry",
            {"wet": "2.3.4 kg", "moisture": "62"},
            "wet",
            "Wet mass of a unit: “2.3.4” has two decimal marks",
        ),
        ("dry", {"wet": "heavy kg", "moisture": "62"}, "wet", "Wet mass of a unit: “heavy” is not a number"),
        ("dry", {"wet": "2.3 kg", "moisture": "62", "units": "1.5"}, "units", "Units: write a whole number."),
        ("sample", {"wet": "190", "dried": "500"}, "dried", "Sample dried: the dried sample cannot weigh more"),
        ("be", {"fresh": "-5 g", "dry": "874 g", "units": "4"}, "fresh", "Fresh mass harvested: write at least 0 g"),
        (
            "be",
            {"fresh": "5 g", "dry": "874 g", "units": "4", "lost": "5"},
            "lost",
            "Units lost before the first harvest: more units are lost than the 4",
        ),
        (
            "spawn",
            {"spawn": "100 g", "wet": "1 kg", "dry": "2 kg"},
            "dry",
            "Dry substrate a unit: the dry mass cannot be more than the wet mass",
        ),
        (
            "air",
            {"temperature": "500 °F", "humidity": "80"},
            "temperature",
            "Temperature of the air: write at most 392 °F",
        ),
        ("air", {"temperature": "16 °C", "humidity": "101"}, "humidity", "Relative humidity: write at most 100 %"),
        (
            "changes",
            {"width": "1 m", "depth": "1 m", "height": "2 m", "flow": "100 m³/h", "on": "16", "every": "15"},
            "on",
            "Minutes it runs: a run cannot be longer than the time from start to start.",
        ),
    ],
)
def test_what_cannot_be_gets_one_line_that_says_what_to_mend(
    emptied: Visit, sum_: str, fields: dict[str, str], field: str, told: str
) -> None:
    visit = emptied
    put(visit, sum_, **fields)
    assert says(visit, sum_).startswith(told)
    invalid = visit.page.evaluate("[...document.querySelectorAll('[aria-invalid]')].map((e) => e.dataset.field)")
    assert [field] == invalid
    led_to = {"dry": "all", "sample": "moisture", "be": "inoculated", "spawn": "rate"}
    assert "" == number(visit, sum_, (led_to | {"air": "deficit", "changes": "hour"})[sum_])


def test_what_was_mended_is_no_longer_complained_of(emptied: Visit) -> None:
    visit = emptied
    put(visit, "dry", wet="2.3 kg", moisture="163")
    put(visit, "dry", moisture="62")
    assert ("", "874 g") == (says(visit, "dry"), number(visit, "dry", "unit"))
    assert [] == visit.page.query_selector_all("[aria-invalid]")


def test_nothing_is_guessed_for_what_is_blank(emptied: Visit) -> None:
    visit = emptied
    assert "" == says(visit, "be")
    put(visit, "be", fresh="1.29 kg")
    assert "Missing: dry substrate a unit, units inoculated." == says(visit, "be")
    assert "" == number(visit, "be", "inoculated")
    add_part(visit, 1, "coffee grounds", "1 kg")
    put(visit, "mix", wanted="60")
    assert "Missing: the dry share of coffee grounds." == says(visit, "mix")
    assert "" == number(visit, "mix", "water")


def test_a_comma_that_may_mean_thousands_is_read_as_a_decimal_comma_and_said(emptied: Visit) -> None:
    visit = emptied
    put(visit, "dry", wet="1,200 kg", moisture="62")
    assert "456 g" == number(visit, "dry", "unit")
    assert "Wet mass of a unit: “1,200” is read as 1.2: a comma is a decimal comma." == says(visit, "dry")


def test_each_result_shows_its_formula_with_the_numbers_put_in_and_its_source(emptied: Visit) -> None:
    visit = emptied
    put(visit, "be", fresh="1.86 kg", dry="874 g", units="4", lost="1")
    visit.page.click("#be [data-result=survived] summary")
    shown = visit.page.inner_text("#be [data-result=survived] details")
    units = "(units inoculated − units lost before the first harvest)"
    assert f"BE = fresh mass / ({units} × dry substrate a unit) × 100" in shown
    assert "1.86 kg / (3 × 874 g) × 100 = 70.9 %" in shown
    assert "Pettipher" in shown
    assert "BE of the 3 units not lost before the first harvest" == visit.page.inner_text(
        "#be [data-result=survived] [data-words]"
    )


def test_every_number_given_has_its_numbers_put_in(sheet: Callable[..., Any], sample_site: Path) -> None:
    visit = sheet(link_of(sample_site, "B-031"))
    put(visit, "sample", wet="500", dried="190")
    put(visit, "spawn", rate="5")
    put(visit, "boil", elevation="1500 m", gauge="15 psi")
    put(visit, "f0", start="111.1 °C", minutes="15")
    script = """() => [...document.querySelectorAll("[data-result]")]
      .filter((item) => item.querySelector("[data-number]").textContent === ""
        || [...item.querySelectorAll("[data-working]")].some((place) => !/\\d.*=|saturates/.test(place.textContent)))
      .map((item) => item.dataset.result)"""
    assert [] == visit.page.evaluate(script)


def test_a_rated_flow_gives_at_most_so_many_and_a_measured_one_so_many(emptied: Visit) -> None:
    visit = emptied
    put(visit, "changes", width="1.2 m", depth="1.2 m", height="2 m", flow="170 m³/h", on="1", every="15")
    assert "at most 3.9" == number(visit, "changes", "hour")
    assert "free air" in visit.page.inner_text("#changes [data-result=hour] [data-beside]")
    visit.page.select_option("#changes [data-field=flow_is]", "measured")
    assert "3.9" == number(visit, "changes", "hour")
    visit.page.select_option("#changes [data-field=runs]", "on")
    assert "59" == number(visit, "changes", "hour")
    assert not visit.page.is_visible("#changes [data-field=on]")


def test_air_that_freezes_before_it_condenses_is_told_so(emptied: Visit) -> None:
    visit = emptied
    put(visit, "air", temperature="-5", humidity="90")
    assert "dew point, as frost" == visit.page.inner_text("#air [data-result=dew] [data-words]")
    assert "over ice" in visit.page.text_content("#air [data-working=saturation]")


# -- filled in -----------------------------------------------------------------------------------------------


def link_of(site: Path, name: str) -> str:
    """What a batch's page puts behind the address of the sums."""
    page = (site / f"batches/{name.lower()}/index.html").read_text(encoding="utf-8")
    found = re.search(r'href="\.\./\.\./calculators/index\.html(#\?[^"]+)"', page)
    assert found is not None
    return found[1].replace("&amp;", "&")


def test_a_batchs_page_opens_them_with_its_values_though_the_host_is_gone(sample_offline: Any) -> None:
    visit, host = sample_offline
    host.stop()
    visit.page.goto(host.url("batches/b-031/index.html"))
    visit.requests.clear()
    visit.page.click("a[href*='calculators/index.html#?']")
    visit.until("document.readyState === 'complete' && 'journalCalculatorResults' in globalThis")
    assert "B-031" == visit.page.inner_text("[data-filled-from]")
    assert "53.2 %" == number(visit, "be", "inoculated")
    assert "874 g" == number(visit, "dry", "unit")
    assert "8.7 %" == number(visit, "spawn", "rate")
    assert "3.5 kg" == number(visit, "mix", "dry")
    assert "oak pellets" == visit.page.input_value("[data-part=name] >> nth=0")
    assert number(visit, "changes", "hour").startswith("at most ")
    assert number(visit, "air", "dew").endswith("°C")
    assert [] == visit.complaints
    assert [] == [url for url in visit.requests if "?" in url or "874" in url]


def test_nothing_typed_leaves_the_phone(visit: Any, serve: Callable[..., Any], sample_site: Path) -> None:
    host = serve(sample_site)
    visit.page.goto(host.url(SUMS))
    visit.until_saved()
    visit.requests.clear()
    host.log.clear()
    put(visit, "dry", wet="2.3 kg", moisture="62", units="4")
    visit.page.press("form[data-calculator=dry] [data-field=wet]", "Enter")
    visit.page.click("[data-add-row]")
    assert "874 g" == number(visit, "dry", "unit")
    assert ([], []) == (visit.requests, host.log)
    assert host.url(SUMS) == visit.page.url


def test_a_batch_that_grows_fills_them_in_from_the_page_itself_and_again(sheet: Callable[..., Any]) -> None:
    visit = sheet()
    put(visit, "sample", wet="500", dried="190")
    visit.page.click(".fill a:text-is('B-031')")
    visit.until("document.querySelector('[data-filled-from]').textContent === 'B-031'")  # the address changes later
    assert "874 g" == number(visit, "dry", "unit")
    assert "" == number(visit, "sample", "moisture")  # one batch's values never stand among another's
    put(visit, "dry", wet="1 kg")
    visit.page.click(".fill a:text-is('B-031')")
    assert "874 g" == number(visit, "dry", "unit")
    visit.page.click("[data-empty]")
    assert "" == number(visit, "dry", "unit")
    assert not visit.page.is_visible("[data-filled]")


def test_a_tent_fills_in_its_air_and_a_field_typed_over_it_is_no_longer_the_tents(emptied: Visit) -> None:
    visit = emptied
    visit.page.select_option("#changes [data-from-tent]", "wash-house")
    assert number(visit, "changes", "hour").startswith("at most ")
    assert "2.94 m³" == number(visit, "changes", "volume")
    put(visit, "changes", height="3 m")
    assert "" == visit.page.input_value("#changes [data-from-tent]")
    assert "1.2192" == visit.page.input_value("#changes [data-field=width]")
    visit.page.select_option("#changes [data-from-tent]", "net-loft")  # it has no exhaust
    assert "" == visit.page.input_value("#changes [data-field=flow]")


def test_a_tents_last_reading_fills_in_the_air_and_says_when_it_was(emptied: Visit) -> None:
    visit = emptied
    visit.page.select_option("#air [data-from-tent]", "wash-house")
    assert re.fullmatch(r"Last read \d+ November 2026, \d\d:\d\d\.", visit.page.inner_text("[data-read-when]"))
    assert number(visit, "air", "deficit").endswith(" kPa")
    put(visit, "air", humidity="92")
    assert not visit.page.is_visible("[data-read-when]")


@pytest.mark.parametrize(
    "behind",
    ["#?batch=%3Cb%3E&part=abc&wet=lots&units=NaN&dry=-5&moisture=1e999&tent=nowhere", "#?", "#?&&=", "#nowhere"],
)
def test_an_address_that_says_nonsense_fills_nothing_in(sheet: Callable[..., Any], behind: str) -> None:
    visit = sheet(behind)
    assert [] == visit.complaints
    assert not visit.page.is_visible("[data-filled]")
    assert {""} == set(visit.page.evaluate("[...document.querySelectorAll('[data-number]')].map((e) => e.textContent)"))


# -- kept, and without ---------------------------------------------------------------------------------------


def test_what_was_typed_is_there_after_a_reload_and_on_the_way_back(
    sheet: Callable[..., Any], sample_site: Path
) -> None:
    visit = sheet(link_of(sample_site, "B-031"))
    put(visit, "dry", wet="1 kg")
    add_part(visit, 5, "alder leaves", "120 g", "41")
    visit.page.press("[data-row]:nth-child(5) [data-part=share]", "Tab")
    visit.page.reload()
    assert ("380 g", "B-031") == (number(visit, "dry", "unit"), visit.page.inner_text("[data-filled-from]"))
    visit.page.click("nav a[href='#spawn']")
    put(visit, "spawn", rate="5")
    visit.page.press("[data-field=rate]", "Tab")
    visit.page.click("footer a:text-is('Safety')")
    visit.page.go_back()
    visit.until("document.readyState === 'complete' && 'journalCalculatorResults' in globalThis")
    assert "380 g" == number(visit, "dry", "unit")
    assert "alder leaves" == visit.page.input_value("[data-row]:nth-child(5) [data-part=name]")
    assert "Dry share: as typed." == visit.page.inner_text("[data-row]:nth-child(5) [data-whose]")
    visit.page.go_back()
    visit.until("!location.hash.startsWith('#spawn')")
    assert "115 g" == number(visit, "spawn", "needed")  # a place on the page takes nothing typed away


def test_without_scripts_the_formulas_and_sources_stand_and_it_says_so(browser: Any, sample_site: Path) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((sample_site / SUMS).as_uri())
    shown = page.inner_text("main")
    context.close()
    assert "The calculators need scripts" in shown
    assert (
        "water to add = wet mass × (moisture wanted − moisture now) / (100\N{NO-BREAK SPACE}% − moisture wanted)"
        in shown
    )
    assert "ASHRAE Handbook" in shown
    assert "Add an ingredient" not in shown
    assert not {"–", "—"} & set(shown.splitlines())


def test_us_units_are_offered_and_answered_in_where_the_journal_is_kept_in_them(visit: Any, tmp_path: Path) -> None:
    journal = tmp_path / "journal"
    (journal / "batches").mkdir(parents=True)
    (journal / "journal.toml").write_text('[journal]\nunits = "us"\ntime_zone = "UTC"\n', encoding="utf-8")
    batch = (
        "---\nkind: batch\nid: B-1\ndate: 2026-10-06\nunits: 4\nwet mass: 5 lb\nmoisture: 60 %\nspawn mass: 8 oz\n---\n"
    )
    (journal / "batches/B-1.md").write_text(batch, encoding="utf-8")
    run_journal("build", journal, "--to", tmp_path / "site", "--cache", tmp_path / "cache")
    visit.page.goto((tmp_path / "site" / SUMS).as_uri() + link_of(tmp_path / "site", "B-1"))
    assert ("5", "lb") == tuple(
        visit.page.input_value(f"form[data-calculator=dry] .input-row:has([data-field=wet]) {box}")
        for box in ("input", "select")
    )
    assert ("2 lb", "8 lb") == (number(visit, "dry", "unit"), number(visit, "dry", "all"))
    assert "10 %" == number(visit, "spawn", "rate")


def test_every_field_and_choice_is_large_enough_and_asks_for_the_right_keys(sheet: Callable[..., Any]) -> None:
    visit = sheet()
    small = visit.page.evaluate(
        """() => [...document.querySelectorAll("main select, main input, main button")]
          .filter((e) => e.offsetParent !== null && e.getBoundingClientRect().height < 47.5).map((e) => e.outerHTML)"""
    )
    assert [] == small
    modes = visit.page.evaluate(
        "[...document.querySelectorAll('main input[data-kind]')].filter((e) => e.inputMode !== "
        "(e.dataset.kind === 'count' ? 'numeric' : 'decimal')).map((e) => e.outerHTML)"
    )
    assert [] == modes


@pytest.mark.parametrize("width", [390, 820, 1280])
def test_an_answer_is_beside_its_last_field_or_in_the_next_line(sheet: Callable[..., Any], width: int) -> None:
    visit = sheet()
    visit.page.set_viewport_size({"width": width, "height": 900})
    apart = visit.page.evaluate(
        """() => [...document.querySelectorAll("[data-results]")].map((list) => {
          const form = `form[data-calculator=${list.dataset.results}]`;
          const fields = [...document.querySelectorAll(`${form} .fields .input-row`)];
          const last = fields.at(-1).querySelector("input, select").getBoundingClientRect();
          const first = list.querySelector("[data-number]").getBoundingClientRect();
          const line = list.querySelector("[data-words]").getBoundingClientRect();
          const gap = first.left - last.right;
          const beside = Math.abs(first.bottom - last.bottom) < 1 && gap > 0 && gap < 90;
          return [list.dataset.results, beside || line.top >= last.bottom && line.top - last.bottom < 40];
        }).filter(([, near]) => !near)"""
    )
    visit.page.set_viewport_size({"width": 390, "height": 800})
    assert [] == apart


def test_in_us_units_the_plan_puts_in_the_dry_substrate_as_it_would_be_written(visit: Any, tmp_path: Path) -> None:
    """1 kg are 2.204 62 lb (NIST SP 811, B.8)."""
    journal = tmp_path / "journal"
    journal.mkdir()
    (journal / "journal.toml").write_text('[journal]\nunits = "us"\ntime_zone = "UTC"\n', encoding="utf-8")
    for name, keys in (
        ("C-1", "kind: culture\nid: C-1\ndate: 2026-10-01\nreceived from: x\nspecies: Pleurotus pulmonarius"),
        ("B-1", "kind: batch\nid: B-1\ndate: 2026-10-06\nculture: C-1\nunits: 4\ndry mass: 1 kg"),
    ):
        (journal / f"{name}.md").write_text(f"---\n{keys}\n---\n", encoding="utf-8")
    run_journal("build", journal, "--to", tmp_path / "site", "--cache", tmp_path / "cache")
    visit.page.goto((tmp_path / "site/plan/index.html").as_uri())
    box = ".input-row:has([data-field=dry])"
    assert ("2.2", "lb") == tuple(visit.page.input_value(f"{box} {part}") for part in ("input", "select"))


# -- backwards from a day ------------------------------------------------------------------------------------


def test_own_batches_slower_than_the_range_are_named_beside_the_day_with_the_day_that_they_need(
    visit: Any, tmp_path: Path
) -> None:
    """61 and 64 days, where 44 are published at most: 1 March 2027 − 64 days is 27 December 2026."""
    journal = tmp_path / "journal"
    journal.mkdir()
    entries = {
        "journal.toml": '[journal]\ntime_zone = "UTC"\n',
        "c.md": "---\nkind: culture\nid: C-1\ndate: 2026-01-01\nreceived from: x\n"
        "species: Pleurotus pulmonarius\n---\n",
    }
    for name, picked in (("B-1", "2026-03-03"), ("B-2", "2026-03-06"), ("B-3", "2026-02-08")):
        made = f"kind: batch\nid: {name}\ndate: 2026-01-01\nculture: C-1\nunits: 4\ndry mass: 1 kg"
        harvest = f"kind: note\nabout: {name}\ndate: {picked}\nharvest: 1 kg\nflush: 1"
        spent = f"kind: note\nabout: {name}\ndate: 2026-03-08\nstage: spent"
        entries |= {f"{name}{at}.md": f"---\n{keys}\n---\n" for at, keys in enumerate((made, harvest, spent))}

    def told(*names: str) -> str:
        for file in journal.iterdir():
            file.unlink()
        for name in names:
            (journal / name).write_text(entries[name], encoding="utf-8")
        run_journal("build", journal, "--to", tmp_path / "site", "--cache", tmp_path / "cache")
        visit.page.goto((tmp_path / "site/plan/index.html").as_uri())
        visit.page.select_option("[data-field=species]", label="Pleurotus pulmonarius")
        visit.page.fill("[data-field=by]", "2027-03-01")
        assert "16 January 2027" == visit.page.inner_text("[data-result=day] [data-number]")
        return str(visit.page.inner_text("[data-result=day] [data-beside]"))

    two = [name for name in entries if not name.startswith("B-3")]
    said = "Your 2 finished batches took 61 and 64 days, longer than this range"
    assert told(*two).startswith(f"{said}: to be safe, inoculate by 27 December 2026. ")
    quick = [name for name in entries if not name.startswith(("B-1", "B-2"))]
    assert "finished batch" not in told(*quick)
    mixed = [name for name in entries if not name.startswith("B-1")]
    assert told(*mixed).startswith("The slowest of your 2 finished batches took 64 days, longer than this range: ")


def test_the_plan_goes_backwards_from_the_day_wanted(tab: Any, sample_site: Path) -> None:
    """Of the sample's phoenix oyster too few batches are finished: 28 to 44 days and 50 to 100 % are told, 874 g dry a
    block. 2000 / 437 are 5 blocks, 2000 / 655.5 are 4 and 2000 / 874 are 3."""
    visit = tab.afresh((sample_site / "plan/index.html").as_uri())
    visit.page.select_option("[data-field=species]", label="Pleurotus pulmonarius")
    visit.page.fill("[data-field=by]", "2027-01-30")
    put(visit, "plan", wanted="2 kg")
    parts = [f"[data-result={name}] {part}" for name in ("day", "units") for part in ("[data-number]", "[data-beside]")]
    found = [visit.page.inner_text(part) for part in parts]
    assert [
        "17 December 2026", "25 December 2026 by the middle of them, 2 January 2027 by the quick end",
        "5 units", "4 units by the middle of it, 3 by the high end",
    ] == found  # fmt: skip
    put(visit, "plan", be="80")
    assert "3 units" == visit.page.inner_text("[data-result=units] [data-number]")
    visit.page.fill("[data-field=by]", "2026-12-12")
    assert "That day is past" in visit.page.inner_text("[data-result=day] [data-words]")
    visit.page.select_option("[data-field=part]", "first")
    put(visit, "plan", be="")
    # the only batch of it gave 36.9 % in its first flush: 2 kg / (874 g × 0.369) are 6.2 units
    assert "7 units" == visit.page.inner_text("[data-result=units] [data-number]")
    assert "at a BE of 36.9 %" == visit.page.inner_text("[data-result=units] [data-words]")
    visit.page.select_option("[data-field=species]", label="Pholiota adiposa")
    assert "Missing: a BE: none is known for that; enter the one that you expect." == says(visit, "plan")
