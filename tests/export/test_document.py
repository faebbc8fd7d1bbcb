"""The document of the model: its keys, its units, and what it leaves null."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from journal.export.document import document
from journal.model import Journal, LoggerFile

Make = Callable[..., Journal]

TOML = """
[journal]
title = "Wash-house & Woods"
author = "Night porter"
time_zone = "Europe/London"
[tents.hut]
name = "Wash-house tent"
width = "4 ft"
depth = "120 cm"
exhaust_flow = "118 cfm"
[tents.loft]
name = "Net-loft"
"""
ENTRIES = {
    "find": """id: F1
picked mass: 1.5 kg
date: 2026-09-12
species: Pleurotus pulmonarius
certainty: likely
where: 58.30412, -8.90177 ±8 m""",
    "culture": """id: C1
date: 2026-09-13 21:05
from: F1""",
    "culture 2": """id: C2
date: 2026-10
from: C1
form: grain""",
    "batch": """id: B1
date: about 2026-10-06
culture: C2
units: 4
wet mass: 9.2 kg in all
moisture: 62 %
tent: hut""",
    "note": """about: B1.2
date: 2026-11-01
stage: fruiting
harvest: 1.29 kg
flush: 1
lost: 1
moved to: loft
done: soaked
by: the ferry baker""",
    "note 2": """about: F1
date: 2026-11-02
stage: past
certainty: confirmed
identified by: the ferry baker, spores""",
    "tent": """about: hut
date: 2026-10-20 08:00
humidity set point: 92 %
humidity differential: 4 %
temperature set point: 61 °F
light: 12:12
light colour: 6500 K
exhaust: 2 min every 15 min""",
    "tent 2": """about: hut
date: 2026-10-21
humidity reading: 86 %
co2 reading: 900 ppm
door: open
serviced: tank""",
    "device": """id: d1
