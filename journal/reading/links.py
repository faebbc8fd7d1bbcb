"""What each entry's IDs lead to: checked, spelt as defined, with no circles."""

from __future__ import annotations

import posixpath
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from journal.model import Ref
from journal.problems import Unreadable
from journal.reading.entries import Draft, ProblemList
from journal.reading.folder import nfc, path_key
from journal.reading.id_index import ALL_KINDS, ORIGINS, Bearer, Names
from journal.reading.values import parse_ref

# Links that lead back to where they began.

Graph = Mapping[str, Sequence[str]]


def circles(links: Graph) -> list[frozenset[str]]:
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

    def __init__(self, links: Graph) -> None:
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


# What each entry's IDs lead to: checked, spelt as defined, with no circles.


@dataclass(frozen=True, slots=True)
class Links:
    """Where one entry leads. about: a note's or tent entry's. sources: a culture's `from`, a batch's `culture`.

    unknown_sources: how many sources could not be followed. powered_by: devices by ID, sockets as written.
    """

    about: tuple[Ref, ...] = ()
    sources: tuple[Ref, ...] = ()
    unknown_sources: int = 0
    tent: str | None = None
    moved_to: str | None = None
    powered_by: tuple[str, ...] = ()
    controlled_by: tuple[str, ...] = ()


def links_of(
    drafts: Sequence[Draft],
    everything: Iterable[Draft],
    bearers: Mapping[str, Bearer],
    names: Names,
    faults: ProblemList,
) -> dict[str, Links]:
    """Each entry's links, by its path.

    everything: the drafts, and those left out. bearers: what each of the drafts bears, by path.
    """
    alone = _alone_in_folder(everything)
    links = {draft.path: Links() for draft in drafts}
    links |= faults.each(drafts, lambda draft: (draft.path, _links_of(draft, alone, bearers, names, faults)))
    _open_circles(drafts, bearers, links, _sources, faults)
    _open_circles(drafts, bearers, links, _power, faults)
    return links


def _links_of(
    draft: Draft, alone: Mapping[str, Draft], bearers: Mapping[str, Bearer], names: Names, faults: ProblemList
) -> Links:
    if draft.kind == "culture":
        return _with_sources(draft, "from", names.refs(draft, "from", _given(draft, "from"), ORIGINS, faults))
    if draft.kind == "batch":
        linked = _with_sources(
            draft, "culture", names.refs(draft, "culture", _given(draft, "culture"), ("culture",), faults)
        )
        return replace(linked, tent=names.id(draft, "tent", draft.values.get("tent"), ("tent",), faults))
    if draft.kind == "note":
        moved_to = names.id(draft, "moved to", draft.values.get("moved to"), ("tent",), faults)
        return Links(about=_about(draft, alone, bearers, names, faults), moved_to=moved_to)
    if draft.kind == "tent":
        refs = [Ref(id) for id in draft.values.get("about", ())]
        return Links(about=names.refs(draft, "about", refs, ("tent",), faults))
    return _links_of_device(draft, names, faults) if draft.kind == "device" else Links()


def _given(draft: Draft, key: str) -> tuple[Ref, ...]:
    refs: tuple[Ref, ...] = draft.values.get(key, ())
    return refs


def _with_sources(draft: Draft, key: str, found: tuple[Ref, ...]) -> Links:
    """An ID counts as followed when it was found; a key that could not be read at all names one that was not."""
    named = {(ref.id.lower(), ref.part) for ref in _given(draft, key)}
    unreadable = key in draft.lines and key not in draft.values
    return Links(sources=found, unknown_sources=len(named) - len(found) + unreadable)


def _about(
    draft: Draft, alone: Mapping[str, Draft], bearers: Mapping[str, Bearer], names: Names, faults: ProblemList
) -> tuple[Ref, ...]:
    """What a note is about; nothing in particular where neither it nor its folder says so."""
    if "about" in draft.values:
        return names.refs(draft, "about", _given(draft, "about"), ALL_KINDS, faults)
    other = alone.get(nfc(posixpath.dirname(draft.path)))
    if "about" in draft.lines or other is None or other.kind == "tent":
        return ()
    if other.path in bearers:
        return (Ref(bearers[other.path].id),)
    faults.error(
        draft,
        "about",
        f"this note has no `about`, and {other.path}, the other entry in its folder, is left out",
        f"fix {other.path}, or add a line like `about: B-031`",
    )
    return ()


def _alone_in_folder(drafts: Iterable[Draft]) -> dict[str, Draft]:
    """The one entry of each folder that is no note, where there is exactly one."""
    others: dict[str, list[Draft]] = defaultdict(list)
    for draft in drafts:
        if draft.kind != "note":
            others[nfc(posixpath.dirname(draft.path))].append(draft)
    return {folder: inside[0] for folder, inside in others.items() if len(inside) == 1}


