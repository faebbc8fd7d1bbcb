"""A journal of format 1 stays readable: one of every kind, key and setting, and what was exported of it."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.pipeline import read_files
from journal.problems import Refusal
from journal.reading.keys import COMMON_KEYS, CURRENT_NAMES, KEYS
from journal.reading.settings_file import SETTINGS, read_settings
from journal.settings import FORMAT
from tests.export.formats import FORMATS, changed, exported, written_keys

JOURNAL, EXPORT = FORMATS[0] / "journal", FORMATS[0] / "export"


@pytest.fixture(scope="module")
def now() -> Mapping[str, bytes]:
    return exported(FORMATS[0])


def test_there_is_a_journal_of_every_format() -> None:
    """A change of the format comes with one of its own; those before stay as they are."""
    assert sorted(f"format_{number}" for number in range(1, FORMAT + 1)) == [path.name for path in FORMATS]


def test_every_key_is_in_it_by_each_of_its_names() -> None:
    written = written_keys(FORMATS[0])
    names = {name for _, name in written}
    own = {(kind, name) for kind, keys in KEYS.items() for name in keys if name not in COMMON_KEYS}
    assert set() == own - {(kind, CURRENT_NAMES.get(name, name)) for kind, name in written}
    assert set() == {*COMMON_KEYS, *CURRENT_NAMES} - names


def test_every_setting_is_in_it() -> None:
    document = tomllib.loads((JOURNAL / "journal.toml").read_text(encoding="utf-8"))
    for table, settings in SETTINGS.items():
        found: Any = document[table.partition(".")[0]]
        rows = found if isinstance(found, list) else list(found.values()) if "." in table else [found]
        names = {name for row in rows for name in row}
        assert [] == [one.name for one in settings if not {one.name, one.old} & names], table


def test_it_is_read_as_it_was_when_it_was_written(now: Mapping[str, bytes]) -> None:
    kept = {path.name: path.read_bytes() for path in EXPORT.iterdir()}
    assert [] == changed(kept, now), "see DEVELOPERS.md, How to add a change of the format"
    assert set(kept) == set(now)
    assert [name for name in kept if kept[name] != now[name]] == [], "python tests/export/formats.py adds to it"


def test_nothing_in_it_is_wrong_but_the_letter(now: Mapping[str, bytes]) -> None:
    assert ["letter.md"] == [row["path"] for row in json.loads(now["journal.json"])["problems"]]
    texts = json.loads(now["texts.json"])["public"]
    assert "gate" not in json.dumps(texts)
    assert "An older way" not in json.dumps(texts)


def test_a_value_read_otherwise_is_found_and_one_more_is_not() -> None:
    kept = {"a.json": b'{"rows": [{"g": 5}, {"g": 6}]}', "t.csv": b"id,g\r\nB-1,5\r\n"}
    more = {"a.json": b'{"rows": [{"g": 5, "new": 1}, {"g": 6}], "others": 1}', "t.csv": b"id,new,g\r\nB-1,,5\r\n"}
    less = {"a.json": b'{"rows": [{"g": 5}, {"g": 6.0001}]}', "t.csv": b"id\r\nB-1\r\n"}
    assert [] == changed(kept, more)
    assert ["a.json: rows.1.g was 6, and is 6.0001", "t.csv: 0.g was '5', and is gone"] == changed(kept, less)


@pytest.mark.parametrize("name", ["journal.toml", "settings.toml"])
def test_a_journal_of_a_later_format_is_refused_in_one_line(name: str) -> None:
    with pytest.raises(Refusal) as refusal:
        read_settings(b'# mine\n[journal]\nformat = 7\nwhat_this_is = "unknown"\n', name)
    assert str(refusal.value) == (
        f"{name}:3: this journal is written in format 7, and this program reads format 1; fix: install the newest "
        "version of the program"
    )


def test_a_journal_of_a_later_format_is_not_read_at_all(tmp_path: Path) -> None:
    (tmp_path / "journal.toml").write_text("[journal]\nformat = 2\n")
    with pytest.raises(Refusal, match=r"^journal\.toml:2: this journal is written in format 2"):
        read_files(FileCache(Cache(tmp_path / "cache"), tmp_path, 0), lambda *_: None)


@pytest.mark.parametrize("written", ["0", "-1", "1.5", "true", '"1"', "[1]"])
def test_what_is_not_a_format_is_an_error_and_the_journal_is_read(written: str) -> None:
    settings, problems = read_settings(f'[journal]\nformat = {written}\ntitle = "Mine"\n'.encode())
    assert (1, "Mine") == (settings.format, settings.title)
    assert ["write format = 1"] == [problem.fix for problem in problems]


def test_a_journal_that_names_no_format_is_of_the_first() -> None:
    assert 1 == read_settings(b"[journal]\n")[0].format
