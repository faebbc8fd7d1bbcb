"""What a share's journal holds, field by field."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from datetime import date
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.lineage import lineage_of
from journal.analysis.progress import progress_of
from journal.model import Journal, Photo, Ref
from journal.settings import Share
from journal.sharing.redact import redaction_of


def redacted(journal: Journal, share: Share) -> Journal:
    return redaction_of(journal, share).journal


WOOD = {
    "journal.toml": '[journal]\ntitle = "Woods of Hans"\nauthor = "Night porter"\ntime_zone = "Europe/London"\n'
    'site_url = "https://wood.example"\npoison_centre = "+00 000"\nunits = "us"\nas_of = 2026-11-25\n'
    '[ingredients]\n"oak pellets" = "93 %"\n"rye" = "88 %"\n'
    '[tents.hut]\nname = "Wash-house tent"\nwidth = "4 ft"\nhumidity = "85–95 %"\n[tents.hut.every]\ntank = "7 d"\n'
    '[tents.loft]\nname = "Net loft"\n[[climate]]\nfiles = "c/*.csv"\ntent = "hut"\n'
    '[shares.mentor]\nabout = ["B-031"]\n',
    "f/find.md": "---\nkind: find\nid: F26-001\ndate: 2026-09-12 06:10\nspecies: Pleurotus pulmonarius\nby: Hans\n"
    "certainty: confirmed\nidentified by: Hans, microscopy\nwhere: 58.30412, -8.90177 ±8 m\nplace: Alder Bank\n"
    "permission: crofter\nelevation: 40 m\nlocality: exact\nphotos: IMG_1.jpg: seen at Alder Bank\n---\n",
    "c/PP-26A.md": "---\nkind: culture\nid: PP-26A\nfrom: F26-001\ndate: 2026-09-13\nkept: fridge door 2\n---\n",
    "c/PP-26B.md": "---\nkind: culture\nid: PP-26B\nreceived from: Hans\ndate: 2026-09-13\n---\n",
    "b/B-031.md": "---\nkind: batch\nid: B-031\nculture: PP-26A\ntent: hut\nunits: 4\n"
    "mix: oak pellets 5 kg, water 8 kg\nphotos: same.jpg\ndate: 2026-10-06 07:30\n"
    "next: 2026-10-20 look at PP-26B\n---\nMade at 07:30. ![bags](IMG_2.jpg)\n",
    "b/B-032.md": "---\nkind: batch\nid: B-032\nculture: PP-26A, PP-26B\ntent: loft\ndate: 2026-10-06\n---\n",
    "n/moved.md": "---\nkind: note\nabout: B-031\nmoved to: loft\ndate: 2026-10-20\n---\n",
    "n/both.md": "---\nkind: note\nabout: B-031, B-032\ndried: 40 g\ndried from: 400 g\nlost: 1\n"
    "date: 2026-10-25\n---\n",
    "n/own.md": "---\nkind: note\nabout: B-031\nharvest: 300 g\nflush: 1\ndate: 2026-10-26\ntitle: First\n---\n",
    "n/late.md": "---\nkind: note\nabout: B-031\ndate: 2026-10-26 21:00\n---\nlate\n",
    "n/early.md": "---\nkind: note\nabout: B-031\ndate: 2026-10-26 05:00\n---\nearly\n",
    "t/set.md": "---\nkind: tent\nabout: hut, loft\nhumidity set point: 92 %\nlight: 06:30–18:30\n"
    "serviced: tank by Hans\ndate: 2026-10-20 07:00\n---\n",
    "d/fan-1.md": "---\nkind: device\nid: fan-1\ntent: hut\ndoes: fan\npowered by: strip-9, north socket\nprice: 9\n"
    "date: 2026-01-02\n---\nBought of Hans.\n",
    "d/strip.md": "---\nkind: device\nid: strip-9\ntent: loft\ndate: 2026-01-02\n---\n",
}  # fmt: skip
PHOTOS = {
    "f/IMG_1.jpg": {"taken": "2026-09-12T06:12:31+01:00", "lat_deg": 58.3, "lon_deg": -8.9, "digest": "aa"},
    "b/IMG_2.jpg": {"taken": "2026-10-06T07:31:00+01:00", "width": 1600, "height": 1200, "digest": "bb"},
    "b/same.jpg": {"digest": "bb"},
    "c/else.jpg": {"digest": "cc"},
}
Make = Callable[..., Journal]


def share(*about: str, **more: Any) -> Share:
    return Share(**{"name": "mentor", "about": about or ("B-031",), **more})


@pytest.fixture(scope="module")
def wood(make_journal: Make) -> Journal:
    return make_journal(WOOD, PHOTOS)


def with_files(make_journal: Make, files: Mapping[str, str]) -> Journal:
    return make_journal({**WOOD, **files}, PHOTOS)


# Finds -------------------------------------------------------------------------------------------------------------


def test_a_find_loses_its_place_permission_finder_and_position(wood: Journal) -> None:
    find = redacted(wood, share()).finds[0]
    gone = (find.place, find.permission, find.position, find.elevation_m)
    assert (None, None, None, None) == gone
    assert ("the author", "hidden", "confirmed") == (find.by, find.locality, find.certainty)


@pytest.mark.parametrize(
    ("positions", "locality", "grid_deg"),
    [
        ("hidden", "exact", "none"), ("area", "hidden", "none"), ("exact", "hidden", "none"),
        ("area", "exact", 0.1), ("exact", "area", 0.1), ("area", "area", 0.1), ("exact", "exact", None),
    ],
)  # fmt: skip
def test_a_position_is_shown_as_share_and_find_allow(
    wood: Journal, positions: Any, locality: Any, grid_deg: float | str | None
) -> None:
    whole = replace(wood, finds=(replace(wood.finds[0], locality=locality),))
    find = redacted(whole, share(positions=positions)).finds[0]
    assert grid_deg == (find.position.grid_deg if find.position else "none")
    assert ("" if find.position is None else find.position.written) == ""
    assert (grid_deg is None) == (find.elevation_m is not None)


@pytest.mark.parametrize(("by", "said"), [(False, "microscopy"), (True, "Hans, microscopy")])
def test_how_it_was_identified_is_said_and_by_whom_only_if_persons_are_shared(
    wood: Journal, by: bool, said: str
) -> None:
    assert said == redacted(wood, share(by=by)).finds[0].identified_by


# Links -------------------------------------------------------------------------------------------------------------


def test_a_parent_that_is_not_shared_is_counted_and_not_named(make_journal: Make) -> None:
    hidden = WOOD["c/PP-26A.md"].replace("id: PP-26A", "id: PP-26A\nprivate: yes")
    batch = redacted(with_files(make_journal, {"c/PP-26A.md": hidden}), share()).batches[0]
    assert ((), 1, 1) == (batch.cultures, batch.unknown_sources, batch.unshared_sources)


def test_of_several_parents_those_that_are_shared_stay(wood: Journal) -> None:
    journal = redacted(wood, share("PP-26A"))
    mixed = next(batch for batch in journal.batches if batch.id == "B-032")
    assert ((Ref("PP-26A"),), 1) == (mixed.cultures, mixed.unshared_sources)
    assert {"F26-001", "PP-26A"} == set(lineage_of(journal).ancestors_of("B-032"))


def test_a_giver_is_named_only_if_persons_are_shared(wood: Journal) -> None:
    assert None is redacted(wood, share("PP-26B")).cultures[0].received_from
    assert "Hans" == redacted(wood, share("PP-26B", by=True)).cultures[0].received_from
    assert "received" == redacted(wood, share("PP-26B")).cultures[0].method


def test_a_note_about_several_keeps_those_that_are_shared_and_no_sum_of_all(wood: Journal) -> None:
    both = next(note for note in redacted(wood, share()).notes if note.date.first == date(2026, 10, 25))
    assert ((Ref("B-031"),), None, None, None) == (both.about, both.dried_g, both.dried_from_g, both.lost)
    assert [300.0] == [note.harvest_g for note in redacted(wood, share()).notes if note.harvest_g]
    assert [40.0] == [note.dried_g for note in redacted(wood, share("B-031", "B-032")).notes if note.dried_g]


def test_a_mass_picked_at_a_visit_of_a_find_is_not_shared(make_journal: Make) -> None:
    visit = "---\nkind: note\nabout: F26-001\nstage: prime\nharvest: 300 g\ndate: 2026-10-03\n---\n"
    shared = redacted(with_files(make_journal, {"n/visit.md": visit}), share("F26-001", texts="all"))
    assert [("prime", None)] == [(note.stage, note.harvest_g) for note in shared.notes if note.stage]


# Dates and order ---------------------------------------------------------------------------------------------------


def test_a_share_by_the_day_knows_no_time_of_day_and_keeps_the_order(wood: Journal) -> None:
    journal = redacted(wood, share())
    assert {None} == {entry.date.moment for entry in journal.entries()}
    assert {"day"} == {entry.date.exact for entry in journal.entries()}
    same_day = [entry.text.strip() for entry in journal.notes if entry.date.first == date(2026, 10, 26)]
    assert ["", "early", "late"] == same_day
    assert "UTC" == journal.settings.time_zone
    assert "Made at (not shared)." in journal.batches[0].text


def test_a_share_by_the_minute_keeps_the_minute(wood: Journal) -> None:
    journal = redacted(wood, share(times="minute"))
    assert "2026-10-06T07:30:00+01:00" == journal.batches[0].date.iso
    assert "2026-09-12T06:12:00+01:00" == journal.photos[1].taken.isoformat()
    assert "Europe/London" == journal.settings.time_zone


@pytest.mark.parametrize(("written", "shown"), [("2026-10", "2026-10"), ("about 2026-10-03", "about 2026-10-03")])
def test_a_date_that_is_less_exact_stays_as_inexact(make_journal: Make, written: str, shown: str) -> None:
    text = f"---\nkind: note\nabout: B-031\ndate: {written}\n---\n"
    notes = redacted(with_files(make_journal, {"n/x.md": text}), share()).notes
    assert shown in {note.date.written for note in notes}


def test_paths_number_the_entries_and_reveal_nothing_else(wood: Journal) -> None:
    entries = list(redacted(wood, share()).entries())
    assert [f"{number:06d}.md" for number in range(1, len(entries) + 1)] == [entry.path for entry in entries]


# Photos ------------------------------------------------------------------------------------------------------------


def test_photos_have_new_names_and_neither_place_nor_clock(wood: Journal) -> None:
    redaction = redaction_of(wood, share())
    assert {"f/IMG_1.jpg", "b/IMG_2.jpg"} <= set(redaction.photos)
    assert "c/else.jpg" not in redaction.photos
    for photo in redaction.journal.photos:
        assert isinstance(photo, Photo)
        assert photo.path.startswith("picture-")
        assert (None, None, None) == (photo.lat_deg, photo.lon_deg, photo.track)
        assert photo.taken is None or (photo.by_day and "12:00:00+00:00" in photo.taken.isoformat())
        assert photo.digest not in {"aa", "bb"}


def test_what_was_published_is_found_by_the_new_names(wood: Journal) -> None:
    redaction = redaction_of(wood, share())
    made = redaction.published({"f/IMG_1.jpg": "one", "b/IMG_2.jpg": "two", "c/else.jpg": "three"})
    assert {"one", "two"} == set(made.values())
    assert set(made) <= {photo.path for photo in redaction.journal.photos}


def test_a_picture_in_a_text_is_still_shown(wood: Journal) -> None:
    batch = redacted(wood, share()).batches[0]
    shown = next(use for use in batch.photos if use.in_text)
    assert f"![bags]({shown.path})" in batch.text
    assert "IMG" not in batch.text


def test_photos_of_one_content_are_one(wood: Journal) -> None:
    redaction = redaction_of(wood, share())
    assert redaction.photos["b/IMG_2.jpg"] == redaction.photos["b/same.jpg"]
    assert len({photo.path for photo in redaction.journal.photos}) == len(redaction.journal.photos)


def test_captions_are_cleaned(wood: Journal) -> None:
    find = redacted(wood, share(texts="all")).finds[0]
    assert ["seen at (not shared)"] == [use.caption for use in find.photos]


# Names of species -------------------------------------------------------------------------------------------------

NAMED = {
    "journal.toml": '[names]\n"shelf oyster" = "Pleurotus pulmonarius"\n"secret wood oyster" = "Pleurotus ostreatus"\n'
    '"Hans\'s oyster" = "Pleurotus pulmonarius"\n',
    "f.md": "---\nkind: find\nid: F-1\ndate: 2026-09-12\nspecies: Pleurotus pulmonarius\nby: Hans\n---\n",
    "g.md": "---\nkind: find\nid: F-2\ndate: 2026-09-12\nspecies: Pleurotus ostreatus\n---\n",
    "h.md": "---\nkind: find\nid: F-3\ndate: 2026-09-12\nspecies: Calocybe gambosa\nidentified by: George\n---\n",
}


def test_only_names_of_shared_species_go_out_and_none_that_tells_a_persons(make_journal: Make) -> None:
    journal = make_journal(NAMED)
    settings = redacted(journal, share("F-1")).settings
    english = dict(settings.english_names)
    assert ((("shelf oyster", "Pleurotus pulmonarius"),), "Pleurotus") == (settings.names, english["oyster"])
    assert "phoenix oyster" in english
    assert not {"shelf oyster", "secret wood oyster", "Hans's oyster", "pearl oyster", "spring mushroom"} & set(english)
    assert ["spring mushroom"] == [name for name, _ in redacted(journal, share("F-3")).settings.english_names]


def test_what_an_english_name_means_is_no_surer_in_a_share(make_journal: Make) -> None:
    """The names by which the search of a share finds its species do not count as its author's own."""
    files = {
        "f.md": "---\nkind: find\nid: F-1\ndate: 2026-09-12\nspecies: Pleurotus ostreatus\n---\n",
        "g.md": "---\nkind: find\nid: F-2\ndate: 2026-09-13\nspecies: oyster\n---\n",
    }
    shown = redacted(make_journal(files), share("F-1", "F-2"))
    assert ("oyster", "Pleurotus") in shown.settings.english_names
    assert ["oyster", "Pleurotus ostreatus"] == [season.species for season in Analysis(shown).seasons]


