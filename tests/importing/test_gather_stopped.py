"""Gathering that is stopped at any step: nothing is lost, and nothing doubled."""

from __future__ import annotations

import contextlib
import errno
import json
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from journal.importing.archive import read_archives
from journal.importing.gather_writing import GatherDisk, codes_of
from tests.importing.archives import ALL, FIND, PINS, Saved, archive, archive_in_parts, photo, write
from tests.importing.gathering import FILES, HOME, Refused, came_in, gather, put, receipts
from tests.importing.shore import Shore

pytestmark = pytest.mark.usefixtures("synced")


class Killed(BaseException):
    """The process ends here: nothing that it would still have done is done."""


class Stopping:
    """Ends a run before its step of this number, as a kill or as a full disk; counts the steps."""

    def __init__(self, at: int = -1, error: BaseException | None = None) -> None:
        self.at, self.error, self.steps = at, error or Killed(), list[str]()

    def __call__(self, what: str, path: Path) -> None:
        if len(self.steps) == self.at:
            self.steps.append(what)
            raise self.error
        self.steps.append(what)


LATER = (
    FIND.later(text="Alder.\n", photos={**FIND.photos, "photo-03.jpg": photo(9)}),
    PINS.later(text="More pins.\n"),
    Saved("note", text="Bought bran.\n", seed="bran"),
    Saved("find", "F26-001", text="Another.\n", seed="conflict"),
    Saved("note", about=["F26-001"], text="About F26-001.\n", seed="about conflict"),
)
"""One of each fate: in the place of the earlier, beside it, new, with another ID, and about that."""


def with_earlier(shore: Shore) -> None:
    """The journal before `LATER`: some of it is there in an earlier revision, one of them changed here."""
    put(shore, *ALL, name="earlier")
    shore.write({"notes/2026-11-25-note-B-031/note.md": PINS.entry + b"Mine.\n"})


def gather_until(stopping: Stopping, root: Path, path: Path) -> None:
    """Gathers, until the run ends at its step."""
    with contextlib.suppress(Killed, OSError):
        gather(root, path, disk=GatherDisk(stopping))
        # A file has its name then, and its hidden one goes with the hidden folder.
        assert len(stopping.steps) <= stopping.at or "drop hidden name" == stopping.steps[stopping.at]


def restored(shore: Shore, files: dict[str, bytes]) -> None:
    """The journal as it was, with nothing left of any run."""
    for path in sorted(shore.root.rglob("*"), reverse=True):
        name = path.relative_to(shore.root).as_posix()
        if path.is_dir():
            with contextlib.suppress(OSError):
                path.rmdir()
        elif path.read_bytes() != files.get(name):
            path.unlink()
    shore.write({name: data for name, data in files.items() if not (shore.root / name).exists()})


def meaning(shore: Shore) -> tuple[dict[str, bytes], set[str], int]:
    """Every file of the journal; what receipts have, each once; how often they have something twice."""
    files = {path: data for path, data in shore.visible().items() if not path.startswith("receipts/")}
    rows = [
        json.dumps([row["record"], row["revision"], row["path"], sorted(file["written"] for file in row["files"])])
        for receipt in receipts(shore)
        for row in receipt["records"]  # type: ignore[attr-defined]
    ]
    return files, set(rows), len(rows) - len(set(rows))


class Case(NamedTuple):
    """An archive, the records in it, and the journal before it."""

    path: Path
    records: tuple[Saved, ...]
    before: dict[str, bytes]


@pytest.fixture(params=["first records", "later revisions"])
def case(request: pytest.FixtureRequest, shore: Shore) -> Case:
    records = ALL
    if request.param == "later revisions":
        with_earlier(shore)
        records = LATER
    return Case(write(shore.camera, archive(*records, name=request.param)), records, shore.visible())


