"""Frame times of a sketch map of 5,000 finds on a processor slowed four times: `python tests/bench/sketch_map.py`.

Moves and enlarges the map of a page of finds in Chromium, a step in every frame, by the events that a finger makes, and
prints for each movement how long the frames took: those of the screen (between two of them) and the script's own.
"""

from __future__ import annotations

import argparse
import random
import statistics
import tempfile
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from journal.cache.resources import find_resources
from journal.geo.flat_map import FlatMap
from journal.model import Find, Journal, Position, When
from journal.settings import Settings
from journal.site.app import create_app
from journal.site.pages import plan_site
from tests.builders import when, write_static

MOVE = """async ([kind, frames]) => {
  const svg = document.querySelector("canvas.map");
  const box = svg.getBoundingClientRect();
  const [x, y] = [box.left + box.width / 2, box.top + box.height / 2];
  const send = (type, id, px, py) => svg.dispatchEvent(new PointerEvent(type, {pointerId: id, clientX: px, clientY: py,
    bubbles: true, pointerType: "touch", isPrimary: id === 1, button: 0}));
  svg.setPointerCapture = () => {};
  const next = () => new Promise(requestAnimationFrame);
  const [spans, works] = [[], []];
  for (let n = 0; n < 30; n += 1) await next();
  send("pointerdown", 1, x, y);
  if (kind !== "drag") send("pointerdown", 2, x + 40, y);
  let before = await next();
  for (let at = 1; at <= frames; at += 1) {
    const turn = (at / frames) * 2 * Math.PI;
    const began = performance.now();
    if (kind === "drag") send("pointermove", 1, x + 150 * Math.sin(turn * 3), y + 120 * Math.sin(turn * 2));
    if (kind === "pinch") send("pointermove", 2, x + 40 * 2 ** (3 * Math.sin(turn / 2)), y);
    const now = await next();
    works.push(performance.now() - began);
    spans.push(now - before);
    before = now;
  }
  send("pointerup", 1, x, y);
  send("pointerup", 2, x, y);
  return {spans};
}"""


def journal_of(count: int, seed: int) -> Journal:
    """So many finds in some sixty woods of an invented coast, close together in each."""
    chance = random.Random(seed)
    woods = [(58.3 + chance.gauss(0, 0.06), -8.9 + chance.gauss(0, 0.11)) for _ in range(60)]
    day: When = when("2026-09-12")

    def made(at: int) -> Find:
        lat_deg, lon_deg = FlatMap(*chance.choice(woods)).place(chance.gauss(0, 120), chance.gauss(0, 120))
        place = Position(lat_deg, lon_deg, chance.uniform(3, 60), "entry")
        return Find(path=f"{at}.md", date=day, title="", by="", id=f"F-{at}", position=place, place=f"Wood {at % 60}")

    return Journal(Settings(), finds=tuple(made(at) for at in range(count)))


SPENT = ("TaskDuration", "ScriptDuration", "RecalcStyleDuration", "LayoutDuration")
"""Of what the browser counts: all of its thread's work, and three parts of it, in seconds of the processor's time."""


def metrics(session: Any) -> dict[str, float]:
    return {row["name"]: row["value"] for row in session.send("Performance.getMetrics")["metrics"]}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--finds", type=int, default=5000)
    parser.add_argument("--slowed", type=float, default=4.0)
    parser.add_argument("--frames", type=int, default=240)
    parser.add_argument("--chromium", default="/usr/bin/chromium")
    chosen = parser.parse_args()
    resources = find_resources()
    site = plan_site(journal_of(chosen.finds, seed=1), {})
    page_html = create_app(site.pages, resources / "templates").test_client().get("/finds/").text
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        (Path(folder) / "finds").mkdir()
        write_static(Path(folder))
        file = Path(folder) / "finds/index.html"
        file.write_text(page_html, "utf-8")
        browser = playwright.chromium.launch(executable_path=chosen.chromium, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 390, "height": 844}, device_scale_factor=2)
        page.goto(file.as_uri())
        page.locator("canvas.map").scroll_into_view_if_needed()
        session = page.context.new_cdp_session(page)
        session.send("Emulation.setCPUThrottlingRate", {"rate": chosen.slowed})
        session.send("Performance.enable", {"timeDomain": "threadTicks"})
        print(f"{chosen.finds} finds, page {len(page_html) / 1e6:.1f} MB, slowed {chosen.slowed:g} times, 390 px at 2x")
        for press in range(4):
            for kind in ("still", "drag", "pinch"):
                before = metrics(session)
                found = page.evaluate(MOVE, [kind, chosen.frames])
                after = metrics(session)
                spent = ", ".join(f"{name} {(after[name] - before[name]) * 1000 / chosen.frames:.2f}" for name in SPENT)
                spans = sorted(found["spans"])
                late = sum(span > 20 for span in spans)
                print(
                    f"enlarged {2**press} times, {kind:5}: frames of "
                    f"{statistics.median(spans):.1f} ms (median), {spans[int(len(spans) * 0.95)]:.1f} (95 %), "
                    f"{spans[-1]:.1f} (longest); {late} of {len(spans)} over 20 ms\n"
                    f"    the page's own thread, ms a frame: {spent}"
                )
            page.locator(".map-acts button").first.click()
        browser.close()


if __name__ == "__main__":
    main()
