from __future__ import annotations

import os
import random
import re
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import fields
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from journal import file_reading, pipeline
from journal.cache import last_build
from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.commands.console import sentence_of
from journal.forked import WorkFailed
from journal.pipeline import Built, build_site, plan_ahead, read_journal
from journal.problems import Problem, Refusal
from journal.reading.entries import read_entry
from journal.reading.folder import File, scan
from journal.settings import Settings
from journal.site.build import freezing, photo_workers
from journal.site.build.photo_workers import photo_work
from journal.site.build.swap import Spare
from journal.site.images import prune_pictures, shown_by
from journal.site.memory import Memory
from journal.site.pages import batches
from tests.builders import Inline, seeded, some
from tests.site.build.held_lists import wrong_in

ENTRIES = {
    "journal.toml": '[journal]\ntitle = "Wash-house & Woods"\ntime_zone = "Europe/London"\n'
    '[tents.wash-house]\nname = "Tent"\n',
    "finds/alder/find.md": "kind: find\nid: F26-001\ndate: 2026-09-12\nspecies: Pleurotus pulmonarius\n",
    "cultures/PP-26A.md": "kind: culture\nid: PP-26A\ndate: 2026-09-12\nfrom: F26-001\n",
    "batches/B-031/batch.md": "kind: batch\nid: B-031\ndate: 2026-10-06\nculture: PP-26A\nunits: 4\ntent: wash-house\n",
    "batches/B-031/2026-11-01.md": "kind: note\nabout: B-031\ndate: 2026-11-01\nharvest: 1290 g\nflush: 1\n"
    "photos: pins.jpg\n",
    "tents/2026-10-22.md": "kind: tent\nabout: wash-house\ndate: 2026-10-22\nhumidity set point: 92 %\n",
}


@pytest.fixture(autouse=True)
def worked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the photos that were decoded."""
    inline = Inline()
    monkeypatch.setattr(photo_workers, "photo_work", partial(photo_work, executor=inline))
    return inline.files


def write_entry(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    body = text if path.suffix == ".toml" else f"---\n{text}---\n\nSome words about B-031.\n"
    path.write_text(body, encoding="utf-8")


@pytest.fixture
def photo(picture_bytes) -> Callable[[int], bytes]:
    """A small picture, another one for each number."""
    from PIL import Image

    return lambda number: picture_bytes("JPEG", image=Image.new("RGB", (40, 30), (number * 37 % 256, number % 256, 90)))


@pytest.fixture
def root(tmp_path: Path, photo) -> Path:
    root = tmp_path / "my-journal"
    for path, text in ENTRIES.items():
        write_entry(root / path, text)
    (root / "finds/alder/IMG_0412.jpg").write_bytes(photo(1))
    (root / "batches/B-031/pins.jpg").write_bytes(photo(2))
    settle(root)
    return root


def settle(root: Path) -> None:
    """Waits until what was written just now is older than a tick of the disk's clock."""
    time.sleep(0.12)


@pytest.fixture
def build(root: Path, tmp_path: Path) -> Callable[..., Built]:
    def run(
        target: str = "site",
        cache: str = "cache",
        kept: Cache | None = None,
        memory: Memory | None = None,
        spare: Spare | None = None,
    ) -> Built:
        files = FileCache(kept or Cache(tmp_path / cache), root, time.time_ns())
        return build_site(files, tmp_path / target, lambda *told: None, memory=memory, spare=spare)

    return run


