"""What locking costs, on the sample: a build, the first unlock, a page after that. Prints one row for each.

    python tests/bench/locking.py [--runs 5] [--chromium /usr/bin/chromium]

Build: CPU seconds of all processes, plain and locked, from nothing and with nothing changed. Unlock: from the tap to
the first page, the page's processor slowed four times, with the full number of rounds. Page: to the end of its loading,
of a plain and of a locked site that are both saved on the device, turn about.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.browser.conftest import FLAGS, PHONE, Visit, serving  # noqa: E402

PASSPHRASE = "walnut drizzle kettle marina stubborn"
PAGES = ("finds/index.html", "batches/b-031/index.html", "tents/wash-house/index.html", "diary/2026-11/index.html")
SLOWED = 4


def cpu_s(*words: str, **variables: str) -> float:
    """CPU seconds of a command of the program and all of its children."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, "-m", "journal", *words],
        check=True,
        capture_output=True,
        cwd=ROOT,
        env={**os.environ, **variables},
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def builds(room: Path, runs: int) -> None:
    """Medians of builds from nothing, and of such with nothing changed."""
    times: dict[tuple[str, bool], list[float]] = {}
    for run in range(runs):
        for kind in ("plain", "locked"):
            here = room / f"{kind}-{run}"
            lock = ["--locked"] if kind == "locked" else []
            words = ["build", "sample_entries", "--to", str(here / "site"), "--cache", str(here / "cache"), *lock]
            more = {"XDG_CONFIG_HOME": str(room / f"config-{run}"), "JOURNAL_PASSPHRASE": PASSPHRASE if lock else ""}
            times.setdefault((kind, False), []).append(cpu_s(*words, **more))
            more["JOURNAL_PASSPHRASE"] = ""
            cpu_s(*words, **more)  # what was written within a tick is told by its bytes till then
            times.setdefault((kind, True), []).append(cpu_s(*words, **more))
    for again, name in ((False, "build from nothing"), (True, "build, nothing changed")):
        plain, locked = (statistics.median(times[kind, again]) for kind in ("plain", "locked"))
        print(f"| {name} | {plain:.2f} CPU s | {locked:.2f} CPU s | {locked / plain:.2f} |")


def unlock(visit: Visit, url: str) -> None:
    visit.page.goto(url)
    visit.page.wait_for_selector("form:not([hidden])")
    visit.page.fill("#passphrase", PASSPHRASE)
    visit.page.click("[type=submit]")
    visit.until("document.querySelector('.places') !== null", seconds=60)


def first_unlock(browser: Any, url: str, runs: int) -> None:
    times = []
    for _ in range(runs):
        context = browser.new_context(viewport=PHONE)
        visit = Visit.of(context)
        visit.page.goto(url)
        visit.page.wait_for_selector("form:not([hidden])")
        context.new_cdp_session(visit.page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
        visit.page.fill("#passphrase", PASSPHRASE)
        began_s = time.monotonic()
        visit.page.click("[type=submit]")
        visit.until("document.querySelector('.places') !== null", seconds=60)
        times.append(time.monotonic() - began_s)
        context.close()
    print(
        f"| first unlock, page slowed {SLOWED} times | | {statistics.median(times):.2f} s (best {min(times):.2f}) | |"
    )


LOADED_MS = "performance.getEntriesByType('navigation')[0].loadEventEnd"


def pages(browser: Any, plain_url: str, locked_url: str, runs: int) -> None:
    visits = {}
    for kind, url in (("plain", plain_url), ("locked", locked_url)):
        visits[kind] = Visit.of(browser.new_context(viewport=PHONE))
        if kind == "locked":
            unlock(visits[kind], url)
        else:
            visits[kind].page.goto(url)
        visits[kind].until_saved()
    urls = {"plain": plain_url, "locked": locked_url}
    times: dict[str, list[float]] = {"plain": [], "locked": []}
    for _ in range(runs):
        for page in PAGES:
            for kind, visit in visits.items():
                visit.page.goto(urls[kind].replace("index.html", page))
                times[kind].append(visit.until(LOADED_MS))
    plain, locked = (statistics.median(times[kind]) for kind in ("plain", "locked"))
    print(f"| a page that is saved | {plain:.0f} ms | {locked:.0f} ms | {locked / plain:.2f} |")


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--runs", type=int, default=5)
    asked.add_argument("--chromium", default="/usr/bin/chromium")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory(prefix="locking-") as name:
        room = Path(name)
        print("| | plain | locked | ratio |\n| --- | --: | --: | --: |")
        builds(room, given.runs)
        with sync_playwright() as started, serving() as start:
            browser = started.chromium.launch(executable_path=given.chromium, args=FLAGS)
            plain, locked = (start(room / f"{kind}-0" / "site").url() for kind in ("plain", "locked"))
            first_unlock(browser, locked, given.runs)
            pages(browser, plain, locked, given.runs)
            browser.close()


if __name__ == "__main__":
    main()
