"""What the data tell of the air: its keys, worked by hand, and null where nothing is known."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from journal.export.document import document
from journal.model import Journal
from tests.analysis.aired import logged

Make = Callable[..., Journal]

TOML = """[journal]
time_zone = "Europe/London"
[tents.hut]
width = "1.2 m"
depth = "1 m"
height = "2 m"
exhaust_flow = "120 m³/h"
humidity = "85–95 %"
temperature = "12–18 °C"
[tents.bare]
"""
ENTRIES = {
    "tent": """about: hut
date: 2026-11-01
light: 06:00–16:00
light colour: 5000 K
exhaust: 2 min every 15 min""",
    "batch": """id: B1
date: 2026-11-01
tent: hut
wants humidity: 88–92 %""",
    "note on the batch": """about: B1
date: 2026-11-01
stage: fruiting""",
    "device": """id: fan-1
date: 2026-01-05
tent: hut
does: fan""",
    "device 2": """id: fan-2
date: 2026-11-05
tent: hut
does: fan""",
    "note": """about: fan-1
date: 2026-11-04 18:00
stage: dead""",
}


@pytest.fixture(scope="module")
def whole(make_journal: Make) -> dict[str, Any]:
    files = {f"{name}.md": f"---\nkind: {name.split()[0]}\n{text}\n---\n" for name, text in ENTRIES.items()}
    log = logged([*[90] * 12, *[86] * 6, 80, 80, *[93] * 4, *[90] * 4], 16, accuracy_pct=2)
    found: dict[str, Any] = json.loads(json.dumps(document(make_journal({"journal.toml": TOML, **files}, logs=[log]))))
    return found


def test_a_tent_has_its_shares_its_longest_period_out_of_range_and_its_air_changes(whole: dict[str, Any]) -> None:
    """Of 28 hours 20 are surely in, 2 surely out, and 6 (at 86 %) within 2 % of an edge."""
    hut = whole["tents"][0]
    shares = (hut["in_range_share"], hut["out_of_range_share"], hut["cannot_tell_share"])
    assert (20 / 28, 2 / 28, 6 / 28) == pytest.approx(shares)
    assert 28 == hut["read_h"]
    assert (2.0, 10.0, 5000.0) == (hut["longest_out_h"], hut["light_hours"], hut["light_k"])
    assert (120 / 2.4 * 2 / 15, "at most") == (pytest.approx(hut["air_changes_per_hour"]), hut["air_changes_is"])


def test_a_tents_days_have_their_medians_shares_and_dew_point(whole: dict[str, Any]) -> None:
    first, second = whole["tents"][0]["days"]
    keys = ["date", "temperature_median_c", "humidity_median_pct", "in_range_share", "cannot_tell_share", "dew_point_c"]
    assert keys == list(first)
    assert ("2026-11-02", 16.0, 90.0) == (
        first["date"], first["temperature_median_c"], first["humidity_median_pct"],
    )  # fmt: skip
    assert (16 / 24, 6 / 24) == pytest.approx((first["in_range_share"], first["cannot_tell_share"]))
    assert ("2026-11-03", 1.0) == (second["date"], second["in_range_share"])
    # Dew point of air of 16 °C and 90 %: PsychroLib 2.5; the WMO's formula gives 14.4 as well.
    assert 14.4 == pytest.approx(first["dew_point_c"], abs=0.05)


def test_a_tent_of_which_nothing_is_known_has_nulls_and_no_days(whole: dict[str, Any]) -> None:
    bare = whole["tents"][1]
    keys = (
        "in_range_share out_of_range_share cannot_tell_share longest_out_h air_changes_per_hour air_changes_is light_k"
    )
    assert [None] * 8 == [bare[key] for key in (*keys.split(), "light_hours")]
    assert ([], 0) == (bare["days"], bare["read_h"])


def test_a_batch_has_the_share_of_its_own_range(whole: dict[str, Any]) -> None:
    """88–92 %, read to 2 %: surely in at 90 alone, and at 86 and 93 nobody can tell."""
    (batch,) = whole["batches"]
    shares = (batch["in_range_share"], batch["out_of_range_share"], batch["cannot_tell_share"])
    assert (16 / 28, 2 / 28, 10 / 28) == pytest.approx(shares)
    assert 28 == batch["read_h"]


def test_a_tent_and_a_batch_have_the_number_of_values_that_no_tent_has(
    make_journal: Make, whole: dict[str, Any]
) -> None:
    files = {f"{name}.md": f"---\nkind: {name.split()[0]}\n{text}\n---\n" for name, text in ENTRIES.items()}
    log = logged([*[90] * 12, 5, *[86] * 6], [*[60, 60], *[16] * 17], accuracy_pct=2)
    found = document(make_journal({"journal.toml": TOML, **files}, logs=[log]))
    assert (3, 3) == (found["tents"][0]["values_left_out"], found["batches"][0]["values_left_out"])
    assert (0, 0) == (whole["tents"][0]["values_left_out"], whole["batches"][0]["values_left_out"])


def test_a_dead_device_has_its_days_and_one_in_use_has_none_since_there_is_no_today(whole: dict[str, Any]) -> None:
    """From 5 January to 4 November 2026 are 303 days (day 5 and day 308 of the year)."""
    dead, living = whole["devices"]
    assert ("2026-11-04", 303) == (dead["ended"], dead["days_in_use"])
    assert (None, None) == (living["ended"], living["days_in_use"])


def test_a_patch_has_its_finds_visits_weeks_and_what_joined_it(make_journal: Make) -> None:
    spots = {
        "F-1": "58.3, -8.9 ±1 m",
        "F-2": "58.3, -8.9 ±1 m",
        "F-3": "58.30035, -8.9 ±17 m",
        "F-4": "58.3007, -8.9 ±1 m",
    }
    days = {"F-1": "2024-11-20", "F-2": "2024-11-21 14:05", "F-3": "2026-09-01", "F-4": "2025-11"}
    files = {
        f"{id}.md": f"---\nkind: find\nid: {id}\ndate: {days[id]}\nwhere: {where}\nspecies: velvet foot\n---\n"
        for id, where in spots.items()
    }
    files["v.md"] = "---\nkind: note\nabout: F-4\ndate: about 2026-01-06\nstage: nothing there\n---\n"
    files["c.md"] = "---\nkind: culture\nid: C-1\nfrom: F-2\ndate: 2024-11-22\n---\n"
    (patch,) = json.loads(json.dumps(document(make_journal(files))))["patches"]
    assert ("f-1", "F-1", False) == (patch["id"], patch["name"], patch["name_is_given"])
    assert ["F-1", "F-2", "F-4", "F-3"] == patch["finds"]
    assert (["f-4"], ["F-3"], ["C-1"]) == (patch["former_ids"], patch["joined_by"], patch["cultures"])
    assert (36, 47, ["2024-11-20", "2024-11-21", "2026-09-01"]) == (
        patch["first_week"], patch["last_week"], patch["fruited"],
    )  # fmt: skip
    assert ("2026-09-01", ["velvet foot"]) == (patch["last_look"], patch["species"])
    assert [
        ("2024-11-20", False, ["F-1"], [], True), ("2024-11-21", False, ["F-2"], [], True),
        ("2025-11", False, ["F-4"], [], True), ("2026-01-06", True, [], ["F-4 nothing there"], False),
        ("2026-09-01", False, ["F-3"], [], True),
    ] == [tuple(visit.values()) for visit in patch["visits"]]  # fmt: skip
    assert {"lat", "lon", "uncertainty_m"} == patch["position"].keys()
