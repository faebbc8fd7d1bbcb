"""What the chart of a batch's run weighs, and what it costs beside the same page without it; no test.

    python tests/bench/runs.py [--days 120] [--photos 40] [--rows 50000] [--times 7]

One batch, its photos two a note, a tent's logger at one reading in three minutes or so. Both pages are planned and
rendered from the same model in one run, turn about: compare their ratio, never the seconds of two runs.
"""

from __future__ import annotations

import argparse
import math
import random
import re
import statistics
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from unittest.mock import patch

from journal.model import Batch, Journal, LoggerFile, Note, Photo, PhotoUse, Ref, TentEntry, When
from journal.settings import Settings, Tent, ValueRange
from journal.site.app import create_app
from journal.site.pages import batches as batch_page
from journal.site.pages import plan_site
from journal.site.plan import Published, PublishedSize

TEMPLATES = Path(__file__).parents[2] / "templates"
DAY0 = date(2026, 7, 1)
STAGES = {20: "colonised", 30: "pinning", 36: "fruiting", 44: "resting", 60: "pinning", 66: "fruiting", 80: "resting"}
SIZES = (
    PublishedSize(320, 240, 9000, "0a"),
    PublishedSize(960, 720, 50000, "0a"),
    PublishedSize(1600, 1200, 120000, "0a"),
)
PLACEHOLDER = "data:image/webp;base64," + "A" * 120


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name, value in (("days", 120), ("photos", 40), ("rows", 50_000), ("times", 7)):
        parser.add_argument(f"--{name}", type=int, default=value)
    asked = parser.parse_args()
    journal, published = made(asked.days, asked.photos, asked.rows)
    with_s, without_s = [], []
    for _ in range(asked.times):
        page, spent_s = built(journal, published)
        with_s.append(spent_s)
        with patch.object(batch_page, "timeline_chart", lambda lookup, batch: None):
            bare, spent_s = built(journal, published)
        without_s.append(spent_s)
    times = statistics.median(with_s) / statistics.median(without_s)
    print(f"{asked.days} days, {asked.photos} photos, {asked.rows} rows: medians of {asked.times}")
    print(f"the page with its run: {weighed(page)}; without: {weighed(bare)}")
    print(f"built in {times:.2f} times what it takes without its chart")


def weighed(page: str) -> str:
    """The page's weight, and that of the tiny pictures in it, which stand where photos are still to come."""
    tiny = sum(len(uri) for uri in re.findall(r"data:image/[^\"]+", page))
    return f"{len(page.encode()) / 1000:.1f} kB, {tiny / 1000:.1f} kB of it tiny pictures"


def built(journal: Journal, published: dict[str, Published]) -> tuple[str, float]:
    """The batch's page and the seconds that planning the site and rendering that page took."""
    start = time.perf_counter()
    site = plan_site(journal, published)
    page = create_app(site.pages, TEMPLATES).test_client().get("/batches/b-1/").text
    return page, time.perf_counter() - start


def made(days: int, photos: int, rows: int) -> tuple[Journal, dict[str, Published]]:
    """A journal of one batch, its notes and photos, and its tent's readings."""
    notes, pictures = [], []
    for number in range(0, photos, 2):
        day = DAY0 + timedelta(days=number * days // photos)
        taken = datetime(day.year, day.month, day.day, 8, number % 60, tzinfo=UTC)
        pair = [
            Photo(path=f"b/IMG_{at}.jpg", digest=str(at), taken=taken, width=1600, height=1200)
            for at in (number, number + 1)
        ]
        notes.append(note(day, pair[0].path, number, tuple(PhotoUse(picture.path) for picture in pair)))
        pictures += pair
    notes += [note(DAY0 + timedelta(days=day), f"s{day}", day, (), stage) for day, stage in STAGES.items()]
    for flush, day in enumerate((36, 66, 95), 1):
        notes.append(note(DAY0 + timedelta(days=day), f"h{day}", day, (), None, 1200 / flush, flush))
    tent = Tent(
        id="wash-house", name="Wash-house tent", humidity_pct=ValueRange(85, 95), temperature_c=ValueRange(12, 18)
    )
    batch = Batch(
        path="b/batch.md", date=on(DAY0), title="B-1", by="the author", id="B-1", units=6, dry_g=800,
        dry_from="dry mass", tent="wash-house",
    )  # fmt: skip
    settings = Settings(tents=(tent,))
    journal = Journal(
        settings, batches=(batch,), notes=tuple(sorted(notes, key=lambda one: (one.date.first, one.path))),
        tent_entries=tuple(changes(days)), photos=tuple(pictures), logs=(log(days, rows),),
    )  # fmt: skip
    published = {picture.path: Published(f"{int(picture.digest):016x}", SIZES, PLACEHOLDER) for picture in pictures}
    return journal, published


def on(day: date) -> When:
    return When(day.isoformat(), day, "day")


def note(
    day: date,
    path: str,
    number: int,
    photos: tuple[PhotoUse, ...],
    stage: str | None = None,
    harvest_g: float | None = None,
    flush: int | None = None,
) -> Note:
    return Note(
        path=f"b/{path}.md", date=on(day), title=f"look {number}", by="the author", about=(Ref("B-1"),),
        text="White felt over the corners, fog low, door shut.", photos=photos, stage=stage, harvest_g=harvest_g,
        flush=flush,
    )  # fmt: skip


def changes(days: int) -> list[TentEntry]:
    return [
        TentEntry(
            path=f"t/{day}.md", date=on(DAY0 + timedelta(days=day)), title="set", by="the author",
            about=("wash-house",), humidity_set_pct=90 + day % 5,
        )
        for day in range(10, days, 25)
    ]  # fmt: skip


def log(days: int, rows: int) -> LoggerFile:
    chance = random.Random(rows)
    first_s = datetime(DAY0.year, DAY0.month, DAY0.day, tzinfo=UTC).timestamp()
    step_s = days * 86400 / rows
    at_d = [at * step_s / 86400 for at in range(rows)]
    return LoggerFile(
        path="climate/one.csv",
        tent="wash-house",
        stamps_s=tuple(first_s + at * step_s for at in range(rows)),
        temperature_c=tuple(15 + 2 * math.sin(day * 6.3) + chance.gauss(0, 0.3) for day in at_d),
        humidity_pct=tuple(min(100.0, 90 + 3 * math.sin(day * 50) + chance.gauss(0, 1.5)) for day in at_d),
    )


if __name__ == "__main__":
    main()
