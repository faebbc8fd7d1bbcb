"""The sample's site, locked once for all of these tests."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from journal.importing.locked_archive import FEWEST_ROUNDS
from journal.locking.key_file import OWN_SITE, KeyFile, SiteKey, read_keys
from journal.locking.placing import place_locked

PASSPHRASE = "kestrel ﬁord gravel lintel osprey"
"""With a ligature, which NFKC takes apart."""


@pytest.fixture(scope="session")
def locked_room(made_once: Callable[..., Path], sample_site: Path) -> Path:
    """A folder with the locked sample in `site`, and its keys in `keys.json`; look, and change nothing in it."""

    def fill(room: Path) -> None:
        key = SiteKey.new(rounds=FEWEST_ROUNDS).with_reader("author", PASSPHRASE).with_reader("mentor", "other words")
        keys = KeyFile(room / "keys.json").keep(OWN_SITE, key)
        place_locked(sample_site, room / "site", keys, OWN_SITE, "journal")

    return made_once("locked-sample", fill)


@pytest.fixture(scope="session")
def locked(locked_room: Path) -> Path:
    return locked_room / "site"


@pytest.fixture(scope="session")
def site_key(locked_room: Path) -> SiteKey:
    """As it was kept with that build."""
    return read_keys(locked_room / "keys.json").sites[OWN_SITE]
