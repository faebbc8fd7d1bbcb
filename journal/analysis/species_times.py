"""How many days a species usually takes to each thing: what is published, and what growers commonly tell.

Guidance, not a limit: strains differ more than species, and a grower's own record stands above it. A species is found
by its own name alone; what is known of a sister species is never borrowed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Days:
    """From so many days to so many, both included."""

    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Usual:
    """What is usual for a species; None where nothing is told. Names as in `Milestones`.

    colonised_d, pinning_d: from inoculation. pinning_after_move_d: from the move into fruiting air.
    harvest_after_pins_d: from pins to picking. between_flushes_d: from flush to flush. flushes_most: how many
    there are.
    """

    source: str
    colonised_d: Days | None = None
    pinning_d: Days | None = None
    pinning_after_move_d: Days | None = None
    harvest_after_pins_d: Days | None = None
    between_flushes_d: Days | None = None
    flushes_most: int | None = None


_GROWING_GOURMET = "P. Stamets, Growing Gourmet and Medicinal Mushrooms, chapter Growth Parameters"

PUBLISHED: Mapping[str, Usual] = MappingProxyType(
    {
        "Pleurotus pulmonarius": Usual(
            _GROWING_GOURMET,
            colonised_d=Days(8, 14),
            pinning_after_move_d=Days(3, 5),
            harvest_after_pins_d=Days(3, 5),
            between_flushes_d=Days(7, 10),
            flushes_most=3,
        ),
        "Pleurotus citrinopileatus": Usual(
            _GROWING_GOURMET,
            colonised_d=Days(10, 14),
            pinning_after_move_d=Days(3, 5),
            harvest_after_pins_d=Days(3, 5),
            between_flushes_d=Days(10, 14),
            flushes_most=2,
        ),
        "Pleurotus djamor": Usual(
            "A. Shnyreva et al., Advances in Microbiology 7:125–136 (2017), abstract",
            colonised_d=Days(26, 26),
        ),
        "Lentinula edodes": Usual(
            "G. L. Pettipher, J. Sci. Food Agric. 42(3) (1988), abstract",
            pinning_after_move_d=Days(9, 15),
        ),
        "Hericium erinaceus": Usual(
            _GROWING_GOURMET,
            colonised_d=Days(10, 14),
            pinning_after_move_d=Days(3, 5),
            harvest_after_pins_d=Days(4, 5),
            between_flushes_d=Days(14, 14),
        ),
        "Flammulina velutipes": Usual(
            _GROWING_GOURMET,
            colonised_d=Days(14, 18),
            pinning_after_move_d=Days(3, 5),
            harvest_after_pins_d=Days(5, 8),
            between_flushes_d=Days(10, 12),
            flushes_most=3,
        ),
        "Cyclocybe aegerita": Usual(
            _GROWING_GOURMET,
            colonised_d=Days(20, 28),
            pinning_after_move_d=Days(7, 14),
        ),
        "Coprinus comatus": Usual(
            _GROWING_GOURMET,
            colonised_d=Days(12, 14),
            harvest_after_pins_d=Days(5, 7),
            between_flushes_d=Days(4, 10),
            flushes_most=3,
        ),
        "Agaricus bisporus": Usual(
            "P. Stamets, J. S. Chilton, The Mushroom Cultivator (1983)",
            colonised_d=Days(14, 14),
        ),
    }
)
"""Published ranges, each with its source; a field that could not be confirmed there is left out.

Left out too: days to pins of what fruits from casing (*Agaricus*, *Coprinus*), since they count from a casing that a
journal does not date; and lengths of spawn run that experimenters set (*Lentinula*, 58 and 116 days), since they tell
what was tried and not what it takes. *Flammulina velutipes* is the cultivated one in the wide sense.
"""

_PRACTICE = "common practice"

PRACTICE: Mapping[str, Usual] = MappingProxyType(
    {
        # Folds form in the closed bag, and it is opened over them: its picking days count from that opening.
        "Grifola frondosa": Usual(
            _PRACTICE,
            colonised_d=Days(35, 50),
            pinning_d=Days(50, 70),
            harvest_after_pins_d=Days(14, 25),
            flushes_most=1,
        ),
        "Flammulina velutipes": Usual(
            _PRACTICE,
            colonised_d=Days(21, 35),
            pinning_after_move_d=Days(10, 14),
            harvest_after_pins_d=Days(8, 14),
            between_flushes_d=Days(14, 24),
            flushes_most=2,
        ),
        "Pleurotus pulmonarius": Usual(
            _PRACTICE,
            colonised_d=Days(12, 18),
            pinning_after_move_d=Days(4, 7),
            harvest_after_pins_d=Days(4, 6),
            between_flushes_d=Days(8, 14),
            flushes_most=3,
        ),
        "Pholiota adiposa": Usual(
            _PRACTICE,
            colonised_d=Days(28, 45),
            pinning_after_move_d=Days(7, 14),
            harvest_after_pins_d=Days(7, 10),
            between_flushes_d=Days(14, 21),
            flushes_most=3,
        ),
        "Cyclocybe aegerita": Usual(
            _PRACTICE,
            colonised_d=Days(20, 30),
            pinning_after_move_d=Days(8, 14),
            harvest_after_pins_d=Days(5, 8),
            between_flushes_d=Days(12, 18),
            flushes_most=3,
        ),
        "Pleurotus ostreatus": Usual(
            _PRACTICE,
            colonised_d=Days(12, 21),
            pinning_after_move_d=Days(3, 5),
            harvest_after_pins_d=Days(4, 7),
            between_flushes_d=Days(7, 14),
            flushes_most=4,
        ),
        "Pleurotus djamor": Usual(
            _PRACTICE,
            colonised_d=Days(7, 10),
            pinning_after_move_d=Days(2, 4),
            harvest_after_pins_d=Days(3, 5),
            between_flushes_d=Days(7, 10),
            flushes_most=3,
        ),
        "Pleurotus eryngii": Usual(
            _PRACTICE,
            colonised_d=Days(12, 20),
            pinning_after_move_d=Days(4, 5),
            harvest_after_pins_d=Days(4, 8),
            between_flushes_d=Days(14, 14),
            flushes_most=2,
        ),
        "Lentinula edodes": Usual(
            _PRACTICE,
            colonised_d=Days(35, 70),
            pinning_after_move_d=Days(5, 7),
            harvest_after_pins_d=Days(5, 8),
            between_flushes_d=Days(14, 21),
            flushes_most=4,
        ),
        "Pholiota microspora": Usual(
            _PRACTICE,
            colonised_d=Days(14, 20),
            pinning_after_move_d=Days(7, 10),
            harvest_after_pins_d=Days(5, 8),
            between_flushes_d=Days(10, 14),
            flushes_most=2,
        ),
        "Hypsizygus marmoreus": Usual(
            _PRACTICE,
            colonised_d=Days(30, 45),
            pinning_after_move_d=Days(3, 5),
            harvest_after_pins_d=Days(5, 10),
            between_flushes_d=Days(14, 21),
            flushes_most=2,
        ),
    }
)
"""What growers commonly tell: *common practice, from memory*, no source claimed."""
