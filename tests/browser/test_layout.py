"""Pages keep still while they load, fit the screen with large letters and long IDs, and show a find whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from journal.site.pages import not_found_page
from tests.browser.conftest import PHONE, WIDTHS, Host, Look

pytestmark = pytest.mark.browser

MOST = 0.02
"""*Source:* Layout Instability API; a score of up to 0.1 counts as good."""

WATCH = """
  globalThis.shifts = [];
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) if (!entry.hadRecentInput) globalThis.shifts.push(entry.value);
  }).observe({ type: "layout-shift", buffered: true });
  globalThis.isShownInPart = false;
  const beforeFrame = () => {
    if (document.readyState !== "loading") return;
    globalThis.isShownInPart ||= Boolean(document.body);
    requestAnimationFrame(beforeFrame);
  };
  requestAnimationFrame(beforeFrame);
"""
"""What moves; and whether a busy machine showed the page before all of it was read. Then the columns of a table move as
its rows come in, which says nothing of the scripts that run once it is read."""
SETTLED = "!('loading' in document.documentElement.dataset)"


def wait_until_settled(page: Any) -> None:
    for _ in range(60):
        if page.evaluate(SETTLED):
            return
        page.wait_for_timeout(50)


@pytest.fixture(scope="module")
def watched(browser: Any) -> Iterator[Any]:
    context = browser.new_context(viewport=PHONE)
    context.add_init_script(WATCH)
    yield context.new_page()
    context.close()


@pytest.mark.parametrize(
    "path",
    [
        "index.html", "batches/index.html", "batches/b-033/index.html", "cultures/index.html", "tents/index.html",
        "tents/wash-house/index.html", "tents/wash-house/power/index.html", "calculators/index.html",
        "device/index.html", "record/index.html",
    ],
)  # fmt: skip
@pytest.mark.parametrize("size", [PHONE, {"width": 1280, "height": 800}], ids=["phone", "desktop"])
def test_nothing_moves_while_a_page_is_loaded(watched: Any, host: Host, path: str, size: dict[str, int]) -> None:
    watched.set_viewport_size(size)
    for _ in range(5):
        watched.goto(host.url(path))
        wait_until_settled(watched)
        watched.wait_for_timeout(300)  # what comes in after that
        assert watched.evaluate(SETTLED)
        if (moved := sum(watched.evaluate("globalThis.shifts"))) <= MOST or not watched.evaluate("isShownInPart"):
            break
    assert moved <= MOST


@pytest.fixture(scope="module")
def look(looking: Callable[..., Look], sample_site: Path) -> Look:
    return looking(sample_site)


STYLED = (
    "(css) => { const sheet = new CSSStyleSheet(); sheet.replaceSync(css); document.adoptedStyleSheets = [sheet]; }"
)
LARGE = "html { font-size: 212.5% !important; }"
APART = "* { line-height: 1.5 !important; letter-spacing: 0.12em !important; word-spacing: 0.16em !important; }"
"""*Source:* WCAG 2.2, 1.4.4 Resize Text, and 1.4.12 Text Spacing."""
TABLES = [
    "costs", "finds", "losses", "plan", "tents", "tents/wash-house", "tents/wash-house/door",
    "tents/wash-house/history",
]  # fmt: skip
LONG = "for (const tag of document.querySelectorAll('.id')) tag.textContent = 'PP-26A-wild-heron-slip-T3-2b-10';"
PAGES = [
    "index.html", "finds/index.html", "finds/f26-001/index.html", "batches/index.html", "batches/b-033/index.html",
    "cultures/index.html", "tents/index.html", "tents/wash-house/index.html", "tents/wash-house/power/index.html",
    "tents/wash-house/history/index.html", "device/index.html", "batches/b-031/index.html", "calculators/index.html",
    "costs/index.html", "cultures/compare/index.html", "cultures/pp-26a/index.html", "device/format/index.html",
    "diary/2026-11/index.html", "diary/index.html", "due/index.html", "finds/f25-009/index.html", "losses/index.html",
    "patches/f26-001/index.html", "patches/index.html", "plan/index.html", "tents/wash-house/door/index.html",
]  # fmt: skip


@pytest.mark.parametrize("width", [820, 1280])
@pytest.mark.parametrize("path", PAGES)
def test_no_page_with_letters_twice_as_large_is_wider_than_a_larger_screen(look: Look, path: str, width: int) -> None:
    page = look(path, width, afresh=True)
    page.evaluate(STYLED, LARGE)
    inner, outer = page.evaluate(WIDTHS)
    assert outer <= inner


TOUCHING = """() => {
  const wrong = [...document.querySelectorAll("main .scroll")]
    .filter((one) => one.checkVisibility() && one.scrollWidth > one.clientWidth + 1)
    .map((one) => `${one.getAttribute("aria-label")} has to be drawn along`);
  const boxOf = (cell) => {
    const range = document.createRange();
    range.selectNodeContents(cell);
    const boxes = [...range.getClientRects()].filter(({ width }) => width > 1);
    const least = (side) => Math.min(...boxes.map((box) => box[side]));
    const most = (side) => Math.max(...boxes.map((box) => box[side]));
    const [left, right, top, bottom] = [least("left"), most("right"), least("top"), most("bottom")];
    return { words: cell.textContent, left, right, top, bottom };
  };
  let pairs = 0;
  for (const row of document.querySelectorAll("main tr")) {
    const cells = [...row.cells].filter((cell) => cell.checkVisibility() && cell.innerText.trim()).map(boxOf);
    cells.slice(1).forEach((next, at) => {
      const one = cells[at];
      if (one.top >= next.bottom || next.top >= one.bottom || next.left < one.left) return; // it lies below
      pairs += 1;
      if (next.left - one.right < 5) wrong.push(`${one.words} | ${next.words}`);
    });
  }
  return [pairs, wrong];
}"""


DRAWN_ALONG = ("Climate day by day has to be drawn", "Outings has to be drawn", "Weeks of ")
"""Tables of more columns than a phone has room for, each a row of like numbers."""


@pytest.mark.parametrize("width", [360, 390, 820, 1280])
@pytest.mark.parametrize("path", [f"{name}/index.html" for name in TABLES])
def test_what_tables_say_fits_the_screen_and_stays_apart(look: Look, path: str, width: int) -> None:
    page = look(path, width, afresh=True)
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    pairs, wrong = page.evaluate(TOUCHING)
    assert pairs
    assert [] == [words for words in wrong if not words.startswith(DRAWN_ALONG)]


@pytest.mark.parametrize("path", PAGES)
def test_no_page_is_wider_than_a_phone(look: Look, path: str) -> None:
    page = look(path, 360, afresh=True)
    for what, css in (("letters twice as large", LARGE), ("letters apart", APART), ("long IDs", "")):
        page.evaluate(STYLED, css)  # in place of the rules before
        if what == "long IDs":
            page.evaluate(LONG)
        inner, outer = page.evaluate(WIDTHS)
        assert outer <= inner, what


WORDS_OF_BAR = """[...document.querySelectorAll(".places a")].map((one) => {
  const range = document.createRange();
  range.selectNodeContents(one);
  const { left, right, top } = range.getBoundingClientRect();
  return [top, left, right];
})"""


@pytest.mark.parametrize("css", ["", LARGE])
def test_the_words_of_the_bar_stay_apart_and_on_the_screen(look: Look, css: str) -> None:
    page = look("index.html", 390, afresh=True)
    page.evaluate(STYLED, css)
    words = sorted(page.evaluate(WORDS_OF_BAR))
    assert all(0 <= left and right <= 390 for _, left, right in words)
    rows = [(one, other) for one, other in pairwise(words) if one[0] == other[0]]
    assert rows
    assert all(one[2] + 4 <= other[1] for one, other in rows)


CROPPED = """[...document.querySelectorAll(":is(.specimen, .slips) .pic:not(.blank)")].filter((pic) => {
  const image = pic.lastElementChild;
  const [outer, inner] = [pic.getBoundingClientRect(), image.getBoundingClientRect()];
  const fits = inner.top >= outer.top - 1 && inner.bottom <= outer.bottom + 1 && inner.right <= outer.right + 1;
  return !fits || getComputedStyle(image).objectFit !== "contain";
}).length"""


@pytest.mark.parametrize(("width", "media"), [(390, "null"), (1280, "null"), (718, "print")])
def test_a_find_is_never_cropped(look: Look, width: int, media: str) -> None:
    page = look("finds/f26-001/index.html", width, media=media)
    assert page.locator(".specimen .pic:not(.blank)").count()
    assert 0 == page.evaluate(CROPPED)
    page = look("finds/index.html", width, media=media)
    frames = [frame.bounding_box() for frame in page.locator(".slips .frame").all()]
    assert 5 == len([1 for box in frames if abs(box["width"] / box["height"] - 1.5) < 0.02])
    assert 0 == page.evaluate(CROPPED)


PARTED = r"""() => {
  for (const one of document.querySelectorAll("details")) one.open = true;
  const quantity = /(?<![\w.,:-])\d(?:[\d.,]*\d)?[ \xa0](?=(?:%|°C|k?g|m?m|m³\/h|ml|l|h|min|days?|ppm|K|kWh)(?!\w))./g;
  const nodes = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  const [seen, parted] = [[], []];
  for (let node = nodes.nextNode(); node; node = nodes.nextNode()) {
    if (node.parentElement.closest("svg, script, template, option") || !node.parentElement.checkVisibility()) continue;
    for (const { index, 0: words } of node.data.matchAll(quantity)) {
      const range = document.createRange();
      range.setStart(node, index);
      range.setEnd(node, index + words.length);
      const lines = new Set([...range.getClientRects()].filter(({ width }) => width > 0.5).map(({ top }) => top));
      seen.push(words);
      if (lines.size > 1) parted.push(node.data.slice(index - 20, index + 20));
    }
  }
  return [seen.length, parted];
}"""


WITH_UNITS = [
    "batches/b-026", "cultures", "cultures/pp-26b", "device/format", "diary/2026-10", "finds",
    "tents/wash-house/history",
]  # fmt: skip


@pytest.mark.parametrize("name", WITH_UNITS)
def test_no_number_is_parted_from_its_unit(look: Look, name: str) -> None:
    for width in (360, 390, 820, 1280):
        seen, parted = look(f"{name}/index.html", width).evaluate(PARTED)
        assert seen > 8
        assert [] == parted, width


SLOTS = """async () => {
  const photos = [...document.querySelectorAll("main img[sizes]")].filter((one) => one.checkVisibility());
  for (const one of photos) one.loading = "eager";
  await Promise.all(photos.map((one) => one.decode().catch(() => undefined)));
  const seen = photos.filter((one) => one.naturalWidth && getComputedStyle(one).objectFit === "contain");
  return seen.map((one) => {
    const { width, height } = one.getBoundingClientRect();
    return [Math.min(width, (height * one.getAttribute("width")) / one.getAttribute("height")), one.naturalWidth];
  });
}"""


@pytest.mark.parametrize("width", [360, 390, 820, 1280])
@pytest.mark.parametrize("name", ["finds", "finds/f26-001", "finds/f25-009"])
def test_a_photo_of_a_find_is_as_wide_on_the_screen_as_its_sizes_say_at_most(look: Look, name: str, width: int) -> None:
    """*Source:* HTML, density-corrected natural width: that of `sizes`, whatever the chosen file's."""
    slots = look(f"{name}/index.html", width, afresh=True).evaluate(SLOTS)
    assert slots
    assert [] == [(shown, said) for shown, said in slots if 0.99 * shown > said + 1]


