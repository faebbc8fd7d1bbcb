"""Which species a name means."""

from __future__ import annotations

import pytest

from journal.analysis.species_names import (
    COMMON_NAMES,
    SYNONYMS,
    are_of_one_species,
    english_names,
    is_another_species,
    is_of_species,
    likely_meant,
    name_of_kind,
    says_more,
    species_meant,
    species_named,
)
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
    assert expected == species_named(written, ())


@pytest.mark.parametrize(
    "written",
    [
        None, "", "  ", "oyster", "oyster mushroom", "Blue oyster", "Pleurotus", "P. ostreatus", "Pleurotus sp.",
        "Pleurotus cf. ostreatus", "Pleurotus ostreatus?", "Pleurotus ostreatus / pulmonarius",
        "phoenix oyster, or another oyster", "Pholiota, chestnut scalycap perhaps",
        "Pleurotus ostreatus (phoenix oyster)", "Ganoderma lucidum group", "Oyster #3",
        "Pleurotus species", "Pleurotus sensu lato", "Pleurotus ostreatus x pulmonarius", "Pleurotus × eous",
    ],
)  # fmt: skip
def test_a_vague_doubted_or_contradictory_name_means_none(written: str | None) -> None:
    assert species_named(written, ()) is None


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


@pytest.mark.parametrize(
    ("expected", "one", "other"),
    [
        (True, "Flammulina velutipes", "Pleurotus pulmonarius (Fr.) Quél."),
        (True, "pearl oyster", "Pleurotus pulmonarius"),
        (True, "Pleurotus cf. ostreatus", "Pleurotus pulmonarius"),
        (True, "P. ostreatus", "Pleurotus pulmonarius"),
        (True, "Flammulina", "Pleurotus pulmonarius"),
        (True, "Entoloma sinuatum", "Pleurotus pulmonarius"),  # a genus that no table has
        (False, "Pleurotus pulmonarius?", "*Pleurotus  Pulmonarius*"),
        (False, "P. pulmonarius", "Pleurotus pulmonarius"),
        (False, "A. aegerita", "Cyclocybe aegerita"),
        (False, "Agrocybe sp.", "Cyclocybe aegerita"),
        (False, "Pleurotus sp.", "Pleurotus pulmonarius"),
        (False, "Pleurotus ostreatus group", "Pleurotus pulmonarius"),
        (False, "phoenix oyster, or another oyster", "Flammulina velutipes"),
        (False, "Flammulina or Galerina", "Galerina marginata"),
        (False, "velvet shank", "Flammulina elastica"),  # English names stand for the genus
        (True, "grey oyster", "Flammulina velutipes"),
        (True, "Gray oyster mushrooms", "Pleurotus pulmonarius"),
        (True, "death cap", "Agaricus campestris"),
        (True, "panther cap", "death caps"),
        (True, "Funeral bell", "Kuehneromyces mutabilis"),
        (True, "morel", "Gyromitra esculenta"),  # the false morel is none
        (True, "Hen-of-the-woods (bought)", "chicken of the woods"),
        (False, "death cap", "Amanita sp."),
        (False, "oyster", "elm oyster"),
        (False, "oyster mushrooms", "Hypsizygus ulmarius"),
        (False, "chestnut mushroom", "Agaricus bisporus"),
        (False, "chestnut mushroom", "Pholiota adiposa"),
        (False, "yellow oyster", "golden oyster"),
        (False, "enoki", "Flammulina filiformis"),
        (False, "puffball", "Calvatia gigantea"),
        (False, "inky cap", "Coprinopsis atramentaria"),
        (False, "bracket", "Trametes versicolor"),  # a shape
        (False, "oyster (Entoloma sinuatum)", "Entoloma sinuatum"),
        (False, "not a death cap", "Agaricus campestris"),
        # A genus that no table has: by what is after it, or by its ending.
        (True, "Inocybe sp.", "Pleurotus ostreatus"),
        (True, "Lepiota spp.", "Macrolepiota procera"),
        (True, "Lepiota cf.", "parasol"),
        (True, "Conocybe", "Galerina marginata"),
        (False, "Inocybe sp.", "Inocybe geophylla"),
        (False, "Inocybe?", "Inocybe geophylla"),
        (False, "brown sp.", "Pleurotus ostreatus"),
        (False, "unknown sp.", "Pleurotus ostreatus"),
        (False, "mushroom sp.", "Pleurotus ostreatus"),
        (False, "oyster sp.", "Pleurotus ostreatus"),
        (False, "Little brown mushroom", "Pleurotus ostreatus"),
        (False, "Old faithful", "Pleurotus ostreatus"),
        (False, "Pleurotus species", "Pleurotus pulmonarius"),
        (True, "Pleurotus species", "Flammulina velutipes"),
        *((False, f"Pleurotus ostreatus {wide}", "Pleurotus pulmonarius") for wide in ("s.l.", "s. l.", "sensu lato")),
        (False, "Pleurotus sensu lato", "Pleurotus pulmonarius"),
        (True, "Pleurotus ostreatus sensu lato", "Flammulina velutipes"),
        (True, "Pleurotus ostreatus s. str.", "Pleurotus pulmonarius"),  # in the narrow sense it is no other
        (False, "Pleurotus ostreatus s. str.", "Pleurotus ostreatus"),
        *((False, "Pleurotus ostreatus x pulmonarius", one) for one in ("Pleurotus ostreatus", "P. pulmonarius")),
        *((False, "P. ostreatus × P. pulmonarius", one) for one in ("Pleurotus ostreatus", "Pleurotus pulmonarius")),
        (True, "Pleurotus ostreatus x pulmonarius", "Pleurotus eryngii"),
        (False, "Pleurotus × eous", "Pleurotus pulmonarius"),
        # Those whose English names are the same in the table.
        (False, "Hypsizygus tessulatus", "Hypsizygus marmoreus"),
        *((False, one, "Cyclocybe aegerita") for one in ("Cyclocybe cylindracea", "Agrocybe cylindracea")),
        (True, "Hypsizygus ulmarius", "Hypsizygus marmoreus"),
        (False, "Flamulina velutipes", "Flammulina velutipes"),  # which it likely is a misspelling of
        (True, "Flamulina velutipes", "Pleurotus pulmonarius"),
        (True, "Flammulina", "Lepista nuda"),  # a species of each was a Collybia
        (False, "Collybia", "Lepista nuda"),
        (True, "Clitocybe rivulosa", "Lepista"),
        (False, "willow button", "Flammulina velutipes"),  # nobody says what it means
        (False, "", "Flammulina velutipes"),
        (False, None, "Flammulina velutipes"),
    ],
)
def test_two_names_are_of_two_species_only_where_they_cannot_be_of_one(
    expected: bool, one: str | None, other: str | None
) -> None:
    assert expected is is_another_species(one, other, ()) is is_another_species(other, one, ())


