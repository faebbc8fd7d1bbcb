"""A share is what it would be had nothing private ever been written: compared with that of the journal from whose files
all that is private was deleted."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.model import Journal, LoggerFile
from journal.problems import Refusal
from journal.settings import Share
from journal.share_pipeline import make_share_files, prepare, preview_page
from journal.sharing.detectors import detectors_of
from journal.sharing.grant import LeftOutOfShare
from journal.sharing.redact import Redaction, redaction_of
from journal.site.plan import Published
from tests.builders import examples, noted
from tests.sharing.made import SIZES, files_of, seen_whole

Make = Callable[..., Journal]
Photos = Mapping[str, Mapping[str, Any]]

TOML = (
    '[journal]\ntitle = "Run"\nauthor = "Night porter"\ntime_zone = "Europe/Paris"\n'
    '[tents.hut]\nname = "Hut"\nhumidity = "85–95 %"\n[tents.hut.every]\ntank = "7 d"\n[tents.loft]\nname = "Loft"\n'
)
BASE = {
    "f/find.md": "---\nkind: find\nid: F-1\ndate: 2026-09-12\nspecies: Pleurotus pulmonarius\n---\n",
    "c/c.md": "---\nkind: culture\nid: C-1\nfrom: F-1\ndate: 2026-09-13\n---\n",
    "b/b.md": "---\nkind: batch\nid: B-1\nculture: C-1\ntent: hut\nunits: 4\ndry mass: 250 g\ndate: 2026-10-06\n"
    "next: 2026-11-20 look\n---\nMade.\n",
}
NOTED = "2026-11-10"


def logs() -> Iterator[LoggerFile]:
    start = datetime(2026, 10, 1, tzinfo=UTC)
    for tent, base in (("hut", 86.0), ("loft", 71.0)):
        stamps = [(start + timedelta(hours=6 * row)).timestamp() for row in range(4 * 70)]
        yield LoggerFile(
            path=f"climate/{tent}.csv", tent=tent, stamps_s=tuple(stamps),
            temperature_c=tuple(15 + row % 7 / 10 for row in range(len(stamps))),
            humidity_pct=tuple(base + row % 11 / 10 for row in range(len(stamps))),
        )  # fmt: skip


def share(*about: str, **more: Any) -> Share:
    return Share(**{"name": "m", "about": about or ("B-1",), "positions": "exact", **more})


@dataclass
class World:
    """A journal's files with what is private, and without; secret: words that stand in what is private alone."""

    files: dict[str, str] = field(default_factory=lambda: {"journal.toml": TOML, **BASE})
    open_files: dict[str, str] = field(default_factory=lambda: {"journal.toml": TOML, **BASE})
    photos: dict[str, dict[str, Any]] = field(default_factory=dict)
    open_photos: dict[str, dict[str, Any]] = field(default_factory=dict)

    def redactions(self, make: Make, of: Share) -> tuple[Redaction, Redaction]:
        return (
            redaction_of(make(self.files, self.photos, list(logs())), of),
            redaction_of(make(self.open_files, self.open_photos, list(logs())), of),
        )


def site_of(redaction: Redaction, photos: Photos) -> dict[str, bytes]:
    published = {path: Published(f"pub{facts['digest']}", SIZES, "data:,") for path, facts in photos.items()}
    return files_of(redaction, published, "share")


# Journals --------------------------------------------------------------------------------------------------------

KEYS = (
    "harvest: 300 g\nflush: 1", "harvest: 200 g\nflush: 2", "harvest: 90 g\nflush: 3", "harvest: 80 g\ndried: 9 g",
    "lost: 1\ncause: green mould", "stage: colonised", "stage: pinning", "stage: fruiting", "stage: spent",
    "stage: discarded", "moved to: loft", "moved to: hut", "done: misted", "next: 2026-12-01 look again",
    "title: Looked", "species: Hypsizygus ulmarius\ncertainty: likely",
)  # fmt: skip
BEARERS = (
    "kind: culture\nid: {id}\nfrom: C-1", "kind: batch\nid: {id}\nculture: C-1\ntent: hut\nunits: 2\ndry mass: 250 g",
    "kind: device\nid: {id}\ntent: hut\ndoes: fan", "kind: find\nid: {id}\nspecies: Pleurotus ostreatus",
    "kind: tent\nabout: hut\nhumidity set point: 92 %\nserviced: tank",
    "kind: tent\nabout: hut\nhumidity reading: 88 %\ndoor: open",
)  # fmt: skip
PICTURES = (
    "", "", "listed", "shown", "shown privately", "referred to privately", "never ends", "listed, and privately shown"
)  # fmt: skip


