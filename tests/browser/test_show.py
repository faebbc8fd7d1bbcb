"""What pages of other sites, open in the same browser, get of a journal that is being shown: nothing."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from journal.commands.show import served
from tests.browser.conftest import PHONE, Toy, Visit, toy_in, until
from tests.builders import some

pytestmark = pytest.mark.browser

WORDS = "month 3"
"""Words of the page that the other site asks for."""
PAGE, PART, PHOTO = "diary/2026-03/index.html", "search/2026.js", "photos/2026-11/ab-320.webp"
STYLE = "static/css/site.css"

TRY = """async ([what, address]) => {
  const told = new Promise((settle) => {
    setTimeout(() => settle("nothing in time"), 8000);
    const element = (tag, key, rest = {}) => {
      const made = Object.assign(document.createElement(tag), rest);
      made.onload = made.onloadedmetadata = () => settle("got");
      made.onerror = () => settle("nothing");
      made[key] = address;
      document.body.append(made);
    };
    const asked = (promise) => promise.then(() => settle("got"), () => settle("nothing"));
    const script = (text) => URL.createObjectURL(new Blob([text], { type: "text/javascript" }));
    const ways = {
      script: () => element("script", "src"),
      module: () => element("script", "src", { type: "module" }),
      "script, asked with CORS": () => element("script", "src", { crossOrigin: "anonymous" }),
      image: () => element("img", "src"),
      style: () => element("link", "href", { rel: "stylesheet" }),
      fetch: () => asked(fetch(address)),
      "fetch without CORS": () => asked(fetch(address, { mode: "no-cors" })),
      "fetch of what is in the cache": () => asked(fetch(address, { mode: "no-cors", cache: "force-cache" })),
      "fetch with another method": () => asked(fetch(address, { mode: "no-cors", method: "POST", body: "x" })),
      import: () => asked(import(address)),
      "script in a worker": () => {
        const worker = new Worker(script(`const journalSearch = { add: () => {} };
          try { importScripts("${address}"); postMessage("got"); }
          catch { postMessage("nothing"); }`));
        worker.onmessage = (event) => settle(event.data);
      },
      "service worker": () => asked(navigator.serviceWorker.register(address)),
      "service worker's fetch": () => asked(navigator.serviceWorker.register("worker.js").then(async (made) => {
        const worker = made.installing ?? made.waiting ?? made.active;
        const { port1, port2 } = new MessageChannel();
        worker.postMessage(address, [port2]);
        if (await new Promise((say) => { port1.onmessage = (event) => say(event.data); }) !== "got") throw Error();
      })),
    };
    ways[what]();
  });
  return told;
}"""
WORKER = """addEventListener("message", (event) => event.waitUntil(
  fetch(event.data, { mode: "no-cors" }).then(() => "got", () => "nothing")
    .then((said) => event.ports[0].postMessage(said))));"""
ASKS = {
    "script": PART, "module": PART, "script, asked with CORS": PART, "image": PHOTO, "style": STYLE,
    "fetch": PAGE,
    "fetch without CORS": PAGE, "fetch of what is in the cache": PHOTO, "fetch with another method": PAGE,
    "import": PART, "script in a worker": PART, "service worker": "sw.js", "service worker's fetch": PART,
}  # fmt: skip
GIVEN_BY_ANY_HOST = {
    "script", "image", "style", "fetch without CORS", "fetch of what is in the cache", "fetch with another method",
    "script in a worker", "service worker's fetch",
}  # fmt: skip
"""What a page gets of any host that takes no care; the others a browser refuses by itself."""


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a site shown as by `journal show`."""
    with served(toy_in(tmp_path_factory.mktemp("toy")).build("one"), 0) as address:
        yield address


@pytest.fixture(params=["127.0.0.1", "localhost"])
def other(request: pytest.FixtureRequest, serve: Callable[..., Any], tmp_path: Path) -> str:
    """The address of a page of another site: another port of this computer, under either of its names."""
    folder = tmp_path / "other"
    folder.mkdir()
    (folder / "index.html").write_text("<!doctype html><meta charset=utf-8><title>Other</title><body>", "utf-8")
    (folder / "worker.js").write_text(WORKER, "utf-8")
    return str(serve(folder).url()).replace("127.0.0.1", request.param)


def by_both_names(address: str) -> list[str]:
    return [address, address.replace("127.0.0.1", "localhost")]