FRAMES = """[...document.querySelectorAll(".slips .frame")].map((frame) => {
  const { width, height } = frame.getBoundingClientRect();
  return [width, height].map(Math.round);
})"""


def test_photos_far_below_follow_a_window_that_gets_narrower(look: Look) -> None:
    page = look("finds/index.html", 1280, afresh=True)
    for width in (390, 320):
        page.set_viewport_size({"width": width, "height": 844})
        frames = page.evaluate(FRAMES)
        assert 4 <= len(frames)
        assert [[width, round(width * 2 / 3)]] * len(frames) == frames


ENDS = """[...document.querySelectorAll(".slips > .row")].map((row) => {
  const [all, frame, slip] = [row, row.querySelector(".frame"), row.querySelector(".slip")];
  const card = Number.parseFloat(frame ? frame.offsetHeight : getComputedStyle(row, "::before").height) || 0;
  const [outer, inner] = [all, slip].map((one) => one.getBoundingClientRect());
  return [Boolean(frame), outer.top, card, inner.top - outer.top, outer.bottom - inner.bottom];
})"""


@pytest.mark.parametrize("width", [820, 1280])
def test_the_slip_of_a_find_without_a_photo_lies_in_line_with_those_beside_it(look: Look, width: int) -> None:
    """Neither is it tall and empty, nor is there a hole above it: a card lies there, as high as a photo's frame."""
    rows = look("finds/index.html", width).evaluate(ENDS)
    has_photo = {top: {pictured for pictured, at, *_ in rows if at == top} for _, top, *_ in rows}
    assert {True, False} in has_photo.values()
    for _, _, card, above, below in rows:
        assert above == pytest.approx(rows[-1][3], abs=2)
        assert card == pytest.approx(rows[-1][2], abs=2)
        assert abs(below) <= 1


