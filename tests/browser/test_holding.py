"""What a phone holds of a site, with the host there, gone, or cut off halfway."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

pytestmark = pytest.mark.browser


def test_after_one_visit_every_page_is_read_with_the_host_gone(visit: Any, serve: Callable[..., Any], toy: Any) -> None:
    host = serve(toy.build("one"))
    visit.page.goto(host.url())
    visit.until_held()
    host.stop()
    for path in toy.bodies:
        assert path in visit.text(host.url(path))
        assert visit.page.evaluate("getComputedStyle(document.querySelector('h1')).color") == "rgb(1, 1, 1)"
    assert visit.complaints == []
