"""Every field of the model has a decision, made by somebody."""

from __future__ import annotations

import dataclasses
import inspect

import pytest

from journal import logged, model, settings
from journal.settings import Settings
from journal.sharing.grant import FIELDS

ROWS = [
    row
    for module in (logged, model, settings)
    for _, row in inspect.getmembers(module, inspect.isclass)
    if dataclasses.is_dataclass(row) and row.__module__ == module.__name__ and row is not model.Entry
]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.__name__)
def test_every_field_has_a_decision_and_every_decision_a_field(row: type) -> None:
    assert {one.name for one in dataclasses.fields(row)} == set(FIELDS[row])


@pytest.mark.parametrize(
    ("row", "gone"),
    [
        (model.Find, {"place", "permission", "private", "patch", "formerly", "permit", "picked_mass_g"}),
        (model.Photo, {"lat_deg", "lon_deg", "uncertainty_m", "track", "camera"}),
        (
            Settings,
            {
                "site_url",
                "climate",
                "shares",
                "camera_clocks",
                "maps",
                "labels",
                "locked",
                "elevation_m",
                "permits",
                "weather",
                "currency",
            },
        ),
        (model.Journal, {"problems", "figures", "_link_public", "core_logs", "weather"}),
        (model.Device, {"price", "private", "formerly", "cost"}),
        (model.Note, {"private", "minutes", "cost", "sold"}),
    ],
)
def test_what_never_leaves_is_gone(row: type, gone: set[str]) -> None:
    assert gone == {name for name, way in FIELDS[row].items() if way == "gone"}


def test_no_text_passes_as_it_is_but_ids_and_fixed_words() -> None:
    texts = {
        (row.__name__, one.name)
        for row, ways in FIELDS.items()
        for one in dataclasses.fields(row)
        if ways[one.name] in ("kept", "number") and one.type in ("str", "str | None")
    }
    assert {
        ("Find", "id"), ("Culture", "id"), ("Batch", "id"), ("Device", "id"), ("Tent", "id"), ("Ref", "id"),
        ("Note", "stage"), ("Settings", "poison_centre"), ("LightHours", "lit_from"), ("LightHours", "lit_to"),
    } == texts  # fmt: skip
