"""Values to bytes and back, by their declared type: the data names no class and calls nothing.

Data that is read back is checked against the same type, part by part; if any part does not fit, there is no value. The
bytes are: form (2), BLAKE2b of everything that follows and of what the value is bound to (16), length of the JSON (4,
little-endian), the JSON, and the arrays that the JSON refers to. A dataclass is the list of its fields' values; long
runs of numbers are arrays of eight bytes each, little-endian.

Types: None, bool, int, float (an int stays one), str, date, datetime (naive, of a fixed offset, or of a zone), Literal,
unions, tuples, lists, mappings by text, named tuples, TypedDict, and dataclasses of these.
`Annotated[X, T]` is read as T, while a type checker sees X.
"""

from __future__ import annotations

import json
import sys
import types
import typing
from array import array
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields, is_dataclass
from datetime import date, datetime, timezone
from functools import cache, partial
from hashlib import blake2b
from operator import attrgetter
from typing import Any, Literal, Union
from zoneinfo import ZoneInfo

_FORM = b"v1"
_SUM_BYTES = 16

_JSON = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"))

_ARRAY_FROM = 8  # shorter runs of numbers are in the JSON


class WrongType(ValueError):
    """A value that is not of its type, or bytes that contain no such value."""


def packed(value: object, hint: Any, bound: str) -> bytes:
    """A value of the type `hint` as bytes, which can only be read back with the same `bound`. Raises WrongType for
    another type."""
    arrays = _Arrays()
    try:
        plain = _JSON.encode(_codec_for(hint).out(value, arrays)).encode("utf-8", "surrogatepass")
    except (ValueError, OverflowError, RecursionError) as error:
        raise WrongType(f"no {hint}") from error
    rest = b"".join((len(plain).to_bytes(4, "little"), plain, *arrays.chunks))
    return b"".join((_FORM, _checksum(rest, bound), rest))


def unpacked(data: bytes, hint: Any, bound: str) -> Any:
    """The value that was packed with the same `hint` and `bound`; raises WrongType for any other bytes."""
    try:
        rest = memoryview(data)[len(_FORM) + _SUM_BYTES :]
        if data[: len(_FORM)] != _FORM or data[len(_FORM) : len(_FORM) + _SUM_BYTES] != _checksum(rest, bound):
            raise WrongType("other bytes")
        end = 4 + int.from_bytes(rest[:4], "little")
        plain = str(rest[4:end], "utf-8", "surrogatepass")
        return _codec_for(hint).back(json.loads(plain), _Arrays([rest[end:]]))
    except Exception as error:  # JSON of any shape may be there, and a type may raise anything when it reads it
        raise WrongType(f"no {hint}") from error


def _checksum(rest: bytes | memoryview, bound: str) -> bytes:
    whole = blake2b(bound.encode("utf-8", "surrogatepass") + b"\0", digest_size=_SUM_BYTES)
    whole.update(rest)
    return whole.digest()


@dataclass(slots=True)
class _Arrays:
    """The data after the JSON: a list of chunks while writing, one piece when reading."""

    chunks: list[Any] = field(default_factory=list)
    size: int = 0

    def add(self, data: bytes) -> list[int]:
        """Where the data will be: first byte, and number of bytes."""
        at = [self.size, len(data)]
        self.chunks.append(data)
        self.size += len(data)
        return at

    def at(self, place: Any) -> memoryview:
        begin, size = _list(place, 2)
        found: memoryview = self.chunks[0][_fitting(begin, int) : begin + _fitting(size, int)]
        if begin < 0 or size < 0 or len(found) != size:
            raise WrongType("cut short")
        return found


_Step = Callable[[Any, _Arrays], Any]


class _Codec(typing.NamedTuple):
    """From a value to JSON, and back; back may change what it gets. kinds: the types of values that are their own JSON
    and need no other check; none for values that are converted."""

    out: _Step
    back: _Step
    kinds: frozenset[type] = frozenset()


def _fitting(value: Any, *kinds: type) -> Any:
    if type(value) not in kinds:
        raise WrongType(f"no {kinds[0].__name__}")
    return value


def _list(value: Any, length: int) -> list[Any]:
    if type(value) is not list or len(value) != length:
        raise WrongType(f"no list of {length}")
    return value


@cache
def _codec_for(hint: Any) -> _Codec:
    """How values of a type are converted; raises TypeError for an unsupported type."""
    hint = type(None) if hint is None else hint
    origin, parts = typing.get_origin(hint), typing.get_args(hint)
    if origin is typing.Annotated:
        return _codec_for(parts[1])
    if origin in (Union, types.UnionType):
        return _union(parts)
    if origin is Literal:
        step = partial(_one_of, parts, frozenset(map(type, parts)))
        return _Codec(step, step)
    if origin in (tuple, list):
        return _sequence(origin, parts)
    if origin is not None and issubclass(origin, Mapping) and parts[0] is str:
        return _mapping(_codec_for(parts[1]))
    if isinstance(hint, type) and origin is None:
        return _plain(hint)
    raise TypeError(f"{hint} cannot be kept")


