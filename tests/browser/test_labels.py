"""Labels as they are printed: a sheet at 300 dpi, its codes read by two decoders that had no part in making them."""

from __future__ import annotations

import json
import re
from io import BytesIO
from itertools import islice
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import zxingcpp
from PIL import Image

from journal.cache.resources import find_resources
from journal.reading.label_codes import check_character, read_label
from journal.settings import LABEL_SIZES, LabelSize
from journal.site.label_sheet import LEAST_TEXT_MM, Printed, code_for, layout_of, sheets_html
from tests.fuzz import changes
from tests.fuzzing.fuzz_files import SITE
from tests.fuzzing.fuzz_targets import TARGETS

pytestmark = pytest.mark.browser

CASES = json.loads((Path(__file__).parents[1] / "label_cases.json").read_text(encoding="utf-8"))

DPI = 300
MM = 96 / 25.4  # CSS px
LONG = {"species": "G. frondosa var. frondosa", "is_latin": True, "is_confirmed": False}
LABELS = [
    Printed("B-031.12", ("B-031.12+Z",), "+Z", **LONG, steps="T12", parents=("PP-26A-3",), date="27 Oct 2026",
            medium="oak pellets"),
    Printed("F26-014-K7Q4", ("https://journal.example/finds/f26-014-k7q4/", "F26-014-K7Q4"), date="12 Sep 2026"),
    Printed("PP-26A", ("PP-26A",), species="P. pulmonarius", is_latin=True, medium="MEA"),
    Printed("B-034", ("https://journal.example/batches/b-034/", "B-034")),
    Printed("PP-26A-3", ("PP-26A-3",), species="P. pulmonarius", is_confirmed=False, steps="T2 G1",
            parents=("PP-26A-2.1", "PP-26A-2.2"), date="18 Sep 2026", medium="rye grain"),
]  # fmt: skip
FULL = [
    Printed(id, texts, **LONG, steps=steps, parents=parents, date=date, part="block 12 of 12", medium="oak pellets")
    for id, site in (("B-031.12", ""), ("B-031.12", "https://w.example/batches/b-031/#12"), ("PP-26A-7-K7Q4", ""))
    for texts in [(site, id) if site else (id,)]
    for steps, parents, date in (
        ("T0", ("F26-014",), "about 7 Oct 2026"),
        ("T2 G1", ("PP-26A-2.1", "PP-26A-2.2"), "18 Sep 2026"),
        ("T12 G3", ("PP-26A-12", "PP-26A-13", "PP-26A-14"), "27 Oct 2026"),
    )
]
"""Labels that have all that a label can have, beside codes as narrow and as wide as the smallest size may have."""


def test_a_sheet_of_the_smallest_labels_is_legible_and_its_codes_are_read(browser: Any, tmp_path: Path) -> None:
    """Labels of 30 × 15 mm. ISO/IEC 18004 codes, read by zxing-cpp and by OpenCV."""
    layout = layout_of(LABEL_SIZES[0], "A4")
    sheet = tmp_path / "labels.html"
    sheet.write_text(sheets_html(LABELS, layout, 2, "Woods", find_resources()), encoding="utf-8")
    page = browser.new_page(viewport={"width": 900, "height": 1200}, device_scale_factor=DPI / 96)
    try:
        page.emulate_media(media="print")
        page.goto(sheet.as_uri())
        pixels = page.locator(".labelsheet").screenshot()
        boxes = page.evaluate(BOXES)
        words = page.evaluate(WORDS)
        printed = page.pdf(prefer_css_page_size=True)
    finally:
        page.close()
    image = np.array(Image.open(BytesIO(pixels)).convert("RGB"))
    assert (210, 297) == tuple(round(size / DPI * 25.4) for size in (image.shape[1], image.shape[0]))
    expected = ["B-031.12+Z", "F26-014-K7Q4", "PP-26A", "https://journal.example/batches/b-034/", "PP-26A-3"]
    cut = [image[top:bottom, left:right] for left, top, right, bottom in boxes["labels"]]
    assert expected == [zxingcpp.read_barcodes(label)[0].text for label in cut]
    assert expected == [cv2.QRCodeDetector().detectAndDecode(label)[0] for label in cut]
    assert set(expected) == {found.text for found in zxingcpp.read_barcodes(image)}
    assert 1 == len(re.findall(rb"/Type ?/Page\b", printed))
    for box in boxes["lines"]:
        assert box["font"] / MM >= LEAST_TEXT_MM - 0.001, box
        assert box["isWithin"], box
    shown = " ".join(box["text"] for box in boxes["lines"] if box["isWithin"])
    for told in ("B-031.12+Z", "not confirmed", "T12 from PP-26A-3", "27 Oct 2026", "T2 G1 from PP-26A-2.1 +1"):
        assert told in shown
    # Cut off, PP-26A-2.1 would be read as PP-26A, which is another culture.
    assert ["PP-26A-3", "PP-26A-2.1", "+1"] == [word for word, is_whole in words if is_whole]
    assert all(is_whole for _, is_whole in words)
    sizes = [(right - left, bottom - top) for left, top, right, bottom in boxes["labels"]]
    assert [(30, 15)] * 5 == [(round(width / DPI * 25.4), round(height / DPI * 25.4)) for width, height in sizes]


