"""Adds lines at the end of journal.toml, so that everything already in it stays unchanged."""

from __future__ import annotations

from pathlib import Path


def addition_to(written: bytes, block: str) -> bytes:
    """What is added to the settings, in the line endings that they have. written: the file as it is."""
    text = f"\n{block}\n" if not written or written.endswith(b"\n") else f"\n\n{block}\n"
    return (text.replace("\n", "\r\n") if b"\r\n" in written else text).encode()


def append(file: Path, addition: bytes) -> None:
    """Adds to the end of a file; where that fails, the file is as it was."""
    with file.open("r+b") as opened:
        size = opened.seek(0, 2)
        try:
            opened.write(addition)
            opened.flush()
        except OSError:
            opened.truncate(size)
            raise
