"""The tree of one culture, batch or find: where it comes from, every step between, and everything grown from it.

Nodes stand in an order in which each comes after all that it was taken from. The way that most was grown along runs
straight on; whatever else was taken from a node stands before that, one branch further out. So branches stay few: where
nothing has two parents, no node is more of them out than the number of nodes can be halved.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from journal.model import Batch, Culture, Find, Journal, Ref, When, sort_key
from journal.reckoning.identity import doubtful, identity_confirmed
from journal.reckoning.lineage import STARTS, Descent, Lineage, lineage_of, sources_of
from journal.reckoning.timing import Run, runs

Kind = Literal["find", "culture", "batch"]
Place = Literal["above", "itself", "below"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """One find, culture or batch of a tree.

    place: above what the tree is of, that itself, or below it. stem: ID of the one parent it hangs under; None at the
    top. branch: how many branches out it stands, 0 on the main way. parents: what it was taken from, as it names them
    (vessels, units), of those in the tree; elsewhere: of those that are not. received_from, unshared_sources: as the
    entry tells. numbers: transfers, steps since the wild, spawn generation, line. begins_line: whether a line begins
    with it. made, lost: vessels or units, made None where nobody counted. causes: what the losses are put down to.
    stage: of the whole. confirmed: whether its identity is. doubt: what a doubt about its label began at, else None.
    """

    id: str
    kind: Kind
    place: Place
    when: When
    stem: str | None
    branch: int
    parents: tuple[Ref, ...] = ()
    elsewhere: tuple[Ref, ...] = ()
    received_from: str | None = None
    unshared_sources: int = 0
    method: str | None = None
    form: str | None = None
    numbers: Descent = field(default_factory=Descent)
    begins_line: bool = False
    made: int | None = None
    lost: int = 0
    causes: tuple[str, ...] = ()
    stage: str | None = None
    confirmed: bool = False
    doubt: str | None = None

    @property
    def is_sure(self) -> bool:
        """Whether its name is confirmed and nobody doubts its label."""
        return self.confirmed and self.doubt is None

    @property
    def has_no_origin(self) -> bool:
        """Whether nothing of the journal stands above it, though something must."""
        return self.kind != "find" and not self.parents and not self.elsewhere


@dataclass(frozen=True, slots=True)
class Known:
    """A journal with what is reckoned of the whole of it, so that many trees reckon it once. Keys are IDs."""

    journal: Journal
    lineage: Lineage
    course: Mapping[str, Run]
    confirmed: Mapping[str, bool]
    doubts: Mapping[str, str]


def known_of(journal: Journal) -> Known:
    """All that trees need to know of a journal."""
    lineage = lineage_of(journal)
    confirmed = identity_confirmed(journal, lineage)
    return Known(journal, lineage, runs(journal), confirmed, doubtful(journal, lineage))


def descent_of(id: str, known: Known) -> tuple[Node, ...]:
    """The tree of a find, culture or batch, in order; id: as it is defined.

    What is caught in a circle stands in it once, and no circle is followed round. Time grows with the tree.
    """
    above = set(known.lineage.ancestors_of(id))
    members = {id, *above, *known.lineage.descendants_of(id)}
    rows = {each: _row(known.journal, each) for each in members}
    places = {each: _place(each, id, above) for each in members}
    stations = _Walk(rows, known.lineage).stations()
    return tuple(_node(rows[each.id], places[each.id], each, rows, known) for each in stations)


def _row(journal: Journal, id: str) -> Find | Culture | Batch:
    row = journal.by_id[id.lower()]
    if not isinstance(row, Find | Culture | Batch):
        raise TypeError(f"{id} is no find, culture or batch")
    return row


def _place(each: str, id: str, above: set[str]) -> Place:
    if each == id:
        return "itself"
    return "above" if each in above else "below"


def _node(
    row: Find | Culture | Batch, place: Place, station: _Station, members: Iterable[str], known: Known
) -> Node:
    if isinstance(row, Find):
        return Node(
            id=row.id, kind="find", place=place, when=row.date, stem=station.stem, branch=station.branch,
            confirmed=known.confirmed[row.id],
        )  # fmt: skip
    run = known.course[row.id]
    refs = tuple(dict.fromkeys(sources_of(row)))
    culture = row if isinstance(row, Culture) else None
    return Node(
        id=row.id,
        kind="culture" if culture else "batch",
        place=place,
        when=row.date,
        stem=station.stem,
        branch=station.branch,
        parents=tuple(ref for ref in refs if ref.id in members),
        elsewhere=tuple(ref for ref in refs if ref.id not in members),
        received_from=culture.received_from if culture else None,
        unshared_sources=row.unshared_sources,
        method=culture.method if culture else None,
        form=culture.form if culture else None,
        numbers=known.lineage.descents[row.id],
        begins_line=culture is not None and culture.method in STARTS,
        made=run.begun,
        lost=run.lost,
        causes=run.causes,
        stage=run.stage,
        confirmed=known.confirmed[row.id],
        doubt=known.doubts.get(row.id),
    )


@dataclass(frozen=True, slots=True)
class _Station:
    """Where a node stands in the order of a walk."""

    id: str
    stem: str | None
    branch: int


_Order = tuple[date, float, str, str]


class _Walk:
    """One walk down a tree, each node after all its parents, what was taken first before what was taken later."""

    def __init__(self, rows: Mapping[str, Find | Culture | Batch], lineage: Lineage) -> None:
        self.when = {id: _order_of(row) for id, row in rows.items()}
        self.children = {id: [child for child in lineage.children.get(id, ()) if child in rows] for id in rows}
        self.awaited = {id: sum(above in rows for above in lineage.parents.get(id, ())) for id in rows}
        self.weight = self._weights(lineage)
        self.met: dict[str, _Station] = {}

    def stations(self) -> Sequence[_Station]:
        tops = [id for id, count in self.awaited.items() if not count]
        self._follow([_Station(id, None, 0) for id in self._main_last(tops)])
        while circled := self.when.keys() - self.met.keys():
            self._follow([_Station(min(circled, key=self.when.__getitem__), None, 0)])
        return tuple(self.met.values())

    def _follow(self, waiting: list[_Station]) -> None:
        """Meets the stations waiting and all that hangs under them, in order."""
        waiting.reverse()
        while waiting:
            station = waiting.pop()
            if station.id not in self.met:
                self.met[station.id] = station
                waiting += reversed(self._below(station))

    def _below(self, station: _Station) -> list[_Station]:
        """What hangs under a station: the children whose last parent it is, the main way last."""
        for child in self.children[station.id]:
            self.awaited[child] -= 1
        ready = self._main_last(child for child in self.children[station.id] if not self.awaited[child])
        return [_Station(id, station.id, station.branch + (id != ready[-1])) for id in ready]

    def _main_last(self, ids: Iterable[str]) -> list[str]:
        """In order of time, but for the one under which most hangs, which comes last."""
        ordered = sorted(ids, key=self.when.__getitem__)
        if ordered:
            main = max(ordered, key=lambda id: (self.weight[id], self.when[id]))
            ordered.remove(main)
            ordered.append(main)
        return ordered

    def _weights(self, lineage: Lineage) -> dict[str, int]:
        """How many nodes hang under each, itself among them, each node counted under its latest parent alone."""
        rank = {id: at for at, id in enumerate(lineage.order)}
        weight = dict.fromkeys(self.when, 1)
        for id in sorted(rank.keys() & weight.keys(), key=rank.__getitem__, reverse=True):
            above = [parent for parent in lineage.parents.get(id, ()) if parent in weight and parent in rank]
            if above:
                weight[max(above, key=self.when.__getitem__)] += weight[id]
        return weight


def _order_of(row: Find | Culture | Batch) -> _Order:
    day, moment, _ = sort_key(row)
    return day, moment, row.id.lower(), row.id
