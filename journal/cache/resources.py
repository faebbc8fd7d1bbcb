"""The folder of templates and static files, and one digest of everything that turns a model into a page."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from journal import __version__
from journal.cache.unchanged import zone_rows

PACKAGE = Path(__file__).resolve().parent.parent

_SHAPES_PAGES = (
    "flask", "jinja2", "markupsafe", "werkzeug", "frozen-flask", "markdown-it-py", "nh3", "mgrs", "segno", "tzdata",
)  # fmt: skip


class ResourcesMissing(RuntimeError):
    """The program's own templates are missing: a broken installation."""


def find_resources() -> Path:
    """The folder with `templates` and `static`: the installed package's, else the checkout. Raises ResourcesMissing."""
    for folder in (PACKAGE / "_resources", PACKAGE.parent):
        if (folder / "templates").is_dir() and (folder / "static").is_dir():
            return folder
    raise ResourcesMissing("the program's templates are missing; install field-fruiting-journal again")


def checkout_root() -> Path | None:
    """The root of the checkout the program runs from, None if it is installed."""
    root = PACKAGE.parent
    return root if (root / "sample_entries").is_dir() and (root / "pyproject.toml").is_file() else None


def files_below(folder: Path) -> Iterator[str]:
    """Every regular file below a folder, relative, "/" between the parts, sorted; without hidden files."""
    for path in sorted(folder.rglob("*")):
        below = path.relative_to(folder)
        if path.is_file() and not any(part.startswith(".") for part in below.parts):
            yield below.as_posix()


@cache
def source_digest(*modules: str) -> str:
    """SHA-256 (hex) of the program's version and of some of its modules' bytes, or of all its sources.

    modules: paths below the package, such as "site/images.py"; one that does not exist counts as empty.
    """
    whole = hashlib.sha256(__version__.encode())
    for name in modules or tuple(
        p for p in files_below(PACKAGE) if p.endswith((".py", ".toml")) and not p.startswith("_resources/")
    ):
        path = PACKAGE / name
        whole.update(_framed(name, path.read_bytes() if path.is_file() else b""))
    return whole.hexdigest()


def page_version(resources: Path) -> str:
    """SHA-256 (hex) of the sources, templates, libraries and time zones: with the same ones, a page context gives the
    same bytes."""
    from importlib.metadata import PackageNotFoundError, version

    whole = hashlib.sha256(source_digest().encode())
    for library in _SHAPES_PAGES:
        try:
            known = version(library)
        except PackageNotFoundError:
            known = "?"
        whole.update(_framed(library, known.encode()))
    for row in zone_rows():
        whole.update(_framed("zones", row.encode("utf-8", "surrogatepass")))
    for name in files_below(resources / "templates"):
        whole.update(_framed(name, (resources / "templates" / name).read_bytes()))
    return whole.hexdigest()


def _framed(name: str, data: bytes) -> bytes:
    """Name and data, each after its length, so that no two sequences of files give the same bytes."""
    name_bytes = name.encode()
    return b"%d:%b%d:%b" % (len(name_bytes), name_bytes, len(data), data)
