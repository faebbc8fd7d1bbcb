"""A browser and a host that fail: what is saved stays as it was, records stay, and the person is told in a sentence."""

from __future__ import annotations

import hashlib
import random
import re
import shutil
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import IS_WHOLE, Host, Visit, digests
from tests.browser.test_locked import stop_worker
from tests.browser.test_this_device import ERROR_SAYS, READ_RECORD, RECORD, SHELF
from tests.browser.test_updates import FAULT, LOOK, MARKED, MARKS, OFFERED, ONE, TWO, marks_of

pytestmark = pytest.mark.browser

DEVICE = "device/index.html"


@pytest.fixture
def host(serve: Callable[..., Any], toy: Any) -> Any:
    toy.bodies[DEVICE] = SHELF.get_template("device/_offline.html").render()
    return serve(toy.build("one"))


@pytest.fixture
def held(visit: Any, host: Any) -> Any:
    visit.page.goto(host.url(DEVICE))
    visit.until_saved()
    assert visit.page.evaluate(RECORD)
    return visit


def second(toy: Any, words: str = "") -> Any:
    """What a second build is of: the marked pages and the style have changed, a photo has come. words: more in each of
    the pages and in the style, so that these are other files than another second build's."""
    changed = replace(toy, css=f"{toy.css.replace('1, 1, 1', '2, 2, 2')} /*{words}*/")
    changed.bodies = {path: body.replace(">one<", ">two<") + words for path, body in toy.bodies.items()}
    changed.photos = toy.photos | {"photos/2026-12/new-320.webp": toy.photos["photos/2026-11/ab-960.webp"]}
    return changed


@pytest.fixture
def two(toy: Any) -> Path:
    """The tree of a second build."""
    return second(toy).build("two")


def says(visit: Any, words: str) -> None:
    """Waits until the page This device tells it as the last error."""
    visit.page.goto(re.sub(r"(:\d+/).*", rf"\1{DEVICE}", visit.page.url))
    visit.until(ERROR_SAYS, words)


LOOKED = f"async () => {{ try {{ await ({LOOK})(); return true; }} catch {{ return false; }} }}"

# Storage


def noise(size: int) -> bytes:
    return random.Random(size).randbytes(size)


@pytest.mark.parametrize("where", ["photos", "the first pages"])
def test_storage_that_fills_in_the_middle_of_a_download_keeps_what_came_and_all_records(
    visit: Any, host: Any, toy: Any, where: str
) -> None:
    if where == "photos":
        toy.photos |= {f"photos/2026-10/{n}-320.webp": noise(1_500_000 + n) for n in range(8)}
    else:
        toy.bodies |= {"index.html": f'<p class="build">one</p><p>{noise(4_000_000).hex()}</p>'}
    host.folder = toy.build("large")
    session = visit.context.new_cdp_session(visit.page)
    session.send("Storage.overrideQuotaForOrigin", {"origin": host.url("")[:-1], "quotaSize": 5_000_000})
    visit.page.goto(host.url(DEVICE))
    assert visit.page.evaluate(RECORD)
    visit.until(ERROR_SAYS, "the browser gives this journal no more storage")
    assert "three caps" == visit.page.evaluate(READ_RECORD)
    if where == "photos":
        host.stop()
        assert "batches/b-031" in visit.text(host.url("batches/b-031/index.html"))
        host.start()
    session.send("Storage.overrideQuotaForOrigin", {"origin": host.url("")[:-1]})
    visit.page.goto(host.url(DEVICE))
    visit.until_saved()
    assert "three caps" == visit.page.evaluate(READ_RECORD)


FULL = "the browser gives this journal no more storage"


def fill(visit: Visit, host: Host) -> Any:
    """Lets this origin store a little less than it does, for as long as the session that is given."""
    used = visit.page.evaluate("async () => (await navigator.storage.estimate()).usage")
    session = visit.context.new_cdp_session(visit.page)
    quota = {"origin": f"http://127.0.0.1:{host.port}", "quotaSize": used - 500}
    session.send("Storage.overrideQuotaForOrigin", quota)
    return session


def test_a_pack_can_be_removed_from_full_storage(held: Any, host: Any, toy: Any) -> None:
    filled = fill(held, host)
    held.page.click('[data-pack="pages"] [data-pack-remove]')
    held.until(ERROR_SAYS, FULL)  # the choice cannot be noted until the browser counts what was freed
    pages = {digest_in(host.folder, path) for path in toy.bodies if path.startswith("diary")}
    assert set() == pages & held.pool()
    filled.detach()


