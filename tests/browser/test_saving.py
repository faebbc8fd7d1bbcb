"""What a phone holds of a site, with the host there, gone, or cut off halfway."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tests.browser.conftest import Host, Visit, saved, tab_on, toy_in

pytestmark = pytest.mark.browser

PHOTO_SHOWN = "() => [...document.images].every((image) => image.complete && image.naturalWidth > 0)"
COLOUR = "() => getComputedStyle(document.querySelector('h1')).color"


@pytest.fixture
def host(serve: Callable[..., Any], toy: Any) -> Any:
    return serve(toy.build("one"))


@pytest.fixture
def held(visit: Any, host: Any) -> Any:
    """A visit after which the phone holds the toy site."""
    visit.page.goto(host.url())
    visit.until_saved()
    return visit


@pytest.fixture(scope="module")
def site(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The toy site, saved once for all tests that change nothing in what the phone holds."""
    with saved(browser, toy_in(tmp_path_factory.mktemp("toy")).build("one")) as made:
        yield made


@pytest.fixture
def tab(site: Any) -> Iterator[tuple[Visit, Host]]:
    with tab_on(site) as opened:
        yield opened


@pytest.fixture
def away(tab: tuple[Visit, Host]) -> tuple[Visit, Host]:
    """A tab with the site, whose host is gone."""
    visit, host = tab
    host.stop()
    return visit, host


TEXTS = "(urls) => Promise.all(urls.map(async (url) => (await fetch(url)).text()))"


def assert_all_is_read(visit: Visit, host: Host, toy: Any) -> None:
    """A page of each kind is opened; the worker gives every page that is asked for."""
    for path in ("index.html", "batches/b-031/index.html", "finds/f26-001/index.html", "diary/2026-09/index.html"):
        assert path in visit.text(host.url(path))
    texts = visit.page.evaluate(TEXTS, [host.url(path) for path in toy.bodies])
    assert [] == [path for path, text in zip(toy.bodies, texts, strict=True) if f"<h1>{path}</h1>" not in text]


# -- reading -------------------------------------------------------------------------------------------------


def test_after_one_visit_every_page_is_read_with_the_host_gone(away: Any, toy: Any) -> None:
    held, host = away
    for path in toy.bodies:
        assert path in held.text(host.url(path))
        assert held.page.evaluate(COLOUR) == "rgb(1, 1, 1)"
    assert [] == held.complaints


def test_saved_photos_are_shown_with_the_host_gone(away: Any) -> None:
    held, host = away
    held.page.goto(host.url("batches/b-031/index.html"))
    assert held.page.evaluate(PHOTO_SHOWN)


def test_search_answers_with_the_host_gone(away: Any) -> None:
    held, host = away
    held.page.goto(host.url("finds/f26-001/index.html"))
    held.page.fill("[data-search]", "alder")
    assert held.until("document.querySelector('.search-hit')?.href") == host.url("batches/b-031/index.html")


def test_all_is_read_after_the_browser_was_closed(phone: Any, host: Any, toy: Any) -> None:
    first = phone()
    first.page.goto(host.url())
    first.until_saved()
    host.stop()
    again = phone()
    assert_all_is_read(again, host, toy)


def test_a_site_below_a_host_is_saved_too(visit: Any, serve: Callable[..., Any], toy: Any) -> None:
    host = serve(toy.build("one"), prefix="/wood/journal/")
    visit.page.goto(host.url())
    visit.until_saved()
    host.stop()
    assert_all_is_read(visit, host, toy)


def test_nothing_is_asked_of_another_host(tab: Any, toy: Any) -> None:
    held, host = tab
    for path in toy.bodies:
        held.page.goto(host.url(path))
    assert [] == [url for url in held.requests if not url.startswith((host.url(""), "data:"))]


LEADS_TO = {
    "": "index.html",
    "finds/f26-001/": "finds/f26-001/index.html",
    "finds/f26-001": "finds/f26-001/index.html",
    "finds/F26-001": "finds/f26-001/index.html",
    "finds/F26-001/": "finds/f26-001/index.html",
    "finds/f26-001/index.html?from=label#top": "finds/f26-001/index.html",
}


def test_an_address_without_its_file_leads_to_the_page(away: Any) -> None:
    held, host = away
    shown = {}
    for address in LEADS_TO:
        held.page.goto(host.url(address))
        # Its relative links hold from there.
        shown[address] = (held.page.inner_text("h1"), held.page.evaluate(COLOUR))
    assert {address: (leads_to, "rgb(1, 1, 1)") for address, leads_to in LEADS_TO.items()} == shown


