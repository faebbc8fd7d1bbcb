"""What the site shows of a photo: upright, in sRGB, in a few sizes, and nothing else."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from journal.reading.picture_files import open_picture, quiet_readers
from journal.site.images import (
    Rendering,
    fitted,
    published_from_cache,
    published_from_dict,
    published_name,
    published_to_dict,
    render,
    write,
)
from journal.site.plan import Published
from tests.builders import some

ROWS = json.loads((Path(__file__).parents[1] / "outside" / "exif.json").read_text("utf-8"))["rows"]
ORIENTATIONS = {
    row["inputs"]["Orientation"]: (row["expected"]["row0"], row["expected"]["col0"])
    for row in ROWS
    if "row0" in row["expected"]
}
"""Which side of the upright picture the 0th row and the 0th column are. Source: CIPA DC-008 (Exif), Orientation."""

KINDS = ["JPEG", "WEBP", "HEIF", "PNG", "TIFF", "AVIF"]
CORNERS = np.array([[(200, 30, 30), (30, 170, 30)], [(30, 30, 200), (210, 210, 40)]], dtype=np.uint8)
DIGEST = hashlib.sha256(b"a photo").hexdigest()


def rendered(content: bytes) -> Rendering:
    with quiet_readers():
        return render(open_picture(io.BytesIO(content)))


def largest(rendering: Rendering) -> np.ndarray[Any, np.dtype[np.uint8]]:
    return np.asarray(Image.open(io.BytesIO(rendering.files[-1][2])).convert("RGB"))


def as_stored(upright: np.ndarray[Any, Any], orientation: int) -> np.ndarray[Any, Any]:
    """The rows and columns that a camera held that way stores, by the standard's words for its number."""
    row0, col0 = ORIENTATIONS[orientation]
    stored = upright if row0 in ("top", "bottom") else upright.swapaxes(0, 1)
    if row0 in ("bottom", "right"):
        stored = stored[::-1]
    if col0 in ("bottom", "right"):
        stored = stored[:, ::-1]
    return stored


@pytest.fixture(scope="module")
def four_colours() -> np.ndarray[Any, Any]:
    """An upright picture, 128 px wide and 96 high, with a colour of its own in each quarter."""
    return CORNERS.repeat(48, axis=0).repeat(64, axis=1)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("orientation", ORIENTATIONS)
def test_every_orientation_comes_out_upright(
    orientation: int,
    kind: str,
    four_colours: np.ndarray[Any, Any],
    exif_block: Callable[..., bytes],
    picture_bytes: Callable[..., bytes],
) -> None:
    stored = Image.fromarray(np.ascontiguousarray(as_stored(four_colours, orientation)))
    quality = {"quality": 95} if kind not in ("PNG", "TIFF") else {}
    pixels = largest(rendered(picture_bytes(kind, exif_block(Orientation=orientation), image=stored, **quality)))
    assert (96, 128, 3) == pixels.shape
    found = pixels[[[16, 16], [-17, -17]], [[16, -17], [16, -17]]]
    assert pytest.approx(CORNERS.astype(float), abs=16) == found.astype(float)


def test_a_png_that_says_behind_its_pixels_how_it_was_held_comes_out_upright(
    four_colours: np.ndarray[Any, Any], exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]
) -> None:
    stored = Image.fromarray(np.ascontiguousarray(as_stored(four_colours, 6)))
    content = picture_bytes("PNG", exif_block(Orientation=6), image=stored)
    start, end = content.index(b"eXIf") - 4, content.index(b"IEND") - 4
    behind = start + 12 + int.from_bytes(content[start : start + 4], "big")
    moved = content[:start] + content[behind:end] + content[start:behind] + content[end:]
    assert (96, 128, 3) == largest(rendered(moved)).shape


def test_a_large_jpeg_is_turned_once(exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]) -> None:
    """It is shrunk while it is decoded, and turned after."""
    upright = CORNERS.repeat(1800, axis=0).repeat(1200, axis=1)
    stored = Image.fromarray(np.ascontiguousarray(as_stored(upright, 6)))
    rendering = rendered(picture_bytes("JPEG", exif_block(Orientation=6), image=stored))
    assert [(213, 320), (640, 960), (1067, 1600)] == [file[:2] for file in rendering.files]
    found = largest(rendering)[[[300, 300], [-300, -300]], [[200, -200], [200, -200]]]
    assert pytest.approx(CORNERS.astype(float), abs=16) == found.astype(float)