@pytest.mark.parametrize(
    ("expected", "one", "other"),
    [
        (True, "Pleurotus pulmonarius", "Pleurotus sp."),
        (True, "P. pulmonarius", "Pleurotus"),
        (True, "phoenix oyster", "Pleurotus species"),
        (True, "Pleurotus pulmonarius", "Pleurotus pulmonarius?"),
        (True, "Pleurotus pulmonarius", "Pleurotus cf. pulmonarius"),
        (True, "Pleurotus ostreatus", "Pleurotus ostreatus group"),
        (True, "Pleurotus ostreatus", "oyster"),
        (True, "Pleurotus ostreatus", "Pleurotus ostreatus x pulmonarius"),
        (True, "Pleurotus", "oyster"),  # one is a Hypsizygus
        (True, "Galerina", "Little brown mushroom"),
        (True, "Flammulina velutipes", None),
        (True, "Flammulina velutipes", "willow button"),  # nobody says what it means
        (True, "Fomitopsis betulina", "bracket"),
        (False, "Pleurotus pulmonarius", "Phoenix oyster"),
        (False, "Phoenix oyster", "*Pleurotus pulmonarius*"),
        (False, "Pleurotus pulmonarius (Fr.) Quél.", "Pleurotus pulmonarius"),
        (False, "Cyclocybe aegerita", "Agrocybe aegerita"),
        (False, "Flamulina velutipes", "Flammulina velutipes"),
        (False, "Flammulina velutipes", "Flamulina velutipes"),
        (False, "Pleurotus ostreatus", "P. ostreatus"),
        (False, "Pleurotus", "Pleurotus pulmonarius"),
        (False, "Pleurotus cf. pulmonarius", "Pleurotus cf. pulmonarius"),
        (False, "Pleurotus ostreatus group", "Pleurotus ostreatus"),
        (False, "oyster", "Hypsizygus ulmarius"),
        (False, "oyster", "Pleurotus"),
        (False, "velvet shank", "Flammulina"),
        (False, "Hypsizygus marmoreus", "Hypsizygus tessulatus"),
        (False, "bracket", None),
        (False, "willow button", "Flammulina velutipes"),
        (False, None, "Flammulina velutipes"),
    ],
)
def test_a_name_says_more_where_the_other_may_mean_what_it_cannot(
    expected: bool, one: str | None, other: str | None
) -> None:
    assert expected is says_more(one, other, ())


