"""A second build: offered when it is here whole, taken on a tap, and never mixed with the first."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from shutil import copytree
from typing import Any

import pytest

from tests.browser.conftest import digests
from tests.browser.test_locked import stop_worker

pytestmark = pytest.mark.browser

LOOK = "async () => { await (await navigator.serviceWorker.getRegistration()).update(); }"
OFFERED = "() => !document.querySelector('[data-update]').hidden"
FAULT = "async () => (await (await caches.match(new URL('state/fault', location)))?.json())?.message"
MARKS = """() => {
  const build = document.querySelector(".build")?.textContent;
  return [build, getComputedStyle(document.querySelector("h1") ?? document.documentElement).color];
}"""
ONE = ["one", "rgb(1, 1, 1)"]
TWO = ["two", "rgb(2, 2, 2)"]
MARKED = ("index.html", "batches/b-031/index.html", "finds/f26-001/index.html")


@pytest.fixture
def host(serve: Callable[..., Any], toy: Any) -> Any:
    return serve(toy.build("one"))


@pytest.fixture
def held(visit: Any, host: Any) -> Any:
    visit.page.goto(host.url())
    visit.until_saved()
    return visit


@pytest.fixture
def two(toy: Any) -> Path:
    """The tree of a second build: the marked pages and the style have changed, a photo has come."""
    changed = replace(toy, css=toy.css.replace("1, 1, 1", "2, 2, 2"))
    changed.bodies = {path: body.replace(">one<", ">two<") for path, body in toy.bodies.items()}
    changed.photos = toy.photos | {"photos/2026-12/new-320.webp": toy.photos["photos/2026-11/ab-960.webp"]}
    return changed.build("two")


def marks_of(visit: Any, host: Any) -> list[list[str]]:
    marks = []
    for path in MARKED:
        visit.page.goto(host.url(path))
        marks.append(visit.page.evaluate(MARKS))
    return marks


def test_every_page_is_of_the_old_build_until_the_tap_and_of_the_new_one_after(held: Any, host: Any, two: Path) -> None:
    host.folder = two
    held.page.evaluate(LOOK)
    held.until(OFFERED)
    assert [ONE] * 3 == marks_of(held, host)
    held.until(OFFERED)
    held.page.click("[data-update-now]")
    held.until("() => document.querySelector('.build')?.textContent === 'two'")
    assert [TWO] * 3 == marks_of(held, host)
    host.stop()
    assert [TWO] * 3 == marks_of(held, host)
    assert held.complaints == []


def test_only_what_changed_is_fetched(held: Any, host: Any, two: Path) -> None:
    host.folder = two
    host.log.clear()
    held.page.evaluate(LOOK)
    held.until(OFFERED)
    bodies = {path for path in host.log if not path.startswith("offline/") and path != "sw.js"}
    assert {*MARKED, "static/css/site.css", "photos/2026-12/new-320.webp"} == bodies
    lists = [path for path in host.log if path.startswith("offline/") and path.endswith(".json")]
    assert len(lists) == len(set(lists))
    assert 5 == len(lists)  # the root, what is growing, the shell, the other pages, the new month's small photos


def test_a_restart_of_the_browser_does_not_take_the_newer_build(phone: Any, host: Any, two: Path) -> None:
    first = phone()
    first.page.goto(host.url())
    first.until_saved()
    host.folder = two
    first.page.evaluate(LOOK)
    first.until(OFFERED)
    again = phone()
    assert [ONE] * 3 == marks_of(again, host)
    again.until(OFFERED)


def test_every_open_page_is_loaded_anew_but_one_with_an_unsaved_form(held: Any, host: Any, two: Path) -> None:
    beside = held.context.new_page()
    beside.goto(host.url("finds/f26-001/index.html"))
    writing = held.context.new_page()
    writing.goto(host.url("index.html"))
    writing.evaluate("document.body.dataset.unsaved = ''")
    host.folder = two
    held.page.evaluate(LOOK)
    held.until(OFFERED)
    held.page.click("[data-update-now]")
    held.until("() => document.querySelector('.build')?.textContent === 'two'")
    for _ in range(100):
        if beside.evaluate(MARKS) == TWO:
            break
        beside.wait_for_timeout(50)
    assert TWO == beside.evaluate(MARKS)
    assert ONE == writing.evaluate(MARKS)


TAP = "() => document.querySelector('[data-update-now]').click()"
NOTE_NEXT = """async (next) => {
  const [name] = (await caches.keys()).filter((each) => each.startsWith("journal state"));
  const state = await caches.open(name);
  const builds = await (await state.match("/state/builds")).json();
  await state.put("/state/builds", new Response(JSON.stringify({ ...builds, next })));
}"""


def test_a_build_that_is_not_whole_is_not_taken_by_a_tap_that_was_meant_for_another(
    held: Any, host: Any, two: Path
) -> None:
    host.folder = two
    held.page.evaluate(LOOK)
    held.until(OFFERED)
    one = held.state("builds")["current"]
    held.page.evaluate(NOTE_NEXT, "0" * 32)  # a third has come meanwhile
    held.page.evaluate(TAP)
    held.until(f"() => !({OFFERED})()")
    held.page.wait_for_timeout(1500)  # for a worker that would take it
    assert one == held.state("builds")["current"]


def test_with_a_list_that_is_missing_and_no_signal_nothing_is_swept(held: Any, host: Any, toy: Any) -> None:
    host.folder = replace(toy, css=toy.css.replace("1, 1, 1", "2, 2, 2")).build("two")
    held.page.evaluate(LOOK)
    held.until(OFFERED)
    build = held.state("builds")["next"]
    drop = """async (build) => {
      const { pool } = await import("/static/js/offline.js");
      const [part] = (await pool.partsOf(build)).filter(({ pack }) => pack === "pages");
      await pool.drop([part.list]);
    }"""
    held.page.evaluate(drop, build)
    pages = {digest for path, (digest, *_) in digests(host.folder).items() if path.startswith("diary")}
    pages = {digest[:32] for digest in pages}
    assert pages <= held.pool()
    host.stop()
    stop_worker(held)
    take = """async (build) => {
      const { active, waiting } = await navigator.serviceWorker.getRegistration();
      (waiting ?? active).postMessage({ kind: "take", build });
    }"""
    held.page.evaluate(take, build)
    taken = (
        "async (build) => (await (await caches.match(new URL('/state/builds', location)))?.json())?.current === build"
    )
    held.until(taken, build)
    held.page.wait_for_timeout(500)
    assert pages <= held.pool()


def test_removing_pages_leaves_what_the_shown_build_needs_while_another_waits(held: Any, host: Any, toy: Any) -> None:
    """Its first pages: of the other build one of them is no longer growing, so that it is among all pages."""
    newer = replace(toy, growing=("index.html",), bodies=toy.bodies | {"index.html": '<p class="build">two</p>'})
    host.folder = newer.build("two")
    held.page.evaluate(LOOK)
    held.until(OFFERED)
    held.page.evaluate('async () => (await import("/static/js/offline.js")).dropPack("pages")')
    host.stop()
    stop_worker(held)
    assert 504 == held.page.goto(host.url("diary/2026-03/index.html")).status
    assert 200 == held.page.goto(host.url("batches/b-031/index.html")).status


def test_after_a_reset_with_another_tab_open_the_newer_build_is_fetched(held: Any, host: Any, two: Path) -> None:
    """The worker of the first build lives on with the other tab; the host has its build no more."""
    beside = held.context.new_page()
    beside.goto(host.url())
    host.folder = two
    held.page.evaluate(LOOK)
    held.until(OFFERED)
    reset = """async () => {
      await (await navigator.serviceWorker.getRegistration()).unregister();
      for (const name of await caches.keys()) await caches.delete(name);
      location.reload();
    }"""
    held.page.evaluate(reset)
    held.until_saved()
    assert digest_of(two) == held.state("builds")["current"]


def digest_of(tree: Path) -> str:
    return re.findall(r'journalBuild = "(\w+)"', (tree / "sw.js").read_text("utf-8"))[0]


def held_by(tree: Path) -> set[str]:
    """Digests that a phone holds of a build unasked: files, part lists and root list."""
    (build,) = re.findall(r'journalBuild = "(\w+)"', (tree / "sw.js").read_text("utf-8"))
    root = json.loads((tree / "offline" / f"{build}.json").read_text("utf-8"))
    parts = [digest for pack, _, digest, *_ in root["parts"] if pack != "larger"]
    lists = [json.loads((tree / "offline" / f"{part}.json").read_text("utf-8")) for part in parts]
    return {build, *parts, *(digest for one in lists for _, digest, *_ in one["files"])}


def test_once_it_is_taken_the_phone_holds_the_newer_build_and_nothing_else(held: Any, host: Any, two: Path) -> None:
    one, host.folder = host.folder, two
    held.page.evaluate(LOOK)
    held.until(OFFERED)
    assert held_by(one) | held_by(two) == held.pool()
    held.page.click("[data-update-now]")
    held.until("() => document.querySelector('.build')?.textContent === 'two'")
    for _ in range(100):
        if held.pool() == held_by(two):
            break
        held.page.wait_for_timeout(50)
    assert held_by(two) == held.pool()


def half_uploaded(one: Path, two: Path, left_out: str) -> Path:
    """The second build as a host has it when one file of it has not come yet."""
    tree = two.parent / "half"
    copytree(two, tree)
    (tree / left_out).write_bytes((one / left_out).read_bytes())
    return tree


PACKED = {"finds/f26-001/index.html", "photos/2026-12/new-320.webp"}  # fetched once the core is whole


@pytest.mark.parametrize(
    ("late", "rest"),
    [
        ("static/css/site.css", {"static/css/site.css", *PACKED}),
        ("index.html", {"index.html", *PACKED}),
        ("finds/f26-001/index.html", {"finds/f26-001/index.html"}),
    ],
)
def test_a_site_half_uploaded_is_not_adopted_and_the_rest_is_fetched_later(
    held: Any, host: Any, two: Path, late: str, rest: set[str]
) -> None:
    host.folder = half_uploaded(host.folder, two, late)
    held.page.evaluate(LOOK)
    assert held.until(FAULT) == f"{late} on the server belongs to another version"
    assert not held.page.evaluate(OFFERED)
    assert [ONE] * 3 == marks_of(held, host)
    host.folder = two
    host.log.clear()
    held.page.evaluate(LOOK)
    held.page.reload()
    held.until(OFFERED)
    # A fetch that the reload cut off may ask for its page's other address too, the folder's, on the way out.
    asked = {f"{path}index.html" if path.endswith("/") else path for path in host.log}
    assert rest == {path for path in asked if not path.startswith("offline/") and path != "sw.js"}


def test_a_page_that_was_not_saved_is_never_shown_from_another_build(visit: Any, host: Any, two: Path) -> None:
    visit.context.add_init_script(
        "Object.defineProperty(NetworkInformation.prototype, 'saveData', { get: () => true })"
    )
    visit.page.goto(host.url())
    visit.until_saved()
    (two / "sw.js").unlink()  # the upload has reached the pages and not yet the worker
    host.folder = two
    answer = visit.page.goto(host.url("finds/f26-001/index.html"))
    assert answer.status == 404
    assert "newer version" in visit.page.content()
    assert "two" not in visit.page.content()


def test_a_host_that_goes_back_to_the_first_build_withdraws_the_offer(held: Any, host: Any, two: Path) -> None:
    one, host.folder = host.folder, two
    held.page.evaluate(LOOK)
    held.until(OFFERED)
    host.folder = one
    held.page.evaluate(LOOK)
    held.until("() => document.querySelector('[data-update]').hidden")
    assert held.state("builds")["next"] is None


def test_a_third_build_replaces_an_offer_that_was_not_taken(held: Any, host: Any, toy: Any, two: Path) -> None:
    host.folder = two
    held.page.evaluate(LOOK)
    held.until(OFFERED)
    third = replace(toy, bodies={path: body.replace(">one<", ">three<") for path, body in toy.bodies.items()})
    second = held.state("builds")["next"]
    host.folder = third.build("three")
    held.page.evaluate(LOOK)
    held.until(
        "async (old) => (await (await caches.match(new URL('state/builds', location))).json()).next !== old", second
    )
    held.until_saved()
    held.until(OFFERED)
    held.page.click("[data-update-now]")
    held.until("() => document.querySelector('.build')?.textContent === 'three'")
    assert [["three", "rgb(1, 1, 1)"]] * 3 == marks_of(held, host)


def test_a_page_that_comes_back_from_memory_is_not_left_at_the_old_build(held: Any, host: Any, two: Path) -> None:
    held.page.goto(host.url())
    host.folder = two
    held.page.evaluate(LOOK)
    held.until(OFFERED)
    quietly = """async () => {
      const state = await caches.open((await caches.keys()).find((name) => name.startsWith("journal state")));
      const { next } = await (await state.match(new URL("state/builds", location))).json();
      await state.put(new URL("state/builds", location), new Response(JSON.stringify({ current: next, next: null })));
    }"""
    held.page.evaluate(quietly)
    held.page.evaluate("dispatchEvent(new PageTransitionEvent('pageshow', { persisted: true }))")
    held.until("() => document.querySelector('.build')?.textContent === 'two'")


def test_a_host_that_goes_by_age_alone_still_gives_the_changed_page(held: Any, host: Any, toy: Any) -> None:
    changed = replace(toy, bodies={path: body.replace(">one<", ">two<") for path, body in toy.bodies.items()})
    one, host.folder = host.folder, changed.build("two")
    host.coarse = {"index.html"}
    stamp = (one / "index.html").stat()
    os.utime(host.folder / "index.html", (stamp.st_atime, stamp.st_mtime))
    held.page.evaluate(LOOK)
    held.until(OFFERED)
