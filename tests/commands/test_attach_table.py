"""The table of what attaching would do."""

from __future__ import annotations

import unicodedata
from datetime import date
from typing import Any

import pytest
from rich.cells import cell_len

from journal.commands.attach import attach_table
from journal.importing.filing import Claim, FilingPlan
from tests.importing.test_filing import HERE, content, plan

DAY = "2026-10-27T08:00"
LONG = "DCIM/100/" + "n" * 190 + "end.jpg"


@pytest.fixture
def everything() -> FilingPlan:
    """One photo of each fate that a sound file can have, under names of every width."""
    names = dict.fromkeys(("IMG_0533.JPG", "known.jpg", "beside.jpg", "else.jpg", "a- b.jpg", LONG, "菌" * 60), DAY)
    return plan(
        {**names, "timeless.jpg": None, "told.jpg": None},
        days={"told.jpg": date(2026, 10, 28)},
        names=("img_0533.jpg",),
        contents={
            "known.jpg": ("x/k.jpg",),
            "beside.jpg": (f"{HERE}/beside.jpg",),
            "else.jpg": ("inbox/else.jpg",),
            "a- b.jpg": (f"{HERE}/a: b.jpg",),
        },
        photos=["x/k.jpg", f"{HERE}/beside.jpg", "inbox/else.jpg", f"{HERE}/a: b.jpg"],
        claims={"x/k.jpg": Claim("x/n.md")},
        more=(content("copy.jpg", "IMG_0533.JPG"),),
    )


def lines_of(*args: Any) -> list[list[str]]:
    return [line.split() for line in attach_table(*args).splitlines()]


def test_each_photo_stands_under_what_becomes_of_it(everything: FilingPlan) -> None:
    lines = lines_of(everything, [("gone.jpg", "is a broken link")], None)
    expected = [
        (f"{HERE}/2026-10-27.md: a new note with 4 photos", ["IMG_0533.JPG", "2026-10-27", "08:00", "IMG_0533-2.JPG"]),
        (f"{HERE}/2026-10-28.md: a new note with 1 photo", ["told.jpg", "2026-10-28,", "given", "told.jpg"]),
        ("Already in the journal", ["known.jpg", "2026-10-27", "08:00", "in", "x/n.md"]),
        ("Same photo as another one named", ["copy.jpg", "IMG_0533.JPG"]),
        ("No time in the photo: you are asked for its day, or give it with --date 2026-10-27", ["timeless.jpg"]),
        (
            f"Left out: in the journal already, but in no entry; move that file to {HERE} and run this again",
            ["else.jpg", "2026-10-27", "08:00", "inbox/else.jpg"],
        ),
        (
            "Left out: there already under a name that an entry cannot list; rename that file and run this again",
            ["a-", "b.jpg", "2026-10-27", "08:00", f"{HERE}/a:", "b.jpg"],
        ),
        ("Left out: is a broken link", ["gone.jpg"]),
    ]
    headings = [heading.split() for heading, _ in expected]
    assert headings == [line for line in lines if line in headings]
    for heading, row in expected:
        begin = lines.index(heading.split())
        following = [at for at in (lines.index(other) for other in headings) if at > begin]
        assert row in lines[begin + 1 : min(following, default=len(lines))]
    assert ["beside.jpg", "2026-10-27", "08:00", "beside.jpg,", "there", "already"] in lines


@pytest.mark.parametrize("columns", [40, 80, 132])
def test_on_a_terminal_no_line_is_wider_than_it(everything: FilingPlan, columns: int) -> None:
    shown = attach_table(everything, [("x" * 300 + ".jpg", "is empty (0 bytes)")], columns)
    assert [] == [line for line in shown.splitlines() if cell_len(line) > columns]
    assert 1 == sum("end.jpg  2026-10-27" in line for line in shown.splitlines())


def test_where_a_program_reads_it_no_name_is_cut(everything: FilingPlan) -> None:
    shown = attach_table(everything, [("x" * 300 + ".jpg", "is empty (0 bytes)")], None)
    for name in (LONG, "菌" * 60, "x" * 300 + ".jpg"):
        assert name in shown
    assert "…" not in shown


def test_a_name_that_fits_leaves_its_room_to_the_other() -> None:
    made = plan({"a.jpg": DAY, "b.jpg": DAY}, contents={"b.jpg": ("x/k.jpg",)}, claims={"x/k.jpg": Claim("n" * 45)})
    assert "in " + "n" * 45 in attach_table(made, [], 80)


def test_columns_are_under_each_other_whatever_the_script() -> None:
    """Wide letters take two cells, marks that combine take none. *Source:* Unicode, UAX #11."""
    names = ["a.jpg", "菌.jpg", unicodedata.normalize("NFD", "ü.jpg")]
    shown = attach_table(plan(dict.fromkeys(names, DAY)), [], None).splitlines()[2:]
    assert 1 == len({cell_len(line[: line.index("2026-10-27")]) for line in shown})


def test_nothing_in_a_name_steers_the_terminal() -> None:
    assert "\x1b" not in attach_table(plan({"\x1b[2Ja.jpg": DAY}), [("\x1b[2Jb.jpg", "is empty")], 80)
