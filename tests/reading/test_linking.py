"""How entries become one journal: dates, IDs, links, circles, and what each kind needs from the others."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from journal.model import Journal, Photo, Settings, Tent
from journal.reading.entries import Draft, read_entry
from journal.reading.linking import assemble

Make = Callable[..., Journal]

TOML = """
[journal]
keeper = "Night porter"
time_zone = "Europe/London"
[tents.hut]
name = "Wash-house"
[tents.loft]
name = "Net-loft"
"""


def front(kind: str, text: str = "", **keys: str) -> str:
    """An entry of front matter; a key's underscores stand for spaces, and a trailing one keeps Python content."""
    keys = {"date": "2026-09-12", **keys}
    rows = "".join(f"{key.rstrip('_').replace('_', ' ')}: {value}\n" for key, value in keys.items() if value)
    return f"---\nkind: {kind}\n{rows}---\n{text}"


def files(**entries: str) -> dict[str, str]:
    """Entries by file name, each in a folder of its own, beside settings with two tents."""
    return {"journal.toml": TOML, **{f"{name}/{name}.md": text for name, text in entries.items()}}


def told(journal: Journal) -> list[tuple[str, str, str]]:
    return [(problem.path, problem.weight, problem.says) for problem in journal.problems]


def weights(journal: Journal) -> list[tuple[str, str]]:
    return [(problem.path, problem.weight) for problem in journal.problems]


# Dates


@pytest.mark.parametrize(
    ("iso", "path", "written", "taken"),
    [
        ("2026-09-12T14:05:00+01:00", "f/x.md", "2026-09-12 14:05", ["2026-09-12T09:00+01:00"]),
        ("2026-09-12T09:00:00+01:00", "f/x.md", "2026-09-12", ["2026-09-12T11:00+01:00", "2026-09-12T09:00+01:00"]),
        ("2026-09-12", "f/x.md", "2026-09-12", ["2026-09-11T23:59+01:00", "2026-09-12T09:00+01:00"]),
        ("2026-09-12", "f/x.md", "2026-09-12", [None]),
        ("2026-09", "f/x.md", "2026-09", ["2026-09-12T09:00+01:00"]),
        ("2026-09-12", "f/x.md", "about 2026-09-12", ["2026-09-12T09:00+01:00"]),
        ("2026-09-11T22:30:00-03:00", "2026-01-01-a/2026-02-02-b.md", "", ["2026-09-11T22:30-03:00"]),
        ("2026-02-02", "2026-01-01-a/2026-02-02-b.md", "", []),
        ("2026-01-01", "2026-01-01-a/find.md", "", [None]),
        ("2026-01-01", "2026-01-01-a/find.md", "yesterday", []),
    ],
)
def test_the_date_is_the_entrys_then_its_photos_then_its_names(
    make_journal: Make, iso: str, path: str, written: str, taken: list[str | None]
) -> None:
    folder = path.rpartition("/")[0]
    photos = {f"{folder}/{n}.jpg": {"taken": moment} for n, moment in enumerate(taken)}
    journal = make_journal({"journal.toml": TOML, path: front("find", id="F1", date=written)}, photos)
    assert iso == journal.finds[0].date.iso


def test_a_time_taken_over_from_a_photo_leaves_the_date_as_written(make_journal: Make) -> None:
    journal = make_journal(files(f=front("find", id="F1")), {"f/a.jpg": {"taken": "2026-09-12T09:00+01:00"}})
    assert ("2026-09-12", "minute") == (journal.finds[0].date.written, journal.finds[0].date.exact)


def test_an_entry_that_nothing_dates_is_left_out_and_told(make_journal: Make) -> None:
    journal = make_journal(files(f=front("find", id="F1", date="")), {"f/a.jpg": {}})
    assert ((), [("f/f.md", "wrong")]) == (journal.finds, weights(journal))


def test_a_date_that_cannot_be_read_is_told_once(make_journal: Make) -> None:
    journal = make_journal(files(f=front("find", id="F1", date="2026-13-45")))
    assert ((), [("f/f.md", "wrong")]) == (journal.finds, weights(journal))