def test_on_a_phone_a_find_without_a_photo_is_its_slip_alone(look: Look) -> None:
    rows = look("finds/index.html", 390).evaluate(ENDS)
    assert [(0, 0)] == [(card, above) for pictured, _, card, above, _ in rows if not pictured]


PLACED = (
    """(all) => all.map((one) => one.getBoundingClientRect()).map(({ left, top, right }) => ({ left, top, right }))"""
)


@pytest.mark.parametrize(("width", "is_beside"), [(390, False), (1280, True)])
def test_what_is_chosen_on_the_map_of_finds_is_beside_it_where_there_is_room(
    look: Look, width: int, is_beside: bool
) -> None:
    page = look("finds/index.html", width)
    (sheet,), (acts,) = (
        page.locator(f".sketch-map > .{one}").evaluate_all(PLACED) for one in ("map-sheet", "map-acts")
    )
    assert is_beside == (acts["left"] >= sheet["right"])
    assert is_beside == (acts["top"] < sheet["top"] + 60)


@pytest.mark.parametrize(("width", "is_beside"), [(390, False), (1280, True)])
def test_a_form_of_record_is_in_two_columns_where_there_is_room(look: Look, width: int, is_beside: bool) -> None:
    page = look("record/index.html", width, afresh=True)
    page.evaluate("document.querySelector('[data-form=batch]').hidden = false")
    harvest, lost = page.locator("[data-form=batch] > .group").evaluate_all(PLACED)
    assert is_beside == (lost["left"] >= harvest["right"])
    assert is_beside == (lost["top"] == pytest.approx(harvest["top"], abs=2))


