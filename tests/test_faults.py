"""Commands that are ended anywhere, and files, clocks and caches that are not what they were: nothing is lost."""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from journal.cache.file_cache import FileCache
from journal.cache.store import DATABASE_NAME, Cache
from journal.pipeline import Built, build_site
from tests.builders import some
from tests.fault_points import Points
from tests.faults import CASES, LATER, Faults, bytes_below, first, patched, picture, spread, write

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="only where a process can be forked")

TRIED = {
    "first build": 1,
    "build": 2,
    "build, moving away": 1,
    "attach": 5,
    "gather": 5,
    "share": 1,
    "build --locked": 1,
}
"""How many of a command's fault points, evenly spread, are tried here each way, beside those of a kind that there is
once; the script `tests/faults.py` tries all of them."""


@pytest.mark.parametrize("name", CASES)
def test_ended_anywhere_all_is_old_or_new_and_the_next_run_ends_alike(tmp_path: Path, name: str) -> None:
    faults = Faults(CASES[name], tmp_path / "room")
    even = spread(faults.points, 2 * TRIED[name])
    rare = [at for at, what in enumerate(faults.points) if faults.points.count(what) == 1]
    tries = {(at, bool(number % 2)) for number, at in enumerate(even)} | {(at, full) for at in rare for full in (0, 1)}
    print(f"{name}: {len(faults.points)} fault points, {len({at for at, _ in tries})} of them tried")
    assert len(faults.points) > 50
    for at, full in sorted(tries):
        faults.try_at(at, full=bool(full))


# A journal whose files, cache or clock are not what they were


