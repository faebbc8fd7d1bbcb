"""What each entry's IDs refer to: checked, spelled as defined, without circles."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from urllib.parse import unquote

from journal.model import Ref
from journal.problems import Unreadable, shortened
from journal.reading.entries import LIKE_A_POSITION, Draft, Kept, ProblemList
from journal.reading.folder import folder_of, kind_of_file, path_key
from journal.reading.id_index import ALL_KINDS, ORIGINS, IdOwner, Names
from journal.reading.links_in_text import links_in_vain
from journal.reading.photo_claims import path_from
from journal.reading.values import parse_ref

Graph = Mapping[str, Sequence[str]]


def circles(links: Graph) -> list[frozenset[str]]:
    """The groups of nodes that reach one another: each contains at least one circle, and every circle is within one
    group.

    links: for each node, the nodes it leads to; a node led to need not be a key. A node that leads to itself is a group
    of one. Groups come in the order of their first node in `links`. *Source:* M. Sharir, A strong-connectivity
    algorithm, Comput. Math. Appl. 7(1), 1981 (from memory): walking back from the nodes that were left last, each walk
    finds one group. Not recursive, because chains can be longer than the recursion limit.
    """
    back: dict[str, list[str]] = {node: [] for node in links}
    for node in links:
        for after in links[node]:
            if after in links:
                back[after].append(node)
    groups: list[frozenset[str]] = []
    met: set[str] = set()
    for start in reversed(_as_left(links)):
        group: set[str] = set()
        waiting = [start]
        while waiting:
            node = waiting.pop()
            if node not in met:
                met.add(node)
                group.add(node)
                waiting += back[node]
        if len(group) > 1 or (group and start in links[start]):
            groups.append(frozenset(group))
    rank = {node: at for at, node in enumerate(links)}
    return sorted(groups, key=lambda group: min(rank[node] for node in group))


def _as_left(links: Graph) -> list[str]:
    """The nodes in the order in which a depth-first walk leaves them."""
    left: list[str] = []
    met: set[str] = set()
    for start in links:
        trail = [] if start in met else [(start, iter(links[start]))]
        met.add(start)
        while trail:
            node, rest = trail[-1]
            after = next((after for after in rest if after in links and after not in met), None)
            if after is None:
                left.append(node)
                trail.pop()
            else:
                met.add(after)
                trail.append((after, iter(links[after])))
    return left


@dataclass(frozen=True, slots=True)
class Links:
    """The links of one entry. about: a note's or tent entry's. sources: a culture's `from`, a batch's `culture`.

    unknown_sources: how many sources could not be followed. powered_by: devices by ID, sockets as written. formerly:
    its earlier IDs.
    """

    about: tuple[Ref, ...] = ()
    sources: tuple[Ref, ...] = ()
    unknown_sources: int = 0
    tent: str | None = None
    moved_to: str | None = None
    powered_by: tuple[str, ...] = ()
    controlled_by: tuple[str, ...] = ()
    formerly: tuple[str, ...] = ()


NO_LINKS = Links()


def links_of(
    drafts: Sequence[Draft],
    everything: Iterable[Draft],
    owners: Mapping[str, IdOwner],
    names: Names,
    problems: ProblemList,
    kept: Kept | None = None,
) -> dict[str, Links]:
    """Each entry's links, by its path. everything: also the drafts left out. owners: the ID of each, by path. kept: of
    an earlier call, with names that mean the same."""
    alone = _alone_in_folder(everything)
    links = {draft.path: NO_LINKS for draft in drafts}
    links |= problems.each(
        drafts, lambda draft: (draft.path, _links_of(draft, alone, owners, names, problems)), kept, _read_by_links
    )
    _open_circles(drafts, owners, links, _sources, problems)
    _open_circles(drafts, owners, links, _power, problems)
    return links


def _read_by_links(draft: Draft) -> tuple[Draft, None] | None:
    """What the links of an entry come from besides all IDs. A note may be about another entry in its folder, and the
    search for what a device means by a socket counts among those for misspelled IDs."""
    return None if draft.kind == "device" or (draft.kind == "note" and "about" not in draft.values) else (draft, None)


def _links_of(
    draft: Draft, alone: Mapping[str, Draft], owners: Mapping[str, IdOwner], names: Names, problems: ProblemList
) -> Links:
    if draft.kind == "culture":
        return _with_sources(draft, "from", ORIGINS, names, problems)
    if draft.kind == "batch":
        linked = _with_sources(draft, "culture", ("culture",), names, problems)
        return replace(linked, tent=names.id(draft, "tent", draft.values.get("tent"), ("tent",), problems))
    if draft.kind == "note":
        moved_to = names.id(draft, "moved to", draft.values.get("moved to"), ("tent",), problems)
        return Links(about=_about(draft, alone, owners, names, problems), moved_to=moved_to)
    if draft.kind == "tent":
        refs = [Ref(id) for id in draft.values.get("about", ())]
        return Links(about=names.refs(draft, "about", refs, ("tent",), problems))
    return _links_of_device(draft, names, problems) if draft.kind == "device" else NO_LINKS


def _with_sources(draft: Draft, key: str, kinds: tuple[str, ...], names: Names, problems: ProblemList) -> Links:
    """An ID counts as followed if it was found; a key that could not be read counts as one that was not."""
    found = names.refs(draft, key, draft.values.get(key, ()), kinds, problems)
    named = {(ref.id.lower(), ref.part) for ref in draft.values.get(key, ())}
    unreadable = key in draft.lines and key not in draft.values
    return Links(sources=found, unknown_sources=len(named) - len(found) + unreadable)


def _about(
    draft: Draft, alone: Mapping[str, Draft], owners: Mapping[str, IdOwner], names: Names, problems: ProblemList
) -> tuple[Ref, ...]:
    """What a note is about; nothing in particular if neither it nor its folder says so."""
    if "about" in draft.values:
        return names.refs(draft, "about", draft.values["about"], ALL_KINDS, problems)
    other = alone.get(folder_of(draft.path))
    if "about" in draft.lines or other is None or other.kind == "tent":
        return ()
    if other.path in owners:
        return (Ref(owners[other.path].id),)
    problems.error(
        draft,
        "about",
        f"this note has no `about`, and {other.path}, the other entry in its folder, is left out",
        f"correct {other.path}, or write a line like `about: B-031`",
    )
    return ()


def _alone_in_folder(drafts: Iterable[Draft]) -> dict[str, Draft]:
    """The only entry of each folder that is not a note, if there is exactly one."""
    others: dict[str, list[Draft]] = defaultdict(list)
    for draft in drafts:
        if draft.kind != "note":
            others[folder_of(draft.path)].append(draft)
    return {folder: inside[0] for folder, inside in others.items() if len(inside) == 1}


def _links_of_device(draft: Draft, names: Names, problems: ProblemList) -> Links:
    switches = [Ref(name) for name in _split(draft.values.get("controlled by"))]
    controlled_by = names.refs(draft, "controlled by", switches, ("device",), problems)
    return Links(
        tent=names.id(draft, "tent", draft.values.get("tent"), ("tent",), problems),
        powered_by=tuple(
            _power_source(draft, name, names, problems) for name in _split(draft.values.get("powered by"))
        ),
        controlled_by=tuple(ref.id for ref in controlled_by),
    )


def _split(written: str | None) -> list[str]:
    return [name.strip() for name in (written or "").split(",") if name.strip()]


def _power_source(draft: Draft, name: str, names: Names, problems: ProblemList) -> str:
    """A device's ID as defined; anything else is the name of a socket, in free text.

    A name that may be a misspelled ID, or is the ID of something else, is reported, because nobody would notice the
    missing device.
    """
    owner = names.get(name)
    if owner is not None and owner.kind == "device":
        return owner.id
    if owner is not None:
        message = f"`powered by` names {owner.id}, which is a {owner.kind}; it counts as the name of a socket"
        problems.warning(draft, "powered by", message, "name a device, or give the socket another name")
    elif _may_be_id(name) and (advice := names.advice_on_near(name, ("device",), draft.values.get("id", ""))):
        message = f"`powered by` names {name}, which is not a device in this journal; it counts as the name of a socket"
        problems.warning(draft, "powered by", message, advice)
    return name


def _may_be_id(name: str) -> bool:
    try:
        parse_ref(name)
    except Unreadable:
        return False
    return True


def check_links_in_texts(
    drafts: Iterable[Draft],
    owners: Mapping[str, IdOwner],
    names: Names,
    problems: ProblemList,
    kept: Kept | None = None,
) -> None:
    """Reports, once for each entry, where a link in its text would lead nowhere. owners, kept: as in `links_of`."""
    having = [draft for draft in drafts if "](" in draft.text or "]:" in draft.text]

    def leads(target: str) -> bool:
        id, dot, part = target.partition(".")
        return names.get(id) is not None and (not dot or part.isdecimal())

    def check(draft: Draft) -> None:
        for target, line in links_in_vain(draft.text, leads).items():
            at = draft.text_line + line
            if (ref := _ref_in(target)) is not None:
                message = f"the text links to {ref.id}, which is not in this journal"
                fix = names.advice_on_near(ref.id, ALL_KINDS, draft.values.get("id", ""))
                problems.at(draft.path, at, "error", message, fix or names.advice_on_unread(ALL_KINDS) or _MAY_LINK_TO)
            else:
                written = unquote(target)
                is_told = written and not LIKE_A_POSITION.search(written)
                which = f"{shortened(written)}, which" if is_told else "something that"
                message = f"the text links to {which} is neither an ID nor a web address: only the words are shown"
                problems.at(draft.path, at, "warning", message, _advice_on_file(draft, written, owners))

    problems.each(having, check, kept)


_MAY_LINK_TO = "link to an ID of this journal, or to an address that begins with https://"


def _advice_on_file(draft: Draft, target: str, owners: Mapping[str, IdOwner]) -> str:
    """What to link to instead of a file. owners: as in `links_of`."""
    path = path_from(draft, target)
    if path in owners:
        return f"link to {owners[path].id}, the ID of that entry"
    return "write ! before the link to show the photo" if kind_of_file(path) == "photo" else _MAY_LINK_TO


def _ref_in(target: str) -> Ref | None:
    try:
        return parse_ref(target)
    except Unreadable:
        return None


@dataclass(frozen=True, slots=True)
class _LinkKind:
    """A kind of link that may form a circle. keys: those that make it, by kind of entry."""

    keys: Mapping[str, tuple[str, ...]]
    leads_to: Callable[[Links], Iterable[str]]
    without: Callable[[Links, frozenset[str]], Links]
    message: str
    fix: str


_sources = _LinkKind(
    {"culture": ("from",), "batch": ("culture",)},
    lambda links: [ref.id for ref in links.sources],
    lambda links, ids: replace(
        links,
        sources=tuple(ref for ref in links.sources if ref.id not in ids),
        unknown_sources=links.unknown_sources + sum(ref.id in ids for ref in links.sources),
    ),
    "{ids} come from one another in a circle",
    "correct `{key}` in the one that came first",
)
_power = _LinkKind(
    {"device": ("powered by", "controlled by")},
    lambda links: [*links.powered_by, *links.controlled_by],
    lambda links, ids: replace(
        links,
        powered_by=tuple(name for name in links.powered_by if name not in ids),
        controlled_by=tuple(name for name in links.controlled_by if name not in ids),
    ),
    "{ids} power or control one another in a circle",
    "correct `{key}` in the one nearest the wall socket",
)


def _open_circles(
    drafts: Sequence[Draft],
    owners: Mapping[str, IdOwner],
    links: dict[str, Links],
    link: _LinkKind,
    problems: ProblemList,
) -> None:
    """Reports each entry in a circle, and removes the links that close it: those of the last entry by path."""
    by_id = {owners[draft.path].id: draft for draft in drafts if draft.kind in link.keys and draft.path in owners}
    steps = {id: list(link.leads_to(links[draft.path])) for id, draft in by_id.items()}
    groups = circles(steps)
    for group in groups:
        ids = sorted(group)
        shown = ", ".join(ids[:6]) + (f" and {len(ids) - 6} more" if len(ids) > 6 else "")
        message = link.message.format(ids=shown) if len(ids) > 1 else f"{shown} refers to itself"
        for draft in (by_id[id] for id in group):
            key = next((key for key in link.keys[draft.kind or ""] if key in draft.lines), "")
            problems.error(draft, key, message, link.fix.format(key=key))
    while groups:
        for group in groups:
            last = max(group, key=lambda id: path_key(by_id[id].path))
            path = by_id[last].path
            links[path] = link.without(links[path], group)
            steps[last] = list(link.leads_to(links[path]))
        caught = frozenset[str]().union(*groups)
        groups = circles({id: [to for to in steps[id] if to in caught] for id in sorted(caught)})
