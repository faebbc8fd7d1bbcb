"""What is added to a file is in it as a whole, or not at all."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from journal.writing.settings_lines import append
from tests.fault_points import Points, watched


@pytest.mark.skipif(os.name == "nt", reason="links and permissions are of POSIX")
def test_the_file_is_the_old_or_the_new_one_wherever_the_disk_is_full(tmp_path: Path) -> None:
    file, linked = tmp_path / "settings.toml", tmp_path / "journal.toml"
    file.write_bytes(b"old\n")
    file.chmod(0o640)
    linked.symlink_to(file)
    at = 0
    while True:
        points = Points(at, full=True)
        try:
            with watched(points):
                append(linked, b"new\n")
        except OSError:
            assert b"old\n" == file.read_bytes(), at
        if at >= len(points.names):
            break
        assert {"settings.toml", "journal.toml"} == {one.name for one in tmp_path.iterdir()}
        at += 1
    assert at > 3  # opened, written, flushed to the disk, renamed
    assert b"old\nnew\n" == file.read_bytes()
    assert (True, 0o640) == (linked.is_symlink(), stat.S_IMODE(file.stat().st_mode))
