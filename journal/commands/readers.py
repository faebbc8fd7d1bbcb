"""`journal readers`, and the keys and passphrases that `journal build --locked` and a locked share need."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from journal.commands.console import plain
from journal.commands.prompts import PASSPHRASE_VARIABLE, ask_yes, can_ask, passphrase_given
from journal.commands.workspace import LockRequest, Workspace
from journal.locking.key_file import OWN_SITE, KeyFile, SiteKey, default_path, read_keys, refuse_place
from journal.locking.passphrases import generated, refuse_weak
from journal.locking.placing import key_id_at
from journal.problems import Refusal, nearest
from journal.quantities import counted
from journal.reading.listing import SETTINGS_NAME
from journal.reading.settings_file import read_settings

FIRST_READER = "author"


def share_to_be_locked(root: Path, name: str) -> str | None:
    """A share's name as in the settings, if they say that it is locked."""
    try:
        shares = read_settings((root / SETTINGS_NAME).read_bytes())[0].shares
    except OSError:
        return None
    return next((one.name for one in shares if one.locked and one.name.casefold() == name.casefold()), None)


def site_in_words(site: str) -> str:
    return f"the share {site}" if site else "the journal"


def keys_of(workspace: Workspace, asked: LockRequest) -> KeyFile:
    """The key file of the journal; raises Refusal if it is in a place where it must not be, is damaged, or others can
    read it."""
    path = asked.keys.resolve() if asked.keys is not None else default_path(workspace.root)
    refuse_place(path, {"the journal": workspace.root, "the site": workspace.site, "the cache": workspace.cache_folder})
    return read_keys(path)


def keys_to_lock_with(
    workspace: Workspace, asked: LockRequest, site: str = OWN_SITE, target: Path | None = None
) -> KeyFile:
    """The key file with a key for this site that has a reader. If there is none, a key is made, for a passphrase that
    is given, typed or generated. target: where the locked site goes, which may be locked with another key."""
    keys = keys_of(workspace, asked)
    key = keys.sites.get(site)
    given = passphrase_given(asked.passphrase_file)
    if key is not None and key.readers:
        if given is not None and key.opened_by(given) is None:
            raise Refusal(
                f"no reader of {site_in_words(site)} has this passphrase; add one with `journal readers add NAME`, or "
                "build without it: the passphrases that readers have stay as they are"
            )
        return keys
    made = key or SiteKey.new()
    other = key_id_at(target) if target is not None else None
    if other is not None and other != made.cipher.id.hex():
        _ask_for_a_lost_key(workspace, f"{target} was locked with another key, which is not in {keys.path}", given)
    passphrase = _new_passphrase(given, f"Passphrase for {site_in_words(site)}")
    keys = keys.keep(site, made.with_reader(FIRST_READER, passphrase))
    workspace.output.notice(
        f"A new key is in {keys.path}. Keep a copy of that file, and show it to nobody: without it the next build gets "
        "another key."
        if key is None
        else f"The key in {keys.path} is the one from before, with this passphrase: a device that a removed reader has "
        "unlocked still reads what you build."
    )
    return keys


def _ask_for_a_lost_key(workspace: Workspace, what: str, given: str | None) -> None:
    """Says that a new key takes an older one's place, before anything is made for it; where somebody would be asked for
    a passphrase, asks whether it is to. Raises Refusal where it is not."""
    restore = (
        "If the old key file is somewhere, as after the journal's folder was moved or renamed, put it at that path, or "
        "name it with --keys."
    )
    workspace.output.notice(
        f"{what}. With a new key everyone has to unlock it again, and every device downloads all of it again. {restore}"
    )
    if given is None and can_ask() and not ask_yes("Make a new key?"):
        raise Refusal("no new key was made, and nothing was changed")


def with_keys(workspace: Workspace, asked: LockRequest) -> Workspace:
    """The workspace with its site to be locked; see `keys_to_lock_with`."""
    return replace(workspace, keys=keys_to_lock_with(workspace, asked, target=workspace.site))


def _new_passphrase(given: str | None, question: str) -> str:
    """A passphrase for a new reader: the one given or typed, if it is strong, or five words, which are printed once."""
    if given is not None:
        refuse_weak(given)
        return given
    if not can_ask():
        raise Refusal(
            "a locked site needs a passphrase, and there is no terminal to ask on; use --passphrase-file, or set "
            f"{PASSPHRASE_VARIABLE}"
        )
    typed: str = click.prompt(
        f"{question} (Enter: five words are made)", default="", show_default=False, hide_input=True, err=True
    )
    if typed.strip():
        refuse_weak(typed)
        if typed != click.prompt("The same again", hide_input=True, err=True):
            raise Refusal("these were two different passphrases; nothing was changed")
        return typed
    words = generated()
    click.echo(f"The passphrase is: {words}\nWrite it down. It is shown this once, and it is kept nowhere.", err=True)
    return words