MISNAMED = {
    "journal.toml": '[names]\n"willow button" = "Flammulina velutipes"\n',
    "f.md": "---\nkind: find\nid: F-1\ndate: 2026-09-12\nspecies: Pleurotus ostreatus\ncertainty: confirmed\n"
    "identified by: Hans, spores\n---\n",
    "n.md": "---\nkind: note\nabout: F-1\ndate: 2026-09-20\nspecies: Pleurotus pulmonarius\ncertainty: confirmed\n"
    "identified by: Hans, microscopy\n---\n",
    "a.md": "---\nkind: culture\nid: C-1\nfrom: F-1\ndate: 2026-10-01\n---\n",
    "b.md": "---\nkind: culture\nid: C-2\nfrom: C-1\ndate: 2026-10-02\nspecies: willow button\n---\n",
    "c.md": "---\nkind: batch\nid: B-1\nculture: C-2\ndate: 2026-10-03\n---\n",
}


@pytest.mark.parametrize("since", [None, date(2026, 10, 1)])
def test_another_name_than_that_of_the_find_is_not_confirmed_in_a_share_either(
    make_journal: Make, since: date | None
) -> None:
    journal = make_journal(MISNAMED)
    shown = redacted(journal, share("F-1", since=since))
    expected = {"F-1": True, "C-1": True, "C-2": False, "B-1": False}
    assert expected == Analysis(journal).confirmed == Analysis(shown).confirmed


