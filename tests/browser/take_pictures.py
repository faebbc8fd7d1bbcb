"""Takes the README's pictures of a built sample, and those that a browser shows where a journal is installed:

python tests/browser/take_pictures.py [SITE]
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.browser.conftest import Host

ROOT = Path(__file__).parents[2]
PICTURES = Path(__file__).parent / "pictures"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
SHOTS = (
    ("now", "index.html", "light", None),
    ("find", "finds/f26-001/index.html", "light", None),
    ("timeline-dark", "batches/b-031/index.html", "dark", ".batch-timeline"),
    ("descent", "cultures/vf-25a/index.html", "light", ".descent"),
)
"""Name, page, theme, and what stands at the top of the picture (None: the page's own top)."""


SCREENS = (("now", "index.html"), ("batch", "batches/b-031/index.html"))
"""Name and page of what the manifest shows."""

HERE = {"latitude": 58.30412, "longitude": -8.90177, "accuracy": 12}


def recording(browser: Browser, host: Host, photo: Path) -> Iterator[tuple[str, Page]]:
    """A find and a harvest being recorded, and the outbox then. They need an address, which a folder has not."""
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, geolocation=HERE, permissions=["geolocation"], service_workers="block"
    )
    page = context.new_page()
    for name, query in (("find", "kind=find"), ("batch", "about=B-031")):
        page.goto(host.url(f"record/index.html?{query}"), wait_until="networkidle")
        if name == "find":
            page.locator("form:visible [data-add=camera]").set_input_files(photo)
            page.locator("form:visible [data-taken] img").wait_for()
            page.locator("form:visible .chip", has_text="Pleurotus pulmonarius").click()
        else:
            page.locator("form:visible .chip", has_text="fruiting").click()
            page.fill("form:visible [name=harvest]", "412")
            page.locator("form:visible .chip", has_text="block 2").click()
        page.evaluate("scrollTo(0, 0)")
        page.wait_for_timeout(500)
        yield f"record-{name}", page
        page.get_by_role("button", name="Save", exact=True).click()
        page.locator("[data-saved-panel]:visible").wait_for()
    page.goto(host.url("record/outbox/index.html"), wait_until="networkidle")
    page.wait_for_timeout(500)
    yield "outbox", page
    context.close()


def keep(page: Page, name: str) -> None:
    file = PICTURES / f"{name}.png"
    page.screenshot(path=file)
    Image.open(file).convert("RGB").quantize(200).save(file, optimize=True)


def main() -> None:
    site = Path(sys.argv[1] if len(sys.argv) > 1 else ROOT / "build" / "site").resolve()
    PICTURES.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        for name, path, theme, top in SHOTS:
            page = browser.new_page(viewport={"width": 390, "height": 844}, color_scheme=theme)
            page.goto((site / path).as_uri(), wait_until="networkidle")
            if top:
                page.locator(top).first.evaluate("one => scrollTo(0, one.getBoundingClientRect().top + scrollY - 16)")
                page.wait_for_timeout(300)
            keep(page, name)
        for name, path in SCREENS:
            page = browser.new_page(viewport={"width": 390, "height": 844}, color_scheme="light")
            page.goto((site / path).as_uri(), wait_until="networkidle")
            with Image.open(BytesIO(page.screenshot())) as taken:
                taken.convert("RGB").save(ROOT / "static" / "screens" / f"{name}.webp", quality=75, method=6)
        host = Host(site)
        host.start()
        photo = sorted((ROOT / "sample_entries" / "finds").rglob("*.jpg"))[-1]
        for name, page in recording(browser, host, photo):
            keep(page, name)
        host.stop()


if __name__ == "__main__":
    main()
