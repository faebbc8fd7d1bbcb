"""Which nodes reach one another, and which links a journal keeps of those that form circles."""

from __future__ import annotations

import sys
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.analysis.lineage import lineage_of, sources_of
from journal.reading.links import circles
from tests.builders import entry, examples


@pytest.mark.parametrize(
    ("groups", "links"),
    [
        ([], {}),
        ([], {"a": ["b"], "b": ["c"]}),
        ([], {"a": ["gone"]}),
        ([{"a"}], {"a": ["a"]}),
        ([{"a", "b"}], {"a": ["b"], "b": ["a"], "c": ["a"]}),
        ([{"a", "b"}, {"c", "d"}], {"a": ["b"], "b": ["a", "c"], "c": ["d"], "d": ["c"]}),
        ([{"a", "b", "c"}], {"a": ["b", "c"], "b": ["a"], "c": ["a"]}),
    ],
)
def test_a_group_holds_what_reaches_itself(groups: list[set[str]], links: dict[str, list[str]]) -> None:
    assert groups == circles(links)


def test_a_chain_longer_than_the_stack_is_walked() -> None:
    last = 2 * sys.getrecursionlimit()
    chain = {str(n): [str(n + 1)] for n in range(last + 1)}
    assert [] == circles(chain)
    assert [frozenset(chain)] == circles({**chain, str(last): ["0"]})


def reached(links: dict[str, list[str]], start: str) -> set[str]:
    seen: set[str] = set()
    waiting = [start]
    while waiting:
        for after in links.get(waiting.pop(), ()):
            if after not in seen:
                seen.add(after)
                waiting.append(after)
    return seen


nodes = st.sampled_from("abcdefg")


@given(st.dictionaries(nodes, st.lists(nodes, max_size=3)))
def test_groups_agree_with_reaching(links: dict[str, list[str]]) -> None:
    naive = {frozenset(b for b in reached(links, a) if a in reached(links, b)) for a in links if a in reached(links, a)}
    assert naive == set(circles(links))


# Random lineages, from the files to the ancestors of each

IDS = tuple(f"X-{number}" for number in range(7))


@st.composite
def written_graphs(draw: st.DrawFn) -> dict[str, tuple[str, str, list[str]]]:
    """Cultures and batches by ID, with their path and what they say they come from: anything, themselves included."""
    numbers = draw(st.permutations(range(len(IDS))))
    kinds = {id: draw(st.sampled_from(["culture", "culture", "batch"])) for id in IDS}
    cultures = [id for id in IDS if kinds[id] == "culture"]
    return {
        id: (kinds[id], f"{number}.md", draw(st.lists(st.sampled_from(all_of), max_size=3, unique=True)))
        for id, number in zip(IDS, numbers, strict=True)
        if (all_of := [*IDS, "F-1"] if kinds[id] == "culture" else cultures)
    }


@examples(30)
@given(written_graphs())
def test_any_lineage_is_read_without_its_circles_and_with_everything_else(
    make_journal: Any, graph: dict[str, tuple[str, str, list[str]]]
) -> None:
    files = {"f.md": entry("find", id="F-1", date="2026-09-12")}
    for id, (kind, path, sources) in graph.items():
        key = "from" if kind == "culture" else "culture"
        files[path] = entry(kind, id=id, date="2026-09-13", **{key: ", ".join(sources)})
    journal = make_journal(files)
    written = {id: sources for id, (_, _, sources) in graph.items()}
    groups = {id: {other for other in reached(written, id) if id in reached(written, other)} for id in written}
    in_circle = {graph[id][1] for id in written if id in reached(written, id)}
    assert in_circle == {
        one.path for one in journal.problems if "in a circle" in one.message or "refers to itself" in one.message
    }
    kept = {row.id: [ref.id for ref in sources_of(row)] for row in (*journal.cultures, *journal.batches)}
    for id, sources in written.items():
        assert id not in reached(kept, id)
        assert set(sources) - set(kept[id]) <= groups[id]
    for group in filter(None, groups.values()):
        last = max(group, key=lambda id: graph[id][1])
        assert not set(kept[last]) & group
    lineage = lineage_of(journal)
    for id in kept:
        assert reached(kept, id) == set(lineage.ancestors_of(id))
        assert {other for other in kept if id in reached(kept, other)} == set(lineage.descendants_of(id))
