"""A build that would change nothing is over at once, and says what the whole command says."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from journal.__main__ import main
from journal.cache import unchanged
from journal.cache.folders import cache_folder, site_folder
from journal.cache.unchanged import read_record, record_file, write_record
from journal.cli import cli
from journal.commands import build_again
from journal.commands.build_again import is_over
from journal.reading.folder import scan
from journal.reading.listing import SITE_MARK, stats_of_journal

FIND = "---\nkind: find\nid: F-1\ndate: 2026-09-12\nspecies: Pleurotus pulmonarius\n---\nOn alder.\n"


def arguments(room: Path) -> list[str]:
    return ["build", str(room / "journal"), "--to", str(room / "site"), "--cache", str(room / "cache")]


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A journal that was built, and nothing changed since."""
    return built(tmp_path_factory.mktemp("room"))


def built(room: Path) -> Path:
    (room / "journal").mkdir()
    (room / "journal" / "journal.toml").write_text('[journal]\ntitle = "One"\n')
    (room / "journal" / "find.md").write_text(FIND)
    time.sleep(0.12)  # a file saved within a tick of the disk's clock leaves no record
    cli.main(arguments(room), standalone_mode=False)
    time.sleep(0.12)
    cli.main(arguments(room), standalone_mode=False)  # what was written within a tick is told by its bytes till then
    return room


@pytest.fixture(scope="module")
def locked(room: Path) -> list[str]:
    """The arguments of a locked build of that journal, in which nothing changed since."""
    words = [*arguments(room), "--locked", "--keys", str(room / "keys.json")]
    words[3] += "-locked"
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("JOURNAL_PASSPHRASE", "walnut drizzle kettle marina stubborn")
        cli.main(words, standalone_mode=False)
    time.sleep(0.12)
    cli.main(words, standalone_mode=False)
    return words


@pytest.mark.parametrize("kind", ["plain", "locked"])
def test_it_says_what_the_command_says(
    room: Path, locked: list[str], kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    words = locked if kind == "locked" else arguments(room)
    capsys.readouterr()
    cli.main(words, standalone_mode=False)
    by_command = capsys.readouterr().err
    assert is_over(words)
    by_itself = capsys.readouterr().err
    without_time = [re.sub(r"in [0-9.]+ s", "in 0.0 s", text) for text in (by_command, by_itself)]
    assert "nothing had changed" in by_itself
    assert without_time[0] == without_time[1]


@pytest.mark.parametrize("joined", ["--to={}/site", "--cache={}/cache"])
def test_options_may_be_joined_to_their_values(room: Path, joined: str) -> None:
    name = joined.partition("=")[0]
    rest = arguments(room)
    at = rest.index(name)
    assert is_over([*rest[:at], *rest[at + 2 :], joined.format(room)])


@pytest.mark.parametrize(
    "change",
    [
        lambda rest: [],
        lambda rest: ["check", *rest[1:]],
        lambda rest: [*rest, "--check-cache"],
        lambda rest: [*rest, "--help"],
        lambda rest: [*rest, "another"],
        lambda rest: [*rest, "--to"],
        lambda rest: [*rest, "--to", "elsewhere"],
        lambda rest: [*rest[:3], f"{rest[3]}-2", *rest[4:]],
        lambda rest: [*rest[:-1], f"{rest[-1]}-2"],
        lambda rest: ["build", f"{rest[1]}-2", *rest[2:]],
        lambda rest: ["build", f"{rest[1]}/find.md", *rest[2:]],
        lambda rest: ["build", ""],
    ],
)
def test_anything_else_is_left_to_the_command(room: Path, change, capsys: pytest.CaptureFixture[str]) -> None:
    assert not is_over(change(arguments(room)))
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    "change",
    [
        lambda rest: rest[:-3],
        lambda rest: [*rest[:-3], *rest[-2:]],
        lambda rest: rest[:-2],
        lambda rest: [*rest[:-1], f"{rest[-1]}-2"],
        lambda rest: [*rest, "--passphrase-file", "words.txt"],
        lambda rest: [*rest[:3], rest[3].removesuffix("-locked"), *rest[4:]],
    ],
)
def test_a_locked_site_is_not_a_plain_one_and_has_one_key_file(locked: list[str], change) -> None:
    assert is_over(locked)
    assert not is_over(change(locked))


def test_a_site_that_the_settings_lock_is_over_without_the_option(tmp_path: Path, monkeypatch, capsys) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    (tmp_path / "journal").mkdir()
    (tmp_path / "journal" / "journal.toml").write_text('[journal]\ntitle = "One"\nlocked = true\n')
    time.sleep(0.12)
    for passphrase in ("walnut drizzle kettle marina stubborn", "", ""):
        monkeypatch.setenv("JOURNAL_PASSPHRASE", passphrase)
        cli.main(arguments(tmp_path), standalone_mode=False)
        time.sleep(0.12)
    assert is_over(arguments(tmp_path))
    assert "The locked site is in" in capsys.readouterr().err
    assert is_over([*arguments(tmp_path), "--locked"])


