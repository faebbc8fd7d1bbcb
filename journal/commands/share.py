"""`journal share`: its steps, its table and its messages."""

from __future__ import annotations

import tempfile
from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from textwrap import fill, wrap

import click
from rich.cells import cell_len

from journal.cache.file_cache import FileCache
from journal.cache.folders import build_lock, shares_folder
from journal.commands.console import plain
from journal.commands.workspace import Workspace
from journal.model import Journal, Position
from journal.problems import Refusal
from journal.reading.front_matter import AS_UTF_8
from journal.reading.private_passages import COUNTS_AS_PRIVATE
from journal.share_pipeline import (
    FinishedShare,
    LeaksFound,
    Prepared,
    make_share_files,
    photo_sheet,
    prepare,
    share_folder,
)
from journal.sharing.grant import LeftOutOfShare
from journal.sharing.secrets import is_bare
from journal.site import wording
from journal.site.build.swap import SHARE_SENTENCE, refuse_unless_ours

# The words of `journal share`: a table of what goes out and what is kept back, and lines of what was made.

WIDTH = 100
"""Signs to a line of the tables."""
MOST_NAMED = 6
"""How many names of one sort are said before the rest is counted."""
MOST_LEAKS = 20
MOST_DOUBTS = 20
FIX = "Reword what says so in its entry, or put it between a line `::: private` and a line `:::`; then share again."

ShareRow = tuple[str, str, str]

_WHY = {
    "not shared": "nothing grants it",
    "private": "its author calls it private",
    "before since": "before the share begins",
    "hidden": "hidden by the share or by the find's `locality`",
    "made coarse": "told as a square of {area}",
    "private passage": "between ::: private and :::",
    "never shared": "in no share",
    "persons are not shared": "`by` is not set",
    "not all shared": "the note is about something that is not shared too",
    "told as a part": "part of what was picked or lost is kept back, and the pages say so",
    "private sums": "told too low, since private notes have more, and the pages do not say so",
}

_SEVERAL = {
    "BE": "BE", "sums of": "sums of", "persons": "persons", "entry": "entries", "text": "passages of texts",
    "words and photos": "words and photos of",
}  # fmt: skip
_NEVER = (
    "In no share: home positions, names of files, what cameras wrote into photos, settings that are not named above, "
    "and what is to mend."
)


def share_table(prepared: Prepared) -> str:
    """Two tables: what would go out, and what would be kept back and why."""
    shared = [("Goes out", "How many", "Which"), *_shared(prepared)]
    kept_back = [("Is kept back", "How many", "Why, and which"), *_kept_back(prepared)]
    return "\n".join([*_laid_out(shared), "", *_laid_out(kept_back), "", fill(_NEVER, WIDTH)])


def _laid_out(rows: Sequence[ShareRow]) -> Iterator[str]:
    """The last column is wrapped, and stays under its head."""
    shown = [tuple(plain(cell) for cell in row) for row in rows]
    first, second = (max(cell_len(row[column]) for row in shown) for column in (0, 1))
    margin = " " * (first + second + 4)
    for what, count, which in shown:
        head = f"{what}{' ' * (first - cell_len(what))}  {' ' * (second - cell_len(count))}{count}  "
        lines = wrap(which, WIDTH - len(margin), break_on_hyphens=False) or [""]
        yield (head + f"\n{margin}".join(lines)).rstrip()


