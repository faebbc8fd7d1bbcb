from __future__ import annotations

import errno
import hashlib
import os
import signal
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from journal.importing.copying import Disk
from tests.fault_points import fork
from tests.importing.shore import FILES, Shore


class Killed(BaseException):
    """What nothing catches: the run is over at that moment."""


class Steps:
    """Counts changes, and ends the run before one of them: by the error, or by killing its process."""

    def __init__(self, stop_at: int = -1, error: BaseException | None = None, kills: bool = False) -> None:
        self.seen: list[str] = []
        self.stop_at = stop_at
        self.error = error or Killed()
        self.kills = kills

    def __call__(self, what: str, path: Path) -> None:
        self.seen.append(what)
        if len(self.seen) - 1 == self.stop_at:
            if self.kills:
                os.kill(os.getpid(), signal.SIGKILL)
            raise self.error


@pytest.fixture
def run_with(shore: Shore, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Steps]:
    """Attaches the camera's photos to B-031, each change told to some steps first."""

    def attach(steps: Steps) -> Steps:
        monkeypatch.setattr("journal.importing.copying.Disk", partial(Disk, steps))
        monkeypatch.setattr("journal.commands.attach.Disk", partial(Disk, steps))
        shore.attach("B-031", shore.camera, "--by-day", "--stage", "pinning")
        return steps

    return attach


def kill_before(stop_at: int, run_with: Callable[..., Steps]) -> None:
    """Attaches in a process of its own, which is killed before that change; where none can be forked, in this one."""
    if not hasattr(os, "fork"):
        with pytest.raises(Killed):
            run_with(Steps(stop_at))
        return
    child = fork()
    if not child:
        try:
            run_with(Steps(stop_at, kills=True))
        finally:
            os._exit(0)
    assert -signal.SIGKILL == os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def fill(shore: Shore) -> None:
    shore.photo("a.jpg", "2026:10:27 07:31:00", 1)
    shore.photo("b.jpg", "2026:10:27 07:40:00", 2)
    shore.photo("c.jpg", "2026:10:28 07:31:00", 3)


def contents(files: dict[str, bytes]) -> Counter[str]:
    return Counter(hashlib.sha256(data).hexdigest() for path, data in files.items() if path.endswith(".jpg"))


def camera_of(shore: Shore) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in shore.camera.iterdir()}


def assert_whole(shore: Shore, camera: dict[str, bytes]) -> None:
    """Every photo once, in one note of its day, nothing hidden, nothing to fix, the originals as they were."""
    assert camera == camera_of(shore)
    assert contents(camera) == contents(shore.visible())
    assert [] == shore.hidden()
    journal = shore.journal()
    assert () == journal.problems
    told = {(note.date.first.isoformat(), note.stage): [use.path for use in note.photos] for note in journal.notes}
    expected = {
        ("2026-10-27", "pinning"): ["batches/B-031/a.jpg", "batches/B-031/b.jpg"],
        ("2026-10-28", "pinning"): ["batches/B-031/c.jpg"],
    }
    assert (expected, 2) == (told, len(journal.notes))


def assert_no_harm(shore: Shore, camera: dict[str, bytes], has_links: bool = True) -> None:
    """What was there is there as it was, and whatever is to be seen is whole.

    Where no file has two names, a name is taken first and filled in the next step.
    """
    visible = {path: data for path, data in shore.visible().items() if data or has_links}
    assert {path: text.encode() for path, text in FILES.items()} == {path: visible[path] for path in FILES}
    assert set() == set(contents(visible)) - set(contents(camera))
    for path in set(visible) - set(FILES):
        assert path.endswith(".jpg") or visible[path].endswith(b"\n---\n"), path


@pytest.mark.parametrize("has_links", [True, False], ids=["links", "no links"])
def test_killed_before_any_change_and_run_again_nothing_is_lost_and_nothing_double(
    shore: Shore, run_with: Callable[..., Steps], monkeypatch: pytest.MonkeyPatch, has_links: bool
) -> None:
    """On a file system where a file has two names, and on one where it has not, such as a memory card's."""
    if not has_links:
        monkeypatch.setattr("os.link", _no_links)
    fill(shore)
    camera = camera_of(shore)
    changes = len(run_with(Steps()).seen)
    assert_whole(shore, camera)
    assert changes > 20
    for stop_at in range(changes):
        _begin_again(shore)
        kill_before(stop_at, run_with)
        assert_no_harm(shore, camera, has_links)
        run_with(Steps())
        assert_whole(shore, camera)


