"""Sizes and places in millimetres, and the code that fits a size. tests/browser/test_labels.py reads them back."""

from __future__ import annotations

import base64
import re
from typing import Any

import pytest
import segno

from journal.problems import Refusal
from journal.settings import LABEL_SIZES, LabelSettings, LabelSize
from journal.site.label_sheet import (
    LEAST_TEXT_MM,
    MODULE_MM,
    Code,
    Printed,
    Sheet,
    _modules_on_a_side,
    code_for,
    codes_of,
    layout_of,
    pages_of,
    size_named,
)

DISH, JAR, BLOCK = LABEL_SIZES
ADDRESS = "https://wash-house.example/journal/batches/b-031/#2"
GAPS = LabelSize(name="gaps", width_mm=38.1, height_mm=21.2, gap_mm=(2.5, 0.0))
LID = LabelSize(name="lid", width_mm=38.1, height_mm=21.2, margin_mm=(4.6, 10.7), gap_mm=(2.5, 0.0))


@pytest.mark.parametrize(
    ("size", "sheet", "columns", "rows", "left_mm", "top_mm"),
    [
        (DISH, "A4", 6, 18, 15.0, 13.5),
        (JAR, "A4", 3, 9, 30.0, 13.5),
        (BLOCK, "A4", 2, 7, 35.0, 8.5),
        (BLOCK, "Letter", 2, 6, 38.0, 19.7),
        (LID, "A4", 5, 13, 4.6, 10.7),
    ],
)
def test_how_many_labels_a_sheet_holds_and_where(
    size: LabelSize, sheet: Sheet, columns: int, rows: int, left_mm: float, top_mm: float
) -> None:
    layout = layout_of(size, sheet)
    assert (columns, rows, left_mm, top_mm) == (layout.columns, layout.rows, layout.left_mm, layout.top_mm)
    width, height = layout.sheet_mm
    assert width >= left_mm + columns * size.width_mm + (columns - 1) * size.gap_mm[0]
    assert height >= top_mm + rows * size.height_mm
    assert layout.text_mm >= LEAST_TEXT_MM


def test_cutting_marks_stand_at_both_edges_of_every_column_and_row_outside_the_labels() -> None:
    layout = layout_of(GAPS, "A4")
    found = re.findall(r"M([\d.]+) ([\d.]+)([vh])([\d.]+)", layout.marks)
    assert 2 * 2 * layout.columns == sum(way == "v" for *_, way, _ in found)
    assert 2 * (layout.rows + 1) == sum(way == "h" for *_, way, _ in found)  # no gap between two rows: one mark
    right, bottom = 210 - layout.left_mm, layout.top_mm + layout.rows * GAPS.height_mm
    for x, y, way, size in [(float(x), float(y), way, float(size)) for x, y, way, size in found]:
        if way == "v":
            assert y + size <= layout.top_mm or y >= bottom
        else:
            assert x + size <= layout.left_mm or x >= right - 0.01


def test_sheets_that_come_cut_have_no_cutting_marks() -> None:
    assert "" == layout_of(LID, "A4").marks


def test_a_size_larger_than_the_sheet_is_refused() -> None:
    wide = LabelSize(name="wide", width_mm=200, height_mm=20)
    with pytest.raises(Refusal, match="labels of the size wide do not fit a sheet of A4"):
        layout_of(wide, "A4")


@pytest.mark.parametrize(
    ("texts", "size", "chosen", "level"),
    [
        (("B-031",), DISH, "B-031", "H"),
        ((ADDRESS, "B-031.2"), DISH, "B-031.2", "H"),  # 15 mm bear 29 modules of 0.4 mm; the address needs 33
        ((ADDRESS, "B-031.2"), JAR, ADDRESS, "H"),
        (("F26-014-K7Q4",), LabelSize(name="", width_mm=22, height_mm=12), "F26-014-K7Q4", "M"),
        (("https://journal.example/batches/b-031/",), DISH, "https://journal.example/batches/b-031/", "M"),
    ],
)
def test_a_code_is_of_level_h_where_modules_of_0_4_mm_fit_else_m(
    texts: tuple[str, ...], size: LabelSize, chosen: str, level: str
) -> None:
    code = code_for(texts, size)
    assert code is not None
    assert (chosen, level) == (code.text, code.level)
    assert MODULE_MM <= code.module_mm
    assert code.side_mm <= min(size.height_mm, 0.55 * size.width_mm) + 0.05  # its quiet zone of 4 modules included


