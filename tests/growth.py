"""How time grows with a text: what is tried beside a plain scan of the same text, in the same run.

No measure here is in seconds. What is asked is by how much the processor's time grows where a text grows sixteenfold,
and that is held against what a plain scan of the same texts takes in the same moment: a quadratic way of reading grows
256-fold, one that is linear up to a logarithm less than twentyfold.
"""

from __future__ import annotations

from collections.abc import Callable
from time import thread_time

TIMES = 16
MOST_OF_A_SCAN = 4.0
"""What grows by more than this many times the growth of a plain scan is not linear; quadratic is 16 times."""

_FEWER = 4
_SUSPECT = 4.5
"""What a close look may call too much grows 64-fold at least in sixteen times a text. In four times the text that is
6.4-fold where a step is quadratic (a + b n per character, with b n = a / 4 at the smaller size), 4.7-fold where one is
cubic."""

_TRIES = 5
_LEAST_S = 1e-4


def filled(front: str, unit: str, end: str = "") -> Callable[[int], str]:
    """Texts of that beginning and end, between them the unit as often as a size allows."""
    return lambda size: front + unit * (size // len(unit)) + end


def grows_faster_than_a_scan(read: Callable[[str], object], shape: Callable[[int], str], size: int) -> float | None:
    """By how many times more than a plain scan the time of `read` grows from `size` characters to sixteen times as
    many; None where that is no more than a linear way of reading may. What looks bad is measured anew, up to a few
    times, and the least counts: another program on the machine makes a measure longer, never shorter."""
    small = shape(size)
    if _looks_linear(read, small, shape(size * _FEWER)):
        return None  # only what does not is worth a close look
    large, least = shape(size * TIMES), float("inf")
    for _ in range(_TRIES):
        growth = _time_of(read, large) / _time_of(read, small)
        if growth <= MOST_OF_A_SCAN * TIMES / 2:
            return None
        scan = _time_of(_scan, large) / _time_of(_scan, small)
        least = min(least, growth / max(scan, TIMES / 2))
        if least <= MOST_OF_A_SCAN:
            return None
    return least


def _looks_linear(read: Callable[[str], object], small: str, larger: str) -> bool:
    """Whether a text four times as long takes little more than four times as long, by the least of up to three readings
    of each. What grows in sixteen times a text by what a close look would call too much takes more than that."""
    shorter, longer = min(_once(read, small) for _ in range(2)), _once(read, larger)
    for _ in range(2):
        if longer <= _SUSPECT * shorter:
            return True
        shorter, longer = min(shorter, _once(read, small)), min(longer, _once(read, larger))
    return longer <= _SUSPECT * shorter


def _once(read: Callable[[str], object], text: str) -> float:
    begun = thread_time()
    read(text)
    return thread_time() - begun


def _scan(text: str) -> int:
    return sum(letter == "\0" for letter in text)


def _time_of(read: Callable[[str], object], text: str) -> float:
    """The least time of a few readings; what is short is read so often that the clock can tell."""
    once = _once(read, text)
    if once > 20 * _LEAST_S:
        return once
    often = max(1, int(_LEAST_S / max(once, 1e-7)))
    for _ in range(2):
        begun = thread_time()
        for _ in range(often):
            read(text)
        once = min(once, (thread_time() - begun) / often)
    return once
