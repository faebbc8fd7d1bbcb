"""Humidity over a saturated salt: what a probe in a closed box above it ought to read."""

from __future__ import annotations

import re
from dataclasses import dataclass

SOURCE = (
    "L. Greenspan, Humidity fixed points of binary saturated aqueous solutions, J. Res. Natl. Bur. Stand. 81A(1), "
    "1977, 89–96"
)
HOW = "over the pure salt, wet and with crystals left in it, once air, brine and probe have come to one temperature"

COLDEST_C, HOTTEST_C = 0.0, 50.0
"""Between these the equation of every salt here holds."""


@dataclass(frozen=True, slots=True)
class Salt:
    """name: as it is shown. also: other names and its formula, as a keeper may write them.

    powers: the humidity over it in %, as a polynomial of its temperature in °C, lowest power first.
    """

    name: str
    also: tuple[str, ...]
    powers: tuple[float, ...]

    def humidity_pct(self, t_c: float) -> float | None:
        """Relative humidity over it, between 0 and 50 °C; None beyond, where the equation is not used.

        *Source:* L. Greenspan, J. Res. Natl. Bur. Stand. 81A(1), 1977, 89–96, least-squares fits.
        """
        if not COLDEST_C <= t_c <= HOTTEST_C:
            return None
        return sum(factor * t_c**power for power, factor in enumerate(self.powers))


SALTS: tuple[Salt, ...] = (
    Salt("magnesium chloride", ("MgCl2", "MgCl₂"), (33.6686, -0.00797397, -0.00108988)),
    Salt(
        "table salt",
        ("sodium chloride", "NaCl", "cooking salt", "kitchen salt", "common salt", "salt"),
        (75.5164, 0.0398321, -0.00265459, 0.00002848),
    ),
    Salt("potassium chloride", ("KCl",), (88.6190, -0.193340, 0.000899706)),
    Salt("potassium nitrate", ("KNO3", "KNO₃", "saltpetre", "saltpeter"), (96.3361, 0.0112371, -0.00484514)),
    Salt("potassium sulphate", ("potassium sulfate", "K2SO4", "K₂SO₄"), (98.7792, -0.0590502)),
)
"""*Source:* L. Greenspan, as above."""

_BY_NAME = {name.casefold(): salt for salt in SALTS for name in (salt.name, *salt.also)}
_NAMES = re.compile(
    r"\b(?:" + "|".join(re.escape(name) for name in sorted(_BY_NAME, key=len, reverse=True)) + r")(?![\w-])",
    re.IGNORECASE,
)


def salt_in(text: str) -> Salt | None:
    """The first salt that a text names, None where it names none. `salt` alone is table salt, `sea salt` is none."""
    for found in _NAMES.finditer(text):
        if found[0].casefold() != "salt" or not re.search(
            r"\b(?:sea|epsom|rock) $", text[: found.start()], re.IGNORECASE
        ):
            return _BY_NAME[found[0].casefold()]
    return None
