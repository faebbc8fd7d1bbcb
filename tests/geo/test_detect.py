"""Positions in a text, in the notations that are in use; what is neither position nor way is left alone."""

from __future__ import annotations

import pytest

from journal.geo.detect import perhaps_positions_in, positions_in
from journal.geo.directions import directions_in
from journal.sharing.normalise import normalise

POSITIONS = (
    "58.30412, -8.90177",
    "58.30412 N 8.90177 W",
    "N 58.304 W 8.902",
    "58°18'14.8\"N 8°54'06\"W",
    "58° 18.247′ N, 8° 54.106′ W",
    "58 18 14.8 N, 8 54 06.4 W",
    "58:18:14.8N 8:54:06W",
    "58 17 60 N, 8 60 W",
    "58°17′60″N 8°53′60″W",
    "58-17-60N 8-53-60W",
    "58 degrees 18 minutes north",
    "29V 505761 6462180",
    "29V NE 05761 62180",
    "29VNE0576162180",
    "29V NE 0576 6218",
    "+58.30412-008.90177/",
    "+581814.8-0085406.4/",
    "geo:58.30412,-8.90177;u=8",
    "lat 58.3, lon -8.9",
    "latitude: 58.30",
    "lat=58.30412&lon=-8.90177",
    "NH 123 456",
    "NH12345678",
    "9C5M8Q3X+2R",
    "///filled.count.soap",
    "geohash gcx7",
    "58,30412 / -8,90177",
    "58N 9W",
    "elevation 120 m",
    "85 m above sea level",
    "120 m a.s.l.",
    "58° 18′ N",
    "S 33.1 E 151.2",
    "E 505761 N 6462180",
    "6462180 N 505761 E",
    "29 V 0505761 6462180",
    "29V 505 761 6 462 180",
    "easting 505 761 northing 6 462 180",
    "2600000 / 1200000",
    "58.304 N",
    "8.902° W",
    "58 point 30412 north, 8 point 90177 west",
    "58\N{MIDDLE DOT}30412 \N{MINUS SIGN}8\N{MIDDLE DOT}90177",
    "58\N{ARABIC DECIMAL SEPARATOR}30412",
    "58. 30412, -8. 90177",
    "58 30412 / 8 90177",
    "58-18-14.8N 8-54-06.4W",
    "58d18m14.8s N, 8d54m06.4s W",
    "5818N 00854W",
    "N5818.247 W00854.106",
    "58° 18.247′, 8° 54.106′",
    "lat 58 18",
    "grid ref. NF 12 34",
    "NF 12 34",
    "NF1234",
    "nf 123 456",
    "G123456",
    "IG 123 456",
    "IO58NH",
    "io58nh42",
    "Maidenhead IO58",
    "8Q3X+2R",
    "tile 17/62214/40911",
    "quadkey 0313110123",
    "at 400 ft on the hill",
    "altitude 120",
    "height above sea level 120 m",
    "120 m up the hill",
    "\uff15\uff18\uff0e\uff13\uff10\uff14\uff11\uff12\uff0c\uff0d\uff18\uff0e\uff19\uff10\uff11\uff17\uff17",
    "\uff0b\uff15\uff18.\uff13\uff10\uff14\uff11\uff12",
    "58\u309c18\u2032N",
    "58.304\uff0c8.902",
    "58.304\u30018.902",
    "58 point 3 north",
    "NH 123 456 of the batch",
)
IN_WORDS = (
    "fifty-eight degrees eighteen minutes north",
    "fifty eight north, nine west",
    "fifty-eight point three zero four",
    "/// filled.count.soap",
    "what3words filled count soap",
    "fifty-eight point three north",
    "fifty-eight point three north, eight point nine west",
    "north fifty-eight point three",
    "latitude fifty-eight point three",
    "minus eight point nine",
)
NEITHER = (
    "412 g picked, BE 53.2 % of 4 blocks",
    "it read 18 ° 85 % with the door open",
    "12 °C to 18 °C",
    "light 12:12",
    "humidity 85-95 %, 14.5 oz",
    "2 cm long, 12 of them",
    "1.2 kg, 3.4 kg and 0.5 kg",
    "fan 1 m from the block",
    "T2 on 2026-11-20",
    "6500 K and 118 cfm",
    "B-031.2 on day 17",
    "15 psi 2.5 h",
    "two steps from the wild",
    "3 blocks in the tent",
    "raised the duct 30 cm above the floor",
    "120 cm from the floor",
    "on the north side of the log",
    "every 15 min",
    "day 5 to 7",
    "all 4 m of it",
    "10 m of hose",
    "2 m from the lamp",
    "30 cm N of centre",
    "up 3 steps to the loft",
    "every 30 min from six",
    "10 minutes from switching on",
    "an hour from the soak to the tent",
    "2 min every 15 min, an hour's rest",
    "12.5 W lamp and 24 W fan",
    "north of the lamp, south of the fan",
    "2026-11-20 and 2026-11-21",
    "OK 2026-11-20",
    "24/11/2026",
    "1.2 kg. 3.4 kg",
    "two point five kilos",
    "it took 200. 2026 was wetter",
    "5 l of water, 50 ml each",
    "12/12 light",
    "5m of hose, 60m of it",
    "1200 g + 300 g",
    "100,000 spores",
    "half way between two waterings",
    "between the lamp and the door",
    "at 400 ppm",
    "20 min up, 10 min down",
    "RH 85 90",
    "2.3456 kg",
    "2.34567 kg of it",
    "Batch AB 123 456",
    "lot ABC 123 456",
    "Lot TF 90 77",
    "block code NX 7701 1204",
    "the key tent.shed.humidity",
    "www.example.com",
    "90 %",
    "121 °C 45 min",
    "0.75 kg",
    "03.10.2026",
    "12:12",
    "two point five kilos and three point one kilos",
)


def left_of(text: str) -> str:
    """The letters and digits of a text that belong to no position and no way."""
    plain = normalise(text)
    taken = {at for start, end in [*positions_in(plain), *directions_in(plain)] for at in range(start, end)}
    return "".join(letter for at, letter in enumerate(plain) if at not in taken and letter.isalnum())


@pytest.mark.parametrize("text", POSITIONS)
def test_a_position_is_found_whole(text: str) -> None:
    assert list(positions_in(normalise(text)))
    assert not any(letter.isdigit() for letter in left_of(text))


@pytest.mark.parametrize("text", IN_WORDS)
def test_a_position_in_words_is_found(text: str) -> None:
    assert "" == left_of(text)


@pytest.mark.parametrize("text", NEITHER)
def test_what_a_grower_writes_of_a_tent_is_left_alone(text: str) -> None:
    plain = normalise(text)
    assert [] == [plain[start:end] for start, end in [*positions_in(plain), *directions_in(plain)]]


def test_three_words_with_dots_may_be_a_position_or_a_name_of_something_else() -> None:
    assert [(3, 20)] == list(perhaps_positions_in("at filled.count.soap, the log"))
    assert not list(perhaps_positions_in("see www.example.com or notes.md"))
