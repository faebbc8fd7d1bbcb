"""`journal gather`, as an author types it."""

from __future__ import annotations

import dataclasses
import errno
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from journal.cli import cli
from journal.commands.console import run
from journal.importing.gather_writing import GatherDisk
from tests.importing.archives import (
    ALL,
    FIND,
    PINS,
    RYE,
    Saved,
    archive,
    archive_in_parts,
    locked,
    photo,
    write,
    zipped,
)
from tests.importing.shore import Ended, Shore

Gather = Callable[..., Ended]
PATHS = [
    "finds/2026-11-25-find-F26-015-K7Q4/find.md",
    "cultures/2026-11-25-culture-PP-26A-7-K7Q4/culture.md",
    "notes/2026-11-25-note-B-031/note.md",
    "notes/2026-11-25-note/note.md",
    "tents/2026-11-25-tent-wash-house/tent.md",
]


@pytest.fixture
def journal(shore: Shore, capsys: pytest.CaptureFixture[str]) -> Gather:
    """Runs a command of `journal`."""

    def ended(*words: str | Path) -> Ended:
        capsys.readouterr()
        status = run(cli, list(map(str, words)))
        said = capsys.readouterr()
        return Ended(status, said.out, said.err)

    return ended


@pytest.fixture
def gather(journal: Gather) -> Gather:
    return lambda *words: journal("gather", *words)


def test_records_come_in_and_their_paths_and_codes_are_printed(shore: Shore, gather: Gather) -> None:
    path = write(shore.camera, archive(*ALL))
    ended = gather(path)
    assert (0, PATHS) == (ended.status, ended.paths)
    lines = ended.err.splitlines()
    assert ["5 records with 3 photos came in"] == lines[1:]
    words, _, code = lines[0].rpartition(" ")
    assert ("Receipt code of part 1 of 1, for the phone:", [4, 4, 4, 1]) == (words, [len(p) for p in code.split("-")])
    before = shore.visible()
    again = gather(path)
    assert (0, [], before) == (again.status, again.paths, shore.visible())
    assert [lines[0], "nothing new; 5 already in the journal"] == again.err.splitlines()


def test_what_was_removed_is_said_gets_no_code_and_comes_in_only_if_asked(shore: Shore, gather: Gather) -> None:
    path = write(shore.camera, archive(FIND, RYE))
    first = gather(path).err.splitlines()
    shutil.rmtree(shore.root / "finds/2026-11-25-find-F26-015-K7Q4")
    before = shore.visible()
    ended = gather(path)
    assert (0, [], before) == (ended.status, ended.paths, shore.visible())
    assert [
        "No longer in the journal: finds/2026-11-25-find-F26-015-K7Q4/find.md (it was imported earlier)",
        "If you removed these on purpose, there is nothing to do; `journal gather --again` imports them again",
        "A part with any of these gets no receipt code, so the phone does not count them as in the journal",
        "nothing new; 1 already in the journal; 1 imported earlier and no longer in the journal",
    ] == ended.err.splitlines()
    assert before == shore.visible()
    dry = gather(path, "--again", "--dry-run")
    ended = gather(path, "--again")
    assert [PATHS[0]] == dry.paths == ended.paths
    assert [first[0], "1 record with 2 photos came in; 1 already in the journal"] == ended.err.splitlines()
    assert [first[0], "nothing new; 2 already in the journal"] == gather(path, "--again").err.splitlines()


def test_a_later_text_of_what_was_removed_is_a_new_entry_and_that_is_said(shore: Shore, gather: Gather) -> None:
    gather(write(shore.camera, archive(FIND)))
    shutil.rmtree(shore.root / "finds/2026-11-25-find-F26-015-K7Q4")
    ended = gather(write(shore.camera, archive(FIND.later(text="Alder.\n"), name="later")))
    assert [PATHS[0]] == ended.paths
    assert (
        f"{PATHS[0]} was imported earlier and is no longer in the journal; its later text from the phone is a new "
        f"entry, {PATHS[0]}"
    ) in ended.err.splitlines()


def test_check_finds_nothing_new(shore: Shore, journal: Gather, photo_bytes: Callable[..., bytes]) -> None:
    taken = {f"photo-0{n}.jpg": photo_bytes("2026:11:25 14:02:00", n) for n in (1, 2)}
    records = [dataclasses.replace(one, photos=taken if one.photos else {}) for one in ALL]
    before = journal("check")
    assert 0 == journal("gather", write(shore.camera, archive(*records))).status
    assert (0, "", True) == (before.status, before.err, before.out.endswith("read: no problems\n"))
    after = journal("check")
    assert (0, 1, True) == (after.status, len(after.paths), after.out.endswith("read: no problems\n"))


def test_a_dry_run_says_what_would_come_in_and_changes_nothing(shore: Shore, gather: Gather) -> None:
    before = shore.visible()
    ended = gather(write(shore.camera, archive(*ALL)), "--dry-run")
    assert (0, PATHS, before, []) == (ended.status, ended.paths, shore.visible(), shore.hidden())
    assert ["5 records with 3 photos would be imported; this was a dry run"] == ended.err.splitlines()


