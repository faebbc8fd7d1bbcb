"""A toy site: three kinds of page in a Flask app of twenty lines, for everything that freezes, renews and places."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

import pytest
from flask import Flask, render_template_string

from journal.site.build.incremental import Copy, Plan
from journal.site.build.offline import OfflineCopy
from journal.site.plan import Page

TEMPLATE = (
    "<title>{{ text }}</title>"
    "{% for name in links %}<a href=\"{{ url_for('thing', name=name) }}\">{{ name }}</a>{% endfor %}"
)


def toy_page(name: str, text: str, links: Iterable[str] = ()) -> Page:
    """`home` is the site's first page; every other name has a folder of its own."""
    endpoint, path = ("home", "index.html") if name == "home" else ("thing", f"things/{name}/index.html")
    values = () if name == "home" else (("name", name),)
    return Page(endpoint, values, path, "toy.html", {"text": text, "links": tuple(links)}, "all")


def toy_app(pages: Iterable[Page]) -> Flask:
    app = Flask("toy", static_folder=None)
    by_path = {page.path: page for page in pages}

    @app.get("/", endpoint="home")
    @app.get("/things/<name>/", endpoint="thing")
    def _view(name: str | None = None) -> str:
        page = by_path[f"things/{name}/index.html" if name else "index.html"]
        if page.context["text"] == "fails":
            raise RuntimeError("a view that fails")
        return render_template_string(TEMPLATE, **page.context)

    return app


def toy_hold(
    tree: Path, pages: Iterable[Page], files: Mapping[str, tuple[str, int]], earlier: Path | None
) -> OfflineCopy:
    """A list of every file, a worker that carries the list's digest, and a bundle linked from an earlier site."""
    if earlier is not None:
        (tree / "bundle").hardlink_to(earlier / "bundle")
    else:
        (tree / "bundle").write_text("the same at every build", encoding="utf-8")
    rows = "".join(f"{path} {sha256} {size}\n" for path, (sha256, size) in sorted(files.items()))
    (tree / "list.txt").write_text(rows, encoding="utf-8")
    (tree / "sw.js").write_text(hashlib.sha256(rows.encode()).hexdigest(), encoding="utf-8")
    return OfflineCopy("", {}, ("bundle", "list.txt", "sw.js"))


def toy_plan(
    pages: Iterable[Page],
    copies: Mapping[str, Copy] | None = None,
    texts: Mapping[str, str] | None = None,
    version: str = "1",
) -> Plan:
    rows = tuple(pages)
    return Plan(rows, copies or {}, texts or {}, version, lambda: toy_app(rows), toy_hold)


def bytes_in(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


class Toys:
    page = staticmethod(toy_page)
    app = staticmethod(toy_app)
    hold = staticmethod(toy_hold)
    plan = staticmethod(toy_plan)
    bytes_in = staticmethod(bytes_in)


@pytest.fixture
def toys() -> type[Toys]:
    return Toys


@pytest.fixture
def silent() -> Callable[[str, int, int], None]:
    return lambda what, done, total: None
