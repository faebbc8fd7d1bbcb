"""A crowded run in a real browser: no words lie on others at any width, and the keyboard goes from day to day."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from functools import partial
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import WIDTHS, Look
from tests.conftest import run_journal

pytestmark = pytest.mark.browser

DAY0 = date(2026, 1, 1)
TENTS = {"tub": "Tub", "stairs": "Bare room with a very long name, by the net-loft stairs"}
A4_PX = 718
"""What A4 leaves between margins of 10 mm, at 96 px an inch."""


def entries() -> dict[str, str]:
    """A batch of 400 days: flushes a month apart and some on days running, moves, losses, changes of settings."""
    found = {
        "journal.toml": "".join(f'[tents.{id}]\nname = "{name}"\nhumidity = "85–95 %"\n' for id, name in TENTS.items()),
        "b.md": f"---\nkind: batch\nid: B-1\nunits: 9\ndry mass: 800 g\ntent: tub\ndate: {DAY0}\n---\n",
    }

    def tell(name: str, day: int, keys: str, head: str = "kind: note\nabout: B-1") -> None:
        found[f"{name}-{day}.md"] = f"---\n{head}\ndate: {DAY0 + timedelta(days=day)}\n{keys}\n---\n"

    for at in range(12):
        tell("picked", 60 + at * 28, f"harvest: {300 + at * 57} g\nflush: {at + 1}")
        tell("staged", 40 + at * 30, f"stage: {('pinning', 'fruiting', 'resting')[at % 3]}")
    for at in range(4):
        tell("again", 396 + at, f"harvest: {700 - at * 150} g\nflush: 13")
        tell("moved", 200 + at, f"moved to: {'stairs' if at % 2 else 'tub'}")
        tell("lost", 201 + at, "lost: 1\ncause: gnats")
        set_it = f"humidity set point: {90 + at} %\nlight: {8 + at}:{16 - at}"
        tell("set", 20 + at, set_it, "kind: tent\nabout: tub")
        tell("read", 30 + at * 50, "humidity reading: 80 %\ntemperature reading: 15 °C", "kind: tent\nabout: tub")
    return found


@pytest.fixture(scope="module")
def crowded_site(tmp_path_factory: pytest.TempPathFactory, picture_bytes: Callable[..., bytes]) -> Path:
    room = tmp_path_factory.mktemp("crowded")
    for name, text in entries().items():
        (room / "journal" / name).parent.mkdir(parents=True, exist_ok=True)
        (room / "journal" / name).write_text(text, encoding="utf-8")
    for at in range(30):
        (room / "journal" / f"{at}.jpg").write_bytes(picture_bytes("JPEG", size=(64 + at, 48)))
        day = DAY0 + timedelta(days=at * 13)
        note = f"---\nkind: note\nabout: B-1\ndate: {day}\nphotos: {at}.jpg\n---\n"
        (room / "journal" / f"photo-{at}.md").write_text(note, encoding="utf-8")
    run_journal("build", room / "journal", "--to", room / "site", "--cache", room / "cache")
    return room / "site"


@pytest.fixture(scope="module")
def look(looking: Callable[..., Look], crowded_site: Path) -> Look:
    return looking(crowded_site)


@pytest.fixture
def run_at(look: Look) -> Callable[..., Any]:
    """The batch's page at a width, on a screen or on paper."""
    return partial(look, "batches/b-1/index.html")


BOXES = """() => [...document.querySelectorAll("svg.timeline :is(text, image)")].filter((one) => one.checkVisibility())
  .map((part) => {
    const { left, right, top, bottom } = part.getBoundingClientRect();
    return [part.tagName, part.textContent, left, right, top, bottom];
  })"""


@pytest.mark.parametrize(
    ("width", "media"),
    [(320, "null"), (360, "null"), (600, "null"), (820, "null"), (1100, "null"), (1280, "null"),
     (1600, "null"), (A4_PX, "print")],
)  # fmt: skip
def test_no_words_and_no_photographs_lie_on_each_other_or_leave_the_drawing(
    run_at: Callable[..., Any], width: int, media: str
) -> None:
    page = run_at(width, media=media)
    frame = page.locator("svg.timeline").bounding_box()
    boxes = [box for box in page.evaluate(BOXES) if not box[1].startswith("+")]  # counts stand on their photograph
    assert len(boxes) > 20
    assert all(frame["x"] - 1 <= box[2] and box[3] <= frame["x"] + frame["width"] + 1 for box in boxes)
    for (kind, one, left, right, top, bottom), (kind2, other, left2, right2, top2, bottom2) in combinations(boxes, 2):
        slack = 3 if "text" in (kind, kind2) else 0  # a line of text is taller than its letters
        assert right <= left2 or right2 <= left or bottom - slack <= top2 or bottom2 - slack <= top, (one, other)


@pytest.mark.parametrize("width", [320, 360])
def test_a_page_of_many_flushes_grows_no_wider_than_a_phone(run_at: Callable[..., Any], width: int) -> None:
    inner, outer = run_at(width).evaluate(WIDTHS)
    assert outer <= inner


def test_more_is_told_where_there_is_more_room(run_at: Callable[..., Any]) -> None:
    shown = [len(run_at(width).evaluate(BOXES)) for width in (360, 820, 1280)]
    assert sorted(set(shown)) == shown


def test_the_keyboard_goes_through_the_photographs_by_their_days(run_at: Callable[..., Any]) -> None:
    page = run_at(1280, afresh=True)
    days = []
    page.locator("svg.timeline a").first.focus()
    while label := page.evaluate("document.activeElement.closest('svg.timeline') && document.activeElement.ariaLabel"):
        days.append(int(label.split()[1].strip(",:")))
        page.keyboard.press("Tab")
    assert len(days) > 10
    assert sorted(days) == days
