"""`journal new`, as an author types it."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from journal.cli import cli
from journal.commands import new
from journal.problems import Refusal

FIND = "---\nkind: find\nid: F26-009\ndate: 2026-09-12\n---\n"


@pytest.fixture
def root(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "my").mkdir()
    (tmp_path / "my" / "journal.toml").write_text('[tents.wash-house]\nname = "Tent"\n', encoding="utf-8")
    (tmp_path / "my" / "f.md").write_text(FIND, encoding="utf-8")
    monkeypatch.chdir(tmp_path / "my")
    return tmp_path / "my"


def add(*words: str, typed: str = "") -> tuple[str, Result]:
    """The text of the new entry, and what was said."""
    done = CliRunner().invoke(cli, ["new", *words], input=typed)
    assert 0 == done.exit_code, done.output
    return Path(done.stdout.strip()).read_text(encoding="utf-8"), done


def test_in_a_terminal_the_form_of_a_culture_is_asked(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(new, "can_ask", lambda: True)
    text, done = add("culture", "--about", "F26-009", typed="pate\nPlate\n")
    assert "\nform: plate\n" in text
    assert "is not a form" in done.stderr
    text, done = add("culture", "--about", "F26-009", typed="\n")
    assert "\nform:\n" in text
    text, done = add("culture", "--about", "F26-009", "--form", "slant")
    assert ("\nform: slant\n" in text, "") == (True, done.stderr)


def test_in_a_script_the_form_that_is_missing_is_said(root: Path) -> None:
    text, done = add("culture", "--about", "F26-009")
    assert "\nform:\n" in text
    assert "\nmethod:\n" in text
    assert "Its form is missing: write it there, or give --form (plate, slant, liquid" in done.stderr


def test_a_culture_of_what_is_not_there_is_refused_before_anything_is_asked(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(new, "can_ask", lambda: True)
    done = CliRunner().invoke(cli, ["new", "culture", "--about", "F26-090"])
    assert isinstance(done.exception, Refusal)
    assert "Form" not in done.output


@pytest.mark.parametrize("words", [("note", "--about", "wash-house"), ("tent-entry",), ("tent",)])
def test_an_entry_of_a_tent_is_made_by_each_name_for_it(root: Path, words: tuple[str, ...]) -> None:
    text, done = add(*words)
    assert text.startswith("---\nkind: tent\n")
    assert ("note" in words) == ("wash-house is a tent, so this is a tent entry." in done.stderr)


@pytest.mark.parametrize("kind", ["tent-entry", "device"])
def test_where_there_is_no_tent_yet_its_lines_are_shown(root: Path, kind: str) -> None:
    (root / "journal.toml").write_text("", encoding="utf-8")
    _, done = add(kind)
    assert "add these lines there, with an ID of your own:\n[tents.tent-1]\n" in done.stderr
