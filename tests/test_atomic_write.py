"""A file is the old or the new one at any moment."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from journal.atomic_write import write_atomically
from tests.fault_points import Points, watched

pytestmark = pytest.mark.skipif(os.name == "nt", reason="links and permissions are of POSIX")


@pytest.mark.parametrize("is_cached", [False, True])
def test_the_file_is_the_old_or_the_new_one_wherever_the_disk_is_full(tmp_path: Path, is_cached: bool) -> None:
    file, linked = tmp_path / "settings.toml", tmp_path / "journal.toml"
    file.write_bytes(b"old\n")
    file.chmod(0o640)
    linked.symlink_to(file)
    at = 0
    while True:
        points = Points(at, full=True)
        try:
            with watched(points):
                write_atomically(linked, b"old\nnew\n", is_cached=is_cached)
        except OSError:
            assert b"old\n" == file.read_bytes(), at
        if at >= len(points.names):
            break
        assert {"settings.toml", "journal.toml"} == {one.name for one in tmp_path.iterdir()}
        at += 1
    assert at > 2  # opened, written, renamed, and flushed to the disk where it is not cached
    assert b"old\nnew\n" == file.read_bytes()
    assert (True, 0o640) == (linked.is_symlink(), stat.S_IMODE(file.stat().st_mode))


def test_a_private_file_is_its_owners_alone_and_nothing_of_an_ended_run_stays_beside_it(tmp_path: Path) -> None:
    for name in (".keys.json.4711.part", ".keys.json.part", "keys.json.4711.part", ".keys2json.1.part"):
        (tmp_path / name).write_bytes(b"a key")
    before = os.umask(0)
    try:
        write_atomically(tmp_path / "keys.json", b"new", is_private=True)
        write_atomically(tmp_path / "page.html", b"new")
    finally:
        os.umask(before)
    modes = {one.name: stat.S_IMODE(one.stat().st_mode) for one in tmp_path.iterdir()}
    assert (0o600, 0o666) == (modes["keys.json"], modes["page.html"])
    assert {".keys.json.part", "keys.json.4711.part", ".keys2json.1.part", "keys.json", "page.html"} == set(modes)
