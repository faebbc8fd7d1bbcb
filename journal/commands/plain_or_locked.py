"""Which site a command builds or shows: a plain one, or one that is locked."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from journal.cache.folders import PLAIN_NAME
from journal.commands.workspace import LockRequest, Workspace
from journal.problems import Problem, Refusal, Unreadable, nearest, shortened
from journal.reading.listing import SETTINGS_NAME
from journal.reading.toml_tables import NOT_TOML, read_toml

_SAYS_LOCKED = re.compile(r"(?!\s*#).*?(?<![a-z])locked(?![a-z])", re.IGNORECASE | re.DOTALL)
"""A line that is no comment, with the word anywhere: what cannot be read may mean anything."""

_SAYS_PLAIN = re.compile(r"\s*(?:[\w-]+\s*\.\s*)*[\"']?locked[\"']?\s*[=:]\s*false\s*(?:#.*)?", re.IGNORECASE)

_HEADER = re.compile(r"\s*\[+\s*[\"']?([\w-]+)")
_KEY = re.compile(r"\s*[\"']?([\w-]+)[\"']?\s*[=:](?!\s*false\b)", re.IGNORECASE)

_ESCAPE = re.compile(r"\\(?:U000([0-9A-Fa-f]{5})|u([0-9A-Fa-f]{4})|x([0-9A-Fa-f]{2}))")
"""Source: TOML 1.0.0 and 1.1.0, "String"."""

_PROBE = "key-that-nobody-writes"
_NOT_BUILT = "nothing is built until then, since the site would not be locked"
_NOT_BUILT_FOR_NOW = "nothing is built, since the site might have to be locked"

# A build that finds nothing changed is over at once, so what reads settings and keys is imported where it is needed.


def is_to_be_locked(root: Path) -> bool:
    """Whether the settings say that the journal's site is built under a passphrase. Raises Refusal where they may be
    meant to say so: they cannot be read, or say it where it locks nothing."""
    if (data := _settings_of(root / SETTINGS_NAME)) is None:
        return False
    toml = read_toml(SETTINGS_NAME, data)
    if toml.problems:
        _refuse_what_may_be_locked(data, toml.problems[0])
        return False
    table = toml.document.get("journal")
    if isinstance(table, dict) and "locked" in table:
        from journal.reading.setting_values import true_or_false

        try:
            if true_or_false(table["locked"]).value:
                return True
        except Unreadable as fault:
            where = _where(toml.line_of(("journal", "locked")))
            raise Refusal(f"{where}: locked: {fault.message}; {fault.fix}: {_NOT_BUILT}") from None
    for at, written in _leaves(toml.document):
        if _is_meant_to_lock(at, written):
            raise Refusal(_locks_nothing(at, toml.line_of(tuple(map(str, at)))))
    return False


def _where(line: int) -> str:
    return f"{SETTINGS_NAME}:{line}" if line else SETTINGS_NAME


def _settings_of(path: Path) -> bytes | None:
    """The bytes of the settings; None where there are none. Raises Refusal for what is there and cannot be read."""
    if not os.path.lexists(path):
        return None
    why, fix = "this file cannot be read", "Make it readable, or put a copy in its place"
    try:
        if path.is_file():
            return path.read_bytes()
        why, fix = "this is not a file", "Put the file there, or remove it"
        if path.is_symlink() and not path.exists():
            why = "this link is broken"
    except OSError as fault:
        why += f" ({(fault.strerror or 'unknown error').lower()})"
    raise Refusal(f"{SETTINGS_NAME}: {why}: {_NOT_BUILT_FOR_NOW}. {fix}")


def _leaves(document: Mapping[str, Any]) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    """Every key of the settings, with where it stands, but those of a share, which locks itself, and [journal]'s own
    `locked`. A number in a place is that of a table in a list."""
    waiting: list[tuple[tuple[str | int, ...], Any]] = [((), document)]
    while waiting:
        at, found = waiting.pop()
        if at and isinstance(at[-1], str) and at != ("journal", "locked"):
            yield at, found
        inside: Iterable[tuple[str | int, Any]] = ()
        if isinstance(found, list):
            inside = enumerate(found)
        elif isinstance(found, dict) and not (at[:1] == ("shares",) and len(at) > 1):
            inside = found.items()
        waiting += reversed([((*at, name), one) for name, one in inside])


def _is_meant_to_lock(at: tuple[str | int, ...], written: Any) -> bool:
    """Whether a setting that locks nothing is `locked`, mistyped or in a wrong place. Above all tables and in what may
    be [journal] it is anything that resembles it, with any value but false; elsewhere the word itself, as true."""
    name = str(at[-1])
    is_word = name.strip().casefold() == "locked"
    is_near_journal = len(at) == 1 or nearest(str(at[0]), ("journal",)) is not None
    if not is_word and (not is_near_journal or isinstance(written, dict) or nearest(name, ("locked",)) is None):
        return False
    from journal.reading.setting_values import true_or_false

    try:
        return true_or_false(written).value
    except Unreadable:
        return is_near_journal


def _locks_nothing(at: tuple[str | int, ...], line: int) -> str:
    """What is said of a setting that is meant to lock the site and does not."""
    table = " ".join(".".join(one for one in at[:-1] if isinstance(one, str)).split())
    is_in_list = len(at) > 1 and isinstance(at[-2], int)
    under = (f"under [[{table}]]" if is_in_list else f"under [{table}]") if table else "outside any table"
    return (
        f"{_where(line)}: {shortened(str(at[-1]))} {under} locks nothing: write `locked = true` under [journal], "
        f"or delete it: {_NOT_BUILT}"
    )


def _refuse_what_may_be_locked(data: bytes, problem: Problem) -> None:
    """Raises Refusal where settings that are not TOML may say that the journal's own site is locked. They do not where
    they say so nowhere; nor where all down to the last line that says so is TOML in which [journal] is over without
    saying so (a table cannot go on after another has begun) and each of these lines is a share's own `locked`."""
    text = data.replace(b"\0", b"").decode("utf-8-sig", "replace").replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    said = _lines_that_may_lock(lines)
    if not said:
        return
    toml = read_toml(SETTINGS_NAME, "\n".join((*lines[: max(said)], f"{_PROBE} = 0", "")).encode())
    document, of_shares = toml.document, set[int]()
    journal, shares = document.get("journal"), document.get("shares")
    if isinstance(journal, dict) and isinstance(shares, dict) and _PROBE not in journal and _PROBE not in document:
        locked = [name for name, share in shares.items() if isinstance(share, dict) and "locked" in share]
        of_shares = {toml.lines.get(("shares", name, "locked"), 0) for name in locked}
        is_plain = journal.get("locked", False) is False and not any(
            _is_meant_to_lock(at, written) for at, written in _leaves(document)
        )
        if is_plain and of_shares.issuperset(said):
            return
    first = next((line for line in said if line not in of_shares), min(said))
    why = problem.message.partition(", so ")[0].removeprefix(f"{NOT_TOML} ")
    correct = f"line {problem.line}" if problem.line else "it"
    raise Refusal(
        f"{SETTINGS_NAME}: this file cannot be read, and has the word {said[first]} in it (line {first}): "
        f"{_NOT_BUILT_FOR_NOW}. Correct {correct} {why}"
    )


