"""What the tests of recording run in a page that holds the scripts records are made with."""

from __future__ import annotations

from typing import Any

SETUP = """
globalThis.store = journalRecords(new URL("./", location.href));
globalThis.photo = (bytes, seed, type = "image/jpeg") => {
  const content = new Uint32Array(bytes / 4);
  for (let at = 0, value = seed; at < content.length; at += 1) {
    content[at] = value = (value * 1664525 + 1013904223) >>> 0;
  }
  return new Blob([content], { type });
};
globalThis.fault = (promise) => promise.then(() => null, ({ kind, message }) => ({ kind, message }));
let made = 0;
globalThis.uuid = () => `${String((made += 1)).padStart(8, "0")}-${crypto.randomUUID().slice(9)}`;
globalThis.find = (id, more = {}) => ({
  record: uuid(), kind: "find", id, date: "2026-11-25 14:03+00:00", values: {}, ...more,
});
"""
"""Gives a page `store`; `photo(bytes, seed)`, a Blob of so many bytes, the same for a seed; `fault(promise)`, what
it is rejected with; `uuid()`, in their order, for records that are saved within a second; and `find(id)`, a record."""

DIGESTS = """
  const digests = {};
  for (const { name, photo, bytes, sha256 } of given) {
    const stored = await store.photoBytes(photo);
    digests[name] = stored.byteLength === bytes && sha256 === (await journalArchive.sha256(stored));
  }
  return digests;
"""
"""Whether the bytes of each of the given photos are those that were stored, by name."""


def opened(page: Any, url: str) -> Any:
    page.goto(url)
    page.evaluate(SETUP)
    return page


def run(page: Any, script: str, given: Any = None) -> Any:
    return page.evaluate(f"async (given) => {{ {script} }}", given)