def test_two_tabs_on_full_storage_leave_each_other_alone(held: Any, host: Any) -> None:
    forget = """async () => {
      const [state] = (await caches.keys()).filter((each) => each.startsWith("journal state"));
      await (await caches.open(state)).delete("/state/whole");
    }"""
    held.page.evaluate(forget)
    filled = fill(held, host)
    other = Visit.in_tab(held.context)
    other.page.goto(host.url(DEVICE))
    held.page.goto(host.url(DEVICE))
    held.until(ERROR_SAYS, FULL)
    begin = """() => {
      globalThis.heard = 0;
      const channel = new BroadcastChannel("journal state /");
      channel.onmessage = () => (heard += 1);
      channel.postMessage({ kind: "builds" });
    }"""
    held.page.evaluate(begin)
    heard = [-1]
    while len(heard) < 12 and heard[-1] not in heard[:-1]:
        held.page.wait_for_timeout(500)
        heard.append(held.page.evaluate("heard"))
    assert heard[-1] == heard[-2], heard  # they have come to rest
    filled.detach()


ALTER = """async ([cache, ending, how]) => {
  let altered = 0;
  for (const name of (await caches.keys()).filter((each) => each.startsWith(`journal ${cache}`))) {
    const held = await caches.open(name);
    for (const request of await held.keys()) {
      if (!request.url.endsWith(ending)) continue;
      const bytes = new Uint8Array(await (await held.match(request)).arrayBuffer());
      bytes[bytes.length >> 1] ^= 1;
      await held.put(request, new Response(how === "cut" ? bytes.slice(0, bytes.length >> 1) : bytes));
      altered += 1;
    }
  }
  return altered;
}"""


MENDED = """async (names) => {
  const found = new Set();
  for (const cache of (await caches.keys()).filter((each) => each.startsWith("journal pool"))) {
    const held = await caches.open(cache);
    for (const request of await held.keys()) {
      const name = names.find((each) => request.url.endsWith(each));
      if (!name) continue;
      const sum = await crypto.subtle.digest("SHA-256", await (await held.match(request)).arrayBuffer());
      const hex = [...new Uint8Array(sum)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
      if (hex.startsWith(name)) found.add(name);
    }
  }
  return found.size === names.length;
}"""
"""Whether the bytes of these entries of the pool are those that their names are the digests of."""

FAULT_AFTER_A_CHECK = """async () => {
  const root = new URL(document.documentElement.dataset.root || "./", location.href);
  const { check, lastFault, pool } = await import(new URL("static/js/offline.js", root));
  await check();
  await navigator.locks.request(`${pool.STATE} fetching`, () => {}); // until what it began has ended
  return (await lastFault()).message;
}"""

BYTES = "async (url) => [...new Uint8Array(await (await fetch(url)).arrayBuffer())]"


def digest_in(tree: Path, path: str) -> str:
    """The name of a file's entry in the pool; "" for the root list's own path."""
    build = re.findall(r'journalBuild = "(\w{32})"', (tree / "sw.js").read_text("utf-8"))[0]
    return build if path == "the root list" else digests(tree)[path][0][:32]


@pytest.mark.parametrize("how", ["flip", "cut"])
def test_a_saved_file_that_was_damaged_is_told_and_fetched_again(held: Any, host: Any, toy: Any, how: str) -> None:
    page, photo = "finds/f26-001/index.html", "photos/2026-11/ab-320.webp"
    for path in (page, photo, "the root list"):
        assert 1 == held.page.evaluate(ALTER, ["pool", digest_in(host.folder, path), how])
    held.page.goto("about:blank")
    stop_worker(held)
    held.page.goto(host.url(page))  # with a signal nobody notices but for the word on This device
    assert page in held.page.evaluate("document.body.innerText")
    assert list(toy.photos[photo]) == held.page.evaluate(BYTES, host.url(photo))
    held.until(MENDED, [digest_in(host.folder, path) for path in (page, photo, "the root list")])
    host.stop()
    assert held.page.goto(host.url(page)).status == 200
    assert list(toy.photos[photo]) == held.page.evaluate(BYTES, host.url(photo))
    assert 1 == held.page.evaluate(ALTER, ["pool", digest_in(host.folder, page), how])
    assert "damaged" in held.text(host.url(page))  # with no signal the page says so, in place of what was saved
    says(held, "finds/f26-001/index.html was damaged on this device")
    assert "was damaged on this device" in held.page.evaluate(FAULT_AFTER_A_CHECK)  # and not that the host is away
    host.start()
    held.page.goto(host.url(DEVICE))
    held.until(MENDED, [digest_in(host.folder, page)])
    host.stop()
    assert page in held.text(host.url(page))
    assert "three caps" == held.page.evaluate(READ_RECORD)


