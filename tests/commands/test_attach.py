"""`journal attach`, as an author types it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from journal.commands.prompts import ask_day
from tests.importing.shore import FILES, Shore


def test_photos_of_a_day_become_a_note_beside_their_batch(shore: Shore) -> None:
    late = shore.photo("IMG_0534.jpg", "2026:10:27 07:40:00", 1)
    early = shore.photo("IMG_0533.jpg", "2026:10:27 07:31:00", 2)
    ended = shore.attach("b-031", late, early, "--stage", "Pinning")
    assert (0, ["batches/B-031/2026-10-27-pinning.md"]) == (ended.status, ended.paths)
    lines = (
        "---", "kind: note", "about: B-031", "date: 2026-10-27", "stage: pinning",
        "photos:", "  - IMG_0533.jpg", "  - IMG_0534.jpg", "---", "",
    )  # fmt: skip
    assert "\n".join(lines) == shore.text("batches/B-031/2026-10-27-pinning.md")
    assert early.read_bytes() == (shore.root / "batches/B-031/IMG_0533.jpg").read_bytes()
    assert late.read_bytes() == (shore.root / "batches/B-031/IMG_0534.jpg").read_bytes()


def test_the_journal_reads_it_as_meant_and_finds_no_problems(shore: Shore) -> None:
    shore.photo("IMG_0533.jpg")
    shore.attach("B-031.2", shore.camera, "--stage", "pinning")
    journal = shore.journal()
    assert () == journal.problems
    (note,) = journal.notes
    assert (["B-031.2"], "pinning") == ([str(ref) for ref in note.about], note.stage)
    assert "2026-10-27T07:31:00+00:00" == note.date.iso
    assert ["batches/B-031/IMG_0533.jpg"] == [use.path for use in note.photos]


@pytest.mark.parametrize(
    ("path", "id"),
    [
        ("finds/alder/2026-10-27.md", "F26-001"),
        ("cultures/PP-26A/2026-10-27.md", "PP-26A"),
        ("cultures/PP-26A/2026-10-27-PP-26A.3.md", "pp-26a.3"),
        ("batches/B-031/2026-10-27.md", "B-031"),
        ("devices/fan-1/2026-10-27.md", "FAN-1"),
        ("tents/2026-10-27-wash-house.md", "wash-house"),
    ],
)
def test_every_kind_has_its_place(shore: Shore, path: str, id: str) -> None:
    shore.photo("IMG_0533.jpg")
    assert [path] == shore.attach(id, shore.camera).paths
    journal = shore.journal()
    assert () == journal.problems
    (entry,) = [one for one in (*journal.notes, *journal.tent_entries) if one.path == path]
    assert 1 == len(entry.photos)


def test_photos_of_several_days_need_by_day(shore: Shore) -> None:
    shore.photo("a.jpg", "2026:10:27 07:31:00", 1)
    shore.photo("b.jpg", "2026:10:28 07:31:00", 2)
    before = shore.visible()
    refused = shore.attach("B-031", shore.camera)
    assert (2, before) == (refused.status, shore.visible())
    for word in ("2026-10-27 and 2026-10-28", "--by-day"):
        assert word in refused.err
    ended = shore.attach("B-031", shore.camera, "--by-day")
    assert ["batches/B-031/2026-10-27.md", "batches/B-031/2026-10-28.md"] == ended.paths
    assert () == shore.journal().problems


def test_a_dry_run_shows_every_photo_and_writes_nothing(shore: Shore) -> None:
    shore.photo("a.jpg", "2026:10:27 07:31:00", 1)
    shore.photo("b.jpg", "2026:10:28 07:31:00", 2)
    shore.photo("c.jpg", "", 3)
    (shore.camera / "d.jpg").write_bytes(b"")
    before = shore.visible()
    ended = shore.attach("B-031", shore.camera, "--by-day", "--dry-run")
    assert (1, before, []) == (ended.status, shore.visible(), shore.hidden())
    camera = shore.camera
    expected = [
        "Photo Taken In the journal",
        "batches/B-031/2026-10-27.md: a new note with 1 photo",
        f"{camera}/a.jpg 2026-10-27 07:31 a.jpg",
        "batches/B-031/2026-10-28.md: a new note with 1 photo",
        f"{camera}/b.jpg 2026-10-28 07:31 b.jpg",
        "No time in the photo: you are asked for its day, or give it with --date 2026-10-27",
        f"{camera}/c.jpg",
        "Left out: is empty (0 bytes); copy it from the camera again",
        f"{camera}/d.jpg",
    ]
    assert expected == [" ".join(line.split()) for line in ended.paths]


def test_a_dry_run_prints_its_table_before_it_refuses(shore: Shore) -> None:
    shore.photo("a.jpg", "2026:10:27 07:31:00", 1)
    shore.photo("b.jpg", "2026:10:28 07:31:00", 2)
    ended = shore.attach("B-031", shore.camera, "--dry-run")
    assert (2, 5) == (ended.status, len(ended.paths))
    assert "--by-day" in ended.err


def test_twice_is_as_good_as_once(shore: Shore) -> None:
    shore.photo("a.jpg", shade=1)
    shore.photo("b.jpg", shade=2)
    shore.attach("B-031", shore.camera)
    before = shore.visible()
    again = shore.attach("B-031", shore.camera)
    assert (0, [], before) == (again.status, again.paths, shore.visible())
    assert "2 already in the journal" in again.err


def test_what_any_entry_has_is_not_taken_in_again_whatever_its_name(shore: Shore) -> None:
    shore.photo("a.jpg", shade=1)
    shore.attach("PP-26A", shore.camera)
    (shore.camera / "a.jpg").rename(shore.camera / "renamed.jpg")
    before = shore.visible()
    again = shore.attach("B-031", shore.camera)
    assert (0, before) == (again.status, shore.visible())
    assert "cultures/PP-26A/a.jpg, in cultures/PP-26A/2026-10-27.md" in again.err


def test_more_photos_of_a_day_make_a_second_note_and_touch_no_other(shore: Shore) -> None:
    shore.photo("a.jpg", "2026:10:27 07:31:00", 1)
    shore.attach("B-031", shore.camera)
    note = shore.root / "batches/B-031/2026-10-27.md"
    note.write_text(note.read_text() + "Written by hand since.\n")
    before = shore.visible()
    shore.photo("b.jpg", "2026:10:27 19:31:00", 2)
    ended = shore.attach("B-031", shore.camera)
    assert ["batches/B-031/2026-10-27-2.md"] == ended.paths
    after = shore.visible()
    assert before == {path: after[path] for path in before}
    assert "  - b.jpg\n---\n" in after["batches/B-031/2026-10-27-2.md"].decode()
    assert () == shore.journal().problems


def test_another_photo_of_that_name_gets_a_number(shore: Shore) -> None:
    first = shore.photo("one/IMG_0001.jpg", "2026:10:27 07:31:00", 1)
    second = shore.photo("two/img_0001.JPG", "2026:10:27 07:32:00", 2)
    shore.attach("B-031", shore.camera)
    assert first.read_bytes() == (shore.root / "batches/B-031/IMG_0001.jpg").read_bytes()
    assert second.read_bytes() == (shore.root / "batches/B-031/img_0001-2.JPG").read_bytes()
    assert () == shore.journal().problems


def test_the_same_photo_named_twice_is_taken_in_once(shore: Shore) -> None:
    photo = shore.photo("IMG_0001.jpg")
    (shore.camera / "IMG_0001 (1).jpg").write_bytes(photo.read_bytes())
    shore.attach("B-031", shore.camera, photo)
    assert 1 == sum(content == photo.read_bytes() for content in shore.visible().values())
    assert () == shore.journal().problems


def test_a_photo_that_shows_no_time_is_left_out_where_nobody_can_be_asked(shore: Shore) -> None:
    shore.photo("a.jpg", shade=1)
    shore.photo("b.jpg", "", 2)
    ended = shore.attach("B-031", shore.camera)
    assert (1, ["batches/B-031/2026-10-27.md"]) == (ended.status, ended.paths)
    assert "b.jpg" not in shore.text("batches/B-031/2026-10-27.md")
    assert "b.jpg has no time in it" in ended.err
    assert "--date" in ended.err
    assert 1 == shore.attach("B-031", shore.camera).status


def test_a_day_that_is_given_is_only_for_photos_that_tell_none(shore: Shore) -> None:
    shore.photo("a.jpg", "2026:10:28 07:31:00", 1)
    shore.photo("b.jpg", "", 2)
    ended = shore.attach("B-031", shore.camera, "--date", "2026-10-27", "--by-day")
    assert (0, 2) == (ended.status, len(ended.paths))
    assert "  - b.jpg\n" in shore.text("batches/B-031/2026-10-27.md")
    assert "  - a.jpg\n" in shore.text("batches/B-031/2026-10-28.md")
    assert () == shore.journal().problems


@pytest.mark.parametrize("day", ["", "2026-10", "about 2026-10-03", "soon", "2026-02-30"])
def test_a_day_has_to_be_a_whole_one(shore: Shore, day: str) -> None:
    shore.photo("b.jpg", "")
    refused = shore.attach("B-031", shore.camera, "--date", day)
    assert 2 == refused.status
    assert "2026-10-27" in refused.err


@pytest.mark.parametrize(
    ("day", "tags"),
    [
        # 23:30 on a phone that says it is an hour ahead of UTC is that day, wherever the journal is kept.
        ("2026-10-27", {"OffsetTimeOriginal": "+01:00"}),
        ("2026-10-27", {"OffsetTimeOriginal": "-09:00"}),
        # By GPS the clock is two hours ahead; the day is still the one that it showed.
        ("2026-10-27", {"GPSDateStamp": "2026:10:27", "GPSTimeStamp": [(21, 1), (30, 1), (0, 1)]}),
        ("2026-10-27", {}),
    ],
)
def test_the_day_is_that_of_the_clock_it_was_taken_by(shore: Shore, day: str, tags: dict[str, object]) -> None:
    shore.photo("a.jpg", "2026:10:27 23:30:00", **tags)
    assert [f"batches/B-031/{day}.md"] == shore.attach("B-031", shore.camera).paths
    assert () == shore.journal().problems


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("did you mean B-031?", ("B-013",)),
        ("there is no Q in this journal", ("Q",)),
        ("B-031 has 4 units, so there is no B-031.5", ("B-031.5",)),
        ("fan-1 is a device and has no part 2", ("fan-1.2",)),
        ("cannot be an ID", ("B/031",)),
        ("did you mean pinning?", ("B-031", "--stage", "pining")),
        ("is not a stage of a find", ("F26-001", "--stage", "pinning")),
        ("faulty, dead, put away", ("fan-1", "--stage", "spent")),
        ("which has no stages", ("wash-house", "--stage", "pinning")),
    ],
)
def test_what_does_not_fit_is_one_sentence_and_nothing_is_written(
    shore: Shore, said: str, words: tuple[str, ...]
) -> None:
    shore.photo("a.jpg")
    before = shore.visible()
    refused = shore.attach(words[0], shore.camera, *words[1:])
    assert (2, "", before) == (refused.status, refused.out, shore.visible())
    assert 1 == len(refused.err.splitlines())
    assert said in refused.err


def test_a_name_that_is_not_there_stops_it_all(shore: Shore) -> None:
    shore.photo("a.jpg")
    before = shore.visible()
    refused = shore.attach("B-031", shore.camera, shore.camera / "IMG_9.jpg")
    assert (2, before) == (refused.status, shore.visible())
    assert "IMG_9.jpg" in refused.err


def test_an_entry_that_is_left_out_of_the_journal_can_have_no_note(shore: Shore) -> None:
    shore.write({"batches/B-032/batch.md": "---\nkind: batch\nid: B-032\nculture: PP-26B\n---\n"})
    shore.photo("a.jpg")
    refused = shore.attach("B-032", shore.camera)
    assert 2 == refused.status
    assert "batches/B-032/batch.md has no date" in refused.err


def test_photos_that_only_lie_beside_an_entry_stay_its_own(shore: Shore, photo_bytes: Callable[..., bytes]) -> None:
    shore.write({"batches/B-031/first.jpg": photo_bytes("2026:10:06 12:00:00", 9)})
    shore.photo("a.jpg")
    assert ["batches/B-031/notes/2026-10-27.md"] == shore.attach("B-031", shore.camera).paths
    journal = shore.journal()
    assert () == journal.problems
    assert ["batches/B-031/first.jpg"] == [use.path for use in journal.batches[0].photos]


def test_a_photo_put_beside_the_entry_by_hand_is_listed_and_not_copied(
    shore: Shore, photo_bytes: Callable[..., bytes]
) -> None:
    shore.write({"batches/B-031/2026-10-20.md": "---\nkind: note\n---\nMisted.\n"})
    shore.write({"batches/B-031/IMG_0553.jpg": photo_bytes("2026:10:27 12:00:00", 9)})
    before = shore.visible()
    ended = shore.attach("B-031", "batches/B-031/IMG_0553.jpg")
    assert (0, ["batches/B-031/2026-10-27.md"]) == (ended.status, ended.paths)
    assert {*before, "batches/B-031/2026-10-27.md"} == set(shore.visible())
    assert () == shore.journal().problems


def test_a_photo_elsewhere_in_the_journal_is_neither_moved_nor_doubled(
    shore: Shore, photo_bytes: Callable[..., bytes]
) -> None:
    shore.write({"inbox/IMG_0553.jpg": photo_bytes("2026:10:27 12:00:00", 9)})
    before = shore.visible()
    ended = shore.attach("B-031", "inbox")
    assert (1, [], before) == (ended.status, ended.paths, shore.visible())
    assert "move that file to batches/B-031" in ended.err
    assert ["inbox/2026-10-27-B-031.md"] == shore.attach("B-031", "inbox", "--into", "inbox").paths
    assert () == shore.journal().problems


def test_into_names_another_folder_of_the_journal(shore: Shore) -> None:
    shore.photo("a.jpg")
    ended = shore.attach("B-031", shore.camera, "--into", "photos/2026")
    assert ["photos/2026/2026-10-27-B-031.md"] == ended.paths
    assert (shore.root / "photos/2026/a.jpg").is_file()
    assert () == shore.journal().problems


def test_into_names_the_journal_from_elsewhere(shore: Shore, monkeypatch: pytest.MonkeyPatch) -> None:
    shore.photo("a.jpg")
    monkeypatch.chdir(shore.camera)
    ended = shore.attach("B-031", "a.jpg", "--into", "../my")
    assert [str(shore.root / "batches/B-031/2026-10-27.md")] == ended.paths


def test_where_there_is_no_journal_it_says_how_to_name_one(shore: Shore, monkeypatch: pytest.MonkeyPatch) -> None:
    shore.photo("a.jpg")
    monkeypatch.chdir(shore.camera)
    refused = shore.attach("B-031", "a.jpg")
    assert (2, 1, True) == (refused.status, len(refused.err.splitlines()), "--into my-journal" in refused.err)


def test_a_folder_of_the_journal_is_as_good_to_stand_in_as_the_journal(
    shore: Shore, monkeypatch: pytest.MonkeyPatch
) -> None:
    shore.photo("a.jpg")
    monkeypatch.chdir(shore.root / "batches/B-031")
    assert ["2026-10-27.md"] == shore.attach("B-031", shore.camera).paths


def test_into_leads_nowhere_else(shore: Shore, tmp_path: Path) -> None:
    shore.photo("a.jpg")
    (tmp_path / "other").mkdir()
    (shore.root / "away").symlink_to(tmp_path / "other")
    (shore.root / "site").mkdir()
    (shore.root / "site/.journal-site").touch()
    before = shore.visible()
    for into in ("../other", "../new", "away", "away/in", ".hidden", "a/.b", "site", "site/x", "journal.toml", "a\nb"):
        refused = shore.attach("B-031", shore.camera, "--into", into)
        assert (2, before) == (refused.status, shore.visible()), into
        assert "--into" in refused.err, into
    assert [] == list((tmp_path / "other").iterdir())


def test_into_a_folder_where_a_note_would_have_photos_that_are_not_its_own_is_refused(
    shore: Shore, photo_bytes: Callable[..., bytes]
) -> None:
    shore.write({"inbox/a.jpg": photo_bytes("2026:10:27 12:00:00", 8), "inbox/b.jpg": photo_bytes("", 9)})
    before = shore.visible()
    refused = shore.attach("B-031", "inbox/a.jpg", "--into", "inbox")
    assert (2, before) == (refused.status, shore.visible())
    assert "b.jpg" in refused.err


def test_a_day_that_cannot_be_is_pointed_at(shore: Shore) -> None:
    shore.photo("a.jpg", "2026:10:01 12:00:00", 1)
    shore.photo("b.jpg", "2126:10:01 12:00:00", 2)
    ended = shore.attach("B-031", shore.camera, "--by-day")
    assert "2026-10-01 is before B-031 began (2026-10-06)" in ended.err
    assert "2126-10-01 is in the future" in ended.err


def test_a_folder_that_cannot_be_written_is_one_sentence(shore: Shore) -> None:
    (shore.root / "cultures/PP-26A").write_text("a file where the folder has to be")
    shore.photo("a.jpg")
    before = shore.visible()
    refused = shore.attach("PP-26A", shore.camera)
    assert (2, before, 1) == (refused.status, shore.visible(), len(refused.err.splitlines()))
    assert "cultures/PP-26A: not a directory" in refused.err


@pytest.mark.skipif(os.name == "nt" or (hasattr(os, "geteuid") and os.geteuid() == 0), reason="root may write anywhere")
def test_a_read_only_folder_is_one_sentence(shore: Shore) -> None:
    shore.photo("a.jpg")
    (shore.root / "batches/B-031").chmod(0o555)
    try:
        refused = shore.attach("B-031", shore.camera)
    finally:
        (shore.root / "batches/B-031").chmod(0o755)
    assert (2, 1) == (refused.status, len(refused.err.splitlines()))
    assert "permission denied" in refused.err


def test_the_journals_files_stay_as_they_are(shore: Shore) -> None:
    for number in range(4):
        shore.photo(f"{number}.jpg", f"2026:10:2{number} 10:00:00", number)
    shore.attach("B-031", shore.camera, "--by-day")
    shore.attach("wash-house", shore.camera, "--by-day")
    visible = shore.visible()
    assert {path: text.encode() for path, text in FILES.items()} == {path: visible[path] for path in FILES}


def test_many_photos_show_how_far_it_is(shore: Shore, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("journal.commands.console.FIRST_SHOWN_AFTER_S", -1.0)
    for number in range(12):
        shore.photo(f"{number}.jpg", shade=number)
    ended = shore.attach("B-031", shore.camera)
    for words in ("Looking for photos already in the journal", "Reading photos", "Copying photos"):
        assert words in ended.err
    assert "12/12" in ended.err


def test_the_samples_pinning_photos_come_home_from_a_camera(shore: Shore, monkeypatch: pytest.MonkeyPatch) -> None:
    """Taken out of the sample with their notes, and in again: a note of each day, and nothing new to mend."""
    shutil.rmtree(shore.root)
    shutil.copytree(Path(__file__).parents[2] / "sample_entries", shore.root)
    monkeypatch.chdir(shore.root)
    batch = shore.root / "batches/B-031"
    for note in ("2026-10-27-pins.md", "2026-11-20-third-pins.md"):
        (batch / note).unlink()
    for photo in ("IMG_0533.jpg", "IMG_0601.jpg"):
        (batch / photo).rename(shore.camera / photo)
    before = shore.journal()
    ended = shore.attach("B-031", shore.camera, "--stage", "pinning", "--by-day")
    assert ["batches/B-031/2026-10-27-pinning.md", "batches/B-031/2026-11-20-pinning.md"] == ended.paths
    after = shore.journal()
    assert before.problems == after.problems
    new = [note for note in after.notes if note.path in ended.paths]
    assert [("pinning", 1), ("pinning", 1)] == [(note.stage, len(note.photos)) for note in new]


def test_at_a_terminal_the_day_is_asked_for_and_never_guessed(shore: Shore) -> None:
    pty = pytest.importorskip("pty")
    for number, name in enumerate(("a.jpg", "b.jpg", "c.jpg", "d.jpg")):
        shore.photo(name, "", number)
    author, terminal = pty.openpty()
    command = [sys.executable, "-m", "journal", "attach", "B-031", str(shore.camera), "--by-day"]
    attaching = subprocess.Popen(
        command, cwd=shore.root, stdin=terminal, stderr=terminal, stdout=subprocess.PIPE, text=True
    )
    os.close(terminal)
    # A day; the same again with Enter; first no day at all, then left out; another day.
    os.write(author, b"2026-10-27\n\nsoon\nskip\n2026-10-28\n")
    said, _ = attaching.communicate(timeout=120)
    os.close(author)
    assert ["batches/B-031/2026-10-27.md", "batches/B-031/2026-10-28.md"] == said.splitlines()
    assert 1 == attaching.returncode
    assert "photos:\n  - a.jpg\n  - b.jpg\n---\n" in shore.text("batches/B-031/2026-10-27.md")
    assert "photos:\n  - d.jpg\n---\n" in shore.text("batches/B-031/2026-10-28.md")
    assert not (shore.root / "batches/B-031/c.jpg").exists()


def test_where_the_answers_end_the_rest_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("click.termui.visible_prompt_func", _no_more)
    assert None is ask_day("a.jpg", date(2026, 10, 27))


def _no_more(*_: object) -> str:
    raise EOFError
