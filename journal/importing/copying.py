"""Carries out a plan: copies photos and writes notes, so that a run can be stopped before or after any step."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from journal.ctrl_c import ctrl_c_later
from journal.importing.destinations import numbered
from journal.importing.filing import Filed, FilingPlan, PlannedNote
from journal.problems import Refusal

# A file that is being written is hidden: `.NAME.attach-part`. Once it is whole and on the disk it is still hidden:
# `.NAME.attach-ready`. It gets its own name in one step, which takes no name that is taken.
PART, READY = ".attach-part", ".attach-ready"

BeforeStep = Callable[[str, Path], object]
"""Called before every change, with what it is and where; a test may end the run there."""

_CHUNK_BYTES = 1 << 20


class UnreadableSource(Exception):
    """A photo that cannot be copied, through no fault of the journal's disk; its text says why."""


def hidden(final: Path, ending: str) -> Path:
    """The name a file has before it has its own. ending: `PART` or `READY`."""
    return final.with_name(f".{final.name}{ending}")


class Disk:
    """Changes files of a journal. Every method may raise OSError."""

    def __init__(self, before: BeforeStep = lambda what, path: None) -> None:
        self._before = before

    def make_folder(self, folder: Path) -> list[Path]:
        """Makes a folder with those above it; gives the ones that are new, the innermost first."""
        new = [path for path in (folder, *folder.parents) if not path.exists()]
        if new:
            self._before("make folder", folder)
            folder.mkdir(parents=True, exist_ok=True)
            self.sync_folder(new[-1].parent)
        return new

    def copy(self, source: Path, digest: str, final: Path) -> None:
        """Makes the hidden copy of a photo, whole, on the disk, and read again; one that is there already will do.

        digest: SHA-256 of the photo, hex. Raises UnreadableSource where it cannot be read or has changed since.
        """
        ready, part = hidden(final, READY), hidden(final, PART)
        if ready.is_file() and _digest_on_disk(ready) == digest:
            return
        self._before("copy", part)
        with contextlib.ExitStack() as stack:
            with _source_errors():
                opened = stack.enter_context(source.open("rb"))
                facts = os.stat(opened.fileno())
            copy = stack.enter_context(part.open("wb"))
            if self._copied(opened, copy) != digest:
                raise UnreadableSource("changed while it was copied; run this again")
            _to_disk(copy)
        os.utime(part, ns=(facts.st_atime_ns, facts.st_mtime_ns))
        self._before("verify", part)
        if _digest_on_disk(part) != digest:
            raise OSError(errno.EIO, "the copy differs from the original", str(part))
        self._before("make ready", ready)
        part.replace(ready)

    def _copied(self, source: BinaryIO, copy: BinaryIO) -> str:
        """Copies to the end; gives the digest of what was read."""
        whole = hashlib.sha256()
        while True:
            with _source_errors():
                chunk = source.read(_CHUNK_BYTES)
            if not chunk:
                return whole.hexdigest()
            self._before("write", Path(copy.name))
            whole.update(chunk)
            copy.write(chunk)

    def write(self, text: str, final: Path) -> Path:
        """Writes a text file, still hidden, whole, and on the disk; gives its hidden name."""
        ready, part = hidden(final, READY), hidden(final, PART)
        self._before("write", part)
        with part.open("wb") as file:
            file.write(text.encode())
            _to_disk(file)
        self._before("make ready", ready)
        part.replace(ready)
        self.sync_folder(final.parent)
        return ready

    def put_first_free(self, ready: Path, final: Path) -> Path:
        """Gives a hidden file its name, or the first like it that is free, and gives the name taken."""
        for name in numbered(final.name):
            with contextlib.suppress(FileExistsError):
                self.put_new(ready, final.with_name(name))
                self.sync_folder(final.parent)
                return final.with_name(name)
        raise AssertionError("unreachable: the names never end")

    def put_new(self, ready: Path, final: Path) -> None:
        """Gives a hidden file its name; raises FileExistsError where that is taken."""
        self._before("put in place", final)
        if os.name == "nt":
            ready.rename(final)
            return
        try:
            os.link(ready, final, follow_symlinks=False)
        except FileExistsError:
            raise
        except OSError:  # a file system on which no file has two names, such as a memory card's
            with final.open("xb"):
                pass
            self._before("fill name", final)
            try:
                ready.replace(final)
            except OSError:
                final.unlink()
                raise
            return
        with contextlib.suppress(OSError):  # it has its name; the second one is cleared away by the next run
            self._before("drop hidden name", ready)
            ready.unlink()

    def reveal(self, ready: Path, final: Path) -> bool:
        """The same for a hidden file that may have its name already, by a run that was stopped in between.

        False where another file has that name; then all stays as it is.
        """
        try:
            self.put_new(ready, final)
        except FileExistsError:
            if final.stat().st_size == 0 < ready.stat().st_size:  # taken, and the run stopped before it was filled
                self._before("fill name", final)
                ready.replace(final)
            elif _digest_on_disk(final) == _digest_on_disk(ready):
                self.remove(ready)
            else:
                return False
        return True

    def remove(self, path: Path) -> None:
        """Removes a hidden file, if it is there."""
        self._before("remove", path)
        path.unlink(missing_ok=True)

    def sync_folder(self, folder: Path) -> None:
        """Has the names in a folder on the disk, where the system can."""
        with contextlib.suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)


