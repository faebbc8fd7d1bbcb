"""Pages, from the model to their HTML."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup
from jinja2 import Environment, UndefinedError
from markupsafe import Markup

from journal.analysis.sun import sun_times
from journal.model import Journal
from journal.reading.key_help import help_of
from journal.reading.keys import KINDS
from journal.site.app import ROUTES, create_app
from journal.site.memory import Memory
from journal.site.pages import plan_site
from journal.site.plan import PagesLater, Planned, Published, PublishedSize, Site
from journal.unexpected import page_worked_on
from tests.builders import some

OF_LONG_LISTS = frozenset({"part", "rows"})
"""Endpoints of the folded parts of lists, which a short journal has none of."""

TEMPLATES = Path(__file__).parent.parent.parent / "templates"

FIND = "---\nkind: find\nid: F26-001\ndate: 2026-09-12 14:00\nspecies: Pleurotus pulmonarius\ncertainty: likely\n"
WOOD = {
    "journal.toml": '[journal]\ntitle = "Woods"\nauthor = "Night porter"\ntime_zone = "Europe/London"\n'
    '[tents.wash-house]\nname = "Wash-house tent"\n[tents.wash-house.every]\ntank = "7 d"\n',
    "finds/f/find.md": FIND
    + "where: 58.30412, -8.90177 ±8 m\nplace: Alder Bank\npatch: alder log\n---\nOn the log. See B-031.\n",
    "cultures/PP-26A.md": "---\nkind: culture\nid: PP-26A\nfrom: F26-001\nform: plate\nvessels: 6\ndate: 2026-09-13\n---\n",  # noqa: E501
    "batches/B-031/batch.md": "---\nkind: batch\nid: B-031\nculture: PP-26A\nunits: 4\nwet mass: 2.3 kg\n"
    "moisture: 62 %\ntent: wash-house\ndate: 2026-10-06\n---\n",
    "batches/B-031/pins.md": "---\nkind: note\nabout: B-031\nstage: pinning\ndate: 2026-10-27\n"
    "next: 2026-11-01 pick it\n---\nOn B-031.2 too.\n",
    "batches/B-031/lost.md": "---\nkind: note\nabout: B-031.3\nlost: 1\ncause: green mould\ndate: 2026-10-17\n---\n",
    "batches/B-031/picked.md": "---\nkind: note\nabout: B-031\nharvest: 1290 g\nflush: 1\ndate: 2026-11-01\n"
    "by: The ferry baker\ndone: pick it\n---\n",
    "batches/B-031/again.md": "---\nkind: note\nabout: B-031\ndate: 2026-11-01\ntitle: later that day\n---\n",
    "tents/set.md": "---\nkind: tent\nabout: wash-house\nhumidity set point: 92 %\nlight: 06:30–18:30\n"
    "humidity reading: 86 %\ndoor: open\nserviced: tank emptied\ndate: 2026-10-20 07:00\n---\nBy fan-1.\n",
    "devices/fan-1.md": "---\nkind: device\nid: fan-1\ntent: wash-house\ndoes: fan\npowered by: north wall socket\n"
    "date: 2026-01-02\n---\n",
}


class Rendered:
    """A site rendered in memory: path -> soup."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.client = create_app(site.pages, TEMPLATES).test_client()

    def __getitem__(self, path: str) -> BeautifulSoup:
        answer = self.client.get("/" + path)
        assert answer.status_code == 200
        return BeautifulSoup(answer.text, "html.parser")

    def words(self, path: str) -> str:
        return " ".join(self[path].main.get_text(" ").split())


def published(*paths: str) -> dict[str, Published]:
    sizes = (PublishedSize(320, 240, 9000, "0a"), PublishedSize(960, 720, 50000, "0a"))
    return {path: Published(f"p{n}", sizes, "data:image/webp;base64,AAAA") for n, path in enumerate(paths)}


