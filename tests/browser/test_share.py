"""A share as its reader opens it: unpacked, by double click, on a phone-sized screen, with the network off."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from shutil import copytree
from typing import Any

import pytest

from tests.browser.conftest import WIDTHS, Look, Visit, until
from tests.browser.test_sample import OF_COLOUR, found_by_axe
from tests.builders import some
from tests.conftest import run_journal

pytestmark = pytest.mark.browser

SCREEN = {"width": 390, "height": 844}
CALLED = "B-031, 20 November 2026"
PAGES = (
    "index.html", "batches/b-031/index.html", "finds/f26-001/index.html", "cultures/pp-26a/index.html",
    "tents/wash-house/index.html", "diary/2026-11/index.html", "device/index.html",
)  # fmt: skip


@pytest.fixture(scope="module")
def unpacked(mentor_share: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample's zip, unpacked as its reader would."""
    folder = tmp_path_factory.mktemp("mentor")
    with zipfile.ZipFile(mentor_share / "mentor/mentor.zip") as packed:
        packed.extractall(folder)
    return folder


@pytest.fixture
def reader(browser: Any) -> Iterator[Visit]:
    """A browser with no network, on a phone-sized screen."""
    context = browser.new_context(viewport=SCREEN, offline=True)
    yield Visit.of(context)
    context.close()


def says(visit: Visit) -> str:
    return str(visit.page.inner_text("[data-since-status]"))


def test_every_page_opens_with_no_network_and_asks_for_nothing_but_its_folders_files(
    reader: Visit, unpacked: Path
) -> None:
    for page in some(sorted(unpacked.rglob("*.html")), 5):
        reader.page.goto(page.as_uri())
        assert reader.page.inner_text("h1")
    assert [] == reader.complaints
    inside = f"{unpacked.as_uri()}/"
    assert [] == [url for url in reader.requests if not url.startswith((inside, "data:"))]


def test_the_first_page_says_what_is_new_then_what_grows_and_leads_to_the_run(reader: Visit, unpacked: Path) -> None:
    reader.page.goto((unpacked / "index.html").as_uri())
    assert "first visit" in says(reader)
    assert "day 50" == reader.page.inner_text("[data-day0='2026-10-06']")
    reader.page.click("text=Its timeline, day by day")
    box = reader.page.locator("svg.timeline").bounding_box()
    assert 300 < box["width"] <= 390
    assert reader.page.locator("svg.timeline path.trace").count() == 2
    assert reader.page.locator("svg.timeline image").first.evaluate("(image) => image.getBBox().width") == 64


@pytest.mark.parametrize(
    ("typed", "title"),
    [("B-031", "Phoenix oyster, four blocks"), ("b031", "Phoenix oyster, four blocks"), (CALLED, "Third pins"),
     ("B-031, 20 November", "Third pins"), ("b-031 8 november", "Second pins")],
)  # fmt: skip
def test_the_search_finds_an_id_and_an_entry_by_what_it_is_called_aloud(
    reader: Visit, unpacked: Path, typed: str, title: str
) -> None:
    reader.page.goto((unpacked / "index.html").as_uri())
    reader.page.fill("[data-search]", typed)
    reader.page.wait_for_selector("a.search-hit")
    hit = reader.page.locator("a.search-hit").first
    assert (title, "B-031") == (hit.locator(".search-title").inner_text(), hit.locator(".search-id").inner_text())
    hit.click()
    assert reader.page.url.startswith((unpacked / "batches/b-031/index.html").as_uri())


def test_a_photo_opens_at_its_full_published_size(reader: Visit, unpacked: Path) -> None:
    reader.page.goto((unpacked / "batches/b-031/index.html").as_uri())
    address = reader.page.get_attribute(".entry figure a", "href")
    wanted = int(re.search(r"-(\d+)\.webp$", address)[1])  # type: ignore[index, arg-type]
    assert wanted >= 1200
    reader.page.click(".entry figure a")
    reader.until("document.querySelector('.viewer .stage figure:last-child img')?.complete")
    assert wanted == reader.page.evaluate("document.querySelector('.viewer figure:last-child img').naturalWidth")


