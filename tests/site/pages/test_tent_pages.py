"""The tents' pages, the sheets for their doors, and what Now tells of their air."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from journal.model import Journal
from journal.site.pages import plan_site
from tests.builders import some
from tests.site.pages.conftest import SETTINGS, Hut
from tests.site.test_pages import Rendered

TENT = "tents/hut/"
POWER = "tents/hut/power/"
HISTORY = "tents/hut/history/"
DOOR = "tents/hut/door/"
NOTHING: dict[str, str] = {}


@pytest.fixture(scope="module")
def hut(make_journal: Callable[..., Journal]) -> Hut:
    return Hut(make_journal)


def wired(hut: Hut) -> dict[str, str]:
    front = hut.front
    return {
        "strip": front(
            "device", id="strip-1", tent="hut", does="power strip", powered_by="socket by the door", rated_for="IP44"
        ),
        "timer": front("device", id="timer-1", tent="hut", does="timer", powered_by="strip-1", rated_for="dry rooms"),
        "lamp": front("device", id="lamp-1", tent="hut", does="light", powered_by="timer-1", controlled_by="timer-1"),
        "fan": front("device", id="fan-1", tent="hut", does="fan", powered_by="strip-1", date="2025-12-06"),
        "dead": front("note", about="fan-1", stage="dead", cause="rust", date="2026-10-08"),
        "set": front("tent", about="hut", date="2026-10-18", light="06:30–18:30", why="to see them"),
    }


def outline(rows: Any) -> list[Any]:
    """A list of lists, by the first tag or words of each row."""
    found: list[Any] = []
    for row in rows.find_all("li", recursive=False):
        name = row.p.select_one(".id") or row.p
        below = row.find("ul", recursive=False)
        found.append((name.get_text(), outline(below)) if below else name.get_text())
    return found


@pytest.mark.parametrize("path", [POWER, DOOR])
def test_what_feeds_what_is_a_list_of_lists_with_no_picture(hut: Hut, path: str) -> None:
    feeds = hut.pages(wired(hut))[path].select_one("ul.feeds")
    assert feeds is not None
    assert [("Socket by the door", [("strip-1", [("timer-1", ["lamp-1"])])])] == outline(feeds)
    assert "holds the light 06:30–18:30 (12 h) for lamp-1" in feeds.get_text()
    assert feeds.find(["img", "svg"]) is None


def test_settings_that_held_on_any_day_are_one_tap_away(hut: Hut) -> None:
    later = {"then": hut.front("tent", about="hut", date="2026-10-01", light="8:16")}
    told = hut.pages(wired(hut) | later)[HISTORY].find("summary", string="Settings by period")
    assert told is not None
    rows = [" ".join(row.get_text().split()) for row in told.parent.select("li")]
    assert ["since 18 October 2026 light 06:30–18:30 (12 h)", "1 to 17 October 2026 light 8 h on, 16 h off"] == rows
    assert "Settings by period" not in hut.pages(wired(hut))[HISTORY].get_text()


def test_what_is_dead_is_in_no_tree_and_is_shown_with_how_long_it_lived(hut: Hut) -> None:
    page = hut.pages(wired(hut))[POWER]
    assert page.select_one("#over") is not None
    words = " ".join(page.select_one("section[aria-labelledby=over]").get_text(" ").split())  # type: ignore[union-attr]
    assert "dead 8 October 2026 , rust was in use for 306 days (10 months)" in words


def test_what_is_not_said_to_stand_water_says_so_at_the_device(hut: Hut) -> None:
    page = hut.pages(wired(hut))[POWER]
    told = {row["id"]: row.p.select_one(".need") for row in page.select(".feeds li.device")}
    assert {
        "strip-1": None,
        "timer-1": "rated for dry places: keep out of fog and drips",
        "lamp-1": "no rating against splashing water: nothing is written under “rated for”",
    } == {id: words and words.get_text() for id, words in told.items()}
    assert "2 devices on the mains with no rating against splashing water" in page.get_text()


def test_each_device_stands_once_on_the_page_of_power_and_the_tents_page_leads_on_to_it(hut: Hut) -> None:
    pages = hut.pages(wired(hut))
    ids = ["strip-1", "timer-1", "lamp-1", "fan-1"]
    assert ids == [row["id"] for row in pages[POWER].select(".device")]
    links = {row["id"]: row["href"] for row in pages[TENT].select("a[data-goes-on]")}
    assert {id: f"../../tents/hut/power/index.html#{id}" for id in ids} == links
    assert "../../tents/hut/history/index.html" == pages[TENT].select_one("a[data-dated]")["href"]


@pytest.mark.parametrize("path", [TENT, POWER, HISTORY])
def test_the_three_pages_of_a_tent_lead_to_each_other(hut: Hut, path: str) -> None:
    nav = hut.pages(wired(hut))[path].select_one("nav.thirds")
    assert ["Climate", "Power and control", "History"] == [link.get_text() for link in nav.select("a")]
    here = nav.select_one("[aria-current]")["href"]
    assert f"{path}index.html" == here.replace("../", "")


def test_the_page_answers_first_whether_the_air_is_right(hut: Hut) -> None:
    log = hut.log([("2026-11-25 06:00", 15.0, 80.0)])
    page = hut.pages(wired(hut), log)[TENT]
    first = page.main.select_one("section")  # type: ignore[union-attr]
    assert first is not None
    assert "Out of range: too dry" in first.get_text()
    assert ["80 %", "15 °C"] == [b.get_text() for b in first.select(".reading b")]
    lit = first.select_one("[data-lit-from='06:30'][data-lit-to='18:30']")
    assert lit is not None
    assert "2026-11-25T06:00:00+00:00" == first.select_one("[data-ago]")["data-ago"]  # type: ignore[index]


@pytest.mark.parametrize(("hours", "words"), [(20, "The last day in numbers"), (30, "The last 2 days in numbers")])
def test_the_numbers_of_one_day_are_those_of_the_last_day(hut: Hut, hours: int, words: str) -> None:
    page = hut.pages(NOTHING, hut.log(hut.steady("2026-11-24 00:00", hours)))[TENT]
    assert page.find("summary", string=words) is not None


def test_a_chart_has_a_title_a_description_and_the_table_of_its_numbers(hut: Hut) -> None:
    page = hut.pages(NOTHING, hut.log(hut.steady("2026-11-24 00:00", 40)))[TENT]
    chart = page.select_one("svg.climate-chart")
    assert chart is not None
    assert chart.title is not None
    assert chart.desc is not None
    assert f"{chart.title['id']} {chart.desc['id']}" == chart["aria-labelledby"]
    assert 2 == len(page.select("table.climate-days tbody tr"))
    assert not chart.has_attr("viewBox")


def test_changes_too_close_together_are_marked_with_the_words_for_it(hut: Hut) -> None:
    entries = {
        "a": hut.front("tent", about="hut", date="2026-01-01", humidity_set_point="90 %", exhaust="2 min every 15 min"),
        "b": hut.front("tent", about="hut", date="2026-05-07", humidity_set_point="92 %"),
        "c": hut.front("tent", about="hut", date="2026-05-10", exhaust="3 min every 15 min"),
    }
    marked = hut.pages(entries)[HISTORY].select(".changes .entangled")
    assert 2 == len(marked)
    assert all("so their effects cannot be told apart." in row.get_text() for row in marked)


def test_a_batch_in_the_tent_is_shown_with_what_is_expected_of_it(hut: Hut) -> None:
    entries = {
        "c": hut.front("culture", id="C-1", received_from="a friend", species="Pleurotus ostreatus"),
        "b": hut.front("batch", id="B-1", culture="C-1", units="4", tent="hut", date="2026-11-01"),
        "o": hut.front("batch", id="B-2", culture="C-1", units="4", tent="loft", date="2026-11-01"),
    }
    rows = hut.pages(entries)[TENT].select(".row")
    assert ["B-1"] == [row.select_one(".id").get_text() for row in rows if row.select_one(".thumb")]  # type: ignore[union-attr]
    assert rows[0].select_one("[data-expect-from][data-expect-to]") is not None


def test_every_caution_that_belongs_to_a_tent_is_on_its_page(hut: Hut) -> None:
    pages = hut.pages(NOTHING)
    for path, cautions in ((TENT, ("Fog.", "Spores.")), (POWER, ("Mains in the wet.", "licensed electrician"))):
        assert all(caution in pages.words(path) for caution in cautions)


def test_the_sheet_for_the_door_holds_set_up_settings_and_why_devices_and_services(hut: Hut) -> None:
    page = hut.pages(wired(hut))[DOOR]
    assert ["Settings, and why", "Set-up", "Services", "Power and control", "Devices", "Before you reach in"] == [
        heading.get_text() for heading in page.select("h2")
    ]
    words = " ".join(page.main.get_text(" ").split())  # type: ignore[union-attr]
    assert "06:30–18:30 (12 h) since 18 Oct 2026: to see them" in words
    assert "No rating against splashing water: timer-1, lamp-1." in words
    assert 3 == len(page.select("td.hand"))  # room for three dates by hand beside the one service


def test_the_tents_page_leads_to_the_sheet_and_the_sheet_back(hut: Hut) -> None:
    pages = hut.pages(NOTHING)
    assert pages[POWER].select_one("a.button[href='../../../tents/hut/door/index.html']") is not None
    assert pages[DOOR].select_one("a.button[href='../../../tents/hut/index.html']") is not None


def test_no_id_can_stand_where_the_sheet_does(hut: Hut) -> None:
    settings = '[tents.hut]\nname = "Hut"\n[tents.door]\nname = "Door"\n'
    pages = hut.pages(NOTHING, settings=settings)
    paths = [
        f"tents/{name}/{below}index.html" for name in ("hut", "door") for below in ("", "power/", "history/", "door/")
    ]
    assert set(paths) <= {page.path for page in pages.site.pages}
    assert "Door" == pages["tents/door/"].h1.get_text()  # type: ignore[union-attr]


@pytest.mark.parametrize("path", [POWER, HISTORY, DOOR])
def test_a_tent_of_which_nothing_is_written_has_pages_that_say_so(hut: Hut, path: str) -> None:
    words = hut.pages(NOTHING, settings='[tents.hut]\nname = "Hut"\n').words(path)
    assert "recorded" in words


def test_a_tent_that_a_share_keeps_back_has_a_page_for_what_stood_in_it_and_nothing_else(hut: Hut) -> None:
    whole = hut.journal(wired(hut), hut.log([("2026-11-25 06:00", 15.0, 80.0), ("2026-11-25 06:30", 15.0, 79.0)]))
    kept_back = replace(whole.settings.tents[0], unshared=True, every=())
    shared = replace(whole, devices=(), tent_entries=(), notes=(), settings=replace(whole.settings, tents=(kept_back,)))
    pages = Rendered(plan_site(shared, {}))
    assert "This tent is not shared" in pages.words(TENT)
    assert "Power and control" not in pages.words(TENT)
    paths = {page.path for page in pages.site.pages}
    assert not paths & {path + "index.html" for path in (POWER, HISTORY, DOOR)}
    assert pages[TENT].select_one("nav.thirds") is None
    assert [] == pages[""].select(".air, section[aria-labelledby=outside]") + pages["tents/"].select(".air")


def test_now_tells_periods_out_of_range_with_the_day_they_ended(hut: Hut) -> None:
    rows = [("2026-11-25 06:00", 15.0, 80.0), ("2026-11-25 06:30", 15.0, 79.0)]
    part = hut.pages(NOTHING, hut.log(rows))[""].select_one("section[aria-labelledby=outside]")
    assert part is not None
    assert "7" == part["data-recent"]
    (row,) = part.select("[data-row-date]")
    assert "2026-11-25" == row["data-row-date"]
    assert "too dry for 1.5 h, as far as 79 %" in row.get_text()


def test_now_says_nothing_of_ranges_where_none_was_ever_left(hut: Hut) -> None:
    page = hut.pages(NOTHING, hut.log(hut.steady("2026-11-25 00:00", 3)))[""]
    assert page.select_one("section[aria-labelledby=outside]") is None


def test_air_given_by_the_day_is_shown_without_a_clock_and_without_shares_of_time(hut: Hut) -> None:
    rows = [(f"2026-11-{day} 12:00", 15.0, 80.0 + day) for day in range(10, 20)]
    pages = hut.pages(NOTHING, replace(hut.log(rows), by_day=True))
    words = pages.words(TENT)
    for said in ("19 November 2026, median of that day", "known by the day", "The line joins the daily medians"):
        assert said in words
    assert re.search(r"[0-9]:[0-9]{2}", words) is None
    heads = [head.get_text() for head in pages[TENT].select(".climate-days th")]
    assert ["Day", "Humidity, median", "Temperature, median", "Dew point"] == heads[:4]
    assert pages[""].select_one("section[aria-labelledby=outside]") is None


def test_a_long_history_is_folded_by_year_and_every_entry_stays_where_links_to_it_lead(hut: Hut) -> None:
    """74 readings, 14 days apart from 1 January 2024 on: 27, 26 and 21 in their years; and three settings of 2024."""
    entries = {
        f"e{at:02}": hut.front(
            "tent",
            about="hut",
            date=(date(2024, 1, 1) + timedelta(days=14 * at)).isoformat(),
            humidity_reading=f"{at} %",
        )
        for at in range(74)
    }
    entries["first"] = hut.front("tent", about="hut", date="2024-01-02", light="10:14", humidity_set_point="90 %")
    entries["light"] = hut.front("tent", about="hut", date="2024-03-02", light="12:12")
    entries["fog"] = hut.front("tent", about="hut", date="2024-03-05", humidity_set_point="91 %")
    pages = hut.pages(entries)
    page = pages[HISTORY]
    folds = {link.text: link["href"] for link in page.select("p.fold a")}
    assert {"2024 30 entries", "2025 26 entries"} == set(folds)
    assert (21, 21) == (len(page.select("article.entry")), len(page.select("table tbody tr")))
    assert ["#history", "#year-2025", "#year-2024"] == [a["href"] for a in page.select("nav.jumps a")][-3:]
    part = pages["lists/history-hut/2024/"]
    assert 30 == len(part.select("article.entry"))
    apart = "Light was changed within 7\N{NO-BREAK SPACE}days of humidity set point on 5\N{NO-BREAK SPACE}March 2024"
    assert apart in part.find(id="2024-03-02").text
    since = some(pages[TENT].select("#set ~ dl a.when"))[-1]["href"]
    assert "../../lists/history-hut/2024/index.html#2024-03-02" == since
    assert "2024-03-02" in pages.client.get("/lists/history-hut/2024.js").text


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"price": "34.00"}, "price £34.00"),
        ({"price": "34,00", "cost": "£34.00"}, "price £34.00"),
        ({"price": "a jar of jam"}, "price a jar of jam"),
        ({"price": "free", "cost": "£4.00"}, "price free · cost £4.00"),
    ],
)
def test_a_price_has_the_currency_of_the_costs_and_is_shown_once(hut: Hut, keys: dict[str, str], words: str) -> None:
    in_pounds = SETTINGS.replace("[journal]", '[journal]\ncurrency = "GBP"')
    page = hut.pages({"fan": hut.front("device", id="fan-1", tent="hut", does="fan", **keys)}, settings=in_pounds)[
        POWER
    ]
    assert f" · {words}" in " ".join(page.select_one(".detail.soft").get_text().split())
    assert page.select_one(".detail.soft").get_text().endswith(words)
