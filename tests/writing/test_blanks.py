from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from journal.reading.consistency import stated_date
from journal.reading.entries import read_entry
from journal.reading.keys import KEYS, KINDS, UNITS
from journal.settings import Settings, Tent
from journal.writing.blanks import (
    ABOUT_KEYS,
    DATED_BY_PHOTOS,
    KEYS_ABOUT,
    KINDS_WITH_ID,
    USUAL_KEYS,
    blank_path,
    blank_text,
    write_blank,
)

TODAY = date(2026, 11, 25)


def test_every_kind_has_a_blank() -> None:
    assert set(KINDS) == USUAL_KEYS.keys() == ABOUT_KEYS.keys()


@pytest.mark.parametrize("kind", USUAL_KEYS)
def test_a_kind_is_given_usual_keys_of_its_own_each_once(kind: str) -> None:
    for names in (USUAL_KEYS[kind], *(KEYS_ABOUT.values() if kind == "note" else ())):
        assert len(set(names)) == len(names)
        assert set(names) <= KEYS[kind].keys()


@pytest.mark.parametrize(
    ("kind", "offered"),
    [
        ("find", {"picked mass", "permit"}),
        ("batch", {"core log", "cost"}),
        ("note", {"minutes", "cost", "sold"}),
        ("tent", {"light level", "meter", "tank fill", "cost"}),
    ],
)
def test_what_is_counted_in_costs_and_sums_is_offered(kind: str, offered: set[str]) -> None:
    assert offered <= remarks(blank_text(kind, TODAY, "X-1" if kind in KINDS_WITH_ID else None)).keys()


def test_minutes_and_money_say_how_they_are_written() -> None:
    said = remarks(blank_text("note", TODAY))
    assert "a number in min or h: 25, 1.5 h, 1 h 30 min" in said["minutes"]
    assert "an amount in the currency of the settings" in said["sold"]


def remarks(text: str) -> dict[str, str]:
    """What the comment above each key says."""
    return dict(line[2:].split(": ", 1) for line in text.splitlines() if line.startswith("# "))


@pytest.mark.parametrize("kind", USUAL_KEYS)
def test_above_each_key_stands_every_word_that_it_may_be_and_its_unit(kind: str) -> None:
    said = remarks(blank_text(kind, TODAY, "X-1" if kind in KINDS_WITH_ID else None))
    for name in USUAL_KEYS[kind]:
        key = KEYS[kind][name]
        assert [] == [word for word in key.words if word not in said[name]]
        unit = {"g": "g, kg", "pct": "%", "c": "°C or °F", "k": "K", "ppm": "ppm", "m": "m, cm"}.get(
            UNITS.get(key.notation, ""), ""
        )
        assert unit in said[name]


@pytest.mark.parametrize(("kind", "offered", "not_offered"), [
    ("find", "nothing there, young, prime, past", "pinning"),
    ("device", "faulty, dead, put away", "young"),
    ("batch", "inoculated, colonising", "prime"),
    ("culture", "clean, sectored", "prime"),
])  # fmt: skip
def test_a_note_offers_the_stages_and_keys_of_what_it_is_about(kind: str, offered: str, not_offered: str) -> None:
    text = blank_text("note", TODAY, about="X-1", about_kind=kind)
    assert offered in remarks(text)["stage"]
    assert not_offered not in remarks(text)["stage"]
    assert (kind in ("batch", "find")) == ("\nharvest:" in text)
    assert (kind == "culture") == ("\ncolony:" in text)


def test_tents_and_their_services_are_offered_by_name() -> None:
    tents = [Tent(id="wash-house", name="Tent", every=(("tank", 7.0),)), Tent(id="loft", name="Loft")]
    assert "wash-house, loft" == remarks(blank_text("note", TODAY, tents=tents))["moved to"]
    said = remarks(blank_text("tent", TODAY, tents=tents))
    assert "wash-house, loft" == said["about"]
    assert "tank" in said["serviced"]


