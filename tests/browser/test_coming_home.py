"""From the phone to the journal and back: exported, sent over the upload page, gathered, built again, and seen."""

from __future__ import annotations

import queue
import re
import shutil
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from journal.commands.receive import _page
from journal.importing.receiver import Receiver, ReceiverServer
from tests.browser.conftest import Host, Visit
from tests.browser.recording import HERE, STORE, form_is_open, save
from tests.conftest import SAMPLE, run_journal

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def home(sample_site: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the sample journal that may be written into; its cache knows the sample's photos."""
    folder = tmp_path_factory.mktemp("home")
    shutil.copytree(SAMPLE, folder / "journal")
    shutil.copytree(sample_site.parent / "cache", folder / "cache")
    return folder


@pytest.fixture
def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def phone(browser: Any) -> Iterator[Visit]:
    context = browser.new_context(
        viewport={"width": 390, "height": 800}, geolocation=HERE, permissions=["geolocation"],
        service_workers="block", accept_downloads=True,
    )  # fmt: skip
    yield Visit.of(context)
    context.close()


def record_a_find(visit: Visit, host: Host, picture: Path) -> str:
    visit.page.goto(host.url("record/index.html?kind=find"))
    form_is_open(visit)
    visit.page.locator("form:visible [data-add=camera]").set_input_files(picture)
    visit.until("() => document.querySelector('form:not([hidden]) [data-taken] img')")
    visit.page.locator("form:visible .chip", has_text="Grifola frondosa").first.click()
    save(visit)
    return str(visit.page.evaluate(f"{STORE}.latest().then((rows) => rows.at(-1).id)"))


def export(visit: Visit, host: Host, to: Path) -> Path:
    visit.page.goto(host.url("record/outbox/index.html"))
    visit.until("() => document.querySelector('[data-records] li')")
    with visit.page.expect_download() as download:
        visit.page.get_by_role("button", name="Export", exact=True).click()
    file = to / download.value.suggested_filename
    download.value.save_as(file)
    return file


def test_a_find_of_the_phone_is_gathered_and_is_in_the_rebuilt_site(
    phone: Visit, sample_site: Path, home: Path, tmp_path: Path
) -> None:
    picture = sorted(SAMPLE.rglob("*.jpg"))[0]
    host = Host(sample_site)
    host.start()
    try:
        own_id = record_a_find(phone, host, picture)
        archive = export(phone, host, tmp_path)
        command = [sys.executable, "-m", "journal", "gather", archive, home / "journal", "--cache", home / "cache"]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        (path,) = done.stdout.split()
        assert (home / "journal" / path).with_name("photo-01.jpg").read_bytes() == picture.read_bytes()
        code = re.search(r"[0-9A-Z]{4}-[0-9A-Z]{4}-[0-9A-Z]{4}-[0-9A-Z]", done.stderr)
        assert code is not None

        again = subprocess.run(command, capture_output=True, text=True, check=True)
        assert again.stdout == ""

        run_journal("build", home / "journal", "--to", home / "site", "--cache", home / "cache")
        page = (home / "site" / "finds" / own_id.lower() / "index.html").read_text(encoding="utf-8")
        assert "Grifola frondosa" in page

        host.folder = home / "site"  # the same address, updated: the receipts come with it
        phone.page.goto(host.url("finds/index.html"))
        states = f"{STORE}.states().then((found) => [...found.values()].join())"
        phone.until(f"() => globalThis.journalRecords && {states}.then((found) => found === 'in the journal')")
        phone.page.reload()
        assert phone.page.locator("[data-recorded] li").count() == 0
        assert own_id in phone.page.inner_text("main")
    finally:
        host.stop()


def test_the_upload_page_sends_an_archive_and_shows_its_receipt_code(
    phone: Visit, sample_site: Path, home: Path, tmp_path: Path, free_port: int
) -> None:
    host = Host(sample_site)
    host.start()
    picture = sorted(SAMPLE.rglob("*.jpg"))[1]
    own_id = record_a_find(phone, host, picture)
    archive = export(phone, host, tmp_path)
    receiving = subprocess.Popen(
        [
            sys.executable, "-m", "journal", "receive", home / "journal", "--cache", home / "cache",
            "--address", "127.0.0.1", "--port", str(free_port), "--yes",
        ],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    said: queue.SimpleQueue[str] = queue.SimpleQueue()
    reading = threading.Thread(target=lambda: [said.put(line) for line in receiving.stderr or ()], daemon=True)
    reading.start()
    try:
        address = None
        while address is None:
            address = re.search(r"http://127\.0\.0\.1:\d+/#\S+", said.get(timeout=60))
        visit = Visit.of(phone.context.browser.new_context(viewport={"width": 390, "height": 800}))
        visit.page.goto(address[0])
        visit.page.set_input_files("[data-files]", archive)
        visit.until("() => document.querySelector('[data-sent] code')", seconds=60)
        code = visit.page.inner_text("[data-sent] code")
        assert visit.complaints == []
        visit.context.close()

        phone.page.fill("[data-code]", code)
        phone.page.get_by_role("button", name="Check the code").click()
        phone.until("() => document.querySelector('[data-records]').textContent.includes('in the journal')")
        assert own_id in "".join(path.as_posix() for path in (home / "journal" / "finds").iterdir())
        assert list((home / "journal" / ".received").iterdir()) == []
    finally:
        receiving.terminate()
        receiving.wait(10)
        reading.join(10)
        for pipe in (receiving.stdout, receiving.stderr):
            if pipe:
                pipe.close()
        host.stop()


def test_a_refusal_reaches_the_phone_as_its_reason(
    browser: Any, tmp_path: Path, free_port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive = tmp_path / "journal-2026-11-25-1403-K7Q4-1-of-1.zip"
    with archive.open("wb") as file:
        file.truncate(12_000_000)
    origin = f"http://127.0.0.1:{free_port}"
    receiver = Receiver(tmp_path / "inbox", origin, "t0k3n-of-22-characters", _page())
    full = shutil.disk_usage("/")._replace(free=100_000_000)
    monkeypatch.setattr(shutil, "disk_usage", lambda path: full)
    context = browser.new_context()
    visit = Visit.of(context)
    with ReceiverServer(receiver, ("127.0.0.1", free_port)).running():
        visit.page.goto(f"{origin}/#{receiver.token}")
        visit.page.set_input_files("[data-files]", archive)
        said = "The computer's disk is too full for this file."
        visit.until("(said) => document.querySelector('[data-sent]').textContent.includes(said)", said)
        unasked = """([name, token]) => fetch(`/inbox/${name}`, {
          method: 'PUT', body: new Uint8Array(12e6), headers: { 'Journal-Token': token },
        }).then(async (answer) => [answer.status, await answer.text()])"""
        assert visit.page.evaluate(unasked, [archive.name, receiver.token]) == [507, f"{said}\n"]
        assert visit.page.evaluate(unasked, [archive.name, "an-earlier-one-of-them"])[0] == 403
        assert not (tmp_path / "inbox").exists()
    context.close()


def test_an_address_without_its_token_sends_nothing(browser: Any) -> None:
    templates = Path(__file__).parents[2] / "templates" / "receive"
    host = Host(templates)
    host.start()
    context = browser.new_context()
    visit = Visit.of(context)
    visit.page.goto(host.url("upload.html"))
    visit.until("() => document.querySelector('[data-why]').textContent.includes('has no token')")
    assert visit.page.locator("[data-files]:visible").count() == 0
    context.close()
    host.stop()
