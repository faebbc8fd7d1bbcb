"""Which format, quality and effort the published pictures have: a table of bytes, likeness and CPU time, in Markdown.

    python tests/bench/picture_formats.py [FOLDER] [--pictures 12]

FOLDER: where the photos lie, in folders below it too; the sample journal where it is left out. Every picture is
brought to the published sizes without loss, each size is written in each way, read back and held against what was
written. Times are CPU seconds of this process, so a busy machine hardly moves them.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
from PIL import AvifImagePlugin, Image, ImageOps
from scipy.ndimage import gaussian_filter

from journal.site.images import LONG_SIDES_PX, METHOD, QUALITY, fitted

Options = dict[str, int | bool]

ONE_THREAD: Options = {"max_threads": 1}


@dataclass(slots=True)
class Way:
    """One way of writing a picture, and what it has cost so far."""

    name: str
    format: str
    options: Options
    pictures: int = 0
    bytes: int = 0
    cpu_s: float = 0.0
    reading_cpu_s: float = 0.0
    likenesses: tuple[float, ...] = ()


def ways() -> list[Way]:
    """Every way that is compared."""
    return [
        *(
            Way(f"WebP, quality {quality}, method {method}", "WEBP", {"quality": quality, "method": method})
            for quality in (65, 70, 75, 80, 85)
            for method in (2, 4, 6)
        ),
        *(
            Way(f"JPEG, quality {quality}", "JPEG", {"quality": quality, "optimize": True, "progressive": True})
            for quality in (70, 75, 80, 85)
        ),
        *(
            Way(f"AVIF, quality {quality}, speed {speed}", "AVIF", {**ONE_THREAD, "quality": quality, "speed": speed})
            for quality in (50, 60, 70)
            for speed in (6, 8, 10)
        ),
    ]  # fmt: skip


def likeness(one: Image.Image, other: Image.Image) -> float:
    """Mean structural similarity (SSIM) of the luma of two pictures of one size; 1 for the same picture.

    Source: Wang, Bovik, Sheikh and Simoncelli, Image Quality Assessment: From Error Visibility to Structural
    Similarity, IEEE Trans. Image Processing 13(4), 2004, equation 13, with their 11 x 11 Gaussian window of
    standard deviation 1.5, K1 = 0.01 and K2 = 0.03.
    """
    x, y = (np.asarray(picture.convert("L"), dtype=float) for picture in (one, other))
    mean_x, mean_y, mean_xx, mean_yy, mean_xy = (
        gaussian_filter(plane, sigma=1.5, radius=5) for plane in (x, y, x * x, y * y, x * y)
    )
    c1, c2 = (0.01 * 255) ** 2, (0.03 * 255) ** 2
    above = (2 * mean_x * mean_y + c1) * (2 * (mean_xy - mean_x * mean_y) + c2)
    below = (mean_x**2 + mean_y**2 + c1) * (mean_xx - mean_x**2 + mean_yy - mean_y**2 + c2)
    return float((above / below)[5:-5, 5:-5].mean())


def sizes_of(file: Path) -> Iterator[Image.Image]:
    """The picture in each published size, with no loss but that of making it smaller."""
    with Image.open(file) as opened:
        whole = ImageOps.exif_transpose(opened).convert("RGB")
    for long_side in LONG_SIDES_PX:
        yield whole.resize(fitted(whole.size, long_side), Image.Resampling.LANCZOS)


def try_way(way: Way, picture: Image.Image) -> None:
    """Writes and reads the picture one way, and adds up what that cost."""
    out = BytesIO()
    begun = time.process_time()
    picture.save(out, way.format, **way.options)
    written = time.process_time()
    back = Image.open(BytesIO(out.getvalue()))
    back.load()
    way.reading_cpu_s += time.process_time() - written
    way.cpu_s += written - begun
    way.bytes += len(out.getvalue())
    way.likenesses += (likeness(picture, back),)


def row(way: Way) -> str:
    ours = way.format == "WEBP" and way.options == {"quality": QUALITY, "method": METHOD}
    name = f"**{way.name}**" if ours else way.name
    return (
        f"| {name} | {way.bytes / way.pictures / 1000:.1f} | {sum(way.likenesses) / len(way.likenesses):.4f} "
        f"| {min(way.likenesses):.4f} | {way.cpu_s / way.pictures:.3f} | {way.reading_cpu_s / way.pictures:.3f} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=Path, nargs="?", default=Path(__file__).parents[2] / "sample_entries")
    parser.add_argument("--pictures", type=int, default=12)
    asked = parser.parse_args()
    AvifImagePlugin.DEFAULT_MAX_THREADS = 1
    files = sorted(asked.folder.rglob("*.jpg"))
    files = files[:: max(1, len(files) // asked.pictures)][: asked.pictures]
    compared = ways()
    for file in files:
        for picture in sizes_of(file):
            for way in compared:
                try_way(way, picture)
        for way in compared:
            way.pictures += 1
    sizes = ", ".join(str(side) for side in LONG_SIDES_PX)
    print(f"{len(files)} photos, each in {sizes} px on the long side; bytes and times are of all sizes of one photo.\n")
    print("| way | kB | SSIM, mean | SSIM, least | CPU s to write | CPU s to read |")
    print("| --- | --: | --: | --: | --: | --: |")
    print("\n".join(row(way) for way in compared))


if __name__ == "__main__":
    main()
