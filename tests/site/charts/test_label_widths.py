"""How wide texts come out, and how they are broken into lines."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageFont

from journal.site.charts.primitives import mono_width_em, width_em, wrapped

SAYINGS = (
    "clone of tissue, 5 plates, 3 lost",
    "T2 · G1 · 2 steps from the wild",
    "1.86 kg harvested so far, BE 53 %",
    "Pleurotus pulmonarius",
    "MMMM WWWW @@@@ %%%% — the widest",
    "identity not confirmed, in doubt, as PO-25A-T6 is",
    "22 Nov 2025",
)


@pytest.fixture(scope="module")
def faces() -> list[Path]:
    """The faces that pages name and this computer has."""
    folders = [Path("/usr/share/fonts"), Path("/usr/local/share/fonts")]
    names = ("DejaVuSans.ttf", "LiberationSans-Regular.ttf", "LiberationSans-Italic.ttf", "NotoSans-Regular.ttf")
    found = [path for folder in folders for name in names for path in folder.rglob(name)]
    if not found:
        pytest.skip("none of the faces that pages name is installed")
    return found


@pytest.mark.parametrize("text", SAYINGS)
def test_no_face_that_pages_name_is_wider_than_calculated(text: str, faces: list[Path]) -> None:
    for face in faces:
        drawn = ImageFont.truetype(face, 1000).getlength(text) / 1000
        assert drawn <= width_em(text)
        assert width_em(text) <= 1.6 * drawn  # and no room is thrown away


def test_a_tag_is_calculated_by_its_letters() -> None:
    # A letter of every common monospaced face is 0.6 em wide (0.602 in DejaVu Sans Mono), and tags are tracked by 0.02.
    assert 8 * 0.622 <= mono_width_em("PP-26A-2") <= 8 * 0.64


@pytest.mark.parametrize(
    ("expected", "text", "room_em"),
    [
        (("transfer, 4 plates",), "transfer, 4 plates", 12.0),
        (("transfer, 4", "plates"), "transfer, 4 plates", 6.0),
        (("BE", "53 %"), "BE 53 %", 3.0),
        (("abc", "def"), "abcdef", 2.0),
        ((), "  ", 4.0),
    ],
)
def test_text_is_broken_between_words_and_within_one_only_where_it_must(
    expected: tuple[str, ...], text: str, room_em: float
) -> None:
    assert expected == wrapped(text, room_em)


@given(st.text(st.characters(codec="latin-1", categories=("L", "N", "P", "Zs")), max_size=80), st.floats(2.5, 20))
def test_every_line_fits_and_no_letter_is_lost(text: str, room_em: float) -> None:
    lines = wrapped(text, room_em)
    assert all(width_em(line) <= room_em or line.count(" ") <= 1 for line in lines)
    assert text.replace(" ", "") == "".join(lines).replace(" ", "")
