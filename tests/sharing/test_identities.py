"""No share calls confirmed what the journal that is shared does not."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date

import pytest

from journal.analysis.analysis import Analysis
from journal.model import Certainty, Entry, Journal
from journal.settings import Share
from journal.sharing.identities import private_doubts
from journal.sharing.redact import redaction_of
from tests.builders import batch, culture, entry, find, journal_of, note, noted, seeded, when
from tests.sharing.made import files_of

Make = Callable[..., Journal]
SINCE = date(2026, 10, 1)

RENAMED = {
    "f.md": entry("find", id="F-1", date="2026-09-12", species="Pleurotus ostreatus", certainty="confirmed",
                  identified_by="Hans, spores"),
    "n1.md": noted("2026-09-20", about="F-1", species="Galerina marginata", certainty="likely"),
    "n2.md": noted("2026-11-02", about="F-1", certainty="confirmed", identified_by="Hans, microscopy"),
    "c.md": entry("culture", id="C-2", from_="F-1", date="2026-10-02", species="Kuehneromyces mutabilis"),
    "b.md": entry("batch", id="B-1", culture="C-2", date="2026-10-03"),
}  # fmt: skip


def shared(journal: Journal, *about: str, since: date | None = SINCE) -> Journal:
    return redaction_of(journal, Share(name="m", about=about or ("F-1",), since=since)).journal


def test_a_find_whose_name_is_left_out_stays_unsure_and_so_does_what_was_grown_from_it(make_journal: Make) -> None:
    journal = make_journal(RENAMED)
    assert {"F-1": True, "C-2": False, "B-1": False} == Analysis(journal).confirmed
    shown = shared(journal)
    assert {"F-1": False, "C-2": False, "B-1": False} == Analysis(shown).confirmed
    now = Analysis(shown).identifications["F-1"][-1]
    assert (None, "unsure") == (now.species, now.certainty)
    assert {None} == {one.certainty for one in shown.notes}  # nobody could know of which name it says so


def test_a_name_given_while_the_share_runs_counts_with_the_certainty_that_it_was_given(make_journal: Make) -> None:
    later = noted("2026-11-09", about="F-1", species="Galerina marginata", certainty="confirmed",
                  identified_by="spores")  # fmt: skip
    shown = shared(make_journal({**RENAMED, "n3.md": later}))
    now = Analysis(shown).identifications["F-1"][-1]
    assert ("Galerina marginata", "confirmed") == (now.species, now.certainty)
    assert {"F-1": True, "C-2": False, "B-1": False} == Analysis(shown).confirmed


def test_a_name_that_the_shared_journal_takes_for_the_finds_is_no_other_in_the_share(make_journal: Make) -> None:
    """By the names that a share has of its species an oyster is found as a Pleurotus, and an elm oyster is none."""
    sure = {"certainty": "confirmed", "identified_by": "spores", "date": "2026-10-02"}
    files = {
        "f.md": entry("find", id="F-1", species="Hypsizygus ulmarius", **sure),
        "g.md": entry("find", id="F-2", species="Pleurotus ostreatus", **sure),
        "c.md": entry("culture", id="C-1", from_="F-1", date="2026-10-03", species="oyster"),
    }
    journal = make_journal(files)
    shown = shared(journal, "F-1", "F-2")
    assert ("oyster", "Pleurotus") in shown.settings.english_names
    assert {"F-1": True, "F-2": True, "C-1": True} == Analysis(journal).confirmed == Analysis(shown).confirmed


VELVET = {
    "f.md": entry("find", id="F-1", date="2026-10-02", species="Flammulina velutipes", certainty="confirmed",
                  identified_by="spores"),
    "n.md": noted("2026-10-03", about="F-1", certainty="confirmed", identified_by="Hans"),
    "c.md": entry("culture", id="C-1", from_="F-1", date="2026-10-04"),
}  # fmt: skip


@pytest.mark.parametrize("since", [None, SINCE, date(2026, 10, 3), date(2026, 10, 4)])
@pytest.mark.parametrize(
    ("certainty", "is_another", "private"),
    [
        ("unsure", True, {"species": "Grifola frondosa", "certainty": "confirmed", "identified_by": "Hans"}),
        ("likely", False, {"certainty": "likely"}),
        ("unsure", False, {"species": "Flammulina sp."}),
        ("unsure", False, {"species": "Flammulina sp.", "certainty": "confirmed", "identified_by": "Hans"}),
        ("confirmed", None, {"species": "Flammulina velutipes", "certainty": "confirmed", "identified_by": "Hans"}),
        ("confirmed", None, {"identified_by": "Hans"}),
    ],
)
def test_what_a_private_note_makes_less_sure_is_shared_as_no_surer_and_without_its_name(
    make_journal: Make, certainty: str, is_another: bool | None, private: dict[str, str], since: date | None
) -> None:
    note = noted("2026-10-05", about="F-1", private="yes", **private)
    journal = make_journal({**VELVET, "p.md": note})
    redaction = redaction_of(journal, Share(name="m", about=("F-1", "C-1"), since=since))
    shown = Analysis(redaction.journal)
    now = shown.identifications["F-1"][-1]
    assert ("Flammulina velutipes", certainty) == (now.species, now.certainty)
    assert dict.fromkeys(("F-1", "C-1"), certainty == "confirmed") == shown.confirmed
    told = [(doubt.note, doubt.is_another) for doubt in private_doubts(journal, redaction.grant)]
    assert ([] if is_another is None else [("p.md", is_another)]) == told
    pages = b"".join(files_of(redaction, {}).values())
    assert (certainty == "confirmed") == any(words in pages for words in (b"<dd>confirmed", b"certainty: confirmed"))
    assert not any(word in pages for word in (b"Grifola", b"does not confirm it"))


def test_an_open_note_that_confirms_a_privately_given_name_confirms_no_other_in_the_share(make_journal: Make) -> None:
    private = noted("2026-10-02", about="F-1", species="Grifola frondosa", certainty="likely", private="yes")
    journal = make_journal({**VELVET, "p.md": private})
    now = Analysis(journal).identifications["F-1"][-1]
    assert ("Grifola frondosa", "confirmed") == (now.species, now.certainty)
    shown = shared(journal, "C-1", since=None)
    now = Analysis(shown).identifications["F-1"][-1]
    assert ("Flammulina velutipes", "unsure", {"F-1": False, "C-1": False}) == (
        now.species, now.certainty, Analysis(shown).confirmed,
    )  # fmt: skip
    assert {None} == {one.certainty for one in shown.notes}


def test_what_only_the_shared_journal_does_not_confirm_is_said_to_be_so() -> None:
    rows = journal_of(find("F-1", certainty="confirmed", identified_by="spores"), culture("C-1", "F-1"))
    redaction = redaction_of(rows, Share(name="m", about=("F-1",)))
    less_sure = replace(redaction, journal=replace(redaction.journal, surest={"C-1": "unsure"}))
    said = "The journal that is shared here does not confirm it."
    assert said.encode() in files_of(less_sure, {})["cultures/c-1/index.html"]
    assert said.encode() not in files_of(redaction, {})["cultures/c-1/index.html"]


NAMES = (
    None, None, "Pleurotus ostreatus", "Pleurotus", "Galerina marginata", "Kuehneromyces mutabilis", "oyster",
    "Flammulina sp.", "Hans's oyster",
)  # fmt: skip
CERTAINTIES: tuple[Certainty, ...] = ("confirmed", "confirmed", "likely", "unsure")


def rows_of(chance: random.Random) -> Iterator[Entry]:
    """A find or a few with cultures, batches and notes that name them again, within forty days of the share's first."""
    ids, days = [], range(-20, 20)
    for number in range(chance.randint(1, 3)):
        ids.append(f"F-{number}")
        certainty = chance.choice(CERTAINTIES)
        yield find(ids[-1], chance.choice(days), species=chance.choice(NAMES), certainty=certainty)
    finds = list(ids)
    for number in range(chance.randint(1, 5)):
        sources = ", ".join(chance.sample(ids, min(len(ids), chance.choice((1, 1, 2)))))
        kind, letter = chance.choice(((culture, "C"), (batch, "B")))
        yield kind(f"{letter}-{number}", sources, chance.choice(days), species=chance.choice(NAMES))
        ids.append(f"{letter}-{number}")
    for number in range(chance.randint(0, 5)):
        about = ", ".join(chance.sample(finds, chance.randint(1, len(finds))))
        certainty = chance.choice((None, *CERTAINTIES))
        by = chance.choice((None, "Hans, spores"))
        yield note(about, chance.choice(days), species=chance.choice(NAMES), certainty=certainty, identified_by=by,
                   path=f"note-{number}.md")  # fmt: skip


@seeded(40)
def test_no_share_is_surer_than_the_journal_that_is_shared(seed: int) -> None:
    chance = random.Random(seed)
    for _ in range(5):
        rows = journal_of(*rows_of(chance))
        journal = replace(rows, settings=replace(rows.settings, names=(("hans's oyster", "Flammulina velutipes"),)))
        known = Analysis(journal)
        about = chance.choice([row.id for row in (*journal.finds, *journal.cultures, *journal.batches)])
        shown = Analysis(shared(journal, about, since=chance.choice((None, when(0).first, when(8).first))))
        surer = [id for id, is_sure in shown.confirmed.items() if is_sure and not known.confirmed[id]]
        order = CERTAINTIES[1:]
        for id, rows in shown.identifications.items():
            now = known.identifications[id][-1]
            is_named = rows[-1].species == now.species
            least = order.index(now.certainty if is_named else "unsure")
            surer += [id] if order.index(rows[-1].certainty) < least else []
        assert [] == surer
