from __future__ import annotations

import errno
import hashlib
import os
import random
import signal
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import count
from pathlib import Path

import pytest

from journal.reading.listing import SITE_MARK
from journal.site.build.freezing import NotFrozen
from journal.site.build.incremental import Copy, CorruptPictures, differences, update_site
from journal.site.build.swap import Spare, remove_tree
from tests.builders import seeded
from tests.fault_points import fork


@pytest.fixture
def target(tmp_path: Path) -> Path:
    return tmp_path / "public" / "site"


@pytest.fixture
def picture(tmp_path: Path) -> Copy:
    source = tmp_path / "cache" / "abc-320.webp"
    source.parent.mkdir()
    source.write_bytes(b"a picture's bytes")
    return Copy(source, "abc-320", linked=True, sha256=hashlib.sha256(b"a picture's bytes").hexdigest())


@pytest.fixture
def three(toys):
    return [toys.page("home", "Home", ["a", "b"]), toys.page("a", "A"), toys.page("b", "B")]


def test_a_first_run_makes_everything(toys, target: Path, three, picture: Copy, silent) -> None:
    done = update_site(toys.plan(three, {"photos/abc-320.webp": picture}), target, {}, silent)
    assert done.change == "first"
    expected = [SITE_MARK, "bundle", "index.html", "list.txt", "photos/abc-320.webp", "sw.js", "things/a/index.html"]
    assert [*expected, "things/b/index.html"] == sorted(toys.bytes_in(target))
    assert (target / "photos/abc-320.webp").read_bytes() == b"a picture's bytes"


def test_with_nothing_changed_no_page_is_rendered_and_no_file_touched(toys, target: Path, three, silent) -> None:
    first = update_site(toys.plan(three), target, {}, silent)
    inode = target.stat().st_ino
    second = update_site(toys.plan(three), target, first.outputs, silent)
    assert second.change == "nothing"
    assert second.rendered == ()
    assert inode == target.stat().st_ino


def test_only_the_changed_page_is_rendered(toys, target: Path, three, silent) -> None:
    first = update_site(toys.plan(three), target, {}, silent)
    changed = [*three[:2], toys.page("b", "B, seen again")]
    second = update_site(toys.plan(changed), target, first.outputs, silent)
    assert second.rendered == ("things/b/index.html",)
    assert b"seen again" in (target / "things/b/index.html").read_bytes()


def test_an_unchanged_page_keeps_its_time(toys, target: Path, three, silent) -> None:
    first = update_site(toys.plan(three), target, {}, silent)
    before = (target / "index.html").stat().st_mtime_ns
    update_site(toys.plan([*three[:2], toys.page("b", "B, seen again")]), target, first.outputs, silent)
    assert before == (target / "index.html").stat().st_mtime_ns


def test_a_page_no_longer_planned_is_gone(toys, target: Path, three, silent) -> None:
    first = update_site(toys.plan(three), target, {}, silent)
    update_site(toys.plan(three[:2]), target, first.outputs, silent)
    assert not (target / "things" / "b").exists()
    assert "things/b" not in (target / "list.txt").read_text(encoding="utf-8")


def test_another_version_of_the_program_renders_every_page(toys, target: Path, three, silent) -> None:
    first = update_site(toys.plan(three), target, {}, silent)
    second = update_site(toys.plan(three, version="2"), target, first.outputs, silent)
    assert {page.path for page in three} == set(second.rendered)


@pytest.mark.parametrize(
    "harm",
    ["tampered", "deleted", "extra", "replaced by a link", "worker tampered", "bundle tampered", "mark tampered"],
)
def test_what_was_done_to_the_site_by_hand_is_repaired(toys, target: Path, three, silent, tmp_path, harm: str) -> None:
    first = update_site(toys.plan(three), target, {}, silent)
    whole = toys.bytes_in(target)
    page = target / "things" / "a" / "index.html"
    if harm == "tampered":
        page.write_bytes(page.read_bytes().replace(b"A", b"Z"))
    elif harm == "deleted":
        page.unlink()
    elif harm == "extra":
        (target / "note-to-self.txt").write_text("x", encoding="utf-8")
    elif harm.endswith(" tampered"):
        (target / {"worker": "sw.js", "bundle": "bundle", "mark": SITE_MARK}[harm.split()[0]]).write_text(
            "x", encoding="utf-8"
        )
    else:
        page.rename(tmp_path / "elsewhere.html")
        page.symlink_to(tmp_path / "elsewhere.html")
    update_site(toys.plan(three), target, first.outputs, silent)
    assert whole == toys.bytes_in(target)
    assert not page.is_symlink()