@pytest.mark.parametrize(
    ("size", "sizes"),
    [
        ((4032, 3024), [(320, 240), (960, 720), (1600, 1200)]),
        ((1600, 1200), [(320, 240), (960, 720), (1600, 1200)]),
        ((1000, 800), [(320, 256), (960, 768), (1000, 800)]),
        ((960, 720), [(320, 240), (960, 720)]),
        ((500, 400), [(320, 256), (500, 400)]),
        ((320, 200), [(320, 200)]),
        ((64, 32), [(64, 32)]),
        ((1, 1), [(1, 1)]),
        ((3, 3000), [(1, 960), (2, 1600)]),
    ],
)
def test_sizes_are_never_upscaled_and_never_doubled(
    size: tuple[int, int], sizes: list[tuple[int, int]], picture_bytes: Callable[..., bytes]
) -> None:
    rendering = rendered(picture_bytes("PNG", size=size))
    if min(size) > 3:
        assert sizes == [file[:2] for file in rendering.files]
    widths = [width for width, _, _ in rendering.files]
    assert sorted(set(widths)) == widths
    assert max(size[0], size[1], 1) >= max(rendering.files[-1][:2])
    for width, height, content in rendering.files:
        assert (width, height) == Image.open(io.BytesIO(content)).size


def test_a_side_never_comes_down_to_nothing() -> None:
    assert (1, 320) == fitted((3, 3000), 320)


BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
"""Source: ICC.1:2010, annex E (the linearised Bradford transform)."""
D50 = np.array([0.9642, 1.0, 0.8249])
"""Source: ICC.1:2010, 7.2.16 (the profile connection space's illuminant)."""
D65_XY = (0.3127, 0.3290)
PRIMARIES = {
    # Source: IEC 61966-2-1.
    "sRGB": ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06)),
    # Source: SMPTE EG 432-1 (P3 primaries, D65 white), with the curve of sRGB: Display P3.
    "Display P3": ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060)),
    # Source: Adobe RGB (1998) Color Image Encoding, 4.3.1 (its curve is a power of 563/256).
    "Adobe RGB": ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06)),
}


def xyz_of(xy: tuple[float, float]) -> np.ndarray[Any, Any]:
    return np.array([xy[0] / xy[1], 1.0, (1 - xy[0] - xy[1]) / xy[1]])


def to_d50(space: str) -> np.ndarray[Any, Any]:
    """Linear RGB -> XYZ relative to D50. Source: SMPTE RP 177 for the matrix."""
    white = xyz_of(D65_XY)
    primaries = np.column_stack([xyz_of(xy) for xy in PRIMARIES[space]])
    matrix = primaries * np.linalg.solve(primaries, white)
    adapted = np.linalg.inv(BRADFORD) @ np.diag((BRADFORD @ D50) / (BRADFORD @ white)) @ BRADFORD
    return np.asarray(adapted @ matrix)


def linear(space: str, encoded: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
    if space == "Adobe RGB":
        return encoded ** (563 / 256)
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def srgb_of(space: str, colour: tuple[int, int, int]) -> np.ndarray[Any, Any]:
    """The same colour in 8-bit sRGB, by the published formulae."""
    light = np.linalg.solve(to_d50("sRGB"), to_d50(space) @ linear(space, np.array(colour) / 255)).clip(0, 1)
    return 255 * np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)


