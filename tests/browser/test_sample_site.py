"""The sample journal's site in a browser: saved and read with the host gone, and read from a folder."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from journal.site.build import offline
from tests.builders import some

pytestmark = pytest.mark.browser

BROKEN = """async () => {
  const images = [...document.images];
  const there = (image) => image.complete || new Promise((done) => { image.onload = image.onerror = done; });
  for (const image of images) image.loading = "eager";
  await Promise.all(images.map(there));
  return images.filter((image) => !image.naturalWidth).map((image) => image.currentSrc);
}"""
"""The pictures of a page that are not there, or are none; what cannot be seen need not be decoded for that."""


def pages_of(site: Path) -> list[str]:
    pages = (path.relative_to(site).as_posix() for path in site.rglob("*.html") if path.name != "404.html")
    return sorted(some(pages, 20))


def leads_on(site: Path, path: str) -> bool:
    """Whether a page leads to another one by itself."""
    return 'http-equiv="refresh"' in (site / path).read_text("utf-8")


def pages_that_stay(site: Path) -> list[str]:
    return [path for path in pages_of(site) if not leads_on(site, path)]


def one_of_each_kind(site: Path) -> list[str]:
    """The page with most pictures of all that are in the same folder, as deep, and use the same scripts."""
    kinds: dict[tuple[str, ...], tuple[int, str]] = {}
    for path in pages_that_stay(site):
        text = (site / path).read_text("utf-8")
        scripts = tuple(sorted(set(re.findall(r'src="(?:\.\./)*(?:\./)?(static/js/[^"]+)"', text))))
        kind = (path.split("/")[0], str(path.count("/")), *scripts)
        kinds[kind] = max(kinds.get(kind, (-1, "")), (text.count("<img"), path))
    return sorted(some((path for _, path in kinds.values()), 15))


@pytest.fixture
def saved(sample_offline: Any) -> Any:
    """A tab where the site is saved, and its host, which is gone."""
    visit, host = sample_offline
    host.stop()
    return visit, host


ANSWERED = """async (paths) => {
  const wrong = [];
  const root = new URL(document.documentElement.dataset.root, location);
  const asked = new Set();
  for (const path of paths) {
    const answer = await fetch(new URL(path, root));
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (answer.status !== 200 || !page.querySelector("h1")) wrong.push(path);
    for (const one of page.querySelectorAll("script[src], link[href], img[src]:not([src^='data:'])")) {
      asked.add(new URL(one.getAttribute("src") ?? one.getAttribute("href"), answer.url).href);
    }
  }
  const isThere = (address) => fetch(address).then(({ status }) => status === 200, () => false);
  for (const address of asked) if (!(await isThere(address))) wrong.push(address);
  return [wrong, asked.size];
}"""
"""Pages that are not answered, and scripts, styles and pictures they name that are not; and of how many of these."""


def test_every_page_is_answered_with_the_host_gone_and_all_that_it_names(saved: Any, sample_site: Path) -> None:
    visit, _ = saved
    wrong, asked = visit.page.evaluate(ANSWERED, pages_of(sample_site))
    assert [] == wrong
    assert asked > 50  # pages, photos, and the few styles and scripts that they share


def test_a_page_of_each_kind_is_read_with_the_host_gone_and_nothing_complains(saved: Any, sample_site: Path) -> None:
    """What a page shows and does is the same as from a folder, where each is opened (see below)."""
    visit, host = saved
    visit.requests.clear()
    for path in one_of_each_kind(sample_site):
        assert visit.page.goto(host.url(path)).status == 200
        assert [] == visit.page.evaluate(BROKEN), path
    assert [] == visit.complaints
    assert [] == [url for url in visit.requests if not url.startswith((host.url(""), "data:", "blob:"))]


def test_every_small_photo_is_saved(saved: Any, sample_site: Path) -> None:
    visit, host = saved
    script = "async (urls) => (await Promise.all(urls.map((url) => fetch(url)))).map((answer) => answer.status)"
    small = [path.relative_to(sample_site).as_posix() for path in sample_site.glob("photos/*/*-320.webp")]
    assert small
    assert {200} == set(visit.page.evaluate(script, [host.url(path) for path in small]))


def test_every_page_is_read_from_the_folder_and_nothing_complains(tab: Any, sample_site: Path) -> None:
    tab.afresh("about:blank")
    for path in pages_that_stay(sample_site):
        tab.page.goto((sample_site / path).as_uri())
        assert [] == tab.page.evaluate(BROKEN), path
    assert [] == tab.complaints
    assert [] == [url for url in tab.requests if not url.startswith(("file:", "data:"))]


PATCH, OLD = "patches/f26-001/index.html", "patches/f26-002/index.html"


def test_an_old_address_of_a_patch_leads_to_it_from_the_folder_without_a_script(
    browser: Any, sample_site: Path
) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((sample_site / OLD).as_uri())
    page.wait_for_url((sample_site / PATCH).as_uri())
    assert "F26-001" == page.inner_text("h1")
    context.close()


@pytest.mark.parametrize("path", [OLD, OLD.removesuffix("index.html"), OLD.removesuffix("/index.html")])
def test_an_old_address_of_a_patch_leads_to_it_with_the_host_gone(saved: Any, path: str) -> None:
    visit, host = saved
    visit.page.goto(host.url(path))
    visit.page.wait_for_url(host.url(PATCH))
    assert "F26-001" == visit.page.inner_text("h1")
    visit.page.go_back()  # not into the old address, which would lead on again
    visit.page.wait_for_url(host.url())
    assert [] == visit.complaints


@pytest.mark.parametrize("path", [OLD, OLD.removesuffix("index.html")])
def test_an_old_address_of_a_patch_leads_to_it_on_a_host_that_nothing_is_saved_of(
    browser: Any, sample_offline: Any, path: str
) -> None:
    _, host = sample_offline
    context = browser.new_context(service_workers="block")
    page = context.new_page()
    page.goto(host.url(path))
    page.wait_for_url(host.url(PATCH))
    assert "F26-001" == page.inner_text("h1")
    context.close()


@pytest.mark.parametrize("typed", ["b-031", "b31", "f26-001", "flammulina", "velvet shank", "clone", "alder bank"])
def test_what_is_typed_is_found_in_the_folder_and_leads_to_a_page(tab: Any, sample_site: Path, typed: str) -> None:
    tab.afresh((sample_site / "index.html").as_uri())
    tab.page.fill("[data-search]", typed)
    address = tab.until("() => document.querySelector('.search-hit')?.getAttribute('href')")
    tab.page.keyboard.press("Enter")
    tab.until("(page) => location.href.endsWith(page)", address.removeprefix("./"))
    anchor = "() => !location.hash || Boolean(document.getElementById(decodeURIComponent(location.hash.slice(1))))"
    assert tab.page.evaluate(anchor)


def test_every_entry_of_the_index_leads_to_a_place_that_is_there(sample_site: Path) -> None:
    rows = []
    for part in sample_site.glob("search/*.js"):
        if match := re.fullmatch(r"journalSearch\.add\((.*)\);\n", part.read_text("utf-8"), re.DOTALL):
            rows += json.loads(match[1])
    assert len(rows) > 90
    for _, path, *_, photo in rows:
        page, _, anchor = path.partition("#")
        assert not anchor or f'id="{anchor}"' in (sample_site / page).read_text("utf-8"), path
        assert photo is None or (sample_site / photo).is_file()


def test_every_file_of_the_site_is_saved_or_on_the_written_list(sample_site: Path) -> None:
    (build,) = re.findall(r'journalBuild = "(\w+)"', (sample_site / "sw.js").read_text("utf-8"))
    root = json.loads((sample_site / "offline" / f"{build}.json").read_text("utf-8"))
    years = [
        json.loads((sample_site / f"offline/{digest}.json").read_text("utf-8")) for _, digest in root.get("years", ())
    ]
    parts = [part for row in (root, *years) for part in row["parts"]]
    lists = [json.loads((sample_site / "offline" / f"{part[2]}.json").read_text("utf-8")) for part in parts]
    listed = {one["base"] + name for one in lists for name, *_ in one["files"]}
    there = {path.relative_to(sample_site).as_posix() for path in sample_site.rglob("*") if path.is_file()}
    assert {path for path in there if not offline.is_left_out(path)} == listed


def test_the_worker_adds_to_the_policy_of_the_pages_and_changes_nothing_in_it(saved: Any, sample_site: Path) -> None:
    visit, host = saved
    in_page = re.findall(r'Content-Security-Policy" content="([^"]+)"', (sample_site / "index.html").read_text("utf-8"))
    answered = "async (url) => (await fetch(url)).headers.get('Content-Security-Policy')"
    assert f"{in_page[0]}; frame-ancestors 'none'" == visit.page.evaluate(answered, host.url("index.html"))


def test_this_phone_says_what_it_holds(saved: Any) -> None:
    visit, host = saved
    visit.page.goto(host.url("device/index.html"))
    visit.until(
        """() => document.querySelector("[data-pack='pages'] [data-pack-state]")
        .textContent.includes(", saved on this device")"""
    )
    visit.until("() => /^[0-9]+ files, /.test(document.querySelector('[data-device-saved]').textContent)")


def test_the_larger_photos_of_a_batch_are_kept_from_its_page(sample_offline: Any) -> None:
    visit, host = sample_offline
    visit.page.goto(host.url("batches/b-031/index.html"))
    visit.until_saved()
    visit.page.click("[data-pack='larger:b-031'] [data-pack-save]")
    visit.until(
        "() => document.querySelector('[data-pack] [data-pack-state]').textContent.includes(', saved on this device')"
    )
    assert [path for path in host.log if path.endswith("-960.webp")]
