"""What the author wrote, without what is not shared."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from journal.model import Journal
from journal.settings import Share
from journal.sharing.clean_text import (
    _CLOCK_OTHERWISE,
    _ENDINGS,
    _POSTCODE,
    _TELEPHONE,
    Cleaner,
    doubts_in,
    file_names_of,
    files_in,
)
from journal.sharing.detectors import Detectors, detectors_of
from journal.sharing.grant import grant_of
from journal.sharing.redact import cleaner_of
from tests.builders import examples
from tests.growth import filled, grows_faster_than_a_scan

WOOD = {
    "journal.toml": '[journal]\nauthor = "Night porter"\n'
    'site_url = "https://porter.example/woods"\n[tents.hut]\nname = "Wash-house tent"\n',
    "finds/2026-09-12-alder-bank/find.md": "---\nkind: find\nid: F26-001\ndate: 2026-09-12 06:10\n"
    "place: Alder Bank, by the old oak\nwhere: 58.30412, -8.90177\npermission: the crofter at Kiln Brae\n---\n",
    "finds/b/find.md": "---\nkind: find\nid: F26-002\ndate: 2026-09-12 10:40\nplace: Kiln\nby: The ferry baker\n---\n",
    "c/PP-26A.md": "---\nkind: culture\nid: PP-26A\nfrom: F26-001\ndate: 2026-09-13 14:05\n---\n",
    "c/ST2601.md": "---\nkind: culture\nid: ST2601\nfrom: PP-26A\ndate: 2026-10-01 07:30\n---\n",
    "c/PP-26.md": "---\nkind: culture\nid: PP-26\nreceived from: a swap with Hans\ndate: 2026-09-13 14:30\n---\n",
    "b/B-031.md": "---\nkind: batch\nid: B-031\nculture: PP-26A\ndate: 2026-10-06\n---\n"
    "On kiln dried oak, in an alder carr.\n",
    "d/fan.md": "---\nkind: device\nid: fan\ntent: hut\ndate: 2026-01-02 07:05\n---\n",
    "d/fan-1.md": "---\nkind: device\nid: fan-1\ntent: hut\ndate: 2026-01-02 12:15\n---\n",
}  # fmt: skip
PHOTOS = {"finds/2026-09-12-alder-bank/IMG_0412.jpg": {}, "b/green block 3.jpg": {}, "b/première-pesée.jpg": {}}
GONE = "(not shared)"
CLOCKS = (
    "10.40", "1040 hrs", "10\uff1a40", "10h40", "10 40 am", "10.40 hrs", "10.40 am", "10 40 hrs", "07.05", "10 Uhr 40",
    "\uff11\uff10:\uff14\uff10", "10\u223640", "10.40 GMT",
)  # fmt: skip
NUMBERS = (
    "07911 123456", "(020) 7946 0958", "020 7946 0958", "01632 960123", "01632-960-123", "(212) 555-0147", "555-0123",
    "0044 20 7946 0958", "ZE2 9LW", "ze2 9lw", "SW1A1AA",
)  # fmt: skip
"""Telephone numbers, which but for the first are kept for fiction (Ofcom; North American Numbering Plan, from memory),
and postcodes."""


DOUBTS = (
    ("walk ", "250 m NE of the pier", " today", "direction"),
    ("walk ", "250m NE of the pier", " today", "direction"),
    ("in ", "the wood behind Ferry Cottage", "", "direction"),
    ("found ", "behind Ferry Cottage", "", "direction"),
    ("on a ", "bearing of 214° from the light", "", "direction"),
    ("write to ", "someone@island.example", " or me", "address or number"),
    ("write to ", "@baker", " or me", "address or number"),
    ("call ", "+44 1234 567 890", "", "address or number"),
    *(("ask ", number, ", or not", "telephone number") for number in NUMBERS[:8]),
    *(("ask ", number, ", or not", "postcode") for number in NUMBERS[8:]),
    ("at ", "half past seven", " or so", "time of day"),
    ("plate 1, ", "twenty to eleven", " the same evening", "time of day"),
    ("seen at ", "17:23", " by me", "time of day"),
    ("in ", "C:\\Users\\someone\\wood", "", "file name"),
    ("an older photo, ", "DSC00123", "", "file name"),
    ("see ", "notes.txt", " there", "file name"),
    ("see ", "https://a.example/x?id=4", " there", "web address"),
    ("at ", "filled.count.soap", " today", "position"),
)
"""What only its author can judge: (before it, the stretch, after it, what it is)."""


@pytest.fixture(scope="module")
def wood(make_journal: Callable[..., Journal]) -> Journal:
    return make_journal(WOOD, PHOTOS)


@pytest.fixture(scope="module")
def clean(wood: Journal) -> Callable[[str], str]:
    share = Share(name="mentor", about=("B-031", "ST2601"))
    return cleaner_of(wood, grant_of(wood, share), ["tracks/my-way-home.gpx"]).words


@pytest.mark.parametrize(
    ("left", "text"),
    [
        # IDs
        ("From PP-26A to B-031.2", "From PP-26A to B-031.2"),
        (f"like {GONE}, not like PP-26A", "like PP-26, not like PP-26A"),
        (f"like {GONE} and {GONE}.", "like pp-26.3 and F26-002."),
        (f"like {GONE}'s own", "like PP‑26's own"),
        (f"like {GONE}", "like PP\\-26"),
        ("the fan hums", "the fan hums"),  # an ID that is an ordinary word of the program
        (f"the {GONE} hums", "the fan-1 hums"),
        # places, whole and in parts, in any spelling
        (f"down at {GONE} again", "down at Alder Bank again"),
        (f"down at {GONE} again", "down at ALDER  BANK again"),
        (f"down at {GONE} again", "down at Alder\nBank again"),
        (f"down at {GONE} again", "down at alder-bank again"),
        (f"down at {GONE} again", "down at Alderbank again"),
        (f"down at **{GONE}*** again", "down at **Alder *Bank*** again"),
        (f"down at {GONE} again", "down at Al&#100;er&nbsp;Bank again"),
        (f"under {GONE}", "under the old oak"),
        ("in an alder carr", "in an alder carr"),
        (f"at {GONE}, not in a kiln", "at Kiln, not in a kiln"),
        # permissions and persons
        (f"ask {GONE}", "ask the crofter at Kiln Brae"),
        (f"{GONE} said so, and {GONE} nodded", "The ferry baker said so, and Hans nodded"),
        (f"{GONE} was asleep", "The night porter was asleep"),
        # tents that are not named
        (f"moved to {GONE}", "moved to the wash-house tent"),
        # positions
        (f"at {GONE}!", "at 58.30412, -8.90177!"),
        (f"at {GONE}", "at 58.3 8.9"),  # a known place, however it is rounded
        ("at 61.3 8.9", "at 61.3 8.9"),
        ("plate ST2601 is like PP-26A", "plate ST2601 is like PP-26A"),  # an ID that is shared is no square of a grid
        # times of day that something in the journal bears
        (f"seen at {GONE}, picked {GONE}", "seen at 14:05, picked 7.30 am"),
        (f"{GONE}: picked,{GONE} weighed", "14:05: picked,14:30 weighed"),
        ("at 10:41 or 2.05 pm"[:8] + f" or {GONE}", "at 10:41 or 2.05 pm"),
        ("five to eight millimetres a day", "five to eight millimetres a day"),
        (f"2026-10-03{GONE}", "2026-10-03T14:05+01:00"),
        ("light 12:12, then 16:08", "light 12:12, then 16:08"),
        ("lamp 06:30–18:30", "lamp 06:30–18:30"),
        ("on day 17, 2.5 h", "on day 17, 2.5 h"),
        *((f"picked {GONE}", f"picked {clock}") for clock in CLOCKS),
        (f"at {GONE}, home by {GONE}.", "at 1040, home by 12.15."),
        # files
        (f"see {GONE}", "see IMG_0412.jpg"),
        (f"see {GONE}", "see img_0412"),
        (f"see {GONE} there", "see green block 3.jpg there"),
        (f"see {GONE}", "see première-pesée.jpg"),
        (f"in {GONE}", "in finds/2026-09-12-alder-bank/find.md"),
        (f"in {GONE}", "in /home/someone/journal/IMG_0412.jpg"),
        (f"walked {GONE}", "walked my-way-home.gpx"),
        # several beside each other are said once
        (f"at {GONE} there", "at Alder Bank, 58.30412, -8.90177 there"),
    ],
)
def test_what_is_not_shared_is_taken_out(clean: Callable[[str], str], left: str, text: str) -> None:
    assert left == clean(text)


@pytest.mark.parametrize(
    "text",
    [
        "412 g from 4 blocks, BE 53.2 %; the duct 30 cm above the floor, 15 min on, 15 min off.",
        "White right through on day 15. *Slightly* ropey `at the rim`.",
        "# A heading\n\n- a list\n- of two\n\n> and a word",
        "oak pellets 5 kg, wheat bran 1.2 kg, water 8.6 kg at 121 °C for 2.5 h",
        "2.3456 kg, Batch AB 123 456, see www.example.com and https://www.example.com today",
        "90 %, light 12:12, 121 °C 45 min, 0.75 kg, on 2026-10-03, 03.10.2026 and 3 October",
        "10.40 kg, from 10.40 to 12.50 kg, pH 5.50, BE 10.40 %, 0.50, 0.75 and 1.25 kg",
        "| 10.40 | 0.75 |, 1.20 x 0.80 m, 1040 ppm, at 1200 g, since 2026, T2 5lb, T1 2kg, 0 12 15 18 22 31",
        "a log by the lake, the oak pellets by the door, behind the lamp",
        "fan bearing 608-2RS replaced, block code HX 7701 1204, Lot TF 90 77, spawn.log.old, notes-2026.md",
        *(f"{before}{doubt}{after}" for before, doubt, after, _ in DOUBTS),
    ],
)
def test_what_reveals_nothing_stays_as_it_is(clean: Callable[[str], str], text: str) -> None:
    assert text == clean(text)


@pytest.mark.parametrize(("before", "doubt", "after", "kind"), DOUBTS)
def test_what_only_its_author_can_judge_is_pointed_out(before: str, doubt: str, after: str, kind: str) -> None:
    found = list(doubts_in(before + doubt + after, Share(name="m")))
    assert (len(before), len(before) + len(doubt), kind) in found


def test_a_time_of_day_is_not_a_doubt_where_the_share_tells_minutes() -> None:
    assert [] == list(doubts_in("seen at 17:23", Share(name="m", times="minute")))


@pytest.mark.parametrize("piece", ["1", "0 ", "10.40 ", "0-", "A ", "AB1 ", "10.40, ", "ring ", ".1", "1,", "( ", "0("])
def test_a_long_text_is_searched_in_one_go(piece: str) -> None:
    def search(text: str) -> None:
        for pattern in (_TELEPHONE, _POSTCODE, _CLOCK_OTHERWISE):
            assert all(found.end() > found.start() for found in pattern.finditer(text))

    assert not grows_faster_than_a_scan(search, filled("", piece), 2_000)


@pytest.mark.parametrize(
    ("left", "text"),
    [
        ("see the log", "see [the log](../climate/hut.csv)"),
        ("see [a page](https://moulds.example/green)", "see [a page](https://moulds.example/green)"),
        ("see [a page](https://a.example/x?id=4)", "see [a page](https://a.example/x?id=4)"),
        ("see a page", "see [a page](https://a.example/x?at=58.30412,-8.90177)"),
        ("see a map", "see [a map](https://maps.example/x)"),
        ("see a page", "see [a page](https://wood.example/alder-bank)"),
        ("see a page", "see [a page](https://wood.example/alder%20bank)"),
        (f"see {GONE}", "see [Alder Bank](https://wood.example/x-and-y)"),
        (f"see {GONE}", "see Alder [Bank](https://wood.example/x-and-y) "[:-1]),
        ("call", "call [](tel:+441234567890)"[:4]),
        (f"at {GONE}", "at <geo:58.30412,-8.90177>"),
        (f"see {GONE}.", "see https://maps.example/@58.3,-8.9,17z."),
        ("see https://moulds.example/green.", "see https://moulds.example/green."),
        ("see [x]\n", "see [x]\n\n[x]: https://wood.example/x 'Alder Bank'\n"[:8] + "[x]: https://wood.example/y\n"),
        ("a picture: ", "a picture: ![Alder Bank](IMG_0412.jpg)"),
        ("see [a block](B-031.2) of [it](pp-26a)", "see [a block](B-031.2) of [it](pp-26a)"),
        ("see a clone", "see [a clone](PP-26)"),  # which is not shared
        ("see a clone", "see [a clone](PP-99)"),
        (f"see {GONE}", "see https://porter.example/woods/finds/"),  # the author's own site
        (f"see {GONE}", "see porter.example"),
        (f"PP-26A{GONE}", "PP-26A[Night porter](https://moulds.example/green)"),
        (f"at {GONE}", "at -8.90177*PP-26"),  # what is taken out had hidden what stood beside it
    ],
)
def test_links_stay_where_they_reveal_nothing(clean: Callable[[str], str], left: str, text: str) -> None:
    assert left == clean(text)


def test_a_picture_that_is_shown_has_its_new_name_and_a_cleaned_caption(wood: Journal) -> None:
    cleaner = cleaner_of(wood, grant_of(wood, Share(name="m", about=("B-031",))))
    text = "So:\n\n![pins at Alder Bank](IMG_0412.jpg 'x')\n\n![other](IMG_9999.jpg)"
    shown = {"IMG_0412.jpg": "picture-1.jpg"}.get
    assert f"So:\n\n![pins at {GONE}](picture-1.jpg)\n\n" == cleaner.prose(text, shown)


@pytest.mark.parametrize(
    ("left", "text"),
    [
        ("one\ntwo", "one\n::: private\nsecret\n:::\ntwo"),
        ("one\n", "one\n::: private\nsecret\n"),
        ("one\n", "one\n:::AUTHOR\nsecret"),
    ],
)
def test_authors_passages_are_gone(clean: Callable[[str], str], left: str, text: str) -> None:
    assert left == clean(text)


ATOMS = (
    "Alder Bank", "PP-26", "PP-26A", "B-031", "Kiln Brae", "the ferry baker", "Night porter", "Hans", "58.30412",
    "-8.90177", "8.9", "06:10", "14:05", "wash-house tent", "IMG_0412.jpg", "finds/b/find.md", "on", "and", "412 g",
    "https://porter.example/woods/", "300m past the pier", "NE", "58°18′", "14.8″", "north", "of the pier", "B-", "26A",
)  # fmt: skip
JOINTS = (
    " ", ", ", ". ", "\n", "\n\n", " **", "** ", "-", "/", " - ", "*", "`", "_", ": ", "(", ") ", "[",
    "](https://moulds.example/green) ", "&nbsp;", "<b>", "</b>", "\u00ad", "\u200b",
)  # fmt: skip


@pytest.fixture(scope="module")
def both(wood: Journal) -> tuple[Cleaner, Detectors]:
    share = Share(name="mentor", about=("B-031",))
    return cleaner_of(wood, grant_of(wood, share)), detectors_of(wood, share)


@examples(60, suppress_health_check=list(HealthCheck))
@given(pieces=st.lists(st.tuples(st.sampled_from(ATOMS), st.sampled_from(JOINTS)), min_size=1, max_size=9))
def test_in_what_is_left_the_search_at_the_end_finds_nothing(
    both: tuple[Cleaner, Detectors], pieces: list[tuple[str, str]]
) -> None:
    """Else a text of the author's own would stop the share. Words that are glued to a name are let alone here, and
    ways, which the author decides on."""
    cleaner, detectors = both
    left = cleaner.words("".join(atom + joint for atom, joint in pieces))
    assert set() == {told.what for told in detectors.found_in(left)} - {
        "a word of what is not shared", "a way from which a place could be calculated",
    }  # fmt: skip


def cleaner_for(wood: Journal, **more: object) -> Cleaner:
    return cleaner_of(wood, grant_of(wood, Share(name="m", about=("B-031",), **more)))  # type: ignore[arg-type]


def test_a_share_by_the_minute_keeps_times_of_day(wood: Journal) -> None:
    assert "at 14:05" == cleaner_for(wood, times="minute").words("at 14:05")


def test_a_share_that_shows_persons_keeps_those_who_did_what_is_shared(wood: Journal) -> None:
    """The author made the batch; whose fridge something else came from is nobody's business."""
    assert f"the night porter and {GONE}" == cleaner_for(wood, by=True).words("the night porter and Hans")


def test_names_of_files_are_those_that_say_something(wood: Journal) -> None:
    names = file_names_of(wood, ["tracks/2026-09-12.gpx"])
    assert {"img_0412", "img_0412.jpg", "2026-09-12-alder-bank", "green block 3.jpg", "2026-09-12.gpx"} <= names
    assert not {"find", "b", "2026-09-12", "b-031", "finds"} & names


PLAIN_FILE = re.compile(rf"(?<![\w.])[\w~%+()/\\:@-]*[\w)](?:\.[\w-]+)*\.(?:{_ENDINGS})\b", re.IGNORECASE)
PIECES = st.sampled_from(["a", ".", "-", "/", "(", ")", " ", ".jpg", ".MD", ".gpx", "_", "é", ":", "jpg", "\n", "1"])


@given(st.lists(PIECES, max_size=14).map("".join))
def test_names_of_files_are_found_as_the_plain_pattern_finds_them(text: str) -> None:
    assert [found.span() for found in PLAIN_FILE.finditer(text)] == list(files_in(text))
