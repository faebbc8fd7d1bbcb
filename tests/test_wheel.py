"""The wheel is the whole program: installed elsewhere, without the checkout, it builds the same site."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Mapping
from pathlib import Path

import pytest

pytest.importorskip("hatchling", reason="the test extra installs it")

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of an installed wheel, in a path with a space and other letters than ASCII's."""
    room = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(room)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True, timeout=120)
    (wheel,) = room.glob("*.whl")
    folder = room / "Pilze und 菌" / "lib"
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(folder)
    return folder


def files_of(folder: Path) -> Mapping[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_it_has_every_module_template_and_static_file(installed: Path) -> None:
    folders = {"journal": "journal", "templates": "journal/_resources/templates", "static": "journal/_resources/static"}
    missing = [
        f"{target}/{name}"
        for source, target in folders.items()
        for name, data in files_of(ROOT / source).items()
        if "__pycache__" not in name and (installed / target / name).read_bytes() != data
    ]
    assert [] == missing


def test_the_site_that_it_builds_is_the_checkouts_byte_for_byte(installed: Path, sample_site: Path) -> None:
    """Of a copy of the journal in another place. No path of the checkout is searched for modules: `-S` reads no `.pth`
    file, so that an editable installation counts for nothing. The photos' sizes are taken as they were made."""
    room = installed.parent
    journal = shutil.copytree(ROOT / "sample_entries", room / "mes récoltes")
    shutil.copytree(sample_site.parent / "cache" / "pictures", room / "cache" / "pictures")
    libraries = [path for path in sys.path if path and not ROOT.is_relative_to(Path(path).resolve())]
    code = "import journal, sys; from journal.__main__ import main; print(journal.__file__); sys.exit(main())"
    words = ["build", str(journal), "--to", str(room / "le site"), "--cache", str(room / "cache")]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(installed), *libraries]), "PYTHONSAFEPATH": "1"}
    done = subprocess.run(
        [sys.executable, "-S", "-c", code, *words],
        cwd=room,
        env=environment,
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    assert str(installed / "journal" / "__init__.py") == done.stdout.splitlines()[0]
    ours, theirs = files_of(sample_site), files_of(room / "le site")
    assert [] == sorted(name for name in {*ours, *theirs} if ours.get(name) != theirs.get(name))
