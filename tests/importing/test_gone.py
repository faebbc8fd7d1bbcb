"""Gathering what the journal had and no longer has: known wherever it lies, never doubled, and back only if asked."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from pathlib import Path

import pytest

from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.importing import gather_writing as gathering
from journal.importing.archive import read_archives
from journal.importing.gather_plan import GatherPlan, Home
from journal.importing.gather_writing import GatherDisk, codes_of
from journal.pipeline import read_journal
from tests.importing.archives import ALL, CULTURE, FIND, PINS, RYE, TENT, Saved, archive, archive_in_parts, write
from tests.importing.gathering import FILES, HOME, NOW, came_in, home_of, put
from tests.importing.shore import Shore

pytestmark = pytest.mark.usefixtures("synced")

PIN_NOTE = "notes/2026-11-25-note-B-031"
RYE_NOTE = "notes/2026-11-25-note"


def again(shore: Shore, *records: Saved) -> GatherPlan:
    """As `journal gather --again` does it."""
    (one,), _ = read_archives([write(shore.camera, archive(*records, name="again"))], lambda: "")

    def home(known: gathering.Receipts) -> Home:
        found = home_of(shore.root, known)
        return Home(found.root, found.settings, found.drafts, known, again=True)

    later = NOW + timedelta(hours=2)
    return gathering.gather(one, shore.root, home, later, lambda taking: None, GatherDisk()).plan


def known_and_gone(plan: GatherPlan) -> tuple[set[str], set[str]]:
    return {one.record for one in plan.known}, {one.record for one in plan.gone}


def codes(shore: Shore, data: bytes) -> dict[str, str]:
    (one,), _ = read_archives([write(shore.camera, data)], lambda: "")
    plan = gathering.gather(one, shore.root, partial(home_of, shore.root), NOW, lambda taking: None, GatherDisk()).plan
    return codes_of(one.manifest, plan)


def test_what_was_removed_is_not_in_the_journal_stays_out_and_its_part_has_no_code(shore: Shore) -> None:
    where = {f"{FIND.folder}/{name}": [1] for name in FIND.photos} | {
        f"{PINS.folder}/{name}": [2] for name in PINS.photos
    }
    parts = archive_in_parts(where, 2, FIND, PINS)
    for part in parts:
        codes(shore, part)
    shutil.rmtree(shore.root / HOME)
    before = shore.visible()
    plan = put(shore, FIND, PINS, name="other")
    assert ({PINS.record}, {FIND.record}) == known_and_gone(plan)
    assert ((), before) == (plan.takings, shore.visible())
    assert ["2"] == list(codes(shore, parts[1]))


def test_asked_for_what_was_removed_comes_in_again_and_nothing_else_does(shore: Shore) -> None:
    put(shore, *ALL)
    for path in (f"{PIN_NOTE}/note.md", f"{RYE_NOTE}/note.md", f"{HOME}/find.md"):
        shutil.rmtree((shore.root / path).parent)
    before = shore.visible()
    plan = again(shore, *ALL)
    assert {FIND.record, PINS.record, RYE.record} == {one.gathered.record for one in plan.takings}
    assert ({CULTURE.record, TENT.record}, set()) == known_and_gone(plan)
    folders = (HOME, PIN_NOTE, RYE_NOTE)
    assert {path: data for path, data in FILES.items() if path.rpartition("/")[0] in folders} == came_in(shore, before)
    assert [] == [one.gathered.was for one in plan.takings if one.gathered.was]
    before = shore.visible()
    assert ((), ()) == (again(shore, *ALL).takings, put(shore, *ALL, name="more").gone)
    assert before == shore.visible()


def moved(shore: Shore, folder: str) -> Path:
    return (shore.root / folder).rename(shore.root / "batches/B-031/elsewhere")


def edit(path: Path, old: bytes, new: bytes) -> None:
    data = path.read_bytes()
    assert old in data
    path.write_bytes(data.replace(old, new))


def edited_and_moved(shore: Shore, record: Saved, folder: str) -> None:
    name = moved(shore, folder) / f"{record.kind}.md"
    edit(name, b"---\n\n", b"title: Mine\n---\n\nMine. ")
    name.rename(name.with_name("mine.md"))


def new_id(shore: Shore) -> None:
    edit(shore.root / HOME / "find.md", b"id: F26-015-K7Q4", b"id: F26-015")


def new_id_and_moved(shore: Shore) -> None:
    edit(shore.root / HOME / "find.md", b"id: F26-015-K7Q4", b"id: F26-015\nformerly: F26-015-K7Q4")
    moved(shore, HOME)


def broken(shore: Shore) -> None:
    (shore.root / HOME / "find.md").write_bytes(b"no front matter any more\n")


STILL_THERE: dict[str, tuple[Saved, Callable[[Shore], object]]] = {
    "moved": (FIND, lambda shore: moved(shore, HOME)),
    "edited and moved": (FIND, lambda shore: edited_and_moved(shore, FIND, HOME)),
    "with another ID": (FIND, new_id),
    "with another ID, moved": (FIND, new_id_and_moved),
    "with front matter that cannot be read": (FIND, broken),
    "a note that was moved": (RYE, lambda shore: moved(shore, RYE_NOTE)),
    "a note that was edited": (RYE, lambda shore: edit(shore.root / RYE_NOTE / "note.md", b"---\n\n", b"---\n\nMy ")),
    "a note that was edited and moved": (PINS, lambda shore: edited_and_moved(shore, PINS, PIN_NOTE)),
    "a reading that was edited and moved": (
        TENT, lambda shore: edited_and_moved(shore, TENT, "tents/2026-11-25-tent-wash-house"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("how", STILL_THERE)
@pytest.mark.parametrize("has_date", [True, False])  # whether its receipt has its date, as those of before do not
def test_an_entry_that_was_edited_renamed_or_moved_is_still_there(shore: Shore, how: str, has_date: bool) -> None:
    record, change = STILL_THERE[how]
    put(shore, *ALL)
    if not has_date:
        (path,) = (shore.root / "receipts").iterdir()
        told = json.loads(path.read_bytes())
        told["records"] = [
            {key: row[key] for key in row if key not in ("date", "about", "says")} for row in told["records"]
        ]
        path.write_text(json.dumps(told))
    change(shore)
    before = shore.visible()
    plan = again(shore, record)
    assert (({record.record}, set()), ()) == (known_and_gone(plan), plan.takings)
    assert before == shore.visible()
    without_date = not has_date and how.endswith("edited and moved") and record is not FIND
    assert {(one.record, not (without_date and one.record == record.record)) for one in ALL} == told_by_the_site(shore)


def told_by_the_site(shore: Shore) -> set[tuple[str, bool]]:
    """Each record that came in, with whether the site says that it is in the journal."""
    read = read_journal(FileCache(Cache(shore.root.parent / "site-cache"), shore.root, 0), lambda *_: None)
    return {(row.record, row.is_here) for row in read.received}


def test_the_site_says_of_what_was_removed_that_it_is_gone(shore: Shore) -> None:
    put(shore, *ALL)
    assert {(one.record, True) for one in ALL} == told_by_the_site(shore)
    for folder in (HOME, RYE_NOTE):
        shutil.rmtree(shore.root / folder)
    moved(shore, PIN_NOTE)
    (shore.root / "tents/2026-11-25-tent-wash-house/tent.md").write_bytes(b"")
    here = {PINS.record, CULTURE.record}
    assert {(one.record, one.record in here) for one in ALL} == told_by_the_site(shore)
    again(shore, *ALL)
    assert {(one.record, True) for one in ALL} == told_by_the_site(shore)


def test_one_that_has_its_place_now_is_not_taken_for_one_that_was_removed(
    shore: Shore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both were put in `notes/2026-11-25-note`, one after the other."""
    put(shore, RYE)
    shutil.rmtree(shore.root / RYE_NOTE)
    monkeypatch.setattr("tests.importing.gathering.NOW", NOW + timedelta(hours=1))
    bran = Saved("note", text="Bought bran.\n", seed="bran", date="2026-11-25 15:00+00:00")
    put(shore, bran, name="bran")
    assert bran.entry == shore.visible()[f"{RYE_NOTE}/note.md"]
    assert ({bran.record}, {RYE.record}) == known_and_gone(put(shore, RYE, bran, name="both"))