@pytest.fixture(scope="session")
def render(make_journal: Callable[..., Journal]) -> Callable[..., Rendered]:
    """Gives the rendered site of WOOD with these files on top."""

    def make(
        files: Mapping[str, str] | None = None,
        photos: Mapping[str, Any] | None = None,
        shown: tuple[str, ...] | None = None,
    ) -> Rendered:
        journal = make_journal({**WOOD, **(files or {})}, photos or {})
        return Rendered(plan_site(journal, published(*(shown if shown is not None else (photos or {})))))

    return make


@pytest.fixture(scope="session")
def wood(render: Callable[..., Rendered]) -> Rendered:
    return render()


def test_every_planned_page_has_a_route_and_every_route_a_page(wood: Rendered) -> None:
    assert {endpoint for endpoint, _ in ROUTES} - OF_LONG_LISTS == {page.endpoint for page in wood.site.pages}
    for page in some(wood.site.pages):
        assert 200 == wood.client.get("/" + page.path.removesuffix("index.html")).status_code


def test_every_page_may_be_planned_elsewhere_and_is_the_same(make_journal: Callable[..., Journal]) -> None:
    journal = make_journal(WOOD, {})
    left: list[Planned] = []

    def make(planned: Sequence[Planned], meanwhile: Callable[[], Any]) -> tuple[Any, ...]:
        left.extend(planned)
        made = [row.make() for row in planned if isinstance(row, PagesLater)]
        return tuple(page for pages, _ in made for page in pages), {}, meanwhile()

    here, elsewhere = plan_site(journal, {}), plan_site(journal, {}, make=make)
    assert [(page.path, page.digest("1")) for page in here.pages] == [
        (page.path, page.digest("1")) for page in elsewhere.pages
    ]
    assert here.texts == elsewhere.texts
    assert all(isinstance(row, PagesLater) for row in some(left))


AT_FAULT = {
    "index.html": "now._now",
    "due/index.html": "now.folded",
    "finds/index.html": "finds.season_chart",
    "finds/f26-001/index.html": "finds._find",
    "patches/index.html": "patch_pages._latest_first",
    "near-me/index.html": "patch_pages._spots",
    "patches/patch_alder_log/index.html": "patch_pages.map_of_finds",
    "cultures/index.html": "cultures.list_pages",
    "cultures/pp-26a/index.html": "cultures._culture",
    "cultures/compare/index.html": "compare_lines.pages",
    "batches/index.html": "batches._list_pages",
    "batches/b-031/index.html": "batches.page",
    "plan/index.html": "planning_page.pages",
    "losses/index.html": "losses_page.pages",
    "costs/index.html": "costs_page._figures",
    "tents/index.html": "tents._list_pages",
    "tents/wash-house/index.html": "tents._climate",
    "tents/wash-house/power/index.html": "tents._power",
    "tents/wash-house/history/index.html": "tents._history",
    "tents/wash-house/door/index.html": "tents._door",
    "diary/index.html": "diary._list_pages",
    "diary/2026-01/index.html": "diary._month",
    "calculators/index.html": "calculators.pages",
    "record/index.html": "record.pages",
    "device/index.html": "device._authors",
    "device/format/index.html": "device._format",
    "labels/index.html": "printed_labels._current",
}
"""The address of each kind of page, and what fails while it is planned."""


@pytest.mark.parametrize("is_kept", [False, True])
@pytest.mark.parametrize("address", AT_FAULT)
def test_a_fault_while_a_page_is_planned_tells_which(
    make_journal: Callable[..., Journal], monkeypatch: pytest.MonkeyPatch, address: str, is_kept: bool
) -> None:
    def fails(*_: object) -> Any:
        raise ZeroDivisionError("division by zero")

    def make(planned: Sequence[Planned], meanwhile: Callable[[], Any]) -> Any:
        return [row.make() for row in planned if isinstance(row, PagesLater)]

    journal = make_journal(WOOD, {})
    monkeypatch.setattr(f"journal.site.pages.{AT_FAULT[address]}", fails)
    with pytest.raises(ZeroDivisionError) as raised:
        plan_site(journal, {}, **({"memory": Memory()} if is_kept else {"make": make}))
    assert address == page_worked_on(raised.value)