def profile_of(space: str) -> bytes:
    """An ICC profile of that space. Source: ICC.1:2001-04 (version 2), three-component matrix-based profiles."""

    def xyz(values: np.ndarray[Any, Any]) -> bytes:
        return b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(value * 65536) for value in values))

    steps = linear(space, np.linspace(0, 1, 1024))
    curve = b"curv\0\0\0\0" + struct.pack(">I", 1024) + (steps * 65535).round().astype(">u2").tobytes()
    text = b"text\0\0\0\0no rights\0\0\0"
    name = space.encode() + b"\0"
    description = b"desc\0\0\0\0" + struct.pack(">I", len(name)) + name + b"\0" * 78
    description += b"\0" * (-len(description) % 4)
    columns = to_d50(space).T
    tags = {
        b"desc": description, b"cprt": text, b"wtpt": xyz(D50), b"rTRC": curve, b"gTRC": curve, b"bTRC": curve,
        b"rXYZ": xyz(columns[0]), b"gXYZ": xyz(columns[1]), b"bXYZ": xyz(columns[2]),
    }  # fmt: skip
    table, body, at = b"", b"", 128 + 4 + 12 * len(tags)
    for tag, content in tags.items():
        table += struct.pack(">4sII", tag, at + len(body), len(content))
        body += content
    illuminant = struct.pack(">3i", *(round(value * 65536) for value in D50))
    size = struct.pack(">I", at + len(body))
    head = size + b"\0\0\0\0\x02\x40\0\0mntrRGB XYZ " + b"\0" * 12 + b"acsp" + b"\0" * 28 + illuminant
    return head.ljust(128, b"\0") + struct.pack(">I", len(tags)) + table + body


WIDE = [(150, 100, 100), (90, 140, 80), (100, 110, 180), (128, 128, 128), (240, 230, 210)]


@pytest.mark.parametrize("space", ["Display P3", "Adobe RGB", "sRGB"])
@pytest.mark.parametrize("colour", WIDE)
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "HEIF"])
def test_wide_gamut_colours_are_the_same_in_srgb(
    kind: str, colour: tuple[int, int, int], space: str, picture_bytes: Callable[..., bytes]
) -> None:
    options = {"quality": 100} if kind != "PNG" else {}
    plain = Image.new("RGB", (48, 48), colour)
    content = picture_bytes(kind, image=plain, icc_profile=profile_of(space), **options)
    assert pytest.approx(srgb_of(space, colour), abs=4) == largest(rendered(content)).mean(axis=(0, 1))


def test_wide_gamut_is_distinguished_from_srgb() -> None:
    """Else the test above would pass with no conversion."""
    assert 8 < abs(srgb_of("Display P3", (90, 140, 80)) - (90, 140, 80)).max()
    assert 8 < abs(srgb_of("Adobe RGB", (150, 100, 100)) - (150, 100, 100)).max()


def test_a_profile_that_cannot_be_used_is_passed_over(picture_bytes: Callable[..., bytes]) -> None:
    content = picture_bytes("PNG", image=Image.new("RGB", (48, 48), (90, 140, 80)), icc_profile=b"no profile" * 20)
    assert pytest.approx((90, 140, 80), abs=3) == largest(rendered(content)).mean(axis=(0, 1))


def sixteen_bits() -> Image.Image:
    return Image.fromarray(np.full((40, 40), 0x8000, dtype=np.uint16))


def half_clear(mode: str) -> Image.Image:
    picture = Image.new("RGBA", (40, 40), (200, 0, 0, 0))
    picture.paste((0, 0, 200, 255), (20, 0, 40, 40))
    return picture.convert(mode)


def one_clear_colour() -> Image.Image:
    picture = Image.new("P", (40, 40), 0)
    picture.putpalette([200, 0, 0, 0, 0, 200])
    picture.paste(1, (20, 0, 40, 40))
    return picture