def test_a_table_sorts_and_the_theme_is_kept_from_page_to_page(reader: Visit, unpacked: Path) -> None:
    reader.page.goto((unpacked / "device/index.html").as_uri())
    reader.page.click("[data-theme-to='dark']")
    reader.page.goto((unpacked / "cultures/index.html").as_uri())
    assert "dark" == reader.page.get_attribute("html", "data-theme")
    reader.page.click("th button >> nth=0")
    names = reader.page.evaluate(
        "[...document.querySelectorAll('.cultures tbody tr')].map((row) => row.cells[0].dataset.sort)"
    )
    assert len(names) == 7
    assert sorted(names) == names


# Asking


def open_panel(reader: Visit, unpacked: Path) -> Any:
    """The panel under the entry of 20 November."""
    reader.page.goto((unpacked / "batches/b-031/index.html").as_uri())
    reader.page.click(f"[aria-label='Ask about this: {CALLED}']")
    return reader.page.locator("[id='2026-11-20'] .ask")


def test_an_entry_has_its_address_beside_it_and_a_message_to_begin_with(reader: Visit, unpacked: Path) -> None:
    panel = open_panel(reader, unpacked)
    assert CALLED == reader.page.inner_text("[id='2026-11-20'] .reference span")
    wanted = f"About {CALLED} in Wash-house & Woods\nPinning, Third pins\nbatches/b-031/index.html#2026-11-20\n\n"
    assert wanted == panel.locator("textarea").input_value()
    assert "TEXTAREA" == reader.page.evaluate("document.activeElement.tagName")
    reader.page.keyboard.type("Too dry?")
    assert wanted + "Too dry?" == panel.locator("textarea").input_value()


def test_what_was_written_is_copied_and_nothing_is_sent(reader: Visit, unpacked: Path) -> None:
    reader.page.add_init_script(
        "navigator.clipboard.writeText = (text) => { globalThis.onTheClipboard = text; return Promise.resolve(); }"
    )
    panel = open_panel(reader, unpacked)
    panel.locator("textarea").fill("About it\nToo dry?")
    panel.get_by_role("button", name="Copy").click()
    assert "Copied" in panel.locator("[role=status]").inner_text()
    assert "About it\nToo dry?" == reader.page.evaluate("globalThis.onTheClipboard")
    assert [] == [url for url in reader.requests if not url.startswith((unpacked.as_uri(), "data:"))]
    refused = "fetch('https://sea.example/').then(() => 'sent', () => 'refused')"
    assert "refused" == reader.page.evaluate(refused)


def test_where_nothing_can_be_copied_the_text_is_marked_to_be_copied_by_hand(reader: Visit, unpacked: Path) -> None:
    reader.page.add_init_script(
        "Object.defineProperty(navigator, 'clipboard', { value: undefined }); document.execCommand = () => false;"
    )
    panel = open_panel(reader, unpacked)
    panel.get_by_role("button", name="Copy").click()
    assert "copy it by hand" in panel.locator("[role=status]").inner_text()
    marked = "(field) => field.value.slice(field.selectionStart, field.selectionEnd) === field.value"
    assert panel.locator("textarea").evaluate(marked)


def test_the_panel_shuts_and_opens_with_what_was_written(reader: Visit, unpacked: Path) -> None:
    panel = open_panel(reader, unpacked)
    panel.locator("textarea").fill("Too dry?")
    panel.get_by_role("button", name="Close").click()
    assert not panel.is_visible()
    assert "Ask about this" == reader.page.evaluate("document.activeElement.textContent")
    reader.page.keyboard.press("Enter")
    assert (True, "Too dry?") == (panel.is_visible(), panel.locator("textarea").input_value())


