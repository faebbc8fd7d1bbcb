"""One file that the program cannot read, however it fails, costs the build that file and nothing else."""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from journal import file_reading, pipeline
from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.commands.console import sentence_of
from journal.model import Batch, Journal
from journal.pipeline import build_site, read_journal
from journal.reading import photos
from journal.reading.entries import read_entry
from journal.reading.folder import LARGEST_BYTES
from journal.reading.linking import assemble
from journal.reading.settings_file import read_settings
from journal.site import images
from journal.site.build import photo_workers

ENTRIES = {
    "journal.toml": '[journal]\ntitle = "Woods"\n[tents.hut]\n[[climate]]\nfiles = "*.csv"\ntent = "hut"\n'
    'time = "Time"\nhumidity = "RH"\ntemperature = "°C"\n',
    "finds/a/find.md": "---\nkind: find\nid: F-1\ndate: 2026-09-12\nwhere: 58.30412, -8.90177 ±8 m\n---\nWet.\n",
    "cultures/c.md": "---\nkind: culture\nid: C-1\ndate: 2026-09-12\nfrom: F-1\nvessels: 3\n---\n",
    "batches/b.md": "---\nkind: batch\nid: B-1\ndate: 2026-10-06\nculture: C-1\nmix: pellets 5 kg, bran 1 kg\n"
    "wet mass: 2 kg\nwants humidity: 85–95 %\nnext: 2026-12-01 look\n---\n",
    "notes/n.md": "---\nkind: note\nabout: B-1\ndate: 2026-11-01 14:05\nharvest: 1 kg\nflush: 1\n---\n",
    "tents/t.md": "---\nkind: tent\nabout: hut\ndate: 2026-10-22\nlight: 12:12\nexhaust: 2 min every 15 min\n---\n",
    "c.csv": "Time;RH;°C\n2026-11-01 00:00;90;16\n2026-11-01 00:05;91;16.5\n",
    "walk.gpx": '<gpx version="1.1" creator="x"><trk><trkseg><trkpt lat="58.3" lon="-8.9">'
    "<time>2026-09-12T09:00:00Z</time></trkpt></trkseg></trk></gpx>",
}


@pytest.fixture
def root(tmp_path: Path, picture_bytes) -> Path:
    root = tmp_path / "woods"
    for path, text in ENTRIES.items():
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_text(text, encoding="utf-8")
    (root / "finds/a/IMG_1.png").write_bytes(picture_bytes("PNG"))
    return root


@pytest.fixture
def read(root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], Journal]:
    """Reads the journal with what the cache kept of the last time, the photos in this process."""

    def in_this_process(rows: Any, *_: Any) -> Iterator[Any]:
        yield from ((path, photos.read_facts(file), None) for path, file in rows)

    monkeypatch.setattr(photo_workers, "photo_work", in_this_process)

    def run() -> Journal:
        memory = FileCache(Cache(tmp_path / "cache"), root, time.time_ns() + 10**10)
        journal = read_journal(memory, lambda *_: None).journal
        memory.cache.save()
        return journal

    return run


READERS = {
    "an entry": (pipeline, "read_entry", "notes/n.md"),
    "the settings": (pipeline, "read_settings", "journal.toml"),
    "a track": (pipeline, "read_track", "walk.gpx"),
    "a logger's file": (file_reading, "read_log", "c.csv"),
    "a photo": (photos, "read_exif", "finds/a/IMG_1.png"),
    "a photo's time": (pipeline, "photo_of", "finds/a/IMG_1.png"),
}


def failing(step: Callable[..., Any], path: str) -> Callable[..., Any]:
    """The same reader, but for one file's name among what it is given."""

    def run(*given: Any, **more: Any) -> Any:
        if path in given or any(str(getattr(one, "name", "")).endswith(path) for one in given):
            raise IndexError("58.30412")
        return step(*given, **more)

    return run


@pytest.mark.parametrize(("module", "name", "path"), READERS.values(), ids=READERS)
def test_a_reader_that_fails_costs_its_file_alone(
    read: Callable[[], Journal], monkeypatch: pytest.MonkeyPatch, module: Any, name: str, path: str
) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(module, name, failing(getattr(module, name), path))
        journal = read()
    told = [problem for problem in journal.problems if "a fault in the program" in problem.message]
    assert [(path, "error")] == [(problem.path, problem.severity) for problem in told]
    assert "58.30412" not in str(told[0])
    assert told[0].fix
    there = {entry.path for entry in journal.entries()}
    entries = {name for name in ENTRIES if name.endswith(".md")} - {path}
    assert entries - there <= ({"tents/t.md"} if path == "journal.toml" else set())
    assert not [problem for problem in read().problems if "a fault in the program" in problem.message]


@pytest.mark.parametrize("error", [MemoryError, KeyboardInterrupt])
def test_want_of_memory_and_a_stop_end_the_run(
    read: Callable[[], Journal], monkeypatch: pytest.MonkeyPatch, error: type[BaseException]
) -> None:
    def raises(*_: Any) -> None:
        raise error

    monkeypatch.setattr(pipeline, "read_entry", raises)
    with pytest.raises(error):
        read()


