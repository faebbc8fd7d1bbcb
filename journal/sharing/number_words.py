"""Numbers as they are said: `two hundred and fourteen`."""

from __future__ import annotations

_WORD = (
    "zero|oh|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|thirteen|fourteen|fifteen|sixteen|seventeen"
    "|eighteen|nineteen|twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety|hundred|thousand"
)

NUMBER_WORDS = rf"(?i:(?:{_WORD})\b(?:(?:[ -]| and )(?:{_WORD})\b){{0,6}})"
"""A pattern of a number in words, of any size."""