def test_what_two_archives_have_is_counted_once(shore: Shore, gather: Gather) -> None:
    paths = [write(shore.camera, archive(RYE, name=name), f"{name}.zip") for name in ("a", "b")]
    for dry_run in (["--dry-run"], []):
        ended = gather(*paths, *dry_run)
        assert ["notes/2026-11-25-note/note.md"] == ended.paths
        assert "nothing new; 1 already in the journal" == ended.err.splitlines()[-1]


def test_a_folder_stands_for_its_archives_whatever_a_browser_added_to_their_names(shore: Shore, gather: Gather) -> None:
    stem = "journal-2026-11-25-1403-K7Q4-1-of-1"
    names = [f"{stem}.zip", f"{stem} (1).zip", stem.replace("1403", "140322") + ".zip", f"{stem}.zip (2).LOCKED"]
    for number, (name, record) in enumerate(zip(names, ALL, strict=False)):
        data = archive(record, name=str(number))
        write(shore.camera, locked(data, "right") if name.endswith("LOCKED") else data, name)
    write(shore.camera, b"no archive", f"{stem}.zip.part")
    shore.write({"phrase.txt": "right"})
    ended = gather(shore.camera, "--passphrase-file", shore.root / "phrase.txt")
    assert (0, sorted(PATHS[:4])) == (ended.status, sorted(ended.paths))


@pytest.mark.parametrize("where", ["named", "around", "a folder of archives", "both folders"])
def test_the_journal_is_the_last_folder_or_the_one_around(
    shore: Shore, gather: Gather, where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(shore.camera, archive(*ALL))
    (shore.camera / "other.zip").write_bytes(b"not from a phone")
    monkeypatch.chdir(shore.root / "finds" if where in ("around", "a folder of archives") else shore.camera)
    named = {
        "named": [path, shore.root],
        "around": [path],
        "a folder of archives": [shore.camera],
        "both folders": [shore.camera, shore.root],
    }
    assert (0, PATHS) == (lambda ended: (ended.status, ended.paths))(gather(*named[where]))


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["gone.zip"], "there is no file gone.zip."),
        (["../DCIM"], "there is no archive in ../DCIM; its name would be like journal-"),
        (["a.zip"], "a.zip is not taken: it is not an archive from the phone"),
        (["locked.zip.locked"], "there is no terminal to ask on; use --passphrase-file, or set JOURNAL_PASSPHRASE."),
        (["locked.zip.locked", "--passphrase-file", "none.txt"], "none.txt cannot be read as text"),
        (["locked.zip.locked", "--passphrase-file", "empty.txt"], "its first line is empty"),
        (["locked.zip.locked", "--passphrase-file", "wrong.txt"], "the passphrase is wrong"),
    ],
)
def test_what_cannot_be_taken_is_refused_in_one_line(shore: Shore, gather: Gather, words: list[str], says: str) -> None:
    shore.write({"a.zip": "no", "locked.zip.locked": locked(archive(RYE), "right"), "empty.txt": "", "wrong.txt": "x"})
    before = shore.visible()
    ended = gather(*words)
    assert (2, "", before) == (ended.status, ended.out, shore.visible())
    assert says in ended.err
    assert 1 == len(ended.err.splitlines())


def test_of_several_one_that_is_refused_is_named_and_the_others_come_in(shore: Shore, gather: Gather) -> None:
    bad = write(shore.camera, zipped([("../../x", b"")]), "journal-bad.zip")
    ended = gather(bad, write(shore.camera, archive(RYE)))
    assert (1, ["notes/2026-11-25-note/note.md"]) == (ended.status, ended.paths)
    assert f'{bad} is not taken: it holds "../../x"' in ended.err


