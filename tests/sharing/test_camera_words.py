"""What a photo's own metadata says of somebody or of one camera."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from journal.sharing.decoders import camera_words


def photo(tmp_path: Path, first: dict[int, object], more: dict[int, object], name: str = "a.jpg") -> Path:
    exif = Image.Exif()
    exif.update(first)
    exif.get_ifd(0x8769).update(more)
    file = tmp_path / name
    Image.new("RGB", (8, 8)).save(file, exif=exif.tobytes())
    return file


@pytest.mark.parametrize(
    ("first", "more", "said"),
    [
        ({0x013B: "Night porter"}, {}, ["Night porter"]),
        ({0x010E: "pins at Alder Bank"}, {}, ["pins at Alder Bank"]),
        ({}, {0xA431: "SN-0042-7731"}, ["SN-0042-7731"]),
        ({}, {0xA430: "Night porter", 0xA435: "L-99127"}, ["Night porter", "L-99127"]),
        ({}, {0x9286: b"ASCII\0\0\0by the burn"}, ["by the burn"]),
        ({0x9C9B: "by the burn".encode("utf-16-le")}, {}, ["by the burn"]),
        ({0x010F: "A maker", 0x0110: "A model"}, {}, []),  # of many cameras
        ({0x013B: "me"}, {}, []),  # too short to be told from a word
    ],
)
def test_words_of_somebody_or_of_one_camera_are_found(
    tmp_path: Path, first: dict[int, object], more: dict[int, object], said: list[str]
) -> None:
    assert said == list(camera_words(photo(tmp_path, first, more)))


def test_a_picture_of_another_kind_is_read_too(tmp_path: Path) -> None:
    assert ["Night porter"] == list(camera_words(photo(tmp_path, {0x013B: "Night porter"}, {}, "a.webp")))


def test_what_is_not_a_picture_says_nothing(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"no picture")
    assert [] == list(camera_words(tmp_path / "a.jpg"))
