"""Gathering: records into the journal, once and whole, wherever a run is stopped."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from journal.importing.archive import receipt_code
from journal.importing.gather_plan import with_new_ids
from journal.problems import Refusal
from tests.importing.archives import ALL, CULTURE, FIND, PINS, RYE, Saved, archive, archive_in_parts, photo, write
from tests.importing.gathering import FILES, HOME, PLACES, came_in, gather, put, receipts
from tests.importing.shore import Shore

pytestmark = pytest.mark.usefixtures("synced")


def test_every_kind_has_its_place_and_every_byte_is_kept(shore: Shore) -> None:
    before = shore.visible()
    put(shore, *ALL)
    assert FILES == came_in(shore, before)
    assert [] == shore.hidden()


def test_the_journal_reads_what_came_in_and_has_no_new_problem(shore: Shore, photo_bytes: Callable[..., bytes]) -> None:
    taken = {f"photo-0{n}.jpg": photo_bytes("2026:11:25 14:02:00", n) for n in (1, 2)}
    assert () == shore.journal().problems
    put(shore, *(replace(one, photos=taken if one.photos else {}) for one in ALL))
    journal = shore.journal()
    photos = {entry.path.rpartition("/")[0]: len(entry.photos) for entry in journal.entries()}
    assert [2, 0, 2, 0, 0] == [photos[folder] for folder in PLACES]
    assert () == journal.problems
    assert ["F26-001", "F26-015-K7Q4"] == sorted(find.id for find in journal.finds)
    assert [(), ("B-031.2",)] == sorted(tuple(map(str, note.about)) for note in journal.notes)


def test_every_file_and_folder_is_on_the_disk_before_it_is_in_place(shore: Shore, synced: list[int]) -> None:
    """A folder counts wherever a name in it is new: those of notes and receipts, in the first run alone."""
    put(shore, RYE)
    first = len(synced)
    put(shore, Saved("note", text="Bran.\n", seed="bran", photos={"photo-01.jpg": photo()}), name="other")
    assert (11, 10) == (first, len(synced) - first)


def test_the_receipt_shows_what_came_in(shore: Shore) -> None:
    put(shore, *ALL)
    assert ["2026-11-25T200322Z-"] == [path.name[:-13] for path in (shore.root / "receipts").iterdir()]
    (receipt,) = receipts(shore)
    manifest = str(receipt["manifest"])
    assert {"version", "archive", "device", "gathered", "manifest", "parts", "records", "missing"} == set(receipt)
    assert ({"1": receipt_code(manifest, 1)}, [], "K7Q4") == (receipt["parts"], receipt["missing"], receipt["device"])
    first = receipt["records"][0]  # type: ignore[index]
    digest = hashlib.sha256(FIND.entry).hexdigest()
    assert (FIND.record, 1, "F26-015-K7Q4", "finds/2026-11-25-find-F26-015-K7Q4/find.md") == tuple(
        first[key] for key in ("record", "revision", "id", "path")
    )
    assert {"name": "entry.md", "sha256": digest, "written": digest} in first["files"]
    assert {"photo-01.jpg", "photo-02.jpg", "entry.md"} == {file["name"] for file in first["files"]}
    assert "was" not in first


@pytest.mark.parametrize("name", ["archive", "another export"])
def test_the_same_records_again_change_nothing(shore: Shore, name: str) -> None:
    put(shore, *ALL)
    before = shore.visible()
    plan = put(shore, *ALL, name=name)
    assert ((), 5, before) == (plan.takings, len(plan.known), shore.visible())


def test_what_was_removed_or_moved_here_does_not_come_back(shore: Shore) -> None:
    put(shore, *ALL)
    (shore.root / "finds/2026-11-25-find-F26-015-K7Q4").rename(shore.root / "finds/alder-bank")
    (shore.root / "finds/alder-bank/photo-02.jpg").unlink()
    (shore.root / "notes/2026-11-25-note/note.md").unlink()
    before = shore.visible()
    assert () == put(shore, *ALL, name="again").takings
    assert before == shore.visible()


def test_a_second_of_one_name_gets_a_number(shore: Shore) -> None:
    other = Saved("note", text="Bought bran.\n", seed="bran")
    shore.write({"notes/2026-11-25-note/mine.txt": "mine"})
    before = shore.visible()
    put(shore, RYE, other)
    assert {"notes/2026-11-25-note-2/note.md": RYE.entry, "notes/2026-11-25-note-3/note.md": other.entry} == came_in(
        shore, before
    )


# An ID that is something else here


def test_an_id_that_is_taken_becomes_the_next_in_all_that_came_with_it(shore: Shore) -> None:
    shore.write({"finds/mine.md": "---\nkind: find\nid: f26-015-k7q4\ndate: 2026-11-01\n---\n"})
    before = shore.visible()
    takings = put(shore, PINS, CULTURE, FIND).takings
    assert FIND.record == takings[0].gathered.record  # first, so that what names it is never there without it
    new = {path: data.decode() for path, data in came_in(shore, before).items() if path.endswith(".md")}
    assert "id: F26-016-K7Q4\n" in new["finds/2026-11-25-find-F26-016-K7Q4/find.md"]
    assert "from: F26-016-K7Q4\n" in new["cultures/2026-11-25-culture-PP-26A-7-K7Q4/culture.md"]
    assert "Pins on B-031.2, from F26-016-K7Q4." in new["notes/2026-11-25-note-B-031/note.md"]
    (receipt,) = receipts(shore)
    assert [("F26-016-K7Q4", "F26-015-K7Q4")] == [
        (row["id"], row["was"])
        for row in receipt["records"]
        if "was" in row  # type: ignore[attr-defined]
    ]
    # What the same device writes about it later follows, and so does a later revision of it.
    later = Saved("note", about=["F26-015-K7Q4"], text="Seen again.\n", seed="visit")
    put(shore, later, FIND.later(text="Alder, not birch.\n"), name="later")
    assert b"about: F26-016-K7Q4\n" in shore.visible()["notes/2026-11-25-note-F26-016-K7Q4/note.md"]
    assert b"id: F26-016-K7Q4\n" in shore.visible()["finds/2026-11-25-find-F26-016-K7Q4/find.md"]
    assert b"Alder, not birch." in shore.visible()["finds/2026-11-25-find-F26-016-K7Q4/find.md"]


def test_a_label_printed_ahead_is_taken_up_by_its_record_and_given_to_no_other(shore: Shore) -> None:
    shore.write(
        {
            "journal.toml": '[[reserved]]\nkind = "find"\nids = ["F26-016-K7Q4"]\n',
            "finds/mine.md": "---\nkind: find\nid: F26-030\nformerly: F26-015-K7Q4\ndate: 2026-11-01\n---\n",
        }
    )
    put(shore, FIND)  # its ID is an earlier one here, and the next is printed on a label
    assert "finds/2026-11-25-find-F26-017-K7Q4/find.md" in shore.visible()
    put(shore, Saved("find", "F26-016-K7Q4", text="By its label.\n", seed="label"), name="label")
    assert "finds/2026-11-25-find-F26-016-K7Q4/find.md" in shore.visible()


def test_of_two_records_with_one_id_the_second_gets_another(shore: Shore) -> None:
    twin = Saved("find", "F26-015-K7Q4", text="On oak.\n", seed="twin")
    put(shore, FIND, twin, CULTURE)
    assert CULTURE.entry == shore.visible()["cultures/2026-11-25-culture-PP-26A-7-K7Q4/culture.md"]
    found = {find.id: find.text.strip() for find in shore.journal().finds}
    assert {"F26-001": "", "F26-015-K7Q4": FIND.text.strip(), "F26-016-K7Q4": "On oak."} == found
    # What names that ID later means the first, as it did on the phone.
    third = Saved("find", "F26-015-K7Q4", text="On elder.\n", seed="third")
    put(shore, third, PINS, name="later")
    assert PINS.entry == shore.visible()["notes/2026-11-25-note-B-031/note.md"]
    assert b"id: F26-017-K7Q4" in shore.visible()["finds/2026-11-25-find-F26-017-K7Q4/find.md"]


@pytest.mark.parametrize(
    ("expected", "text"),
    [
        ("---\nid: B\n---\nA-1\n", "---\nid: A\n---\nA-1\n"),
        ("---\nfrom:\n  - B\n  - B.2\ntitle: A\n---\nB.3, AA", "---\nfrom:\n  - a\n  - A.2\ntitle: A\n---\nA.3, AA"),
        ("---\nculture: B, C\nsmell: A\n---\n(B)\n---\nB\n", "---\nculture: A, C\nsmell: A\n---\n(A)\n---\nA\n"),
    ],
)  # fmt: skip
def test_ids_are_replaced_as_whole_words_under_keys_of_ids_and_in_the_text(expected: str, text: str) -> None:
    assert expected.encode() == with_new_ids(text.encode(), {"a": "B"})


def test_what_is_no_utf_8_keeps_its_bytes() -> None:
    assert b"---\nid: B\n---\n\xff\n" == with_new_ids(b"---\nid: A\n---\n\xff\n", {"a": "B"})


# Later revisions


def test_a_later_revision_takes_the_place_of_a_text_that_nobody_changed(shore: Shore) -> None:
    put(shore, FIND)
    before = shore.visible()
    later = FIND.later(text="Alder.\n", photos={**FIND.photos, "photo-03.jpg": photo(9)})
    (taking,) = put(shore, later, name="later").takings
    assert "later" == taking.fate
    assert {
        f"{HOME}/find.md": later.entry,
        f"{HOME}/find-revision-1.txt": FIND.entry,
        f"{HOME}/photo-03.jpg": photo(9),
    } == came_in(shore, before)
    assert () == put(shore, later, name="once more").takings
    assert () == put(shore, FIND, name="an old one").takings


def test_a_text_that_was_changed_here_stays_and_the_later_one_is_beside_it(shore: Shore) -> None:
    put(shore, FIND)
    shore.write({f"{HOME}/find.md": FIND.entry + b"Mine.\n"})
    before = shore.visible()
    (taking,) = put(shore, FIND.later(text="Alder.\n"), name="later").takings
    assert "beside" == taking.fate
    assert {f"{HOME}/find-revision-2.txt": FIND.later(text="Alder.\n").entry} == came_in(shore, before)
    assert () == put(shore, FIND.later(text="Alder.\n"), name="again").takings


def test_another_text_of_the_same_revision_is_a_later_one(shore: Shore) -> None:
    put(shore, RYE)
    other = Saved("note", text="Bought bran.\n", seed="rye")
    put(shore, other, name="later")
    assert other.entry == shore.visible()["notes/2026-11-25-note/note.md"]
    assert RYE.entry == shore.visible()["notes/2026-11-25-note/note-revision-1.txt"]


@pytest.mark.parametrize("record", [FIND, RYE])
def test_a_later_revision_finds_its_entry_where_the_author_moved_it(shore: Shore, record: Saved) -> None:
    put(shore, record)
    (old,) = (taking for taking in put(shore, record, name="x").known)
    home = (shore.root / old.path).parent
    home.rename(shore.root / "moved")
    put(shore, record.later(text="Later.\n"), name="later")
    assert record.later(text="Later.\n").entry == shore.visible()[f"moved/{Path(old.path).name}"]


def test_a_later_revision_of_what_was_removed_here_comes_in_anew(shore: Shore) -> None:
    put(shore, RYE)
    (shore.root / "notes/2026-11-25-note/note.md").unlink()
    (shore.root / "notes/2026-11-25-note").rmdir()
    before = shore.visible()
    put(shore, RYE.later(text="Bought bran too.\n"), name="later")
    assert {"notes/2026-11-25-note/note.md": RYE.later(text="Bought bran too.\n").entry} == came_in(shore, before)


# What is missing


def test_what_is_whole_comes_in_and_what_is_missing_is_named(shore: Shore) -> None:
    whole = archive(*ALL)
    cut = whole.index(FIND.photos["photo-02.jpg"]) + 5
    before = shore.visible()
    plan = gather(shore.root, write(shore.camera, whole[:cut]))
    assert {f"{HOME}/find.md", f"{HOME}/photo-01.jpg"} == set(came_in(shore, before))
    rest = {f"{one.folder}/{name}" for one in ALL for name in one.files} - {
        f"{FIND.folder}/entry.md", f"{FIND.folder}/photo-01.jpg",
    }  # fmt: skip
    assert rest == set(plan.missing)
    assert ({}, sorted(rest)) == (receipts(shore)[0]["parts"], sorted(receipts(shore)[0]["missing"]))  # type: ignore[call-overload]
    gather(shore.root, write(shore.camera, whole))
    assert FILES == came_in(shore, before)
    assert ["1"] == list(receipts(shore)[1]["parts"])  # type: ignore[call-overload]


def test_parts_may_come_one_after_the_other(shore: Shore) -> None:
    where = {f"{FIND.folder}/photo-02.jpg": [2], f"{PINS.folder}/photo-01.webp": [2]}
    first, second = archive_in_parts(where, 2, *ALL)
    before = shore.visible()
    gather(shore.root, write(shore.camera, second, "2.zip"))
    assert set(FILES) > set(came_in(shore, before))
    assert [["2"]] == [list(row["parts"]) for row in receipts(shore)]  # type: ignore[call-overload]
    gather(shore.root, write(shore.camera, first, "1.zip"))
    assert FILES == came_in(shore, before)
    assert [["2"], ["1", "2"]] == [list(row["parts"]) for row in receipts(shore)]  # type: ignore[call-overload]


def test_photos_come_in_later_though_the_text_beside_them_is_damaged(shore: Shore) -> None:
    where = {f"{FIND.folder}/photo-02.jpg": [2]}
    first, second = archive_in_parts(where, 2, FIND)
    gather(shore.root, write(shore.camera, first))
    plan = gather(shore.root, write(shore.camera, second.replace(b"Two shelves", b"Two shells!")))
    assert ([f"{HOME}/photo-02.jpg"], ()) == ([path for taking in plan.takings for _, path in taking.put], plan.missing)


def test_a_receipt_that_cannot_be_read_is_named(shore: Shore) -> None:
    shore.write({"receipts/2026-11-01T000000Z-00000000.json": "{"})
    with pytest.raises(Refusal, match=r"00000000\.json cannot be read"):
        put(shore, *ALL)
