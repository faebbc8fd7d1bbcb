"""An entry file into a draft: every key typed, nothing linked yet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from journal.problems import Problem


@dataclass(frozen=True)
class Draft:
    """One entry as its file tells it, before it is linked to anything.

    kind: None where the file does not tell; such an entry is left out whole, and its problems say why.
    values: canonical key -> typed value. A key that is absent, empty, wrong or of another kind is not in it. Types:
        text keys                           str
        date                                model.When
        photos                              tuple[tuple[str, str | None], ...]: file name, caption
        private, master                     bool
        next                                tuple[model.Next, ...]
        done, serviced                      tuple[str, ...]
        id, tent, moved to                  str
        about of a note, from, culture      tuple[model.Ref, ...], each once
        about of a tent entry               tuple[str, ...], each once
        fed by, switched by                 str; several names are joined by ", "
        certainty, locality, method, form, door, stage      str, one of the key's words
        where                               model.Position
        elevation                           float, m
        wet mass, dry mass                  quantities.Mass: g, in_all
        harvest, dried, spawn mass          float, g
        mix                                 tuple[model.MixPart, ...]
        units, vessels, flush (from 1), lost, transfers before      int
        moisture, humidity set point, humidity differential, humidity reading       float, %
        temperature set point, temperature reading      float, °C
        wants humidity (%), wants temperature (°C)      model.Band
        light, exhaust                      model.LightHours, model.Exhaust
        light colour                        float, K
        co2 reading                         float, ppm
    lines: canonical key -> 1-based line on which it stands, for keys in `values` and for those that were wrong.
    text: the Markdown after the front matter, lines ended by "\\n"; text_line: the line on which it begins.
    problems: all that is wrong in this file by itself, a missing `kind` and missing required keys of the table included
        (`about` of a note, a culture's parent and the date depend on other files: whoever links says so).
    """

    path: str
    kind: str | None
    values: Mapping[str, Any]
    lines: Mapping[str, int]
    text: str
    text_line: int
    problems: tuple[Problem, ...]
