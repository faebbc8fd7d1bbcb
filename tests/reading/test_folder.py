"""What a scan finds, in what order, and what it refuses."""

from __future__ import annotations

import os
import unicodedata
from datetime import date, datetime
from pathlib import Path

import pytest

from journal.reading.folder import Folder, scan
from journal.reading.listing import SITE_MARK


def lay(root: Path, *paths: str) -> Path:
    for path in paths:
        file = root / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text("x", encoding="utf-8")
    return root


def paths(rows: tuple[object, ...]) -> list[str]:
    return [row.path for row in rows]  # type: ignore[attr-defined]


def said(folder: Folder) -> list[tuple[str, str]]:
    return [(problem.path, problem.severity) for problem in folder.problems]


@pytest.mark.parametrize(
    ("name", "sort"),
    [
        ("find.md", "entries"),
        ("FIND.MD", "entries"),
        *[(f"a.{end}", "photos") for end in ("jpg", "jpeg", "heic", "heif", "png", "webp", "tif", "tiff", "avif")],
        ("IMG_0412.JPG", "photos"),
        ("two words.HEIC", "photos"),
        ("Größe.jpg", "photos"),
        ("log.csv", "csvs"),
        ("walk.GPX", "gpxs"),
    ],
)
def test_a_file_is_known_by_its_suffix_in_any_case(tmp_path: Path, name: str, sort: str) -> None:
    assert [f"in a folder/{name}"] == paths(getattr(scan(lay(tmp_path, f"in a folder/{name}")), sort))


def test_other_files_are_nothing_to_a_journal(tmp_path: Path) -> None:
    folder = scan(lay(tmp_path, "read.txt", "photo.jpg.bak", "noend", "sub/journal.toml"))
    assert ((), (), (), (), None, ()) == (
        folder.entries,
        folder.photos,
        folder.csvs,
        folder.gpxs,
        folder.settings,
        folder.problems,
    )


def test_the_settings_are_the_file_at_the_root(tmp_path: Path) -> None:
    folder = scan(lay(tmp_path, "journal.toml"))
    assert folder.settings is not None
    assert ("journal.toml", 1) == (folder.settings.path, folder.settings.size)


def test_hidden_files_and_folders_are_passed_over(tmp_path: Path) -> None:
    assert ["seen.md"] == paths(scan(lay(tmp_path, ".git/a.md", "sub/.b.md", ".c.md", "seen.md")).entries)


def test_a_built_site_inside_the_journal_is_passed_over(tmp_path: Path) -> None:
    lay(tmp_path, "a.md", f"site/{SITE_MARK}", "site/b.md", "site/photos/c.jpg")
    folder = scan(tmp_path)
    assert (["a.md"], [], []) == (paths(folder.entries), paths(folder.photos), said(folder))


def test_a_built_site_is_not_a_journal(tmp_path: Path) -> None:
    folder = scan(lay(tmp_path, SITE_MARK, "a.md"))
    assert ([], [(".", "error")]) == (paths(folder.entries), said(folder))


def test_files_come_in_the_order_of_their_composed_names(tmp_path: Path) -> None:
    decomposed = unicodedata.normalize("NFD", "é.md")
    lay(tmp_path, "z.md", decomposed, "a/b.md", "a.md", "B.md", "f.md")
    assert ["B.md", "a.md", "a/b.md", "f.md", "z.md", decomposed] == paths(scan(tmp_path).entries)


def test_a_name_keeps_the_spelling_it_has_on_disk(tmp_path: Path) -> None:
    name = unicodedata.normalize("NFD", "Blåhø.jpg")
    (row,) = scan(lay(tmp_path, name)).photos
    assert (name, True) == (row.path, (tmp_path / row.path).is_file())


def test_two_names_that_a_mac_takes_for_one_are_reported(tmp_path: Path) -> None:
    forms = [unicodedata.normalize(form, "é.md") for form in ("NFC", "NFD")]
    folder = scan(lay(tmp_path, *forms, "e.md"))
    assert 3 == len(folder.entries)
    (problem,) = folder.problems
    assert ("warning", True) == (problem.severity, problem.path in forms)


def test_a_name_that_is_not_utf8_is_reported_and_passed_over(tmp_path: Path) -> None:
    with open(os.path.join(os.fsencode(tmp_path), b"gr\xfcn.md"), "wb") as file:
        file.write(b"x")
    folder = scan(tmp_path)
    assert ([], [("gr\ufffdn.md", "error")]) == (paths(folder.entries), said(folder))


def test_a_change_of_content_changes_the_signature(tmp_path: Path) -> None:
    lay(tmp_path, "a.md", "b.md")
    before = scan(tmp_path).entries
    (tmp_path / "b.md").write_text("more", encoding="utf-8")
    after = scan(tmp_path).entries
    assert [True, False] == [one.signature == two.signature for one, two in zip(before, after, strict=True)]


