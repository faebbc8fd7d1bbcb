"""Words that the program says of itself on every site: they tell nothing of a journal, and are no secret of it."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache

from journal.keeping.shelf import PACKAGE, files_below, find_shelf
from journal.sharing.folding import Folded

WORD = re.compile(r"[^\W_]+")
_ROOMS_THAT_SPEAK = ("site/", "reckoning/", "quantities.py", "reading/keys.py")
_JINJA_COMMENT = re.compile(r"\{#.*?#\}", re.DOTALL)


@cache
def own_words() -> frozenset[str]:
    """Every word, in small letters, of the templates, styles and scripts, and of the texts that pages are made with."""
    return frozenset(word for text in own_texts() for word in WORD.findall(Folded(text).low))


@cache
def own_texts() -> tuple[str, ...]:
    """Those texts themselves."""
    return (*_of_the_shelf(), *_of_the_sources())


def _of_the_shelf() -> Iterator[str]:
    shelf = find_shelf()
    for room in ("templates", "static"):
        for name in files_below(shelf / room):
            if name.endswith((".html", ".css", ".js", ".svg")):
                yield _JINJA_COMMENT.sub(" ", (shelf / room / name).read_text(encoding="utf-8"))


def _of_the_sources() -> Iterator[str]:
    """The texts in the program's own sources, but for what only explains them."""
    for name in files_below(PACKAGE):
        if name.endswith(".py") and name.startswith(_ROOMS_THAT_SPEAK):
            yield from _constants(ast.parse((PACKAGE / name).read_text(encoding="utf-8")))


def _constants(tree: ast.Module) -> Iterator[str]:
    explains = {
        id(inner.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        for inner in node.body
        if isinstance(inner, ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in explains:
            yield node.value
