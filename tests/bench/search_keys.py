"""How long search takes for each key, and a page offline until it is painted, its processor slowed four times; no test.

    python tests/bench/search_keys.py SITE

SITE: a built site, such as that of `tests/bench/builds.py` with 10,000 entries. What is timed is the page's own script,
from the event of a key to the list of hits in the document, by the page's clock; the browser is Chromium. Then the site
is saved for offline use, the host stops, and pages are opened one after the other: from the start of a navigation to
its first contentful paint, and until its deferred scripts have run. The worker is not slowed. Beside them stands a page
of one line without a style or a script, from a host and turn about with the others: what the browser itself takes.
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.browser.conftest import IS_WHOLE, Host, Visit
from tests.browser.take_pictures import kinds_of

TYPED = ("p", "pl", "pleurotus", "b-833", "2026-08", "fog low door", "pleurotsu", "hulls slow even", "xyzzy")

READ = """async () => {
  const begun = performance.now();
  document.querySelector("[data-search]").focus();
  await journalScript("static/js/search.js");
  await globalThis.journalSearch.readAll();
  return performance.now() - begun;
}"""
KEY = """(text) => {
  const field = document.querySelector("[data-search]");
  field.value = text;
  const begun = performance.now();
  field.dispatchEvent(new Event("input"));
  document.querySelector(".search-hits").getBoundingClientRect();
  return performance.now() - begun;
}"""

OPENED = """() => new Promise((done) => {
  const [navigation] = performance.getEntriesByType("navigation");
  const painted = () => performance.getEntriesByName("first-contentful-paint")[0]?.startTime;
  const look = () => (painted() ? done([painted(), navigation.domContentLoadedEventEnd]) : setTimeout(look, 20));
  look();
})"""
SAVED_WITHIN_S = 400
OPENINGS = 9


def time_pages(browser: Any, host: Host) -> None:
    """Prints how long pages take offline: the five main pages and the last of each kind of entry."""
    kinds = kinds_of(host.folder)
    names = ("now", "finds", "cultures", "batches", "tents", "diary", "finds/…", "cultures/…", "batches/…", "diary/…")
    paths = {name: kinds[name][-1] for name in names if name in kinds}
    visit = Visit.of(browser.new_context(viewport={"width": 390, "height": 844}))
    visit.page.goto(host.url())
    begun = time.monotonic()
    visit.until(IS_WHOLE, seconds=SAVED_WITHIN_S)
    print(f"\nsaved for offline use in {time.monotonic() - begun:.0f} s; load {os.getloadavg()[0]:.0f}")
    host.stop()
    visit.context.new_cdp_session(visit.page).send("Emulation.setCPUThrottlingRate", {"rate": 4})
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "index.html").write_text("<!doctype html><html lang=en><title>One line</title><p>One line")
        bare = Host(Path(folder))
        bare.start()
        addresses = {"one line, from a host": bare.url(), **{name: host.url(path) for name, path in paths.items()}}
        took: dict[str, list[tuple[float, float]]] = {name: [] for name in addresses}
        for _ in range(OPENINGS):
            for name, address in addresses.items():
                visit.page.goto(address)
                took[name].append(visit.page.evaluate(OPENED))
        bare.stop()
    print(f"| page, offline | painted after ms, median of {OPENINGS} | scripts run | kB of HTML |")
    print("| --- | --: | --: | --: |")
    for name, times in took.items():
        painted, ready = (statistics.median(column) for column in zip(*times, strict=True))
        size_kb = (host.folder / paths[name]).stat().st_size / 1000 if name in paths else 0
        print(f"| {name} | {painted:.0f} | {ready:.0f} | {size_kb:.0f} |", flush=True)


def main() -> None:
    host = Host(Path(sys.argv[1]).resolve())
    host.start()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        context = browser.new_context(viewport={"width": 390, "height": 844}, service_workers="block")
        page = context.new_page()
        page.goto(host.url("device/index.html"))
        context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": 4})
        print(
            f"the index read in {page.evaluate(READ) / 1000:.2f} s, rows: {page.evaluate('journalSearch.rows.length')}"
        )
        print("| typed | ms, median of 9 | hits |\n| --- | --: | --: |")
        for text in TYPED:
            took = statistics.median(page.evaluate(KEY, text) for _ in range(9))
            print(f"| {text} | {took:.1f} | {page.evaluate('(text) => journalSearch.find(text).length', text)} |")
        time_pages(browser, host)
        browser.close()


if __name__ == "__main__":
    main()
