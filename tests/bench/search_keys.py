"""How long the search takes to read its index, and then for each key, at a processor slowed four times; no test.

    python tests/bench/search_keys.py SITE

SITE: a built site, such as that of `tests/bench/builds.py` with 10,000 entries. What is timed is the page's own script,
from the event of a key to the list of hits in the document, by the page's clock; the browser is Chromium.
"""

from __future__ import annotations

import shutil
import statistics
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.browser.conftest import Host

TYPED = ("p", "pl", "pleurotus", "b-833", "2026-08", "fog low door", "pleurotsu", "hulls slow even", "xyzzy")

READ = """async () => {
  const begun = performance.now();
  document.querySelector("[data-search]").focus();
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
        browser.close()
    host.stop()


if __name__ == "__main__":
    main()
