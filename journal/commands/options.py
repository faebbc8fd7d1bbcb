"""The arguments and options that several commands have."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

FOLDER = click.argument("folder", required=False, type=click.Path(path_type=Path))
folder_option = partial(click.option, type=click.Path(path_type=Path), metavar="DIR")
CACHE = folder_option(
    "--cache",
    help="Where to cache what was read and made (default: your cache folder). You can delete it at any time.",
)
TO = folder_option("--to", help="Folder for the site: new, empty, or an earlier site, which is replaced.")
PASSPHRASE_FILE = click.option(
    "--passphrase-file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A file whose first line is the passphrase. Otherwise JOURNAL_PASSPHRASE is used, or you are asked.",
)
KEYS = click.option(
    "--keys",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="The key file of locked sites (default: one for this journal in your configuration folder).",
)
LOCKED = click.option(
    "--locked", is_flag=True, help="Encrypt the site, so that any host may have it; `locked = true` in the settings."
)
