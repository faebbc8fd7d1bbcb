"""What `rated for` says of water: where a device may get wet, as far as its keeper wrote it down.

A reading of words, no judgement of a device: who works on mains in the wet follows local codes and licensed people.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Claim = Literal["wet", "damp", "dry"]

SOURCE = (
    "IP codes: IEC 60529, table 3 (second numeral 4 and over: splashing water from every side); dry, damp and wet: "
    "NFPA 70 (National Electrical Code), article 100; other words: common practice"
)

SPLASH = 4
"""The least second numeral that withstands splashing from every side. *Source:* IEC 60529, table 3."""

_I = re.IGNORECASE
_CODE = re.compile(r"\bIP\s?([0-6X])([0-9X])(?![0-9])", _I)
_CLAUSE = re.compile(r"[,;:.()]\s|[,;:.()]$|\bbut\b", _I)
_NOT = re.compile(r"\b(?:not?|never|without|away from|keep out of|protect from|unsuitable)\b|\bnon-", _I)
_WORDS: tuple[tuple[Claim, re.Pattern[str]], ...] = (
    ("wet", re.compile(r"\b(?:wet|fog|mist|spray|splash|rain|outdoor|immers|submers|water[ -]?(?:proof|jet))", _I)),
    ("damp", re.compile(r"\b(?:damp|humid|moist|drip|water[ -]?(?:resist|repel))", _I)),
    ("dry", re.compile(r"\b(?:dry|indoor|living room)", _I)),
)
_WATER = re.compile(r"\b(?:wet|damp|humid|moist|water|fog|mist|splash|rain|outdoor|bath)", _I)
_ORDER: tuple[Claim, ...] = ("wet", "damp", "dry")


@dataclass(frozen=True, slots=True)
class WetRating:
    """claim: the wettest place it is said to be for, None where the words name none, or there are none.

    written: the keeper's words, None where nothing was written. code: the IP code in them, if any.
    """

    claim: Claim | None
    written: str | None
    code: str | None = None

    @property
    def is_for_the_wet(self) -> bool:
        """Whether it is said to be for a place where fog falls out and water splashes."""
        return self.claim == "wet"


def wet_rating(rated_for: str | None) -> WetRating:
    """What the words under `rated for` say of water: by its IP code, else by the wettest word that they do not deny.

    A damp place is not a wet one: it has moisture, and nothing in it is soaked.
    *Source:* IEC 60529 (degrees of protection by enclosures), table 3; NFPA 70 (National Electrical Code), article 100,
    *Location, Damp*, *Dry* and *Wet*; other words are common practice.
    """
    written = (rated_for or "").strip() or None
    if written is None:
        return WetRating(None, None)
    codes = [(found.group(0), found.group(2)) for found in _CODE.finditer(written) if found.group(2).isdigit()]
    if codes:
        code, numeral = max(codes, key=lambda row: int(row[1]))
        return WetRating(_claim_of(int(numeral)), written, re.sub(r"\s", "", code).upper())
    return WetRating(_wettest(_claims_in(clause) for clause in _CLAUSE.split(written)), written)


def _claim_of(numeral: int) -> Claim:
    """1 to 3 withstand drips and spray from above alone: what a damp place has at its worst."""
    if numeral >= SPLASH:
        return "wet"
    return "damp" if numeral else "dry"


def _claims_in(clause: str) -> Claim | None:
    """What one clause claims; where it denies a place, that is as much as to say that it is for dry ones."""
    denied = _NOT.search(clause)
    before = clause[: denied.start()] if denied else clause
    claimed = next((claim for claim, word in _WORDS if word.search(before)), None)
    return "dry" if claimed is None and denied and _WATER.search(clause) else claimed


def _wettest(claims: Iterable[Claim | None]) -> Claim | None:
    found = set(claims)
    return next((claim for claim in _ORDER if claim in found), None)
