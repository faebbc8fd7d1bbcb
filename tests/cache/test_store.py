from __future__ import annotations

import os
import pickle
import sqlite3
import stat
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from journal.cache import store
from journal.cache.store import DATABASE_NAME, TAG_NAME, Cache, Output
from journal.cache.unchanged import settled, sha256_of
from journal.commands.workspace import open_workspace
from journal.model import Photo, When

NOW_NS = 1_764_000_000_123_000_000
OLD = (10, NOW_NS - 5_000_000_000, NOW_NS - 5_000_000_000, 7)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "cache"


def filled(folder: Path) -> Cache:
    cache = Cache(folder)
    cache.remember_digest("finds/a.jpg", OLD, "d1", NOW_NS)
    cache.remember("photo", "d1", "v1", Photo(path="finds/a.jpg", digest="d1"), Photo)
    cache.keep_outputs(folder.parent, {"index.html": Output("in", "sha", 3, (3, 4, 5))})
    assert cache.save()
    return cache


def knows(cache: Cache) -> list[object]:
    return [
        cache.digest_of("finds/a.jpg", OLD),
        cache.recall("photo", "d1", "v1", Photo),
        dict(cache.outputs_of(cache.folder.parent)),
    ]


KNOWN = ["d1", Photo(path="finds/a.jpg", digest="d1"), {"index.html": Output("in", "sha", 3, (3, 4, 5))}]
NOTHING = [None, None, {}]


def test_what_was_saved_is_known_to_the_next_run(folder: Path) -> None:
    filled(folder)
    assert knows(Cache(folder)) == KNOWN


def test_nothing_is_written_before_it_is_saved(folder: Path) -> None:
    Cache(folder).remember("photo", "d1", "v1", 1, int)
    assert not folder.exists()


def test_the_folder_is_tagged_so_that_backups_pass_it_over(folder: Path) -> None:
    """Source: Cache Directory Tagging Specification, bford.info/cachedir: the file's first 43 bytes."""
    filled(folder)
    assert (folder / TAG_NAME).read_bytes()[:43] == b"Signature: 8a477f597d28d172789f06886806bc55"


@pytest.mark.parametrize("changed", [0, 1, 2, 3])
def test_a_file_that_looks_otherwise_is_not_known(folder: Path, changed: int) -> None:
    cache = filled(folder)
    signature = tuple(value + (n == changed) for n, value in enumerate(OLD))
    assert cache.digest_of("finds/a.jpg", signature) is None


@pytest.mark.parametrize(
    ("scanned_ns", "stamp_ns", "trusted"),
    [
        (NOW_NS, NOW_NS, False),
        (NOW_NS, NOW_NS - 50_000_000, False),
        (NOW_NS, NOW_NS - 150_000_001, True),
        (NOW_NS, NOW_NS + 3_600_000_000_000, False),  # the disk's clock is ahead
        # Whole seconds: FAT keeps the time of the last write to two seconds (from memory).
        (1_764_000_001_500_000_000, 1_764_000_000_000_000_000, False),
        (1_764_000_002_500_000_000, 1_764_000_000_000_000_000, True),
    ],
)
def test_a_file_written_just_before_it_was_looked_at_is_not_trusted(
    scanned_ns: int, stamp_ns: int, trusted: bool
) -> None:
    assert settled(scanned_ns, stamp_ns, stamp_ns) is trusted


def test_a_file_too_young_is_not_kept(folder: Path) -> None:
    cache = Cache(folder)
    young = (10, NOW_NS, NOW_NS, 7)
    cache.remember_digest("finds/a.jpg", young, "d1", NOW_NS)
    assert cache.digest_of("finds/a.jpg", young) is None


def test_a_size_never_seen_is_not_a_known_file(folder: Path) -> None:
    cache = filled(folder)
    assert cache.may_know(10)
    assert not cache.may_know(11)


def test_what_other_code_found_out_is_not_used(folder: Path) -> None:
    assert filled(folder).recall("photo", "d1", "v2", Photo) is None


