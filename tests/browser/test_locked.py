"""A locked site in a browser: unlocked, kept offline, locked again; and what a host or a stranger tries with it."""

from __future__ import annotations

import hashlib
import json
import random
import shutil
import time
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from journal.importing.locked_archive import FEWEST_ROUNDS
from journal.locking.cipher import LABEL, hkdf, seal
from journal.locking.key_file import OWN_SITE, KeyFile, SiteKey
from journal.locking.placing import place_locked
from tests.browser.conftest import PHONE, WIDTHS, Host, Visit, digests, serving, toy_in
from tests.browser.recording import EMPTY, form_is_open, save
from tests.browser.test_labels import SCANNER
from tests.browser.test_sample import AXE, OF_COLOUR, found_by_axe
from tests.locking.opening import unlocked
from tests.outside.test_locking import VECTORS

pytestmark = pytest.mark.browser

PASSPHRASE = "kestrel ﬁord gravel lintel osprey"
AS_TYPED = " kestrel fiord  gravel lintel osprey"
OTHER = "walnut drizzle kettle marina stubborn"
FIND = "finds/f26-001/index.html"
BIG = "photos/2026-11/big-1600.webp"
IS_INSIDE = "document.querySelector('.build') !== null"


class Author:
    """Builds a toy journal as a locked site, again and again into the same folder."""

    def __init__(self, room: Path) -> None:
        self.toy, self.site = toy_in(room / "toy"), room / "site"
        self._builds = 0
        self.keys = KeyFile(room / "keys.json")
        self.new_key(PASSPHRASE)

    @property
    def key(self) -> SiteKey:
        return self.keys.sites[OWN_SITE]

    def new_key(self, passphrase: str) -> None:
        before = self.keys.sites.get(OWN_SITE)
        made = SiteKey.new(before.counter if before else 0, FEWEST_ROUNDS).with_reader("author", passphrase)
        self.keys = self.keys.keep(OWN_SITE, made)

    def build(self, words: str = "one") -> Author:
        self._builds += 1
        self.toy.bodies["index.html"] = (
            f'<p class="build">{words}</p><a href="{FIND}">F26-001</a><nav class="foot"><nav></nav></nav>'
        )
        plain = self.toy.build(f"build-{self._builds}")
        self.keys = place_locked(plain, self.site, self.keys, OWN_SITE, "journal").keys
        return self

    def sealed(self, path: str) -> Path:
        return unlocked(self.site, PASSPHRASE).place_of(path)


@pytest.fixture
def author(tmp_path: Path) -> Author:
    return Author(tmp_path).build()


@pytest.fixture
def host(author: Author) -> Iterator[Host]:
    """Serves the site from a folder of a host that others use too."""
    with serving() as start:
        yield start(author.site, prefix="/shared/journal/")


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Author]:
    """The author of one site for all those tests that change none of its files."""
    made = Author(tmp_path_factory.mktemp("built")).build()
    files = digests(made.site)
    yield made
    assert files == digests(made.site)


@pytest.fixture
def built_host(built: Author) -> Iterator[Host]:
    with serving() as start:
        yield start(built.site, prefix="/shared/journal/")


def unlock(visit: Visit, passphrase: str = AS_TYPED, remember: bool = False) -> None:
    """Types the passphrase into the page that asks for it."""
    visit.page.wait_for_selector("form:not([hidden])")
    visit.page.fill("#passphrase", passphrase)
    if remember:
        visit.page.check("[name=remember]")
    visit.page.click("[type=submit]")


def opens(visit: Visit, url: str, remember: bool = False) -> None:
    visit.page.goto(url)
    unlock(visit, remember=remember)
    visit.until(IS_INSIDE)


def refused(visit: Visit, url: str, passphrase: str = AS_TYPED) -> str:
    """What the unlock page says instead of opening."""
    visit.page.goto(url)
    unlock(visit, passphrase)
    return str(visit.until("document.querySelector('[data-status].need')?.textContent"))


