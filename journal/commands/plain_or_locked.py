"""Which site a command builds or shows: a plain one, or one that is locked."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from journal.cache.folders import PLAIN_NAME
from journal.commands.workspace import LockRequest, Workspace
from journal.problems import Refusal, Unreadable
from journal.reading.listing import SETTINGS_NAME
from journal.reading.toml_tables import read_toml

_SAYS_LOCKED = re.compile(r"^(?![ \t]*#).*?\blocked\b[\"']?[ \t]*[=:](?![ \t]*false\b)", re.MULTILINE | re.IGNORECASE)
"""In a line that is no comment, with any value but false: what cannot be read may mean anything."""

_PROBE = "key-that-nobody-writes"

# A build that finds nothing changed is over at once, so what reads settings and keys is imported where it is needed.


def is_to_be_locked(root: Path) -> bool:
    """Whether the settings say that the journal's site is built under a passphrase. Raises Refusal where they seem to
    say so and cannot be read."""
    try:
        data = (root / SETTINGS_NAME).read_bytes()
    except OSError:
        return False
    toml = read_toml(SETTINGS_NAME, data)
    if toml.problems and _may_be_locked(data):
        problem = toml.problems[0]
        raise Refusal(
            f"{SETTINGS_NAME}:{problem.line}: {problem.message.partition(', so ')[0]}, and it says `locked`: "
            "nothing is built until it can be read, since the site would not be locked"
        )
    table = toml.document.get("journal")
    if not isinstance(table, dict) or "locked" not in table:
        return False
    from journal.reading.setting_values import true_or_false

    try:
        return true_or_false(table["locked"]).value
    except Unreadable as fault:
        line = toml.lines.get(("journal", "locked"), 0)
        raise Refusal(
            f"{SETTINGS_NAME}:{line}: locked: {fault.message}; {fault.fix}: nothing is built until then, since the "
            "site would not be locked"
        ) from None


def _may_be_locked(data: bytes) -> bool:
    """Whether settings that are not TOML may say that the journal's own site is locked. They do not where they say so
    nowhere; nor where all down to the last line that says so is TOML in which [journal] is over without saying so (a
    table cannot go on after another has begun) and each of these lines is of a share."""
    text = data.replace(b"\0", b"").decode("utf-8-sig", "replace").replace("\r\n", "\n").replace("\r", "\n")
    said = list(_SAYS_LOCKED.finditer(text))
    if not said:
        return False
    down_to_it = text[: said[-1].start()] + text[said[-1].start() :].partition("\n")[0]
    document = read_toml(SETTINGS_NAME, f"{down_to_it}\n{_PROBE} = 0\n".encode()).document
    journal, shares = document.get("journal"), document.get("shares")
    if not isinstance(journal, dict) or not isinstance(shares, dict) or _PROBE in journal or _PROBE in document:
        return True
    of_shares = sum(isinstance(one, dict) and one.get("locked", False) is not False for one in shares.values())
    return journal.get("locked", False) is not False or of_shares != len(said)


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