@pytest.mark.parametrize(
    ("odd", "kind", "written", "taken"),
    [
        (False, "find", "2026-09-12 12:00", "2026-09-13T11:59+01:00"),
        (True, "find", "2026-09-12 12:00", "2026-09-13T12:01+01:00"),
        (True, "find", "2026-09-12 12:00", "2026-09-11T11:59+01:00"),
        (False, "find", "2026-09-12", "2026-09-13T23:59+01:00"),
        (True, "find", "2026-09-12", "2026-09-14T00:01+01:00"),
        (False, "find", "2026-09-12", "2026-09-11T00:01+01:00"),
        (True, "find", "2026-09-12", "2026-09-10T23:59+01:00"),
        (False, "find", "2026-09", "2026-09-30T12:00+01:00"),
        (True, "find", "2026-09", "2026-10-02T12:00+01:00"),
        (True, "find", "2026", "2027-01-02T12:00+00:00"),
        (False, "find", "about 2026-09-12", "2026-09-20T12:00+01:00"),
        (True, "note", "2026-09-12", "2026-09-20T12:00+01:00"),
        (True, "tent", "2026-09-12", "2026-09-20T12:00+01:00"),
        (False, "culture", "2026-09-12", "2026-12-20T12:00+00:00"),
        (False, "batch", "2026-09-12", "2026-12-20T12:00+00:00"),
        (False, "device", "2026-09-12", "2026-12-20T12:00+00:00"),
    ],
)
def test_a_photo_over_a_day_from_its_entry_is_odd(
    make_journal: Make, odd: bool, kind: str, written: str, taken: str
) -> None:
    more = {"note": {"about": "hut"}, "tent": {"about": "hut"}, "culture": {"received_from": "x"}}.get(kind, {})
    more |= {"device": {"tent": "hut"}}.get(kind, {}) | ({} if kind in ("note", "tent") else {"id": "X1"})
    journal = make_journal(files(e=front(kind, date=written, **more)), {"e/a.jpg": {"taken": taken}})
    assert ([("e/e.md", "odd")] if odd else []) == weights(journal)


# IDs


def test_of_two_entries_with_one_id_the_path_that_sorts_first_keeps_it(make_journal: Make) -> None:
    journal = make_journal(files(b=front("find", id="X-1"), a=front("batch", id="x-1"), c=front("note", about="X-1")))
    assert ((), ["x-1"], [("b/b.md", "wrong")]) == (journal.finds, [b.id for b in journal.batches], weights(journal))
    assert "a/a.md" in journal.problems[0].says
    assert ["x-1"] == [str(ref) for ref in journal.notes[0].about]


def test_paths_sort_as_composed_text(make_journal: Make) -> None:
    """A decomposed é begins with the byte of e, and would sort before f if it were not composed first."""
    journal = make_journal({"e\u0301.md": front("find", id="X1"), "f.md": front("find", id="X1")})
    assert ["f.md"] == [find.path for find in journal.finds]


def test_a_tent_of_the_settings_keeps_its_id(make_journal: Make) -> None:
    journal = make_journal(files(a=front("batch", id="HUT")))
    assert ((), [("a/a.md", "wrong")]) == (journal.batches, weights(journal))


def test_an_entry_left_out_holds_no_id(make_journal: Make) -> None:
    journal = make_journal(files(a=front("find", id="X1", date=""), b=front("find", id="X1")))
    assert ["b/b.md"] == [find.path for find in journal.finds]


def test_an_entry_without_its_id_is_left_out(make_journal: Make) -> None:
    journal = make_journal(files(a=front("culture", received_from="unknown"), b=front("device", id="NUL", tent="hut")))
    assert ((), (), ["wrong", "wrong"]) == (journal.cultures, journal.devices, [p.weight for p in journal.problems])


@pytest.mark.parametrize(
    ("mend", "named"),
    [
        ("write PP-26A, if that is meant", "PP-26B"),
        ("name a find, culture, batch, device or tent that is in it", "Zzz"),
        ("mend gone/gone.md, which would be Lost", "lost"),
    ],
)
def test_an_unknown_id_is_wrong_and_names_the_nearest(make_journal: Make, mend: str, named: str) -> None:
    journal = make_journal(
        files(
            c=front("culture", id="PP-26A", received_from="unknown"),
            gone=front("find", id="Lost", date=""),
            n=front("note", about=f"{named}, PP-26A"),
        )
    )
    (problem,) = [row for row in journal.problems if row.path == "n/n.md"]
    assert ("wrong", 4, mend) == (problem.weight, problem.line, problem.mend)
    assert named in problem.says
    assert ["PP-26A"] == [str(ref) for ref in journal.notes[0].about]


def test_a_named_id_is_spelt_as_where_it_was_defined(make_journal: Make) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F25-a"),
            c=front("culture", id="Pp-1", from_="f25-A", vessels="3"),
            b=front("batch", id="b1", culture="pP-1.2, PP-1.2", tent="HUT"),
            n=front("note", about="B1, b1.1", moved_to="Loft"),
        )
    )
    assert ["F25-a"] == [str(ref) for ref in journal.cultures[0].sources]
    assert (["Pp-1.2"], "hut") == ([str(ref) for ref in journal.batches[0].cultures], journal.batches[0].tent)
    assert (["b1", "b1.1"], "loft") == ([str(ref) for ref in journal.notes[0].about], journal.notes[0].moved_to)
    assert [] == told(journal)