def until(is_so: Callable[[], object]) -> None:
    """Waits for something in the browser that only Python can look at."""
    end = time.monotonic() + 30
    while not is_so():
        assert time.monotonic() < end
        time.sleep(0.2)


def stop_worker(visit: Visit) -> None:
    session = visit.context.new_cdp_session(visit.page)
    session.send("ServiceWorker.enable")
    session.send("ServiceWorker.stopAllWorkers")
    session.detach()


STORED = """async () => {
  const found = [];
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      const bytes = new Uint8Array(await (await cache.match(request)).arrayBuffer());
      found.push([`${name} ${request.url}`, Array.from(bytes, (byte) => String.fromCharCode(byte)).join("")]);
    }
  }
  return found;
}"""
READ_KEYS_OUT = """async () => {
  const answer = (request) => new Promise((done) => (request.onsuccess = () => done(request.result)));
  const database = await answer(indexedDB.open(journalLockHere.NAME));
  const rows = await answer(database.transaction("keys").objectStore("keys").getAll());
  database.close();
  const told = (key) => crypto.subtle.exportKey("raw", key).then(() => "told", (error) => error.name);
  return Promise.all(rows.flatMap(({ content, names }) => [content, names]).map(told));
}"""
OPEN_FILE = """async (bytes) =>
  new TextDecoder().decode(await journalLockHere.open("index.html", new Uint8Array(bytes)))"""
KEYS_LEFT = """async () => {
  const names = (await indexedDB.databases()).map(({ name }) => name).filter((name) => name.startsWith('journal key'));
  return [(await caches.keys()).length, (await navigator.serviceWorker.getRegistrations()).length, names.length];
}"""

COMES_BACK_ONCE = """() => {
  const was = caches.delete.bind(caches);
  caches.delete = async (name) => {
    await was(name);
    caches.delete = was;
    await caches.open(name);
  };
}"""
"""As where another page was storing something just then."""
WRITE = "journalPool(new URL('../../', location)).writeState('checked', 1).then(() => 'written', (fault) => fault.kind)"


def sealed_as_before(key: SiteKey, path: str) -> bytes:
    """A file of version 1 of the format."""
    id, content = key.cipher.id, b"saved before"
    padded = (len(content).to_bytes(8, "big") + content).ljust(256, b"\0")
    bound = LABEL + b"\0" + id + b"\0" + path.encode()
    return id + bytes(12) + seal(hkdf(bytes.fromhex(key.data_key), LABEL + b" content"), bytes(12), padded, bound)


def test_it_opens_with_the_passphrase_alone_and_keeps_nothing_but_ciphertext(
    visit: Visit, built: Author, built_host: Host
) -> None:
    visit.page.goto(built_host.url())
    assert "Locked journal" == visit.page.title()
    assert "not the passphrase" in refused(visit, built_host.url(), "kestrel")
    unlock(visit)
    visit.until(IS_INSIDE)
    visit.until_saved()
    assert built_host.url() == visit.page.url
    seen = visit.page.evaluate("fetch('./index.html').then((a) => Object.fromEntries(a.headers))")
    assert "script-src 'self'" in seen["content-security-policy"]
    assert "frame-ancestors 'none'" in seen["content-security-policy"]
    assert "no-store" == seen["cache-control"]
    texts = ["velvet foot", "heron", 'class="build"', "f26-001", "B-031", "<!doctype html"]
    rows = [(name, data.encode("latin-1")) for name, data in visit.page.evaluate(STORED)]
    pool = [data for name, data in rows if name.startswith("journal pool")]
    assert len(pool) > 20
    assert all(data[:8] == built.key.cipher.id for data in pool)
    told = [(name, text) for name, data in rows for text in texts if text.encode() in data and "shell" not in name]
    assert [] == told
    assert "saved before" == visit.page.evaluate(OPEN_FILE, [*sealed_as_before(built.key, "index.html")])
    visit.page.fill("[data-search]", "velvet")
    assert visit.until("document.querySelector('.search-hit')?.textContent.includes('F26-001')")
    built_host.stop()
    for path, title in ((FIND, FIND), ("batches/b-031", "batches/b-031/index.html"), ("B-031", "")):
        visit.page.goto(built_host.url(path))
        assert title in visit.page.title()
    assert all("unlock" not in url for url in visit.requests[-3:])


