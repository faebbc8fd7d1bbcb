"""The Flask application: one view for each endpoint, which renders a page of the plan with its template."""

from __future__ import annotations

import marshal
from collections.abc import Callable, Container, Iterable, Sequence
from functools import cache, lru_cache
from pathlib import Path
from secrets import token_hex
from typing import Any

from flask import Flask, Response, abort, render_template
from flask.templating import Environment
from jinja2 import BytecodeCache, StrictUndefined, nodes
from jinja2.bccache import Bucket
from jinja2.compiler import CodeGenerator, Frame
from markupsafe import Markup, escape

from journal.site.label_sheet import codes_of
from journal.site.markdown import Prose, render
from journal.site.plan import Page
from journal.site.search import as_script
from journal.site.wording import unbroken, unbroken_code

ROUTES: tuple[tuple[str, str], ...] = (
    ("now", "/"),
    ("finds", "/finds/"),
    ("find", "/finds/<name>/"),
    ("patches", "/patches/"),
    ("patch", "/patches/<name>/"),
    ("near", "/near-me/"),
    ("cultures", "/cultures/"),
    ("compare", "/cultures/compare/"),
    ("culture", "/cultures/<name>/"),
    ("batches", "/batches/"),
    ("batch", "/batches/<name>/"),
    ("plan", "/plan/"),
    ("losses", "/losses/"),
    ("costs", "/costs/"),
    ("tents", "/tents/"),
    ("tent", "/tents/<name>/"),
    ("power", "/tents/<name>/power/"),
    ("history", "/tents/<name>/history/"),
    ("door", "/tents/<name>/door/"),
    ("diary", "/diary/"),
    ("month", "/diary/<month>/"),
    ("calculators", "/calculators/"),
    ("device", "/device/"),
    ("problems", "/device/problems/"),
    ("format", "/device/format/"),
    ("safety", "/device/safety/"),
    ("record", "/record/"),
    ("outbox", "/record/outbox/"),
    ("labels", "/labels/"),
    ("due", "/due/"),
    ("part", "/lists/<kind>/<part>/"),
    ("rows", "/lists/<kind>/<part>.js"),
)

AUTHORS_OWN = frozenset({"problems", "format", "record", "outbox", "labels", "plan", "losses", "costs"})
"""Endpoints that a share does not have."""

OF_PLACES = frozenset({"patches", "patch", "near"})
"""Endpoints that a share has only if it shows a place."""


def not_in_a_share(pages: Iterable[Page]) -> frozenset[str]:
    """The endpoints that a share with these pages leaves out."""
    return AUTHORS_OWN | (OF_PLACES - {page.endpoint for page in pages})


class _InMemory(BytecodeCache):
    """Templates compiled by this process, by their text; compiled templates are never read from a file."""

    def __init__(self) -> None:
        self._by_name: dict[str, tuple[str, Any]] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        checksum, code = self._by_name.get(bucket.key, ("", None))
        if checksum == bucket.checksum:
            bucket.code = code

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._by_name[bucket.key] = (bucket.checksum, bucket.code)

    def all_of_them(self) -> bytes:
        return marshal.dumps(self._by_name)

    def take(self, data: bytes) -> None:
        self._by_name |= marshal.loads(data)


_COMPILED = _InMemory()

_escaped_text = lru_cache(maxsize=1 << 13)(escape)

_ROOT = f"{token_hex(16)}/"
"""Stands for the relative path to the site's root, and in no text."""


def compile_templates(app: Flask) -> bytes:
    """Compiles all templates that this process has not compiled yet; what `take_templates` takes."""
    for name in app.jinja_env.list_templates(extensions=["html"]):
        app.jinja_env.get_template(name)
    return _COMPILED.all_of_them()


def take_templates(compiled: bytes) -> None:
    """Takes over what the process has compiled that this one was forked from, of which it asks no others."""
    if compiled:
        _COMPILED.take(compiled)


