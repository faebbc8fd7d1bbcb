"""What a picture file is, whatever state it is in."""

from __future__ import annotations

import hashlib
import json
import os
import pickle
import zlib
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PIL import Image, ImageFile

from journal.model import Photo
from journal.reading.photos import PhotoFacts, photo_of, read_facts, read_header, read_quickly
from journal.reading.picture_files import Limits

ROWS = json.loads((Path(__file__).parents[1] / "outside" / "exif.json").read_text("utf-8"))["rows"]
SIZE_ROWS = [row for row in ROWS if row["id"].startswith("exif-orient-size")]
KINDS = {"JPEG": ".jpg", "HEIF": ".heic", "PNG": ".png", "WEBP": ".webp", "TIFF": ".tif", "AVIF": ".avif"}
QUICK: dict[str, dict[str, Any]] = {"AVIF": {"speed": 10}, "HEIF": {"enc_params": {"preset": "ultrafast"}}}
"""Options with which the slow encoders write a large picture in a fraction of the time."""
LONDON = ZoneInfo("Europe/London")


@pytest.fixture
def dated(exif_block: Callable[..., bytes]) -> bytes:
    return exif_block(DateTimeOriginal="2026:09:12 14:05:11", OffsetTimeOriginal="+01:00")


def says_of(facts: PhotoFacts) -> list[str]:
    return [says for _, says, _ in facts.faults]


@pytest.mark.parametrize("kind", KINDS)
def test_a_whole_photo_has_facts_and_no_faults(
    kind: str, dated: bytes, picture_bytes: Callable[..., bytes], tmp_path: Path
) -> None:
    file = tmp_path / f"photo{KINDS[kind]}"
    file.write_bytes(picture_bytes(kind, dated))
    digest = hashlib.sha256(file.read_bytes()).hexdigest()
    facts = read_facts(file)
    assert (digest, datetime(2026, 9, 12, 14, 5, 11), 60) == (facts.digest, facts.local, facts.offset_min)
    assert (64, 32, ()) == (facts.width, facts.height, facts.faults)
    assert () == photo_of(facts, file.name, LONDON)[1]
    assert replace(facts, width=None, height=None) == read_header(file)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("row", SIZE_ROWS, ids=lambda row: row["id"])
def test_size_is_that_of_the_upright_picture(
    row: dict[str, Any],
    kind: str,
    exif_block: Callable[..., bytes],
    picture_bytes: Callable[..., bytes],
    tmp_path: Path,
) -> None:
    width, height = row["inputs"]["stored"]
    block = exif_block(Orientation=row["inputs"]["Orientation"])
    file = tmp_path / "photo"
    # Eight times the row's size: some encoders want more than 4 px.
    file.write_bytes(picture_bytes(kind, block, (8 * width, 8 * height)))
    facts = read_facts(file)
    assert [8 * side for side in row["expected"]["display"]] == [facts.width, facts.height]


def test_a_png_whose_orientation_is_behind_its_pixels_is_turned(
    exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes], tmp_path: Path
) -> None:
    content = picture_bytes("PNG", exif_block(Orientation=6))
    start, end = content.index(b"eXIf") - 4, content.index(b"IEND") - 4
    behind = start + 12 + int.from_bytes(content[start : start + 4], "big")
    file = tmp_path / "photo.png"
    file.write_bytes(content[:start] + content[behind:end] + content[start:behind] + content[end:])
    facts = read_facts(file)
    assert (32, 64) == (facts.width, facts.height)


