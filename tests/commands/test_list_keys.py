"""`journal keys`, in this process."""

from __future__ import annotations

import tomllib

import pytest

from journal.cli import cli
from journal.commands.console import run
from journal.reading.keys import KEYS, KINDS
from journal.reading.setting_help import example_of
from journal.reading.settings_file import SETTINGS


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_of_the_kind_is_printed_with_meaning_and_example(
    kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert 0 == run(cli, ["keys", kind])
    lines = capsys.readouterr().out.splitlines()
    assert all(len(line) <= 100 for line in lines)
    for name in KEYS[kind]:
        at = next(at for at, line in enumerate(lines) if line in (name, f"{name} (required)"))
        below = lines[at + 1 : next((end for end in range(at + 1, len(lines)) if not lines[end]), len(lines))]
        assert below[0].startswith("  means ")
        assert any(line.startswith("  takes ") for line in below)
        assert any(line.startswith(f"  example     {name}: ") for line in below)


def test_a_harvest_is_shown_as_a_grower_reads_it(capsys: pytest.CaptureFixture[str]) -> None:
    run(cli, ["keys", "note"])
    said = capsys.readouterr().out
    assert (
        "harvest\n  means       fresh mass harvested, trimmed and unwashed\n"
        "  takes       a number in g, kg, oz or lb\n  example     harvest: 412 g\n"
    ) in said
    assert "wet mass" not in said


def test_without_a_kind_every_key_of_every_kind_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert 0 == run(cli, ["keys"])
    lines = {line.removesuffix(" (required)") for line in capsys.readouterr().out.splitlines()}
    assert {name for keys in KEYS.values() for name in keys} <= lines


def test_every_setting_is_printed_with_a_line_that_is_read(capsys: pytest.CaptureFixture[str]) -> None:
    assert 0 == run(cli, ["keys", "settings"])
    said = capsys.readouterr().out
    assert '\nelevation\n  means       where you sterilise, above sea level, like "120 m" or "390 ft"' in said
    assert 'shelf_area = "1.7 m²"' in said
    for name, settings in SETTINGS.items():
        assert f"[{name}]" in said
        lines = [example_of(one) for one in settings if one.name != "points"]
        assert all(f"  example     {line}\n" in said for line in lines)
        for line, one in zip(lines, (one for one in settings if one.name != "points"), strict=True):
            assert one.read(tomllib.loads(line)[one.name]).remarks == ()


def test_another_word_is_told_the_kinds(capsys: pytest.CaptureFixture[str]) -> None:
    assert 2 == run(cli, ["keys", "harvest"])
    assert "'find', 'culture', 'batch', 'note', 'tent', 'device', 'settings'" in capsys.readouterr().err


def test_a_tent_entry_is_called_as_where_one_is_begun(capsys: pytest.CaptureFixture[str]) -> None:
    assert 0 == run(cli, ["keys", "tent"])
    said = capsys.readouterr().out
    assert 0 == run(cli, ["keys", "tent-entry"])
    assert said == capsys.readouterr().out
