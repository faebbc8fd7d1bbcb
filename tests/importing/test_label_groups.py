from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from journal.importing.code_scan import Scan
from journal.importing.destinations import Subject
from journal.importing.label_groups import (
    NO_PIXELS,
    UNREADABLE,
    Placed,
    Shot,
    answered,
    in_words,
    order_notices,
    place,
    runs_to_ask,
    shot_of,
)
from journal.importing.photo_files import Content, Inspected, Source
from journal.model import Ref
from journal.problems import Refusal

SITE = "https://journal.example/tarn-skerry"
KNOWN = {"b-031": "B-031", "b-032": "B-032", "b-031.2": "B-031.2", "b-013": "B-031"}


def named(typed: str) -> Subject:
    if typed.lower() not in KNOWN:
        raise Refusal(f"there is no {typed} in this journal; did you mean B-031?")
    id, _, part = KNOWN[typed.lower()].partition(".")
    return Subject(Ref(id, int(part) if part else None), "batch")


def inspected(name: str, at: str | None) -> Inspected:
    """A photo taken on one day at `07:31` or `07:31:05`, or with no time in it."""
    taken = datetime.fromisoformat(f"2026-10-27T{at}").replace(tzinfo=UTC) if at else None
    return Inspected(Content(Source(Path(name), name), name, 1), taken)


def shot(name: str, at: str | None, *texts: str, unreadable: bool = False) -> Shot:
    return shot_of(inspected(name, at), Scan(texts, unreadable), SITE, named)


def rows(placed: list[Placed]) -> list[tuple[str, str | None]]:
    return [(one.shot.name, str(one.ref) if one.ref else None) for one in placed]


def refs(*shots: Shot, minutes: float = 5) -> list[str | None]:
    """What each belongs to, in the order in which they were taken."""
    return [ref for _, ref in rows(place(shots, timedelta(minutes=minutes)))]


@pytest.mark.parametrize(
    ("texts", "labels", "doubts"),
    [
        ([], [], []),
        (["B-031"], ["B-031"], []),
        (["b-031", f"{SITE}/batches/b-031/"], ["B-031"], []),
        ([f"{SITE}/batches/b-031/#2"], ["B-031.2"], []),
        (["B-031", "B-032"], ["B-031", "B-032"], []),
        (["B-099"], [], ["a label, but there is no B-099 in this journal"]),
        (["B-03"], [], ["a label, but there is no B-03 in this journal"]),
        (
            ["https://elsewhere.example/batches/b-031/"],
            [],
            ['a QR code that is not a label of this journal ("https://elsewhere.example/batches/b-031/")'],
        ),
        (["javascript:B-031"], [], ['a QR code that is not a label of this journal ("javascript:B-031")']),
        (["B-031 B-032"], [], ['a QR code that is not a label of this journal ("B-031 B-032")']),
        (["A" * 4000], [], [f'a QR code that is not a label of this journal ("{"A" * 39}…")']),
        (["<b>\n\x1b[2J"], [], ['a QR code that is not a label of this journal ("<b> \x1b[2J")']),
        (["B-031", "C" * 900], ["B-031"], [f'a QR code that is not a label of this journal ("{"C" * 39}…")']),
    ],
)
def test_what_codes_name(texts: list[str], labels: list[str], doubts: list[str]) -> None:
    found = shot("a.jpg", "07:31", *texts)
    assert (labels, doubts) == ([str(one) for one in found.labels], list(found.doubts))
    assert (labels[0] if len(labels) == 1 and not doubts else None) == (str(found.label) if found.label else None)


def test_a_code_or_a_picture_that_cannot_be_read_names_nothing() -> None:
    assert (UNREADABLE,) == shot("a.jpg", "07:31", unreadable=True).doubts
    assert shot("a.jpg", "07:31", "B-031", unreadable=True).label is None
    assert (NO_PIXELS,) == shot_of(inspected("a.jpg", "07:31"), Scan(is_decoded=False), SITE, named).doubts


B31, B32 = ("07:00", "B-031"), ("07:10", "B-032")


