"""What is fuzzed (`tests/fuzz.py`) holds for every fault that it found, and for changes chosen by a fixed seed."""

from __future__ import annotations

import base64
import json
from itertools import islice

import pytest

from tests.builders import seeded
from tests.fuzz import CASES, TABLE, changes, counted, failed, quoted, table
from tests.fuzzing.fuzz_targets import ROOT, TARGETS

FOUND = {
    f"{name}, {row['was']}": (name, row["text"].encode() if "text" in row else base64.b64decode(row["base64"]))
    for name, rows in json.loads(CASES.read_text(encoding="utf-8")).items()
    for row in rows
}
TRIED = {
    "CSV": 30,
    "EXIF files": 20,
    "archive": 60,
    "Markdown": 100,
    "front matter": 100,
    "QR pictures": 60,
    "settings": 200,
}
"""How many changes the suite tries of targets that take a millisecond or more; of others 600."""


@pytest.mark.parametrize(("name", "data"), FOUND.values(), ids=FOUND)
def test_what_was_found_by_fuzzing_stays_mended(name: str, data: bytes) -> None:
    TARGETS[name].run(data)


@seeded(1)
@pytest.mark.parametrize("name", TARGETS)
def test_what_must_hold_of_a_reader_holds_whatever_the_bytes(name: str, seed: int) -> None:
    target = TARGETS[name]
    seeds = target.seeds()
    made = islice(changes(seed, seeds, target.words, target.longest), TRIED.get(name, 600))
    for data in (*seeds, *made):
        target.run(data)


def test_an_input_that_fails_is_told_by_where_it_fails() -> None:
    def fails(data: bytes) -> object:
        return {}[data]

    assert failed(TARGETS["dates"].run, b"2026") is None
    where, told = failed(fails, b"2026") or ("", "")
    assert where.startswith("KeyError ")
    assert "b'2026'" in told


def test_changes_are_the_same_for_one_seed_and_differ_by_it() -> None:
    one, again, other = (list(islice(changes(seed, [b"abc"], ["x"], 5), 50)) for seed in (1, 1, 2))
    assert one == again != other
    assert max(map(len, one)) <= 5


def test_words_are_as_a_dictionary_of_libfuzzer_has_them() -> None:
    """Source: LLVM, libFuzzer, Dictionaries: `"` and the backslash, and bytes that do not print, as `\\xAB`."""
    assert r"a \x22\x5c\x0a\xc2\xb0" == quoted('a "\\\n°')


def test_runs_are_added_to_those_of_the_table() -> None:
    made = table({"dates": (1500, "2026-11-29", "0123abcd"), "CSV": (20, "2026-11-28", "4567cdef")}, {"CSV": [1, 2]})
    assert {"dates": (1500, "2026-11-29", "0123abcd"), "CSV": (20, "2026-11-28", "4567cdef")} == counted(made)
    assert "| **all** | **1,520** | **2** | | |" == made.splitlines()[-1]


def test_ten_million_runs_or_more_were_counted_of_every_target_together() -> None:
    part = TABLE.search((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"))
    assert part
    rows = counted(part[2])
    assert set(TARGETS) == set(rows)
    assert sum(runs for runs, _, _ in rows.values()) >= 10_000_000