def test_a_passphrase_and_keys_that_changed_are_left_to_the_command(locked: list[str], room: Path, monkeypatch) -> None:
    keys = room / "keys.json"
    with monkeypatch.context() as patched:
        patched.setenv("JOURNAL_PASSPHRASE", "of nobody")
        assert not is_over(locked)
    keys.chmod(0o640)
    assert not is_over(locked)
    keys.chmod(0o600)
    assert is_over(locked)
    whole = keys.read_bytes()
    keys.write_bytes(whole + b" ")
    assert not is_over(locked)
    keys.write_bytes(whole)


@pytest.mark.parametrize("to", ["locked/*.bin", "offline/*.bin", "offline/*.bundle", "unlock/lock.js", "sw.js"])
def test_a_file_of_a_locked_site_that_was_damaged_is_found_and_made_again(locked: list[str], to: str) -> None:
    file = sorted(Path(locked[3]).glob(to))[0]
    whole = file.read_bytes()
    file.write_bytes(whole[:-1] + bytes([whole[-1] ^ 1]))
    assert not is_over(locked)
    cli.main(locked, standalone_mode=False)
    assert whole == file.read_bytes()
    for _ in range(3):  # what was written within a tick is told by its bytes till then
        time.sleep(0.12)
        cli.main(locked, standalone_mode=False)
    assert is_over(locked)


def test_nothing_is_over_while_a_tree_is_beside_the_site(room: Path) -> None:
    beside = room / ".site.new-0123abcd"
    beside.mkdir()
    try:
        assert not is_over(arguments(room))
    finally:
        beside.rmdir()


def test_where_the_other_process_dies_the_command_decides(
    room: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    this = os.getpid()

    def die_elsewhere(*_: object) -> bool:
        if os.getpid() != this:
            os.kill(os.getpid(), signal.SIGKILL)
        return True

    monkeypatch.setattr(unchanged, "_PAYING", 1)
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 1})
    assert is_over(arguments(room))
    capsys.readouterr()
    monkeypatch.setattr(unchanged, "_hold", die_elsewhere)
    assert not is_over(arguments(room))
    assert capsys.readouterr().err == ""
    cli.main(arguments(room), standalone_mode=False)
    assert "nothing had changed" in capsys.readouterr().err


def test_until_the_command_has_seen_all_it_decides(room: Path) -> None:
    file = record_file(str(room / "cache"), str(room / "site"))
    record = read_record(file)
    assert record is not None
    write_record(file, {name: value for name, value in record.items() if name != "seen"})
    assert not is_over(arguments(room))
    write_record(file, {**record, "seen": None})
    assert is_over(arguments(room)), "and where folders have to be listed, they are"
    write_record(file, record)
    assert is_over(arguments(room))


def test_a_changed_entry_is_left_to_the_command(tmp_path: Path) -> None:
    room = built(tmp_path)
    assert is_over(arguments(room))
    file = room / "journal" / "find.md"
    file.write_text(FIND.replace("alder", "birch"))
    assert not is_over(arguments(room))


def test_where_nothing_is_named_it_looks_where_the_command_looks(tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "user"))
    sample = Path(build_again.PACKAGE).parent / "sample_entries"
    for root in (tmp_path / "mine", sample):
        assert str(site_folder(root, None)) == build_again._usual_site(str(root))
        with cache_folder(root, None, None, print) as cache:
            assert str(cache) == build_again._usual_cache(str(root))


def test_a_look_that_is_stopped_ends_as_a_command_that_is_stopped(
    room: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def stopped(*_: object) -> bool:
        raise KeyboardInterrupt

    capsys.readouterr()
    monkeypatch.setattr(build_again, "read_record", stopped)
    monkeypatch.setattr(sys, "argv", ["journal", *arguments(room)])
    with pytest.raises(SystemExit) as ended:
        main()
    assert (130, "Stopped.\n") == (ended.value.code, capsys.readouterr().err)


def test_nothing_else_of_the_program_is_loaded() -> None:
    named = "import sys, journal.__main__, journal.commands.build_again; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", named], capture_output=True, text=True, check=True).stdout.split()
    assert not {"click", "dataclasses", "flask", "pathlib", "sqlite3", "typing", "PIL"} & set(loaded)
    assert {name for name in loaded if name.startswith("journal.")} == {
        "journal.__main__", "journal.cache", "journal.cache.unchanged", "journal.commands",
        "journal.commands.build_again", "journal.reading", "journal.reading.listing",
    }  # fmt: skip


ODD = ("a/find.MD", "b/x.jpeg", "b/y.txt", "receipts/1.json", "b/receipts/1.json", ".hidden/a.md", "a/journal.toml")


def test_files_look_as_the_reader_finds_them(tmp_path: Path) -> None:
    for name in ("journal.toml", "é.md", *ODD, "old/z.md", f"old/{SITE_MARK}", "logs/1.csv", "logs/2.gpx", "noend"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("x")
    assert stats_of_journal(str(tmp_path)) == scan(tmp_path).stats
    assert len(scan(tmp_path).stats) == 7
    os.symlink(tmp_path / "a" / "find.MD", tmp_path / "b" / "link.md")
    assert stats_of_journal(str(tmp_path)) is None
