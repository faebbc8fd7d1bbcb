"""What pages fetch before anything is touched; on a slow connection, where browsers fetch pictures well ahead."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import FLAGS, Host, serving
from tests.cache.test_static_files import HEAD_BYTES, scripts_of, texts_bytes

pytestmark = pytest.mark.browser

FINDS, FIND, BATCH = "finds/index.html", "finds/f26-001/index.html", "batches/b-031/index.html"


@pytest.fixture(scope="module")
def slow(playwright: Any, need_chromium: Path) -> Iterator[Any]:
    started = playwright.chromium.launch(
        executable_path=str(need_chromium), args=[*FLAGS, "--force-effective-connection-type=3G"]
    )
    yield started
    started.close()


@pytest.fixture(scope="module")
def host(sample_site: Path) -> Iterator[Host]:
    with serving() as start:
        yield start(sample_site)


def phone(slow: Any) -> Any:
    """One that has nothing yet."""
    screen = {"width": 412, "height": 823}
    return slow.new_context(viewport=screen, device_scale_factor=1.75, is_mobile=True, service_workers="block")


def fetched(slow: Any, host: Host, path: str) -> set[str]:
    context = phone(slow)
    host.log.clear()
    context.new_page().goto(host.url(path), wait_until="networkidle")
    context.close()
    return set(host.log)


@pytest.mark.parametrize(
    "path", ["record/index.html", "record/outbox/index.html", "due/index.html", "labels/index.html", FIND, BATCH]
)
def test_a_page_fetches_the_scripts_it_names_and_no_others(slow: Any, host: Host, path: str) -> None:
    assert scripts_of(host.folder, path) == {name for name in fetched(slow, host, path) if name.endswith(".js")}


@pytest.mark.parametrize("path", [FINDS, FIND, BATCH, "diary/index.html", "index.html"])
def test_a_first_view_takes_at_most_200_kb(slow: Any, host: Host, path: str) -> None:
    """Photos further down wait."""
    names = {name for name in fetched(slow, host, path) if name.endswith(".webp")}
    assert names
    photos = sum((host.folder / name).stat().st_size + HEAD_BYTES for name in names)
    assert texts_bytes(host.folder, path) + photos <= 200_000


TOO_LARGE = """() => {
  const all = [...document.querySelectorAll(":is(.frame, .specimen .hero) img[srcset]")];
  const photos = all.filter((photo) => photo.currentSrc);
  const found = photos.filter((photo) => {
    const { width, height } = photo.getBoundingClientRect();
    const shown = Math.min(width, (height * photo.getAttribute("width")) / photo.getAttribute("height"));
    const widths = photo.srcset.split(", ").map((one) => parseInt(one.split(" ")[1]));
    const chosen = widths.findIndex((one) => photo.currentSrc.includes(`-${one}.`));
    return widths[chosen - 1] >= 0.99 * shown * devicePixelRatio; // nobody sees a hundredth
  });
  return [photos.length, found.map((photo) => photo.currentSrc)];
}"""


@pytest.mark.parametrize(("path", "count"), [(FINDS, 3), (FIND, 1)])
def test_no_photo_of_a_find_is_fetched_larger_than_it_is_shown(slow: Any, host: Host, path: str, count: int) -> None:
    context = phone(slow)
    page = context.new_page()
    page.goto(host.url(path), wait_until="networkidle")
    assert [count, []] == page.evaluate(TOO_LARGE)
    context.close()
