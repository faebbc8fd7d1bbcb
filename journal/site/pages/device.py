"""This device: the offline copy, the app that it can be installed as, the problems in the entries, their format, and
safety. In a share: this copy."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import groupby
from typing import Any

from journal.quantities import counted
from journal.reading.key_help import KIND_MEANS, KeyHelp, help_of
from journal.reading.keys import KINDS
from journal.site import addresses, wording
from journal.site.pages.lookup import Lookup
from journal.site.pages.share_pages import contents_of
from journal.site.plan import Page


def pages(lookup: Lookup) -> Iterator[Page]:
    context: dict[str, Any]
    if lookup.share is None:
        yield from _authors(lookup)
    else:
        context = {"title": "This copy", "place": None, "contents": contents_of(lookup)}
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
    yield Page("format", (), addresses.FORMAT, "device/format.html", _format(), "main", growing=True)


_EXAMPLE = """---
kind: note
about: B-031
date: 2026-11-01 08:30
harvest: 1290 g
flush: 1
---
First flush, edges still rolled."""


def _format() -> dict[str, Any]:
    """Every key of every kind, those of all kinds last."""
    kinds = []
    for kind in (*KINDS, None):
        name = kind or "every kind"
        means = KIND_MEANS[kind] if kind else "what any entry may have"
        rows = [_key(name, key) for key in help_of(kind)]
        anchor = name.replace(" ", "-")
        kinds.append({"name": wording.capitalised(name), "anchor": anchor, "means": means, "rows": rows})
    return {"title": "Format", "place": None, "example": _EXAMPLE, "kinds": kinds}


def _key(kind: str, key: KeyHelp) -> dict[str, Any]:
    return {
        "name": key.name,
        "anchor": f"{kind} {key.name}".replace(" ", "-"),
        "required": key.required,
        "means": wording.capitalised(key.means),
        "takes": key.takes,
        "also": key.also,
        "older": key.older,
        "example": key.example,
    }


SHORT_NAME = 12
"""How many letters of a name most launchers have room for."""

_LEADING_ON = frozenset({"a", "an", "and", "at", "by", "for", "from", "in", "of", "on", "the", "to", "with", "&"})

SCREENS = (("now", "What is growing and due"), ("batch", "A batch, day by day"))
"""Pictures of the sample, shown where the journal is installed: name and label. `tests/browser/take_pictures.py` makes
them."""


def manifest(title: str) -> str:
    """The web app manifest (W3C Web Application Manifest and its App Information supplement)."""
    icons = [
        {"src": "static/icons/mark-192.png", "sizes": "192x192", "type": "image/png", "purpose": "any"},
        {"src": "static/icons/mark-512.png", "sizes": "512x512", "type": "image/png", "purpose": "any"},
        {"src": "static/icons/maskable-512.png", "sizes": "512x512", "type": "image/png", "purpose": "maskable"},
    ]
    screens = [
        {
            "src": f"static/screens/{name}.webp",
            "sizes": "390x844",
            "type": "image/webp",
            "form_factor": "narrow",
            "label": label,
        }
        for name, label in SCREENS
    ]
    fields = {
        "name": title,
        "short_name": short_name(title),
        "description": "A field and fruiting journal that works offline.",
        "lang": "en",
        "start_url": "./index.html",
        "scope": "./",
        "display": "standalone",
        "background_color": "#fbfaf5",
        "theme_color": "#17150f",
        "icons": icons,
        "screenshots": screens,
        "shortcuts": [
            {"name": "Record", "url": "./record/index.html"},
            {"name": "Now", "url": "./index.html"},
        ],
        "share_target": {
            "action": "./record/shared",
            "method": "POST",
            "enctype": "multipart/form-data",
            "params": {"files": [{"name": "photos", "accept": ["image/*"]}]},
        },
    }
    return json.dumps(fields, ensure_ascii=False, indent=1) + "\n"


def short_name(title: str) -> str:
    """The first whole words of a title that fit under an icon, at least one, and none at the end that only leads on."""
    first, *others = title.split() or ["Journal"]
    words = [first]
    for word in others:
        if len(" ".join((*words, word))) > SHORT_NAME:
            break
        words.append(word)
    while len(words) > 1 and words[-1].lower() in _LEADING_ON:
        words.pop()
    return " ".join(words).rstrip(",;:")
