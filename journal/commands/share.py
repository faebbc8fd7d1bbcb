"""`journal share`: its steps, its table and its messages."""

from __future__ import annotations

import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from textwrap import fill, wrap
from typing import TypeVar

import click
from rich.cells import cell_len

from journal.analysis.analysis import Analysis
from journal.cache.file_cache import FileCache
from journal.cache.folders import build_lock, shares_folder
from journal.commands.console import first_of, plain, printing_result
from journal.commands.prompts import can_ask, today_in
from journal.commands.readers import keys_to_lock_with, share_to_be_locked
from journal.commands.share_review import (
    closing_words,
    left_out_rows,
    new_lines,
    refuse_unless_shown,
    review_json,
    step_through,
)
from journal.commands.workspace import WAITING, LockRequest, Workspace
from journal.locking.key_file import KeyFile
from journal.problems import Refusal
from journal.quantities import counted, size_in_mb
from journal.reading.front_matter import AS_UTF_8
from journal.reading.private_passages import COUNTS_AS_PRIVATE
from journal.share_pipeline import (
    PAGES,
    FinishedShare,
    LeaksFound,
    NotReviewed,
    Prepared,
    make_share_files,
    prepare,
    preview_page,
    remember,
    share_folder,
)
from journal.sharing.grant import LeftOutOfShare
from journal.sharing.identities import private_doubts
from journal.sharing.review import counts_in_words, new_in_words
from journal.sharing.secrets import is_bare
from journal.site.build.swap import SHARE_SENTENCE, refuse_unless_ours

WIDTH = 100
"""Characters in a line of the tables."""
MOST_NAMED = 6
"""How many names of one kind are listed before the rest is only counted."""
MOST_LEAKS = 20
MOST_DOUBTS = 20
FIX = "Fix: reword that in its entry, or put it between a line `::: private` and a line `:::`; then share again."

T = TypeVar("T")
ShareRow = tuple[str, str, str]

_WHY = {
    "not shared": "not included in this share",
    "private": "marked as private",
    "before since": "dated before `since`",
    "hidden": 'hidden by the share, which has positions = "hidden"',
    "hidden by itself": "hidden by its own `locality`; to show it, write `locality: {positions}` in",
    "made coarse": "shown as a square of {area}",
    "private passage": "between ::: private and :::",
    "never shared": "never shared",
    "persons are not shared": "`by` is not set",
    "not all shared": "the note is also about something that is not shared",
    "told as a part": "part of the yield or losses is left out, and the pages say so",
    "words of finds": 'finds and visits to them, unless the share says texts = "all"',
    "private sums": "shown too low, because private notes hold more, and the pages do not say so",
}

_SEVERAL = {
    "BE": "BE", "sums of": "sums of", "persons": "persons", "entry": "entries", "text": "passages of texts",
    "words and photos": "words and photos of", "words": "texts and captions of", "minutes": "minutes",
    "sold": "what was sold", "picked mass": "picked masses", "mass picked at a visit": "masses picked at visits",
    "patch": "patches", "formerly": "earlier IDs", "meter": "meter readings",
}  # fmt: skip
_NEVER = (
    "Never shared: home positions, file names, camera data in photos, the weather of a station, sums of costs, labour, "
    "losses and permits, plans, settings that are not named above (elevation, currency, permits), and problems."
)


def share_table(prepared: Prepared) -> str:
    """Two tables: what would be shared, and what would be left out and why."""
    shared = [("Shared", "How many", "Which"), *_shared(prepared)]
    left_out = [("Left out", "How many", "Why, and which"), *_left_out(prepared)]
    return "\n".join([*_laid_out(shared), "", *_laid_out(left_out), "", fill(_NEVER, WIDTH)])


def _laid_out(rows: Sequence[ShareRow]) -> Iterator[str]:
    """The last column is wrapped and stays under its heading."""
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
    kinds = (
        ("finds", journal.finds), ("cultures", journal.cultures), ("batches", journal.batches), ("tents", tents),
        ("devices", journal.devices),
    )  # fmt: skip
    for what, rows in kinds:
        if rows:
            yield what, str(len(rows)), _named([row.id for row in rows])
    titles = [entry.title for entry in reversed((*journal.notes, *journal.tent_entries))]
    yield "notes and tent entries", str(len(titles)), _named(titles)
    note = "as large as on the site; look at each of them" if journal.photos else ""
    yield "photos", str(len(journal.photos)), note
    positions = [(find.id, find.position.grid_deg) for find in journal.finds if find.position]
    if positions:
        words = (f"{id} as a square of {grid:g}°" if grid else f"{id} exactly" for id, grid in positions)
        yield "positions", str(len(positions)), "; ".join(words)
    days = sum(len(log.stamps_s) for log in journal.logs)
    if days:
        yield "days of climate", str(days), "the medians of each day"
    if journal.settings.poison_centre:
        yield "poison centre", "", f"its telephone number, {journal.settings.poison_centre}"
    yield "title", "", journal.settings.title
    yield "times of day", "", "none, only dates" if prepared.share.times == "day" else "to the minute"