@contextlib.contextmanager
def _source_errors() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        reason = (error.strerror or "unknown error").lower()
        why = f"cannot be read ({reason}); give yourself permission to read it, and run this again"
        raise UnreadableSource(why) from error


def _to_disk(file: BinaryIO) -> None:
    file.flush()
    os.fsync(file.fileno())


def _digest_on_disk(path: Path) -> str:
    """SHA-256 of a file's bytes, from the disk and not from memory, where the system lets one ask for that."""
    with path.open("rb") as file:
        if hasattr(os, "posix_fadvise"):
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        return hashlib.file_digest(file, "sha256").hexdigest()


@dataclass(frozen=True, slots=True)
class Written:
    """What became of one planned note. path: the note's; None where no photo for it could be had.

    copied: how many photos. left_out: (photo as typed, why).
    """

    path: str | None
    copied: int = 0
    left_out: tuple[tuple[str, str], ...] = ()


def carry_out(
    plan: FilingPlan, root: Path, copied: Callable[[], object], disk: Disk | None = None
) -> Iterator[Written]:
    """Writes the notes, each with its photos, and gives each as soon as it is whole.

    copied: called after every photo. A photo that cannot be read any more is left out. Raises Refusal where the
    journal's disk refuses: then what was given before stays, and of the note at work either nothing is there, or all
    of it once the same is run again.
    """
    for note in plan.notes:
        try:
            yield _Writing(plan, note, root, disk or Disk()).done(copied)
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            raise Refusal(
                f"{note.path} and its photos cannot be written ({reason}); notes printed above are complete, and your "
                "original photos are unchanged. Make room, give yourself permission to write there, and run this again"
            ) from error


class _Writing:
    def __init__(self, plan: FilingPlan, note: PlannedNote, root: Path, disk: Disk) -> None:
        self._plan = plan
        self._note = note
        self._root = root
        self._disk = disk
        self._file = root / note.path
        self._new_folders: list[Path] = []

    def done(self, copied: Callable[[], object]) -> Written:
        try:
            self._new_folders = self._disk.make_folder(self._file.parent)
            had, left_out = self._copies(copied)
            if not had:
                self._clear()
                return Written(None, left_out=left_out)
            text = self._plan.text_of(self._note, [photo.name for photo in had])
            ready = self._disk.write(text, self._file)
        except (Exception, KeyboardInterrupt):
            self._clear()
            raise
        with ctrl_c_later():
            path = self._put_in_place(ready, had)
        count = sum(photo.fate == "copied" for photo in had)
        return Written(path.relative_to(self._root).as_posix(), count, left_out)

    def _copies(self, copied: Callable[[], object]) -> tuple[list[Filed], tuple[tuple[str, str], ...]]:
        """The photos that are there, hidden or listed; and those that could not be had, with why."""
        had, left_out = [], []
        for photo in self._note.photos:
            if photo.fate == "copied":
                content = photo.content
                try:
                    self._disk.copy(content.source.file, content.digest, self._root / photo.path)
                except UnreadableSource as lost:
                    self._disk.remove(hidden(self._root / photo.path, PART))
                    left_out.append((content.source.shown, str(lost)))
                    continue
                finally:
                    copied()
            had.append(photo)
        return had, tuple(left_out)

    def _put_in_place(self, ready: Path, had: list[Filed]) -> Path:
        """The note first: from then on it is known whose the hidden photos are."""
        try:
            path = self._disk.put_first_free(ready, self._file)
        except OSError:
            self._clear()
            raise
        for photo in had:
            final = self._root / photo.path
            if photo.fate == "copied" and not self._disk.reveal(hidden(final, READY), final):
                raise FileExistsError(0, f"another file was given the name {final.name} meanwhile", str(final))
        self._disk.sync_folder(self._file.parent)
        return path

    def _clear(self) -> None:
        """Removes what is hidden of this note, and folders made for it, as far as that can be done."""
        finals = [self._file, *(self._root / photo.path for photo in self._note.to_copy)]
        with contextlib.suppress(OSError):
            for final in finals:
                for ending in (PART, READY):
                    self._disk.remove(hidden(final, ending))
            for folder in self._new_folders:
                folder.rmdir()
