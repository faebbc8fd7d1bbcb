"""What an author is to look at before it goes out, and what is remembered of it."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from journal.model import Journal
from journal.problems import Refusal
from journal.settings import Share
from journal.sharing.detectors import detectors_of
from journal.sharing.redact import Redaction, redaction_of
from journal.sharing.review import Piece, Review, ReviewRecord, pieces_of, without
from journal.sharing.review_record import key_of_share, read_key, read_record, write_record
from tests.sharing.planted import planted

DAY = date(2026, 11, 25)
KEY = b"of this share"
FILES = {
    "journal.toml": '[journal]\ntitle = "Woods"\nauthor = "Porter"\npoison_centre = "+00 000"\n'
    '[ingredients]\n"oak pellets" = "93 %"\n[names]\n"pier hen" = "Grifola frondosa"\n'
    '[tents.hut]\nname = "Wash-house"\nfloor = "boards"\n[tents.hut.every]\ntank = "7 d"\n',
    "f/find.md": "---\nkind: find\nid: F-1\nspecies: Grifola frondosa\ndate: 2026-09-12\nwhere: 58.30412, -8.90177\n"
    "place: Zzyzx Bank\nlocality: exact\nhost: oak\n---\nTwo doors past the bakery.\n",
    "c.md": "---\nkind: culture\nid: C-1\nfrom: F-1\ndate: 2026-09-13\nmedium: MEA\nreceived by: x\n---\n",
    "b/b.md": "---\nkind: batch\nid: B-1\nculture: C-1\ndate: 2026-10-01\ntent: hut\n"
    "mix: oak pellets 5 kg, water 8 kg\nnext: 2026-10-20 past the gate\nphotos: p.jpg: by the gate\n---\n"
    "Bags, as at Zzyzx Bank.\n",
    "b/n.md": "---\nkind: note\nabout: B-1\ndate: 2026-10-09\ntitle: Pins\ncause: mites\ndone: fanned\n---\n"
    "250 m NE of the pier.\n::: private\nhush\n:::\n![in the bag](q.jpg)\n",
    "t.md": "---\nkind: tent\nabout: hut\ndate: 2026-10-02\nwhy: too dry\nserviced: tank\n---\n",
    "d.md": "---\nkind: device\nid: fan-1\ntent: hut\ndate: 2026-01-02\npowered by: north socket\nspare: a fan\n---\n",
}
PHOTOS = {"b/p.jpg": {"digest": "aa"}, "b/q.jpg": {"digest": "bb"}}
Make = Callable[..., Journal]


def of(journal: Journal, **more: Any) -> tuple[Redaction, tuple[Piece, ...]]:
    share = Share(**{"name": "m", "about": ("B-1", "hut"), **more})
    redaction = redaction_of(journal, share, key=KEY)
    return redaction, pieces_of(journal, redaction, KEY)


@pytest.fixture(scope="module")
def wood(make_journal: Make) -> Journal:
    return make_journal(FILES, PHOTOS)


def told(pieces: Iterable[Piece]) -> set[tuple[str, str, str]]:
    return {(piece.path, piece.field, piece.text.strip()) for piece in pieces if piece.kind == "text"}


UNASKED = {
    ("f/find.md", "species", "Grifola frondosa"),
    ("c.md", "medium", "MEA"),
    ("b/b.md", "mix", "oak pellets"), ("b/b.md", "mix", "water"), ("b/b.md", "next", "past the gate"),
    ("b/b.md", "caption of p.jpg", "by the gate"), ("b/b.md", "text", "Bags, as at (not shared)."),
    ("b/n.md", "title", "Pins"), ("b/n.md", "cause", "mites"), ("b/n.md", "done", "fanned"),
    ("t.md", "why", "too dry"), ("t.md", "serviced", "tank"),
    ("d.md", "powered by", "north socket"), ("d.md", "spare", "a fan"),
    ("journal.toml", "journal.title", "Woods"), ("journal.toml", "journal.poison_centre", "+00 000"),
    ("journal.toml", "ingredients", "oak pellets"), ("journal.toml", "names", "pier hen"),
    ("journal.toml", "tents.hut.name", "Wash-house"),
    ("journal.toml", "tents.hut.floor", "boards"), ("journal.toml", "tents.hut.every", "tank"),
}  # fmt: skip


def test_every_text_is_there_as_it_would_go_out_with_its_file_and_key(wood: Journal) -> None:
    found = told(of(wood)[1])
    (text,) = (row for row in found if row[:2] == ("b/n.md", "text"))
    assert text[2].startswith("250 m NE of the pier.")
    assert "hush" not in text[2]
    assert UNASKED == found - {text}


def test_what_is_granted_more_is_more_to_look_at(wood: Journal) -> None:
    usual = told(of(wood)[1])
    assert {("f/find.md", "host", "oak"), ("f/find.md", "text", "Two doors past the bakery.")} == (
        told(of(wood, texts="all")[1]) - usual
    )
    assert {("f/find.md", "where", "58.3041, -8.90177")} == told(of(wood, positions="exact")[1]) - usual
    assert {("f/find.md", "where", "58.3, -8.9, as a square of 0.1°")} == (told(of(wood, positions="area")[1]) - usual)
    assert ("journal.toml", "journal.author", "Porter") in told(of(wood, by=True)[1]) - usual


@pytest.mark.parametrize(
    ("positions", "said"),
    [
        ("hidden", "positions hidden, times"),
        ("area", "positions area (0.1°), times"),
        ("exact", "positions exact where a find’s locality is exact (a square of 0.1° where it is area), times"),
    ],
)
def test_what_is_allowed_of_positions_is_shown_in_words(positions: str, said: str, wood: Journal) -> None:
    assert said in of(wood, positions=positions)[1][0].text


def test_every_photo_is_there_once_under_its_own_name(wood: Journal) -> None:
    assert ["b/p.jpg", "b/q.jpg"] == [piece.path for piece in of(wood)[1] if piece.kind == "photo"]


def test_every_word_of_a_share_is_in_a_piece() -> None:
    """But IDs and fixed words: of planted words each is told by some piece, if the share's journal holds it."""
    whole = planted()
    batches = tuple(e.id for e in whole.journal.batches if not e.private)
    redaction = redaction_of(whole.journal, Share(name="m", about=batches, by=True, texts="all"), key=KEY)
    said = " ".join(f"{piece.text} {piece.field}" for piece in pieces_of(whole.journal, redaction, KEY))
    held = {word for word, (_, where) in whole.words.items() if word in repr(redaction.journal) and where != "id"}
    assert len(held) > 100
    assert {} == {word: whole.words[word] for word in held if word not in said}