@st.composite
def worlds(draw: st.DrawFn) -> World:
    world = World()
    ids = ["B-1", "B-1", "B-1", "C-1", "F-1"]
    for number in range(draw(st.integers(1, 8))):
        private, picture = draw(st.booleans()), draw(st.sampled_from(PICTURES))
        day = date(2026, 10, 7) + timedelta(days=draw(st.integers(0, 50)))
        if draw(st.integers(0, 3)):
            about = "" if (beside := draw(st.booleans())) else f"about: {draw(st.sampled_from(ids))}\n"
            head = f"kind: note\n{about}{draw(st.sampled_from(KEYS))}"
            folder = "b" if beside else draw(st.sampled_from(["n", f"n{number}"]))
        else:
            id = f"N-{number}"
            head, folder = draw(st.sampled_from(BEARERS)).format(id=id), draw(st.sampled_from(["n", f"n{number}", "b"]))
            if "{id}" in head or f"id: {id}" in head:
                ids.append(id)
        entry_into(world, f"{folder}/e{number}", f"{head}\ndate: {day}", private, picture)
    return world


def entry_into(world: World, path: str, head: str, private: bool, picture: str) -> None:
    """Puts an entry, with its picture beside it, into both journals, as far as it is not private."""
    name = f"{path.replace('/', '')}.jpg"
    target = f"{path.rpartition('/')[0]}/{name}"
    facts = {
        "digest": f"d{path.replace('/', '')}", "taken": f"2026-10-{10 + len(world.files)}T08:30:00+02:00",
        "lat_deg": 50.0 + len(world.files), "lon_deg": 9.0, "width": 800, "height": 600,
    }  # fmt: skip
    listed = f"photos: {name}\n" if "listed" in picture else ""
    seen = f"![gills]({name})\n" if picture == "shown" else ""
    passage = {
        "shown privately": f"::: keeper\n![the hushed brook]({name})\n:::\n",
        "referred to privately": f"::: keeper\n![the hushed brook][p]\n\n[p]: {name}\n:::\n",
        "never ends": f"::: private\n![the hushed brook]({name})\n",
        "listed, and privately shown": f"::: keeper\n![the hushed brook]({name})\n:::\n",
    }.get(picture, "")
    front = f"---\n{head}\n{listed}"
    hushed = "private: yes\n" if private else ""
    world.files[f"{path}.md"] = f"{front}{hushed}---\nSo it was.\n{seen}{passage}"
    if picture:
        world.photos[target] = facts
    if not private:
        world.open_files[f"{path}.md"] = f"{front}---\nSo it was.\n{seen}"
        if listed or seen:
            world.open_photos[target] = facts


SHARES = st.builds(
    share,
    st.sampled_from(["B-1", "C-1", "F-1"]),
    st.sampled_from(["B-1", "hut"]),
    since=st.sampled_from([None, date(2026, 10, 20)]),
    times=st.sampled_from(["day", "minute"]),
    by=st.booleans(),
)


@examples(60)
@given(worlds(), SHARES)
def test_a_share_is_as_if_nothing_private_had_been_written(make_journal: Make, world: World, of: Share) -> None:
    made, expected = world.redactions(make_journal, of)
    assert expected.journal == made.journal
    assert set(expected.photos.items()) == set(made.photos.items())


@examples(4)
@given(worlds(), SHARES)
def test_so_is_every_byte_of_its_pages(make_journal: Make, world: World, of: Share) -> None:
    made, expected = world.redactions(make_journal, of)
    assert site_of(expected, world.open_photos) == site_of(made, world.photos)


@examples(8)
@given(worlds(), SHARES)
def test_what_is_private_is_looked_for(make_journal: Make, world: World, of: Share) -> None:
    journal = make_journal(world.files, world.photos, list(logs()))
    hunted = detectors_of(journal, of)
    said = any("hushed brook" in text for text in world.files.values())
    assert said == any(True for _ in hunted.found_in("by the hushed brook"))


# What a private note or passage may leave a trace in ---------------------------------------------------------------

