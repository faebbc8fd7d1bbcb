"""What is added to the settings comes after all that is in them, in their line endings."""

from __future__ import annotations

import pytest

from journal.reading.toml_tables import addition_to


@pytest.mark.parametrize(
    ("written", "whole"),
    [
        (b"", b"\n[a]\nb = 1\n"),
        (b"old = 1\n", b"old = 1\n\n[a]\nb = 1\n"),
        (b"old = 1", b"old = 1\n\n[a]\nb = 1\n"),
        (b"old = 1\r\n", b"old = 1\r\n\r\n[a]\r\nb = 1\r\n"),
    ],
)
def test_lines_are_added_below_an_empty_line_in_the_line_endings_of_the_file(written: bytes, whole: bytes) -> None:
    assert whole == written + addition_to(written, "[a]\nb = 1")
