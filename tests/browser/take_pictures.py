"""Takes the README's pictures of a built sample: python tests/browser/take_pictures.py [SITE]"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

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
            file = PICTURES / f"{name}.png"
            page.screenshot(path=file)
            Image.open(file).convert("RGB").quantize(200).save(file, optimize=True)


if __name__ == "__main__":
    main()
