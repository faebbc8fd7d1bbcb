"""Styles and scripts as a site has them say what their sources say, and each page asks for what it needs, once."""

from __future__ import annotations

import gzip
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

import pytest
from pygments.lexers import CssLexer, JavascriptLexer
from pygments.token import Comment, String, Whitespace

from journal.cache.resources import files_below, find_resources
from journal.cache.static_files import NOT_IN_A_SHARE, joined_text, lean, static_files
from tests.builders import some

RESOURCES = find_resources()
STATIC = RESOURCES / "static"
SCRIPTS = [name for name in files_below(STATIC) if name.endswith(".js")]
STYLES = [name for name in files_below(STATIC) if name.endswith(".css")]
NAMED = re.compile(r'<script[^>]* src="([^"]+)"|<link rel="stylesheet" href="([^"]+)"')


def said(text: str, lexer: JavascriptLexer | CssLexer) -> str:
    """What a program does not read over: texts and regular expressions as they stand, all else without white space."""
    tokens = ((kind, value) for kind, value in lexer.get_tokens(text) if kind not in Comment and kind not in Whitespace)
    return "".join(value if kind in String else re.sub(r"\s+", "", value) for kind, value in tokens)


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_script_without_comments_says_the_same(name: str) -> None:
    source = (STATIC / name).read_text("utf-8")
    assert said(source, JavascriptLexer()) == said(lean(source, ".js"), JavascriptLexer())
    assert len(lean(source, ".js")) < 0.85 * len(source)


def css_said(text: str) -> list[str]:
    """The tokens of a style, a stretch of white space as one, and none beside what separates rules and values."""
    tokens = [(kind, value) for kind, value in CssLexer().get_tokens(text) if kind not in Comment]
    whole = "".join(value if kind in String else re.sub(r"\s+", " ", value) for kind, value in tokens)
    return re.split(r"(?: *([{};,]) *)+", re.sub(r" +", " ", whole.strip()))


@pytest.mark.parametrize("name", STYLES)
def test_a_style_without_comments_says_the_same(name: str) -> None:
    source = (STATIC / name).read_text("utf-8")
    assert css_said(source) == css_said(lean(source, ".css"))
    assert "/*" not in lean(source, ".css")


def test_white_space_that_counts_stays_in_a_style() -> None:
    source = '@media print {\n  a { b: c }\n  /* x */ d :is(e , f) + g { h: "/*  ;  */" calc(1px + 2px) ; }\n}\n'
    short = '@media print{a{b: c} d :is(e,f) + g{h: "/*  ;  */" calc(1px + 2px);}}\n'
    assert short == lean(source, ".css")


TRICKY = {
    "a regular expression": "const a = /[/*]\\/\\/ '/.test(b);\n",
    "a regular expression after an arrow": "const a = (b) => /^(c)  (d)'/.test(b);\n",
    "a template": "const a = `// not\n   a ${b ? '/* x */' : c} comment`;\n",
    "a template in a template": "const a = `${b ? `, with  ${c}  // and` : ``}  all`;\n",
    "an import": 'import { a } from "./b.js";\nexport const c = await import("./d.js");\n',
    "lines without semicolons": "let a = 1\nlet b = a\n++b\n",
    "signs": "const c = a + +b - -d;\n",
}


@pytest.mark.parametrize("case", TRICKY)
def test_what_only_looks_like_a_comment_stays(case: str) -> None:
    text = lean(TRICKY[case], ".js")
    if case in ("a template in a template", "a regular expression after an arrow"):
        assert TRICKY[case] == text
    assert said(TRICKY[case], JavascriptLexer()) == said(text, JavascriptLexer())
    assert TRICKY[case].count("\n") - text.count("\n") in (0, 1)


@pytest.mark.parametrize("is_share", [False, True])
def test_every_source_is_in_one_file_of_a_site(is_share: bool) -> None:
    copies, texts = static_files(RESOURCES, is_share)
    assert set() == copies.keys() & texts.keys()
    for name in (*SCRIPTS, *STYLES):
        text = lean((STATIC / name).read_text("utf-8"), Path(name).suffix)
        holding = [path for path, whole in texts.items() if text in whole]
        left_out = (
            {*NOT_IN_A_SHARE, "js/shell.js", "css/record.css"} if is_share else {"js/ask.js", "js/new-entries.js"}
        )
        assert (name in left_out) == (not holding), name
        assert len(holding) < 2, name
    assert set() == {f"static/{name}" for name in NOT_IN_A_SHARE if is_share} & {*copies, *texts}