NOTE = """async ([name, value]) => {
  const [state] = (await caches.keys()).filter((each) => each.startsWith("journal state"));
  await (await caches.open(state)).put(`/state/${name}`, new Response(JSON.stringify(value)));
}"""


def test_a_file_found_damaged_while_a_page_was_counting_what_is_here_is_fetched_again(held: Any, host: Any) -> None:
    """The page notes that all of it is here after the worker has dropped the file, which the page had counted."""
    path = "finds/f26-001/index.html"
    counted = held.state("whole")
    host.stop()
    assert 1 == held.page.evaluate(ALTER, ["pool", digest_in(host.folder, path), "cut"])
    assert "damaged" in held.text(host.url(path))
    held.page.evaluate(NOTE, ["whole", counted])
    host.start()
    held.page.goto(host.url(DEVICE))
    held.until(MENDED, [digest_in(host.folder, path)])
    held.until_saved()


def test_a_photo_found_damaged_in_the_place_of_another_size_is_fetched_again(held: Any, host: Any, toy: Any) -> None:
    large, small = "photos/2026-11/ab-960.webp", "photos/2026-11/ab-320.webp"
    assert 1 == held.page.evaluate(ALTER, ["pool", digest_in(host.folder, small), "cut"])
    host.stop()
    show = "(src) => new Promise((done) => { Object.assign(new Image(), { src, onload: done, onerror: done }); })"
    held.page.evaluate(show, host.url(large))  # the worker looks for a stand-in, and finds this one damaged
    assert digest_in(host.folder, small) not in held.pool()
    host.start()
    held.page.goto(host.url(DEVICE))
    held.until(MENDED, [digest_in(host.folder, small)])


LIST_OF = """async ([pack, build]) => {
  const root = new URL(document.documentElement.dataset.root || "./", location.href);
  const { pool } = await import(new URL("static/js/offline.js", root));
  return (await pool.partsOf(build)).filter((part) => part.pack === pack).map((part) => part.list);
}"""


A_PAGE_OF_EACH = """async (build) => {
  const root = new URL(document.documentElement.dataset.root || "./", location.href);
  const { pool } = await import(new URL("static/js/offline.js", root));
  const found = [];
  for (const part of (await pool.partsOf(build)).filter(({ pack }) => pack === "pages")) {
    const rows = await pool.rowsUnder(build, "pages", part.key);
    const row = rows.find(({ path }) => path.endsWith("index.html"));
    if (row) found.push([part.list, row.path]);
  }
  return found;
}"""


def test_a_damaged_list_keeps_no_page_of_another_from_opening(visit: Any, serve: Any, sample_site: Path) -> None:
    host = serve(sample_site)
    visit.page.goto(host.url(DEVICE))
    visit.until_saved()
    (one, _), (_, other), *_ = visit.page.evaluate(A_PAGE_OF_EACH, digest_in(sample_site, "the root list"))
    host.stop()
    assert 1 == visit.page.evaluate(ALTER, ["pool", one, "flip"])
    visit.page.goto("about:blank")
    stop_worker(visit)
    assert 200 == visit.page.goto(host.url(other)).status
    visit.page.goto(host.url(DEVICE))
    visit.until("() => document.body.innerText.includes('not known until the device is online')")
    visit.until("() => document.body.innerText.includes('How many are saved is not known until the device is online.')")
    host.start()
    visit.page.goto(host.url(DEVICE))
    visit.until(MENDED, [one])
    visit.until_saved()


def test_a_list_that_a_page_has_in_memory_is_saved_again(held: Any, host: Any) -> None:
    (first, *_) = held.page.evaluate(LIST_OF, ["small", digest_in(host.folder, "the root list")])
    held.page.goto(host.url(DEVICE))
    held.page.evaluate("async (url) => (await fetch(url)).status", host.url("photos/2026-11/ab-320.webp"))
    fill = LIST_OF.replace(
        "return (", "await Promise.all((await pool.partsOf(build)).map((each) => pool.list(each.list)));\n  return ("
    )
    held.page.evaluate(fill, ["small", digest_in(host.folder, "the root list")])
    assert 1 == held.page.evaluate(ALTER, ["pool", first, "cut"])
    stop_worker(held)
    host.stop()
    assert 504 == held.page.evaluate("async (url) => (await fetch(url)).status", host.url("photos/2026-11/ab-320.webp"))
    assert first not in held.pool()  # the worker found it damaged
    host.start()
    check = FAULT_AFTER_A_CHECK.replace("(await lastFault()).message", "null")
    held.page.evaluate(check)
    held.until(MENDED, [first])


