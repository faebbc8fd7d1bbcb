"""The tent with a logger that pages are tested with, for its chart."""

from tests.site.pages.conftest import hut

__all__ = ["hut"]