@pytest.mark.parametrize("share", [{}, {"texts": "all"}])
def test_every_way_in_the_planted_texts_is_flagged(share: dict[str, Any]) -> None:
    whole = planted()
    batches = tuple(e.id for e in whole.journal.batches if not e.private)
    redaction = redaction_of(whole.journal, Share(name="m", about=batches, **share), key=KEY)
    pieces = pieces_of(whole.journal, redaction, KEY)
    ways = {word for word, (_, where) in whole.words.items() if where == "way"}
    told = [(word, piece) for piece in pieces for word in ways if word in piece.text]
    assert told
    for word, piece in told:
        assert piece.text.count(word) == sum(flag.text.count(word) for flag in piece.flags)


def test_a_text_has_its_flags_in_order(wood: Journal) -> None:
    (text,) = (one for one in of(wood)[1] if (one.path, one.field) == ("b/n.md", "text"))
    assert ("direction", "250 m NE of the pier") == (text.flags[0].kind, text.flags[0].text)
    for flag in text.flags:
        assert flag.text == text.text[flag.start : flag.end]
    assert [] == [flag for one in of(wood)[1] for flag in one.flags if "not shared" in flag.text]


def test_an_exact_position_is_flagged(wood: Journal) -> None:
    exact, area = (
        next(one for one in of(wood, positions=positions)[1] if one.field == "where") for positions in ("exact", "area")
    )
    assert (["position"], []) == ([flag.kind for flag in exact.flags], [flag.kind for flag in area.flags])


