"""Lists, bundles and worker of a built tree, without a browser."""

from __future__ import annotations

import gzip
import hashlib
import random
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.site.build import offline
from journal.site.plan import Page
from tests.builders import examples
from tests.site.build.held_lists import held_paths, list_of, root_of, wrong_in

SHELL = {
    **{f"static/js/{name}.js": b"// shared\n" for name in offline.WORKER_SCRIPTS},
    "static/sw.js": b"// worker\n",
    "static/css/site.css": b"p {}",
}
Files = dict[str, tuple[str, int]]


def page(path: str, section: str = "rest", growing: bool = False) -> Page:
    return Page("page", (), path, "page.html", {}, section, growing)


def write(tree: Path, bodies: Mapping[str, bytes]) -> Files:
    """Write a tree, and give the digests that `write_offline_copy` takes."""
    for path, body in bodies.items():
        (tree / path).parent.mkdir(parents=True, exist_ok=True)
        (tree / path).write_bytes(body)
    return {path: (hashlib.sha256(body).hexdigest(), len(body)) for path, body in bodies.items()}


@pytest.fixture
def site() -> dict[str, bytes]:
    return SHELL | {
        "index.html": b"now",
        "finds/f26-001/index.html": b"find",
        "finds/f25-001/index.html": b"older find",
        "photos/2026-11/ab-320.webp": b"small",
        "photos/2026-11/ab-960.webp": b"larger",
        "photos/2026-11/ab-1600.webp": b"largest",
        "photos/2026-10/c-d-200.webp": b"tiny original",
        "search/parts.js": b"parts",
        "search/2025.js": b"old words",
        "search/2026.js": b"new words",
        "near-me/spots.js": b"places",
        "manifest.webmanifest": b"{}",
        "robots.txt": b"quiet",
        "404.html": b"not here",
        ".journal-site": b"",
    }


PAGES = [page("index.html", "main", True), page("finds/f26-001/index.html", "finds-2026")]
PAGES += [page("finds/f25-001/index.html", "finds-2025")]


def test_every_file_is_in_one_pack_or_on_the_written_list_of_what_is_not(tmp_path: Path, site: Any) -> None:
    offline.write_offline_copy(tmp_path, PAGES, write(tmp_path, site))
    held = [path for paths in held_paths(tmp_path).values() for path in paths]
    assert len(held) == len(set(held))
    in_tree = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file()}
    left_out = {path for path in in_tree if offline.is_left_out(path)}
    assert in_tree - left_out == set(held)
    never = {"sw.js", "static/sw.js", "static/js/refusals.js", "404.html", ".journal-site"}
    assert never == {path for path in left_out if "offline/" not in path}


FOLDERS = (
    "finds", "batches", "cultures", "tents", "diary", "search", "lists/finds", "labels", "photos", "static/js", "",
)  # fmt: skip
SECTIONS = ("main", "rest", "finds-2026", "2026-10", "2026-11", "diary-2025", "other")

trees = st.dictionaries(
    st.builds(
        lambda folder, name, end: f"{folder}/{name}{end}".lstrip("/"),
        st.sampled_from(FOLDERS),
        st.integers(0, 60).map(lambda number: f"{number % 7 + 2020}-{number}"),
        st.sampled_from(
            ["/index.html", ".js", ".json", "-320.webp", "-960.webp", "-1600.webp", "/ab-320.webp", ".png"]
        ),
    ),
    st.binary(max_size=40),
    max_size=60,
)
"""Any files of a site, by their paths."""


def with_a_long_part(files: dict[str, bytes]) -> dict[str, bytes]:
    """The same, with enough small pages of one kind for a bundle."""
    return {f"cultures/c-{number}/index.html": b"%d" % number for number in range(12)} | files


@examples(30)
@given(
    files=trees.map(with_a_long_part),
    more=trees,
    sections=st.lists(st.sampled_from(SECTIONS), min_size=1),
    growing=st.booleans(),
)
def test_the_lists_of_any_tree_and_of_the_next_are_complete(
    tmp_path_factory: pytest.TempPathFactory, files: Any, more: Any, sections: list[str], growing: bool
) -> None:
    earlier: Path | None = None
    for bodies in (files, {**files, **more}):
        tree = tmp_path_factory.mktemp("tree")
        pages = [path for path in sorted(bodies) if path.endswith("/index.html")]
        plan = [page(path, sections[at % len(sections)], growing) for at, path in enumerate(pages)]
        held = offline.write_offline_copy(tree, plan, write(tree, SHELL | bodies), earlier=earlier)
        assert [] == wrong_in(tree)
        assert sum(count for count, _ in held.packs.values()) == sum(map(len, held_paths(tree).values()))
        earlier = tree