class _Compiler(CodeGenerator):
    def _output_child_pre(self, node: nodes.Expr, frame: Frame, finalize: Any) -> None:
        """Lets `_Environment.escaped` escape what a template of HTML puts out."""
        if frame.eval_ctx.autoescape and not frame.eval_ctx.volatile:
            self.write("environment.escaped(")
        else:
            super()._output_child_pre(node, frame, finalize)


class _Environment(Environment):
    code_generator_class = _Compiler

    @staticmethod
    def escaped(value: Any) -> str:
        """As `escape`, but the same short texts are put out a million times in a build, and are escaped once."""
        kind = type(value)
        return value if kind is Markup else _escaped_text(value) if kind is str else escape(value)

    def getattr(self, obj: Any, attribute: str) -> Any:
        """What a mapping has under a name, and only then what is an attribute of it: most rows are mappings."""
        if type(obj) is dict and attribute in obj:
            return obj[attribute]
        try:
            return getattr(obj, attribute)
        except AttributeError:
            return super().getattr(obj, attribute)


def create_app(pages: Iterable[Page], templates: Path, without: Container[str] = ()) -> Flask:
    """An application that renders exactly these pages. templates: absolute path of the folder of templates. without:
    endpoints to leave out. A page that is not in the plan answers 404."""
    app = Flask("journal", static_folder=None, template_folder=str(templates))
    app.jinja_environment = _Environment
    app.jinja_options = {"cache_size": -1}  # as many as there are: nothing is done to know the least used
    app.jinja_env.bytecode_cache = _COMPILED
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = True
    app.jinja_env.lstrip_blocks = True
    # each import in a template compares all of these; templates use the first, and the freezer sets the other
    app.jinja_env.globals = {name: app.jinja_env.globals[name] for name in ("range", "url_for")}
    planned = {(page.endpoint, page.values): page for page in pages}

    @cache  # most texts are on the page of what they are about, and in the diary
    def prose(text: Prose, root: str) -> Markup:
        macros: Any = app.jinja_env.get_template("parts/picture.html").module
        return render(text, root, lambda picture: str(macros.figure(picture, root)))

    latest: tuple[object, Markup] = None, Markup()

    def rows_of(rows: Sequence[object], kind: str, root: str) -> Markup:
        """Rows of a folded part of a list. On its page and in its script, which follows, only the root differs."""
        nonlocal latest
        if latest[0] is not rows:
            macros: Any = app.jinja_env.get_template("lists/_rows.html").module
            latest = rows, macros.rows_of(kind, rows, _ROOT)
        return latest[1].replace(_ROOT, root)

    app.jinja_env.filters["rows_of"] = rows_of
    app.jinja_env.filters["prose"] = prose
    app.jinja_env.filters["in_script"] = as_script
    app.jinja_env.filters["unbroken"] = unbroken
    app.jinja_env.filters["unbroken_code"] = unbroken_code
    app.jinja_env.filters["codes"] = codes_of  # made when the page is: they take longer than all else of it
    app.url_map = _addresses(frozenset(endpoint for endpoint, _ in ROUTES if endpoint in without))
    app.view_functions = {rule.endpoint: _view(rule.endpoint, planned) for rule in app.url_map.iter_rules()}
    return app


@cache
def _addresses(without: frozenset[str]) -> Any:
    """Which address leads to which endpoint, but for those: made once, since that takes as long as rendering some
    pages."""
    rules = ((rule, endpoint) for endpoint, rule in ROUTES if endpoint not in without)
    return Flask.url_map_class([Flask.url_rule_class(rule, endpoint=name, methods={"GET"}) for rule, name in rules])


def _view(endpoint: str, planned: dict[tuple[str, tuple[tuple[str, str], ...]], Page]) -> Callable[..., Response]:
    def view(**values: str) -> Response:
        page = planned.get((endpoint, tuple(values.items())))
        if page is None:
            abort(404)
        text = render_template(page.template, **page.context) if page.text is None else page.text
        return Response(text, mimetype=f"text/{'javascript' if page.path.endswith('.js') else 'html'}")

    return view