@pytest.mark.parametrize(
    ("fits", "about"),
    [
        (True, "B4.4"), (False, "B4.5"), (True, "B1.1"), (False, "B1.2"), (True, "BX.9"), (True, "C3.3"),
        (False, "C3.4"), (True, "CX.9"), (False, "F1.1"), (False, "hut.1"), (False, "d1.1"),
    ],
)  # fmt: skip
def test_a_part_is_one_of_the_units_or_vessels(make_journal: Make, fits: bool, about: str) -> None:
    journal = make_journal(
        files(
            b4=front("batch", id="B4", units="4"),
            b1=front("batch", id="B1"),
            bx=front("batch", id="BX", units="several"),
            c3=front("culture", id="C3", vessels="3", received_from="x"),
            cx=front("culture", id="CX", received_from="x"),
            f=front("find", id="F1"),
            d=front("device", id="d1", tent="hut"),
            n=front("note", about=about),
        )
    )
    wrong = [problem for problem in journal.problems if problem.path == "n/n.md"]
    assert ([about] if fits else [], 0 if fits else 1) == ([str(ref) for ref in journal.notes[0].about], len(wrong))


@pytest.mark.parametrize(
    ("entry", "about"),
    [
        (front("culture", id="X", from_="d1"), "a device"),
        (front("culture", id="X", from_="hut"), "a tent"),
        (front("batch", id="X", culture="F1"), "a find"),
        (front("batch", id="X", tent="F1"), "a find"),
        (front("note", about="F1", moved_to="F1"), "a find"),
        (front("tent", about="F1"), "a find"),
        (front("device", id="X", tent="F1"), "a find"),
        (front("device", id="X", tent="hut", switched_by="hut"), "a tent"),
        (front("device", id="X", tent="hut", switched_by="nothing"), "nothing"),
    ],
)
def test_an_id_of_the_wrong_sort_is_wrong_and_the_link_left_out(make_journal: Make, entry: str, about: str) -> None:
    journal = make_journal(files(f=front("find", id="F1"), d=front("device", id="d1", tent="hut"), x=entry))
    (problem,) = journal.problems
    assert ("x/x.md", "wrong", True) == (problem.path, problem.weight, about in problem.says)
    row = next(row for row in journal.entries() if row.path == "x/x.md")
    links = {"sources": (), "cultures": (), "moved_to": None, "switched_by": None}
    assert all(getattr(row, name) == empty for name, empty in links.items() if hasattr(row, name))


def test_a_socket_needs_no_entry_and_a_device_is_spelt_as_defined(make_journal: Make) -> None:
    journal = make_journal(
        files(
            s=front("device", id="Strip-1", tent="hut", fed_by="left socket by the door"),
            t=front("device", id="timer", tent="hut", fed_by="strip-1"),
            l=front("device", id="lamp", tent="hut", fed_by="TIMER", switched_by="TIMER"),
        )
    )
    by_id = {device.id: (device.fed_by, device.switched_by) for device in journal.devices}
    assert {
        "Strip-1": ("left socket by the door", None), "timer": ("Strip-1", None), "lamp": ("timer", "timer")
    } == by_id  # fmt: skip
    assert [] == told(journal)


def test_a_share_about_nothing_is_wrong(make_journal: Make) -> None:
    toml = TOML + '[shares.mentor]\nabout = ["B-031", "hut"]\n'
    journal = make_journal({"journal.toml": toml, "b.md": front("batch", id="B-032")})
    (problem,) = journal.problems
    assert ("journal.toml", "wrong", "write B-032, if that is meant") == (problem.path, problem.weight, problem.mend)


# About


def test_a_note_beside_one_other_entry_is_about_it(make_journal: Make) -> None:
    entries = {"b/batch.md": front("batch", id="B1"), "b/n1.md": front("note"), "b/n2.md": front("note", stage="spent")}
    journal = make_journal(entries)
    assert ([["B1"], ["B1"]], []) == ([[str(ref) for ref in note.about] for note in journal.notes], told(journal))


@pytest.mark.parametrize(
    "others",
    [
        {},
        {"b/b1.md": front("batch", id="B1"), "b/b2.md": front("batch", id="B2")},
        {"b/b1.md": front("batch", id="B1"), "b/b2.md": front("btach", id="B2")},
        {"b/b1.md": front("batch", id="B1"), "b/b2.md": front("tent", about="hut")},
        {"b/t.md": front("tent", about="hut")},
        {"b/sub/b1.md": front("batch", id="B1")},
        {"b/b1.md": front("batch", id="B1", date="")},
    ],
)
def test_a_note_that_its_folder_does_not_explain_is_wrong_and_stays(make_journal: Make, others: dict[str, str]) -> None:
    journal = make_journal({"journal.toml": TOML, "b/note.md": front("note"), **others})
    assert () == journal.notes[0].about
    assert ("b/note.md", "wrong") in weights(journal)


