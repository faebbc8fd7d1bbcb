"""Roll-ups of any journal agree with counting everything below each culture, and of a long line take linear time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.analysis import rollups
from journal.analysis.analysis import Analysis
from journal.analysis.progress import Progress
from journal.analysis.yields import PartYield, parts_of
from journal.model import Batch, Culture, Find, Note
from tests.analysis.test_lineage import stories
from tests.builders import batch, culture, find, journal_of, note
from tests.growth import grows_faster_than_a_scan

Row = Find | Culture | Batch


def taken(rows: dict[str, Row], start: str) -> set[str]:
    """A culture and all that was reached from it by transfer, by the definition."""
    found, before = {start}, set[str]()
    while found != before:
        before = set(found)
        for row in rows.values():
            if isinstance(row, Find) or (isinstance(row, Culture) and row.method != "transfer"):
                continue
            sources = row.sources if isinstance(row, Culture) else row.cultures
            if any(ref.id in found for ref in sources):
                found.add(row.id)
    return found


@given(stories(), st.lists(st.tuples(st.integers(0, 11), st.integers(1, 3)), max_size=6))
def test_any_story_is_counted_as_everything_below_each_culture(rows: list[Row], lost: list[tuple[int, int]]) -> None:
    rows = [replace(row, vessels=4) if isinstance(row, Culture) and n % 3 else row for n, row in enumerate(rows)]
    notes = [note(f"X{at}", 3, lost=many, cause=f"mould {many}") for at, many in lost if at < len(rows)]
    found = Analysis(journal_of(*rows, *dict.fromkeys(notes)))
    by_id = {row.id: row for row in rows}
    for id, rolled in found.rollups.cultures.items():
        below = taken(by_id, id)
        batches = [row for row in by_id.values() if isinstance(row, Batch) and row.id in below]
        assert sorted(row.id for row in batches) == list(rolled.batches)
        shared = [row.id for row in batches if any(ref.id not in below for ref in row.cultures)]
        assert (id, sorted(shared)) == (rolled.of, list(rolled.shared))
        assert rollups.losses_by_step([row for row in by_id.values() if row.id in below], found.progress) == tuple(
            replace(loss, uncounted=tuple(sorted(loss.uncounted, key=list(by_id).index))) for loss in rolled.losses
        )


LINES: dict[str, Callable[[int], str]] = {
    "of transfers": lambda n: f"C{n - 1}",
    "of transfers, each with a plate that led nowhere": lambda n: f"C{n - 1 - (n + 1) % 2}",
}


@pytest.mark.parametrize("source", LINES.values(), ids=LINES)
def test_a_line_ten_times_as_long_takes_ten_times_the_steps(
    monkeypatch: pytest.MonkeyPatch, source: Callable[[int], str]
) -> None:
    steps = 0
    real = rollups.losses_by_step

    def counting(scope: list[Culture], progress: object) -> object:
        nonlocal steps
        steps += len(scope)
        return real(scope, progress)  # type: ignore[arg-type]

    monkeypatch.setattr(rollups, "losses_by_step", counting)
    took = []
    for length in (40, 400):
        steps = 0
        line = [culture("C0", "F", method="tissue"), *(culture(f"C{n}", source(n)) for n in range(1, length))]
        rolled = Analysis(journal_of(find("F"), *line)).rollups
        took.append(steps)
        (loss,) = rolled.cultures["C0"].losses
        assert (rollups.UNCOUNTED_NAMED, length) == (len(loss.uncounted), len(loss.uncounted) + loss.uncounted_more)
    assert took[1] <= 10 * took[0]


def test_time_of_what_units_gave_grows_no_faster_than_their_number() -> None:
    made: dict[int, tuple[Batch, tuple[Note, ...]]] = {}

    def shape(size: int) -> str:
        units = size // 4
        told = tuple(note(f"B.{unit}", 9, harvest_g=100.0, flush=1) for unit in range(1, units + 1))
        made[size] = batch("B", units=units, dry_g=500.0), told
        return "x" * size

    def read(text: str) -> tuple[PartYield, ...]:
        row, told = made[len(text)]
        return parts_of(Progress(row, told), row)

    assert None is grows_faster_than_a_scan(read, shape, 400)
