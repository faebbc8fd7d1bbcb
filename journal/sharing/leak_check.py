"""The check at the end of every share: every byte of what is to go out is searched for what is not shared."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from journal.cache.resources import find_resources
from journal.sharing.decoders import Unwanted, texts_in
from journal.sharing.detectors import RUN_WORDS, RUN_WORDS_OF_AN_INDEX, Detectors
from journal.sharing.normalise import normalise
from journal.sharing.program_words import own_files

MOST_OF_A_KIND = 3
"""So many findings of one kind are told of one file; the others would say the same."""


@dataclass(frozen=True, slots=True, order=True)
class Leak:
    """Something that a share tells and must not. file: from the folder's root. what: its kind. where: how to come to
    it. shown: the words themselves, with those around them; "" where there are none."""

    file: str
    what: str
    where: str
    shown: str = ""

    def __str__(self) -> str:
        words = f": “{self.shown}”" if self.shown else ""
        return f"{self.where} reveals {self.what}{words}"


class Search:
    """Looks for what a share must not tell; content in which nothing was found is not searched again."""

    def __init__(self, detectors: Detectors) -> None:
        self._detectors = detectors
        self._well = set(own_files().values())

    def leaks_in(self, folder: Path) -> tuple[Leak, ...]:
        """All that the files of a folder and their names tell. What cannot be looked into counts as a leak. Raises
        OSError where a file cannot be read."""
        found: list[Leak] = []
        for path in sorted(folder.rglob("*")):
            name = path.relative_to(folder).as_posix()
            found += (Leak(name, one.what, f"the name {name}") for one in self._detectors.found_in(path.name))
            if path.is_file():
                data = path.read_bytes()
                sources = ("sw.js", "js/pool.js") if name == "sw.js" else ()
                for source in sources:  # of the worker, what is not its source
                    data = data.replace((find_resources() / "static" / source).read_bytes(), b"")
                found += self._leaks_in_bytes(name, data)
        return tuple(sorted(set(found)))

    def _leaks_in_bytes(self, name: str, data: bytes) -> list[Leak]:
        if self._is_well(data):
            return []
        seen: dict[tuple[str, str], int] = {}
        leaks: list[Leak] = []
        for found in texts_in(name, data, self._is_well):
            if isinstance(found, Unwanted):
                leaks.append(Leak(name, found.what, found.where, found.shown))
                continue
            plain = ""
            run_words = RUN_WORDS_OF_AN_INDEX if found.where.partition(",")[0].endswith(".js") else RUN_WORDS
            for told in self._detectors.found_in(found.text, run_words):
                if told.end - told.start < found.least:
                    continue
                plain = plain or normalise(found.text)
                words = " ".join(plain[told.start : told.end].split())
                seen[told.what, words] = seen.get((told.what, words), 0) + 1
                if seen[told.what, words] == 1 and sum(what == told.what for what, _ in seen) <= MOST_OF_A_KIND:
                    around = " ".join(plain[max(0, told.start - 20) : told.end + 20].split())
                    leaks.append(Leak(name, told.what, found.where, around))
        if not leaks:
            self._well.add(hashlib.sha256(data).hexdigest())
        return leaks

    def _is_well(self, data: bytes) -> bool:
        """Whether it is a file of the program's own, the same on every site, or was found to tell nothing."""
        return hashlib.sha256(data).hexdigest() in self._well
