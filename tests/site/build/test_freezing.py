from __future__ import annotations

import hashlib
import multiprocessing
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from journal.forked import WorkFailed
from journal.site.app import create_app
from journal.site.build import freezing
from journal.site.build.freezing import NotFrozen, PagesApart, compare_with_plan, freeze
from journal.site.plan import Page, PagesLater, Row, WhenRendered

PAGES_IN_PARTS = 24
EARLIER = {"index.html": "the digest of an earlier page"}


def pages_of(toys, count: int):
    names = [f"t{n:03}" for n in range(count)]
    return [toys.page("home", "Home", names[:3]), *(toys.page(name, f"Thing {name}") for name in names)]


def test_every_page_is_written_where_the_plan_says(toys, tmp_path: Path) -> None:
    pages = pages_of(toys, 3)
    freeze(toys.app(pages), pages, tmp_path, lambda done: None)
    assert [page.path for page in pages] == sorted(toys.bytes_in(tmp_path))


def test_a_row_tells_digest_and_size_of_the_file(toys, tmp_path: Path) -> None:
    pages = pages_of(toys, 1)
    rows = freeze(toys.app(pages), pages, tmp_path, lambda done: None)
    written = toys.bytes_in(tmp_path)
    assert [(p, hashlib.sha256(written[p]).hexdigest(), len(written[p])) for p in written] == rows


def test_links_lead_from_page_to_page_by_relative_path(toys, tmp_path: Path) -> None:
    pages = [toys.page("home", "Home", ["a"]), toys.page("a", "A", ["b"]), toys.page("b", "B")]
    freeze(toys.app(pages), pages, tmp_path, lambda done: None)
    assert b'href="things/a/index.html"' in (tmp_path / "index.html").read_bytes()
    assert b'href="../b/index.html"' in (tmp_path / "things/a/index.html").read_bytes()


def test_a_page_is_found_under_an_address_with_any_letters(toys, tmp_path: Path) -> None:
    pages = [toys.page("home", "Home"), toys.page("süß жук", "Thing")]
    freeze(toys.app(pages), pages, tmp_path, lambda done: None)
    assert b"Thing" in (tmp_path / "things/süß жук/index.html").read_bytes()


def test_the_app_keeps_its_own_client(toys, tmp_path: Path) -> None:
    pages = [toys.page("home", "Home")]
    app = toys.app(pages)
    freeze(app, pages, tmp_path, lambda done: None)
    assert "Home" in app.test_client().get("/", query_string={"a": "b"}).text


def test_several_processes_write_the_same_bytes_as_one(toys, tmp_path: Path) -> None:
    pages = pages_of(toys, PAGES_IN_PARTS)
    one = freeze(toys.app(pages), pages, tmp_path / "one", lambda done: None, processes=1)
    three = freeze(toys.app(pages), pages, tmp_path / "three", lambda done: None, processes=3)
    assert one == three
    assert toys.bytes_in(tmp_path / "one") == toys.bytes_in(tmp_path / "three")


@pytest.mark.parametrize("processes", [1, 2])
def test_a_finished_page_is_written_as_it_is_and_no_view_is_asked(toys, tmp_path: Path, processes: int) -> None:
    rendered = pages_of(toys, 4)
    finished = [replace(toys.page(name, "fails"), text=f"the page {name}, süß\n") for name in ("u1", "u2", "u3")]
    pages = [finished[0], *rendered, *finished[1:]]
    rows = freeze(toys.app(pages), pages, tmp_path, lambda done: None, processes=processes)
    written = toys.bytes_in(tmp_path)
    assert [(p.path, hashlib.sha256(written[p.path]).hexdigest(), len(written[p.path])) for p in pages] == rows
    assert [page.text.encode() for page in finished] == [written[page.path] for page in finished]
    assert b"Thing t000" in written["things/t000/index.html"]


def test_a_finished_page_has_another_digest_with_another_text(toys) -> None:
    one, other = (replace(toys.page("a", "A"), text=text) for text in ("one", "other"))
    assert 3 == len({page.digest("1") for page in (one, other, toys.page("a", "A"))})


def test_what_is_drawn_is_drawn_once_for_a_template_and_not_for_a_digest(toys) -> None:
    asked: list[str] = []

    def draw(words: str) -> Row:
        asked.append(words)
        return Row(words=words)

    pages = [replace(toys.page("a", "A"), context={"drawing": WhenRendered(draw, words)}) for words in ("one", "other")]
    assert 2 == len({page.digest("1") for page in pages})
    assert pages[0].digest("1") == replace(pages[0], context={"drawing": WhenRendered(draw, "one")}).digest("1")
    assert asked == []
    assert ["one", "one"] == [pages[0].context["drawing"].words for _ in range(2)]
    assert asked == ["one"]


