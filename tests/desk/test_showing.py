from __future__ import annotations

import http.client
import socket
from pathlib import Path

import pytest

from journal.desk.showing import served, watch
from journal.reading.folder import File, Folder
from journal.refusal import Refusal


@pytest.fixture
def site(tmp_path: Path) -> Path:
    for name, text in {"index.html": "Now", "sw.js": "1", "404.html": "Nothing", "manifest.webmanifest": "{}"}.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "a-320.webp").write_bytes(b"RIFF")
    return tmp_path


def ask(address: str, path: str, **headers: str) -> http.client.HTTPResponse:
    connection = http.client.HTTPConnection(address.removeprefix("http://").rstrip("/"), timeout=10)
    connection.request("GET", path, headers=headers)
    response = connection.getresponse()
    response.text = response.read().decode()  # type: ignore[attr-defined]
    connection.close()
    return response


@pytest.mark.parametrize(
    ("expected", "path"),
    [
        ("text/html; charset=utf-8", "/"),
        ("text/javascript; charset=utf-8", "/sw.js"),  # RFC 9239
        ("application/manifest+json", "/manifest.webmanifest"),  # W3C Web Application Manifest, 4
        ("image/webp", "/photos/a-320.webp"),  # RFC 9649
    ],
)
def test_a_file_comes_with_its_media_type(site: Path, expected: str, path: str) -> None:
    with served(site, 0) as address:
        response = ask(address, path)
    assert (response.status, expected) == (200, response.getheader("Content-Type"))


def test_every_answer_is_asked_for_anew(site: Path) -> None:
    with served(site, 0) as address:
        first = ask(address, "/sw.js")
        (site / "sw.js").write_text("2", encoding="utf-8")
        second = ask(address, "/sw.js", **{"If-Modified-Since": first.getheader("Last-Modified") or ""})
    assert first.getheader("Cache-Control") == "no-cache"
    assert (second.status, second.text) == (200, "2")  # type: ignore[attr-defined]


@pytest.mark.parametrize("path", ["/absent", "/photos/", "/../secret", "/%2e%2e/secret", "/absent/\x7f"])
def test_what_is_not_there_is_answered_with_the_sites_own_words(site: Path, path: str) -> None:
    with served(site, 0) as address:
        response = ask(address, path.replace("\x7f", "%7f"))
    assert (response.status, response.text) == (404, "Nothing")  # type: ignore[attr-defined]


@pytest.mark.parametrize(("status", "host"), [(200, "localhost"), (421, "rebound.example"), (421, "127.0.0.1.example")])
def test_only_this_computers_own_name_is_answered(site: Path, status: int, host: str) -> None:
    with served(site, 0) as address:
        port = address.rstrip("/").rpartition(":")[2]
        assert status == ask(address, "/", Host=f"{host}:{port}").status


def test_nobody_else_on_the_network_is_answered(site: Path) -> None:
    with served(site, 0) as address:
        assert address.startswith("http://127.0.0.1:")


def test_a_port_that_is_taken_is_told(site: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        with pytest.raises(Refusal, match=r"cannot be had .*--port"), served(site, other.getsockname()[1]):
            pass


def test_without_a_port_asked_for_any_other_will_do(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        monkeypatch.setattr("journal.desk.showing.USUAL_PORT", other.getsockname()[1])
        with served(site, None) as address:
            assert ask(address, "/").status == 200


class Enough(Exception):
    pass


def looks(*sizes: int) -> list[Folder]:
    return [Folder(Path("j"), entries=(File("a.md", size, 0, 0, 0),)) for size in sizes]


@pytest.mark.parametrize(
    ("rebuilt_at", "sizes"),
    [
        ([], [1, 1, 1]),
        ([2], [1, 2, 2, 2]),  # once, when it has stayed the same
        ([4], [1, 2, 3, 4, 4]),  # not while it still changes
        ([2, 4], [1, 2, 2, 1, 1]),  # and again when it is as before
        ([], [1, 2, 1]),
    ],
)
def test_a_change_is_built_once_it_has_settled(rebuilt_at: list[int], sizes: list[int]) -> None:
    seen = iter(looks(*sizes))
    count = [-1]
    rebuilt = []

    def look(_: Path) -> Folder:
        count[0] += 1
        try:
            return next(seen)
        except StopIteration:
            raise Enough from None

    with pytest.raises(Enough):
        watch(Path("j"), looks(1)[0], lambda: rebuilt.append(count[0]), lambda seconds: None, look)
    assert rebuilt_at == rebuilt
