"""The plan of the site: every page and what it shows, before any page is rendered."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any

from journal.unexpected import name_page

Row = SimpleNamespace
"""Named values that only templates read."""


class WhenRendered:
    """What `make` makes of plain values, made when a template first asks for an attribute of it: a page that is not
    rendered does without. In a page's digest the function's name and the values stand for it."""

    __slots__ = ("_made", "_make", "_of")

    def __init__(self, make: Callable[..., object], *of: object) -> None:
        self._make, self._of = make, of
        self._made: object = None

    def __getattr__(self, name: str) -> Any:
        if self._made is None:
            try:
                self._made = self._make(*self._of)
            except AttributeError as error:  # which a template would take for an attribute that is not there
                raise RuntimeError(str(error)) from error
        return getattr(self._made, name)

    def __repr__(self) -> str:
        return f"{self._make.__qualname__}{self._of!r}"


@dataclass(frozen=True, slots=True)
class PublishedSize:
    """One published picture. width, height in px; bytes on disk; sha256: theirs (hex)."""

    width: int
    height: int
    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Published:
    """A photo as published, smallest size first (at most 320, 960 and 1600 px on the long side). name: reveals nothing
    about the original; the file of a size is `<name>-<width>.webp` in the build cache. placeholder: a `data:` URI."""

    name: str
    sizes: tuple[PublishedSize, ...]
    placeholder: str


@dataclass(frozen=True, slots=True)
class Page:
    """One file of the site. endpoint, values: the Flask endpoint and its arguments. path: the file, relative to the
    site's root ("finds/f25-009/index.html"). template: its file in the folder of templates. context: what the template
    gets; plain values with a stable repr. section: the list of offline pages it belongs to ("finds-2026"). growing:
    whether it is saved offline first (what is growing now, and the main pages). text: the whole file of a page that is
    finished without a template. leading: the file of its leading photo in the second size, if it has both."""

    endpoint: str
    values: tuple[tuple[str, str], ...]
    path: str
    template: str
    context: dict[str, Any]
    section: str
    growing: bool = False
    text: str | None = None
    leading: str | None = None
    _digests: dict[str, str] = field(default_factory=dict, init=False, repr=False, compare=False)

    def digest(self, version: str) -> str:
        """Changes whenever the rendered bytes may change; version: of program and templates together."""
        if version not in self._digests:
            whole = repr((version, self.path, self.template, self.context, self.text))
            self._digests[version] = hashlib.sha256(whole.encode("utf-8", "surrogatepass")).hexdigest()
        return self._digests[version]

    def without_context(self, version: str) -> Page:
        """The same page for those that only compare it: with its digest in place of what its template gets."""
        bare = replace(self, context={}, text=None)
        bare.take_digest(version, self.digest(version))
        return bare

    def take_digest(self, version: str, digest: str) -> None:
        """Takes the digest over from a copy of this page."""
        self._digests[version] = digest


PictureFiles = Mapping[str, tuple[str, int]]
"""Pictures of a site: file from its root -> (published name, width in px)."""


@dataclass(frozen=True, slots=True)
class PagesLater:
    """Pages that are planned together when they are wanted, maybe in another process. kind: of page, of any name. make:
    plans them, and tells which pictures they show."""

    kind: str
    make: Callable[[], tuple[tuple[Page, ...], PictureFiles]]


Planned = Page | PagesLater


def made_at(addresses: Sequence[str], make: Callable[[], Iterable[Page]]) -> Iterator[Page]:
    """The pages that `make` makes. An exception tells at which it happened (`page_worked_on`). addresses: of the pages
    in their order; the last stands for all that follow it."""
    done = 0
    try:
        for page in make():
            yield page
            done += 1
    except Exception as error:
        name_page(error, addresses[min(done, len(addresses) - 1)])
        raise


@dataclass(frozen=True, slots=True)
class Site:
    """The whole site before it is made. pictures: (file from the site's root, (published name, width in px)). texts:
    (file from the site's root, its text) for small generated files that are not pages."""

    pages: tuple[Page, ...]
    pictures: tuple[tuple[str, tuple[str, int]], ...] = ()
    texts: tuple[tuple[str, str], ...] = ()
