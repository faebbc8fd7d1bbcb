"""What tests of several folders build their examples with."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

T = TypeVar("T")


def some(rows: Iterable[T], least: int = 1) -> list[T]:
    """The rows, of which there must be at least so many: a test that looks at each must have something to look at."""
    found = list(rows)
    assert len(found) >= least, f"{len(found)} where at least {least} were to be looked at"
    return found
