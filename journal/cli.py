"""The commands. Each says what it found or did; the work is done elsewhere."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Literal

import click

from journal import __version__

# What a command needs is imported when it runs: `journal --help` has to answer at once.

KINDS = ("find", "culture", "batch", "note", "tent", "device")

_FOLDER = click.argument("folder", default=".", type=click.Path(path_type=Path))
_CACHE = click.option(
    "--cache",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Where to remember what was read and made (usually your cache folder). It may be deleted at any time.",
)
_TO = click.option(
    "--to",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Where the site goes: a new or empty folder, or an earlier site, which is replaced.",
)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, message="%(version)s")
def cli() -> None:
    """One journal from the find in the wood to the harvest on the scale.

    A journal is a folder of plain text files with photos beside them. Write a note wherever you are, keep the files
    where you like, and let `journal build` make a site of them that your phone holds without a signal.

    FOLDER is the folder you are in where you leave it out.
    """


@cli.command(short_help="Begin a journal: settings, and examples.")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--title", help="What the journal is called.")
@click.option("--author", help="Your name, as it should stand under the entries.")
@click.option("--time-zone", help="Where your clock is, like Europe/London.")
@click.option("--units", type=click.Choice(["metric", "us"]), help="How quantities are shown.")
def start(folder: Path, title: str | None, author: str | None, time_zone: str | None, units: str | None) -> None:
    """Begin a journal in FOLDER: its settings, and examples to copy from.

    What you do not give as an option is asked for; Enter takes the answer in brackets.
    """
    from journal.cache.folders import new_folder
    from journal.commands import console
    from journal.commands.prompts import ask_for
    from journal.writing import new_journal

    new_folder(folder)
    new_journal.write_journal(folder, ask_for(folder, title, author, time_zone, units))
    console.what_comes_next(folder)


@cli.command(short_help="Put a new entry in, with the next free ID.")
@click.argument("kind", type=click.Choice(KINDS))
@_FOLDER
@click.option("--about", metavar="ID", help="What it is about: the find of a clone, the batch of a note, a tent …")
@click.option("--edit", is_flag=True, help="Open it in your editor ($EDITOR) at once.")
def new(kind: str, folder: Path, about: str | None, edit: bool) -> None:
    """Put a new entry into the journal, with the next free ID, today's date and the usual keys to fill in.

    Prints the path of the new file. Nothing is ever overwritten.
    """
    from journal.commands.console import plain
    from journal.commands.prompts import today_in
    from journal.commands.workspace import open_workspace
    from journal.pipeline import read_files
    from journal.writing.new_entry import new_entry, write_blank

    with open_workspace(folder) as desk:
        memory = desk.memory()
        written = read_files(memory, desk.teller.progress)
        memory.cache.save()
    made = new_entry(kind, written.drafts, written.settings, today_in(written.settings.time_zone), about)
    path = write_blank(desk.root, made.path, made.text)
    click.echo(plain(str(folder / path)))
    if edit:
        click.edit(filename=str(desk.root / path))


@cli.command(short_help="Take photos from a camera or phone into the journal.")
@click.argument("id")
@click.argument("photos", nargs=-1, required=True, type=click.Path(readable=False))
@click.option("--stage", metavar="STAGE", help="The stage that they show, as a note gives it: pinning, fruiting …")
@click.option("--by-day", is_flag=True, help="Photos of several days become a note for each day.")
@click.option(
    "--into",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="The journal, where you are in another folder; or the folder in it that they are to lie in.",
)
@click.option("--date", metavar="DAY", help="The day of photos that tell no time, like 2026-10-27.")
@click.option("--dry-run", is_flag=True, help="Only show, in a table, what would be done.")
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
    """Take PHOTOS into the journal, as a note about ID: a batch, culture, find or device, or a part of one (B-031.2).

    PHOTOS are files, or folders to be searched. Each is copied beside the entry that it belongs to, and the copy is
    read again; yours stay where they are. The note's date is the day on which they were taken, by their EXIF. What was
    taken in before is known by its content and left alone. About a tent, an entry of the tent is written.

    Prints the path of each note. Ends with 1 if a photo was left out.
    """
    from journal.commands.attach import AttachRequest, attach_photos
    from journal.commands.prompts import day_named
    from journal.commands.workspace import open_workspace
    from journal.importing.destinations import journal_and_folder

    if not all(photos):  # a shell's variable that holds nothing; as a path it would be the folder one is in
        raise click.BadParameter("one of PHOTOS is empty; name files or folders")
    root, folder = journal_and_folder(Path(), into)
    day = day_named(date) if date is not None else None
    named = [Path(photo) for photo in photos]
    with open_workspace(root, cache=cache) as desk:
        status = attach_photos(desk, AttachRequest(id, named, stage, folder, day, by_day, dry_run))
    if status:
        sys.exit(status)


@cli.command(short_help="Make the site.")
@_FOLDER
@_TO
@_CACHE
def build(folder: Path, to: Path | None, cache: Path | None) -> None:
    """Make the site: pages, photos in a few sizes, and all that a phone needs to hold it.

    Only what changed since the last time is made again. The site goes to a folder `site` beside the journal unless
    you say otherwise. Entries with problems never stop it: what is wrong stands on the site's page of what to mend.
    """
    from journal.commands import console
    from journal.commands.workspace import open_workspace

    with open_workspace(folder, to, cache) as desk:
        built = desk.build()
    desk.teller.notice(console.closing_line(built, desk.seconds))
    desk.teller.notice(console.where_to_look(desk.site))


@cli.command(short_help="List what is to fix in the entries.")
@_FOLDER
@_CACHE
def check(folder: Path, cache: Path | None) -> None:
    """List what cannot be read or does not fit together, each with its file, its line and how to mend it.

    "error" is what cannot be used until it is fixed; "warning" is worth a second look. Ends with 1 on an error.
    """
    from journal.commands import console
    from journal.commands.console import plain
    from journal.commands.workspace import open_workspace

    with open_workspace(folder, cache=cache) as desk:
        journal = desk.read()
    for problem in journal.problems:
        click.echo(plain(str(problem)))
    desk.teller.notice(console.counts(journal))
    if any(problem.severity == "error" for problem in journal.problems):
        sys.exit(1)


@cli.command(short_help="Make the site and show it on this computer.")
@_FOLDER
@_TO
@_CACHE
@click.option("--port", type=click.IntRange(0, 65535), help="The port to answer on; 0 takes any free one.")
def show(folder: Path, to: Path | None, cache: Path | None, port: int | None) -> None:
    """Make the site and show it on this computer, made anew whenever you save a file. Ctrl-C ends it.

    Nobody else can see it: it answers to this computer alone.
    """
    from journal.commands import console, show
    from journal.commands.workspace import open_workspace

    with open_workspace(folder, to, cache) as desk:
        looked = show.look(desk.root)
        built = desk.build()

        def build_again() -> None:
            desk.teller.notice(console.after_change(desk.try_to_build()))

        with show.served(desk.site, port) as address:
            desk.teller.notice(console.counts(built.journal))
            desk.teller.notice(f"Showing {desk.site} at {address} until you press Ctrl-C")
            show.watch(desk.root, looked, build_again)


@cli.command(short_help="Make a smaller journal for someone else's eyes.")
@click.argument("name")
@_FOLDER
@click.option(
    "--to",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Where the folder NAME goes, with `pages` and NAME.zip in it (usually a folder `shares` beside the site); an "
    "earlier one goes.",
)
@click.option("--show", "is_show", is_flag=True, help="Only show what would go out, and every photo; hand out nothing.")
@_CACHE
def share(name: str, folder: Path, to: Path | None, is_show: bool, cache: Path | None) -> None:
    """Make a smaller journal for someone else's eyes: what [shares.NAME] in the settings grants, and nothing else.

    It becomes a folder, and a zip to send: unpacked, it opens by double click, with no signal. The finished pages are
    searched for what they must not tell; if anything is found, nothing goes out. Look first, with --show.

    Prints the paths of the pages' folder and of the zip.
    """
    from journal.commands.share import make_share, preview_share
    from journal.commands.workspace import open_workspace

    with open_workspace(folder, cache=cache) as desk:
        (preview_share if is_show else make_share)(desk, name, to)


@cli.command(short_help="Hand the whole journal to other programs.")
@_FOLDER
@click.option(
    "--as", "form", type=click.Choice(["json", "csv"]), default="json", help="One JSON document (usually), or tables."
)
@click.option(
    "--to",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Where the tables go: a new or empty folder, or that of earlier ones, which are replaced.",
)
@_CACHE
def data(folder: Path, form: Literal["json", "csv"], to: Path | None, cache: Path | None) -> None:
    """Hand the whole journal to other programs: printed as one JSON document, or as tables in a folder.

    With --as csv --to DIR every kind of thing becomes a file of its own: a row an observation, a column a variable.
    """
    from journal.commands.export import export_journal
    from journal.commands.workspace import open_workspace

    with open_workspace(folder, cache=cache) as desk:
        export_journal(desk, form, to)


def main() -> None:
    """The command `journal`: never a traceback, unless JOURNAL_TRACEBACK asks for it."""
    from journal.commands.console import run

    sys.exit(run(cli, sys.argv[1:]))
