"""What is due: what the author wrote, services, renewals and expected stages, by date and with no today."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.model import Next
from tests.builders import batch, entry, journal_of, note, noted

Make = Callable[..., Any]


def slant(more: str = "", day: str = "2025-12-13", form: str = "slant") -> str:
    return entry("culture", more, id="S", date=day, form=form, received_from="a friend", vessels=2)


def renewed_on(journal: Any) -> list[str | None]:
    return [row.day.isoformat() if row.day else None for row in Analysis(journal).renewals.values()]


@pytest.mark.parametrize(
    ("expected", "day", "form"),
    [
        # Twelve months for a slant, six for a liquid culture: common practice, from memory.
        (["2026-12-13"], "2025-12-13", "slant"),
        (["2027-04-01"], "2026-10-01", "liquid"),
        (["2027-02-28"], "2026-08-31", "liquid"),
        ([None], "2025", "slant"),
        ([], "2025-12-13", "plate"),
        ([], "2025-12-13", "grain"),
    ],
)
def test_slants_and_liquid_cultures_want_renewing(
    expected: list[str | None], day: str, form: str, make_journal: Make
) -> None:
    assert expected == renewed_on(make_journal({"s.md": slant(day=day, form=form)}))


@pytest.mark.parametrize(
    "files",
    [
        {"n.md": noted("2026-02-01", "stage: dead", "S")},
        {"n.md": noted("2026-02-01", "stage: discarded", "S")},
        {"n.md": noted("2026-02-01", "stage: spent", "S")},
        {"n.md": noted("2026-02-01", "stage: contaminated", "S")},
        {"n.md": noted("2026-02-01", "stage: sectored", "S")},
        {"n.md": noted("2026-02-01", "lost: 2", "S")},
        {"s.md": slant("kept: used up 2026-02-18\n")},
    ],
)
def test_what_is_gone_or_not_fit_to_be_passed_on_is_not_renewed(files: dict[str, str], make_journal: Make) -> None:
    assert [] == renewed_on(make_journal({"s.md": slant()} | files))


@pytest.mark.parametrize(
    ("expected", "more"),
    [
        ("2026-12-13", {"t.md": "---\nkind: culture\nid: T\nfrom: S\ndate: 2026-06-01\nform: plate\n---\n"}),
        ("2026-12-13", {"n.md": noted("2026-06-01", "stage: clean", "S")}),
        ("2026-12-13", {"n.md": noted("2026-06-01", "done: renewed", "S.1")}),
        ("2027-06-01", {"n.md": noted("2026-06-01", "done: renewed onto fresh medium", "S")}),
    ],
)
def test_only_a_culture_said_to_be_renewed_begins_its_count_anew(
    expected: str, more: dict[str, str], make_journal: Make
) -> None:
    assert [expected] == renewed_on(make_journal({"s.md": slant(), **more}))


def test_where_the_author_planned_the_renewal_theirs_is_alone(make_journal: Make) -> None:
    rows = Analysis(make_journal({"s.md": slant("next: 2026-12-12 renew the slant\n")})).due
    assert [("next", date(2026, 12, 12))] == [(row.basis, row.day) for row in rows]


def test_all_four_kinds_stand_together_by_day_each_with_its_basis(make_journal: Make) -> None:
    rows = Analysis(
        make_journal(
            {
                "journal.toml": '[tents.hut]\nname = "Hut"\n[tents.hut.every]\ntank = "7 d"\n',
                "t.md": "---\nkind: tent\nabout: hut\ndate: 2026-10-01\nserviced: tank\n---\n",
                "s.md": slant(),
                "l.md": "---\nkind: culture\nid: L\ndate: 2026-09-01\nform: plate\nspecies: Pleurotus pulmonarius\n"
                "received from: a friend\n---\n",
                "b.md": "---\nkind: batch\nid: B\nculture: L\ndate: 2026-10-02\nunits: 2\n"
                "next: 2026-10-05 turn it\n---\n",
            }
        )
    ).due
    assert [
        (("B",), "turn it", "2026-10-05", "2026-10-05", "next"),
        (("hut",), "tank", "2026-10-08", "2026-10-08", "service"),
        (("B",), "see whether it is colonised", "2026-10-10", "2026-10-16", "published"),
        (("S",), "renew the slant", "2026-12-13", "2026-12-13", "renewal"),
    ] == [(row.about, row.what, str(row.day), str(row.last_day), row.basis) for row in rows]


@pytest.mark.parametrize(
    ("open_", "day", "words"),
    [
        (False, "2026-10-09", "turn it"),
        (False, "2026-10-09", "turn it over, twice"),
        (False, "2026-10-09", "yes"),
        (True, "2026-10-09", "soaked"),
        (True, "2026-10-01", "turn it"),
    ],
)
def test_a_next_stands_until_a_later_entry_has_done_it(open_: bool, day: str, words: str, make_journal: Make) -> None:
    files = {
        "b.md": "---\nkind: batch\nid: B\nculture: L\ndate: 2026-10-02\nnext: 2026-10-05 turn it\n---\n",
        "n.md": noted(day, f"done: {words}", "B"),
    }
    assert open_ is any(row.basis == "next" for row in Analysis(make_journal(files)).due)


@pytest.mark.parametrize(
    ("open_", "notes"),
    [
        (False, {"n": noted("2026-10-09", "stage: spent", "B")}),
        (False, {"n": noted("2026-10-09", "stage: discarded", "B")}),
        (False, {"n": noted("2026-10-09", "lost: 2", "B")}),
        (True, {"n": noted("2026-10-09", "lost: 1", "B")}),
        (True, {"n": noted("2026-10-09", "stage: spent", "B.1")}),
        (True, {"n": noted("2026-10-09", "stage: contaminated", "B")}),
        (True, {"n": noted("2026-10-01", "stage: spent", "B")}),  # an end before the `next` was written
        (True, {"n": noted("2026-10-09", "stage: spent", "B"), "o": noted("2026-10-20", "stage: pinning", "B")}),
    ],
)
def test_a_next_written_before_the_end_of_what_it_is_about_is_not_due_and_is_not_lost(
    open_: bool, notes: dict[str, str], make_journal: Make
) -> None:
    files = {
        "b.md": entry("batch", id="B", date="2026-10-02", culture="L", units=2, next="2026-11-05 turn it"),
        **{f"{name}.md": text for name, text in notes.items()},
    }
    found = Analysis(make_journal(files))
    rows = found.open_nexts if open_ else found.ended_nexts
    assert [("b.md", "turn it")] == [(row.path, row.what) for row in rows]
    assert open_ is any(row.basis == "next" for row in found.due)
    assert 1 == len((*found.open_nexts, *found.ended_nexts))


def test_a_next_of_the_note_that_ends_a_batch_or_of_a_later_one_is_due(make_journal: Make) -> None:
    files = {
        "b.md": entry("batch", id="B", date="2026-10-02", culture="L"),
        "m.md": noted("2026-10-09", "stage: spent\nnext: 2026-10-12 bury it", "B"),
        "n.md": noted("2026-10-13", "next: 2026-10-20 wash the tub", "B"),
    }
    assert ["bury it", "wash the tub"] == [row.what for row in Analysis(make_journal(files)).due]


def test_a_next_about_several_stays_due_for_those_that_have_not_ended(make_journal: Make) -> None:
    files = {
        **{f"{id}.md": entry("batch", id=id, date="2026-10-02", culture="L") for id in ("A", "B")},
        "s.md": slant(),
        "n.md": noted("2026-10-09", "next: 2026-10-12 look at the rims", "A, B, S"),
        "o.md": noted("2026-10-10", "stage: spent", "A"),
        "p.md": noted("2026-10-11", "stage: dead", "S"),
    }
    found = Analysis(make_journal(files))
    assert [("B",)] == [row.about for row in found.open_nexts]
    ended = Analysis(make_journal({**files, "q.md": noted("2026-10-11", "stage: spent", "B")}))
    assert ([], [("A", "B", "S")]) == ([*ended.open_nexts], [row.about for row in ended.ended_nexts])


@pytest.mark.parametrize(("open_", "about"), [(False, ""), (True, "about: B\n")])
def test_a_note_about_nothing_is_settled_by_another(open_: bool, about: str, make_journal: Make) -> None:
    files = {
        "b/b.md": "---\nkind: batch\nid: B\nculture: L\ndate: 2026-10-02\n---\n",
        "notes/n1.md": "---\nkind: note\ndate: 2026-10-02\nnext: 2026-10-05 buy rye\n---\n",
        "notes/n2.md": f"---\nkind: note\n{about}date: 2026-10-06\ndone: buy rye\n---\n",
    }
    assert open_ is any(row.basis == "next" for row in Analysis(make_journal(files)).due)


def test_ten_thousand_notes_with_nexts_and_dones_are_matched() -> None:
    """5,000 to do and 5,000 done about one batch: the last of each kind of words decides."""
    notes = [
        note("B", 2, path=f"{n:05}.md", next=(Next(f"turn {n % 9}", None),))
        if n % 2 == 0
        else note("B", 2, path=f"{n:05}.md", done=(f"turn {n % 9}",))
        for n in range(10_000)
    ]
    open_rows = Analysis(journal_of(batch("B", on=2), *notes)).due
    # The last `done` of each of the nine words stands among the last 18 notes; only a `next` after it is open.
    last = {f"turn {n % 9}": n for n in range(1, 10_000, 2)}
    assert sorted(f"{n:05}.md" for n in range(0, 10_000, 2) if last[f"turn {n % 9}"] < n) == sorted(
        str(row.path) for row in open_rows
    )
