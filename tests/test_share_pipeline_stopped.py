"""A share that is stopped, or refused by the disk, at any moment: its pages and its zip are both old or both new."""

from __future__ import annotations

import os
import re
import shutil
import sys
import time
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest

from journal import share_pipeline
from journal.cache import static_files
from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.share_pipeline import Prepared, make_share_files, prepare
from journal.site.build import swap
from journal.site.build.swap import exchange_folders
from tests.fault_points import fork
from tests.sharing.made import seen_whole
from tests.test_pipeline import bytes_in, settle, write_entry
from tests.test_share_pipeline import names_in, silent

KILLED = 9
TOML = '[journal]\ntitle = "Woods"\n[shares.mentor]\nabout = ["B-031"]\n'
BATCH = "kind: batch\nid: B-031\ndate: 2026-10-06\nspecies: Pleurotus pulmonarius\nunits: 4\n"
PINS = "kind: note\nabout: B-031\ndate: 2026-11-01\ntitle: First pins\n"

Pair = tuple[dict[str, bytes], bytes] | None
"""A share as its reader finds it: its pages and its zip; None where there is neither."""

CHANGES = frozenset({
    "os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.link", "os.symlink", "os.truncate", "os.chmod", "os.utime",
    "shutil.rmtree", "ctypes.dlsym",
})  # fmt: skip
"""Audit events that come before a change on the disk (Python, *Audit events table*); the last before an exchange."""


def never(one: Path, other: Path) -> bool:
    """As on a system that knows no exchange."""
    return False


def is_step(event: str, details: tuple[Any, ...]) -> bool:
    if event == "open":
        return isinstance(details[2], int) and bool(details[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT))
    return event in CHANGES


def in_a_process(run: Callable[[], object], look: Callable[[], str], killed_at: int | None = None) -> list[str]:
    """Runs it in a process of its own, which looks before each of its steps on the disk, and once it is through.

    A process that is killed leaves the disk as it is at that moment, so that what is seen before a step is what a
    kill there leaves. killed_at: the step (from 0) before which it does end, with nothing cleared away; then it does
    not look. Gives what was seen, a line a step.
    """
    reading, writing = os.pipe()
    child = fork()
    if not child:
        seen: list[str] = []
        is_looking = False

        def step(event: str, details: tuple[Any, ...]) -> None:
            nonlocal is_looking
            if is_looking or not is_step(event, details):
                return
            is_looking = True
            seen.append(look() if killed_at is None else "")
            is_looking = False
            if len(seen) - 1 == killed_at:
                os._exit(KILLED)

        try:
            sys.addaudithook(step)
            run()
            is_looking = True
            os.write(writing, "\n".join([*seen, look()]).encode())
            os._exit(0)
        finally:
            os._exit(1)
    os.close(writing)
    with os.fdopen(reading) as told:
        text = told.read()
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    assert status == (0 if killed_at is None else KILLED)
    return text.split("\n")


def pair_in(out: Path) -> Pair:
    """Neither, where the place is absent or empty; raises where only one is there, or something else."""
    folder = out / "mentor"
    if names_in(folder) == []:
        return None
    assert [".journal-site", "mentor.zip", "pages"] == names_in(folder)
    return bytes_in(folder / "pages"), (folder / "mentor.zip").read_bytes()


@dataclass(frozen=True)
class Shares:
    """A share of an older and of a newer state of one journal; `into` gives what makes the newer one in a folder."""

    old: Path
    new: Path
    into: Callable[[Path], Callable[[], object]]


@pytest.fixture(scope="module")
def shares(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shares]:
    """With few static files, and without the search at the end, which reads and writes nothing."""
    few = ("css/map.css", "js/folds.js")
    real = static_files.files_below
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(static_files, "files_below", lambda folder: [name for name in real(folder) if name in few])
        patched.setattr(share_pipeline, "detectors_of", lambda *_: None)
        patched.setattr(share_pipeline.Search, "leaks_in", lambda *_: ())
        yield _shares(tmp_path_factory.mktemp("shares"))