@pytest.fixture(autouse=True)
def _small_sites() -> Iterator[None]:
    with contextlib.ExitStack() as stack:
        patched(stack)
        yield


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A journal with a file of each kind."""
    first(tmp_path)
    root = tmp_path / "home/my"
    settings = (root / "journal.toml").read_text("utf-8")
    more = '\n[[climate]]\nfiles = "climate/*.csv"\ntent = "hut"\ntime = "T"\ntemperature = "C (°C)"\n'
    track = (
        '<gpx><trk><trkseg><trkpt lat="58.3" lon="-8.9"><time>2026-09-12T12:00:00Z</time></trkpt></trkseg></trk></gpx>'
    )
    write(
        root,
        {
            "journal.toml": settings + more,
            "climate/hut.csv": "T,C (°C)\n2026-11-01 12:00,14\n2026-11-01 12:30,15\n",
            "walk.gpx": track,
        },
    )
    return root


Build = Callable[..., Built]


@pytest.fixture
def build(root: Path, tmp_path: Path) -> Build:
    def run(site: str = "site", cache: str = "cache") -> Built:
        return build_site(FileCache(Cache(tmp_path / cache), root, time.time_ns()), tmp_path / site, lambda *_: None)

    return run


_clean_sites: dict[tuple[tuple[str, bytes], ...], dict[str, bytes]] = {}


@pytest.fixture
def clean_site(root: Path, tmp_path: Path, build: Build) -> Callable[[], dict[str, bytes]]:
    """Gives the files of a site that is made of the journal as it is now with nothing known of it: once for the same
    files, since many tests end with the journal that they began with."""

    def made() -> dict[str, bytes]:
        content = tuple(sorted(bytes_below(root).items()))
        if content not in _clean_sites:
            build("clean", "other cache")
            _clean_sites[content] = bytes_below(tmp_path / "clean")
        return _clean_sites[content]

    return made


_at_open: tuple[str, Callable[[], object]] | None = None


def _hook(event: str, details: tuple[Any, ...]) -> None:
    global _at_open
    if event == "open" and _at_open is not None and str(details[0]).endswith(_at_open[0]):
        does, _at_open = _at_open[1], None
        does()


sys.addaudithook(_hook)


@pytest.fixture
def when_opened() -> Iterator[Callable[[str, Callable[[], object]], None]]:
    """Does something the moment a file of this ending is opened for the first time, and before it is."""
    global _at_open

    def plan(path: str, does: Callable[[], object]) -> None:
        global _at_open
        _at_open = path, does

    yield plan
    _at_open = None


FILES = {
    "finds/alder/find.md": b"---\nkind: find\nid: F26-001\ndate: 2026-09-12\ntitle: Otherwise\n---\n",
    "journal.toml": b'[journal]\ntitle = "Otherwise"\n[tents.hut]\n',
    "climate/hut.csv": b"T,C (\xc2\xb0C)\n2026-11-02 12:00,9\n",
    "walk.gpx": b"<gpx></gpx>",
    "finds/alder/cap.jpg": picture(200),
}


@pytest.mark.parametrize("path", FILES)
@pytest.mark.parametrize("how", ["gone", "another in its place", "written to in place", "unreadable"])
def test_a_file_that_is_otherwise_once_it_is_opened_costs_itself_and_the_next_build_has_it_as_it_is(
    root: Path, tmp_path: Path, build: Build, clean_site: Any, when_opened: Any, path: str, how: str
) -> None:
    file = root / path
    kept = file.read_bytes()

    def replaced() -> None:
        write(tmp_path, {"new": FILES[path]})
        (tmp_path / "new").replace(file)

    def refused() -> None:
        raise PermissionError(13, "Permission denied", str(file))

    does = {
        "gone": file.unlink,
        "another in its place": replaced,
        "written to in place": lambda: os.truncate(file, len(kept) // 2),
        "unreadable": refused,
    }[how]
    when_opened(path, does)
    built = build()
    if how in ("gone", "unreadable"):
        assert path in {problem.path for problem in built.journal.problems}
    if how == "gone":
        file.write_bytes(kept)
    time.sleep(0.12)
    build()
    assert clean_site() == bytes_below(tmp_path / "site")


def harms(file: Path) -> dict[str, Callable[[], object]]:
    data = file.read_bytes()
    middle = len(data) // 2
    flipped = data[:middle] + bytes([data[middle] ^ 0xFF]) + data[middle + 1 :] if data else b"x"
    return {
        "cut": lambda: file.write_bytes(data[:middle]),
        "a byte of it flipped": lambda: file.write_bytes(flipped),
        "emptied": lambda: file.write_bytes(b""),
        "gone": file.unlink,
    }


@pytest.mark.parametrize("how", ["cut", "a byte of it flipped", "emptied", "gone"])
def test_a_damaged_cache_costs_time_alone(root: Path, tmp_path: Path, build: Build, clean_site: Any, how: str) -> None:
    time.sleep(0.12)
    build()
    shutil.copytree(tmp_path / "cache", tmp_path / "whole", copy_function=shutil.copy2)
    shutil.copytree(tmp_path / "site", tmp_path / "kept")
    write(root, {**LATER, "batches/B-1/pins.jpg": picture(60)})
    wanted = clean_site()
    files = [one.relative_to(tmp_path / "whole") for one in (tmp_path / "whole").rglob("*") if one.is_file()]
    assert {DATABASE_NAME, "pictures"} <= {one.parts[0] for one in files}
    for file in some(files, 5):
        for folder, kept in (("cache", "whole"), ("site", "kept")):
            shutil.rmtree(tmp_path / folder)
            shutil.copytree(tmp_path / kept, tmp_path / folder)
        harms(tmp_path / "cache" / file)[how]()
        build()
        assert wanted == bytes_below(tmp_path / "site"), file


def test_a_cache_of_an_earlier_version_is_made_anew(
    root: Path, tmp_path: Path, build: Build, clean_site: Any, monkeypatch: Any
) -> None:
    from journal.cache import store, unchanged

    monkeypatch.setattr(store, "_SCHEMA_VERSION", store._SCHEMA_VERSION - 1)
    monkeypatch.setattr(unchanged, "_FORM", unchanged._FORM - 1)
    build()
    monkeypatch.undo()
    write(root, LATER | {"batches/B-1/pins.jpg": picture(60)})
    build()
    assert clean_site() == bytes_below(tmp_path / "site")


@pytest.mark.parametrize("by_s", [-400 * 86400, 400 * 86400], ids=["set back", "set forward, and right again"])
def test_a_clock_that_was_wrong_hides_no_change(
    root: Path, tmp_path: Path, build: Build, clean_site: Any, monkeypatch: pytest.MonkeyPatch, by_s: int
) -> None:
    """The first build with the clock as it is or far ahead, the change and the second with an earlier one."""
    time.sleep(0.12)
    ahead = max(by_s, 0)
    real = time.time_ns
    for path in root.rglob("*"):
        if path.is_file():
            os.utime(path, (time.time() + ahead,) * 2)
    monkeypatch.setattr(time, "time_ns", lambda: real() + (ahead + 1) * 10**9)
    build()
    monkeypatch.setattr(time, "time_ns", lambda: real() + (by_s if by_s < 0 else 0) * 10**9)
    note = root / "finds/alder/find.md"
    text = note.read_bytes().replace(b"Under F.", b"Above F.")  # as long as before
    note.write_bytes(text)
    os.utime(note, (time.time() + min(by_s, 0),) * 2)
    build()
    assert b"Above F." in (tmp_path / "site/finds/f26-001/index.html").read_bytes()
    assert clean_site() == bytes_below(tmp_path / "site")


@pytest.mark.parametrize("name", ["build", "attach", "gather"])
def test_two_runs_at_once_end_as_one_after_the_other(tmp_path: Path, name: str) -> None:
    faults = Faults(CASES[name], tmp_path / "room")
    faults.restore()
    running = [faults.begin(Points()) for _ in range(2)]
    ended = [one.wait() for one in running]
    assert [0, 0] == [one.status for one in ended], ended
    faults.check_end("two at once")
