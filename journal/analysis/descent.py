"""The tree of one culture, batch or find: where it comes from, every step between, and everything grown from it.

Each node comes after everything it was taken from. The path along which most was grown runs straight on; whatever else
was taken from a node comes before that, one branch further in. So there are few branches: if nothing has two parents,
no node is more than log2(number of nodes) branches in.
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
"""A tree of at most this many nodes is given completely; of a larger one, the nearest nodes."""

_NEAREST = 40
_NEAREST_ABOVE = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """One find, culture or batch of a tree. place: above the subject of the tree, the subject itself, or below it.
    stem: ID of the one parent it is drawn under; None at the top. branch: how many branches in it is, 0 on the main
    path. parents: what it was taken from, as it names them (vessels, units), if in the tree; elsewhere: those that are
    not. received_from, unshared_sources: from the entry. numbers: transfers, steps since the wild, spawn generation,
    line. begins_line: whether a line begins with it. made, lost: vessels or units, made None if nobody counted. causes:
    of the losses, with how many. left_out: steps between it and its stem that are not in the tree, by the longest path.
    more: how many were taken from it that are not in the tree. stage: of the whole. stage_derived: what the stage is
    derived from, if no note gives it. confirmed: whether its identity is. doubt: where a doubt about its label began,
    else None."""

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
    causes: tuple[tuple[str, int], ...] = ()
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
        """Whether the journal has none of its ancestors, although it must have some."""
        return self.kind != "find" and not self.parents and not self.elsewhere


def descent_of(id: str, known: Analysis) -> tuple[Node, ...]:
    """The tree of a find, culture or batch, in order; id: as it is defined. A node in a circle is in it once. Of a tree
    of more than `WHOLE` nodes only the nearest are given, and the tops it goes back to, so that time and size are
    limited."""
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
        raise TypeError(f"{id} is not a find, culture or batch")
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
    """The position of a node in the order of a walk."""

    id: str
    stem: str | None
    branch: int


def _stations(
    rows: Mapping[str, Find | Culture | Batch], parents: Mapping[str, Sequence[str]], rank: Mapping[str, int]
) -> Iterable[_Station]:
    """Each node after all its parents, and what was taken first before what was taken later. Children are placed under
    their last parent, with the one that has most below it last: the main path. For this, each node counts under its
    latest parent only. Nodes that are only in circles come at the end."""
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