@pytest.mark.parametrize("since", [None, date(2026, 10, 1)])
def test_a_find_is_in_a_share_what_it_is_identified_as_now(make_journal: Make, since: date | None) -> None:
    unsure = MISNAMED["n.md"].replace("confirmed\nidentified by: Hans, microscopy", "unsure")
    shown = redacted(make_journal({**MISNAMED, "n.md": unsure}), share("F-1", since=since))
    now = Analysis(shown).identifications["F-1"][-1]
    assert ("Pleurotus pulmonarius", "unsure") == (now.species, now.certainty)


def test_a_find_whose_name_now_is_not_shared_has_none_in_a_share_and_is_not_confirmed(make_journal: Make) -> None:
    journal = make_journal({name: text for name, text in MISNAMED.items() if name in ("f.md", "n.md")})
    (find,) = redacted(journal, share("F-1", since=date(2026, 10, 1))).finds
    assert (None, "unsure") == (find.species, find.certainty)


# Words of finds ----------------------------------------------------------------------------------------------------

WILD = {
    "f/find.md": "---\nkind: find\nid: F-1\ndate: 2026-09-12\nspecies: Grifola frondosa\ntitle: Two doors past\n"
    "habitat: a yard\ngrowing on: a gatepost\nhost: an oak\nweather: fog\nsmell: sweet\n"
    "next: 2026-10-01 go back by bus\n---\nBehind the bakery. ![its yard](a.jpg)\n",
    "f/visit.md": "---\nkind: note\nabout: F-1\ndate: 2026-10-01\nstage: prime\ndone: went by bus\n---\nSecond stop.\n",
    "f/both.md": "---\nkind: note\nabout: B-1, F-1\ndate: 2026-10-02\ntitle: As behind the bakery\n---\nBakery.\n",
    "c.md": "---\nkind: culture\nid: C-1\nfrom: F-1\ndate: 2026-09-13\ntitle: A clone\n---\nWhite.\n",
    "b.md": "---\nkind: batch\nid: B-1\nculture: C-1\ndate: 2026-10-01\n---\nBags.\n",
    "n.md": "---\nkind: note\nabout: B-1\ndate: 2026-10-09\ntitle: Pins\n---\nMany.\n",
}


