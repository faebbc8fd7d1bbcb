"""What `journal share` does and says, in that order."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from journal.desk import share_words as words
from journal.desk.at_hand import Desk
from journal.desk.telling import plain
from journal.handing import Prepared, Tells, hand_over, photo_sheet, prepare, share_folder
from journal.keeping.folders import shares_folder
from journal.keeping.remembering import Memory
from journal.keeping.turns import turn
from journal.refusal import Refusal
from journal.site.placing import SHARE_SAYS, refuse_unless_ours

_WAITING = "Another command is at work in this journal; waiting for it."


def share_out(desk: Desk, name: str, to: Path | None) -> None:
    """Makes the share and prints where it is. Raises Refusal where it cannot be made, or would tell too much."""
    out = shares_folder(desk.root, to)
    with _prepared(desk, name) as (memory, prepared):
        folder = share_folder(out, prepared.share.name)
        _refuse_cache(desk, folder)
        refuse_unless_ours(folder, desk.root, SHARE_SAYS)
        try:
            handed = hand_over(memory, prepared, out, desk.teller.progress)
        except Tells as tells:
            for line in words.tells(tells):
                desk.teller.notice(line)
            raise
    desk.teller.notice(words.handed(handed, desk.seconds))
    try:
        for path in (handed.pages_folder, handed.archive):
            click.echo(plain(str(path)))
    except BrokenPipeError:
        raise
    except OSError as error:
        said = (error.strerror or str(error)).lower()
        raise Refusal(f"the share was made, but where it is could not be printed ({said})") from error


def show_share(desk: Desk, name: str, to: Path | None) -> None:
    """Prints what would be shared and what would not, and writes a sheet of the photos; makes no share."""
    with _prepared(desk, name) as (memory, prepared):
        folder = _sheet_folder(prepared, shares_folder(desk.root, to) if to else None)
        sheet = photo_sheet(memory, prepared, folder, desk.teller.progress)
    click.echo(words.table(prepared))
    desk.teller.notice(words.where_the_photos_are(prepared, sheet))


@contextmanager
def _prepared(desk: Desk, name: str) -> Iterator[tuple[Memory, Prepared]]:
    """The share, read and redacted, when it is our turn; what was learned is kept."""
    with turn(desk.kept_in, lambda: desk.teller.notice(_WAITING)), desk.teller:
        memory = desk.memory()
        prepared = prepare(memory, name, desk.teller.progress)
        if line := words.what_is_wrong(prepared):
            desk.teller.notice(line)
        yield memory, prepared
        memory.cache.save()


def _refuse_cache(desk: Desk, folder: Path) -> None:
    if folder.is_relative_to(desk.kept_in) or desk.kept_in.is_relative_to(folder):
        raise Refusal(f"--to {folder} lies in the cache, or holds it; name a folder apart from it")


def _sheet_folder(prepared: Prepared, asked: Path | None) -> Path:
    """Where the sheet goes: a folder of its own, new where nobody names one."""
    if asked is None:
        return Path(tempfile.mkdtemp(prefix="journal-photos-")).resolve()
    return share_folder(asked, f"{prepared.share.name}-photos")