# Digests -----------------------------------------------------------------------------------------------------------


def new_after(before: tuple[Piece, ...], after: tuple[Piece, ...]) -> set[tuple[str, str]]:
    record = Review(before).after(before, (), DAY)
    return {(piece.path, piece.field) for piece in Review(after, record).new}


@pytest.mark.parametrize(
    ("change", "asked"),
    [
        ({}, set()),
        ({"b/n.md": FILES["b/n.md"].replace("pier", "bakery")}, {("b/n.md", "text")}),
        ({"b/n.md": FILES["b/n.md"].replace("hush", "hush!")}, set()),
        ({"b/n.md": FILES["b/n.md"].replace("Pins", "Many pins")}, {("b/n.md", "title")}),
        ({"b/b.md": FILES["b/b.md"].replace("by the gate", "by a gate")}, {("b/b.md", "caption of p.jpg")}),
        ({"b/m.md": "---\nkind: note\nabout: B-1\ndate: 2026-10-10\n---\nSo.\n"}, {("b/m.md", "text")}),
        ({"x.md": "---\nkind: find\nid: F-9\ndate: 2026-10-10\n---\nSo.\n"}, set()),
    ],
)
def test_what_changed_is_asked_again_and_nothing_else(
    make_journal: Make, wood: Journal, change: dict[str, str], asked: set[tuple[str, str]]
) -> None:
    after = make_journal({**FILES, **change}, PHOTOS)
    assert asked == new_after(of(wood)[1], of(after)[1])


def test_a_photo_of_the_same_name_with_other_bytes_is_asked_again(make_journal: Make, wood: Journal) -> None:
    after = make_journal(FILES, {**PHOTOS, "b/q.jpg": {"digest": "cc"}})
    assert {("b/q.jpg", "photo")} == new_after(of(wood)[1], of(after)[1])


ALLOWED = ("journal.toml", "shares.m")


@pytest.mark.parametrize(
    ("grant", "asked"),
    [
        ({"texts": "all"}, {("f/find.md", "host"), ("f/find.md", "text")}),
        ({"positions": "exact"}, {("f/find.md", "where")}),
        ({"times": "minute"}, set()),
        ({"since": date(2026, 10, 5)}, set()),
        ({"about": ("B-1",)}, set()),
    ],
    ids=["texts", "positions", "times", "since", "about"],
)
def test_what_a_changed_grant_lets_out_is_asked_and_so_is_the_grant(
    wood: Journal, grant: dict[str, Any], asked: set[tuple[str, str]]
) -> None:
    assert asked | {ALLOWED} == new_after(of(wood)[1], of(wood, **grant)[1])


def test_what_was_taken_out_of_the_share_and_comes_back_is_asked_again(wood: Journal) -> None:
    pieces = of(wood)[1]
    record = Review(pieces).after(pieces, (), DAY)
    fewer = of(wood, about=("B-1",))[1]
    record = Review(fewer, record).after(fewer, (), DAY)
    assert {("t.md", "why"), ("d.md", "spare"), ("journal.toml", "tents.hut.name")} < {
        (piece.path, piece.field) for piece in Review(pieces, record).new
    }


def test_digests_reveal_nothing_without_the_key(wood: Journal) -> None:
    redaction, pieces = of(wood)
    others = pieces_of(wood, redaction, b"another")
    assert set() == {one.digest for one in pieces} & {one.digest for one in others}


