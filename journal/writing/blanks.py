"""The blank of a new entry: its usual keys, each under what it may be, and where it goes. It never overwrites."""

from __future__ import annotations

import posixpath
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import date
from itertools import chain, count
from pathlib import Path
from types import MappingProxyType

from journal.reading.key_help import TAKES, words_of
from journal.reading.keys import KEYS, STAGES, UNITS, Key
from journal.settings import Tent

USUAL_KEYS: Mapping[str, tuple[str, ...]] = {
    "find": (
        "species", "certainty", "identified by", "where", "place", "growing on", "permission", "picked mass", "permit",
        "locality",
    ),
    "culture": ("from", "method", "form", "medium", "vessels", "kept"),
    "batch": (
        "culture", "substrate", "container", "units", "mix", "wet mass", "moisture", "treatment",
        "core log", "cost", "tent",
    ),
    "note": (
        "about", "stage", "harvest", "flush", "lost", "cause", "moved to", "minutes", "cost", "sold", "next",
    ),
    "tent": (
        "about", "humidity set point", "humidity differential", "temperature set point", "light", "exhaust",
        "humidity reading", "temperature reading", "co2 reading", "light level", "door", "meter", "tank fill",
        "serviced", "cost", "why",
    ),
    "device": ("tent", "does", "powered by", "controlled by", "rated for"),
}  # fmt: skip
"""The keys that a new entry of each kind is given, empty until they are filled in (an empty key is none)."""

KEYS_ABOUT: Mapping[str, tuple[str, ...]] = {
    "find": ("about", "stage", "harvest", "species", "certainty", "identified by", "next"),
    "culture": ("about", "stage", "colony", "lost", "cause", "minutes", "next"),
    "device": ("about", "stage", "done", "next"),
}
"""Those of a note, by the kind of what it is about, where not all of the usual ones fit."""

DATED_BY_PHOTOS = frozenset({"find", "note", "tent"})
"""Kinds of one day, which a photo tells: no day is written into a new one, whose file or folder is named by today."""

ABOUT_KEYS: Mapping[str, str | None] = {
    "find": None,
    "culture": "from",
    "batch": "culture",
    "note": "about",
    "tent": "about",
    "device": "tent",
}
"""The key that says what an entry of each kind is about."""

KINDS_WITH_ID = frozenset({"find", "culture", "batch", "device"})


def blank_text(
    kind: str,
    today: date,
    own_id: str | None = None,
    about: str | None = None,
    *,
    about_kind: str = "",
    values: Mapping[str, str] = MappingProxyType({}),
    tents: Sequence[Tent] = (),
) -> str:
    """An entry with the usual keys, each under a comment that says what it takes.

    about_kind: of what it is about, whose keys and stages alone are offered. values: of keys that are known already.
    tents: the journal's, which are offered by name, with their services.
    """
    head = [f"kind: {kind}", *([f"id: {own_id}"] if own_id else [])]
    if kind in DATED_BY_PHOTOS:
        named = "the folder's" if kind == "find" else "this file's"
        head.append(f"# date: like 2026-10-03 14:05; where absent, a photo of it tells the day, else {named} name does")
    head.append(f"date: {'' if kind in DATED_BY_PHOTOS else today.isoformat()}".rstrip())
    known = {**values, **({ABOUT_KEYS[kind] or "": about} if about else {})}
    keys = []
    for name in (KEYS_ABOUT.get(about_kind) if kind == "note" else None) or USUAL_KEYS[kind]:
        takes = what_it_takes(KEYS[kind][name], about_kind)
        if (name in ("tent", "moved to") or (kind, name) == ("tent", "about")) and tents:
            takes = ", ".join(tent.id for tent in tents)
        if name == "serviced" and (services := dict.fromkeys(name for tent in tents for name, _ in tent.every)):
            takes = f"what was done, with the name of a service ({', '.join(services)}) or other words"
        keys += [f"# {name}: {takes}", f"{name}: {known.get(name, '')}".rstrip()]
    return "\n".join(["---", *head, *keys, "---", "", ""])


_EXPLAINED = frozenset({"position", "minutes", "money"})
"""Notations without a unit of the model, of which it is told what they take."""


def what_it_takes(key: Key, about_kind: str = "") -> str:
    """What a key means and may be, in one line without marks: its words, its unit. about_kind: as in `blank_text`."""
    takes = words_of(key)
    if key.notation == "stage" and STAGES.get(about_kind):
        takes = ", ".join(STAGES[about_kind])
    elif key.notation in _EXPLAINED or (key.notation in UNITS and not key.help.endswith("%")):
        takes = TAKES[key.notation].partition(";")[0]
    return (f"{key.help}: {takes}" if takes else key.help).replace("`", "")


def blank_path(kind: str, today: date, own_id: str | None = None, about: str | None = None, beside: str = "") -> str:
    """Its path in the journal. beside: the folder that what it is about has to itself; "" where it has none."""
    day = today.isoformat()
    if kind == "find":
        return f"finds/{day}-{own_id}/find.md"
    if kind == "batch":
        return f"batches/{own_id}/batch.md"
    if kind in ("culture", "device"):
        return f"{kind}s/{own_id}.md"
    if beside:
        return f"{beside}/{day}.md"
    return f"{kind}s/{day}{f'-{about}' if about else ''}.md"


def write_blank(root: Path, path: str, text: str) -> str:
    """Writes a new entry at the first free name like `path` (`…-2.md` next) and gives that. Raises OSError."""
    head, ending = posixpath.splitext(path)
    (root / path).parent.mkdir(parents=True, exist_ok=True)
    for free in chain([path], (f"{head}-{number}{ending}" for number in count(2))):
        with suppress(FileExistsError):
            write_new(root / free, text)
            return free
    raise AssertionError("unreachable: the names never end")


def write_new(file: Path, content: str | bytes) -> None:
    """Writes a file that is not there yet, or nothing of it. Raises OSError, which names the file."""
    with file.open("xb") as opened:
        try:
            opened.write(content if isinstance(content, bytes) else content.encode("utf-8"))
            opened.flush()
        except OSError as error:
            error.filename = error.filename or str(file)
            with suppress(OSError):
                file.unlink()
            raise