# Circles


def test_a_circle_is_told_to_each_in_it_and_opened_at_the_last_path(make_journal: Make) -> None:
    journal = make_journal(
        files(
            a=front("culture", id="A", from_="C"),
            b=front("batch", id="B", culture="A"),
            c=front("culture", id="C", from_="B, F"),
            d=front("culture", id="D", from_="A"),
            f=front("find", id="F"),
        )
    )
    assert [("a/a.md", "wrong"), ("b/b.md", "wrong"), ("c/c.md", "wrong")] == weights(journal)
    sources = {row.id: ([str(ref) for ref in row.sources], row.unknown_sources) for row in journal.cultures}
    assert {"A": (["C"], 0), "C": (["F"], 1), "D": (["A"], 0)} == sources
    assert ["A"] == [str(ref) for ref in journal.batches[0].cultures]


def test_a_culture_taken_from_itself_is_a_circle(make_journal: Make) -> None:
    journal = make_journal(files(a=front("culture", id="A", from_="a")))
    assert ((), [("a/a.md", "wrong")]) == (journal.cultures[0].sources, weights(journal))


def test_two_circles_that_share_entries_are_both_opened(make_journal: Make) -> None:
    journal = make_journal(
        files(
            a=front("culture", id="A", from_="B, C"),
            b=front("culture", id="B", from_="A"),
            c=front("culture", id="C", from_="A"),
        )
    )
    assert {"A": ["B", "C"], "B": [], "C": []} == {
        row.id: [str(ref) for ref in row.sources] for row in journal.cultures
    }
    assert 3 == len(journal.problems)


def test_devices_that_feed_one_another_are_a_circle(make_journal: Make) -> None:
    journal = make_journal(
        files(
            a=front("device", id="a1", tent="hut", fed_by="b1"),
            b=front("device", id="b1", tent="hut", switched_by="a1", fed_by="wall"),
        )
    )
    assert [("a/a.md", "wrong"), ("b/b.md", "wrong")] == weights(journal)
    assert [("b1", None), ("wall", None)] == [(row.fed_by, row.switched_by) for row in journal.devices]


# Cultures


@pytest.mark.parametrize(
    ("method", "keys"),
    [
        ("tissue", {"from_": "F1"}),
        ("tissue", {"from_": "B1"}),
        ("transfer", {"from_": "C1"}),
        ("received", {"received_from": "a friend"}),
        ("spores", {"from_": "F1", "method": "spores"}),
        ("tissue", {"from_": "F1, C1"}),
        (None, {"from_": "nothing"}),
    ],
)
def test_the_method_follows_from_what_it_was_taken_from(
    make_journal: Make, method: str | None, keys: dict[str, str]
) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1"),
            b=front("batch", id="B1"),
            c=front("culture", id="C1", received_from="unknown"),
            x=front("culture", id="X", **keys),
        )
    )
    assert method == next(row.method for row in journal.cultures if row.id == "X")


@pytest.mark.parametrize(
    ("weight", "keys"),
    [
        ("wrong", {}),
        ("odd", {"from_": "C1", "received_from": "a friend"}),
        ("odd", {"received_from": "a friend", "method": "transfer"}),
        ("wrong", {"from_": "nothing"}),
    ],
)
def test_a_culture_says_once_where_it_came_from(make_journal: Make, weight: str, keys: dict[str, str]) -> None:
    journal = make_journal(
        files(c=front("culture", id="C1", received_from="unknown"), x=front("culture", id="X", **keys))
    )
    assert [("x/x.md", weight)] == weights(journal)


def test_an_origin_that_cannot_be_followed_is_remembered(make_journal: Make) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1"),
            c=front("culture", id="C1", from_="F1, F2, F1.2"),
            d=front("culture", id="C2", from_="!!"),
            b=front("batch", id="B1", culture="C1, C9"),
        )
    )
    assert {"C1": 2, "C2": 1} == {row.id: row.unknown_sources for row in journal.cultures}
    assert 1 == journal.batches[0].unknown_sources


def test_species_come_down_the_line(make_journal: Make) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1", species="*Pleurotus*"),
            a=front("culture", id="z1", from_="F1"),
            b=front("batch", id="B1", culture="z1"),
            c=front("culture", id="a1", from_="B1"),
            d=front("culture", id="d1", from_="a1", species="Pleurotus pulmonarius"),
            e=front("culture", id="e1", from_="d1"),
        )
    )
    assert {
        "z1": "*Pleurotus*", "a1": "*Pleurotus*", "d1": "Pleurotus pulmonarius", "e1": "Pleurotus pulmonarius"
    } == {row.id: row.species for row in journal.cultures}  # fmt: skip
    assert "*Pleurotus*" == journal.batches[0].species