@pytest.mark.parametrize("size", LABEL_SIZES, ids=[size.name for size in LABEL_SIZES])
def test_a_label_of_any_size_has_all_that_is_told_of_a_thing(browser: Any, tmp_path: Path, size: LabelSize) -> None:
    """Nothing is left out; of species and medium, which are the author's words, the end may be cut off."""
    sheet = tmp_path / "labels.html"
    layout = layout_of(size, "A4")
    sheet.write_text(sheets_html(FULL, layout, 1, "Woods", find_resources()), encoding="utf-8")
    page = browser.new_page(viewport={"width": 900, "height": 1200})
    try:
        page.goto(sheet.as_uri())
        lines, words = page.evaluate(BOXES)["lines"], page.evaluate(WORDS)
    finally:
        page.close()
    assert [] == [line for line in lines if not line["isWithin"]]
    assert [] == [word for word, is_whole in words if not is_whole]
    shown = " ".join(" ".join(line["text"] for line in lines).split())
    for label in FULL:
        others = f"+{len(label.parents) - 1}" if size.is_small else label.parents[1] if label.parents[1:] else ""
        origin = f"{label.steps} from {label.parents[0]}{'' if size.is_small or not others else ','}"
        part = [] if size.is_small else [label.part]
        for told in (label.id, "G. frondosa", "not confirmed", origin, others.removesuffix("+0"), label.date, *part):
            assert told in shown
    assert len(FULL) == shown.count("oak pellets")


@pytest.mark.parametrize(
    ("width", "height", "crowded"), [(38.1, 21.2, 6), (40, 12, 10), (30, 20, 10), (35, 35, 11), (60, 25, 0)]
)
def test_the_command_knows_what_finds_no_room_as_the_page_does(
    browser: Any, tmp_path: Path, width: float, height: float, crowded: int
) -> None:
    layout = layout_of(LabelSize(name="own", width_mm=width, height_mm=height), "A4")
    labels = [*LABELS, *FULL]
    sheet = tmp_path / "labels.html"
    sheet.write_text(sheets_html(labels, layout, 1, "Woods", find_resources()), encoding="utf-8")
    page = browser.new_page()
    try:
        page.goto(sheet.as_uri())
        lines = page.evaluate(BOXES)["lines"]
    finally:
        page.close()
    cut_off = {line["label"] for line in lines if not line["isWithin"]}
    told = {at for at, label in enumerate(labels) if not layout.has_room(label, code_for(label.texts, layout.size))}
    assert crowded == len(cut_off), (cut_off, told)
    assert cut_off <= told
    assert 3 > len(told - cut_off)


