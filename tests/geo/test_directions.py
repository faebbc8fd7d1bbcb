"""Ways in a text, from which a place could be calculated; what is none is left alone (see `test_whereabouts`)."""

from __future__ import annotations

import pytest

from journal.geo.detect import positions_in
from journal.geo.directions import directions_in
from journal.sharing.normalise import normalise
from tests.geo.test_detect import left_of

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
    "300m past the bridge",
    "3km from the ferry",
    "250m NE of the pier",
    "45ft past the wall",
    "a mile and a half up the shore",
    "two and a half miles from the gate",
    "an hour's walk from the ferry",
    "2 min from the bridge",
    "ten minutes from the ferry",
    "a ten-minute walk from the pier",
    "20 min up the burn",
    "bearing 214 from the pier",
    "bearing two hundred and fourteen degrees from the pier",
    "at two hundred and fourteen degrees from the pier",
    "due north of the pier",
    "north of the pier",
    "two fields north-east of the gate",
    "half way between the pier and the bridge",
    "3 m from the gate",
    "between the ferry and the bridge",
)


@pytest.mark.parametrize("text", WAYS)
def test_a_way_is_found_with_its_number_and_its_landmark(text: str) -> None:
    assert list(directions_in(normalise(text))) or list(positions_in(normalise(text)))
    left = left_of(text)
    assert not any(letter.isdigit() for letter in left)
    assert not any(mark in left for mark in ("pier", "ferry", "bridge", "gate", "stump", "wall", "shore", "burn"))