def _left_out(prepared: Prepared) -> Iterator[ShareRow]:
    grouped: dict[tuple[str, str], list[LeftOutOfShare]] = defaultdict(list)
    for row in prepared.redaction.left_out:
        by_itself = (row.what, row.reason) == ("position", "hidden") and prepared.share.positions != "hidden"
        grouped[row.what, "hidden by itself" if by_itself else row.reason].append(row)
    if rows := [*left_out_rows(prepared)]:
        yield "texts", str(len(rows)), f"you left them out: {_named(rows)}"
    shows = {"area": f"{prepared.share.area_deg:g}°", "positions": prepared.share.positions}
    for (what, reason), kept_back in grouped.items():
        why = f"{_WHY[reason].format(**shows)}: {_named([row.which for row in kept_back])}"
        yield _SEVERAL.get(what, f"{what}s"), str(len(kept_back)), why


def _named(names: Sequence[str]) -> str:
    return "; ".join(first_of(names, MOST_NAMED, "and {more} more"))


def doubt_lines(prepared: Prepared) -> Iterator[str]:
    """A line if entries have errors, because a name in an entry that cannot be read is not known to be private. A line
    for each thing that was treated as private, and for each file that is not UTF-8."""
    paths = {problem.path for problem in prepared.read.journal.problems if problem.severity == "error"}
    if count := sum(path.endswith(".md") for path in paths):
        yield (
            f"{counted(count, 'entry has', 'entries have')} errors (`journal check` lists them). That stops no share, "
            "but a private name or place that cannot be read there may appear in another entry: look for it, or fix "
            "the errors and make the share again"
        )
    doubts = [one for one in prepared.read.journal.problems if COUNTS_AS_PRIVATE in one.message or AS_UTF_8 in one.fix]
    yield from first_of([*map(str, doubts)], MOST_DOUBTS, "and {more} more; `journal check` lists them all")
    yield from _private_name_lines(prepared)
    for find in prepared.read.journal.finds:
        if find.place and is_bare(find.place):
            yield (
                f"{find.path}: the place {find.place} is taken out of texts only after a word such as place, spot or "
                "plot, because numbers and single letters occur everywhere. A name is taken out everywhere; give the "
                f"place one, like plot {find.place}"
            )


def _private_name_lines(prepared: Prepared) -> Iterator[str]:
    """A line for each find that the share shows under a name which a private note says is wrong."""
    shown = Analysis(prepared.redaction.journal).identifications
    for doubt in private_doubts(prepared.read.journal, prepared.redaction.grant):
        id, name = doubt.find.id, shown[doubt.find.id][-1].species
        if doubt.is_another and name:
            yield (
                f"{doubt.note}: this private note identifies {id} as {doubt.species}, another species than the share "
                f"shows: {name}. The share calls {id} unsure and says nothing of the note. Share the note (take "
                f"`private` out of it), or leave the find out (write `private: yes` in {doubt.find.path})"
            )


def make_share(
    workspace: Workspace, name: str, to: Path | None, reviewed: bool = False, lock: LockRequest | None = None
) -> None:
    """Makes the share and prints where it is, once its author has looked at everything in it: in the terminal, or, if
    `reviewed`, on the last preview page. lock: how a locked share gets its key and passphrase. Raises Refusal if it
    cannot be made, contains something that the author has not looked at, or reveals something private."""
    out = shares_folder(workspace.root, to)
    keys = _keys(workspace, name, out, lock or LockRequest())
    with _prepared(workspace, name) as (file_cache, prepared):
        _refuse_target(workspace, prepared, out)
        if reviewed:
            today = today_in(prepared.read.journal.settings.time_zone)
            shown = _listed(workspace, refuse_unless_shown, prepared)
            prepared = remember(file_cache, prepared, today, shown)
        new = prepared.review.new
        if not (new and can_ask()):
            made, prepared = _made(workspace, file_cache, prepared, out, keys)
            _report_share(workspace, made, prepared)
            return
        with _preview_folder(workspace, prepared, None) as page_folder:
            page = preview_page(file_cache, prepared, page_folder, workspace.output.progress)
    workspace.output.notice(new_in_words(new))
    decided = step_through(new, str(page))  # with no lock held, because nobody knows how long a person looks
    with _prepared(workspace, name, with_doubts=False) as (file_cache, prepared):
        _refuse_target(workspace, prepared, out)
        today = today_in(prepared.read.journal.settings.time_zone)
        prepared = remember(file_cache, prepared, today, decided.looked_at, decided.left_out)
        if decided.stopped:
            raise Refusal(f"the share {prepared.share.name} was not made; what you looked at so far is remembered")
        made, prepared = _made(workspace, file_cache, prepared, out, keys)
    _report_share(workspace, made, prepared)


def _keys(workspace: Workspace, name: str, out: Path, lock: LockRequest) -> KeyFile | None:
    """The keys, with one for this share, if its settings say that it is locked; asks while no lock is held."""
    share = share_to_be_locked(workspace.root, name)
    if share is None:
        return None
    return keys_to_lock_with(workspace, lock, share, share_folder(out, share) / PAGES)


