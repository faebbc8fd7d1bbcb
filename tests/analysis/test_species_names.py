"""Which species a name means."""

from __future__ import annotations

import pytest

from journal.analysis.identity import COMMON_NAMES, english_names, is_of_species, species_named
from journal.data import read_table


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


@pytest.mark.parametrize(
    ("written", "name"),
    [
        # Mycological Society of San Francisco, Scientific and Common Names of Mushrooms (mssf.org/cookbook/names.html).
        ("Agaricus arvensis", "horse mushroom"),
        ("Boletus edulis", "porcini"),
        ("Craterellus cornucopioides", "black chanterelle"),
        ("Coprinus comatus", "lawyer's wig"),
        ("Flammulina velutipes", "enoki"),
        # Common practice among growers.
        ("Pleurotus ostreatus", "oyster"),
        ("Pleurotus sp.", "oyster"),
        ("*Hericium erinaceus*, I think", "lion's mane"),
        ("Lentinula edodes", "shiitake"),
        ("Auricularia auricula-judae", "judas' ear"),
    ],
)
def test_a_species_or_genus_in_latin_has_its_english_names(written: str, name: str) -> None:
    assert name in {one for names in english_names(written).values() for one in names}


def test_what_is_named_in_no_latin_has_no_english_names_from_the_table() -> None:
    assert {} == english_names(None) == english_names("") == english_names("a brown one") == english_names("edulis")
    assert not is_of_species("Pleurotus ostreatus", "Pleurotus pulmonarius")


def test_the_table_is_written_as_it_is_searched() -> None:
    for table in read_table("english_names").values():
        for latin, names in table.items():
            assert latin == latin.capitalize()
            assert 1 <= len(latin.split()) <= 2
            assert list(names) == list(dict.fromkeys(name.lower().strip() for name in names))
    for name, latin in COMMON_NAMES.items():  # what means one species is a name to search it by
        words = {word for names in english_names(latin).values() for one in names for word in one.split()}
        assert set(name.split()) <= words, name
