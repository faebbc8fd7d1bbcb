"""What tests of every storey share."""

from __future__ import annotations

import contextlib
import fcntl
import gc
import importlib
import io
import json
import os
import shutil
import struct
import subprocess
import sys
import tempfile
from collections.abc import Callable, Generator, Iterable, Mapping
from multiprocessing.util import get_temp_dir
from pathlib import Path
from typing import Any

import pytest
from _pytest.runner import runtestprotocol
from hypothesis import settings

from tests.builders import EXPLORED

# Compiled modules are kept, whatever the environment says: hundreds of tests begin a Python of their own, each of which
# would compile the program again, and that takes longer than most of what they ask of it.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# A busy computer must not fail a test: none is held to a time. Every machine tries the same examples; others are for
# `tests/explore.py`.
settings.register_profile("fixed", deadline=None, derandomize=True, database=None, max_examples=50)
settings.register_profile("explore", deadline=None, print_blob=True, max_examples=100 * EXPLORED or 1)
settings.load_profile("explore" if EXPLORED else "fixed")

_IN_MEMORY = Path("/dev/shm")
_ROOM_BYTES = 4 << 30
_LASTS_S = 0.005  # what `--durations` leaves out unless it is asked for


def pytest_configure() -> None:
    """Temporary files go into memory where the system has a file system for that, with room: half of what a run waits
    for otherwise is the disk. TMPDIR says otherwise."""
    if "TMPDIR" not in os.environ and os.access(_IN_MEMORY, os.W_OK):
        room = os.statvfs(_IN_MEMORY)
        if room.f_bavail * room.f_frsize >= _ROOM_BYTES:
            os.environ["TMPDIR"] = tempfile.tempdir = str(_IN_MEMORY)


def _with_room(act: Callable[[], Any]) -> Any:
    return act()