def test_a_file_put_in_anothers_place_changes_the_signature(tmp_path: Path) -> None:
    lay(tmp_path, "a.md", "b.txt")
    facts = os.stat(tmp_path / "a.md")
    before = scan(tmp_path).entries[0]
    os.utime(tmp_path / "b.txt", ns=(facts.st_atime_ns, facts.st_mtime_ns))
    os.replace(tmp_path / "b.txt", tmp_path / "a.md")
    after = scan(tmp_path).entries[0]
    assert (before.size, before.mtime_ns) == (after.size, after.mtime_ns)
    assert before.signature != after.signature


@pytest.mark.parametrize("is_folder", [False, True])
def test_a_link_that_leaves_the_journal_is_wrong_and_not_followed(tmp_path: Path, is_folder: bool) -> None:
    outside = lay(tmp_path / "outside", "a.jpg", "a.md")
    root = lay(tmp_path / "journal", "here.md")
    name = "album" if is_folder else "a.jpg"
    (root / name).symlink_to(outside if is_folder else outside / "a.jpg")
    folder = scan(root)
    assert (["here.md"], [], [(name, "error")]) == (paths(folder.entries), paths(folder.photos), said(folder))


def test_a_folder_beside_the_journal_that_begins_with_its_name_is_outside(tmp_path: Path) -> None:
    lay(tmp_path / "journal-old", "a.jpg")
    root = lay(tmp_path / "journal", "here.md")
    (root / "a.jpg").symlink_to(tmp_path / "journal-old" / "a.jpg")
    assert [("a.jpg", "error")] == said(scan(root))


def test_a_photo_may_stand_in_two_places_by_a_link(tmp_path: Path) -> None:
    lay(tmp_path, "one/a.jpg")
    (tmp_path / "two.jpg").symlink_to(tmp_path / "one" / "a.jpg")
    folder = scan(tmp_path)
    assert (["one/a.jpg", "two.jpg"], []) == (paths(folder.photos), said(folder))


def test_an_entry_is_not_read_twice_by_a_link(tmp_path: Path) -> None:
    lay(tmp_path, "one/a.md")
    (tmp_path / "b.md").symlink_to(tmp_path / "one" / "a.md")
    folder = scan(tmp_path)
    assert (["one/a.md"], [("b.md", "warning")]) == (paths(folder.entries), said(folder))


def test_a_link_into_a_hidden_store_is_the_only_way_to_its_file(tmp_path: Path) -> None:
    lay(tmp_path, ".store/a.md")
    (tmp_path / "a.md").symlink_to(tmp_path / ".store" / "a.md")
    assert (["a.md"], []) == (paths(scan(tmp_path).entries), said(scan(tmp_path)))


def test_links_in_a_circle_end(tmp_path: Path) -> None:
    lay(tmp_path, "sub/a.md")
    (tmp_path / "sub" / "up").symlink_to(tmp_path)
    (tmp_path / "ring.md").symlink_to(tmp_path / "ring.md")
    folder = scan(tmp_path)
    assert (["sub/a.md"], [("ring.md", "error"), ("sub/up", "warning")]) == (paths(folder.entries), said(folder))


def test_a_broken_link_is_wrong(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").symlink_to(tmp_path / "gone.jpg")
    assert [("a.jpg", "error")] == said(scan(tmp_path))


def test_a_pipe_named_like_an_entry_is_reported_and_never_opened(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.md")
    folder = scan(tmp_path)
    assert ([], [("a.md", "error")]) == (paths(folder.entries), said(folder))


def test_a_folder_that_cannot_be_read_is_reported_and_the_rest_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lay(tmp_path, "a.md", "shut/b.md")
    real = os.scandir

    def refusing(path: str) -> object:
        if str(path).endswith("shut"):
            raise PermissionError(13, "Permission denied")
        return real(path)

    monkeypatch.setattr(os, "scandir", refusing)
    folder = scan(tmp_path)
    assert (["a.md"], [("shut", "error")]) == (paths(folder.entries), said(folder))
    assert "permission denied" in folder.problems[0].message


def test_a_folder_that_is_not_there_is_a_problem(tmp_path: Path) -> None:
    assert [(".", "error")] == said(scan(tmp_path / "nowhere"))


@pytest.mark.parametrize(
    ("expected", "times"),
    [
        (date(2026, 10, 3), {"a.md": "2026-10-03T12:00+00:00", "b/IMG_1.jpg": "2026-09-12T12:00+00:00"}),
        (date(2026, 10, 3), {"a.md": "2026-09-12T12:00+00:00", "b/IMG_1.jpg": "2026-10-03T12:00+00:00"}),
        (None, {"a.md": "1980-01-01T00:00+00:00"}),  # unpacked from an archive that keeps no times
        (None, {}),
    ],
)
def test_a_journal_was_changed_on_the_day_of_its_newest_file(
    tmp_path: Path, expected: date | None, times: dict[str, str]
) -> None:
    for name, time in times.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"x")
        os.utime(tmp_path / name, (datetime.fromisoformat(time).timestamp(),) * 2)
    assert expected == scan(tmp_path).changed_on
