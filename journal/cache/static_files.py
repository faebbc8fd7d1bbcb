"""The program's styles and scripts as a site has them: what every page needs in one file, all without comments."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from rjsmin import jsmin

from journal.cache.resources import files_below

_STYLES = ("tokens", "base", "parts", "pages", "tents", "timeline", "dots", "lines", "paper")

_OF_SITES: Mapping[str, tuple[str, ...]] = {
    "css/journal.css": (*_STYLES, "record"),
    "js/first.js": ("theme", "early", "sort", "today"),
    "js/page.js": ("late", "shell"),
    "js/records.js": ("record-entry", "record-digests", "record-store"),
    "js/record.js": (
        *("record-position", "record-fields", "record-drafts", "record-photos", "record-saved", "record-page"),
    ),
}
_OF_SHARES: Mapping[str, tuple[str, ...]] = {
    "css/journal.css": _STYLES,
    "js/first.js": _OF_SITES["js/first.js"],
    "js/share.js": ("late", "ask", "new-entries"),
}
"""Path below `static` in the site -> names of its sources, in the order in which they count. `first.js` runs before the
first paint, the others after the page is read: `page.js` (in a share `share.js`) on every page, `records.js` where
records are kept, `record.js` on the page Record."""

NOT_IN_A_SHARE = frozenset({
    "sw.js", "js/offline.js", "js/pool.js", "js/refusals.js", "js/packs.js", "js/device.js", "js/pack-buttons.js",
    "icons/mark-192.png", "icons/mark-512.png", "icons/maskable-512.png",
    "js/record-archive.js", "js/record-database.js", "js/record-digests.js", "js/record-doubts.js",
    "js/record-drafts.js", "js/record-entry.js", "js/record-fields.js", "js/record-page.js", "js/record-photos.js",
    "js/record-position.js", "js/record-saved.js", "js/record-store.js",
    "js/recorded.js", "js/recorded-shown.js", "js/outbox-page.js", "js/scan.js", "js/labels.js",
    "css/labels.css", "screens/now.webp", "screens/batch.webp",
})  # fmt: skip
"""Static files of the offline copy, of recording, and of labels. A share has none: a newer share replaces an older one
completely, and what its author no longer shares must not stay in a browser."""

_TEMPLATE = re.compile(r"`(?:\\.|[^`\\])*`", re.DOTALL)
_AFTER_ARROW = re.compile(r"=>\s*/(?![/*])")
_CSS = re.compile(r"""("(?:\\.|[^"\\])*"|'(?:\\.|[^'\\])*')|/\*.*?(?:\*/|\Z)|\s*([{};,])\s*|(\s)\s*""", re.DOTALL)
_ENDINGS = (".css", ".js")


def static_files(resources: Path, is_share: bool = False) -> tuple[dict[str, Path], dict[str, str]]:
    """Path within the site -> the file that is copied there, and path -> text of every style and script.

    resources: the folder of the program's templates and static files. is_share: for a share; it has no offline copy and
    records nothing."""
    static = resources / "static"
    texts = {f"static/{name}": joined_text(static, name, is_share) for name in (_OF_SHARES if is_share else _OF_SITES)}
    parts = {source for table in (_OF_SITES, _OF_SHARES) for name in table for source in _sources(name, table)}
    copies = {}
    for name in files_below(static):
        file = static / name
        if name in parts or (is_share and name in NOT_IN_A_SHARE):
            continue
        if file.suffix in _ENDINGS:
            texts[f"static/{name}"] = lean(file.read_text("utf-8"), file.suffix)
        else:
            copies[f"static/{name}"] = file
    return copies, texts


def joined_text(static: Path, name: str, is_share: bool = False) -> str:
    """The text of a joined file, such as "js/first.js". static: the folder of its sources."""
    sources = _sources(name, _OF_SHARES if is_share else _OF_SITES)
    return "".join(lean((static / source).read_text("utf-8"), Path(source).suffix) for source in sources)


@cache
def lean(text: str, suffix: str) -> str:
    """A style (".css") or a script (".js") without comments and needless white space; its names stay as they are.

    Of a style, white space goes only where it never counts: beside braces, semicolons and commas, and in runs. A script
    with what rjsmin misreads stays as it is: a template literal within another one, a regular expression after `=>`."""
    if suffix == ".css":
        return f"{_CSS.sub(lambda part: part[1] or part[2] or part[3] or '', text).strip()}\n"
    short = str(jsmin(text))
    is_nested = any(one[0].count("{") != one[0].count("}") for one in _TEMPLATE.finditer(short))
    return f"{(text if is_nested or _AFTER_ARROW.search(text) else short).strip()}\n"


def static_digests(resources: Path) -> frozenset[str]:
    """SHA-256 (hex) of every static file that a site or a share may have."""
    digests = set()
    for is_share in (False, True):
        copies, texts = static_files(resources, is_share)
        bodies = (*(file.read_bytes() for file in copies.values()), *(text.encode() for text in texts.values()))
        digests |= {hashlib.sha256(body).hexdigest() for body in bodies}
    return frozenset(digests)


def _sources(name: str, table: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    folder, ending = name.partition("/")[0], name.rpartition(".")[2]
    return tuple(f"{folder}/{source}.{ending}" for source in table[name])
