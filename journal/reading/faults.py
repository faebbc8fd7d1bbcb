"""Where what is wrong is gathered while entries are linked."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

from journal.problems import Problem, Weight
from journal.reading.entries import Draft
from journal.reading.folder import path_key
from journal.unforeseen import attempt

T = TypeVar("T")


class Faults:
    """Problems, as they come up. failed: those of entries at which the program itself failed, by path."""

    def __init__(self, problems: Iterable[Problem] = ()) -> None:
        self._problems = list(problems)
        self.failed: dict[str, Problem] = {}

    def each(self, drafts: Iterable[Draft], step: Callable[[Draft], T]) -> list[T]:
        """What `step` makes of each draft, but for those at which it fails as nobody foresaw."""
        made = []
        for draft in drafts:
            result = attempt(draft.path, lambda: step(draft))  # noqa: B023 - called at once
            if isinstance(result, Problem):
                self.failed[draft.path] = result
            else:
                made.append(result)
        return made

    def wrong(self, draft: Draft, key: str, says: str, mend: str) -> None:
        """What cannot be used, at the line of that key (or the whole file, where it is not there)."""
        self.at(draft.path, draft.lines.get(key, 0), "wrong", says, mend)

    def odd(self, draft: Draft, key: str, says: str, mend: str) -> None:
        """What is used, but should be looked at again."""
        self.at(draft.path, draft.lines.get(key, 0), "odd", says, mend)

    def at(self, path: str, line: int, weight: Weight, says: str, mend: str) -> None:
        self._problems.append(Problem(path, line, weight, says, mend))

    def add(self, problem: Problem) -> None:
        self._problems.append(problem)

    def sorted(self) -> tuple[Problem, ...]:
        """Each problem once, by path as NFC text, then by line."""
        rows = set(self._problems)
        return tuple(sorted(rows, key=lambda row: (path_key(row.path), row.line, row.weight, row.says, row.mend)))
