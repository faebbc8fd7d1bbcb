"""A browser, a host on this machine, and toy sites, so that what a phone does can be tried without the real pages."""

from __future__ import annotations

import hashlib
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from http import HTTPStatus
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from io import BytesIO
from pathlib import Path
from shutil import copytree
from typing import Any

import pytest
from PIL import Image

from journal.cache.static_files import joined_text
from journal.site.build import offline
from journal.site.plan import Page
from journal.site.search import SearchRow, search_parts
from tests.browser.recording import HERE, TAP, Profile, opened

playwright_api = pytest.importorskip("playwright.sync_api")

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
STATIC = Path(__file__).parents[2] / "static"
POLICY = (
    "default-src 'none'; img-src 'self' blob: data:; style-src 'self'; script-src 'self'; connect-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; object-src 'none'"
)


# -- the browser ---------------------------------------------------------------------------------------------


def until(page: Any, script: str, argument: Any = None, seconds: float = 30, complaints: Iterable[str] = ()) -> Any:
    """What the script gives in the page once that is true. Asked again and again from here: Playwright's own waiting
    for a function evaluates a text inside the page, which the pages' policy forbids."""
    end = time.monotonic() + seconds
    while not (value := _given(page, script, argument)):
        if time.monotonic() > end:
            raise AssertionError(f"not within {seconds} s: {script}; complaints: {list(complaints)}")
        time.sleep(0.05)
    return value


def _given(page: Any, script: str, argument: Any) -> Any:
    try:
        return page.evaluate(script, argument)
    except playwright_api.Error as error:
        if "navigation" in str(error) or "destroyed" in str(error):
            return None  # the page was being loaded anew
        raise


@pytest.fixture(scope="session")
def playwright(need_chromium: Path) -> Iterator[Any]:
    with playwright_api.sync_playwright() as started:
        yield started


@pytest.fixture(scope="session")
def browser(playwright: Any, need_chromium: Path) -> Iterator[Any]:
    started = playwright.chromium.launch(executable_path=str(need_chromium), args=FLAGS)
    yield started
    started.close()


@dataclass
class Visit:
    """A browser profile of its own with one page, and everything it asked for, said and complained about."""

    context: Any
    page: Any
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    is_altered: bool = False

    @classmethod
    def of(cls, context: Any) -> Visit:
        visit = cls(context, context.pages[0] if context.pages else context.new_page())
        context.on("request", lambda request: visit.requests.append(request.url))
        context.on("console", visit._hear)
        context.on("weberror", lambda error: visit.complaints.append(str(error.error)))
        return visit

    @classmethod
    def in_tab(cls, context: Any) -> Visit:
        """A new tab of a profile that others use too; it hears of nothing but its own pages."""
        visit = cls(context, context.new_page())
        visit.page.on("request", lambda request: visit.requests.append(request.url))
        visit.page.on("console", visit._hear)
        visit.page.on("pageerror", lambda error: visit.complaints.append(str(error)))
        visit.page.on("dialog", lambda dialog: visit.complaints.append(dialog.message))
        return visit

    def _hear(self, message: Any) -> None:
        if message.type in ("error", "warning") and "blocked by Playwright" not in message.text:
            self.complaints.append(message.text)

    def before_pages(self, script: str) -> None:
        """Runs the script in each page before its own. It cannot be taken back, so no later test gets this tab."""
        self.page.add_init_script(script)
        self.is_altered = True

    def afresh(self, url: str) -> Visit:
        """Opens the page as in a new tab: the state of the history is gone, and what was heard of earlier pages."""
        self.page.goto("about:blank")
        self.requests.clear()
        self.complaints.clear()
        self.page.goto(url)
        return self

    def text(self, url: str) -> str:
        self.page.goto(url)
        return str(self.page.evaluate("document.body.innerText"))

    def until(self, script: str, argument: Any = None, seconds: float = 30) -> Any:
        return until(self.page, script, argument, seconds, self.complaints)

    def state(self, name: str) -> Any:
        return self.page.evaluate(READ_STATE, name)

    def until_saved(self) -> None:
        """Waits until everything this phone has chosen of the newest build it knows of is here."""
        self.until(IS_WHOLE)

    def pool(self) -> set[str]:
        return set(self.page.evaluate(POOL_DIGESTS))