def _lines_that_may_lock(lines: Sequence[str]) -> dict[int, str]:
    """The numbers of lines that have the word, also in escapes, and do not say `locked = false`; and of those that set
    something like it, below no header or one like [journal]. Each with the word."""
    said = {}
    is_in_journal = True
    for number, line in enumerate(lines, start=1):
        read = _ESCAPE.sub(lambda found: chr(int(found[1] or found[2] or found[3], 16)), line)
        if header := _HEADER.match(read):
            is_in_journal = nearest(header[1], ("journal",)) is not None
        if _SAYS_LOCKED.match(read):
            if not _SAYS_PLAIN.fullmatch(read):
                said[number] = "locked"
        elif is_in_journal and (key := _KEY.match(read)) and nearest(key[1], ("locked",)):
            said[number] = key[1]
    return said


def to_build(workspace: Workspace, asked: LockRequest, locked: bool) -> Workspace:
    """The workspace for `journal build`: its site to be locked where that is asked for, or the settings say so."""
    if locked or is_to_be_locked(workspace.root):
        return _locked(workspace, asked)
    if asked != LockRequest():
        raise Refusal("--keys and --passphrase-file go with --locked")
    return workspace


def _locked(workspace: Workspace, asked: LockRequest) -> Workspace:
    from journal.commands.readers import with_keys

    try:
        is_by_settings = is_to_be_locked(workspace.root)
    except Refusal:
        is_by_settings = False
    return replace(with_keys(workspace, asked), is_locked_by_settings=is_by_settings)


def shown_of(workspace: Workspace, asked: LockRequest, locked: bool) -> Workspace:
    """The workspace for `journal show`: of a journal that is to be locked the plain site, in the cache, unless the
    locked one is asked for."""
    if locked:
        return _locked(workspace, asked)
    if asked.keys is not None:
        raise Refusal("--keys goes with --locked")
    if not is_to_be_locked(workspace.root):
        return workspace
    workspace.output.notice(
        f"The journal is locked: what is shown here is not, and {workspace.site} stays as it is until `journal build`."
    )
    return replace(workspace, site=workspace.cache_folder / PLAIN_NAME)
