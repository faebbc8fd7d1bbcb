"""The licences of every library that the program and its tests need, from what the installed ones say of themselves.

`python tests/licences.py` writes them into DEVELOPERS.md anew.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
TABLE = re.compile(r"(<!-- made from installed libraries: python tests/licences\.py -->\n).*?(<!-- end -->)", re.DOTALL)

_CLASSIFIERS = {
    "Apache Software License": "Apache-2.0",
    "BSD License": "BSD",
    "ISC License (ISCL)": "ISC",
    "MIT License": "MIT",
    "MIT No Attribution License (MIT-0)": "MIT-0",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
    "Python Software Foundation License": "PSF-2.0",
}
"""SPDX's names of what classifiers say (`BSD`: one of that family)."""


_TOLD = {
    "axe-playwright-python": "MIT",
    "exifread": "BSD-3-Clause",
    "gpxpy": "Apache-2.0",
    "pebble": "LGPL-3.0-only",
    "python-dwca-reader": "BSD",
}
"""The licences of those whose metadata names none, or not by SPDX's name: read in the licence files that they have."""

COMPATIBLE = re.compile(
    r"(Apache-2\.0|0?BSD(-[23]-Clause)?|CC0-1\.0|ISC|LGPL-3\.0-(only|or-later)|MIT(-0|-CMU)?|MPL-2\.0|PSF-2\.0|Zlib)"
)
"""Licences of libraries that a program under MIT may need: those that ask for nothing of a program that only uses a
library as it is. LGPL 3, section 4 (combined works); MPL 2.0, section 3.3 (larger works)."""


def is_compatible(licence: str) -> bool:
    """Whether each part of an SPDX expression is; of `OR` one is enough."""
    return all(
        any(COMPATIBLE.fullmatch(choice.strip()) for choice in part.split(" OR "))
        for part in licence.strip("()").split(" AND ")
    )


def needed(tests: bool) -> dict[str, str]:
    """The licence of each library that is needed, those that others need included, by its name; "" where it does not
    tell. tests: with those of the extra `test`. What this system or Python does not need is not among them."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    waiting = [*project["dependencies"], *(project["optional-dependencies"]["test"] if tests else ())]
    found: dict[str, str] = {}
    while waiting:
        requirement = Requirement(waiting.pop())
        name = canonicalize_name(requirement.name)
        extras = requirement.extras or {""}
        if name in found or not any(
            requirement.marker is None or requirement.marker.evaluate({"extra": extra}) for extra in extras
        ):
            continue
        try:
            installed = distribution(name)
        except PackageNotFoundError:
            continue
        found[name] = _TOLD.get(name) or licence_of(installed.metadata)
        waiting += installed.requires or ()
    return found


def licence_of(metadata: Mapping[str, str]) -> str:
    """What a library's metadata says, in SPDX's words; "" where nothing. Source: core metadata specification, 2.4."""
    if expression := metadata.get("License-Expression"):
        return expression
    get_all = getattr(metadata, "get_all", lambda name: None)
    named = [one.rpartition(" :: ")[2] for one in get_all("Classifier") or () if one.startswith("License ::")]
    known = [_CLASSIFIERS[name] for name in named if name in _CLASSIFIERS]
    if known:
        return " OR ".join(known)
    written = (metadata.get("License") or "").strip()
    return "" if "\n" in written else written


def table(program: Mapping[str, str], tests: Mapping[str, str]) -> str:
    def line(names: Iterable[str]) -> str:
        return ", ".join(sorted(names))

    licences = sorted({*program.values(), *tests.values()}, key=str.casefold)
    rows = (
        f"| {licence} | {line(name for name, its in program.items() if its == licence)} "
        f"| {line(name for name, its in tests.items() if its == licence and name not in program)} |"
        for licence in licences
    )
    return "\n".join(("| licence | the program | the tests |", "| --- | --- | --- |", *rows))


def listed(document: str) -> set[str]:
    """The libraries that the table of a document has."""
    part = TABLE.search(document)
    rows = part[0].splitlines()[4:-2] if part else []
    return {name for row in rows for cell in row.split("|")[2:4] for name in re.split(r"[,\s]+", cell) if name}


def main() -> None:
    path = ROOT / "DEVELOPERS.md"
    made = table(needed(tests=False), needed(tests=True))
    text = path.read_text(encoding="utf-8")
    path.write_text(TABLE.sub(lambda part: f"{part[1]}\n{made}\n\n{part[2]}", text), encoding="utf-8")


if __name__ == "__main__":
    main()