def _no_links(*_: object, **__: object) -> None:
    raise PermissionError(errno.EPERM, "Operation not permitted")


def test_killed_again_while_it_finishes(shore: Shore, run_with: Callable[..., Steps]) -> None:
    fill(shore)
    camera = camera_of(shore)
    first = run_with(Steps()).seen.index("put in place") + 1
    for second in range(4):
        _begin_again(shore)
        for stop_at in (first, second):
            kill_before(stop_at, run_with)
            assert_no_harm(shore, camera)
        run_with(Steps())
        assert_whole(shore, camera)


def _begin_again(shore: Shore) -> None:
    for path in (shore.root / "batches/B-031").iterdir():
        if path.name != "batch.md":
            path.unlink()


@pytest.mark.parametrize("error", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()])
def test_stopped_by_a_full_disk_or_by_ctrl_c_it_leaves_nothing_half_done(
    shore: Shore, run_with: Callable[..., Steps], error: BaseException
) -> None:
    fill(shore)
    camera = camera_of(shore)
    changes = run_with(Steps()).seen
    for stop_at in range(len(changes)):
        _begin_again(shore)
        run_with(Steps(stop_at, error))
        assert_no_harm(shore, camera)
        if changes[stop_at] not in ("put in place", "drop hidden name"):
            assert [] == shore.hidden()
        run_with(Steps())
        assert_whole(shore, camera)


