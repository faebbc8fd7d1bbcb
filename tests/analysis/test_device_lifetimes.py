"""How long devices are in use."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.analysis.power import lifetimes_of
from journal.model import Journal
from tests.reading.written import files, front

Make = Callable[..., Journal]


def _notes(*rows: tuple[str, str]) -> dict[str, str]:
    return {f"n{at}": front("note", about="fan-1", stage=stage, date=date) for at, (stage, date) in enumerate(rows)}


@pytest.mark.parametrize(
    ("notes", "how", "ended", "days"),
    [
        ([], None, None, None),
        ([("faulty", "2026-09-01")], None, None, None),
        ([("dead", "2026-10-08")], "dead", "2026-10-08", 306),
        ([("put away", "2026-06-12")], "put away", "2026-06-12", 188),
        ([("put away", "2026-06-12"), ("dead", "2026-10-08")], "dead", "2026-10-08", 306),
        ([("faulty", "2026-09-01"), ("dead", "2026-10-08"), ("dead", "2026-10-09")], "dead", "2026-10-08", 306),
        ([("dead", "2026-10")], "dead", "2026-10", None),
        ([("dead", "2025-12-01")], "dead", "2025-12-01", 0),
    ],
)
def test_a_device_is_in_use_until_a_note_ends_it(
    make_journal: Make, notes: list[tuple[str, str]], how: str | None, ended: str | None, days: int | None
) -> None:
    # 6 December 2025 to 8 October 2026 is 306 days, counted on a calendar: 25 + 273 to 30 September + 8.
    fan = front("device", id="fan-1", tent="hut", does="fan", date="2025-12-06")
    life = lifetimes_of(make_journal(files(fan=fan, **_notes(*notes))))["fan-1"]
    assert (how, ended, days) == (life.how, life.ended.iso if life.ended else None, life.days)
    assert life.is_over == (how is not None)


def test_what_is_faulty_is_so_while_it_is_in_use(make_journal: Make) -> None:
    fan = front("device", id="fan-1", tent="hut", does="fan")
    faulty = lifetimes_of(make_journal(files(fan=fan, **_notes(("faulty", "2026-09-20")))))["fan-1"]
    dead = lifetimes_of(make_journal(files(fan=fan, **_notes(("faulty", "2026-09-20"), ("dead", "2026-10-08")))))[
        "fan-1"
    ]
    assert faulty.faulty_by is not None
    assert dead.faulty_by is None


def test_a_device_in_use_since_about_some_month_has_no_count_of_days(make_journal: Make) -> None:
    fan = front("device", id="fan-1", tent="hut", does="fan", date="2025-12")
    life = lifetimes_of(make_journal(files(fan=fan, **_notes(("dead", "2026-10-08")))))["fan-1"]
    assert (None, None, "dead") == (life.in_use_since, life.days, life.how)
