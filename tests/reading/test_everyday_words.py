"""The table of everyday words."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from journal.data import read_table
from journal.reading.everyday_words import also_read, fix_of_key, stages_of, word_meant
from journal.reading.keys import COMMON_KEYS, CURRENT_NAMES, KEYS, STAGES, canonical, names_of

TABLE = read_table("everyday_words")


def allowed_words(values_of: str) -> tuple[str, ...]:
    by_stage = {stages_of(kind): stages for kind, stages in STAGES.items()}
    keys = {key.name: key.words for keys in KEYS.values() for key in keys.values()}
    return by_stage.get(values_of) or keys[values_of]


@pytest.mark.parametrize("values_of", [*TABLE["read"], *TABLE["offer"]])
def test_a_word_stands_for_one_that_the_format_has_and_is_none_itself(values_of: str) -> None:
    allowed = allowed_words(values_of)
    read, offered = TABLE["read"].get(values_of, {}), TABLE["offer"].get(values_of, {})
    words = [word for words in read.values() for word in words] + list(offered)
    assert {*read, *(meant for several in offered.values() for meant in several)} <= set(allowed)
    assert len(words) == len(set(words))
    assert not set(words) & set(allowed)
    assert words == [canonical(word) for word in words]
    assert all(word_meant(values_of, word, allowed) == meant for word, meant in also_read(values_of).items())


def unknown_words() -> Iterator[tuple[str, str, str]]:
    """Kind, word, and the key that it stands for, "" where a sentence says what takes it."""
    for kind in KEYS:
        rows = {**TABLE["keys"]["every"], **TABLE["keys"][kind]}
        yield from ((kind, word, key) for key, words in rows.items() for word in words)
        instead = [*TABLE["instead"]["every"], *TABLE["instead"].get(kind, ())]
        yield from ((kind, word, "") for row in instead for word in row["words"])


@pytest.mark.parametrize("kind", KEYS)
def test_a_word_for_a_key_is_not_a_key_and_stands_for_one_of_its_kind(kind: str) -> None:
    rows = [(word, key) for of, word, key in unknown_words() if of == kind]
    words = [word for word, _ in rows]
    assert {key for _, key in rows if key} <= set(KEYS[kind])
    assert words == [canonical(word) for word in words]
    assert len(words) == len(set(words))
    assert not set(words) & {*KEYS[kind], *CURRENT_NAMES}
    assert all(fix_of_key(word, kind) == f"write {key}, if you mean that" for word, key in rows if key)
    assert all("{" not in fix_of_key(word, kind) for word in words)


def test_no_spelling_leads_to_a_key_of_another_kind() -> None:
    for kind, keys in KEYS.items():
        others = [name for name in names_of() if name not in keys and name not in COMMON_KEYS]
        offered = {fix_of_key(f"{name}s", kind).removeprefix("write ").partition(",")[0] for name in others}
        assert not offered & set(others)
