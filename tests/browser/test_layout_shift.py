"""Nothing that a page shows moves by itself while it is loaded."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.browser.conftest import PHONE, Host

pytestmark = pytest.mark.browser

MOST = 0.02
"""*Source:* Layout Instability API; a score of up to 0.1 counts as good."""

WATCH = """
  globalThis.shifts = [];
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) if (!entry.hadRecentInput) globalThis.shifts.push(entry.value);
  }).observe({ type: "layout-shift", buffered: true });
"""
SETTLED = "!('waiting' in document.documentElement.dataset)"


@pytest.fixture(scope="module")
def watched(browser: Any) -> Iterator[Any]:
    context = browser.new_context(viewport=PHONE)
    context.add_init_script(WATCH)
    yield context.new_page()
    context.close()


@pytest.mark.parametrize(
    "path",
    [
        "index.html", "batches/index.html", "batches/b-033/index.html", "cultures/index.html", "tents/index.html",
        "tents/wash-house/index.html", "calculators/index.html", "device/index.html", "record/index.html",
    ],
)  # fmt: skip
@pytest.mark.parametrize("size", [PHONE, {"width": 1280, "height": 800}], ids=["phone", "desktop"])
def test_nothing_moves_while_a_page_is_loaded(watched: Any, host: Host, path: str, size: dict[str, int]) -> None:
    watched.set_viewport_size(size)
    watched.goto(host.url(path))
    for _ in range(60):
        if watched.evaluate(SETTLED):
            break
        watched.wait_for_timeout(50)
    watched.wait_for_timeout(300)  # what comes in after that
    assert watched.evaluate(SETTLED)
    assert sum(watched.evaluate("globalThis.shifts")) <= MOST
