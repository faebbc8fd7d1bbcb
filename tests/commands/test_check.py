"""`journal check`, in this process."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from journal.cli import cli
from journal.commands.console import run
from tests.builders import entry

Check = Callable[..., tuple[int, list[str]]]

FILES = {
    "journal.toml": '[journal]\nauthor = "Porter"\ntime_zone = "Europe/London"\n[tents.hut]\nname = "Hut"\n',
    "cultures/PP-1.md": entry("culture", id="PP-1", date="2026-09-01", received_from="x", form="agar"),
    "cultures/grown.md": entry("note", about="PP-1", date="2026-09-03", colony="7: 34 × 36 mm"),
    "batches/B-1/batch.md": entry(
        "batch",
        "id: B-1\ndate: 2026-10-01\nculture: pp-1\nwet mass: 2 kilos\nmix: 2 pounds oak pellets, bran 1,2 kg\n"
        "wants humidity: 90-95\nwants temperature: 61–68 °F\nunits:\nprivate: no\n"
        "photos:\n  - gone.jpg: at the edge\nnext: 2026-11-02 water",
        text="Two lines\nof text.\n",
    ),
    "batches/B-1/2026-10-20-pins.md": entry(
        "note",
        stage="primordia",
        harvest="1 lb 4 oz",
        flush="x",
        weight="2 kg",
        minutes="25",
        sold="21.50",
        date="",
    ),
    "tents/a.md": entry(
        "tent",
        "about: hut\ndate: about 2026-10-03\nlight: 12:12\nexhaust: every 15 min\nlight colour: 6500\n"
        "temperature reading: 61 °F\nco2 reading: 900 ppm\nmeter: 0.2 MWh\ntank fill: 5 l\nlight level: 640 lux",
    ),
    "f.md": entry("find", "id: F-1\ndate: 2026-09\nwhere: 58°18.25′N 8°54.1′W ±8 m\nelevation: 40 ft"),
    "left.md": entry("batch", "units: 4"),
}


@pytest.fixture
def check(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Check:
    """The command on a journal of FILES: its exit code, and the lines on stdout."""
    for name, text in FILES.items():
        path = tmp_path / "my" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")

    def checked(*words: str) -> tuple[int, list[str]]:
        status = run(cli, ["check", str(tmp_path / "my"), "--cache", str(tmp_path / "cache"), *words])
        captured = capsys.readouterr()
        return status, (captured.out or captured.err).splitlines()

    return checked


def test_a_summary_ends_the_list(check: Check) -> None:
    status, lines = check()
    problems = lines[:-3]
    assert 1 == status
    assert all(": error: " in line or ": warning: " in line for line in problems)
    errors = sum(": error: " in line for line in problems)
    assert (
        f"6 entries, 0 photos and 0 logger files read: {len(problems)} problems "
        f"({errors} errors, {len(problems) - errors} warnings) in 3 files"
    ) == lines[-3]
    assert ["What an error is about is left out until you fix it."] == lines[-2:-1]


def test_json_shows_the_same_problems_to_an_editor(check: Check) -> None:
    status, lines = check()
    said, printed = check("--json")
    document = json.loads("\n".join(printed))
    assert status == said == 1
    assert ["folder", "problems", "summary"] == list(document)
    assert [line.partition(": ")[0] for line in lines[:-3]] == [
        f"{row['path']}:{row['line']}" if row["line"] else row["path"] for row in document["problems"]
    ]
    assert {"path", "line", "severity", "message", "fix", "paste"} == set(document["problems"][0])
    assert len(document["problems"]) == document["summary"]["errors"] + document["summary"]["warnings"]
    assert (3, 6) == (document["summary"]["files_with_problems"], document["summary"]["entries"])


def test_its_help_says_what_each_exit_code_means(check: Check) -> None:
    lines = [line.strip() for line in check("--help")[1]]
    for code, meaning in ((0, "no error"), (1, "at least one error"), (2, "the journal could not"), (130, "stopped")):
        assert any(line.startswith(f"{code:<5}{meaning}") for line in lines)


@pytest.mark.parametrize(
    ("file", "line", "read"),
    [
        ("cultures/PP-1.md", "form: agar", "= form: plate"),
        ("cultures/PP-1.md", "received from: x", "= received from: x"),
        ("batches/B-1/batch.md", "culture: pp-1", "= culture: PP-1, a culture"),
        ("batches/B-1/batch.md", "wet mass: 2 kilos", "= wet mass: 2 kg a unit"),
        ("batches/B-1/batch.md", "mix: 2 pounds oak pellets, bran 1,2 kg", "= mix: oak pellets 907 g; bran 1.2 kg"),
        ("batches/B-1/batch.md", "wants humidity: 90-95", "= wants humidity: 90–95 %"),
        ("batches/B-1/batch.md", "wants temperature: 61–68 °F", "= wants temperature: 16.1–20 °C"),
        ("batches/B-1/batch.md", "units:", "= nothing, for no value is written"),
        ("batches/B-1/batch.md", "private: no", "= private: no"),
        ("batches/B-1/batch.md", "next: 2026-11-02 water", "= next: 2 November 2026: water"),
        ("batches/B-1/2026-10-20-pins.md", "stage: primordia", "= stage: pinning"),
        ("batches/B-1/2026-10-20-pins.md", "harvest: 1 lb 4 oz", "= harvest: 567 g"),
        ("batches/B-1/2026-10-20-pins.md", "flush: x", "error: flush: "),
        (
            "batches/B-1/2026-10-20-pins.md",
            "weight: 2 kg",
            'error: "weight" is not a key of a note; fix: write harvest',
        ),
        ("tents/a.md", "about: hut", "= about: hut, a tent"),
        ("tents/a.md", "date: about 2026-10-03", "= date: about 3 October 2026"),
        ("tents/a.md", "light: 12:12", "= light: 12 h on, 12 h off"),
        ("tents/a.md", "exhaust: every 15 min", "= exhaust: every 15 min (run time not written)"),
        ("tents/a.md", "light colour: 6500", "= light colour: 6500 K"),
        ("tents/a.md", "temperature reading: 61 °F", "= temperature reading: 16.1 °C"),
        ("tents/a.md", "co2 reading: 900 ppm", "= co2 reading: 900 ppm"),
        ("tents/a.md", "meter: 0.2 MWh", "= meter: 200 kWh"),
        ("tents/a.md", "tank fill: 5 l", "= tank fill: 5000 ml"),
        ("tents/a.md", "light level: 640 lux", "= light level: 640 lux"),
        ("batches/B-1/2026-10-20-pins.md", "minutes: 25", "= minutes: 25 min"),
        ("batches/B-1/2026-10-20-pins.md", "sold: 21.50", "= sold: 21.50"),
        ("cultures/grown.md", "colony: 7: 34 × 36 mm", "= colony: 7: 34 × 36 mm"),
        ("f.md", "where: 58°18.25′N 8°54.1′W ±8 m", "= where: 58.30417, -8.90167 ±8 m"),
        ("f.md", "elevation: 40 ft", "= elevation: 12 m"),
        ("left.md", "units: 4", "= units: 4"),
    ],
)
def test_each_line_is_explained_by_how_it_was_read(check: Check, file: str, line: str, read: str) -> None:
    lines = [one[6:] for one in check("--explain", file)[1]]
    assert lines[lines.index(line) + 1].startswith(read)


def test_in_us_units_a_position_is_explained_with_its_radius_in_feet(check: Check, tmp_path: Path) -> None:
    toml = tmp_path / "my" / "journal.toml"
    toml.write_text(f'[journal]\nunits = "us"\n{FILES["journal.toml"].removeprefix("[journal]")}', encoding="utf-8")
    assert "= where: 58.30417, -8.90167 ±27 ft" in [line.strip() for line in check("--explain", "f.md")[1]]


@pytest.mark.parametrize(
    ("units", "written", "read"),
    [
        ("metric", "1,84 g", "1.84 g"),
        ("metric", "12.5 g", "12.5 g"),
        ("metric", "13.814 kg", "13.814 kg"),
        ("metric", "0.065 oz", "1.8 g"),
        ("us", "0.065 oz", "0.065 oz"),
        ("us", "2 lb 1.25 oz", "2 lb 1.25 oz"),
        ("us", "5 lb", "5 lb"),
        ("us", "12.5 g", "0.4 oz"),
    ],
)
def test_a_mass_is_explained_with_every_digit_that_was_written(
    check: Check, tmp_path: Path, units: str, written: str, read: str
) -> None:
    (tmp_path / "my" / "journal.toml").write_text(f'[journal]\nunits = "{units}"\n', encoding="utf-8")
    text = entry("note", f"about: PP-1\ndate: 2026-10-04\nharvest: {written}")
    (tmp_path / "my" / "picked.md").write_text(text, encoding="utf-8")
    assert f"= harvest: {read}" in [line.strip() for line in check("--explain", "picked.md")[1]]


def test_what_an_entry_has_from_elsewhere_is_told_with_its_source(check: Check) -> None:
    status, lines = check("--explain", "batches/B-1/2026-10-20-pins.md")
    told = lines[lines.index("Not written, and known all the same:") :]
    assert 1 == status
    assert "      date: 20 October 2026 (from the name of its file or folder)" in told
    assert "      about: B-1, a batch (the one entry of its folder that is not a note)" in told
    assert "  16  … the text, 2 lines" in check("--explain", "batches/B-1/batch.md")[1]


def test_an_entry_that_is_left_out_says_so_and_why(check: Check) -> None:
    status, lines = check("--explain", "left.md")
    assert (1, "left.md: left out of the journal; the errors say why") == (status, lines[0])
    assert any("a batch needs id" in line for line in lines)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--explain", "cultures/PP-2.md"), "is not an entry of this journal; did you mean cultures/PP-1.md?"),
        (("--explain", "journal.toml"), "is not an entry of this journal; name the Markdown file of an entry"),
        (("--json", "--explain", "f.md"), "--json and --explain cannot be given together"),
    ],
)
def test_what_cannot_be_explained_is_refused(check: Check, words: tuple[str, ...], says: str) -> None:
    status, lines = check(*words)
    assert 2 == status
    assert says in "\n".join(lines)


def test_a_file_with_warnings_alone_ends_with_0(check: Check) -> None:
    assert 0 == check("--explain", "cultures/PP-1.md")[0]