def _shared(prepared: Prepared) -> Iterator[ShareRow]:
    journal = prepared.redaction.journal
    tents = [tent for tent in journal.settings.tents if not tent.unshared]
    bearers = (
        ("finds", journal.finds), ("cultures", journal.cultures), ("batches", journal.batches), ("tents", tents),
        ("devices", journal.devices),
    )  # fmt: skip
    for what, rows in bearers:
        if rows:
            yield what, str(len(rows)), _named([row.id for row in rows])
    titles = [entry.title for entry in reversed((*journal.notes, *journal.tent_entries))]
    yield "notes and tent entries", str(len(titles)), _named(titles)
    look = "each as large as on the site; look them over" if journal.photos else ""
    yield "photos", str(len(journal.photos)), look
    positions = [find for find in journal.finds if find.position]
    if positions:
        said = "; ".join(_position_words(find.id, find.position) for find in positions if find.position)
        yield "positions", str(len(positions)), said
    days = sum(len(log.stamps_s) for log in journal.logs)
    if days:
        yield "days of air", str(days), "the medians of each day"
    if journal.settings.poison_centre:
        yield "poison centre", "", f"its number, {journal.settings.poison_centre}"
    yield "title", "", journal.settings.title
    yield "times of day", "", "none, dates only" if prepared.share.times == "day" else "to the minute"


def _position_words(id: str, position: Position) -> str:
    return f"{id} as the square of {position.grid_deg:g}° it lies in" if position.grid_deg else f"{id} exactly"


def _kept_back(prepared: Prepared) -> Iterator[ShareRow]:
    grouped: dict[tuple[str, str], list[LeftOutOfShare]] = defaultdict(list)
    for row in prepared.redaction.withheld:
        grouped[row.what, row.reason].append(row)
    area = f"{prepared.share.area_deg:g}°"
    for (what, reason), rows in grouped.items():
        why = _WHY[reason].format(area=area)
        yield _SEVERAL.get(what, f"{what}s"), str(len(rows)), _why(why, rows)


def _why(why: str, rows: Sequence[LeftOutOfShare]) -> str:
    return f"{why}: {_named([row.which for row in rows])}"


def _named(names: Sequence[str]) -> str:
    """The first few, and how many more."""
    more = len(names) - MOST_NAMED
    return "; ".join(names[:MOST_NAMED]) + (f"; and {more:,} more" if more > 0 else "")


def problem_sentences(prepared: Prepared) -> str | None:
    """A line where entries are wrong: a name that could not be read as one is not known for a secret."""
    paths = {problem.path for problem in prepared.read.journal.problems if problem.severity == "error"}
    count = sum(path.endswith(".md") for path in paths)
    if not count:
        return None
    return (
        f"Something is wrong in {wording.count(count, 'entry', 'entries')}, which `journal check` lists. Mend it "
        "first: a name or place that cannot be read there may be told by another entry"
    )


def what_is_in_doubt(prepared: Prepared) -> Iterator[str]:
    """A line for each thing that was taken for private, and for each file that could only be guessed at."""
    doubts = [one for one in prepared.read.journal.problems if COUNTS_AS_PRIVATE in one.message or AS_UTF_8 in one.fix]
    yield from map(str, doubts[:MOST_DOUBTS])
    if len(doubts) > MOST_DOUBTS:
        yield f"and {len(doubts) - MOST_DOUBTS:,} more such lines, which `journal check` lists"
    for find in prepared.read.journal.finds:
        if find.place and is_bare(find.place):
            yield (
                f"{find.path}: the place {find.place} is looked for in texts only behind a word such as place, spot or "
                "plot, since numbers and letters stand everywhere; a name is looked for everywhere, "
                f"like plot {find.place}"
            )


def where_the_photos_are(prepared: Prepared, sheet: Path) -> str:
    photos = len(prepared.redaction.journal.photos)
    if not photos:
        return "No photo would go out. Nothing was handed out"
    return f"Look over {wording.count(photos, 'photo')} for what tells a place: open {sheet}. Nothing was handed out"


def preview_lines(found: LeaksFound) -> Iterator[str]:
    """Where a share would tell what it must not, a line a place, and what to do."""
    yield from map(str, found.leaks[:MOST_LEAKS])
    if len(found.leaks) > MOST_LEAKS:
        yield f"and {len(found.leaks) - MOST_LEAKS:,} more such places"
    yield FIX


