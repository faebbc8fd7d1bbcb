"""The timeline of a batch on paper: one sheet of A4, on the author's own site as in a share."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from journal.model import Journal, LoggerFile
from journal.site.app import create_app
from journal.site.pages import plan_site
from journal.site.plan import Published, PublishedSize
from tests.browser.conftest import Look
from tests.browser.test_tents import pages_of
from tests.builders import entry, noted, write_static

pytestmark = pytest.mark.browser

ROOT = Path(__file__).parents[2]
A4 = [(pytest.approx(210, abs=0.5), pytest.approx(297, abs=0.5))]  # Source: ISO 216.
BATCHES = ("b-019", "b-026", "b-027", "b-028", "b-031", "b-032", "b-033")
DAY0 = date(2026, 3, 2)
SEEN = "Some words.\n"
SIZES = (PublishedSize(320, 240, 9000, "0a"), PublishedSize(960, 720, 50000, "0a"))


def on(day: int) -> str:
    return (DAY0 + timedelta(days=day)).isoformat()


def crowded() -> tuple[dict[str, str], dict[str, Any], list[LoggerFile]]:
    """Twelve bags, five flushes in 150 days, a tent that was set anew nine times, 30 photos, a logger by the hour."""
    files = {
        "journal.toml": '[journal]\ntitle = "Woods"\ntime_zone = "Europe/London"\n'
        '[tents.hut]\nname = "Wash-house tent"\n'
        'humidity = "85–95 %"\ntemperature = "12–18 °C"\n',
        "f.md": entry("find", id="F-1", date=on(-60), species="Pleurotus pulmonarius"),
        "c.md": entry("culture", id="C-1", from_="F-1", date=on(-50)),
        "doubt.md": noted(on(-40), "stage: doubtful", "C-1"),
        "b.md": "---\nkind: batch\nid: B-1\nculture: C-1\nunits: 12\ncontainer: bags\nwet mass: 2.3 kg\n"
        f"moisture: 62 %\nspawn mass: 150 g\ntent: hut\ndate: {on(0)}\n"
        "mix: oak pellets 5 kg, wheat bran 1 kg, water 8 kg\n---\n",
        "colonised.md": noted(on(20), "stage: colonised", text=SEEN),
        "lost.md": noted(on(24), "lost: 2\ncause: green mould", text=SEEN),
    }
    photos = {}
    for flush in range(5):
        day = 30 + 24 * flush
        for at, (name, keys) in enumerate((("pins", "stage: pinning"), ("picked", "stage: fruiting"),
                                            ("rest", "stage: resting"))):  # fmt: skip
            shown = [f"{name}-{flush}-{n}.jpg" for n in range(2)]
            keys += f"\nharvest: {900 - 120 * flush} g\nflush: {flush + 1}" if name == "picked" else ""
            files[f"{name}-{flush}.md"] = noted(on(day + 5 * at), f"{keys}\nphotos: [{', '.join(shown)}]", text=SEEN)
            photos |= {path: {"width": 960, "height": 720} for path in shown}
    for change in range(9):
        files[f"set-{change}.md"] = (
            f"---\nkind: tent\nabout: hut\nhumidity set point: {86 + change} %\nwhy: it was too dry at the back\n"
            f"date: {on(25 + 13 * change)}\n---\n"
        )
    start_s = datetime.combine(DAY0, datetime.min.time(), ZoneInfo("Europe/London")).timestamp()
    hours = range(24 * 150)
    log = LoggerFile(
        path="log.csv", tent="hut", stamps_s=tuple(start_s + 3600 * hour for hour in hours),
        temperature_c=tuple(14 + hour % 24 / 4 + hour % 7 / 10 for hour in hours),
        humidity_pct=tuple(84 + hour % 17 + hour % 3 / 10 for hour in hours), humidity_accuracy_pct=3,
    )  # fmt: skip
    return files, photos, [log]


@pytest.fixture(scope="module")
def crowded_site(make_journal: Callable[..., Journal], tmp_path_factory: pytest.TempPathFactory) -> Path:
    files, photos, logs = crowded()
    journal = make_journal(files, photos, logs=logs)
    published = {path: Published(f"p{n}", SIZES, "data:image/webp;base64,AAAA") for n, path in enumerate(photos)}
    site = plan_site(journal, published)
    place = tmp_path_factory.mktemp("crowded")
    write_static(place)
    page = place / "batches/b-1/index.html"
    page.parent.mkdir(parents=True)
    page.write_text(create_app(site.pages, ROOT / "templates").test_client().get("/batches/b-1/").text, "utf-8")
    return place


@pytest.fixture(scope="module")
def look(looking: Callable[..., Look], sample_site: Path) -> Look:
    return looking(sample_site)


def printed(page: Any) -> bytes:
    pdf: bytes = page.pdf(prefer_css_page_size=True)
    return pdf


@pytest.mark.parametrize("batch", BATCHES)
def test_every_run_of_the_sample_is_one_page_of_a4(look: Look, batch: str) -> None:
    assert A4 == pages_of(printed(look(f"batches/{batch}/index.html")))


def test_so_it_is_in_a_share_whatever_the_screen(looking: Callable[..., Look], mentor_share: Path) -> None:
    look = looking(mentor_share / "mentor/pages")
    for width, theme in ((390, "light"), (1280, "dark")):
        assert A4 == pages_of(printed(look("batches/b-031/index.html", width, theme))), width


def test_so_is_a_long_run_in_which_much_happened(looking: Callable[..., Look], crowded_site: Path) -> None:
    assert A4 == pages_of(printed(looking(crowded_site)("batches/b-1/index.html")))


@pytest.fixture
def paper(look: Look) -> Any:
    """The page of B-031 as it is laid out for paper."""
    return look("batches/b-031/index.html", 720, "dark", media="print")


@pytest.mark.parametrize(
    "part",
    [
        ".paperline", "h1", ".lede", ".runsheet .caution", "svg.timeline", "svg.timeline text.head >> nth=0",
        ".figures.four b >> nth=1", ".be b", "#crop ~ table", ".by-days table",
    ],
)  # fmt: skip
def test_it_holds_head_caution_run_figures_flushes_and_days(paper: Any, part: str) -> None:
    assert paper.locator(part).first.is_visible()


@pytest.mark.parametrize(
    "part", [".seen", ".entries", ".roots", "details:not(.by-days)", ".acts", "header.head", ".asof", "footer"]
)
def test_it_holds_no_sheets_of_photos_and_nothing_to_press(paper: Any, part: str) -> None:
    assert 0 == paper.locator(f"{part}:visible").count()


def test_it_says_of_which_journal_it_is_and_how_old_its_news_are(paper: Any) -> None:
    assert "Wash-house & Woods last entry 20 November 2026" == " ".join(paper.inner_text(".paperline").split())


def test_on_a_screen_there_is_a_button_for_it_and_no_line_for_paper(look: Look) -> None:
    page = look("batches/b-031/index.html", afresh=True)
    assert not page.locator(".paperline").is_visible()
    page.evaluate("globalThis.print = () => { document.title = 'printed'; }")
    page.click("text=Print this timeline")
    assert "printed" == page.title()
