"""What tests of several folders build their examples with."""

from __future__ import annotations

import os
import random
import re
import unicodedata
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from datetime import date, timedelta
from pathlib import Path
from typing import Any, TypeVar

import pytest
from hypothesis import settings

from journal.cache.resources import find_resources
from journal.cache.static_files import static_files
from journal.model import Batch, Culture, Entry, Find, Journal, Note, Ref, When
from journal.reading.entries import Draft, read_entry
from journal.settings import Settings, Tent

T = TypeVar("T")

EXPLORED = int(os.environ.get("JOURNAL_EXPLORE", "0"))
"""How many times as many examples as usual are tried, chosen at random (`tests/explore.py`); 0: the fixed ones."""


def examples(count: int, **others: Any) -> settings:
    """Settings of a property's test that is to have so many examples, and more where `tests/explore.py` runs it."""
    return settings(max_examples=count * max(EXPLORED, 1), **others)


def seeded(count: int) -> pytest.MarkDecorator:
    """Runs a test with each of so many seeds, as its argument `seed`; `tests/explore.py` chooses others at random."""
    chance = random.SystemRandom()
    seeds = [chance.randrange(2**32) for _ in range(count * EXPLORED)] if EXPLORED else list(range(count))
    return pytest.mark.parametrize("seed", [pytest.param(seed, marks=pytest.mark.seeded) for seed in seeds])


def some(rows: Iterable[T], least: int = 1) -> list[T]:
    """The rows, of which there must be at least so many: a test that looks at each must have something to look at."""
    found = list(rows)
    assert len(found) >= least, f"{len(found)} where at least {least} were to be looked at"
    return found


_DEVICES = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[1-9¹²³]) *(\..*)?", re.IGNORECASE)


def unfit(paths: Iterable[str]) -> list[str]:
    """What Windows or macOS could not hold of relative paths with "/" between the parts: a part with a character, an
    end or a name that Windows refuses, or longer than 255 bytes; and what differs from another path by case or Unicode
    form alone. Source: Microsoft, Naming Files, Paths, and Namespaces; Apple, About Apple File System."""
    given = sorted(set(paths))
    known: dict[str, str] = {}
    wrong = []
    for path in given:
        parts = path.split("/")
        same = known.setdefault(unicodedata.normalize("NFC", path).casefold(), path)
        if same != path or any(
            _DEVICES.fullmatch(part)
            or re.search(r'[\0-\x1f<>:"\\|?*]|[ .]$|^$', part)
            or len(part.encode("utf-8", "surrogateescape")) > 255
            for part in parts
        ):
            wrong.append(path)
    return wrong


def entry(kind: str, keys: str = "", *, text: str = "", **more: object) -> str:
    """An entry's file. keys: lines of its front matter; more: further keys, left out where their value is "".

    An underscore of a key stands for a space; one at its end only keeps it from being a word of Python (`from_`).
    """
    named = [f"{key.rstrip('_').replace('_', ' ')}: {value}" for key, value in more.items() if value != ""]
    return "\n".join(["---", f"kind: {kind}", *filter(None, [keys.rstrip("\n"), *named]), f"---\n{text}"])


def noted(day: object, keys: str = "", about: str = "B-1", **more: Any) -> str:
    """A note's file. keys, more: as of an entry."""
    return entry("note", f"about: {about}\ndate: {day}\n{keys}", **more)


def batch_files(id: str, cultures: str, day: str, *notes: tuple[str, str], keys: str = "") -> dict[str, str]:
    """The files of a batch of this day, and of its notes. keys: of the batch; notes: day and keys of each."""
    told = {f"{id}-{at}.md": noted(on, said, id) for at, (on, said) in enumerate(notes)}
    return {f"{id}.md": entry("batch", f"id: {id}\ndate: {day}\nculture: {cultures}\n{keys}"), **told}


WASH_HOUSE = Settings(tents=(Tent(id="wash-house", name="Tent"),))


def draft(path: str, keys: str, below: str = "") -> Draft:
    """What is read of an entry in a journal of one tent. keys: the lines of its front matter; below: its text."""
    read = read_entry(path, f"---\n{keys}\n---\n{below}".encode(), WASH_HOUSE)
    assert read is not None
    return read


def ref(text: str) -> Ref:
    """`B-031`, or `B-031.2` for a part."""
    id, _, part = text.partition(".")
    return Ref(id, int(part) if part else None)


def refs(text: str) -> tuple[Ref, ...]:
    return tuple(ref(one.strip()) for one in text.split(",") if one)


On = int | str | date | When
"""When something was: so many days after 30 September 2026 (6 is 6 October), an ISO day, a day, or as far as known."""


def when(on: On) -> When:
    if isinstance(on, When):
        return on
    if isinstance(on, int):
        on = date(2026, 9, 30) + timedelta(days=on)
    first = date.fromisoformat(str(on))
    return When(str(on), first, "day")


def _row(kind: Callable[..., T], name: str, on: On, **keys: Any) -> T:
    return kind(**{"path": f"{name}.md", "date": when(on), "title": name, "by": "k", **keys})


def find(id: str, on: On = 0, **more: Any) -> Find:
    return _row(Find, id, on, id=id, **more)


def culture(id: str, sources: str = "", on: On = 0, **more: Any) -> Culture:
    """A culture, taken by transfer where nothing else is said. sources: `A, B-1.2`."""
    return _row(Culture, id, on, id=id, **{"sources": refs(sources), "method": "transfer", **more})


def batch(id: str, cultures: str = "", on: On = 0, **more: Any) -> Batch:
    return _row(Batch, id, on, id=id, cultures=refs(cultures), **more)


def note(about: str, on: On, **more: Any) -> Note:
    """A note about `A, B-1.2`. Notes of one day that say something else have another path."""
    return _row(Note, f"{when(on).first}-{more}", on, about=refs(about), **more)


def write_static(site: Path) -> None:
    """Puts the styles and scripts of a site beside pages that were rendered one by one."""
    for path, text in static_files(find_resources())[1].items():
        (site / path).parent.mkdir(parents=True, exist_ok=True)
        (site / path).write_text(text, encoding="utf-8")


def journal_of(*rows: Entry) -> Journal:
    """The journal of these finds, cultures, batches and notes, with the settings' defaults."""

    def of(kind: type[Entry]) -> Any:
        return tuple(row for row in rows if isinstance(row, kind))

    return Journal(settings=Settings(), finds=of(Find), cultures=of(Culture), batches=of(Batch), notes=of(Note))


class Inline:
    """An executor that works at once, in this process, and remembers the names of the files it was given."""

    workers = 1

    def __init__(self) -> None:
        self.files: list[str] = []

    def submit(self, function: Callable[..., Any], /, *args: Any) -> Future[Any]:
        self.files.append(next(one.name for one in args if isinstance(one, Path)))
        future: Future[Any] = Future()
        try:
            future.set_result(function(*args))
        except Exception as error:
            future.set_exception(error)
        return future