@pytest.mark.parametrize(
    ("taken", "expected"),
    [
        ([B31, ("07:01",), ("07:02",), B32, ("07:11",)], ["B-031"] * 3 + ["B-032"] * 2),
        ([B32, ("07:11",), B31, ("07:01",)], ["B-031"] * 2 + ["B-032"] * 2),  # in the order of time
        ([("06:59",), B31, ("07:01",)], [None, "B-031", "B-031"]),
        ([B31, ("07:05",), ("07:10",), ("07:14",)], ["B-031"] * 4),  # each follows the one before it in time
        ([B31, ("07:05:01",), ("07:05:02",), B32], ["B-031", None, None, "B-032"]),  # nothing after a pause is
        ([B31, ("07:01", "B-032", "B-031"), ("07:02",)], ["B-031", None, None]),
        ([B31, ("07:01", "B-099"), ("07:02",), B32], ["B-031", None, None, "B-032"]),
        ([B31, ("07:01", "https://elsewhere.example"), ("07:02",)], ["B-031", None, None]),
        ([B31, ("07:01", "B-013"), ("07:02",)], ["B-031"] * 3),  # an earlier ID
    ],
)
def test_what_each_photo_belongs_to(taken: list[tuple[str, ...]], expected: list[str | None]) -> None:
    assert expected == refs(*(shot(f"{at}.jpg", *one) for at, one in enumerate(taken)))


def test_a_code_that_cannot_be_read_ends_the_group_before_it() -> None:
    shots = [shot("0.jpg", *B31), shot("1.jpg", "07:01", unreadable=True), shot("2.jpg", "07:02")]
    assert ["B-031", None, None] == refs(*shots)


def test_how_long_a_pause_may_be_is_the_authors_to_say() -> None:
    shots = [shot("0.jpg", *B31), shot("1.jpg", "07:45")]
    assert (["B-031", None], ["B-031", "B-031"]) == (refs(*shots), refs(*shots, minutes=45))


def test_photos_of_one_second_are_in_the_order_of_their_names_and_that_is_said() -> None:
    placed = place([shot("B.jpg", "07:00"), shot("a.jpg", "07:00", "B-031"), shot("c.jpg", "07:01")], timedelta(1))
    assert ["a.jpg", "B.jpg", "c.jpg"] == [name for name, _ in rows(placed)]
    (said,) = order_notices(placed)
    assert said.startswith("a.jpg and B.jpg were taken in the same second")


def test_photos_with_no_time_come_last_and_belong_to_nothing() -> None:
    shots = [shot("3.jpg", None), shot("2.jpg", None, "B-032"), shot("1.jpg", "07:01"), shot("0.jpg", *B31)]
    placed = place(shots, timedelta(minutes=5))
    assert [("0.jpg", "B-031"), ("1.jpg", "B-031"), ("2.jpg", "B-032"), ("3.jpg", None)] == rows(placed)
    assert "no time in it; by its name it follows the label B-032" == placed[-1].why
    (said,) = order_notices(placed)
    assert said.startswith("2 photos have no time in them")


def test_a_label_with_no_time_in_it_leaves_open_what_may_follow_it() -> None:
    shots = [shot("0.jpg", *B31), shot("1.jpg", "07:01"), shot("2.jpg", None, "B-032"), shot("3.jpg", "07:02")]
    shots += [shot("4.jpg", "07:03")]
    assert ["B-031", "B-031", None, None, "B-032"] == refs(*shots)


def test_open_photos_are_asked_about_together_where_one_reason_holds() -> None:
    shots = [
        shot("0.jpg", "06:00"), shot("1.jpg", "06:01"), shot("2.jpg", *B31), shot("3.jpg", "08:00"),
        shot("4.jpg", "08:01"), shot("5.jpg", "08:02", "B-099"), shot("6.jpg", "08:03"),
        shot("7.jpg", "08:04", "B-032"), shot("8.jpg", "08:05", "x y"), shot("9.jpg", "08:06", "x y"),
        shot("A.jpg", "08:07", "B-031", "B-032"), shot("B.jpg", None),
    ]  # fmt: skip
    placed = place(shots, timedelta(minutes=5))
    runs = runs_to_ask(placed, lambda shot: shot.name == "4.jpg")
    expected = [["0.jpg", "1.jpg"], ["3.jpg"], ["5.jpg", "6.jpg"], ["8.jpg", "9.jpg"], ["A.jpg"], ["B.jpg"]]
    assert expected == [[one.shot.name for one in run] for run in runs]
    said = answered(placed, runs[2], Ref("B-032"))
    assert {"5.jpg", "6.jpg", "7.jpg"} == {one.shot.name for one in said if one.ref == Ref("B-032")}


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (119, "119 s"), (120, "2 min"), (7199, "119 min"), (7380, "2 h 3 min"), (180_000, "2 d 2 h")],
)
def test_a_time_in_words(seconds: int, words: str) -> None:
    assert words == in_words(timedelta(seconds=seconds))