HARVESTS = {
    "n/1.md": noted("2026-11-01", "harvest: 300 g\nflush: 1"),
    "n/3.md": noted("2026-11-20", "harvest: 200 g\nflush: 3"),
}
TRACES: dict[str, tuple[dict[str, str], dict[str, str]]] = {
    "a harvest": (HARVESTS, {"n/2.md": noted(NOTED, "harvest: 250 g\nflush: 2", private="yes")}),
    "a last stage": ({}, {"n/s.md": noted("2026-10-20", "stage: spent", private="yes")}),
    "a move": ({}, {"n/m.md": noted("2026-10-20", "moved to: loft", private="yes")}),
    "an identification": (
        {},
        {"n/i.md": noted(NOTED, "species: Hypsizygus ulmarius\ncertainty: likely", "F-1", private="yes")},
    ),
    "what was done": ({}, {"n/d.md": noted(NOTED, "done: look", private="yes")}),
    "another entry in the folder": (
        {"b/note.md": "---\nkind: note\ndate: 2026-11-02\n---\nSeen.\n"},
        {"b/d.md": "---\nkind: device\nid: fan-9\ntent: hut\ndate: 2026-10-01\nprivate: yes\n---\n"},
    ),
    "an ID of its own": (
        {},
        {"a/a.md": "---\nkind: batch\nid: B-1\nculture: C-1\nunits: 9\ndate: 2026-10-01\nprivate: yes\n---\n"},
    ),
    "a service": (
        {"t/1.md": "---\nkind: tent\nabout: hut\ndate: 2026-10-08\nserviced: tank\n---\n"},
        {"t/2.md": "---\nkind: tent\nabout: hut\ndate: 2026-10-28\nserviced: tank\nprivate: yes\n---\n"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("trace", TRACES)
def test_a_private_entry_leaves_no_trace(make_journal: Make, trace: str) -> None:
    open_files, private = TRACES[trace]
    world = World()
    world.open_files |= open_files
    world.files |= open_files | private
    for of in (share("B-1"), share("C-1", "hut", since=date(2026, 10, 1))):
        made, expected = world.redactions(make_journal, of)
        assert expected.journal == made.journal


def test_a_private_note_ends_no_shared_air(make_journal: Make) -> None:
    world = World()
    world.files["n/s.md"] = noted("2026-10-20", "stage: spent", private="yes")
    made, _ = world.redactions(make_journal, share("B-1"))
    last = datetime.fromtimestamp(made.journal.logs[0].stamps_s[-1], UTC).date()
    assert date(2026, 12, 9) == last


def test_no_page_says_which_flush_has_no_harvest(make_journal: Make) -> None:
    """To its author it is something to mend; the reader of a share would take it for a harvest that is kept back."""
    world = World()
    world.files |= HARVESTS
    made, _ = world.redactions(make_journal, share("B-1"))
    pages = site_of(made, {})
    assert b"500 g" in pages["batches/b-1/index.html"]
    assert not [path for path, data in pages.items() if b"No harvest names flush" in data]


# What is public, and names what is private -------------------------------------------------------------------------


def test_what_came_of_something_private_says_not_shared_and_has_nothing_of_it(make_journal: Make) -> None:
    files = {
        **BASE,
        "x/x.md": "---\nkind: culture\nid: X-1\nfrom: F-1\ndate: 2026-09-14\nspecies: Hericium\nprivate: yes\n---\n",
        "d/d.md": "---\nkind: culture\nid: D-1\nfrom: X-1\ndate: 2026-09-20\n---\n",
        "e/e.md": "---\nkind: batch\nid: E-1\nculture: X-1, C-1\ndate: 2026-10-20\n---\n",
    }
    shown = redaction_of(make_journal(files), share("D-1", "E-1")).journal
    culture = next(row for row in shown.cultures if row.id == "D-1")
    batch = next(row for row in shown.batches if row.id == "E-1")
    assert ((), 1, 1) == (culture.sources, culture.unknown_sources, culture.unshared_sources)
    assert (None, None, "Culture D-1") == (culture.species, culture.method, culture.title)
    assert (["C-1"], 1, 1) == ([ref.id for ref in batch.cultures], batch.unknown_sources, batch.unshared_sources)
    assert "Pleurotus pulmonarius" == batch.species
    assert () == shown.problems


def test_a_sum_of_something_private_too_is_told_as_nobodys(make_journal: Make) -> None:
    """Its note was written openly, and so is what it is about; else all of the sum would be taken for B-1's."""
    files = {
        **BASE,
        "x/x.md": "---\nkind: culture\nid: X-1\nreceived from: unknown\ndate: 2026-09-14\nprivate: yes\n---\n",
        "n/n.md": noted(NOTED, "harvest: 300 g\nflush: 1", "B-1, X-1"),
    }
    shown = redaction_of(make_journal(files), share("B-1")).journal
    assert (None, True) == (shown.notes[0].harvest_g, shown.batches[0].totals_are_partial)
    assert ["B-1"] == [ref.id for ref in shown.notes[0].about]


def test_a_share_may_name_nothing_private(make_journal: Make) -> None:
    files = {**BASE, "x/x.md": "---\nkind: find\nid: F-2\ndate: 2026-09-14\nprivate: yes\n---\n"}
    with pytest.raises(Refusal, match=r"names F-2, which is private"):
        redaction_of(make_journal(files), share("F-2"))


# Photos ------------------------------------------------------------------------------------------------------------

PASSAGE = "Seen.\n::: private\n{}\n:::\n"
SHOWN = "![The crofter's gate](gate_04.jpg)"


@pytest.mark.parametrize(
    ("keys", "text"),
    [
        ("title: A", PASSAGE.format(SHOWN)),
        ("title: A", f"Seen.\n::: private\n{SHOWN}\n"),  # never closed
        ("title: A", PASSAGE.format("![The crofter's gate][p]\n\n[p]: gate_04.jpg")),
        ("title: A", PASSAGE.format("![The crofter's gate][p]") + "\n[p]: <gate_04.jpg>\n"),
        ("title: A", PASSAGE.format("![The crofter's gate] [p]\n\n[P]:\n gate_04.jpg")),
        ("title: A", PASSAGE.format("The crofter's gate is in gate_04.jpg.")),
        ("title: A", PASSAGE.format("![The crofter's gate](./GATE_04.JPG)")),
        ("title: A", PASSAGE.format("![The crofter's gate](gate%5F04.jpg)")),
        ("title: A\nprivate: yes", SHOWN),
        ("photos: 'gate_04.jpg: The crofter''s gate'\nprivate: yes", ""),
    ],
)
def test_a_photo_that_only_private_text_shows_is_gone_with_all_its_words(
    make_journal: Make, keys: str, text: str
) -> None:
    photo = {
        "n/gate_04.jpg": {
            "digest": "gate", "taken": "2026-11-10T08:31:00+01:00", "lat_deg": 58.3, "lon_deg": -8.9,
        }
    }  # fmt: skip
    written = noted(NOTED, keys, text=text)
    private = "private: yes" in keys
    world = World()
    world.files["n/n.md"], world.photos = written, photo
    if not private:
        rest = "\n[p]: <gate_04.jpg>\n" if "[p]: <" in text else ""
        world.open_files["n/n.md"] = noted(NOTED, keys, text=f"Seen.\n{rest}")
    of = share("B-1", times="minute")
    made, expected = world.redactions(make_journal, of)
    assert ({}, ()) == (dict(made.photos), made.journal.photos)
    assert expected.journal == made.journal
    pages = site_of(made, photo)
    assert not [path for path, data in pages.items() if b"gate" in data.lower() or b"08:31" in data]
    hunted = detectors_of(make_journal(world.files, photo), of)
    assert [] != list(hunted.found_in("the crofter's"))
    assert [] != list(hunted.found_in("see gate_04.jpg"))
    assert LeftOutOfShare("photo", "n/gate_04.jpg", "not shared" if private else "private") in made.left_out


def test_a_find_stands_where_no_photo_of_its_private_passage_was_taken(make_journal: Make) -> None:
    find = "---\nkind: find\nid: F-1\ndate: 2026-09-12\nlocality: exact\n---\n::: private\n![](p.jpg)\n:::\n"
    photo = {"f/p.jpg": {"lat_deg": 58.3, "lon_deg": -8.9, "taken": "2026-09-12T06:10:00+02:00"}}
    shown = redaction_of(make_journal({"f/f.md": find}, photo), share("F-1", times="minute")).journal.finds[0]
    assert (None, None) == (shown.position, shown.date.moment)


@pytest.mark.parametrize(
    ("keys", "text", "caption", "in_text"),
    [
        ("photos: p.jpg", PASSAGE.format("![hushed](p.jpg)"), None, False),
        ("photos: 'p.jpg: gills'", PASSAGE.format("![hushed](p.jpg)"), "gills", False),
        ("title: A", f"![gills](p.jpg)\n{PASSAGE.format('![hushed](p.jpg)')}", "gills", True),
        ("title: A", f"{PASSAGE.format('![hushed](p.jpg)')}![gills](p.jpg)\n", "gills", True),
        ("title: A", PASSAGE.format("A gate."), None, False),  # it lies beside the note, and nothing private names it
    ],
)
def test_a_photo_that_is_listed_or_shown_openly_is_public_and_a_private_caption_is_not(
    make_journal: Make, keys: str, text: str, caption: str | None, in_text: bool
) -> None:
    journal = make_journal({**BASE, "n/n.md": noted(NOTED, keys, text=text)}, {"n/p.jpg": {"digest": "p"}})
    made = redaction_of(journal, share("B-1"))
    (use,) = made.journal.notes[0].photos
    assert ({"n/p.jpg"}, caption, in_text) == (set(made.photos), use.caption, use.in_text)
    assert ("hushed" in text) == any(True for _ in detectors_of(journal, share("B-1")).found_in("so hushed"))


def test_a_photo_of_another_shared_entry_is_not_shown_by_the_one_that_names_it_privately(make_journal: Make) -> None:
    files = {
        **BASE,
        "n/n.md": noted(NOTED, "title: A", text=PASSAGE.format("![hushed](p.jpg)")),
        "m/m.md": noted(NOTED, "title: B\nphotos: ../n/p.jpg: gills"),
    }
    made = redaction_of(make_journal(files, {"n/p.jpg": {"digest": "p"}}), share("B-1"))
    shown = {entry.title: [use.caption for use in entry.photos] for entry in made.journal.notes}
    assert {"A": [], "B": ["gills"]} == shown


def test_a_photo_that_belonged_to_nothing_does_not_go_out_since_a_private_entry_is_beside_it(
    make_journal: Make,
) -> None:
    """Without the private note the batch would be alone in its folder; but the photo never stood on its page."""
    files = {**BASE, "b/n.md": noted(NOTED, "title: A", private="yes")}
    assert {} == dict(redaction_of(make_journal(files, {"b/p.jpg": {"digest": "p"}}), share("B-1")).photos)


# A whole share -----------------------------------------------------------------------------------------------------


def write(root: Path, files: Mapping[str, str], photos: Mapping[str, str]) -> None:
    for path, text in files.items():
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        (root / path).write_text(text, encoding="utf-8")
    for path, colour in photos.items():
        exif = Image.Exif()
        exif[0x010E] = f"{colour} words"
        exif.get_ifd(0x8769)[0x9003] = "2026:11:10 08:31:00"
        Image.new("RGB", (64, 48), colour).save(root / path, "JPEG", exif=exif)


def test_every_byte_of_a_whole_share_is_as_if_nothing_private_had_been_written(tmp_path: Path) -> None:
    toml = TOML + '[shares.m]\nabout = ["C-1", "hut"]\npositions = "exact"\ntimes = "minute"\n'
    shared = {"journal.toml": toml, **BASE, **HARVESTS}
    private = {
        "n/2.md": noted(NOTED, "harvest: 250 g\nflush: 2", private="yes"),
        "n/s.md": noted("2026-11-25", "stage: spent\nphotos: 's.jpg: The crofter''s gate'", private="yes"),
        "n/i.md": noted(NOTED, "species: Hypsizygus ulmarius\ncertainty: likely", "F-1", private="yes"),
        "x/x.md": "---\nkind: batch\nid: X-7\nculture: C-1\ntent: hut\ndate: 2026-10-09\nprivate: yes\n---\nHushed.\n",
        "x/n.md": noted(NOTED, "stage: spent", "X-7"),
    }
    seen = noted(NOTED, "photos: o.jpg", text="Seen.\n")
    hushed = noted(NOTED, "photos: o.jpg", text="Seen.\n::: private\n![The crofter's gate](p.jpg)\n")
    write(tmp_path / "without", {**shared, "o/o.md": seen}, {"o/o.jpg": "red"})
    write(
        tmp_path / "with", {**shared, **private, "o/o.md": hushed},
        {"o/o.jpg": "red", "o/p.jpg": "green", "n/s.jpg": "blue"},
    )  # fmt: skip
    made: dict[str, dict[str, bytes]] = {}
    for name in ("with", "without"):
        root = (tmp_path / name).resolve()
        write(root, {"shares/key": f"{7:064x}\n"}, {})  # the same journal but for what is private
        memory = FileCache(Cache(tmp_path / f"cache-{name}"), root, time.time_ns())
        prepared = seen_whole(memory, prepare(memory, "m", lambda *told: None))
        handed = make_share_files(memory, prepared, tmp_path.resolve() / f"out-{name}", lambda *told: None)
        made[name] = {path.relative_to(handed.pages_folder).as_posix(): path.read_bytes()
                      for path in sorted(handed.pages_folder.rglob("*")) if path.is_file()}  # fmt: skip
        made[name]["zip"] = handed.archive.read_bytes()
        sheet = preview_page(memory, prepared, tmp_path.resolve() / f"sheet-{name}", lambda *told: None)
        assert "gate" not in sheet.read_text(encoding="utf-8")
    assert made["without"].keys() == made["with"].keys()
    assert [] == [path for path, data in made["without"].items() if data != made["with"][path]]
