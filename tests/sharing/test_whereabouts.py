"""Positions and ways in a text, in the notations that are in use; what is neither is left alone."""

from __future__ import annotations

import pytest

from journal.sharing.folding import fold
from journal.sharing.whereabouts import positions_in, ways_in

POSITIONS = (
    "58.30412, -8.90177",
    "58.30412 N 8.90177 W",
    "N 58.304 W 8.902",
    "58°18'14.8\"N 8°54'06\"W",
    "58° 18.247′ N, 8° 54.106′ W",
    "58 18 14.8 N, 8 54 06.4 W",
    "58:18:14.8N 8:54:06W",
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
)
WAYS = (
    "250 m NE of the pier",
    "1.2 km north-east of the ferry",
    "300 yards past the bridge",
    "bearing 240° from the lighthouse",
    "240° true",
    "N 35° E",
    "half a mile along the shore",
    "two hundred paces up the burn",
    "15 minutes walk from the pier",
    "40 m from the gate",
    "on a heading of 35 degrees magnetic from the gate",
    "0.8 miles south-west",
    "400 m further up the burn",
    "20 paces SE of the stump",
    "three miles inland",
    "5 min walk uphill",
    "45 ft past the wall",
    "some 300 m to the north",
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
)


def left_of(text: str) -> str:
    """The letters and digits of a text that belong to no position and no way."""
    plain = fold(text)
    taken = {at for start, end in [*positions_in(plain), *ways_in(plain)] for at in range(start, end)}
    return "".join(letter for at, letter in enumerate(plain) if at not in taken and letter.isalnum())


@pytest.mark.parametrize("text", POSITIONS)
def test_a_position_is_found_whole(text: str) -> None:
    assert list(positions_in(fold(text)))
    assert not any(letter.isdigit() for letter in left_of(text))


@pytest.mark.parametrize("text", WAYS)
def test_a_way_is_found_with_its_number_and_its_landmark(text: str) -> None:
    assert list(ways_in(fold(text))) or list(positions_in(fold(text)))
    left = left_of(text)
    assert not any(letter.isdigit() for letter in left)
    assert not any(mark in left for mark in ("pier", "ferry", "bridge", "gate", "stump", "wall", "shore", "burn"))


@pytest.mark.parametrize("text", NEITHER)
def test_what_a_grower_writes_of_a_tent_is_left_alone(text: str) -> None:
    plain = fold(text)
    assert [] == [plain[start:end] for start, end in [*positions_in(plain), *ways_in(plain)]]
