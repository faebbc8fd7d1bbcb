"""Runs commands that end at each of their fault points: killed there, or refused by a full disk from there on.

    python -m tests.faults                        every fault point of every command, with the count of each
    python -m tests.faults build share --every 5  every fifth of two commands

A fault point is a call that changes something on the disk: a file opened to be written, each write to it, a folder
made, a name given, changed or removed, a file flushed to the disk, a statement to the cache's database. They are
counted by a shim over Python's own file functions. A killed process is a forked one that ends at once (`os._exit`), in
the middle of a write where it writes: half of it is on the disk then. On a full disk, that call and every later one
that needs room fail with ENOSPC.

After each, the journal is as it was or as it is to be, file by file; site and share are the old or the new one, byte
for byte; and the same command again ends where an undisturbed one does.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from unittest.mock import patch

from PIL import Image

from tests.fault_points import KILLED, Ended, Points, Running, begin

# What is on the disk


def bytes_below(folder: Path) -> dict[str, bytes]:
    return {one.relative_to(folder).as_posix(): one.read_bytes() for one in folder.rglob("*") if one.is_file()}


def shown(files: Mapping[str, bytes]) -> dict[str, bytes]:
    """What a journal's author sees of its files."""
    return {path: data for path, data in files.items() if not re.search(r"(^|/)\.", path)}


# The commands


@dataclass(frozen=True)
class Case:
    """A command in a room: a folder with a journal, what was made of it before, and everything that it uses.

    make: fills the room. words: of the command, `{room}` stands for the room. changes: whether it writes into the
    journal. made: the folder that it replaces as a whole, within the room; whole: what must stay the same from run to
    run of what is in it. setting: patches what it uses.
    """

    name: str
    make: Callable[[Path], None]
    words: tuple[str, ...]
    made: str = ""
    changes: bool = False
    moves_away: bool = False
    whole: Callable[[Path], Mapping[str, bytes]] = bytes_below


JOURNAL = {
    "journal.toml": '[journal]\ntitle = "Shore"\nauthor = "Porter"\ntime_zone = "Europe/London"\n\n'
    '[tents.hut]\nname = "Hut"\n\n[shares.mentor]\nabout = ["B-1"]\n',
    "finds/alder/find.md": "---\nkind: find\nid: F26-001\ndate: 2026-09-12\nwhere: 58.30412, -8.90177\n---\nUnder F.\n",
    "cultures/PP-26A.md": "---\nkind: culture\nid: PP-26A\ndate: 2026-09-12\nfrom: F26-001\nvessels: 5\n---\n",
    "batches/B-1/batch.md": "---\nkind: batch\nid: B-1\ndate: 2026-10-06\nculture: PP-26A\nunits: 4\ntent: hut\n---\n",
}
LATER = {"batches/B-1/pins.md": "---\nkind: note\nabout: B-1\ndate: 2026-11-01\nphotos: pins.jpg\n---\nPins.\n"}
PASSPHRASE = "kestrel amber walnut gravel lintel osprey"
FEW_STATIC = ("css/map.css", "js/folds.js")  # and what the worker is made of, and what every page needs


def picture(shade: int, taken: str = "") -> bytes:
    out, exif = io.BytesIO(), Image.Exif()
    if taken:
        exif.get_ifd(0x8769)[0x9003] = taken
    Image.new("RGB", (40, 30), (shade, 90, 40)).save(out, "JPEG", exif=exif)
    return out.getvalue()


def write(folder: Path, files: Mapping[str, str | bytes]) -> None:
    for path, content in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(content.encode() if isinstance(content, str) else content)


