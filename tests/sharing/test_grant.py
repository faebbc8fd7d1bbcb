"""Which IDs and entries a share holds, and which shares are refused with a sentence."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from journal.model import Journal
from journal.problems import Refusal
from journal.reading.settings_file import read_settings
from journal.settings import Share
from journal.sharing.grant import grant_of, share_block, share_named
from tests.builders import entry, noted

TAKEN, BEGUN, NOTED = "2026-09-13", "2026-10-06", "2026-10-20"
WOOD = {
    "journal.toml": "[journal]\n[tents.hut]\n[tents.loft]\n"
    '[shares.mentor]\nabout = ["B-1"]\n[shares.friend]\nabout = ["F-1"]\n',
    "f1.md": entry("find", id="F-1", date="2026-09-12"),
    "f2.md": entry("find", id="F-2", date="2026-09-12"),
    "c1.md": entry("culture", id="C-1", from_="F-1", date=TAKEN),
    "c2.md": entry("culture", id="C-2", from_="C-1", date=TAKEN),
    "c3.md": entry("culture", id="C-3", from_="C-1", date=TAKEN),
    "c4.md": entry("culture", id="C-4", from_="F-2", date=TAKEN),
    "b1.md": entry("batch", id="B-1", culture="C-2", date=BEGUN),
    "b2.md": entry("batch", id="B-2", culture="C-3", date=BEGUN),
    "b3.md": entry("batch", id="B-3", culture="C-2, C-4", date=BEGUN),
    "clone.md": entry("culture", id="C-5", from_="B-1", date="2026-11-01"),
    "fan.md": entry("device", id="fan-1", tent="hut", date="2026-01-02"),
    "lamp.md": entry("device", id="lamp-1", tent="loft", date="2026-01-02"),
}  # fmt: skip


@pytest.fixture(scope="module")
def wood(make_journal: Callable[..., Journal]) -> Journal:
    return make_journal(WOOD)


def share(*about: str, since: date | None = None) -> Share:
    return Share(name="mentor", about=about, since=since)


@pytest.mark.parametrize(
    ("about", "holds"),
    [
        (["B-1"], "B-1 C-1 C-2 C-5 F-1"),  # not C-3, B-2: they come of an ancestor
        (["C-2"], "B-1 B-3 C-1 C-2 C-5 F-1"),  # not C-4, the other parent of B-3
        (["F-1"], "B-1 B-2 B-3 C-1 C-2 C-3 C-5 F-1"),
        (["B-3"], "B-3 C-1 C-2 C-4 F-1 F-2"),
        (["C-5"], "B-1 C-1 C-2 C-5 F-1"),
        (["hut"], "fan-1 hut"),
        (["HUT", "b-1"], "B-1 C-1 C-2 C-5 F-1 fan-1 hut"),
        (["fan-1"], "fan-1"),
    ],
)
def test_it_holds_what_is_named_with_ancestors_and_descendants_of_each(
    wood: Journal, about: list[str], holds: str
) -> None:
    assert set(holds.split()) == grant_of(wood, share(*about)).ids


def with_files(make_journal: Callable[..., Journal], **files: str) -> Journal:
    return make_journal({**WOOD, **{f"{name}.md": text for name, text in files.items()}})


@pytest.mark.parametrize(("about", "holds"), [("B-1", "C-2 B-1 C-5"), ("F-1", "F-1"), ("C-2", "C-2 B-1 B-3 C-5")])
def test_what_is_private_is_not_held_and_leads_to_nothing(
    make_journal: Callable[..., Journal], about: str, holds: str
) -> None:
    """Of what C-1 came, and what came of it, stands in its own entry alone."""
    journal = with_files(make_journal, c1=entry("culture", id="C-1", from_="F-1", date=TAKEN, private="yes"))
    assert set(holds.split()) == grant_of(journal, share(about)).ids


def test_what_began_before_the_share_is_not_held_unless_it_is_named(make_journal: Callable[..., Journal]) -> None:
    journal = with_files(
        make_journal,
        c1=entry("culture", id="C-1", from_="F-1", date="2026-08-30"),
        b1=entry("batch", id="B-1", culture="C-2", date="2026-08"),
    )
    grant = grant_of(journal, share("B-1", "hut", since=date(2026, 9, 1)))
    assert {"B-1", "C-2", "C-5", "F-1", "hut", "fan-1"} == grant.ids
    assert {"B-1", "fan-1"} == grant.wordless


@pytest.mark.parametrize(
    ("text", "kept_back"),
    [
        (noted(NOTED), None),
        (noted(NOTED, about="B-2"), "not shared"),
        (noted(NOTED, about="B-1, B-2"), None),
        (noted(NOTED, about="B-1.1"), None),
        (noted(NOTED, private="yes"), "private"),
        (noted("2026-08-31"), "before since"),
        (noted("about 2026-08-31"), "before since"),
        (noted("2026-09"), None),
        (noted("2026"), "before since"),  # its first day may lie before
        (entry("tent", about="hut", date=NOTED), "not shared"),
        (entry("note", date=NOTED, text="Bought rye.\n"), "not shared"),
    ],
)
def test_an_entry_is_held_by_what_it_is_about(
    make_journal: Callable[..., Journal], text: str, kept_back: str | None
) -> None:
    journal = with_files(make_journal, n=text)
    grant = grant_of(journal, share("B-1", since=date(2026, 9, 1)))
    entry = (*journal.notes, *journal.tent_entries)[0]
    assert kept_back == grant.why_left_out(entry)


def test_a_tent_entry_is_held_with_its_tent(make_journal: Callable[..., Journal]) -> None:
    journal = with_files(make_journal, n=entry("tent", about="hut", date=NOTED))
    assert None is grant_of(journal, share("hut")).why_left_out(journal.tent_entries[0])


@pytest.mark.parametrize(
    ("about", "says"),
    [
        ([], "the share mentor has no IDs; list under `about` the IDs to share"),
        (["B-11"], "the share mentor names B-11, which is not in this journal; did you mean B-1"),
        (["huts"], "the share mentor names huts, which is not in this journal; did you mean hut?"),
        (["Zebra-99-x"], "the share mentor names Zebra-99-x, which is not in this journal"),
    ],
)
def test_a_share_of_nothing_or_of_something_unknown_is_refused(wood: Journal, about: list[str], says: str) -> None:
    with pytest.raises(Refusal) as refused:
        grant_of(wood, share(*about))
    assert str(refused.value).startswith(says)


def test_a_share_that_names_something_private_is_refused(make_journal: Callable[..., Journal]) -> None:
    journal = with_files(make_journal, b1=entry("batch", id="B-1", culture="C-2", date=BEGUN, private="yes"))
    with pytest.raises(Refusal, match=r"names B-1, which is private and so in no share; .* out of b1\.md"):
        grant_of(journal, share("B-1"))


def test_a_share_is_found_by_its_name_in_any_case(wood: Journal) -> None:
    assert ("B-1",) == share_named(wood, "Mentor").about


@pytest.mark.parametrize(
    ("name", "says"),
    [("mentro", "did you mean mentor?"), ("xyz", "the shares are friend, mentor")],
)
def test_an_unknown_share_is_refused_and_near_names_are_suggested(wood: Journal, name: str, says: str) -> None:
    with pytest.raises(Refusal) as refused:
        share_named(wood, name)
    assert says in str(refused.value)


def test_a_journal_without_shares_says_so(make_journal: Callable[..., Journal]) -> None:
    with pytest.raises(Refusal, match="there is no share mentor; to make it one, add these lines") as refused:
        share_named(make_journal({}), "mentor", "B-031")
    settings, problems = read_settings(refused.value.paste.encode())
    assert () == problems
    assert [Share(name="mentor", about=("B-031",))] == list(settings.shares)


@pytest.mark.parametrize("name", ["my mentor", 'the "best"', "Fährfrau"])
def test_the_lines_of_a_share_are_settings_whatever_its_name(name: str) -> None:
    settings, problems = read_settings(share_block(name, "B-001").encode())
    assert ((), [name]) == (problems, [share.name for share in settings.shares])


@pytest.mark.parametrize("positions", ["hidden", "area", "exact"])
@pytest.mark.parametrize("times", ["day", "minute"])
def test_the_words_that_the_lines_of_a_share_offer_are_read(positions: str, times: str) -> None:
    text = share_block("mentor", "B-001")
    assert "what it came from and what was grown from it" in text
    assert positions in text
    assert times in text
    changed = text.replace('"hidden"', f'"{positions}"').replace('"day"', f'"{times}"')
    assert () == read_settings(changed.encode())[1]


def test_a_share_whose_settings_have_errors_is_not_said_to_be_missing(make_journal: Callable[..., Journal]) -> None:
    broken = make_journal({"journal.toml": '[shares.mentor]\nabout = ["B-1"]\npositions = "some"\n'})
    with pytest.raises(Refusal, match='the share "mentor" cannot be made, because its settings have errors'):
        share_named(broken, "mentor")


def test_where_the_settings_are_not_toml_that_is_said_and_no_share_is_called_missing(
    make_journal: Callable[..., Journal],
) -> None:
    broken = make_journal({"journal.toml": '[shares.mentor]\nabout = ["B-1"]\ntimes = day\n'})
    with pytest.raises(Refusal, match=r"journal\.toml:3: this file is not TOML .*no share can be read from it; .*"):
        share_named(broken, "mentor")