def is_locked_once_left(visit: Visit, url: str, stopped: bool) -> bool:
    """Closes the page, and opens it again in another tab; the browser may take a moment to let go of the one closed."""
    tab = visit.context.new_page()
    visit.page.close()
    visit.page = tab
    if stopped:
        stop_worker(visit)
    visit.page.wait_for_timeout(300)
    visit.page.goto(url)
    return bool(visit.page.title() == "Locked journal")


@pytest.mark.parametrize("stopped", [True, False])
def test_a_worker_that_was_killed_asks_the_pages_and_with_the_last_page_it_is_locked(
    visit: Visit, built: Author, built_host: Host, stopped: bool
) -> None:
    """Whether the browser stops the worker with the page, or lets it live on for a while with the key."""
    opens(visit, built_host.url())
    visit.until_saved()
    built_host.stop()
    stop_worker(visit)
    visit.page.click("text=F26-001")
    visit.until(f"document.title === '{FIND}'")
    other = visit.context.new_page()
    until(lambda: is_locked_once_left(visit, built_host.url(FIND), stopped))
    unlock(visit)  # with no signal
    visit.until(f"document.title === '{FIND}'")
    other.goto(built_host.url("index.html"))
    visit.page.close()
    visit.page = visit.context.new_page()
    visit.page.goto(built_host.url(FIND))  # one page is left
    assert FIND == visit.page.title()
    other.close()
    until(lambda: is_locked_once_left(visit, built_host.url(), stopped))


@pytest.mark.parametrize("offline", [False, True])
def test_it_is_remembered_if_asked_over_restarts_and_forgotten_if_asked(
    phone: Callable[[], Visit], built: Author, built_host: Host, offline: bool
) -> None:
    visit = phone()
    opens(visit, built_host.url(), remember=True)
    visit.until_saved()
    built_host.stop()
    visit = phone()  # the browser was closed
    visit.page.goto(built_host.url(FIND))
    assert FIND == visit.page.title()
    assert ["InvalidAccessError", "InvalidAccessError"] == visit.page.evaluate(READ_KEYS_OUT)
    built_host.start()
    visit.page.goto(built_host.url("unlock.html"))
    visit.page.click("[data-forget]")
    visit.page.click("[data-forget-not]")
    assert [3, 1, 1] == visit.page.evaluate(KEYS_LEFT)
    other = visit.context.new_page()
    other.goto(built_host.url(FIND))
    if offline:
        built_host.stop()
    visit.page.evaluate(COMES_BACK_ONCE)
    visit.page.click("[data-forget]")
    visit.page.click("[data-forget-now]")
    visit.page.wait_for_selector("[data-forgotten]:not([hidden])")
    assert "Deleted: the key, the encrypted copy" in visit.page.inner_text("main")
    assert [0, 0, 0] == visit.page.evaluate(KEYS_LEFT)
    until(lambda: other.inner_text("body") == "This journal was forgotten on this device.")
    assert "locked" == other.evaluate(WRITE)  # nor does what this page had begun bring anything back
    assert [0, 0, 0] == visit.page.evaluate(KEYS_LEFT)
    if offline:
        built_host.start()
    visit.page.goto(built_host.url(FIND))
    assert FIND not in visit.page.title()


def test_locking_keeps_the_ciphertext_and_shuts_every_page(visit: Visit, built: Author, built_host: Host) -> None:
    opens(visit, built_host.url(), remember=True)
    visit.until_saved()
    other = visit.context.new_page()
    other.goto(built_host.url("unlock.html"))
    other.click("[data-lock]")
    other.wait_for_selector("form:not([hidden])")
    visit.until("location.pathname.endsWith('/unlock.html')")
    built_host.stop()
    visit.page.goto(built_host.url(FIND))
    unlock(visit)
    visit.until(f"document.title === '{FIND}'")