def test_all_that_is_written_is_named_and_no_more(tmp_path: Path, site: Any) -> None:
    """Also into a tree with what an earlier site needed."""
    files = write(tmp_path, site)
    (tmp_path / "offline").mkdir()
    (tmp_path / "offline" / "earlier.json").write_text("{}", encoding="utf-8")
    held = offline.write_offline_copy(tmp_path, PAGES, files)
    in_tree = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file()}
    assert in_tree - files.keys() - {".journal-site"} == set(held.paths) - files.keys()
    assert {"sw.js"} <= set(held.paths)


def test_files_are_sorted_into_packs_and_parts(tmp_path: Path, site: Any) -> None:
    offline.write_offline_copy(tmp_path, PAGES, write(tmp_path, site))
    assert [
        ("core", "main", 2),
        ("core", "other", 1),
        ("core", "search-2025", 1),
        ("core", "search-2026", 1),
        ("core", "shell", 1 + len(offline.WORKER_SCRIPTS)),
        ("pages", "finds-2025", 1),
        ("pages", "finds-2026", 1),
        ("pages", "other", 1),
        ("small", "2026-10", 1),
        ("small", "2026-11", 1),
        ("larger", "2026-11", 2),
    ] == [(part["pack"], part["key"], part["files"]) for part in root_of(tmp_path)]


def test_a_list_names_each_file_by_the_head_of_its_sha256(tmp_path: Path, site: Any) -> None:
    offline.write_offline_copy(tmp_path, PAGES, write(tmp_path, site))
    part = next(part for part in root_of(tmp_path) if part["key"] == "finds-2026")
    digest = hashlib.sha256(b"find").hexdigest()[:32]
    assert {"base": "finds/f26-001/", "files": [["index.html", digest, 4]], "bundles": [["", 1]]} == list_of(
        tmp_path, part
    )
    body = (tmp_path / "offline" / f"{part['list']}.json").read_bytes()
    assert part["list"] == hashlib.sha256(body).hexdigest()[:32]