def test_a_find_identified_later_passes_on_its_new_name(make_journal: Make) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1", species="Pholiota"),
            n=front("note", about="F1", species="Pholiota adiposa", certainty="likely", date="2026-10-01"),
            c=front("culture", id="C1", from_="F1"),
        )
    )
    assert ("Pholiota", "Pholiota adiposa") == (journal.finds[0].species, journal.cultures[0].species)


@pytest.mark.parametrize(
    ("odd", "second"), [(False, "Pleurotus  PULMONARIUS"), (False, "*Pleurotus pulmonarius*"), (True, "Pholiota")]
)
def test_parents_of_two_species_are_odd_and_the_first_is_taken(make_journal: Make, odd: bool, second: str) -> None:
    journal = make_journal(
        files(
            a=front("find", id="F1", species="Pleurotus pulmonarius"),
            b=front("find", id="F2", species=second),
            c=front("culture", id="C1", from_="F1, F2"),
        )
    )
    assert ("Pleurotus pulmonarius", odd) == (journal.cultures[0].species, bool(told(journal)))


# Batches


@pytest.mark.parametrize(
    ("wet_g", "dry_g", "keys"),
    [
        (2300.0, 874.0, {"wet_mass": "2.3 kg", "moisture": "62 %"}),
        (2300.0, 874.0, {"wet_mass": "13.8 kg in all", "moisture": "62 %", "units": "6"}),
        (None, 500.0, {"dry_mass": "3 kg in all", "units": "6"}),
        (None, None, {"dry_mass": "3 kg in all", "units": "some"}),
        (2300.0, None, {"wet_mass": "2.3 kg"}),
    ],
)
def test_masses_are_per_unit(
    make_journal: Make, wet_g: float | None, dry_g: float | None, keys: dict[str, str]
) -> None:
    (batch,) = make_journal(files(b=front("batch", id="B1", **keys))).batches
    assert (wet_g, dry_g) == (pytest.approx(batch.wet_g), pytest.approx(batch.dry_g))


def test_the_keepers_own_dry_shares_are_used(make_journal: Make) -> None:
    toml = TOML + '[ingredients]\n"oak pellets" = "50 %"\n'
    journal = make_journal({"journal.toml": toml, "b.md": front("batch", id="B1", mix="oak pellets 2 kg", units="2")})
    assert (500.0, "mix") == (journal.batches[0].dry_g, journal.batches[0].dry_from)


@pytest.mark.parametrize(
    ("line", "keys"),
    [
        (6, {"wet_mass": "2.3 kg", "dry_mass": "900 g", "moisture": "70 %"}),
        (5, {"mix": "seaweed 2 kg"}),
    ],
)
def test_what_is_odd_about_a_dry_mass_stands_at_its_line(make_journal: Make, line: int, keys: dict[str, str]) -> None:
    order = {name: keys[name] for name in ("mix", "wet_mass", "moisture", "dry_mass") if name in keys}
    (problem,) = make_journal(files(b=front("batch", id="B1", **order))).problems
    assert ("odd", line) == (problem.weight, problem.line)


# Notes


@pytest.mark.parametrize(
    ("fits", "stage", "about"),
    [
        (True, "pinning", "B1"),
        (True, "pinning", "B1, hut"),
        (True, "colonised", "B1, C1"),
        (False, "clean", "B1"),
        (False, "clean", "B1, C1"),
        (True, "clean", "C1"),
        (True, "doubtful", "C1.1"),
        (False, "pinning", "F1"),
        (True, "nothing there", "F1"),
        (True, "put away", "d1"),
        (False, "spent", "d1"),
        (False, "spent", "hut"),
        (True, "dead", "C1, d1"),
    ],
)
def test_a_stage_belongs_to_what_the_note_is_about(make_journal: Make, fits: bool, stage: str, about: str) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1"),
            b=front("batch", id="B1"),
            c=front("culture", id="C1", received_from="x", vessels="2"),
            d=front("device", id="d1", tent="hut"),
            n=front("note", about=about, stage=stage),
        )
    )
    assert (stage if fits else None, [] if fits else [("n/n.md", "wrong")]) == (
        journal.notes[0].stage,
        weights(journal),
    )


