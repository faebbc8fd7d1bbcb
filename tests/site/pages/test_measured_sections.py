"""What was measured by the way, as pages show it: heat and growth; and that no share shows what it must not."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date, timedelta

import pytest
from bs4 import Tag

from journal.model import CoreLog, Journal, WeatherDay, WeatherFile
from journal.site.pages import plan_site
from tests.analysis.test_heat import core
from tests.builders import entry, noted
from tests.site.batch_site import rows_of
from tests.site.test_pages import Rendered

FILES = {
    "journal.toml": '[journal]\ntime_zone = "UTC"\nelevation = "1500 m"\n',
    "c.md": entry("culture", "id: C\ndate: 2026-09-12\nreceived from: unknown\nmedium: MEA"),
    "n1.md": noted("2026-09-15", "colony: 1: 10 × 10 mm, 2: 9 × 11 mm, 3: 12 × 12 mm", "C"),
    "n2.md": noted("2026-09-17", "colony: 1: 34 × 34 mm, 2: 36 × 36 mm, 3: 35 × 35 mm", "C"),
    "b.md": entry("batch", "id: B-1\ndate: 2026-10-06\nculture: C\ntreatment: 15 psi 2.5 h"),
}


def flat(part: Tag | None) -> str:
    """The words of a part that must be there, with a blank between its elements."""
    assert part is not None
    return " ".join(part.get_text(" ").split())


STATION = WeatherFile("w.csv", tuple(WeatherDay(date(2015, 11, 1) + timedelta(days=at), 2.0, 9.0) for at in range(30)))
CORE = core([20, 121.1, 121.1, 121.1, 90])


@pytest.fixture(scope="module")
def made(make_journal: Callable[..., Journal]) -> Callable[..., Rendered]:
    def make(files: Mapping[str, str] = FILES, share: str | None = None) -> Rendered:
        logs = [CoreLog(entry="b.md", log=CORE.log)]
        journal = make_journal(files, core_logs=logs, weather=[STATION])
        return Rendered(plan_site(journal, {}, share=share))

    return make


def test_a_batch_shows_its_heat_with_a_caution_and_its_numbers(made: Callable[..., Rendered]) -> None:
    section = made()["batches/b-1/"].select_one("section[aria-labelledby=heat]")
    words = flat(section)
    assert section is not None
    # Two minutes at 121.1 °C, and a minute each of 101.1 and 31.1 K: 10 / (ln 10 · 101.1) + 10 / (ln 10 · 31.1).
    assert "2.2 min F₀: minutes at 121.1 °C that would kill as much" in words
    assert "This does not prove that anything is sterile." in words
    assert "95 °C water boils at 1500 m" in words
    assert "118.3 °C steam free of air at the pressure written, at 1500 m" in words
    assert ["20 °C", "121.1 °C", "121.1 °C", "121.1 °C", "90 °C"] == [row[1] for row in rows_of(section.table)]
    assert section.svg is not None


@pytest.mark.parametrize(
    ("core_c", "says"),
    [([20], "The core log c.csv has only one usable reading, and two are needed"), ([], "has no usable reading")],
)
def test_a_core_log_that_comes_to_nothing_says_so_where_its_table_would_stand(
    core_c: list[float], says: str, make_journal: Callable[..., Journal]
) -> None:
    journal = make_journal(FILES, core_logs=[CoreLog(entry="b.md", log=core(core_c).log)])
    words = flat(Rendered(plan_site(journal, {}))["batches/b-1/"].select_one("section[aria-labelledby=heat]"))
    assert says in words
    assert "so neither F₀ nor times are calculated" in words
    assert "Use a pressure vessel as its manufacturer’s instructions say" in words


def test_a_culture_shows_how_fast_it_grows_and_all_are_beside_one_another(made: Callable[..., Rendered]) -> None:
    site = made()
    words = flat(site["cultures/c/"].select_one("section[aria-labelledby=growth]"))
    assert "6.1 mm a day: growth of the radius on MEA" in words
    assert "95 % interval over 3 plates" in words
    every = site["cultures/"].select_one("section[aria-labelledby=growth]")
    assert "C T not known, 6.1 mm a day" in flat(every)
    assert ["Growth of the radius", "Interval"] == [head.get_text() for head in every.select("th[scope=col]")[-2:]]
    less = {**FILES, "n3.md": noted("2026-09-19", "colony: 3: 10.5 × 10.5 mm", "C")}
    page = made(less)["cultures/c/"].select_one("section[aria-labelledby=growth]")
    why = "left out: the colony was 35 mm across on 2026-09-17, and now plate 3 has 10.5 mm"
    assert "Two plates: too few for an interval; plate 3 left out How 6.3 mm is calculated" in flat(page)
    assert f"plate 3 {why}" in flat(page)
    assert f"Plate 3 is {why}." in flat(page)
    assert [False, False, False, False, True, True, True] == ["left out" in row[0] for row in rows_of(page.table)]
    two = {**FILES, "n2.md": noted("2026-09-17", "colony: 1: 34 × 34 mm, 2: 36 × 36 mm", "C")}
    assert "Two plates: too few for an interval" in made(two).words("cultures/c/")


def test_unknown_transfers_are_called_the_same_at_every_step_and_beside_the_growth(
    made: Callable[..., Rendered],
) -> None:
    """Three measured cultures, each a transfer of the one before, the first received with no number of transfers."""
    files = {"journal.toml": FILES["journal.toml"]}
    origins = ("received from: unknown", "from: P-1\nmethod: transfer", "from: P-2\nmethod: transfer")
    for at, origin in enumerate(origins, 1):
        files[f"c{at}.md"] = entry("culture", f"id: P-{at}\ndate: 2026-09-1{at}\n{origin}\nmedium: MEA")
        files[f"m{at}.md"] = noted("2026-09-15", "colony: 1: 10 × 10 mm", f"P-{at}")
        files[f"n{at}.md"] = noted("2026-09-17", "colony: 1: 34 × 34 mm", f"P-{at}")
    site = made(files)
    figure = site["cultures/p-3/"].select_one(".culture-head > ul.figures > li")
    assert "at least T2 transfers since this line began" in flat(figure)
    assert "P-1 not known, received P-2 at least T1, transfer P-3 at least T2, transfer" in flat(figure)
    every = flat(site["cultures/"].select_one("section[aria-labelledby=growth]"))
    order = [every.index(said) for said in ("P-1 T not known, 6 mm", "P-2 at least T1, 6 mm", "P-3 at least T2, 6 mm")]
    assert sorted(order) == order


WOOD = {
    "journal.toml": '[journal]\ntime_zone = "Europe/London"\n[permits.wood]\nlimit_a_day = "1 kg"\nlimit = "5 kg"\n',
    "f.md": entry("find", "id: F-1\ndate: 2015-12-01\nwhere: 51.473333, -0.000833\npicked mass: 1.2 kg\npermit: wood"),
    "far.md": entry("find", "id: F-2\ndate: 2019-12-20\nwhere: 69.65, 18.96"),
    "no.md": entry("find", "id: F-3\ndate: 2019-12"),
    "away.md": entry("find", "id: F-4\ndate: 2026-06-20\nwhere: -40.0, 175.0"),
}


@pytest.mark.parametrize(
    ("id", "says"),
    [
        ("f-1", "sun up 07:43 to 15:55, twilight to 16:34"),  # astral 3.2: 15:54:31, 16:34:14
        ("f-2", "sun it did not rise that day"),
        # Noon at 175° E is at 00:20 UTC, so the hours of London are of two days.
        ("f-4", "up 20:42 on 19 June 2026 to 06:01 on 20 June 2026, twilight to 06:32 on 20 June 2026"),
        ("f-4", "(all in the time of Europe/London)"),
        ("f-3", None),
    ],
)
def test_a_find_says_when_the_sun_was_up_but_in_no_share(
    id: str, says: str | None, made: Callable[..., Rendered]
) -> None:
    words = made(WOOD).words(f"finds/{id}/")
    assert says in words if says else " sun " not in words
    assert " sun " not in made(WOOD, share="s").words(f"finds/{id}/")


def test_what_was_picked_stands_by_permit_and_day_but_in_no_share(made: Callable[..., Rendered]) -> None:
    site = made(WOOD)
    section = site["finds/"].select_one("section[aria-labelledby=picked]")
    assert section is not None
    assert "wood Allows 1 kg a day, 5 kg in all. 1.2 kg picked, 3.8 kg left." in flat(section)
    assert [["1 December 2015 200 g over the limit of a day", "F-1", "1.2 kg"]] == rows_of(section.table)
    assert "picked 1.2 kg, under wood" in site.words("finds/f-1/")
    assert "1.2 kg" not in made(WOOD, share="s").words("finds/") + made(WOOD, share="s").words("finds/f-1/")


def test_what_was_picked_beyond_a_permit_is_told_by_how_much(made: Callable[..., Rendered]) -> None:
    toml = '[permits.wood]\nlimit = "5 kg"\nlast = 2026-09-30\n'
    rows = [("2026-09-12", "3 kg"), ("2026-09-13", "3.5 kg"), ("2026-10-01", "2 kg")]
    finds = {
        f"{at}.md": entry("find", f"id: F-{at}\ndate: {day}\npicked mass: {kg}\npermit: wood")
        for at, (day, kg) in enumerate(rows)
    }
    site = made({"journal.toml": toml, **finds})
    words = flat(site["finds/"].select_one("section[aria-labelledby=picked]"))
    assert "6.5 kg picked. 1.5 kg more than it allows in all. 2 kg more was picked while it was not valid." in words
    assert "1 October 2026 the permit is not valid then: not in the sum F-2 2 kg" in words
    assert "picked 2 kg, under wood, which was not valid on that day" in site.words("finds/f-2/")
    assert "did not hold" not in site.words("finds/f-1/")


def test_outings_are_beside_the_rain_but_in_no_share(made: Callable[..., Rendered]) -> None:
    files = {**WOOD, "visit.md": noted("2015-11-28", "stage: nothing there", "F-1")}
    site = made(files)
    section = site["finds/"].select_one("section[aria-labelledby=outings]")
    words = flat(section)
    assert section is not None
    assert "Looked on 4 days: something was fruiting on 3, nothing, or only what was past, on 1." in words
    assert ["1 December 2015", "F-1", "", "14 mm", "42 mm", "120"] in rows_of(section.select("table")[-1])
    assert ["28 November 2015", "", "F-1", "14 mm", "42 mm", "–"] in rows_of(section.select("table")[-1])
    assert 2 == len(section.select("svg.climate-chart"))
    said = "14 mm of rain in the 7 days before, 42 mm in 21, 120 degree-days over 5 °C in 30"
    assert said in site.words("finds/f-1/")
    share = made(files, share="s")
    assert share["finds/"].select_one("section[aria-labelledby=outings]") is None
    assert "degree-days" not in share.words("finds/f-1/")


PLACE = {
    "journal.toml": '[journal]\ntime_zone = "UTC"\nas_of = 2026-01-10\n'
    '[tents.hut]\nname = "Hut"\nshelf_area = "2 m²"\n',
    "b.md": entry("batch", "id: B-1\ndate: 2026-01-01\ntent: hut"),
    "h.md": noted("2026-01-05", "harvest: 1 kg\nflush: 1"),
    "t1.md": entry("tent", "about: hut\ndate: 2026-01-02\nmeter: 10 kWh\ntank fill: 4 l"),
    "t2.md": entry("tent", "about: hut\ndate: 2026-01-09\nmeter: 30 kWh\ntank fill: 6 l"),
}


def test_a_tent_shows_its_yield_by_area_and_day_and_the_electricity(made: Callable[..., Rendered]) -> None:
    site = made(PLACE)
    section = site["tents/hut/"].select_one("section[aria-labelledby=given]")
    assert section is not None
    words = flat(section)
    assert "0.05 kg a square metre of shelf and day: 1 kg on 10 days in use" in words
    assert "20 kWh of electricity a kilogram: 20 kWh from 2 to 9 January 2026" in words
    assert "6 l of water for the humidifier a kilogram: 6 l from 2 to 9 January 2026" in words
    assert [["January 2026", "1 kg", "10", "0.05"]] == rows_of(section.table)
    assert "There are no readings of humidity or temperature yet." in site.words("tents/hut/")
    assert "Light Meter Door 9 Jan 2026 30 kWh 2 Jan 2026 10 kWh" in site.words("tents/hut/history/")
    assert [["hut", "1 kg", "10", "2 m² shelf", "0.05"]] == rows_of(
        site["tents/"].select_one("section[aria-labelledby=given] table")
    )


def test_a_tents_yield_says_on_how_many_days_it_was_empty(made: Callable[..., Rendered]) -> None:
    gone = {
        "gone.md": noted("2026-01-03", "stage: discarded"),
        "b2.md": entry("batch", "id: B-2\ndate: 2026-01-08\ntent: hut"),
        "h.md": noted("2026-01-02", "harvest: 1 kg\nflush: 1"),
    }
    words = made({**PLACE, **gone}).words("tents/hut/")
    assert "1 kg on 6 days in use it was empty on 4 other days in between" in words


def test_in_us_units_a_tents_yield_is_in_ounces_and_its_formulas_in_pounds(made: Callable[..., Rendered]) -> None:
    """Source: NIST SP 811 (2008), B.8: 1 lb (avoirdupois) = 0.453 592 37 kg, 1 oz = 28.349 523 g, 1 ft = 0.3048 m."""
    toml = PLACE["journal.toml"].replace("[journal]\n", '[journal]\nunits = "us"\n')
    section = made({**PLACE, "journal.toml": toml})["tents/hut/"].select_one("section[aria-labelledby=given]")
    words = flat(section)
    assert "0.16 oz a square foot of shelf and day: 2 lb 3.3 oz on 10 days in use" in words
    assert ["oz a square foot and day", "0.16"] == [section.select("th")[3].get_text(), rows_of(section.table)[0][3]]
    assert "9.1 kWh of electricity a pound" in words
    assert "2.7 l of water for the humidifier a pound" in words
    assert not re.search(r"\bkg\b|kilogram", words)


@pytest.mark.parametrize(("units", "shown"), [("metric", "0.0026 kg a"), ("us", "0.0085 oz a")])
def test_a_small_yield_by_area_keeps_two_digits(units: str, shown: str, made: Callable[..., Rendered]) -> None:
    """52 g on 2 m² in 10 days; 1.83 oz on 21.5 ft²."""
    small = PLACE["journal.toml"].replace("[journal]\n", f'[journal]\nunits = "{units}"\n')
    files = {name: text.replace("harvest: 1 kg", "harvest: 52 g") for name, text in PLACE.items()}
    section = made({**files, "journal.toml": small})["tents/hut/"].select_one("section[aria-labelledby=given]")
    assert f"{shown} square" in flat(section)


@pytest.mark.parametrize(("path", "section"), [("batches/b-1/", "heat"), ("tents/hut/", "given"), ("tents/", "given")])
def test_a_share_shows_nothing_of_it(path: str, section: str, made: Callable[..., Rendered]) -> None:
    files = {**PLACE, "b.md": entry("batch", "id: B-1\ndate: 2026-01-01\ntent: hut\ntreatment: 15 psi 2 h")}
    assert made(files)[path].select_one(f"section[aria-labelledby={section}]") is not None
    assert made(files, share="s")[path].select_one(f"section[aria-labelledby={section}]") is None


def test_what_nobody_measured_has_no_such_section(made: Callable[..., Rendered]) -> None:
    site = made()
    assert site["cultures/c/"].select_one("section[aria-labelledby=heat]") is None
    assert site["batches/b-1/"].select_one("section[aria-labelledby=growth]") is None
