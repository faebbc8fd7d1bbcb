"""Pages rendered to files: Frozen-Flask over the pages that are asked for, in several processes where that pays."""

from __future__ import annotations

import hashlib
import mimetypes
import warnings
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from functools import cache, cached_property, partial
from itertools import chain
from pathlib import Path
from types import MappingProxyType
from typing import Any, Protocol, TypeVar

from flask import Flask
from flask.testing import FlaskClient
from flask.wrappers import Response
from flask_frozen import Freezer, FrozenFlaskWarning, MissingURLGeneratorWarning
from werkzeug.test import create_environ

from journal.forked import Forked, WorkFailed, fitting_processes
from journal.site.app import compile_templates, take_templates
from journal.site.plan import Page, PagesLater, PictureFiles, Planned

T = TypeVar("T")

MEDIA_TYPES: Mapping[str, str] = {
    ".html": "text/html",
    ".css": "text/css",
    ".js": "text/javascript",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".webp": "image/webp",
    ".txt": "text/plain",
}
"""The media type of each kind of file in a site; a system's own table of suffixes differs between computers."""

PAGES_THAT_PAY = 150
"""A further process pays from this many pages on."""

Rendered = tuple[str, str, int]
"""A page's path, and the SHA-256 (hex) and size in bytes of its file."""

Report = Callable[[int], None]
"""Called with how many pages are rendered so far."""


class Freeze(Protocol):
    """Renders pages into a tree, as `freeze` does."""

    def __call__(
        self, app: Flask, pages: Sequence[Page], tree: Path, report: Report, *, meanwhile: Callable[[], None] = ...
    ) -> list[Rendered]: ...


class NotFrozen(WorkFailed):
    """A page of the plan could not be rendered, or the plan and the app do not fit: a fault of the program."""


def freeze(
    app: Flask,
    pages: Sequence[Page],
    tree: Path,
    report: Report,
    processes: int | None = None,
    *,
    meanwhile: Callable[[], None] = lambda: None,
) -> list[Rendered]:
    """Renders pages into a tree and gives what was written, in the order of `pages`. A page's file must not exist in
    the tree yet; one that does (it may be the old site's own, under a second name) is unlinked first. processes: how
    many; None lets the number of pages and cores decide. meanwhile: done while other processes render, or before.
    Raises NotFrozen; OSError if the disk fails; MemoryError; Refusal if the system ended a process."""
    to_render = _make_room(pages, tree)
    count = processes or fitting_processes(to_render, PAGES_THAT_PAY)
    if count == 1:
        meanwhile()
        return _in_order(_frozen(app, pages, tree), pages, report)
    if to_render >= PAGES_THAT_PAY:  # once, and not in each process that renders
        compile_templates(app)
    shares = [[pages[at] for at in share] for share in _shares(pages, count)]
    with Forked([partial(_freeze_share, app, share, tree) for share in shares], "rendered pages") as forked:
        rendered = forked.ask([None] * len(shares))
        meanwhile()
        return _in_order(rendered, pages, report)


def _make_room(pages: Sequence[Page], tree: Path) -> int:
    """Unlinks what is at the places of the pages; how many of them are to be rendered."""
    for page in pages:
        (tree / page.path).unlink(missing_ok=True)
    return sum(page.text is None for page in pages)


def _in_order(rendered: Iterable[Rendered], pages: Sequence[Page], report: Report) -> list[Rendered]:
    by_path = {}
    for done, row in enumerate(rendered, 1):
        by_path[row[0]] = row
        report(done)
    if missing := [page.path for page in pages if page.path not in by_path]:
        raise NotFrozen(f"nothing was frozen for {', '.join(missing[:3])}")
    return [by_path[page.path] for page in pages]


def _freeze_share(app: Flask, pages: Sequence[Page], tree: Path, _: object) -> Iterator[Rendered]:
    return _frozen(app, pages, tree)


