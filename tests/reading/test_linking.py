"""Entries, photos and tracks as one journal."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import fields
from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.model import Journal, Photo
from journal.reading.entries import Draft, KeptSteps, read_entry
from journal.reading.linking import assemble
from journal.settings import Settings, Tent
from tests.builders import examples
from tests.reading.written import GPX, HERE, files, front

Make = Callable[..., Journal]


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


def test_who_wrote_it_is_the_author_where_nothing_is_said(make_journal: Make) -> None:
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
                "find", id="F1", formerly="F1-0",
                species="s", certainty="likely", identified_by="i", where="58.3, -8.9", place="p",
                habitat="h", growing_on="g", host="o", growth="c", smell="m", weather="w", elevation="12 m",
                spore_print="white", specimen="v", permission="q", permit="x",
                picked_mass="1 kg", patch="w", locality="area", title="t", by="b",
                private="yes", next="2026-10-01 look", done="looked", text="text",
            ),
            c=front(
                "culture", id="C1", formerly="C1-0",
                received_from="r", species="s", method="spores", form="plate", medium="m",
                treatment="h", vessels="2", transfers_before="1", master="yes", kept="k",
            ),
            e=front("culture", id="C2", formerly="C2-0", from_="C1"),
            b=front(
                "batch", id="B1", formerly="B1-0",
                culture="C1", substrate="s", container="c", units="2", mix="water 1 kg, rye 1 kg",
                wet_mass="1 kg", moisture="56 %", dry_mass="450 g", treatment="h", spawn_mass="50 g", tent="hut",
                wants_humidity="90–95 %", wants_temperature="12–18 °C",
                wants_humidity_while_colonising="60–95 %", wants_temperature_while_colonising="16–20 °C",
                spawn_volume="10 ml", cost="18.40",
            ),
            n=front(
                "note", about="F1, B1", lost="1", dried="3 g", dried_from="20 g", harvest="30 g", flush="2",
                cause="mites", moved_to="loft", species="t", certainty="confirmed", identified_by="j",
                minutes="25", cost="1", sold="9.50",
            ),
            m=front("note", about="B1", stage="spent"),
            o=front("note", about="C1", colony="34 × 36 mm"),
            t=front(
                "tent", about="hut", humidity_set_point="92 %", humidity_differential="3 %",
                temperature_set_point="14 °C", light="12:12", light_colour="6500 K", exhaust="2 min every 15 min",
                air_movement="a", humidity_reading="86 %", temperature_reading="13 °C", co2_reading="900 ppm",
                meter="128 kWh",
                door="open", why="% humidity", serviced="tank",
                tank_fill="4 l",
                light_level="640 lux", cost="2",
            ),
            d=front(
                "device", id="d1", formerly="d1-0", tent="hut", does="lamp", powered_by="wall", controlled_by="d2",
                rated_for="r", price="p", cost="18",
                spare="s",
            ),
            u=front("device", id="d2", formerly="d2-0", tent="hut"),
        ),
        {"f/a.jpg": {}},
    )  # fmt: skip
    filled: dict[str, set[str]] = {}
    for row in journal.entries():
        full = {
            one.name for one in fields(row) if getattr(row, one.name) not in (None, (), "", False, "unsure", "hidden")
        }
        filled.setdefault(row.kind, set()).update(full)
    of_shares = {"unshared_sources", "totals_are_partial", "shared_from", "known_until"}
    shared = {"private", "next", "done", "text", "photos", "unknown_sources"}
    empty = {
        row.kind: {one.name for one in fields(row)} - filled[row.kind] - shared - of_shares for row in journal.entries()
    }
    assert {"find": set(), "culture": set(), "batch": set(), "note": set(), "tent": set(), "device": set()} == empty
    assert shared - {"unknown_sources"} <= filled["find"]


def test_problems_of_every_reader_are_kept_in_order_and_once(make_journal: Make) -> None:
    from journal.problems import Problem

    given_ones = [
        Problem("z.jpg", 0, "warning", "b", ""),
        Problem("a.csv", 3, "warning", "a", ""),
        Problem("z.jpg", 0, "warning", "b", ""),
    ]
    journal = make_journal({"m.md": front("find")}, problems=given_ones)
    assert ["a.csv", "m.md", "z.jpg"] == [problem.path for problem in journal.problems]


def test_an_empty_folder_is_an_empty_journal() -> None:
    assert Journal(Settings()) == assemble(Settings(), [])


words = st.sampled_from(
    ["F1", "b1", "B1.2", "C1", "c1.9", "hut", "X", "", "yes", "2026-09-12", "2026-10", "about 2026", "1 kg", "3",
     "62 %", "pinning", "confirmed", "a.jpg", "../../x", "58.3, -8.9", "water 1 kg, rye 2 kg", "F1, C1, B1", "grain"]
)  # fmt: skip
keys = st.sampled_from(
    ["id", "date", "about", "from", "culture", "received from", "species", "certainty", "stage", "harvest", "flush",
     "lost", "units", "vessels", "wet mass", "dry mass", "moisture", "mix", "tent", "moved to", "powered by",
     "controlled by", "photos", "where", "method", "form", "next", "done", "title", "private"]
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


@examples(150)
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


@pytest.mark.parametrize(
    ("cost", "settings", "written", "words"),
    [
        (18.4, 'currency = "GBP"', "£18.40", None),
        (None, 'currency = "GBP"', "€18.40", "not the journal's currency, GBP"),
        (None, "", "£18.40", "the settings do not say that the currency is £"),
        (18.4, "", "18.40", None),
    ],
)
def test_money_in_another_currency_is_reported_and_not_counted(
    cost: float | None, settings: str, written: str, words: str | None, make_journal: Make
) -> None:
    toml = f"[journal]\ntitle = 't'\n{settings}\n"
    journal = make_journal({"journal.toml": toml, "b.md": front("batch", id="B", cost=written)})
    assert cost == journal.batches[0].cost
    found = [problem for problem in journal.problems if problem.path == "b.md" and problem.severity == "error"]
    assert [words is not None] == [bool(found)]
    assert words is None or words in found[0].message


WRITTEN = {
    "f/f.md": [front("find", id="F1", species="Pleurotus"), front("find", id="F2", where="58.3, -8.9", formerly="F1")],
    "f/n.md": [front("note", stage="pinning"), front("note", about="F1", species="Pholiota"), "no front matter"],
    "c/c.md": [
        front("culture", id="C1", **{"from": "F1"}),
        front("culture", id="C1", species="Grifola", **{"from": "C2"}),
        front("culture", id="F1", received_from="x"),
    ],
    "c/d.md": [front("culture", id="C2", **{"from": "C1"}), front("culture", id="C2", vessels="3", **{"from": "F2"})],
    "b/b.md": [
        front("batch", id="B1", culture="C1", units="4", tent="hut"),
        front("batch", id="B1", culture="C2", units="1"),
    ],
    "b/n.md": [
        front("note", about="B1.3", stage="fruiting", harvest="300 g"),
        front("note", about="b1, C1", lost="1"),
        front("note", about="F1", stage="colonised"),
    ],
    "f/t.md": [front("tent", about="hut")],
    "p/p.md": [front("note", about="B1", text="![caps](a.jpg)"), front("note", about="C1", photos="a.jpg")],
    "t/t.md": [front("tent", about="hut"), front("tent", about="attic"), front("find", id="C2")],
    "t/d.md": [
        front("device", id="D1", tent="hut", powered_by="B2"),
        front("device", id="B2", tent="loft", powered_by="d1"),
    ],
}
A_PHOTO = [
    Photo(path="p/a.jpg", digest="1"),
    Photo(path="p/a.jpg", digest="2", taken=datetime(2026, 9, 14, 12, tzinfo=UTC)),
    Photo(path="b/z.jpg", digest="3"),
]


@pytest.mark.parametrize("seed", range(20))
def test_what_is_kept_of_the_journal_before_makes_no_difference(seed: int) -> None:
    """Of journals in which one file after another comes, changes, or goes, with settings and photos that do too."""
    chance, kept, told = random.Random(seed), KeptSteps(), 0
    settings, photos, drafts = Settings(tents=(Tent(id="hut", name="hut"),)), [A_PHOTO[0]], dict[str, Draft]()
    for _ in range(60):
        path = chance.choice([*WRITTEN])
        text = chance.choice([*WRITTEN[path], None])
        drafts.pop(path, None)
        if text and (draft := read_entry(path, text.encode(), settings)):
            drafts[path] = draft
        if chance.random() < 0.1:
            photos = chance.sample(A_PHOTO[1:] if chance.random() < 0.5 else A_PHOTO[:1], 1)
        if chance.random() < 0.1:
            settings = Settings(tents=tuple(Tent(id=id, name=id) for id in chance.sample(["hut", "loft", "attic"], 2)))
        again = assemble(settings, drafts.values(), photos=photos, kept=kept)
        clean = assemble(settings, drafts.values(), photos=photos)
        assert repr(clean) == repr(again)
        told += len(clean.problems)
    assert told > 60


def test_of_what_has_not_changed_the_entries_are_the_same_objects() -> None:
    drafts = [read_entry(path, texts[0].encode(), Settings()) for path, texts in WRITTEN.items() if path != "p/p.md"]
    kept, settings = KeptSteps(), Settings(tents=(Tent(id="hut", name="hut"),))
    before = assemble(settings, filter(None, drafts), kept=kept)
    new = read_entry("p/p.md", WRITTEN["p/p.md"][0].encode(), settings)
    after = assemble(settings, filter(None, [*drafts, new]), kept=kept)
    assert before.batches[0] is after.batches[0]
    assert len(before.notes) + 1 == len(after.notes)


def test_problems_of_the_settings_come_before_those_that_may_follow_from_them(make_journal: Make) -> None:
    files = {
        "a.md": "---\nkind: tent\nabout: hut\ndate: 2026-10-02\ndoor: open\n---\n",
        "journal.toml": '[tents.hut\nname = "Hut"\n',
    }
    first, *others = make_journal(files).problems
    assert "journal.toml" == first.path
    assert ["a.md"] == [problem.path for problem in others]
