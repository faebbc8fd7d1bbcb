"""What must not be told by name."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.model import Journal
from journal.settings import Share
from journal.sharing.clean_text import Cleaner
from journal.sharing.detectors import Detectors, detectors_of
from journal.sharing.grant import grant_of
from journal.sharing.normalise import Normalised
from journal.sharing.program_words import page_texts
from journal.sharing.redact import cleaner_of
from journal.sharing.secrets import Secrets, secrets_of

WOOD = {
    "journal.toml": '[journal]\nauthor = "Night porter"\n[tents.hut]\nname = "Hut under Far Stell"\n',
    "f1.md": "---\nkind: find\nid: F-1\ndate: 2026-09-12\nplace: Heron Slip\n---\nA heron stood there.\n",
    "f2.md": "---\nkind: find\nid: F-2\ndate: 2026-09-12\nplace: wood\nby: Will\n---\n",
    "f3.md": "---\nkind: find\nid: F-3\ndate: 2026-09-12\nplace: Kilnbrae\npatch: Zennorhook\n---\n",
    "c1.md": "---\nkind: culture\nid: C-1\nfrom: F-1\nreceived from: swap with Grete Moll\ndate: 2026-09-13\n---\n",
    "c2.md": "---\nkind: culture\nid: F-2-6\nfrom: C-1\ndate: 2026-09-20\n---\n",
    "f4.md": "---\nkind: find\nid: F-4\ndate: 2026-09-12\npermission: as for F-1\nplace: by C-1 in Cluny\n---\n",
    "f5.md": "---\nkind: find\nid: F-5\ndate: 2026-09-12\nplace: \u79d8\u5bc6\u306e\u68ee\n---\n",
    "c3.md": "---\nkind: culture\nid: Oyster\nreceived from: unknown\nspecies: phoenix oyster\ndate: 2026-09-20\n---\n",
    "d.md": "---\nkind: device\nid: lamp\ntent: hut\ndate: 2026-01-02\n---\n",
}


@pytest.fixture(scope="module")
def secrets(make_journal: Callable[..., Journal]) -> Secrets:
    journal = make_journal(WOOD)
    return secrets_of(journal, grant_of(journal, Share(name="m", about=("C-1",))))


@pytest.mark.parametrize(
    ("kinds", "text"),
    [
        (["place"], "at Heron Slip"),
        (["place"], "at heron-slip"),
        ([], "a heron, and a slip"),  # ordinary words, each by itself
        ([], "in the wood"),
        (["place"], "at KILNBRAE"),
        (["place"], "at zennorhook"),
        (["tent"], "at Far Stell"),
        (["tent"], "near Stell"),  # a name's own word
        (["person"], "with Grete"),
        (["person"], "with Moll, and so"),
        (["person"], "the night porter"),
        (["person"], "Will came"),
        ([], "it will"),
        (["ID"], "F-2"),
        (["ID"], "f 3"),
        ([], "F-1 and C-1"),  # shared: an ancestor
        ([], "the lamp"),
        ([], "the phoenix oyster"),  # an ID that is a word of a species' name
        ([], "F-22"),
        (["ID", "ID"], "F-2 and F-3.1"),
        ([], "for F-1, as they said"),  # a permission's own words, but for its IDs, are no name
        (["place"], "at Cluny"),
        ([], "F-2-6 and F-2-6Pleurotus"),  # a piece of a shared ID to which a word was joined
        (["ID"], "F-2-7Pleurotus"),
        (["place"], "the Heron   \n   Slip"),  # however much blank stands between
        (["place"], "all Heron Slips"),
        (["place"], "#heronslip2026"),
        (["place"], "Kilnbraessa"),  # with the ending of another language
        ([], "a herons lip"),
        (["place"], "\u4eca\u65e5\u306f\u79d8\u5bc6\u306e\u68ee\u3067"),  # a name in writing without blanks
    ],
)
def test_a_name_is_known_in_any_spelling_and_from_ordinary_words(secrets: Secrets, kinds: list[str], text: str) -> None:
    assert kinds == [secret.kind for _, _, secret in secrets.mentions_in(Normalised(text))]


SHARE = Share(name="m", about=("Nystad-1", "loft"))
SOUND = {
    "journal.toml": '[journal]\nauthor = "Night porter"\n'
    '[tents.t-7]\nname = "Cellar at Quarry Lane"\n[tents.loft]\nname = "Weisdale loft"\n',
    "f.md": "---\nkind: find\nid: F-1\ndate: 2026-09-12\nplace: Sandsound wood, by Weisdale\nby: Hanne Nystad\n---\n",
    "f2.md": "---\nkind: find\nid: F-2\ndate: 2026-09-12\nplace: wood behind Ferry Cottage\nby: Peter Rose\n---\n",
    "f3.md": '---\nkind: find\nid: F-3\ndate: 2026-09-12\nplace: "47"\n---\n',
    "f4.md": "---\nkind: find\nid: F-4\ndate: 2026-09-12\nplace: a\n---\n",
    "c.md": "---\nkind: culture\nid: C-9\nreceived from: unknown\ndate: 2026-10-01\n"
    "species: Pleurotus sandsoundii\n---\n",
    "b.md": "---\nkind: batch\nid: Nystad-1\ndate: 2026-10-06\nculture: C-9\ntent: loft\n---\n"
    "As hanne said of sandsound wood. The humidity rose.\n",
}


@pytest.fixture(scope="module")
def sound(make_journal: Callable[..., Journal]) -> Journal:
    return make_journal(SOUND)


@pytest.fixture(scope="module")
def detectors(sound: Journal) -> Detectors:
    return detectors_of(sound, SHARE)


@pytest.fixture(scope="module")
def cleaner(sound: Journal) -> Cleaner:
    return cleaner_of(sound, grant_of(sound, SHARE))


NAMED = (
    "sandsound", "Sandsound", "SANDSOUND", "sandsound's", "Sandsounds", "weisdale", "Weisdale\u2019s", "hanne", "HANNE",
    "hannes", "nystad", "Nystads", "nystad's", "quarry lane", "Quarry Lane", "QUARRY LANE", "QuarryLane", "quarry-lane",
    "quarry_lane", "quarrylanes", "Quarry Lanes", "quarry lane's", "sandsoundwood", "SandsoundWood", "sandsound-wood",
    "OldSandsound", "#sandsound2026", "atweisdale", "Hanne-Nystad", "hannenystad", "Weisdales", "ferry cottage",
    "FerryCottage", "ferry-cottages", "peter", "place 47", "plot 47",
)  # fmt: skip


@pytest.mark.parametrize("name", NAMED)
@pytest.mark.parametrize("around", ["{} today", "like {}", "x, {}.", "({})"])
def test_a_name_is_taken_out_and_looked_for_in_every_form(
    detectors: Detectors, cleaner: Cleaner, name: str, around: str
) -> None:
    text = around.format(name)
    assert {"a place", "a person", "a tent"} & {told.what for told in detectors.found_in(text)}
    left = cleaner.words(text)
    for sign in ("'s", "\u2019s", "#"):
        left = left.replace(sign, "")
    assert around.format("(not shared)") == left


@pytest.mark.parametrize(
    "text",
    [
        "by the wood, at the lane of the cellar", "a ferry, a cottage, a quarry", "the humidity rose", "sand and sound",
        "Nystad-1 and NYSTAD-1", "Pleurotus sandsoundii", "the Weisdale loft, WEISDALE LOFT", "47 g, 47 blocks, day 47",
        "A heron, a bag", "the cellars", "Wood chips",
    ],
)  # fmt: skip
def test_ordinary_words_and_names_that_are_shared_are_no_secret(
    detectors: Detectors, cleaner: Cleaner, text: str
) -> None:
    names = {"a place", "a person", "a tent"}
    assert not names & {told.what for told in detectors.found_in(text)}
    assert text == cleaner.words(text)


def test_what_the_program_says_is_not_a_secret(sound: Journal) -> None:
    hunted = detectors_of(sound, Share(name="m", about=("Nystad-1",)))
    assert not [secret for text in page_texts() for *_, secret in hunted.secrets.mentions_in(Normalised.loosely(text))]