@pytest.mark.parametrize(
    ("kind", "image", "options", "left", "right"),
    [
        ("PNG", half_clear("RGBA"), {}, (255, 255, 255), (0, 0, 200)),
        ("PNG", half_clear("LA"), {}, (255, 255, 255), (23, 23, 23)),
        ("WEBP", half_clear("RGBA"), {"lossless": True}, (255, 255, 255), (0, 0, 200)),
        ("PNG", one_clear_colour(), {}, (200, 0, 0), (0, 0, 200)),
        ("PNG", one_clear_colour(), {"transparency": 0}, (255, 255, 255), (0, 0, 200)),
        ("PNG", Image.new("L", (40, 40), 90), {}, (90, 90, 90), (90, 90, 90)),
        ("PNG", Image.new("1", (40, 40), 1), {}, (255, 255, 255), (255, 255, 255)),
        ("PNG", sixteen_bits(), {}, (128, 128, 128), (128, 128, 128)),
        ("TIFF", sixteen_bits(), {}, (128, 128, 128), (128, 128, 128)),
        ("JPEG", Image.new("CMYK", (40, 40), (255, 0, 0, 0)), {}, (0, 255, 255), (0, 255, 255)),
        ("TIFF", Image.new("CMYK", (40, 40), (0, 0, 0, 255)), {}, (0, 0, 0), (0, 0, 0)),
        ("JPEG", Image.new("L", (40, 40), 200), {}, (200, 200, 200), (200, 200, 200)),
    ],
    ids=lambda value: f"{value.mode}" if isinstance(value, Image.Image) else None,
)
def test_every_way_of_keeping_colours_is_shown(
    kind: str,
    image: Image.Image,
    options: dict[str, Any],
    left: tuple[int, int, int],
    right: tuple[int, int, int],
    picture_bytes: Callable[..., bytes],
) -> None:
    pixels = largest(rendered(picture_bytes(kind, image=image, **options)))
    assert pytest.approx(left, abs=6) == pixels[:, 2:14].mean(axis=(0, 1))
    assert pytest.approx(right, abs=6) == pixels[:, -14:-2].mean(axis=(0, 1))


@pytest.mark.parametrize("kind", ["WEBP", "PNG", "TIFF"])
def test_of_a_moving_picture_the_first_is_shown(kind: str, picture_bytes: Callable[..., bytes]) -> None:
    first, second = Image.new("RGB", (40, 40), (200, 30, 30)), Image.new("RGB", (40, 40), (30, 30, 200))
    pixels = largest(rendered(picture_bytes(kind, image=first, save_all=True, append_images=[second])))
    assert pytest.approx((200, 30, 30), abs=6) == pixels.mean(axis=(0, 1))


@pytest.fixture(scope="module")
def telling(exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]) -> dict[str, bytes]:
    """Pictures of several kinds with all the metadata that they can carry."""
    block = exif_block(
        Orientation=6, DateTimeOriginal="2026:09:12 14:05:11",
        GPSLatitudeRef="N", GPSLatitude=[(58, 1), (18, 1), (0, 1)],
        GPSLongitudeRef="W", GPSLongitude=[(8, 1), (54, 1), (0, 1)],
    )  # fmt: skip
    told: dict[str, Any] = {"icc_profile": profile_of("Display P3"), "size": (700, 500)}
    xmp = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"/></x:xmpmeta>'
    return {
        "JPEG": picture_bytes("JPEG", block, xmp=xmp, comment=b"Alder Bank", **told),
        "WEBP": picture_bytes("WEBP", block, xmp=xmp, **told),
        "HEIF": picture_bytes("HEIF", block, xmp=xmp, **told),
        "PNG": picture_bytes("PNG", block, **told),
        "AVIF": picture_bytes("AVIF", block, xmp=xmp, **told),
        "TIFF": picture_bytes("TIFF", block, **told),
    }


@pytest.mark.parametrize("kind", [*KINDS, "useless profile"])
def test_nothing_but_pixels_is_published(
    kind: str, telling: dict[str, bytes], picture_bytes: Callable[..., bytes]
) -> None:
    telling["useless profile"] = picture_bytes("PNG", icc_profile=b"ICC profile of no use" * 9, size=(700, 500))
    for word in (b"Exif", b"Alder", b"2026", b"xmpmeta", b"Display P3"):
        assert kind != "JPEG" or word in telling[kind]
    rendering = rendered(telling[kind])
    tiny = base64.b64decode(rendering.placeholder.partition(",")[2])
    for content in (*(file[2] for file in rendering.files), tiny):
        # A WebP of pixels alone is one chunk in its container. Source: RFC 9649, simple lossy file format.
        assert (b"RIFF", b"WEBPVP8 ") == (content[:4], content[8:16])
        assert len(content) == 20 + int.from_bytes(content[16:20], "little") + content[16] % 2
        for word in (b"Exif", b"EXIF", b"ICC", b"XMP", b"xmp", b"Alder", b"2026"):
            assert word not in content