# Texts left out ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "field", "more"),
    [
        (path, field, {})
        for path, field, _ in sorted(UNASKED | {("b/n.md", "text", "")})
        if path in FILES and field != "powered by"
    ]
    + [("f/find.md", "where", {"positions": "exact"}), ("f/find.md", "host", {"texts": "all"})],
)
def test_a_text_that_is_left_out_goes_out_no_more_and_all_others_do(
    wood: Journal, path: str, field: str, more: dict[str, Any]
) -> None:
    redaction, pieces = of(wood, **more)
    gone = [piece for piece in pieces if (piece.path, piece.field) == (path, field)]
    left = replace(redaction, journal=without(redaction.journal, gone))
    digests = {piece.digest for piece in pieces_of(wood, left, KEY)}
    assert set() == digests & {piece.digest for piece in gone}
    kept = {piece for piece in pieces if piece not in gone and not piece.text.startswith("oak pellets")}
    assert set() == {(one.path, one.field) for one in kept if one.digest not in digests}


def test_what_is_left_out_stays_so_until_it_changes(make_journal: Make, wood: Journal) -> None:
    pieces = of(wood)[1]
    (text,) = (one for one in pieces if (one.path, one.field) == ("b/n.md", "text"))
    record = Review(pieces).after([one for one in pieces if one != text], [text], DAY)
    assert ((), (text,)) == (Review(pieces, record).new, Review(pieces, record).left_out)
    changed = make_journal({**FILES, "b/n.md": FILES["b/n.md"].replace("pier", "quay")}, PHOTOS)
    after = Review(of(changed)[1], record)
    assert (["b/n.md"], ()) == ([one.path for one in after.new], after.left_out)


def test_the_search_at_the_end_finds_a_text_that_was_left_out_and_is_there(wood: Journal) -> None:
    share = Share(name="m", about=("B-1", "hut"))
    text = "It is 250 m NE of the pier. in the bag"
    assert [] == [one.what for one in detectors_of(wood, share).found_in(text)]
    assert list(detectors_of(wood, share, kept_out=frozenset({("b/n.md", "text")})).found_in(text))


# The record --------------------------------------------------------------------------------------------------------


def test_a_record_is_read_as_it_was_written(tmp_path: Path) -> None:
    assert ReviewRecord() == read_record(tmp_path, "m")
    record = ReviewRecord({"ab": DAY}, frozenset({"cd"}), frozenset({"ab", "cd"}))
    write_record(tmp_path, "m", record, b"k" * 32)
    assert record == read_record(tmp_path, "m")
    assert {"key", "m.reviewed"} == {path.name for path in (tmp_path / "shares").iterdir()}


def test_a_disk_that_is_full_leaves_the_record_as_it_was_and_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_record(tmp_path, "m", ReviewRecord(), b"k" * 32)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_record(tmp_path, "m", ReviewRecord({"a": DAY}), b"k" * 32)
    assert before == {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}


def test_the_key_stays_the_same_and_is_the_owners_alone(tmp_path: Path) -> None:
    first = read_key(tmp_path)
    assert (32, True) == (len(first), first != read_key(tmp_path))  # by chance, until it is kept
    write_record(tmp_path, "m", ReviewRecord(), first)
    write_record(tmp_path, "n", ReviewRecord(), b"another")
    assert first == read_key(tmp_path)
    assert 0o600 == (tmp_path / "shares/key").stat().st_mode & 0o777
    assert key_of_share(first, "m") != key_of_share(first, "n")


SOON = b'{"looked at": {"a": "soon"}, "left out": [], "shown": 1}'


@pytest.mark.parametrize("data", [b"", b"[]", b"{}", b"\xff", SOON])
def test_a_record_that_cannot_be_read_is_refused_in_a_sentence(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "shares").mkdir()
    (tmp_path / "shares/m.reviewed").write_bytes(data)
    with pytest.raises(Refusal, match=r"shares/m.reviewed cannot be read; restore it from a copy, or delete it"):
        read_record(tmp_path, "m")


def test_a_key_that_is_none_is_refused_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "shares").mkdir()
    (tmp_path / "shares/key").write_text("mine", encoding="ascii")
    with pytest.raises(Refusal, match="is not a key"):
        read_key(tmp_path)