def test_a_builds_note_that_was_damaged_offline_is_made_again(held: Any, host: Any) -> None:
    assert 1 == held.page.evaluate(ALTER, ["state", "state/builds", "cut"])
    host.stop()
    held.page.goto("about:blank")
    stop_worker(held)
    assert "finds/f26-001" in held.text(host.url("finds/f26-001/index.html"))
    assert held.state("builds")["current"] == digest_in(host.folder, "the root list")


def test_a_site_in_a_folder_below_is_asked_of_the_host(held: Any, host: Any) -> None:
    other = host.folder / "friends"
    other.mkdir()
    (other / "index.html").write_text("<!doctype html><title>Friends</title><p>another site", "utf-8")
    assert "another site" in held.text(host.url("friends/index.html"))
    assert (
        404 == held.page.goto(host.url("finds/other.html")).status
    )  # in a folder of this site: only what its build has
    host.stop()
    assert 404 == held.page.goto(host.url("friends/index.html")).status


HEARD = """async (file) => {
  const root = new URL(document.documentElement.dataset.root || "./", location.href);
  const { pool } = await import(new URL("static/js/offline.js", root));
  const after = globalThis.setTimeout;
  let begun = 0;
  globalThis.setTimeout = (work, ms) => after(work, ms, (begun += ms === 60000 ? 1 : 0));
  await pool.fetchBytes(file);
  globalThis.setTimeout = after;
  return begun;
}"""


def test_a_file_is_waited_for_as_long_as_more_of_it_comes(held: Any, host: Any) -> None:
    """The wait is begun anew with each piece, so that a slow connection brings a large file too."""
    data = noise(3_000_000)
    (host.folder / "large.bin").write_bytes(data)
    file = {"path": "large.bin", "digest": hashlib.sha256(data).hexdigest()[:32]}
    assert held.page.evaluate(HEARD, file) > 2


def test_a_note_on_what_is_saved_that_was_damaged_is_made_again(held: Any, host: Any) -> None:
    for name in ("builds", "chosen", "whole", "drops", "fault", "persisted", "checked"):
        write = "caches.open('journal state /').then((cache) => cache.put('state/fault', new Response('null')))"
        held.page.evaluate(write)
        held.page.evaluate(ALTER, ["state", f"state/{name}", "cut"])
        held.page.goto("about:blank")
        stop_worker(held)
        held.page.goto(host.url(DEVICE))
        held.until(f"() => ({IS_WHOLE})().catch(() => false)")
        host.stop()
        assert "finds/f26-001" in held.text(host.url("finds/f26-001/index.html")), name
        assert "three caps" == held.page.evaluate(READ_RECORD), name
        host.start()


# The host


ERROR_PAGE = b"<!doctype html><title>Oops</title><p>Something went wrong."


def root_list(tree: Path) -> str:
    return f"offline/{digest_in(tree, 'the root list')}.json"


@pytest.mark.parametrize(
    "path", ["sw.js", "the worker's script", "the root list", "static/css/site.css", "finds/f26-001/index.html"]
)
def test_a_host_that_gives_something_else_for_one_file_changes_nothing_and_is_told(
    held: Any, host: Any, toy: Any, path: str
) -> None:
    """By turns it gives an error page with status 200, status 404, and half of the file: each in a build of its own."""
    one = host.folder
    for turn, answer in enumerate(("200 and an error page", "404", "cut off")):
        newer = second(toy, f" {answer}").build(f"two-{turn}")
        forget_what_the_browser_keeps(held)
        host.folder = copy_with_wrong(newer, path, answer)
        held.page.goto(host.url())
        held.page.evaluate("navigator.serviceWorker.getRegistration().then((one) => one.update()).catch(() => {})")
        if not path.startswith(("sw.js", "the worker")):
            assert re.search(r"on the server|the server does not have", held.until(FAULT)), answer
        held.page.wait_for_timeout(200)
        assert not held.page.evaluate(OFFERED), answer
        assert [["one"] * 3, "1, 1, 1"] == held.page.evaluate(ANSWERED, MARKED), answer
        forget_what_the_browser_keeps(held)
        host.folder = newer
        held.until(LOOKED)  # or one is on
        held.page.reload()
        held.until(OFFERED)
        assert ONE == held.page.evaluate(MARKS), answer
        assert "three caps" == held.page.evaluate(READ_RECORD), answer
        host.folder = one
        held.until(LOOKED)
        held.until(f"() => !({OFFERED})()")
        held.until(f"async () => !(await ({FAULT})())")


