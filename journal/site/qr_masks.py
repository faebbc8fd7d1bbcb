"""The mask of a QR code, chosen as segno chooses it, but on whole symbols as numbers instead of module by module."""

from __future__ import annotations

import re
from functools import cache
from typing import Any, Literal

Level = Literal["H", "M"]
Rows = tuple[tuple[bool, ...], ...]

_MASKS = range(8)
_FINDER_LIKE = re.compile("1011101(?:(?=0000)|(?<=00001011101))")


def code_rows(text: str, level: Level, side: int) -> Rows:
    """A QR code, row by row without its quiet zone; True is dark. side: modules on a side, which have to be enough.
    *Source:* ISO/IEC 18004:2015, 7.8.2 and 7.8.3 (data masking)."""
    changes, compared = _masks(level, side)
    unchanged = _bits(_made(text, level, side, 0))
    best = min(_MASKS, key=lambda mask: _penalty((unchanged ^ changes[mask]) & compared, side))
    bits = f"{unchanged ^ changes[best]:0{side * side}b}"
    return tuple(tuple(bit == "1" for bit in bits[at : at + side]) for at in range(0, side * side, side))


def _made(text: str, level: Level, side: int, mask: int) -> Any:
    import segno  # takes 4 ms to load, and hardly a build makes codes

    return segno.make(text, error=level, version=(side - 17) // 4, micro=False, boost_error=False, mask=mask)


def _bits(code: Any) -> int:
    """All modules, row by row, the first the most significant."""
    return int("".join(str(module) for row in code.matrix for module in row), 2)


@cache
def _masks(level: Level, side: int) -> tuple[tuple[int, ...], int]:
    """What each mask changes of a code with mask 0, whatever its text, and the modules that are compared."""
    codes = [_bits(_made("0", level, side, mask)) for mask in _MASKS]
    places = [(row, column) for row in range(side) for column in range(side)]
    compared = int("".join("01"[not _is_of_the_mask(*place, side)] for place in places), 2)
    return tuple(codes[0] ^ code for code in codes), compared


def _is_of_the_mask(row: int, column: int, side: int) -> bool:
    """Whether a module tells the mask, or the version beside it, and so is light while masks are compared. *Source:*
    ISO/IEC 18004:2015, 7.9.1 and 7.10."""
    low, high = sorted((row, column))
    is_format = low == 8 or high == 8
    return (is_format and low != 6 and (high < 9 or high >= side - 8)) or (
        side > 41 and low < 6 and side - 11 <= high < side - 8
    )


def _penalty(bits: int, side: int) -> int:
    """How ill a masked symbol can be read. *Source:* ISO/IEC 18004:2015, 7.8.3.1, table 11."""
    text = f"{bits:0{side * side}b}"
    rows = [text[at : at + side] for at in range(0, side * side, side)]
    columns = [text[at::side] for at in range(side)]
    lines = "0000" + "0000".join(rows + columns) + "0000"
    pairs, squares = _inner(side, side), _inner(side, side - 1)
    turned = int("".join(columns), 2)
    blocks = ~(bits ^ (bits >> 1)) & ~(bits ^ (bits >> side)) & ~(bits ^ (bits >> (side + 1))) & squares
    share_pct = bits.bit_count() / side**2 * 100
    return (
        _runs(~(bits ^ (bits >> 1)) & pairs)
        + _runs(~(turned ^ (turned >> 1)) & pairs)
        + 3 * blocks.bit_count()
        + 40 * len(_FINDER_LIKE.findall(lines))
        + 10 * int(abs(share_pct - 50) / 5)
    )


def _runs(same: int) -> int:
    """Of runs of five or more modules of one colour, three each, and one more for each module after the fifth. same:
    modules of the colour of their neighbour."""
    fours = same & (same >> 1) & (same >> 2) & (same >> 3)
    return fours.bit_count() + 2 * (fours & ~(fours >> 1)).bit_count()


@cache
def _inner(side: int, rows: int) -> int:
    """The modules of the last so many rows that have a neighbour to their left."""
    return sum(((1 << (side - 1)) - 1) << (row * side) for row in range(rows))
