"""Patches as their pages tell them, and what a device reads of what is near; in shares only where places are told."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import pytest

from journal.model import Journal
from journal.settings import Share
from journal.sharing.redact import redaction_of
from journal.site import addresses
from journal.site.pages import plan_site
from tests.builders import entry, some
from tests.sharing.made import files_of
from tests.site.pages.test_culture_pages import flat
from tests.site.test_pages import Rendered

HERE, BESIDE = "58.3041276, -8.9017741 ±8 m", "58.3042181, -8.9018952 ±8 m"
AWAY, FAR = "58.3049276, -8.9017741 ±8 m", "57.2049276, -7.4017741 ±8 m"
FILES = {
    "a.md": entry("find", id="F-1", date="2024-11-30 14:05", species="Flammulina velutipes", where=HERE, place="Slip"),
    "b.md": entry("find", id="F-2", date="2026-01-06", species="velvet foot", where=BESIDE, certainty="likely"),
    "c.md": entry("find", id="F-3", date="2025-10-01", species="Grifola frondosa", where=FAR, place="Brae"),
    "v1.md": entry("note", about="F-1", date="2025-11-20", stage="nothing there"),
    "v2.md": entry("note", about="F-1, F-2", date="2026-11-20", stage="prime"),
    "clone.md": entry("culture", id="C-1", from_="F-2", date="2026-01-07", vessels="3"),
}


@pytest.fixture(scope="module")
def site(make_journal: Callable[..., Journal]) -> Rendered:
    return Rendered(plan_site(make_journal(FILES), {}))


def spots_of(texts: Any) -> list[list[Any]]:
    found: list[list[Any]] = json.loads(re.sub(r"^globalThis.journalSpots = |;\s*$", "", dict(texts)[NEAR]))[0]
    return found


NEAR = addresses.NEAR_SPOTS


def test_a_patch_shows_its_visits_by_year_its_species_weeks_and_clones(site: Rendered) -> None:
    page = site["patches/f-1/"]
    assert ["2026", "2025", "2024"] == [flat(head) for head in page.select("#visits ~ h3")]
    years = [flat(words) for words in page.select("#visits ~ h3 + p")]
    assert years == [
        "2 visits, fruiting 6 January to 20 November 2026",
        "1 visit, not found fruiting",
        "1 visit, fruiting 30 November 2024",
    ]
    days = [flat(day) for day in page.select(".days li")]
    assert days == [
        "20 November 2026 · prime F-1 F-2", "6 January 2026 · found F-2", "20 November 2025 · nothing there F-1",
        "30 November 2024 · found F-1",
    ]  # fmt: skip
    figures = [flat(figure) for figure in page.select(".figures li")]
    assert "week 47 first week of fruiting: 20 November 2026" in figures
    # A season over New Year ends in the next.
    assert "week 2 last week of fruiting, after New Year: 6 January 2026" in figures
    assert "so this one runs over New Year" in flat(page.main)
    assert "Flammulina velutipes" == flat(page.select_one("h1 + p"))  # which one of its finds calls velvet foot
    assert ["C-1"] == [tag.text for tag in page.select("[aria-labelledby=cloned] .id")]


def test_the_days_since_the_last_look_are_left_to_the_device(site: Rendered) -> None:
    for path, mark in (("patches/f-1/", "data-age"), ("patches/", "data-ago")):
        (last,) = site[path].select(f"[{mark}]")
        assert ("2026-11-20", "20 November 2026") == (last[mark], last.text)


def test_a_patch_is_reached_from_finds_from_its_finds_and_from_the_list(site: Rendered) -> None:
    assert {"../patches/index.html", "../near-me/index.html"} <= {link["href"] for link in site["finds/"].select("a")}
    assert ["../patches/f-1/index.html"] == [link["href"] for link in site["patches/"].select(".title")]
    (link,) = site["finds/f-2/"].select(".slip dd a")
    assert ("F-1", "../../patches/f-1/index.html") == (link.text, link["href"])
    assert [] == site["finds/f-3/"].select(".slip dd a")
    assert '"patches/f-1/index.html","patch"' in "".join(text for path, text in site.site.texts if "search/" in path)


def test_a_place_is_told_with_the_circle_that_surely_holds_all(site: Rendered) -> None:
    assert "All within 17 m of 58.30417, −8.90183." in flat(site["patches/f-1/"].main)


def test_what_all_finds_of_a_patch_are_within_is_rounded_up_in_feet_too(make_journal: Callable[..., Journal]) -> None:
    """±20 m and the 2 m that the middle is rounded by are 72.18 ft (1 ft = 0.3048 m exactly: NIST SP 811, 2008)."""
    files = {
        "journal.toml": '[journal]\nunits = "us"\n',
        "a.md": entry("find", id="F-1", date="2026-01-06", where="58.3041276, -8.9017741 ±20 m", patch="Slip"),
        "b.md": entry("find", id="F-2", date="2026-01-07", where="58.3041276, -8.9017741 ±20 m", patch="Slip"),
    }
    site = Rendered(plan_site(make_journal(files), {}))
    assert "All within 73 ft of 58.30413, −8.90177." in flat(site["patches/patch_slip/"].main)


def test_where_patches_become_one_the_page_says_so_and_the_younger_address_leads_on(
    make_journal: Callable[..., Journal],
) -> None:
    more = {
        "d.md": entry("find", id="F-4", date="2025-09-01", where=AWAY),
        "e.md": entry("note", about="F-4", date="2025-10-01", stage="past"),
        "f.md": entry("find", id="F-5", date="2026-11-01", where="58.3045, -8.9017741 ±20 m"),
    }
    site = Rendered(plan_site(make_journal({**FILES, **more}), {}))
    assert ["F-5 made one of the patches F-1 and F-4."] == [
        flat(row) for row in site["patches/f-1/"].select(".caution")
    ]
    (link,) = site["patches/f-4/"].main.select("a")
    assert "../../patches/f-1/index.html" == link["href"]
    assert 1 == len(site["patches/"].select(".title"))


def test_an_address_stays_though_an_earlier_find_is_entered_later(make_journal: Callable[..., Journal]) -> None:
    before = Rendered(plan_site(make_journal(FILES), {}))
    assert "F-1" == flat(before["patches/f-1/"].h1)  # the patch, under its earliest find
    earlier = {"z.md": entry("find", id="F-0", date="2020-01-01", where=HERE)}
    after = Rendered(plan_site(make_journal({**FILES, **earlier}), {}))
    (link,) = after["patches/f-1/"].main.select("a")
    assert "../../patches/f-0/index.html" == link["href"]


@pytest.mark.parametrize("renamed", ["F-1", "F-2"])
def test_an_address_leads_on_though_its_find_gets_another_id(
    make_journal: Callable[..., Journal], renamed: str
) -> None:
    files = {path: text.replace(f"id: {renamed}\n", f"id: F-9\nformerly: {renamed}\n") for path, text in FILES.items()}
    site = Rendered(plan_site(make_journal(files), {}))
    (link,) = site[f"patches/{renamed.lower()}/"].main.select("a")
    assert f"../../patches/{'f-9' if renamed == 'F-1' else 'f-1'}/index.html" == link["href"]


def test_an_old_address_leads_on_by_itself_and_is_no_more_than_that(site: Rendered) -> None:
    old, patch = site["patches/f-2/"], site["patches/f-1/"]
    policy, refresh = "meta[http-equiv=Content-Security-Policy]", "meta[http-equiv=refresh]"
    assert old.head.find() == old.select_one(policy) == patch.select_one(policy)
    assert "0; url=../../patches/f-1/index.html" == old.select_one(refresh)["content"]
    assert "This address now belongs to the patch F-1 ." == flat(old.main.p)
    assert old.title == patch.title
    assert [] == old.select("header, footer, nav, style")
    assert [] == patch.select(refresh)
    (page,) = (page for page in site.site.pages if page.path == "patches/f-2/index.html")
    assert len(page.text) < 1400  # there is one for almost every find


def test_what_a_patch_is_called_is_only_words_on_the_page_of_an_old_address(
    make_journal: Callable[..., Journal],
) -> None:
    name = '<i>{site}</i> & "slip"'
    files = {path: text.replace("id: F-", f"patch: '{name}'\nid: F-") for path, text in FILES.items()}
    old = Rendered(plan_site(make_journal(files), {}))["patches/f-1/"]
    assert name == old.h1.text == old.a.text
    assert old.a["href"] == old.select_one("meta[http-equiv=refresh]")["content"].removeprefix("0; url=")


def test_near_me_has_a_row_a_patch_and_a_row_for_each_find_of_none(site: Rendered) -> None:
    patch, alone = spots_of(site.site.texts)
    assert patch == [
        "F-1", "patches/f-1/index.html", "Flammulina velutipes", "patch",
        [[58.3041276, -8.9017741, 8.0], [58.3042181, -8.9018952, 8.0]],
        ["2024-11-30", "2026-01-06", "2026-11-20"], "2026-11-20", "weeks 47 to 2, over New Year",
        [["F-1", "finds/f-1/index.html"], ["F-2", "finds/f-2/index.html"]],
    ]  # fmt: skip
    assert ["F-3", "find", [[57.2049276, -7.4017741, 8.0]], "week 40"] == [alone[at] for at in (0, 3, 4, 7)]


def test_with_no_place_known_the_pages_say_so(make_journal: Callable[..., Journal]) -> None:
    site = Rendered(plan_site(make_journal({"a.md": entry("find", id="F-1", date="2026-09-12")}), {}))
    assert "No patches yet" in flat(site["patches/"].main)
    assert "No find has a position yet." in flat(site["near-me/"].main)
    assert [] == spots_of(site.site.texts)


# -- shares --------------------------------------------------------------------------------------------------------

NAMED = {name: text.replace("id: F-", "patch: Zzyzxhollow\nid: F-") for name, text in FILES.items()}


def shared(make: Callable[..., Journal], localities: dict[str, str], positions: Any, area_deg: float = 0.001) -> Any:
    """A share of both finds and the clone, each find with its own `locality`."""
    files = {
        name: text.replace("kind: find", f"kind: find\nlocality: {localities.get(name[0], 'hidden')}")
        for name, text in NAMED.items()
    }
    share = Share(
        name="m", about=("F-1", "F-2", "F-3"), positions=positions, area_deg=area_deg, times="day", texts="all"
    )
    redaction = redaction_of(make(files), share)
    return files_of(redaction, {}, "share")


@pytest.mark.parametrize(
    ("localities", "positions"),
    [({}, "exact"), ({"a": "exact", "b": "exact"}, "hidden"), ({"a": "area", "b": "area"}, "exact"),
     ({"a": "exact", "b": "exact"}, "area")],
)  # fmt: skip
def test_a_share_that_shows_no_place_has_no_patches_and_nothing_near(
    localities: dict[str, str], positions: str, make_journal: Callable[..., Journal]
) -> None:
    """Two finds in one cell of the finest grid: not even that they are near each other is told."""
    files = shared(make_journal, localities, positions)
    assert [] == [path for path in files if "patch" in path or "near" in path]
    whole = "\n".join(content.decode() for content in some(files.values(), 10)).lower()
    assert [] == [word for word in ("patches/", "near-me", "near me", "zzyzxhollow", ">patch<") if word in whole]


def test_a_share_has_the_patches_of_the_places_that_it_tells_and_of_no_other(
    make_journal: Callable[..., Journal],
) -> None:
    files = shared(make_journal, {"a": "exact"}, "exact")
    assert {"patches/index.html", "near-me/index.html", NEAR} <= files.keys()
    (only,) = spots_of({NEAR: files[NEAR].decode()}.items())
    assert ("F-1", [[58.3041276, -8.9017741, 8.0]]) == (only[0], only[4])
    whole = "\n".join(content.decode() for content in files.values())
    assert [] == [word for word in ("58.30421", "Zzyzxhollow") if word in whole]
    both = shared(make_journal, {"a": "exact", "b": "exact"}, "exact")
    old, patch = (both[f"patches/{key}/index.html"].decode() for key in ("f-2", "f-1"))
    assert "url=../../patches/f-1/index.html" in old
    assert ["connect-src 'none'"] == re.findall("connect-src [^;]+", old) == re.findall("connect-src [^;]+", patch)


def test_a_patch_has_a_map_of_its_finds_in_the_words_of_its_list(site: Rendered) -> None:
    page = site["patches/f-1/"]
    assert {"F-1", "F-2"} == {row.select_one(".id").text for row in some(page.select("[data-point]"))}
    assert ["± 8 m", "± 8 m"] == [flat(row)[-5:] for row in page.select("[data-point]")]
    assert 1 == len(page.select("figure[data-map] svg.map"))
    assert 2 == sum(int(count.text) for count in page.select(".count")) + len(page.select(".marks a"))
