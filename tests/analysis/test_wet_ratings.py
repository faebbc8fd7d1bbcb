"""What a rating says of water, held against the standards that it is written by."""

from __future__ import annotations

import pytest

from journal.analysis.power import WetRating, wet_rating

# IEC 60529, table 3: degrees of protection against water by the second characteristic numeral.
TABLE_3 = [
    ("0", "not protected", "dry"),
    ("1", "vertically falling drops", "damp"),
    ("2", "vertically falling drops when tilted up to 15°", "damp"),
    ("3", "spraying water, up to 60° from the vertical", "damp"),
    ("4", "splashing water from any direction", "wet"),
    ("5", "water jets", "wet"),
    ("6", "powerful water jets", "wet"),
    ("7", "temporary immersion", "wet"),
    ("8", "continuous immersion", "wet"),
    ("9", "high pressure and temperature water jets", "wet"),
]


@pytest.mark.parametrize(("numeral", "against", "claim"), TABLE_3)
def test_splashing_from_every_side_begins_at_the_second_numeral_4(numeral: str, against: str, claim: str) -> None:
    assert claim == wet_rating(f"IP2{numeral}").claim, against


@pytest.mark.parametrize(
    ("written", "claim", "code"),
    [
        ("damp, IP65", "wet", "IP65"),  # the code outranks the word beside it
        ("indoor use, ip 44", "wet", "IP44"),
        ("wet rooms? IP20 it says", "dry", "IP20"),
        ("IPX4", "wet", "IPX4"),
        ("IP66/IP68", "wet", "IP68"),
        ("IP2X, indoor", "dry", None),  # X: nothing is said of water (IEC 60529, clause 4.1)
        ("shipped 2024", None, None),
    ],
)
def test_an_ip_code_decides(written: str, claim: str | None, code: str | None) -> None:
    assert WetRating(claim, written, code) == wet_rating(written)  # type: ignore[arg-type]


# Words: NFPA 70 (National Electrical Code), article 100, tells dry, damp and wet locations apart; a damp one has
# moisture and is not soaked. The other words are common practice.
@pytest.mark.parametrize(
    ("written", "claim"),
    [
        ("suitable for dry locations", "dry"),
        ("suitable for dry or damp locations", "damp"),
        ("suitable for wet locations", "wet"),
        ("dry rooms; so it hangs outside the tent", "dry"),
        ("dry duct air; 118 cfm in free air, as printed on it", "dry"),
        ("indoor use only", "dry"),
        ("indoor and outdoor", "wet"),
        ("splashing water, 13 A in all", "wet"),
        ("its own fog", "wet"),
        ("damp rooms, not wet ones", "damp"),
        ("not for outdoor use", "dry"),
        ("Keep away from water.", "dry"),
        ("not waterproof", "dry"),
        ("water-resistant", "damp"),
        ("nothing that is printed on it", None),
        ("13 A", None),
        ("", None),
        (None, None),
    ],
)
def test_words_tell_the_wettest_place_that_they_do_not_deny(written: str | None, claim: str | None) -> None:
    assert claim == wet_rating(written).claim


def test_only_what_is_said_to_stand_splashing_is_for_the_wet() -> None:
    assert [True, False, False, False] == [
        wet_rating(words).is_for_the_wet for words in ("IP44", "damp", "dry", "no word of it")
    ]


def test_what_was_not_written_differs_from_what_says_nothing_of_water() -> None:
    assert (None, "13 A") == (wet_rating(None).written, wet_rating(" 13 A ").written)