WORDS = """() => [
  ...document.querySelectorAll(".jar-whole > .jar-tight, .jar-whole > span > span:first-child"),
].filter((word) => word.clientWidth).map((word) => {
  const [box, room] = [word.getBoundingClientRect(), word.closest(".jar-words").getBoundingClientRect()];
  const isOneLine = word.getClientRects().length === 1 && word.scrollWidth <= word.clientWidth + 1;
  return [word.innerText, isOneLine && box.right <= room.right + 0.5 && box.bottom <= room.bottom + 0.5];
})"""

SCANNER = """globalThis.BarcodeDetector = class {
  static getSupportedFormats = async () => ['qr_code'];
  async detect() { return globalThis.seen.map((rawValue) => ({ rawValue })); }
};"""
"""A scanner that sees what `seen` lists in any picture."""


@pytest.fixture
def scanned(thumb: Any, picture: Path) -> Any:
    """Opens Scan on the first page and takes a picture in which these codes are; gives the visit."""
    visit = thumb("index.html")
    visit.before_pages(SCANNER)
    visit.page.reload()

    def scan(*codes: str) -> Any:
        if not visit.page.url.endswith("/index.html") or "/batches/" in visit.page.url:
            visit.page.go_back()
        if visit.page.locator(".scan-panel").is_hidden():
            visit.page.locator(".scan-open").tap()
        visit.page.locator(".scan-panel label.button").wait_for()
        visit.page.evaluate("(codes) => { globalThis.seen = codes; }", list(codes))
        visit.page.locator(".scan-panel [role=status]").evaluate("(place) => { place.textContent = ''; }")
        visit.page.set_input_files(".scan-panel input[type=file]", picture)
        return visit

    return scan


def test_the_phone_reads_codes_as_the_commands_do(thumb: Any) -> None:
    visit = thumb("device/safety/index.html")
    read = """([cases, site]) => cases.map((text) => {
      const found = journalLabel.read(text, ['https://other.example/', site]);
      return found && found.id + (found.part ? `.${found.part}` : '');
    })"""
    texts = [text for text, _ in CASES["read"]] + [text * times for text, times, _ in CASES["repeated"]]
    visit.page.add_script_tag(url="../../static/js/label-code.js")
    named = visit.page.evaluate(read, [texts, CASES["site_url"]])
    assert [named for _, named in CASES["read"]] == named[: len(CASES["read"])]
    assert [is_one for *_, is_one in CASES["repeated"]] == [found is not None for found in named[len(CASES["read"]) :]]
    fuzzed = TARGETS["QR contents"]
    made = islice(changes(0, fuzzed.seeds(), [*fuzzed.words, " "], fuzzed.longest), 1000)
    any_texts = sorted({data.decode("utf-8", "ignore") for data in made})
    ours = [read_label(text, CASES["site_url"]) or read_label(text, SITE) for text in any_texts]
    assert 20 < sum(ref is not None for ref in ours)
    theirs = visit.page.evaluate(read.replace("https://other.example/", SITE), [any_texts, CASES["site_url"]])
    assert [ref and str(ref) for ref in ours] == theirs
    typed = "(cases) => cases.map(([text, known]) => journalLabel.read(text, [], new Set(known)) !== null)"
    assert [fits for *_, fits in CASES["typed"]] == visit.page.evaluate(typed, CASES["typed"])
    ids = ["B-031", "B-031.2", "PP-26A", "F26-014-K7Q4", "G123498654321"]
    assert [check_character(id) for id in ids] == visit.page.evaluate("(ids) => ids.map(journalLabel.check)", ids)