def test_an_unknown_address_is_answered_in_words(tab: Any) -> None:
    held, host = tab
    answer = held.page.goto(host.url("finds/elsewhere.html"))
    assert answer.status == 404
    assert "There is no page at this address" in held.page.content()


def test_what_is_not_saved_is_answered_in_words_with_no_signal(away: Any) -> None:
    held, host = away
    answer = held.page.goto(host.url("photos/2026-11/ab-960.webp"))
    assert answer.status == 504
    assert "Not saved on this device" in held.page.content()


def test_where_the_size_a_page_asks_for_is_not_saved_the_photo_is_shown_in_the_size_that_is(
    away: Any, toy: Any
) -> None:
    held, host = away
    held.page.goto(host.url())
    show = """async (path) => {
      const image = new Image();
      image.src = path;
      return image.decode().then(() => true).catch(() => false);
    }"""
    assert held.page.evaluate(show, "photos/2026-11/ab-960.webp")
    assert not held.page.evaluate(show, "photos/2026-11/zz-960.webp")


def test_a_larger_photo_that_was_looked_at_stays(held: Any, host: Any) -> None:
    held.page.goto(host.url("photos/2026-11/cd-960.webp"))
    host.stop()
    assert held.page.goto(host.url("photos/2026-11/cd-960.webp")).status == 200


# RFC 9110, 14.1.2 and 14.4: a last position past the end is clamped, a suffix counts from the end, a first position
# past the end cannot be satisfied (416), and a span that runs backwards or another unit is passed over (200).
PARTS = {
    "bytes=0-0": (206, "bytes 0-0/{size}", slice(0, 1)),
    "bytes=2-5": (206, "bytes 2-5/{size}", slice(2, 6)),
    "bytes=4-": (206, "bytes 4-{last}/{size}", slice(4, None)),
    "bytes=-3": (206, "bytes {third_last}-{last}/{size}", slice(-3, None)),
    "bytes=5-99999": (206, "bytes 5-{last}/{size}", slice(5, None)),
    "bytes=-99999": (206, "bytes 0-{last}/{size}", slice(None)),
    "bytes=99999-": (416, "bytes */{size}", slice(0, 0)),
    "bytes=-0": (416, "bytes */{size}", slice(0, 0)),
    "bytes=5-2": (200, None, slice(None)),
    "lines=1-2": (200, None, slice(None)),
    None: (200, None, slice(None)),
}


def test_a_part_of_a_file_is_answered_by_the_worker(away: Any, toy: Any) -> None:
    held, host = away
    path = "photos/2026-11/ab-320.webp"
    script = """async ([url, range]) => {
      const answer = await fetch(url, { headers: range ? { Range: range } : {} });
      return [answer.status, answer.headers.get("Content-Range"), [...new Uint8Array(await answer.arrayBuffer())]];
    }"""
    size = len(toy.photos[path])
    names = {"size": size, "last": size - 1, "third_last": size - 3}
    wanted = {
        asked: [status, content_range and content_range.format(**names), list(toy.photos[path][part])]
        for asked, (status, content_range, part) in PARTS.items()
    }
    assert wanted == {asked: held.page.evaluate(script, [host.url(path), asked]) for asked in PARTS}


def test_the_worker_gives_pages_their_policy(tab: Any) -> None:
    held, host = tab
    script = "async (url) => (await fetch(url)).headers.get('Content-Security-Policy')"
    policy = held.page.evaluate(script, host.url("index.html"))
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy


# -- the first visit -----------------------------------------------------------------------------------------


def test_many_missing_pages_come_in_bundles(visit: Any, serve: Callable[..., Any], toy: Any) -> None:
    toy.bodies |= {f"notes/{number}/index.html": f"<p>{number}</p>" for number in range(60)}
    host = serve(toy.build("one"))
    visit.page.goto(host.url())
    visit.until_saved()
    assert 1 == len([path for path in host.log if path.endswith(".bundle")])
    assert [] == [path for path in host.log if path.startswith("notes/")]
    host.stop()
    assert "notes/59" in visit.text(host.url("notes/59/index.html"))


def test_a_bundle_that_is_missing_or_damaged_is_made_up_for(visit: Any, serve: Callable[..., Any], toy: Any) -> None:
    toy.bodies |= {f"notes/{number}/index.html": f"<p>{number}</p>" for number in range(60)}
    tree = toy.build("one")
    (bundle,) = (tree / "offline").glob("*.bundle")
    bundle.write_bytes(bundle.read_bytes()[:3000].replace(b"<p>", b"<q>"))
    host = serve(tree)
    visit.page.goto(host.url())
    visit.until_saved()
    host.stop()
    for number in (0, 59):
        assert f"notes/{number}/" in visit.text(host.url(f"notes/{number}/index.html"))


