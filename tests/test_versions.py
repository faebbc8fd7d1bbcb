"""The versions that CI installs are those that pyproject.toml allows, for each library that it names."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
NAMED = [*PROJECT["dependencies"], *PROJECT["optional-dependencies"]["test"]]
INSTALLED = [Requirement(line) for line in (ROOT / ".ci" / "constraints.txt").read_text().splitlines()]


@pytest.mark.parametrize("named", NAMED)
def test_a_library_has_a_lowest_version_and_a_tested_one_for_every_python(named: str) -> None:
    wanted = Requirement(named)
    assert [">="] == [one.operator for one in wanted.specifier]
    for python in ("3.11", "3.12", "3.13"):
        environment = {"python_version": python, "python_full_version": f"{python}.9"}
        fitting = [
            next(iter(one.specifier)).version
            for one in INSTALLED
            if canonicalize_name(one.name) == canonicalize_name(wanted.name)
            and (one.marker is None or one.marker.evaluate(environment))
        ]
        assert 1 == len(fitting), python
        assert wanted.specifier.contains(fitting[0])