def test_a_header_is_read_without_decoding_a_pixel(
    dated: bytes, picture_bytes: Callable[..., bytes], tmp_path: Path
) -> None:
    for kind, suffix in KINDS.items():
        file = tmp_path / f"photo{suffix}"
        file.write_bytes(picture_bytes(kind, dated))
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(ImageFile.ImageFile, "load", lambda _: pytest.fail("pixels were decoded"))
            assert datetime(2026, 9, 12, 14, 5, 11) == read_header(file).local


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "TIFF"])
def test_quickly_read_a_whole_photo_says_the_same_and_no_pixel_is_decoded(
    kind: str, dated: bytes, picture_bytes: Callable[..., bytes], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / f"photo{KINDS[kind]}"
    file.write_bytes(picture_bytes(kind, dated))
    expected = replace(read_facts(file), digest="", width=None, height=None)
    monkeypatch.setattr("journal.reading.photos.read_facts", lambda *_: pytest.fail("it was decoded"))
    assert expected == read_quickly(file)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("lost", [1, 40, 400])
def test_quickly_read_a_cut_photo_has_the_same_fault(
    kind: str, lost: int, dated: bytes, picture_bytes: Callable[..., bytes], tmp_path: Path
) -> None:
    file = tmp_path / f"photo{KINDS[kind]}"
    file.write_bytes(picture_bytes(kind, dated, (640, 480), **QUICK.get(kind, {}))[:-lost])
    assert read_facts(file).faults == read_quickly(file).faults


@pytest.mark.parametrize("content", [b"", b"no picture at all", b"\xff\xd8\xff\xe1"])
def test_quickly_read_what_is_not_a_photo_is_what_it_is(content: bytes, tmp_path: Path) -> None:
    file = tmp_path / "photo.jpg"
    file.write_bytes(content)
    assert read_facts(file) == read_quickly(file)


@pytest.mark.parametrize("orientation", [0, 9])
def test_an_orientation_that_is_none_leaves_the_picture_as_stored(
    orientation: int, exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes], tmp_path: Path
) -> None:
    """Common practice."""
    file = tmp_path / "photo.jpg"
    file.write_bytes(picture_bytes("JPEG", exif_block(Orientation=orientation)))
    facts = read_facts(file)
    assert (64, 32) == (facts.width, facts.height)


@pytest.mark.parametrize("kind", KINDS)
def test_a_cut_photo_is_odd_and_has_no_size(
    kind: str, dated: bytes, picture_bytes: Callable[..., bytes], tmp_path: Path
) -> None:
    file = tmp_path / f"photo{KINDS[kind]}"
    noise = Image.effect_noise((640, 480), 90).convert("RGB")
    content = picture_bytes(kind, dated, image=noise, **QUICK.get(kind, {}))
    file.write_bytes(content[: len(content) * 2 // 3])
    facts = read_facts(file)
    severity, says, _ = facts.faults[0]
    assert ("warning", True) == (severity, "damaged" in says)
    assert (None, None) == (facts.width, facts.height)


@pytest.mark.parametrize("share", [0.05, 0.5, 0.95])
def test_a_cut_jpeg_still_says_when_it_was_taken(
    share: float, dated: bytes, picture_bytes: Callable[..., bytes], tmp_path: Path
) -> None:
    file = tmp_path / "photo.jpg"
    content = picture_bytes("JPEG", dated, image=Image.effect_noise((640, 480), 90))
    file.write_bytes(content[: int(len(content) * share)])
    facts = read_facts(file)
    assert (datetime(2026, 9, 12, 14, 5, 11), 60, None) == (facts.local, facts.offset_min, facts.width)
    assert 1 == len(facts.faults)


def test_a_jpeg_cut_within_its_header_still_says_when_it_was_taken(
    dated: bytes, picture_bytes: Callable[..., bytes], tmp_path: Path
) -> None:
    file = tmp_path / "photo.jpg"
    content = picture_bytes("JPEG", dated)
    file.write_bytes(content[: content.index(b"Exif\0\0") + 6 + len(dated) + 40])
    facts = read_facts(file)
    assert (datetime(2026, 9, 12, 14, 5, 11), None) == (facts.local, facts.width)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b"Pins on the shaded side.\n" * 40, "this file is not a picture"),
        (b"\xff\xd8", "this file is not a picture"),
        (b"\xff\xd8\xff\xe1\xff\xff", "header cannot be read"),
        (b"II*\0\xff\xff\xff\xff", "header cannot be read"),
        (b"\x89PNG\r\n\x1a\n", "header cannot be read"),
        (b"\0\0\0\x18ftypheic\0\0\0\0", "header cannot be read"),
        (b"%!PS-Adobe-3.0 EPSF-3.0\n", "this file is not a picture"),
    ],
)
def test_what_is_not_a_photo_is_odd(content: bytes, says: str, tmp_path: Path) -> None:
    file = tmp_path / "photo.jpg"
    file.write_bytes(content)
    facts = read_facts(file)
    assert (None, None, None) == (facts.kind, facts.width, facts.local)
    assert [("warning", True)] == [(severity, says in what) for severity, what, _ in facts.faults if "EXIF" not in what]
    assert hashlib.sha256(content).hexdigest() == facts.digest


