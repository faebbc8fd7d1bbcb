"""Words that reveal nothing of a journal: those that the program says of itself on every site, and a dictionary's."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from functools import cache

from journal.cache.resources import PACKAGE, files_below, find_resources
from journal.sharing.normalise import WORD, Normalised

_SPEAKING = ("site/", "analysis/", "quantities.py", "reading/keys.py")
_UNSPOKEN = frozenset({"data/english_names.toml", "data/everyday_words.toml", "data/places.toml"})
"""Tables that no page of a share shows anything of: their words would be names that are not looked for."""
_JINJA = re.compile(r"\{%.*?%\}|\{\{.*?\}\}", re.DOTALL)
_TAG = re.compile(r"<[^<>]*>")
_EMPHASIS = re.compile(r"</?(?:b|em|i|strong)>")
_JINJA_COMMENT = re.compile(r"\{#.*?#\}", re.DOTALL)


@cache
def own_words() -> frozenset[str]:
    """Every word, in small letters, of the templates, styles and scripts, and of the texts that pages are made with."""
    texts = {*page_texts(), *_resource_texts("static")}
    return frozenset(WORD.findall(Normalised.loosely("\n".join(texts)).low))


@cache
def page_texts() -> tuple[str, ...]:
    """The texts that may be on any page: templates, with and without tags, and what pages are made with."""
    templates = tuple(_resource_texts("templates"))
    bare = (_TAG.sub(" ", _EMPHASIS.sub("", _JINJA.sub(" ", text))) for text in templates)
    sources: list[str] = []  # without what only explains them
    for name in files_below(PACKAGE):
        if name.endswith(".py") and name.startswith(_SPEAKING):
            sources += _constants(ast.parse((PACKAGE / name).read_text(encoding="utf-8")))
        elif name.startswith("data/") and name.endswith(".toml") and name not in _UNSPOKEN:
            sources += _texts_in(tomllib.loads((PACKAGE / name).read_text(encoding="utf-8")))
    return (*templates, *bare, *sources)


_CONNECTING = frozenset(
    re.findall(
        r"\w+",
        """
        der die das den dem des ein eine einem einen bei beim unter hinter neben auf von vom zur zum und im am an en
        le la les du de sur sous chez aux et un une el los las del y il lo gli di da al alla ved under bak hos til fra
        av og det i p\u00e5 vid van het bij aan op onder achter tussen
        """,
    )
)
"""What joins the words of names in other languages than English."""
_ENDINGS = (("ies", "y"), ("es", ""), ("s", ""), ("ed", ""), ("ed", "e"), ("ing", ""), ("ing", "e"))


@cache
def _dictionary() -> frozenset[str]:
    """*Source:* Webster's New International Dictionary, second edition (1934), its words alone, by way of
    `english-words`; names begin with a capital letter there."""
    from english_words import get_english_words_set

    return frozenset(get_english_words_set(["web2"]))


def is_ordinary(low: str) -> bool:
    """Whether a word in small letters is one of the English language, in a usual form, or joins the words of names."""
    if low in _CONNECTING or low in _dictionary():
        return True
    return any(low.endswith(end) and low[: -len(end)] + stem in _dictionary() for end, stem in _ENDINGS)


def is_given_name_too(low: str) -> bool:
    """Whether the dictionary has a word as a name as well: `peter`, `rose`."""
    return low.capitalize() in _dictionary()


def _resource_texts(folder: str) -> Iterator[str]:
    root = find_resources() / folder
    for name in files_below(root):
        if name.endswith((".html", ".css", ".js", ".svg")):
            yield _JINJA_COMMENT.sub(" ", (root / name).read_text(encoding="utf-8"))


def _texts_in(value: object) -> Iterator[str]:
    """Names and texts in a file of data, but for the keys of rows, which no page shows."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, below in value.items():
            yield key
            yield from _texts_in(below)
    elif isinstance(value, list):
        for row in value:
            yield from _texts_in(list(row.values()) if isinstance(row, dict) else row)


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