def _plain(kind: type) -> _Codec:
    if kind in (str, bool, int, type(None)):
        return _unchanged(kind)
    if kind is float:
        return _unchanged(float, int)
    if kind is date:
        return _Codec(
            lambda value, _: _fitting(value, date).isoformat(),
            lambda found, _: date.fromisoformat(_fitting(found, str)),
        )
    if kind is datetime:
        return _Codec(lambda value, _: _moment_out(value), lambda found, _: _moment_back(found))
    return _record(kind)


def _unchanged(*kinds: type) -> _Codec:
    def step(value: Any, _: _Arrays) -> Any:
        return _fitting(value, *kinds)

    return _Codec(step, step, frozenset(kinds))


def _parts_back(codecs: Sequence[_Codec], make: Callable[..., Any]) -> _Step:
    """What `make` makes of the parts of a list, each read by its own codec."""
    unchanged = [(at, codec.kinds) for at, codec in enumerate(codecs) if codec.kinds]
    others = [(at, codec.back) for at, codec in enumerate(codecs) if not codec.kinds]

    def back(found: Any, arrays: _Arrays) -> Any:
        parts = _list(found, len(codecs))
        for at, kinds in unchanged:
            if type(parts[at]) not in kinds:
                raise WrongType("another type")
        for at, step in others:
            parts[at] = step(parts[at], arrays)
        return make(*parts)

    return back


def _one_of(words: tuple[Any, ...], kinds: frozenset[type], value: Any, _: _Arrays) -> Any:
    if type(value) not in kinds or value not in words:
        raise WrongType("none of the words")
    return value


def _union(parts: tuple[Any, ...]) -> _Codec:
    """None is null; if there are several other types, the index of the right one precedes the value."""
    others = [_codec_for(part) for part in parts if part is not type(None)]
    is_optional = len(others) < len(parts)
    if len(others) == 1:
        return _optional(*others)

    def out(value: Any, arrays: _Arrays) -> Any:
        if value is None and is_optional:
            return None
        for number, codec in enumerate(others):
            try:
                return [number, codec.out(value, arrays)]
            except WrongType:
                continue
        raise WrongType("none of the types")

    def back(found: Any, arrays: _Arrays) -> Any:
        if found is None and is_optional:
            return None
        number, value = _list(found, 2)
        return others[range(len(others))[_fitting(number, int)]].back(value, arrays)

    return _Codec(out, back)


def _optional(codec: _Codec) -> _Codec:
    out, back, kinds = codec
    return _Codec(
        lambda value, arrays: None if value is None else out(value, arrays),
        lambda found, arrays: None if found is None else back(found, arrays),
        kinds | {type(None)} if kinds else kinds,
    )


def _record(kind: type) -> _Codec:
    """A dataclass or named tuple as the list of its fields; a TypedDict as its items, by name."""
    hints = typing.get_type_hints(kind, include_extras=True)
    if typing.is_typeddict(kind):
        return _typed_dict({name: _codec_for(hint) for name, hint in hints.items()}, kind)
    if is_dataclass(kind):
        names = tuple(part.name for part in fields(kind))
        by_name = any(part.kw_only for part in fields(kind))
    elif issubclass(kind, tuple) and hasattr(kind, "_fields"):
        names, by_name = kind._fields, False
    else:
        raise TypeError(f"{kind} cannot be kept")
    codecs = [_codec_for(hints[name]) for name in names]

    def out(value: Any, arrays: _Arrays) -> list[Any]:
        _fitting(value, kind)
        return [codec.out(getattr(value, name), arrays) for codec, name in zip(codecs, names, strict=True)]

    def by_names(*values: Any) -> Any:
        return kind(**dict(zip(names, values, strict=True)))

    return _Codec(out, _parts_back(codecs, by_names if by_name else kind))


def _typed_dict(codecs: Mapping[str, _Codec], kind: Any) -> _Codec:
    required: frozenset[str] = kind.__required_keys__

    def out(value: Any, arrays: _Arrays) -> dict[str, Any]:
        if type(value) is not dict or not required <= value.keys() <= codecs.keys():
            raise WrongType("other names")
        return {name: codecs[name].out(part, arrays) for name, part in value.items()}

    def back(found: Any, arrays: _Arrays) -> dict[str, Any]:
        if type(found) is not dict or not required <= found.keys():
            raise WrongType("other names")
        for name, part in found.items():
            codec = codecs[name]
            if not codec.kinds:
                found[name] = codec.back(part, arrays)
            elif type(part) not in codec.kinds:
                raise WrongType("another type")
        return found

    return _Codec(out, back)


def _mapping(codec: _Codec) -> _Codec:
    def out(value: Any, arrays: _Arrays) -> dict[str, Any]:
        return {_fitting(name, str): codec.out(part, arrays) for name, part in _fitting(value, dict).items()}

    def back(found: Any, arrays: _Arrays) -> dict[str, Any]:
        if type(found) is dict and codec.kinds.issuperset(map(type, found.values())):
            return found
        return {name: codec.back(part, arrays) for name, part in _fitting(found, dict).items()}

    return _Codec(out, back)


