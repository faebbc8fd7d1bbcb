"""A new journal folder: short settings, and examples that are not read as entries."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from zoneinfo import available_timezones

from journal.data import read_table
from journal.reading.listing import SETTINGS_NAME
from journal.reading.toml_tables import toml_string
from journal.settings import FORMAT
from journal.writing.blanks import write_new

EXAMPLES_NAME = "examples"

EXAMPLES: Mapping[str, str] = read_table("new_journal")["examples"]
"""Texts that show an entry of each kind; they end in .txt, so that no command reads them as entries."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What a new journal is asked for. time_zone: an IANA name."""

    title: str
    author: str
    time_zone: str
    units: str


def write_journal(folder: Path, answers: Answers) -> tuple[Path, ...]:
    """Makes a folder a journal and gives the files written; one that is there already is never overwritten.

    Raises FileExistsError where the folder has settings already, else OSError; then nothing of it stays.
    """
    examples = folder / EXAMPLES_NAME
    made = [path for path in (examples, *examples.parents) if not path.exists()]
    texts = {folder / SETTINGS_NAME: settings_text(answers)}
    written: list[Path] = []
    try:
        examples.mkdir(parents=True, exist_ok=True)
        texts.update({examples / name: text for name, text in EXAMPLES.items() if not (examples / name).exists()})
        for path, text in texts.items():
            write_new(path, text)
            written.append(path)
    except OSError:
        for path in (*written, *made):
            with suppress(OSError):
                path.unlink() if path in written else path.rmdir()
        raise
    return tuple(written)


def settings_text(answers: Answers) -> str:
    text: str = read_table("new_journal")["settings"]
    return text.format(format=FORMAT, **{name: toml_string(value) for name, value in asdict(answers).items()})


def guess_time_zone(environment: Mapping[str, str] = os.environ, etc: Path = Path("/etc")) -> str:
    """The IANA name of this computer's time zone, "UTC" where it is not known."""
    known = available_timezones()
    return next((name for name in _zone_hints(environment, etc) if name in known), "UTC")


def _zone_hints(environment: Mapping[str, str], etc: Path) -> Iterator[str]:
    yield environment.get("TZ", "").removeprefix(":")
    if (etc / "timezone").is_file():
        yield (etc / "timezone").read_text(encoding="utf-8", errors="replace").strip()
    yield os.path.realpath(etc / "localtime").rpartition("zoneinfo/")[2]
