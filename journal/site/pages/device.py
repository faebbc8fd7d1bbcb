"""This device: the offline copy, the problems in the entries, and safety. In a share: this copy."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from journal.problems import Problem
from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.pages.lookup import Lookup
from journal.site.pages.share_pages import held_by
from journal.site.plan import Page


def pages(lookup: Lookup) -> Iterator[Page]:
    yield from _authors(lookup) if lookup.share is None else [_copy(lookup)]
    context: dict[str, Any] = {"title": "Safety", "place": None, "poison_centre": lookup.settings.poison_centre}
    yield Page("safety", (), addresses.SAFETY, "device/safety.html", context, "main", growing=True)


def _copy(lookup: Lookup) -> Page:
    """What a reader of a share wants to know of it."""
    context = {"title": "This copy", "place": None, "held": held_by(lookup)}
    return Page("device", (), addresses.DEVICE, "device/copy.html", context, "main", growing=True)


def _authors(lookup: Lookup) -> Iterator[Page]:
    problems = lookup.journal.problems
    counts = _counts(problems)
    context: dict[str, Any] = {"title": "This device", "place": None, "counts": counts}
    yield Page("device", (), addresses.DEVICE, "device/device.html", context, "main", growing=True)
    groups = [(path, list(rows)) for path, rows in groupby(problems, key=lambda problem: problem.path)]
    context = {"title": "Problems", "place": None, "counts": counts, "groups": groups}
    yield Page("problems", (), addresses.PROBLEMS, "device/problems.html", context, "main", growing=True)


def _counts(problems: tuple[Problem, ...]) -> str | None:
    """`2 errors and 5 warnings`, or None where there are no problems."""
    errors = sum(problem.severity == "error" for problem in problems)
    rows = ((errors, "error"), (len(problems) - errors, "warning"))
    words = [counted(number, word) for number, word in rows if number]
    return wording.joined(words) or None
