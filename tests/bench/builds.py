"""How builds grow with the journal, and photo work beside another program; ratios within one run, no test.

    python tests/bench/builds.py [--entries 100 1000 10000] [--photos 48]

Makes its own input in a temporary folder. Every build is the command as an author runs it, in a process of its own.
The machine is shared and noisy: compare the ratios of one run, never the seconds of two.
"""

from __future__ import annotations

import argparse
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

from PIL import Image

STAGES = ("colonising", "colonised", "pinning", "fruiting", "resting")
WORDS = ("white", "corner", "felt", "over", "hulls", "fog", "low", "shelf", "door", "slow", "even", "sparse", "wet")
SPECIES = ("Flammulina velutipes", "Pleurotus pulmonarius", "Pholiota adiposa", "Grifola frondosa")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--entries", type=int, nargs="*", default=[100, 1000, 10000])
    parser.add_argument("--photos", type=int, default=48)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        _tell_builds([(n, *_builds(Path(folder) / str(n), n)) for n in asked.entries])
        if asked.photos:
            _tell_photos(Path(folder) / "photos", asked.photos)


# -- builds --------------------------------------------------------------------------------------------------------


def write_journal(root: Path, entries: int) -> Path:
    """A journal of that many entries: a find, a culture and a batch in twelve, the rest notes. Its last file."""
    chance = random.Random(entries)
    root.mkdir(parents=True)
    (root / "journal.toml").write_text('[journal]\ntitle = "Bench"\nauthor = "Night porter"\ntime_zone = "UTC"\n')
    day = date(2022, 1, 1)
    last = root
    for number in range(entries):
        run, step = divmod(number, 12)
        on = day + timedelta(days=number * 1700 // entries)
        text = " ".join(chance.choices(WORDS, k=40))
        if step == 0:
            keys = f"kind: find\nid: F-{run}\nspecies: {SPECIES[run % 4]}\nwhere: 58.3{run % 1000:03}, -8.9 ±8 m"
        elif step == 1:
            keys = f"kind: culture\nid: C-{run}\nfrom: F-{run}\nform: plate\nvessels: 5"
        elif step == 2:
            keys = f"kind: batch\nid: B-{run}\nculture: C-{run}\nunits: 4\nwet mass: 2.3 kg\nmoisture: 62 %"
        else:
            keys = f"kind: note\nabout: B-{run}\nstage: {STAGES[step % 5]}" + (
                "\nharvest: 400 g\nflush: 1" * (step == 9)
            )
        last = root / f"run-{run}" / f"{step:02}.md"
        last.parent.mkdir(exist_ok=True)
        last.write_text(f"---\n{keys}\ndate: {on}\n---\n{text}. See B-{run} and C-{max(0, run - 1)}.\n")
    return last


def _builds(folder: Path, entries: int) -> tuple[float, float, float]:
    """Seconds of a clean build, one with nothing changed, and one with one entry touched."""
    touched = write_journal(folder / "journal", entries)
    clean = _timed(lambda: _build(folder))
    unchanged = _timed(lambda: _build(folder))
    touched.write_text(touched.read_text() + "\nOne more line.\n")
    return clean, unchanged, _timed(lambda: _build(folder))


def _build(folder: Path) -> None:
    command = [sys.executable, "-m", "journal", "build", folder / "journal"]
    subprocess.run([*command, "--to", folder / "site", "--cache", folder / "cache"], check=True, capture_output=True)


def _timed(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def _tell_builds(rows: list[tuple[int, float, float, float]]) -> None:
    if not rows:
        return
    first_entries, first, *_ = rows[0]
    heads = ("entries", "clean build, s", "time an entry / row one", "unchanged / clean", "one touched / clean")
    print(f"| {' | '.join(heads)} |")
    print("| --: | --: | --: | --: | --: |")
    for entries, clean, unchanged, touched in rows:
        growth = (clean / entries) / (first / first_entries)
        print(f"| {entries:,} | {clean:.1f} | {growth:.2f} | {unchanged / clean:.3f} | {touched / clean:.3f} |")


# -- photos --------------------------------------------------------------------------------------------------------


def write_photos(folder: Path, count: int) -> list[Path]:
    """Photos of twelve megapixels with detail at every scale, each different."""
    folder.mkdir(parents=True)
    chance = random.Random(count)
    grain = Image.frombytes("RGB", (1000, 750), chance.randbytes(1000 * 750 * 3)).resize((4000, 3000))
    files = []
    for number in range(count):
        tint = Image.new("RGB", grain.size, (number * 5 % 256, 120, 200))
        file = folder / f"{number:03}.jpg"
        Image.blend(grain, tint, 0.6).save(file, quality=88)
        files.append(file)
    return files


def _tell_photos(folder: Path, count: int) -> None:
    from journal.site.build.photo_workers import cores, photo_work

    files = write_photos(folder / "in", count)
    (folder / "own").mkdir()
    own = _timed(lambda: list(photo_work([(file.name, file) for file in files], folder / "own")))
    print(f"\n{count} photos of 12 megapixels, three sizes of each, {cores()} cores:")
    if shutil.which("vipsthumbnail") is None:
        print(f"{own / count:.3f} s a photo; no vipsthumbnail here to hold it against")
        return
    other = _timed(lambda: _vips(files, folder / "vips", cores()))
    ratio = own / other
    print(f"{own / count:.3f} s a photo, {ratio:.2f} times what vipsthumbnail takes for the same three sizes as WebP")
    sizes = [sum(file.stat().st_size for file in (folder / name).iterdir()) for name in ("own", "vips")]
    print(f"{sizes[0] / sizes[1]:.2f} times its bytes")


def _vips(files: list[Path], folder: Path, processes: int) -> None:
    """The three sizes by vipsthumbnail, one run a size, the files shared out among as many processes as cores."""
    folder.mkdir()
    runs = []
    for share in range(processes):
        mine = [str(file) for file in files[share::processes]]
        script = "; ".join(
            f'vipsthumbnail --size {side}x{side}\\> -o {folder}/%s-{side}.webp[Q=75,strip] "$@"'
            for side in (1600, 960, 320)
        )
        runs.append(subprocess.Popen(["sh", "-c", script, "sh", *mine]))
    if any(run.wait() for run in runs):
        raise SystemExit("vipsthumbnail failed")


if __name__ == "__main__":
    main()
