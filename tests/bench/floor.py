"""The least that a build costs with the libraries in use, beside Hugo's build of the same entries; no test.

    python tests/bench/floor.py [ENTRIES]

Each step is a process of its own that does nothing of what makes a journal (no checks, links, figures, charts, search,
offline lists, or digests) and has one smallest template: what it takes is the libraries' own. A second table has single
steps of a build by themselves, as they are: its other steps come on top.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from flask import Flask

    from journal.pipeline import ReadJournal
    from journal.site.plan import Page

TEMPLATE = """<!doctype html><html lang="en"><meta charset="utf-8"><title>{{ name }}</title><main><h1>{{ name }}</h1>
{% for text in texts %}<article>{{ text|safe }}</article>{% endfor %}</main></html>"""


def main() -> None:
    if len(sys.argv) > 2:
        step, *folders = sys.argv[1:]
        steps = {"plain": write_plain, "frozen": write_frozen, "touched": write_one, "rendering": render_planned}
        steps |= {"reading": read_and_link, "writing": freeze_planned, "loading": load_all}
        steps[step](*map(Path, folders))
        return
    import builds

    entries = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        last = builds.write_journal(root / "journal", entries)
        touched = builds.write_for_hugo(root / "hugo", sorted((root / "journal").rglob("*.md")))
        hugo: list[str | Path] = ["hugo", "--quiet", "--source", root / "hugo", "--destination", root / "hugo-site"]
        print("| least possible | pages | s | Hugo, s | ratio | CPU s | Hugo, CPU s | ratio |\n| --- |" + " --: |" * 7)
        for words, step in (
            ("from nothing, plain Jinja", "plain"),
            ("from nothing, through Frozen-Flask", "frozen"),
            ("one touched", "touched"),
        ):
            pairs = []
            for attempt in range(3 if step != "touched" else 5):  # turn about; the least disturbed counts
                for file in {last, touched} if step == "touched" else ():
                    file.write_text(f"{file.read_text()}\nOne more line.\n")
                site = root / f"site-{step}-{attempt if step != 'touched' else 0}"
                site.mkdir(exist_ok=True)
                if step != "touched":
                    builds.shutil.rmtree(root / "hugo-site", ignore_errors=True)
                pairs.append(
                    (builds._cost([sys.executable, __file__, step, root / "journal", site]), builds._cost(hugo))
                )
            pages = sum(1 for _ in (root / f"site-{step}-0").rglob("*.html"))
            own, other = (min(costs, key=lambda cost: cost.cpu_s) for costs in zip(*pairs, strict=True))
            print(
                f"| {words} | {pages:,} | {own.seconds:.2f} | {other.seconds:.2f} | {own.seconds / other.seconds:.2f} "
                f"| {own.cpu_s:.2f} | {other.cpu_s:.2f} | {own.cpu_s / other.cpu_s:.2f} |",
                flush=True,
            )
        builds.write_finds(root / "finds", entries)
        builds.write_for_hugo(root / "hugo-finds", sorted((root / "finds").rglob("*.md")))
        print("\n| of a build, alone | pages | s | Hugo, s | ratio |\n| --- |" + " --: |" * 4)
        for words, step, name in (
            ("mixed, from nothing: pages rendered, not written", "rendering", ""),
            ("finds, from nothing: read and linked", "reading", "-finds"),
            ("finds, from nothing: pages rendered and written", "writing", "-finds"),
            ("mixed, one touched: modules and two templates loaded", "loading", ""),
        ):
            journal = root / (name[1:] or "journal")
            hugo = ["hugo", "--quiet", "--source", root / f"hugo{name}", "--destination", root / "hugo-site"]
            pairs = []
            for _ in range(3):
                if step != "loading":
                    shutil.rmtree(root / "hugo-site", ignore_errors=True)
                pairs.append((_told([sys.executable, __file__, step, journal, root / "room"]), builds._cost(hugo)))
            (pages, seconds), other_s = min(own for own, _ in pairs), min(other.seconds for _, other in pairs)
            print(f"| {words} | {pages:,} | {seconds:.2f} | {other_s:.2f} | {seconds / other_s:.2f} |", flush=True)


def _told(command: Sequence[str | Path]) -> tuple[int, float]:
    """What a step prints: its pages, and the seconds that it took of them."""
    pages, seconds = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    return pages, seconds


def render_planned(journal: Path, room: Path) -> None:
    """All pages that a build renders, in two processes, without Flask's requests or files; tells the time from when all
    is planned and the templates are compiled."""
    app, pages = _planned(journal, room)
    begun = time.perf_counter()
    own = _half({page.path: page for page in pages if page.text is None})
    with app.test_request_context():
        for page in own.values():
            app.view_functions[page.endpoint](**dict(page.values))
    _wait()
    print(json.dumps([sum(page.text is None for page in pages), time.perf_counter() - begun]))


def freeze_planned(journal: Path, room: Path) -> None:
    """All pages of a site in two processes, as a build makes them, with the finished ones; tells the time likewise."""
    from journal.site.build.freezing import freeze

    app, pages = _planned(journal, room)
    begun = time.perf_counter()
    shutil.rmtree(room / "site", ignore_errors=True)
    freeze(app, pages, room / "site", lambda _: None, 2)
    print(json.dumps([len(pages), time.perf_counter() - begun]))


def _planned(journal: Path, room: Path) -> tuple[Flask, Sequence[Page]]:
    """The pages of a journal's site and an app for them, its templates compiled."""
    from journal.cache.resources import find_resources
    from journal.site.app import compile_templates, create_app
    from journal.site.pages import plan_site

    read = _read(journal, room)
    site = plan_site(read.journal, read.published)
    app = create_app(site.pages, find_resources() / "templates")
    compile_templates(app)
    return app, site.pages