def share_made(made: FinishedShare, seconds: float) -> str:
    """The closing line."""
    return (
        f"{share_counts(made.journal)}; {made.pages:,} pages in {seconds:.1f} s, searched and clean; "
        f"{_size(made.pages_bytes)} as a folder, {_size(made.archive_bytes)} as a zip. To look at it, open "
        f"{made.pages_folder / 'index.html'}"
    )


def share_counts(journal: Journal) -> str:
    entries = sum(1 for _ in journal.entries())
    return f"{wording.count(entries, 'entry', 'entries')} and {wording.count(len(journal.photos), 'photo')} shared"


def _size(count: int) -> str:
    """Bytes in MB (10^6)."""
    return f"{count / 1_000_000:,.1f} MB" if count >= 50_000 else "under 0.1 MB"


# What `journal share` does and says, in that order.

_WAITING = "Another command is at work in this journal; waiting for it."


def make_share(desk: Workspace, name: str, to: Path | None) -> None:
    """Makes the share and prints where it is. Raises Refusal where it cannot be made, or would tell too much."""
    out = shares_folder(desk.root, to)
    with _prepared(desk, name) as (memory, prepared):
        folder = share_folder(out, prepared.share.name)
        _refuse_cache(desk, folder)
        refuse_unless_ours(folder, desk.root, SHARE_SENTENCE)
        try:
            with desk.at_target(out / prepared.share.name, within=out):
                handed = make_share_files(memory, prepared, out, desk.teller.progress)
        except LeaksFound as tells:
            for line in preview_lines(tells):
                desk.teller.notice(line)
            raise
    desk.teller.notice(share_made(handed, desk.seconds))
    try:
        for path in (handed.pages_folder, handed.archive):
            click.echo(plain(str(path)))
    except BrokenPipeError:
        raise
    except OSError as error:
        said = (error.strerror or str(error)).lower()
        raise Refusal(f"the share was made, but where it is could not be printed ({said})") from error


def preview_share(desk: Workspace, name: str, to: Path | None) -> None:
    """Prints what would be shared and what would not, and writes a sheet of the photos; makes no share."""
    with _prepared(desk, name) as (memory, prepared):
        folder = _sheet_folder(prepared, shares_folder(desk.root, to) if to else None)
        with desk.at_target(folder, within=folder.parent) if to else _gone_unless_used(folder):
            sheet = photo_sheet(memory, prepared, folder, desk.teller.progress)
    click.echo(share_table(prepared))
    desk.teller.notice(where_the_photos_are(prepared, sheet))


@contextmanager
def _prepared(desk: Workspace, name: str) -> Iterator[tuple[FileCache, Prepared]]:
    """The share, read and redacted, when it is our turn; what was learned is kept."""
    with build_lock(desk.kept_in, lambda: desk.teller.notice(_WAITING)), desk.teller:
        memory = desk.memory()
        prepared = prepare(memory, name, desk.teller.progress)
        if line := problem_sentences(prepared):
            desk.teller.notice(line)
        for line in what_is_in_doubt(prepared):
            desk.teller.notice(line)
        yield memory, prepared
        memory.cache.save()


@contextmanager
def _gone_unless_used(folder: Path) -> Iterator[None]:
    """A new folder that nobody named: gone again where nothing came to lie in it."""
    try:
        yield
    except BaseException:
        with suppress(OSError):
            folder.rmdir()
        raise


def _refuse_cache(desk: Workspace, folder: Path) -> None:
    if folder.is_relative_to(desk.kept_in) or desk.kept_in.is_relative_to(folder):
        raise Refusal(f"--to {folder} lies in the cache, or holds it; name a folder apart from it")


def _sheet_folder(prepared: Prepared, asked: Path | None) -> Path:
    """Where the sheet goes: a folder of its own, new where nobody names one."""
    if asked is None:
        return Path(tempfile.mkdtemp(prefix="journal-photos-")).resolve()
    return share_folder(asked, f"{prepared.share.name}-photos")