def test_dates_and_zones_come_back_as_they_were(folder: Path) -> None:
    moment = datetime(2026, 10, 25, 1, 30, tzinfo=ZoneInfo("Europe/London"), fold=1)
    value = (When("x", date(2026, 10, 25), "minute", moment), datetime(2026, 1, 1, tzinfo=UTC), {"a": (1, 2.5, None)})
    hint = tuple[When, datetime, dict[str, tuple[int, float, None]]]
    cache = Cache(folder)
    cache.remember("any", "k", "v", value, hint)
    cache.save()
    back = Cache(folder).recall("any", "k", "v", hint)
    assert value == back
    assert (back[0].moment.fold, back[0].moment.tzinfo.key) == (1, "Europe/London")


@pytest.mark.parametrize(
    "value",
    [
        pickle.dumps(Photo(path="finds/a.jpg", digest="d1"), protocol=5),
        b"cposix\nsystem\n(S'false'\ntR.",
        b"",
        12,
        10**15,
        "text",
        None,
    ],
    ids=repr,
)
def test_a_stored_value_of_another_make_is_not_known(folder: Path, value: object) -> None:
    filled(folder)
    with sqlite3.connect(folder / DATABASE_NAME) as db:
        db.execute("UPDATE fact SET value = ?", (value,))
        db.execute("UPDATE site SET outputs = ?", (value,))
    db.close()
    assert [*KNOWN[:1], None, {}] == knows(Cache(folder))


def test_a_value_under_another_key_or_of_other_code_is_not_known(folder: Path) -> None:
    filled(folder)
    for change in ("key = 'd2'", "made_by = 'v2'"):
        with sqlite3.connect(folder / DATABASE_NAME) as db:
            db.execute(f"UPDATE fact SET {change}")
        db.close()
        cache = Cache(folder)
        assert [None, None] == [cache.recall("photo", key, "v2", Photo) for key in ("d1", "d2")]


@pytest.mark.parametrize(
    ("column", "value"),
    [("path", b"x"), ("size", None), ("size", 1.5), ("mtime_ns", "x"), ("digest", None), ("digest", b"x")],
)
def test_a_row_with_a_cell_of_another_type_is_not_known(folder: Path, column: str, value: object) -> None:
    filled(folder)
    with sqlite3.connect(folder / DATABASE_NAME) as db:
        db.execute(f"UPDATE seen SET {column} = ?", (value,))
    db.close()
    cache = Cache(folder)
    assert cache.digest_of("finds/a.jpg", OLD) is None
    assert not cache.may_know(10)


def test_a_value_of_another_type_is_not_kept(folder: Path) -> None:
    cache = Cache(folder)
    cache.remember("photo", "d1", "v1", 1, Photo)
    assert cache.recall("photo", "d1", "v1", Photo) is None


def _garbage(database: Path) -> None:
    database.write_bytes(b"no database at all" * 1000)


def _cut_short(database: Path) -> None:
    database.write_bytes(database.read_bytes()[:5000])


def _emptied(database: Path) -> None:
    database.write_bytes(b"")


def _of_another_version(database: Path) -> None:
    with sqlite3.connect(database) as db:
        db.execute("PRAGMA user_version = 999")
    db.close()


def _of_another_program(database: Path) -> None:
    database.unlink()
    with sqlite3.connect(database) as db:
        db.execute("CREATE TABLE seen (x)")
    db.close()


def _with_a_value_of_another_type(database: Path) -> None:
    with sqlite3.connect(database) as db:
        db.execute("UPDATE fact SET value = 12")
    db.close()


@pytest.mark.parametrize(
    "harm",
    [_garbage, _cut_short, _emptied, _of_another_version, _of_another_program, _with_a_value_of_another_type],
    ids=lambda harm: harm.__name__.strip("_"),
)
def test_a_database_that_cannot_be_used_is_made_anew(folder: Path, harm) -> None:
    filled(folder)
    for tail in ("-wal", "-shm"):
        (folder / (DATABASE_NAME + tail)).unlink(missing_ok=True)
    harm(folder / DATABASE_NAME)
    cache = Cache(folder)
    assert knows(cache)[1] is None
    filled(folder)
    assert knows(Cache(folder)) == KNOWN