def _refuse_target(workspace: Workspace, prepared: Prepared, out: Path) -> None:
    """Raises Refusal if the share may not be in that folder."""
    folder = share_folder(out, prepared.share.name)
    if folder.is_relative_to(workspace.cache_folder) or workspace.cache_folder.is_relative_to(folder):
        raise Refusal(f"--to {folder} is in the cache folder or contains it; name another folder")
    refuse_unless_ours(folder, workspace.root, SHARE_SENTENCE)


def _listed(workspace: Workspace, do: Callable[[Prepared], T], prepared: Prepared) -> T:
    """The result of `do`; if it finds pieces that the author has not looked at, they are listed."""
    try:
        return do(prepared)
    except NotReviewed as unseen:
        workspace.output.notice(*new_lines(unseen.pieces), new_in_words(unseen.pieces))
        raise


def _made(
    workspace: Workspace, file_cache: FileCache, prepared: Prepared, out: Path, keys: KeyFile | None
) -> tuple[FinishedShare, Prepared]:
    made = None

    def make(prepared: Prepared) -> FinishedShare:
        return make_share_files(file_cache, prepared, out, workspace.output.progress, keys)

    try:
        with workspace.at_target(out / prepared.share.name, within=out):
            made = _listed(workspace, make, prepared)
            day = today_in(prepared.read.journal.settings.time_zone)
            return made, remember(file_cache, prepared, day, ())  # without pieces that no longer go out
    except LeaksFound as found:
        leaks = first_of([*map(str, found.leaks)], MOST_LEAKS, "and {more} more such places")
        workspace.output.notice(*leaks, FIX)
        raise
    except Exception as error:
        if made is not None:
            error.add_note(f"The share was made: {share_folder(out, prepared.share.name)}.")
        raise


def _report_share(workspace: Workspace, made: FinishedShare, prepared: Prepared) -> None:
    entries = counted(sum(1 for _ in made.journal.entries()), "entry", "entries")
    workspace.output.notice(
        f"{entries} and {counted(len(made.journal.photos), 'photo')} shared; "
        f"{counted(made.pages, 'page')} in {workspace.seconds:.1f} s; "
        f"{size_in_mb(made.pages_bytes)} as a folder, {size_in_mb(made.archive_bytes)} as a zip. "
        f"{_what_to_do(made, prepared.share.locked)}",
        closing_words(prepared),
    )
    try:
        for path in (made.pages_folder, made.archive):
            click.echo(plain(str(path)))
    except BrokenPipeError:
        raise
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise Refusal(f"the share was made, but its paths could not be printed ({reason})") from error


def _what_to_do(made: FinishedShare, locked: bool) -> str:
    if not locked:
        return f"To see it, open {made.pages_folder / 'index.html'}"
    return (
        "It is locked: put the folder on any static HTTPS host, send the address, and send the passphrase another way "
        f"({made.pages_folder} does not open by double click)"
    )


def preview_share(workspace: Workspace, name: str, to: Path | None, as_json: bool = False) -> None:
    """Prints what would be shared and what would not, and writes a preview of every text and photo; makes no share.
    as_json: prints every text and photo as one JSON document instead, and writes no preview."""
    with _prepared(workspace, name) as (file_cache, prepared):
        if as_json:
            click.echo(review_json(prepared))
            return
        with _preview_folder(workspace, prepared, to) as folder:
            page = preview_page(file_cache, prepared, folder, workspace.output.progress)
    name, new = prepared.share.name, prepared.review.new
    with printing_result(f"The page to look at is {page}."):
        click.echo(share_table(prepared))
    look = f"Look at {counts_in_words(prepared.review.going_out) or 'what would be shared'}: open {page}"
    then = f"then run `journal share {name} --reviewed`" if new else "nothing on it is new"
    workspace.output.notice(*([new_in_words(new)] if new else []), f"{look}; {then}. No share was made")


@contextmanager
def _prepared(workspace: Workspace, name: str, with_doubts: bool = True) -> Iterator[tuple[FileCache, Prepared]]:
    """The share, read and redacted, while no other command uses the journal; what was read is cached."""
    with build_lock(workspace.cache_folder, lambda: workspace.output.notice(WAITING)), workspace.output:
        file_cache = workspace.memory()
        prepared = prepare(file_cache, name, workspace.output.progress)
        if with_doubts:
            workspace.output.notice(*doubt_lines(prepared))
        yield file_cache, prepared
        file_cache.cache.save()


@contextmanager
def _preview_folder(workspace: Workspace, prepared: Prepared, to: Path | None) -> Iterator[Path]:
    """The folder of the preview; if none is named, one in a temporary folder that others cannot open, since the page
    also shows what is left out; the temporary one is removed if it stays empty."""
    if to is not None:
        folder = share_folder(shares_folder(workspace.root, to), f"{prepared.share.name}-preview")
        with workspace.at_target(folder, within=folder.parent):
            yield folder
        return
    folder = Path(tempfile.mkdtemp(prefix="journal-preview-")).resolve()
    try:
        yield folder / "preview"
    except BaseException:
        with suppress(OSError):
            folder.rmdir()
        raise
