"""Labels as they are printed: a sheet at 300 dpi, its codes read by two decoders that had no part in making them."""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import zxingcpp
from PIL import Image

from journal.cache.resources import find_resources
from journal.site.label_sheet import LEAST_TEXT_MM, SIZES, Printed, layout_of, sheets_html

pytestmark = pytest.mark.browser

DPI = 300
MM = 96 / 25.4  # CSS px
LONG = {"species": "G. frondosa var. frondosa", "is_latin": True, "is_confirmed": False, "transfers": "T12"}
LABELS = [
    Printed(
        "B-031.12", ("B-031.12+Z",), "+Z", **LONG, origin="from PP-26A-3", date="27 Oct 2026", medium="oak pellets"
    ),
    Printed("F26-014-K7Q4", ("https://journal.example/finds/f26-014-k7q4/", "F26-014-K7Q4"), date="12 Sep 2026"),
    Printed("PP-26A", ("PP-26A",), species="P. pulmonarius", is_latin=True, medium="MEA"),
    Printed("B-034", ("https://journal.example/batches/b-034/", "B-034")),
]


def test_a_sheet_of_the_smallest_labels_is_legible_and_its_codes_are_read(browser: Any, tmp_path: Path) -> None:
    """Labels of 30 × 15 mm. ISO/IEC 18004 codes, read by zxing-cpp and by OpenCV."""
    layout = layout_of(SIZES[0], "A4")
    sheet = tmp_path / "labels.html"
    sheet.write_text(sheets_html(LABELS, layout, 2, "Woods", find_resources()), encoding="utf-8")
    page = browser.new_page(viewport={"width": 900, "height": 1200}, device_scale_factor=DPI / 96)
    try:
        page.emulate_media(media="print")
        page.goto(sheet.as_uri())
        pixels = page.locator(".sheet").screenshot()
        boxes = page.evaluate(BOXES)
        printed = page.pdf(prefer_css_page_size=True)
    finally:
        page.close()
    image = np.array(Image.open(BytesIO(pixels)).convert("RGB"))
    assert (210, 297) == tuple(round(size / DPI * 25.4) for size in (image.shape[1], image.shape[0]))
    expected = ["B-031.12+Z", "F26-014-K7Q4", "PP-26A", "https://journal.example/batches/b-034/"]
    cut = [image[top:bottom, left:right] for left, top, right, bottom in boxes["labels"]]
    assert expected == [zxingcpp.read_barcodes(label)[0].text for label in cut]
    assert expected == [cv2.QRCodeDetector().detectAndDecode(label)[0] for label in cut]
    assert set(expected) == {found.text for found in zxingcpp.read_barcodes(image)}
    assert 1 == len(re.findall(rb"/Type ?/Page\b", printed))
    for box in boxes["lines"]:
        assert box["font"] / MM >= LEAST_TEXT_MM - 0.001, box
        assert box["isWithin"] or not box["isNeeded"], box
    shown = " ".join(box["text"] for box in boxes["lines"] if box["isWithin"])
    for words in ("B-031.12+Z", "identity not confirmed", "T12 from PP-26A-3", "27 Oct 2026"):
        assert words in shown
    sizes = [(right - left, bottom - top) for left, top, right, bottom in boxes["labels"]]
    assert [(30, 15)] * 4 == [(round(width / DPI * 25.4), round(height / DPI * 25.4)) for width, height in sizes]


BOXES = """() => ({
  labels: [...document.querySelectorAll('.jar-label')].map((label) => {
    const [box, sheet] = [label.getBoundingClientRect(), label.closest('.sheet').getBoundingClientRect()];
    const sides = [box.left - sheet.left, box.top - sheet.top, box.right - sheet.left, box.bottom - sheet.top];
    return sides.map((side) => Math.round(side * devicePixelRatio));
  }),
  lines: [...document.querySelectorAll('.jar-words > p')].filter((line) => line.getClientRects().length).map((line) => {
    const [box, label] = [line.getBoundingClientRect(), line.closest('.jar-label').getBoundingClientRect()];
    return {
      text: line.innerText.trim(),
      font: parseFloat(getComputedStyle(line).fontSize),
      isNeeded: line.matches('.jar-id, .jar-doubt'),
      isWithin: box.left >= label.left && box.right <= label.right + 0.5 && box.bottom <= label.bottom + 0.5,
    };
  }),
})"""
