"""An entry's text into HTML: CommonMark, cleaned, with IDs as links and pictures as figures."""

from __future__ import annotations

import posixpath
import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from itertools import chain
from operator import methodcaller
from urllib.parse import unquote

import nh3
from markdown_it.token import Token
from markupsafe import Markup, escape

from journal.reading.links_in_text import LEADS_ELSEWHERE, markdown_reader
from journal.reading.private_passages import split_private
from journal.site.images import Picture
from journal.site.wording import with_units

_WORD = re.compile(r"(?<![A-Za-z0-9-])[A-Za-z][A-Za-z0-9-]*(?:\.[0-9]+(?![0-9]))?(?![A-Za-z0-9])")
_WITHOUT_HYPHENS = methodcaller("rstrip", "-")

_POINTED_OR_BARE = re.compile(r"\s*+(<[^>]+>|[^\s)]+)")
_BARE = re.compile(r"\s*+([^\s)]+)")


@dataclass(frozen=True, slots=True)
class Prose:
    """Markdown and all that rendering it takes. links: (word as the text spells it, address from the site's root).
    pictures: (target as the text spells it, the picture)."""

    text: str
    links: tuple[tuple[str, str], ...] = ()
    pictures: tuple[tuple[str, Picture], ...] = ()


def id_in(word: str) -> str:
    """The ID in lower case that a word names, or a part of which it names."""
    return word.partition(".")[0].lower()


Links = tuple[tuple[str, str], ...]


def links_of(addresses: Mapping[str, str]) -> Callable[[str], Links]:
    """A function that tells which words of a text are IDs or parts of one, in order, each once and with its address.
    addresses: ID in lower case -> address."""

    @cache
    def within(run: str) -> Links:
        """Of what stands between two spaces: the same few thousand make up all texts of a journal."""
        words = map(_WITHOUT_HYPHENS, _WORD.findall(run))
        return tuple((word, addresses[id]) for word in words if (id := id_in(word)) in addresses)

    return lambda text: tuple(dict.fromkeys(chain.from_iterable(map(within, dict.fromkeys(text.split())))))


def targets_in(text: str) -> Iterator[str]:
    """Where the pictures of a text are, as written there, whether in code or not. Linear: each character is read once
    or twice."""
    last_pointed = text.rfind(">")
    passed, closing = 0, text.find("](")
    while closing >= 0:
        words = max(passed, text.rfind("]", passed, closing) + 1)
        passed = closing + 1
        if text.find("![", words, closing) >= 0:
            at = closing + 2
            if target := _POINTED_OR_BARE.match(text, at) if at < last_pointed else _BARE.match(text, at):
                yield target[1].strip("<>")
                passed = target.end()
        closing = text.find("](", passed)


def photo_path(entry_path: str, target: str) -> str:
    """The journal path of a picture that an entry's text shows, NFC; targets may be percent-encoded."""
    joined = posixpath.normpath(posixpath.join(posixpath.dirname(entry_path), unquote(target)))
    return unicodedata.normalize("NFC", joined)


# The only place where Markup is made. Entries may come from someone else's phone, so raw HTML is never let through, and
# what the renderer gives is cleaned again against an explicit list.

_TAGS = {
    "a", "blockquote", "br", "code", "em", "figure", "h3", "h4", "h5", "h6",
    "hr", "li", "ol", "p", "pre", "strong", "ul",
}  # fmt: skip
_ATTRIBUTES = {"a": {"href", "class"}, "figure": {"data-picture"}, "ol": {"start"}}
_SCHEMES = {"https", "http", "mailto", "geo"}
_CLEANER = nh3.Cleaner(tags=_TAGS, attributes=_ATTRIBUTES, url_schemes=_SCHEMES, link_rel="noopener noreferrer")
_LIKE_AN_ID = re.compile(r"(?<![A-Za-z0-9-])([A-Za-z][A-Za-z0-9-]*+)(?:\.[0-9]++)?")
_GOES_ON = re.compile(r"[A-Za-z0-9]|\.[0-9]|-[A-Za-z0-9]")
_ID_AND_MARK = re.compile(r'<a (?=[^<>]*class="id")[^<>]*+>[^<]*+</a>[.,;:!?)]++')
"""A tag and the punctuation behind it, between which no line breaks."""

_LINE = r"[^\W\d_][^\\`*_\[<&\n\r\0]*+(?<!\s)"
_PLAIN = re.compile(rf"{_LINE}(?:\n\n?{_LINE})*+\n?")
"""Paragraphs of words without any sign that Markdown knows, as most notes are."""

_FIGURE = re.compile(r'<figure data-picture="(\d+)"></figure>')


def render(prose: Prose, root: str, figure: Callable[[Picture], str]) -> Markup:
    """HTML of an entry's text on a page whose relative path to the site's root is `root`. figure: gives the (trusted)
    HTML of one picture. Private passages are in `div.private`."""
    html = []
    for passage, is_private_passage in split_private(prose.text):
        body = _render_passage(passage, prose, root, figure)
        html.append(f'<div class="private">{body}</div>' if is_private_passage else body)
    return Markup("".join(html))


