"""`journal attach --by-label`, as an author types it."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest
import segno
from PIL import Image

from journal.commands import attach_by_label
from journal.importing import code_scan
from journal.importing.copying import Disk
from journal.site.build.photo_workers import run_on_files
from tests.builders import Inline
from tests.importing.shore import Ended, Shore

Label = Callable[..., Path]


@pytest.fixture
def label(
    shore: Shore,
    exif_block: Callable[..., bytes],
    picture_bytes: Callable[..., bytes],
    monkeypatch: pytest.MonkeyPatch,
) -> Label:
    """Called with a name, when it was taken (`07:31`, "" for no time) and texts: a photo of labels that say those."""
    monkeypatch.setattr(code_scan, "run_on_files", lambda look, files, *_: run_on_files(look, files, Inline()))

    def write(name: str, at: str, *texts: str) -> Path:
        image = Image.new("RGB", (40 + 160 * max(1, len(texts)), 200), "white")
        for number, text in enumerate(texts):
            out = io.BytesIO()
            segno.make(text, error="h", micro=False, boost_error=False).save(out, kind="png", scale=4, border=4)
            image.paste(Image.open(out).convert("RGB").resize((150, 150)), (20 + 160 * number, 20))
        more = {"DateTimeOriginal": f"2026:10:27 {at}:00"} if at else {}
        file = shore.camera / name
        file.write_bytes(picture_bytes("JPEG", exif_block(**more), image=image))
        return file

    return write


def thing(shore: Shore, name: str, at: str, shade: int) -> Path:
    return shore.photo(name, f"2026:10:27 {at}:00" if at else "", shade)


@pytest.fixture
def session(shore: Shore, label: Label) -> Shore:
    """Labels, each with what follows: a batch and two photos, a unit of it and a photo, a culture and a photo."""
    label("1.jpg", "07:00", "B-031")
    thing(shore, "2.jpg", "07:01", 1)
    thing(shore, "3.jpg", "07:02", 2)
    label("4.jpg", "07:03", "b-031.2")
    thing(shore, "5.jpg", "07:04", 3)
    label("6.jpg", "07:05", "PP-26B")
    thing(shore, "7.jpg", "07:06", 4)
    return shore


NOTES = ["batches/B-031/2026-10-27.md", "batches/B-031/2026-10-27-B-031.2.md", "cultures/PP-26B/2026-10-27.md"]


def by_label(shore: Shore, *words: str | Path) -> Ended:
    return shore.attach("--by-label", shore.camera, *words)


def goes(ended: Ended) -> dict[str, tuple[str, str]]:
    """The table: photo -> its label, and where it goes and why."""
    rows = [line.split("  ") for line in (ended.out + ended.err).splitlines() if "DCIM" in line and "  " in line]
    cells = [[cell.strip() for cell in row if cell.strip()] for row in rows]
    return {Path(row[2]).name: (row[1], " | ".join(row[3:])) for row in cells if len(row) > 4}


def test_each_group_becomes_a_note_of_its_id_and_day(session: Shore) -> None:
    ended = by_label(session, "--yes")
    assert (0, NOTES) == (ended.status, ended.paths)
    expected = "---\nkind: note\nabout: B-031\ndate: 2026-10-27\nphotos:\n  - 2.jpg\n  - 3.jpg\n---\n"
    assert expected == session.text(NOTES[0])
    assert "about: B-031.2\n" in session.text(NOTES[1])
    assert (session.camera / "7.jpg").read_bytes() == (session.root / "cultures/PP-26B/7.jpg").read_bytes()
    assert () == session.journal().problems
    assert not (session.root / "batches/B-031/1.jpg").exists()
    assert "3 new entries with 4 photos, 3 photos of labels not copied" in ended.err


def test_the_table_says_of_each_photo_where_it_would_go_and_why(session: Shore) -> None:
    thing(session, "0.jpg", "06:00", 5)
    thing(session, "8.jpg", "07:30", 6)
    before = session.visible()
    ended = by_label(session, "--dry-run")
    assert (1, before, []) == (ended.status, session.visible(), session.hidden())
    assert {
        "0.jpg": ("?", "left out | no label before it"),
        "1.jpg": ("B-031", "left out | the label itself"),
        "2.jpg": ("B-031", "batches/B-031/2.jpg | 60 s after the label"),
        "3.jpg": ("B-031", "batches/B-031/3.jpg | 60 s after the photo before it"),
        "4.jpg": ("B-031.2", "left out | the label itself"),
        "5.jpg": ("B-031.2", "batches/B-031/5.jpg | 60 s after the label"),
        "6.jpg": ("PP-26B", "left out | the label itself"),
        "7.jpg": ("PP-26B", "cultures/PP-26B/7.jpg | 60 s after the label"),
        "8.jpg": ("?", "left out | after a pause of 24 min"),
    } == goes(ended)
    assert "3 entries with 4 photos would be written, 2 left out; this was a dry run" in ended.err


def test_without_a_yes_nothing_is_written(session: Shore) -> None:
    before = session.visible()
    refused = by_label(session)
    assert (2, "", before) == (refused.status, refused.out, session.visible())
    assert "add --yes" in refused.err


@pytest.mark.parametrize(("says", "notes"), [("y", NOTES), ("n", [])])
def test_what_belongs_to_no_label_is_asked_about_and_then_a_yes(
    session: Shore, monkeypatch: pytest.MonkeyPatch, says: str, notes: list[str]
) -> None:
    thing(session, "0.jpg", "06:00", 5)
    asked: list[str] = []
    answers = iter(["nothing", "fan-1", says])

    def prompt(question: str, **more: object) -> object:
        asked.append(question)
        while True:
            try:
                return more["value_proc"](next(answers))  # type: ignore[operator]
            except Exception as error:
                asked.append(str(error))

    monkeypatch.setattr(attach_by_label, "can_ask", lambda: True)
    monkeypatch.setattr("click.prompt", prompt)
    monkeypatch.setattr("click.confirm", lambda question, **_: asked.append(question) or next(answers) == "y")
    ended = by_label(session)
    assert asked[0].startswith("0.jpg, 2026-10-27 06:00: no label before it. What is it of (an ID;")
    assert ("there is no nothing in this journal", "Write 4 entries with 5 photos?") == (asked[1], asked[-1])
    assert (0, sorted([*notes, *(["devices/fan-1/2026-10-27.md"] if notes else [])])) == (
        ended.status,
        sorted(ended.paths),
    )


def test_twice_is_as_good_as_once_and_goes_by_content(session: Shore) -> None:
    by_label(session, "--yes", "--with-labels")
    for file in session.camera.iterdir():
        file.rename(file.with_name(f"IMG_{file.name}"))
    thing(session, "IMG_8.jpg", "07:07", 5)  # its label is in the journal by now
    thing(session, "IMG_9.jpg", "07:07", 5)  # and the same once more
    ended = by_label(session, "--yes")
    assert (0, ["cultures/PP-26B/2026-10-27-2.md"]) == (ended.status, ended.paths)
    assert "1 new entry with 1 photo, 4 already in the journal\n" in ended.err
    assert () == session.journal().problems


def test_photos_of_one_name_that_go_to_one_folder_for_two_labels_are_both_kept(session: Shore) -> None:
    (session.camera / "5.jpg").rename(thing(session, "more/2.jpg", "07:04", 3))
    assert (0, NOTES) == ((ended := by_label(session, "--yes")).status, ended.paths)
    kept = {(session.root / f"batches/B-031/{name}").read_bytes() for name in ("2.jpg", "2-2.jpg")}
    assert {(session.camera / name).read_bytes() for name in ("2.jpg", "more/2.jpg")} == kept
    assert () == session.journal().problems


def test_labels_are_taken_in_where_wanted(session: Shore) -> None:
    by_label(session, "--yes", "--with-labels")
    assert "photos:\n  - 1.jpg\n  - 2.jpg\n  - 3.jpg\n" in session.text(NOTES[0])


def test_a_run_that_was_stopped_is_completed_by_the_next(session: Shore, monkeypatch: pytest.MonkeyPatch) -> None:
    copy = Disk.copy

    def stopped_at_7(disk: Disk, source: Path, digest: str, final: Path) -> None:
        if final.name == "7.jpg":
            raise KeyboardInterrupt
        copy(disk, source, digest, final)

    monkeypatch.setattr(Disk, "copy", stopped_at_7)
    stopped = by_label(session, "--yes")
    assert (130, NOTES[:2]) == (stopped.status, stopped.paths)
    monkeypatch.setattr(Disk, "copy", copy)
    again = by_label(session, "--yes")
    assert (0, NOTES[2:], []) == (again.status, again.paths, session.hidden())
    assert () == session.journal().problems


@pytest.mark.parametrize(
    ("texts", "why"),
    [
        (["B-099"], "it shows a label, but there is no B-099 in this journal"),
        (["B-031.9"], "it shows a label, but B-031 has 4 units, so there is no B-031.9"),
        (["B-031", "PP-26B"], "it shows 2 labels, "),
        (["https://elsewhere.example/batches/b-031/"], "it shows a QR code that is not a label of this journal"),
        (["javascript:alert(1)"], 'it shows a QR code that is not a label of this journal ("javascript:alert(1)")'),
    ],
)
def test_a_label_that_names_no_one_thing_names_nothing_and_what_follows_is_left_out(
    shore: Shore, label: Label, texts: list[str], why: str
) -> None:
    label("1.jpg", "07:00", "B-031")
    label("2.jpg", "07:01", *texts)
    thing(shore, "3.jpg", "07:02", 1)
    before = shore.visible()
    ended = by_label(shore, "--yes")
    assert (1, [], before) == (ended.status, ended.paths, shore.visible())
    table = goes(ended)
    assert table["2.jpg"][1].startswith(f"left out | {why}")
    assert ("?", "left out | after 2.jpg, whose label is not clear") == table["3.jpg"]


def test_the_label_of_what_is_over_is_pointed_at(session: Shore) -> None:
    session.write({"batches/B-031/over.md": "---\nkind: note\nabout: B-031\ndate: 2026-10-20\nstage: spent\n---\n"})
    ended = by_label(session, "--yes")
    assert (0, 1) == (ended.status, ended.err.count("B-031 has been spent since 2026-10-20"))


def test_a_label_printed_before_its_id_was_changed_leads_to_the_new_one(session: Shore) -> None:
    batch = session.text("batches/B-031/batch.md").replace("id: B-031\n", "id: B-131\nformerly: B-031\n")
    session.write({"batches/B-031/batch.md": batch})
    ended = by_label(session, "--yes")
    assert (0, 1) == (ended.status, ended.err.count("B-031 is B-131 now: photos after its label go there"))
    assert "about: B-131\n" in session.text("batches/B-031/2026-10-27.md")


def test_a_label_that_was_printed_ahead_waits_for_its_entry(session: Shore, label: Label) -> None:
    with (session.root / "journal.toml").open("a") as settings:
        settings.write('\n[[reserved]]\nkind = "batch"\nids = ["B-040"]\n')
    label("8.jpg", "07:07", "B-040")
    thing(session, "9.jpg", "07:08", 9)
    ended = by_label(session, "--yes")
    assert (1, NOTES) == (ended.status, ended.paths)
    assert "it shows a label, but B-040 was printed ahead and has no entry yet" in ended.err


def test_the_table_says_where_a_photo_is_older_than_what_it_is_of(session: Shore) -> None:
    batch = session.text("batches/B-031/batch.md").replace("date: 2026-10-06", "date: 2026-10-28")
    session.write({"batches/B-031/batch.md": batch})
    table = goes(by_label(session, "--dry-run"))
    assert table["2.jpg"][1].endswith("| 60 s after the label; before B-031 began (2026-10-28)")
    assert table["7.jpg"][1].endswith("| 60 s after the label")


def test_a_camera_whose_clock_is_off_is_set_right(shore: Shore, label: Label) -> None:
    with (shore.root / "journal.toml").open("a") as settings:
        settings.write('\n[camera_clocks]\n"Wren 4" = "1 h slow"\n')
    label("1.jpg", "08:00", "B-031")
    shore.photo("2.jpg", "2026:10:27 07:01:00", Model="Wren 4")
    assert "60 s after the label" in goes(by_label(shore, "--dry-run"))["2.jpg"][1]


def test_photos_with_no_time_are_left_out_in_a_script(shore: Shore, label: Label) -> None:
    label("1.jpg", "", "B-031")
    thing(shore, "2.jpg", "", 1)
    ended = by_label(shore, "--yes", "--date", "2026-10-27")
    assert (1, []) == (ended.status, ended.paths)
    assert "no time in it; by its name it follows the label B-031" in ended.err


def test_the_contact_sheet_shows_every_photo(session: Shore, tmp_path: Path) -> None:
    by_label(session, "--dry-run", "--sheet", tmp_path / "sheet.html")
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert (7, 0) == (page.count('src="data:image/jpeg;base64,'), page.count("cannot be decoded"))
    assert 0o600 == (tmp_path / "sheet.html").stat().st_mode & 0o777


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--by-label", "x", "--by-day"), "--by-day is not needed"),
        (("--by-label", "x", "--into", "batches"), "--into names the journal"),
        (("--by-label", "x", "--pause", "soon"), "--pause soon is not a time; write it like 5 min"),
        (("--by-label", "x", "--sheet", "sheet.html"), "--sheet sheet.html is in the journal"),
        (("--by-label", "x", "--stage", "pinning"), "no file or folder x"),
        (("B-031", "x", "--with-labels"), "--with-labels goes with --by-label"),
        (("B-031", "x", "--yes"), "--yes goes with --by-label"),
        (("B-031",), "name an ID, then the photos"),
    ],
)
def test_what_does_not_fit_together_is_one_line(shore: Shore, words: tuple[str, ...], said: str) -> None:
    refused = shore.attach(*words)
    assert (2, "") == (refused.status, refused.out)
    assert said in refused.err
