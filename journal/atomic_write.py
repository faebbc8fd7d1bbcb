"""Writes a file so that it is the old or the new one at any moment, however the run ends."""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from functools import partial
from pathlib import Path


def write_atomically(file: Path, content: bytes, *, is_private: bool = False, is_cached: bool = False) -> None:
    """Writes a file, new or in place of another; raises OSError with the file's name, and the file is as it was.

    A file keeps its permissions, and a link to it stays a link. is_private: only its owner may read it, from the first
    byte on. is_cached: it can be made again, and other processes may be writing it; it is not flushed to the disk, and
    a folder of its name is removed.
    """
    final = file.resolve()
    part = final.with_name(f".{final.name}.{os.getpid()}.part")
    opener = partial(os.open, mode=0o600 if is_private else 0o666)
    try:
        if not is_cached:
            _remove_parts(final)
        with open(part, "wb" if is_cached else "xb", opener=opener) as opened:
            opened.write(content)
            opened.flush()
            if not is_cached:
                os.fsync(opened.fileno())
        if is_cached and final.is_dir():
            shutil.rmtree(final)
        if not is_private and final.exists():
            shutil.copymode(final, part)
        part.replace(final)
    except OSError as error:
        error.filename = error.filename or str(file)  # a failed write does not name its file
        raise
    finally:
        with suppress(OSError):
            part.unlink()


def _remove_parts(final: Path) -> None:
    """Removes what a run that was ended has left beside a file."""
    start, end = f".{final.name}.", ".part"
    for one in list(final.parent.iterdir()):
        if one.name.startswith(start) and one.name.endswith(end) and one.name[len(start) : -len(end)].isdecimal():
            one.unlink(missing_ok=True)