def test_the_photo_that_leads_a_page_of_what_grows_is_saved_sharp_as_far_as_there_is_room(
    tmp_path: Path, site: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    lead = "photos/2026-11/ab-960.webp"
    pages = [*PAGES[:1], replace(PAGES[1], leading=lead, growing=True), replace(PAGES[2], leading=lead)]
    files = write(tmp_path, site)

    def small() -> list[str]:
        rows = offline.parts_of(pages, files, {})["small", "2026-11"]
        return [row.path.rpartition("-")[2] for row in rows]

    assert ["320.webp", "960.webp"] == small()
    monkeypatch.setattr(offline, "LEADING_BYTES", len(b"larger") - 1)
    assert ["320.webp"] == small()
    monkeypatch.undo()
    pages[1] = replace(pages[1], growing=False)
    assert ["320.webp"] == small()


def test_larger_photos_name_who_shows_them(tmp_path: Path, site: Any) -> None:
    used_by = {"photos/2026-11/ab": ("F26-001", "B-031")}
    offline.write_offline_copy(tmp_path, PAGES, write(tmp_path, site), used_by=used_by)
    rows = list_of(tmp_path, next(part for part in root_of(tmp_path) if part["pack"] == "larger"))
    assert [["ab-1600.webp", ["b-031", "f26-001"]], ["ab-960.webp", ["b-031", "f26-001"]]] == [
        [name, ids] for name, _, _, ids in rows["files"]
    ]


def test_the_closing_line_counts_all_but_the_larger_photos(tmp_path: Path, site: Any) -> None:
    held = offline.write_offline_copy(tmp_path, PAGES, write(tmp_path, site))
    left_out = (
        "static/sw.js",
        "static/js/refusals.js",
        "404.html",
        ".journal-site",
        "photos/2026-11/ab-960.webp",
        "photos/2026-11/ab-1600.webp",
    )
    kept = [body for path, body in site.items() if path not in left_out]
    rows = [row for pack, row in held.packs.items() if pack != "larger"]
    assert [len(kept), sum(map(len, kept))] == [sum(column) for column in zip(*rows, strict=True)]
    assert (2, len(b"larger") + len(b"largest")) == held.packs["larger"]


# -- the core ------------------------------------------------------------------------------------------------


def test_the_core_is_never_more_than_a_browser_installs_in_one_go(tmp_path: Path) -> None:
    growing = [page(f"batches/b-{at:03}/index.html", f"2026-{at // 50 + 1:02}", True) for at in range(400)]
    files = write(tmp_path, SHELL | {p.path: b"x" for p in growing})
    offline.write_offline_copy(tmp_path, growing, files)
    packs = held_paths(tmp_path)
    assert {"static/js/pool.js", "static/css/site.css"} <= set(packs["core"])
    newest = {p.path for p in growing[150:]}  # whole months, as many as leave room for the shell among 300 files
    assert newest == {path for path in packs["core"] if path.startswith("batches")}
    assert 400 == len([path for paths in packs.values() for path in paths if path.startswith("batches")])


def test_a_page_that_grows_moves_no_other_out_of_the_core() -> None:
    growing = [page(f"batches/b-{at:03}/index.html", f"2026-{at // 50 + 1:02}", True) for at in range(400)]
    sizes = {one.path: 25_000 + at for at, one in enumerate(growing)}

    def core(sizes: Mapping[str, int]) -> list[str]:
        parts = offline.parts_of(growing, {path: ("a" * 64, size) for path, size in sizes.items()}, {})
        return [row.path for (pack, _), rows in parts.items() if pack == "core" for row in rows]

    assert 150 == len(core(sizes))
    assert core(sizes) == core({**sizes, "batches/b-399/index.html": 40_000})


def test_what_is_too_large_for_the_core_comes_with_the_pages_and_the_newest_words_come_first() -> None:
    files = {
        "static/a.css": ("a" * 64, 10),
        "search/2025.js": ("b" * 64, 3_000_000),
        "search/2026.js": ("c" * 64, 3_000_000),
    }
    parts = offline.parts_of([], files, {})
    assert [("core", "search-2026"), ("core", "shell"), ("pages", "search-2025")] == list(parts)


def test_a_planned_page_that_was_not_written_is_an_error() -> None:
    with pytest.raises(ValueError, match=r"1 planned pages are not in the tree, the first is finds/index\.html"):
        offline.parts_of([page("finds/index.html")], {}, {})


# -- bundles -------------------------------------------------------------------------------------------------


def test_a_bundle_holds_the_files_of_its_rows_one_after_another(tmp_path: Path) -> None:
    pages = [page(f"notes/{number}/index.html") for number in range(20)]
    bodies = {p.path: f"page {p.path}".encode() for p in pages}
    offline.write_offline_copy(tmp_path, pages, write(tmp_path, SHELL | bodies))
    rows = list_of(tmp_path, next(part for part in root_of(tmp_path) if part["pack"] == "pages"))
    ((name, count, size),) = rows["bundles"]
    assert 20 == count
    whole = b"".join(bodies[rows["base"] + path] for path, *_ in rows["files"])
    packed = (tmp_path / "offline" / f"{name}.bundle").read_bytes()
    assert (whole, size) == (gzip.decompress(packed), len(packed))
    assert len(packed) < len(whole)


def test_photos_are_packed_already(tmp_path: Path) -> None:
    photos = {f"photos/2026-11/{name}-320.webp": f"photo {name}".encode() for name in range(20)}
    offline.write_offline_copy(tmp_path, [], write(tmp_path, SHELL | photos))
    rows = list_of(tmp_path, next(part for part in root_of(tmp_path) if part["pack"] == "small"))
    ((name, count),) = rows["bundles"]
    assert (20, b"photo 0") == (count, (tmp_path / "offline" / f"{name}.bundle").read_bytes()[:7])


def test_no_bundle_is_larger_than_eight_megabytes() -> None:
    sizes = [*random.Random(1).choices(range(1, 3_000_000), k=60), 9_000_000]
    rows = [offline.OfflineFile(f"{number}", f"{number:032}", size) for number, size in enumerate(sizes)]
    groups = list(offline.bundle_groups(rows))
    assert rows == [row for group in groups for row in group]
    assert all(sum(row.bytes for row in group) <= 8_000_000 for group in groups if len(group) > 1)
    assert len(groups) <= 2 * sum(sizes) / 8_000_000 + 1


def test_an_unchanged_bundle_is_linked_from_the_earlier_site_and_nothing_is_read_for_it(tmp_path: Path) -> None:
    pages = [page(f"notes/{number}/index.html") for number in range(20)]
    bodies = SHELL | {p.path: b"a note" for p in pages}
    files = write(tmp_path / "one", bodies)
    offline.write_offline_copy(tmp_path / "one", pages, files)
    write(tmp_path / "two", SHELL)  # the pages are not even there to be read
    offline.write_offline_copy(tmp_path / "two", pages, files, earlier=tmp_path / "one")
    (one,), (two,) = ((tmp_path / name / "offline").glob("*.bundle") for name in ("one", "two"))
    assert one.samefile(two)


def test_a_bundle_cut_short_in_the_earlier_site_is_written_anew(tmp_path: Path) -> None:
    pages = [page(f"notes/{number}/index.html") for number in range(20)]
    files = write(tmp_path / "one", SHELL | {p.path: b"a note" for p in pages})
    offline.write_offline_copy(tmp_path / "one", pages, files)
    (one,) = (tmp_path / "one" / "offline").glob("*.bundle")
    one.write_bytes(b"cut")
    files = write(tmp_path / "two", SHELL | {p.path: b"a note" for p in pages})
    offline.write_offline_copy(tmp_path / "two", pages, files, earlier=tmp_path / "one")
    (two,) = (tmp_path / "two" / "offline").glob("*.bundle")
    assert b"a note" * 20 == gzip.decompress(two.read_bytes())
    assert b"cut" == one.read_bytes()


def test_pages_of_a_month_stand_together_where_a_year_has_many() -> None:
    few = [page(f"batches/b-{at}/index.html", f"2025-{at % 12 + 1:02}") for at in range(60)]
    many = [page(f"finds/f-{at}/index.html", f"2026-{at % 12 + 1:02}") for at in range(360)]
    files = {one.path: ("a" * 64, 1) for one in (*few, *many)}
    parts = offline.parts_of([*few, *many], files, {})
    assert [("pages", "2025"), *(("pages", f"2026-{month:02}") for month in range(1, 13))] == list(parts)
    assert all([row.path for row in part] == sorted(row.path for row in part) for part in parts.values())


def test_the_worker_is_a_short_script_that_imports_what_stays_the_same(tmp_path: Path, site: Any) -> None:
    trees = [tmp_path / "one", tmp_path / "two"]
    for tree, change in zip(trees, ({}, {"index.html": b"later"}), strict=True):
        offline.write_offline_copy(tree, PAGES, write(tree, site | change))
    one, two = ((tree / "sw.js").read_text("utf-8").splitlines() for tree in trees)
    assert one[0] != two[0]
    assert one[1] == two[1]
    (name,) = re.findall(r'^importScripts\("(offline/(\w{32})\.js)"\);$', one[1])
    script = (trees[0] / name[0]).read_bytes()
    assert name[1] == hashlib.sha256(script).hexdigest()[:32]
    assert b"// shared\n" * len(offline.WORKER_SCRIPTS) + b"// worker\n" == script


# -- the same, and little that changes -----------------------------------------------------------------------


def snapshot(tree: Path) -> dict[str, bytes]:
    return {path.relative_to(tree).as_posix(): path.read_bytes() for path in tree.rglob("*") if path.is_file()}


def test_the_same_tree_gives_the_same_bytes_whatever_lay_there_before(tmp_path: Path, site: Any) -> None:
    other = dict(reversed(site.items())) | {"index.html": b"something else"}
    offline.write_offline_copy(tmp_path / "one", PAGES, write(tmp_path / "one", site))
    offline.write_offline_copy(tmp_path / "two", PAGES[::-1], write(tmp_path / "two", other))
    files = write(tmp_path / "two", dict(reversed(site.items())))
    offline.write_offline_copy(tmp_path / "two", PAGES[::-1], files, earlier=tmp_path / "one")
    assert snapshot(tmp_path / "one") == snapshot(tmp_path / "two")


def test_any_change_changes_the_worker_and_its_size_never(tmp_path: Path, site: Any) -> None:
    workers = []
    for number, change in enumerate(({}, {"photos/2026-11/ab-1600.webp": b"other"}, {"robots.txt": b"loud"})):
        tree = tmp_path / str(number)
        offline.write_offline_copy(tree, PAGES, write(tree, site | change))
        workers.append((tree / "sw.js").read_bytes())
    assert 3 == len(set(workers))
    assert 1 == len(set(map(len, workers)))


def list_sizes(tree: Path) -> dict[str, int]:
    """The lists a phone fetches unasked: name -> bytes."""
    parts = {f"{part['list']}.json" for part in root_of(tree) if part["pack"] != "larger"}
    above = {path.name for path in (tree / "offline").glob("*.json")} - {f"{p['list']}.json" for p in root_of(tree)}
    return {name: (tree / "offline" / name).stat().st_size for name in {*above, *parts}}


def test_one_new_photo_costs_a_phone_a_few_kilobytes_of_lists(tmp_path: Path) -> None:
    """Two years of 60 photos a month, three sizes each: 4,320 files."""
    months = [f"{year}-{month:02}" for year in (2025, 2026) for month in range(1, 13)]
    names = [(month, hashlib.sha256(f"{month} {n}".encode()).hexdigest()[:12]) for month in months for n in range(60)]
    photos = {f"photos/{month}/{name}-{width}.webp": b"x" for month, name in names for width in (320, 960, 1600)}
    new = {f"photos/2026-11/ffff00001111-{width}.webp": b"y" for width in (320, 960, 1600)}
    sizes = []
    for tree, bodies in ((tmp_path / "one", SHELL | photos), (tmp_path / "two", SHELL | photos | new)):
        offline.write_offline_copy(tree, [], write(tree, bodies))
        sizes.append(list_sizes(tree))
    before, after = sizes
    fetched = {name: size for name, size in after.items() if name not in before}
    assert 3 == len(fetched)  # the root, its year, and the small photos of that month
    assert sum(fetched.values()) < 7_000
