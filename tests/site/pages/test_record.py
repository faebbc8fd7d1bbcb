"""What a phone is given to record with."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from journal.analysis.limits import limit
from journal.analysis.progress import GROWING
from journal.reading.receipts import Received
from journal.settings import LabelSettings
from journal.site.pages import plan_site
from journal.site.pages.lookup import Lookup
from journal.site.pages.record import data, texts, ticked_off_by
from tests.site.pages.conftest import SETTINGS, Hut

ENTRIES = {
    "f1": ("find", "id: F25-009\ndate: 2025-11-02\nspecies: Flammulina velutipes\nplace: Heron Slip"),
    "f2": (
        "find",
        "id: F26-014-K7Q4\ndate: 2026-09-12\nspecies: Pleurotus pulmonarius\nplace: Alder Bank\n"
        "where: 58.30412, -8.90177",
    ),
    "f3": ("find", "id: F26-003\ndate: 2026-09-01\nspecies: Pleurotus pulmonarius"),
    "c": ("culture", "id: PP-26A\nfrom: F26-003\ndate: 2026-09-13\nmedium: MEA\nvessels: 5\nform: slant"),
    "b": ("batch", "id: B-031\nculture: PP-26A\ndate: 2026-10-06\nunits: 4\ncontainer: bag\ntent: hut"),
    "h": (
        "note",
        "about: B-031\ndate: 2026-11-01\nstage: fruiting\nharvest: 1 kg\nflush: 1\nnext: 2026-11-03 soak the blocks",
    ),
    "l": ("note", "about: B-031\ndate: 2026-11-02\nlost: 1\ncause: cobweb"),
    "t": ("tent", "about: hut\ndate: 2026-11-01\nserviced: tank"),
}


def told(hut: Hut, settings: str = SETTINGS, **more: tuple[str, str]) -> dict[str, Any]:
    entries = {name: f"---\nkind: {kind}\n{keys}\n---\n" for name, (kind, keys) in {**ENTRIES, **more}.items()}
    lookup, _ = hut.lookup(entries, settings=settings)
    files = dict(texts(lookup, ()))
    told: dict[str, Any] = json.loads(files["record/data.json"])
    for key in told["parts"]:
        told["ids"] |= json.loads(files[f"record/ids-{key}.json"])
    return told


def due(hut: Hut, **more: tuple[str, str]) -> list[dict[str, Any]]:
    """What is due and can be ticked off."""
    lookup, _ = hut.lookup(
        {name: f"---\nkind: {kind}\n{keys}\n---\n" for name, (kind, keys) in {**ENTRIES, **more}.items()}
    )
    rows = [(row, ticked_off_by(row, lookup.journal)) for row in lookup.analysis.due]
    return [{"words": row.what, "due": row.last_day and row.last_day.isoformat(), **tick} for row, tick in rows if tick]


def test_ids_stand_by_the_time_of_their_entries_so_that_a_note_changes_one_file(hut: Hut) -> None:
    def files(**more: tuple[str, str]) -> dict[str, str]:
        many = {f"m{n}": ("find", f"id: G-{n}\ndate: 2024-{n % 12 + 1:02}-03") for n in range(100)}
        entries = {**ENTRIES, **many, **more}
        lookup, _ = hut.lookup({name: f"---\nkind: {kind}\n{keys}\n---\n" for name, (kind, keys) in entries.items()})
        return dict(texts(lookup, ()))

    before, after = files(), files(n=("note", "about: B-031\ndate: 2026-11-20\nstage: resting"))
    assert ["2024-q1", "2024-q2", "2024-q3", "2024-q4", "2025", "2026"] == json.loads(before["record/data.json"])[
        "parts"
    ]
    assert ["record/ids-2026.json"] == [path for path, text in after.items() if before[path] != text]


def test_series_go_on_after_the_highest_number_and_pass_over_a_phones_suffix(hut: Hut) -> None:
    series = told(hut)["series"]
    assert series["find"] == {"stem": "F", "year": 2, "rest": "-", "width": 3, "last": 14}
    assert series["batch"] == {"stem": "B-", "year": 0, "rest": "", "width": 3, "last": 31}
    assert series["culture"] is None


def test_of_a_batch_the_phone_knows_its_units_flush_and_stage(hut: Hut) -> None:
    ids = told(hut)["ids"]
    batch = ids["B-031"]
    assert (batch["units"], batch["unit"], batch["tent"], batch["stage"]) == (4, "bag", "hut", "fruiting")
    assert (batch["flush"], batch["flush_date"]) == (1, "2026-11-01")
    assert ids["PP-26A"] == {
        "address": "cultures/pp-26a/index.html", "kind": "culture", "species": "Pleurotus pulmonarius",
        "form": "slant", "medium": "MEA", "vessels": 5, "from": ["F26-003"], "year": 2026,
    }  # fmt: skip
    assert ids["hut"]["services"] == ["tank"]


def test_the_phone_knows_what_was_weighed_what_is_gone_since_when_and_the_limits(hut: Hut) -> None:
    gone = {"lost": ("note", "about: B-031.3\ndate: 2026-10-28\nlost: 1")}
    weighed = {"b": ("batch", "id: B-031\nculture: PP-26A\ndate: 2026-10-06\nunits: 4\nwet mass: 13.8 kg in all")}
    mixed = {"m": ("batch", "id: B-032\ndate: 2026-10-06\nunits: 2\nmix: oak pellets 5 kg, water 5.5 kg")}
    dead = {"d": ("note", "about: PP-26A\ndate: 2026-11-05\nstage: dead")}
    known = told(hut, **gone, **weighed, **mixed, **dead)
    assert (known["ids"]["B-031"]["wet_g"], known["ids"]["B-032"]["wet_g"]) == (3450, 5250)
    assert known["ids"]["B-031"]["gone"] == {"3": "2026-10-28"}
    assert known["ids"]["PP-26A"]["gone"] == {"": "2026-11-05"}
    assert "wet_g" not in told(hut)["ids"]["B-031"]
    assert known["limits"] == {
        name: [limit(name).low, limit(name).high]
        for name in ("humidity_pct", "temperature_c", "flush_over_wet_mass", "mass_without_unit_g")
    }
    assert set(known["growing"]) == GROWING


def test_names_are_offered_the_most_used_and_the_latest_first(hut: Hut) -> None:
    known = told(hut)
    assert known["species"] == ["Pleurotus pulmonarius", "Flammulina velutipes"]
    assert known["places"] == [
        {"name": "Alder Bank", "where": "58.30412, -8.90177 ±2 m"}, {"name": "Heron Slip", "where": None},
    ]  # fmt: skip
    assert known["causes"][0] == "cobweb"
    assert known["causes"].count("cobweb") == 1


def test_a_place_has_the_position_last_known_there_though_a_later_find_has_none(hut: Hut) -> None:
    later = ("find", "id: F26-020\ndate: 2026-11-20\nspecies: Grifola frondosa\nplace: Alder Bank")
    (place, _) = told(hut, later=later)["places"]
    assert place == {"name": "Alder Bank", "where": "58.30412, -8.90177 ±2 m"}


def test_how_sure_a_place_is_is_told_in_the_units_of_the_journal(hut: Hut) -> None:
    """8 m are 26.25 ft, rounded up (1 ft = 0.3048 m exactly: NIST SP 811, 2008, appendix B.8)."""
    seen = ("find", "id: F26-020\ndate: 2026-11-20\nplace: Alder Bank\nwhere: 58.30412, -8.90177 ±8 m")
    place = told(hut, SETTINGS.replace("[journal]\n", '[journal]\nunits = "us"\n'), seen=seen)["places"][0]
    assert place == {"name": "Alder Bank", "where": "58.30412, -8.90177 ±27 ft"}


def test_names_of_a_place_that_differ_in_case_or_spaces_alone_are_one_spelled_and_placed_as_last(hut: Hut) -> None:
    at = (
        "find",
        "id: F26-020\ndate: 2026-11-20\nspecies: Grifola frondosa\nplace: Alder bank\nwhere: 58.30412, -8.80177",
    )
    later = ("find", "id: F26-021\ndate: 2026-11-21\nplace: alder  bank")
    (place, slip) = told(hut, at=at, later=later)["places"]
    assert (place["name"].split(), place["where"]) == (["alder", "bank"], "58.30412, -8.80177 ±2 m")
    assert slip["name"] == "Heron Slip"


def test_what_is_due_says_what_an_entry_must_say_to_close_it(hut: Hut) -> None:
    rows = due(hut)
    soak = {"kind": "note", "about": ["B-031"], "key": "done", "value": "soak the blocks"}
    assert {"words": "soak the blocks", "due": "2026-11-03", **soak} in rows
    tank = {"kind": "tent", "about": ["hut"], "key": "serviced", "value": "tank"}
    assert {"words": "tank", "due": "2026-11-08", **tank} in rows
    assert {row["value"] for row in rows if row["about"] == ["PP-26A"]} == {"renewed"}


@pytest.mark.parametrize(
    ("key", "kind", "about", "value"),
    [
        ("done", "note", "B-031", "soak the blocks"),
        ("serviced", "tent", "hut", "tank"),
        ("done", "note", "PP-26A", "renewed"),
    ],
)
def test_an_entry_that_says_so_closes_it(hut: Hut, key: str, kind: str, about: str, value: str) -> None:
    def open_for(rows: list[dict[str, Any]]) -> list[str]:
        return [row["due"] for row in rows if row["about"] == [about] and row["value"] == value]

    before, after = (
        open_for(due(hut, **more)) for more in ({}, {"n": (kind, f"about: {about}\ndate: 2026-11-20\n{key}: {value}")})
    )
    assert before
    assert before != after


def test_receipts_are_told_by_record_and_in_no_page(hut: Hut) -> None:
    rows = [
        Received("b" * 8, 1, "d1"),
        Received("a" * 8, 2, "d3", "F26-016-K7Q4"),
        Received("a" * 8, 1, "d2"),
        Received("c" * 8, 1, "d4", is_here=False),
        Received("c" * 8, 2, "d5", is_here=False),
    ]
    lookup, _ = hut.lookup({})
    files = dict(texts(lookup, rows))
    assert json.loads(files["record/receipts.json"]) == {
        "version": 1,
        "records": {"a" * 8: [[1, "d2", None], [2, "d3", "F26-016-K7Q4"]], "b" * 8: [[1, "d1", None]]},
        "gone": {"c" * 8: ["d4", "d5"]},
    }


def test_a_share_has_nothing_to_record_with(hut: Hut) -> None:
    journal = hut.journal({name: f"---\nkind: {kind}\n{keys}\n---\n" for name, (kind, keys) in ENTRIES.items()})
    rows = [Received("a" * 8, 2, "d3")]
    own, shared = plan_site(journal, {}, received=rows), plan_site(journal, {}, share="mentor", received=rows)
    assert {"record/index.html", "record/outbox/index.html"} <= {page.path for page in own.pages}
    assert not [
        path for path in [page.path for page in shared.pages] + [path for path, _ in shared.texts] if "record" in path
    ]


def test_the_phone_knows_ids_that_were_printed_ahead_and_are_not_taken_up(hut: Hut) -> None:
    lookup, _ = hut.lookup({name: f"---\nkind: {kind}\n{keys}\n---\n" for name, (kind, keys) in ENTRIES.items()})
    labels = LabelSettings(reserved=(("batch", "b-031"), ("batch", "B-032"), ("find", "F26-020")))
    settings = replace(lookup.journal.settings, labels=labels)
    told, _ = data(Lookup(replace(lookup.journal, settings=settings), {}))
    assert {"B-032": "batch", "F26-020": "find"} == told["reserved"]