def test_only_the_kinds_of_the_format_are_decoded(tmp_path: Path) -> None:
    file = tmp_path / "photo.png"
    Image.new("RGB", (9, 9)).save(file, "GIF")
    says = "this file is not a picture: it is not JPEG, HEIC, PNG, WebP, TIFF or AVIF"
    assert [says] == says_of(read_facts(file))


def test_what_is_not_a_file_is_wrong(tmp_path: Path) -> None:
    for file in (tmp_path, tmp_path / "missing.jpg"):
        facts = read_facts(file)
        assert ["error"] == [weight for weight, _, _ in facts.faults]
        assert "" == facts.digest


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with names")
def test_a_pipe_is_not_waited_on(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "photo.jpg")
    for read in (read_facts, read_quickly):
        assert ["this photo is not a regular file"] == says_of(read(tmp_path / "photo.jpg"))


@pytest.mark.parametrize("kind", KINDS)
def test_too_many_pixels_are_distinguished_from_the_header(
    kind: str, dated: bytes, picture_bytes: Callable[..., bytes], tmp_path: Path
) -> None:
    file = tmp_path / "photo"
    file.write_bytes(picture_bytes(kind, dated, (1500, 1000), **QUICK.get(kind, {})))
    facts = read_facts(file, Limits(megapixels=1.4))
    assert ["this photo has 1.5 megapixels, over the limit of 1.4"] == says_of(facts)
    assert (None, datetime(2026, 9, 12, 14, 5, 11)) == (facts.width, facts.local)
    assert 1500 == read_facts(file, Limits(megapixels=1.5)).width


def test_over_200_megapixels_are_refused_and_no_warning_is_given(tmp_path: Path) -> None:
    """180 megapixels are over Pillow's own limit, and under the journal's."""
    for side, says in ((13_416, "cannot be decoded"), (14_143, "has 200.1 megapixels, over the limit of 200")):
        file = tmp_path / "photo.png"
        header = b"IHDR" + side.to_bytes(4, "big") * 2 + b"\x08\x00\x00\x00\x00"
        chunk = (13).to_bytes(4, "big") + header + zlib.crc32(header).to_bytes(4, "big")
        file.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk + b"\0\0\0\0IDAT\x35\xaf\x06\x1e" + b"\0\0\0\0IEND\xaeB\x60\x82")
        assert says in says_of(read_facts(file))[0]


@pytest.mark.parametrize("kind", KINDS)
def test_a_name_that_says_another_kind_is_odd(kind: str, picture_bytes: Callable[..., bytes], tmp_path: Path) -> None:
    wrong = ".png" if kind == "JPEG" else ".JPG"
    file = tmp_path / f"photo{wrong}"
    file.write_bytes(picture_bytes(kind))
    facts = read_facts(file)
    photo, problems = photo_of(facts, f"finds/photo{wrong}", LONDON)
    assert (64, 32) == (photo.width, photo.height)
    assert [("finds/photo" + wrong, "warning", f"change the suffix to {KINDS[kind]}")] == [
        (problem.path, problem.severity, problem.fix) for problem in problems
    ]