# CPython keeps the frames of calls in pieces of 16 KiB, and takes a piece from the system, and gives it back, each time
# that a call goes over the end of one: seven microseconds instead of a thirtieth of one. pytest calls so deep that the
# busiest calls of a test often do. This frame asks for 128 KiB, so that its piece has room for all that it calls.
_with_room.__code__ = _with_room.__code__.replace(co_stacksize=(128 << 10) // 8)


@pytest.hookimpl(tryfirst=True)
def pytest_cmdline_main(config: pytest.Config) -> Any:
    """All that pytest does is called below the frame with room."""
    if hasattr(config, "_has_room"):
        return None
    config._has_room = True
    return _with_room(lambda: config.hook.pytest_cmdline_main(config=config))


def pytest_xdist_auto_num_workers() -> int:
    """For `-n auto`: half as many workers again as processors, up to eight, since tests in a browser wait at times. On
    two processors the suite took 356 s with three workers, and 376 with four, each of which collects all tests."""
    processors = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(processors, min(processors * 3 // 2, 8))


@pytest.hookimpl(wrapper=True)
def pytest_collection(session: pytest.Session) -> Generator[None, object, object]:
    """Nothing that is collected goes before the end: looking through those hundreds of thousands of objects for some
    that could, again and again in each process, takes a tenth of its time. What tests make is looked through seldom
    for the same reason: a process that has built some pages holds a million objects that stay."""
    gc.disable()
    try:
        _compile_in_turn(session.config.args)
        return (yield)
    finally:
        gc.freeze()
        gc.set_threshold(5000, 100, 100)
        gc.enable()


def _compile_in_turn(places: Iterable[str]) -> None:
    """Has each process of a run (pytest-xdist) load the modules of tests from another one on. In a fresh clone none is
    compiled, and processes that load them in one order all compile all of them; so each finds what others compiled."""
    if "PYTEST_XDIST_WORKER" not in os.environ:
        return
    top = Path(__file__).parents[1]
    modules = sorted({module for place in places for module in (top / place).rglob("test_*.py")})
    own, of = int(os.environ["PYTEST_XDIST_WORKER"][2:]), int(os.environ["PYTEST_XDIST_WORKER_COUNT"])
    first = len(modules) * own // of
    for module in modules[first:] + modules[:first]:
        with contextlib.suppress(Exception, pytest.skip.Exception):  # pytest loads it again, and reports it
            importlib.import_module(".".join(module.relative_to(top).with_suffix("").parts))


def pytest_runtest_protocol(item: pytest.Item, nextitem: pytest.Item | None) -> bool | None:
    """A process of a run tells the one that began it one thing of each test, not six, where all is well: twelve
    thousand tests that say no more took ten seconds of the processor. What lasts is told for `--durations`."""
    if "PYTEST_XDIST_WORKER" not in os.environ:
        return None
    for report in runtestprotocol(item, nextitem=nextitem, log=False):
        if report.when == "call" or not report.passed or report.duration > _LASTS_S:
            item.ihook.pytest_runtest_logreport(report=report)
    return True


def of_the_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that all processes of a run (pytest-xdist) have for their temporary files."""
    of_this_process = tmp_path_factory.getbasetemp()
    return of_this_process.parent if "PYTEST_XDIST_WORKER" in os.environ else of_this_process


@pytest.fixture(scope="session", autouse=True)
def temporary_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What programs that a test ends put aside, and previews that wait for being looked at, go with the run's files."""
    get_temp_dir()  # that of multiprocessing, which is there until the process ends, stays where it is
    room = tmp_path_factory.mktemp("t")  # short: the name of a socket in it has at most 107 bytes
    os.environ["TMPDIR"] = tempfile.tempdir = str(room)
    return room


@pytest.fixture(scope="session")
def need_program() -> Callable[..., Path]:
    """Gives a program's path by the first of its names that is installed; where none is, the test is skipped, or
    fails where JOURNAL_TESTS_NEED_ALL=1 says that everything must run."""

    def find(*names: str) -> Path:
        for name in names:
            if found := shutil.which(name):
                return Path(found)
        says = f"none of {', '.join(names)} is installed"
        if os.environ.get("JOURNAL_TESTS_NEED_ALL") == "1":
            pytest.fail(says)
        pytest.skip(says)

    return find


@pytest.fixture(scope="session")
def need_chromium(need_program: Callable[..., Path]) -> Path:
    """Path of a Chromium; JOURNAL_CHROMIUM may name one. The shell without a window of its own, if it is installed: it
    takes a third of the processor's time that the browser needs for the same pages."""
    own = os.environ.get("JOURNAL_CHROMIUM", "chromium-headless-shell")
    return need_program(own, "chromium", "chromium-browser", "google-chrome")


@pytest.fixture(scope="session")
def need_exiftool_for_all(need_program: Callable[..., Path]) -> Callable[..., list[dict[str, Any]]]:
    """ExifTool, an independent reader: called with files and options it gives the tags of each, in their order."""
    program = need_program("exiftool")

    def tags_of(files: Iterable[Path], *options: str) -> list[dict[str, Any]]:
        # It exits with 1 for a file that it finds fault with, and still tells what it found.
        command = [program, "-j", *options, *map(str, files)]
        rows: list[dict[str, Any]] = json.loads(subprocess.run(command, capture_output=True, timeout=60).stdout)
        return rows

    return tags_of


@pytest.fixture(scope="session")
def need_exiftool(need_exiftool_for_all: Callable[..., list[dict[str, Any]]]) -> Callable[..., dict[str, Any]]:
    """The same for one file."""
    return lambda file, *options: need_exiftool_for_all([file], *options)[0]


@pytest.fixture(scope="session")
def make_journal() -> Callable[..., Any]:
    """Gives the Journal that files make, with nothing on disk.

    files: path -> text (or bytes) of each entry, of `journal.toml` (defaults where absent), and of tracks (`.gpx`).
    photos: path -> what is known of the photo: fields of `Photo`, `taken` as ISO 8601 text.
    logs, problems, core_logs, weather: as they come from their readers. unread: the problems of entries' files that
    could not be read.
    """
    from datetime import datetime

    from journal.model import Photo
    from journal.reading.entries import no_entry, read_entry
    from journal.reading.linking import assemble
    from journal.reading.settings_file import read_settings
    from journal.reading.tracks import read_track
    from journal.settings import Settings

    def photo(path: str, facts: Mapping[str, Any]) -> Photo:
        taken = facts.get("taken")
        return Photo(path=path, **{"digest": path, **facts, "taken": datetime.fromisoformat(taken) if taken else None})

    def make(
        files: Mapping[str, str | bytes],
        photos: Mapping[str, Mapping[str, Any]] | None = None,
        logs: Iterable[Any] = (),
        problems: Iterable[Any] = (),
        core_logs: Iterable[Any] = (),
        weather: Iterable[Any] = (),
        unread: Iterable[Any] = (),
    ) -> Any:
        contents = {path: text.encode() if isinstance(text, str) else text for path, text in files.items()}
        toml = contents.get("journal.toml")
        settings, told = read_settings(toml) if toml is not None else (Settings(), ())
        read = {path: read_entry(path, data, settings) for path, data in contents.items() if path.endswith(".md")}
        tracks = [read_track(path, data) for path, data in contents.items() if path.endswith(".gpx")]
        return assemble(
            settings,
            [*(draft for draft in read.values() if draft is not None), *map(no_entry, unread)],
            not_entries=[path for path, draft in read.items() if draft is None],
            photos=[photo(path, facts) for path, facts in (photos or {}).items()],
            tracks=[track for track, _ in tracks],
            logs=logs,
            core_logs=core_logs,
            weather=weather,
            problems=[*told, *problems, *(problem for _, rows in tracks for problem in rows)],
        )

    return make


# Where each tag stands: directory (0th, Exif or GPS) and number. Source: CIPA DC-008 (Exif), tables of tags.
_TAGS = {
    "Model": ("0th", 0x0110),
    "Orientation": ("0th", 0x0112),
    "DateTimeOriginal": ("Exif", 0x9003),
    "OffsetTimeOriginal": ("Exif", 0x9011),
    "SubSecTimeOriginal": ("Exif", 0x9291),
    "GPSLatitudeRef": ("GPS", 0x01),
    "GPSLatitude": ("GPS", 0x02),
    "GPSLongitudeRef": ("GPS", 0x03),
    "GPSLongitude": ("GPS", 0x04),
    "GPSTimeStamp": ("GPS", 0x07),
    "GPSStatus": ("GPS", 0x09),
    "GPSMapDatum": ("GPS", 0x12),
    "GPSDateStamp": ("GPS", 0x1D),
    "GPSHPositioningError": ("GPS", 0x1F),
}
_POINTERS = {"Exif": 0x8769, "GPS": 0x8825}


def _field(value: object) -> tuple[int, int, bytes]:
    """Type, count and bytes of a value: text is ASCII, an integer SHORT, a pair (or several) RATIONAL."""
    if isinstance(value, str):
        text = value.encode("latin-1") + b"\0"
        return 2, len(text), text
    if isinstance(value, int):
        return 3, 1, struct.pack("<H", value)
    assert isinstance(value, list | tuple)
    pairs = value if isinstance(value[0], list | tuple) else [value]
    return 5, len(pairs), b"".join(struct.pack("<II", *pair) for pair in pairs)


def _directory(fields: Mapping[int, tuple[int, int, bytes]], at: int) -> bytes:
    """An image file directory as TIFF 6.0 lays it out, its longer values behind it, to be at byte `at`."""
    rows, values = b"", b""
    behind = at + 2 + 12 * len(fields) + 4
    for number in sorted(fields):
        kind, count, content = fields[number]
        if len(content) > 4:
            place = struct.pack("<I", behind + len(values))
            values += content + b"\0" * (len(content) % 2)
        else:
            place = content.ljust(4, b"\0")
        rows += struct.pack("<HHI", number, kind, count) + place
    return struct.pack("<H", len(fields)) + rows + struct.pack("<I", 0) + values


@pytest.fixture(scope="session")
def exif_block() -> Callable[..., bytes]:
    """Called with tags by name it gives the bytes of an EXIF block, made from the standards' layout by hand."""

    def block(**tags: object) -> bytes:
        fields: dict[str, dict[int, tuple[int, int, bytes]]] = {"0th": {}, "Exif": {}, "GPS": {}}
        for name, value in tags.items():
            directory, number = _TAGS[name]
            fields[directory][number] = _field(value)
        pointed = [name for name in _POINTERS if fields[name]]
        for name in pointed:
            fields["0th"][_POINTERS[name]] = (4, 1, struct.pack("<I", 0))
        at = 8 + len(_directory(fields["0th"], 8))
        behind = b""
        for name in pointed:
            fields["0th"][_POINTERS[name]] = (4, 1, struct.pack("<I", at + len(behind)))
            behind += _directory(fields[name], at + len(behind))
        return b"II*\0" + struct.pack("<I", 8) + _directory(fields["0th"], 8) + behind

    return block


@pytest.fixture(scope="session")
def picture_bytes() -> Callable[..., bytes]:
    """Called with a format's name it gives a small picture in it, with an EXIF block where one is handed in."""
    from PIL import Image

    import journal.reading.picture_files  # noqa: F401 - registers the HEIC writer

    def content(
        kind: str, block: bytes = b"", size: tuple[int, int] = (64, 32), image: Any = None, **options: Any
    ) -> bytes:
        out = io.BytesIO()
        picture = image if image is not None else Image.radial_gradient("L").resize(size).convert("RGB")
        if block and kind == "TIFF":
            exif = Image.Exif()
            exif.load(block)
            options["exif"] = exif
        elif block:
            options["exif"] = b"Exif\0\0" + block
        picture.save(out, kind, **options)
        return out.getvalue()

    return content


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str, Callable[[Path], None]], Path]:
    """Gives the folder of a name, filled by the function handed in: once in a run, also where several processes share
    its tests (pytest-xdist). Look, and change nothing in it."""
    shared = of_the_run(tmp_path_factory)

    def made(name: str, fill: Callable[[Path], None]) -> Path:
        room = shared / name
        with (shared / f"{name}.made").open("a+", encoding="utf-8") as told:
            fcntl.flock(told, fcntl.LOCK_EX)  # the others wait here until it is made
            if told.seek(0, os.SEEK_END) == 0:
                room.mkdir(exist_ok=True)
                fill(room)
                told.write("made")
        return room

    return made


def run_journal(*words: str | Path, cwd: Path | None = None) -> None:
    """Runs the command in this process, which is spared the start of another; its exit code must be 0."""
    from journal.cli import cli
    from journal.commands.console import run

    with contextlib.chdir(cwd or Path()):
        assert 0 == run(cli, list(map(str, words)))


SAMPLE = Path(__file__).parents[1] / "sample_entries"


@pytest.fixture(scope="session")
def sample_site(made_once: Callable[..., Path]) -> Path:
    """The sample journal's site, built by the command a reader would use; look, and change nothing in it."""

    def fill(room: Path) -> None:
        run_journal("build", SAMPLE, "--to", room / "site", "--cache", room / "cache")

    return made_once("sample", fill) / "site"


@pytest.fixture(scope="session")
def mentor_share(made_once: Callable[..., Path], sample_site: Path) -> Path:
    """The folder in which the sample's share for its mentor lies, its pages and its zip, and the page of its preview,
    made as its author would, who has built the site before; change nothing in it."""

    def fill(room: Path) -> None:
        journal = shutil.copytree(SAMPLE, room / "sample")  # what was looked at is kept in the journal's folder
        for step in ("--preview", "--reviewed"):
            cache = sample_site.parent / "cache"
            run_journal("share", "mentor", journal, step, "--to", room / "out", "--cache", cache)

    return made_once("share", fill) / "out"


LOCKED_WITH = "kestrel ﬁord gravel lintel osprey"
"""The passphrase of the locked sample; with a ligature, which NFKC takes apart."""


@pytest.fixture(scope="session")
def locked_room(made_once: Callable[..., Path], sample_site: Path) -> Path:
    """A folder with the locked sample in `site`, and its keys in `keys.json`; look, and change nothing in it."""

    from journal.importing.locked_archive import FEWEST_ROUNDS
    from journal.locking.key_file import OWN_SITE, KeyFile, SiteKey
    from journal.locking.placing import place_locked

    def fill(room: Path) -> None:
        key = SiteKey.new(rounds=FEWEST_ROUNDS).with_reader("author", LOCKED_WITH).with_reader("mentor", "other words")
        keys = KeyFile(room / "keys.json").keep(OWN_SITE, key)
        place_locked(sample_site, room / "site", keys, OWN_SITE, "journal")

    return made_once("locked-sample", fill)
