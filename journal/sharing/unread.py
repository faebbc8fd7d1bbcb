"""What stands in entries that are wrong and so are no part of the journal, or not wholly: names and places in them must
not be told either, and a reader that gives up on a line knows of none."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from journal.problems import Unreadable, nearest
from journal.reading.frontmatter import FrontMatter
from journal.reading.keys import KEYS
from journal.reckoning.places import parse_position
from journal.sharing.known_places import Place

_TELLING = ("id", "place", "permission", "by", "identified by", "received from", "where")
_KEYS = frozenset(name for keys in KEYS.values() for name in keys)


@dataclass(frozen=True, slots=True)
class Unread:
    """As they were written: IDs, names of places, permissions, names of persons. spots: those positions that can be
    read."""

    ids: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    permissions: tuple[str, ...] = ()
    persons: tuple[str, ...] = ()
    spots: tuple[Place, ...] = ()


NOTHING_UNREAD = Unread()


def unread_of(fronts: Iterable[FrontMatter]) -> Unread:
    """What the keys of wrong entries say; a key that is misspelt counts as the one that it is most like."""
    told: dict[str, list[str]] = {name: [] for name in _TELLING}
    for front in fronts:
        for name, text in _values(front):
            told[name].append(text)
    persons = (*told["by"], *told["identified by"], *told["received from"])
    return Unread(
        ids=tuple(told["id"]),
        places=tuple(told["place"]),
        permissions=tuple(told["permission"]),
        persons=persons,
        spots=tuple(spot for text in told["where"] for spot in _spots(text)),
    )


def _values(front: FrontMatter) -> Iterator[tuple[str, str]]:
    for one in front.fields:
        name = one.name if one.name in _KEYS else nearest(one.name, _KEYS)
        if name in _TELLING:
            yield from ((name, item.text) for item in one.items if item.text)


def _spots(text: str) -> Iterator[Place]:
    try:
        place = parse_position(text)
    except Unreadable:
        return
    yield place.lat_deg, place.lon_deg
