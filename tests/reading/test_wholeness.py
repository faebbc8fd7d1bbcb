"""Whether a picture is there to its end. What decoders make of the same bytes is the reference."""

from __future__ import annotations

import io
import random
from collections.abc import Callable

import pytest
from PIL import Image

from journal.problems import Unreadable
from journal.reading.photos import is_surely_whole
from journal.reading.picture_files import kind_of, open_picture, quiet_readers

WAYS: dict[str, tuple[str, dict[str, object]]] = {
    "JPEG": ("JPEG", {}),
    "JPEG in several scans": ("JPEG", {"progressive": True}),
    "JPEG with restarts": ("JPEG", {"restart_marker_blocks": 3}),
    "PNG": ("PNG", {}),
    "WebP": ("WEBP", {}),
    "WebP without loss": ("WEBP", {"lossless": True}),
    "HEIC": ("HEIF", {}),
    "AVIF": ("AVIF", {}),
}


@pytest.fixture
def noisy(picture_bytes: Callable[..., bytes], exif_block: Callable[..., bytes]) -> Callable[..., bytes]:
    """Called with one of the ways it gives a picture whose pixels take most of its bytes."""
    image = Image.frombytes("RGB", (96, 80), random.Random(5).randbytes(96 * 80 * 3))
    block = exif_block(DateTimeOriginal="2026:10:27 07:31:00")

    def content(way: str) -> bytes:
        kind, options = WAYS[way]
        return picture_bytes(kind, block, image=image, **options)

    return content


def surely_whole(content: bytes) -> bool:
    """Of a picture that can be opened; a WebP that is cut short cannot."""
    file = io.BytesIO(content)
    with quiet_readers():
        try:
            kind = kind_of(open_picture(file))
        except Unreadable:
            return False
    return is_surely_whole(file, kind)


def decodes(content: bytes) -> bool:
    with quiet_readers():
        try:
            open_picture(io.BytesIO(content)).load()
        except Exception:  # whatever its decoder stumbled on
            return False
    return True


@pytest.mark.parametrize("way", WAYS)
def test_a_whole_picture_is_known_for_whole(way: str, noisy: Callable[..., bytes]) -> None:
    assert surely_whole(noisy(way))


@pytest.mark.parametrize("way", WAYS)
def test_one_that_is_cut_short_is_never_taken_for_whole(way: str, noisy: Callable[..., bytes]) -> None:
    content = noisy(way)
    cuts = [len(content) - lost for lost in (1, 2, 3, 12, 100, 999, len(content) // 2)]
    assert [] == [cut for cut in cuts if surely_whole(content[:cut])]


@pytest.mark.parametrize("way", WAYS)
def test_nor_is_one_whose_rest_was_never_written(way: str, noisy: Callable[..., bytes]) -> None:
    """A copy that was broken off leaves zeroes behind on some systems. In formats of boxes only decoding shows that."""
    content = noisy(way)
    broken_off = content[: len(content) // 2].ljust(len(content), b"\0")
    if way.startswith("JPEG") or way == "PNG":
        assert not surely_whole(broken_off)


@pytest.mark.parametrize("way", WAYS)
def test_where_it_is_sure_a_decoder_reads_the_picture(way: str, noisy: Callable[..., bytes]) -> None:
    content = noisy(way)
    begins = len(content) // 2
    for cut in range(begins, len(content), max(1, begins // 60)):
        assert decodes(content[:cut]) or not surely_whole(content[:cut]), cut


@pytest.mark.parametrize("way", [way for way in WAYS if way.startswith("JPEG")])
@pytest.mark.parametrize("behind", [b"\0\0\0\x18ftypmp42" + bytes(400), b"\xff\xd8\xff\xe1\0\x10", b"SEFH\1\0\0\0SEFT"])
def test_a_phone_may_keep_something_behind_a_jpeg(way: str, behind: bytes, noisy: Callable[..., bytes]) -> None:
    content = noisy(way)
    assert surely_whole(content + behind)
    assert not surely_whole(content[: len(content) * 2 // 3] + bytes(9))


def test_a_marker_across_two_chunks_is_met(noisy: Callable[..., bytes], monkeypatch: pytest.MonkeyPatch) -> None:
    content = noisy("JPEG in several scans") + b"behind"
    for size in (2, 3, 5, 64):
        monkeypatch.setattr("journal.reading.photos._CHUNK_BYTES", size)
        assert surely_whole(content), size


def test_a_tiff_is_left_to_its_decoder(picture_bytes: Callable[..., bytes]) -> None:
    assert not surely_whole(picture_bytes("TIFF"))


@pytest.mark.parametrize("way", WAYS)
def test_whatever_the_bytes_are_it_comes_to_an_end(way: str, noisy: Callable[..., bytes]) -> None:
    chance = random.Random(7)
    content = bytearray(noisy(way))
    kind = {"HEIF": "HEIC", "WEBP": "WebP"}.get(WAYS[way][0], WAYS[way][0])
    for _ in range(200):
        harmed = bytearray(content[: chance.randrange(len(content))])
        for _ in range(20):
            if harmed:
                harmed[chance.randrange(len(harmed))] = chance.choice((0, 1, 255, chance.randrange(256)))
        assert is_surely_whole(io.BytesIO(bytes(harmed)), kind) in (True, False)