def _shares(room: Path) -> Shares:
    root = room / "journal"
    (root / "b").mkdir(parents=True)
    write_entry(root / "journal.toml", TOML)
    write_entry(root / "b/batch.md", BATCH)

    def prepared() -> tuple[FileCache, Prepared]:
        settle(root)
        memory = FileCache(Cache(room / "cache"), root, time.time_ns())
        return memory, seen_whole(memory, prepare(memory, "mentor", silent))

    make_share_files(*prepared(), room / "old", silent)
    write_entry(root / "b/pins.md", PINS)
    ready = prepared()
    make_share_files(*ready, room / "new", silent)
    return Shares(room / "old", room / "new", lambda out: lambda: make_share_files(*ready, out, silent))


@pytest.mark.skipif(not hasattr(os, "fork"), reason="only where a process can be forked")
@pytest.mark.parametrize("exchange", [exchange_folders, never])
@pytest.mark.parametrize("earlier", ["old", "none"])
def test_killed_at_whatever_step_pages_and_zip_are_both_old_or_both_new(
    shares: Shares,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    earlier: str,
    exchange: Callable[[Path, Path], bool],
) -> None:
    monkeypatch.setattr(swap, "exchange_folders", exchange)
    out, pairs = tmp_path / "out", {"none": None, "old": pair_in(shares.old), "new": pair_in(shares.new)}
    assert pairs["old"] != pairs["new"]

    def look() -> str:
        """The pair as a reader finds it, and what else is there, without the random parts of names."""
        here = pair_in(out)
        state = next((name for name, pair in pairs.items() if pair == here), "mixed")
        return " ".join([state, *(re.sub("-[0-9a-f]{8}$", "", name) for name in names_in(out))])

    def start_anew() -> None:
        shutil.rmtree(out, ignore_errors=True)
        if earlier == "old":
            shutil.copytree(shares.old, out)

    start_anew()
    seen = in_a_process(shares.into(out), look)
    print(f"{len(seen) - 1} steps, {len(set(seen))} different states: {sorted(set(seen))}")
    assert "new mentor" == seen[-1]
    assert len(seen) > 50
    # It changes once, and never back. Where folders cannot be exchanged, there is a moment between the two renames.
    states = [state.split()[0] for state in seen]
    between = ["none"] if earlier == "old" and exchange is never else []
    assert [earlier, *between, "new"] == [state for state, _ in groupby(states)]

    for state in dict.fromkeys(seen[:-1]):
        start_anew()
        in_a_process(shares.into(out), look, killed_at=seen.index(state))
        assert state == look()
        shares.into(out)()
        assert "new mentor" == look()


class TestWhereTheDiskRefuses:
    """What is said then ("nothing was changed") is true: every step refused in turn."""

    @pytest.fixture
    def refusing(self, monkeypatch: pytest.MonkeyPatch) -> Callable[[int], None]:
        """Lets so many renames of the share's own folder pass, then refuses one."""

        def allow(count: int) -> None:
            real, left = Path.rename, [count]

            def rename(path: Path, target: Path) -> Path:
                if path.parent.name == "out":
                    left[0] -= 1
                    if left[0] == -1:
                        raise PermissionError(13, "Permission denied", str(path), None, str(target))
                return real(path, target)

            monkeypatch.setattr(Path, "rename", rename)

        return allow

    @pytest.mark.parametrize("exchange", [exchange_folders, never])
    @pytest.mark.parametrize("count", range(3))
    def test_an_error_leaves_the_earlier_pair_and_nothing_beside_it(
        self,
        shares: Shares,
        refusing: Callable[[int], None],
        tmp_path: Path,
        monkeypatch: pytest.MonkeyPatch,
        count: int,
        exchange: Callable[[Path, Path], bool],
    ) -> None:
        monkeypatch.setattr(swap, "exchange_folders", exchange)
        shutil.copytree(shares.old, tmp_path / "out")
        refusing(count)
        try:
            shares.into(tmp_path / "out")()
            expected, pair = "new", pair_in(shares.new)
        except OSError:
            expected, pair = "old", pair_in(shares.old)
        assert (["mentor"], pair) == (names_in(tmp_path / "out"), pair_in(tmp_path / "out"))
        assert expected == ("new" if count >= (3 if exchange is never else 1) else "old")


def test_the_zip_holds_the_pages_it_lies_beside(shares: Shares, tmp_path: Path) -> None:
    shares.into(tmp_path / "out")()
    with zipfile.ZipFile(tmp_path / "out/mentor/mentor.zip") as packed:
        files = {name: packed.read(name) for name in packed.namelist()}
    assert files == {n: d for n, d in bytes_in(tmp_path / "out/mentor/pages").items() if not n.startswith(".")}
