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

from journal.analysis.kept import kept
from journal.model import Batch, Culture, Find, Journal, Ref

STARTS = frozenset({"tissue", "spores", "received"})
_MOST_TOPS = 4


@dataclass(frozen=True, slots=True)
class Descent:
    """The numbers of a culture's or batch's origin; a batch has the numbers of what it was inoculated with. line: ID of
    the start it goes back to by transfers only, through the first named parent that has one. transfers: since that
    start, by the longest path (a start counts 0, or what its giver stated; None if something received states nothing,
    and for everything after it). transfers_at_least: those that are known nevertheless. steps_since_wild: cultures
    since the first one from a find, that one being 0, by the longest way. spawn_generation: 1 for grain from anything
    but grain (G1), one more for grain or sawdust taken from grain. None if there is no such number."""

    line: str | None = None
    transfers: int | None = None
    steps_since_wild: int | None = None
    spawn_generation: int | None = None
    transfers_at_least: int | None = None


@dataclass(frozen=True, slots=True)
class Lineage:
    """Every culture's and batch's descent, and who was taken from whom. Keys and values are IDs as defined. parents,
    children: one step, each ID once, parents in the order named. finds are parents only. order: finds, cultures and
    batches so that every parent comes before its children; anything in a circle is not in the order and has an empty
    descent. rank: the position of each in that order. lines: of each culture and batch in it, as `lines_of`. origins:
    of each, as `wild_origins_of`. tops: of each, the first few ancestors without parents, with the longest path there
    in steps."""

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
        return _by_id(self.reached([id], self.parents) - {id})

    def descendants_of(self, id: str) -> tuple[str, ...]:
        """Every culture and batch below it, sorted by ID; itself not among them."""
        return _by_id(self.reached([id], self.children) - {id})

    def reached(
        self, starts: Iterable[str], steps: Mapping[str, tuple[str, ...]], but: Container[str] = ()
    ) -> set[str]:
        """Everything that is one step or more from any of some IDs, not through anything in `but`, each visited
        once."""
        found: set[str] = set()
        waiting = list(starts)
        while waiting:
            after = [each for each in steps.get(waiting.pop(), ()) if each not in found and each not in but]
            found.update(after)
            waiting += after
        return found

    def nearest(self, id: str, steps: Mapping[str, tuple[str, ...]], most: int) -> tuple[str, ...]:
        """At most this many of what is reached, the nearest first, in time that does not grow with the size of the
        journal."""
        found: dict[str, None] = {}
        waiting = deque([id])
        while waiting:
            for after in steps.get(waiting.popleft(), ()):
                if len(found) >= most:
                    return tuple(found)
                if after != id and after not in found:
                    found[after] = None
                    waiting.append(after)
        return tuple(found)

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


StepCount = Literal["transfers_at_least", "steps_since_wild", "spawn_generation"]
"""A number of a culture that counts steps."""


def way_of(
    id: str, number: StepCount, lineage: Lineage, batches: Container[str], most: int | None = None
) -> tuple[str, ...]:
    """The steps that one of a culture's numbers counts, from the first to the culture itself, by ID. Transfers begin at
    a start, steps since the wild with a find, generations with the first grain. batches: all IDs of batches, which are
    not a step themselves. most: of a longer path only this many are given, the last ones."""
    way = [id]
    while True:
        each = way[-1]
        own: int | None = getattr(lineage.descents[each], number)
        if own is None or (number == "transfers_at_least" and lineage.descents[each].line == each):
            break
        wanted = own if each in batches else own - 1
        grain = number == "spawn_generation"
        above = (one for one in lineage.parents[each] if one in lineage.descents and not (grain and one in batches))
        counted_from = next((one for one in above if getattr(lineage.descents[one], number) == wanted), None)
        if counted_from is None:
            break
        if len(way) == most:
            return tuple(reversed(way))
        way.append(counted_from)
    wild = [above for above in lineage.parents[way[-1]] if above in lineage.finds]
    return tuple(reversed([*way, *wild[:1]] if number == "steps_since_wild" else way))


def lineage_of(journal: Journal) -> Lineage:
    """The whole journal's lineage, in time linear in its links. A parent that the journal lacks is ignored."""
    return kept(journal, "lineage", _lineage, journal.finds, journal.cultures, journal.batches)


