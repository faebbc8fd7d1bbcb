"""Takes the README's pictures of a built sample, and those that a browser shows where a journal is installed; or
pictures of every kind of page, to be looked at, into a folder that is none of git's:

python tests/browser/take_pictures.py [SITE]
python tests/browser/take_pictures.py --all FOLDER [KIND]…

The latter are of the sample with sixty more photos of one day: of each kind of page (`batches/…`, `tents/…/power`)
those with the fewest photos, with one and with the most, at 360, 390, 820 and 1280 px, in both themes.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections import defaultdict
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

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
"""Name, page, theme, and what is at the top of the picture (None: the page's own top)."""


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


WIDTHS = (360, 390, 820, 1280)
SIXTY = "---\nkind: note\nabout: B-031\ndate: 2026-11-24\ntitle: Sixty photos of one day\nphotos:\n"


def built_with_sixty(room: Path) -> Path:
    """The site of the sample with a note of sixty photos."""
    journal = shutil.copytree(ROOT / "sample_entries", room / "journal")
    pictures = sorted(journal.rglob("*.jpg"))
    entry = room / "journal" / "sixty"
    entry.mkdir()
    for number in range(60):
        with Image.open(pictures[number % len(pictures)]) as picture:
            picture.convert("RGB").resize((900 + 5 * number, 675)).save(entry / f"{number:02}.jpg", quality=80)
    rows = "".join(f"  - {number:02}.jpg\n" for number in range(60))
    (entry / "note.md").write_text(f"{SIXTY}{rows}---\nOne every minute.\n", encoding="utf-8")
    command = [sys.executable, "-m", "journal", "build", str(journal), "--to", str(room / "site")]
    subprocess.run([*command, "--cache", str(room / "cache")], check=True, cwd=ROOT)
    return room / "site"


def kinds_of(site: Path) -> dict[str, list[str]]:
    """Kind -> its pages with the fewest photos, with one, and with the most."""
    found: dict[str, list[tuple[int, str]]] = defaultdict(list)
    for page in sorted(site.rglob("*.html")):
        path = page.relative_to(site).as_posix()
        parts = path.removesuffix("index.html").strip("/").split("/")
        is_own = [re.search(r"[\d_]", part) or (at == 1 and parts[0] == "tents") for at, part in enumerate(parts)]
        named = ["…" if own else part for own, part in zip(is_own, parts, strict=True)]
        kind = "/".join(named) or "now"
        found[kind].append((page.read_text(encoding="utf-8").count("<img"), path))
    chosen = {}
    for kind, rows in found.items():
        rows.sort()
        one = min(rows, key=lambda row: (abs(row[0] - 2), row[1]))  # the mark of the journal is a picture too
        chosen[kind] = list(dict.fromkeys(path for _, path in (rows[0], one, rows[-1])))
    return chosen


def take_all(folder: Path, only: list[str]) -> None:
    """Writes KIND-PHOTOS-WIDTH-THEME.png for every kind of page."""
    folder.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory() as room, sync_playwright() as playwright:
        site = built_with_sixty(Path(room))
        host = Host(site)
        host.start()
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        kinds = {kind: pages for kind, pages in kinds_of(site).items() if not only or kind in only}
        for width in WIDTHS:
            for theme in ("light", "dark"):
                view = {"width": width, "height": 844}
                page = browser.new_context(viewport=view, color_scheme=theme, service_workers="block").new_page()
                for kind, paths in kinds.items():
                    for number, path in enumerate(paths):
                        page.goto(host.url(path))
                        page.evaluate("document.querySelectorAll('img').forEach((one) => (one.loading = 'eager'))")
                        page.wait_for_load_state("networkidle")
                        name = f"{kind.replace('/', '-').replace('…', 'x')}-{number}-{width}-{theme}.png"
                        page.screenshot(path=folder / name, full_page=True)
                page.context.close()
        host.stop()


def main() -> None:
    if sys.argv[1:2] == ["--all"]:
        take_all(Path(sys.argv[2]), sys.argv[3:])
        return
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
