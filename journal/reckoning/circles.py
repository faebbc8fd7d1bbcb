"""Links that lead back to where they began."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

Links = Mapping[str, Sequence[str]]


def circles(links: Links) -> list[frozenset[str]]:
    """The groups of nodes that reach one another: each holds at least one circle, and every circle lies in one.

    links: for each node, the nodes it leads to; a node led to need not be a key. A node that leads to itself is a
    group of one. Groups come in the order of their first node in `links`.
    *Source:* R. Tarjan, Depth-first search and linear graph algorithms, SIAM J. Comput. 1(2), 1972 (from memory);
    kept on a stack of our own, since chains are longer than Python's recursion allows.
    """
    walk = _Walk(links)
    for node in links:
        if node not in walk.number:
            walk.visit(node)
    rank = {node: at for at, node in enumerate(links)}
    return sorted(walk.groups, key=lambda group: min(rank[node] for node in group))


class _Walk:
    """One depth-first walk. number: order of meeting; lowest: earliest open node that can be reached back."""

    def __init__(self, links: Links) -> None:
        self.links = links
        self.number: dict[str, int] = {}
        self.lowest: dict[str, int] = {}
        self.open: list[str] = []
        self.is_open: set[str] = set()
        self.groups: list[frozenset[str]] = []

    def visit(self, start: str) -> None:
        trail = [(start, iter(self._enter(start)))]
        while trail:
            node, rest = trail[-1]
            for after in rest:
                if after not in self.number:
                    trail.append((after, iter(self._enter(after))))
                    break
                if after in self.is_open:
                    self.lowest[node] = min(self.lowest[node], self.number[after])
            else:
                trail.pop()
                if trail:
                    above = trail[-1][0]
                    self.lowest[above] = min(self.lowest[above], self.lowest[node])
                self._leave(node)

    def _enter(self, node: str) -> Sequence[str]:
        self.number[node] = self.lowest[node] = len(self.number)
        self.open.append(node)
        self.is_open.add(node)
        return [after for after in self.links.get(node, ()) if after in self.links]

    def _leave(self, node: str) -> None:
        if self.lowest[node] != self.number[node]:
            return
        at = len(self.open) - 1
        while self.open[at] != node:
            at -= 1
        group = frozenset(self.open[at:])
        del self.open[at:]
        self.is_open -= group
        if len(group) > 1 or node in self.links[node]:
            self.groups.append(group)
