"""The locked sample, and the key that it is locked with."""

from __future__ import annotations

from pathlib import Path

import pytest

from journal.locking.key_file import OWN_SITE, SiteKey, read_keys
from tests.conftest import LOCKED_WITH

PASSPHRASE = LOCKED_WITH


@pytest.fixture(scope="session")
def locked(locked_room: Path) -> Path:
    return locked_room / "site"


@pytest.fixture(scope="session")
def site_key(locked_room: Path) -> SiteKey:
    """As it was kept with that build."""
    return read_keys(locked_room / "keys.json").sites[OWN_SITE]