def test_an_update_is_taken_and_an_older_build_put_back_is_not(visit: Visit, author: Author, host: Host) -> None:
    older = {path: path.read_bytes() for path in author.site.rglob("*") if path.is_file()}
    opens(visit, host.url())
    visit.until_saved()
    author.build("two")
    host.log.clear()
    visit.page.reload()
    visit.until("document.querySelector('[data-update]')?.hidden === false")
    fetched = [path for path in host.log if path.startswith("locked/")]
    assert len(set(fetched)) == 1
    visit.page.click("[data-update-now]")
    visit.until("document.querySelector('.build')?.textContent === 'two'")
    for path, data in older.items():
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(data)
    visit.page.reload()
    until(lambda: (visit.state("fault") or {}).get("kind") == "older")
    visit.page.reload()
    assert "two" == visit.page.inner_text(".build")
    assert visit.page.evaluate("document.querySelector('[data-update]').hidden")


def test_with_a_new_key_what_is_here_stays_until_the_new_passphrase_is_typed(
    visit: Visit, author: Author, host: Host
) -> None:
    opens(visit, host.url(), remember=True)
    visit.until_saved()
    author.new_key(OTHER)
    author.build("two")
    visit.page.reload()
    visit.until("document.querySelector('[data-other-key]') !== null")
    assert "one" == visit.page.inner_text(".build")
    visit.page.click("[data-other-key] a")
    unlock(visit, OTHER)
    visit.until("document.querySelector('.build')?.textContent === 'two'")
    visit.page.goto("about:blank")
    stop_worker(visit)
    assert "not the passphrase" in refused(visit, host.url("unlock.html"), AS_TYPED)


def header_with(author: Author, **told: Any) -> None:
    """A header that says something else, with the check that belongs to it."""
    path = author.site / "lock.json"
    rows = {**json.loads(path.read_bytes()), **told}
    names = ("format", "version", "kind", "key", "kdf", "rounds", "salt")
    all_told = [*(str(rows[name]) for name in names), *(text for reader in rows["readers"] for text in reader)]
    rows["check"] = hashlib.sha256("\n".join(all_told).encode()).hexdigest()[:32]
    path.write_text(json.dumps(rows))


def changed(path: Path, at: int) -> None:
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    path.write_bytes(data)


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-9])


def swap(one: Path, other: Path) -> None:
    data = one.read_bytes()
    one.write_bytes(other.read_bytes())
    other.write_bytes(data)


def names_another_list(author: Author) -> None:
    site = unlocked(author.site, PASSPHRASE)
    worker = author.site / "sw.js"
    worker.write_text(worker.read_text("utf-8").replace(site.build, site.root["parts"][0][2], 1), "utf-8")


def of_another_key(author: Author) -> None:
    path = author.sealed("index.html")
    path.write_bytes(SiteKey.new().cipher.seal("index.html", b"<h1>Send your passphrase to ...</h1>"))


ATTACKS: dict[str, tuple[Callable[[Author], object], str]] = {
    "a bit of a page": (lambda a: changed(a.sealed("index.html"), 90), "is damaged"),
    "a bit of its tag": (lambda a: changed(a.sealed("index.html"), -1), "is damaged"),
    "a page cut off": (lambda a: cut(a.sealed("index.html")), "is damaged"),
    "two pages swapped": (lambda a: swap(a.sealed("index.html"), a.sealed("static/js/search.js")), "is damaged"),
    "a page of another key": (of_another_key, "is under another key"),
    "a page gone": (lambda a: a.sealed("index.html").unlink(), "does not have locked/"),
    "a bit of the root list": (
        lambda a: changed(a.site / f"offline/{unlocked(a.site, PASSPHRASE).build}.bin", 90), "is damaged",
    ),
    "another list as the root": (names_another_list, "is damaged"),
    "a bit of the salt": (lambda a: changed(a.site / "lock.json", 200), "lock.json on the server is damaged"),
    "a salt that was changed": (lambda a: header_with(a, salt="00" * 16), "not the passphrase"),
    "fewer rounds": (lambda a: header_with(a, rounds=1000), "asks for a key of 1000 rounds"),
    "very many rounds": (lambda a: header_with(a, rounds=10**9), "asks for a key of 1000000000 rounds"),
    "other rounds": (lambda a: header_with(a, rounds=FEWEST_ROUNDS + 1), "not the passphrase"),
    "no reader": (lambda a: header_with(a, readers=[]), "not the passphrase"),
    "another version": (lambda a: header_with(a, version=2), "is of another version"),
    "no header": (lambda a: (a.site / "lock.json").write_text("<!doctype html>"), "lock.json on the server is damaged"),
    "a bit of the unlock page": (lambda a: changed(a.site / "unlock/inside.js", 5), "damaged"),
}  # fmt: skip