ANSWERED = """async (paths) => {
  const root = new URL(document.documentElement.dataset.root, location);
  const text = async (path) => (await fetch(new URL(path, root))).text();
  const pages = await Promise.all(paths.map(text));
  const [, colour] = /rgb\\((.*?)\\)/.exec(await text("static/css/site.css"));
  return [pages.map((page) => /class="build">(\\w+)</.exec(page)[1]), colour];
}"""
"""What the worker answers for pages and their style, whoever asks."""


def forget_what_the_browser_keeps(visit: Any) -> None:
    """A browser may ask for what the worker imports, right or wrong, again only after a tenth of its age (RFC 9111,
    4.2.2): on a busy machine seconds."""
    session = visit.context.new_cdp_session(visit.page)
    session.send("Network.clearBrowserCache")
    session.detach()


def copy_with_wrong(tree: Path, path: str, answer: str) -> Path:
    """A copy of a build in which one file is what the answer says."""
    wrong = tree.parent / f"{tree.name}-wrong"
    shutil.copytree(tree, wrong)
    (script,) = (tree / "offline").glob("*.js")
    names = {"the root list": root_list(tree), "the worker's script": f"offline/{script.name}"}
    file = wrong / names.get(path, path)
    assert file.is_file()
    if answer == "404":
        file.unlink()
    else:
        file.write_bytes(ERROR_PAGE if answer.startswith("200") else file.read_bytes()[: file.stat().st_size // 2])
    return wrong


@pytest.mark.parametrize("answer", ["200 and an error page", "404"])
def test_a_host_without_the_worker_is_told_on_the_first_visit(visit: Any, host: Any, answer: str) -> None:
    if answer == "404":
        (host.folder / "sw.js").unlink()
    else:
        (host.folder / "sw.js").write_bytes(ERROR_PAGE)
    visit.page.goto(host.url(DEVICE))
    visit.until(ERROR_SAYS, "the journal could not be saved: the server does not have sw.js as it was built")


def test_one_file_that_is_missing_is_not_asked_for_without_end_by_two_tabs(held: Any, host: Any, toy: Any) -> None:
    other = held.context.new_page()
    other.goto(host.url())
    toy.bodies["diary/2026-09/index.html"] = "<p>another text</p>"
    host.folder = toy.build("two")
    (host.folder / "diary/2026-09/index.html").unlink()
    held.page.goto(host.url())
    held.page.evaluate(LOOK)
    assert held.until(FAULT) == "the server does not have diary/2026-09/index.html (status 404)"
    held.page.wait_for_timeout(1500)
    asked = host.log.count("diary/2026-09/index.html") + host.log.count("diary/2026-09/")
    assert asked < 20, asked


# The worker


class Holding(list[str]):
    """A host's log that holds its answer to the request of this number (from 0) until it is let go."""

    def __init__(self, number: int) -> None:
        self.number, self.reached, self.free = number, threading.Event(), threading.Event()

    def append(self, path: str) -> None:
        super().append(path)
        if len(self) == self.number + 1:
            self.reached.set()
            self.free.wait(20)


def test_a_worker_killed_at_every_step_of_an_update_leaves_one_version_whole(held: Any, host: Any, toy: Any) -> None:
    """Each try gets one request further than the one before; the last is not held, and is whole. Every page has
    changed, so that there are more requests than are made at once."""
    host.folder, steps = second(toy, " and more").build("two"), 0
    held.page.goto(host.url())
    while True:
        host.log = log = Holding(steps)
        held.page.evaluate("navigator.serviceWorker.getRegistration().then((one) => { one.update().catch(() => {}); })")
        while not (is_in_journal := log.reached.wait(0.1)) and not held.page.evaluate(OFFERED):
            held.page.wait_for_timeout(20)
        if not is_in_journal:
            break
        stop_worker(held)
        log.free.set()
        held.page.goto(host.url())
        assert held.page.evaluate(MARKS) == ONE
        steps += 1
    print(f"killed at {steps} steps of an update")
    assert steps >= 2  # the worker and its list; files come several at a time, and stay for the next try
    stop_worker(held)  # and between the offer and the tap, and after it
    assert [ONE] * 3 == marks_of(held, host)
    held.page.goto(host.url())
    held.until(OFFERED)
    held.page.click("[data-update-now]")
    held.until("() => document.querySelector('.build')?.textContent === 'two'")
    stop_worker(held)
    assert [TWO] * 3 == marks_of(held, host)
    assert "three caps" == held.page.evaluate(READ_RECORD)