def _sequence(kind: type, parts: tuple[Any, ...]) -> _Codec:
    if kind is tuple and Ellipsis not in parts:
        return _fixed(tuple(_codec_for(part) for part in parts))
    row = parts[0]
    cells = typing.get_args(row) if typing.get_origin(row) is tuple and Ellipsis not in typing.get_args(row) else ()
    long_out, long_back = _columns(cells) if cells else _RUNS.get(row, (None, None))
    codec = _codec_for(row)

    def out(value: Any, arrays: _Arrays) -> Any:
        _fitting(value, kind)
        run = long_out(value, arrays) if long_out and len(value) >= _ARRAY_FROM else None
        return [codec.out(part, arrays) for part in value] if run is None else {"run": run}

    def back(found: Any, arrays: _Arrays) -> Any:
        if type(found) is dict and long_back:
            return kind(long_back(found["run"], arrays))
        if type(found) is list and codec.kinds.issuperset(map(type, found)):
            return kind(found)
        return kind([codec.back(part, arrays) for part in _fitting(found, list)])

    return _Codec(out, back)


def _fixed(codecs: tuple[_Codec, ...]) -> _Codec:
    def out(value: Any, arrays: _Arrays) -> list[Any]:
        if len(_fitting(value, tuple)) != len(codecs):
            raise WrongType("another length")
        return [codec.out(part, arrays) for codec, part in zip(codecs, value, strict=True)]

    return _Codec(out, _parts_back(codecs, lambda *parts: parts))


_Run = tuple[Callable[[Sequence[Any], _Arrays], Any], Callable[[Any, _Arrays], Sequence[Any]]]
"""A long run to an array (None if it does not fit one), and back."""


def _columns(cells: tuple[Any, ...]) -> _Run:
    codecs = [_sequence(list, (cell,)) for cell in cells]

    def out(rows: Sequence[Any], arrays: _Arrays) -> Any:
        if any(type(row) is not tuple or len(row) != len(codecs) for row in rows):
            raise WrongType("other rows")
        return [codec.out(list(column), arrays) for codec, column in zip(codecs, zip(*rows, strict=True), strict=True)]

    def back(found: Any, arrays: _Arrays) -> Sequence[Any]:
        columns = [codec.back(column, arrays) for codec, column in zip(codecs, _list(found, len(codecs)), strict=True)]
        return list(zip(*columns, strict=True))

    return out, back


def _numbers(code: str, kind: type) -> _Run:
    def out(values: Sequence[Any], arrays: _Arrays) -> Any:
        if set(map(type, values)) != {kind}:
            return None
        try:
            return arrays.add(_least_first(array(code, values)).tobytes())
        except OverflowError:
            return None

    def back(place: Any, arrays: _Arrays) -> Sequence[Any]:
        run = array(code)
        run.frombytes(arrays.at(place))
        return _least_first(run)

    return out, back


def _least_first(run: array[Any]) -> array[Any]:
    if sys.byteorder == "big":
        run.byteswap()
    return run


def _moments_out(values: Sequence[Any], _: _Arrays) -> Any:
    if set(map(type, values)) != {datetime} or any(map(attrgetter("fold"), values)):
        return None
    if not all(_is_lossless_iso(zone) for zone in set(map(attrgetter("tzinfo"), values))):
        return None
    return " ".join(map(datetime.isoformat, values))


_RUNS: dict[Any, _Run] = {
    float: _numbers("d", float),
    int: _numbers("q", int),
    datetime: (_moments_out, lambda found, _: list(map(datetime.fromisoformat, found.split(" ")))),
}


def _is_lossless_iso(zone: Any) -> bool:
    """Whether ISO 8601 can express a time zone completely: none, or a fixed offset without a name."""
    if type(zone) is not timezone:
        return zone is None
    plain = timezone(zone.utcoffset(None))
    return zone == plain and zone.tzname(None) == plain.tzname(None)


def _moment_out(value: Any) -> Any:
    """ISO 8601; with `fold` (the second of a repeated hour) and the zone's name if the value has them."""
    zone = _fitting(value, datetime).tzinfo
    if not value.fold and _is_lossless_iso(zone):
        return value.isoformat()
    if type(zone) is ZoneInfo and zone.key:
        return [value.replace(tzinfo=None).isoformat(), value.fold, zone.key]
    if _is_lossless_iso(zone):
        return [value.isoformat(), value.fold, None]
    raise WrongType("a zone without a name")


def _moment_back(found: Any) -> datetime:
    if type(found) is str:
        return datetime.fromisoformat(found)
    text, fold, key = _list(found, 3)
    moment = datetime.fromisoformat(text).replace(fold=_fitting(fold, int))
    return moment if key is None else moment.replace(tzinfo=ZoneInfo(_fitting(key, str)))
