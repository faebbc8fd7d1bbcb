from __future__ import annotations

import os
from pathlib import Path

import pytest
from bs4 import BeautifulSoup

from journal.cache.resources import find_resources
from journal.importing.contact_sheet import Pictured, refuse_unless_sheet, sheet_of, write_sheet
from journal.problems import Refusal

NASTY = '<script>alert(1)</script>"&'


def pictured(label: str, fate: str = "filed", shown: str = "a.jpg") -> Pictured:
    return Pictured(b"\xff\xd8", shown, "2026-10-27 07:31", label, "batches/B-031/a.jpg", "12 s after it", fate)


def test_photos_of_one_label_that_follow_each_other_stand_together() -> None:
    rows = [pictured("?", "open"), pictured("B-031"), pictured("B-031"), pictured("B-032"), pictured("B-031")]
    page = BeautifulSoup(sheet_of(rows, "Shore", find_resources()), "html.parser")
    heads = [" ".join(one.text.split()) for one in page.find_all("h2")]
    assert ["No label 1 photo", "B-031 2 photos", "B-032 1 photo", "B-031 1 photo"] == heads
    assert 5 == len(page.find_all("img", src=lambda src: src.startswith("data:image/jpeg;base64,")))


def test_nothing_that_a_photo_or_a_code_says_becomes_markup_and_nothing_is_loaded() -> None:
    rows = [Pictured(b"", NASTY, NASTY, NASTY, NASTY, NASTY, "open")]
    page = BeautifulSoup(sheet_of(rows, NASTY, find_resources()), "html.parser")
    assert ([], [], []) == (page.find_all("script"), page.find_all(src=True), page.find_all(href=True))
    assert NASTY in page.text
    policy = page.find("meta", attrs={"http-equiv": "Content-Security-Policy"})["content"]
    assert policy.startswith("default-src 'none'; img-src data:; style-src 'sha256-")


def test_it_replaces_an_earlier_sheet_and_no_other_file(tmp_path: Path) -> None:
    file, journal = tmp_path / "sheet.html", tmp_path / "my"
    journal.mkdir()
    for _ in range(2):
        refuse_unless_sheet(file, journal)
        write_sheet(file, [pictured("B-031")], "Shore", find_resources())
    assert (0o600, ["my", "sheet.html"]) == (file.stat().st_mode & 0o777, sorted(os.listdir(tmp_path)))
    (tmp_path / "mine.html").write_text("mine")
    (tmp_path / "link.html").symlink_to(file)
    for name in ("mine.html", "link.html", "my/sheet.html", "none/sheet.html", "my"):
        with pytest.raises(Refusal, match="--sheet"):
            refuse_unless_sheet(tmp_path / name, journal)
