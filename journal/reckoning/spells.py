"""When the air was out of band, and for how long: real spells, told apart from dips of minutes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from journal.reckoning.air_series import STANDS_FOR_AT_MOST_S
from journal.reckoning.in_band import Judged
from journal.reckoning.reckoned import Amount, Reckoning
from journal.reckoning.spread import Spread, spread_of

DIP_AT_MOST_S = 1800.0

SPELL_RULE = (
    "out of band for more than 30 min together is a spell; for less it is a dip, as an opened door makes one (common "
    "practice); for this, a reading beside a time without any stands for as long on that side as on its other; a "
    "reading that cannot be told, is not counted or is missing ends either"
)

LONGEST_FORMULA = "the longest spell = the time for which its readings stand, from the first out of band to the last"

Side = Literal["too dry", "too damp", "too cold", "too warm"]


@dataclass(frozen=True, slots=True)
class Spell:
    """A time out of band, in seconds since 1970-01-01T00:00Z: that for which its readings stand.

    sides: in which ways, each once, as they come. humidity, temperature: what was read in it.
    """

    from_s: float
    until_s: float
    sides: tuple[Side, ...]
    humidity_pct: Spread | None
    temperature_c: Spread | None

    @property
    def hours(self) -> float:
        return (self.until_s - self.from_s) / 3600


@dataclass(frozen=True, slots=True)
class Spells:
    """spells: in order of time. dips, dips_h: how many dips, and how long all together."""

    spells: tuple[Spell, ...] = ()
    dips: int = 0
    dips_h: float = 0.0

    @property
    def longest(self) -> Spell | None:
        """The longest spell, of several the first."""
        return max(self.spells, key=lambda spell: spell.hours, default=None)

    @property
    def longest_out_h(self) -> float:
        """How long the longest spell was; 0 where there was none, dips or not."""
        return self.longest.hours if self.longest else 0.0

    def __add__(self, other: Spells) -> Spells:
        return Spells(self.spells + other.spells, self.dips + other.dips, self.dips_h + other.dips_h)


def longest_reckoned(spells: Spells) -> Reckoning:
    """How long the longest spell was, in h, with what it was chosen from; 0 where there was none."""
    lengths = sorted((spell.hours for spell in spells.spells), reverse=True)
    inputs: list[tuple[str, Amount | str]] = [("spells", str(len(lengths)))]
    if len(lengths) > 1:
        inputs.append(("the next longest", Amount(lengths[1], "h")))
    inputs += [("dips", str(spells.dips)), ("dips, all together", Amount(spells.dips_h, "h"))]
    return Reckoning(spells.longest_out_h, "h", tuple(inputs), LONGEST_FORMULA, SPELL_RULE)


def spells_in(judged: Judged, part: range) -> Spells:
    """The spells and dips among some neighbouring readings; one that reaches beyond them is cut there."""
    real: list[Spell] = []
    dips_s: list[float] = []
    for run in judged.runs_out(part):
        from_s, until_s = _span_s(judged, run)
        if _out_for_s(judged.series.stamps_s, run) > DIP_AT_MOST_S:
            real.append(_spell(judged, run, from_s, until_s))
        else:
            dips_s.append(until_s - from_s)
    return Spells(tuple(real), len(dips_s), sum(dips_s) / 3600)


def _span_s(judged: Judged, run: range) -> tuple[float, float]:
    """From the time that the first reading stands for to that of the last."""
    stamps_s, weights_s = judged.series.stamps_s, judged.series.weights_s
    first, last = run[0], run[-1]
    before_s = STANDS_FOR_AT_MOST_S
    if first:
        before_s = min(before_s, (stamps_s[first] - stamps_s[first - 1]) / 2)
    from_s = stamps_s[first] - before_s
    return from_s, from_s + sum(weights_s[first : last + 1])


def _out_for_s(stamps_s: Sequence[float], run: range) -> float:
    """How long it was out as far as neighbouring readings tell: the first and last of a logger's file are mostly taken
    with the door open, and the half hour for which they stand beyond it would make a spell of each."""
    first, last = run[0], run[-1]
    before_s, after_s = _half_gap_s(stamps_s, first - 1), _half_gap_s(stamps_s, last)
    if before_s is None:
        before_s = _half_gap_s(stamps_s, first)
    if after_s is None:
        after_s = _half_gap_s(stamps_s, last - 1)
    sides_s = (STANDS_FOR_AT_MOST_S if half_s is None else half_s for half_s in (before_s, after_s))
    return stamps_s[last] - stamps_s[first] + sum(sides_s)


def _half_gap_s(stamps_s: Sequence[float], at: int) -> float | None:
    """Half the time from a reading to the next; None where there is no next, or none within an hour."""
    if not 0 <= at < len(stamps_s) - 1:
        return None
    half_s = (stamps_s[at + 1] - stamps_s[at]) / 2
    return half_s if half_s <= STANDS_FOR_AT_MOST_S else None


def _spell(judged: Judged, run: range, from_s: float, until_s: float) -> Spell:
    series = judged.series
    return Spell(
        from_s,
        until_s,
        tuple(dict.fromkeys(_sides(judged, run))),
        spread_of(series.humidity_pct[run.start : run.stop]),
        spread_of(series.temperature_c[run.start : run.stop]),
    )


def _sides(judged: Judged, run: Iterable[int]) -> Iterator[Side]:
    series, humidity, temperature = judged.series, judged.wanted.humidity_pct, judged.wanted.temperature_c
    for at in run:
        accuracy_pct = max(0.0, series.accuracy_pct[at])
        if humidity and series.humidity_pct[at] + accuracy_pct < humidity.low:
            yield "too dry"
        if humidity and series.humidity_pct[at] - accuracy_pct > humidity.high:
            yield "too damp"
        if temperature and series.temperature_c[at] < temperature.low:
            yield "too cold"
        if temperature and series.temperature_c[at] > temperature.high:
            yield "too warm"
