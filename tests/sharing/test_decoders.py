"""Bytes as texts: as they stand, and out of every wrapping."""

from __future__ import annotations

import base64
import gzip
import io
import zipfile

import pytest

from journal.sharing.decoders import DEEPEST, METADATA, NOISE, UNREADABLE, DecodedText, Unwanted, texts_in
from tests.builders import some


def texts(data: bytes | str) -> list[str]:
    found = texts_in("file", data.encode() if isinstance(data, str) else data)
    return [one.text for one in found if isinstance(one, DecodedText)]


@pytest.mark.parametrize(
    ("reads", "data"),
    [
        ("a word", "a word"),
        ("a word", "a <em>wo</em>rd"),
        (" a  word ", "<td>a</td><td>word</td>"),
        ("a word", '<img alt="a word">'),
        ("a word", "<p title='a word'>"),
        ("a word", "a \\u0077ord"),
        ("a word", "a%20word"),
        ("a word", "a word".encode("utf-16")),
        ("a word", "a word".encode("utf-8-sig")),
        ("see a word here", base64.b64encode(b"see a word here")),
        ("see a word here", b"see a word here".hex()),
        ("a word", gzip.compress(b"a word", mtime=0)),
    ],
)
def test_a_text_is_read_out_of_its_wrapping(reads: str, data: bytes | str) -> None:
    assert reads in texts(data)


@pytest.mark.parametrize("name", ["1f8b2675bafb4a23", "1f8b08bafb4a2375", "1f8b2675bafb4a23" * 4])
def test_a_name_in_hexadecimal_that_begins_as_gzip_does_is_not_a_packed_file(name: str) -> None:
    found = list(texts_in("a.html", f'<img src="photos/2026-11/{name}-320.webp">'.encode()))
    assert [] == [one for one in found if isinstance(one, Unwanted)]


def test_markup_is_read_as_it_stands_too_but_not_for_short_words() -> None:
    """A heading's tag, `h2`, is no ID."""
    found = [one for one in texts_in("file", b"<h2>Held</h2>") if isinstance(one, DecodedText)]
    assert {"Held", "<h2>Held</h2>"} <= {one.text.strip() for one in found}
    assert all(one.least > 2 for one in some(one for one in found if "h2" in one.text))


def test_a_drawings_numbers_are_no_attribute_to_be_read() -> None:
    assert "M1 2L3 4" not in "\n".join(texts('<svg><path d="M1 2L3 4" class="line"/></svg>')[:3])


def test_of_bytes_that_are_no_text_only_longer_words_are_read() -> None:
    found = [
        one
        for one in texts_in("file", bytes(range(128, 256)) + b"a longer word" + b"\xff")
        if isinstance(one, DecodedText)
    ]
    assert [("a longer word", NOISE)] == [(one.text, one.least) for one in found]


def zipped(name: str, content: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr(name, content)
    return out.getvalue()


def test_a_file_in_a_packed_one_is_named_by_its_way() -> None:
    found = texts_in("share.zip", zipped("pages/a.html", b"a word"))
    assert "share.zip › pages/a.html" in {
        one.where for one in found if isinstance(one, DecodedText) and one.text == "a word"
    }


def test_wrappings_are_opened_one_within_another_and_not_without_end() -> None:
    data = b"a word"
    for _ in range(DEEPEST):
        data = zipped("x", data)
    assert "a word" in texts(data)


@pytest.mark.parametrize("data", [b"PK\x03\x04nothing", b"\x1f\x8bnothing", b"BZhnothing", b"\xfd7zXZnothing"])
def test_what_is_broken_is_reported_and_not_passed_by(data: bytes) -> None:
    assert [one for one in texts_in("file", data) if isinstance(one, Unwanted) and one.what == UNREADABLE]


def test_a_picture_that_cannot_be_read_is_searched_for_marks_of_metadata() -> None:
    broken = b"\xff\xd8\xff\xe1\x00\x10Exif\x00\x00" + bytes(20)
    assert [Unwanted("file", METADATA, "EXIF")] == [
        one for one in texts_in("file", broken) if isinstance(one, Unwanted)
    ]