@pytest.fixture(scope="module")
def wild(make_journal: Make) -> Journal:
    return make_journal(WILD, {"f/a.jpg": {"digest": "aa"}})


def words_of(entry: Any) -> set[str]:
    names = ("title", "text", "habitat", "growing_on", "host", "weather", "smell")
    said = {value for name in names if (value := getattr(entry, name, None))}
    return (
        said | {one.text for one in entry.next} | {*entry.done} | {use.caption for use in entry.photos if use.caption}
    )


def test_the_words_of_finds_and_of_visits_stay_out_unasked_and_their_facts_and_photos_go(wild: Journal) -> None:
    shown = redacted(wild, share("B-1"))
    (find,) = shown.finds
    assert {"Find F-1", "sweet"} == words_of(find)
    assert ("Grifola frondosa", date(2026, 9, 12)) == (find.species, find.date.first)
    assert [(None, False)] == [(use.caption, use.in_text) for use in find.photos]
    assert {"Note on F-1: prime"} == words_of(shown.notes[0])
    assert {"Note on B-1, F-1"} == words_of(shown.notes[1])


def test_the_words_of_what_is_grown_go_out_unasked(wild: Journal) -> None:
    shown = redacted(wild, share("B-1"))
    told = [words_of(one) for one in (*shown.cultures, *shown.batches, shown.notes[2])]
    assert [{"A clone", "White.\n"}, {"Batch B-1, Grifola frondosa", "Bags.\n"}, {"Pins", "Many.\n"}] == told