def test_what_is_not_in_a_share_is_there() -> None:
    assert set() == NOT_IN_A_SHARE - set(files_below(STATIC))


def test_a_joined_script_is_classic_and_strict() -> None:
    for name in ("js/first.js", "js/page.js"):
        text = joined_text(STATIC, name)
        assert text.startswith(('"use strict";', "'use strict'"))
        assert not re.search(r"^(import|export)\b", text, re.MULTILINE)


def named_by(page: str) -> Iterator[str]:
    for match in NAMED.finditer(page):
        yield re.sub(r"^(\.\./|\./)*", "", match[1] or match[2])


def test_every_page_asks_for_its_styles_and_scripts_once_and_they_are_there(sample_site: Path) -> None:
    asked: Counter[str] = Counter()
    for path in sorted(sample_site.rglob("*.html")):
        page = path.read_text("utf-8")
        names = list(named_by(page))
        asked.update(names)
        if "data-root" not in page:
            continue  # what a host shows where there is no page
        assert len(set(names)) == len(names), path
        first = ["static/css/journal.css", "static/js/first.js", "static/js/page.js"]
        assert names[:3] == (first if "<nav" in page else first[:2]), path  # an old address only leads on
        blocking = re.findall(r"<script(?! defer)[^>]*>", page.partition("<body")[0])
        assert 1 == len(blocking), path
    assert [] == [name for name in asked if not (sample_site / name).is_file()]


MOST_BYTES = 60_000
HEAD_BYTES = 250
"""What a host sends before a file, at most."""

ASKED_FOR: Mapping[str, str | None] = {
    "search": None, "label-code": None, "viewer": None, "scan": None, "record-doubts": None, "amounts": None,
    "packs": r"data-device\b(?!-)|data-pack",
    "records": "data-outbox", "recorded-shown": "data-outbox|data-tick-key", "outbox-page": "data-outbox",
    "device": r"data-device\b(?!-)", "pack-buttons": r"data-device\b(?!-)|data-pack",
}  # fmt: skip
"""Script that another names and fetches only when needed -> what a page has that needs it at once (a pattern); None:
what someone touches, or records that are on the device. tests/browser/test_light_pages.py sees that it is so."""

FETCHES = re.compile(r"""(?:\bimport\s*\(?|\bfrom\s*)["']\./([\w-]+)\.js|["'`]static/js/([\w-]+)\.js""")


@cache
def named_in(script: Path) -> frozenset[str]:
    names = (one or other for one, other in FETCHES.findall(script.read_text("utf-8")))
    return frozenset(f"static/js/{name}.js" for name in names)


def scripts_of(site: Path, path: str) -> set[str]:
    """The scripts that a page from a host fetches before anything is touched, by what the page and they name."""
    page = (site / path).read_text("utf-8")
    found: set[str] = set()
    wanted = {name for name in named_by(page) if name.endswith(".js")}
    while wanted:
        found |= wanted
        named = {name for script in wanted for name in named_in(site / script)} - found
        at_once = {name: ASKED_FOR.get(Path(name).stem, "") for name in named}
        wanted = {name for name, hook in at_once.items() if hook is not None and re.search(hook, page)}
    return found


@cache
def packed_bytes(file: Path) -> int:
    return len(gzip.compress(file.read_bytes(), 6)) + HEAD_BYTES


def texts_bytes(site: Path, path: str) -> int:
    """Of a page, its styles and its scripts, as hosts send them."""
    styles = [name for name in named_by((site / path).read_text("utf-8")) if name.endswith(".css")]
    return sum(packed_bytes(site / file) for file in (path, *styles, *scripts_of(site, path)))


def test_no_page_fetches_more_than_60_kb_of_texts(sample_site: Path) -> None:
    pages = some((path.relative_to(sample_site).as_posix() for path in sample_site.rglob("*.html")), 50)
    heavy = {path: size for path in pages if (size := texts_bytes(sample_site, path)) > MOST_BYTES}
    assert {} == heavy
    on_each = {f"static/js/{name}.js" for name in ("first", "page", "recorded", "offline", "pool")}
    assert on_each <= scripts_of(sample_site, "index.html")
    assert "static/js/record-archive.js" in scripts_of(sample_site, "record/outbox/index.html")