def patched(stack: contextlib.ExitStack) -> None:
    """Photos are made in this process, and a site has few of the files that are the same in all."""
    from journal import share_pipeline
    from journal.cache import static_files
    from journal.importing import photo_files
    from journal.locking import key_file
    from journal.site.build import photo_workers
    from journal.site.build.photo_workers import photo_work
    from tests.builders import Inline

    for module in (photo_workers, photo_files):
        stack.enter_context(patch.object(module, "photo_work", partial(photo_work, executor=Inline())))
    few = partial(_few, static_files.files_below)
    stack.enter_context(patch.object(static_files, "files_below", few))
    stack.enter_context(patch.object(share_pipeline, "detectors_of", lambda *_: None))
    stack.enter_context(patch.object(share_pipeline.Search, "leaks_in", lambda *_: ()))
    stack.enter_context(patch.object(key_file.SiteKey.new.__func__, "__defaults__", (0, 600_000)))


def _few(real: Callable[[Path], Iterator[str]], folder: Path) -> list[str]:
    from journal.site.build.offline import WORKER_SCRIPTS

    few = {*FEW_STATIC, *(f"js/{name}.js" for name in WORKER_SCRIPTS), "sw.js"}
    return [name for name in real(folder) if folder.name != "static" or name in few]


def moving_away(stack: contextlib.ExitStack) -> None:
    """The same, on a system that cannot exchange two folders in one step."""
    from journal.site.build import swap

    patched(stack)
    stack.enter_context(patch.object(swap, "exchange_folders", lambda one, other: False))


def commanded(room: Path, *words: str) -> None:
    ended = begin([word.format(room=room) for word in words], Points(), patched).wait()
    assert ended.status == 0, ended.said


def first(room: Path) -> None:
    write(room / "home/my", JOURNAL)
    write(room / "home/my", {"finds/alder/cap.jpg": picture(30)})


def built(room: Path) -> None:
    """A journal with its site, and then a note with a photo."""
    first(room)
    time.sleep(0.12)
    commanded(room, "build", "{room}/home/my")
    noted(room)


def noted(room: Path) -> None:
    write(room / "home/my", LATER)
    write(room / "home/my", {"batches/B-1/pins.jpg": picture(60)})


def locked(room: Path) -> None:
    first(room)
    time.sleep(0.12)
    commanded(room, "build", "--locked", "{room}/home/my")
    noted(room)


def shared(room: Path) -> None:
    first(room)
    time.sleep(0.12)
    for again in (False, True):
        if again:
            noted(room)
        commanded(room, "share", "mentor", "{room}/home/my", "--preview", "--to", "{room}/look")
        if not again:
            commanded(room, "share", "mentor", "{room}/home/my", "--reviewed")
    shutil.rmtree(room / "look")


def with_camera(room: Path) -> None:
    first(room)
    write(room, {f"camera/a{day}.jpg": picture(90 + day, f"2026:11:0{day} 09:00:00") for day in (1, 2)})


def with_archive(room: Path) -> None:
    from tests.importing.archives import FIND, RYE, Saved, archive, photo

    first(room)
    rows = (
        FIND.later(photos={"photo-01.jpg": photo(1)}),
        RYE,
        Saved("note", about=["B-1"], photos={"photo-01.jpg": photo(3)}, seed="pins"),
    )
    write(room, {"phone/journal-2026-11-25-1800-K7Q4-1-of-1.zip": archive(*rows)})


def opened_site(folder: Path) -> dict[str, bytes]:
    """What a locked site opens to: its pages, which do not tell how often it was built."""
    from tests.locking.opening import unlocked

    return dict(unlocked(folder, PASSPHRASE).contents())


ATTACH = ("attach", "B-1", "{room}/camera", "--by-day", "--into", "{room}/home/my")
CASES = {
    case.name: case
    for case in (
        Case("first build", first, ("build", "{room}/home/my"), "home/site"),
        Case("build", built, ("build", "{room}/home/my"), "home/site"),
        Case("build, moving away", built, ("build", "{room}/home/my"), "home/site", moves_away=True),
        Case("attach", with_camera, ATTACH, changes=True),
        Case("gather", with_archive, ("gather", "{room}/phone", "{room}/home/my"), changes=True),
        Case("share", shared, ("share", "mentor", "{room}/home/my", "--reviewed"), "home/shares/mentor"),
        Case("build --locked", locked, ("build", "--locked", "{room}/home/my"), "home/site", whole=opened_site),
    )
}  # fmt: skip