READ_STATE = """async (name) => {
  for (const cache of await caches.keys()) {
    if (!cache.startsWith("journal state")) continue;
    for (const request of await (await caches.open(cache)).keys()) {
      if (request.url.endsWith(`state/${name}`)) return (await (await caches.open(cache)).match(request)).json();
    }
  }
  return null;
}"""
IS_WHOLE = f"""async () => {{
  const read = {READ_STATE};
  const builds = await read("builds");
  const whole = JSON.parse((await read("whole")) ?? "[]");
  const isNow = whole.at(-1) === (await read("drops"));
  return Boolean(builds?.current) && whole[0] === (builds.next ?? builds.current) && isNow;
}}"""
POOL_DIGESTS = """async () => {
  const digests = [];
  for (const name of await caches.keys()) {
    if (!name.startsWith("journal pool")) continue;
    for (const request of await (await caches.open(name)).keys()) digests.push(request.url.split("/").pop());
  }
  return digests;
}"""


PHONE = {"width": 390, "height": 800}


@pytest.fixture
def visit(browser: Any) -> Iterator[Visit]:
    context = browser.new_context(viewport=PHONE)
    yield Visit.of(context)
    context.close()


@pytest.fixture(scope="module")
def tab(browser: Any) -> Iterator[Visit]:
    """A visit for all those tests of a module that leave nothing in the browser's storage: they open pages `afresh`."""
    context = browser.new_context(viewport=PHONE)
    yield Visit.of(context)
    context.close()


@pytest.fixture
def phone(playwright: Any, need_chromium: Path, tmp_path: Path) -> Iterator[Callable[[], Visit]]:
    """Opens one lasting profile; called again, it closes the browser first, as after a restart."""
    open_now: list[Any] = []

    def start() -> Visit:
        while open_now:
            open_now.pop().close()
        context = playwright.chromium.launch_persistent_context(
            str(tmp_path / "profile"), executable_path=str(need_chromium), args=FLAGS
        )
        open_now.append(context)
        return Visit.of(context)

    yield start
    for context in open_now:
        context.close()


class Look:
    """One tab, in which the pages of a folder are looked at by width, theme and medium.

    A page that is in it already is not loaded again, only laid out again: a test that presses or changes anything
    asks for the page `afresh`, and the next test gets it loaded anew. media: "print", or "null" for what the browser
    would choose by itself.
    """

    def __init__(self, folder: Path, context: Any, scripts: bool) -> None:
        self.folder = folder
        self.page = context.new_page()
        self._scripts = scripts
        self._stands = ""

    def __call__(
        self, path: str, width: int = 390, theme: str = "light", media: str = "null", afresh: bool = False
    ) -> Any:
        self.page.set_viewport_size({"width": width, "height": 844})
        self.page.emulate_media(media=media, color_scheme=theme)
        address = (self.folder / path).as_uri()
        if afresh or address != self._stands or address != self.page.url:
            self.page.goto(address)
        self._stands = "" if afresh else address
        if self._scripts:
            self.until_themed(theme)
        return self.page

    def until_themed(self, theme: str) -> None:
        """Waits until the page has followed the device to its light or dark theme."""
        for _ in range(200):
            if (found := self.page.get_attribute("html", "data-theme")) == theme:
                return
            self.page.wait_for_timeout(10)
        raise AssertionError(f"the page is {found}, not {theme}")


@pytest.fixture(scope="module")
def looking(browser: Any) -> Iterator[Callable[..., Look]]:
    """Opens a tab for the pages of a folder; scripts: whether theirs run; checked: whether axe-core is put into them,
    which their policy would rightly stop."""
    contexts: list[Any] = []

    def opened(folder: Path, scripts: bool = True, checked: bool = False) -> Look:
        contexts.append(browser.new_context(java_script_enabled=scripts, bypass_csp=checked))
        return Look(folder, contexts[-1], scripts)

    yield opened
    for context in contexts:
        context.close()


WIDTHS = "[document.documentElement.clientWidth, document.documentElement.scrollWidth]"
"""Of the screen and of the page."""


CONTRAST = """axe.configure({ checks: [{ id: "color-contrast-enhanced", options: {
  ignoreUnicode: true, ignoreLength: false, ignorePseudo: false, boldValue: 700, boldTextPt: 14, largeTextPt: 18,
  contrastRatio: { normal: { expected: 7, minThreshold: 0 }, large: { expected: 4.5, minThreshold: 0 } },
  pseudoSizeThreshold: 0.25, shadowOutlineEmMax: 0.1, textStrokeEmMin: 0.03,
} }] })"""
"""WCAG 2.2, 1.4.6 Contrast (Enhanced), by itself: axe-core leaves text that has not even the minimum of 1.4.3 to
another rule, which would look at all of the text once more."""


