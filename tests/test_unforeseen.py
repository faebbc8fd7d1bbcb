"""What the program itself fails at costs one file, wherever it fails, and is told as that file's problem."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.model import Journal
from journal.problems import Problem
from journal.reading import linking, links, model_entries, photo_claims
from journal.reading.entries import read_entry
from journal.reading.logger_files import read_log
from journal.reading.settings_file import read_settings
from journal.reading.tracks import read_track
from journal.settings import ClimateSource, Settings
from journal.unexpected import attempt, trace, traceback_of, with_traceback_of
from tests.builders import examples

Make = Callable[..., Journal]

ENTRIES = {
    "find.md": "---\nkind: find\nid: F-1\ndate: 2026-09-12\nwhere: 58.30412, -8.90177\n---\n",
    "culture.md": "---\nkind: culture\nid: C-1\ndate: 2026-09-12\nfrom: F-1\n---\n",
    "batch.md": "---\nkind: batch\nid: B-1\ndate: 2026-10-06\nculture: C-1\n---\n",
    "note.md": "---\nkind: note\nabout: B-1\ndate: 2026-11-01\nharvest: 1 kg\nflush: 1\nphotos: pins.jpg\n---\n",
    "tent.md": "---\nkind: tent\nabout: hut\ndate: 2026-10-22\n---\n",
    "device.md": "---\nkind: device\nid: fan-1\ndate: 2026-10-22\ntent: hut\n---\n",
    "journal.toml": "[tents.hut]\n",
}
PHOTOS: dict[str, dict[str, Any]] = {"pins.jpg": {}}
STEPS: dict[str, tuple[Any, str, str]] = {
    "photos of an entry": (photo_claims, "_named", "note.md"),
    "its date": (linking, "stated_date", "culture.md"),
    "its links": (links, "_links_of", "batch.md"),
    "a find": (model_entries, "find_of", "find.md"),
    "a find's place": (linking, "check_places", "find.md"),
    "a note": (model_entries, "note_of", "note.md"),
    "a culture": (model_entries, "culture_of", "culture.md"),
    "a batch": (model_entries, "batch_of", "batch.md"),
    "a tent entry": (model_entries, "tent_entry_of", "tent.md"),
    "a device": (model_entries, "device_of", "device.md"),
    "times": (linking, "check_times", "note.md"),
}


def fails(step: Callable[..., Any], path: str, error: type[BaseException] = KeyError) -> Callable[..., Any]:
    """The same step, but for one entry's, which raises."""

    def failing(first: Any, *more: Any) -> Any:
        if getattr(first, "draft", first).path == path:
            raise error("58.30412")
        return step(first, *more)

    return failing


@pytest.mark.parametrize(("module", "name", "path"), STEPS.values(), ids=STEPS)
def test_an_entry_that_cannot_be_linked_is_left_out_alone(
    make_journal: Make, monkeypatch: pytest.MonkeyPatch, module: Any, name: str, path: str
) -> None:
    whole = make_journal(ENTRIES, PHOTOS)
    monkeypatch.setattr(module, name, fails(getattr(module, name), path))
    journal = make_journal(ENTRIES, PHOTOS)
    left = {entry.path for entry in whole.entries()} - {entry.path for entry in journal.entries()}
    assert {path} == left
    (problem,) = [problem for problem in journal.problems if "a fault in the program" in problem.message]
    assert (path, "error") == (problem.path, problem.severity)
    assert "58.30412" not in str(problem)
    assert problem.fix


