"""This device: the app that the journal can be installed as."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from PIL import Image

from journal.site.pages.device import manifest, short_name

ROOT = Path(__file__).parents[3]


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Woods", "Woods"),
        ("Tarn Skerry fruiting journal", "Tarn Skerry"),
        ("A field and fruiting journal", "A field"),
        ("Pilztagebuchführung im Keller", "Pilztagebuchführung"),
        ("Logs, jars and bags", "Logs, jars"),
        ("", "Journal"),
    ],
)
def test_a_short_name_is_of_whole_words(title: str, name: str) -> None:
    assert name == short_name(title)


def test_the_manifest_leads_to_what_is_used_most_and_shows_what_there_is() -> None:
    told = json.loads(manifest("Woods"))
    assert ["Record", "Now"] == [one["name"] for one in told["shortcuts"]]
    assert {"narrow"} == {one["form_factor"] for one in told["screenshots"]}
    for picture in (*told["screenshots"], *told["icons"]):
        with Image.open(ROOT / picture["src"]) as opened:
            assert picture["sizes"] == f"{opened.width}x{opened.height}"
