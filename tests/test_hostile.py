"""A journal as an enemy would write it: it is read within bounds, nothing of it is lost in silence, and it ends."""

from __future__ import annotations

import json
import os
import resource
from pathlib import Path

import pytest

from tests.hostile import files_of_enemy, lay, run_journal

TEXTS = (
    "backticks", "deep list", "deep quotes", "open brackets", "open comments", "open emphasis", "open links",
    "open tags", "table",
)  # fmt: skip


@pytest.mark.skipif(os.name != "posix", reason="pipes, links and limits as POSIX has them")
def test_whatever_is_wrong_with_a_file_is_said_and_none_takes_the_others_down(tmp_path: Path) -> None:
    """In a process that may have 1.5 GiB of memory and a minute of the processor; it takes some three seconds."""
    root, files = tmp_path / "my", files_of_enemy()
    lay(root, files)
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    status, out, err = run_journal(
        "check", str(root), "--json", "--cache", str(tmp_path / "cache"), most_bytes=3 << 29, most_cpu_s=60
    )
    print(f"{resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before:.1f} CPU s")
    assert 1 == status, err
    assert "fault in the program" not in out
    problems = json.loads(out)["problems"]
    told = {problem["path"] for problem in problems}
    odd = {f"odd/{one.name}" for one in (root / "odd").iterdir()}
    silent = {path for path in {*files, *odd} - told if not path.startswith(("names/", "odd/folder."))}
    right = {f"slow/{name}.md" for name in TEXTS if name != "references"}  # which lead to nothing
    assert right | {"pictures/all.md", "pictures/one-pixel.png"} == silent
    assert {"names/e\u0301.md", "names/\u00e9.md"} & told  # one name, in two forms of Unicode
    assert not any("\x1b" in problem["message"] or "\n" in problem["message"] for problem in problems)