def test_a_disk_that_refuses_is_one_sentence_that_says_what_stands(
    shore: Shore, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(shore)

    def refuse(what: str, path: Path) -> None:
        if ".c.jpg" in path.name:
            raise PermissionError(errno.EACCES, "Permission denied", str(path))

    monkeypatch.setattr("journal.importing.copying.Disk", partial(Disk, refuse))
    refused = shore.attach("B-031", shore.camera, "--by-day")
    assert (2, ["batches/B-031/2026-10-27.md"], 1) == (refused.status, refused.paths, len(refused.err.splitlines()))
    assert "batches/B-031/2026-10-28.md and its photos cannot be written (permission denied)" in refused.err
    assert "Nothing was changed" not in refused.err


@pytest.mark.parametrize("error", [RuntimeError("of our own making"), MemoryError()])
def test_any_failure_after_the_first_note_says_that_it_stands(
    shore: Shore, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    fill(shore)

    def fail(what: str, path: Path) -> None:
        if ".c.jpg" in path.name:
            raise error

    monkeypatch.setattr("journal.importing.copying.Disk", partial(Disk, fail))
    failed = shore.attach("B-031", shore.camera, "--by-day")
    said = [line for line in failed.err.splitlines() if "━" not in line]
    assert (2, ["batches/B-031/2026-10-27.md"], 1) == (failed.status, failed.paths, len(said))
    assert "One note and its photos are in the journal. Run the same command again for the others." in failed.err
    assert "Nothing was changed" not in failed.err


def test_the_copy_of_a_stopped_run_is_used_and_not_made_again(shore: Shore, run_with: Callable[..., Steps]) -> None:
    fill(shore)
    whole = run_with(Steps()).seen
    _begin_again(shore)
    with pytest.raises(Killed):
        run_with(Steps(whole.index("put in place")))
    assert whole.count("copy") - 2 == run_with(Steps()).seen.count("copy")


def test_what_a_stopped_run_copied_for_another_id_is_cleared_away_once_it_is_in(
    shore: Shore, run_with: Callable[..., Steps]
) -> None:
    fill(shore)
    with pytest.raises(Killed):
        run_with(Steps(7))
    assert [".a.jpg.attach-ready"] == [name for name in shore.hidden() if name.endswith("ready")]
    shore.attach("PP-26A", shore.camera, "--by-day")
    shore.attach("PP-26A", shore.camera, "--by-day")
    assert [] == shore.hidden()
    assert contents(camera_of(shore)) == contents(shore.visible())


def test_a_copy_whose_photo_does_not_come_again_is_named_and_kept(shore: Shore, run_with: Callable[..., Steps]) -> None:
    fill(shore)
    with pytest.raises(Killed):
        run_with(Steps(7))
    kept = [name for name in shore.hidden() if name.endswith("ready")]
    assert kept == [".a.jpg.attach-ready"]
    for path in shore.camera.iterdir():
        path.unlink()
    shore.photo("d.jpg", "2026:11:01 07:31:00", 4)
    ended = shore.attach("B-031", shore.camera)
    assert ".a.jpg.attach-ready is a copy left by a stopped run" in ended.err
    assert kept == shore.hidden()


def test_a_photo_that_can_no_longer_be_read_is_left_out_and_the_others_come_in(
    shore: Shore, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(shore)

    def unplugged(what: str, path: Path) -> None:
        if what == "copy" and ".a.jpg" in path.name:
            (shore.camera / "a.jpg").unlink()
        if what == "copy" and ".c.jpg" in path.name:
            (shore.camera / "c.jpg").write_bytes(b"changed meanwhile")

    monkeypatch.setattr("journal.importing.copying.Disk", partial(Disk, unplugged))
    ended = shore.attach("B-031", shore.camera, "--by-day")
    assert (1, ["batches/B-031/2026-10-27.md"]) == (ended.status, ended.paths)
    assert "photos:\n  - b.jpg\n---\n" in shore.text("batches/B-031/2026-10-27.md")
    assert "a.jpg cannot be read (no such file or directory)" in ended.err
    assert "c.jpg changed while it was copied" in ended.err
    assert [] == shore.hidden()


def test_what_the_disk_gives_back_is_compared_with_what_was_read(shore: Shore, monkeypatch: pytest.MonkeyPatch) -> None:
    fill(shore)

    def rotten(what: str, path: Path) -> None:
        if what == "verify":
            path.write_bytes(b"not what was written")

    monkeypatch.setattr("journal.importing.copying.Disk", partial(Disk, rotten))
    before = shore.visible()
    refused = shore.attach("B-031", shore.camera, "--by-day")
    assert (2, before, []) == (refused.status, shore.visible(), shore.hidden())
    assert "the copy differs from the original" in refused.err


def test_a_name_taken_at_the_last_moment_is_not_overwritten(shore: Shore, monkeypatch: pytest.MonkeyPatch) -> None:
    fill(shore)

    def other(what: str, path: Path) -> None:
        if what == "put in place" and not path.exists() and path.name in ("2026-10-27.md", "a.jpg"):
            path.write_text("another's")

    monkeypatch.setattr("journal.importing.copying.Disk", partial(Disk, other))
    refused = shore.attach("B-031", shore.camera, "--by-day")
    assert 2 == refused.status
    assert "another file was given the name a.jpg" in refused.err
    assert ("another's", "another's") == (shore.text("batches/B-031/2026-10-27.md"), shore.text("batches/B-031/a.jpg"))
    assert "  - a.jpg\n" in shore.text("batches/B-031/2026-10-27-2.md")


def test_a_copy_keeps_the_time_of_its_file(shore: Shore) -> None:
    photo = shore.photo("a.jpg")
    os.utime(photo, ns=(1_790_000_000_000_000_000, 1_790_000_001_000_000_000))
    shore.attach("B-031", photo)
    assert 1_790_000_001_000_000_000 == (shore.root / "batches/B-031/a.jpg").stat().st_mtime_ns


def test_photos_that_are_in_the_journal_become_notes_of_their_days_however_often_it_is_killed(
    shore: Shore, monkeypatch: pytest.MonkeyPatch, photo_bytes: Callable[..., bytes]
) -> None:
    """Between its notes one stands alone in the folder, and would have the photos of the other day as well."""
    lying = {f"inbox/{day}.jpg": photo_bytes(f"2026:10:{day} 07:31:00", day) for day in (27, 28)}
    shore.write(lying)
    changes = 8
    for stop_at in range(changes):
        for path in (shore.root / "inbox").glob("*.md"):
            path.unlink()
        monkeypatch.setattr("journal.importing.copying.Disk", partial(Disk, Steps(stop_at)))
        with pytest.raises(Killed):
            shore.attach("B-031", "inbox", "--by-day", "--into", "inbox")
        monkeypatch.setattr("journal.importing.copying.Disk", Disk)
        shore.attach("B-031", "inbox", "--by-day", "--into", "inbox")
        journal = shore.journal()
        told = {note.date.first.day: [use.path for use in note.photos] for note in journal.notes}
        assert ({27: ["inbox/27.jpg"], 28: ["inbox/28.jpg"]}, (), []) == (told, journal.problems, shore.hidden())
        assert lying.keys() == {path for path in shore.visible() if path.endswith(".jpg")}
