"""What must not be told by name."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.model import Journal, Share
from journal.sharing.folding import Folded
from journal.sharing.granting import grant_of
from journal.sharing.secrets import Secrets, secrets_of

WOOD = {
    "journal.toml": '[journal]\nkeeper = "Night porter"\n[tents.hut]\nname = "Hut under Far Stell"\n',
    "f1.md": "---\nkind: find\nid: F-1\ndate: 2026-09-12\nplace: Heron Slip\n---\nA heron stood there.\n",
    "f2.md": "---\nkind: find\nid: F-2\ndate: 2026-09-12\nplace: wood\nby: Will\n---\n",
    "f3.md": "---\nkind: find\nid: F-3\ndate: 2026-09-12\nplace: Kilnbrae\n---\n",
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
    assert kinds == [secret.kind for _, _, secret in secrets.told_in(Folded(text))]