@pytest.fixture(scope="session")
def axe_script() -> str:
    """axe-core, an accessibility checker (WCAG 2.2); rules that it leaves off by itself are put on by its users."""
    package = pytest.importorskip("axe_playwright_python")
    script = (Path(package.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    return f"{script};\n{CONTRAST}"


# -- the host ------------------------------------------------------------------------------------------------


class _Handler(SimpleHTTPRequestHandler):
    host: Host

    def __init__(self, *args: Any, host: Host, **kwargs: Any) -> None:
        self.host = host
        super().__init__(*args, directory=str(host.folder), **kwargs)

    def do_GET(self) -> None:
        path = self.path.split("?")[0].removeprefix(self.host.prefix)
        self.host.log.append(path)
        if path not in self.host.coarse:
            del self.headers["If-Modified-Since"]  # builds follow each other within a second here
        if self.host.wait_s:
            time.sleep(self.host.wait_s)
        if path in self.host.broken:
            self.send_error(HTTPStatus.SERVICE_UNAVAILABLE)
        elif path in self.host.sent_on:
            self.send_response(HTTPStatus.PERMANENT_REDIRECT)
            self.send_header("Location", self.host.url(self.host.sent_on[path]))
            self.send_header("Content-Length", "0")
            self.end_headers()
        else:
            super().do_GET()

    def end_headers(self) -> None:
        if self.path.removeprefix(self.host.prefix).startswith(self.host.lasting):
            self.send_header("Cache-Control", "max-age=600")
        super().end_headers()

    def do_OPTIONS(self) -> None:
        self.host.log.append(self.path)  # what a browser asks another host before it follows a request there
        self.send_error(HTTPStatus.METHOD_NOT_ALLOWED)

    def translate_path(self, path: str) -> str:
        return super().translate_path("/" + path.removeprefix(self.host.prefix))

    def log_message(self, format: str, *args: Any) -> None:
        pass


@dataclass
class Host:
    """A static host on loopback. folder may be changed while it runs; it can be stopped and started on its port.

    log: paths asked for. broken: paths status 503 for. sent_on: path -> path it redirects to. coarse: paths of
    which it knows the age by the second only. lasting: what paths begin with that a browser need not ask for twice.
    """

    folder: Path
    prefix: str = "/"
    wait_s: float = 0.0
    log: list[str] = field(default_factory=list)
    broken: set[str] = field(default_factory=set)
    sent_on: dict[str, str] = field(default_factory=dict)
    coarse: set[str] = field(default_factory=set)
    lasting: tuple[str, ...] = ()
    port: int = 0
    _server: ThreadingHTTPServer | None = None

    def start(self) -> None:
        self._server = ThreadingHTTPServer(("127.0.0.1", self.port), partial(_Handler, host=self))
        self._server.daemon_threads = True
        self.port = self._server.server_port
        threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True).start()

    def stop(self) -> None:
        if self._server:
            self._server.shutdown()
            self._server.server_close()
            self._server = None

    @property
    def is_up(self) -> bool:
        return self._server is not None

    def url(self, path: str = "index.html") -> str:
        return path if "://" in path else f"http://127.0.0.1:{self.port}{self.prefix}{path}"


@pytest.fixture
def serve() -> Iterator[Callable[..., Host]]:
    with serving() as start:
        yield start


@contextmanager
def serving() -> Iterator[Callable[..., Host]]:
    """Gives what starts a host for a folder; they stop in the end."""
    hosts: list[Host] = []

    def start(folder: Path, **options: Any) -> Host:
        host = Host(folder, **options)
        host.start()
        hosts.append(host)
        return host

    yield start
    for host in hosts:
        host.stop()


@contextmanager
def saved(browser: Any, folder: Path) -> Iterator[tuple[Any, Host]]:
    """A browser's context that has saved a site for offline use, and the site's host."""
    context = browser.new_context(viewport=PHONE)
    with serving() as start:
        host = start(folder)
        visit = Visit.of(context)
        visit.page.goto(host.url())
        visit.until_saved()
        assert [] == visit.complaints
        assert [] == [url for url in visit.requests if not url.startswith((host.url(""), "data:"))]
        visit.page.close()
        yield context, host
    context.close()


@contextmanager
def tab_on(site: tuple[Any, Host]) -> Iterator[tuple[Visit, Host]]:
    """A new tab with a site that is saved, and its host, which a test may stop."""
    context, host = site
    visit = Visit.of(context)
    host.log.clear()
    visit.page.goto(host.url())
    yield visit, host
    visit.page.close()
    if not host.is_up:
        host.start()


@pytest.fixture(scope="session")
def saved_sample(browser: Any, sample_site: Path) -> Iterator[tuple[Any, Host]]:
    with saved(browser, sample_site) as site:
        yield site


@pytest.fixture
def sample_offline(saved_sample: tuple[Any, Host]) -> Iterator[tuple[Visit, Host]]:
    with tab_on(saved_sample) as tab:
        yield tab


# -- recording on the sample ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def host(sample_site: Path) -> Iterator[Host]:
    """The sample's site, for the tests of recording."""
    made = Host(sample_site, lasting=("static/",))
    made.start()
    yield made
    made.stop()


@pytest.fixture(scope="session")
def picture() -> Path:
    """A photo as a camera makes it."""
    return sorted((Path(__file__).parents[2] / "sample_entries").rglob("*.jpg"))[0]


@pytest.fixture(scope="module")
def profiles(browser: Any, host: Host) -> Iterator[Callable[[str], Profile]]:
    """Gives the profile of a phone that all tests of a module share, by whether workers are to "allow" or "block"."""
    made: dict[str, Profile] = {}

    def profile(workers: str) -> Profile:
        if workers not in made:
            screen = {"width": 360, "height": 740}
            context = browser.new_context(viewport=screen, has_touch=True, is_mobile=True, service_workers=workers)
            context.add_init_script(TAP)
            made[workers] = Profile(context, host.url("static/icons/mark.svg"), screen, Visit.in_tab)
        return made[workers]

    yield profile
    for one in made.values():
        one.context.close()


@pytest.fixture
def thumb(profiles: Callable[[str], Profile], host: Host) -> Iterator[Callable[..., Visit]]:
    """Opens tabs of a phone in the wood, whose storage is empty at first. position: None where it has none; the pages
    may use it unless asks is False. workers: whether it may be saved offline."""
    used: dict[str, Profile] = {}

    def start(path: str, position: Any = HERE, asks: bool = True, workers: str = "block") -> Visit:
        profile = used.setdefault(workers, profiles(workers))
        if asks and not profile.asks:
            profile.context.grant_permissions(["geolocation"])
        if position != profile.position:
            profile.context.set_geolocation(position)
        profile.asks, profile.position = profile.asks or asks, position
        visit: Visit = profile.next_tab()
        visit.page.goto(host.url(path))
        return visit

    yield start
    for profile in used.values():
        profile.clear()


# -- toy sites -----------------------------------------------------------------------------------------------

PAGE = """<!doctype html>
<html lang="en" data-root="{root}"><head><meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<title>{title}</title>
<link rel="icon" href="{root}static/icon.webp"><link rel="stylesheet" href="{root}static/css/site.css">
<script src="{root}static/js/theme.js"></script>
<script src="{root}static/js/today.js" defer></script><script src="{root}static/js/sort.js" defer></script>
<script src="{root}static/js/late.js" defer></script><script src="{root}static/js/shell.js" defer></script>
</head><body>
<header><input type="search" data-search aria-label="Find"></header>
<h1>{title}</h1>
{body}
<aside data-update role="status" hidden><button type="button" data-update-now>Show it</button></aside>
</body></html>
"""


TOY_SCRIPTS = (
    "theme", "today", "sort", "late", "search", "label-code", "shell", "scan", "offline", "packs", "pack-buttons",
    "pool", "refusals", "device", "recorded", "recorded-shown", "record-database", "record-entry", "record-digests",
    "record-store",
)  # fmt: skip
"""What its pages, the page This device among them, and its worker ask for: each of a hundred tests saves them anew."""


@dataclass
class Toy:
    """A little site: what each path holds, as far as a test cares. build() writes it as the program would."""

    folder: Path
    bodies: dict[str, str] = field(default_factory=dict)
    photos: dict[str, bytes] = field(default_factory=dict)
    ids: dict[str, tuple[str, ...]] = field(default_factory=dict)
    rows: list[SearchRow] = field(default_factory=list)
    names: dict[str, tuple[str, ...]] = field(default_factory=dict)
    growing: tuple[str, ...] = ("index.html",)
    css: str = "h1 { color: rgb(1, 1, 1); }"

    def build(self, name: str) -> Path:
        """The tree of a build, ready to be served."""
        tree = self.folder / name
        scripts = ("sw.js", *(f"js/{script}.js" for script in TOY_SCRIPTS))
        self._write(tree, {f"static/{script}": (STATIC / script).read_bytes() for script in scripts})
        self._write(tree, {"static/js/records.js": joined_text(STATIC, "js/records.js").encode()})
        self._write(tree, {"static/css/site.css": self.css.encode(), "static/icon.webp": photo("icon", 48)})
        self._write(tree, {"manifest.webmanifest": b'{"name":"Toy","start_url":"index.html"}'})
        self._write(tree, {path: self._page(path).encode() for path in self.bodies})
        self._write(tree, {path: script.encode() for path, script in search_parts(self.rows, self.names).items()})
        self._write(tree, self.photos)
        pages = [Page("page", (), path, "", {}, "rest", path in self.growing) for path in self.bodies]
        offline.write_offline_copy(tree, pages, digests(tree), used_by=self.ids)
        return tree

    def _page(self, path: str) -> str:
        root = "../" * path.count("/") or "./"
        return PAGE.format(root=root, policy=POLICY, title=path, body=self.bodies[path])

    def _write(self, tree: Path, files: dict[str, bytes]) -> None:
        for path, content in files.items():
            (tree / path).parent.mkdir(parents=True, exist_ok=True)
            (tree / path).write_bytes(content)


RECORDING_PAGE = """<!doctype html>
<html lang="en" data-root="./"><head><meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<title>Recording</title><link rel="icon" href="data:,">
{scripts}
</head><body></body></html>
"""
RECORDING_SCRIPTS = ("record-database", "records", "record-archive")


@pytest.fixture(scope="session")
def recording_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A page of a site that holds nothing but the scripts that records are made with."""
    folder = tmp_path_factory.mktemp("recording")
    copytree(STATIC / "js", folder / "static" / "js")
    (folder / "static/js/records.js").write_text(joined_text(STATIC, "js/records.js"), encoding="utf-8")
    scripts = "".join(f'<script src="static/js/{name}.js" defer></script>' for name in RECORDING_SCRIPTS)
    (folder / "index.html").write_text(RECORDING_PAGE.format(policy=POLICY, scripts=scripts), encoding="utf-8")
    host = Host(folder)
    host.start()
    yield host.url()
    host.stop()


@pytest.fixture(scope="module")
def recording_tab(browser: Any, recording_url: str) -> Iterator[Callable[..., Any]]:
    """Opens tabs that can record: of a new profile, or one more of the profile given."""
    contexts = []

    def start(context: Any = None) -> Any:
        if context is None:
            context = browser.new_context()
            contexts.append(context)
        return opened(context.new_page(), recording_url)

    yield start
    for context in contexts:
        context.close()


@pytest.fixture
def page(recording_tab: Callable[..., Any]) -> Iterator[Any]:
    """A tab of a new profile that can record."""
    started = recording_tab()
    yield started
    started.context.close()


def digests(tree: Path) -> dict[str, tuple[str, int]]:
    paths = [path for path in tree.rglob("*") if path.is_file()]
    return {
        path.relative_to(tree).as_posix(): (hashlib.sha256(path.read_bytes()).hexdigest(), path.stat().st_size)
        for path in paths
    }


@pytest.fixture
def toy(tmp_path: Path) -> Toy:
    return toy_in(tmp_path / "toy")


def toy_in(folder: Path) -> Toy:
    """Two growing pages, some others, small and larger photos, and entries to be found."""
    made = Toy(folder, growing=("index.html", "batches/b-031/index.html"))
    made.bodies = {
        "index.html": '<p class="build">one</p><a href="finds/f26-001/index.html">F26-001</a>',
        "batches/b-031/index.html": '<p class="build">one</p><img src="../../photos/2026-11/ab-320.webp" alt="">',
        "finds/f26-001/index.html": '<p class="build">one</p><a href="../../index.html">Now</a>',
        **{f"diary/2026-{month:02}/index.html": f"<p>month {month}</p>" for month in range(1, 10)},
    }
    names = [f"photos/2026-11/{name}-{width}.webp" for name in ("ab", "cd") for width in (320, 960)]
    made.photos = {name: photo(name, 0) for name in names}
    made.ids = {"photos/2026-11/ab": ("B-031",)}
    made.rows = [
        SearchRow("Third pins", "batches/b-031/index.html", "batch", "B-031", "2026-11-20", "Pleurotus alder"),
        SearchRow("Velvet foot", "finds/f26-001/index.html", "find", "F26-001", "2025-11-22", "Heron Slip Süßgräser"),
    ]
    return made


def photo(name: str, width: int) -> bytes:
    """A small picture whose colours, and so whose bytes, depend on its name and width."""
    red, green, blue = hashlib.sha256(f"{name} {width}".encode()).digest()[:3]
    out = BytesIO()
    Image.new("RGB", (4, 4), (red, green, blue)).save(out, "WEBP", lossless=True)
    return out.getvalue()