def _read(journal: Path, room: Path) -> ReadJournal:
    from journal.cache.file_cache import FileCache
    from journal.cache.store import Cache
    from journal.pipeline import _few_collections, read_journal

    shutil.rmtree(room, ignore_errors=True)
    with _few_collections(is_first=True):
        return read_journal(FileCache(Cache(room), journal, time.time_ns()), lambda *_: None)


def read_and_link(journal: Path, room: Path) -> None:
    """All entries with an empty cache, in as many processes as a build takes; tells the time with the modules
    loaded."""
    from journal import pipeline  # noqa: F401

    begun = time.perf_counter()
    _read(journal, room)
    print(json.dumps([0, time.perf_counter() - begun]))


def load_all(_journal: Path, _room: Path) -> None:
    """The modules that a build with one touched entry loads, and the templates of the two pages that change."""
    from journal import pipeline  # noqa: F401
    from journal.cache.resources import find_resources
    from journal.site.app import create_app

    app = create_app((), find_resources() / "templates")
    for name in ("batches/batch.html", "diary/month.html"):
        app.jinja_env.get_template(name)
    print(json.dumps([2, time.clock_gettime(time.CLOCK_MONOTONIC) - _begun_s()]))


def _begun_s() -> float:
    """When this process was started, of the monotonic clock."""
    ticks = int(Path("/proc/self/stat").read_text().rpartition(")")[2].split()[19])
    up_s = time.clock_gettime(time.CLOCK_BOOTTIME) - time.clock_gettime(time.CLOCK_MONOTONIC)
    return ticks / os.sysconf("SC_CLK_TCK") - up_s


def read_texts(files: Sequence[Path]) -> list[str]:
    """The texts of entries as clean HTML, their keys read on the way."""
    import nh3
    import yaml
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark", {"html": False})
    texts = []
    for file in files:
        _, head, text = file.read_text().split("---\n", 2)
        yaml.load(head, Loader=getattr(yaml, "CBaseLoader", yaml.BaseLoader))
        texts.append(nh3.clean(reader.render(text)))
    return texts


def pages_of(journal: Path) -> Mapping[str, Sequence[Path]]:
    """As many pages as a mixed journal has things with an ID: three of each folder, the last with its notes."""
    pages: dict[str, list[Path]] = defaultdict(list)
    for file in sorted(journal.rglob("*.md")):
        pages[f"{file.parent.name}-{min(int(file.stem), 2)}"].append(file)
    return pages


def write_plain(journal: Path, site: Path) -> None:
    import jinja2

    template = jinja2.Environment(autoescape=True).from_string(TEMPLATE)
    for name, files in _half(pages_of(journal)).items():
        (site / name).mkdir()
        (site / name / "index.html").write_text(template.render(name=name, texts=read_texts(files)))
    _wait()


def write_frozen(journal: Path, site: Path) -> None:
    import warnings

    from flask import Flask
    from flask_frozen import Freezer

    app = Flask("floor")
    app.config.update(FREEZER_DESTINATION=os.fspath(site), FREEZER_REMOVE_EXTRA_FILES=False)
    template = app.jinja_env.from_string(TEMPLATE)
    own = _half(pages_of(journal))

    @app.get("/<name>/")
    def page(name: str) -> str:
        return template.render(name=name, texts=read_texts(own[name]))

    freezer = Freezer(app, with_static_files=False, with_no_argument_rules=False, log_url_for=False)
    freezer.register_generator(lambda: (("page", {"name": name}) for name in own))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        freezer.freeze()
    _wait()


_children: list[int] = []


def _half(pages: Mapping[str, Any]) -> Mapping[str, Any]:
    """One half in this process, the other in a second one, forked after the modules are loaded."""
    import markdown_it  # noqa: F401
    import nh3  # noqa: F401
    import yaml  # noqa: F401

    pid = os.fork()
    if pid:
        _children.append(pid)
    return {name: files for at, (name, files) in enumerate(pages.items()) if at % 2 == bool(pid)}


def _wait() -> None:
    if not _children:
        os._exit(0)
    _, status = os.waitpid(_children[0], 0)
    if status:
        raise SystemExit("the other half failed")


def write_one(journal: Path, site: Path) -> None:
    """Looks at every file, and renders the page of the newest one, its template compiled before."""
    import jinja2
    from flask import Flask

    newest, waiting, files = (0, ""), [os.fspath(journal)], 0
    while waiting:
        with os.scandir(waiting.pop()) as inside:
            for row in inside:
                if row.is_dir(follow_symlinks=False):
                    waiting.append(row.path)
                else:
                    newest = max(newest, (row.stat(follow_symlinks=False).st_mtime_ns, row.path))
                    files += 1
    app = Flask("floor", root_path=os.fspath(site))
    (site / "templates").mkdir(exist_ok=True)
    if not (site / "templates" / "page.html").exists():
        (site / "templates" / "page.html").write_text(TEMPLATE)
    (site / "compiled").mkdir(exist_ok=True)
    app.jinja_env.bytecode_cache = jinja2.FileSystemBytecodeCache(os.fspath(site / "compiled"))
    last = Path(newest[1])
    with app.app_context():
        (site / "page.html").write_text(
            app.jinja_env.get_template("page.html").render(name=last.stem, texts=read_texts([last]))
        )


if __name__ == "__main__":
    main()