def test_the_words_of_finds_go_out_where_the_share_says_all(wild: Journal) -> None:
    shown = redacted(wild, share("B-1", texts="all"))
    assert {"Two doors past", "a yard", "a gatepost", "an oak", "fog", "go back by bus", "its yard"} < words_of(
        shown.finds[0]
    )
    assert {"Second stop.\n", "went by bus"} < words_of(shown.notes[0])
    assert "Bakery.\n" in words_of(shown.notes[1])


def test_a_note_about_a_private_find_keeps_its_words_back_too(make_journal: Make) -> None:
    hidden = {**WILD, "f/find.md": WILD["f/find.md"].replace("id: F-1", "id: F-1\nprivate: yes")}
    shown = redacted(make_journal(hidden, {"f/a.jpg": {"digest": "aa"}}), share("B-1"))
    assert {"Note on B-1"} == words_of(shown.notes[0])


# How far it is -----------------------------------------------------------------------------------------------------

PICKED = {
    "b.md": "---\nkind: batch\nid: B-1\nspecies: Pleurotus pulmonarius\ndate: 2026-09-01\ndry mass: 1 kg\n---\n",
    "c.md": "---\nkind: batch\nid: B-2\ndate: 2026-11-20\n---\n",
    "k.md": "---\nkind: culture\nid: C-1\nreceived from: Hans\ndate: 2026-09-01\n---\n",
    "h.md": "---\nkind: note\nabout: B-1\ndate: 2026-11-15\nharvest: 300 g\nflush: 1\n---\n",
    "l.md": "---\nkind: note\nabout: B-1\ndate: 2026-11-16\n---\nAt rest.\n",
}


