"""Tries every property on many examples chosen at random, where the suite tries few and always the same.

    python tests/explore.py                          ten times as many as the suite, in every folder
    python tests/explore.py --times 100 tests/geo    a hundred times as many, in one folder
    python tests/explore.py -- -x -n auto            what follows `--` is handed to pytest

A failing example is shown with what makes it again; it then becomes a test of its own, or an `@example`.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=10, help="how many times as many examples as the suite tries")
    parser.add_argument("rest", nargs="*", metavar="folder or pytest's option")
    asked = parser.parse_args()
    if asked.times < 1:
        parser.error("--times is at least 1")
    command = [sys.executable, "-m", "pytest", "-q", "-m", "hypothesis or seeded", "--timeout=0", *asked.rest]
    environment = {**os.environ, "JOURNAL_EXPLORE": str(asked.times)}
    return subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