@pytest.mark.parametrize("is_edited", [False, True])
def test_one_of_two_alike_that_was_removed_is_not_the_other(shore: Shore, is_edited: bool) -> None:
    twin = Saved(RYE.kind, text=RYE.text, seed="twin")
    put(shore, RYE, twin)
    shutil.rmtree(shore.root / RYE_NOTE)
    if is_edited:
        edited_and_moved(shore, twin, f"{RYE_NOTE}-2")
    known, gone = known_and_gone(put(shore, RYE, twin, name="both"))
    assert (1, 1) == (len(known), len(gone))


PINS_SEEN = Saved("note", about=["B-031"], keys={"stage": "pinning"}, text="Pins.\n", seed="pins seen")
PICKED = Saved("note", about=["B-031"], keys={"harvest": "120 g"}, text="Picked.\n", seed="picked")
PICKED_MORE = Saved("note", about=["B-031"], keys={"harvest": "80 g"}, text="Picked more.\n", seed="picked more")
OF_B_031 = "notes/2026-11-25-note-B-031"


def test_of_two_notes_of_one_minute_the_one_that_was_removed_is_not_the_other(shore: Shore) -> None:
    put(shore, PINS_SEEN, PICKED)
    shutil.rmtree(shore.root / OF_B_031)
    edited_and_moved(shore, PICKED, f"{OF_B_031}-2")
    assert ({PICKED.record}, {PINS_SEEN.record}) == known_and_gone(put(shore, PINS_SEEN, PICKED, name="both"))
    assert {(PICKED.record, True), (PINS_SEEN.record, False)} == told_by_the_site(shore)
    assert [PINS_SEEN.record] == [one.gathered.record for one in again(shore, PINS_SEEN, PICKED).takings]