def _links_of_device(draft: Draft, names: Names, faults: ProblemList) -> Links:
    switches = [Ref(name) for name in _split(draft.values.get("controlled by"))]
    controlled_by = names.refs(draft, "controlled by", switches, ("device",), faults)
    return Links(
        tent=names.id(draft, "tent", draft.values.get("tent"), ("tent",), faults),
        powered_by=tuple(_power_source(draft, name, names, faults) for name in _split(draft.values.get("powered by"))),
        controlled_by=tuple(ref.id for ref in controlled_by),
    )


def _split(written: str | None) -> list[str]:
    return [name.strip() for name in (written or "").split(",") if name.strip()]


def _power_source(draft: Draft, name: str, names: Names, faults: ProblemList) -> str:
    """A device's ID as defined; anything else is the name of a socket, which is free text.

    A name that may be a misspelt ID, or is that of something else, is reported, since the device would not be missed.
    """
    bearer = names.get(name)
    if bearer is not None and bearer.kind == "device":
        return bearer.id
    if bearer is not None:
        message = f"`powered by` names {bearer.id}, which is a {bearer.kind}; it counts as the name of a socket"
        faults.warning(draft, "powered by", message, "name a device, or give the socket another name")
    elif _may_be_id(name) and (advice := names.advice_on_near(name, ("device",))):
        message = f"`powered by` names {name}, which is not a device in this journal; it counts as the name of a socket"
        faults.warning(draft, "powered by", message, advice)
    return name


def _may_be_id(name: str) -> bool:
    try:
        parse_ref(name)
    except Unreadable:
        return False
    return True


# Circles


@dataclass(frozen=True, slots=True)
class _LinkKind:
    """A sort of link that may go round in a circle. keys: those that make it, by kind of entry."""

    keys: Mapping[str, tuple[str, ...]]
    leads_to: Callable[[Links], Iterable[str]]
    without: Callable[[Links, frozenset[str]], Links]
    message: str
    fix: str


def _without_sources(links: Links, ids: frozenset[str]) -> Links:
    kept = tuple(ref for ref in links.sources if ref.id not in ids)
    lost = len(links.sources) - len(kept)
    return replace(links, sources=kept, unknown_sources=links.unknown_sources + lost)


def _without_power(links: Links, ids: frozenset[str]) -> Links:
    return replace(
        links,
        powered_by=tuple(name for name in links.powered_by if name not in ids),
        controlled_by=tuple(name for name in links.controlled_by if name not in ids),
    )


_sources = _LinkKind(
    {"culture": ("from",), "batch": ("culture",)},
    lambda links: [ref.id for ref in links.sources],
    _without_sources,
    "{ids} come from one another in a circle",
    "correct `{key}` in the one that came first",
)
_power = _LinkKind(
    {"device": ("powered by", "controlled by")},
    lambda links: [*links.powered_by, *links.controlled_by],
    _without_power,
    "{ids} power or control one another in a circle",
    "correct `{key}` in the one nearest the wall socket",
)


def _open_circles(
    drafts: Sequence[Draft], bearers: Mapping[str, Bearer], links: dict[str, Links], way: _LinkKind, faults: ProblemList
) -> None:
    """Tells each entry in a circle, and takes out the links that close it: those of the entry whose path sorts last."""
    by_id = {bearers[draft.path].id: draft for draft in drafts if draft.kind in way.keys and draft.path in bearers}
    steps = {id: list(way.leads_to(links[draft.path])) for id, draft in by_id.items()}
    groups = circles(steps)
    for group in groups:
        for id in group:
            _report(by_id[id], group, links[by_id[id].path], way, faults)
    while groups:
        for group in groups:
            last = max(group, key=lambda id: path_key(by_id[id].path))
            path = by_id[last].path
            links[path] = way.without(links[path], group)
            steps[last] = list(way.leads_to(links[path]))
        caught = frozenset[str]().union(*groups)
        groups = circles({id: [to for to in steps[id] if to in caught] for id in sorted(caught)})


def _report(draft: Draft, group: frozenset[str], links: Links, way: _LinkKind, faults: ProblemList) -> None:
    key = next((key for key in way.keys[draft.kind or ""] if key in draft.lines), "")
    ids = sorted(group)
    shown = ", ".join(ids[:6]) + (f" and {len(ids) - 6} more" if len(ids) > 6 else "")
    message = way.message.format(ids=shown) if len(ids) > 1 else f"{shown} refers to itself"
    faults.error(draft, key, message, way.fix.format(key=key))
