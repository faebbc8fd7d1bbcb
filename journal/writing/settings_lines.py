"""Adds lines at the end of journal.toml, so that everything already in it stays unchanged; writes files whole."""

from __future__ import annotations

import os
import shutil
from pathlib import Path


def addition_to(written: bytes, block: str) -> bytes:
    """What is added to the settings, in the line endings that they have. written: the file as it is."""
    text = f"\n{block}\n" if not written or written.endswith(b"\n") else f"\n\n{block}\n"
    return (text.replace("\n", "\r\n") if b"\r\n" in written else text).encode()


def append(file: Path, addition: bytes) -> None:
    """Adds to the end of a file, which has all of it or is as it was, however the run ends."""
    write_whole(file, file.read_bytes() + addition)


def write_whole(file: Path, content: bytes) -> None:
    """Writes a file that is the old or the new one at any moment. It keeps its permissions, and a link to it stays a
    link. Raises OSError."""
    final = file.resolve()
    part = final.with_name(f".{final.name}.part")
    try:
        with part.open("wb") as opened:
            opened.write(content)
            opened.flush()
            os.fsync(opened.fileno())
        if final.exists():
            shutil.copymode(final, part)
        part.replace(final)
    except OSError:
        part.unlink(missing_ok=True)
        raise
