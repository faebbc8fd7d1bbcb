"""Opening a picture file: by what it holds, whatever its name."""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest
from PIL import Image

from journal.reading.picture_files import SUFFIXES_BY_KIND, kind_by_first_bytes, kind_of, open_picture

KINDS = {"JPEG": "JPEG", "HEIF": "HEIC", "PNG": "PNG", "WEBP": "WebP", "TIFF": "TIFF", "AVIF": "AVIF"}


@pytest.mark.parametrize("pillows", KINDS)
def test_a_picture_is_known_by_its_content(pillows: str, picture_bytes: Callable[..., bytes]) -> None:
    file = io.BytesIO(picture_bytes(pillows))
    assert KINDS[pillows] == kind_of(open_picture(file))
    assert kind_by_first_bytes(file) in (KINDS[pillows], "HEIC")
    assert KINDS[pillows] in SUFFIXES_BY_KIND


@pytest.mark.parametrize("pillows", ["HEIF", "AVIF"])
def test_a_picture_with_the_brand_that_both_containers_share_is_read(
    pillows: str, picture_bytes: Callable[..., bytes]
) -> None:
    content = picture_bytes(pillows)
    picture = open_picture(io.BytesIO(content[:8] + b"mif1" + content[12:]))
    picture.load()
    assert (KINDS[pillows], (64, 32)) == (kind_of(picture), picture.size)


def test_two_pictures_in_one_jpeg_are_read_as_the_first() -> None:
    out = io.BytesIO()
    Image.new("RGB", (40, 20), "red").save(
        out, "MPO", save_all=True, append_images=[Image.new("RGB", (10, 10), "blue")]
    )
    picture = open_picture(out)
    assert ("JPEG", (40, 20)) == (kind_of(picture), picture.size)