# What is new


class Diary:
    """A small journal and its share, unpacked anew after every change, in a folder of its own."""

    def __init__(self, room: Path) -> None:
        self.room = room
        self.count = 0
        self.is_shared = False

    def write(self, name: str, text: str) -> None:
        (self.room / "my").mkdir(exist_ok=True)
        (self.room / "my" / name).write_text(text, encoding="utf-8")
        self.is_shared = False

    def note(self, name: str, keys: str, text: str = "") -> None:
        self.write(f"{name}.md", f"---\n{keys}\n---\n{text}\n")

    def copy(self) -> str:
        """The address of the first page of a new copy."""
        self.count += 1
        if not self.is_shared:
            for step in ("--preview", "--reviewed"):
                run_journal("share", "mentor", "my", step, "--to", "out", "--cache", "cache", cwd=self.room)
            self.is_shared = True
        folder = self.room / f"copy {self.count}"
        with zipfile.ZipFile(self.room / "out/mentor/mentor.zip") as packed:
            packed.extractall(folder)
        return (folder / "index.html").as_uri()


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a diary with two entries, shared once."""
    diary = Diary(tmp_path_factory.mktemp("diary"))
    diary.write("journal.toml", '[journal]\ntitle = "Shore"\n[shares.mentor]\nabout = ["B-031"]\n')
    diary.note("batch", "kind: batch\nid: B-031\ndate: 2026-10-06")
    diary.note("pins", "kind: note\nabout: B-031\ndate: 2026-11-01\ntitle: First pins")
    diary.copy()
    return diary.room


@pytest.fixture
def diary(first: Path, tmp_path: Path) -> Diary:
    diary = Diary(copytree(first, tmp_path / "diary"))
    diary.is_shared = True
    return diary


def rows(reader: Visit) -> list[str]:
    return [" ".join(row.split()) for row in reader.page.locator("[data-since-list] .words").all_inner_texts()]


def test_a_newer_copy_shows_what_came_and_what_changed_since_the_last_look(reader: Visit, diary: Diary) -> None:
    reader.page.goto(diary.copy())
    assert ("first visit" in says(reader), []) == (True, rows(reader))
    diary.note("picked", "kind: note\nabout: B-031\ndate: 2026-11-06\ntitle: Picked\nharvest: 412 g")
    diary.note("pins", "kind: note\nabout: B-031\ndate: 2026-11-01\ntitle: First pins", "Twelve of them.")
    reader.page.goto(diary.copy())
    assert re.fullmatch(r"1 entry is new and 1 has changed since your visit on \d+ \w+ \d{4}\.", says(reader))
    assert [
        "B-031 Picked, 412 g harvested 6 November 2026",
        "B-031 First pins 1 November 2026 · changed since",
    ] == rows(reader)
    reader.page.click("[data-since-list] >> text=Picked")
    assert reader.page.url.endswith("batches/b-031/index.html#2026-11-06")
    reader.page.go_back()
    assert 2 == len(rows(reader))  # it stays in sight while this copy is read


def test_what_was_called_seen_is_new_no_more(reader: Visit, diary: Diary) -> None:
    reader.page.goto(diary.copy())
    diary.note("picked", "kind: note\nabout: B-031\ndate: 2026-11-06\ntitle: Picked")
    address = diary.copy()
    reader.page.goto(address)
    reader.page.click("text=Mark all as seen")
    for _ in range(2):
        assert ([], True) == (rows(reader), "no new entries since" in says(reader))
        assert not reader.page.locator("text=Mark all as seen").is_visible()
        reader.page.goto(address)


def test_the_same_copy_opened_again_says_that_nothing_is_new(reader: Visit, diary: Diary) -> None:
    address = diary.copy()
    reader.page.goto(address)
    reader.page.goto(address)
    assert "no new entries since" in says(reader)


def test_what_a_device_remembers_can_be_forgotten(reader: Visit, diary: Diary) -> None:
    address = diary.copy()
    reader.page.goto(address)
    reader.page.goto(address.replace("index.html", "device/index.html"))
    reader.page.click("text=Forget what I have seen")
    assert reader.page.locator("text=Forgotten.").is_visible()
    reader.page.goto(address)
    assert "first visit" in says(reader)


def test_where_a_browser_keeps_nothing_it_is_said_and_the_latest_still_stands_there(
    reader: Visit, diary: Diary
) -> None:
    shut = "{ get() { throw new DOMException('shut', 'SecurityError'); } }"
    reader.page.add_init_script(f"Object.defineProperty(globalThis, 'localStorage', {shut})")
    reader.page.goto(diary.copy())
    assert "does not store anything for these pages" in says(reader)
    assert "First pins" in reader.page.inner_text(".lately")
    assert [] == reader.complaints


def test_what_something_else_wrote_into_the_storage_does_no_harm(reader: Visit, diary: Diary) -> None:
    address = diary.copy()
    reader.page.goto(address)
    for junk in ("no JSON", "7", '{"now": 3}', '{"now": {}, "on": "yesterday"}'):
        reader.page.evaluate("(junk) => Object.keys(localStorage).forEach((key) => (localStorage[key] = junk))", junk)
        reader.page.goto(address)
        assert says(reader)
    assert [] == reader.complaints


def test_scripts_shut_off_leave_pages_that_can_be_read(browser: Any, unpacked: Path) -> None:
    context = browser.new_context(viewport=SCREEN, offline=True, java_script_enabled=False)
    page = context.new_page()
    page.goto((unpacked / "index.html").as_uri())
    assert "The latest entries are below" in page.inner_text("main")
    page.goto((unpacked / "batches/b-031/index.html").as_uri())
    assert CALLED in page.inner_text("main")
    assert 0 == page.locator("button:visible").count()
    context.close()


# How it looks


@pytest.fixture(scope="module")
def look(looking: Callable[..., Look], unpacked: Path) -> Look:
    return looking(unpacked, checked=True)


@pytest.mark.parametrize("path", PAGES)
def test_everyone_can_read_and_reach_it(look: Look, axe_script: str, path: str) -> None:
    page = look(path, 360, "dark", afresh=True)
    if page.locator("[data-ask]").count():
        page.locator("[data-ask]").first.click()
    told = {"dark": found_by_axe(page, axe_script)}
    page.emulate_media(color_scheme="light")
    look.until_themed("light")
    told["light"] = found_by_axe(page, axe_script, OF_COLOUR)
    assert {"dark": [], "light": []} == told


@pytest.mark.parametrize("width", [320, 390, 820, 1280])
@pytest.mark.parametrize("path", PAGES, scope="module")
def test_nothing_is_wider_than_the_screen(look: Look, path: str, width: int) -> None:
    inner, outer = look(path, width).evaluate(WIDTHS)
    assert outer <= inner


@pytest.mark.parametrize(("width", "theme"), [(320, "light"), (390, "dark"), (1280, "light")])
def test_the_preview_shows_every_photo_and_is_read_on_every_screen(
    browser: Any, mentor_share: Path, axe_script: str, width: int, theme: Any
) -> None:
    page = browser.new_page(viewport={"width": width, "height": 844}, offline=True, color_scheme=theme)
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text))
    page.goto((mentor_share / "mentor-preview/preview.html").as_uri())
    until(page, "[...document.images].every((image) => image.complete)")
    widths = page.evaluate("[...document.images].map((image) => image.naturalWidth)")
    inner, outer = page.evaluate(WIDTHS)
    page.eval_on_selector_all("details", "(all) => all.forEach((one) => (one.open = true))")
    found = found_by_axe(page, axe_script)
    page.close()
    assert (14, True) == (len(widths), all(each >= 1200 for each in widths))
    assert (True, [], []) == (outer <= inner, complaints, found)