def test_a_template_gets_what_a_mapping_has_before_what_mappings_can_do() -> None:
    environment = create_app([], TEMPLATES).jinja_env
    template = environment.from_string("{{ row.items }} {{ other.items()|length }} {{ row.none is defined }}")
    assert "four 1 False" == template.render(row={"items": "four"}, other={"a": 1})


@pytest.mark.parametrize(
    "value", ["<a href=\"b\">'c' & d</a>", "plain words", "", Markup("<i>&</i>"), 5, -0.0, 0.0, 1, True, None, ["<"]]
)
def test_what_a_template_puts_out_is_escaped_as_jinja_does(value: object) -> None:
    puts_out = (
        "{% macro m(v) %}<p>{{ v }}</p>{% endmacro %}{{ v }} {{ m(v) }} {{ m(m(v)) }} {% set s %}{{ v }}{% endset %}"
    )
    puts_out += "{{ s }} {{ [v, s]|join('<') }} {{ v if v is string }}"
    here, plain = create_app([], TEMPLATES).jinja_env, Environment(autoescape=True)
    assert plain.from_string(puts_out).render(v=value) == here.from_string(puts_out).render(v=value)


def test_what_is_not_there_is_not_put_out() -> None:
    with pytest.raises(UndefinedError, match="'v' is undefined"):
        create_app([], TEMPLATES).jinja_env.from_string("{{ v }}").render()


def test_a_page_that_is_not_planned_is_not_there(wood: Rendered) -> None:
    assert 404 == wood.client.get("/finds/f99-999/").status_code


@pytest.mark.parametrize(
    "path",
    [
        "",
        "finds/",
        "finds/f26-001/",
        "cultures/pp-26a/",
        "batches/b-031/",
        "tents/wash-house/",
        "diary/2026-10/",
        "calculators/",
        "device/",
        "device/problems/",
        "device/format/",
        "device/safety/",
    ],
)
def test_every_page_can_be_searched_and_has_the_policy_first_and_no_inline_style(wood: Rendered, path: str) -> None:
    soup = wood[path]
    first = soup.head.find()
    assert "Content-Security-Policy" == first["http-equiv"]
    assert 1 == len(soup.select("header input[data-search]"))
    assert [] == soup.select("[style], style, script:not([src])")


def test_every_link_of_every_page_leads_to_a_file_that_is_planned(wood: Rendered) -> None:
    planned = {page.path for page in wood.site.pages} | {path for path, _ in wood.site.texts}
    for page in some(wood.site.pages, 10):
        base = "/" + page.path.removesuffix("index.html")
        least = 5 if page.text is None else 1  # a finished page only leads on
        for link in some(wood[base.lstrip("/")].select("main a[href], header a[href], footer a[href]"), least):
            target = str(link["href"])
            if target.startswith(("tel:", "geo:", "#")):
                continue
            whole = Path("/site" + base, target.partition("#")[0].partition("?")[0]).resolve().relative_to("/site")
            assert str(whole) in planned, (page.path, target)


def test_every_anchor_that_is_linked_is_there(wood: Rendered) -> None:
    tried = 0
    for page in wood.site.pages:
        base = page.path.removesuffix("index.html")
        for link in wood[base].select("a[href*='#']"):
            path, _, anchor = str(link["href"]).partition("#")
            if anchor.startswith("?"):
                continue  # values for a form, no place on a page
            target = Path("/site/" + base, path).resolve().relative_to("/site") if path else Path(page.path)
            assert wood[str(target).removesuffix("index.html")].find(id=anchor) is not None, (page.path, link["href"])
            tried += 1
    assert tried > 10


