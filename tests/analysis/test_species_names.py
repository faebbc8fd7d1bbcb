"""Which species a name means."""

from __future__ import annotations

import pytest

from journal.analysis.identity import species_named


@pytest.mark.parametrize(
    ("expected", "written"),
    [
        ("Pleurotus pulmonarius", "Pleurotus pulmonarius"),
        ("Pleurotus pulmonarius", "*pleurotus  Pulmonarius*"),
        ("Pleurotus pulmonarius", "Pleurotus pulmonarius (Fr.) Quél."),
        ("Pleurotus pulmonarius", "Phoenix oyster"),
        ("Pleurotus pulmonarius", "phoenix oyster (Pleurotus pulmonarius)"),
        ("Pleurotus ostreatus", "Pleurotus ostreatus var. columbinus"),
        ("Grifola frondosa", "Hen-of-the-woods"),
        ("Hericium erinaceus", "lion’s mane"),
        ("Cyclocybe aegerita", "Agrocybe aegerita"),
        ("Auricularia auricula-judae", "Auricularia auricula-judae"),
    ],
)
def test_a_name_of_one_species_means_it(expected: str, written: str) -> None:
    assert expected == species_named(written)


@pytest.mark.parametrize(
    "written",
    [
        None, "", "  ", "oyster", "oyster mushroom", "Blue oyster", "Pleurotus", "P. ostreatus", "Pleurotus sp.",
        "Pleurotus cf. ostreatus", "Pleurotus ostreatus?", "Pleurotus ostreatus / pulmonarius",
        "phoenix oyster, or another oyster", "Pholiota, chestnut scalycap perhaps",
        "Pleurotus ostreatus (phoenix oyster)", "Ganoderma lucidum group", "Oyster #3",
    ],
)  # fmt: skip
def test_a_vague_doubted_or_contradictory_name_means_none(written: str | None) -> None:
    assert species_named(written) is None
