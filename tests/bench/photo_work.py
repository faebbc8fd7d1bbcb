"""Photo work beside vipsthumbnail, where its time goes, and what a cluster adds; ratios within one run, no test.

    python tests/bench/photo_work.py [--photos 8]

Makes photos of 12 megapixels in a temporary folder. What counts on a busy machine is the processors' time: of this
process for the photos that it makes itself, of its children for vipsthumbnail (Debian's package `libvips-tools`), which
is run once for each size. A worker for each core divides ours by the cores. Likeness is SSIM of the luma, against the
whole picture brought to that size by a Lanczos filter, which is vipsthumbnail's own way.
"""

from __future__ import annotations

import argparse
import resource
import shutil
import subprocess
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Mapping
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageFilter

from journal.reading.picture_files import Limits
from journal.site.build.photo_workers import cores, make_photo, photo_work
from journal.site.images import LONG_SIDES_PX, METHOD, QUALITY, fitted
from tests.bench.picture_formats import likeness

LANCZOS = Image.Resampling.LANCZOS


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--photos", type=int, default=8)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = write_photos(folder / "in", asked.photos)
        size_mb = sum(file.stat().st_size for file in files) / len(files) / 1e6
        print(f"{len(files)} photos of 12 megapixels and {size_mb:.1f} MB, three sizes of each, {cores()} cores\n")
        own_s = tell_steps(files, folder / "own")
        if shutil.which("vipsthumbnail") is not None:
            tell_beside_vips(files, folder, own_s)
        tell_workers(files, folder)
        tell_cluster(files, folder)


def write_photos(folder: Path, count: int) -> list[Path]:
    """Photos with detail at every scale, each different: amplitudes that fall with the frequency, as they do in
    photographs of nature (Field 1987, from memory), as soft within a pixel or two as a camera's are."""
    folder.mkdir(parents=True)
    chance = np.random.default_rng(1)
    frequencies = np.hypot(np.fft.fftfreq(3000)[:, None] * 3000, np.fft.rfftfreq(4000)[None, :] * 4000)
    turns = np.exp(2j * np.pi * chance.random(frequencies.shape))
    light = np.fft.irfft2(turns / np.maximum(frequencies, 1), s=(3000, 4000))
    light /= light.std()
    files = []
    for number in range(count):
        rolled = np.roll(light, 331 * number, axis=(0, 1))
        bands = [
            mean + 48 * rolled + 10 * np.roll(light, 977 * (band + 1)) for band, mean in enumerate((128, 120, 105))
        ]
        picture = Image.fromarray(np.clip(np.stack(bands, axis=-1), 0, 255).astype("uint8"))
        files.append(folder / f"{number:03}.jpg")
        picture.filter(ImageFilter.GaussianBlur(0.8)).save(files[-1], quality=90)
    return files


# -- where the time goes ---------------------------------------------------------------------------------------------


def tell_steps(files: list[Path], folder: Path) -> float:
    """A row for each step of a photo, and what is none of them; CPU seconds of a whole photo."""
    folder.mkdir()
    begun = time.process_time()
    for file in files:
        make_photo(file, folder, Limits())
    whole_s = (time.process_time() - begun) / len(files)
    spent_s: dict[str, float] = defaultdict(float)

    def step(name: str, work: Callable[[], Any]) -> Any:
        begun = time.process_time()
        made = work()
        spent_s[name] += (time.process_time() - begun) / len(files)
        return made

    for file in files:
        with Image.open(file) as picture:
            picture.draft(None, fitted(picture.size, LONG_SIDES_PX[-1]))
            step("decode at half the size", picture.load)
            made: Image.Image = picture
            for side in reversed(LONG_SIDES_PX):
                resized = step("resize", lambda made=made, side=side: made.resize(fitted(made.size, side), LANCZOS))
                step("encode", lambda resized=resized: resized.save(BytesIO(), "WEBP", quality=QUALITY, method=METHOD))
                made = resized
    print("| step | CPU s a photo | share |\n| --- | --: | --: |")
    rows = {**spent_s, "all else": whole_s - sum(spent_s.values()), "whole photo": whole_s}
    print("\n".join(f"| {name} | {spent:.3f} | {spent / whole_s:.0%} |" for name, spent in rows.items()))
    return whole_s


