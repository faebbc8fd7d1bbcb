"""IDs: who keeps one, how they are spelled, what an unknown one is near to."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.model import Journal
from journal.problems import Problem
from journal.reading.folder import too_large
from journal.reading.settings_file import read_settings
from tests.reading.written import TOML, files, front, told, weights

Make = Callable[..., Journal]


def test_of_two_entries_with_one_id_the_path_that_sorts_first_keeps_it(make_journal: Make) -> None:
    journal = make_journal(files(b=front("find", id="X-1"), a=front("batch", id="x-1"), c=front("note", about="X-1")))
    assert ((), ["x-1"], [("b/b.md", "error")]) == (journal.finds, [b.id for b in journal.batches], weights(journal))
    assert "a/a.md" in journal.problems[0].message
    assert ["x-1"] == [str(ref) for ref in journal.notes[0].about]


def test_paths_sort_as_composed_text(make_journal: Make) -> None:
    """A decomposed é begins with the byte of e, and would sort before f if it were not composed first."""
    journal = make_journal({"e\u0301.md": front("find", id="X1"), "f.md": front("find", id="X1")})
    assert ["f.md"] == [find.path for find in journal.finds]


def test_a_tent_of_the_settings_keeps_its_id(make_journal: Make) -> None:
    journal = make_journal(files(a=front("batch", id="HUT")))
    assert ((), [("a/a.md", "error")]) == (journal.batches, weights(journal))


def test_an_entry_left_out_holds_no_id(make_journal: Make) -> None:
    journal = make_journal(files(a=front("find", id="X1", date=""), b=front("find", id="X1")))
    assert ["b/b.md"] == [find.path for find in journal.finds]


def test_an_entry_without_its_id_is_left_out(make_journal: Make) -> None:
    journal = make_journal(files(a=front("culture", received_from="unknown"), b=front("device", id="NUL", tent="hut")))
    assert ((), (), ["error", "error"]) == (journal.cultures, journal.devices, [p.severity for p in journal.problems])


def test_an_id_that_may_stand_in_a_file_that_cannot_be_read_is_not_taken_for_another(make_journal: Make) -> None:
    known = files(
        c=front("culture", id="PO-26A-4", received_from="unknown"),
        n=front("note", about="PO-26A-5"),
        text=front("note", about="PO-26A-4", text="See [it](PO-26A-5)."),
        far=front("batch", id="B-1", culture="Zzz"),
        hung=front("device", id="fan-1", tent="hut", powered_by="fan-9"),
        socket=front("device", id="fan-2", tent="hut", powered_by="left wall"),
        tent=front("tent", about="huts"),
    )
    fix = "make c/a.md readable first: this ID may be in it"
    named = ("n/n.md", "text/text.md", "far/far.md", "hung/hung.md")
    unread = too_large("c/a.md", "entry")
    journal = make_journal(known, unread=[unread])
    assert dict.fromkeys(named, fix) == {one.path: one.fix for one in journal.problems if one.path in named}
    others = {one.path: one.fix for one in journal.problems if one.path not in named}
    assert {
        "c/a.md": unread.fix,
        "tent/tent.md": "write hut, if you mean that, or add [tents.huts] to journal.toml",
    } == others
    folder = Problem("c", 0, "error", "this folder cannot be read (permission denied)", "give yourself permission")
    journal = make_journal(known, problems=[folder])
    assert {fix.replace("c/a.md", "c")} == {one.fix for one in journal.problems if one.path in named}


@pytest.mark.parametrize(
    ("fix", "named"),
    [
        ("write PP-26A, if you mean that", "PP-26B"),
        ("name a find, culture, batch, device or tent of this journal", "Zzz"),
        ("correct gone/gone.md, which would be Lost", "lost"),
    ],
)
def test_an_unknown_id_is_wrong_and_names_the_nearest(make_journal: Make, fix: str, named: str) -> None:
    journal = make_journal(
        files(
            c=front("culture", id="PP-26A", received_from="unknown"),
            gone=front("find", id="Lost", date=""),
            n=front("note", about=f"{named}, PP-26A"),
        )
    )
    (problem,) = [row for row in journal.problems if row.path == "n/n.md"]
    assert ("error", 4, fix) == (problem.severity, problem.line, problem.fix)
    assert named in problem.message
    assert ["PP-26A"] == [str(ref) for ref in journal.notes[0].about]


@pytest.mark.parametrize(
    "entry",
    [
        front("batch", id="B-1", tent="cellar"),
        front("note", moved_to="cellar"),
        front("tent", about="cellar"),
        front("device", id="fan-1", tent="cellar"),
    ],
)
@pytest.mark.parametrize("tents", ["", "[tents.hut]\n"])
def test_a_tent_that_is_not_there_comes_with_the_lines_that_make_it_one(
    make_journal: Make, entry: str, tents: str
) -> None:
    journal = make_journal({"journal.toml": f"[journal]\n{tents}", "a.md": entry})
    (problem,) = [row for row in journal.problems if row.path == "a.md" and "names cellar" in row.message]
    assert ("error", "add [tents.cellar] to journal.toml") == (problem.severity, problem.fix)
    settings, problems = read_settings(f"[journal]\n{tents}\n{problem.paste}\n".encode())
    assert ((), "cellar", "Cellar") == (problems, settings.tents[-1].id, settings.tents[-1].name)


@pytest.mark.parametrize(
    ("near", "written"),
    [("boat-shed", "shed"), ("boat-shed", "boatshed"), ("loft", "net-loft"), (None, "hed"), (None, "tool-hut")],
)
def test_a_tent_that_is_not_there_may_be_one_that_has_its_name_in_its_own(
    make_journal: Make, near: str | None, written: str
) -> None:
    toml = "[tents.attic]\n[tents.boat-shed]\n[tents.loft]\n"
    journal = make_journal({"journal.toml": toml, "a.md": front("note", moved_to=written)})
    (problem,) = [row for row in journal.problems if "names" in row.message]
    add = f"add [tents.{written}] to journal.toml"
    assert (f"write {near}, if you mean that, or {add}" if near else add) == problem.fix
    assert bool(problem.paste) is (near is None)  # lines to paste only where nothing else is likely


def test_the_entrys_own_id_is_not_offered_to_it(make_journal: Make) -> None:
    journal = make_journal(
        files(
            a=front("culture", id="PP-26B", from_="PP-26C"),
            b=front("device", id="strip-1", tent="hut", powered_by="strip-12"),
            c=front("culture", id="VF-1", received_from="x"),
            d=front("culture", id="VF-11", from_="VF-12"),
        )
    )
    said = {problem.path: problem.fix for problem in journal.problems}
    assert "name a find, culture or batch of this journal" == said["a/a.md"]
    assert "strip-1," not in said.get("b/b.md", "")
    assert "write VF-1, if you mean that" == said["d/d.md"]


def test_a_named_id_is_spelled_as_where_it_was_defined(make_journal: Make) -> None:
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
    counts = {"B4.5": "4 units", "B1.2": "1 unit", "C3.4": "3 vessels"}
    assert all(problem.message.endswith(f" has {counts[about]}") for problem in wrong if about in counts)
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
        (front("device", id="X", tent="hut", controlled_by="hut"), "a tent"),
        (front("device", id="X", tent="hut", controlled_by="nothing"), "nothing"),
    ],
)
def test_an_id_of_the_wrong_sort_is_wrong_and_the_link_left_out(make_journal: Make, entry: str, about: str) -> None:
    journal = make_journal(files(f=front("find", id="F1"), d=front("device", id="d1", tent="hut"), x=entry))
    (problem,) = journal.problems
    assert ("x/x.md", "error", True) == (problem.path, problem.severity, about in problem.message)
    row = next(row for row in journal.entries() if row.path == "x/x.md")
    links = {"sources": (), "cultures": (), "moved_to": None, "controlled_by": None}
    assert all(getattr(row, name) == empty for name, empty in links.items() if hasattr(row, name))


def test_a_socket_needs_no_entry_and_a_device_is_spelled_as_defined(make_journal: Make) -> None:
    journal = make_journal(
        files(
            s=front("device", id="Strip-1", tent="hut", powered_by="left socket by the door"),
            t=front("device", id="timer", tent="hut", powered_by="strip-1"),
            l=front("device", id="lamp", tent="hut", powered_by="TIMER", controlled_by="TIMER"),
        )
    )
    by_id = {device.id: (device.powered_by, device.controlled_by) for device in journal.devices}
    assert {
        "Strip-1": ("left socket by the door", None), "timer": ("Strip-1", None), "lamp": ("timer", "timer")
    } == by_id  # fmt: skip
    assert [] == told(journal)


def test_a_share_about_nothing_is_wrong(make_journal: Make) -> None:
    toml = TOML + '[shares.mentor]\nabout = ["B-031", "hut"]\n'
    journal = make_journal({"journal.toml": toml, "b.md": front("batch", id="B-032")})
    (problem,) = journal.problems
    assert ("journal.toml", "error", "write B-032, if you mean that") == (problem.path, problem.severity, problem.fix)
