"""What is found out about each photo before it is copied."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.importing.photo_files import Source, contents_of, inspect

LONDON = ZoneInfo("Europe/London")


def nothing_told(*_: object) -> None:
    pass


def memory_in(folder: Path) -> FileCache:
    return FileCache(Cache(folder / "cache"), folder, 0)


def test_what_was_not_decoded_is_not_remembered_as_known(tmp_path: Path, photo_bytes: Callable[..., bytes]) -> None:
    """A build would take what is remembered for the whole truth, and find neither size nor damage."""
    (tmp_path / "a.jpg").write_bytes(photo_bytes("2026:10:27 07:31:00"))
    contents, _ = contents_of([Source(tmp_path / "a.jpg", "a.jpg")], nothing_told)
    memory = memory_in(tmp_path)
    (inspected,) = inspect(contents, memory, LONDON, nothing_told)
    assert datetime(2026, 10, 27, 7, 31, tzinfo=LONDON) == inspected.taken
    assert None is memory.facts_of(contents[0].digest)


def test_it_is_told_from_the_first_photo_to_the_last(tmp_path: Path, photo_bytes: Callable[..., bytes]) -> None:
    """None done is told as well: the workers that read photos take a moment to begin."""
    sources = []
    for number in range(3):
        file = tmp_path / f"{number}.jpg"
        file.write_bytes(photo_bytes("2026:10:27 07:31:00", number))
        sources.append(Source(file, file.name))
    told: list[tuple[str, int, int]] = []
    contents, _ = contents_of(sources, lambda *words: told.append(words))
    inspect(contents, memory_in(tmp_path), LONDON, lambda *words: told.append(words))
    assert [("looking", done, 3) for done in (1, 2, 3)] + [("photos", done, 3) for done in (0, 1, 2, 3)] == told
