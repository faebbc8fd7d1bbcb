"""A camera's photos, a journal for them, and the command as an author types it."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from journal.importing import photo_files
from journal.site.build import photo_workers
from journal.site.build.photo_workers import photo_work
from tests.builders import Inline

FILES = {
    "journal.toml": '[journal]\ntitle = "Shore"\nauthor = "Porter"\ntime_zone = "Europe/London"\n\n'
    '[tents.wash-house]\nname = "Wash-house tent"\n',
    "finds/alder/find.md": "---\nkind: find\nid: F26-001\ndate: 2026-09-12\n---\n",
    "cultures/PP-26A.md": "---\nkind: culture\nid: PP-26A\ndate: 2026-09-12\nfrom: F26-001\nvessels: 5\n---\n",
    "cultures/PP-26B.md": "---\nkind: culture\nid: PP-26B\ndate: 2026-09-20\nfrom: PP-26A\n---\n",
    "batches/B-031/batch.md": "---\nkind: batch\nid: B-031\ndate: 2026-10-06\nculture: PP-26B\nunits: 4\n---\n",
    "devices/fan-1.md": "---\nkind: device\nid: fan-1\ndate: 2026-02-01\ntent: wash-house\n---\n",
    "devices/fan-2.md": "---\nkind: device\nid: fan-2\ndate: 2026-10-08\ntent: wash-house\n---\n",
    "tents/2026-10-20.md": "---\nkind: tent\ndate: 2026-10-20\nabout: wash-house\nhumidity set point: 92 %\n---\n",
}


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    status: int
    out: str
    err: str

    @property
    def paths(self) -> list[str]:
        return self.out.splitlines()


@dataclass(frozen=True)
class Shore:
    """A journal and a camera's folder beside it."""

    root: Path
    camera: Path
    attach: Callable[..., Ended]
    photo: Callable[..., Path]

    def visible(self) -> dict[str, bytes]:
        """Every file of the journal that is not hidden, with its bytes."""
        files = {path.relative_to(self.root): path for path in self.root.rglob("*") if path.is_file()}
        hidden = (name for name in files if any(part.startswith(".") for part in name.parts))
        return {name.as_posix(): files[name].read_bytes() for name in files.keys() - set(hidden)}

    def hidden(self) -> list[str]:
        return [path.name for path in self.root.rglob(".*")]

    def journal(self) -> Any:
        """The journal as a build reads it."""
        from journal.cache.file_cache import FileCache
        from journal.cache.store import Cache
        from journal.pipeline import read_journal

        return read_journal(FileCache(Cache(self.root.parent / "read"), self.root, 0), lambda *_: None).journal

    def text(self, path: str) -> str:
        return (self.root / path).read_text(encoding="utf-8")

    def write(self, files: Mapping[str, str | bytes]) -> None:
        for path, content in files.items():
            file = self.root / path
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(content.encode() if isinstance(content, str) else content)


@pytest.fixture
def photo_bytes(exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]) -> Callable[..., bytes]:
    """Called with when it was taken (`2026:10:27 07:31:00`, "" for no time) and a shade it gives a small picture."""
    from PIL import Image

    def content(taken: str, shade: int = 0, kind: str = "JPEG", **tags: Any) -> bytes:
        image = Image.new("RGB", (64, 48), (shade * 37 % 256, shade * 59 % 256, shade * 83 % 256))
        more = {"DateTimeOriginal": taken} if taken else {}
        return picture_bytes(kind, exif_block(Orientation=1, **more, **tags), image=image)

    return content


@pytest.fixture
def shore(
    tmp_path: Path, photo_bytes: Callable[..., bytes], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> Shore:
    """A small journal in which all is well, the folder in which one stands, and an empty camera folder beside it.

    Photos are read in this process; what worker processes do is for `test_photo_workers`.
    """
    from journal.cli import cli
    from journal.commands.console import run

    root, camera = tmp_path / "my", tmp_path / "DCIM"
    camera.mkdir()
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    for module in (photo_workers, photo_files):
        monkeypatch.setattr(module, "photo_work", partial(photo_work, executor=Inline()))

    def attach(*words: str | Path) -> Ended:
        capsys.readouterr()
        status = run(cli, ["attach", *map(str, words)])
        said = capsys.readouterr()
        return Ended(status, said.out, said.err)

    def photo(name: str | bytes, taken: str = "2026:10:27 07:31:00", shade: int = 0, **more: Any) -> Path:
        file = camera / os.fsdecode(name)
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(photo_bytes(taken, shade, **more))
        return file

    here = Shore(root, camera, attach, photo)
    here.write(FILES)
    monkeypatch.chdir(root)
    return here