class PagesApart:
    """Plans pages and renders them in processes that each keep what they have planned: what a template gets never has
    to be brought from one to another. version: of program and templates together. make_app: an app for these pages.
    known: the digests of the pages that were rendered last, by path; where there are none, all will be rendered."""

    def __init__(
        self, version: str, make_app: Callable[[Sequence[Page]], Flask], known: Mapping[str, str] = MappingProxyType({})
    ) -> None:
        self.version, self._make_app, self._known = version, make_app, known
        self._forked: Forked | None = None
        self._shares: list[frozenset[str]] = []
        self._preparing: Iterator[Any] = iter(())

    def __enter__(self) -> PagesApart:
        return self

    def __exit__(self, *_: object) -> None:
        if self._forked is not None:
            self._forked.__exit__()
        self._forked = None

    def make(self, planned: Sequence[Planned], meanwhile: Callable[[], T]) -> tuple[tuple[Page, ...], PictureFiles, T]:
        """As `pages.Make`; where so few pages are worth no processes, here."""
        count = fitting_processes(len(planned), PAGES_THAT_PAY)
        made: dict[int, tuple[Page, ...]] = {at: (row,) for at, row in enumerate(planned) if isinstance(row, Page)}
        files: dict[str, tuple[str, int]] = {}
        if count == 1:
            for at, row in enumerate(planned):
                if not isinstance(row, Page):
                    made[at], shown = row.make()
                    files.update(shown)
            return tuple(page for at in range(len(planned)) for page in made[at]), files, meanwhile()
        shares = _shares(planned, count)
        answers = [_Share(planned, share, self.version, self._make_app).answer for share in shares]
        self._forked = Forked(answers, "planned and rendered pages").__enter__()
        planning = self._forked.ask([None] * len(shares))
        found = meanwhile()
        if not self._known:
            compile_templates(self._make_app(()))
        for at, pages, shown in (row for rows in planning for row in rows):
            files.update(shown)
            for own, page in zip(made.setdefault(at, pages), pages, strict=True):
                own.take_digest(self.version, page.digest(self.version))
        self._shares = [frozenset(page.path for at in share for page in made[at]) for share in shares]
        whole = tuple(page for at in range(len(planned)) for page in made[at])
        self._prepare(whole)
        return whole, files, found

    def _prepare(self, pages: Sequence[Page]) -> None:
        """Lets the processes compile the templates of pages that will be rendered, if these are few, while this one
        finds out all the rest."""
        assert self._forked is not None
        changed = [page for page in pages if self._known.get(page.path) != page.digest(self.version)]
        if len(changed) < PAGES_THAT_PAY:
            by_share = [tuple(page.path for page in changed if page.path in share) for share in self._shares]
            self._preparing = self._forked.ask([(paths, None, b"") for paths in by_share])

    def freeze(
        self,
        app: Flask,
        pages: Sequence[Page],
        tree: Path,
        report: Report,
        *,
        meanwhile: Callable[[], None] = lambda: None,
    ) -> list[Rendered]:
        """As the function `freeze`, of pages that were planned here."""
        if self._forked is None:
            return freeze(app, pages, tree, report, meanwhile=meanwhile)
        templates = compile_templates(app) if _make_room(pages, tree) >= PAGES_THAT_PAY else b""
        wanted = [tuple(page.path for page in pages if page.path in share) for share in self._shares]
        try:
            rendered = chain(self._preparing, self._forked.ask([(paths, tree, templates) for paths in wanted]))
            meanwhile()
            return _in_order(rendered, pages, report)
        except BaseException:
            self.__exit__()  # before the tree is removed, or another process would go on filling it
            raise


class _Share:
    """The pages that one process plans, and then renders."""

    def __init__(
        self,
        planned: Sequence[Planned],
        share: Sequence[int],
        version: str,
        make_app: Callable[[Sequence[Page]], Flask],
    ) -> None:
        self._planned, self._share, self._version, self._make_app = planned, share, version, make_app
        self._pages: dict[str, Page] = {}

    def answer(self, question: tuple[Sequence[str], Path | None, bytes] | None) -> Iterator[Any]:
        """First to None: a list of (place in the plan, its pages without what their templates get, the pictures of
        these). Then to the paths of those to be rendered, the tree, and all templates, compiled, or nothing: as
        `_frozen`. Before that maybe to the paths without a tree: nothing."""
        return self._plan() if question is None else self._freeze(*question)

    def _plan(self) -> Iterator[Any]:
        rows = []
        for at in self._share:
            row = self._planned[at]
            pages, files = ((row,), {}) if isinstance(row, Page) else row.make()
            self._pages |= {page.path: page for page in pages}
            rows.append((at, tuple(page.without_context(self._version) for page in pages), files))
            yield None
        yield rows  # all at once: nobody reads before

    def _freeze(self, paths: Sequence[str], tree: Path | None, templates: bytes) -> Iterator[Rendered]:
        take_templates(templates)
        pages = [self._pages[path] for path in paths]
        app = self._make_app(tuple(self._pages.values()))
        return _frozen(app, pages, tree) if tree else _tried(app, pages)


def _tried(app: Flask, pages: Sequence[Page]) -> Iterator[Rendered]:
    """Renders a page of each template to nowhere, which compiles all that it takes; gives nothing."""
    for page in {page.template: page for page in pages if page.text is None}.values():
        with suppress(Exception), app.test_request_context():  # what fails will fail again
            app.view_functions[page.endpoint](**dict(page.values))
    return iter(())


def compare_with_plan(app: Flask, pages: Iterable[Page]) -> None:
    """Raises NotFrozen where the app and the plan do not fit. A view with no arguments must have its page; one with
    arguments may have none (a journal without finds). Every page must have a view."""
    planned = {page.endpoint for page in pages}
    rules = [rule for rule in app.url_map.iter_rules() if "GET" in (rule.methods or ())]
    if unused := sorted({rule.endpoint for rule in rules if not rule.arguments} - planned):
        raise NotFrozen(f"no page is planned for {', '.join(unused)}")
    if unknown := sorted(planned - {rule.endpoint for rule in rules}):
        raise NotFrozen(f"no view answers for {', '.join(unknown)}")