@pytest.fixture(scope="module")
def holding(browser: Any, shown: str) -> Iterator[Visit]:
    """A browser that holds the journal."""
    visit = Visit.of(browser.new_context(viewport=PHONE))
    visit.page.goto(shown)
    visit.until_saved()
    yield visit
    visit.context.close()


@pytest.fixture(params=["visit", "holding"], ids=["not held", "held"])
def looked_at(request: pytest.FixtureRequest, shown: str) -> Visit:
    """A browser that has the journal open, with or without holding it."""
    visit: Visit = request.getfixturevalue(request.param)
    visit.page.goto(shown)
    visit.page.goto(shown + PAGE)
    assert WORDS in visit.page.inner_text("body")
    return visit


@pytest.fixture
def beside(looked_at: Visit, other: str) -> Iterator[Any]:
    """The page of the other site, opened beside the journal."""
    page = looked_at.context.new_page()
    page.goto(other)
    yield page
    for opened in looked_at.context.pages:
        if opened is not looked_at.page:
            opened.close()


def attempts(page: Any, address: str) -> dict[str, str]:
    return {what: page.evaluate(TRY, [what, address + path]) for what, path in ASKS.items()}


def test_a_page_of_another_site_is_given_nothing_it_asks_for(beside: Any, shown: str) -> None:
    before = beside.evaluate("Object.keys(globalThis).length")
    for address in by_both_names(shown):
        assert dict.fromkeys(ASKS, "nothing") == attempts(beside, address)
    assert before == beside.evaluate("Object.keys(globalThis).length")


STEAL = """(address) => new Promise((settle) => {
  const rows = [];
  globalThis.journalSearch = { add: (more) => rows.push(...more) };
  const script = document.createElement("script");
  script.onload = script.onerror = () => settle(rows);
  script.src = address;
  document.body.append(script);
})"""


def test_the_search_gives_its_rows_to_no_other_sites_page(
    visit: Visit, serve: Callable[..., Any], toy: Any, shown: str, other: str
) -> None:
    """A part of the search is a classic script, which a page may include from any host that lets it."""
    open_host = serve(toy.build("two"))
    visit.page.goto(other)
    assert 1 == len(visit.page.evaluate(STEAL, open_host.url(PART)))
    for address in by_both_names(shown):
        assert [] == visit.page.evaluate(STEAL, address + PART)


def test_of_a_host_that_takes_no_care_the_same_page_gets_what_it_asks_for(
    visit: Visit, serve: Callable[..., Any], toy: Any, other: str
) -> None:
    """So that nothing, above, is nothing because of what was done."""
    open_host = serve(toy.build("one"))
    visit.page.goto(other)
    found = attempts(visit.page, open_host.url(""))
    # A host of the tests answers 501 to a POST, which a page is told nothing more of.
    assert {what for what, told in found.items() if told == "got"} == GIVEN_BY_ANY_HOST


FRAME = """([tag, key, address]) => new Promise((settle) => {
  const frame = document.createElement(tag);
  frame.onload = frame.onerror = settle;
  setTimeout(settle, 3000);
  frame[key] = address;
  document.body.append(frame);
})"""


def test_no_frame_of_another_sites_page_shows_it(beside: Any, shown: str) -> None:
    for tag, key in (("iframe", "src"), ("object", "data"), ("embed", "src")):
        for address in (shown + PAGE, shown.replace("127.0.0.1", "localhost") + PAGE, shown + PART, shown + PHOTO):
            beside.evaluate(FRAME, [tag, key, address])
    for frame in some(beside.frames[1:], 4):
        assert frame.url == "" or urlsplit(frame.url).scheme in ("chrome-error", "about"), frame.url


def test_a_link_on_another_sites_page_leads_to_one_line_and_a_typed_address_to_the_page(
    visit: Visit, shown: str, other: str
) -> None:
    for address in by_both_names(shown):
        visit.page.goto(other)
        with visit.page.expect_navigation():
            visit.page.evaluate("(address) => { location.href = address; }", address + PAGE)
        assert "type its address" in visit.page.inner_text("body")
        assert WORDS not in visit.page.content()
        visit.page.goto(address + PAGE)
        assert WORDS in visit.page.inner_text("body")