def test_this_device_keeps_no_empty_lines_where_its_words_fit_on_one(look: Look) -> None:
    rows = look("device/index.html", 1280).locator(".saved dd").evaluate_all(PLACED)
    apart = [after["top"] - before["top"] for before, after in pairwise(rows)]
    assert len(apart) == 5
    assert max(apart) == pytest.approx(min(apart), abs=2)


@pytest.mark.parametrize("width", [820, 1280])
def test_a_descent_takes_the_room_it_has(look: Look, width: int) -> None:
    page = look("cultures/pp-26a/index.html", width)
    column = page.locator(".culture-descent").bounding_box()
    boxes = [one.bounding_box() for one in page.locator(".descent text").all()]
    end = max(box["x"] + box["width"] for box in boxes)
    assert column["x"] + column["width"] - end < 0.25 * column["width"]
    assert page.locator(".culture-head").bounding_box()["y"] == pytest.approx(column["y"], abs=2)


PRESSED = """[...document.querySelectorAll("main :is(button:not(.sort-by), summary), .sketch-map > p, .places")]
  .filter((one) => one.checkVisibility() && !one.closest("details[open], .year"))
  .map((one) => one.textContent)"""


@pytest.mark.parametrize("name", ["", "finds/", "finds/f25-009/", "cultures/pp-26a/", "losses/"])
def test_on_paper_is_nothing_that_is_pressed(look: Look, name: str) -> None:
    assert [] == look(f"{name}index.html", 718, media="print").evaluate(PRESSED)


def test_on_paper_a_link_that_is_pressed_is_plain_words(look: Look) -> None:
    links = look("index.html", 718, media="print").locator("main a.button")
    edges = links.evaluate_all("(all) => all.map((one) => getComputedStyle(one).borderTopWidth)")
    assert {"0px"} == set(edges)
    assert "Full diary" in links.all_inner_texts()


MARGINS = """[...document.styleSheets].flatMap((sheet) => [...sheet.cssRules])
  .flatMap((layer) => [...(layer.cssRules ?? [])])
  .filter((rule) => rule instanceof CSSPageRule && !rule.selectorText).map((rule) => rule.style.marginTop)"""