def test_a_tent_entry_offers_set_points_light_exhaust_and_readings() -> None:
    for name in (
        "humidity set point", "temperature set point", "light", "exhaust", "humidity reading", "temperature reading",
        "co2 reading", "door", "serviced", "why",
    ):  # fmt: skip
        assert f"\n{name}:\n" in blank_text("tent", TODAY)


def blank_draft(kind: str, about: str | None = None):
    own_id = "X-1" if kind in KINDS_WITH_ID else None
    return read_entry("a.md", blank_text(kind, TODAY, own_id, about).encode(), Settings())


@pytest.mark.parametrize("kind", ["find", "culture", "batch", "note"])
def test_a_blank_reads_without_a_problem(kind: str) -> None:
    assert blank_draft(kind).problems == ()


@pytest.mark.parametrize(("kind", "key"), [("tent", "about"), ("device", "tent")])
def test_a_blank_that_must_name_its_tent_asks_for_that_alone(kind: str, key: str) -> None:
    problems = blank_draft(kind).problems
    assert len(problems) == 1
    assert key in problems[0].sentence


@pytest.mark.parametrize("kind", USUAL_KEYS)
def test_a_blank_has_kind_day_and_id_and_nothing_else(kind: str) -> None:
    draft = blank_draft(kind)
    assert kind == draft.kind
    assert draft.values.keys() <= {"kind", "date", "id"}


@pytest.mark.parametrize("kind", USUAL_KEYS)
def test_no_day_is_written_where_a_photo_tells_it_and_the_files_name_has_today(kind: str) -> None:
    own_id = "X-1" if kind in KINDS_WITH_ID else None
    path = blank_path(kind, TODAY, own_id)
    draft = read_entry(path, blank_text(kind, TODAY, own_id).encode(), Settings())
    assert draft is not None
    assert (kind not in ("find", "note", "tent")) == ("date" in draft.values)
    assert TODAY == stated_date(draft, ()).first
    photo = datetime(2026, 11, 20, 9, 30, tzinfo=UTC)
    assert (photo.date() if kind in DATED_BY_PHOTOS else TODAY) == stated_date(draft, [photo]).first


@pytest.mark.parametrize(("kind", "key"), [(kind, key) for kind, key in ABOUT_KEYS.items() if key])
def test_what_it_is_about_is_filled_in(kind: str, key: str) -> None:
    draft = blank_draft(kind, "W-2")
    assert draft.problems == ()
    value = draft.values[key]
    assert str(value if isinstance(value, str) else value[0]) == "W-2"


@pytest.mark.parametrize(
    ("expected", "kind", "own_id", "about", "beside"),
    [
        ("finds/2026-11-25-F26-003/find.md", "find", "F26-003", None, ""),
        ("cultures/PP-26A.md", "culture", "PP-26A", "F26-003", ""),
        ("batches/B-031/batch.md", "batch", "B-031", "PP-26A", ""),
        ("batches/B-031/2026-11-25.md", "note", None, "B-031", "batches/B-031"),
        ("notes/2026-11-25-PP-26A.md", "note", None, "PP-26A", ""),
        ("notes/2026-11-25.md", "note", None, None, ""),
        ("tents/2026-11-25-wash-house.md", "tent", None, "wash-house", ""),
        ("devices/fan-1.md", "device", "fan-1", "wash-house", ""),
    ],
)
def test_an_entry_lies_with_its_kind(expected: str, kind: str, own_id, about, beside: str) -> None:
    assert expected == blank_path(kind, TODAY, own_id, about, beside)


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    paths = [write_blank(tmp_path, "notes/2026-11-25.md", text) for text in ("one", "two", "three")]
    assert paths == ["notes/2026-11-25.md", "notes/2026-11-25-2.md", "notes/2026-11-25-3.md"]
    assert [(tmp_path / path).read_text(encoding="utf-8") for path in paths] == ["one", "two", "three"]
