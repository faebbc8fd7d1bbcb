"""What may tell a place is flagged, of whatever kind it is; what a grower writes of a tent is not."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from journal.sharing.flags import Flag, flags_in
from tests.bench.place_flags import TEXTS, is_flagged, rows_of

MORE = Path(__file__).parent / "place_texts_more.json"


@pytest.mark.parametrize("path", [TEXTS, MORE], ids=lambda path: path.stem)
def test_nine_in_ten_texts_that_tell_a_place_are_flagged_and_three_in_ten_others_at_most(path: Path) -> None:
    rows = rows_of(path)
    telling = [row for row in rows if row.secret]
    others = [row for row in rows if not row.secret]
    missed = [row.text for row in telling if not is_flagged(row)]
    assert len(missed) <= 0.1 * len(telling), "\n".join(missed)
    flagged = [row.text for row in others if is_flagged(row)]
    assert len(flagged) <= 0.3 * len(others), "\n".join(flagged)


TELLING = (
    ("name", "the willow at Heron Slip", "Heron Slip"),
    ("name", "nothing this year near kilbraith", "kilbraith"),
    ("name", "under the trees we call the Pantry", "Pantry"),
    ("direction", "two doors past the bakery", "two doors past the bakery"),
    ("landmark", "a willow behind the old tractor", "behind the old tractor"),
    ("landmark", "stone lions and a monkey puzzle", "stone lions"),
    ("road", "an elder in the lay-by", "lay-by"),
    ("road number", "in the verge of the B885", "B885"),
    ("water", "an alder over the weir", "weir"),
    ("transport", "opposite the bus shelter", "bus shelter"),
    ("direction", "get off at the second stop after the tunnel", "second stop after the tunnel"),
    ("terrain", "all over the hillside since the rain", "hillside"),
    ("owner", "the forester lets us pick", "forester"),
    ("owner", "in the neighbour's wood", "neighbour's wood"),
    ("direction", "a mile and a half from home", "a mile and a half"),
    ("direction", "forty paces past the gate", "forty paces past the gate"),
    ("direction", "turn left at the stile and keep the wall on your right", "turn left at the stile"),
    ("direction", "ten minutes' walk, all uphill", "ten minutes' walk"),
    ("direction", "north of the loch", "north of the loch"),
    ("view", "you can see the mast from the log", "see the mast"),
    ("view", "near enough to hear the foghorn", "foghorn"),
    ("view", "the sun sets behind the steeple", "sun sets behind the steeple"),
    ("house", "red door with a brass knocker", "red door"),
    ("code", "compartment 214f has been thinned", "214f"),
    ("code", "peg 9, the fallen alder", "peg 9"),
    ("code", "filled.count.soap is the log", "filled.count.soap"),
    ("postcode", "ZQ14 7LW, then on foot", "ZQ14 7LW"),
    ("telephone", "the keeper has 01234 567 890", "01234 567 890"),
    ("network", "wifi there is called HARBOUR_5G", "HARBOUR_5G"),
    ("link", "see https://maps.example/?q=58.31,-8.90", "58.31,-8.90"),
    ("file", "as in alder-walk.gpx", "alder-walk.gpx"),
    ("position", "58.30412, -8.90177", "58.30412, -8.90177"),
    ("height", "at 340 m, under birch", "340 m"),
    ("landmark", "crematorium stump again", "crematorium"),
    ("landmark", "near the concrete cow", "concrete cow"),
    ("landmark", "start at the board with the squirrel on it", "the board"),
    ("landmark", "the hedge is full of jelly ear", "the hedge"),
    ("landmark", "three turbines in a row", "three turbines"),
    ("landmark", "the purple route", "purple route"),
    ("name", "under what we call the widow's tree", "widow's tree"),
    ("owner", "it is KLV land", "KLV land"),
    ("direction", "over to the third gap", "third gap"),
    ("direction", "second yew from the porch", "second yew"),
    ("direction", "four doors down from the chandler", "four doors down"),
    ("direction", "2 gates along", "2 gates"),
    ("direction", "not five minutes from where I sleep", "five minutes"),
    ("direction", "1.2 km as the crow flies", "1.2 km"),
    ("direction", "an hour in, at a trot", "an hour in"),
    ("direction", "it was on our left, an alder", "on our left"),
    ("direction", "left again, then the stump", "left again"),
    ("direction", "bear left, oysters", "bear left"),
    ("direction", "follow the larches down", "follow the larches"),
    ("direction", "east bank, alder", "east bank"),
    ("view", "could hear them testing the engine", "testing the engine"),
    ("view", "spring tides wet the lowest caps", "spring tides"),
    ("position", "fifty-seven fifty-four and nine twenty-five", "fifty-seven fifty-four"),
    ("code", "4418 2093 on the sheet", "4418 2093"),
    ("code", "altimeter read 412", "412"),
    ("code", "HQ5: morels, come back", "HQ5"),
    ("code", "gf0zq8t2 is the log", "gf0zq8t2"),
    ("code", "it said 'otter, ribbon, mosaic'", "otter, ribbon, mosaic"),
    ("code", "as in N58-31_W8-90.jpg", "N58-31_W8-90"),
    ("code", "NX14 8827", "NX14 8827"),
    ("code", "and 512340 E", "512340 E"),
    ("name", "Hinter der Kapelle von Obermoosach, drei Buchen weiter.", "Obermoosach"),
    ("landmark", "derrière l'église, sous les hêtres", "derrière l'église"),
    ("landmark", "rett nedenfor skytebanen, på en gammel or", "skytebanen"),
    ("landmark", "za młynem, na starej wierzbie", "młynem"),
)


@pytest.mark.parametrize(("kind", "text", "stretch"), TELLING, ids=[text for _, text, _ in TELLING])
def test_what_reveals_a_place_is_within_a_flag_of_its_kind(kind: str, text: str, stretch: str) -> None:
    at = text.index(stretch)
    around = [flag for flag in flags_in(text) if flag.start <= at and at + len(stretch) <= flag.end]
    assert [text[around[0].start : around[0].end]] == [flag.text for flag in around]
    assert {kind} <= {flag.kind for flag in flags_in(text)}


HARMLESS = (
    "held at 14 °C for nine days, then 11 overnight",
    "412 g from block 2, 2.3 kg wet, 38 % solids",
    "Batch AB 123 456 went in on Friday",
    "B-032 and B-033 share a spawn jar",
    "Pleurotus pulmonarius (Fr.) Quél. is the name I use",
    "spores 7.2–9.1 × 3.4–4.3 µm, Q = 2.1, smooth",
    "block 3 on the top shelf, left of the fan",
    "two steps from the sink to the still-air box",
    "the second plate from the left has a sector",
    "we are not out of the woods with this contamination yet",
    "that flush was water under the bridge",
    "Norway spruce dust against Scots pine dust",
    "Chicken of the Woods and King Oyster",
    "likes dead willow near water, also poplar and elder",
    "amyloid in Melzer's reagent",
    "Ruth says the second flush tastes better",
    "lights off at 22:30, 6500 K, about 600 lux at the caps",
    "the paper is at https://example.org/journals/lentinula.html",
    "see page 112, left column",
    "you can hear the damper click from the bed",
)


@pytest.mark.parametrize("text", HARMLESS)
def test_what_a_grower_writes_of_a_tent_has_no_flag(text: str) -> None:
    assert () == flags_in(text)


def test_what_the_journal_knows_is_not_flagged() -> None:
    text = "Brindle One on Hollin wood, said Anselm Orrin"
    assert flags_in(text)
    assert () == flags_in(text, ["brindle one", "hollin", "Anselm Orrin"])


def test_flags_are_in_order_and_do_not_overlap() -> None:
    text = (
        "Past the church, over the stile by Far Stell; at 340 m. Nothing here.\n\nThe keeper's hut: 58.30412, -8.90177."
    )
    flags = flags_in(text)
    assert list(flags) == sorted(flags)
    assert all(before.end < after.start for before, after in pairwise(flags))
    assert all(text[flag.start : flag.end] == flag.text for flag in flags)
    assert "Nothing" not in "".join(flag.text for flag in flags)


def test_offsets_are_those_of_the_text_as_it_is_written() -> None:
    text = "*Ein* Stück &amp; hinter der K**irch**e"
    (flag,) = flags_in(text)
    assert text[flag.start : flag.end] == flag.text
    assert flag.text.endswith("hinter der K**irch**e")


def test_an_address_is_flagged_only_where_it_leads_to_a_map() -> None:
    text = "[the paper](https://example.org/heron-slip/church.html) and [here](https://osm.example/#14/58.3041/-8.9017)"
    assert ["link"] == [flag.kind for flag in flags_in(text)]


def test_a_text_without_words_has_no_flag() -> None:
    assert () == flags_in("")
    assert () == flags_in("— 12 % …\n\n**")


def test_a_flag_says_what_it_is() -> None:
    assert (Flag(0, 9, "water", "The weir."[:9]),) != flags_in("The weir.")
    assert (Flag(0, 8, "water", "The weir"),) == flags_in("The weir.")