def test_a_window_that_another_sites_page_opens_tells_it_nothing(beside: Any, shown: str) -> None:
    for address in by_both_names(shown):
        with beside.context.expect_page() as opened:
            beside.evaluate("(address) => { globalThis.opened = open(address); }", address + PAGE)
        opened.value.wait_for_load_state()
        until(beside, "globalThis.opened.closed")  # which is all that it can see of a window of its own
        assert opened.value.evaluate("globalThis.opener") is None


def test_a_form_of_another_sites_page_is_not_answered(visit: Visit, shown: str, other: str) -> None:
    visit.page.goto(other)
    for method in ("get", "post"):
        visit.page.goto(other)
        with visit.page.expect_navigation() as led:
            visit.page.evaluate(
                """([method, action]) => {
                  const form = Object.assign(document.createElement("form"), { method, action });
                  document.body.append(form);
                  form.submit();
                }""",
                [method, shown + PAGE],
            )
        assert 403 == led.value.status


# The ordinary use


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost"])
def test_it_is_saved_and_read_from_what_is_saved(visit: Visit, shown: str, name: str) -> None:
    visit.page.goto(shown.replace("127.0.0.1", name))
    visit.until_saved()
    visit.page.goto(shown.replace("127.0.0.1", name) + PAGE)
    assert visit.page.evaluate("Boolean(navigator.serviceWorker.controller)")
    assert WORDS in visit.page.inner_text("body")
    assert [] == visit.complaints


def wrote(toy: Toy, words: str, site: Path) -> None:
    """Puts a build of the toy, as it then is, where it is shown."""
    toy.bodies["index.html"] = f'<p class="build">{words}</p>'
    toy.bodies[f"finds/{words}/index.html"] = f'<p class="build">{words}</p>'
    shutil.rmtree(site, ignore_errors=True)
    shutil.copytree(toy.build(words), site)


def until_current(visit: Visit, build: str) -> None:
    """Waits until this device holds a build whole and answers from it."""
    for _ in range(600):
        if (visit.state("builds") or {}).get("current") == build:
            return
        visit.page.wait_for_timeout(50)
    raise AssertionError(f"{visit.state('builds')} is not {build}; complaints: {visit.complaints}")


SERVE = """import sys, threading
from pathlib import Path
from journal.commands.show import served
with served(Path(sys.argv[1]), int(sys.argv[2])) as address:
    print(address, flush=True)
    threading.Event().wait()
"""


