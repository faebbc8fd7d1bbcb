"""Where everything alive comes from: lines, transfers, steps since the wild, spawn generations.

A *start* is a culture made by tissue, from spores, or received. A *line* is a start and everything reached from it
by transfer. Both rules, and the numbers below, are conventions of this journal's format (*common practice*).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from graphlib import CycleError, TopologicalSorter
from typing import Literal

from journal.model import Batch, Culture, Journal, Ref

STARTS = frozenset({"tissue", "spores", "received"})


@dataclass(frozen=True, slots=True)
class Descent:
    """What a culture's or batch's origin comes to; a batch has the numbers of what it was inoculated with.

    line: ID of the start it goes back to by transfers alone; by way of the first named parent that has one.
    transfers: since that start, by the longest way (a start counts 0, or what its giver told).
    steps_since_wild: cultures since the first one from a find, that one being 0, by the longest way.
    spawn_generation: 1 for grain from anything but grain (G1), one more for grain or sawdust taken from grain.
    None where there is no such number.
    """

    line: str | None = None
    transfers: int | None = None
    steps_since_wild: int | None = None
    spawn_generation: int | None = None


@dataclass(frozen=True, slots=True)
class Lineage:
    """Every culture's and batch's descent, and who was taken from whom. Keys and values are IDs as defined.

    parents, children: one step, each ID once, parents in the order named. finds are parents only.
    order: finds, cultures and batches so that every parent stands before its children; what is caught in a circle
    is in none of these orders and has an empty descent. rank: at which place of that order each stands. lines: of each
    culture and batch that stands in it, as `lines_of`. origins: of each, as `wild_origins_of`. tops: of each, the
    first few above it that nothing stands above, with the longest way there in steps.
    """

    descents: Mapping[str, Descent] = field(repr=False)
    parents: Mapping[str, tuple[str, ...]] = field(repr=False)
    children: Mapping[str, tuple[str, ...]] = field(repr=False)
    order: tuple[str, ...] = field(repr=False)
    finds: frozenset[str] = field(repr=False)
    rank: Mapping[str, int] = field(repr=False)
    lines: Mapping[str, tuple[str, ...]] = field(repr=False)
    origins: Mapping[str, tuple[str, ...]] = field(repr=False)
    tops: Mapping[str, Mapping[str, int]] = field(repr=False)

    def ancestors_of(self, id: str) -> tuple[str, ...]:
        """Every find, culture and batch above it, sorted by ID; itself not among them."""
        return _reached(id, self.parents)

    def descendants_of(self, id: str) -> tuple[str, ...]:
        """Every culture and batch below it, sorted by ID; itself not among them."""
        return _reached(id, self.children)

    def reached(
        self, starts: Iterable[str], steps: Mapping[str, tuple[str, ...]], but: Container[str] = ()
    ) -> set[str]:
        """Everything that is one step or more from any of some IDs, by way of nothing in `but`, each looked at once."""
        found: set[str] = set()
        waiting = list(starts)
        while waiting:
            after = [each for each in steps.get(waiting.pop(), ()) if each not in found and each not in but]
            found.update(after)
            waiting += after
        return found

    def nearest_above(self, id: str, most: int) -> tuple[str, ...]:
        """At most so many of what stands above it, the nearest first, in time that does not grow with all there is."""
        return _nearest(id, self.parents, most)

    def nearest_below(self, id: str, most: int) -> tuple[str, ...]:
        """The same of what stands below it."""
        return _nearest(id, self.children, most)

    def lines_of(self, id: str) -> tuple[str, ...]:
        """Every line a culture or batch is of, by the IDs of their starts, sorted: several where parents differ."""
        if id in self.lines:
            return self.lines[id]
        found = set()
        seen = {id}
        waiting = [id]
        while waiting:
            each = waiting.pop()
            if self.descents[each].line == each:
                found.add(each)
                continue
            above = [parent for parent in self.parents[each] if parent in self.descents and parent not in seen]
            seen.update(above)
            waiting += above
        return _by_id(found)

    def wild_origins_of(self, id: str) -> tuple[str, ...]:
        """The finds above it, sorted by ID; a find is its own origin."""
        if id in self.origins:
            return self.origins[id]
        return tuple(above for above in self.ancestors_of(id) if above in self.finds)


Counted = Literal["transfers", "steps_since_wild", "spawn_generation"]
"""A number of a culture that counts steps."""


def way_of(
    id: str, number: Counted, lineage: Lineage, batches: Container[str], most: int | None = None
) -> tuple[str, ...]:
    """The steps by which a culture came by one of its numbers, from where that begins to the culture itself, by ID.

    Transfers begin at a start, steps since the wild with a find, generations with the first grain. batches: all IDs of
    batches, which are no step of their own. most: of a longer way so many are told, the last ones.
    """
    way = [id]
    while above := _counted_from(way[-1], number, lineage, batches):
        if len(way) == most:
            return tuple(reversed(way))
        way.append(above)
    wild = [above for above in lineage.parents[way[-1]] if above in lineage.finds]
    return tuple(reversed([*way, *wild[:1]] if number == "steps_since_wild" else way))


def _counted_from(id: str, number: Counted, lineage: Lineage, batches: Container[str]) -> str | None:
    """The first named parent that a number was counted on from; None where it begins here."""
    own: int | None = getattr(lineage.descents[id], number)
    if own is None or (number == "transfers" and lineage.descents[id].line == id):
        return None
    wanted = own if id in batches else own - 1
    grain = number == "spawn_generation"
    above = (each for each in lineage.parents[id] if each in lineage.descents and not (grain and each in batches))
    return next((each for each in above if getattr(lineage.descents[each], number) == wanted), None)


def lineage_of(journal: Journal) -> Lineage:
    """The whole journal's lineage, in time that grows with its links. A parent that the journal lacks is passed by."""
    bearers = living_of(journal)
    finds = frozenset(find.id for find in journal.finds)
    parents = {id: _named(sources_of(row), finds | bearers.keys()) for id, row in bearers.items()}
    children = _turned(parents)
    order = tuple(_parents_first([*sorted(finds), *bearers], parents))
    descents = {id: Descent() for id in bearers}
    for id in order:
        if id in bearers:
            descents[id] = _descent(bearers[id], parents[id], bearers, descents)
    rank = {id: at for at, id in enumerate(order)}
    return Lineage(
        descents=descents,
        parents=parents,
        children=children,
        order=order,
        finds=finds,
        rank=rank,
        lines=_gathered((id for id in order if id in bearers), parents, lambda id: descents[id].line == id),
        origins=_gathered(order, parents, finds.__contains__),
        tops=_tops(order, parents, rank),
    )


