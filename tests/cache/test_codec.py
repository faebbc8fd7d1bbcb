from __future__ import annotations

import math
import random
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any, Literal, NamedTuple
from zoneinfo import ZoneInfo

import pytest

from journal.cache.codec import WrongType, packed, unpacked
from journal.cache.file_cache import KINDS
from journal.model import LoggerFile, Next
from journal.reading.csv_tables import Table
from journal.reading.entries import Draft, read_entry
from journal.reading.keys import KEYS
from journal.reading.logger_files import Columns, Rows
from journal.reading.values import NOTATIONS
from journal.settings import Settings, Tent

Colour = Literal["white", "brown"]


class Pair(NamedTuple):
    left: int
    right: str | None


@dataclass(frozen=True)
class Holder:
    """A dataclass of one of each."""

    name: str
    pair: Pair
    colour: Colour = "white"


@dataclass(frozen=True, kw_only=True)
class Impostor:
    name: str
    pair: Pair
    colour: Colour = "white"


LONDON = ZoneInfo("Europe/London")
DAY = datetime(2026, 10, 25, 1, 30, 0, 17)

FITTING: list[tuple[Any, Any]] = [
    (None, int | None),
    (True, bool),
    (-(2**70), int),
    (30, float),  # an int stays one: a page that shows it must not change
    (-0.0, float),
    (math.nan, float),
    (math.inf, float),
    ('häre "x" \ud83d\ude00 \udc80\x00\u2028', str),
    ("\ud83d" + "\ude00", str),
    (date(2026, 10, 25), date),
    (DAY, datetime),
    (DAY.replace(fold=1), datetime),
    (DAY.replace(tzinfo=UTC), datetime),
    (DAY.replace(tzinfo=timezone(timedelta(hours=-3, minutes=-30, seconds=-5))), datetime),
    (DAY.replace(tzinfo=LONDON, fold=1), datetime | None),
    ("minute", Literal["minute", "day"]),
    (Pair(1, None), Pair),
    (Holder("a", Pair(1, "b"), "brown"), Holder),
    (("a", 1), tuple[str, int]),
    ((), tuple[str, ...]),
    ([1, "a", None], list[int | str | None]),
    ({"b": 1, "a": 2}, Mapping[str, int]),
    (tuple(range(300)), tuple[int, ...]),
    (tuple([2**70] * 20), tuple[int, ...]),
    ((*[1.5] * 20, 2, math.nan), tuple[float, ...]),
    (tuple([math.nan, -0.0, 1e308] * 20), tuple[float, ...]),
    ([DAY + timedelta(seconds=n) for n in range(20)], list[datetime]),
    ([DAY.replace(tzinfo=LONDON)] * 20, list[datetime]),
    ([DAY.replace(tzinfo=timezone(timedelta(hours=n))) for n in range(20)], list[datetime]),
    ([(n, DAY, 1.5, math.nan) for n in range(20)], list[tuple[int, datetime, float, float]]),
    (tuple(("ab", n if n % 2 else None) for n in range(20)), tuple[tuple[str, int | None], ...]),
    (Settings(tents=(Tent(id="t", name="T", every=(("clean", 7), ("salt", 30.5))),)), Settings),
    (Next("raise the duct", date(2026, 11, 28)), Next),
]

UNFIT: list[tuple[Any, Any]] = [
    (1, str),
    (True, int),
    (True, float),
    (1, bool),
    ("1", int),
    (datetime(2026, 1, 1), date),
    (date(2026, 1, 1), datetime),
    (None, str),
    (["a"], tuple[str, ...]),
    (("a",), list[str]),
    (("a", 1, 2), tuple[str, int]),
    ("hour", Literal["minute", "day"]),
    ((1, "b"), Pair),
    (Impostor(name="a", pair=Pair(1, "b")), Holder),
    (Holder("a", (1, "b")), Holder),  # type: ignore[arg-type]
    ({1: 1}, Mapping[str, int]),
    ([(1, 2.5)] * 19 + [(1,)], list[tuple[int, float]]),
    (DAY.replace(tzinfo=timezone(timedelta(hours=1), "BST")), datetime),
    (1.5, str | int),
]


@pytest.mark.parametrize(("value", "hint"), FITTING, ids=repr)
def test_a_value_comes_back_as_it_was(value: Any, hint: Any) -> None:
    """Held by repr too, in which NaN equals itself and 30 is not 30.0."""
    back = unpacked(packed(value, hint, "k"), hint, "k")
    assert repr(value) == repr(back)
    assert type(value) is type(back)
    if isinstance(value, datetime):
        assert (value.fold, value.utcoffset()) == (back.fold, back.utcoffset())


@pytest.mark.parametrize(("value", "hint"), UNFIT, ids=repr)
def test_a_value_of_another_type_is_refused(value: Any, hint: Any) -> None:
    with pytest.raises(WrongType):
        packed(value, hint, "k")