def test_where_nobody_knows_which_of_two_was_removed_the_phone_keeps_both(shore: Shore) -> None:
    put(shore, PICKED, PICKED_MORE)
    shutil.rmtree(shore.root / OF_B_031)
    edited_and_moved(shore, PICKED_MORE, f"{OF_B_031}-2")
    assert {(PICKED.record, False), (PICKED_MORE.record, False)} == told_by_the_site(shore)


def test_a_note_that_was_written_here_of_the_same_minute_is_not_one_that_was_removed(shore: Shore) -> None:
    put(shore, PICKED)
    shutil.rmtree(shore.root / OF_B_031)
    shore.write({"own.md": "---\nkind: note\ndate: 2026-11-25 14:03+00:00\nabout: B-031\n---\nFed the cat.\n"})
    assert {(PICKED.record, False)} == told_by_the_site(shore)


def test_a_note_that_was_moved_is_there_also_where_what_it_is_about_has_another_id(shore: Shore) -> None:
    shore.write({"b.md": "---\nkind: batch\nid: B-031\ndate: 2026-10-06\n---\n"})
    put(shore, PICKED)
    shore.write({"b.md": "---\nkind: batch\nid: B-131\nformerly: B-031\ndate: 2026-10-06\n---\n"})
    edit(shore.root / OF_B_031 / "note.md", b"B-031", b"B-131")
    moved(shore, OF_B_031)
    assert {(PICKED.record, True)} == told_by_the_site(shore)
    assert ((), ({PICKED.record}, set())) == ((found := again(shore, PICKED)).takings, known_and_gone(found))


def test_a_text_of_before_does_not_come_in_for_a_later_one_that_was_removed(shore: Shore) -> None:
    put(shore, FIND)
    put(shore, FIND.later(text="Alder.\n"), name="later")
    shutil.rmtree(shore.root / HOME)
    plan = again(shore, FIND)
    assert ((), (set(), {FIND.record})) == (plan.takings, known_and_gone(plan))
    assert [FIND.record] == [one.gathered.record for one in again(shore, FIND.later(text="Alder.\n")).takings]
    assert FIND.later(text="Alder.\n").entry == shore.visible()[f"{HOME}/find.md"]


def test_deleted_and_restored_on_the_phone_it_is_no_later_text(shore: Shore) -> None:
    put(shore, FIND)
    shutil.rmtree(shore.root / HOME)
    assert (set(), {FIND.record}) == known_and_gone(put(shore, FIND.later(), name="undone"))


def test_another_entry_that_got_its_id_since_is_not_it(shore: Shore) -> None:
    put(shore, FIND)
    shutil.rmtree(shore.root / HOME)
    shore.write({"finds/mine.md": "---\nkind: find\nid: F26-015-K7Q4\ndate: 2026-11-28\n---\n"})
    assert {(FIND.record, False)} == told_by_the_site(shore)
    assert (set(), {FIND.record}) == known_and_gone(put(shore, FIND, name="more"))
    (taking,) = again(shore, FIND).takings
    assert ("F26-016-K7Q4", "F26-015-K7Q4") == (taking.gathered.id, taking.gathered.was)
    assert {(FIND.record, True)} == told_by_the_site(shore)
    assert ((), ()) == (again(shore, FIND).takings, again(shore, FIND).gone)