def living_of(journal: Journal) -> dict[str, Culture | Batch]:
    """Every culture and batch, by ID."""
    rows: tuple[Culture | Batch, ...] = (*journal.cultures, *journal.batches)
    return {row.id: row for row in rows}


def sources_of(row: Culture | Batch) -> tuple[Ref, ...]:
    """What a culture was taken from, or a batch made with."""
    return row.sources if isinstance(row, Culture) else row.cultures


def _named(refs: Iterable[Ref], known: frozenset[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(ref.id for ref in refs if ref.id in known))


def _turned(parents: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    below: dict[str, list[str]] = {}
    for child, above in parents.items():
        for parent in above:
            below.setdefault(parent, []).append(child)
    return {parent: tuple(children) for parent, children in below.items()}


def _parents_first(ids: Iterable[str], parents: Mapping[str, tuple[str, ...]]) -> Iterator[str]:
    """Those IDs that no circle holds, parents before children."""
    sorter: TopologicalSorter[str] = TopologicalSorter(dict.fromkeys(ids, ()))
    for id, above in parents.items():
        sorter.add(id, *above)
    with suppress(CycleError):  # what no circle holds is handed out all the same
        sorter.prepare()
    while ready := sorter.get_ready():
        yield from ready
        sorter.done(*ready)


def _reached(start: str, steps: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    seen = {start}
    waiting = [start]
    while waiting:
        for after in steps.get(waiting.pop(), ()):
            if after not in seen:
                seen.add(after)
                waiting.append(after)
    seen.discard(start)
    return _by_id(seen)


def _by_id(ids: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(ids, key=lambda id: (id.lower(), id)))


def _nearest(start: str, steps: Mapping[str, tuple[str, ...]], most: int) -> tuple[str, ...]:
    """At most so many of what is reached, by the number of steps."""
    found: dict[str, None] = {}
    waiting = deque([start])
    while waiting:
        for after in steps.get(waiting.popleft(), ()):
            if len(found) >= most:
                return tuple(found)
            if after != start and after not in found:
                found[after] = None
                waiting.append(after)
    return tuple(found)


def _gathered(
    order: Iterable[str], parents: Mapping[str, tuple[str, ...]], is_end: Callable[[str], bool]
) -> dict[str, tuple[str, ...]]:
    """For each ID its nearest ends on every way up, sorted by ID; an end is its own. order: parents first."""
    found: dict[str, tuple[str, ...]] = {}
    for id in order:
        above = [found[parent] for parent in dict.fromkeys(parents.get(id, ())) if parent in found]
        if is_end(id):
            found[id] = (id,)
        elif all(ends == above[0] for ends in above):
            found[id] = above[0] if above else ()
        else:
            found[id] = _by_id({end for ends in above for end in ends})
    return found


_MOST_TOPS = 4


def _tops(
    order: Iterable[str], parents: Mapping[str, tuple[str, ...]], rank: Mapping[str, int]
) -> dict[str, dict[str, int]]:
    """For each ID the first tops above it, by rank, with the steps of the longest way there.

    The first few of an ID's tops are among the first few of every parent that they are above, so no way is lost.
    """
    tops: dict[str, dict[str, int]] = {}
    for id in order:
        steps: dict[str, int] = {}
        for parent in parents.get(id, ()):
            for top, way in (tops[parent] or {parent: 0}).items():
                steps[top] = max(steps.get(top, 0), way + 1)
        tops[id] = {top: steps[top] for top in sorted(steps, key=rank.__getitem__)[:_MOST_TOPS]}
    return tops


def _descent(
    row: Culture | Batch,
    parents: tuple[str, ...],
    bearers: Mapping[str, Culture | Batch],
    known: Mapping[str, Descent],
) -> Descent:
    """The descent of one whose parents' descents are known."""
    above = [(bearers[id], known[id]) for id in parents if id in bearers]
    if isinstance(row, Batch):
        return _descent_of_batch([descent for _, descent in above])
    is_start = row.method in STARTS
    if not is_start and not parents:
        return Descent()
    return Descent(
        line=row.id if is_start else _first(descent.line for _, descent in above),
        transfers=(row.transfers_before or 0) if is_start else _one_more(d.transfers for _, d in above),
        steps_since_wild=_steps(parents, above),
        spawn_generation=_generation(row, above),
    )


def _descent_of_batch(cultures: list[Descent]) -> Descent:
    return Descent(
        line=_first(culture.line for culture in cultures),
        transfers=_most(culture.transfers for culture in cultures),
        steps_since_wild=_most(culture.steps_since_wild for culture in cultures),
        spawn_generation=_most(culture.spawn_generation for culture in cultures),
    )


def _steps(parents: tuple[str, ...], above: list[tuple[Culture | Batch, Descent]]) -> int | None:
    """Steps since the wild: 0 where a find is a parent and no longer way leads there."""
    from_find = 0 if len(above) < len(parents) else None
    return _most([from_find, _one_more(descent.steps_since_wild for _, descent in above)])


def _generation(row: Culture, above: list[tuple[Culture | Batch, Descent]]) -> int | None:
    if row.form not in ("grain", "sawdust"):
        return None
    grain = [descent for parent, descent in above if isinstance(parent, Culture) and parent.form == "grain"]
    if grain:
        return _one_more(descent.spawn_generation for descent in grain)
    return 1 if row.form == "grain" else None


def _first(values: Iterable[str | None]) -> str | None:
    return next((value for value in values if value is not None), None)


def _most(values: Iterable[int | None]) -> int | None:
    return max((value for value in values if value is not None), default=None)


def _one_more(values: Iterable[int | None]) -> int | None:
    most = _most(values)
    return None if most is None else most + 1