def test_a_visit_that_was_cut_off_goes_on_where_it_stopped(visit: Any, host: Any) -> None:
    host.broken.add("static/css/site.css")
    visit.page.goto(host.url())
    visit.until("async () => (await caches.keys()).length === 2")
    fault = visit.until("async () => (await (await caches.match(new URL('state/fault', location)))?.json())?.message")
    assert fault == "the server does not have static/css/site.css (status 503)"
    assert visit.state("builds") is None
    host.broken.clear()
    host.log.clear()
    visit.page.reload()
    visit.until_saved()
    assert 0 == host.log.count("search/2026.js")
    assert "finds/f26-001/index.html" in host.log


def test_pages_that_failed_are_fetched_on_the_next_visit_and_no_others(visit: Any, host: Any) -> None:
    host.broken.add("diary/2026-03/index.html")
    visit.page.goto(host.url())
    visit.until("async () => (await (await caches.match(new URL('state/fault', location)))?.json())?.message")
    visit.page.goto("about:blank")  # what this visit still asks for ends with it
    visit.page.wait_for_timeout(500)
    host.broken.clear()
    host.log.clear()
    visit.page.goto(host.url())
    visit.until_saved()
    assert ["diary/2026-03/index.html"] == [path for path in host.log if path.startswith("diary")]


def test_a_phone_that_saves_data_gets_the_core_alone(visit: Any, host: Any) -> None:
    visit.context.add_init_script(
        "Object.defineProperty(NetworkInformation.prototype, 'saveData', { get: () => true })"
    )
    visit.page.goto(host.url())
    visit.until_saved()
    assert {"pages": False, "small": False} == visit.state("chosen")
    assert [] == [path for path in host.log if path.startswith(("diary", "photos"))]
    host.stop()
    assert "batches/b-031" in visit.text(host.url("batches/b-031/index.html"))


def test_what_the_browser_has_cleared_comes_back(held: Any, host: Any, toy: Any) -> None:
    held.page.evaluate("async () => { for (const name of await caches.keys()) await caches.delete(name); }")
    held.page.reload()
    held.until_saved()
    host.stop()
    assert "finds/f26-001" in held.text(host.url("finds/f26-001/index.html"))


# -- hosts that redirect -------------------------------------------------------------------------------------


def test_a_host_that_sends_index_pages_on_to_their_folder_is_saved(
    visit: Any, serve: Callable[..., Any], toy: Any
) -> None:
    sent_on = {path: path.removesuffix("index.html") for path in toy.bodies}
    host = serve(toy.build("one"), sent_on=sent_on)
    visit.page.goto(host.url())
    visit.until_saved()
    host.stop()
    assert_all_is_read(visit, host, toy)


def test_no_redirected_answer_is_kept(visit: Any, serve: Callable[..., Any], toy: Any) -> None:
    toy.bodies["login.html"] = "<p>who are you?</p>"
    host = serve(toy.build("one"), sent_on={"diary/2026-03/index.html": "login.html", "diary/2026-03/": "login.html"})
    visit.page.goto(host.url())
    visit.until("async () => (await (await caches.match(new URL('state/fault', location)))?.json())?.message")
    redirected = """async () => {
      const pool = await caches.open((await caches.keys()).find((name) => name.startsWith("journal pool")));
      const answers = await Promise.all((await pool.keys()).map((request) => pool.match(request)));
      return answers.filter((answer) => answer.redirected || answer.url !== "").length;
    }"""
    assert 0 == visit.page.evaluate(redirected)
    host.stop()
    assert "Not saved on this device" in visit.text(host.url("diary/2026-03/index.html"))


@pytest.mark.parametrize("folder", ["batches/b-031/", "diary/2026-03/"])  # one the worker fetches, one the page does
def test_a_redirect_to_another_host_is_not_followed(
    visit: Any, serve: Callable[..., Any], toy: Any, folder: str
) -> None:
    tree = toy.build("one")
    other = serve(tree)
    host = serve(tree, sent_on={path: other.url("index.html") for path in (folder, f"{folder}index.html")})
    visit.page.goto(host.url())
    visit.until("async () => (await (await caches.match(new URL('state/fault', location)))?.json())?.message")
    assert [] == other.log
