"""Which nodes reach one another."""

from __future__ import annotations

import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.reading.links import circles


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
