"""Light against common practice, in words."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.analysis.tent_settings import colour_in_words, current_settings, history_of, hours_in_words, light_of
from journal.model import Journal
from journal.settings import LightHours


@pytest.mark.parametrize(
    ("words", "on_h"),
    [
        ("12 h a day, as is usual (common practice", 12.0),
        ("8 h a day, 4 h less than is usual (common practice", 8.0),
        ("13.5 h a day, 1.5 h more than is usual (common practice", 13.5),
        ("0 h a day, 12 h less than is usual (common practice", 0.0),
    ],
)
def test_hours_of_light_are_compared_with_common_practice(words: str, on_h: float) -> None:
    assert hours_in_words(on_h).startswith(words)


@pytest.mark.parametrize(
    ("words", "colour_k"),
    [
        ("6500 K, as is usual (common practice", 6500.0),
        ("6000 K, as is usual", 6000.0),
        ("7000 K, as is usual", 7000.0),
        ("5999 K, redder than is usual", 5999.0),
        ("7001 K, bluer than is usual", 7001.0),
    ],
)
def test_the_colour_of_light_is_compared_with_common_practice(words: str, colour_k: float) -> None:
    assert colour_in_words(colour_k).startswith(words)


def test_the_light_is_that_of_the_settings_that_hold(make_journal: Callable[..., Journal]) -> None:
    entry = "---\nkind: tent\nabout: hut\ndate: 2026-01-01\nlight: 18:00–04:00\nlight colour: 4000 K\n---\n"
    journal = make_journal({"journal.toml": "[tents.hut]\n", "a.md": entry})
    found = light_of(current_settings(history_of(journal, journal.settings.tents[0])))
    assert (LightHours(10.0, "18:00", "04:00"), 4000.0) == (found.hours, found.colour_k)
    assert "10 h a day, 2 h less" in (found.hours_words or "")
    assert "redder" in (found.colour_words or "")


def test_where_nothing_is_set_nothing_is_said() -> None:
    found = light_of({})
    assert (None, None, None, None) == (found.hours, found.colour_k, found.hours_words, found.colour_words)
