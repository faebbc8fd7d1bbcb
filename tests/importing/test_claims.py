from __future__ import annotations

from datetime import date

import pytest

from journal.importing.filing import Claim, claims_in
from journal.reading.entries import Draft
from tests.builders import draft

DAY, NEXT_DAY = date(2026, 10, 27), date(2026, 10, 28)


@pytest.mark.parametrize(
    ("claim", "entry"),
    [
        (Claim("x/e.md"), draft("x/e.md", "kind: note\ndate: 2026-10-27\nphotos: A.jpg")),
        (Claim("x/e.md"), draft("x/e.md", "kind: note\ndate: 2026-10-27", "![pins](a.jpg)")),
        (Claim("x/e.md"), draft("x/e.md", "kind: batch\nid: B-1\ndate: 2026-10-27")),
        (Claim("x/e.md"), draft("x/e.md", "kind: note")),
        (Claim("x/e.md", DAY), draft("x/e.md", "kind: note\ndate: 2026-10-27")),
        (None, draft("y/e.md", "kind: note\ndate: 2026-10-27")),
    ],
)
def test_who_has_a_photo(claim: Claim | None, entry: Draft) -> None:
    assert claim == claims_in([entry], ["x/a.jpg"]).get("x/a.jpg")


def test_a_note_alone_beside_photos_has_those_of_its_day_only() -> None:
    claim = Claim("x/e.md", DAY)
    assert [True, False, True] == [claim.holds(day) for day in (DAY, NEXT_DAY, None)]
    assert Claim("x/e.md").holds(NEXT_DAY)


def test_an_entry_that_names_it_goes_before_one_that_it_lies_beside() -> None:
    lies = draft("x/e.md", "kind: note\ndate: 2026-10-27")
    names = draft("y/e.md", "kind: note\ndate: 2026-10-28\nphotos: ../x/a.jpg")
    assert {"x/a.jpg": Claim("y/e.md")} == claims_in([lies, names], ["x/a.jpg"])