class Wrong(AssertionError):
    """What a fault left."""


@dataclass
class Faults:
    """The faults of one case. room: an empty folder that is its own."""

    case: Case
    room: Path

    def __post_init__(self) -> None:
        self.here, self._kept = self.room / "here", self.room / "kept"
        self.here.mkdir(parents=True)
        self._environment = {
            "XDG_CACHE_HOME": str(self.here / "cache"),
            "XDG_CONFIG_HOME": str(self.here / "config"),
            "JOURNAL_PASSPHRASE": PASSPHRASE,
        }
        with patch.dict(os.environ, self._environment):
            self.case.make(self.here)
        shutil.copytree(self.here, self._kept)
        self._warm_up()
        self.restore()
        self.before = self._state()
        whole = self._run(Points())
        self.points = whole.points
        self.after = self._state()
        assert whole.status == 0, whole.said
        self.beside = self._beside()

    def _warm_up(self) -> None:
        """Runs the command in this process, so that those forked from it have loaded what they need."""
        from journal.cli import cli
        from journal.commands.console import run as run_command

        with open(os.devnull, "w", encoding="utf-8") as nowhere, contextlib.ExitStack() as stack:
            stack.enter_context(patch.dict(os.environ, self._environment))
            for redirected in (contextlib.redirect_stdout, contextlib.redirect_stderr):
                stack.enter_context(redirected(nowhere))
            patched(stack)
            run_command(cli, self._words)

    @property
    def _words(self) -> list[str]:
        return [word.format(room=self.here) for word in self.case.words]

    def begin(self, points: Points) -> Running:
        with patch.dict(os.environ, self._environment):
            return begin(self._words, points, moving_away if self.case.moves_away else patched)

    def _run(self, points: Points) -> Ended:
        return self.begin(points).wait()

    def _state(self) -> tuple[dict[str, bytes], dict[str, bytes] | None]:
        """The journal's files, and the site or share where there is one."""
        made = self.here / self.case.made
        return shown(bytes_below(self.here / "home/my")), (
            bytes_below(made) if self.case.made and made.is_dir() and any(made.iterdir()) else None
        )

    def _beside(self) -> list[str]:
        """Everything but the content of the journal, of what was made and of the cache."""
        return sorted(one.relative_to(self.here).as_posix() for one in [
            *(self.here / "home").iterdir(), *(self.here / "config").rglob("*"), *(self.here / "home/my").rglob("*"),
            *((self.here / self.case.made).parent.iterdir() if self.case.made else ()),
        ])  # fmt: skip

    def restore(self) -> None:
        shutil.rmtree(self.here)
        shutil.copytree(self._kept, self.here)
        time.sleep(0.11)  # until no file is younger than a tick of the disk's clock, as where the points were counted

    def try_at(self, at: int, full: bool) -> None:
        """Ends a run at a fault point, looks at what is there, and runs it again. Raises Wrong."""
        self.restore()
        points = Points(at, full)
        ended = self._run(points)
        where = f"{self.case.name}, {'disk full' if full else 'killed'} at {at} ({self.points[at]})"
        if full:
            self._check_said(ended, where)
        elif ended.status != KILLED and at < len(self.points) - 5:
            raise Wrong(f"{where}: it ended with {ended.status}\n{ended.said}")
        self._check_between(where, full and ended.status != 0)
        again = self._run(Points())
        if again.status != 0:
            raise Wrong(f"{where}: run again it ended with {again.status}\n{again.said}")
        self.check_end(where)

    def _check_said(self, ended: Ended, where: str) -> None:
        if ended.status not in (0, 2):
            raise Wrong(f"{where}: it ended with {ended.status}\n{ended.said}")
        if ended.status and not re.search("full|room", ended.said.splitlines()[-1]):
            raise Wrong(f"{where}: it said\n{ended.said}")
        if "fault in the program" in ended.said or "Traceback" in ended.said:
            raise Wrong(f"{where}: it said\n{ended.said}")

    def _check_between(self, where: str, refused: bool) -> None:
        journal, made = self._state()
        old, new = self.before[0], self.after[0]
        allowed = {**new, **({} if self.case.changes else old)}
        for path, data in old.items():
            if journal.get(path) not in (data, new.get(path)):
                raise Wrong(f"{where}: {path} is neither the old nor the new text")
        for path, data in journal.items():
            if path not in old and not path.startswith("receipts/") and data != allowed.get(path):
                raise Wrong(f"{where}: {path} is neither absent nor whole")
        away = made is None and self.case.moves_away
        if made not in (self.before[1], self.after[1]) and not away:
            raise Wrong(
                f"{where}: what was made is neither the old nor the new one: {_differing(made, self.before[1])}"
            )
        if refused and self.case.made and (left := sorted({*self._beside()} - {*self.beside})):
            raise Wrong(f"{where}: left over: {left}")

    def check_end(self, where: str) -> None:
        """Raises Wrong unless all is as after an undisturbed run."""
        journal, made = self._state()
        for one in (journal, self.after[0]):
            if self.case.name == "gather":
                _check_receipts(where, one)
        strip = lambda files: {path: data for path, data in files.items() if not path.startswith("receipts/")}  # noqa: E731
        if strip(journal) != strip(self.after[0]):
            raise Wrong(f"{where}: the journal ends otherwise: {_differing(strip(journal), strip(self.after[0]))}")
        if made != self.after[1]:
            if self.case.whole is bytes_below or made is None:
                raise Wrong(f"{where}: what was made ends otherwise: {_differing(made, self.after[1])}")
            if self.case.whole(self.here / self.case.made) != self._opened_after():
                raise Wrong(f"{where}: what was made opens to something else")
        left = sorted(one for one in {*self._beside()} - {*self.beside} if not one.startswith("home/my/receipts/"))
        if left:
            raise Wrong(f"{where}: left over: {left}")

    def _opened_after(self) -> Mapping[str, bytes]:
        if not hasattr(self, "_opened"):
            with tempfile.TemporaryDirectory() as folder:
                write(Path(folder), self.after[1] or {})
                self._opened = self.case.whole(Path(folder))
        return self._opened