def test_a_template_is_told_why_something_could_not_be_drawn(tmp_path: Path) -> None:
    def draw(words: str) -> Row:
        return Row(words=words.no_such_attribute)  # type: ignore[attr-defined]

    (tmp_path / "a.html").write_text("{{ drawing.words }}")
    app = create_app([], tmp_path)
    with pytest.raises(RuntimeError, match="'str' object has no attribute 'no_such_attribute'"):
        app.jinja_env.get_template("a.html").render(drawing=WhenRendered(draw, "one"))


@pytest.mark.parametrize("processes", [1, 2])
def test_pages_that_are_planned_in_processes_come_with_digests_and_pictures(
    toys, monkeypatch: pytest.MonkeyPatch, processes: int
) -> None:
    monkeypatch.setattr(freezing, "fitting_processes", lambda pieces, least: processes)
    pages = pages_of(toys, 6)
    shown = {page.path: {f"photos/of-{page.path}.webp": ("a", 320)} for page in pages}
    later = [PagesLater("thing", lambda page=page: ((page,), shown[page.path])) for page in pages[1:]]
    with PagesApart("1", toys.app, EARLIER) as apart:
        made, files, found = apart.make([pages[0], *later], lambda: "meanwhile")
    assert [(page.path, page.digest("1")) for page in pages] == [(page.path, page.digest("1")) for page in made]
    assert [path for page in pages[1:] for path in shown[page.path]] == sorted(files)
    assert found == "meanwhile"


@pytest.mark.parametrize("processes", [1, 2])
def test_progress_counts_every_page(toys, tmp_path: Path, processes: int) -> None:
    told: list[int] = []
    pages = pages_of(toys, 9)
    freeze(toys.app(pages), pages, tmp_path, told.append, processes=processes)
    assert list(range(1, 11)) == told


@pytest.mark.parametrize("way", ["apart", "plain"])
def test_other_work_is_done_while_processes_render(toys, tmp_path: Path, way: str, monkeypatch) -> None:
    monkeypatch.setattr(freezing, "fitting_processes", lambda pieces, least: 2)
    pages = pages_of(toys, 6)
    done: list[str] = []

    def meanwhile() -> None:
        end_s = time.monotonic() + 20
        while not any(tmp_path.rglob("*.html")) and time.monotonic() < end_s:
            time.sleep(0.005)
        done.append("work" if time.monotonic() < end_s else "waited in vain")

    with PagesApart("1", toys.app, EARLIER) as apart:
        apart.make(pages, lambda: None)
        render = apart.freeze if way == "apart" else freeze
        render(toys.app(pages), pages, tmp_path, lambda row: done.append("page"), meanwhile=meanwhile)
    assert done == ["work", *["page"] * len(pages)]


def test_templates_of_the_few_pages_that_changed_are_compiled_before_they_are_asked_for(
    toys, tmp_path: Path, monkeypatch
) -> None:
    monkeypatch.setattr(freezing, "fitting_processes", lambda pieces, least: 2)
    pages = pages_of(toys, 6)
    known = {page.path: page.digest("1") for page in pages}
    changed = [*pages[:3], toys.page("t002", "fails"), *pages[4:]]
    tried, render = tmp_path / "tried", freezing._tried

    def told(app, asked) -> Iterator[Any]:
        with tried.open("a") as out:
            out.writelines(f"{page.path}\n" for page in asked)
        return render(app, asked)

    monkeypatch.setattr(freezing, "_tried", told)
    with PagesApart("1", toys.app, known) as apart:
        apart.make(changed, lambda: None)
        with pytest.raises(WorkFailed, match="a view that fails"):
            apart.freeze(toys.app(changed), [changed[3]], tmp_path / "tree", lambda done: None)
    assert tried.read_text() == f"{changed[3].path}\n"
    with PagesApart("1", toys.app, known) as apart:
        apart.make(pages, lambda: None)
        assert apart.freeze(toys.app(pages), pages[:1], tmp_path / "tree", lambda done: None)
    assert tried.read_text() == f"{changed[3].path}\n"


def test_a_page_that_is_tried_has_all_that_it_takes_compiled(tmp_path: Path) -> None:
    (tmp_path / "whole.html").write_text('{% include "part.html" %}')
    (tmp_path / "part.html").write_text("{{ text }}")
    rows = [Page("find", (("name", n),), f"finds/{n}/index.html", "whole.html", {"text": n}, "all") for n in "ab"]
    app = create_app(rows, tmp_path)
    assert list(freezing._tried(app, rows)) == []
    assert {name for _, name in app.jinja_env.cache} == {"whole.html", "part.html"}
    assert list(freezing._tried(app, [replace(rows[0], context={})])) == [], "what fails is not told of yet"