@pytest.fixture(scope="module")
def attacked_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Author, Host, dict[str, bytes]]]:
    """One site for all attacks, and its files as they should be."""
    made = Author(tmp_path_factory.mktemp("attacked")).build()
    for bundle in (made.site / "offline").glob("*.bundle"):
        bundle.unlink()  # else what is damaged as a file is taken whole out of a bundle
    with serving() as start:
        files = {str(path): path.read_bytes() for path in made.site.rglob("*") if path.is_file()}
        yield made, start(made.site), files


@pytest.fixture(scope="module")
def victim(browser: Any) -> Iterator[Visit]:
    """One browser for all attacks. Nothing is held for it on the way, so that it sees what the host does at once."""
    context = browser.new_context(viewport=PHONE)
    visit = Visit.of(context)
    yield visit
    context.close()


def new_again(visit: Visit, host: Host) -> None:
    """Takes away all that a site has left in the browser, what it holds of files included."""
    visit.page.goto(host.url("lock.json"))
    visit.page.evaluate(EMPTY)
    visit.page.goto("about:blank")  # with the last page its worker goes
    session = visit.context.new_cdp_session(visit.page)
    session.send("Network.clearBrowserCache")
    session.detach()


@pytest.mark.parametrize("attack", ATTACKS)
def test_what_a_host_does_to_the_files_opens_nothing_and_is_said(
    victim: Visit, attacked_site: tuple[Author, Host, dict[str, bytes]], attack: str
) -> None:
    author, host, files = attacked_site
    visit = victim
    do, says = ATTACKS[attack]
    do(author)
    try:
        visit.page.goto(host.url())
        visit.until(
            "!document.querySelector('form').hidden || document.querySelector('[data-why]').textContent.length > 40"
        )
        if visit.page.is_visible("form"):
            unlock(visit)
            said = visit.until("document.querySelector('[data-status].need')?.textContent")
        else:
            said = visit.page.inner_text("[data-why]")
        assert says in said
        assert "Locked journal" == visit.page.title()
    finally:
        for path, data in files.items():
            Path(path).write_bytes(data)
        new_again(visit, host)


def test_what_the_host_changes_in_the_unlock_page_does_not_reach_a_device_that_has_it(
    visit: Visit, author: Author, host: Host
) -> None:
    """Until the worker's script changes too; a new device gets whatever the host sends, which nothing can prevent."""
    opens(visit, host.url())
    visit.until_saved()
    (author.site / "unlock/unlock.js").write_text("document.title = 'Give me your passphrase'")
    (author.site / "index.html").write_text("<title>Give me your passphrase</title>")
    visit.page.goto("about:blank")
    stop_worker(visit)
    visit.page.goto(host.url())
    visit.page.wait_for_selector("form:not([hidden])")
    assert "Locked journal" == visit.page.title()


