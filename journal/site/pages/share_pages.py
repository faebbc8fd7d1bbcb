"""Files that only a share has: what is new since the last visit, and a note on how to open it."""

from __future__ import annotations

import hmac
import json
from collections.abc import Iterator
from dataclasses import MISSING, fields, replace
from textwrap import fill
from typing import Any

from journal.model import Batch, Entry
from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.pages.lookup import Lookup

ENTRIES = "since/entries.js"
"""A classic script with a row for each entry, from which a reader's device finds what is new."""

READ_ME = "READ-ME.txt"


def texts(lookup: Lookup) -> Iterator[tuple[str, str]]:
    """Small generated files of a share that are not pages: (file from the site's root, its text)."""
    rows = [_row(lookup, entry) for entry in lookup.journal.entries()]
    lines = ",\n".join(json.dumps(row, ensure_ascii=True, separators=(",", ":")) for row in reversed(rows))
    yield ENTRIES, f"journalEntries([\n{lines}\n]);\n"
    yield READ_ME, read_me(lookup)


def _row(lookup: Lookup, entry: Entry) -> list[str | None]:
    """An entry's address, the fingerprint of its content, its ID with that ID's page, its date, what it is, a photo."""
    label = lookup.label_of(entry)
    photo = next((picture.small for picture in lookup.pictures.of_entry(entry) if picture.sources), None)
    return [
        lookup.address_of(entry),
        fingerprint(entry, lookup.key),
        label.id if label else "",
        label.address if label else "",
        entry.date.iso,
        wording.when_in_words(entry.date),
        lookup.what_it_is(entry),
        photo,
    ]


def fingerprint(entry: Entry, key: bytes) -> str:
    """Changes whenever the shared part of an entry does, but not with its place in the journal or with how far that
    goes on; 10 hex digits, keyed, so that nobody can guess an entry's earlier content or find it in another share.
    Fields with their default values are left out, so that a new field in the model changes nothing."""
    plain: Any = replace(replace(entry, known_until=None) if isinstance(entry, Batch) else entry, path="", lines={})
    unusual = {}
    for one in fields(plain):
        usual = one.default_factory() if one.default_factory is not MISSING else one.default
        if (value := getattr(plain, one.name)) != usual:
            unusual[one.name] = value
    content_bytes = repr((entry.kind, sorted(unusual.items()))).encode("utf-8", "surrogatepass")
    return hmac.digest(key or b"share", b"entry\0" + content_bytes, "sha256").hex()[:10]


def contents_of(lookup: Lookup) -> dict[str, Any]:
    """What a share contains, in words. example: the latest entry, as people name it."""
    entries = list(lookup.journal.entries())
    question = lookup.question(entries[-1]) if entries else None
    kinds = [("find", lookup.journal.finds), ("culture", lookup.journal.cultures), ("batch", lookup.journal.batches)]
    counts = [counted(len(rows), kind, "batches" if kind == "batch" else None) for kind, rows in kinds if rows]
    return {
        "counts": wording.joined([*counts, counted(len(lookup.journal.photos), "photo")]),
        "entries": counted(len(entries), "entry", "entries"),
        "last": wording.day_in_words(entries[-1].date.first) if entries else None,
        "example": question.called if question else None,
    }


def read_me(lookup: Lookup) -> str:
    """How to open the share, for whoever has its folder or zip."""
    contents = contents_of(lookup)
    last = f", the latest from {contents['last']}" if contents["last"] else ""
    example = f', such as "{contents["example"]}"' if contents["example"] else ""
    paragraphs = {
        "contents": f"It contains {contents['counts']}: {contents['entries']} in total{last}. Anything the "
        'author does not share is left out or marked "not shared".',
        "question": f'Every entry has a short reference{example}. Say it on the phone. "Ask about this", beside an '
        "entry, prepares a few lines to copy into any message.",
    }
    wrapped = {name: fill(text, _WIDTH) for name, text in paragraphs.items()}
    return _READ_ME.format(title=lookup.settings.title, first=addresses.NOW, **wrapped)


_WIDTH = 86
_READ_ME = """\
{title}
A part of this journal, shared with you.

How to open it
1. Is this still a zip? Unpack all of it into a folder of its own first. Pages that are
   opened from within a zip come without pictures.
2. Open {first}, in that folder, by double click. It opens in your browser.
3. There is nothing to install, and it works offline. The pages send nothing anywhere.

What is in it
{contents}

When a newer one comes
Unpack it in place of this one, or beside it. Your browser remembers what you have
seen, if it allows that, and the first page lists what is new.

To ask about an entry
{question}

It does not say that any mushroom is safe to eat. A name in it is a note.
"""
