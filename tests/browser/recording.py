"""What the tests of recording share: a profile, and what they run in a page that holds the scripts of recording."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

HERE = {"latitude": 58.30412, "longitude": -8.90177, "accuracy": 12}

TAP = """addEventListener('click', (event) => {
  if (event.isTrusted && event.detail) sessionStorage.taps = Number(sessionStorage.taps ?? 0) + 1;
}, true)"""
"""Counts what a finger does in a tab, over all its pages: a click that a script makes, or a label hands on, is none."""

EMPTY = """async () => {
  localStorage.clear();
  sessionStorage.clear();
  const workers = await navigator.serviceWorker.getRegistrations();
  for (const worker of workers) await worker.unregister();
  for (const name of await caches.keys()) await caches.delete(name);
  for (const { name } of await indexedDB.databases()) await new Promise((done, failed) => {
    Object.assign(indexedDB.deleteDatabase(name), { onsuccess: done, onerror: failed });
  });
  return workers.length;
}"""


@dataclass
class Profile:
    """One browser profile for the tests of a module. empty: the address of a page there with no scripts. screen: its
    size. in_tab: opens a tab. asks, position: whether pages may use the position, and what that was when a tab was
    opened last.

    Tests take turns with the first tab: in a new one the browser starts a process and compiles every script again.
    """

    context: Any
    empty: str
    screen: dict[str, int]
    in_tab: Callable[[Any], Any]
    asks: bool = False
    position: Any = None
    _first: Any = None
    _is_free: bool = False

    def next_tab(self) -> Any:
        """The first tab, if the test has not got that yet; else a new one."""
        if self._first is None:
            self._first, self._is_free = self.in_tab(self.context), True
        if not self._is_free:
            return self.in_tab(self.context)
        self._is_free = False
        self._first.requests.clear()
        self._first.complaints.clear()
        return self._first

    def clear(self) -> None:
        """Undoes what a test has opened, granted, stubbed and stored. The first tab stays, if it is as it was."""
        if self._first.is_altered or self._first.page.is_closed():
            self._first = self.in_tab(self.context)
        page = self._first.page
        for other in self.context.pages:
            if other != page:
                other.close()
        self.context.set_offline(False)
        self.context.unroute_all()
        page.unroute_all()
        self.context.clear_permissions()
        self.context.set_geolocation(None)
        self.asks, self.position, self._is_free = False, None, True
        page.set_viewport_size(self.screen)
        page.emulate_media(color_scheme="light")
        page.goto(self.empty)
        if page.evaluate(EMPTY):
            page.goto("about:blank")


SETUP = """
globalThis.store = journalRecords(new URL("./", location.href));
globalThis.photo = (bytes, seed, type = "image/jpeg") => {
  const content = new Uint32Array(bytes / 4);
  for (let at = 0, value = seed; at < content.length; at += 1) {
    content[at] = value = (value * 1664525 + 1013904223) >>> 0;
  }
  return new Blob([content], { type });
};
globalThis.stateOf = async (record) => (await store.states()).get(record.record ?? record) ?? "only on this device";
globalThis.fault = (promise) => promise.then(() => null, ({ kind, message }) => ({ kind, message }));
let made = 0;
globalThis.uuid = () => `${String((made += 1)).padStart(8, "0")}-${crypto.randomUUID().slice(9)}`;
globalThis.find = (id, more = {}) => ({
  record: uuid(), kind: "find", id, date: "2026-11-25 14:03+00:00", values: {}, ...more,
});
"""
"""Gives a page `store`; `photo(bytes, seed)`, a Blob of so many bytes, the same for a seed; `stateOf(record)`, where
its latest revision is; `fault(promise)`, what it is rejected with; `uuid()`, in their order, for records that are saved
within a second; and `find(id)`, a record."""

DIGESTS = """
  const digests = {};
  for (const { name, photo, bytes, sha256 } of given) {
    const stored = await store.photoBytes(photo);
    digests[name] = stored.byteLength === bytes && sha256 === (await journalArchive.sha256(stored));
  }
  return digests;
"""
"""Whether the bytes of each of the given photos are those that were stored, by name."""

EXPORT = """
globalThis.exported = async (options) => {
  let last;
  for await (const part of journalArchive.build(await store.latest(), store, options)) last = part;
  await store.markSent(last.export);
  return last.export;
};
globalThis.stateNow = async () => {
  const states = await store.states();
  return (await store.latest()).map((row) => `${row.id} ${row.revision} ${states.get(row.record)}`);
};
"""
"""Gives a page `exported(options)`, which exports every record, and `stateNow()`, where each of them is."""


STORE = "journalRecords(new URL(document.documentElement.dataset.root, location.href))"
"""The store of records, in a page of the site."""


def form_is_open(visit: Any) -> None:
    visit.until("() => document.querySelector('[data-savebar]')?.hidden === false")


def is_saved(visit: Any) -> str:
    """Waits until a record is saved; gives what the page says of it."""
    visit.until("() => document.querySelector('[data-saved-panel]')?.hidden === false")
    return str(visit.page.inner_text("[data-saved-words]"))


def save(visit: Any) -> str:
    visit.page.get_by_role("button", name="Save", exact=True).click()
    return is_saved(visit)


def opened(page: Any, url: str) -> Any:
    page.goto(url)
    page.evaluate(SETUP)
    return page


def run(page: Any, script: str, given: Any = None) -> Any:
    return page.evaluate(f"async (given) => {{ {script} }}", given)
