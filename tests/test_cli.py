"""The commands, as an author types them."""

from __future__ import annotations

import csv
import gc
import io
import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
import weakref
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from journal import pipeline
from journal.cache.file_cache import KINDS as KINDS_KEPT
from journal.cache.resources import source_digest
from journal.cache.store import Cache
from journal.cli import KINDS, cli, main
from journal.commands import console
from journal.reading.keys import KINDS as READ_KINDS

ANSWERS = ("--title", "Shore", "--author", "Porter", "--time-zone", "Europe/London", "--units", "us")


@dataclass(frozen=True, slots=True)
class Ended:
    returncode: int
    stdout: str
    stderr: str


Run = Callable[..., Ended]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Run:
    """Runs the command in an empty folder, its cache beside it; nothing is typed unless told.

    It runs in this process, by the very function that the program starts with: how it starts is tried beside."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))

    def journal(*words: str | Path, typed: str = "", cwd: Path = tmp_path, **more: str) -> Ended:
        with monkeypatch.context() as patched:
            patched.chdir(cwd)
            patched.setattr(sys, "stdin", io.StringIO(typed))
            patched.setattr(sys, "argv", ["journal", *map(str, words)])
            for name, value in more.items():
                patched.setenv(name, value)
            capfd.readouterr()
            with pytest.raises(SystemExit) as ended:
                main()
        return Ended(int(ended.value.code or 0), *capfd.readouterr())

    return journal


@pytest.fixture
def begun(run: Run, tmp_path: Path) -> Path:
    """A journal just begun."""
    assert 0 == run("start", "my", *ANSWERS).returncode
    return tmp_path / "my"


def test_help_names_every_command_in_a_whole_sentence(run: Run) -> None:
    said = run("--help").stdout
    for command in ("start", "new", "logger", "attach", "gather", "build", "check", "keys", "show", "share", "export"):
        assert re.search(rf"^  {command} +\S.*\.$", said, re.MULTILINE), command


@pytest.mark.parametrize(
    "command", ["start", "new", "logger", "attach", "gather", "build", "check", "keys", "show", "share", "export"]
)
def test_every_command_has_help(run: Run, command: str) -> None:
    assert "Usage: journal" in run(command, "--help").stdout


def test_it_starts_as_a_program_with_its_exit_code_and_its_messages(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "journal", "check", "nowhere"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=120, check=False)
    assert (2, "", 1) == (done.returncode, done.stdout, len(done.stderr.splitlines()))


def test_help_needs_none_of_what_the_work_needs() -> None:
    heavy = ("flask", "PIL", "yaml", "markdown_it", "geographiclib", "gpxpy", "sqlite3", "pebble", "cryptography")
    script = "import sys, journal.cli; print([m for m in sys.argv[1:] if m in sys.modules])"
    said = subprocess.run([sys.executable, "-c", script, *heavy], capture_output=True, text=True, check=True).stdout
    assert "[]" == said.strip()


def test_start_asks_for_what_is_not_given(run: Run, tmp_path: Path) -> None:
    done = run("start", "my", typed="Shore\nPorter\nEurope/London\nmetric\n")
    assert 0 == done.returncode
    settings = (tmp_path / "my" / "journal.toml").read_text(encoding="utf-8")
    for line in ('title = "Shore"', 'author = "Porter"', 'time_zone = "Europe/London"', 'units = "metric"'):
        assert line in settings


def test_start_offers_the_units_of_the_time_zone_that_was_answered(run: Run, tmp_path: Path) -> None:
    here = {"LC_ALL": "C.UTF-8", "TZ": "UTC"}
    assert 0 == run("start", "one", typed="Shore\nPorter\nEurope/Berlin\n\n", **here).returncode
    assert 0 == run("start", "two", "--time-zone", "America/Denver", typed="", **here).returncode
    for name, units in (("one", "metric"), ("two", "us")):
        assert f'units = "{units}"' in (tmp_path / name / "journal.toml").read_text(encoding="utf-8")


def test_start_says_what_to_do_next_and_its_examples_are_not_entries(run: Run, begun: Path) -> None:
    assert {".txt"} == {file.suffix for file in (begun / "examples").iterdir()}
    assert [] == json.loads(run("export", "my").stdout)["problems"]
    again = run("start", "my", *ANSWERS)
    assert 2 == again.returncode
    assert "journal already" in again.stderr


def test_the_kinds_that_new_knows_are_those_that_are_read() -> None:
    assert READ_KINDS == KINDS


@pytest.mark.parametrize(
    ("kind", "more", "id"),
    [("find", (), "F26-001"), ("batch", (), "B-001"), ("culture", ("--about", "F26-009"), None), ("note", (), None)],
)
def test_new_writes_an_entry_with_the_next_free_id_and_today(
    run: Run, begun: Path, kind: str, more: tuple[str, ...], id: str | None
) -> None:
    (begun / "f.md").write_text("---\nkind: find\nid: F26-009\ndate: 2026-09-12\n---\n")
    if id == "F26-001":
        (begun / "f.md").unlink()
        id = f"F{date.today():%y}-001"
    done = run("new", kind, "my", *more)
    path = Path(done.stdout.strip())
    text = (begun.parent / path).read_text(encoding="utf-8")
    assert text.startswith(f"---\nkind: {kind}\n")
    today = re.compile(r"\d{4}-\d\d-\d\d")
    assert today.search(
        path.as_posix() if kind in ("find", "note") else re.findall(r"^date: .*", text, re.MULTILINE)[0]
    )
    assert id is None or f"id: {id}\n" in text
    assert not more or "from: F26-009\n" in text


def test_new_opens_the_entry_in_the_editor_if_asked(run: Run, begun: Path, tmp_path: Path) -> None:
    editor = tmp_path / "editor"
    editor.write_text('#!/bin/sh\necho "seen by the editor" >> "$1"\n')
    editor.chmod(0o755)
    done = run("new", "find", "my", "--edit", EDITOR=str(editor), VISUAL=str(editor))
    assert "seen by the editor" in (tmp_path / done.stdout.strip()).read_text(encoding="utf-8")


def test_check_ends_with_1_only_where_something_is_wrong(run: Run, begun: Path) -> None:
    assert "0 entries, 0 photos and 0 logger files read: no problems\n" == run("check", "my").stdout
    (begun / "odd.md").write_text("no front matter\n")
    odd = run("check", "my")
    assert (0, True) == (odd.returncode, "odd.md: warning:" in odd.stdout)
    (begun / "wrong.md").write_text("---\nkind: find\nid: F-1\ndate: 2026-09-12\nspecis: x\n---\n")
    wrong = run("check", "my")
    assert 1 == wrong.returncode
    assert re.search(r"^wrong\.md:5: error: .specis. is .*; fix: .*species", wrong.stdout, re.MULTILINE)


def test_build_ends_with_0_however_much_is_wrong_and_says_what_it_came_to(run: Run, begun: Path) -> None:
    (begun / "f.md").write_text("---\nkind: find\nid: F-1\ndate: 2026-09-12\nspecis: x\n---\n")
    done = run("build", cwd=begun)
    assert (0, "") == (done.returncode, done.stdout)
    counts = r"1 entry, 0 photos, 1 problem \(1 error, 0 warnings\)"
    assert re.search(rf"{counts}; \d+ pages built in [\d.]+ s; [\d.]+ MB", done.stderr)
    assert (begun.parent / "site" / "finds" / "f-1" / "index.html").is_file()
    assert "nothing had changed" in run("build", cwd=begun).stderr


def test_a_build_with_nothing_changed_needs_none_of_what_builds(run: Run, begun: Path) -> None:
    (begun / "f.md").write_text("---\nkind: find\nid: F-1\ndate: 2026-09-12\nspecis: x\n---\n")
    time.sleep(0.12)  # what was saved within a tick of the disk's clock is read again
    first, listed = run("build", cwd=begun), run("check", cwd=begun)
    assert " pages built in " in first.stderr
    heavy = ("flask", "PIL", "markdown_it", "nh3", "rich", "yaml", "journal.model", "journal.reading.entries")
    script = (
        "import sys; from journal.commands.console import run; from journal.cli import cli; words = sys.argv[1:3]; "
        "print(run(cli, words), [name for name in sys.argv[3:] if name in sys.modules])"
    )
    again, checked = (
        subprocess.run([sys.executable, "-c", script, *words], capture_output=True, text=True, check=True)
        for words in (("build", begun, *heavy), ("check", begun, *heavy[:5]))
    )
    assert "0 []" == again.stdout.strip()
    counts, size = first.stderr.splitlines()[-2].partition(" pages built in ")[::2]
    assert again.stderr.startswith(counts.rpartition(";")[0] + "; nothing had changed in ")
    assert size.partition("; ")[2] in again.stderr
    assert f"{listed.stdout}1 []" == checked.stdout.strip()
    assert listed.stderr == checked.stderr


def test_a_build_of_a_changed_text_needs_none_of_what_reads_pictures_or_makes_shares(run: Run, begun: Path) -> None:
    note = "---\nkind: batch\nid: B-1\ndate: 2026-09-12\nculture: C-1\nsubstrate: oak, 5 l\n---\n"
    (begun / "b.md").write_text(note)
    assert " pages built in " in run("build", cwd=begun).stderr
    (begun / "b.md").write_text(f"{note}Moved nearer to the window.\n")
    heavy = ("journal.site.build.photo_workers", "pebble", "asyncio", "exifread", "journal.geo.directions", "dask")
    script = (
        "import sys; from journal.commands.console import run; from journal.cli import cli; words = sys.argv[1:3]; "
        "print(run(cli, words), [name for name in sys.argv[3:] if name in sys.modules])"
    )
    command = [sys.executable, "-c", script, "build", begun, *heavy]
    again = subprocess.run(command, capture_output=True, text=True, check=True)
    assert re.search(r"; [1-9]\d* pages built in ", again.stderr)
    assert "0 []" == again.stdout.strip()


def test_what_a_build_held_is_garbage_and_is_not_taken_apart_when_it_ends(
    begun: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, journals = pipeline.build_site, []

    def build_site(*asked: Any) -> pipeline.Built:
        built = real(*asked)
        journals.append(weakref.ref(built.journal))
        return built

    monkeypatch.setattr(pipeline, "build_site", build_site)
    gc.disable()
    try:
        assert 0 == console.run(cli, ["build", str(begun)])
        assert journals[0]() is not None
    finally:
        gc.enable()
    gc.collect()
    assert journals[0]() is None


def test_a_cache_that_tells_something_else_than_the_files_is_found(run: Run, begun: Path, tmp_path: Path) -> None:
    (begun / "f.md").write_text("---\nkind: find\nid: F-1\ndate: 2026-09-12\n---\nOn alder.\n")
    command = ("build", "my", "--cache", "my-cache", "--check-cache")
    same = run(*command)
    assert (0, "") == (same.returncode, same.stdout)
    assert "The site is the same as one built without the cache" == same.stderr.splitlines()[-1]
    cache = Cache(tmp_path / "my-cache")
    (key,) = (key for kind, key in cache._facts if kind == "entry" and "|f.md|" in key)
    (draft,) = cache.recall("entry", key, source_digest(), KINDS_KEPT["entry"]) or ()
    cache.remember("entry", key, source_digest(), (replace(draft, text="On birch."),), KINDS_KEPT["entry"])
    cache.save()
    (begun / "g.md").write_text("---\nkind: find\nid: F-2\ndate: 2026-09-13\n---\n")
    (tmp_path / "site" / "new.txt").write_text("of nobody")
    other = run(*command)
    told = dict(line.split(": ") for line in other.stdout.splitlines())
    assert (1, "differs") == (other.returncode, told["finds/f-1/index.html"])
    assert "finds/f-2/index.html" not in told
    assert f"{len(told)} files differ from a site built without the cache; delete" in other.stderr.splitlines()[-1]


def test_the_site_goes_where_it_is_told_and_never_over_what_is_not_a_site(
    run: Run, begun: Path, tmp_path: Path
) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "precious.txt").write_text("mine")
    refused = run("build", "my", "--to", "full", "--cache", "kept")
    assert (2, ["precious.txt"]) == (refused.returncode, [p.name for p in (tmp_path / "full").iterdir()])
    assert "--to" in refused.stderr
    assert 0 == run("build", "my", "--to", "out", "--cache", "kept").returncode
    assert (tmp_path / "out" / "sw.js").is_file()
    assert (tmp_path / "kept").is_dir()
    assert not (tmp_path / "cache").exists()


@pytest.mark.parametrize(
    "words",
    [
        *((command, "nowhere") for command in ("build", "check", "export", "show")),
        ("new", "find", "nowhere"),
        ("build", ".", "--workers", "nowhere"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(run: Run, words: tuple[str, ...]) -> None:
    done = run(*words)
    assert (2, "") == (done.returncode, done.stdout)
    assert 1 == len(done.stderr.strip().splitlines())
    assert "nowhere" in done.stderr
    assert "Traceback" not in done.stderr


def test_data_is_one_json_document_and_nothing_else_on_stdout(run: Run, begun: Path) -> None:
    (begun / "f.md").write_text("---\nkind: find\nid: F-1\ndate: 2026-09-12\nwhere: 58.30412, -8.90177 ±8 m\n---\n")
    document = json.loads(run("export", "my").stdout)
    position = {"lat": 58.30412, "lon": -8.90177, "uncertainty_m": 8.0, "source": "entry"}
    assert position.items() <= document["finds"][0]["position"].items()


def test_export_as_tables_goes_to_a_folder_and_says_how_much(run: Run, begun: Path, tmp_path: Path) -> None:
    (begun / "f.md").write_text("---\nkind: find\nid: F-1\ndate: 2026-09-12\nwhere: 58.30412, -8.90177 ±8 m\n---\n")
    done = run("export", "my", "--as", "csv", "--to", "tables")
    assert (0, "") == (done.returncode, done.stdout)
    assert re.search(r"^\d+ tables with \d+ rows in .*tables$", done.stderr, re.MULTILINE)
    with (tmp_path / "tables" / "finds.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert ("F-1", "58.30412", "-8.90177", "8.0") == tuple(
        row[name] for name in ("id", "position_lat_deg", "position_lon_deg", "position_uncertainty_m")
    )
    assert 1 == len((tmp_path / "tables" / "batches.csv").read_text(encoding="utf-8").splitlines())
    (begun / "f.md").unlink()
    assert 0 == run("export", "my", "--as", "csv", "--to", "tables").returncode
    assert 1 == len((tmp_path / "tables" / "finds.csv").read_text(encoding="utf-8").splitlines())


@pytest.mark.parametrize(
    ("says", "options"),
    [
        ("name a folder for them with --to", ("--as", "csv")),
        ("--to needs --as csv, or another form to write", ("--to", "tables")),
        ("--to needs --as csv, or another form to write", ("--as", "json", "--to", "tables")),
        ("is in the journal or contains it", ("--as", "csv", "--to", "my/tables")),
        ("contains precious.txt, which no export wrote", ("--as", "csv", "--to", "full")),
        ("--as darwin-core makes a zip", ("--as", "darwin-core")),
        ("--as darwin-core makes a zip", ("--as", "darwin-core", "--to", "-")),
        ("is in the journal; name a file outside it", ("--as", "gpx", "--to", "my/tracks.gpx")),
        ("is there already; delete it, or name another file", ("--as", "gpx", "--to", "full")),
        ("make it first", ("--as", "gpx", "--to", "none/a.gpx")),
        ("--exact does not go with --as csv", ("--as", "csv", "--to", "tables", "--exact")),
        ("--ids does not go with --as json", ("--ids", "F-1")),
        ("--photos goes with --as darwin-core alone", ("--as", "gpx", "--photos")),
        ("zzz is not a find in this journal", ("--as", "gpx", "--ids", "zzz")),
    ],
)
def test_tables_that_cannot_be_written_are_refused_in_one_sentence(
    says: str, options: tuple[str, ...], run: Run, begun: Path, tmp_path: Path
) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "precious.txt").write_text("mine")
    done = run("export", "my", *options)
    assert (2, "", 1) == (done.returncode, done.stdout, len(done.stderr.strip().splitlines()))
    assert says in done.stderr
    assert ["precious.txt"] == [path.name for path in (tmp_path / "full").iterdir()]
    assert not (tmp_path / "tables").exists()


FIND = "---\nkind: find\nid: F-1\ndate: 2026-09-12\nlocality: area\nwhere: 58.30412, -8.90177 ±8 m\n---\n"


def test_records_of_finds_are_printed_or_written_and_what_was_done_to_places_is_said(
    run: Run, begun: Path, tmp_path: Path
) -> None:
    (begun / "f.md").write_text(FIND)
    (begun / "g.md").write_text(FIND.replace("F-1", "F-2").replace("locality", "private: yes\nlocality"))
    done = run("export", "my", "--as", "geojson")
    assert 0 == done.returncode
    points = [feature["geometry"] for feature in json.loads(done.stdout)["features"] if feature["id"] == "F-1"]
    assert [[-8.9, 58.3]] == [point["coordinates"] for point in points]
    assert "1 private find left out" in done.stderr
    assert "given as a square of 0.1°: 1" in done.stderr
    done = run("export", "my", "--as", "gpx", "--exact", "--ids", "f-1", "--to", "-")
    assert 'lat="58.30412" lon="-8.90177"' in done.stdout
    assert "Exact positions of 1 find are in it, 1 of them without `locality: exact`" in done.stderr
    for form in ("gpx", "geojson", "voucher", "darwin-core"):
        done = run("export", "my", "--as", form, "--to", f"a.{form}")
        assert (0, "") == (done.returncode, done.stdout)
        assert re.search(rf"^\d+ records? in .*a\.{form}$", done.stderr, re.MULTILINE)
        assert b"30412" not in (tmp_path / f"a.{form}").read_bytes()


def test_how_sure_a_place_is_is_exported_for_people_in_the_units_of_the_journal(run: Run, begun: Path) -> None:
    """8 m are 26.25 ft, rounded up (1 ft = 0.3048 m exactly: NIST SP 811, 2008, appendix B.8)."""
    (begun / "f.md").write_text(FIND)
    settings = begun / "journal.toml"
    settings.write_text(settings.read_text().replace('units = "metric"', 'units = "us"'))
    assert "; within 27 ft</desc>" in run("export", "my", "--as", "gpx", "--exact", "--to", "-").stdout
    assert "±27 ft (WGS 84)" in run("export", "my", "--as", "voucher", "--exact", "--to", "-").stdout


def test_photos_go_into_an_archive_without_what_the_camera_wrote(
    run: Run, begun: Path, tmp_path: Path, exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]
) -> None:
    folder = begun / "finds" / "one"
    folder.mkdir(parents=True)
    (folder / "f.md").write_text(FIND.replace("locality", "photos:\n  - IMG_1.jpg: at Heron Slip\nlocality"))
    (folder / "IMG_1.jpg").write_bytes(picture_bytes("JPEG", exif_block(DateTimeOriginal="2026:09:12 14:38:00")))
    done = run("export", "my", "--as", "darwin-core", "--photos", "--ids", "F-1", "--to", "a.zip")
    assert 0 == done.returncode
    assert "Look at every photo" in done.stderr
    with zipfile.ZipFile(tmp_path / "a.zip") as packed:
        (picture,) = (name for name in packed.namelist() if name.startswith("media/"))
        assert "media/F-1-1.webp" == picture
        told = packed.read("multimedia.txt").decode()
        with Image.open(io.BytesIO(packed.read(picture))) as image:
            assert not image.getexif()
    assert "2026-09-12" in told
    assert [] == [word for word in ("Heron", "IMG_1", "14:38") if word in told]


def test_a_camera_that_the_settings_say_is_off_dates_its_photos_right(
    run: Run, begun: Path, exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]
) -> None:
    block = exif_block(Model="Wren 4", DateTimeOriginal="2026:09:12 23:50:00")
    (begun / "a.jpg").write_bytes(picture_bytes("JPEG", block))
    with (begun / "journal.toml").open("a", encoding="utf-8") as settings:
        settings.write('\n[camera_clocks]\n"Wren 4" = "20 min slow"\n')
    photos = json.loads(run("export", "my").stdout)["photos"]
    assert ["2026-09-13T00:10:00+01:00"] == [row["taken"] for row in photos if row["path"] == "a.jpg"]
    (begun / "d.md").write_text("---\nkind: device\nid: D-1\ndate: 2026-01-01\ntent: tent\n---\n")
    (begun / "a.jpg").rename(begun.parent / "a.jpg")
    run("attach", "D-1", "a.jpg", "--into", "my")
    assert ["2026-09-13"] == [path.name[:10] for path in begun.rglob("2026-09-1*.md")]


def test_control_characters_of_an_entry_never_reach_the_terminal(run: Run, begun: Path) -> None:
    (begun / "f.md").write_text("---\nkind: find\nid: F-1\ndate: 2026-09-12\n\x1b[31mred: x\n---\n")
    done = run("check", "my")
    assert "\x1b" not in done.stdout + done.stderr


def test_show_serves_on_loopback_and_builds_again_what_changes(begun: Path, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "journal", "show", str(begun), "--to", str(tmp_path / "site"), "--port", "0"]
    env = {**os.environ, "XDG_CACHE_HOME": str(tmp_path / "cache")}
    # Whoever starts the tests in the background may have it ignored, and a program inherits that.
    heeding = partial(signal.signal, signal.SIGINT, signal.default_int_handler)
    showing = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env=env, preexec_fn=heeding)
    said = ""
    try:
        assert showing.stderr is not None
        address = ""
        while not address:
            line = showing.stderr.readline()
            assert line, "it ended before it showed anything"
            found = re.search(r"http://127\.0\.0\.1:\d+/", line)
            address = found.group() if found else ""
        (begun / "f.md").write_text("---\nkind: find\nid: F-77\ndate: 2026-09-12\nspecis: x\n---\n")
        assert "F-77" in _page_once(address + "finds/index.html", "F-77")
        while "Built again" not in said and (line := showing.stderr.readline()):  # the page is there a moment before
            said += line
    finally:
        showing.send_signal(signal.SIGINT)
        said += showing.communicate(timeout=30)[1]
    assert "Traceback" not in said
    assert re.search(r"^f\.md:5: error: .specis. is .*\nBuilt again: ", said, re.MULTILINE)


def _page_once(address: str, word: str) -> str:
    """A page, as soon as it has the word; after half a minute as it is."""
    page = ""
    for _ in range(150):
        with urllib.request.urlopen(address) as answer:
            page = answer.read().decode()
        if word in page:
            break
        time.sleep(0.2)
    return page
