"""What looking for labels costs beside decoding the photos, and how many labels are read at which size, as Markdown.

    python tests/bench/label_scan.py [--photos 400]

The photos are those of the sample journal brought to 12 megapixels with a sensor's noise, every fifth with a label in
it: twenty of them, under as many names as are wanted. Both runs use the program's worker processes.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image

from journal.importing.code_scan import codes_in, reduction, scan_photo
from journal.reading.picture_files import Limits
from journal.site.build.photo_workers import cores, run_on_files
from tests.importing.degraded_labels import scene

SAMPLE = Path(__file__).parents[2] / "sample_entries"
DISTINCT = 20
ID = "B-031"


def main() -> None:
    """Prints the two tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photos", type=int, default=400)
    wanted = parser.parse_args().photos
    with tempfile.TemporaryDirectory() as folder:
        files = write_photos(Path(folder), wanted)
        tell_costs(files)
    tell_rates()


def write_photos(folder: Path, count: int) -> list[Path]:
    """Photos of 4000 x 3000 px, about 2.5 MB each."""
    chance = np.random.default_rng(count)
    sources = sorted(SAMPLE.rglob("*.jpg"))
    for number in range(DISTINCT):
        photo = Image.open(sources[number % len(sources)]).convert("RGB").resize((4000, 3000), Image.Resampling.BICUBIC)
        if number % 5 == 0:
            photo.paste(scene(ID, number, 12, tilt_deg=20), (900, 700))
        noisy = np.asarray(photo, dtype=float) + chance.normal(0, 6, (3000, 4000, 1))
        Image.fromarray(noisy.clip(0, 255).astype(np.uint8)).save(folder / f"{number:03}.jpg", quality=90)
    for number in range(DISTINCT, count):
        os.link(folder / f"{number % DISTINCT:03}.jpg", folder / f"{number:03}.jpg")
    return sorted(folder.iterdir())


def decode(file: Path, limits: Limits) -> float:
    """Decodes a photo at the size that it is searched at, in grey; CPU seconds."""
    begun = time.process_time()
    image = Image.open(file)
    factor = reduction(max(image.size))
    image.draft("L", (image.width // factor, image.height // factor))
    image.load()
    return time.process_time() - begun


def scan(file: Path, limits: Limits) -> float:
    """Searches a photo as the program does; CPU seconds. Fails where a label is missed, or seen where there is none."""
    begun = time.process_time()
    found = scan_photo(False, file, limits)
    assert found.texts == ((ID,) if int(file.stem) % DISTINCT % 5 == 0 else ())
    return time.process_time() - begun


def tell_costs(files: list[Path]) -> None:
    costs: dict[str, list[tuple[float, float]]] = {"decoded at half size, in grey": [], "searched for labels": []}
    for _ in range(2):
        for name, work in zip(costs, (decode, scan), strict=True):
            begun = time.perf_counter()
            cpu_s = sum(used or 0 for _, used in run_on_files(work, files))
            costs[name].append((cpu_s, time.perf_counter() - begun))
    best = {name: tuple(map(min, zip(*runs, strict=True))) for name, runs in costs.items()}
    print(f"{len(files)} photos of 12 megapixels, every fifth of a label, {cores()} cores, the better of two runs:\n")
    print("| | CPU s of the workers | s by the clock |\n| --- | --: | --: |")
    for name, (cpu_s, clock_s) in best.items():
        print(f"| {name} | {cpu_s:.1f} | {clock_s:.1f} |")
    decoded, searched = best.values()
    print(f"\nRatio: {searched[0] / decoded[0]:.2f} of CPU time, {searched[1] / decoded[1]:.2f} by the clock.\n")


def tell_rates() -> None:
    print("Labels of 21 modules, tilted by 30°, 60 of each, read in a photo of 12 megapixels:\n")
    print("| pixels a module in the photo | whole | half | a quarter |\n| --: | --: | --: | --: |")
    for px in (4, 5, 6, 8, 12):
        read = [0, 0, 0]
        for seed in range(60):
            photo = scene(ID, seed, px, tilt_deg=30)
            for at, factor in enumerate((1, 2, 4)):
                read[at] += codes_in(photo.reduce(factor) if factor > 1 else photo) == ((ID,), False)
        print(f"| {px} | " + " | ".join(f"{number / 60:.0%}" for number in read) + " |")
    print("\nA code of level H with 15 % of it under one round drop, at 6 pixels a module, 100 of each:\n")
    print("| modules a side | read |\n| --: | --: |")
    for version in (1, 2, 3, 4, 5, 6):
        pictures = (scene(ID, seed, 6, 10, hidden=0.15, version=version) for seed in range(100))
        print(f"| {17 + 4 * version} | {sum(codes_in(one) == ((ID,), False) for one in pictures)} % |")


if __name__ == "__main__":
    main()
