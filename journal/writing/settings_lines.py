"""Adds lines at the end of journal.toml, so that everything already in it stays unchanged."""

from __future__ import annotations

from pathlib import Path

from journal.atomic_write import write_atomically


def addition_to(written: bytes, block: str) -> bytes:
    """What is added to the settings, in the line endings that they have. written: the file as it is."""
    text = f"\n{block}\n" if not written or written.endswith(b"\n") else f"\n\n{block}\n"
    return (text.replace("\n", "\r\n") if b"\r\n" in written else text).encode()


def append(file: Path, addition: bytes) -> None:
    """Adds to the end of a file, which has all of it or is as it was, however the run ends."""
    write_atomically(file, file.read_bytes() + addition)
