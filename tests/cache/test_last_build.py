"""The record of a build is believed only where everything that the site depends on looks as it did."""

from __future__ import annotations

import hashlib
import json
import os
import time
import zoneinfo
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from journal.cache import unchanged
from journal.cache.last_build import Findings, Result, findings_of, keep, repeated
from journal.cache.store import Output
from journal.cache.unchanged import program_digest, sha256_of, signatures_below
from journal.problems import Problem
from journal.reading.folder import scan
from journal.reading.listing import SITE_MARK

PROBLEMS = (Problem("a/find.md", 3, "error", "this is “odd”", "write it plainly", "[tents]"),)
RESULT = Result(2, 1, 0, PROBLEMS, unchanged=False, rendered=7, offline_bytes=1200, larger_bytes=80)
FILES = {
    "journal/journal.toml": "[journal]\n",
    "journal/a/find.md": "---\nkind: find\n---\n",
    "journal/a/IMG_1.jpg": "a photo",
    "journal/logs/tent.csv": "Time;RH\n",
    "site/index.html": "a page",
    "site/photos/x-320.webp": "a picture",
    f"site/{SITE_MARK}": "Made by journal build",
    "program/core.py": "1",
    "program/templates/base.html": "<html>",
    "program/static/shell.js": "//",
    "libraries/Flask-3.1.0.dist-info/METADATA": "",
    "zones/Europe/London": "",
    "zones/tzdata.zi": "# version 2026a",
}


@dataclass(frozen=True, slots=True)
class Room:
    """A journal, its site, a cache and a program, each a few files."""

    top: Path

    @property
    def cache(self) -> Path:
        return self.top / "cache"

    def outputs(self) -> dict[str, Output]:
        site = self.top / "site"
        return {
            path: Output("inputs", sha256_of(site / path), stat[0], stat)
            for path, stat in signatures_below(str(site)).items()
            if path != SITE_MARK
        }

    def keep(self, **other: object) -> None:
        given = {
            "program": program_digest(),
            "scanned_ns": time.time_ns(),
            "outputs": self.outputs(),
            "result": RESULT,
        }
        keep(self.cache, scan(self.top / "journal"), self.top / "site", **{**given, **other})

    def repeated(self) -> Result | None:
        return repeated(self.cache, self.top / "journal", self.top / "site")

    @property
    def record(self) -> Path:
        (file,) = self.cache.iterdir()
        return file


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Room:
    for name, text in FILES.items():
        file = tmp_path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    (tmp_path / "cache").mkdir()
    now_ns = time.time_ns
    monkeypatch.setattr(time, "time_ns", lambda: now_ns() + 10**9)  # all that was written is long past
    monkeypatch.setattr(unchanged, "PACKAGE", str(tmp_path / "program"))
    monkeypatch.setattr(unchanged, "_resources", lambda: str(tmp_path / "program"))
    monkeypatch.setattr(unchanged.sys, "path", [str(tmp_path / "libraries"), str(tmp_path / "no such folder")])
    monkeypatch.setattr(zoneinfo, "TZPATH", (str(tmp_path / "zones"),))
    return Room(tmp_path)


def test_a_build_that_would_change_nothing_comes_to_the_same(room: Room) -> None:
    assert room.repeated() is None
    room.keep()
    assert room.repeated() == replace(RESULT, unchanged=True, rendered=0) == room.repeated()
    assert findings_of(room.cache, room.top / "journal") == Findings(2, 1, 0, PROBLEMS)


def write_again(file: Path) -> None:
    """Other bytes, as many as before, a moment later."""
    file.write_text("x" * file.stat().st_size, encoding="utf-8")
    later(file)


def later(file: Path) -> None:
    facts = file.stat()
    os.utime(file, ns=(facts.st_atime_ns, facts.st_mtime_ns + 4_000_000))


def swap_in(file: Path) -> None:
    """Another file under that name, of the same size and time."""
    facts = file.stat()
    fresh = file.with_name("fresh")
    fresh.write_text("x" * facts.st_size, encoding="utf-8")
    os.utime(fresh, ns=(facts.st_atime_ns, facts.st_mtime_ns))
    fresh.replace(file)


def add(file: Path) -> None:
    file.with_name(f"new-{file.name}").write_text("new")


def move(file: Path) -> None:
    file.rename(file.with_name(f"moved-{file.name}"))


def link(file: Path) -> None:
    os.symlink("/nowhere", file.with_name("link.md"))