def test_a_site_is_built_of_a_journal_with_a_file_of_every_kind_that_broke_off(root: Path, tmp_path: Path) -> None:
    """Each as it was found: a logger in mid-write, a service of thousands of years, a check about nothing known."""
    (root / "c.csv").write_text("Time;RH", encoding="utf-8")
    every = '[tents.hut.every]\na = "416000 wk"\nb = "0 d"\nc = "-1 d"\n'
    settings = (root / "journal.toml").read_text(encoding="utf-8").replace("[[climate]]", every + "[[climate]]")
    (root / "journal.toml").write_text(settings, encoding="utf-8")
    check = "serviced: probe-1 read 74 % over table salt at 20 °C\n"
    (root / "tents/u.md").write_text(f"---\nkind: tent\nabout: nope\ndate: 2026-10-23\n{check}---\n", encoding="utf-8")
    (root / "last.md").write_text("---\nkind: note\nabout: B-1\ndate: 9999-12-31\nnext: 9999-12-31 rest\n---\n")
    (root / "walk.gpx").write_text("<gpx><trk><trkseg><trkpt", encoding="utf-8")
    memory = FileCache(Cache(tmp_path / "cache"), root, time.time_ns())
    built = build_site(memory, tmp_path / "site", lambda *_: None)
    assert {"c.csv", "journal.toml", "tents/u.md", "last.md", "walk.gpx"} <= {p.path for p in built.journal.problems}
    assert 3 == sum(p.path == "journal.toml" and p.severity == "error" for p in built.journal.problems)
    assert (tmp_path / "site" / "index.html").is_file()


# Sizes


@pytest.mark.parametrize(
    ("path", "kind"), [("big.md", "entry"), ("journal.toml", "settings"), ("c.csv", "csv"), ("walk.gpx", "gpx")]
)
def test_a_file_larger_than_its_kind_need_be_is_not_read(
    read: Callable[[], Journal], root: Path, monkeypatch: pytest.MonkeyPatch, path: str, kind: str
) -> None:
    most = LARGEST_BYTES[kind]
    with (root / path).open("wb") as file:
        file.truncate(most + 1)
    opened: list[str] = []
    whole = open
    spy = lambda name, *a, **k: (opened.append(Path(str(name)).name), whole(name, *a, **k))[1]  # noqa: E731
    monkeypatch.setattr("builtins.open", spy)
    (problem,) = [problem for problem in read().problems if problem.path == path]
    assert "error" == problem.severity
    assert f"larger than {most >> 20} MB" in problem.message
    assert "notes/n.md".rpartition("/")[2] in opened
    assert path not in opened


def test_a_file_that_grew_since_it_was_seen_is_read_no_further_than_its_limit(
    read: Callable[[], Journal], root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scan = pipeline.scan

    def scan_and_grow(folder: Path) -> Any:
        found = scan(folder)
        with (root / "notes/n.md").open("r+b") as file:
            file.truncate(LARGEST_BYTES["entry"] + 1)
        return found

    monkeypatch.setattr(pipeline, "scan", scan_and_grow)
    assert [1] == [p.message.count("larger than 1 MB") for p in read().problems if p.path == "notes/n.md"]


def test_a_file_that_grew_since_it_was_seen_is_read_whole(
    read: Callable[[], Journal], root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scan = pipeline.scan

    def scan_and_grow(folder: Path) -> Any:
        found = scan(folder)
        with (root / "notes/n.md").open("a", encoding="utf-8") as file:
            file.write("\n" + "It smells of rain. " * 1000 + "To the end.\n")
        return found

    monkeypatch.setattr(pipeline, "scan", scan_and_grow)
    (note,) = [entry for entry in read().entries() if entry.path == "notes/n.md"]
    assert note.text.endswith("To the end.\n")


def test_the_largest_entry_that_is_read_is_read(read: Callable[[], Journal], root: Path) -> None:
    head = b"---\nkind: find\nid: F-2\ndate: 2026-09-12\n---\n"
    (root / "long.md").write_bytes(head + b"x" * (LARGEST_BYTES["entry"] - len(head)))
    assert "long.md" in {entry.path for entry in read().entries()}


# What the cache gives


@pytest.mark.parametrize("name", ["name", "sizes", "placeholder"])
@pytest.mark.parametrize("value", [None, 5, [], {}, "x", [{"width": "4", "height": 4, "bytes": 5}], ["x"]], ids=repr)
def test_a_note_on_published_pictures_that_is_damaged_is_none(tmp_path: Path, name: str, value: object) -> None:
    published = images.Published(images.published_name("d"), (images.PublishedSize(4, 4, 5, "0a"),), "data:,")
    (tmp_path / f"{published.name}-4.webp").write_bytes(b"12345")
    note, row = tmp_path / f"{published.name}.json", images.published_to_dict(published)

    def write(row: object) -> None:
        told = json.dumps(row)
        note.write_text(f"{hashlib.sha256(told.encode()).hexdigest()}\n{told}", encoding="utf-8")

    write(row)
    assert published == images.published_from_cache("d", tmp_path)
    write({**row, name: value})
    found = images.published_from_cache("d", tmp_path)
    assert found is None or found == images.published_from_dict(images.published_to_dict(found))


# What is no file's alone


def test_where_the_program_fails_as_a_whole_the_entry_at_hand_is_named() -> None:
    def fails(batch: Batch) -> None:
        raise IndexError("tuple index out of range")

    with pytest.raises(IndexError) as raised:
        fails(next(iter(assembled().batches)))
    said = sentence_of(raised.value)
    assert "This is a fault in the program (IndexError: tuple index out of range)" in said
    assert "It happened at batches/b.md" in said
    assert "It happened at" not in sentence_of(IndexError("of none"))


def assembled() -> Journal:
    settings, _ = read_settings(ENTRIES["journal.toml"].encode())
    drafts = [read_entry(path, text.encode(), settings) for path, text in ENTRIES.items() if path.endswith(".md")]
    return assemble(settings, [draft for draft in drafts if draft is not None])