@pytest.mark.parametrize("way", ["file", "environment"])
def test_a_locked_archive_comes_in_with_its_passphrase(
    shore: Shore, gather: Gather, way: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    path = write(shore.camera, locked(archive(RYE), "fünf words"), "journal-1.zip.locked")
    (tmp_path / "words.txt").write_text("fu\u0308nf words\n", encoding="utf-8")
    if way == "environment":
        monkeypatch.setenv("JOURNAL_PASSPHRASE", "fünf words")
    ended = gather(path, *(["--passphrase-file", tmp_path / "words.txt"] if way == "file" else []))
    assert (0, ["notes/2026-11-25-note/note.md"]) == (ended.status, ended.paths)
    assert "words" not in ended.err


def test_a_passphrase_is_asked_for_once(shore: Shore, gather: Gather, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    monkeypatch.setattr("journal.commands.gather.can_ask", lambda: True)
    monkeypatch.setattr("click.prompt", lambda *words, **more: asked.append((words, more["hide_input"])) or "right")
    for name, record in (("a", RYE), ("b", PINS)):
        write(shore.camera, locked(archive(record, name=name), "right"), f"journal-{name}.zip.locked")
    assert 0 == gather(shore.camera).status
    assert [(("Passphrase of the archive",), True)] == asked


def test_what_is_missing_is_named_with_what_to_do(shore: Shore, gather: Gather) -> None:
    first, _ = archive_in_parts({f"{FIND.folder}/photo-02.jpg": [2]}, 2, FIND, RYE)
    path = write(shore.camera, first.replace(FIND.photos["photo-01.jpg"], photo(77)))
    ended = gather(path)
    assert (1, 2) == (ended.status, len(ended.paths))
    assert [
        f"Missing: {FIND.folder}/photo-01.jpg (its bytes are not those that the phone wrote)",
        f"Missing: {FIND.folder}/photo-02.jpg (it is in no part given)",
        "What is missing is still on the phone: give all parts of the archive, or export it again and gather that",
        "2 records came in; 2 files missing",
    ] == ended.err.splitlines()


def test_one_that_is_cut_off_is_named(shore: Shore, gather: Gather) -> None:
    many = Saved("find", "F26-016-K7Q4", photos={f"photo-{n:02}.jpg": photo(n) for n in range(1, 31)}, seed="many")
    whole = archive(RYE, many)
    path = write(shore.camera, whole[: whole.index(many.photos["photo-01.jpg"])])
    ended = gather(path)
    assert f"{path} is cut off" in ended.err.splitlines()
    assert "Missing: 18 more files" in ended.err.splitlines()
    assert "Receipt code" not in ended.err


def test_what_the_author_should_know_is_said(shore: Shore, gather: Gather) -> None:
    shore.write({"finds/mine.md": "---\nkind: find\nid: F26-015-K7Q4\ndate: 2026-11-01\n---\n"})
    ended = gather(write(shore.camera, archive(FIND, PINS, RYE)))
    assert (
        "F26-015-K7Q4 is the ID of something else in this journal; the new entry is F26-016-K7Q4, in all of this "
        "archive that names it"
    ) in ended.err.splitlines()
    shore.write({"notes/2026-11-25-note/note.md": RYE.entry + b"Mine.\n"})
    later = [RYE.later(text="Rye and bran.\n"), PINS.later(photos={}), FIND]
    ended = gather(write(shore.camera, archive(*later, name="later")))
    assert ["notes/2026-11-25-note-B-031/note.md", "notes/2026-11-25-note/note-revision-2.txt"] == sorted(ended.paths)
    assert [
        "notes/2026-11-25-note/note.md was changed both here and on the phone; the phone's text is next to it, in "
        "note-revision-2.txt: merge them by hand",
        "notes/2026-11-25-note-B-031/note.md: the text was changed on the phone; the earlier one is next to it, in "
        "note-revision-1.txt",
        "notes/2026-11-25-note-B-031/note.md: photo-01.webp was removed on the phone; delete it here too if you do not "
        "want it",
    ] == [line for line in ended.err.splitlines() if line.startswith("notes/")]
    assert ended.err.splitlines()[-1] == "2 records came in; 1 already in the journal"


def test_a_photo_that_the_phone_has_lost_is_not_called_removed(shore: Shore, gather: Gather) -> None:
    """A later text lists it, but its bytes are no longer on the phone: the one in the journal may be the last."""
    gather(write(shore.camera, archive(PINS)))
    ended = gather(write(shore.camera, archive(PINS.later(photos={}, keys={"photos": "photo-01.webp"}), name="later")))
    lines = [line for line in ended.err.splitlines() if "photo-01.webp" in line]
    assert len(lines) == 1
    assert lines[0].endswith("photo-01.webp is in the text from the phone, which has lost the photo: keep the one here")


def test_a_disk_that_is_full_is_said_with_what_came_in(
    shore: Shore, gather: Gather, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(shore.camera, archive(*ALL))
    moved: list[Path] = []

    def refuse(disk: GatherDisk, staged: Path, final: Path) -> None:
        if len(moved) == 2:
            raise OSError(errno.ENOSPC, "No space left on device", str(final))
        moved.append(final)
        staged.rename(final)

    monkeypatch.setattr(GatherDisk, "move", refuse)
    ended = gather(path)
    assert (2, PATHS[:2]) == (ended.status, ended.paths)
    assert "the disk is full" in ended.err
    assert ended.err.endswith("2 records imported; run the same command again for the rest.\n")
    monkeypatch.undo()
    again = gather(path, shore.root)
    assert (0, PATHS[2:]) == (again.status, again.paths)
    assert again.err.splitlines()[-1] == "3 records with 1 photo came in; 2 records of a stopped run completed"


def test_no_control_character_reaches_the_terminal(shore: Shore, gather: Gather) -> None:
    bad = write(shore.camera, zipped([("\x1b[31mred\x07", b"")]), "journal-\x1b.zip")
    assert not {"\x1b", "\x07"} & set(gather(bad).err)