def _flip(file: Path) -> None:
    whole = bytearray(file.read_bytes())
    whole[len(whole) // 2] ^= 1
    file.write_bytes(whole)


def _change_height(pictures: Path) -> None:
    for note in pictures.glob("*.json"):
        note.write_text(re.sub(r'"height": \d', '"height": 9', note.read_text(encoding="utf-8")), encoding="utf-8")


def _make_folder(file: Path) -> None:
    file.unlink()
    (file / "within").mkdir(parents=True)


def _make_file(folder: Path) -> None:
    shutil.rmtree(folder)
    folder.touch()


DAMAGES: dict[str, Callable[[Path], object]] = {
    "a bit of a picture": lambda pictures: _flip(next(pictures.glob("*.webp"))),
    "a bit of each": lambda pictures: [*map(_flip, some(pictures.glob("*.webp"), 2))],
    "a digit of a note": _change_height,
    "a picture is a folder": lambda pictures: _make_folder(next(pictures.glob("*.webp"))),
    "a note is a folder": lambda pictures: _make_folder(next(pictures.glob("*.json"))),
    "the folder is a file": _make_file,
    "no folder": shutil.rmtree,
}
"""What may happen to the folder of published pictures, by name."""


def bytes_in(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


_opened: list[str] | None = None


def _note_open(event: str, args: tuple[Any, ...]) -> None:
    if event == "open" and _opened is not None and isinstance(args[0], str):
        _opened.append(args[0])


sys.addaudithook(_note_open)


@pytest.fixture
def opened() -> Iterator[Callable[[Path], list[str]]]:
    """Gives the files below a folder that were opened since the test asked for this."""
    global _opened
    _opened = rows = []
    yield lambda folder: [row for row in rows if row.startswith(f"{folder}/")]
    _opened = None


class TestUnchanged:
    def test_no_page_is_rendered_and_no_file_of_the_journal_opened(self, build, root: Path, worked, opened) -> None:
        first = build()
        assert first.rendered > 10
        before = len(opened(root))
        decoded = list(worked)
        again = build()
        assert (again.rendered, again.unchanged) == (0, True)
        assert opened(root)[before:] == []
        assert decoded == worked == ["pins.jpg", "IMG_0412.jpg"]

    def test_the_journal_folder_is_left_as_it_was(self, build, root: Path) -> None:
        before = bytes_in(root)
        build()
        assert before == bytes_in(root)

    def test_the_same_is_reported_of_it(self, build) -> None:
        first, again = build(), build()
        assert first.journal == again.journal
        assert (first.offline_bytes, first.larger_bytes) == (again.offline_bytes, again.larger_bytes)


def test_no_tent_is_missed_where_the_settings_cannot_be_read(build, root: Path) -> None:
    text = (root / "journal.toml").read_text()
    (root / "journal.toml").write_text(text.replace('"Tent"', '"Tent'))
    settle(root)
    missed = [problem for problem in build().problems if "names wash-house, which is not" in problem.message]
    assert ["batches/B-031/batch.md", "tents/2026-10-22.md"] == [problem.path for problem in missed]
    assert {"correct journal.toml first: it cannot be read, and tents are defined there"} == {one.fix for one in missed}
    assert [""] * 2 == [problem.paste for problem in missed]


class TestProcesses:
    """Of many entries and pages several processes read, plan and render each a part (`fitting_processes`)."""

    @pytest.fixture
    def several(self, monkeypatch: pytest.MonkeyPatch) -> Callable[[int], None]:
        def patch(count: int) -> None:
            for module in (file_reading, freezing):
                monkeypatch.setattr(module, "fitting_processes", lambda pieces, least: min(count, max(1, pieces)))

        return patch

    @pytest.mark.parametrize("count", [2, 5])
    def test_they_make_the_site_that_one_makes(self, build, root: Path, tmp_path: Path, several, count: int) -> None:
        write_entry(root / "finds/odd/find.md", "kind: find\nid: F26-002\ndate: 2026-09-31\n")
        settle(root)
        edits = (
            lambda: None,
            lambda: write_entry(root / "batches/B-031/2026-11-05.md", "kind: note\nabout: B-031\ndate: 2026-11-05\n"),
            lambda: (root / "batches/B-031/2026-11-01.md").unlink(),
        )
        for edit in edits:
            edit()
            settle(root)
            several(1)
            one = build("one", "cache-of-one")
            several(count)
            other = build("other", "cache-of-several")
            assert bytes_in(tmp_path / "one") == bytes_in(tmp_path / "other")
            assert (one.rendered, one.journal, one.problems) == (other.rendered, other.journal, other.problems)

    def test_what_they_read_and_render_is_not_done_in_this_one(self, build, root: Path, several, opened) -> None:
        several(2)
        build()
        assert [] == [name for name in opened(root) if name.endswith(".md")]
        assert [] == [name for name in opened(root.parent) if name.endswith("B-031/index.html")]

    def test_a_fault_in_one_of_them_ends_the_build_and_leaves_the_site(
        self, build, root: Path, tmp_path: Path, several, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        build()
        before = bytes_in(tmp_path / "site")
        write_entry(root / "batches/B-031/2026-11-05.md", "kind: note\nabout: B-031\ndate: 2026-11-05\n")
        several(2)
        monkeypatch.setattr(batches, "page", lambda lookup, batch: 1 // 0)
        with pytest.raises(WorkFailed, match="ZeroDivisionError") as failed:
            build()
        assert "It happened at batches/B-031/" in sentence_of(failed.value)
        assert before == bytes_in(tmp_path / "site")
        assert [] == [path.name for path in tmp_path.iterdir() if path.name.startswith(".site")]


class TestRepeated:
    """A build that would change nothing is over before anything is read (`cache/last_build.py`)."""

    @pytest.fixture
    def repeated(self, root: Path, tmp_path: Path) -> Callable[[], last_build.Result | None]:
        return lambda: last_build.repeated(tmp_path / "cache", root, tmp_path / "site")

    def test_it_comes_to_what_the_whole_way_comes_to(self, build, repeated, root: Path, tmp_path: Path) -> None:
        write_entry(root / "finds/odd/find.md", "kind: find\nid: F26-002\ndate: 2026-09-31\n")
        settle(root)
        assert repeated() is None
        build()
        first, again = repeated(), build()
        names = [field.name for field in fields(last_build.Result)]
        assert [getattr(first, name) for name in names] == [getattr(again, name) for name in names]
        assert (first.entries, first.photos, len(first.problems)) == (5, 2, 1)
        assert last_build.found_in(again.journal) == last_build.findings_of(tmp_path / "cache", root)

    def test_nothing_is_believed_of_a_file_saved_a_moment_before(self, build, repeated, root: Path) -> None:
        write_entry(root / "tents/2026-10-22.md", ENTRIES["tents/2026-10-22.md"].replace("92", "90"))
        build()
        assert repeated() is None

    def test_a_file_or_photo_that_might_be_read_another_time_leaves_no_record(
        self, build, repeated, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        work = photo_workers.photo_work
        fault = ("warning", "too slow", "again")
        with monkeypatch.context() as patched:
            patched.setattr(
                photo_workers,
                "photo_work",
                lambda rows, into: ((p, f.without_pixels(fault, passing=True), None) for p, f, _ in work(rows, into)),
            )
            build()
            assert repeated() is None
        build()
        assert repeated()
        with monkeypatch.context() as patched:
            patched.setattr(FileCache, "_bytes_of", _refused)
            patched.setattr(Cache, "digest_of", lambda *asked: None)
            build()
            assert repeated() is None

    def test_a_file_of_the_site_that_was_only_touched_is_trusted_again(
        self, build, repeated, root: Path, tmp_path: Path
    ) -> None:
        build()
        write_entry(root / "tents/2026-10-22.md", ENTRIES["tents/2026-10-22.md"])
        settle(root)
        build()  # takes over pages that are old enough by now to be known by how they look, not by their bytes
        page = tmp_path / "site/index.html"
        page.write_bytes(page.read_bytes())
        settle(page)
        assert repeated() is None
        assert build().unchanged
        assert repeated()


def _refused(*asked: object) -> bytes:
    raise PermissionError(13, "Permission denied")


class TestChanged:
    def test_only_pages_that_show_the_entry_are_rendered(self, build, root: Path, opened) -> None:
        whole = build().rendered
        write_entry(root / "tents/2026-10-22.md", ENTRIES["tents/2026-10-22.md"].replace("92", "90"))
        settle(root)
        before = len(opened(root))
        changed = build()
        assert 0 < changed.rendered < whole
        assert opened(root)[before:] == [str(root / "tents/2026-10-22.md")]

    def test_a_photo_under_a_new_name_is_not_decoded_again(self, build, root: Path, worked) -> None:
        build()
        decoded = list(worked)
        (root / "finds/alder/IMG_0412.jpg").rename(root / "finds/alder/shaded side.jpg")
        assert [photo.path for photo in build().journal.photos] == [
            "batches/B-031/pins.jpg",
            "finds/alder/shaded side.jpg",
        ]
        assert decoded == worked

    def test_a_changed_photo_takes_the_place_of_the_old(self, build, root: Path, photo, tmp_path: Path) -> None:
        build()
        before = {path.name for path in (tmp_path / "site/photos").rglob("*.webp")}
        (root / "finds/alder/IMG_0412.jpg").write_bytes(photo(3))
        build()
        after = {path.name for path in (tmp_path / "site/photos").rglob("*.webp")}
        assert (len(before), len(after), len(before & after)) == (2, 2, 1)
        kept = {path.name for path in (tmp_path / "cache/pictures").glob("*.webp")}
        assert after == kept

    @pytest.mark.parametrize("damage", [*DAMAGES])
    def test_a_cache_of_pictures_that_is_damaged_costs_time_alone(self, build, tmp_path: Path, damage: str) -> None:
        """Where the site is made elsewhere, or its folder was deleted: nothing tells there how its files were."""
        build()
        whole = bytes_in(tmp_path / "site")
        shutil.rmtree(tmp_path / "site")
        DAMAGES[damage](tmp_path / "cache/pictures")
        build()
        assert bytes_in(tmp_path / "site") == whole

    def test_a_photo_that_no_entry_shows_is_read_and_not_published(self, build, root: Path, photo, tmp_path) -> None:
        (root / "batches/B-031/stray.jpg").write_bytes(photo(9))
        built = build()
        assert len(built.journal.photos) == 3
        assert len(list((tmp_path / "cache/pictures").glob("*.webp"))) == 2

    def test_a_damaged_photo_is_reported_once_and_not_tried_again(self, build, root: Path, worked) -> None:
        (root / "finds/alder/broken.jpg").write_bytes(b"no picture")
        settle(root)
        problems = build().journal.problems
        assert [("finds/alder/broken.jpg", "warning")] == [(p.path, p.severity) for p in problems]
        count = len(worked)
        assert build().journal.problems == problems
        assert count == len(worked)

    def test_a_photo_that_only_took_too_long_is_tried_again(self, build, root: Path, monkeypatch) -> None:
        work = photo_workers.photo_work
        fault = ("warning", "too slow", "again")

        def late(rows, into):
            return ((path, fact.without_pixels(fault, passing=True), None) for path, fact, _ in work(rows, into))

        monkeypatch.setattr(photo_workers, "photo_work", late)
        assert {"too slow"} == {problem.message for problem in build().journal.problems}
        monkeypatch.setattr(photo_workers, "photo_work", work)
        assert () == build().journal.problems


class TestStopped:
    def test_photos_that_were_done_are_not_done_again(self, build, worked, monkeypatch: pytest.MonkeyPatch) -> None:
        work = photo_workers.photo_work

        def stopped_after_one(rows, into):
            yield from work(rows[:1], into)
            raise KeyboardInterrupt

        with monkeypatch.context() as patched:
            patched.setattr(photo_workers, "photo_work", stopped_after_one)
            with pytest.raises(KeyboardInterrupt) as stopped:
                build()
        assert ["1 of 2 photos are done; the next run goes on from there."] == stopped.value.__notes__
        assert ["pins.jpg"] == worked
        assert build().photos == 2
        assert ["pins.jpg", "IMG_0412.jpg"] == worked


def test_a_folder_that_was_just_listed_is_not_listed_again(build, root: Path, tmp_path: Path, monkeypatch) -> None:
    files = FileCache(Cache(tmp_path / "cache-1"), root, time.time_ns(), scan(root))
    monkeypatch.setattr(pipeline, "scan", lambda _: 1 / 0)
    build_site(files, tmp_path / "one", lambda *told: None)
    with pytest.raises(ZeroDivisionError):  # another reading of it looks again
        read_journal(files, lambda *told: None)
    monkeypatch.undo()
    build("two", "cache-2")
    assert bytes_in(tmp_path / "one") == bytes_in(tmp_path / "two")


class TestGiven:
    """What one process gave for a file, it gives again without looking for it, as long as the file is the same."""

    @pytest.fixture
    def given(self, root: Path, tmp_path: Path) -> Callable[..., tuple[object, int]]:
        """Reads an entry's file as some kind, from one cache; gives what came of it, and how many bytes were read."""
        cache, draft_of = Cache(tmp_path / "cache"), partial(read_entry, "batch.md", settings=Settings())

        def run(depends_on: str = "") -> tuple[object, int]:
            files, read = FileCache(cache, root, time.time_ns()), []
            (file,) = (file for file in scan(root).entries if file.path.endswith("B-031/batch.md"))
            known = files.is_known(file, "entry", depends_on)
            value = files.read(file, "entry", depends_on, lambda data: read.append(data) or draft_of(data), 1000)
            assert known is not bool(read)
            files.forget_the_rest()
            return value, sum(map(len, read))

        return run

    def test_a_file_that_stayed_is_given_as_the_same_object(self, given) -> None:
        (first, size), (second, none), (third, still_none) = given(), given(), given()
        assert size > 0
        assert (none, still_none) == (0, 0)
        assert first is second
        assert second is third

    def test_a_file_that_was_written_or_depends_on_something_else_is_not(self, given, root: Path) -> None:
        given(), given()
        assert given("Europe/London")[1] > 0
        path = root / "batches/B-031/batch.md"
        path.write_text(path.read_text(encoding="utf-8") + "More.\n", encoding="utf-8")
        settle(root)
        found, size = given()
        assert size == path.stat().st_size
        assert given()[0] == found


class TestSameBytes:
    def test_two_clean_builds_are_alike(self, build, tmp_path: Path) -> None:
        build("one", "cache-1")
        build("two", "cache-2")
        assert bytes_in(tmp_path / "one") == bytes_in(tmp_path / "two")

    def test_a_deleted_cache_changes_nothing(self, build, tmp_path: Path) -> None:
        build()
        before = bytes_in(tmp_path / "site")
        shutil.rmtree(tmp_path / "cache")
        build()
        assert before == bytes_in(tmp_path / "site")

    @pytest.mark.parametrize("part", ["*.html", "*.webp", "sw.js", "offline/*.json", "static/css/*.css"])
    def test_what_was_changed_in_the_site_is_repaired(self, build, tmp_path: Path, part: str) -> None:
        build()
        before = bytes_in(tmp_path / "site")
        file = min((tmp_path / "site").rglob(part))
        file.write_bytes(b"x" * file.stat().st_size)
        build()
        assert before == bytes_in(tmp_path / "site")

    def test_pictures_deleted_during_a_build_are_made_again(self, build, tmp_path, monkeypatch) -> None:
        real, times = pipeline.plan_site, []

        def plan_and_lose_the_cache(*args, **others):
            times.append(1)
            if len(times) == 1:
                shutil.rmtree(tmp_path / "cache")
            return real(*args, **others)

        monkeypatch.setattr(pipeline, "plan_site", plan_and_lose_the_cache)
        build()
        assert len(list((tmp_path / "site/photos").rglob("*.webp"))) == 2

    def test_what_was_planned_ahead_is_as_a_build_plans_it(self, build, root: Path, tmp_path: Path) -> None:
        memory = Memory()
        plan_ahead(FileCache(Cache(tmp_path / "cache"), root, time.time_ns()), lambda *told: None, memory)
        before = memory.root("journal")
        build(memory=memory)
        build("clean", "cache-clean")
        assert before is not None
        assert bytes_in(tmp_path / "clean") == bytes_in(tmp_path / "site")

    @seeded(3)
    def test_any_sequence_of_changes_ends_as_a_clean_build_does(self, build, root, tmp_path, photo, seed) -> None:
        edits = Edits(root, photo, seed)
        build()
        kept: dict[str, Any] = {}
        if seed:  # as `journal show` keeps them
            kept = {"kept": Cache(tmp_path / "cache"), "memory": Memory(), "spare": Spare()}
        for step in range(5):
            for _ in range(edits.chance.randint(1, 3)):
                edits.one()
            last_build.repeated(tmp_path / "cache", root, tmp_path / "site") or build(**kept)
            build(f"clean-{step}", f"cache-{step}")
            assert bytes_in(tmp_path / f"clean-{step}") == bytes_in(tmp_path / "site"), edits.told
            assert [] == wrong_in(tmp_path / "site"), edits.told


class Edits:
    """What an author does to a journal, at random."""

    def __init__(self, root: Path, photo: Callable[[int], bytes], seed: int) -> None:
        self.root = root
        self.photo = photo
        self.chance = random.Random(seed)
        self.count = 10
        self.told: list[str] = []

    def one(self) -> None:
        self.count += 1
        kinds = [self.add, self.add, self.change, self.rename, self.delete, self.set, self.add_photo, self.change_photo]
        kinds += [self.set_tents, self.move_clock, self.rename_photo, self.move_origin, self.give_id, self.finish]
        edit = self.chance.choice(kinds)
        self.told.append(f"{edit.__name__} {edit() or ''}")

    def _some(self, pattern: str) -> Path | None:
        found = sorted(self.root.rglob(pattern))
        return self.chance.choice(found) if found else None

    def add(self) -> str:
        kind = self.chance.choice(["find", "culture", "batch", "note"])
        day = f"date: 2026-{self.chance.randint(1, 12):02}-{self.chance.randint(1, 28):02}\n"
        about = self.chance.choice(["B-031", "PP-26A", "F26-001", "X-11"])
        keys = {"find": "", "culture": f"from: {about}\n", "batch": f"culture: {about}\n", "note": f"about: {about}\n"}
        own = "" if kind == "note" else f"id: X-{self.count}\n"
        path = f"{kind}-{self.count}/{kind}.md"
        write_entry(self.root / path, f"kind: {kind}\n{own}{day}{keys[kind]}")
        return path

    def change(self) -> str | None:
        path = self._some("*.md")
        if path:
            path.write_text(path.read_text(encoding="utf-8") + f"\nSeen again, {self.count}.\n", encoding="utf-8")
        return path and path.name

    def rename(self) -> str | None:
        path = self._some("*.*")
        if path and path.suffix in (".md", ".jpg"):
            path.rename(path.with_stem(f"{path.stem}-{self.count}"))
        return path and path.name

    def delete(self) -> str | None:
        path = self._some(self.chance.choice(["*.md", "*.jpg"]))
        if path:
            path.unlink()
        return path and path.name

    def set(self) -> None:
        title, units = f"Journal {self.count}", self.chance.choice(["metric", "us"])
        text = re.sub(r'title = "[^"]*"', f'title = "{title}"', self._settings())
        text = re.sub(r'units = "[^"]*"\n', "", text).replace("[journal]\n", f'[journal]\nunits = "{units}"\n')
        write_entry(self.root / "journal.toml", text)

    def _settings(self) -> str:
        return (self.root / "journal.toml").read_text(encoding="utf-8")

    def set_tents(self) -> str:
        """The tent's name and range, and whether there is another."""
        name, low = f"Tent {self.count}", self.chance.randint(80, 90)
        tents = f'[tents.wash-house]\nname = "{name}"\nhumidity = "{low}-95 %"\n'
        more = self.chance.choice(["", '[tents.net-loft]\nname = "Net loft"\n'])
        head = self._settings().partition("[tents.")[0]
        write_entry(self.root / "journal.toml", head + tents + more)
        return name

    def move_clock(self) -> str:
        zone = self.chance.choice(["Europe/London", "Pacific/Auckland", "America/St_Johns"])
        text = re.sub(r'time_zone = "[^"]*"', f'time_zone = "{zone}"', self._settings())
        write_entry(self.root / "journal.toml", text)
        return zone

    def rename_photo(self) -> str | None:
        path = self._some("*.jpg")
        if path:
            path.rename(path.with_name(f"IMG-{self.count}.jpg"))
        return path and path.name

    def _alter(self, pattern: str, written: str, now: str) -> str | None:
        """Another value for a key of some entry: what is grown from it, expected of it or compared with it changes."""
        path = self._some(pattern)
        if path:
            text = path.read_text(encoding="utf-8")
            path.write_text(re.sub(written, now, text, count=1, flags=re.MULTILINE), encoding="utf-8")
        return path and f"{path.name}: {now}"

    def move_origin(self) -> str | None:
        other = self.chance.choice(["B-031", "PP-26A", "F26-001", f"X-{self.count - 1}"])
        return self._alter("*.md", r"^(from|culture|about): .*$", rf"\1: {other}")

    def give_id(self) -> str | None:
        """An ID that texts name (`B-031`), or that nothing names, for something else than before."""
        return self._alter("*.md", r"^id: .*$", f"id: {self.chance.choice(['B-031', 'F26-001', 'X-11', 'Y-1'])}")

    def finish(self) -> str:
        """A finished batch, on which what is expected of others, and the comparison of lines, is based."""
        id, day = f"D-{self.count}", self.chance.randint(1, 9)
        write_entry(
            self.root / f"{id}/batch.md",
            f"kind: batch\nid: {id}\ndate: 2026-08-0{day}\nculture: PP-26A\nunits: 4\ndry mass: 800 g\n",
        )
        keys = f"kind: note\nabout: {id}\ndate: 2026-09-0{day}\nharvest: {self.chance.randint(200, 900)} g\nflush: 1\n"
        write_entry(self.root / f"{id}/picked.md", keys)
        write_entry(self.root / f"{id}/spent.md", f"kind: note\nabout: {id}\ndate: 2026-09-2{day}\nstage: spent\n")
        return id

    def add_photo(self) -> str | None:
        entry = self._some("*.md")
        if entry:
            (entry.parent / f"IMG_{self.count}.jpg").write_bytes(self.photo(self.chance.randint(1, 6)))
        return entry and entry.parent.name

    def change_photo(self) -> str | None:
        path = self._some("*.jpg")
        if path:
            path.write_bytes(self.photo(self.count))
        return path and path.name


def test_a_picture_leads_to_the_ids_of_all_that_show_it(root: Path, tmp_path: Path) -> None:
    memory = FileCache(Cache(tmp_path / "cache"), root, time.time_ns())
    read = read_journal(memory, lambda *told: None, tmp_path / "pictures")
    names = {made.name: path for path, made in read.published.items()}
    found = shown_by(read.journal, read.published, pipeline.plan_site(read.journal, read.published))
    assert {"batches/B-031/pins.jpg": ("b-031",), "finds/alder/IMG_0412.jpg": ("f26-001",)} == {
        names[path.rpartition("/")[2]]: ids for path, ids in found.items()
    }


def test_a_file_gone_since_it_was_seen_is_a_problem(root: Path, tmp_path: Path, monkeypatch) -> None:
    real = pipeline.scan

    def scan_and_lose(folder: Path):
        found = real(folder)
        gone = File("notes/gone.md", 1, 1, 1, 1)
        return type(found)(**{n: getattr(found, n) for n in found.__slots__} | {"entries": (*found.entries, gone)})

    monkeypatch.setattr(pipeline, "scan", scan_and_lose)
    read = read_journal(FileCache(Cache(tmp_path / "cache"), root, time.time_ns()), lambda *told: None)
    assert [("notes/gone.md", "error")] == [(p.path, p.severity) for p in read.journal.problems]


def test_a_folder_without_settings_or_entries_is_refused(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "empty" / "README.md").write_text("# Plain words\n", encoding="utf-8")
    memory = FileCache(Cache(tmp_path / "cache"), tmp_path / "empty", time.time_ns())
    with pytest.raises(Refusal, match=r"no journal.toml and no entries"):
        build_site(memory, tmp_path / "site", lambda *told: None)
    assert not (tmp_path / "site").exists()


def test_entries_alone_are_a_journal(root: Path, build, tmp_path: Path) -> None:
    (root / "journal.toml").unlink()
    build()
    assert (tmp_path / "site" / "index.html").is_file()


def test_only_pictures_of_our_own_naming_are_removed(tmp_path: Path) -> None:
    name, other = "a" * 16, "b" * 16
    gone = [f"{other}-320.webp", f"{other}.json", f".{name}-320.webp.4711.part"]
    kept = [f"{name}-320.webp", f"{name}.json", "holiday.webp", f"{other}.txt"]
    for file in (*gone, *kept):
        (tmp_path / file).touch()
    prune_pictures(tmp_path, {name})
    assert sorted(kept) == sorted(path.name for path in tmp_path.iterdir())


def test_a_logger_file_that_grew_is_read_again(root: Path, tmp_path: Path) -> None:
    toml = root / "journal.toml"
    climate = '[[climate]]\nfiles = "c.csv"\ntent = "wash-house"\ntime = "Time"\nhumidity = "RH"\n'
    toml.write_text(toml.read_text(encoding="utf-8") + climate, encoding="utf-8")
    csv = root / "c.csv"
    csv.write_text("Time;RH\n" + "".join(f"2026-11-{at // 24 + 1:02} {at % 24:02}:00;90\n" for at in range(240)))

    def logged() -> int:
        cache = Cache(tmp_path / "cache")
        journal = read_journal(FileCache(cache, root, time.time_ns() + 10**9), lambda *_: None).journal
        cache.save()
        return len(journal.logs[0].stamps_s)

    assert 240 == logged()
    with csv.open("a") as file:
        file.write("2026-11-30 12:00;88\n")
    assert 241 == logged()


def test_a_day_later_than_every_file_is_a_warning_and_the_entry_is_kept(root: Path, tmp_path: Path) -> None:
    write_entry(root / "late.md", "kind: note\nabout: B-031\ndate: 2027-11-21\nharvest: 400 g\nflush: 2\n")
    for file in root.rglob("*.*"):
        os.utime(file, (1794000000,) * 2)  # 6 November 2026
    read = read_journal(FileCache(Cache(tmp_path / "cache"), root, time.time_ns()), lambda *told: None)
    message = "2027-11-21 is in the future: no file of this journal is as new"
    assert [("late.md", message)] == [(one.path, one.message) for one in read.journal.problems if one.line == 4]
    assert "2027-11-21" in {note.date.iso for note in read.journal.notes}


def test_a_logger_file_that_nothing_claims_is_a_problem_until_something_does(root: Path, tmp_path: Path) -> None:
    (root / "climate").mkdir(exist_ok=True)
    (root / "climate" / "loft-2026-11.csv").write_text("Time;RH\n2026-11-01 00:00;90\n2026-11-01 00:05;90\n")

    def told() -> list[Problem]:
        cache = Cache(tmp_path / "cache")
        problems = read_journal(FileCache(cache, root, time.time_ns() + 10**9), lambda *_: None).journal.problems
        cache.save()
        return [problem for problem in problems if problem.path.startswith("climate/loft")]

    (problem,) = told()
    assert [problem] == told()  # from the cache, as it was
    toml = root / "journal.toml"
    toml.write_text(f"{toml.read_text(encoding='utf-8')}\n{problem.paste}\n", encoding="utf-8")
    assert [] == told()
