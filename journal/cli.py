"""The commands: their arguments, options and help. The work is done elsewhere."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

import click

from journal import __version__
from journal.commands import for_others
from journal.commands.options import CACHE, FOLDER, KEYS, LOCKED, PASSPHRASE_FILE, TO, folder_option

# What a command needs is imported when it runs: `journal --help` has to answer at once. It returns its exit code.

KINDS = ("find", "culture", "batch", "note", "tent", "device")


class _Kind(click.Choice[str]):
    """A kind of entry, which may be called `tent-entry` for `tent`, or another word."""

    def __init__(self, *others: str) -> None:
        super().__init__((*KINDS, *others, "tent-entry"))

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        kind = super().convert(value, param, ctx)
        return "tent" if kind == "tent-entry" else kind


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, message="%(version)s")
def cli() -> None:
    """A journal of wild mushrooms, from the find in the wood to the harvest on the scale.

    A journal is a folder of plain text files with photos next to them. `journal build` makes a site from them that
    your phone can save and open without a signal.

    FOLDER is a journal. Without it, a command works on the journal that the current folder is in.
    """


@cli.command(short_help="Start a new journal.")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--title", help="Title of the journal.")
@click.option("--author", help="Your name, shown under the entries.")
@click.option("--time-zone", help="Your time zone, like Europe/London.")
@click.option("--units", metavar="metric or us", help="Units on the pages: metric (g, kg, °C), or us (oz, lb, °F).")
@click.option("--logger", "log", type=click.Path(path_type=Path), metavar="FILE", help="A data logger's CSV file.")
def start(
    folder: Path, title: str | None, author: str | None, time_zone: str | None, units: str | None, log: Path | None
) -> None:
    """Start a new journal in FOLDER, with settings and an example of each kind of entry.

    You are asked for whatever no option gives; press Enter to accept the answer in brackets. A data logger's CSV files
    that are in FOLDER/climate already are connected as `journal logger` does.
    """
    from journal.cache.folders import new_folder
    from journal.commands import console, logger
    from journal.commands.prompts import ask_for, units_named
    from journal.writing import new_journal

    new_folder(folder)
    units = units_named(units) if units else None
    new_journal.write_journal(folder, ask_for(folder, title, author, time_zone, units))
    logger.offer(folder.resolve(), log, asking=not (title and author and time_zone and units))
    with console.printing_result(f"The journal was made in {folder}."):
        console.print_next_steps(folder)


@cli.command(short_help="Add an entry, with the next free ID.")
@click.argument("kind", type=_Kind())
@FOLDER
@click.option("--about", metavar="ID", help="What the entry is about: the find you cloned, a note's batch, a tent …")
@click.option("--form", metavar="FORM", help="Of a culture: plate, slant, liquid, grain … (asked for where not given).")
@click.option("--id", "id", metavar="ID", help="The ID, where a label has it already (default: the next free one).")
@click.option("--edit", is_flag=True, help="Open the new file in your editor ($EDITOR).")
def new(kind: str, folder: Path | None, about: str | None, form: str | None, id: str | None, edit: bool) -> None:
    """Add an entry to the journal, with the next free ID and the usual keys to fill in.

    A comment above each key says what it takes. A find, a note or a tent entry has no date written: it comes from a
    photo of it, or else from the file's name. A note about a tent is a tent entry (tent and tent-entry are the same).

    Prints the path of the new file. Never overwrites a file.
    """
    from journal.commands.console import plain, printing_result
    from journal.commands.new import add_entry
    from journal.commands.workspace import open_workspace

    with open_workspace(folder) as workspace:
        path = add_entry(workspace, kind, about, form, id)
    shown = plain(str(folder / path) if folder else os.path.relpath(workspace.root / path))
    with printing_result(f"The entry was written: {shown}."):
        click.echo(shown)
    if edit:
        click.edit(filename=str(workspace.root / path))


@cli.command(short_help="Connect a data logger's CSV file to a tent.")
@click.argument("file", type=click.Path(path_type=Path, readable=False))
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.option("--tent", metavar="ID", help="The tent or room that the logger was in.")
@click.option("--time", metavar="COLUMN", help="The column of times.")
@click.option("--temperature", metavar="COLUMN", help="The column of temperatures, or none.")
@click.option("--humidity", metavar="COLUMN", help="The column of humidities, or none.")
@click.option("--humidity-accuracy", metavar="PERCENT", help="How accurate the humidity is, or unknown.")
@click.option("--day-first/--month-first", default=None, help="Which is first in dates, if no day exceeds 12.")
@click.option("--time-zone", metavar="ZONE", help="The zone that the logger's clock is set to, like UTC.")
@click.option("--yes", is_flag=True, help="Add the lines to journal.toml without asking.")
def logger(file: Path, folder: Path | None, **answers: Any) -> None:
    """Connect FILE, a CSV file of a data logger, to a tent: a [[climate]] table of journal.toml says how it is read.

    Columns, units and the format of the times are found from the file; you are asked for what it leaves open. The lines
    are shown first, and added to journal.toml only if you say yes; nothing else in it changes. A file from elsewhere
    is copied into the journal's folder climate.
    """
    from journal.commands.logger import LoggerAnswers, connect, journal_of

    connect(file, journal_of(file, folder), LoggerAnswers(**answers))


@cli.command(short_help="Copy photos from a camera or phone into the journal.")
@click.argument("named", metavar="[ID] PHOTOS…", nargs=-1, required=True, type=click.Path(readable=False))
@click.option("--stage", metavar="STAGE", help="The stage shown in the photos: pinning, fruiting …")
@click.option("--by-day", is_flag=True, help="Write one note per day if the photos were taken on several days.")
@click.option("--by-label", is_flag=True, help="No ID: photos are of what the label photographed before them names.")
@click.option("--pause", metavar="TIME", help="How soon each follows the one before it, by label (default: 5 min).")
@click.option("--with-labels", is_flag=True, help="Copy the photos of labels too.")
@folder_option("--sheet", metavar="FILE", help="Write a contact sheet of --by-label there: an HTML page to look at.")
@click.option("--yes", is_flag=True, help="Write what --by-label found, without asking.")
@folder_option(
    "--into",
    metavar="FOLDER",
    help="The journal, if it is not the one you are in; or the folder in it for the photos.",
)
@click.option("--date", metavar="DAY", help="The day of photos that have no time in them, like 2026-10-27.")
@click.option("--dry-run", is_flag=True, help="Show what would be done, and change nothing.")
@CACHE
def attach(named: tuple[str, ...], into: Path | None, date: str | None, cache: Path | None, **request: Any) -> int:
    """Copy PHOTOS into the journal and write a note about ID: a batch, culture, find or device, or a part (B-031.2).

    PHOTOS are files or folders. Each photo is copied next to the entry it belongs to, and the copy is verified; your
    originals stay where they are. The note's date is the day on which the photos were taken (EXIF). Photos that are in
    the journal already are recognised by their content and skipped. For a tent, a tent entry is written.

    With --by-label, photograph a label, then what it belongs to, then the next label. A table shows where each photo
    would go and why; you are asked about photos that cannot be matched to a label. If you agree, what follows each
    label becomes a note of its ID and day.

    Prints the path of each note. Exits with 1 if a photo was skipped because of a problem.
    """
    from journal.commands.attach import AttachRequest, attach_photos
    from journal.commands.attach_by_label import ByLabelRequest, attach_by_label
    from journal.commands.prompts import day_named
    from journal.commands.workspace import open_workspace
    from journal.importing.destinations import journal_and_folder

    if not all(named):  # an empty shell variable, which as a path would be the current folder
        raise click.BadParameter("one of PHOTOS is empty; name files or folders")
    root, folder = journal_and_folder(Path(), into)
    day = day_named(date) if date is not None else None
    with open_workspace(None if into is None else root, cache=cache) as workspace:
        if request["by_label"]:
            return attach_by_label(workspace, ByLabelRequest.typed(named, folder, day, **request))
        return attach_photos(workspace, AttachRequest.typed(named, folder, day, **request))


@cli.command(short_help="Import what you recorded on the phone.")
@click.argument(
    "named", metavar="ARCHIVE… [FOLDER]", nargs=-1, required=True, type=click.Path(path_type=Path, readable=False)
)
@click.option("--dry-run", is_flag=True, help="Show what would be imported, and change nothing.")
@click.option("--again", is_flag=True, help="Also import what was imported earlier and is no longer in the journal.")
@PASSPHRASE_FILE
@CACHE
def gather(
    named: tuple[Path, ...], dry_run: bool, again: bool, passphrase_file: Path | None, cache: Path | None
) -> int:
    """Import records that a phone exported: ARCHIVE is a file journal-….zip, or a folder with such files.

    Every file is verified by its digest. Each record gets a folder of its own in the journal, named by date, kind and
    ID; nothing is overwritten, and the same archive again changes nothing. What was imported and then removed from the
    journal stays out, unless --again is given. Of an archive that is cut off, what is complete is imported, and what is
    missing is named.

    Prints the path of each entry, and the code that confirms to the phone that its records are in the journal. Exits
    with 1 if something is missing.
    """
    from journal.commands.gather import GatherRequest, archives_and_journal, gather_archives
    from journal.commands.workspace import open_workspace

    archives, folder = archives_and_journal(named, Path())
    with open_workspace(folder, cache=cache) as workspace:
        return gather_archives(workspace, GatherRequest(archives, passphrase_file, dry_run, again))


@cli.command(short_help="Make a sheet of labels to print.")
@click.argument("ids", nargs=-1)
@click.option("--of", metavar="ID", help="One label for each unit of a batch, or each vessel of a culture.")
@click.option(
    "--new",
    "ahead",
    metavar="KIND N",
    nargs=2,
    type=(click.Choice(["find", "culture", "batch", "device"]), click.IntRange(1, 500)),
    help="N labels with new IDs, to be used when first recorded: --new batch 12.",
)
@click.option("--size", metavar="SIZE", help="dish (30 x 15 mm), jar (50 x 30), block (70 x 40), or one of your own.")
@click.option("--sheet", type=click.Choice(["A4", "Letter"], case_sensitive=False), help="The paper.")
@click.option("--first", metavar="N", default=1, help="Start at the N-th place of a sheet that is half used.")
@folder_option("--into", metavar="FOLDER", help="The journal, if it is not the one you are in.")
@folder_option("--to", metavar="FILE.html", default="labels.html", show_default=True, help="The file to write.")
@CACHE
def labels(into: Path | None, cache: Path | None, **request: Any) -> None:
    """Make a sheet of labels, as a page to print from any browser: of IDs, of parts (B-031.2), or of new IDs.

    Each label has the ID, what it is and came from, its date, and a QR code: the address of its page where `site_url`
    is set, else the ID. No label reveals a place. IDs of --new are reserved in journal.toml, and no other entry gets
    them. Print at full size (100 %).

    Prints the path of the file. An earlier sheet there is replaced; nothing else is.
    """
    from journal.commands.console import plain, printing_result
    from journal.commands.labels import LabelsRequest, print_labels
    from journal.commands.workspace import open_workspace

    with open_workspace(into, cache=cache) as workspace:
        target = print_labels(workspace, LabelsRequest(**request))
    with printing_result(f"The sheet was written: {target}."):
        click.echo(plain(str(target)))


@cli.command(short_help="Receive records from the phone over the home network.")
@FOLDER
@click.option("--address", metavar="IP", help="This computer's address on the home network (default: found out).")
@click.option("--port", type=click.IntRange(1, 65535), default=8470, show_default=True, help="The port to serve on.")
@click.option("--yes", is_flag=True, help="Gather what is received without asking.")
@PASSPHRASE_FILE
@CACHE
def receive(
    folder: Path | None, address: str | None, port: int, yes: bool, passphrase_file: Path | None, cache: Path | None
) -> int:
    """Receive what a phone exported: an upload page on the home network, and what is received is gathered.

    Shows a QR code with the page's address, which has a new token each time. Open it on the phone, choose the files
    that the outbox exported, and say yes here; the page then shows the receipt codes. It stops by itself after 15
    minutes with nothing sent, or with Ctrl-C. What is sent is not encrypted on its way: use a network you trust, or
    export under a passphrase.
    """
    from journal.commands.receive import ReceiveRequest, receive_archives
    from journal.commands.workspace import open_workspace

    with open_workspace(folder, cache=cache) as workspace:
        return receive_archives(workspace, ReceiveRequest(address, port, yes, passphrase_file))


@cli.command(short_help="Build the site.")
@FOLDER
@TO
@CACHE
@LOCKED
@PASSPHRASE_FILE
@KEYS
@click.option(
    "--check-cache",
    is_flag=True,
    help="Then build it again without the cache, in a temporary folder, and list the files that differ.",
)
@click.option(
    "--workers", metavar="ADDRESS", help="Photo work on a dask.distributed cluster: its scheduler, tcp://HOST:PORT."
)
def build(
    folder: Path | None,
    to: Path | None,
    cache: Path | None,
    locked: bool,
    check_cache: bool,
    workers: str | None,
    **lock: Any,
) -> int:
    """Build the site: pages, photos in a few sizes, and what a phone needs to save it.

    Only what changed since the last build is built again. The site goes into a folder `site` next to the journal unless
    --to names another one. Problems in entries never stop a build: the site lists them on its page Problems.

    With --locked, the site is encrypted: its readers need a passphrase (`journal readers`), the host learns nothing but
    how many files there are, how large, and when they change.

    With --check-cache, it exits with 1 if a file of the site differs from a clean build.

    With --workers, a cluster's workers make the photos' sizes, with the same result. The photos are sent to them as
    they are, positions included.
    """
    from journal.commands import console
    from journal.commands.plain_or_locked import to_build
    from journal.commands.workspace import LockRequest, open_workspace

    with open_workspace(folder, to, cache) as opened, opened.photo_work_at(workers) as executor:
        workspace = to_build(opened, LockRequest(**lock), locked)
        built = workspace.build(executor)
        where = console.where_it_is(workspace.site, workspace.keys is not None)
        workspace.keep_words(built, where)
    workspace.output.notice(console.closing_line(built, workspace.seconds), where)
    left: list[object] = [opened, built]
    left.append(left)  # a circle, which is garbage: taking a large journal apart takes longer than ending does
    if check_cache:
        differing = workspace.compare_with_clean()
        workspace.output.notice(console.comparison_with_clean(differing, workspace.cache_folder))
        return 1 if differing else 0
    return 0


@cli.command(short_help="List the problems in the entries.")
@FOLDER
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document, for editors and scripts.")
@click.option(
    "--explain",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Show each line of one entry, and how it was read.",
)
@CACHE
def check(folder: Path | None, as_json: bool, explain: Path | None, cache: Path | None) -> int:
    """List the problems in the entries, settings, photos and logger files: PATH:LINE: error: MESSAGE; fix: FIX

    An error is a value or file that cannot be used until you fix it. A warning is used as it is, but check it. A
    summary ends the list.

    \b
    Exit codes:
      0    no error; there may be warnings
      1    at least one error (with --explain: in that file)
      2    the journal could not be checked, or the command was not understood
      130  stopped with Ctrl-C
      143  stopped by SIGTERM
    """
    from journal.commands.check import check_journal, explain_file
    from journal.commands.workspace import open_workspace

    if as_json and explain is not None:
        raise click.UsageError("--json and --explain cannot be given together; leave out one of them")
    with open_workspace(folder, cache=cache) as workspace:
        return check_journal(workspace, as_json) if explain is None else explain_file(workspace, explain)


@cli.command(short_help="List the keys of an entry, or the settings.")
@click.argument("kind", type=_Kind("settings"), required=False)
def keys(kind: str | None) -> None:
    """List every key of a KIND of entry: what it means, what it takes, and an example. Without KIND: of every kind.
    With `settings`: what journal.toml takes.

    The built site has the same as its page Format.
    """
    from journal.commands.list_keys import print_keys, print_settings

    print_settings() if kind == "settings" else print_keys(kind)


@cli.command(short_help="Build the site and show it on this computer.")
@FOLDER
@TO
@CACHE
@click.option("--locked", is_flag=True, help="Show the locked site as a phone gets it, behind its passphrase.")
@KEYS
@click.option("--port", type=click.IntRange(0, 65535), help="Port to serve on; 0 for any free port.")
def show(
    folder: Path | None, to: Path | None, cache: Path | None, locked: bool, keys: Path | None, port: int | None
) -> None:
    """Build the site, show it on this computer, and build it again whenever you save a file. Ctrl-C ends it.

    Problems in the entries are listed with file and line, and after each build those that are new. Other computers
    cannot open the site. Where the settings say `locked = true`, it is built plain in the cache and shown from there;
    the locked site is as `journal build` left it.
    """
    from journal.commands.plain_or_locked import shown_of
    from journal.commands.show import show_site
    from journal.commands.workspace import LockRequest, open_workspace

    with open_workspace(folder, to, cache) as workspace:
        show_site(shown_of(workspace, LockRequest(keys), locked), port)


for command in (for_others.readers, for_others.share, for_others.export):
    cli.add_command(command)


def main() -> None:
    """The command `journal`. It prints a traceback only where JOURNAL_TRACEBACK asks for one."""
    from journal.commands.console import run

    sys.exit(run(cli, sys.argv[1:]))