def test_paper_has_margins_whatever_the_browser_adds(watched: Any, host: Host) -> None:
    watched.goto(host.url("finds/index.html"))
    assert ["13mm"] == watched.evaluate(MARGINS)


def test_the_slip_of_a_find_is_on_the_sheet_with_its_photo(look: Look) -> None:
    page = look("finds/f25-009/index.html", 695, media="print")  # A4 within its margins, at 96 px an inch
    page.evaluate("for (const one of document.images) one.loading = 'eager'")
    slip = page.locator(".slip").bounding_box()
    assert slip["y"] + slip["height"] < (297 - 26) / 25.4 * 96


ENDS_CLEAR = """() => {
  const list = document.querySelector(".labels-things");
  list.scrollTop = list.scrollHeight;
  const fade = parseFloat(getComputedStyle(list).paddingBottom);
  const end = list.getBoundingClientRect().bottom - fade;
  return [getComputedStyle(list).maskImage.startsWith("linear-gradient"), fade > 40, list.scrollTop > 0,
          list.lastElementChild.getBoundingClientRect().bottom <= end + 1];
}"""


@pytest.mark.parametrize("width", [390, 1280])
def test_the_list_of_labels_fades_out_where_it_goes_on_and_its_end_is_clear(look: Look, width: int) -> None:
    assert [True, True, True, True] == look("labels/index.html", width, afresh=True).evaluate(ENDS_CLEAR)


@pytest.mark.parametrize("width", [360, 390])
def test_the_gauges_of_a_tent_are_in_one_line(look: Look, width: int) -> None:
    page = look("index.html", width)
    for tent in page.locator(".air.brief").all():
        tops = [one.bounding_box()["y"] for one in tent.locator(".value").all()]
        assert [pytest.approx(tops[0], abs=1)] * 2 == tops


CARDS = """() => [...document.querySelectorAll(".cultures tbody tr")].map((row) => {
  const box = row.getBoundingClientRect();
  const seen = [...row.cells].filter((cell) => cell.checkVisibility() && cell.textContent.trim());
  const boxes = seen.map((cell) => cell.getBoundingClientRect());
  const out = boxes.filter(({ left, right }) => left < box.left - 1 || right > box.right + 1);
  return [row.cells[0].dataset.sort, seen.map((cell) => cell.cellIndex), out.length, box.left, box.right <= innerWidth];
})"""


@pytest.mark.parametrize("width", [320, 390, 820])
def test_a_culture_is_a_card_where_the_table_has_no_room(look: Look, width: int) -> None:
    """On it are its tag and species (the first cell), its yield (the second) and the day to renew it by (the last)."""
    cards = look("cultures/index.html", width).evaluate(CARDS)
    told = {id: cells for id, cells, _, _, _ in cards}
    assert [[0, 1], [0, 9]] == [told["VF-25A"], told["VF-25A-3"]]
    assert set().union(*told.values()) <= {0, 1, 9}
    assert all(out == 0 and inside for _, _, out, _, inside in cards)
    assert (1 if width < 800 else 2) == len({left for _, _, _, left, _ in cards})


def test_a_culture_is_a_row_of_the_table_on_a_desktop(look: Look) -> None:
    cards = look("cultures/index.html", 1280).evaluate(CARDS)
    assert [0, 1, 2, 3, 4, 5, 6, 7] == next(cells for id, cells, *_ in cards if id == "VF-25A")


LABELS = """async () => {
  const frame = () => new Promise((done) => requestAnimationFrame(done));
  for (let at = 0; at < 4; at += 1) await frame(); // the map is drawn anew for another width
  return [...document.querySelectorAll(".season, .plot, .map-sheet")].map((chart) => {
    const boxOf = (node) => {
      const range = document.createRange();
      range.selectNodeContents(node);
      const { left, right, top, bottom } = (node.matches("text") ? node : range).getBoundingClientRect();
      return { words: node.textContent, left, right, top, bottom };
    };
    const seen = (selector) => [...chart.querySelectorAll(selector)].filter((one) => one.checkVisibility());
    const labels = seen("text, div > span").map(boxOf).filter(({ words }) => words.trim());
    const isDown = (a, b) => a.top + 3 < b.bottom && b.top + 3 < a.bottom;
    const meets = (a, b) => a.left + 1 < b.right && b.left + 1 < a.right && isDown(a, b);
    const shapes = seen("line, circle, rect:not(.plate), .mark").map((e) => [e.outerHTML, e.getBoundingClientRect()]);
    const cut = labels.filter(({ left, right }) => left < 0 || right > innerWidth);
    const wrong = cut.map(({ words }) => `${words} is cut`);
    labels.forEach((label, at) => {
      for (const other of labels.slice(at + 1)) if (meets(label, other)) wrong.push(`${label.words} on ${other.words}`);
      for (const [shape, { left, right, top, bottom }] of shapes) {
        const isAcross = left < label.right && label.left < right + 0.1;
        if (isAcross && label.top + 3 < bottom && top < label.bottom - 3) wrong.push(`${label.words} on ${shape}`);
      }
    });
    return [labels.length, wrong];
  });
}"""


