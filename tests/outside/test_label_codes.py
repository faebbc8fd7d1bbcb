"""Check characters compared with worked examples of ISO/IEC 7064, and what the standard says that they find."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from journal.reading.label_codes import check_character

EXAMPLES = json.loads(Path(__file__).with_name("label_codes.json").read_text(encoding="utf-8"))["mod_37_2"]
ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example["text"])
def test_worked_examples(example: dict[str, str]) -> None:
    assert example["check"] == check_character(example["text"])


def test_any_one_wrong_character_and_any_two_swapped_are_found() -> None:
    """ISO/IEC 7064:2003, 4: a pure system with one check character detects all single substitutions and all (local)
    transpositions."""
    for id in ("B031", "PP26A", "F26014K7Q4"):
        right = check_character(id)
        wrong = {f"{id[:at]}{letter}{id[at + 1 :]}" for at in range(len(id)) for letter in ALPHABET} - {id}
        swapped = {f"{id[:at]}{id[at + 1]}{id[at]}{id[at + 2 :]}" for at in range(len(id) - 1)} - {id}
        assert set() == {other for other in wrong | swapped if check_character(other) == right}


def test_hyphens_dot_and_case_count_for_nothing() -> None:
    assert 1 == len({check_character(written) for written in ("F26-014.2", "f26-014.2", "F260142")})