def test_a_cache_deleted_during_a_run_is_whole_again_after_it(folder: Path) -> None:
    cache = filled(folder)
    for path in folder.iterdir():
        path.unlink()
    folder.rmdir()
    cache.remember("photo", "d2", "v1", 2, int)
    assert cache.save()
    assert knows(Cache(folder)) == KNOWN


def test_a_locked_database_costs_time_and_nothing_else(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("journal.cache.store.WAIT_FOR_LOCK_S", 0.01)
    filled(folder)
    other = sqlite3.connect(folder / DATABASE_NAME, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    cache = Cache(folder)
    cache.remember("photo", "d2", "v1", 2, int)
    assert not cache.save()
    other.execute("ROLLBACK")
    other.close()
    assert cache.save()
    assert Cache(folder).recall("photo", "d2", "v1", int) == 2
    assert knows(Cache(folder)) == KNOWN


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written_is_reported(folder: Path) -> None:
    folder.mkdir()
    folder.chmod(stat.S_IRUSR | stat.S_IXUSR)
    assert not Cache(folder).save()


def test_a_file_in_the_folders_place_is_reported(folder: Path) -> None:
    folder.write_text("", encoding="utf-8")
    cache = Cache(folder)
    cache.remember("photo", "d1", "v1", 1, int)
    assert not cache.save()


def test_what_the_journal_no_longer_has_is_forgotten(folder: Path) -> None:
    cache = filled(folder)
    cache.remember_digest("finds/b.jpg", OLD, "d2", NOW_NS)
    cache.remember("photo", "d2", "v1", 2, int)
    cache.keep_outputs(folder.parent / "gone", {"index.html": Output("in", "sha", 3)})
    cache.save()
    cache.prune(["finds/a.jpg"], [("photo", "d1")])
    cache.save()
    later = Cache(folder)
    assert knows(later) == KNOWN
    assert later.digest_of("finds/b.jpg", OLD) is None
    assert later.recall("photo", "d2", "v1", int) is None
    assert later.outputs_of(folder.parent / "gone") == {}


def test_two_runs_do_not_lose_each_others_facts(folder: Path) -> None:
    filled(folder)
    one, other = Cache(folder), Cache(folder)
    one.remember("photo", "d2", "v1", 2, int)
    other.remember("photo", "d3", "v1", 3, int)
    assert one.save()
    assert other.save()
    assert [2, 3] == [Cache(folder).recall("photo", key, "v1", int) for key in ("d2", "d3")]


def test_a_files_digest_is_its_sha_256(tmp_path: Path) -> None:
    """Source: FIPS 180-4 example, the message "abc"."""
    (tmp_path / "abc").write_bytes(b"abc")
    expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert expected == sha256_of(tmp_path / "abc")


def test_a_cache_that_is_kept_unpacks_a_value_once(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    filled(folder)
    cache = Cache(folder)
    first = cache.recall("photo", "d1", "v1", Photo)
    monkeypatch.setattr(store, "unpacked", lambda *asked: pytest.fail("unpacked again"))
    assert first is cache.recall("photo", "d1", "v1", Photo)
    assert cache.recall("photo", "d1", "v2", Photo) is None
    monkeypatch.undo()
    other = Photo(path="finds/b.jpg", digest="d1")
    cache.remember("photo", "d1", "v1", other, Photo)
    assert other == cache.recall("photo", "d1", "v1", Photo)
    cache.prune([], [])
    assert cache.recall("photo", "d1", "v1", Photo) is None


def test_a_command_reads_its_cache_once(tmp_path: Path) -> None:
    (tmp_path / "journal").mkdir()
    with open_workspace(tmp_path / "journal", cache=tmp_path / "cache") as workspace:
        assert workspace.memory().cache is workspace.memory().cache