@contextmanager
def shown_apart(site: Path, port: int = 0) -> Iterator[str]:
    """The address of a site shown by a process of its own, which ends with all its connections."""
    command = [sys.executable, "-c", SERVE, str(site), str(port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as showing:
        assert showing.stdout is not None
        try:
            yield showing.stdout.readline().strip()
        finally:
            showing.kill()


def test_a_page_is_as_it_was_written_when_it_is_loaded_again_and_is_saved_as_such(
    visit: Visit, toy: Toy, tmp_path: Path
) -> None:
    site = tmp_path / "shown"
    wrote(toy, "first", site)
    with shown_apart(site) as address:
        visit.page.goto(address)
        visit.until_saved()
        for words in ("second", "third"):
            wrote(toy, words, site)
            visit.page.reload()
            assert visit.page.evaluate("Boolean(navigator.serviceWorker.controller)")
            assert words == visit.page.inner_text(".build")
            visit.page.goto(f"{address}finds/{words}/")  # a page that is not among what is saved yet
            assert words == visit.page.inner_text(".build")
            visit.page.goto(f"{address}finds/z-999/")
            assert "No page of Z-999 yet" in visit.page.inner_text("h1")
            visit.page.goto(address)
            build = re.findall(r'journalBuild = "(\w+)"', (site / "sw.js").read_text("utf-8"))
            until_current(visit, *build)
            assert words == visit.page.inner_text(".build")
            assert visit.page.is_hidden(".update-bar")
        visit.page.goto(f"{address}finds/F26-001/")
        assert visit.page.url.startswith(f"{address}finds/f26-001/")
    for path in ("", "finds/third/"):
        visit.page.goto(f"{address}{path}")
        assert "third" == visit.page.inner_text(".build")


def test_a_page_that_is_no_more_is_not_answered_with_as_it_was_saved(visit: Visit, toy: Toy, tmp_path: Path) -> None:
    site = tmp_path / "shown"
    wrote(toy, "first", site)
    with shown_apart(site) as address:
        visit.page.goto(address)
        visit.until_saved()
        visit.page.goto(f"{address}finds/f26-001/")
        (site / "finds/f26-001/index.html").unlink()
        visit.page.reload()
        assert "No page of F26-001 yet" in visit.page.inner_text("h1")


def test_a_second_journal_at_the_same_address_is_not_taken_for_the_first(
    visit: Visit, toy: Toy, tmp_path: Path
) -> None:
    sites = [tmp_path / "one", tmp_path / "another"]
    for site in sites:
        wrote(toy, site.name, site)
    port = 0
    for site in (*sites, *sites):
        with shown_apart(site, port) as address:
            port = int(urlsplit(address).port or 0)
            visit.page.goto(address)
            assert site.name == visit.page.inner_text(".build")
            visit.until_saved()


def test_a_locked_site_is_answered_for_by_its_worker_alone(tmp_path: Path) -> None:
    site = tmp_path / "locked"
    site.mkdir()
    (site / "sw.js").write_text("worker", "utf-8")
    for is_locked in (False, True):
        if is_locked:
            (site / "unlock.html").write_text("Unlock", "utf-8")
        with served(site, 0) as address, urllib.request.urlopen(f"{address}sw.js") as answer:
            assert is_locked == (answer.read() == b"worker")
            assert is_locked == (answer.headers["Server-Timing"] is None)


@pytest.fixture
def unsaved(browser: Any) -> Iterator[Visit]:
    """A browser that saves nothing, so that the host answers all it asks for."""
    context = browser.new_context(viewport=PHONE, service_workers="block")
    yield Visit.of(context)
    context.close()


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost"])
def test_its_own_pages_read_as_ever(unsaved: Visit, sample_site: Path, name: str) -> None:
    visit = unsaved
    with served(sample_site, 0) as address:
        visit.page.goto(address.replace("127.0.0.1", name))
        visit.page.goto(address.replace("127.0.0.1", name) + "batches/b-031/index.html")
        visit.until("[...document.images].every((image) => image.loading === 'lazy' || image.naturalWidth > 0)")
        visit.page.fill("[data-search]", "pp-26a")
        visit.until("document.querySelector('a.search-hit')?.href.endsWith('cultures/pp-26a/index.html')")
        visit.page.click("a.search-hit >> nth=0")
        visit.page.wait_for_url("**/cultures/pp-26a/index.html*")
        visit.page.go_back()
        visit.page.reload()
        assert visit.page.url.endswith("batches/b-031/index.html")
        assert visit.page.inner_text("h1")
    assert [] == visit.complaints


def test_who_comes_back_from_another_sites_page_is_answered(visit: Visit, shown: str, other: str) -> None:
    visit.page.goto(shown + PAGE)
    visit.page.goto(other)
    visit.page.go_back()
    assert WORDS in visit.page.inner_text("body")


def test_what_is_written_meanwhile_is_shown_when_the_page_is_loaded_again(visit: Visit, tmp_path: Path) -> None:
    """From the command to the screen, also where the browser has saved the journal since."""
    entry = tmp_path / "my" / "f.md"
    entry.parent.mkdir()
    (tmp_path / "my/journal.toml").write_text('[journal]\ntitle = "Shore"\n', "utf-8")
    entry.write_text("---\nkind: find\nid: F-1\ndate: 2026-09-12\n---\n", "utf-8")
    command = [sys.executable, "-m", "journal", "show", "my", "--to", "site", "--cache", "cache", "--port", "0"]
    showing = subprocess.Popen(command, cwd=tmp_path, stderr=subprocess.PIPE, text=True)
    try:
        assert showing.stderr is not None
        line = next(line for line in showing.stderr if "http://" in line)
        address = next(word for word in line.split() if word.startswith("http://"))
        visit.page.goto(address + "finds/index.html")
        visit.until_saved()
        entry.write_text("---\nkind: find\nid: F-77\ndate: 2026-09-12\n---\n", "utf-8")
        next(line for line in showing.stderr if "Built again" in line)
        visit.page.reload()
        assert visit.page.evaluate("Boolean(navigator.serviceWorker.controller)")
        assert "F-77" in visit.page.inner_text("main")
    finally:
        showing.terminate()
        showing.wait(timeout=30)
        if showing.stderr:
            showing.stderr.close()
    assert [] == visit.complaints
