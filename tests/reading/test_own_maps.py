"""Maps of the author's own: what the settings say of them, and one clear line for each slip."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from journal.model import Journal
from tests.builders import entry

FIND = entry("find", "id: F-1\ndate: 2025-09-12\nwhere: 58.3005, -8.8995 ±8 m")
CORNERS = (
    (0, 0, "58.302, -8.902"),
    (800, 0, "58.302, -8.898"),
    (0, 600, "58.299, -8.902"),
    (800, 600, "58.299, -8.898"),
)


def settings(*points: tuple[object, object, str], file: str = "maps/bank.png") -> str:
    rows = ", ".join(f'{{x = {x}, y = {y}, position = "{place}"}}' for x, y, place in points)
    return f'[journal]\ntime_zone = "UTC"\n[[map]]\nfile = "{file}"\npoints = [{rows}]\n'


@pytest.fixture
def problems(make_journal: Callable[..., Journal]) -> Callable[..., list[str]]:
    def found(toml: str, width: int | None = 800, path: str = "maps/bank.png") -> list[str]:
        photos = {path: {"width": width, "height": 600 if width else None}}
        journal = make_journal({"journal.toml": toml, "f.md": FIND}, photos)
        assert "58.29" not in str(journal.problems), "no message tells a place"
        return [f"{problem.severity}: {problem.message}" for problem in journal.problems]

    return found


def test_a_map_that_fits_has_no_problem_and_its_picture_needs_no_entry(problems: Callable[..., list[str]]) -> None:
    assert [] == problems(settings(*CORNERS))
    assert [] == problems(settings(*CORNERS[:3]))


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (CORNERS[:2], "needs three points or more whose position is known, and has 2"),
        ((CORNERS[0], (400, 300, "58.3, -8.9"), (800, 600, "58.298, -8.898")), "the points of a map are on one line"),
        ((*CORNERS[:2], (0, 601, "58.299, -8.902")), "point 3 of the map maps/bank.png is outside its 800 × 600 px"),
        ((*CORNERS[:2], ("true", 60, "58.299, -8.902")), "lacks x and y in px"),
        ((*CORNERS[:3], (800, 600, "58.312, -8.898")), "misses its own points by"),
        ((*CORNERS[:2], (0, 600, "somewhere")), "position"),
    ],
)
def test_a_slip_is_one_clear_line(problems: Callable[..., list[str]], points: tuple[object, ...], words: str) -> None:
    found = problems(settings(*points))  # type: ignore[arg-type]
    assert any(words in line for line in found), found


def test_how_far_a_map_misses_is_told_in_the_units_of_the_journal(problems: Callable[..., list[str]]) -> None:
    toml = settings(*CORNERS[:3], (800, 600, "58.312, -8.898"))
    (metric,), (us,) = problems(toml), problems(f'[journal]\nunits = "us"\n{toml.removeprefix("[journal]")}')
    assert re.search(r"by \d+ m \(root mean square\), over a way of [\d.]+ k?m$", metric)
    assert re.search(r"by \d+ ft \(root mean square\), over a way of [\d.]+ (ft|mi)$", us)


def test_a_missing_or_broken_picture_is_named(problems: Callable[..., list[str]]) -> None:
    missing = problems(settings(*CORNERS, file="maps/bnak.png"))
    assert "error: the map maps/bnak.png is not in the journal folder" in missing
    assert ["error: the map maps/bank.png cannot be read as a picture"] == problems(settings(*CORNERS), width=None)
