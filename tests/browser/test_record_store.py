"""Records on the device: what is saved is there whole, whatever ends the browser; what fails changes nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

pytestmark = pytest.mark.browser

# Each script runs with `store`, `photo(bytes, seed)` (a Blob of these many bytes, always the same for a seed) and
# `fault(promise)` (what it rejects with: kind and words).
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
globalThis.find = (id, more = {}) => ({
  record: crypto.randomUUID(), kind: "find", id, date: "2026-11-25 14:03+00:00", values: {}, ...more,
});
"""


@pytest.fixture(scope="module")
def tab(browser: Any, recording_url: str) -> Iterator[Callable[[], Any]]:
    """Opens tabs of one profile; they share what is stored."""
    contexts = []

    def start(context: Any = None) -> Any:
        if context is None:
            contexts.append(browser.new_context())
            context = contexts[-1]
        page = context.new_page()
        page.goto(recording_url)
        page.evaluate(SETUP)
        return page

    yield start
    for context in contexts:
        context.close()


@pytest.fixture
def page(tab: Any) -> Iterator[Any]:
    """A tab of a new profile."""
    opened = tab()
    yield opened
    opened.context.close()


def run(page: Any, script: str, argument: Any = None) -> Any:
    return page.evaluate(f"async (given) => {{ {script} }}", argument)


def test_a_draft_and_its_photos_become_a_record_in_one_step(page: Any) -> None:
    found = run(
        page,
        """const draft = await store.saveDraft(find("F26-015-K7Q4"));
        const { photo: row } = await store.addPhoto(draft, photo(4096, 1), { source: "camera" });
        const record = await store.save({ ...draft, values: { species: "Pleurotus pulmonarius" } });
        const bytes = new Uint8Array(await store.photoBytes(record.photos[0]));
        return { record, row, drafts: await store.drafts(), latest: await store.latest(), first: [...bytes.slice(0, 4)],
                 state: await store.state(record) };""",
    )
    record = found["record"]
    assert (1, "find", "F26-015-K7Q4", None) == tuple(record[key] for key in ("revision", "kind", "id", "removed"))
    assert {"species": "Pleurotus pulmonarius"} == record["values"]
    assert [found["row"]] == record["photos"]
    assert ("photo-01.jpg", 4096, "image/jpeg") == tuple(found["row"][key] for key in ("name", "bytes", "type"))
    assert [] == found["drafts"]
    assert [record["record"]] == [row["record"] for row in found["latest"]]
    assert "only on this device" == found["state"]
