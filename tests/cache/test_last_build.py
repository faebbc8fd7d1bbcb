"""The record of a build is believed only where everything that the site depends on looks as it did."""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
import os
import signal
import time
import zoneinfo
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from journal.cache import unchanged
from journal.cache.last_build import Findings, Result, findings_of, keep, repeated
from journal.cache.resources import find_resources, page_version
from journal.cache.store import Output
from journal.cache.unchanged import is_as_seen, program_digest, read_record, sha256_of, signatures_below
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

    def is_as_seen(self) -> bool:
        record = read_record(str(self.record))
        assert record is not None
        return is_as_seen(record, str(self.top / "journal"), str(self.top / "site"))

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
    for here, _, _ in os.walk(tmp_path):
        os.utime(here, ns=(10**18, 10**18))  # what comes or goes now is no longer within a tick of what was made first
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


@pytest.fixture(params=[1, 2])
def cores(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> int:
    """How many there are for a look that pays on two, with something for each."""
    monkeypatch.setattr(unchanged, "_PAYING", 1)
    monkeypatch.setattr(unchanged, "_SEEN_TOGETHER", 1)
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: set(range(request.param)))
    return request.param


@pytest.mark.parametrize(("name", "edit"), [*OF_THE_JOURNAL, *OF_THE_PROGRAM, *OF_THE_SITE])
def test_whatever_changed_since_all_was_seen_is_noticed(
    room: Room, cores: int, name: str, edit: Callable[[Path], object]
) -> None:
    room.keep()
    room.repeated()
    assert room.is_as_seen()
    edit(room.top / name)
    assert not room.is_as_seen()


def test_of_very_many_files_each_digest_is_of_more(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """The numbers of all digests are bytes in one pipe."""
    monkeypatch.setattr(unchanged, "_SEEN_TOGETHER", 1)
    monkeypatch.setattr(unchanged, "_MOST_DIGESTS", 3)
    room.keep()
    room.repeated()
    assert len((read_record(str(room.record)) or {})["seen"]) <= 3 + 2
    assert room.is_as_seen()
    later(room.top / "site/photos/x-320.webp")
    assert not room.is_as_seen()


@pytest.mark.parametrize("place", ["journal/a", "journal/logs", "journal", "site/photos", "site"])
def test_what_comes_into_a_folder_that_was_new_and_empty_is_noticed(room: Room, cores: int, place: str) -> None:
    room.keep()
    room.repeated()
    inside = room.top / place / "inside"
    inside.mkdir()
    assert not room.is_as_seen()
    assert room.repeated()
    assert room.is_as_seen()
    os.utime(inside, ns=(10**18, 10**18))
    room.repeated()
    (inside / "new.md").write_text("new")
    assert not room.is_as_seen()
    assert room.repeated() is None


def test_a_site_within_the_journal_that_loses_its_mark_is_noticed(room: Room) -> None:
    mark = room.top / "journal/old" / SITE_MARK
    mark.parent.mkdir()
    (mark.parent / "index.md").write_text("a page")
    mark.write_text("Made by journal build")
    os.utime(mark.parent, ns=(10**18, 10**18))
    room.keep()
    room.repeated()
    (mark.parent / "index.md").write_text("another page")
    assert room.is_as_seen()
    mark.unlink()
    assert not room.is_as_seen()


@pytest.mark.parametrize("cores", [2], indirect=True)
@pytest.mark.parametrize("end", ["killed", "out of memory", "at fault"])
def test_where_the_other_process_ends_early_nothing_is_taken_for_unchanged(
    room: Room, cores: int, end: str, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    room.keep()
    room.repeated()
    this, hold, fork = os.getpid(), unchanged._hold, unchanged._forked
    forked: list[int | None] = []

    def noted() -> int | None:
        forked.append(fork())
        return forked[-1]

    def end_early(*given: object) -> bool:
        if os.getpid() == this:
            return hold(*given)
        if end == "killed":
            os.kill(os.getpid(), signal.SIGKILL)
        raise MemoryError if end == "out of memory" else KeyError(end)

    monkeypatch.setattr(unchanged, "_hold", end_early)
    monkeypatch.setattr(unchanged, "_forked", noted)
    assert not room.is_as_seen()
    assert capfd.readouterr() == ("", "")
    (other,) = forked
    assert other is not None
    with pytest.raises(ChildProcessError):
        os.waitpid(other, 0)  # of any child, it would wait for those that earlier tests have left running
    monkeypatch.setattr(unchanged, "_hold", hold)
    assert room.is_as_seen()


@pytest.mark.parametrize("cores", [2], indirect=True)
def test_where_no_process_can_be_forked_this_one_looks_alone(room: Room, cores: int, monkeypatch) -> None:
    room.keep()
    room.repeated()

    def refuse() -> int:
        raise BlockingIOError

    monkeypatch.setattr(os, "fork", refuse)
    assert room.is_as_seen()
    later(room.top / "site/index.html")
    assert not room.is_as_seen()


@pytest.mark.parametrize("place", ["site/photos", "journal/a", "site/index.html"])
def test_what_changed_within_a_tick_of_the_look_is_not_taken_for_seen(room: Room, place: str) -> None:
    os.utime(room.top / place, ns=(time.time_ns(), time.time_ns()))
    room.keep()
    assert room.repeated()
    assert "seen" not in (read_record(str(room.record)) or {})


def test_where_stamps_have_no_fractions_or_a_name_is_a_link_folders_are_listed(room: Room, monkeypatch) -> None:
    room.keep()
    with monkeypatch.context() as patched:
        patched.setattr(unchanged, "_has_fractions", lambda stamps_ns: False)
        patched.setattr(time, "time_ns", lambda now_ns=time.time_ns: now_ns() + 10**10)
        room.repeated()
    assert (read_record(str(room.record)) or {})["seen"] is None
    room.repeated()
    assert room.is_as_seen()
    link(room.top / "journal/a/find.md")
    room.keep()
    room.repeated()
    assert (read_record(str(room.record)) or {})["seen"] is None


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


@pytest.mark.parametrize("path", ["tzdata.zi", "Europe"])
def test_a_page_is_made_again_where_time_zones_have_changed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    """What a template calculates from a moment follows from the zone's rules, and its context has only its name."""
    (tmp_path / "Europe").mkdir()
    (tmp_path / "tzdata.zi").write_text("# version 2026a")
    (tmp_path / "localtime").symlink_to(tmp_path / "nowhere")  # as where a system has no zone of its own
    monkeypatch.setattr(zoneinfo, "TZPATH", (str(tmp_path),))
    before = page_version(find_resources())
    assert before == page_version(find_resources())
    later(tmp_path / path)
    assert before != page_version(find_resources())


@pytest.mark.parametrize("library", ["mgrs", "segno", "tzdata", "jinja2"])
def test_a_page_is_made_again_where_a_library_that_shapes_it_has_changed(
    monkeypatch: pytest.MonkeyPatch, library: str
) -> None:
    before, version = page_version(find_resources()), importlib.metadata.version
    monkeypatch.setattr(importlib.metadata, "version", lambda name: "99" if name == library else version(name))
    assert before != page_version(find_resources())