def test_a_label_in_a_picture_leads_to_its_page_and_anything_else_to_nothing(scanned: Any) -> None:
    says = "() => document.querySelector('.scan-panel [role=status]').textContent"
    for code in (
        "https://elsewhere.example/journal/batches/b-031/",
        "javascript:document.title='no'",
        "B" * 4000,
        "data:text/html,<script>document.title='no'</script>",
        "B-031\u0000",
    ):
        visit = scanned(code)
        visit.until(f"{says} === 'This is not a label of this journal.'")
        assert visit.page.url.endswith("/index.html")
        assert visit.page.title() != "no"
        assert 0 == visit.page.locator(".scan-panel .acts a").count()
    visit = scanned("B-031", "B-032")
    visit.until(f"{says}.startsWith('There are several codes')")
    visit = scanned("B-031.9")
    visit.until(f"{says} === 'B-031 has 4 blocks, so there is no B-031.9.'")
    assert ["B-031"] == visit.page.locator(".scan-panel .acts a").all_inner_texts()
    visit = scanned("https://wash-house.example/journal/batches/b-031/#2")
    visit.page.wait_for_url("**/batches/b-031/index.html#2")
    assert "../../record/index.html?about=B-031.2" == visit.page.get_attribute(".to-record", "href")
    assert [] == [url for url in visit.requests if "127.0.0.1" not in url and "localhost" not in url]


def test_where_no_code_can_be_read_an_id_is_typed_with_few_keys(thumb: Any) -> None:
    visit = thumb("index.html")
    visit.before_pages("delete globalThis.BarcodeDetector")
    visit.page.reload()
    visit.page.locator(".scan-open").tap()
    visit.until(
        "() => document.querySelector('.scan-panel p')?.textContent.startsWith('This browser cannot read codes')"
    )
    assert visit.page.locator(".scan-panel label.button").is_hidden()
    typed = visit.page.locator(".scan-panel form input")
    typed.fill("B-301")
    visit.until("() => document.querySelector('.scan-panel .acts a')?.textContent === 'B-031'")
    typed.fill("b34")  # printed ahead, and not recorded yet
    visit.until("() => document.querySelector('.scan-panel .acts a')?.textContent === 'B-034'")
    typed.fill("b9")
    visit.until("() => document.querySelector('.scan-panel .acts a')?.textContent === 'B-019'")
    typed.fill("B-031+A")
    typed.press("Enter")
    visit.until("() => document.querySelector('.scan-panel [role=status]').textContent.startsWith('The check')")
    typed.fill("b31")
    typed.press("Enter")
    visit.page.wait_for_url("**/batches/b-031/index.html")


def test_the_search_takes_an_id_as_it_is_on_a_label(thumb: Any) -> None:
    visit = thumb("device/safety/index.html")
    field = visit.page.locator("[data-search]")
    for typed, says in (
        ("B-031+8", "The check character does not fit this ID: type it once more."),
        ("B-031.99", "B-031 has 4 blocks, so there is no B-031.99. B-031"),
        ("F26-001.2", "F26-001 has no parts, so there is no F26-001.2. F26-001"),
    ):
        field.fill(typed)
        visit.until(f"() => document.querySelector('.search-says').innerText === {says!r}")
        field.press("Enter")
        assert visit.page.locator(".search-hits").is_hidden()
        assert visit.page.url.endswith("device/safety/index.html")
    for typed, path in (("B-031+x", ""), ("b-031.2", "#2"), ("B-031.2+O", "#2")):
        field.fill(typed)
        visit.until("() => document.querySelector('.search-hits a')?.querySelector('.search-id').innerText === 'B-031'")
        field.press("Enter")
        visit.page.wait_for_url(f"**/batches/b-031/index.html{path}")
        visit.page.go_back()


def test_the_way_to_a_labels_page_is_beside_the_id(thumb: Any) -> None:
    visit = thumb("batches/b-031/index.html")
    link = visit.page.locator(".over .to-labels")
    link.wait_for()
    assert 844 / 2 > link.bounding_box()["y"]
    link.tap()
    visit.page.wait_for_url("**/labels/index.html#B-031")
    assert "1 label on 1 sheet" in visit.page.inner_text("[data-labels-words]")
    visit.page.goto(visit.page.url.replace("#B-031", "?#B-019"))
    assert "B-019 is not listed here" in visit.page.inner_text("[data-labels-words]")