def add_reader(workspace: Workspace, asked: LockRequest, name: str, site: str = OWN_SITE) -> None:
    """Adds a reader, who can open the site with their own passphrase from the next build on."""
    keys = keys_of(workspace, asked)
    key = keys.sites.get(site) or SiteKey.new()
    if any(one.name == name for one in key.readers):
        raise Refusal(f"{name} is a reader already; remove {name} first, to give them another passphrase")
    passphrase = _new_passphrase(passphrase_given(asked.passphrase_file), f"Passphrase for {name}")
    if (other := key.opened_by(passphrase)) is not None:
        raise Refusal(f"{other} has this passphrase already; give every reader one of their own")
    keys.keep(site, key.with_reader(name, passphrase))
    workspace.output.notice(f"{name} can open {site_in_words(site)} once it is {_made_again(site)} and uploaded.")


def remove_reader(
    workspace: Workspace,
    asked: LockRequest,
    name: str,
    site: str = OWN_SITE,
    *,
    new_key: bool = False,
    is_sure: bool = False,
) -> None:
    """Removes a reader's passphrase; new_key: also makes a new data key, for which every other reader needs a new
    passphrase, because only they know the old ones. Asks before it removes the only reader, unless the author is_sure;
    raises Refusal where nobody can be asked."""
    keys = keys_of(workspace, asked)
    key = keys.sites.get(site)
    names = [one.name for one in key.readers] if key else []
    near = nearest(name, names)
    if key is None or (name not in names and not (new_key and near is None)):  # one removed before can be locked out
        raise Refusal(f"{site_in_words(site)} has no reader {name}" + (f"; did you mean {near}?" if near else ""))
    left = [one for one in names if one != name]
    if not (left or new_key or is_sure):
        _ask_for_the_last(name, site)
    made = key.without_reader(name)
    if new_key:
        made = SiteKey.new(after=key.counter, rounds=key.rounds)
        for one in left or [FIRST_READER]:
            made = made.with_reader(one, _new_passphrase(_only(asked, left), f"New passphrase for {one}"))
    keys.keep(site, made)
    workspace.output.notice(*_removed_lines(name, site, left, new_key))


def _ask_for_the_last(name: str, site: str) -> None:
    """Raises Refusal unless the only reader is to be removed."""
    what = f"{name} is the only reader of {site_in_words(site)}: without {name} nobody can open it"
    if not can_ask():
        raise Refusal(f"{what}; add another reader first, or say --yes")
    if not ask_yes(f"{what}. Remove {name}?"):
        raise Refusal(f"{name} was not removed, and nothing was changed")


def _only(asked: LockRequest, left: list[str]) -> str | None:
    """The given passphrase, if it can only be meant for one reader."""
    given = passphrase_given(asked.passphrase_file)
    if given is not None and len(left) > 1:
        raise Refusal(f"{len(left)} readers need a new passphrase each, and only one was given; run this in a terminal")
    return given


def _removed_lines(name: str, site: str, left: list[str], new_key: bool) -> list[str]:
    again = f"once it is {_made_again(site)} and uploaded"
    if new_key:
        lines = [
            f"{name} is removed, and there is a new key: {again}, it opens only with the new passphrases, and every "
            "device downloads all of it again.",
            f"What {name} saved until then stays readable to them: their device may hold all of the earlier version, "
            "and whoever copied the files and knows the old passphrase can open those copies.",
        ]
    else:
        lines = [
            f"{name} is removed: {again}, the old passphrase opens nothing on a new device.",
            f"Nothing was encrypted again. A device that {name} has unlocked keeps the key, and reads later versions; "
            f"so does anyone who copied lock.json before. To shut {name} out of later versions: "
            f"`journal readers remove {name} --new-key`, which gives every other reader a new passphrase.",
        ]
    if not left and not new_key:
        lines.append(f"Nobody can open {site_in_words(site)} now; the next build asks for a passphrase.")
    return lines


def _made_again(site: str) -> str:
    return "shared again" if site else "built again"


def list_readers(workspace: Workspace, asked: LockRequest) -> None:
    """Prints who can open what: a line for each site and reader."""
    keys = keys_of(workspace, asked)
    rows = [(site, one.name) for site, key in sorted(keys.sites.items()) for one in key.readers]
    for site, name in rows:
        click.echo(plain(f"{site_in_words(site)}: {name}"))
    where = f"the keys are in {keys.path}" if keys.path.exists() else f"the key file would be {keys.path}"
    workspace.output.notice(f"{counted(len(rows), 'reader')}; {where}")