@pytest.mark.parametrize(
    ("harvest_g", "weight", "keys"),
    [
        (300.0, None, {"about": "B1", "flush": "1"}),
        (300.0, None, {"about": "B2.1, B2.2", "flush": "1"}),
        (300.0, "odd", {"about": "B1"}),
        (None, "wrong", {"about": "B1, B2", "flush": "1"}),
        (None, "wrong", {"about": "B1, B2.1", "flush": "1"}),
        (300.0, None, {"about": "F1"}),
    ],
)
def test_a_harvest_is_of_one_batch_and_one_flush(
    make_journal: Make, harvest_g: float | None, weight: str | None, keys: dict[str, str]
) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1"),
            a=front("batch", id="B1"),
            b=front("batch", id="B2", units="3"),
            n=front("note", harvest="300 g", **keys),
        )
    )
    assert (harvest_g, [("n/n.md", weight)] if weight else []) == (journal.notes[0].harvest_g, weights(journal))


@pytest.mark.parametrize(
    ("odd", "notes"),
    [
        ([], [("B1", 2)]),
        ([], [("B1.1, B1.2", 2)]),
        (["n1"], [("B1", 3)]),
        (["n2"], [("B1", 1), ("B1.2", 1), ("B1", 1)]),
        (["n0"], [("B1, C1", 1)]),
    ],
)
def test_losses_add_up_to_what_there_was(make_journal: Make, odd: list[str], notes: list[tuple[str, int]]) -> None:
    rows = {
        f"n{n}": front("note", about=about, lost=str(lost), date=f"2026-10-{n + 1:02}")
        for n, (about, lost) in enumerate(notes, len(notes) == 1 and notes[0][1] == 3)
    }
    journal = make_journal(
        files(b=front("batch", id="B1", units="2"), c=front("culture", id="C1", received_from="x"), **rows)
    )
    assert [(f"{name}/{name}.md", "odd") for name in odd] == weights(journal)


@pytest.mark.parametrize(("odd", "about"), [(False, "F1"), (False, "F1, B1"), (True, "B1")])
def test_a_name_in_a_note_is_a_finds(make_journal: Make, odd: bool, about: str) -> None:
    journal = make_journal(
        files(f=front("find", id="F1"), b=front("batch", id="B1"), n=front("note", about=about, species="Pholiota"))
    )
    assert ([("n/n.md", "odd")] if odd else []) == weights(journal)


def test_confirmed_by_nobody_is_likely(make_journal: Make) -> None:
    journal = make_journal(
        files(f=front("find", id="F1", certainty="confirmed"), n=front("note", about="F1", certainty="confirmed"))
    )
    assert ("likely", "likely") == (journal.finds[0].certainty, journal.notes[0].certainty)
    assert [("f/f.md", "odd"), ("n/n.md", "odd")] == weights(journal)


def test_a_find_is_unsure_where_nothing_is_said(make_journal: Make) -> None:
    assert "unsure" == make_journal(files(f=front("find", id="F1"))).finds[0].certainty


# Places

GPX = """<?xml version="1.0"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="58.30000" lon="-8.90000"><time>2026-09-12T09:00:00Z</time></trkpt>
<trkpt lat="58.30200" lon="-8.90000"><time>2026-09-12T09:02:00Z</time></trkpt>
</trkseg></trk></gpx>"""
HERE = {"lat_deg": 58.3, "lon_deg": -8.9, "uncertainty_m": 8.0}


@pytest.mark.parametrize(
    ("expected", "keys", "photos", "track"),
    [
        (("entry", 58.31), {"where": "58.31, -8.9"}, {"a.jpg": HERE}, False),
        (("photo", 58.3), {}, {"a.jpg": {}, "b.jpg": HERE, "c.jpg": {**HERE, "lat_deg": 58.2999}}, False),
        (("track", 58.301), {}, {"a.jpg": {"taken": "2026-09-12T10:01+01:00"}}, True),
        (("photo", 58.3), {}, {"a.jpg": {"taken": "2026-09-12T10:01+01:00"}, "b.jpg": HERE}, True),
        (("track", 58.301), {"date": "2026-09-12 10:01"}, {}, True),
        (None, {}, {"a.jpg": {"taken": "2026-09-12T12:01+01:00"}}, True),
        (None, {}, {"a.jpg": {"taken": "2026-09-12T10:01+01:00"}}, False),
    ],
)
def test_a_find_is_where_it_says_then_its_photo_then_the_track(
    make_journal: Make,
    expected: tuple[str, float] | None,
    keys: dict[str, str],
    photos: dict[str, dict[str, Any]],
    track: bool,
) -> None:
    tracks = {"walk.gpx": GPX} if track else {}
    rows = {f"f/{name}": facts for name, facts in photos.items()}
    journal = make_journal({**files(f=front("find", id="F1", **keys)), **tracks}, rows)
    place = journal.finds[0].position
    assert expected == (place and (place.source, pytest.approx(place.lat_deg, abs=1e-6)))