@pytest.mark.parametrize("width", [320, 360, 390, 820, 1280])
@pytest.mark.parametrize("path", ["finds/index.html", "cultures/compare/index.html", "cultures/index.html"])
def test_labels_of_charts_are_on_nothing_and_none_is_cut(look: Look, path: str, width: int) -> None:
    charts = look(path, width).evaluate(LABELS)
    assert sum(many for many, _ in charts) >= 6
    assert [] == [words for _, wrong in charts for words in wrong]


@pytest.mark.parametrize(
    ("path", "date"), [("batches/b-033/index.html", ".entry h3 .when"), ("diary/index.html", ".whole")]
)
def test_dates_that_lead_somewhere_can_be_hit_with_a_thumb(look: Look, path: str, date: str) -> None:
    boxes = [one.bounding_box() for one in look(path, 390).locator(date).all()]
    assert boxes
    assert all(box["height"] >= 47.5 and box["width"] >= 44 for box in boxes)


@pytest.mark.parametrize("width", [820, 1280])
@pytest.mark.parametrize("name", ["f26-004", "f25-007", "f25-009"])  # with no photo, one, and one in its text
def test_a_find_begins_at_the_top_of_both_columns(look: Look, name: str, width: int) -> None:
    page = look(f"finds/{name}/index.html", width)
    first, label, after, written = (
        page.locator(f".specimen > {part}").first.bounding_box()
        for part in (":is(.seen, .written)", ".label", ".after", ".written")
    )
    assert abs(first["y"] - label["y"]) < 30
    assert (after["x"] == written["x"]) == (name != "f25-009")  # beside the label, if there is room


def test_the_search_shows_each_id_in_one_line(look: Look) -> None:
    for width in (390, 820, 1280):
        page = look("index.html", width, afresh=True)
        page.fill("[data-search]", "pleurotus")
        page.wait_for_selector(".search-hit")
        boxes = [one.bounding_box() for one in page.locator(".search-id").all()]
        assert boxes
        assert all(box["height"] < 30 and 0 <= box["x"] and box["x"] + box["width"] <= width for box in boxes)


@pytest.mark.parametrize("size", [PHONE, {"width": 820, "height": 844}], ids=["phone", "tablet"])
def test_a_value_that_is_refused_is_in_sight_with_its_label(watched: Any, host: Host, size: dict[str, int]) -> None:
    watched.set_viewport_size(size)
    watched.goto(host.url("record/index.html?about=B-031"))
    watched.fill("form:visible [name=harvest]", "4x12")
    watched.get_by_role("button", name="Save", exact=True).click()
    watched.locator("[data-record-status]:visible").wait_for()
    seen = watched.evaluate(SEEN)
    assert [True, True] == seen


SEEN = """() => {
  const field = document.activeElement.closest(".field");
  const isOnTop = (node) => {
    const { left, top, bottom } = node.getBoundingClientRect();
    return [top + 3, bottom - 3].every((y) => field.contains(document.elementFromPoint(left + 5, y)));
  };
  return [isOnTop(document.activeElement), isOnTop(field.firstElementChild)];
}"""


@contextmanager
def forced_colors(page: Any) -> Iterator[None]:
    """As where the device forces its own few colours on pages (CSS Color Adjustment)."""
    page.emulate_media(forced_colors="active")
    try:
        yield
    finally:
        page.emulate_media(forced_colors="none")


FILLED = """[...document.querySelectorAll(".to-record, [aria-pressed=true], .save, .chip input:checked + span")]
  .filter((one) => one.checkVisibility())
  .map((one) => [getComputedStyle(one), one.className || one.textContent])
  .map(([style, name]) => [name, style.forcedColorAdjust, style.color !== style.backgroundColor])"""


