from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from journal.cache.folders import build_lock

HOLDER = """
import sys
from pathlib import Path
from journal.cache.folders import build_lock
with build_lock(Path(sys.argv[1]), lambda: None):
    print("mine", flush=True)
    sys.stdin.read()
"""


def test_a_second_process_waits_until_the_first_has_ended(tmp_path: Path) -> None:
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    with holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "mine\n"
        told: list[str] = []

        def waiting() -> None:
            told.append("waiting")
            holder.kill()

        with build_lock(tmp_path, waiting):
            assert told == ["waiting"]


def test_alone_nobody_waits(tmp_path: Path) -> None:
    told: list[str] = []
    for _ in range(2):
        with build_lock(tmp_path, lambda: told.append("waiting")):
            pass
    assert told == []