def test_a_find_leads_to_its_cultures_a_culture_to_its_batches_and_a_batch_back_to_the_wood(wood: Rendered) -> None:
    assert wood["finds/f26-001/"].select_one("a[href='../../cultures/pp-26a/index.html']")
    assert wood["cultures/pp-26a/"].select_one("a[href='../../batches/b-031/index.html']")
    back = [a["href"] for a in wood["batches/b-031/"].select(".chain a")]
    assert ["../../finds/f26-001/index.html", "../../cultures/pp-26a/index.html"] == back


@pytest.mark.parametrize("path", ["finds/f26-001/", "cultures/pp-26a/", "batches/b-031/", "batches/", ""])
def test_identity_not_confirmed_follows_a_find_to_its_harvests(wood: Rendered, path: str) -> None:
    assert "identity not confirmed" in wood.words(path).lower()


def test_a_confirmed_find_has_no_such_mark(render: Callable[..., Rendered]) -> None:
    find = FIND.replace("likely", "confirmed\nidentified by: the ferry baker, microscopy") + "---\n"
    sure = render({"finds/f/find.md": find})
    for path in ("cultures/pp-26a/", "batches/b-031/"):
        assert "identity not confirmed" not in sure.words(path).lower()


def test_a_later_identification_rules_on_the_slip_and_the_first_stays_as_history(
    render: Callable[..., Rendered],
) -> None:
    note = "---\nkind: note\nabout: F26-001\nspecies: Pleurotus ostreatus\ncertainty: unsure\ndate: 2026-10-01\n---\n"
    soup = render({"finds/f/note.md": note})["finds/f26-001/"]
    assert "Pleurotus ostreatus" == soup.select_one(".slip h1").text.strip()
    assert "named Pleurotus ostreatus, unsure" in soup.main.get_text()


