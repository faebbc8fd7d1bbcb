"""The tree of one culture, batch or find: where it comes from, every step between, and everything grown from it.

Nodes stand in an order in which each comes after all that it was taken from. The way that most was grown along runs
straight on; whatever else was taken from a node stands before that, one branch further out. So branches stay few: where
nothing has two parents, no node is more of them out than the number of nodes can be halved.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

from journal.analysis.analysis import Analysis
from journal.analysis.lineage import STARTS, Descent, sources_of
from journal.model import Batch, Culture, Find, Journal, Ref, When, sort_key

Kind = Literal["find", "culture", "batch"]
Place = Literal["above", "itself", "below"]

WHOLE = 80
"""A tree of at most so many nodes is told whole; of a larger one, what is nearest."""

_NEAREST = 40
_NEAREST_ABOVE = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """One find, culture or batch of a tree. place: above what the tree is of, that itself, or below it. stem: ID of the
    one parent it hangs under; None at the top. branch: how many branches out it stands, 0 on the main way. parents:
    what it was taken from, as it names them (vessels, units), of those in the tree; elsewhere: of those that are not.
    received_from, unshared_sources: as the entry tells. numbers: transfers, steps since the wild, spawn generation,
    line. begins_line: whether a line begins with it. made, lost: vessels or units, made None where nobody counted.
    causes: what the losses are put down to. left_out: steps between it and its stem that are not in the tree, by the
    longest way. more: how many were taken from it that are not in the tree. stage: of the whole. stage_derived: what
    it is derived from, where no note gives it. confirmed: whether its identity is. doubt: what a doubt about its label
    began at, else None."""

    id: str
    kind: Kind
    place: Place
    when: When
    stem: str | None
    branch: int
    left_out: int = 0
    more: int = 0
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
    stage_derived: str | None = None
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


def descent_of(id: str, known: Analysis) -> tuple[Node, ...]:
    """The tree of a find, culture or batch, in order; id: as it is defined. What is caught in a circle stands in it
    once, and no circle is followed round. Of a tree of more than `WHOLE` nodes only what is nearest is told, and the
    tops it goes back to, so that neither time nor room grows with all there is."""
    lineage = known.lineage
    nearest_above, below = lineage.nearest(id, lineage.parents, WHOLE), lineage.nearest(id, lineage.children, WHOLE)
    if len(nearest_above) + len(below) >= WHOLE:
        nearest_above = nearest_above[: max(_NEAREST_ABOVE, _NEAREST - len(below))]
        below = below[: _NEAREST - len(nearest_above)]
    above = dict.fromkeys(nearest_above)
    rows = {each: _row(known.journal, each) for each in dict.fromkeys((id, *above, *below))}
    links = {each: [parent for parent in lineage.parents.get(each, ()) if parent in rows] for each in rows}
    for each in [each for each in (id, *above) if not links[each]]:
        for top in lineage.tops.get(each, ()):
            rows[top], above[top] = _row(known.journal, top), None
            links.setdefault(top, [])
            links[each].append(top)
    places: dict[str, Place] = {each: "above" if each in above else "below" for each in rows} | {id: "itself"}
    stations = _stations(rows, links, lineage.rank)
    return tuple(_node(rows[each.id], places[each.id], each, rows, known) for each in stations)


def _row(journal: Journal, id: str) -> Find | Culture | Batch:
    row = journal.by_id[id.lower()]
    if not isinstance(row, Find | Culture | Batch):
        raise TypeError(f"{id} is no find, culture or batch")
    return row


def _node(
    row: Find | Culture | Batch, place: Place, station: _Station, members: Container[str], known: Analysis
) -> Node:
    below = known.lineage.children.get(row.id, ()) if place != "above" else ()
    stem = station.stem
    node = Node(
        id=row.id,
        kind="find" if isinstance(row, Find) else "culture" if isinstance(row, Culture) else "batch",
        place=place,
        when=row.date,
        stem=stem,
        branch=station.branch,
        more=sum(child not in members for child in below),
        confirmed=known.confirmed[row.id],
    )
    if isinstance(row, Find):
        return node
    progress = known.progress[row.id]
    refs = tuple(dict.fromkeys(sources_of(row)))
    parents = tuple(ref for ref in refs if ref.id in members)
    node = replace(
        node,
        left_out=known.lineage.tops[row.id][stem] - 1 if stem is not None and not parents else 0,
        parents=parents,
        elsewhere=tuple(ref for ref in refs if ref.id not in members),
        unshared_sources=row.unshared_sources,
        numbers=known.lineage.descents[row.id],
        made=progress.inoculated,
        lost=progress.lost,
        causes=progress.causes,
        stage=progress.stage,
        stage_derived=progress.stage_derived,
        doubt=known.doubtful.get(row.id),
    )
    if isinstance(row, Batch):
        return node
    begins_line = row.method in STARTS
    return replace(node, received_from=row.received_from, method=row.method, form=row.form, begins_line=begins_line)


class _Station(NamedTuple):
    """Where a node stands in the order of a walk."""

    id: str
    stem: str | None
    branch: int


def _stations(
    rows: Mapping[str, Find | Culture | Batch], parents: Mapping[str, Sequence[str]], rank: Mapping[str, int]
) -> Iterable[_Station]:
    """Each node after all its parents, what was taken first before what was taken later. Under a node hang the children
    whose last parent it is, the one under which most hangs last: the main way. For that each node is counted under its
    latest parent alone. What only circles hold comes at the end."""
    when = {id: (*sort_key(row)[:2], id.lower(), id) for id, row in rows.items()}
    children: dict[str, list[str]] = {id: [] for id in rows}
    for id, above in parents.items():
        for parent in above:
            children[parent].append(id)
    weight = dict.fromkeys(rows, 1)
    for id in sorted((id for id in rows if id in rank), key=rank.__getitem__, reverse=True):
        above = [parent for parent in parents[id] if parent in rank]
        if above:
            weight[max(above, key=when.__getitem__)] += weight[id]

    def main_last(ids: list[str]) -> list[str]:
        main = max(ids, key=lambda id: (weight[id], when[id]), default=None)
        return sorted(ids, key=lambda id: (id == main, when[id]))

    awaited = {id: len(above) for id, above in parents.items()}
    met: dict[str, _Station] = {}
    waiting = [_Station(id, None, 0) for id in reversed(main_last([id for id, above in parents.items() if not above]))]
    while waiting or len(met) < len(rows):
        at = waiting.pop() if waiting else _Station(min(rows.keys() - met.keys(), key=when.__getitem__), None, 0)
        if at.id in met:
            continue
        met[at.id] = at
        for child in children[at.id]:
            awaited[child] -= 1
        ready = main_last([child for child in children[at.id] if not awaited[child]])
        waiting += [_Station(id, at.id, at.branch + (id != ready[-1])) for id in reversed(ready)]
    return met.values()
