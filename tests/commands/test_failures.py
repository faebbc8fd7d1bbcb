"""How commands end where the disk or the memory refuses: one plain line, and nothing left half done."""

from __future__ import annotations

import errno
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from journal import pipeline
from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.cli import cli
from journal.commands import console
from journal.commands.console import EXIT_FAILED, sentence_of
from journal.commands.workspace import open_workspace
from journal.reading.folder import scan
from journal.share_pipeline import prepare
from journal.site.build import freezing, photo_workers
from journal.site.pages import finds
from tests.builders import Inline, some
from tests.sharing.made import seen_whole
from tests.test_pipeline import ENTRIES, write_entry

SHARE = '[shares.mentor]\nabout = "B-031"\n'


@pytest.fixture
def root(tmp_path: Path, picture_bytes, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small journal; photos are made in this process, and no progress is drawn, however slow that is."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "user-cache"))
    monkeypatch.setattr(console, "FIRST_SHOWN_AFTER_S", 3600.0)
    root = tmp_path / "home" / "my"
    for path, text in ENTRIES.items():
        write_entry(root / path, text + SHARE * path.endswith(".toml"))
    (root / "batches/B-031/pins.jpg").write_bytes(picture_bytes("JPEG"))
    monkeypatch.setattr(photo_workers, "photo_work", partial(photo_workers.photo_work, executor=Inline()))
    time.sleep(0.12)
    return root


_WRITES = ("open", "os.mkdir", "os.rename", "os.link", "shutil.copyfile")
_before: Callable[[str, Path], object] | None = None
_held: list[str] | None = None
"""Where it is a list, every rename: the path, and whether this process has it, or a file in it, open."""


def _note_saved(paths: tuple[Any, ...]) -> None:
    files = [os.path.realpath(one) for one in Path("/proc/self/fd").iterdir()]
    for path in map(os.path.realpath, paths):
        is_open = any(file == path or file.startswith(f"{path}/") for file in files)
        if _held is not None:
            _held.append(f"{path} {'open' if is_open else 'shut'}")


def _hook(event: str, args: tuple[Any, ...]) -> None:
    """Python itself tells of everything that is opened to be written, made, linked or renamed (PEP 578)."""
    if event == "os.rename" and _held is not None:
        _note_saved(args[:2])
    if _before is None or event not in _WRITES or not isinstance(args[0], str | Path):
        return
    if event == "open" and not (args[2] or 0) & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
        return
    _before(event, Path(args[1] if event in ("os.rename", "os.link") else args[0]))


sys.addaudithook(_hook)


@pytest.fixture
def refusing() -> Iterator[Callable[[Path, int, BaseException], list[str]]]:
    """From the n-th change below a folder on, every one raises; gives the list of the changes."""

    def begin(below: Path, nth: int, error: Exception) -> list[str]:
        global _before
        seen: list[str] = []

        def before(what: str, path: Path) -> None:
            if path.is_relative_to(below):
                seen.append(f"{what} {path}")
                if len(seen) > nth:
                    if isinstance(error, OSError):
                        raise OSError(error.errno, error.strerror, str(path))
                    raise error

        _before = before
        return seen

    yield begin
    _stop()


def _stop() -> None:
    global _before
    _before = None


def names_below(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


COMMANDS = {
    "build": ("build", "{my}"),
    "share": ("share", "mentor", "{my}"),
    "export": ("export", "{my}", "--as", "csv", "--to", "{home}/tables"),
    "check": ("check", "{my}"),
}
REFUSALS = [errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES, errno.EMFILE, errno.ENAMETOOLONG]


def looked_at(*journals: Path) -> None:
    """Their author has looked at everything in the share `mentor` of each."""
    for journal in journals:
        with tempfile.TemporaryDirectory() as folder:
            memory = FileCache(Cache(Path(folder)), journal, 0)
            seen_whole(memory, prepare(memory, "mentor", lambda *told: None))


class TestEveryWrite:
    @pytest.mark.parametrize("name", COMMANDS)
    @pytest.mark.parametrize("where", ["home", "user-cache"])
    def test_a_disk_that_refuses_at_any_write_is_one_line_and_leaves_nothing(
        self, root: Path, tmp_path: Path, refusing, capfd, name: str, where: str
    ) -> None:
        words = [word.format(my=root, home=tmp_path / "home") for word in COMMANDS[name]]
        looked_at(root)
        before = names_below(tmp_path / "home")
        count, status, nth, step = 0, EXIT_FAILED, 0, 1
        while True:
            code = REFUSALS[count % len(REFUSALS)]
            seen = refusing(tmp_path / where, nth, OSError(code, os.strerror(code)))
            status = console.run(cli, words)
            _stop()
            err = capfd.readouterr().err.splitlines()
            if len(seen) <= nth:  # no write was refused
                break
            if status == EXIT_FAILED:
                assert re.search(r"full|read-only|permission|permit|open\.|longer|room", err[-1]), err
                assert "fault in the program" not in err[-1]
                assert not re.search(r"\.(new|ready|old)-[0-9a-f]{8}", err[-1])
                assert before == names_below(tmp_path / "home"), seen[nth]
            else:  # what cannot be remembered costs time alone
                assert where == "user-cache" or name == "check"
                break
            count += 1
            nth += step
            step = 1 + nth // 3
        assert status in (0, 1)
        assert count >= (3 if where == "home" and name != "check" else 0)

    def test_a_build_that_fails_leaves_the_earlier_site(self, root: Path, tmp_path: Path, refusing, capfd) -> None:
        assert 0 == console.run(cli, ["build", str(root)])
        site = tmp_path / "home" / "site"
        before = {path: path.read_bytes() for path in sorted(site.rglob("*")) if path.is_file()}
        names = names_below(tmp_path / "home")
        for nth in (0, 2, 9, 30):
            (root / "finds/alder/find.md").write_text(f"---\n{ENTRIES['finds/alder/find.md']}---\nAgain {nth}.\n")
            refusing(site.parent, nth, OSError(errno.ENOSPC, "No space left on device"))
            assert console.run(cli, ["build", str(root)]) == EXIT_FAILED
            _stop()
            assert before == {path: path.read_bytes() for path in sorted(site.rglob("*")) if path.is_file()}
            assert names == names_below(tmp_path / "home")

    def test_start_leaves_nothing_of_a_journal_that_it_could_not_make(self, tmp_path: Path, refusing, capfd) -> None:
        words = ["start", str(tmp_path / "new" / "one"), "--title", "T", "--author", "K"]
        words += ["--time-zone", "UTC", "--units", "us"]
        for nth in range(6):
            refusing(tmp_path, nth, OSError(errno.ENOSPC, "No space left on device"))
            assert console.run(cli, words) == EXIT_FAILED
            _stop()
            assert "the disk is full" in capfd.readouterr().err
            assert not (tmp_path / "new").exists()
        assert 0 == console.run(cli, words)


class TestWorkers:
    @pytest.mark.parametrize("processes", [1, 2])
    @pytest.mark.parametrize("code", REFUSALS)
    def test_a_disk_that_refuses_while_pages_are_rendered_is_no_fault_of_the_program(
        self, root: Path, tmp_path: Path, refusing, capfd, monkeypatch: pytest.MonkeyPatch, processes: int, code: int
    ) -> None:
        monkeypatch.setattr(freezing, "fitting_processes", lambda pieces, least: processes)

        def before(what: str, path: Path) -> None:
            if path.suffix == ".html":
                raise OSError(code, os.strerror(code))  # as a failing write does: of no file

        global _before
        _before = before
        assert console.run(cli, ["build", str(root)]) == EXIT_FAILED
        _stop()
        (line,) = capfd.readouterr().err.splitlines()
        assert "fault in the program" not in line
        assert "Nothing was changed." in line
        assert f"{tmp_path}/home/site/" in line

    @pytest.mark.parametrize("processes", [1, 2])
    def test_too_little_memory_is_reported_with_what_was_done(
        self, root: Path, capfd, monkeypatch: pytest.MonkeyPatch, processes: int
    ) -> None:
        monkeypatch.setattr(freezing, "fitting_processes", lambda pieces, least: processes)

        def before(what: str, path: Path) -> None:
            if path.suffix == ".html":
                raise MemoryError

        global _before
        _before = before
        assert console.run(cli, ["build", str(root)]) == EXIT_FAILED
        _stop()
        (line,) = capfd.readouterr().err.splitlines()
        assert line.startswith("There is not enough memory while ")
        assert line.endswith("Close other programs and try again. Nothing was changed.")

    @pytest.mark.parametrize("processes", [1, 2])
    def test_too_little_memory_for_planning_is_not_reported_as_reading(
        self, root: Path, capfd, monkeypatch: pytest.MonkeyPatch, processes: int
    ) -> None:
        monkeypatch.setattr(freezing, "fitting_processes", lambda pieces, least: processes)

        def without_memory(*_: object) -> None:
            raise MemoryError

        monkeypatch.setattr(finds, "_lines", without_memory)
        assert console.run(cli, ["build", str(root)]) == EXIT_FAILED
        (line,) = capfd.readouterr().err.splitlines()
        assert line.startswith("There is not enough memory while planning pages. ")

    def test_a_process_that_the_system_ended_is_shown_as_such(
        self, root: Path, capfd, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(freezing, "fitting_processes", lambda pieces, least: 2)
        parent = os.getpid()

        def before(what: str, path: Path) -> None:
            if os.getpid() != parent:
                os.kill(os.getpid(), 9)

        global _before
        _before = before
        assert console.run(cli, ["build", str(root)]) == EXIT_FAILED
        _stop()
        assert "memory runs out" in capfd.readouterr().err

    def test_a_file_larger_than_allowed_is_told_from_a_photo_process_too(self, root: Path, tmp_path: Path) -> None:
        """The limit is the system's own (RLIMIT_FSIZE), for this command and every process that it begins."""
        resource = pytest.importorskip("resource")
        command = [sys.executable, "-m", "journal", "build", str(root)]
        limit = partial(resource.setrlimit, resource.RLIMIT_FSIZE, (0, 0))
        done = subprocess.run(command, capture_output=True, text=True, preexec_fn=limit, timeout=120, check=False)
        assert done.returncode == EXIT_FAILED
        assert "Traceback" not in done.stderr
        assert "fault in the program" not in done.stderr
        assert [] == [name for name in names_below(tmp_path / "home") if not name.startswith("my/")]


@pytest.mark.parametrize("name", COMMANDS)
def test_no_such_command_changes_the_journal_folder(root: Path, tmp_path: Path, refusing, name: str) -> None:
    """A journal that is read-only, on a card or a snapshot, gives all of its sites, shares and tables."""
    looked_at(root)

    def state() -> list[tuple[object, ...]]:
        found = ((path, path.lstat()) for path in [root, *sorted(root.rglob("*"))])
        return [(path, stat.st_ino, stat.st_mtime_ns, stat.st_ctime_ns, stat.st_size) for path, stat in found]

    before = state()
    seen = refusing(root, 0, PermissionError(errno.EROFS, os.strerror(errno.EROFS)))
    to = ["--to", str(tmp_path / "elsewhere")] if name in ("build", "share") else []
    assert 0 == console.run(cli, [*(word.format(my=root, home=tmp_path) for word in COMMANDS[name]), *to])
    _stop()
    assert ([], before) == (seen, state())


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="only there are this process's open files listed")
def test_nothing_is_renamed_while_this_process_has_it_open(root: Path, tmp_path: Path) -> None:
    """Windows refuses that: of the file itself, of one that it replaces, and of a folder with an open file in it."""
    looked_at(root)
    global _held
    _held = []
    try:
        for change in ("", "More.\n"):
            with (root / "batches/B-031/batch.md").open("a", encoding="utf-8") as file:
                file.write(change)
            for name in ("build", "share", "export"):
                console.run(cli, [word.format(my=root, home=tmp_path) for word in COMMANDS[name]])
    finally:
        held, _held = _held, None
    assert [] == [line for line in held if line.endswith("open")]
    assert len(held) > 5


def test_a_full_disk_says_where_and_not_what_came_free_afterwards(tmp_path: Path) -> None:
    said = sentence_of(OSError(errno.ENOSPC, "No space left on device", str(tmp_path / ".site.new-0123abcd" / "x")))
    assert said.startswith(f"{tmp_path}/site/x: the disk is full. Make room, ")
    assert "free" not in said


def test_a_fault_in_a_later_build_of_show_is_traced_too(root: Path, monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    def fails(*_: object) -> None:
        raise IndexError("tuple index out of range")

    monkeypatch.setattr(pipeline, "build_site", fails)
    monkeypatch.setenv("JOURNAL_TRACEBACK", "1")
    with open_workspace(root) as workspace:
        (said,) = workspace.build_again(lambda problems: (), scan(root))
    assert said.startswith("This is a fault in the program (IndexError: ")
    assert "in fails" in capsys.readouterr().err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has a device that is always full")
@pytest.mark.parametrize("command", ["export", "check", "--help"])
def test_output_that_cannot_be_written_is_one_line(root: Path, command: str) -> None:
    (root / "odd.md").write_text("---\nkind: nothing\n---\n", encoding="utf-8")
    words = [sys.executable, "-m", "journal", command, *([str(root)] if command != "--help" else [])]
    with open("/dev/full", "w") as full:
        done = subprocess.run(words, stdout=full, stderr=subprocess.PIPE, text=True, timeout=120, check=False)
    assert done.returncode == EXIT_FAILED
    *progress, line = done.stderr.splitlines()
    assert line.startswith("the disk is full")
    assert all(before.startswith("Reading") for before in progress)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has a device that is always full")
@pytest.mark.parametrize(
    ("words", "outcome"),
    [
        (("new", "find", "."), "The entry was written: finds/"),
        (
            ("start", "../new", "--title", "T", "--author", "A", "--time-zone", "UTC", "--units", "us"),
            "was made in ../new.",
        ),
    ],
)
def test_what_was_written_is_not_denied_where_its_path_cannot_be_printed(
    root: Path, words: tuple[str, ...], outcome: str, monkeypatch: pytest.MonkeyPatch, capsys
) -> None:
    monkeypatch.chdir(root)
    with open("/dev/full", "w") as full, monkeypatch.context() as printing:
        printing.setattr(sys, "stdout", full)
        status = console.run(cli, words)
    said = capsys.readouterr().err
    assert (EXIT_FAILED, True) == (status, outcome in said)
    assert "Nothing was changed" not in said


@pytest.mark.skipif(os.name != "posix", reason="only its shell closes streams so")
@pytest.mark.parametrize("closed", [">&-", "2>&-", "<&- >&- 2>&-"])
def test_a_build_whose_streams_are_closed_is_made_all_the_same(root: Path, tmp_path: Path, closed: str) -> None:
    words = ["sh", "-c", f'"$0" "$@" {closed}', sys.executable, "-m", "journal", "build", str(root)]
    for _ in ("from nothing", "unchanged"):
        assert 0 == subprocess.run(words, stderr=subprocess.DEVNULL, timeout=120, check=False).returncode
        assert (tmp_path / "home/site/index.html").is_file()


@pytest.mark.skipif(os.name != "posix", reason="only there can another user be tried")
def test_an_earlier_site_that_is_read_only_goes_all_the_same() -> None:
    """As another user than root, whom no permission stops."""
    from journal.site.build.swap import new_tree, put_in_place

    folder = Path(tempfile.mkdtemp(dir="/tmp"))  # the run's own folder is closed to others
    is_root = os.geteuid() == 0
    try:
        site = folder / "site"
        (site / "inner").mkdir(parents=True)
        (site / "inner" / "page.html").write_text("old", encoding="utf-8")
        if is_root:
            for path in (folder, site, site / "inner", site / "inner" / "page.html"):
                os.chown(path, 65534, 65534)
            os.seteuid(65534)
        (site / "inner").chmod(0o555)
        site.chmod(0o555)
        with new_tree(site) as tree:
            put_in_place(tree, site)
        assert ["site"] == [path.name for path in folder.iterdir()]
        assert not (site / "inner").exists()
    finally:
        if is_root:
            os.seteuid(0)
        subprocess.run(["rm", "-rf", str(folder)], check=True)


class TestTwoJournals:
    def test_the_second_journals_site_and_share_never_take_the_firsts_place(self, root: Path, capfd) -> None:
        shutil.copytree(root, root.parent / "other")
        for words in (["build"], ["share", "mentor"]):
            if words[0] == "share":
                looked_at(root, root.parent / "other")
            assert 0 == console.run(cli, [*words, str(root)])
            assert console.run(cli, [*words, str(root.parent / "other")]) == EXIT_FAILED
            assert f"was made from another journal, {root}," in capfd.readouterr().err
            assert 0 == console.run(cli, [*words, str(root)])
            to = str(root.parent / f"own {words[0]}")
            assert 0 == console.run(cli, [*words, str(root.parent / "other"), "--to", to])

    def test_no_file_of_site_or_share_tells_of_the_folders_name(self, root: Path, tmp_path: Path, capfd) -> None:
        named = root.rename(root.parent / "a-telling-name")
        looked_at(named)
        for words in (["build"], ["share", "mentor"]):
            assert 0 == console.run(cli, [*words, str(named)])
        for folder in ("site", "shares"):
            for path in some((tmp_path / "home" / folder).rglob("*.html"), 5):
                assert b"a-telling-name" not in path.read_bytes()
            for path in (tmp_path / "home" / folder).rglob("*"):
                assert not path.is_file() or b"a-telling-name" not in path.read_bytes()