def _check_receipts(where: str, files: Mapping[str, bytes]) -> None:
    """Every file that came in is in the journal, and is told of once."""
    import json

    rows = [
        json.dumps([row["record"], row["revision"], row["path"]])
        for path, data in files.items()
        if path.startswith("receipts/")
        for row in json.loads(data)["records"]
    ]
    if len(rows) != len(set(rows)) or len(rows) != 3:
        raise Wrong(f"{where}: receipts tell of {len(rows)} records, {len(set(rows))} different ones")


def _differing(one: Mapping[str, bytes] | None, other: Mapping[str, bytes] | None) -> list[str]:
    one, other = one or {}, other or {}
    return sorted(path for path in {*one, *other} if one.get(path) != other.get(path))[:8]


def spread(points: Sequence[str], many: int) -> list[int]:
    """The numbers of so many of these points, evenly spread."""
    return sorted({round(step * (len(points) - 1) / max(many - 1, 1)) for step in range(many)})


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--every", type=int, default=1, help="try every N-th fault point only")
    parser.add_argument("names", nargs="*", metavar="COMMAND", help=", ".join(CASES))
    asked = parser.parse_args()
    wrong = 0
    for name in asked.names or CASES:
        with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as room:
            faults = Faults(CASES[name], Path(room).resolve() / "room")
            tried = range(0, len(faults.points), asked.every)
            for full in (False, True):
                for at in tried:
                    try:
                        faults.try_at(at, full)
                    except Wrong as error:
                        wrong += 1
                        print(error, flush=True)
            print(f"{name}: {len(faults.points)} fault points, {len(tried)} tried both ways", flush=True)
    return 1 if wrong else 0


if __name__ == "__main__":
    import tests.conftest  # noqa: F401 - keeps compiled templates in memory

    sys.exit(main())
