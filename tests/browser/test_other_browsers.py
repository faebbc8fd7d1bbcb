"""The sample in Firefox, and from a folder in WebKitGTK too, as Debian has them: read, searched, recorded in, saved.

From a host WebKitGTK reads, records and saves it as well, but on a busy machine its storage may stop answering for
longer than a test can wait. Both are driven by the commands of WebDriver (W3C): Firefox through Marionette, its own
socket, and WebKitGTK through WebKitWebDriver, which needs a screen, here Xvfb's.
"""

from __future__ import annotations

import json
import os
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import IS_WHOLE, Host, serving

pytestmark = pytest.mark.browser

STARTS_WITHIN_S = 120


class Browser:
    """A browser with one page. command: gives what the browser answers to a command of WebDriver."""

    def __init__(self, command: Callable[..., Any]) -> None:
        self.command = command

    def go(self, url: str) -> None:
        self.command("Navigate", "url", url=url)

    def run(self, script: str, *arguments: Any) -> Any:
        """What the body of a function gives; a promise's value once it is kept."""
        return self.command("ExecuteScript", "execute/sync", script=script, args=list(arguments))

    def until(self, script: str, *arguments: Any, seconds: float = 60) -> Any:
        end = time.monotonic() + seconds
        while not (value := self.run(script, *arguments)):
            assert time.monotonic() < end, f"not within {seconds} s: {script}"
            time.sleep(0.1)
        return value


def _until(is_ready: Callable[[], bool], process: subprocess.Popen[bytes]) -> None:
    end = time.monotonic() + STARTS_WITHIN_S
    while not is_ready():
        assert process.poll() is None, f"the browser ended with {process.returncode}"
        assert time.monotonic() < end, f"the browser has not started within {STARTS_WITHIN_S} s"
        time.sleep(0.05)


@contextmanager
def _running(command: list[str], **options: Any) -> Iterator[subprocess.Popen[bytes]]:
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    process = subprocess.Popen(command, **{**quiet, **options})
    try:
        yield process
    finally:
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


@contextmanager
def firefox(program: Callable[..., Path], room: Path) -> Iterator[Browser]:
    """Marionette: each message is its length in bytes, a colon, and JSON: [0, number, command, parameters], answered by
    [1, number, error, result]. Nothing is asked of Mozilla's hosts."""
    quiet = (
        "app.normandy.enabled", "browser.safebrowsing.downloads.remote.enabled",
        "extensions.systemAddon.update.enabled", "datareporting.policy.dataSubmissionEnabled",
        "network.captive-portal-service.enabled", "network.connectivity-service.enabled", "services.settings.enabled",
    )  # fmt: skip
    settings = [f'user_pref("{name}", false);' for name in quiet] + ['user_pref("marionette.port", 0);']
    (room / "user.js").write_text("\n".join(settings), encoding="utf-8")
    port = room / "MarionetteActivePort"
    start = [
        str(program("firefox-esr", "firefox")),
        "--headless",
        "--marionette",
        "--no-remote",
        "--profile",
        str(room),
    ]
    with _running(start, env={**os.environ, "HOME": str(room)}) as process:
        _until(lambda: port.exists() and port.read_text(encoding="utf-8").strip() != "", process)
        with (
            socket.create_connection(("127.0.0.1", int(port.read_text(encoding="utf-8")))) as connection,
            connection.makefile("rb") as answers,
        ):
            numbers = iter(range(1, 1 << 30))

            def read() -> Any:
                size = b""
                while (digit := answers.read(1)) != b":":
                    size += digit
                return json.loads(answers.read(int(size)))

            def command(name: str, _: str, **parameters: Any) -> Any:
                sent = json.dumps([0, next(numbers), f"WebDriver:{name}", parameters]).encode()
                connection.sendall(b"%d:%s" % (len(sent), sent))
                *_, error, result = read()
                assert error is None, error
                return result.get("value") if isinstance(result, dict) else result

            assert "gecko" == read()["applicationType"]
            command("NewSession", "", capabilities={})
            yield Browser(command)


@contextmanager
def webkit(program: Callable[..., Path], room: Path) -> Iterator[Browser]:
    with ExitStack() as stack:
        shown, told = os.pipe()
        screen = [str(program("Xvfb")), "-displayfd", str(told), "-screen", "0", "800x1200x24", "-nolisten", "tcp"]
        stack.enter_context(_running(screen, pass_fds=[told]))
        os.close(told)
        with os.fdopen(shown) as number:
            display = f":{number.readline().strip()}"
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        own = {"DISPLAY": display, "HOME": str(room), "XDG_RUNTIME_DIR": str(room), "NO_AT_BRIDGE": "1"}
        driver = stack.enter_context(
            _running([str(program("WebKitWebDriver")), f"--port={port}"], env={**os.environ, **own})
        )

        def send(path: str, method: str = "POST", **parameters: Any) -> Any:
            data = json.dumps(parameters).encode() if method == "POST" else None
            asked = urllib.request.Request(f"http://127.0.0.1:{port}/{path}", data, method=method)
            try:
                with urllib.request.urlopen(asked, timeout=STARTS_WITHIN_S) as answer:
                    return json.load(answer)["value"]
            except urllib.error.HTTPError as error:
                raise AssertionError(error.read().decode()) from None

        def is_ready() -> bool:
            try:
                return bool(send("status", "GET")["ready"])
            except urllib.error.URLError:
                return False

        _until(is_ready, driver)
        wanted = {"alwaysMatch": {"webkitgtk:browserOptions": {"args": ["--automation"]}}}
        session = f"session/{send('session', capabilities=wanted)['sessionId']}"
        try:
            yield Browser(lambda _, path, **parameters: send(f"{session}/{path}", **parameters))
        finally:
            send(session, "DELETE")