def test_who_names_an_entry_that_was_left_out_is_told_that_it_is_not_there(
    make_journal: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(model_entries, "culture_of", fails(model_entries.culture_of, "culture.md"))
    journal = make_journal(ENTRIES)
    assert () == journal.batches[0].cultures
    assert any(p.path == "batch.md" and "C-1, which is not in this journal" in p.message for p in journal.problems)


@pytest.mark.parametrize("error", [MemoryError, KeyboardInterrupt])
def test_want_of_memory_and_a_stop_are_no_fault_of_an_entry(
    make_journal: Make, monkeypatch: pytest.MonkeyPatch, error: type[BaseException]
) -> None:
    monkeypatch.setattr(model_entries, "note_of", fails(model_entries.note_of, "note.md", error))
    with pytest.raises(error):
        make_journal(ENTRIES)


def test_a_fault_of_no_one_entry_is_raised(make_journal: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(linking, "species_of", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        make_journal(ENTRIES)


# Where the traceback goes


def failing() -> None:
    raise IndexError("tuple index out of range")


@pytest.mark.parametrize(("asked", "is_shown"), [(None, False), ("", False), ("0", False), ("1", True)])
def test_a_traceback_is_shown_only_where_it_is_asked_for(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], asked: str | None, is_shown: bool
) -> None:
    monkeypatch.delenv("JOURNAL_TRACEBACK", raising=False)
    if asked is not None:
        monkeypatch.setenv("JOURNAL_TRACEBACK", asked)
    assert isinstance(attempt("a.md", failing), Problem)
    assert is_shown == ("in failing" in capsys.readouterr().err)


def test_tracebacks_are_added_to_a_file_that_is_named(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("JOURNAL_TRACEBACK", str(tmp_path / "faults.txt"))
    attempt("a.md", failing)
    attempt("b.md", failing)
    assert 2 == (tmp_path / "faults.txt").read_text().count("in failing")
    assert "" == capsys.readouterr().err


def test_a_traceback_that_cannot_be_written_is_shown(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("JOURNAL_TRACEBACK", str(tmp_path))
    trace(ValueError("no such thing"))
    assert "ValueError: no such thing" in capsys.readouterr().err


def test_a_failure_for_another_process_has_its_traceback_as_a_text_alone() -> None:
    """Some libraries (tblib, of dask.distributed) let frames go along with an exception: it would be there twice."""
    with pytest.raises(IndexError) as raised:
        failing()
    told = with_traceback_of(raised.value, raised.value)
    assert told.__traceback__ is None
    assert 1 == traceback_of(told).count("in failing\n")


# No bytes are too odd for a reader

SOURCE = ClimateSource(files="*.csv", tent="hut", time="Time", temperature="Temp", humidity="RH")
READERS: dict[str, tuple[Callable[[bytes], object], list[bytes]]] = {
    "entry": (
        lambda data: read_entry("a.md", data, Settings()),
        [b"---\n", b"kind: ", b"note\n", b"next: ", b"[", b"]", b"&a ", b"*a", b"!!x ", b"- ", b"<<: ", b"|\n", b"{"],
    ),
    "settings": (
        read_settings,
        [b"[tents.", b"hut]\n", b"every = ", b'{ a = "416000 wk" }\n', b"[[climate]]\n", b"= 1", b'"""', b"9999-12-31"],
    ),
    "logger's file": (
        lambda data: read_log("a.csv", data, SOURCE, "Europe/London"),
        [b"Time,", b"Temp,", b"RH", b"\n", b"2026-11-01 00:00,", b"9999-12-31T23:59-14:00,", b"1e999", b'"', b"\0"],
    ),
    "track": (
        lambda data: read_track("a.gpx", data),
        [b"<gpx>", b"<trk>", b"<trkseg>", b'<trkpt lat="1" lon="2">', b"<time>0001-01-01T00:00:00+14:00</time>", b"</"],
    ),
}


@pytest.mark.hypothesis
@pytest.mark.parametrize(("read", "words"), READERS.values(), ids=READERS)
def test_no_bytes_are_too_odd_for_a_reader(read: Callable[[bytes], object], words: list[bytes]) -> None:
    @examples(300)
    @given(st.lists(st.sampled_from(words) | st.binary(max_size=8), max_size=24).map(b"".join))
    def reads(data: bytes) -> None:
        read(data)

    reads()
