"""What tests of every storey share."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def need_program() -> Callable[..., Path]:
    """Gives a program's path by the first of its names that is installed; where none is, the test is skipped, or
    fails where JOURNAL_TESTS_NEED_ALL=1 says that everything must run."""

    def find(*names: str) -> Path:
        for name in names:
            if found := shutil.which(name):
                return Path(found)
        says = f"none of {', '.join(names)} is installed"
        if os.environ.get("JOURNAL_TESTS_NEED_ALL") == "1":
            pytest.fail(says)
        pytest.skip(says)

    return find


@pytest.fixture(scope="session")
def need_chromium(need_program: Callable[..., Path]) -> Path:
    """Path of a Chromium; JOURNAL_CHROMIUM may name one."""
    return need_program(os.environ.get("JOURNAL_CHROMIUM", "chromium"), "chromium-browser", "google-chrome")