@pytest.mark.parametrize(
    ("expected", "names"),
    [
        (True, ("Pleurotus pulmonarius", "phoenix oyster", "P. pulmonarius")),
        (True, ("shelf oyster", "Pleurotus pulmonarius")),
        (True, ("Agrocybe aegerita", "Cyclocybe aegerita")),
        (True, ("Hypsizygus tessulatus", "Hypsizygus marmoreus")),
        (True, ("willow button", "Willow button")),
        (False, ("Pleurotus sp.", "Pleurotus sp.")),
        (False, ("Pleurotus", "Pleurotus pulmonarius")),
        (False, ("Pleurotus pulmonarius", "Pleurotus pulmonarius?")),
        (False, ("Pleurotus pulmonarius", "Pleurotus ostreatus")),
        (False, ("oyster", "oyster")),
        (False, ("willow button", "Flammulina velutipes")),
        (False, (None, "Flammulina velutipes")),
    ],
)
def test_names_are_of_one_species_only_where_each_means_one_and_all_the_same(
    expected: bool, names: tuple[str | None, ...]
) -> None:
    own = (("shelf oyster", "Pleurotus pulmonarius"),)
    assert expected is are_of_one_species(names, own) is are_of_one_species(reversed(names), own)


def test_no_name_of_the_tables_says_more_than_another_of_the_same_species() -> None:
    for latin, names in _names_by_species().items():
        assert [] == [name for name in names if says_more(name, latin, ())], latin


def test_no_name_that_the_tables_have_for_a_species_is_another_species() -> None:
    named = [
        (name, latin) for table in read_table("english_names").values() for latin in table for name in table[latin]
    ]
    named += [*COMMON_NAMES.items(), *SYNONYMS.items()]
    assert [] == [(name, latin) for name, latin in named if is_another_species(name.title(), latin, ())]


def test_every_english_name_of_the_table_is_told_from_other_species_but_for_mere_shapes() -> None:
    """None of them means this mould, whose genus has no English name in the table."""
    named = {name for table in read_table("english_names").values() for names in table.values() for name in names}
    vague = {name for name in named if not is_another_species(name, "Trichoderma harzianum", ())}
    assert _SHAPES == vague


def test_an_own_name_is_compared_by_what_it_means_alone() -> None:
    own = (("phoenix oyster", "Flammulina velutipes"), ("shelf one", "grey oyster"), ("oyster", "Lentinula edodes"))
    for one, same, other in (
        ("Phoenix oyster", "enoki", "Pleurotus pulmonarius"),
        ("shelf one", "Pleurotus ostreatus", "Pleurotus pulmonarius"),
        ("oyster", "shiitake", "Pleurotus ostreatus"),
    ):
        assert (False, True) == (is_another_species(one, same, own), is_another_species(one, other, own))


@pytest.mark.parametrize(
    ("meant", "written"),
    [
        ("Flammulina velutipes", "Flamulina velutipes"),
        ("Flammulina velutipes", "*Flammulina velutipse* (Curtis)"),
        ("Pleurotus ostreatus", "Pleurotus ostreetus"),
        ("Agaricus subrufescens", "Agaricus blazeii"),  # by its older name
        (None, "Flammulina velutipes"),
        (None, "Hericium erinaceum"),
        (None, "Flamulina"),
        (None, "Flamulina velutpes"),  # two letters
        (None, "Lepiota nuda"),  # that genus is another than Lepista
        (None, "willow button"),
        (None, None),
    ],
)
def test_a_name_that_is_one_letter_away_from_a_known_one_is_likely_misspelled(
    meant: str | None, written: str | None
) -> None:
    assert meant == likely_meant(written, ())