_STRETCHES = 16
"""Of the pages of one kind, in each process."""


def _shares(pages: Sequence[Planned], processes: int) -> list[list[int]]:
    """The places of the pages that each process gets. Of a kind with many pages each gets stretches, at the same places
    of every kind: a text is often on several pages of about one time, and a process renders it once. The others are
    dealt one by one, so that long ones are spread."""
    kinds = [
        page.kind if isinstance(page, PagesLater) else "finished" if page.text else page.endpoint for page in pages
    ]
    counts, seen, dealt = Counter(kinds), Counter[str](), 0
    shares: list[list[int]] = [[] for _ in range(processes)]
    for at, kind in enumerate(kinds):
        stretches = _STRETCHES * processes
        if counts[kind] < stretches:
            turn, dealt = dealt, dealt + 1
        else:
            turn = seen[kind] * stretches // counts[kind]
        seen[kind] += 1
        shares[turn % processes].append(at)
    return [share for share in shares if share]


def _frozen(app: Flask, pages: Sequence[Page], tree: Path) -> Iterator[Rendered]:
    """Each page as it is rendered and written; uses the freezer's public calls and treats its warnings as failures. A
    page that is finished is only written."""
    to_render = [page for page in pages if page.text is None]
    with _set_up(app, tree), warnings.catch_warnings():
        # The freezer's warnings are failures, except about endpoints that another process renders or that need no new
        # page.
        warnings.simplefilter("error", FrozenFlaskWarning)
        warnings.simplefilter("ignore", MissingURLGeneratorWarning)
        freezer = _Freezer(app, with_static_files=False, with_no_argument_rules=False, log_url_for=False)
        freezer.register_generator(lambda: ((page.endpoint, dict(page.values)) for page in to_render))
        written = freezer.freeze_yield()
        for page in to_render:
            path = _next_path(written, page, tree)
            if path != page.path:
                raise NotFrozen(f"{page.path} was planned, and its address leads to {path}")
            data = (tree / path).read_bytes()
            yield (path, hashlib.sha256(data).hexdigest(), len(data))
        for extra in written:
            raise NotFrozen(f"{extra.path} was written and not planned")
    for page in pages:
        if page.text is not None:
            data, file = page.text.encode(), tree / page.path
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(data)
            yield (page.path, hashlib.sha256(data).hexdigest(), len(data))


def _next_path(written: Iterator[Any], page: Page, tree: Path) -> str:
    try:
        return str(next(written).path.as_posix())
    except StopIteration:
        raise NotFrozen(f"{page.path} has the address of another page") from None
    except MemoryError:
        raise
    except Exception as error:
        if isinstance(error, OSError) and error.errno is not None:  # a missing template has no error number
            error.filename = error.filename or str(tree / page.path)
            raise
        raise NotFrozen(f"{page.path} could not be rendered ({type(error).__name__}: {error})") from error


class _Freezer(Freezer):  # type: ignore[misc]
    @cached_property
    def root(self) -> Path:
        """The folder that it writes to, which it asks for several times a page."""
        return Path(super().root)


class _Client(FlaskClient):
    """Asks for a page with as little as the freezer needs. Flask's own makes a class for each client, which is one for
    each page, and an environment from all that a browser might send."""

    def __init__(self, app: Flask, response_class: type[Response], **_: object) -> None:
        self._app, self._response_class = app, response_class

    def get(self, path: str, base_url: str, **_: object) -> Any:
        at = {"PATH_INFO": path.encode().decode("latin-1")}  # as PEP 3333 has it
        return self._response_class.from_app(self._app, _environment(base_url) | at)


@cache
def _environment(base_url: str) -> dict[str, Any]:
    return create_environ("/", base_url)


@contextmanager
def _set_up(app: Flask, tree: Path) -> Iterator[None]:
    """The freezer's settings during one run, and views whose exceptions are not hidden."""
    for suffix, media_type in MEDIA_TYPES.items():
        mimetypes.add_type(media_type, suffix)
    before = dict(app.config)
    app.config.update(
        FREEZER_DESTINATION=str(tree),
        FREEZER_RELATIVE_URLS=True,
        FREEZER_REMOVE_EXTRA_FILES=False,
        FREEZER_REDIRECT_POLICY="error",
        FREEZER_SKIP_EXISTING=False,
        PROPAGATE_EXCEPTIONS=True,
    )
    client, app.test_client_class = app.test_client_class, _Client
    try:
        yield
    finally:
        app.test_client_class = client
        app.config.clear()
        app.config.update(before)
