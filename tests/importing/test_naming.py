from __future__ import annotations

import os

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from journal.importing.destinations import LONGEST_BYTES, can_be_listed, first_free, folded, name_for_copy
from journal.reading.entries import read_entry
from journal.reading.folder import kind_of_file
from journal.settings import Settings
from tests.builders import unfit

JPEG = (".jpg", ".jpeg")
DIGEST = "0123456789abcdef" * 4

NAMES = st.binary(min_size=1, max_size=120).map(lambda raw: raw.replace(b"/", b"").replace(b"\0", b"") or b"x")


@pytest.mark.parametrize(
    ("expected", "name", "endings"),
    [
        ("IMG_0533.jpg", "IMG_0533.jpg", JPEG),
        ("IMG_0533.JPG", "IMG_0533.JPG", JPEG),
        ("green block 3.jpg", "green block 3.jpg", JPEG),
        ("première-pesée.jpg", "premie\u0300re-pese\u0301e.jpg", JPEG),  # decomposed, as HFS+ spelled names
        ("IMG_0533.heic", "IMG_0533.JPG", (".heic", ".heif")),
        ("IMG_0533.jpg", "IMG_0533.jpg", ()),
        ("a- b.jpg", "a: b.jpg", JPEG),
        ("C--x.jpg", "C:\\x.jpg", JPEG),
        ("photo-con.jpg", "con.jpg", JPEG),
        ("photo-NUL.old.jpg", "NUL.old.jpg", JPEG),
        ("photo-Com¹.jpg", "Com¹.jpg", JPEG),
        ("photo-con .x.jpg", "con .x.jpg", JPEG),
        ("a b.jpg", "a\t \nb.jpg", JPEG),
        ("-gpj.jpg", "\u202egpj.jpg", JPEG),
        ("photo.jpg", ". .jpg", JPEG),
        ("hidden.jpg", ".hidden.jpg", JPEG),
    ],
)
def test_a_copy_is_called_as_the_photo_where_every_system_can(expected: str, name: str, endings) -> None:
    assert expected == name_for_copy(name, endings, DIGEST)


@given(raw=NAMES)
@example(raw=b"\xff\xfe.jpg")
@example(raw=b"- - [a]: 'b', \"c\" #d.jpg")
@example(raw="ß".encode() * 150)
@example(raw=b"CONOUT$ . .jpg")
def test_whatever_a_camera_calls_it_an_entry_can_list_the_copy(raw: bytes) -> None:
    name = name_for_copy(os.fsdecode(raw), JPEG, DIGEST)
    text = f"---\nkind: note\nabout: B-031\ndate: 2026-10-27\nphotos:\n  - {name}\n---\n"
    entry = read_entry("note.md", text.encode(), Settings())
    assert entry is not None
    assert (((name, None),), ()) == (entry.values["photos"], entry.problems)
    assert (True, "photo") == (len(name.encode()) <= LONGEST_BYTES + 6, kind_of_file(name))
    assert not name.startswith(".")
    assert name.strip() == name.splitlines()[0]
    assert [] == unfit([name])


@pytest.mark.parametrize("name", ["a: b.jpg", "a ", " a.jpg", "'a.jpg'", "[a, b].jpg]", "a\nb.jpg"])
def test_some_names_no_entry_can_list(name: str) -> None:
    assert not can_be_listed(name)


@pytest.mark.parametrize(
    ("expected", "taken"),
    [
        ("IMG.jpg", ()),
        ("IMG-2.jpg", ("img.JPG",)),
        ("IMG-3.jpg", ("IMG.jpg", "Img-2.jpg")),
    ],
)
def test_a_name_that_is_taken_in_any_case_gets_a_number(expected: str, taken: tuple[str, ...]) -> None:
    assert expected == first_free("IMG.jpg", {folded(name) for name in taken})
