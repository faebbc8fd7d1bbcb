"""Which picture files a keeper means: the files named, and all photos in the folders named."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from journal.reading.folder import SITE_MARK, kind_of_file
from journal.refusal import Refusal


@dataclass(frozen=True, slots=True)
class Source:
    """One picture file. shown: its path as the keeper would type it."""

    file: Path
    shown: str

    @property
    def name(self) -> str:
        return self.file.name


@dataclass(slots=True)
class Roll:
    """What was found.

    sources: in the order in which they were named, each file once. left_out: (path as typed, why) of what was named
    and cannot be taken. passed_over: how many files of which ending lay in the folders and are no photos.
    """

    sources: list[Source] = field(default_factory=list)
    left_out: list[tuple[str, str]] = field(default_factory=list)
    passed_over: Counter[str] = field(default_factory=Counter)


def find_photos(named: Iterable[Path]) -> Roll:
    """The photos that these paths name. Hidden files and folders in a folder named are passed over, as are built sites.

    A link to a file stands for that file; a link to a folder is followed where it was named, not where it was met.
    Raises Refusal where a path names nothing.
    """
    named = list(named)
    _refuse_missing(named)
    roll = Roll()
    for path in named:
        if path.is_dir():
            _search(path, roll)
        elif kind_of_file(path.name) != "photo":
            roll.left_out.append((str(path), "is no picture a journal reads: JPEG, HEIC, PNG, WebP, TIFF or AVIF"))
        else:
            _take(path, roll)
    roll.sources = list(_each_once(roll.sources))
    return roll


def _refuse_missing(named: Iterable[Path]) -> None:
    missing = [str(path) for path in named if not os.path.exists(path)]
    if missing:
        more = f" (nor {len(missing) - 1} more that were named)" if len(missing) > 1 else ""
        raise Refusal(f"there is no file or folder {missing[0]}{more}; nothing was taken in")


def _search(folder: Path, roll: Roll) -> None:
    for here, folders, files in os.walk(folder, onerror=lambda error: _tell_folder(error, roll)):
        if SITE_MARK in files:
            folders.clear()
            continue
        for name in [name for name in folders if (Path(here) / name).is_symlink() and not name.startswith(".")]:
            roll.left_out.append((str(Path(here) / name), "is a link to another folder; name that folder itself"))
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(name for name in files if not name.startswith(".")):
            if kind_of_file(name) == "photo":
                _take(Path(here) / name, roll)
            else:
                roll.passed_over[os.path.splitext(name)[1].lower() or "no ending"] += 1


def _tell_folder(error: OSError, roll: Roll) -> None:
    reason = (error.strerror or "unknown fault").lower()
    why = f"cannot be looked into ({reason}); see to it that it can, and run the same again"
    roll.left_out.append((os.fsdecode(error.filename or ""), why))


def _take(path: Path, roll: Roll) -> None:
    if path.is_symlink() and not path.exists():
        roll.left_out.append((str(path), "is a link that leads nowhere; name the photo itself"))
    elif not path.is_file():
        roll.left_out.append((str(path), "is no ordinary file; name the photo itself"))
    else:
        roll.sources.append(Source(path.absolute(), str(path)))


def _each_once(sources: Iterable[Source]) -> Iterator[Source]:
    met: set[str] = set()
    for source in sources:
        key = os.path.normpath(source.file)
        if key not in met:
            met.add(key)
            yield source


def passed_over_sentence(passed_over: Mapping[str, int]) -> str:
    """`Passed over 5 files that are no photos (.aae, .mov)`."""
    count = sum(passed_over.values())
    endings = ", ".join(sorted(passed_over))
    return f"Passed over {count} {'file that is no photo' if count == 1 else 'files that are no photos'} ({endings})"
