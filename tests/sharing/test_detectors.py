"""What is looked for is derived from the whole journal and the grant alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from journal.model import Journal
from journal.problems import Refusal
from journal.settings import Share
from journal.sharing.detectors import detectors_of
from tests.sharing.planted import SINCE, ids_of_names, planted, sight_of, with_its_public_one

SHARE = Share(name="m", about=(ids_of_names()["batch a"],), since=SINCE, positions="area")


@pytest.mark.parametrize("share", [SHARE, replace(SHARE, by=True), replace(SHARE, about=(ids_of_names()["hut"],))])
def test_every_planted_word_that_is_not_granted_is_looked_for_and_none_that_is(share: Share) -> None:
    hunted = detectors_of(planted().journal, share)
    sight = sight_of(planted().journal, share)
    missed, wrongly = set(), set()
    for word, at in planted().words.items():
        if at[0] == "problems" or at[1] in ("way", "link target", "digest", "written"):
            continue  # of the redaction's own making: no text of the model is only these
        if at[1] == "camera":
            continue  # what cameras wrote is read out of the photos themselves, see `camera_words`
        is_found = any(True for _ in hunted.found_in(f"so {word} it was")) or word.lower() in " ".join(hunted.strings)
        if sight.may_tell(*at) and is_found:
            wrongly.add(at)
        if not sight.may_tell(*at) and not is_found:
            missed.add(at)
    assert (set(), set()) == (missed, wrongly)


def test_how_something_was_identified_may_be_told_and_by_whom_not(make_journal: Callable[..., Journal]) -> None:
    find = "---\nkind: find\nid: F-1\ndate: 2026-09-12\nidentified by: Hans, microscopy\n---\n"
    hunted = detectors_of(make_journal({"f.md": find}), Share(name="m", about=("F-1",)))
    assert [] == list(hunted.found_in("by microscopy"))
    assert "a person" in {told.what for told in hunted.found_in("by Hans")}


def test_what_cannot_be_made_is_refused() -> None:
    with pytest.raises(Refusal):
        detectors_of(planted().journal, replace(SHARE, about=()))


def test_hours_of_light_that_are_shared_are_no_time_of_day() -> None:
    whole = planted().journal
    entry = next(e for e in whole.tent_entries if e.light and e.about == (ids_of_names()["hut"],))
    assert entry.date.moment is not None
    at_dawn = replace(entry.date, moment=entry.date.moment.replace(hour=6, minute=25))
    changed = with_its_public_one(
        replace(whole, tent_entries=tuple(replace(e, date=at_dawn) if e is entry else e for e in whole.tent_entries))
    )
    assert "06:25" in detectors_of(changed, SHARE).clocks
    assert "06:25" not in detectors_of(changed, replace(SHARE, about=(ids_of_names()["hut"],), since=None)).clocks


def test_what_the_program_calls_a_shared_species_is_not_a_leak(make_journal: Callable[..., Journal]) -> None:
    """The text of the find, which stays out, says `pale`; so does the English name of its species."""
    files = {
        "f.md": "---\nkind: find\nid: F-1\ndate: 2026-09-12\nspecies: Pleurotus pulmonarius\n---\nPale, with zyzzy.\n",
        "c.md": "---\nkind: culture\nid: C-1\nfrom: F-1\ndate: 2026-09-13\n---\n",
    }
    detectors = detectors_of(make_journal(files), Share(name="m", about=("C-1",)))
    assert (False, True) == ("pale" in detectors.rare, "zyzzy" in detectors.rare)