@pytest.fixture(params=[True, False], ids=["links", "copies"])
def links(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file system where a file has two names, and one where it has not."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    if not request.param:
        monkeypatch.setattr("os.link", refuse)


@pytest.mark.parametrize("stop", [Killed, lambda: OSError(errno.ENOSPC, "No space left on device")])
@pytest.mark.usefixtures("links")
def test_stopped_at_any_step_nothing_is_lost_and_nothing_doubled(
    shore: Shore, case: Case, stop: Callable[[], BaseException]
) -> None:
    path, _, before = case
    counting = Stopping()
    gather(shore.root, path, disk=GatherDisk(counting))
    whole = meaning(shore)
    assert 0 == whole[2]
    print(f"{len(counting.steps)} fault points: {', '.join(dict.fromkeys(counting.steps))}")
    for at in range(len(counting.steps)):
        restored(shore, before)
        stopping = Stopping(at, stop())
        gather_until(stopping, shore.root, path)
        assert counting.steps[: at + 1] == stopping.steps[: at + 1]
        halfway = shore.visible()
        kept = {**whole[0], **before}
        assert [] == [name for name, data in before.items() if data not in halfway.values()], stopping.steps[-1]
        assert [] == [name for name in halfway if name not in kept and not name.startswith("receipts/")]
        gather(shore.root, path)
        assert whole == meaning(shore), f"stopped before step {at}, {stopping.steps[-1]}"
        assert [] == shore.hidden()


def test_a_second_stop_while_completing_the_first_loses_nothing(shore: Shore, case: Case) -> None:
    path, _, before = case
    counting = Stopping()
    gather(shore.root, path, disk=GatherDisk(counting))
    whole, count = meaning(shore), len(counting.steps)
    for at in range(0, count, 5):
        for again in range(0, count - at, 7):
            restored(shore, before)
            gather_until(Stopping(at), shore.root, path)
            gather_until(Stopping(again), shore.root, path)
            gather(shore.root, path)
            assert whole == meaning(shore), (at, again)


def test_what_a_stopped_run_put_in_place_is_known_to_another_archive_with_the_same_records(
    shore: Shore, case: Case
) -> None:
    """A later export has the records of the first again: nothing is doubled, and the first has its receipt."""
    path, records, before = case
    counting = Stopping()
    gather(shore.root, path, disk=GatherDisk(counting))
    whole = meaning(shore)
    other = write(shore.camera, archive(*records, Saved("note", text="New.\n", seed="new"), name="b"), "b.zip")
    for at in range(len(counting.steps)):
        restored(shore, before)
        gather_until(Stopping(at), shore.root, path)
        gather(shore.root, other)
        files, rows, doubled = meaning(shore)
        new = {name for name in files if files[name].endswith(b"New.\n")}
        assert (whole[0], 1, 0) == ({name: files[name] for name in files if name not in new}, len(new), doubled), at
        assert whole[1] < rows
        assert [] == shore.hidden()
        assert () == gather(shore.root, path).takings


def test_cut_off_at_any_thousandth_byte_and_then_given_whole_all_of_it_is_there_once(shore: Shore) -> None:
    whole, before = archive(*ALL), shore.visible()
    taken = set()
    for length in (*range(0, len(whole), 1000), len(whole) - 1):
        restored(shore, before)
        with contextlib.suppress(Refused):
            gather(shore.root, write(shore.camera, whole[:length]))
        taken.add(len(came_in(shore, before)))
        gather(shore.root, write(shore.camera, whole))
        files, _, _ = meaning(shore)
        assert {**before, **FILES} == files, length
        assert [] == shore.hidden()
    assert {0, len(FILES)} <= taken


def test_an_entry_that_is_saved_meanwhile_stays_as_it_was_saved(shore: Shore) -> None:
    put(shore, FIND)
    mine = FIND.entry + b"Mine.\n"

    def save(what: str, path: Path) -> None:
        if (what, path.name) == ("write", "find.md"):
            shore.write({f"{HOME}/find.md": mine})

    later = write(shore.camera, archive(FIND.later(text="Alder.\n"), name="later"))
    with pytest.raises(FileExistsError, match="run this again"):
        gather(shore.root, later, disk=GatherDisk(save))
    assert mine == shore.visible()[f"{HOME}/find.md"]
    gather(shore.root, later)
    assert mine == shore.visible()[f"{HOME}/find.md"]
    assert FIND.later(text="Alder.\n").entry == shore.visible()[f"{HOME}/find-revision-2.txt"]
    assert [] == shore.hidden()


def test_a_disk_that_is_full_keeps_no_half_of_a_record(shore: Shore) -> None:
    path = write(shore.camera, archive(*ALL))
    counting = Stopping()
    gather(shore.root, path, disk=GatherDisk(counting))
    at = counting.steps.index("put in place")
    (shore.root / ".gather-left").mkdir()
    restored(shore, {})
    shore.write({"journal.toml": "", "a.md": FIND.entry})
    with pytest.raises(OSError, match="No space"):
        gather(shore.root, path, disk=GatherDisk(Stopping(at, OSError(errno.ENOSPC, "No space left on device"))))
    (left,) = shore.root.glob(".gather-*")
    assert ["plan.json"] == [found.name for found in left.iterdir()]


@pytest.mark.parametrize("plan", ["", "{", "[]", '{"takings": [{}]}', '{"takings": [{"gathered": {"path": "../x"}}]}'])
def test_a_plan_that_is_not_whole_had_put_nothing_in_place(shore: Shore, plan: str) -> None:
    shore.write({".gather-0123456789abcdef/plan.json": plan, ".gather-0123456789abcdef/x/photo-01.jpg": "half"})
    put(shore, *ALL)
    assert [] == shore.hidden()


def test_codes_are_given_for_parts_that_are_in_the_journal_whole(shore: Shore) -> None:
    where = {f"{FIND.folder}/photo-02.jpg": [2]}
    first, second = archive_in_parts(where, 2, *ALL)
    paths = [write(shore.camera, first, "1.zip"), write(shore.camera, second, "2.zip")]
    for given, expected in ((paths[:1], ["1"]), (paths[1:], ["1", "2"])):
        (one,), _ = read_archives(given, lambda: "")
        assert expected == list(codes_of(one.manifest, gather(shore.root, *given)))
