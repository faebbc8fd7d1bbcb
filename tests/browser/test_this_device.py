"""The page This device, with the very pieces the real page is made of, on a toy site."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from jinja2 import Environment, FileSystemLoader

from tests.browser.conftest import until

pytestmark = pytest.mark.browser

SHELF = Environment(loader=FileSystemLoader(Path(__file__).parents[2] / "templates"), autoescape=True)
RECORD = """() => new Promise((done) => {
  const opening = indexedDB.open("records", 1);
  opening.onupgradeneeded = () => opening.result.createObjectStore("rows");
  opening.onsuccess = () => {
    const change = opening.result.transaction("rows", "readwrite");
    change.objectStore("rows").put("three caps", 1);
    change.oncomplete = () => { opening.result.close(); done(true); };
  };
})"""
READ_RECORD = """() => new Promise((done) => {
  const opening = indexedDB.open("records", 1);
  opening.onupgradeneeded = () => done("no records");
  opening.onsuccess = () => {
    const asking = opening.result.transaction("rows").objectStore("rows").get(1);
    asking.onsuccess = () => done(asking.result);
  };
})"""


@pytest.fixture
def host(serve: Callable[..., Any], toy: Any) -> Any:
    toy.bodies["device/index.html"] = SHELF.get_template("device/_offline.html").render()
    larger = SHELF.get_template("parts/_keep_larger.html").render(id="B-031", site={"share": None})
    toy.bodies["batches/b-031/index.html"] += larger
    return serve(toy.build("one"))


@pytest.fixture
def saved(visit: Any, host: Any) -> Any:
    visit.page.goto(host.url("device/index.html"))
    visit.until_saved()
    return visit


def words(visit: Any, hook: str) -> str:
    return str(visit.page.evaluate("(hook) => document.querySelector(`[data-device-${hook}]`).textContent", hook))


def state_of(visit: Any, pack: str) -> str:
    return str(visit.page.inner_text(f'[data-pack="{pack}"] [data-pack-state]'))


def until_state(visit: Any, pack: str, says: str) -> None:
    script = "([row, says]) => document.querySelector(row)?.textContent.includes(says)"
    visit.until(script, [f'[data-pack="{pack}"] [data-pack-state]', says])


def count(tree: Path, pattern: str) -> int:
    return len([path for path in tree.glob(pattern) if path.is_file()])


def test_it_says_which_build_is_saved_and_how_much_of_it(saved: Any, host: Any) -> None:
    saved.until("() => document.querySelector('[data-device-update]').textContent === 'none available'")
    left_out = 2 + 3  # the larger photos, the worker and its two sources
    files = count(host.folder, "**/*") - count(host.folder, "offline/*") - left_out
    saved.until(
        "(files) => document.querySelector('[data-device-saved]').textContent.startsWith(`${files} files, `)", files
    )
    assert words(saved, "version") == saved.state("builds")["current"][:8]
    assert words(saved, "error") == "none"
    saved.until("() => /20\\d\\d/.test(document.querySelector('[data-device-checked]').textContent)")


def test_it_says_what_went_wrong(visit: Any, host: Any) -> None:
    host.broken.add("diary/2026-03/index.html")
    visit.page.goto(host.url("device/index.html"))
    visit.until("() => document.querySelector('[data-device-error]').textContent.includes('diary/2026-03')")
    until_state(visit, "pages", " of ")
    assert visit.page.is_visible('[data-pack="pages"] [data-pack-stop]')


def test_a_pack_is_kept_and_removed_on_a_tap(saved: Any, host: Any) -> None:
    until_state(saved, "larger", "2 files")
    assert "not saved" in state_of(saved, "larger")
    saved.page.click('[data-pack="larger"] [data-pack-save]')
    until_state(saved, "larger", ", saved on this device")
    assert 2 == len([path for path in host.log if path.endswith("-960.webp")])
    saved.page.click('[data-pack="larger"] [data-pack-remove]')
    until_state(saved, "larger", "not saved")
    # What the browser keeps for itself, for a tenth of a file's age (RFC 9111, 4.2.2), is not what the phone holds.
    saved.page.context.new_cdp_session(saved.page).send("Network.clearBrowserCache")
    host.stop()
    assert saved.page.goto(host.url("photos/2026-11/ab-960.webp")).status == 504


def test_removing_pages_leaves_the_core(saved: Any, host: Any) -> None:
    saved.page.click('[data-pack="pages"] [data-pack-remove]')
    until_state(saved, "pages", "not saved")
    host.stop()
    assert "Not saved on this device" in saved.text(host.url("diary/2026-03/index.html"))
    assert "batches/b-031" in saved.text(host.url("batches/b-031/index.html"))


def test_the_larger_photos_of_one_id_are_kept_from_its_page(saved: Any, host: Any) -> None:
    saved.page.goto(host.url("batches/b-031/index.html"))
    saved.until("() => !document.querySelector('[data-pack-save]').hidden")
    saved.page.click("[data-pack-save]")
    until_state(saved, "larger:b-031", "1 file, ")
    until_state(saved, "larger:b-031", ", saved on this device")
    host.stop()
    assert saved.page.goto(host.url("photos/2026-11/ab-960.webp")).status == 200
    assert saved.page.goto(host.url("photos/2026-11/cd-960.webp")).status == 504
    saved.page.goto(host.url("device/index.html"))
    until_state(saved, "larger:b-031", ", saved on this device")
    assert saved.page.inner_text('[data-pack="larger:b-031"] h3') == "Larger photos of B-031"


def test_a_pack_can_be_stopped_and_gone_on_with(visit: Any, host: Any, toy: Any) -> None:
    toy.bodies |= {f"notes/{number}/index.html": "<p>a note</p>" for number in range(30)}
    host.folder = toy.build("more")
    host.wait_s = 0.3
    visit.page.goto(host.url("device/index.html"))
    visit.until("() => document.querySelector('[data-pack=\"pages\"] progress')?.value > 0.4", seconds=60)
    visit.page.click('[data-pack="pages"] [data-pack-stop]')
    visit.until("async () => (await (await caches.match(new URL('../state/chosen', location))).json()).pages === false")
    until_state(visit, "small", ", saved on this device")
    assert len({path for path in host.log if path.startswith("notes")}) < 30
    host.wait_s = 0
    host.log.clear()
    visit.page.click('[data-pack="pages"] [data-pack-save]')
    until_state(visit, "pages", ", saved on this device")
    assert [] == [path for path in host.log if path.startswith("diary")]  # they came before the stop
    assert "notes/29/index.html" in host.log


def test_a_check_for_updates_says_when_the_server_cannot_be_reached(saved: Any, host: Any) -> None:
    host.stop()
    saved.page.click("[data-device-check]")
    saved.until("() => document.querySelector('[data-device-checked]').textContent.includes('could not be reached')")


def test_a_reset_downloads_everything_again_and_keeps_records(saved: Any, host: Any) -> None:
    assert saved.page.evaluate(RECORD)
    host.log.clear()
    saved.page.click("[data-reset]")
    saved.until("() => performance.getEntriesByType('navigation')[0].type === 'reload'")
    saved.until_saved()
    assert "diary/2026-03/index.html" in host.log
    assert saved.page.evaluate(READ_RECORD) == "three caps"


def test_a_reset_asks_twice_when_offline(saved: Any, host: Any) -> None:
    host.stop()
    saved.page.click("[data-reset]")
    saved.until("() => document.querySelector('[data-reset-status]').textContent.startsWith('You are offline')")
    assert "device/index.html" in saved.text(host.url("device/index.html"))


def test_an_install_is_offered_when_the_browser_offers_one(saved: Any) -> None:
    assert not saved.page.is_visible("[data-install]")
    offer = """() => {
      const offer = new Event("beforeinstallprompt", { cancelable: true });
      offer.prompt = async () => (document.body.dataset.prompted = "yes");
      dispatchEvent(offer);
      return offer.defaultPrevented;
    }"""
    assert saved.page.evaluate(offer)
    saved.page.click("[data-install]")
    assert saved.page.evaluate("document.body.dataset.prompted") == "yes"
    assert not saved.page.is_visible("[data-install]")


def test_the_browser_finds_the_manifest(saved: Any, host: Any) -> None:
    session = saved.context.new_cdp_session(saved.page)
    manifest = session.send("Page.getAppManifest")
    assert manifest["url"] == host.url("manifest.webmanifest")
    assert [] == manifest["errors"]


def test_a_browser_that_cannot_hold_it_gets_the_reason(visit: Any, host: Any) -> None:
    visit.context.add_init_script("delete Navigator.prototype.serviceWorker")
    visit.page.goto(host.url("device/index.html"))
    assert visit.page.inner_text("[data-device-why]") == "This browser cannot save the journal for offline use."


ERROR_SAYS = "(words) => document.querySelector('[data-device-error]').textContent.includes(words)"


def test_a_first_visit_that_could_not_be_saved_is_reported(visit: Any, host: Any) -> None:
    host.broken.add("index.html")
    visit.page.goto(host.url("device/index.html"))
    visit.until(ERROR_SAYS, "the server does not have index.html (status 503)")


def test_a_worker_that_cannot_say_why_it_failed_is_told_all_the_same(visit: Any, host: Any) -> None:
    """As where a browser gives the worker no storage at all: it has nowhere to note it."""
    (host.folder / "sw.js").write_text("addEventListener('install', (event) => event.waitUntil(Promise.reject()));")
    visit.page.goto(host.url("device/index.html"))
    visit.until(ERROR_SAYS, "it could not be downloaded completely, or the browser gives it too little storage")


def test_full_storage_is_told_though_it_cannot_be_noted_there(visit: Any, host: Any) -> None:
    visit.context.add_init_script(
        "Cache.prototype.put = () => Promise.reject(new DOMException('full', 'QuotaExceededError'));"
    )
    visit.page.goto(host.url("device/index.html"))
    visit.until(ERROR_SAYS, "no more storage")


def test_a_browser_that_blocks_workers_is_told_in_plain_words(browser: Any, host: Any) -> None:
    """Extensions that block them, as the option does, give no registration, and no error."""
    context = browser.new_context(service_workers="block")
    page = context.new_page()
    page.goto(host.url("device/index.html"))
    until(page, ERROR_SAYS, "this browser blocks service workers, in its settings or by an extension")
    context.close()


BLOCKED = """for (const name of ["caches", "indexedDB", "localStorage"]) {
  Object.defineProperty(globalThis, name, { get() { throw new DOMException("blocked", "SecurityError"); } });
}"""


def test_blocked_storage_is_reported_and_nothing_is_thrown(visit: Any, host: Any) -> None:
    visit.context.add_init_script(BLOCKED)
    visit.page.goto(host.url("device/index.html"))
    visit.until("() => document.querySelector('[data-device-why]').textContent.includes('blocks storage')")
    assert [] == visit.complaints


def test_the_browser_is_asked_to_keep_what_the_first_visit_has_saved(visit: Any, host: Any) -> None:
    visit.context.add_init_script("navigator.storage.persist = () => Promise.resolve(true);")
    visit.page.goto(host.url("device/index.html"))
    visit.until_saved()
    visit.until("() => document.querySelector('[data-device-storage]').textContent.startsWith('The browser keeps')")