def test_an_own_name_is_not_misspelled() -> None:
    own = (("Flamulina velutipes", "shelf one"), ("shelf two", "Flammulina velutipea"))
    assert likely_meant("Flamulina velutipes", own) is None is likely_meant("shelf two", own)
    assert is_another_species("shelf two", "Flammulina velutipes", own)


_DEADLY = {
    "Amanita bisporigera", "Amanita phalloides", "Amanita pantherina", "Amanita virosa", "Cortinarius rubellus",
    "Galerina marginata", "Gyromitra esculenta",
}  # fmt: skip
"""Of the tables, those that kill or poison gravely: common knowledge, from memory."""
_SHAPES = {"bracket", "tooth fungus", "black fungus", "white mushroom", "black bolete"}


def _names_by_species() -> dict[str, set[str]]:
    """Each Latin name of a species that the tables have, by the present one: with all its names, small and great."""
    english = read_table("english_names")
    found: dict[str, set[str]] = {}
    for table in english.values():
        for latin, names in table.items():
            if " " in latin:
                found.setdefault(SYNONYMS.get(latin.casefold(), latin), set()).update({latin, *names})
    for name, latin in (*COMMON_NAMES.items(), *SYNONYMS.items()):
        found.setdefault(latin, {latin}).update({name, name.capitalize()})
    return found


def test_a_deadly_species_is_another_than_each_other_by_every_name_of_the_tables() -> None:
    named = _names_by_species()
    pairs = [(deadly, other) for deadly in _DEADLY for other in named if other not in _DEADLY]
    assert len(_DEADLY) * (len(named) - len(_DEADLY)) == len(pairs)
    same = [
        (one, second)
        for deadly, other in pairs
        for one in named[deadly]
        for second in named[other] - _SHAPES
        if not is_another_species(one, second, ())
    ]
    assert [] == same


def test_a_deadly_species_is_of_no_genus_of_the_tables_but_its_own() -> None:
    """Nor of one that it was in before, as those tables have it."""
    genera = {latin: names for table in read_table("english_names").values() for latin, names in table.items()}
    genera = {latin: names for latin, names in genera.items() if " " not in latin}
    assert "Pholiota" in genera
    same = [
        (deadly, name)
        for deadly in _DEADLY
        for genus, names in genera.items()
        for name in {genus, f"{genus} sp.", *names} - _SHAPES
        if genus != deadly.split()[0] and not is_another_species(deadly, name, ())
    ]
    assert [] == same


def test_no_letter_left_out_makes_a_deadly_species_another_or_another_one_deadly() -> None:
    named = _names_by_species()
    for latin in named:
        for place in range(1, len(latin)):
            meant = likely_meant(latin[:place] + latin[place + 1 :], ())
            assert meant in (None, latin)


def test_an_own_name_goes_before_what_the_tables_say() -> None:
    own = (
        ("Pearl Oyster", "Pleurotus pulmonarius"),
        ("shelf one", "phoenix oyster"),
        ("Collybia alba", "Lepista nuda"),
    )
    assert {"Pleurotus pulmonarius"} == {species_meant(one, own) for one in ("pearl oyster", "*Shelf one*")}
    assert "Lepista nuda" == species_meant("Collybia alba (Bull.)", own)
    assert species_meant(None, own) is None is species_meant("shelf", own)
    assert "Pleurotus pulmonarius" == species_named("pearl oyster", own)


def test_an_own_name_that_means_no_species_names_none() -> None:
    own = (("shelf one", "Pleurotus"), ("phoenix oyster", "Pleurotus cf. djamor"))
    assert species_named("shelf one", own) is None is species_named("Phoenix oyster", own)


@pytest.mark.parametrize(
    ("expected", "written"),
    [
        ("Pleurotus pulmonarius", "Shelf oyster"),
        ("Pleurotus pulmonarius", "*phoenix oyster*"),
        ("Pleurotus", "shelf one"),
        ("shelf oyster?", "shelf oyster?"),  # it is doubted
        ("oyster", "oyster"),
        ("A brown one", " *A brown  one*"),
        ("", None),
    ],
)
def test_what_is_of_one_species_is_counted_under_one_name(expected: str, written: str | None) -> None:
    own = (("shelf oyster", "Pleurotus pulmonarius"), ("shelf one", "Pleurotus"))
    assert expected == name_of_kind(written, own)
