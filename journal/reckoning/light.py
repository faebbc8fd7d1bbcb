"""Light in a tent: hours a day and colour, held against common practice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from journal.model import LightHours
from journal.reckoning.reckoned import figure
from journal.reckoning.tent_settings import Change, SettingName

USUAL_H = 12.0
USUAL_K = (6000.0, 7000.0)

HOURS_PRACTICE = "common practice: 12 h on and 12 h off, for forming and not for food"
COLOUR_PRACTICE = "common practice: 6000–7000 K, about 6500 K"


@dataclass(frozen=True, slots=True)
class Light:
    """What is set: hours a day (with clock times where they were written, for whoever knows the time) and colour.

    hours_words, colour_words: how that stands to common practice, None where nothing is set.
    """

    hours: LightHours | None
    colour_k: float | None
    hours_words: str | None
    colour_words: str | None


def light_of(holding: Mapping[SettingName, Change]) -> Light:
    """The light by the settings that hold. holding: as `tent_settings.held_on` gives them."""
    light, colour = holding.get("light"), holding.get("light colour")
    hours = light.value if light and isinstance(light.value, LightHours) else None
    colour_k = colour.value if colour and isinstance(colour.value, float | int) else None
    return Light(
        hours,
        colour_k,
        hours_in_words(hours.on_h) if hours else None,
        colour_in_words(colour_k) if colour_k is not None else None,
    )


def hours_in_words(on_h: float) -> str:
    """`12 h a day, as is usual (common practice: …)`, `8 h a day, 4 h less than is usual (…)`."""
    off_h = on_h - USUAL_H
    how = f"{figure(abs(off_h), 'h')} {'more' if off_h > 0 else 'less'} than is usual" if off_h else "as is usual"
    return f"{figure(on_h, 'h')} a day, {how} ({HOURS_PRACTICE})"


def colour_in_words(colour_k: float) -> str:
    """`6500 K, as is usual (common practice: …)`, `4000 K, redder than is usual (…)`."""
    low_k, high_k = USUAL_K
    how = "redder than is usual" if colour_k < low_k else "bluer than is usual" if colour_k > high_k else "as is usual"
    return f"{figure(colour_k, 'K', 0)}, {how} ({COLOUR_PRACTICE})"
