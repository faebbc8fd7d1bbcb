"""This phone: what it holds, what is to fix in the entries, and the cautions. In a share: this copy."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from journal.problems import Problem
from journal.site import addresses, wording
from journal.site.pages.lookup import Lookup
from journal.site.pages.share_pages import held_by
from journal.site.plan import Page


def pages(lookup: Lookup) -> Iterator[Page]:
    yield from _authors(lookup) if lookup.share is None else [_copy(lookup)]
    context: dict[str, Any] = {"title": "Cautions", "place": None, "poison_centre": lookup.settings.poison_centre}
    yield Page("cautions", (), addresses.CAUTIONS, "phone/cautions.html", context, "main", growing=True)


def _copy(lookup: Lookup) -> Page:
    """What a reader of a share wants to know of it."""
    context = {"title": "This copy", "place": None, "held": held_by(lookup)}
    return Page("phone", (), addresses.PHONE, "phone/copy.html", context, "main", growing=True)


def _authors(lookup: Lookup) -> Iterator[Page]:
    problems = lookup.journal.problems
    counts = _counts(problems)
    context: dict[str, Any] = {"title": "This phone", "place": None, "to_mend": counts}
    yield Page("phone", (), addresses.PHONE, "phone/phone.html", context, "main", growing=True)
    groups = [(path, list(rows)) for path, rows in groupby(problems, key=lambda problem: problem.path)]
    context = {"title": "To mend", "place": None, "to_mend": counts, "groups": groups}
    yield Page("mend", (), addresses.MEND, "phone/mend.html", context, "main", growing=True)


def _counts(problems: tuple[Problem, ...]) -> str | None:
    """`2 wrong, 5 odd`, or None where nothing is to mend."""
    wrong = sum(problem.severity == "error" for problem in problems)
    odd = len(problems) - wrong
    words = [f"{number} {word}" for number, word in ((wrong, "error"), (odd, "warning")) if number]
    return wording.joined(words) or None