# -- beside another program ------------------------------------------------------------------------------------------


def tell_beside_vips(files: list[Path], folder: Path, own_s: float) -> None:
    (folder / "vips").mkdir()
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.perf_counter()
    for side in LONG_SIDES_PX:
        written = f"{folder}/vips/%s-{side}.webp[Q={QUALITY},strip]"
        subprocess.run(["vipsthumbnail", "--size", f"{side}x{side}>", "-o", written, *map(str, files)], check=True)
    vips_wall_s = (time.perf_counter() - begun) / len(files)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    vips_s = (after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime) / len(files)
    print(f"\nvipsthumbnail: {vips_s:.3f} CPU s a photo, {vips_wall_s:.3f} s by the clock;")
    print(
        f"ours {own_s / vips_s:.2f} times its CPU s, {own_s / cores() / vips_s:.2f} times with a worker for each core\n"
    )
    print("| px | kB | vipsthumbnail, kB | SSIM | vipsthumbnail, SSIM |\n| --: | --: | --: | --: | --: |")
    few = files[:2]
    for side in LONG_SIDES_PX:
        ours = {file: (folder / "own" / f"{name_of(file, folder)}-{side}.webp").read_bytes() for file in few}
        theirs = {file: (folder / "vips" / f"{file.stem}-{side}.webp").read_bytes() for file in few}
        told = [(sum(map(len, ways.values())) / len(few) / 1000, mean_likeness(ways, side)) for ways in (ours, theirs)]
        print(f"| {side} | {told[0][0]:.1f} | {told[1][0]:.1f} | {told[0][1]:.4f} | {told[1][1]:.4f} |")


def name_of(file: Path, folder: Path) -> str:
    """The name of what was made from a photo."""
    _, published = make_photo(file, folder / "own", Limits())
    assert published is not None
    return published.name


def mean_likeness(ways: Mapping[Path, bytes], side: int) -> float:
    found = []
    for file, content in ways.items():
        whole = Image.open(file).convert("RGB")
        found.append(likeness(whole.resize(fitted(whole.size, side), LANCZOS), Image.open(BytesIO(content))))
    return sum(found) / len(found)


# -- processes here, and a cluster -----------------------------------------------------------------------------------


def tell_workers(files: list[Path], folder: Path) -> None:
    begun = time.perf_counter()
    list(photo_work([("none.jpg", folder / "none.jpg")], None))
    started_s = time.perf_counter() - begun
    begun = time.perf_counter()
    list(photo_work([(file.name, file) for file in files], folder / "workers"))
    spent_s = (time.perf_counter() - begun) / len(files)
    print(
        f"\n{cores()} workers here: {spent_s:.3f} s a photo by the clock; {started_s:.2f} s for them to begin and end"
    )


def tell_cluster(files: list[Path], folder: Path) -> None:
    """Two workers on this computer that are sent every photo: what that costs the computer that sends it."""
    try:
        from distributed import LocalCluster
    except ImportError:
        return
    from journal.site.build import cluster

    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as running,
        cluster.Cluster(running.scheduler_address, print) as executor,
    ):
        executor._sends = True
        list(photo_work([(file.name, file) for file in files[:2]], folder / "warm", executor=executor))
        begun, begun_cpu = time.perf_counter(), time.process_time()
        list(photo_work([(file.name, file) for file in files], folder / "cluster", executor=executor))
        wall_s, cpu_s = time.perf_counter() - begun, time.process_time() - begun_cpu
    sent_mb = sum(file.stat().st_size for file in files) / len(files) / 1e6
    back_mb = sum(file.stat().st_size for file in (folder / "cluster").glob("*.webp")) / len(files) / 1e6
    print(f"2 workers of a cluster: {wall_s / len(files):.3f} s a photo by the clock; {sent_mb:.1f} MB sent and")
    print(f"{back_mb:.2f} MB back for each, which took this process and the scheduler {cpu_s / len(files):.3f} CPU s")


if __name__ == "__main__":
    main()
