"""The shore's fixtures, for the tests of this folder."""

from tests.gathering.shore import photo_bytes, shore

__all__ = ["photo_bytes", "shore"]