def test_the_sun_is_looked_up_for_a_find_whose_page_is_rendered(
    make_journal: Callable[..., Journal], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []
    monkeypatch.setattr("journal.site.pages.finds.sun_times", lambda *there: asked.append(there) or sun_times(*there))
    site = plan_site(make_journal(WOOD, {}), {})
    assert all(page.digest("1") for page in some(site.pages))
    assert asked == []
    assert "sun" in Rendered(site).words("finds/f26-001/")
    assert asked == [(58.30412, -8.90177, date(2026, 9, 12))]


def test_the_slip_gives_the_position_with_its_uncertainty_and_other_notations(wood: Rendered) -> None:
    words = wood.words("finds/f26-001/")
    assert "58.30412, −8.90177 ± 8 m" in words
    assert "geo:58.30412,-8.90177;u=8" in words


def test_a_radius_is_told_alike_wherever_it_is_told(make_journal: Callable[..., Journal]) -> None:
    us = Rendered(plan_site(make_journal({**WOOD, "journal.toml": '[journal]\nunits = "us"\n'}), {}))
    told = {found for at in ("finds/f26-001/", "finds/") for found in re.findall(r"± [\d.]+ \w+", us.words(at))}
    assert {"± 27 ft"} == told


def test_the_notes_of_one_day_have_anchors_of_their_own(wood: Rendered) -> None:
    anchors = [article["id"] for article in wood["batches/b-031/"].select("article.entry")]
    assert ["2026-11-01-2", "2026-11-01", "2026-10-27", "2026-10-17"] == anchors  # the newest first


def test_what_names_an_id_elsewhere_is_listed_on_its_page(wood: Rendered) -> None:
    leads = [a["href"] for a in wood["batches/b-031/"].select("section[aria-labelledby=named] a:not(.id)")]
    assert ["../../finds/f26-001/index.html"] == leads
    assert wood["batches/b-031/"].select_one("details:not([open]) > summary > #named")
    tent = [a["href"] for a in wood["tents/wash-house/"].select("section[aria-labelledby=named] a:not(.id)")]
    assert ["../../batches/b-031/index.html"] == tent


def test_a_batch_shows_what_was_begun_lost_and_harvested(wood: Rendered) -> None:
    words = wood.words("batches/b-031/")
    picked = "1.29 kg harvested, trimmed and unwashed, so far"
    for part in ("4 units inoculated", "1 lost: green mould", picked, "874 g dry substrate"):
        assert part in words
    assert "by The ferry baker" in words
    assert "by Night porter" not in words.partition("Entries")[2].partition("Origin")[0]


def test_what_was_to_be_done_is_due_until_a_later_entry_has_done_it(render: Callable[..., Rendered]) -> None:
    undone = {"batches/B-031/picked.md": "---\nkind: note\nabout: B-031\ndate: 2026-11-02\n---\n"}
    assert "pick it" in render(undone)[""].select_one("[data-due-list]").text.lower()
    assert "pick it" not in render()[""].select_one("[data-due-list]").text.lower()


def test_now_carries_dates_and_no_words_that_age(wood: Rendered) -> None:
    soup = wood[""]
    assert "2026-10-06" == soup.select_one("[data-day0]")["data-day0"]
    # The tank: 20 October + 7 d. The next flush, by its last day: the first on 1 November + 7 to 10 d.
    assert {"2026-10-27", "2026-11-11"} == {row["data-row-due"] for row in soup.select("[data-row-due]")}
    assert "86 %" in soup.select_one(".air").text
    assert not soup.html.has_attr("data-as-of")


def test_as_of_overrides_today_and_says_so_on_every_page(render: Callable[..., Rendered]) -> None:
    toml = WOOD["journal.toml"].replace("[tents.wash-house]\n", "as_of = 2026-11-25\n[tents.wash-house]\n", 1)
    site = render({"journal.toml": toml})
    for path in ("", "finds/f26-001/", "device/problems/"):
        assert "2026-11-25" == site[path].html["data-as-of"]
        assert "Shown as of 25 November 2026" in site[path].body.text


def test_a_device_is_in_the_tree_of_its_tent(wood: Rendered) -> None:
    page = wood["tents/wash-house/power/"]
    (tree,) = (feed for feed in page.select(".feeds > li") if feed.find(id="fan-1"))
    assert "North wall socket" in tree.text
    assert tree.select_one("a.id[href='../../../tents/wash-house/power/index.html#fan-1']")


def test_a_device_in_no_known_tent_is_on_the_list_of_tents_with_its_notes(render: Callable[..., Rendered]) -> None:
    files = {
        "devices/p.md": "---\nkind: device\nid: probe-9\ntent: barn\ndate: 2026-01-02\n---\n",
        "devices/n.md": "---\nkind: note\nabout: probe-9\nstage: faulty\ndate: 2026-02-02\n---\n",
    }
    page = render(files)["tents/"]
    assert page.find(id="probe-9") is not None
    assert page.find("article", id="2026-02-02") is not None


def test_photos_stand_with_sizes_and_srcset_and_the_first_is_not_lazy(render: Callable[..., Rendered]) -> None:
    photos = {"finds/f/a.jpg": {"taken": "2026-09-12T14:05+01:00"}, "finds/f/b.jpg": {}}
    soup = render(photos=photos)["finds/f26-001/"]
    first, second = soup.select("main .pic img:not(.mist)")
    assert "../../photos/2026-09/p0-320.webp 320w, ../../photos/2026-09/p0-960.webp 960w" == first["srcset"]
    assert ("960", "720") == (first["width"], first["height"])
    assert (None, "lazy") == (first.get("loading"), second.get("loading"))
    assert "14:05" in soup.figcaption.text


def test_a_photo_that_cannot_be_decoded_still_stands_with_its_time(render: Callable[..., Rendered]) -> None:
    soup = render(photos={"finds/f/a.jpg": {"taken": "2026-09-12T14:05+01:00"}}, shown=())["finds/f26-001/"]
    assert "cannot be decoded (taken 12 September 2026, 14:05)" in soup.select_one(".lost-picture").text


def test_the_authors_home_is_on_no_page(render: Callable[..., Rendered]) -> None:
    home = {"lat_deg": 58.29123, "lon_deg": -8.95321, "uncertainty_m": 4.0}
    site = render(photos={"batches/B-031/p.jpg": home, "cultures/q.jpg": home})
    for page in some(site.site.pages, 10):
        html = str(site[page.path.removesuffix("index.html")])
        assert "58.29" not in html
        assert "8.95" not in html


def test_code_in_a_problem_is_set_as_code(render: Callable[..., Rendered]) -> None:
    lost = "---\nkind: note\nabout: B-031\ndate: 2026-11-01\nharvest: 200 g\n---\n"
    page = render({"batches/lost.md": lost})["device/problems/"].main
    assert "flush: 1" in [code.get_text() for code in page.select("p code")]
    assert "`" not in page.get_text()


def test_problems_are_on_a_page_of_their_own_with_file_and_line(render: Callable[..., Rendered]) -> None:
    words = render({"finds/g/find.md": "---\nkind: find\nid: F26-002\ndate: 2026-09-12\nsmel: mealy\n---\n"}).words(
        "device/problems/"
    )
    assert "finds/g/find.md" in words
    assert "line 5" in words
    assert "smell" in words


def test_the_format_page_tells_every_key_of_every_kind_as_journal_keys_does(wood: Rendered) -> None:
    soup = wood["device/format/"]
    for kind in KINDS:
        section = soup.find(id=kind).find_parent("section")
        assert [row.name for row in help_of(kind)] == [name.text for name in section.select("h3 > code")]
        examples = [pairs.select("dd > code")[-1].text for pairs in section.select("dl")]
        assert [row.example for row in help_of(kind)] == examples
    harvest = " ".join(soup.find(id="note-harvest").find_parent(class_="key").text.split())
    assert "harvest Fresh mass harvested, trimmed and unwashed Takes" in harvest
    assert "a number in g, kg, oz or lb" in harvest
    assert "`" not in soup.text
    assert wood["batches/b-031/"].select("footer a[href='../../device/format/index.html']")


def test_the_format_page_is_with_the_first_that_a_device_holds(wood: Rendered) -> None:
    (page,) = (page for page in wood.site.pages if page.endpoint == "format")
    assert (True, "main") == (page.growing, page.section)


def test_a_problem_that_settings_fix_has_their_lines_to_paste(render: Callable[..., Rendered]) -> None:
    fan = "---\nkind: device\nid: fan-9\ntent: cellar\ndate: 2026-01-02\n---\n"
    lines = render({"devices/f.md": fan})["device/problems/"].select_one("pre").text.splitlines()
    assert ["[tents.cellar]", 'name = "Cellar"'] == lines[:2]


def test_an_empty_journal_has_pages_that_say_so(make_journal: Callable[..., Journal]) -> None:
    site = Rendered(plan_site(make_journal({}), {}))
    assert "There are no entries yet" in site.words("")
    for path in ("finds/", "cultures/", "batches/", "tents/", "diary/", "device/problems/"):
        assert site[path].select_one(".empty") or path == "device/problems/"


def test_masses_are_shown_in_the_units_of_the_settings(render: Callable[..., Rendered]) -> None:
    toml = WOOD["journal.toml"].replace('title = "Woods"', 'title = "Woods"\nunits = "us"')
    assert "2 lb 13.5 oz" in render({"journal.toml": toml}).words("batches/b-031/")


def test_the_same_journal_gives_the_same_plan(make_journal: Callable[..., Journal]) -> None:
    one, two = (plan_site(make_journal(dict(order)), {}) for order in (WOOD, reversed(WOOD.items())))
    assert [page.digest("1") for page in one.pages] == [page.digest("1") for page in two.pages]
    assert one.texts == two.texts