OF_THE_JOURNAL = [
    *[("journal/a/find.md", edit) for edit in (write_again, swap_in, add, move, Path.unlink, link)],
    *[("journal/a/IMG_1.jpg", edit) for edit in (write_again, swap_in, add, move, Path.unlink)],
    *[("journal/journal.toml", edit) for edit in (write_again, Path.unlink)],
    ("journal/logs/tent.csv", write_again),
]
OF_THE_PROGRAM = [
    *[("program/core.py", edit) for edit in (write_again, add, Path.unlink)],
    *[("program/templates/base.html", edit) for edit in (write_again, swap_in, Path.unlink)],
    *[("program/static/shell.js", edit) for edit in (write_again, add)],
    *[("zones/tzdata.zi", edit) for edit in (write_again, add)],
    ("zones/Europe", later),
    ("libraries/Flask-3.1.0.dist-info", lambda file: file.rename(file.with_name("Flask-3.1.1.dist-info"))),
]
OF_THE_SITE = [
    *[("site/index.html", edit) for edit in (write_again, swap_in, add, move, Path.unlink)],
    ("site/photos/x-320.webp", write_again),
    *[(f"site/{SITE_MARK}", edit) for edit in (write_again, Path.unlink)],
]


@pytest.mark.parametrize(("name", "edit"), [*OF_THE_JOURNAL, *OF_THE_PROGRAM, *OF_THE_SITE])
def test_whatever_changed_is_noticed(room: Room, name: str, edit: Callable[[Path], object]) -> None:
    room.keep()
    edit(room.top / name)
    assert room.repeated() is None
    still_known = findings_of(room.cache, room.top / "journal") is not None
    assert still_known == ((name, edit) in OF_THE_SITE)


def test_what_no_site_depends_on_may_change(room: Room) -> None:
    room.keep()
    for name in ("journal/.hidden.md", "journal/readme.txt", "program/notes.txt", "libraries/other.py"):
        (room.top / name).write_text("new")
    assert room.repeated()


def test_a_record_is_of_one_journal_and_one_site(room: Room) -> None:
    room.keep()
    (room.top / "journal").rename(room.top / "moved")
    assert repeated(room.cache, room.top / "moved", room.top / "site") is None
    assert repeated(room.cache, room.top / "journal", room.top / "elsewhere") is None
    assert findings_of(room.cache, room.top / "moved") is None


@pytest.mark.parametrize("name", ["journal/a/find.md", "journal/a/IMG_1.jpg", "journal/journal.toml"])
def test_a_file_touched_within_a_tick_of_the_look_leaves_no_record(room: Room, name: str) -> None:
    room.keep()
    room.keep(scanned_ns=(room.top / name).stat().st_mtime_ns + 10_000_000)
    assert room.repeated() is None


def test_a_program_that_is_just_being_changed_leaves_no_record(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    changed_ns = (room.top / "program/core.py").stat().st_mtime_ns
    monkeypatch.setattr(time, "time_ns", lambda: changed_ns + 10_000_000)
    assert program_digest() is None
    room.keep(program=None, scanned_ns=changed_ns + 10**9)
    assert [] == list(room.cache.iterdir())


def test_a_page_written_within_a_tick_of_the_look_is_held_by_its_bytes(room: Room) -> None:
    page = room.top / "site/index.html"
    outputs = room.outputs()
    room.keep(outputs={**outputs, "index.html": replace(outputs["index.html"], stat=None)})
    kept = room.record.read_bytes()
    before = page.stat()
    page.write_text("A PAGE")
    os.utime(page, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert room.repeated() is None
    page.write_text("a page")
    assert kept == room.record.read_bytes()
    assert room.repeated()
    assert kept != room.record.read_bytes(), "from now on its look stands for it"
    assert room.repeated()
    later(page)
    assert room.repeated() is None


def resealed(body: bytes) -> bytes:
    return f"1 {hashlib.sha256(body).hexdigest()}\n".encode() + body


@pytest.mark.parametrize(
    "damage",
    [
        lambda data: b"",
        lambda data: data[: len(data) // 2],
        lambda data: data.replace(b'"entries": 2', b'"entries": 3'),
        lambda data: b"0" + data[1:],
        lambda data: b"\xff\n" + data,
        lambda data: resealed(b"[1, 2]"),
        lambda data: resealed(b"no JSON"),
        lambda data: resealed(b"{}"),
        lambda data: resealed(json.dumps({**json.loads(data.partition(b"\n")[2]), "problems": [{"x": 1}]}).encode()),
    ],
)
def test_a_damaged_record_costs_time_alone(room: Room, damage: Callable[[bytes], bytes]) -> None:
    room.keep()
    data = room.record.read_bytes()
    assert data != damage(data)
    room.record.write_bytes(damage(data))
    assert room.repeated() is None
    room.keep()
    assert room.repeated()


def test_records_of_sites_that_are_gone_are_removed(room: Room) -> None:
    room.keep()
    gone = room.record
    (room.top / "site").rename(room.top / "other")
    keep(
        room.cache,
        scan(room.top / "journal"),
        room.top / "other",
        program=program_digest(),
        scanned_ns=time.time_ns(),
        outputs={},
        result=RESULT,
    )
    assert gone != room.record
