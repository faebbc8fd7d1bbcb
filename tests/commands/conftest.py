"""The shore's fixtures, for the tests of this folder."""

from tests.importing.shore import photo_bytes, shore

__all__ = ["photo_bytes", "shore"]
