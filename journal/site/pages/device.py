"""This device: the offline copy, the problems in the entries, and safety. In a share: this copy."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.pages.lookup import Lookup
from journal.site.pages.share_pages import held_by
from journal.site.plan import Page


def pages(lookup: Lookup) -> Iterator[Page]:
    context: dict[str, Any]
    if lookup.share is None:
        yield from _authors(lookup)
    else:
        context = {"title": "This copy", "place": None, "held": held_by(lookup)}
        yield Page("device", (), addresses.DEVICE, "device/copy.html", context, "main", growing=True)
    context = {"title": "Safety", "place": None, "poison_centre": lookup.settings.poison_centre}
    yield Page("safety", (), addresses.SAFETY, "device/safety.html", context, "main", growing=True)


def _authors(lookup: Lookup) -> Iterator[Page]:
    problems = lookup.journal.problems
    errors = sum(problem.severity == "error" for problem in problems)
    rows = ((errors, "error"), (len(problems) - errors, "warning"))
    counts = wording.joined([counted(number, word) for number, word in rows if number]) or None
    context: dict[str, Any] = {"title": "This device", "place": None, "counts": counts}
    yield Page("device", (), addresses.DEVICE, "device/device.html", context, "main", growing=True)
    groups = [(path, list(group)) for path, group in groupby(problems, key=lambda problem: problem.path)]
    context = {"title": "Problems", "place": None, "counts": counts, "groups": groups}
    yield Page("problems", (), addresses.PROBLEMS, "device/problems.html", context, "main", growing=True)
