"""Where entries lead: the note beside its batch, and circles."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.model import Journal
from tests.reading.written import TOML, files, front, told, weights

Make = Callable[..., Journal]


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
    ],
)
def test_a_note_that_its_folder_does_not_explain_is_about_nothing_in_particular(
    make_journal: Make, others: dict[str, str]
) -> None:
    journal = make_journal({"journal.toml": TOML, "b/note.md": front("note"), **others})
    assert (("Note", ()), []) == (
        (journal.notes[0].title, journal.notes[0].about),
        [path for path, _ in weights(journal) if path == "b/note.md"],
    )


def test_a_note_beside_an_entry_that_is_left_out_is_wrong_and_stays(make_journal: Make) -> None:
    journal = make_journal({"b/b1.md": front("batch", id="B1", date=""), "b/note.md": front("note")})
    assert (((), "Note")) == (journal.notes[0].about, journal.notes[0].title)
    assert ("b/note.md", "error") in weights(journal)


def test_an_about_that_cannot_be_read_is_reported(make_journal: Make) -> None:
    journal = make_journal({"notes/note.md": front("note", about="B-031 and more")})
    assert [("notes/note.md", "error")] == weights(journal)


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
    assert [("a/a.md", "error"), ("b/b.md", "error"), ("c/c.md", "error")] == weights(journal)
    sources = {row.id: ([str(ref) for ref in row.sources], row.unknown_sources) for row in journal.cultures}
    assert {"A": (["C"], 0), "C": (["F"], 1), "D": (["A"], 0)} == sources
    assert ["A"] == [str(ref) for ref in journal.batches[0].cultures]


def test_a_culture_taken_from_itself_is_a_circle(make_journal: Make) -> None:
    journal = make_journal(files(a=front("culture", id="A", from_="a")))
    assert ((), [("a/a.md", "error")]) == (journal.cultures[0].sources, weights(journal))


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
            a=front("device", id="a1", tent="hut", powered_by="b1"),
            b=front("device", id="b1", tent="hut", controlled_by="a1", powered_by="wall"),
        )
    )
    assert [("a/a.md", "error"), ("b/b.md", "error")] == weights(journal)
    assert [("b1", None), ("wall", None)] == [(row.powered_by, row.controlled_by) for row in journal.devices]


@pytest.mark.parametrize(
    ("powered_by", "problem"),
    [
        ("strip-1", None),
        ("STRIP-1", None),
        ("wall socket 2 by the mangle", None),
        ("north", None),
        ("stripe-1", "write strip-1, if you mean that"),
        ("strip-1.3", "write strip-1, if you mean that"),
        ("hut", "which is a tent"),
        ("timer-9", "correct t/t.md, which would be timer-9"),
    ],
)
def test_what_powers_a_device_is_a_device_or_a_socket_and_what_may_be_a_slip_is_reported(
    make_journal: Make, powered_by: str, problem: str | None
) -> None:
    journal = make_journal(
        files(
            f=front("device", id="fan-1", tent="hut", powered_by=powered_by),
            s=front("device", id="strip-1", tent="hut", powered_by="wall"),
            t=front("device", id="timer-9", tent="hut", date=""),
        )
    )
    fan = next(row for row in journal.devices if row.id == "fan-1")
    said = [p.sentence for p in journal.problems if p.path == "f/f.md"]
    assert (powered_by.lower() if powered_by == "STRIP-1" else powered_by) == fan.powered_by
    assert (problem is not None) == bool(said)
    assert problem is None or problem in said[0]


@pytest.mark.parametrize(
    "text", ["as [there](B-031)", "as [there](<b-031.2>)", "as [there](B-013)", "as [there](hut)", "[0](B-031.0)"]
)
def test_a_link_in_a_text_may_lead_to_any_id(make_journal: Make, text: str) -> None:
    batch = front("batch", text, id="B-031", units="2", formerly="B-013")
    assert [] == told(make_journal({"journal.toml": TOML, "b/batch.md": batch}))


@pytest.mark.parametrize(
    "text",
    [
        "[a](https://example.org) [b](mailto:a@example.org) [c](geo:58,-8)",
        "`[a](B-999)` and\n\n```\n[a](notes.md)\n```\n",
        "\\[a](notes.md) [a] (notes.md) [a]: notes.md [two words](my notes.md)",
        "<https://example.org>",
    ],
)
def test_what_is_no_link_or_leads_elsewhere_is_left_alone(make_journal: Make, text: str) -> None:
    assert [] == told(make_journal({"n/note.md": front("note", text)}))


@pytest.mark.parametrize(
    ("severity", "link", "message", "fix"),
    [
        ("error", "B-032", "the text links to B-032, which is not in this journal", "write B-031, if you mean that"),
        ("error", "X7.2", "the text links to X7, which is not in this journal", "an ID of this journal"),
        ("error", "B-9", "the text links to B-9, which is not in this journal", "correct b/b9.md, which would be B-9"),
        ("warning", "notes.md", '"notes.md", which is neither an ID nor a web address', "begins with https://"),
        ("warning", "<my notes.md>", '"my notes.md", which is neither', "begins with https://"),
        ("warning", "../b/batch.md", '"../b/batch.md", which is neither', "link to B-031, the ID of that entry"),
        ("warning", "IMG_1.JPG", '"IMG_1.JPG", which is neither', "write ! before the link"),
        ("warning", "ftp://example.org", '"ftp://example.org", which is neither', "begins with https://"),
        ("warning", "58.30412,-8.90177", "links to something that is neither", "begins with https://"),
        ("warning", "", "links to something that is neither", "begins with https://"),
    ],
)
def test_a_link_in_a_text_that_leads_nowhere_is_reported_once(
    make_journal: Make, severity: str, link: str, message: str, fix: str
) -> None:
    text = f"First ![x](a.jpg).\n\nAs\n[the\nwords]({link}), or [again][it].\n\n[it]: <{link.strip('<>')}>\n"
    entries = {
        "b/batch.md": front("batch", id="B-031"),
        "b/b9.md": front("batch", id="B-9", date=""),
        "n/note.md": front("note", text),
    }
    (found,) = [one for one in make_journal(entries, {"n/a.jpg": {}}).problems if one.path == "n/note.md"]
    begins = entries["n/note.md"].split("\n").index("[the") + 1
    assert (severity, begins) == (found.severity, found.line)
    assert message in found.message
    assert fix in found.fix


def test_the_picture_of_a_link_is_not_its_target(make_journal: Make) -> None:
    journal = make_journal({"n/note.md": front("note", "[![x](a.jpg)](B-9)")}, {"n/a.jpg": {}})
    assert ["the text links to B-9, which is not in this journal"] == [message for *_, message in told(journal)]