def test_one_process_does_other_work_before_it_renders(toys, tmp_path: Path) -> None:
    pages, done = pages_of(toys, 3), list[str]()
    freeze(toys.app(pages), pages, tmp_path, lambda row: done.append("page"), 1, meanwhile=lambda: done.append("work"))
    assert done == ["work", *["page"] * len(pages)]


@pytest.mark.parametrize("processes", [1, 2])
def test_where_other_work_fails_no_process_writes_on(toys, tmp_path: Path, processes: int, monkeypatch) -> None:
    monkeypatch.setattr(freezing, "fitting_processes", lambda pieces, least: processes)
    pages = pages_of(toys, 6)
    with PagesApart("1", toys.app, EARLIER) as apart:
        apart.make(pages, lambda: None)
        for way in (apart.freeze, freeze):
            with pytest.raises(ZeroDivisionError):
                way(toys.app(pages), pages, tmp_path, lambda done: None, meanwhile=lambda: 1 / 0)
            assert multiprocessing.active_children() == []


def test_a_page_that_is_written_never_reaches_the_file_it_was_linked_to(toys, tmp_path: Path) -> None:
    old = tmp_path / "old.html"
    old.write_bytes(b"the old site's own bytes")
    tree = tmp_path / "tree"
    tree.mkdir()
    (tree / "index.html").hardlink_to(old)
    pages = [toys.page("home", "Home")]
    freeze(toys.app([*pages, toys.page("a", "A")]), pages, tree, lambda done: None)
    assert old.read_bytes() == b"the old site's own bytes"
    assert b"Home" in (tree / "index.html").read_bytes()


@pytest.mark.parametrize("processes", [1, 2])
def test_a_view_that_fails_is_a_failure_that_names_the_page(toys, tmp_path: Path, processes: int) -> None:
    pages = [*pages_of(toys, 4), toys.page("bad", "fails")]
    with pytest.raises(WorkFailed, match=r"things/bad/index\.html could not be rendered .*a view that fails"):
        freeze(toys.app(pages), pages, tmp_path, lambda done: None, processes=processes)


def test_no_process_writes_on_into_a_tree_that_is_given_up(toys, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(freezing, "fitting_processes", lambda pieces, least: 2)
    pages = [*pages_of(toys, 4), toys.page("bad", "fails")]
    with PagesApart("1", toys.app, EARLIER) as apart:
        apart.make(pages, lambda: None)
        with pytest.raises(WorkFailed, match="a view that fails"):
            apart.freeze(toys.app(pages), pages, tmp_path, lambda done: None)
        assert multiprocessing.active_children() == []


def test_a_page_whose_address_leads_elsewhere_is_a_failure(toys, tmp_path: Path) -> None:
    page = toys.page("a", "A")
    astray = type(page)(page.endpoint, page.values, "things/b/index.html", "toy.html", page.context, "all")
    with pytest.raises(NotFrozen, match="planned, and its address leads to"):
        freeze(toys.app([page, astray]), [astray], tmp_path, lambda done: None)


def test_two_pages_at_one_address_are_a_failure(toys, tmp_path: Path) -> None:
    pages = [toys.page("a", "A"), toys.page("a", "A again")]
    with pytest.raises(NotFrozen, match="address of another"):
        freeze(toys.app(pages), pages, tmp_path, lambda done: None)


def test_a_view_that_no_page_uses_is_a_failure(toys) -> None:
    thing = toys.page("a", "A")
    with pytest.raises(NotFrozen, match="no page is planned for home"):
        compare_with_plan(toys.app([thing]), [thing])


def test_a_kind_of_page_may_have_no_page_yet(toys) -> None:
    home = toys.page("home", "Home")
    compare_with_plan(toys.app([home]), [home])


def test_a_page_without_a_view_is_a_failure(toys) -> None:
    home = toys.page("home", "Home")
    lost = type(home)("lost", (), "lost.html", "toy.html", {}, "all")
    with pytest.raises(NotFrozen, match="no view answers for lost"):
        compare_with_plan(toys.app([home]), [home, toys.page("a", "A"), lost])


def test_the_apps_own_configuration_is_left_as_it_was(toys, tmp_path: Path) -> None:
    pages = pages_of(toys, 1)
    app = toys.app(pages)
    before = dict(app.config)
    freeze(app, pages, tmp_path, lambda done: None)
    assert before == dict(app.config)