def test_a_track_places_a_photo_that_has_no_position_and_no_other(make_journal: Make) -> None:
    photos = {"f/a.jpg": {"taken": "2026-09-12T10:01+01:00"}, "f/b.jpg": {**HERE, "taken": "2026-09-12T10:01+01:00"}}
    journal = make_journal({**files(f=front("find", id="F1")), "walk.gpx": GPX}, photos)
    assert [True, False] == [photo.track is not None for photo in journal.photos]


@pytest.mark.parametrize(
    ("odd", "where", "photo", "track"),
    [
        # One minute of latitude is 1857 m at 58 N (WGS 84), so 0.0022 degrees are 245 m, 0.0023 are 256 m.
        (False, "58.3022, -8.9", HERE, False),
        (True, "58.3023, -8.9", HERE, False),
        (True, "58.3050, -8.9", {"taken": "2026-09-12T10:01+01:00"}, True),
        (False, "58.3050, -8.9", {"taken": "2026-09-12T10:01+01:00"}, False),
    ],
)
def test_a_photo_over_250_m_from_where_is_odd(
    make_journal: Make, odd: bool, where: str, photo: dict[str, Any], track: bool
) -> None:
    tracks = {"walk.gpx": GPX} if track else {}
    journal = make_journal({**files(f=front("find", id="F1", where=where)), **tracks}, {"f/a.jpg": photo})
    assert ([("f/f.md", "odd")] if odd else []) == weights(journal)
    assert "58.3" not in "".join(problem.sentence for problem in journal.problems), "a place in a message"


# Titles, keepers, the whole


@pytest.mark.parametrize(
    ("title", "entry"),
    [
        ("Oyster #3", front("batch", id="B1", title="Oyster #3")),
        ("Find F1, Pleurotus", front("find", id="F1", species="*Pleurotus*")),
        ("Find F1", front("find", id="F1")),
        ("Culture C1, Pholiota", front("culture", id="C1", received_from="x", species="Pholiota")),
        ("Batch B1", front("batch", id="B1")),
        ("Device d1, lamp", front("device", id="d1", tent="hut", does="lamp")),
        ("Tent hut", front("tent", about="hut")),
        ("Note on hut", front("note", about="hut")),
        ("Note on hut: shaken", front("note", about="hut", done="shaken")),
        ("Note on hut: harvest", front("note", about="hut", harvest="300 g", flush="1")),
    ],
)
def test_a_title_is_made_where_none_is_written(make_journal: Make, title: str, entry: str) -> None:
    assert [title] == [row.title for row in make_journal(files(e=entry)).entries()]


def test_a_note_is_titled_by_its_stage(make_journal: Make) -> None:
    journal = make_journal(files(b=front("batch", id="B1"), n=front("note", about="b1", stage="pinning", lost="1")))
    assert "Note on B1: pinning" == journal.notes[0].title


def test_who_wrote_it_is_the_keeper_where_nothing_is_said(make_journal: Make) -> None:
    journal = make_journal(files(a=front("find", id="F1"), b=front("find", id="F2", by="No")))
    assert ["Night porter", "No"] == [find.by for find in journal.finds]


def test_entries_stand_in_order_of_time_then_path(make_journal: Make) -> None:
    journal = make_journal(
        {
            "c.md": front("find", id="C", date="2026-09"),
            "b.md": front("find", id="B"),
            "a.md": front("find", id="A", date="2026-09-12 08:00"),
            "d.md": front("find", id="D"),
        }
    )
    assert ["C", "B", "D", "A"] == [find.id for find in journal.finds]


