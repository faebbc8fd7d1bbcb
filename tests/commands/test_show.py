from __future__ import annotations

import http.client
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from journal.commands.show import MOST_LISTED, ProblemLister, changes_in, own_hosts, served, watch
from journal.problems import Problem, Refusal
from journal.reading.folder import File, Folder


@pytest.fixture
def site(tmp_path: Path) -> Path:
    return site_in(tmp_path)


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a site that no test changes."""
    with served(site_in(tmp_path_factory.mktemp("shown")), 0) as address:
        yield address


def site_in(folder: Path) -> Path:
    for name, text in {"index.html": "Now", "sw.js": "1", "404.html": "Nothing", "manifest.webmanifest": "{}"}.items():
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "photos").mkdir()
    (folder / "photos" / "a-320.webp").write_bytes(b"RIFF")
    return folder


def ask(address: str, path: str, method: str = "GET", **headers: str) -> http.client.HTTPResponse:
    connection = http.client.HTTPConnection(address.removeprefix("http://").rstrip("/"), timeout=10)
    connection.request(method, path, headers=headers)
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


@pytest.mark.parametrize("name", ["index.html", "sw.js"])
def test_every_answer_is_asked_for_anew(site: Path, name: str) -> None:
    with served(site, 0) as address:
        first = ask(address, f"/{name}")
        (site / name).write_text("2", encoding="utf-8")
        second = ask(address, f"/{name}", **{"If-Modified-Since": first.getheader("Last-Modified") or ""})
    assert first.getheader("Cache-Control") == "no-store"
    assert (second.status, second.text.split()[0]) == (200, "2")  # type: ignore[attr-defined]


def test_the_worker_is_told_that_its_host_has_what_is_newest(site: Path) -> None:
    with served(site, 0) as address:
        told, looked_at = ask(address, "/sw.js"), ask(address, "/sw.js", "HEAD")
    assert told.text == "1\nglobalThis.journalIsShown = true;\n"  # type: ignore[attr-defined]
    assert told.getheader("Content-Length") == looked_at.getheader("Content-Length") == str(len(told.text))  # type: ignore[attr-defined]
    assert told.getheader("Content-Type") == "text/javascript; charset=utf-8"


@pytest.mark.parametrize("path", ["/absent", "/photos/", "/../secret", "/%2e%2e/secret", "/absent/\x7f"])
def test_what_is_not_there_is_answered_with_the_sites_own_words(site: Path, path: str) -> None:
    with served(site, 0) as address:
        response = ask(address, path.replace("\x7f", "%7f"))
    assert (response.status, response.text) == (404, "Nothing")  # type: ignore[attr-defined]


ONE_LINE = "text/plain; charset=utf-8"


def say(address: str, lines: str) -> http.client.HTTPResponse:
    """The answer to a request as it is written here, `{at}` and `{port}` being those of the server."""
    at = address.removeprefix("http://").rstrip("/")
    host, _, port = at.rpartition(":")
    with socket.create_connection((host, int(port)), timeout=10) as connection:
        connection.sendall(lines.format(at=at, port=port).replace("\n", "\r\n").encode() + b"\r\n\r\n")
        response = http.client.HTTPResponse(connection, method=lines.split()[0])
        response.begin()
        response.text = response.read().decode()  # type: ignore[attr-defined]
        return response


@pytest.mark.parametrize("host", ["127.0.0.1:{port}", "localhost:{port}", "LocalHost:{port}"])
def test_its_own_address_is_answered(shown: str, host: str) -> None:
    assert 200 == say(shown, f"GET / HTTP/1.1\nHost: {host}").status


@pytest.mark.parametrize(
    ("status", "lines"),
    [
        *(
            (421, f"GET / HTTP/1.1\nHost: {host}")
            for host in (
                "rebound.example", "rebound.example:{port}", "127.0.0.1.example:{port}", "x.localhost:{port}",
                "localhost.:{port}", "127.0.0.1", "localhost", "127.0.0.1:1", "127.0.0.1:0{port}", "127.0.0.1:{port}0",
                "127.0.0.1:{port}:{port}", "127.0.0.1:", "[::1]:{port}", "0.0.0.0:{port}", "127.1:{port}",
                "a@127.0.0.1:{port}", "127.0.0.1:{port}/", "127.0.0.1:{port}, rebound.example", "", "  ",
            )
        ),
        (400, "GET / HTTP/1.1"),
        (400, "GET / HTTP/1.0"),
        (400, "GET / HTTP/1.1\nHost: {at}\nHost: {at}"),
        (400, "GET / HTTP/1.1\nHost: {at}\nHost: rebound.example"),
        (421, "GET http://rebound.example/ HTTP/1.1\nHost: {at}"),
        (421, "GET http://{at}/ HTTP/1.1\nHost: rebound.example"),
    ],
)  # fmt: skip
def test_the_name_it_is_asked_by_is_matched_whole(shown: str, status: int, lines: str) -> None:
    response = say(shown, lines)
    assert (status, ONE_LINE) == (response.status, response.getheader("Content-Type"))
    assert 1 == response.text.count("\n")  # type: ignore[attr-defined]


def test_at_the_port_of_http_itself_a_browser_names_no_port() -> None:
    """RFC 9110, 4.2.3."""
    assert {"127.0.0.1", "localhost", "127.0.0.1:80", "localhost:80"} == own_hosts(80)
    assert {"127.0.0.1:8460", "localhost:8460"} == own_hosts(8460)


@pytest.mark.parametrize(
    ("status", "says"),
    [
        (200, ""),  # a program that is no browser
        (200, "Sec-Fetch-Site: same-origin"),
        (200, "Sec-Fetch-Site: none"),
        (200, "Sec-Fetch-Site: same-origin\nOrigin: http://{at}"),
        (403, "Sec-Fetch-Site: cross-site"),
        (403, "Sec-Fetch-Site: same-site"),  # another port of this computer
        (403, "Sec-Fetch-Site: cross-site\nSec-Fetch-Mode: navigate\nSec-Fetch-Dest: document\nSec-Fetch-User: ?1"),
        (403, "Sec-Fetch-Site: same-origin\nSec-Fetch-Site: cross-site"),
        (403, "Sec-Fetch-Site: same-origin, cross-site"),
        (403, "Sec-Fetch-Site: "),
        (403, "Sec-Fetch-Site: some-later-word"),
        (403, "Origin: https://other.example"),
        (403, "Origin: null"),
        (403, "Origin: http://localhost:{port}"),
        (403, "Origin: http://127.0.0.1:1"),
        (403, "Origin: http://{at}\nOrigin: https://other.example"),
    ],
)
@pytest.mark.parametrize("path", ["/sw.js", "/", "/photos/a-320.webp", "/photos", "/absent"])
def test_what_a_page_of_another_site_asks_for_is_refused_in_one_line(
    shown: str, status: int, says: str, path: str
) -> None:
    response = say(shown, f"GET {path} HTTP/1.1\nHost: {{at}}\n{says}".rstrip("\n"))
    if status == 403:
        assert (403, ONE_LINE) == (response.status, response.getheader("Content-Type"))
        assert 1 == response.text.count("\n")  # type: ignore[attr-defined]
    else:
        assert {"/photos": 301, "/absent": 404}.get(path, 200) == response.status


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "get", "NEW"])
def test_it_can_only_be_read(site: Path, method: str) -> None:
    before = {path: path.read_bytes() for path in site.rglob("*") if path.is_file()}
    with served(site, 0) as address:
        response = say(address, f"{method} /sw.js HTTP/1.1\nHost: {{at}}\nContent-Length: 0")
        assert (405, "GET, HEAD") == (response.status, response.getheader("Allow"))
        assert [] == [name for name, _ in response.getheaders() if name.lower().startswith("access-control-")]
        looked_at = ask(address, "/sw.js", "HEAD")
    assert (200, "") == (looked_at.status, looked_at.text)  # type: ignore[attr-defined]
    assert before == {path: path.read_bytes() for path in site.rglob("*") if path.is_file()}


def test_what_comes_after_a_refused_request_is_not_a_request(shown: str) -> None:
    """The body of a form that another page sends may look like one."""
    response = say(shown, "POST / HTTP/1.1\nHost: {at}\nContent-Length: 60\n\nGET /sw.js HTTP/1.1\nHost: {at}")
    assert (405, "close") == (response.status, response.getheader("Connection"))


@pytest.mark.parametrize(
    ("status", "lines"),
    [
        (200, "GET /sw.js HTTP/1.1\nHost: {at}"),
        (200, "HEAD /sw.js HTTP/1.1\nHost: {at}"),
        (200, "GET / HTTP/1.0\nHost: {at}"),
        (200, 'GET /sw.js HTTP/1.1\nHost: {at}\nIf-Modified-Since: Fri, 01 Jan 2100 00:00:00 GMT\nIf-None-Match: "1"'),
        (301, "GET /photos HTTP/1.1\nHost: {at}"),
        (404, "GET /absent HTTP/1.1\nHost: {at}"),
        (400, "GET /sw.js HTTP/1.1"),
        (400, "GET /a b HTTP/1.1\nHost: {at}"),
        (421, "GET /sw.js HTTP/1.1\nHost: rebound.example"),
        (403, "GET /sw.js HTTP/1.1\nHost: {at}\nSec-Fetch-Site: cross-site"),
        (405, "POST /sw.js HTTP/1.1\nHost: {at}\nContent-Length: 0"),
    ],
)
def test_every_answer_of_whatever_status_is_for_its_own_pages_alone(shown: str, status: int, lines: str) -> None:
    """Fetch standard (Cross-Origin-Resource-Policy); HTML standard (Cross-Origin-Opener-Policy)."""
    response = say(shown, lines)
    assert status == response.status
    for name, value in {
        "Cross-Origin-Resource-Policy": "same-origin",
        "Cross-Origin-Opener-Policy": "same-origin",
        "Content-Security-Policy": "frame-ancestors 'none'",
        "X-Frame-Options": "DENY",
        "X-Content-Type-Options": "nosniff",
        "Referrer-Policy": "no-referrer",
        "Cache-Control": "no-store",
    }.items():
        assert [value] == response.headers.get_all(name), name


def test_nobody_else_on_the_network_is_answered(site: Path) -> None:
    with served(site, 0) as address:
        assert address.startswith("http://127.0.0.1:")


def test_a_port_that_is_taken_is_reported(site: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        with pytest.raises(Refusal, match=r"cannot be used .*--port"), served(site, other.getsockname()[1]):
            pass


def test_without_a_port_asked_for_any_other_will_do(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        monkeypatch.setattr("journal.commands.show.DEFAULT_PORT", other.getsockname()[1])
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
        watch(Path("j"), looks(1)[0], lambda folder: rebuilt.append(count[0]), lambda seconds: None, look)
    assert rebuilt_at == rebuilt


def test_what_the_system_has_told_of_is_looked_at_once() -> None:
    """And is built from what was seen then."""
    found: list[Folder] = looks(1, 2, 2, 3)
    seen, rebuilt = iter(found), []
    with pytest.raises(StopIteration):
        watch(Path("j"), looks(1)[0], rebuilt.append, lambda seconds: True, lambda _: next(seen))
    assert [found[1], found[3]] == rebuilt


@pytest.mark.parametrize(
    ("is_told", "do"),
    [
        (True, lambda file: file.write_text("changed")),
        (True, lambda file: file.unlink()),
        (True, lambda file: file.rename(file.with_name("b.md"))),
        (True, lambda file: (file.parent / "new").mkdir()),
        (False, lambda file: file.read_text()),
        (False, lambda file: list(file.parent.iterdir())),
    ],
)
def test_a_change_ends_the_wait_and_a_look_does_not(
    tmp_path: Path, is_told: bool, do: Callable[[Path], object]
) -> None:
    file = tmp_path / "run" / "a.md"
    file.parent.mkdir()
    file.write_text("first")
    with changes_in(tmp_path) as wait:
        wait(0.3)  # what was written before may still be told
        do(file)
        assert is_told == wait(10 if is_told else 0.3)


def test_problems_are_listed_with_file_and_line_and_later_only_new_ones() -> None:
    rows = [Problem("a.md", at, "error", f"fault {at}", "mend it") for at in range(1, MOST_LISTED + 3)]
    lister = ProblemLister()
    lines = lister.lines(rows)
    assert "a.md:1: error: fault 1; fix: mend it" == lines[0]
    assert (MOST_LISTED + 1, "and 2 more; `journal check` lists them all") == (len(lines), lines[-1])
    assert [] == lister.lines(rows[1:])
    assert ["a.md:1: error: fault 1; fix: mend it"] == lister.lines(rows)  # it is back