@pytest.mark.parametrize("kind", KINDS)
def test_exiftool_finds_nothing_but_pixels(
    kind: str, telling: dict[str, bytes], need_exiftool: Callable[..., dict[str, Any]], tmp_path: Path
) -> None:
    source = tmp_path / "source"
    source.write_bytes(telling[kind])
    assert {"EXIF", "ICC_Profile"} <= {key.partition(":")[0] for key in need_exiftool(source, "-G0")}
    for width, _, content in some(rendered(telling[kind]).files):
        file = tmp_path / f"{width}.webp"
        file.write_bytes(content)
        tags = need_exiftool(file, "-G0", "-a", "-u")
        assert {"SourceFile", "ExifTool", "File", "RIFF", "Composite"} >= {key.partition(":")[0] for key in tags}
        assert {"ImageWidth", "ImageHeight", "VP8Version", "HorizontalScale", "VerticalScale"} == {
            key.partition(":")[2] for key in tags if key.startswith("RIFF")
        }


def test_the_same_photo_gives_the_same_bytes(telling: dict[str, bytes]) -> None:
    assert rendered(telling["JPEG"]) == rendered(telling["JPEG"])


def test_a_placeholder_is_a_tiny_picture_of_the_same(picture_bytes: Callable[..., bytes]) -> None:
    noise = Image.effect_noise((900, 600), 120).convert("RGB")
    for image in (noise, Image.fromarray(CORNERS.repeat(300, axis=0).repeat(400, axis=1))):
        uri = rendered(picture_bytes("PNG", image=image)).placeholder
        assert uri.startswith("data:image/webp;base64,")
        assert 300 >= len(uri)
    tiny = np.asarray(Image.open(io.BytesIO(base64.b64decode(uri.partition(",")[2]))).convert("RGB"))
    assert pytest.approx(CORNERS.astype(float), abs=45) == tiny[[[1, 1], [-2, -2]], [[1, -2], [1, -2]]].astype(float)


@pytest.fixture(scope="module")
def rendering(picture_bytes: Callable[..., bytes]) -> Rendering:
    return rendered(picture_bytes("PNG", size=(700, 500)))


def test_what_is_written_lies_there_under_its_name(rendering: Rendering, tmp_path: Path) -> None:
    published = write(rendering, DIGEST, tmp_path)
    assert published_name(DIGEST) == published.name
    for size in published.sizes:
        content = (tmp_path / f"{published.name}-{size.width}.webp").read_bytes()
        assert size.bytes == len(content)
        assert (size.width, size.height) == Image.open(io.BytesIO(content)).size
    assert [] == list(tmp_path.glob(".*"))


def test_a_name_comes_of_the_content_and_does_not_show_its_digest() -> None:
    name = published_name(DIGEST)
    assert name == published_name(DIGEST)
    assert name != published_name(hashlib.sha256(b"another").hexdigest())
    assert not set(name) - set("0123456789abcdef")
    assert name not in DIGEST


def test_what_was_written_is_found_again(rendering: Rendering, tmp_path: Path) -> None:
    assert None is published_from_cache(DIGEST, tmp_path)
    assert write(rendering, DIGEST, tmp_path) == published_from_cache(DIGEST, tmp_path)
    assert None is published_from_cache(hashlib.sha256(b"another").hexdigest(), tmp_path)


@pytest.mark.parametrize("harm", ["cut", "gone", "note cut", "note of another", "note of nothing"])
def test_what_is_not_whole_is_not_found(harm: str, rendering: Rendering, tmp_path: Path) -> None:
    published = write(rendering, DIGEST, tmp_path)
    picture = tmp_path / f"{published.name}-{published.sizes[0].width}.webp"
    note = tmp_path / f"{published.name}.json"
    if harm == "cut":
        picture.write_bytes(picture.read_bytes()[:-1])
    elif harm == "gone":
        picture.unlink()
    elif harm == "note cut":
        note.write_bytes(note.read_bytes()[:-9])
    elif harm == "note of another":
        other = write(rendering, hashlib.sha256(b"another").hexdigest(), tmp_path)
        note.write_bytes((tmp_path / f"{other.name}.json").read_bytes())
    else:
        note.write_text("[]")
    assert None is published_from_cache(DIGEST, tmp_path)


def test_what_was_published_comes_back_from_json(rendering: Rendering, tmp_path: Path) -> None:
    published: Published = write(rendering, DIGEST, tmp_path)
    assert published == published_from_dict(json.loads(json.dumps(published_to_dict(published))))