@pytest.mark.parametrize(
    ("own", "shared", "later"),
    [
        ("fruiting", "fruiting", "kind: note\nabout: B-2\ndate: 2026-11-20"),
        ("resting", "resting", "kind: note\nabout: B-2\ndate: 2026-11-21"),
        ("resting", "resting", "kind: note\ndate: 2026-11-22"),
        # What is private was never written.
        ("resting", "fruiting", "kind: note\nabout: B-2\ndate: 2026-11-21\nprivate: yes"),
        # A harvest that is kept back, as a culture that is not shared was taken that day, is none of nothing.
        ("fruiting", "fruiting", "kind: note\nabout: B-1, C-1\ndate: 2026-11-22\nharvest: 90 g\nflush: 1"),
    ],
)
def test_a_batch_is_in_a_share_as_far_as_its_author_has_it(
    make_journal: Make, own: str, shared: str, later: str
) -> None:
    journal = make_journal({**PICKED, "n.md": f"---\n{later}\n---\nSeen.\n"})
    for since in (None, date(2026, 10, 1)):
        shown = redacted(journal, share("B-1", since=since))
        assert [own, shared] == [progress_of(one)["B-1"].stage for one in (journal, shown)]


# Tents, devices, settings ------------------------------------------------------------------------------------------


def test_a_tent_that_is_not_named_has_a_made_up_name_where_something_shared_stood(wood: Journal) -> None:
    journal = redacted(wood, share())
    assert [("not-shared-1", "Not shared", True), ("not-shared-2", "Not shared", True)] == [
        (tent.id, tent.name, tent.unshared) for tent in journal.settings.tents
    ]
    assert "not-shared-1" == journal.batches[0].tent
    assert ["not-shared-2"] == [note.moved_to for note in journal.notes if note.moved_to]
    assert {None} == {tent.humidity_pct for tent in journal.settings.tents}
    assert () == (*journal.tent_entries, *journal.devices)


def test_a_tent_that_is_named_brings_its_devices_settings_and_services(wood: Journal) -> None:
    journal = redacted(wood, share("hut"))
    tent = journal.settings.tents[0]
    assert ("hut", "Wash-house tent", (("tank", 7.0),), False) == (tent.id, tent.name, tent.every, tent.unshared)
    assert [("hut",)] == [entry.about for entry in journal.tent_entries]
    assert [("tank by (not shared)",)] == [entry.serviced for entry in journal.tent_entries]
    fan = journal.devices[0]
    assert ("fan-1", "fan", "north socket", None) == (fan.id, fan.does, fan.powered_by, fan.price)
    assert () == (*journal.batches, *journal.finds)


def test_a_device_that_is_named_alone_is_in_no_tent(wood: Journal) -> None:
    assert [""] == [device.tent for device in redacted(wood, share("fan-1")).devices]


def test_settings_are_gone_but_for_what_pages_need(wood: Journal) -> None:
    settings = redacted(wood, share()).settings
    assert ("A shared journal", "the author", None) == (settings.title, settings.author, settings.site_url)
    assert ((), (), "us", "+00 000") == (settings.climate, settings.shares, settings.units, settings.poison_centre)
    assert (("oak pellets", 0.93),) == settings.ingredients
    assert "Night porter" == redacted(wood, share(by=True)).settings.author


def test_problems_are_gone(wood: Journal) -> None:
    assert wood.problems
    assert () == redacted(wood, share()).problems


# Before the share begins -------------------------------------------------------------------------------------------


def test_what_is_named_and_began_before_the_share_keeps_its_facts_and_loses_its_words(wood: Journal) -> None:
    batch = redacted(wood, share(since=date(2026, 10, 10))).batches[0]
    assert ("Batch B-031", "", (), (), 4) == (batch.title, batch.text, batch.photos, batch.next, batch.units)
    assert {} == batch.lines
    assert 0 < len(batch.mix)


def test_a_named_find_from_before_the_share_shows_no_position(wood: Journal) -> None:
    find = redacted(wood, share("F26-001", since=date(2026, 10, 10), positions="exact")).finds[0]
    assert (None, None) == (find.position, find.identified_by)
    assert "Pleurotus pulmonarius" == find.species


def test_the_whole_journal_stays_as_it_was(wood: Journal) -> None:
    before = repr(wood)
    redacted(wood, share())
    assert before == repr(wood)


def test_the_same_share_is_the_same_journal(wood: Journal) -> None:
    one, other = redacted(wood, share()), redacted(wood, share())
    assert {f.name: getattr(one, f.name) for f in fields(one)} == {
        f.name: getattr(other, f.name) for f in fields(other)
    }
