"""Finds as their pages tell them: what came of each, and the weeks in which each species was found."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest
from bs4 import Tag

from journal.geo.flat_map import FlatMap
from journal.model import Journal
from journal.reading.tracks import Track
from journal.sharing.redact import redaction_of
from journal.site.pages import plan_site
from journal.site.pages.finds import OPEN_SEASONS
from tests.site.pages.test_culture_pages import LINE, SPENT, entry, flat
from tests.site.test_pages import Rendered, published

Make = Callable[..., Rendered]


@pytest.fixture(scope="module")
def site(make_journal: Callable[..., Journal]) -> Make:
    def made(files: Mapping[str, str] | None = None) -> Rendered:
        return Rendered(plan_site(make_journal({**LINE, **(files or {})}), {}))

    return made


def test_a_find_shows_what_it_gave_and_what_was_lost_at_which_step(site: Make) -> None:
    gave = site()["finds/f-1/"].select_one("[aria-labelledby=gave]")
    words = flat(gave)
    assert "2 kg harvested so far, from 1 batch" in words
    assert "50 % BE so far of the 4 units inoculated in 1 batch" in words
    assert "plates 2 of 6 (33 %) green mould 2" in words
    assert "units of batches 1 of 4 (25 %) cobweb 1" in words


def test_a_find_counts_what_its_spores_and_later_clones_gave_too(site: Make) -> None:
    files = {
        "s.md": entry("culture", "id: S\nfrom: F-1\nmethod: spores\ndate: 2025-09-13"),
        "b2.md": entry("batch", "id: B-2\nculture: S\ndate: 2025-10-06\nunits: 2\ndry mass: 1 kg"),
        "h2.md": entry("note", "about: B-2\ndate: 2025-11-01\nharvest: 1 kg\nflush: 1"),
    }
    pages = site(files)
    assert "3 kg harvested so far, from 2 batches" in flat(pages["finds/f-1/"].main)
    assert "2 kg harvested so far, from 1 batch" in flat(pages["cultures/a/"].main)


def test_what_came_of_it_is_so_far_until_every_batch_is_finished(site: Make) -> None:
    running, ended = (site(files)["finds/f-1/"].select_one("[aria-labelledby=came]") for files in (None, SPENT))
    assert "1 batch · 2 kg harvested so far" in flat(running)
    assert "so far" not in flat(ended)


def test_harvests_of_an_unconfirmed_find_say_so_beside_them(site: Make) -> None:
    unsure = {"f/find.md": entry("find", "id: F-1\ndate: 2025-09-12\nspecies: Pleurotus pulmonarius")}
    assert "identity not confirmed" in flat(site(unsure)["finds/f-1/"].select_one("[aria-labelledby=gave]"))
    assert "not confirmed" not in flat(site()["finds/f-1/"].select_one("[aria-labelledby=gave]"))


def test_a_culture_with_the_name_of_another_species_says_so_beside_a_confirmed_find(site: Make) -> None:
    other = {"a.md": entry("culture", "id: A\nfrom: F-1\ndate: 2025-09-13\nspecies: Flammulina velutipes")}
    page = site(other)["finds/f-1/"]
    assert "identity not confirmed" in flat(page.select_one("[aria-labelledby=came]"))
    assert "Identity not confirmed of B-1, which is still counted." in flat(page.main)
    below = {"a3.md": LINE["a3.md"].replace("form:", "species: Flammulina velutipes\nform:")}
    assert "identity not confirmed of B-1" in flat(site(below)["finds/f-1/"].select_one("[aria-labelledby=came]"))
    assert "not confirmed" not in flat(site()["finds/f-1/"].main)


def test_a_find_that_nothing_was_taken_from_has_no_figures(site: Make) -> None:
    page = site({"g.md": entry("find", "id: F-2\ndate: 2025-09-12")})["finds/f-2/"]
    assert page.select_one("[aria-labelledby=gave]") is None
    assert "No culture was taken from it." in flat(page.main)


def chart(page: Tag) -> Tag:
    svg = page.select_one(".season")
    assert svg is not None
    return svg


def test_the_season_has_a_bar_a_week_and_the_days_in_a_table(site: Make) -> None:
    again = {
        "v.md": entry("note", "about: F-1\ndate: 2026-09-10\nstage: prime"),
        "w.md": entry("note", "about: F-1\ndate: 2026-10-10\nstage: past"),
        "g.md": entry("find", "id: F-2\ndate: 2025-12-01\nspecies: Flammulina velutipes"),
    }
    page = site(again)["finds/"]
    # ISO weeks: 12 September 2025 and 10 September 2026 are in week 37, 1 December 2025 in week 49.
    rows = [[flat(cell) for cell in row.select("td")] for row in page.select(".season-weeks tbody tr")]
    expected = [
        ["Flammulina velutipes", "49", "1 December 2025"],
        ["Pleurotus pulmonarius", "37", "12 September 2025, 10 September 2026"],
    ]
    assert expected == rows
    once, twice = chart(page).select("rect")
    assert float(twice["height"]) == pytest.approx(2 * float(once["height"]))
    assert f"{36 / 53 * 100:.2f}%" == twice["x"]
    assert float(twice["y"]) >= 3  # apart from a bar of the strip above


def test_the_season_names_the_months_where_they_begin(site: Make) -> None:
    months = chart(site()["finds/"]).select(".months svg")
    assert ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"] == [
        flat(month) for month in months
    ]
    # 1 September is the 244th day of a common year; the chart has room for 53 weeks.
    assert float(months[8]["x"].rstrip("%")) == pytest.approx(243 / 371 * 100, abs=0.01)
    assert 6 == len(chart(site()["finds/"]).select("svg.between"))


def test_the_season_is_above_the_slips_and_folds_the_species_found_least(site: Make) -> None:
    rare = {f"{at}.md": entry("find", f"id: R-{at}\ndate: 2026-0{at}-03\nspecies: Rare {at}") for at in range(1, 10)}
    often = {"v.md": entry("note", "about: F-1\ndate: 2026-09-10\nstage: prime")}
    page = site(rare | often)["finds/"]
    assert page.select_one("#season").sourceline < page.select_one(".slips").sourceline
    open_, folded = ([flat(name) for name in chart.select("div > span")] for chart in page.select(".season"))
    assert (OPEN_SEASONS, "Pleurotus pulmonarius") == (len(open_), open_[0])
    assert ["Rare 8", "Rare 9"] == folded
    assert "2 more species" in flat(page.select_one("details:has(.season) > summary"))
    assert OPEN_SEASONS + 2 == len(page.select(".season-weeks tbody tr"))


def test_a_find_is_a_slip_with_its_photograph_its_species_and_its_tag(site: Make) -> None:
    (slip,) = site()["finds/"].select(".slips > .row")
    assert "Pleurotus pulmonarius" == flat(slip.select_one(".slip > .sp"))
    assert "F-1" == flat(slip.select_one(".slip > .no a.id"))
    assert slip.select_one(".frame") is None  # a find without a photograph has no empty frame


def test_without_a_named_and_dated_find_there_is_no_season(site: Make) -> None:
    bare = {"f/find.md": entry("find", "id: F-1\ndate: 2025-09")}
    assert site(bare)["finds/"].select_one(".season") is None


IN_TEXT = "Words.\n\n![the cluster [left]](IMG 1.JPG)\n\n![](img_2.jpg)"


@pytest.mark.parametrize(
    ("leading", "text"),
    [
        ("IMG 1.JPG", IN_TEXT),  # the first in the text
        ("IMG_2.JPG", "![](IMG_2.JPG) then ![](<IMG 1.JPG>)"),
        ("IMG_3.JPG", ""),  # the largest of the first three
    ],
)
def test_a_find_is_led_by_the_first_photo_of_its_text_else_by_the_largest_of_the_first_listed(
    make_journal: Callable[..., Journal], leading: str, text: str
) -> None:
    sizes = {"IMG 1.JPG": (800, 600), "IMG_2.JPG": (320, 240), "IMG_3.JPG": (4000, 3000), "IMG_4.JPG": (8000, 6000)}
    listed = "id: F-9\ndate: 2026-09-12\nphotos:\n" + "\n".join(f"- {name}" for name in sizes)
    photos = {f"f9/{name}": {"width": width, "height": height} for name, (width, height) in sizes.items()}
    files = {"f9/find.md": f"---\nkind: find\n{listed}\n---\n{text}"}
    plan = plan_site(make_journal(files, photos), published(*photos))
    site = Rendered(plan)
    page, number = site["finds/f-9/"], list(sizes).index(leading)
    (saved_sharp,) = [one.leading for one in plan.pages if one.path == "finds/f-9/index.html"]
    assert f"/p{number}-960." in (saved_sharp or "")
    (hero,) = [image["src"] for image in page.select(".hero img:not(.mist)")]
    assert f"/p{number}-" in hero
    assert f"/p{number}-" in site["finds/"].select_one(".frame img:not(.mist)")["src"]
    shown = [image["src"].rpartition("/")[2] for image in page.select("main figure img:not(.mist)")]
    assert 4 == len(shown) == len(set(shown)), "each photo once"
    assert "![" not in page.text
    assert text != IN_TEXT or "the cluster [left]" in page.text


NAMED = "id: F-7\ndate: 2025-09-12\nspecies: Flammulina velutipes\nplace: Alder Bank\nwhere: 58.30412, -8.90177 ±8 m"
PLACED = {
    "a.md": entry("find", NAMED),
    "b.md": entry("find", "id: F-8\ndate: 2025-09-13\nwhere: 58.31, -8.89 ±70 m"),
}
TRACK = Track("t.gpx", outline=(((58.304, -8.902), (58.306, -8.895)),))


def test_finds_with_a_position_are_on_the_map_in_the_words_of_their_rows(make_journal: Callable[..., Journal]) -> None:
    page = Rendered(plan_site(make_journal({**LINE, **PLACED}), {}, tracks=[TRACK]))["finds/"]
    rows = {row.select_one(".id").text: row for row in page.select("[data-point]")}
    assert {"F-7", "F-8"} == rows.keys()
    marks = {mark["href"]: mark["aria-label"] for mark in page.select(".marks a")}
    assert {"../finds/f-7/index.html", "../finds/f-8/index.html"} == marks.keys()
    for id, row in rows.items():
        for part in marks[f"../finds/{id.lower()}/index.html"].removeprefix(f"{id} ").split(", "):
            assert part in flat(row)
    assert "Flammulina velutipes, Alder Bank, 12 September 2025, ± 8 m" in marks["../finds/f-7/index.html"]
    assert page.select_one(".track")["d"].count("L") == 1
    assert "1 find without a position is not on it." in flat(page.main)
    assert 2 == len(page.select('script[src*="-map.js"]'))


def test_without_a_position_there_is_no_map(site: Make) -> None:
    page = site()["finds/"]
    assert page.select("[data-map], [data-point], script[src*='-map.js']") == []


@pytest.mark.parametrize(
    ("locality", "positions", "words"),
    [("hidden", "exact", None), ("exact", "hidden", None), ("area", "exact", "within"), ("exact", "exact", "± 8 m")],
)
def test_a_share_has_a_map_of_what_it_may_tell_and_never_a_track(
    make_journal: Callable[..., Journal], locality: str, positions: str, words: str | None
) -> None:
    told = {name: text.replace("date:", f"locality: {locality}\ndate:") for name, text in PLACED.items()}
    settings = f'[shares.s]\nabout = ["F-7"]\npositions = "{positions}"\n'
    journal = make_journal({"journal.toml": settings, **told})
    shared = redaction_of(journal, journal.settings.shares[0]).journal
    pages = Rendered(plan_site(shared, {}, share="s", tracks=[TRACK]))
    page, own = pages["finds/"], pages["finds/f-7/"].decode()
    assert 'href="geo:' not in own
    assert "maps.apple" not in own
    assert ("data-walk=" in own) is ("walk-back.js" in own) is (words == "± 8 m")
    assert page.select(".track") == []
    assert (words is not None) is bool(page.select("[data-map]"))
    if words is None:
        assert "58.3" not in page.decode()
    else:
        assert words in page.select_one(".marks a")["aria-label"]
        assert ("58.304" in page.decode()) is (words == "± 8 m")


def test_a_find_with_a_position_has_the_way_back_to_it(make_journal: Callable[..., Journal]) -> None:
    section = Rendered(plan_site(make_journal(PLACED), {}))["finds/f-7/"].select_one("[data-walk]")
    assert "58.3041200 -8.9017700 8" == section["data-walk"]
    assert "58.30412, -8.90177" == flat(section.select_one("[data-walk-text]"))
    link = section.select_one("[data-walk-link]")
    # RFC 5870 for geo:; what each kind of device opens is in the page for its script to choose
    assert "geo:58.30412,-8.90177?q=58.30412,-8.90177" == link["href"]
    assert "https://maps.apple.com/?ll=58.30412,-8.90177&q=58.30412,-8.90177" == link["data-walk-apple"]
    assert "not for rescue" in flat(section)


def test_a_find_without_a_position_has_no_way_back(site: Make) -> None:
    page = site()["finds/f-1/"]
    assert page.select("[data-walk], script[src*='walk']") == []


def test_the_authors_own_map_lies_beneath_where_its_points_say_and_in_no_share(
    make_journal: Callable[..., Journal],
) -> None:
    corners = (
        (0, 0, 58.314, -8.907),
        (1600, 0, 58.314, -8.885),
        (0, 1200, 58.302, -8.907),
        (1600, 1200, 58.3021, -8.885),
    )
    rows = ", ".join(f'{{x = {x}, y = {y}, position = "{lat}, {lon}"}}' for x, y, lat, lon in corners)
    toml = f'[[map]]\nfile = "maps/bank.png"\npoints = [{rows}]\n[shares.s]\nabout = ["F-7"]\npositions = "exact"\n'
    told = {name: text.replace("date:", "locality: exact\ndate:") for name, text in PLACED.items()}
    journal = make_journal({"journal.toml": toml, **told}, {"maps/bank.png": {"width": 1600, "height": 1200}})
    page = Rendered(plan_site(journal, published("maps/bank.png")))["finds/"]
    image = page.select_one(".ground image")
    assert "../photos/maps/p0-960.webp" == image["href"]
    a, b, c, d, e, f = map(float, image["transform"].removeprefix("matrix(").rstrip(")").split())
    centre = FlatMap(*map(float, page.select_one("[data-map]")["data-centre"].split()))
    for x, y, lat, lon in corners:  # the published picture is 960 × 720 px
        east, north = centre.metres(lat, lon)
        px, py = x * 0.6, y * 0.6
        assert (east, -north) == pytest.approx((a * px + c * py + e, b * px + d * py + f), abs=6)
    assert "placed by 4 points, which it misses by" in flat(page.select_one("figcaption"))
    shared = redaction_of(journal, journal.settings.shares[0]).journal
    page = Rendered(plan_site(shared, {}, share="s"))["finds/"]
    assert page.select("[data-map]")
    assert page.select("image, figcaption") == []
