"""The context of every page. Templates get finished values and compute nothing."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from hashlib import sha256
from html import escape
from operator import attrgetter
from types import ModuleType

from journal.model import Journal
from journal.reading.receipts import Received
from journal.reading.tracks import Track
from journal.site import addresses, wording
from journal.site.memory import Memory
from journal.site.pages import (
    batches,
    calculators,
    compare_lines,
    costs_page,
    cultures,
    device,
    diary,
    finds,
    losses_page,
    now,
    patch_pages,
    planning_page,
    printed_labels,
    record,
    search_rows,
    share_pages,
    tents,
)
from journal.site.pages.lookup import Lookup
from journal.site.plan import Page, PictureFiles, Planned, Published, Site
from journal.site.search import search_parts

PLACES = (
    ("Now", addresses.NOW),
    ("Finds", addresses.FINDS),
    ("Cultures", addresses.CULTURES),
    ("Batches", addresses.BATCHES),
    ("Tent", addresses.TENTS),
)

Texts = tuple[tuple[str, str], ...]

Make = Callable[[Sequence[Planned], Callable[[], Texts]], tuple[tuple[Page, ...], PictureFiles, Texts]]
"""Plans the pages that are left for later and gives all pages in their order, the pictures of those, and what the
function returns, which is called meanwhile."""


def plan_site(
    journal: Journal,
    published: Mapping[str, Published],
    share: str | None = None,
    received: Sequence[Received] = (),
    key: bytes = b"",
    memory: Memory | None = None,
    tracks: Sequence[Track] = (),
    make: Make | None = None,
) -> Site:
    """Everything that the site consists of, before any of it is rendered. published: journal path of a photo -> its
    published sizes; a photo that is missing there is shown as undecodable. share: for a share, the name under which a
    reader's device remembers it; None for the author's own site. received: what came in from phones; not in shares.
    key: of the share, under which its entries have fingerprints that nobody else can make. memory: keeps what was
    planned of the author's own site for the next plan; it changes nothing but the time that takes. tracks: drawn on
    maps; not in shares. make: plans most pages, so that it may be done elsewhere; not together with `memory`."""
    lookup = Lookup(journal, published, share, key, memory, tracks)
    settings, as_of = journal.settings, journal.settings.as_of
    shown_as_of = {"iso": as_of.isoformat(), "words": wording.day_in_words(as_of)} if as_of else None
    site = {"title": settings.title, "author": settings.author, "as_of": shown_as_of, "share": lookup.share}
    site["url"] = settings.site_url
    lookup.common = {"site": site, "places": PLACES}
    lookup.is_later = make is not None
    planned = [lookup.whole(row) if isinstance(row, Page) else row for row in _pages(lookup)]
    if make is not None:
        _read_by_nearly_all(lookup)
        pages, files, texts = make(planned, lambda: _texts(lookup, received))
        lookup.pictures.take(files)
    else:
        pages, texts = tuple(row for row in planned if isinstance(row, Page)), _texts(lookup, received)
    if memory is not None:
        memory.end()
    return Site(pages, tuple(sorted(lookup.pictures.files.items())), texts)


_read_by_nearly_all = attrgetter(
    "indexes.naming", "indexes.anchors", "indexes.growing", "analysis.rollups", "analysis.expected", "analysis.climate"
)
"""What is made here, so that not each of the processes that plan pages makes it for itself."""


def _pages(lookup: Lookup) -> Iterator[Planned]:
    for module, own in _ADDRESSES.items():
        pages = partial(module.pages, lookup)
        yield from lookup.together(module.__name__, own, pages) if own else pages()


_ADDRESSES: Mapping[ModuleType, Sequence[str]] = {
    now: (addresses.NOW, addresses.DUE),
    finds: (),
    patch_pages: (),
    cultures: (),
    compare_lines: (addresses.COMPARE,),
    batches: (),
    planning_page: (addresses.PLAN,),
    losses_page: (addresses.LOSSES,),
    costs_page: (addresses.COSTS,),
    tents: (),
    diary: (),
    calculators: (addresses.CALCULATORS,),
    record: (addresses.RECORD, addresses.OUTBOX),
    device: (addresses.DEVICE, addresses.PROBLEMS, addresses.FORMAT, addresses.SAFETY),
    printed_labels: (addresses.LABELS,),
}
"""The modules in the order of their pages, with the addresses of these; none of those that have pages of each of many
things, and divide them themselves."""


FINDS_ROOT = """
(async () => {
  for (let at = new URL(".", location.href); ; at = new URL("..", at)) {
    const answer = await fetch(new URL("manifest.webmanifest", at)).catch(() => null);
    const isRoot = answer?.ok && (await answer.json().then((manifest) => "start_url" in manifest).catch(() => false));
    if (isRoot) document.querySelector("a").href = new URL("index.html", at).href;
    if (isRoot || at.pathname === "/") return;
  }
})();
"""
"""Leads the page's link to the nearest folder above that has the app's manifest. It cannot be a file of the site, which
a page at any depth could not name."""

_NOT_FOUND = """<!doctype html>
<html lang="en"><head>
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; connect-src 'self'; script-src {scripts}; \
style-src {styles}">
<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark"><title>{title}</title><style>{style}</style></head>
<body><main><h1>Page not found</h1><p>{words}</p>
<p><a href="{first}">Go to the first page of the journal</a></p></main>{script}</body></html>
"""


_NOT_FOUND_STYLE = (
    "body{max-width:38rem;margin:0 auto;padding:1.5rem 1rem;font:106.25%/1.5 sans-serif}h1{font-family:serif}"
    "a{display:inline-block;padding:.7rem 0;color:inherit}"
)


def _hash_source(text: str) -> str:
    """What a policy names an inline script or style by."""
    return f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"


def not_found_page(title: str, words: str, site_url: str | None = None) -> str:
    """What a host shows for an address without a page. It may be at any depth and below any path, so its
    style is within, and a script finds its first page where no site_url names it; without scripts that is the host's
    own."""
    return _NOT_FOUND.format(
        title=escape(title),
        words=escape(words),
        first=escape(site_url or "/"),
        style=_NOT_FOUND_STYLE,
        styles=_hash_source(_NOT_FOUND_STYLE),
        scripts="'none'" if site_url else _hash_source(FINDS_ROOT),
        script="" if site_url else f"<script>{FINDS_ROOT}</script>",
    )


def _texts(lookup: Lookup, received: Sequence[Received]) -> Texts:
    """Small generated files that are not pages, such as the web app manifest."""
    search = sorted(search_parts(search_rows.lines(lookup), search_rows.common_names(lookup)).items())
    if lookup.share is not None:
        return (*share_pages.texts(lookup), *patch_pages.texts(lookup), *search)
    title, words = f"Page not found · {lookup.settings.title}", "There is no page at this address."
    gone = not_found_page(title, words, lookup.settings.site_url)
    made = (*record.texts(lookup, received), *patch_pages.texts(lookup), *search)
    return (("404.html", gone), ("manifest.webmanifest", device.manifest(lookup.settings.title)), *made)
