"""What readings of the air come to, in words: median and range."""

from __future__ import annotations

from collections.abc import Callable

from journal.reckoning.spread import Spread
from journal.site import wording
from journal.site.wording import Units


def range_words(spread: Spread | None, words: Callable[[float], str]) -> str | None:
    """`84.1 to 93.9 %`; None where there was one reading, or all were the same."""
    if spread is None or spread.low == spread.high:
        return None
    low, high = words(spread.low), words(spread.high)
    return f"{low.rpartition(' ')[0]} to {high}"


def medians_words(
    humidity_pct: Spread | None, temperature_c: Spread | None, units: Units, by_day: bool = False
) -> str | None:
    """`humidity 90.2 % (68.4 to 95.1 %), temperature 15.1 °C (9.9 to 18 °C): medians and ranges of 4032 readings`.

    by_day: of each day no more than its medians is told. None where nothing was read.
    """
    rows = (
        ("humidity", humidity_pct, wording.percent),
        ("temperature", temperature_c, lambda celsius: wording.temperature(celsius, units)),
    )
    known = [(name, spread, words) for name, spread, words in rows if spread is not None]
    if not known:
        return None
    told = [f"{name} {words(spread.median)}{_in_brackets(range_words(spread, words))}" for name, spread, words in known]
    return f"{', '.join(told)}: {_of(max(spread.count for _, spread, _ in known), by_day)}"


def _of(count: int, by_day: bool) -> str:
    if count == 1:
        return "one day’s medians" if by_day else "one reading"
    return f"median and range of {count} {'days, by their medians' if by_day else 'readings'}"


def _in_brackets(words: str | None) -> str:
    return f" ({words})" if words else ""
