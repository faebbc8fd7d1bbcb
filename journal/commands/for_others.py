"""The commands that pass the journal on to others: readers, shares and exports. Other modules do the work."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from journal.commands.options import CACHE, FOLDER, KEYS, PASSPHRASE_FILE, folder_option

# As in `journal.cli`, what a command needs is imported when it runs.


@click.command(short_help="Manage who can open the locked site or a locked share.")
@click.argument("action", type=click.Choice(["add", "remove", "list"]))
@click.argument("name", required=False)
@folder_option("--in", "folder", help="The journal, if it is not the one you are in.")
@click.option("--share", metavar="NAME", help="Of this locked share, not of the journal's own site.")
@click.option("--new-key", is_flag=True, help="With remove: a new key, and a new passphrase for every other reader.")
@click.option("--yes", is_flag=True, help="With remove: do not ask, although then nobody can open it.")
@PASSPHRASE_FILE
@KEYS
def readers(
    action: str, name: str | None, folder: Path | None, share: str | None, new_key: bool, yes: bool, **lock: Any
) -> None:
    """Add, remove or list readers: each NAME (for you alone; it is not shown anywhere) has a passphrase of their own.

    Press Enter where you are asked for a passphrase, and five words are made. A change takes effect with the next
    `journal build --locked` or `journal share`. A reader who is removed keeps what their device already has; with
    --new-key they cannot read what is built later.
    """
    from journal.commands import readers as command
    from journal.commands.workspace import LockRequest, open_workspace

    if (name is None) != (action == "list") or ((new_key or yes) and action != "remove"):
        raise click.UsageError("write add NAME, remove NAME [--new-key | --yes], or list")
    asked = LockRequest(**lock)
    with open_workspace(folder) as workspace:
        if name is None:
            command.list_readers(workspace, asked)
        elif action == "add":
            command.add_reader(workspace, asked, name, share or "")
        else:
            command.remove_reader(workspace, asked, name, share or "", new_key=new_key, is_sure=yes)


@click.command(short_help="Make a copy to share, without what is private.")
@click.argument("name")
@FOLDER
@folder_option(
    "--to",
    help="Where to put the folder NAME, with `pages` and NAME.zip in it (default: `shares` next to the site). An "
    "earlier share there is replaced.",
)
@click.option(
    "--preview",
    is_flag=True,
    help="List what would be shared, and write a page of every text and photo to look at; make no share.",
)
@click.option("--json", "as_json", is_flag=True, help="With --preview: print every text and photo as JSON instead.")
@click.option("--reviewed", is_flag=True, help="Confirm that you looked at the page of the last --preview.")
@PASSPHRASE_FILE
@KEYS
@CACHE
def share(
    name: str,
    folder: Path | None,
    to: Path | None,
    preview: bool,
    as_json: bool,
    reviewed: bool,
    cache: Path | None,
    **lock: Any,
) -> None:
    """Make a copy of the journal for someone else: what [shares.NAME] in the settings allows, and nothing else.

    Nothing is shared that you have not looked at: what is new or changed is asked about here, flag by flag, or shown on
    the page of --preview; after that, --reviewed makes the share. What you looked at is remembered in the journal's
    folder `shares`.

    The result is a folder and a zip to send; unzipped, it opens with a double click and needs no signal. The finished
    pages are searched for positions, IDs and names that must not be shared; if any is found, no share is made.
    With `locked = true` in its settings it is encrypted, and opens on any HTTPS host with a passphrase.

    Prints the paths of the pages' folder and of the zip.
    """
    if as_json and not preview:
        raise click.UsageError("--json goes with --preview")
    if preview and reviewed:
        raise click.UsageError("--preview and --reviewed cannot be given together; look at the page first")
    from journal.commands.share import make_share, preview_share
    from journal.commands.workspace import LockRequest, open_workspace

    with open_workspace(folder, cache=cache) as workspace:
        if preview:
            preview_share(workspace, name, to, as_json)
        else:
            make_share(workspace, name, to, reviewed, LockRequest(**lock))


@click.command(short_help="Export the journal, or records of its finds, for other programs.")
@FOLDER
@click.option(
    "--as",
    "form",
    type=click.Choice(["json", "csv", "darwin-core", "gpx", "geojson", "voucher"]),
    default="json",
    help="The whole journal as JSON (default) or CSV tables; its finds as a Darwin Core Archive, as GPX or GeoJSON, "
    "or as specimen labels to print (voucher).",
)
@folder_option("--to", metavar="PATH", help="A folder for tables; for other forms a new file, or - to print (default).")
@click.option("--ids", metavar="IDS", help="Only these finds: F26-001,F26-003.")
@click.option("--exact", is_flag=True, help="Exact positions, places and times, whatever a find's `locality` says.")
@click.option(
    "--area",
    type=click.Choice(["1", "0.1", "0.01", "0.001"]),
    default="0.1",
    help="The side, in degrees, of the square that a coarse position is given as (default: 0.1).",
)
@click.option("--no-names", "names", flag_value=False, default=True, help="Leave out who found and who identified.")
@click.option("--texts", is_flag=True, help="With the entries' texts, as field notes.")
@click.option("--photos", is_flag=True, help="With the finds' photos, in a Darwin Core Archive.")
@CACHE
def export(folder: Path | None, cache: Path | None, **asked: Any) -> None:
    """Export the whole journal, or records of its finds for a herbarium, a handheld GPS or a map.

    With --as csv --to DIR each kind of thing gets a file of its own: one row an observation, one column a variable.

    Records never contain what is private, nor who gave permission. Without --exact a find's position is left out where
    its `locality` is hidden (the default) and coarse where it is area or exact; what was done is said on stderr and in
    the records.
    """
    from journal.commands.export import ExportRequest, export_journal
    from journal.commands.workspace import open_workspace

    with open_workspace(folder, cache=cache) as workspace:
        export_journal(workspace, ExportRequest(**asked))