def test_a_harmed_bundle_is_repaired_together_with_a_change(toys, target: Path, three, silent) -> None:
    first = update_site(toys.plan(three), target, {}, silent)
    (target / "bundle").write_text("x", encoding="utf-8")
    update_site(toys.plan([*three[:2], toys.page("b", "another")]), target, first.outputs, silent)
    assert (target / "bundle").read_text(encoding="utf-8") == "the same at every build"


def test_what_a_phone_needs_is_written_again_when_only_that_changed(toys, target: Path, three, silent) -> None:
    first = update_site(toys.plan(three), target, {}, silent)
    again = replace(toys.plan(three), offline_inputs="other IDs show a photo")
    second = update_site(again, target, first.outputs, silent)
    assert (second.change, second.rendered) == ("renewed", ())


def test_a_copied_site_is_known_by_its_bytes(toys, target: Path, three, silent) -> None:
    first = update_site(toys.plan(three), target, {}, silent)
    for path in target.rglob("*.html"):
        data = path.read_bytes()
        path.unlink()
        path.write_bytes(data)
    assert update_site(toys.plan(three), target, first.outputs, silent).rendered == ()


def test_on_a_disk_without_hard_links_the_copies_are_known_again(
    toys, target: Path, three, silent, monkeypatch
) -> None:
    known = update_site(toys.plan(three), target, {}, silent).outputs
    for path in target.rglob("*.html"):
        os.utime(path, ns=(10**18, 10**18))
    known = update_site(toys.plan(three), target, known, silent).outputs
    assert known["index.html"].stat is not None

    def refuse(one: str | Path, other: str | Path, link=os.link) -> None:
        if str(other).endswith(".html"):
            raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))
        link(one, other)

    monkeypatch.setattr(os, "link", refuse)
    changed = [*three[:2], toys.page("b", "B, seen again")]
    second = update_site(toys.plan(changed), target, known, silent)
    assert second.rendered == ("things/b/index.html",)
    assert second.outputs["index.html"].stat != known["index.html"].stat
    facts = (target / "index.html").stat()
    assert second.outputs["index.html"].stat == (facts.st_size, facts.st_mtime_ns, facts.st_ino)


