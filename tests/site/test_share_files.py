"""A folder as one zip."""

from __future__ import annotations

import os
import zipfile
from pathlib import Path

import pytest

from journal.site.share_files import zip_folder

FILES = {"index.html": b"<p>one</p>" * 40, "photos/2026-11/ab-320.webp": b"RIFF" * 40, ".journal-site": b"mark"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name, data in FILES.items():
        (tmp_path / "site" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "site" / name).write_bytes(data)
    return tmp_path / "site"


def test_every_file_but_hidden_ones_is_in_it_byte_by_byte(folder: Path, tmp_path: Path) -> None:
    zip_folder(folder, tmp_path / "site.zip")
    with zipfile.ZipFile(tmp_path / "site.zip") as packed:
        assert packed.testzip() is None
        assert {n: d for n, d in FILES.items() if n[0] != "."} == {n: packed.read(n) for n in packed.namelist()}
        assert sorted(packed.namelist()) == packed.namelist()


def test_the_same_files_give_the_same_bytes_whenever_and_by_whomever_they_were_made(
    folder: Path, tmp_path: Path
) -> None:
    zip_folder(folder, tmp_path / "one.zip")
    for name in FILES:
        os.utime(folder / name, (1, 1))
        (folder / name).chmod(0o600)
    zip_folder(folder, tmp_path / "two.zip")
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()


def test_it_reveals_nothing_of_when_and_where_it_was_made(folder: Path, tmp_path: Path) -> None:
    zip_folder(folder, tmp_path / "site.zip")
    with zipfile.ZipFile(tmp_path / "site.zip") as packed:
        told = {(row.date_time, row.extra, row.comment) for row in packed.infolist()}
    assert {((1980, 1, 1, 0, 0, 0), b"", b"")} == told
    assert os.fsencode(tmp_path) not in (tmp_path / "site.zip").read_bytes()


def test_pictures_are_not_packed_twice(folder: Path, tmp_path: Path) -> None:
    zip_folder(folder, tmp_path / "site.zip")
    with zipfile.ZipFile(tmp_path / "site.zip") as packed:
        kinds = {row.filename.rpartition(".")[2]: row.compress_type for row in packed.infolist()}
    assert {"html": zipfile.ZIP_DEFLATED, "webp": zipfile.ZIP_STORED} == kinds
