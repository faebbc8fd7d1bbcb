"""A plan carried out: photos copied, notes put in place, one note after the other."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from journal.gathering.disk import PART, READY, Disk, SourceLost, hidden, uninterrupted
from journal.gathering.filing import Filed, Plan, PlannedNote
from journal.refusal import Refusal


@dataclass(frozen=True, slots=True)
class Written:
    """What became of one planned note. path: the note's; None where no photo for it could be had.

    copied: how many photos. left_out: (photo as typed, why).
    """

    path: str | None
    copied: int = 0
    left_out: tuple[tuple[str, str], ...] = ()


def take_in(plan: Plan, root: Path, copied: Callable[[], object], disk: Disk | None = None) -> Iterator[Written]:
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
                f"{note.path} and its photos cannot be written ({reason}); what was named before stays, and your "
                "photos are where they were. See to it that there is room and that you may write there, "
                "then run the same again"
            ) from error


class _Writing:
    """One note on its way into the journal."""

    def __init__(self, plan: Plan, note: PlannedNote, root: Path, disk: Disk) -> None:
        self._plan = plan
        self._note = note
        self._root = root
        self._disk = disk
        self._file = root / note.path
        self._new_folders: list[Path] = []

    def done(self, copied: Callable[[], object]) -> Written:
        """Brings it in, or leaves nothing behind."""
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
        with uninterrupted():
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
                except SourceLost as lost:
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
                raise FileExistsError(0, f"another file took the name {final.name} meanwhile", str(final))
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
