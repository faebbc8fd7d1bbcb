"""The masks of QR codes, against segno, which compares all masks module by module."""

from __future__ import annotations

import random

import pytest
import segno

from journal.site.qr_masks import code_rows
from tests.builders import some

SIDES = range(21, 58, 4)
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-.+:/"


def texts_of(side: int) -> list[str]:
    drawn = random.Random(side)
    texts = ["B-031", "B-031.2+X", "HTTPS://ALDER.EXAMPLE/BATCHES/B-031/"]
    return texts + ["".join(drawn.choices(LETTERS, k=drawn.randrange(1, 3 * side - 60))) for _ in range(25)]


@pytest.mark.parametrize("level", ["H", "M"])
@pytest.mark.parametrize("side", SIDES)
def test_a_code_is_that_of_segno(side: int, level: str) -> None:
    masks = set()
    for text in texts_of(side):
        try:
            code = segno.make(text, error=level, version=(side - 17) // 4, micro=False, boost_error=False)
        except segno.DataOverflowError:
            continue
        masks.add(code.mask)
        assert [[*map(bool, row)] for row in code.matrix] == [[*row] for row in code_rows(text, level, side)], text
    assert len(some(masks)) > 1  # so that the choice was between several


def test_a_text_that_is_too_long_for_a_code_is_refused() -> None:
    with pytest.raises(segno.DataOverflowError):
        code_rows("B-031 and much more", "H", 21)
