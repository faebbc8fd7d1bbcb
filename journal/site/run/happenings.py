"""What happened to a batch, each thing at its day on the axis, before any width is known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from journal.reckoning.expecting import Expected
from journal.reckoning.timing import Run, calendar_day
from journal.site import wording
from journal.site.run.axis import Axis

Kind = Literal["move", "loss", "set", "light"]


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of days: a stage, or what is expected. Ends in days on the axis."""

    stage: str
    from_d: float
    to_d: float
    expected: bool = False


@dataclass(frozen=True, slots=True)
class Happening:
    """at_d: in days. words: short enough for the drawing."""

    kind: Kind
    at_d: float
    words: str


@dataclass(frozen=True, slots=True)
class Picked:
    """A harvest. words: its mass."""

    at_d: float
    mass_g: float
    words: str


def last_day_of(run: Run, awaited: Expected | None, readings_to_d: float | None, axis: Axis) -> float:
    """Where a run's axis ends: at its end where it is over, else at the last that is known or expected of it."""
    if run.over_on is not None:
        return axis.day_of(run.over_on) + 1
    days: list[float] = [axis.day_of(day) + 1 for note in run.notes if (day := calendar_day(note.date))]
    if awaited is not None:
        days.append(axis.day_of(awaited.to_day) + 1)
    if readings_to_d is not None:
        days.append(readings_to_d)
    return max(days, default=1)


def stages(run: Run, axis: Axis, until_d: float) -> tuple[Span, ...]:
    """The stages of the whole, each until the next; before the first that is told it is inoculated."""
    begun: list[tuple[float, str]] = []
    for note in run.whole_notes:
        day = calendar_day(note.date)
        if note.stage and day is not None and (not begun or begun[-1][1] != note.stage):
            begun.append((max(0, axis.day_of(day)), note.stage))
    if not begun or begun[0][0] > 0:
        begun.insert(0, (0, "inoculated"))
    ends = [day for day, _ in begun[1:]] + [until_d]
    return tuple(
        Span(stage, day, min(end, until_d)) for (day, stage), end in zip(begun, ends, strict=True) if end > day
    )


def expected_span(awaited: Expected | None, axis: Axis) -> Span | None:
    """What is expected next, as a stretch of days."""
    if awaited is None:
        return None
    return Span(awaited.what, axis.day_of(awaited.from_day), axis.day_of(awaited.to_day) + 1, expected=True)


def moves_and_losses(run: Run, axis: Axis, names: Mapping[str, str]) -> Iterator[Happening]:
    """Moves of the whole and units lost, in order. names: of tents, by ID in lower case."""
    for note in run.notes:
        at_d = axis.at(note.date)
        if at_d is None:
            continue
        if note in run.moves and note.moved_to:
            yield Happening("move", at_d, f"to {names.get(note.moved_to.lower(), note.moved_to)}")
        if note in run.losses:
            yield Happening("loss", at_d, f"{note.lost} lost")


def pickings(run: Run, axis: Axis, units: wording.Units) -> Iterator[Picked]:
    """Every harvest of more than nothing."""
    for note in run.pickings:
        at_d = axis.at(note.date)
        if at_d is not None and note.harvest_g:
            yield Picked(at_d, note.harvest_g, wording.mass(note.harvest_g, units))
