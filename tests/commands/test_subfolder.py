"""In a folder of a journal every command works on that journal, and says so; none makes another one there."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from journal.cli import cli
from journal.commands.build_again import is_over
from journal.commands.console import run
from tests.importing.shore import Ended, Shore

Run = Callable[..., Ended]
SHARE = '\n[shares.mentor]\nabout = "B-031"\n'


@pytest.fixture
def journal(shore: Shore, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command, in the current folder."""

    def command(*words: str | Path) -> Ended:
        capsys.readouterr()
        status = run(cli, [*map(str, words)])
        said = capsys.readouterr()
        return Ended(status, said.out, said.err)

    return command


@pytest.fixture
def below(shore: Shore) -> Path:
    shore.write({"journal.toml": shore.text("journal.toml") + SHARE})
    return shore.root / "batches" / "B-031"


COMMANDS = (
    ("check",),
    ("check", "--explain", "batches/B-031/batch.md"),
    ("export",),
    ("readers", "list"),
    ("share", "mentor", "--preview", "--json"),
)


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_it_prints_what_it_prints_in_the_journals_own_folder(
    shore: Shore, below: Path, journal: Run, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    expected = journal(*words)
    monkeypatch.chdir(below)
    ended = journal(*words)
    assert (expected.status, expected.out) == (ended.status, ended.out)
    notice = f"The journal is {shore.root}.\n"
    assert (f"{notice}{expected.err}", False) == (ended.err, notice in expected.err)


def test_a_build_there_puts_the_site_beside_the_journal(
    shore: Shore, below: Path, journal: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = shore.visible()
    monkeypatch.chdir(below)
    ended = journal("build")
    assert 0 == ended.status
    assert ended.err.startswith(f"The journal is {shore.root}.\n")
    assert (shore.root.parent / "site" / "index.html").is_file()
    assert before == shore.visible()


def test_a_new_entry_goes_where_it_belongs_and_its_path_can_be_opened_from_there(
    shore: Shore, below: Path, journal: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(below.parent)
    note, find = journal("new", "note", "--about", "B-031"), journal("new", "find")
    assert (0, 0) == (note.status, find.status)
    assert Path(note.out.strip()).parent == Path("B-031")
    assert "about: B-031" in Path(note.out.strip()).read_text(encoding="utf-8")
    assert Path(find.out.strip()).resolve().is_relative_to(shore.root / "finds")
    assert "id: F26-002" in Path(find.out.strip()).read_text(encoding="utf-8")


def test_photos_and_labels_and_a_loggers_file_find_it_too(
    shore: Shore, below: Path, journal: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    shore.photo("IMG_0533.jpg")
    (below / "log.csv").write_text("Time,Temperature (°C)\n2026-10-13 07:00,14.1\n2026-10-13 08:00,14.2\n")
    monkeypatch.chdir(below)
    answers = ("--tent", "wash-house", "--time", "Time", "--temperature", "2", "--humidity", "none")
    for words in (
        ("attach", "B-031", shore.camera),
        ("labels", "B-031", "--to", shore.root.parent / "labels.html"),
        ("logger", "log.csv", *answers, "--time-zone", "UTC", "--yes"),
    ):
        ended = journal(*words)
        assert 0 == ended.status, ended.err
        assert ended.err.startswith(f"The journal is {shore.root}.\n")
    assert 'files = "batches/B-031/log.csv"' in shore.text("journal.toml")


def test_a_folder_of_a_journal_that_is_named_is_refused_with_where_the_journal_is(
    shore: Shore, below: Path, journal: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = shore.visible()
    for words in (
        ("build", below), ("check", "batches"), ("export", below), ("new", "note", below, "--about", "B-031"),
        ("show", below), ("share", "mentor", below), ("readers", "list", "--in", below),
        ("labels", "B-031", "--into", below), ("receive", below), ("logger", below / "log.csv", below),
    ):  # fmt: skip
        ended = journal(*words)
        folder = next(one for one in (below, "batches") if one in words)
        assert (2, "") == (ended.status, ended.out)
        assert (
            f"{folder} is a folder of the journal {shore.root}; name the journal itself, or no folder.\n" == ended.err
        )
    monkeypatch.chdir(below)
    assert 2 == journal("check", ".").status
    assert before == shore.visible()
    assert not (shore.root / "batches" / "site").exists()


def test_a_folder_that_is_not_in_the_journal_is_not_to_become_a_journal_there(shore: Shore, journal: Run) -> None:
    ended = journal("build", "my")
    assert f"there is no folder my in the journal {shore.root}; name the journal itself, or no folder.\n" == ended.err


def test_no_journal_is_started_in_another(shore: Shore, below: Path, journal: Run) -> None:
    before = shore.visible()
    for folder in (below, "second", below / "deep" / "second"):
        ended = journal("start", folder, "--title", "Two", "--author", "P", "--time-zone", "UTC", "--units", "metric")
        assert 2 == ended.status
        assert (
            f"{folder} is in the journal {shore.root}, which would read the new one's entries as its own; "
            "name a folder outside it.\n"
        ) == ended.err
    assert before == shore.visible()


def test_the_nearest_settings_count(shore: Shore, below: Path, journal: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    (below / "deep" / "er").mkdir(parents=True)
    (below / "journal.toml").write_text('[journal]\ntitle = "Inner"\n', encoding="utf-8")
    monkeypatch.chdir(below / "deep" / "er")
    ended = journal("export")
    assert ("Inner", f"The journal is {below}.\n") == (json.loads(ended.out)["journal"]["title"], ended.err)


def test_a_folder_of_entries_with_no_settings_anywhere_is_a_journal_as_it_is(
    shore: Shore, journal: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    (shore.root / "journal.toml").unlink()
    monkeypatch.chdir(shore.root / "batches")
    ended = journal("export")
    assert (0, [], "") == (ended.status, json.loads(ended.out)["finds"], ended.err)
    monkeypatch.chdir(shore.root)
    assert 1 == len(json.loads(journal("export", ".").out)["finds"])


def test_a_folder_that_was_once_built_by_itself_is_not_told_to_be_unchanged(
    shore: Shore, below: Path, journal: Run
) -> None:
    settings = shore.text("journal.toml")
    (shore.root / "journal.toml").unlink()
    target = shore.root.parent / "one-batch"
    words = ["build", str(below), "--to", str(target)]
    assert 0 == journal(*words).status
    shore.write({"journal.toml": settings})
    assert not is_over(words)