@pytest.fixture(scope="module")
def other(need_program: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with firefox(need_program, tmp_path_factory.mktemp("profile")) as browser:
        yield browser


@pytest.fixture(scope="module")
def own_host(sample_site: Path) -> Iterator[Host]:
    with serving() as start:
        yield start(sample_site)


READ = """
  const isShown = (one, { top, height } = one.getBoundingClientRect()) =>
    one.checkVisibility() && height > 0 && top < 500;
  const shown = [...document.images].filter((one) => isShown(one));
  for (let tries = 0; tries < 100 && !shown.every((one) => one.complete); tries += 1)
    await new Promise((done) => setTimeout(done, 50));
  return {
    title: document.querySelector("h1").innerText,
    broken: shown.filter((one) => one.naturalWidth === 0).map((one) => one.src),
    photos: shown.length,
    paper: getComputedStyle(document.documentElement).backgroundColor,
    isWide: document.documentElement.scrollWidth > document.documentElement.clientWidth,
    stage: document.querySelector(".batch-timeline svg, .batch-timeline") !== null,
  };"""
SEARCH = """
  const field = document.querySelector("[data-search]");
  field.focus();
  field.value = arguments[0];
  field.dispatchEvent(new Event("input"));
  const hits = [...document.querySelectorAll(".search-hit")];
  return hits.map((hit) => hit.querySelector(".search-id")?.innerText ?? "");"""


def _is_read_and_searched(browser: Browser, address: Callable[[str], str]) -> None:
    browser.go(address("batches/b-031/index.html"))
    page = browser.run(f"return (async () => {{ {READ} }})()")
    assert [] == page["broken"]
    assert 0 < page["photos"]
    assert (True, False) == (page["stage"], page["isWide"])
    assert page["paper"] not in ("rgba(0, 0, 0, 0)", "rgb(255, 255, 255)")
    browser.go(address("index.html"))
    for typed, first in (("b31", "B-031"), ("oyster", None)):
        browser.until(f"return (() => {{ {SEARCH} }})().length > 0", typed)
        hits = browser.run(SEARCH, typed)
        assert first is None or first == hits[0]


def test_it_is_saved_offline_where_the_browser_can_and_else_says_why_not(other: Browser, own_host: Host) -> None:
    other.go(own_host.url("device/index.html"))
    if not other.run("return isSecureContext && 'serviceWorker' in navigator && 'locks' in navigator"):
        assert other.until("return document.querySelector('[data-device-why]').textContent").startswith("This ")
        return
    other.until(f"return ({IS_WHOLE})()", seconds=120)
    own_host.stop()
    try:
        _is_read_and_searched(other, own_host.url)
    finally:
        own_host.start()


def test_it_is_read_and_searched_from_a_host(other: Browser, own_host: Host) -> None:
    _is_read_and_searched(other, own_host.url)


def test_what_is_recorded_is_in_the_outbox(other: Browser, own_host: Host) -> None:
    other.go(own_host.url("record/index.html?about=B-031"))
    other.until("return [...document.forms].some((form) => form.checkVisibility?.() && form.elements.harvest)")
    other.run("""
      const form = [...document.forms].find((one) => one.checkVisibility() && one.elements.harvest);
      form.elements.harvest.value = "412";
      form.elements.harvest.dispatchEvent(new Event("input", { bubbles: true }));
      const buttons = [...document.querySelectorAll("button")].filter((one) => one.checkVisibility());
      buttons.find((one) => one.innerText === "Save").click();""")
    other.until("return [...document.querySelectorAll('[data-saved-panel]')].some((one) => one.checkVisibility())")
    other.go(own_host.url("record/outbox/index.html"))
    other.until("return document.querySelector('[data-outbox]').innerText.includes('B-031')")


@pytest.mark.parametrize("started", [firefox, webkit], ids=["Firefox", "WebKitGTK"])
def test_it_is_read_and_searched_from_a_folder(
    started: Callable[..., Any], need_program: Callable[..., Path], tmp_path: Path, sample_site: Path
) -> None:
    with started(need_program, tmp_path) as browser:
        _is_read_and_searched(browser, lambda path: (sample_site / path).as_uri())
        browser.go((sample_site / "device/index.html").as_uri())
        assert "opened from a folder" in browser.run("return document.querySelector('[data-device-why]').textContent")