def _lineage(every_find: Iterable[Find], cultures: Iterable[Culture], batches: Iterable[Batch]) -> Lineage:
    rows: tuple[Culture | Batch, ...] = (*cultures, *batches)
    living = {row.id: row for row in rows}
    finds = frozenset(find.id for find in every_find)
    parents = {
        id: tuple(dict.fromkeys(ref.id for ref in sources_of(row) if ref.id in living or ref.id in finds))
        for id, row in living.items()
    }
    children: dict[str, list[str]] = {}
    sorter: TopologicalSorter[str] = TopologicalSorter(dict.fromkeys([*sorted(finds), *living], ()))
    for child, above in parents.items():
        sorter.add(child, *above)
        for parent in above:
            children.setdefault(parent, []).append(child)
    order = tuple(_without_circles(sorter))
    descents = {id: Descent() for id in living}
    for id in order:
        if id in living:
            descents[id] = _descent(living[id], parents[id], living, descents)
    rank = {id: at for at, id in enumerate(order)}
    tops: dict[str, dict[str, int]] = {}
    for id in order:
        steps: dict[str, int] = {}
        for parent in parents.get(id, ()):
            for top, way in (tops[parent] or {parent: 0}).items():
                steps[top] = max(steps.get(top, 0), way + 1)
        # the first few of an ID's tops are among the first few of every parent below them, so no path is lost
        tops[id] = {top: steps[top] for top in sorted(steps, key=rank.__getitem__)[:_MOST_TOPS]}
    return Lineage(
        descents=descents,
        parents=parents,
        children={parent: tuple(below) for parent, below in children.items()},
        order=order,
        finds=finds,
        rank=rank,
        lines=_gathered((id for id in order if id in living), parents, lambda id: descents[id].line == id),
        origins=_gathered(order, parents, finds.__contains__),
        tops=tops,
    )


def _without_circles(sorter: TopologicalSorter[str]) -> Iterator[str]:
    with suppress(CycleError):  # everything that is in no circle is still returned
        sorter.prepare()
    while ready := sorter.get_ready():
        yield from ready
        sorter.done(*ready)


def living_of(journal: Journal) -> dict[str, Culture | Batch]:
    """Every culture and batch, by ID."""
    rows: tuple[Culture | Batch, ...] = (*journal.cultures, *journal.batches)
    return {row.id: row for row in rows}


def sources_of(row: Culture | Batch) -> tuple[Ref, ...]:
    """What a culture was taken from, or a batch made with."""
    return row.sources if isinstance(row, Culture) else row.cultures


def _by_id(ids: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(ids, key=lambda id: (id.lower(), id)))


def _gathered(
    order: Iterable[str], parents: Mapping[str, tuple[str, ...]], is_end: Callable[[str], bool]
) -> dict[str, tuple[str, ...]]:
    """For each ID its nearest ends on every path up, sorted by ID; an end is its own. order: parents first."""
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


def _descent(
    row: Culture | Batch, parents: tuple[str, ...], living: Mapping[str, Culture | Batch], known: Mapping[str, Descent]
) -> Descent:
    """The descent of one whose parents' descents are known."""
    above = [(living[id], known[id]) for id in parents if id in living]
    line = next((descent.line for _, descent in above if descent.line is not None), None)
    at_least = _most(descent.transfers_at_least for _, descent in above)
    is_unknown = any(descent.transfers is None and descent.transfers_at_least is not None for _, descent in above)
    steps = _most(descent.steps_since_wild for _, descent in above)
    if isinstance(row, Batch):
        generation = _most(descent.spawn_generation for _, descent in above)
        return Descent(line, None if is_unknown else at_least, steps, generation, at_least)
    is_start = row.method in STARTS
    if not is_start and not parents:
        return Descent()
    grain = [descent for parent, descent in above if isinstance(parent, Culture) and parent.form == "grain"]
    at_least = (row.transfers_before or 0) if is_start else _one_more(at_least)
    is_unknown = row.method == "received" and row.transfers_before is None if is_start else is_unknown
    generation = None
    if row.form in ("grain", "sawdust") and grain:
        generation = _one_more(_most(descent.spawn_generation for descent in grain))
    elif row.form == "grain":
        generation = 1
    return Descent(
        line=row.id if is_start else line,
        transfers=None if is_unknown else at_least,
        transfers_at_least=at_least,
        steps_since_wild=_most([0 if len(above) < len(parents) else None, _one_more(steps)]),  # 0 from a find
        spawn_generation=generation,
    )


def _most(values: Iterable[int | None]) -> int | None:
    return max((value for value in values if value is not None), default=None)


def _one_more(number: int | None) -> int | None:
    return None if number is None else number + 1