@pytest.mark.parametrize("path", ["index.html", "device/index.html", "record/index.html?about=B-031"])
def test_words_on_what_is_filled_are_seen_where_the_device_forces_its_colours(
    watched: Any, host: Host, path: str
) -> None:
    with forced_colors(watched):
        watched.goto(host.url(path))
        wait_until_settled(watched)
        if path.startswith("record"):
            watched.locator("form:visible .chip", has_text="fruiting").click()
        filled = watched.evaluate(FILLED)
        assert len(filled) == {"index.html": 1, "device/index.html": 2}.get(path, 3)
        assert [] == [name for name, adjusted, apart in filled if (adjusted, apart) != ("none", True)]


def test_shapes_stay_where_the_device_forces_its_colours(look: Look) -> None:
    page = look("batches/b-033/index.html", 390, afresh=True)
    with forced_colors(page):
        assert "solid" == page.evaluate("getComputedStyle(document.querySelector('.id')).borderTopStyle")
        assert page.locator(".home img").is_visible()  # pictures keep their colours
        assert "4px" == page.evaluate("getComputedStyle(document.querySelector('[aria-current]')).borderTopWidth")


def test_what_a_tint_shows_has_an_edge_where_the_device_forces_its_colours(look: Look) -> None:
    stroke = "(mark) => getComputedStyle(document.querySelector(mark)).stroke"
    for name, mark in (("plan", ".climate-chart .range"), ("cultures/pp-26a", ".descent .own")):
        page = look(f"{name}/index.html", 390, afresh=True)
        with forced_colors(page):
            assert "none" != page.evaluate(stroke, mark), name


def test_the_hit_that_the_keys_are_at_has_an_edge_where_the_device_forces_its_colours(look: Look) -> None:
    page = look("index.html", 390, afresh=True)
    with forced_colors(page):
        page.fill("[data-search]", "pleurotus")
        page.wait_for_selector(".search-hit")
        page.keyboard.press("ArrowDown")
        edges = "[...document.querySelectorAll('.search-hit')].map((hit) => getComputedStyle(hit).outlineStyle)"
        assert ["solid", "none"] == page.evaluate(edges)[:2]


@pytest.mark.parametrize(
    ("name", "mark"),
    [
        ("tents/net-loft/power", [".empty", "::before"]),
        ("cultures/pp-26a", [".key-find", None]),
        ("finds", [".slips > .row:not(:has(.frame))", "::before"]),
    ],
)
def test_a_mark_of_two_halves_keeps_them_where_the_device_forces_its_colours(
    look: Look, name: str, mark: list[str | None]
) -> None:
    page = look(f"{name}/index.html", 1280, afresh=True)
    with forced_colors(page):
        style = "([mark, part]) => getComputedStyle(document.querySelector(mark), part).forcedColorAdjust"
        assert "none" == page.evaluate(style, mark)


def test_a_host_shows_a_page_where_there_is_none(sample_site: Path) -> None:
    page = (sample_site / "404.html").read_text(encoding="utf-8")
    assert '<html lang="en">' in page
    assert "<title>Page not found · Wash-house &amp; Woods</title>" in page
    assert '<a href="https://wash-house.example/journal/">' in page
    assert "<script" not in page


@pytest.mark.parametrize("at", ["", "sub/path/"])
def test_a_page_that_is_not_there_leads_to_the_journal_wherever_the_host_has_it(
    tab: Any, tmp_path: Path, at: str
) -> None:
    asked = tmp_path / at / "batches" / "b-999" / "index.html"  # as hosts answer for it
    asked.parent.mkdir(parents=True)
    (tmp_path / at / "manifest.webmanifest").write_text('{"start_url": "index.html"}')
    asked.write_text(not_found_page("Page not found", "There is none."), encoding="utf-8")
    host = Host(tmp_path)
    host.start()
    try:
        visit = tab.afresh(host.url(f"{at}batches/b-999/index.html"))
        visit.until(f"document.querySelector('a').href === '{host.url(at)}index.html'")
        style = "getComputedStyle(document.body).maxWidth"
        assert "none" != visit.page.evaluate(style)  # its policy lets its own style in
    finally:
        host.stop()