def test_offline_an_address_opens_its_page_and_one_of_a_new_label_leads_to_its_record(thumb: Any, host: Any) -> None:
    """As the device's own camera app opens them."""
    visit = thumb("index.html", workers="allow")
    visit.until_saved()
    visit.context.set_offline(True)
    visit.page.goto(host.url("batches/b-031/#2"))
    assert "B-031" in visit.page.inner_text(".over")
    visit.page.goto(host.url("batches/b-33/#2"))  # printed before its ID was B-033
    visit.page.wait_for_url("**/batches/b-033/index.html#2")
    assert "B-033" in visit.page.inner_text(".over")
    visit.page.goto(host.url("batches/b-034/"))
    assert "Not recorded yet" == visit.page.inner_text("main h1")
    visit.page.get_by_role("link", name="Record B-034").tap()
    visit.until("() => document.querySelector('[data-record-title]')?.textContent === 'A new batch: B-034'")
    visit.page.goto(host.url("batches/b-099/"))
    height = "(link) => parseFloat(getComputedStyle(link).minBlockSize)"  # the site's own styles, offline
    assert 48 <= visit.page.get_by_role("link", name="Record B-099").evaluate(height)
    visit.page.get_by_role("link", name="Record B-099").tap()
    visit.until("() => document.querySelector('[data-record-title]')?.textContent === 'A new batch: B-099'")
    visit.page.locator("form:visible .chip", has_text="PP-26A").first.tap()
    visit.page.get_by_role("button", name="Save", exact=True).tap()
    visit.until("() => document.querySelector('[data-saved-words]')?.textContent === 'Write B-099 on its label'")


def test_the_page_labels_prints_the_sheet_that_the_command_makes(thumb: Any) -> None:
    visit = thumb("labels/index.html")
    visit.page.locator("[data-thing='B-032'] [data-each]").check(force=True)
    visit.page.fill("[data-first]", "3")
    visit.page.select_option("[data-size]", "block")
    assert "5 labels on 1 sheet of A4, 14 places each." in visit.page.inner_text("[data-labels-words]")
    site = "https://wash-house.example/journal/batches/b-032/"
    codes = [code_for((f"{site}#{part}",), LABEL_SIZES[2]) for part in range(1, 6)]
    drawn = "() => [...document.querySelectorAll('.jar-code path')].map((path) => path.getAttribute('d'))"
    assert [code.path for code in codes if code] == visit.page.evaluate(drawn)
    assert 1 == len(re.findall(rb"/Type ?/Page\b", visit.page.pdf(prefer_css_page_size=True)))
    assert "holds the ID alone" not in visit.page.inner_text("[data-labels-words]")
    visit.page.select_option("[data-size]", "dish")
    assert "5 labels hold the ID alone" in visit.page.inner_text("[data-labels-words]")
    assert "Not everything fits" not in visit.page.inner_text("[data-labels-words]")
    visit.page.locator("template[data-label='B-032.5']").evaluate(LENGTHEN)
    visit.page.fill("[data-first]", "4")
    says = visit.page.inner_text("[data-labels-words]")
    assert "Not everything fits on 1 label of this size, and the last lines are left out: B-032.5-K7Q4" in says
    assert [] == visit.complaints


LENGTHEN = """(template) => { template.content.querySelector('.jar-id').textContent += '-K7Q4-12-K7Q4-12-K7Q4'; }"""


BOXES = """() => ({
  labels: [...document.querySelectorAll('.jar-label')].map((label) => {
    const [box, sheet] = [label.getBoundingClientRect(), label.closest(".labelsheet").getBoundingClientRect()];
    const sides = [box.left - sheet.left, box.top - sheet.top, box.right - sheet.left, box.bottom - sheet.top];
    return sides.map((side) => Math.round(side * devicePixelRatio));
  }),
  lines: [...document.querySelectorAll('.jar-words p')].filter((line) => line.getClientRects().length).map((line) => {
    const [box, room] = [line.getBoundingClientRect(), line.closest('.jar-words').getBoundingClientRect()];
    return {
      label: [...document.querySelectorAll('.jar-label')].indexOf(line.closest('.jar-label')),
      text: line.innerText.trim(),
      font: parseFloat(getComputedStyle(line).fontSize),
      isWithin: box.left >= room.left && box.right <= room.right + 0.5 && box.bottom <= room.bottom + 0.5,
    };
  }),
})"""
