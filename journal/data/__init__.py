"""Tables of facts that the program comes with, each a TOML file that names its sources."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def read_table(name: str) -> dict[str, Any]:
    """The tables of `data/NAME.toml`, by their names."""
    return tomllib.loads((files(__package__) / f"{name}.toml").read_text(encoding="utf-8"))
