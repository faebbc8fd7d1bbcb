"""What a phone writes is what the reader reads: the other side of tests/browser/test_record_entries.py."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from journal.model import Ref, When
from journal.reading.entries import Draft, read_entry
from journal.reading.keys import KEYS
from journal.reading.values import parse_id
from journal.settings import Settings
from journal.writing.new_entry import Numbered, next_id

CASES = json.loads((Path(__file__).parents[1] / "record_cases.json").read_text(encoding="utf-8"))
RECORDS = CASES["records"]


def read(entry: str) -> Draft:
    draft = read_entry("finds/x/find.md", entry.encode(), Settings())
    assert draft is not None
    return draft


def plain(value: Any) -> Any:
    """A draft, or a value in it, as JSON has it: IDs and dates as text, fields that are None left out."""
    if isinstance(value, Draft):
        text = {"text": value.text} if value.text else {}
        return {**{key: plain(one) for key, one in value.values.items()}, **text}
    if isinstance(value, Ref):
        return str(value)
    if isinstance(value, When):
        return value.iso
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return round(value, 9)
    if isinstance(value, tuple):
        return [plain(one) for one in value]
    if dataclasses.is_dataclass(value):
        fields = {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
        return {name: one for name, one in fields.items() if one is not None}
    return value


def name_of(case: dict[str, Any]) -> str:
    return str(case["name"])


@pytest.mark.parametrize("case", RECORDS, ids=name_of)
def test_an_entry_from_a_phone_reads_as_it_was_meant(case: dict[str, Any]) -> None:
    draft = read(case["entry"])
    assert () == draft.problems
    assert case["reads"] == plain(draft)


@pytest.mark.parametrize("case", RECORDS, ids=name_of)
def test_every_value_that_was_typed_comes_back(case: dict[str, Any]) -> None:
    record, reads = case["record"], case["reads"]
    typed = {key for key, value in record["values"].items() if any(str(one or "").strip() for one in _listed(value))}
    wanted = {"kind", "date", *typed, *(key for key in ("id", "about", "photos") if record[key])}
    assert wanted == set(reads) - {"text"}
    assert [photo["name"] for photo in record["photos"]] == [name for name, *_ in reads.get("photos", [])]


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


def test_the_cases_write_every_key_of_every_kind_that_a_phone_records() -> None:
    for kind in ("find", "culture", "batch", "note", "tent"):
        written = {key for case in RECORDS if case["record"]["kind"] == kind for key in case["reads"]}
        assert set() == set(KEYS[kind]) - written - COMMON_ELSEWHERE - NOT_ON_A_PHONE


COMMON_ELSEWHERE = {"title", "by", "private", "next", "done", "photos", "about"}
"""Keys that every kind has, written in some of them."""

NOT_ON_A_PHONE = {"formerly", "patch", "core log"}
"""Keys that are written at the computer alone."""


@pytest.mark.parametrize("case", CASES["ids"], ids=name_of)
def test_an_id_from_a_phone_can_be_one(case: dict[str, Any]) -> None:
    assert case["id"] == parse_id(case["id"])
    assert case["id"].upper() not in {name.upper() for name in case["context"]["known"]}


# Source: Crockford, Base 32 (the 32 signs and their order); the rest as DEVELOPERS.md has it.
CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


TAKEN_FROM = [
    case
    for case in CASES["ids"]
    if (parent := case["context"].get("parent"))
    and parent.split(".")[0] in {*case["context"]["known"], *(row["id"] for row in case["context"]["outbox"])}
    and "method" not in case["context"]  # which the command does not ask
]


@pytest.mark.parametrize("case", TAKEN_FROM, ids=name_of)
def test_a_phone_names_a_clone_or_transfer_as_the_command_does(case: dict[str, Any]) -> None:
    context = case["context"]
    known = [{"id": name, **row} for name, row in context["known"].items()]
    rows = [
        Numbered(row["kind"], row["id"], row.get("year"), tuple(row.get("from", ())), row.get("species"))
        for row in [*known, *context["outbox"]]
    ]
    name = next_id("culture", rows, (), date.fromisoformat(context["today"]), context["parent"].split(".")[0])
    assert case["id"] == f"{name}-{context['suffix']}"


def test_clones_and_transfers_are_among_the_cases() -> None:
    kinds = Counter(
        {**case["context"]["known"], **{row["id"]: row for row in case["context"]["outbox"]}}[
            case["context"]["parent"].split(".")[0]
        ]["kind"]
        for case in TAKEN_FROM
    )
    assert kinds == {"find": 11, "batch": 2, "culture": 9}


@pytest.mark.parametrize("case", CASES["codes"], ids=lambda case: case["code"])
def test_a_receipt_code_is_the_digest_s_first_60_bits_and_a_check(case: dict[str, Any]) -> None:
    digest = hashlib.sha256(f"journal receipt\n{case['manifest']}\n{case['part']}".encode()).digest()
    bits = "".join(f"{byte:08b}" for byte in digest)[:60]
    values = [int(bits[at : at + 5], 2) for at in range(0, 60, 5)]
    check = sum(value * place for place, value in enumerate(values, 1)) % 31
    code = "".join(CROCKFORD[value] for value in (*values, check))
    assert case["code"] == f"{code[:4]}-{code[4:8]}-{code[8:12]}-{code[12:]}"