def test_a_picture_of_eight_megabytes_and_one_that_is_damaged_later(visit: Visit, author: Author, host: Host) -> None:
    noise = random.Random(8).randbytes(1680 * 1680 * 3)
    out = BytesIO()
    Image.frombytes("RGB", (1680, 1680), noise).save(out, "PNG", compress_level=0)
    assert len(out.getvalue()) > 8_000_000
    author.toy.photos[BIG] = out.getvalue()
    author.toy.bodies[FIND] = f'<p class="build">x</p><img src="../../{BIG}" alt="" width="99" height="99">'
    author.build("big")
    opens(visit, host.url())
    visit.until_saved()
    visit.page.goto(host.url(FIND))
    assert 1680 == visit.until("document.querySelector('img').naturalWidth")
    part = "{headers: {Range: 'bytes=0-3'}}).then(async (a) => [a.status, (await a.arrayBuffer()).byteLength])"
    assert [206, 4] == visit.page.evaluate(f"fetch('../../{BIG}', {part}")
    host.stop()
    visit.page.reload()
    assert 1680 == visit.until("document.querySelector('img').naturalWidth")
    visit.page.evaluate(
        """async (id) => {
          const cache = await caches.open('journal pool /shared/journal/');
          for (const request of await cache.keys()) {
            const bytes = new Uint8Array(await (await cache.match(request)).arrayBuffer());
            bytes[60] ^= 1;
            await cache.put(request, new Response(bytes));
          }
        }"""
    )
    visit.page.goto(host.url("diary/2026-01/index.html"))
    assert "Damaged on this device" == visit.page.title()


def test_the_sample_is_searched_scanned_and_recorded_on_with_no_signal(
    visit: Visit, locked_room: Path, picture: Path
) -> None:
    visit.page.add_init_script(SCANNER)
    with serving() as start:
        host = start(locked_room / "site")
        visit.page.goto(host.url())
        unlock(visit)
        visit.until("document.querySelector('.places') !== null")
        visit.until_saved()
        host.stop()
        visit.page.goto(host.url("patches/f26-002/index.html"))  # an old address: it holds the key while it leads on
        visit.page.wait_for_url(host.url("patches/f26-001/index.html"))
        assert "F26-001" == visit.page.inner_text("h1")
        visit.page.fill("[data-search]", "b31")
        visit.until("document.querySelector('.search-hit')?.textContent.includes('B-031')")
        visit.page.click(".scan-open")
        visit.page.locator(".scan-panel label.button").wait_for()
        visit.page.evaluate("globalThis.seen = ['B-031']")
        visit.page.set_input_files(".scan-panel input[type=file]", picture)
        visit.page.wait_for_url("**/batches/b-031/index.html")
        visit.page.goto(host.url("record/index.html?kind=find"))
        form_is_open(visit)
        visit.page.locator("form:visible [data-add=camera]").set_input_files(picture)
        visit.until("document.querySelector('form:not([hidden]) [data-taken] img')")
        visit.page.locator("form:visible .chip", has_text="Grifola frondosa").first.click()
        assert "Write F26-" in save(visit)
        visit.page.goto(host.url())
        visit.until("document.querySelector('[data-waiting-words]')?.textContent.includes('1 record')")


def test_the_browsers_functions_give_what_is_published(visit: Visit, built: Author, built_host: Host) -> None:
    visit.page.goto(built_host.url("unlock.html"))
    visit.page.wait_for_selector("form:not([hidden])")
    differing = visit.page.evaluate(
        """async ({ pbkdf2, hkdf, gcm }) => {
          const { pbkdf2: derive, hkdf: expand, openingKey, opened } = globalThis.journalLockPrimitives;
          const bytes = (text) => Uint8Array.from(text.match(/../g) ?? [], (pair) => parseInt(pair, 16));
          const hex = (data) => Array.from(data, (byte) => byte.toString(16).padStart(2, "0")).join("");
          const wrong = [];
          const hold = (name, expected, got) => expected === got || wrong.push([name, expected, got]);
          for (const row of pbkdf2.rows) {
            hold("pbkdf2", row.key, hex(await derive(bytes(row.passphrase), bytes(row.salt), row.rounds, 64)));
          }
          for (const row of hkdf.rows) {
            const size = row.okm.length / 2;
            hold("hkdf", row.okm, hex(await expand(bytes(row.ikm), bytes(row.info), size, bytes(row.salt))));
          }
          for (const row of gcm.rows) {
            const key = await openingKey(bytes(row.key));
            const text = await opened(key, bytes(row.iv), bytes(row.sealed), bytes(row.aad)).then(hex, () => null);
            hold("gcm", row.text, text);
          }
          return [pbkdf2.rows.length + hkdf.rows.length + gcm.rows.length, wrong];
        }""",
        VECTORS,
    )
    assert [65, []] == differing


