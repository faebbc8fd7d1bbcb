"""Every library that is needed is listed with its licence, and each licence is compatible with MIT."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.licences import is_compatible, listed, needed


def test_no_library_is_missing_from_the_list() -> None:
    found = needed(tests=True)
    assert {"flask", "werkzeug", "pytest"} <= set(found)  # of the program, of a library, of the tests
    document = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert set() == set(found) - listed(document), "run: python tests/licences.py"


def test_every_licence_is_compatible_with_mit() -> None:
    assert {} == {name: licence for name, licence in needed(tests=True).items() if not is_compatible(licence)}


@pytest.mark.parametrize(
    ("expected", "licence"),
    [(True, "MIT"), (True, "Apache-2.0 OR GPL-2.0-only"), (True, "MIT AND PSF-2.0"), (False, "MIT AND GPL-3.0-only")]
    + [(False, licence) for licence in ("", "GPL-2.0-only", "AGPL-3.0-or-later", "Proprietary", "see LICENSE")],
)
def test_a_licence_that_asks_more_is_not_compatible(expected: bool, licence: str) -> None:
    assert expected is is_compatible(licence)