@pytest.mark.parametrize("name", ["a.JPG", "a.jpeg", "a.Jpeg", "a.jpg"])
def test_every_spelling_of_a_suffix_is_good(name: str) -> None:
    assert () == photo_of(PhotoFacts("d", "JPEG"), name, LONDON)[1]


def test_a_damaged_photo_says_nothing_on_the_terminal(
    dated: bytes, picture_bytes: Callable[..., bytes], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    for kind in KINDS:
        file = tmp_path / kind
        noise = Image.effect_noise((640, 480), 90).convert("RGB")
        content = picture_bytes(kind, dated, image=noise, **QUICK.get(kind, {}))
        for end in (40, len(content) // 3, len(content) - 9):
            file.write_bytes(content[:end])
            read_facts(file)
    assert ("", "") == tuple(capfd.readouterr())


FULL = PhotoFacts(
    "ab" * 32, "HEIC", 3024, 4032,
    local=datetime(2026, 9, 12, 14, 5, 11, 45_000), offset_min=60, gps_utc=datetime(2026, 9, 12, 13, 5, 9),
    lat_deg=58.30412, lon_deg=-8.90177, uncertainty_m=4.7, faults=(("warning", "says", "mend"),),
)  # fmt: skip


@pytest.mark.parametrize("facts", [FULL, PhotoFacts("")], ids=["full", "empty"])
def test_facts_come_back_from_a_worker(facts: PhotoFacts) -> None:
    assert facts == pickle.loads(pickle.dumps(facts))


def test_a_photo_has_the_cameras_offset() -> None:
    photo, problems = photo_of(FULL, "finds/one/a.heic", LONDON)
    assert "2026-09-12T14:05:11.045000+01:00" == (photo.taken and photo.taken.isoformat())
    assert (58.30412, -8.90177, 4.7, 3024, 4032) == (
        photo.lat_deg, photo.lon_deg, photo.uncertainty_m, photo.width, photo.height,
    )  # fmt: skip
    assert ["finds/one/a.heic: warning: says; fix: mend"] == [str(problem) for problem in problems]


@pytest.mark.parametrize(
    ("local", "taken", "says"),
    [
        ("2026-07-01T12:00:00", "2026-07-01T12:00:00+01:00", None),
        ("2026-12-01T12:00:00", "2026-12-01T12:00:00+00:00", None),
        ("2026-10-25T01:30:00", "2026-10-25T01:30:00+01:00", "occurs twice"),
        ("2026-03-29T01:30:00", "2026-03-29T00:30:00+00:00", "does not exist"),
    ],
)
def test_a_photo_without_offset_is_in_the_journals_zone(local: str, taken: str, says: str | None) -> None:
    """Source of the days: the Summer Time Order 2002 (UK), 01:00 UTC on the last Sundays of March and October."""
    photo, problems = photo_of(PhotoFacts("d", "JPEG", local=datetime.fromisoformat(local)), "a.jpg", LONDON)
    assert taken == (photo.taken and photo.taken.isoformat())
    assert [("warning", True, True)] * bool(says) == [
        (problem.severity, str(says) in problem.message, "OffsetTimeOriginal" in problem.fix) for problem in problems
    ]


@pytest.mark.parametrize("offset_min", [0, 60])
def test_an_offset_in_the_photo_tells_which_hour_of_a_clock_change_it_is(offset_min: int) -> None:
    local = datetime(2026, 10, 25, 1, 30)
    photo, problems = photo_of(PhotoFacts("d", "JPEG", local=local, offset_min=offset_min), "a.jpg", LONDON)
    assert ((), timedelta(minutes=offset_min)) == (problems, photo.taken and photo.taken.utcoffset())


def test_a_photo_without_time_has_none() -> None:
    assert (Photo(path="a.jpg", digest="d"), ()) == photo_of(PhotoFacts("d"), "a.jpg", LONDON)