def test_from_a_folder_it_says_what_it_needs(visit: Visit, built: Author) -> None:
    visit.page.goto((built.site / "index.html").as_uri())
    assert "cannot be opened from a folder" in visit.page.inner_text("[data-why]")
    assert not visit.page.is_visible("form")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_unlock_page_can_be_used_by_everyone(
    browser: Any, axe_script: str, attacked_site: tuple[Author, Host, dict[str, bytes]], theme: str
) -> None:
    context = browser.new_context(viewport={"width": 320, "height": 800}, color_scheme=theme, bypass_csp=True)
    page = context.new_page()
    page.goto(attacked_site[1].url())
    page.wait_for_selector("form:not([hidden])")
    assert [] == found_by_axe(page, axe_script, AXE if theme == "light" else OF_COLOUR)
    clientwidth, scrollwidth = page.evaluate(WIDTHS)
    assert clientwidth == scrollwidth == 320
    context.close()


def photos_of(host: Host) -> set[str]:
    """Digests of the photos of a locked share, as they are stored."""
    rows = unlocked(host.folder, PASSPHRASE).rows()
    return {digest for path, (digest, _) in rows.items() if path.startswith("photos/")}


def test_a_locked_share_is_kept_whole_and_gives_way_to_a_newer_one(
    visit: Visit, mentor_share: Path, tmp_path: Path
) -> None:
    plain = shutil.copytree(mentor_share / "mentor/pages", tmp_path / "plain")
    keys = KeyFile(tmp_path / "keys.json")
    keys = keys.keep("mentor", SiteKey.new(rounds=FEWEST_ROUNDS).with_reader("mentor", PASSPHRASE))
    keys = place_locked(plain, tmp_path / "site", keys, "mentor", "share").keys
    with serving() as start:
        host = start(tmp_path / "site")
        visit.page.goto(host.url("unlock.html"))
        unlock(visit)
        visit.until("document.querySelector('.places') !== null")
        named = {digest for digest, _ in unlocked(host.folder, PASSPHRASE).rows().values()}
        assert len(named) > 60
        until(lambda: named <= visit.pool())
        batch = plain / "batches/b-031/index.html"
        page = (plain / "index.html").read_text("utf-8").replace("<h1", "<h1 data-newer", 1)
        (plain / "index.html").write_text(page, "utf-8")
        for photo in sorted(plain.glob("photos/2026-11/*-*.webp"))[:2]:
            photo.with_name(f"new-{photo.name}").write_bytes(photo.read_bytes() + b"\0")
        photos = photos_of(host)
        place_locked(plain, tmp_path / "site", keys, "mentor", "share")
        assert 2 == len(photos_of(host) - photos)
        visit.page.reload()
        newer = unlocked(host.folder, PASSPHRASE).build
        until(lambda: visit.state("builds")["current"] == newer)
        assert photos <= visit.pool()  # those that were here are not fetched again
        visit.page.reload()
        until(lambda: photos_of(host) <= visit.pool())
        visit.page.reload()
        assert visit.page.query_selector("[data-newer]")
        host.stop()
        visit.page.goto(host.url(batch.relative_to(plain).as_posix()))
        assert "B-031" in visit.page.title()
        assert visit.until("document.querySelector('img[src*=photos], svg image') !== null")
        assert [] == [words for words in visit.complaints if "ERR_CONNECTION_REFUSED" not in words]