@pytest.mark.parametrize(("size", "side"), [(JAR, 37), (BLOCK, 37), (DISH, 21)])
def test_a_code_has_as_many_modules_as_bear_a_drop_where_there_is_room(size: LabelSize, side: int) -> None:
    code = code_for(("B-031",), size)
    assert code is not None
    assert (side, "H") == (len(code.rows), code.level)


def test_there_is_no_code_where_none_fits_and_never_one_of_a_lower_level() -> None:
    assert code_for(("b" * 32,), LabelSize(name="", width_mm=22, height_mm=12)) is None


def test_path_and_packed_modules_tell_the_same_square() -> None:
    code = Code("", "H", 0.4, ((True, False, True), (True, True, True), (False, False, False)))
    assert "M4 4h1v1h-1zM6 4h1v1h-1zM4 5h3v1h-3z" == code.path
    assert bytes([0b10111100, 0b00000000]) == base64.b64decode(code.packed)


def test_a_half_used_sheet_begins_at_the_place_asked_for() -> None:
    layout = layout_of(BLOCK, "A4")
    label = Printed("B-031", ("B-031",))
    first, second = pages_of([label] * 13, layout, 3)
    assert ([None, None], 14, [label]) == (first[:2], len(first), second)
    with pytest.raises(Refusal, match="places 1 to 14 at this size, and not 15"):
        pages_of([label], layout, 15)


@pytest.mark.parametrize(
    ("asked", "settings", "name"),
    [
        (None, LabelSettings(), "jar"),
        (None, LabelSettings(size="dish"), "dish"),
        ("LID", LabelSettings(size="dish", sizes=(LID,)), "lid"),
        ("jar", LabelSettings(sizes=(LabelSize(name="Jar", width_mm=40, height_mm=20),)), "Jar"),
    ],
)
def test_which_size_is_meant(asked: str | None, settings: LabelSettings, name: str) -> None:
    assert name == size_named(asked, settings).name


@pytest.mark.parametrize(("asked", "says"), [("jars", "did you mean jar?"), ("xxxxxx", ": dish, jar, block")])
def test_a_size_that_is_not_known_is_refused(asked: str, says: str) -> None:
    with pytest.raises(Refusal, match=f"is not a size of labels.*{re.escape(says)}"):
        size_named(asked, LabelSettings())


@pytest.mark.parametrize("level", ["H", "M"])
@pytest.mark.parametrize("letter", ["A", "a"])
def test_how_many_modules_a_text_needs_is_known_before_its_code_is_made(level: Any, letter: str) -> None:
    for letters in (1, 7, 8, 10, 11, 20, 34, 35, 42, 43, 62, 64, 84, 119, 174, 213):
        made = segno.make(letter * letters, error=level, micro=False, boost_error=False)
        side = len(made.matrix)
        assert (side if side <= 57 else None) == _modules_on_a_side(letter * letters, level)


def test_codes_that_several_sizes_share_are_told_once() -> None:
    told = codes_of((ADDRESS, "B-031.2"), LABEL_SIZES)
    assert {"dish": 0, "jar": 1, "block": 1} == {size: at for size, (at, *_) in told["sizes"].items()}
    assert {"dish": True, "jar": False, "block": False} == {size: is_id for size, (*_, is_id) in told["sizes"].items()}
    assert [21, 41] == [side for side, _ in told["codes"]]


def test_a_label_on_which_not_everything_fits_is_known_before_it_is_printed() -> None:
    """Of the smallest size, from the number of letters; tests/browser/test_labels.py measures those that fit."""
    label = Printed("PP-26A-7-K7Q4.12", ("PP-26A-7-K7Q4.12",), species="G. frondosa", is_confirmed=False,
                    steps="T12 G3", parents=("PP-26A-7-K7Q4.11",), date="27 Oct 2026", medium="MEA")  # fmt: skip
    assert [False, True, True] == [
        layout_of(size, "A4").has_room(label, code_for(label.texts, size)) for size in LABEL_SIZES
    ]


def test_a_medium_for_which_two_lines_are_too_many_has_one() -> None:
    label = Printed("PP-26A-2.1", ("PP-26A-2.1",), species="P. pulmonarius", is_confirmed=False, steps="T1",
                    parents=("PP-26A.1",), date="3 Oct 2026",
                    medium="malt extract agar, 1.5 % malt, plate")  # fmt: skip
    found = {}
    for height in (9.0, 12.0, 15.0):
        layout = layout_of(LabelSize(name="own", width_mm=40, height_mm=height), "A4")
        code = code_for(label.texts, layout.size)
        found[height] = layout.has_room(label, code), layout.is_tight(label, code)
    assert {9.0: (False, False), 12.0: (True, True), 15.0: (True, False)} == found