def _render_passage(text: str, prose: Prose, root: str, figure: Callable[[Picture], str]) -> str:
    shown: list[Picture] = []
    links = {word: f'<a href="{escape(root + address)}" class="id">{word}</a>' for word, address in prose.links}
    raw = _paragraphs(text, links) if _PLAIN.fullmatch(text) else _rendered(text, prose, root, links, shown)
    clean = _CLEANER.clean(raw)
    clean = _ID_AND_MARK.sub(r'<span class="nowrap">\g<0></span>', clean)
    return _FIGURE.sub(lambda found: figure(shown[int(found.group(1))]), clean)


def _paragraphs(text: str, links: dict[str, str]) -> str:
    """What `_rendered` makes of a plain text, without the parser, which takes longer than all else."""
    html = "\n".join(_linked(line, links) for line in text.removesuffix("\n").split("\n"))
    return "<p>" + html.replace("\n\n", "</p>\n<p>") + "</p>\n"


def _rendered(text: str, prose: Prose, root: str, links: dict[str, str], shown: list[Picture]) -> str:
    """HTML that is not cleaned yet. shown: gets the pictures of its figures."""
    pictures = {unquote(target): picture for target, picture in prose.pictures}
    pages = {word: root + address for word, address in prose.links}
    tokens = list(
        _with_figures(markdown_reader().parse(text), pictures, shown, partial(_with_links, links=links, pages=pages))
    )
    for token in tokens:
        if token.type in ("heading_open", "heading_close"):
            token.tag = f"h{min(6, int(token.tag[1]) + 2)}"
    return str(markdown_reader().renderer.render(tokens, markdown_reader().options, {}))


def _with_figures(
    tokens: Sequence[Token],
    pictures: dict[str, Picture],
    shown: list[Picture],
    with_links: Callable[[Sequence[Token]], Iterator[Token]],
) -> Iterator[Token]:
    """The tokens, with pictures moved out of their paragraphs and headings to follow them as figures; of which nothing
    else is left, that is not shown. pictures: by their targets, percent-decoded. with_links: what becomes of inline
    tokens without pictures."""
    waiting: list[Picture] = []
    for at, token in enumerate(tokens):
        if token.type == "inline" and token.children:
            kept = []
            for child in token.children:
                if child.type != "image":
                    kept.append(child)
                elif (picture := pictures.get(unquote(str(child.attrs.get("src", ""))))) is not None:
                    waiting.append(picture)
            linked = list(with_links(kept))
            if len(linked) < len(token.children) and all(_is_blank(one.content) for one in linked):
                tokens[at - 1].hidden = tokens[at + 1].hidden = True  # the renderer leaves out such tags
                linked = []
            token.children = linked
        yield token
        if token.type in ("paragraph_close", "heading_close"):
            for picture in waiting:
                yield Token("html_block", "", 0, content=f'<figure data-picture="{len(shown)}"></figure>')
                shown.append(picture)
            waiting = []


def _is_blank(text: str) -> bool:
    """Whether nothing of a text can be seen, as of one of only spaces."""
    return not any(sign.isprintable() and not sign.isspace() for sign in text)


def _with_links(children: Sequence[Token], links: dict[str, str], pages: dict[str, str]) -> Iterator[Token]:
    """Inline tokens in which every known ID outside links and code is a link, and a link to one leads to its page. A
    link to a file of the journal folder becomes plain words, because that file is not in the site. A link without words
    has its address as them. links, pages: the HTML and the address of each ID, by the word that names it."""
    target, is_in_link, is_empty = "", False, False
    for child in children:
        if child.type == "link_open":
            target = str(child.attrs.get("href", ""))
            child.attrs["href"] = pages.get(target, target)
            is_in_link = is_empty = target in pages or LEADS_ELSEWHERE.match(target) is not None
            if is_in_link:
                yield child
        elif child.type == "link_close":
            if is_in_link and is_empty:
                yield Token("text", "", 0, content=markdown_reader().normalizeLinkText(target))
            if is_in_link:
                yield child
            is_in_link = False
        elif child.type == "text" and not is_in_link:
            yield Token("html_inline", "", 0, content=_linked(child.content, links))
        else:
            is_empty = is_empty and _is_blank(child.content)
            yield child


def _linked(text: str, links: dict[str, str]) -> str:
    """A text as HTML."""
    html: list[str] = []
    done = 0
    for found in _LIKE_AN_ID.finditer(text):
        word, own = found.group(), found[1]
        if word not in links and word.isalpha():
            continue  # as most words: there is nothing at its end that may belong to no ID
        if word not in links:
            word = own.rstrip("-")
        if word not in links:
            word = own.partition("--")[0]
        end = found.start() + len(word)
        if word not in links or _GOES_ON.match(text, end):
            continue
        html += escape(with_units(text[done : found.start()])), links[word]
        done = end
    return "".join((*html, escape(with_units(text[done:]))))
