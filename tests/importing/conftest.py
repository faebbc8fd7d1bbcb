"""What tests of this folder share."""

from __future__ import annotations

import pytest

from tests.importing.shore import photo_bytes, shore

__all__ = ["photo_bytes", "shore", "synced"]


@pytest.fixture
def synced(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """What was asked to be on the disk: counted, and not waited for, since these tests ask ten thousand times."""
    asked: list[int] = []
    monkeypatch.setattr("os.fsync", asked.append)
    return asked
