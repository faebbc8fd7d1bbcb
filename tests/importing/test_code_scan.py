from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest
import segno
from PIL import Image

from journal.importing import code_scan
from journal.importing.code_scan import Scan, codes_in, reduction, scan_photo, scan_photos
from journal.importing.photo_files import Content, Source
from journal.problems import Refusal
from journal.reading.picture_files import Limits
from tests.builders import Inline
from tests.importing.degraded_labels import scene

ID = "B-031"
ADDRESS = "https://journal.example/tarn-skerry/batches/b-031/"


def read_rate(wanted: list[tuple[str, Image.Image]]) -> float:
    """The share of pictures in which the one text was read and nothing else was seen; fails where one was misread."""
    scans = [(text, codes_in(picture)) for text, picture in wanted]
    assert [] == [texts for text, (texts, _) in scans if set(texts) - {text}]
    return sum(found == ((text,), False) for text, found in scans) / len(scans)


def test_labels_tilted_up_to_30_degrees_are_read_at_4_pixels_a_module() -> None:
    pictures = [(ID, scene(ID, seed, 4, tilt_deg=tilt)) for tilt in (0, 15, 30) for seed in range(24)]
    pictures += [(ADDRESS, scene(ADDRESS, seed, 4, tilt_deg=30)) for seed in range(24)]
    assert read_rate(pictures) >= 0.98


def test_labels_blurred_by_a_module_are_read() -> None:
    pictures = [(ID, scene(ID, seed, 4, 10, blur)) for blur in ("disc", "line") for seed in range(25)]
    pictures += [(ADDRESS, scene(ADDRESS, seed, 4, 10, blur)) for blur in ("disc", "line") for seed in range(5)]
    assert read_rate(pictures) >= 0.90


def test_labels_with_15_percent_hidden_are_read() -> None:
    """At level H. A small code has its corners hidden more often, so this is of one that holds an address."""
    assert read_rate([(ADDRESS, scene(ADDRESS, seed, 4, 10, hidden=0.15)) for seed in range(40)]) >= 0.80


def code(text: str | bytes, scale: int = 5) -> Image.Image:
    out = io.BytesIO()
    segno.make(text, micro=False, error="l", boost_error=False).save(out, kind="png", scale=scale, border=4)
    return Image.open(out).convert("L")


def saved(picture: Image.Image, file: Path, **more: object) -> Path:
    picture.save(file, **more)
    return file


@pytest.mark.parametrize(
    "text",
    ["javascript:alert(1)", "https://elsewhere.example/", "A" * 4000, "\x1b[2J\x00", "<script>alert(1)</script>"],
)
def test_whatever_a_code_says_is_given_as_text(text: str, tmp_path: Path) -> None:
    scan = scan_photo(False, saved(code(text, 4), tmp_path / "a.png"), Limits())
    assert (1, False, True) == (len(scan.texts), scan.has_unreadable, scan.is_decoded)
    assert text[0] == scan.texts[0][0] or "\x1b" == text[0]  # control characters are given by their names


def test_two_labels_in_one_picture_are_both_read() -> None:
    one, other = code("B-031"), code("B-032")
    both = Image.new("L", (one.width * 2 + 20, one.height + 30), 255)
    both.paste(one, (0, 0))
    both.paste(other.rotate(180), (one.width + 20, 30))
    texts, has_unreadable = codes_in(both)
    assert (["B-031", "B-032"], False) == (sorted(texts), has_unreadable)


def test_a_code_that_cannot_be_read_is_seen() -> None:
    broken = code("B-031")
    broken.paste(0, (broken.width // 2 - 15, broken.height // 2, broken.width - 20, broken.height - 20))
    assert ((), True) == codes_in(broken)


def test_a_picture_without_a_code_shows_none() -> None:
    assert ((), False) == codes_in(Image.effect_noise((400, 300), 60))


@pytest.mark.parametrize(("long_side", "factor"), [(640, 1), (2999, 1), (3000, 2), (4032, 2), (6000, 4), (30_000, 8)])
def test_a_photo_is_read_at_half_its_size_or_less(long_side: int, factor: int) -> None:
    assert factor == reduction(long_side)


@pytest.mark.parametrize(("kind", "ending"), [("JPEG", "jpg"), ("PNG", "png"), ("HEIF", "heic")])
def test_a_large_photo_is_reduced_and_a_code_in_it_read(
    kind: str, ending: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    photo = Image.new("RGB", (3000, 600), "white")
    photo.paste(code("B-031", 12).convert("RGB"), (800, 100))
    sizes = []
    monkeypatch.setattr(code_scan, "codes_in", lambda grey: (sizes.append(grey.size), codes_in(grey))[1])
    scan = scan_photo(False, saved(photo, tmp_path / f"a.{ending}", format=kind), Limits())
    assert (("B-031",), [(1500, 300)]) == (scan.texts, sizes)


def test_where_a_code_is_seen_and_not_read_the_photo_is_read_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sizes = []

    def unreadable_while_small(grey: Image.Image) -> tuple[tuple[str, ...], bool]:
        sizes.append(grey.size)
        return ((), True) if grey.width < 3000 else (("B-031",), False)

    monkeypatch.setattr(code_scan, "codes_in", unreadable_while_small)
    scan = scan_photo(False, saved(Image.new("L", (3000, 60)), tmp_path / "a.jpg"), Limits())
    assert ([(1500, 30), (3000, 60)], Scan(("B-031",))) == (sizes, scan)


def content(file: Path) -> Content:
    return Content(Source(file, file.name), file.name, 0)


def test_what_cannot_be_decoded_is_reported_and_stops_nothing(tmp_path: Path) -> None:
    whole = saved(code("B-031"), tmp_path / "a.png")
    (tmp_path / "b.png").write_bytes(whole.read_bytes()[:200])
    (tmp_path / "c.png").write_bytes(b"")
    large = saved(Image.new("1", (15_000, 14_000)), tmp_path / "d.png")
    files = [whole, tmp_path / "b.png", tmp_path / "c.png", large]
    told: list[tuple[int, int]] = []
    scans = scan_photos([content(one) for one in files], lambda _, *done: told.append(done), executor=Inline())
    unread = Scan(is_decoded=False)
    assert {"a.png": Scan(("B-031",)), "b.png": unread, "c.png": unread, "d.png": unread} == scans
    assert (4, 4) == told[-1]


def test_worker_processes_read_them_as_well(tmp_path: Path) -> None:
    file = saved(code("B-031"), tmp_path / "a.png")
    assert {"a.png": Scan(("B-031",))} == scan_photos([content(file)], lambda *_: None)


def test_a_thumbnail_is_upright_and_holds_nothing_but_pixels(
    tmp_path: Path, exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]
) -> None:
    block = exif_block(Orientation=6, DateTimeOriginal="2026:10:27 07:31:00")
    (tmp_path / "a.jpg").write_bytes(picture_bytes("JPEG", block, image=Image.new("RGB", (800, 400), "green")))
    small = Image.open(io.BytesIO(scan_photo(True, tmp_path / "a.jpg", Limits()).thumbnail))
    assert ((120, 240), {}) == (small.size, dict(small.getexif()))


def test_without_the_library_one_line_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "zxingcpp", None)
    with pytest.raises(Refusal, match="pip install zxing-cpp"):
        scan_photos([], lambda *_: None)