date: 2026-01-01
tent: hut
does: light
powered by: left socket""",
}


@pytest.fixture
def whole(make_journal: Make) -> dict[str, Any]:
    files = {f"{name}/x.md": f"---\nkind: {name.split()[0]}\n{keys}\n---\n" for name, keys in ENTRIES.items()}
    logs = [LoggerFile(path="a.csv", tent="hut", stamps_s=(0.0, 60.0, 120.0)), LoggerFile(path="b.csv", tent="loft")]
    photo = {"taken": "2026-09-12T10:01:00+01:00", "lat_deg": 58.304, "lon_deg": -8.902, "width": 1600, "height": 1200}
    files["journal.toml"] = TOML
    files["bad.md"] = "no front matter"
    return document(make_journal(files, {"find/a.jpg": photo, "find/b.jpg": {}}, logs))


PROMISED = {
    "finds": "id species certainty position",
    "cultures": "id species parents received_from method form line ancestors transfers steps_since_wild"
    " spawn_generation be_median be_interval batches_counted lost_share",
    "batches": "id cultures tent units wet_g moisture_pct dry_g be_percent be_percent_lived be_final flushes lost",
    "notes": "about stage harvest_g dried_g dried_from_g flush lost moved_to done",
    "tents": "id width_m depth_m height_m exhaust_m3_h settings readings logger_rows",
    "devices": "id tent does powered_by controlled_by",
    "photos": "entries taken lat lon width height",
}


@pytest.mark.parametrize("rows", PROMISED)
def test_every_row_has_its_promised_keys(whole: dict[str, Any], rows: str) -> None:
    promised = {"path", "title", "by", "date", *PROMISED[rows].split()}
    assert whole[rows]
    assert [set()] * len(whole[rows]) == [promised - row.keys() for row in whole[rows]]


def test_it_is_json_and_the_same_each_time(whole: dict[str, Any], make_journal: Make) -> None:
    assert whole == json.loads(json.dumps(whole, allow_nan=False))
    assert document(make_journal({})) == document(make_journal({}))


@pytest.mark.parametrize(
    ("expected", "rows", "at", "key"),
    [
        # The photo of that day gives the find its time.
        ("2026-09-12T10:01:00+01:00", "finds", 0, "date"),
        ("2026-09-13T21:05:00+01:00", "cultures", 0, "date"),
        ("2026-10", "cultures", 1, "date"),
        ("2026-10-06", "batches", 0, "date"),
        (True, "batches", 0, "date_is_about"),
        ("confirmed", "finds", 0, "certainty"),
        ("likely", "finds", 0, "certainty_at_find"),
        ({"lat": 58.30412, "lon": -8.90177, "uncertainty_m": 8.0, "source": "entry"}, "finds", 0, "position"),
        ("tissue", "cultures", 0, "method"),
        (["F1"], "cultures", 0, "parents"),
        (["C1", "F1"], "cultures", 1, "ancestors"),
        ("C1", "cultures", 1, "line"),
        (1, "cultures", 1, "transfers"),
        (1, "cultures", 1, "steps_since_wild"),
        (1, "cultures", 1, "spawn_generation"),
        (None, "cultures", 1, "received_from"),
        (["C2"], "batches", 0, "cultures"),
        (2300.0, "batches", 0, "wet_g"),
        (62.0, "batches", 0, "moisture_pct"),
        (874.0, "batches", 0, "dry_g"),
        ("hut", "batches", 0, "tent"),
        (True, "batches", 0, "identity_confirmed"),
        (1290.0, "batches", 0, "harvest_g"),
        (1, "batches", 0, "lost"),
        (["B1.2"], "notes", 0, "about"),
        ("fruiting", "notes", 0, "stage"),
        (1290.0, "notes", 0, "harvest_g"),
        (None, "notes", 0, "dried_g"),
        ("loft", "notes", 0, "moved_to"),
        (["soaked"], "notes", 0, "done"),
        ("the ferry baker", "notes", 0, "by"),
        (None, "tents", 0, "height_m"),
        (1.2, "tents", 0, "depth_m"),
        (3, "tents", 0, "logger_rows"),
        (0, "tents", 1, "logger_rows"),
        ("left socket", "devices", 0, "powered_by"),
        (None, "devices", 0, "controlled_by"),
        (["find/x.md"], "photos", 0, "entries"),
        ("2026-09-12T10:01:00+01:00", "photos", 0, "taken"),
        (58.304, "photos", 0, "lat"),
        (None, "photos", 1, "taken"),
        (1600, "photos", 0, "width"),
    ],
)
def test_a_value_is_as_promised(whole: dict[str, Any], expected: Any, rows: str, at: int, key: str) -> None:
    value = whole[rows][at][key]
    assert (pytest.approx(expected) if isinstance(expected, float) else expected) == value


def test_lengths_and_flows_are_metric(whole: dict[str, Any]) -> None:
    """One foot is 0.3048 m exactly (international yard and pound agreement, 1959)."""
    hut = whole["tents"][0]
    assert 4 * 0.3048 == pytest.approx(hut["width_m"], abs=1e-9)
    assert 118 * 0.3048**3 * 60 == pytest.approx(hut["exhaust_m3_h"], abs=1e-6)


def test_settings_and_readings_of_a_tent_stand_apart(whole: dict[str, Any]) -> None:
    hut, loft = whole["tents"]
    (setting,) = hut["settings"]
    assert {
        "date": "2026-10-20T08:00:00+01:00", "path": "tent/x.md", "by": "Night porter", "humidity_pct": 92.0,
        "humidity_differential_pct": 4.0, "light_on_h": 12.0, "light_k": 6500.0, "exhaust_on_min": 2.0,
        "exhaust_every_min": 15.0, "temperature_c": pytest.approx((61 - 32) / 1.8, abs=1e-9),
    }.items() <= setting.items()  # fmt: skip
    (reading,) = hut["readings"]
    assert {
        "date": "2026-10-21", "humidity_pct": 86.0, "temperature_c": None, "co2_ppm": 900.0, "door": "open",
        "source": "eye",
    }.items() <= reading.items()  # fmt: skip
    assert (["tank"], [], []) == (hut["services"][0]["serviced"], loft["settings"], loft["readings"])


def test_a_problem_has_severity_message_and_fix_each_by_itself(whole: dict[str, Any]) -> None:
    (row,) = whole["problems"]
    assert ("bad.md", None, "warning") == (row["path"], row["line"], row["severity"])
    assert "no front matter" in row["message"]
    assert row["fix"] != ""
    assert row["fix"] not in row["message"]


def test_a_device_whose_tent_is_not_known_has_none(make_journal: Make) -> None:
    text = "---\nkind: device\nid: d1\ndate: 2026-01-01\ntent: nowhere\n---\n"
    assert document(make_journal({"d.md": text}))["devices"][0]["tent"] is None


def test_a_batch_has_its_efficiency_on_units_begun_and_lived_and_its_flushes(whole: dict[str, Any]) -> None:
    (batch,) = whole["batches"]
    # one of the four was lost on the day of the harvest, and counts
    assert (1290 / 3496 * 100, 1290 / 3496 * 100) == pytest.approx((batch["be_percent"], batch["be_percent_lived"]))
    assert batch["be_final"] is False
    assert [{"number": 1, "harvest_g": 1290.0, "first": "2026-11-01", "last": "2026-11-01"}] == batch["flushes"]


def test_units_that_cannot_be_read_are_null_and_so_is_what_depends_on_them(make_journal: Make) -> None:
    made = "---\nkind: batch\nid: B\ndate: 2026-01-01\nunits: four\ndry mass: 1 kg\n---\n"
    picked = "---\nkind: note\nabout: B\ndate: 2026-02-01\nharvest: 500 g\nflush: 1\n---\n"
    (batch,) = document(make_journal({"b.md": made, "n.md": picked}))["batches"]
    assert (None, None, 500.0) == (batch["units"], batch["be_percent"], batch["harvest_g"])


def test_a_batch_names_the_harvests_that_are_hardly_possible(whole: dict[str, Any], make_journal: Make) -> None:
    assert [[]] == [batch["doubtful_harvests"] for batch in whole["batches"]]
    made = "---\nkind: batch\nid: B\ndate: 2026-01-01\nwet mass: 2.3 kg\n---\n"
    picked = "---\nkind: note\nabout: B\ndate: 2026-02-01\nharvest: 90 kg\nflush: 1\n---\n"
    (batch,) = document(make_journal({"b.md": made, "n.md": picked}))["batches"]
    assert (90_000.0, ["n.md"]) == (batch["harvest_g"], batch["doubtful_harvests"])


@pytest.mark.parametrize(
    ("be", "stage"), [(None, "pinning"), (None, "contaminated"), (0.0, "spent"), (0.0, "discarded")]
)
def test_a_batch_has_no_efficiency_until_something_is_harvested_or_it_is_finished(
    be: float | None, stage: str, make_journal: Make
) -> None:
    files = {
        "b.md": "---\nkind: batch\nid: B\ndate: 2026-01-01\ndry mass: 500 g\n---\n",
        "n.md": f"---\nkind: note\nabout: B\ndate: 2026-02-01\nstage: {stage}\n---\n",
    }
    (batch,) = document(make_journal(files))["batches"]
    assert (be, be) == (batch["be_percent"], batch["be_percent_lived"])


def test_a_culture_has_what_its_finished_batches_come_to(make_journal: Make) -> None:
    files = {"c.md": "---\nkind: culture\nid: C\ndate: 2025-12-01\nreceived from: x\n---\n"}
    for at in range(6):
        batch = f"kind: batch\nid: B{at}\ndate: 2026-01-01\nculture: C\nunits: 2\ndry mass: 500 g"
        note = f"kind: note\nabout: B{at}\ndate: 2026-03-01\nharvest: {at + 1}00 g\nflush: 1\nlost: 1\nstage: spent"
        files |= {f"b{at}.md": f"---\n{batch}\n---\n", f"n{at}.md": f"---\n{note}\n---\n"}
    (culture,) = document(make_journal(files))["cultures"]
    assert (35.0, 6, 0.5) == pytest.approx((culture["be_median"], culture["batches_counted"], culture["lost_share"]))
    assert {"low": 10.0, "high": 60.0, "confidence": 0.96875} == pytest.approx(culture["be_interval"])


@pytest.mark.parametrize("line", ["why: a guess", "door: open", "serviced: tank"])
def test_a_comment_on_a_setting_or_a_reading_is_none_by_itself(make_journal: Make, line: str) -> None:
    entry = f"---\nkind: tent\nabout: hut\ndate: 2026-10-22\n{line}\n---\n"
    hut = document(make_journal({"journal.toml": TOML, "tent/x.md": entry}))["tents"][0]
    assert ([], []) == (hut["settings"], hut["readings"])
    assert ["serviced" in line] == [bool(hut["services"])]


def test_each_setting_reading_and_service_has_its_columns(whole: dict[str, Any]) -> None:
    hut = whole["tents"][0]
    where = {"date", "date_is_about", "path", "by"}
    settings = "humidity_pct humidity_differential_pct temperature_c light_on_h light_k exhaust exhaust_on_min"
    settings += " exhaust_every_min air_movement why"
    assert [where | set(settings.split())] == [set(row) for row in hut["settings"]]
    readings = {"humidity_pct", "temperature_c", "co2_ppm", "meter_kwh", "light_level_lux", "door", "source"}
    assert [where | readings] == [set(row) for row in hut["readings"]]
    assert [where | {"serviced", "tank_fill_ml", "cost"}] == [set(row) for row in hut["services"]]
