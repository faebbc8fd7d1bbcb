"""A journal as an enemy would write it, in a browser: nothing in it runs, with the pages' policy and without it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from journal.cli import cli
from journal.commands.console import run
from journal.site.pages import FINDS_ROOT
from tests.builders import some
from tests.conftest import run_journal
from tests.hostile import files_of_enemy, labels, lay

pytestmark = pytest.mark.browser

CANARY = "globalThis.canaries = []; globalThis.canary = (what) => canaries.push(String(what));"
FOUND = r"""() => {
  const elements = ["iframe", "object", "embed", "base", "frame", "applet", "math", "animate", "set"];
  const links = ["href", "src", "action", "formaction", "xlink:href", "srcset", "data", "poster", "srcdoc"];
  const runs = /^(javascript|vbscript|data:(?!image\/(webp|jpeg);))|canary\.invalid/;
  const isOurs = (script) => (script.src ? new URL(script.src).origin === location.origin : script.text === OWN);
  const wrong = [...canaries];
  for (const element of document.querySelectorAll("*")) {
    const name = element.localName;
    if (elements.includes(name)) wrong.push(element.outerHTML);
    if (name === "meta" && element.httpEquiv === "refresh") wrong.push(element.outerHTML);
    if (name === "script" && !isOurs(element)) wrong.push(element.outerHTML);
    for (const { name, value } of element.attributes) {
      const scheme = value.replace(/[\s\x00-\x1f]/g, "").toLowerCase();
      if (name.startsWith("on") || (links.includes(name) && runs.test(scheme))) wrong.push(`${name}=${value}`);
    }
  }
  return wrong;
}""".replace("OWN", json.dumps(FINDS_ROOT))
"""What of a page runs, or would if it were touched: elements and attributes that no page of ours has."""
LEADS_ON = re.compile(r'<meta http-equiv="refresh" content="0; url=\.\./\.\./patches/[\w-]+/index\.html">\n')
"""On the page of an old address of a patch."""


def stays(route: Any) -> None:
    """Answers with the page of an old address as it is, but for its one leading on, so that it can be looked at."""
    answer = route.fetch()
    route.fulfill(response=answer, body=LEADS_ON.sub("", answer.text(), count=1))


@pytest.fixture(scope="module")
def made(made_once: Callable[..., Path]) -> Path:
    """A folder with everything that the program makes of that journal as a page: site, share, preview, labels, labels
    for specimens, contact sheet."""

    def fill(room: Path) -> None:
        journal, cache = room / "journal", ("--cache", room / "cache")
        lay(journal, files_of_enemy(heavy=False))
        run_journal("build", journal, "--to", room / "site", *cache)
        run_journal("share", "mentor", journal, "--preview", "--to", room / "look", *cache)
        run_journal("share", "mentor", journal, "--reviewed", "--to", room / "shares", *cache)
        run_journal("labels", "B-1", "F-1", "C-1", "fan-1", "--into", journal, "--to", room / "labels.html", *cache)
        run_journal("export", journal, "--as", "voucher", "--to", room / "voucher.html", "--exact")
        lay(room / "camera", labels(), odd=False)
        sheet = ("--dry-run", "--sheet", room / "sheet.html", "--into", journal)
        assert run(cli, ["attach", "--by-label", *map(str, (room / "camera", *sheet, *cache))]) in (0, 1)

    return made_once("hostile", fill)


@pytest.fixture(scope="module", params=[False, True], ids=["policy removed", "policy in force"])
def reading(
    request: pytest.FixtureRequest, browser: Any, serving_made: Any
) -> Iterator[tuple[Any, Any, list[str], bool]]:
    """A tab, the host, everything that went wrong there, and whether the pages' policy is in force."""
    context = browser.new_context(bypass_csp=not request.param, service_workers="block")
    context.add_init_script(CANARY)
    wrong: list[str] = []
    page = context.new_page()
    page.on("dialog", lambda dialog: (wrong.append(dialog.message), dialog.dismiss()))
    page.on("request", lambda asked: wrong.append(asked.url) if not _is_ours(asked.url, serving_made.port) else None)
    context.on("page", lambda opened: wrong.append(f"a window: {opened.url}"))
    yield page, serving_made, wrong, request.param
    context.close()


def _is_ours(url: str, port: int) -> bool:
    return url.startswith((f"http://127.0.0.1:{port}/", "data:image/webp;", "data:image/jpeg;", "data:,", "blob:"))


@pytest.fixture(scope="module")
def serving_made(made: Path) -> Iterator[Any]:
    from tests.browser.conftest import serving

    with serving() as start:
        yield start(made, lasting=("site/static/", "shares/mentor/pages/static/"))


def test_nothing_runs_on_any_page(made: Path, reading: tuple[Any, Any, list[str], bool]) -> None:
    page, host, wrong, with_policy = reading
    pages = some((path.relative_to(made).as_posix() for path in sorted(made.rglob("*.html"))), 60)
    pages = pages[:: 4 if with_policy else 1]
    written = 0
    page.route("**/patches/*/index.html", stays)
    for path in pages:
        page.goto(host.url(path))
        wrong += [f"{path}: {what}" for what in page.evaluate(FOUND)]
        written += "canary(" in page.evaluate("document.body.textContent")
    assert [] == wrong
    page.unroute("**/patches/*/index.html")
    assert written > len(pages) // 2  # as words they are there


def test_nothing_runs_of_what_scripts_write_into_a_page(reading: tuple[Any, Any, list[str], bool]) -> None:
    page, host, wrong, _ = reading
    for folder, words in (("site/", "F-1"), ("site/", "canary"), ("shares/mentor/pages/", "B-1")):
        page.goto(host.url(f"{folder}index.html"))
        page.fill("[data-search]", words)
        for _ in range(200):  # the index is read once the field is touched
            if found := page.evaluate("[...document.querySelectorAll('.search-hits a')].length"):
                break
            page.wait_for_timeout(20)
        wrong += page.evaluate(FOUND)
        assert found, words
    for kind in ("find", "new%20culture", "new%20batch", "note", "tent"):
        page.goto(host.url(f"site/record/index.html?kind={kind}&id=<script>canary(1)</script>&about=B-1"))
        page.wait_for_timeout(100)
        wrong += page.evaluate(FOUND)
    assert [] == wrong
