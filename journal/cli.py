"""The commands: their arguments, options and help. The work is done elsewhere."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import Literal

import click

from journal import __version__

# What a command needs is imported when it runs: `journal --help` has to answer at once.

KINDS = ("find", "culture", "batch", "note", "tent", "device")

_FOLDER = click.argument("folder", default=".", type=click.Path(path_type=Path))
_folder_option = partial(click.option, type=click.Path(path_type=Path), metavar="DIR")
_CACHE = _folder_option(
    "--cache",
    help="Where to cache what was read and made (default: your cache folder). You can delete it at any time.",
)
_TO = _folder_option("--to", help="Folder for the site: new, empty, or an earlier site, which is replaced.")


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, message="%(version)s")
def cli() -> None:
    """A journal of wild mushrooms, from the find in the wood to the harvest on the scale.

    A journal is a folder of plain text files with photos beside them. `journal build` makes a site from them that
    your phone can save and open without a signal.

    FOLDER defaults to the current folder.
    """


@cli.command(short_help="Start a new journal.")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--title", help="Title of the journal.")
@click.option("--author", help="Your name, shown under the entries.")
@click.option("--time-zone", help="Your time zone, like Europe/London.")
@click.option("--units", type=click.Choice(["metric", "us"]), help="Units on the pages.")
def start(folder: Path, title: str | None, author: str | None, time_zone: str | None, units: str | None) -> None:
    """Start a new journal in FOLDER, with settings and an example of each kind of entry.

    You are asked for whatever no option gives; press Enter to accept the answer in brackets.
    """
    from journal.cache.folders import new_folder
    from journal.commands import console
    from journal.commands.prompts import ask_for
    from journal.writing import new_journal

    new_folder(folder)
    new_journal.write_journal(folder, ask_for(folder, title, author, time_zone, units))
    with console.printing_result(f"The journal was made in {folder}."):
        console.what_comes_next(folder)


@cli.command(short_help="Add an entry, with the next free ID.")
@click.argument("kind", type=click.Choice(KINDS))
@_FOLDER
@click.option("--about", metavar="ID", help="What the entry is about: the find you cloned, a note's batch, a tent …")
@click.option("--edit", is_flag=True, help="Open the new file in your editor ($EDITOR).")
def new(kind: str, folder: Path, about: str | None, edit: bool) -> None:
    """Add an entry to the journal, with the next free ID, today's date and the usual keys to fill in.

    Prints the path of the new file. Never overwrites a file.
    """
    from journal.commands.console import plain, printing_result
    from journal.commands.prompts import today_in
    from journal.commands.workspace import open_workspace
    from journal.pipeline import read_files
    from journal.writing.new_entry import new_entry, write_blank

    with open_workspace(folder) as workspace:
        memory = workspace.memory()
        written = read_files(memory, workspace.output.progress)
        memory.cache.save()
    made = new_entry(kind, written.drafts, written.settings, today_in(written.settings.time_zone), about)
    path = write_blank(workspace.root, made.path, made.text)
    with printing_result(f"The entry was written: {folder / path}."):
        click.echo(plain(str(folder / path)))
    if edit:
        click.edit(filename=str(workspace.root / path))


@cli.command(short_help="Copy photos from a camera or phone into the journal.")
@click.argument("id")
@click.argument("photos", nargs=-1, required=True, type=click.Path(readable=False))
@click.option("--stage", metavar="STAGE", help="The stage shown in the photos: pinning, fruiting …")
@click.option("--by-day", is_flag=True, help="Write one note per day if the photos were taken on several days.")
@_folder_option(
    "--into",
    metavar="FOLDER",
    help="The journal, if it is not the current folder; or the folder in it for the photos.",
)
@click.option("--date", metavar="DAY", help="The day of photos that have no time in them, like 2026-10-27.")
@click.option("--dry-run", is_flag=True, help="Show what would be done, and change nothing.")
@_CACHE
def attach(
    id: str,
    photos: tuple[str, ...],
    stage: str | None,
    by_day: bool,
    into: Path | None,
    date: str | None,
    dry_run: bool,
    cache: Path | None,
) -> None:
    """Copy PHOTOS into the journal and write a note about ID: a batch, culture, find or device, or a part (B-031.2).

    PHOTOS are files or folders. Each photo is copied beside the entry it belongs to, and the copy is verified; your
    originals stay where they are. The note's date is the day on which the photos were taken (EXIF). Photos that are in
    the journal already are recognised by their content and skipped. For a tent, a tent entry is written.

    Prints the path of each note. Exits with 1 if a photo was skipped because of a problem.
    """
    from journal.commands.attach import AttachRequest, attach_photos
    from journal.commands.prompts import day_named
    from journal.commands.workspace import open_workspace
    from journal.importing.destinations import journal_and_folder

    if not all(photos):  # an empty shell variable, which as a path would be the current folder
        raise click.BadParameter("one of PHOTOS is empty; name files or folders")
    root, folder = journal_and_folder(Path(), into)
    day = day_named(date) if date is not None else None
    named = [Path(photo) for photo in photos]
    with open_workspace(root, cache=cache) as workspace:
        status = attach_photos(workspace, AttachRequest(id, named, stage, folder, day, by_day, dry_run))
    if status:
        sys.exit(status)


_PASSPHRASE_FILE = click.option(
    "--passphrase-file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A file whose first line is the passphrase of locked archives. Else JOURNAL_PASSPHRASE, or you are asked.",
)


@cli.command(short_help="Take in what you recorded on the phone.")
@click.argument(
    "named", metavar="ARCHIVE… [FOLDER]", nargs=-1, required=True, type=click.Path(path_type=Path, readable=False)
)
@click.option("--dry-run", is_flag=True, help="Show what would come in, and change nothing.")
@_PASSPHRASE_FILE
@_CACHE
def gather(named: tuple[Path, ...], dry_run: bool, passphrase_file: Path | None, cache: Path | None) -> None:
    """Take in records that a phone exported: ARCHIVE is a file journal-….zip, or a folder with such files.

    Every file is verified by its digest. Each record gets a folder of its own in the journal, named by date, kind and
    ID; nothing is overwritten, and the same archive again changes nothing. Of an archive that is cut off, what is whole
    comes in, and what is missing is named.

    Prints the path of each entry, and the code that tells the phone that its records have come in. Exits with 1 if
    something is missing.
    """
    from journal.commands.gather import GatherRequest, archives_and_journal, gather_archives
    from journal.commands.workspace import open_workspace

    archives, folder = archives_and_journal(named, Path())
    with open_workspace(folder, cache=cache) as workspace:
        status = gather_archives(workspace, GatherRequest(archives, passphrase_file, dry_run))
    if status:
        sys.exit(status)


@cli.command(short_help="Receive records from the phone over the home network.")
@_FOLDER
@click.option("--address", metavar="IP", help="This computer's address on the home network (default: found out).")
@click.option("--port", type=click.IntRange(1, 65535), default=8470, show_default=True, help="The port to serve on.")
@click.option("--yes", is_flag=True, help="Gather what lands without asking.")
@_PASSPHRASE_FILE
@_CACHE
def receive(
    folder: Path, address: str | None, port: int, yes: bool, passphrase_file: Path | None, cache: Path | None
) -> None:
    """Receive what a phone exported: an upload page on the home network, and what lands is gathered.

    Shows a QR code with the page's address, which has a new token each time. Open it on the phone, choose the files
    that the outbox exported, and say yes here; the page then shows the receipt codes. It stops by itself after 15
    minutes with nothing sent, or with Ctrl-C. What is sent is not encrypted on its way: use a network you trust, or
    export under a passphrase.
    """
    from journal.commands.receive import ReceiveRequest, receive_archives
    from journal.commands.workspace import open_workspace

    with open_workspace(folder, cache=cache) as workspace:
        status = receive_archives(workspace, ReceiveRequest(address, port, yes, passphrase_file))
    if status:
        sys.exit(status)


@cli.command(short_help="Build the site.")
@_FOLDER
@_TO
@_CACHE
@click.option(
    "--check-cache",
    is_flag=True,
    help="Then build it again without the cache, in a temporary folder, and list the files that differ.",
)
def build(folder: Path, to: Path | None, cache: Path | None, check_cache: bool) -> None:
    """Build the site: pages, photos in a few sizes, and what a phone needs to save it.

    Only what changed since the last build is built again. The site goes into a folder `site` beside the journal unless
    --to names another one. Problems in entries never stop a build: the site lists them on its page Problems.

    With --check-cache, it exits with 1 if a file of the site differs from a clean build.
    """
    from journal.commands import console
    from journal.commands.workspace import open_workspace

    with open_workspace(folder, to, cache) as workspace:
        built = workspace.build()
    workspace.output.notice(console.closing_line(built, workspace.seconds))
    workspace.output.notice(f"The site is in {workspace.site}; open its index.html, or run `journal show`")
    if check_cache:
        found = workspace.compare_with_clean()
        for path, how in found:
            click.echo(console.plain(f"{path}: {how}"))
        workspace.output.notice(console.comparison_with_clean(len(found), workspace.cache_folder))
        if found:
            sys.exit(1)


@cli.command(short_help="List the problems in the entries.")
@_FOLDER
@_CACHE
def check(folder: Path, cache: Path | None) -> None:
    """List the problems in the entries, settings, photos and logger files: PATH:LINE: error: MESSAGE; fix: FIX

    An error is a value or file that cannot be used until you fix it. A warning is used as it is, but check it. Exits
    with 1 if there is an error.
    """
    from journal.commands import console
    from journal.commands.console import plain
    from journal.commands.workspace import open_workspace

    with open_workspace(folder, cache=cache) as workspace:
        problems = workspace.problems()
    for problem in problems:
        click.echo(plain(str(problem)))
    workspace.output.notice(console.problem_counts(problems))
    if any(problem.severity == "error" for problem in problems):
        sys.exit(1)


@cli.command(short_help="Build the site and show it on this computer.")
@_FOLDER
@_TO
@_CACHE
@click.option("--port", type=click.IntRange(0, 65535), help="Port to serve on; 0 for any free port.")
def show(folder: Path, to: Path | None, cache: Path | None, port: int | None) -> None:
    """Build the site, show it on this computer, and build it again whenever you save a file. Ctrl-C ends it.

    Other computers cannot open it.
    """
    from journal.commands import console, show
    from journal.commands.workspace import open_workspace
    from journal.reading.folder import scan

    with open_workspace(folder, to, cache) as workspace:
        before = scan(workspace.root)
        built = workspace.build()
        with show.served(workspace.site, port) as address:
            workspace.output.notice(console.counts(built))
            workspace.output.notice(f"Showing {workspace.site} at {address} until you press Ctrl-C")
            show.watch(workspace.root, before, lambda: workspace.output.notice(workspace.build_again()))


@cli.command(short_help="Make a copy to share, without what is private.")
@click.argument("name")
@_FOLDER
@_folder_option(
    "--to",
    help="Where to put the folder NAME, with `pages` and NAME.zip in it (default: `shares` beside the site). An "
    "earlier share there is replaced.",
)
@click.option("--preview", is_flag=True, help="List what would be shared and show every photo; make no share.")
@_CACHE
def share(name: str, folder: Path, to: Path | None, preview: bool, cache: Path | None) -> None:
    """Make a copy of the journal for someone else: what [shares.NAME] in the settings allows, and nothing else.

    The result is a folder and a zip to send; unzipped, it opens with a double click and needs no signal. The finished
    pages are searched for anything private; if anything is found, no share is made. Look first, with --preview.

    Prints the paths of the pages' folder and of the zip.
    """
    from journal.commands.share import make_share, preview_share
    from journal.commands.workspace import open_workspace

    with open_workspace(folder, cache=cache) as workspace:
        (preview_share if preview else make_share)(workspace, name, to)


@cli.command(short_help="Export the whole journal as JSON or CSV.")
@_FOLDER
@click.option(
    "--as",
    "form",
    type=click.Choice(["json", "csv"]),
    default="json",
    help="One JSON document (default), or CSV tables.",
)
@_folder_option("--to", help="Folder for the tables: new, empty, or an earlier export, which is replaced.")
@_CACHE
def export(folder: Path, form: Literal["json", "csv"], to: Path | None, cache: Path | None) -> None:
    """Export the whole journal: print it as one JSON document, or write CSV tables to a folder.

    With --as csv --to DIR each kind of thing gets a file of its own: one row an observation, one column a variable.
    """
    from journal.commands.export import export_journal
    from journal.commands.workspace import open_workspace

    with open_workspace(folder, cache=cache) as workspace:
        export_journal(workspace, form, to)


def main() -> None:
    """The command `journal`. It prints a traceback only where JOURNAL_TRACEBACK asks for one."""
    from journal.commands.console import run

    sys.exit(run(cli, sys.argv[1:]))