def test_every_key_of_an_entry_reaches_the_model(make_journal: Make) -> None:
    """Each field that an entry can fill differs from its default somewhere in these six entries."""
    journal = make_journal(
        files(
            f=front(
                "find", id="F1", species="s", certainty="likely", identified_by="i", where="58.3, -8.9", place="p",
                habitat="h", growing_on="g", host="o", growth="c", smell="m", weather="w", elevation="12 m",
                spore_print="white", specimen="v", permission="q", locality="area", title="t", by="b", private="yes",
                next="2026-10-01 look", done="looked", text="text",
            ),
            c=front(
                "culture", id="C1", received_from="r", species="s", method="spores", form="plate", medium="m",
                heat="h", vessels="2", transfers_before="1", master="yes", kept="k",
            ),
            e=front("culture", id="C2", from_="C1"),
            b=front(
                "batch", id="B1", culture="C1", substrate="s", container="c", units="2", mix="water 1 kg, rye 1 kg",
                wet_mass="1 kg", moisture="56 %", dry_mass="450 g", heat="h", spawn_mass="50 g", tent="hut",
                wants_humidity="90–95 %", wants_temperature="12–18 °C",
            ),
            n=front(
                "note", about="F1, B1", lost="1", dried="3 g", harvest="30 g", flush="2", cause="mites",
                moved_to="loft", species="t", certainty="confirmed", identified_by="j",
            ),
            m=front("note", about="B1", stage="spent"),
            t=front(
                "tent", about="hut", humidity_set_point="92 %", humidity_differential="3 %",
                temperature_set_point="14 °C", light="12:12", light_colour="6500 K", exhaust="2 min every 15 min",
                air_movement="a", humidity_reading="86 %", temperature_reading="13 °C", co2_reading="900 ppm",
                door="open", why="% humidity", serviced="tank",
            ),
            d=front(
                "device", id="d1", tent="hut", does="lamp", fed_by="wall", switched_by="d2", rated_for="r", price="p",
                spare="s",
            ),
            u=front("device", id="d2", tent="hut"),
        ),
        {"f/a.jpg": {}},
    )  # fmt: skip
    filled: dict[str, set[str]] = {}
    for row in journal.entries():
        full = {
            one.name for one in fields(row) if getattr(row, one.name) not in (None, (), "", False, "unsure", "hidden")
        }
        filled.setdefault(row.kind, set()).update(full)
    shared = {"private", "next", "done", "text", "photos", "unknown_sources"}
    empty = {row.kind: {one.name for one in fields(row)} - filled[row.kind] - shared for row in journal.entries()}
    assert {"find": set(), "culture": set(), "batch": set(), "note": set(), "tent": set(), "device": set()} == empty
    assert shared - {"unknown_sources"} <= filled["find"]


def test_problems_of_every_reader_are_kept_in_order_and_once(make_journal: Make) -> None:
    from journal.problems import Problem

    given_ones = [
        Problem("z.jpg", 0, "odd", "b", ""),
        Problem("a.csv", 3, "odd", "a", ""),
        Problem("z.jpg", 0, "odd", "b", ""),
    ]
    journal = make_journal({"m.md": front("find")}, problems=given_ones)
    assert ["a.csv", "m.md", "z.jpg"] == [problem.path for problem in journal.problems]


def test_an_empty_folder_is_an_empty_journal() -> None:
    assert Journal(Settings()) == assemble(Settings(), [])


# Whatever is written

words = st.sampled_from(
    ["F1", "b1", "B1.2", "C1", "c1.9", "hut", "X", "", "yes", "2026-09-12", "2026-10", "about 2026", "1 kg", "3",
     "62 %", "pinning", "confirmed", "a.jpg", "../../x", "58.3, -8.9", "water 1 kg, rye 2 kg", "F1, C1, B1", "grain"]
)  # fmt: skip
keys = st.sampled_from(
    ["id", "date", "about", "from", "culture", "received from", "species", "certainty", "stage", "harvest", "flush",
     "lost", "units", "vessels", "wet mass", "dry mass", "moisture", "mix", "tent", "moved to", "fed by",
     "switched by", "photos", "where", "method", "form", "next", "done", "title", "private"]
)  # fmt: skip
kinds = st.sampled_from(["find", "culture", "batch", "note", "tent", "device", "tent", "nonsense", ""])
paths = st.sampled_from(["a.md", "f/a.md", "f/b.md", "2026-09-12-x/é.md", "2026-09-12-x/e\u0301.md", "z/z.md"])
TENTS = Settings(time_zone="Europe/London", tents=(Tent(id="hut", name="Hut"),))


@st.composite
def drafts(draw: st.DrawFn) -> list[Draft]:
    found = []
    for path in draw(st.lists(paths, unique=True)):
        rows = draw(st.dictionaries(keys, words | st.text(max_size=20)))
        text = f"---\nkind: {draw(kinds)}\n" + "".join(f"{k}: {v}\n" for k, v in rows.items()) + "---\n"
        draft = read_entry(path, (text + draw(st.text(max_size=30))).encode("utf-8", "replace"), TENTS)
        found.extend([draft] if draft else [])
    return found


@settings(max_examples=300, deadline=None)
@given(drafts(), st.lists(st.sampled_from(["f/a.jpg", "a.jpg", "z/b.jpg", "2026-09-12-x/c.jpg"]), unique=True))
def test_nothing_that_is_written_stops_the_rest(rows: list[Draft], photos: list[str]) -> None:
    pictures = [Photo(path=path, digest="") for path in photos]
    journal = assemble(TENTS, rows, photos=pictures)
    assert journal == assemble(TENTS, reversed(rows), photos=reversed(pictures))
    ids = [row.id.lower() for row in (*journal.finds, *journal.cultures, *journal.batches, *journal.devices)]
    assert len(ids) == len(set(ids))
    assert {use.path for row in journal.entries() for use in row.photos} <= set(photos)
    assert all(ref.id.lower() in journal.by_id for row in journal.cultures for ref in row.sources)
    assert all(row.date.first >= date(1000, 1, 1) for row in journal.entries())