@pytest.mark.parametrize("written", FITTING, ids=repr)
def test_what_was_written_as_another_type_never_comes_back_as_a_stranger(written: tuple[Any, Any]) -> None:
    """Read back as every other type it is either no value or one that this type could hold itself."""
    data = packed(*written, "k")
    for _, hint in FITTING:
        try:
            back = unpacked(data, hint, "k")
        except WrongType:
            continue
        packed(back, hint, "k")


def test_a_value_is_bound_to_what_it_belongs_to() -> None:
    with pytest.raises(WrongType):
        unpacked(packed(1, int, "k"), int, "j")


def test_bytes_cut_short_grown_or_changed_anywhere_are_no_value() -> None:
    value = Rows(Table(("t", "h"), 1, ";", ()), Columns(0, None, 1, "°C"))
    value.rows += [(n, DAY, 1.5, math.nan) for n in range(20)]
    data = packed(value, Rows, "k")
    harmed = [data[:n] for n in range(len(data))] + [data + b"\0"]
    chance = random.Random(1)
    for at in range(len(data)):
        harmed.append(data[:at] + bytes([data[at] ^ (1 << chance.randrange(8))]) + data[at + 1 :])
    for one in harmed:
        with pytest.raises(WrongType):
            unpacked(one, Rows, "k")


@pytest.mark.parametrize(
    "text",
    [
        b"", b"[", b"[" * 100_000, b'{"run":[0,8]}', b'{"run":[-8,8]}', b'{"run":[0]}', b'{"run":null}', b'{"walk":[]}',
        b"[[1,2]]", b'"a"', b"null", b"1e999", b"9" * 5000, b"\xff", b'["a","b"]', b"[true,1]", b"[1,null]", b"[1,2.5]",
        b'["a",1]', b'["a",true]', b'["a",1,1]', b'{"a":1}', b'{"a":true}', b'{"a":null}', b'["a",[true,"b"],"white"]',
        b'["a",[1,2],"white"]', b'["a","note",{"kind":1},{},"",1,[]]', b'["a","note",{"new":"b"},{},"",1,[]]',
        b'["a","note",{"kind":"note","units":true},{},"",1,[]]', b'["a","note",{},{"kind":"2"},"",1,[]]',
        b'["a","note",{},{},"",1,[["a",1,"fatal","b","c",""]]]',
    ],
    ids=lambda text: repr(text[:20]),
)  # fmt: skip
@pytest.mark.parametrize(
    "hint",
    [
        *(tuple[int, ...], list[float], Holder, Pair, Rows, datetime, int | str, LoggerFile, Draft),
        *(Mapping[str, int], tuple[str, int], list[int | None]),
    ],
)
def test_json_of_any_shape_under_a_right_sum_is_not_a_value(text: bytes, hint: Any) -> None:
    from journal.cache import codec

    rest = len(text).to_bytes(4, "little") + text
    whole = codec._FORM + codec._checksum(rest, "k") + rest
    try:
        back = unpacked(whole, hint, "k")
    except WrongType:
        return
    packed(back, hint, "k")  # refuses what is not of the type


def test_every_kind_that_is_remembered_has_a_type_that_can_be_kept() -> None:
    for kind, hint in KINDS.items():
        with pytest.raises(WrongType):
            unpacked(b"", hint, kind)
        with pytest.raises(WrongType):
            packed(object(), hint, kind)


def test_a_type_that_can_name_code_cannot_be_kept() -> None:
    for hint in (Any, object, type, bytes, list[Any]):
        with pytest.raises(TypeError):
            packed("x", hint, "k")


class TestEntries:
    @pytest.mark.parametrize("kind", KEYS)
    def test_a_draft_with_every_key_comes_back_as_it_was(self, kind: str) -> None:
        lines = [f"kind: {kind}"]
        for key in KEYS[kind].values():
            example = NOTATIONS[key.notation].example if key.notation != "word" else key.words[0]
            if key.name != "kind":
                lines.append(f"{key.name}: {example}")
        text = "---\n" + "\n".join(lines) + "\n---\nText with \x07 and :::\n"
        draft = read_entry("a.md", text.encode(), Settings())
        assert draft is not None
        assert draft.values.keys() == KEYS[kind].keys()
        back = unpacked(packed((draft,), KINDS["entry"], "k"), KINDS["entry"], "k")
        assert repr((draft,)) == repr(back)

    def test_a_draft_with_a_value_of_another_type_is_not_a_draft(self) -> None:
        draft = read_entry("a.md", b"---\nkind: note\nabout: B-031\ndate: 2026-10-27\n---\n", Settings())
        assert draft is not None
        for name, value in (("date", "2026-10-27"), ("about", "B-031"), ("stranger", "x")):
            changed = type(draft)(**{**vars(draft), "values": {**draft.values, name: value}})
            with pytest.raises(WrongType):
                packed((changed,), KINDS["entry"], "k")
