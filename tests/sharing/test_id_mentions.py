"""IDs as people write them; what only looks like one is left alone."""

from __future__ import annotations

import pytest

from journal.sharing.normalise import Normalised, WrittenIds

HIDDEN = ("B-032", "B-033", "VF-26A", "PP-26", "F26-002", "wash-house", "A-1", "T1", "ST2601", "loft")
SHARED = ("B-031", "PP-26A", "PP-26A-6", "X-B-032", "B-3")


def told(text: str, keen: bool = True) -> list[tuple[str, str]]:
    folded = Normalised(text)
    ids = WrittenIds(HIDDEN, SHARED, keen=keen)
    return [(folded.plain[start:end], id) for start, end, id in ids.mentions_in(folded)]


@pytest.mark.parametrize("keen", [True, False])
@pytest.mark.parametrize(
    ("written", "id", "text"),
    [
        ("B-032", "B-032", "like B-032."),
        ("b-032.2", "B-032", "like b-032.2, so"),
        ("B032", "B-032", "(B032)"),
        ("B 032", "B-032", "B 032 again"),
        ("B_032", "B-032", "B_032"),
        ("B-\n032", "B-032", "block B-\n032"),  # parted at the end of a line
        ("B-032", "B-032", "two B-032s"),
        ("B-032", "B-032", "B-032's"),
        ("VF26A", "VF-26A", "from VF26A"),
        ("PP-26", "PP-26", "PP-26, not PP-26A"),
        ("PP-26", "PP-26", "PP-26-B6"),
        ("F26002", "F26-002", "see F26002"),
        ("wash house", "wash-house", "the wash house"),
        ("washhouse", "wash-house", "the washhouse"),
        ("A-1", "A-1", "a plate, A-1"),
        ("T1", "T1", "as T1 was"),
        ("ST2601", "ST2601", "ST2601"),
        ("loft", "loft", "the loft"),
    ],
)
def test_an_id_is_found_as_people_write_it(written: str, id: str, text: str, keen: bool) -> None:
    assert [(written, id)] == told(text, keen)


@pytest.mark.parametrize(
    ("written", "text"),
    [
        (["B-32"], "like B-32"),
        (["VF-26-A"], "VF-26-A"),
        (["032"], "B-031/032"),
        (["032", "033"], "B-031, 032 and 033"),
        (["B-032", "033"], "B-032 to -033"),
        (["A 1"], "plate A 1"),
        (["ST-2601"], "ST-2601"),
    ],
)
def test_a_keen_eye_finds_more(written: list[str], text: str) -> None:
    assert written == [one for one, _ in told(text)]
    assert written != [one for one, _ in told(text, keen=False)]


@pytest.mark.parametrize(
    "text",
    [
        "B-031 and B-031.2, PP-26A and pp26a, B-3, B 031",
        "PP-26A-6 and PP-26A-6Pleurotus",  # a shared ID to which a word was joined where tags were taken out
        "X-B-032",
        "a 1 kg bag",
        "B-0321, AB-032, B-032x",
        "VF-26 a week later",
        "B-031, 12 blocks; B-031, 032 g; B-031, 20 November",
        "lofty",
    ],
)
def test_what_is_shared_or_something_else_is_left_alone(text: str) -> None:
    assert [] == told(text)