def test_a_new_page_never_writes_through_to_the_old_site(toys, target: Path, three, silent, monkeypatch) -> None:
    first = update_site(toys.plan(three), target, {}, silent)
    before = toys.bytes_in(target)
    monkeypatch.setattr("journal.site.build.incremental.put_in_place", lambda *trees, **spare: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        update_site(toys.plan([*three[:2], toys.page("b", "another")]), target, first.outputs, silent)
    assert before == toys.bytes_in(target)
    assert [target.name] == [path.name for path in target.parent.iterdir()]


def test_a_page_that_cannot_be_rendered_leaves_the_old_site(toys, target: Path, three, silent) -> None:
    first = update_site(toys.plan(three), target, {}, silent)
    before = toys.bytes_in(target)
    with pytest.raises(NotFrozen, match="things/c"):
        update_site(toys.plan([*three, toys.page("c", "fails")]), target, first.outputs, silent)
    assert before == toys.bytes_in(target)
    assert [target.name] == [path.name for path in target.parent.iterdir()]


def test_two_plans_for_one_path_are_a_fault(toys, target: Path, three, picture: Copy, silent) -> None:
    with pytest.raises(ValueError, match=r"two files are planned at index\.html"):
        update_site(toys.plan(three, {"index.html": picture}), target, {}, silent)
    with pytest.raises(ValueError, match="two files"):
        update_site(toys.plan([*three, three[0]]), target, {}, silent)


def test_a_text_is_written_and_renewed_when_it_changes(toys, target: Path, three, silent) -> None:
    first = update_site(toys.plan(three, texts={"404.html": "gone", "parts/a.json": "é"}), target, {}, silent)
    assert (target / "parts" / "a.json").read_bytes() == "é".encode()
    second = update_site(toys.plan(three, texts={"404.html": "not here"}), target, first.outputs, silent)
    assert second.rendered == ()
    assert (target / "404.html").read_bytes() == b"not here"
    assert not (target / "parts").exists()


def test_a_picture_changed_through_the_site_is_reported(toys, target: Path, three, picture: Copy, silent) -> None:
    plan = toys.plan(three, {"photos/abc-320.webp": picture})
    first = update_site(plan, target, {}, silent)
    (target / "photos" / "abc-320.webp").write_bytes(b"another bytes' length")
    with pytest.raises(CorruptPictures) as harmed:
        update_site(plan, target, first.outputs, silent)
    assert [picture.source] == harmed.value.files


def test_a_picture_that_is_not_as_it_was_made_is_in_no_site(toys, target: Path, three, picture: Copy, silent) -> None:
    picture.source.write_bytes(b"a picture's bytez")
    with pytest.raises(CorruptPictures):
        update_site(toys.plan(three, {"photos/abc-320.webp": picture}), target, {}, silent)
    assert not target.exists()


def test_a_picture_whose_file_is_gone_is_reported(toys, target: Path, three, picture: Copy, silent) -> None:
    picture.source.unlink()
    with pytest.raises(FileNotFoundError):
        update_site(toys.plan(three, {"photos/abc-320.webp": picture}), target, {}, silent)
    assert not target.exists()


def test_a_copied_file_is_not_the_programs_own(toys, target: Path, three, tmp_path: Path, silent) -> None:
    style = tmp_path / "base.css"
    style.write_text("p {}", encoding="utf-8")
    update_site(toys.plan(three, {"static/base.css": Copy(style, "1")}), target, {}, silent)
    (target / "static" / "base.css").write_text("changed in the site", encoding="utf-8")
    assert style.read_text(encoding="utf-8") == "p {}"


@seeded(4)
def test_any_sequence_of_changes_ends_as_a_clean_build_does(toys, tmp_path: Path, silent, seed: int) -> None:
    chance = random.Random(seed)
    pages = {"home": toys.page("home", "Home"), "t0": toys.page("t0", "x")}
    copies: dict[str, Copy] = {}
    known, spare = {}, Spare() if seed % 2 else None
    for step in range(8):
        name = f"t{chance.randrange(6)}"
        if name in pages and chance.random() < 0.4 and len(pages) > 2:
            del pages[name]
        else:
            pages[name] = toys.page(name, f"text {chance.randrange(3)}", chance.sample(sorted(pages), k=1))
        source = tmp_path / f"picture-{step}.webp"
        source.write_bytes(bytes([step]))
        copies[f"photos/{chance.randrange(3)}.webp"] = Copy(source, f"picture-{step}", linked=True)
        plan = toys.plan([p for n, p in pages.items() if n == "home" or not set(p.context["links"]) - {"home"}], copies)
        known = update_site(plan, tmp_path / "kept", known, silent, spare).outputs
        update_site(plan, tmp_path / f"clean-{step}", {}, silent)
        assert toys.bytes_in(tmp_path / f"clean-{step}") == toys.bytes_in(tmp_path / "kept")
        assert not [here for here, folders, files in os.walk(tmp_path / "kept") if not folders and not files]


@pytest.mark.parametrize("harm", ["", "tampered in the spare", "tampered in the site", "spare removed"])
def test_with_a_spare_only_what_changed_is_linked_and_what_was_done_by_hand_is_repaired(
    toys, target: Path, three, silent, monkeypatch: pytest.MonkeyPatch, harm: str
) -> None:
    spare, known, linked = Spare(), {}, []
    link = os.link
    for text in ("B, once", "B, twice"):
        known = update_site(toys.plan([*three[:2], toys.page("b", text)]), target, known, silent, spare).outputs
    assert spare.folder is not None
    page = "things/a/index.html"
    if harm == "spare removed":
        remove_tree(spare.folder)
    elif harm:
        harmed = (spare.folder if "spare" in harm else target) / page
        harmed.unlink()
        harmed.write_text("by hand", encoding="utf-8")
    monkeypatch.setattr(os, "link", lambda one, other: linked.append(Path(other).name) or link(one, other))
    update_site(toys.plan([*three[:2], toys.page("b", "B, again")]), target, known, silent, spare)
    assert linked.count("index.html") == {"": 0, "tampered in the spare": 1, "tampered in the site": 0}.get(harm, 2)
    update_site(toys.plan([*three[:2], toys.page("b", "B, again")]), target.with_name("clean"), {}, silent)
    assert toys.bytes_in(target) == toys.bytes_in(target.with_name("clean"))


CHANGES = ("open", "os.mkdir", "os.rename", "os.link", "os.remove", "os.rmdir", "shutil.rmtree")


def killed_at(moment: int, below: Path, work: Callable[[], object]) -> int:
    """How a process ends that does this and is killed before its change of that number, from 0, below a folder."""

    def dies_at_its_moment(event: str, args: tuple[object, ...]) -> None:
        nonlocal moment
        if event in CHANGES and str(below) in str(args[0]):
            if moment == 0:
                os.kill(os.getpid(), signal.SIGKILL)
            moment -= 1

    child = fork()
    if not child:
        status = 1
        try:
            sys.addaudithook(dies_at_its_moment)
            work()
            status = 0
        finally:
            os._exit(status)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


@pytest.mark.skipif(os.name != "posix", reason="needs SIGKILL")
@pytest.mark.parametrize("spare", [False, True], ids=["", "spare"])
def test_a_run_killed_at_any_moment_leaves_one_whole_site(toys, tmp_path: Path, silent, three, spare: bool) -> None:
    """At each of its changes, until it has none left and ends by itself."""
    before = [[toys.page("home", "Old home"), toys.page("a", text)] for text in ("A", "A, again")] if spare else [three]
    new_pages = [toys.page("home", "New home"), toys.page("a", "New A")]
    for name, pages in (("old", before[-1]), ("new", new_pages)):
        update_site(toys.plan(pages), tmp_path / name, {}, silent)
    old, new = toys.bytes_in(tmp_path / "old"), toys.bytes_in(tmp_path / "new")
    for moment in count():
        target = tmp_path / f"at {moment}" / "site"
        first = update_site(toys.plan(three), target, {}, silent)
        ready, known = Spare(), {}
        for pages in before if spare else ():
            known = update_site(toys.plan(pages), target, known, silent, ready).outputs
        run = partial(update_site, toys.plan(new_pages), target, known, silent, ready)
        if (ended := killed_at(moment, target.parent, run)) == 0:
            break
        assert ended == -signal.SIGKILL
        assert toys.bytes_in(target) in (old, new), moment
        update_site(toys.plan(new_pages), target, first.outputs, silent)
        assert new == toys.bytes_in(target)
        assert ["site"] == [path.name for path in target.parent.iterdir()]
    assert new == toys.bytes_in(target)
    assert moment > 20


def test_sites_are_compared_by_their_bytes(tmp_path: Path) -> None:
    rows = {"same.html": ("a", "a"), "b/other.html": ("a", "b"), "lost.html": (None, "c"), "b/new.html": ("d", None)}
    for path, texts in rows.items():
        for side, text in zip(("site", "clean"), texts, strict=True):
            if text is not None:
                (tmp_path / side / path).parent.mkdir(parents=True, exist_ok=True)
                (tmp_path / side / path).write_text(text)
    expected = [("b/new.html", "extra"), ("b/other.html", "differs"), ("lost.html", "missing")]
    assert expected == differences(tmp_path / "site", tmp_path / "clean")
