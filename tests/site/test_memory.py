from __future__ import annotations

import random
from dataclasses import dataclass, fields, replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from types import MappingProxyType, SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.model import Batch, Culture, Device, Entry, Find, Journal, Note, PhotoUse, Position, Ref, TentEntry
from journal.pipeline import read_journal
from journal.problems import Problem
from journal.reading.id_index import by_former_id
from journal.settings import LabelSettings
from journal.site.memory import Memory, same
from journal.site.pages import batch_timeline, cultures, finds, indexes, plan_site, record
from journal.site.plan import Published, PublishedSize, Site
from tests.builders import batch, culture, find, journal_of, note, seeded

SAMPLE = Path(__file__).parents[2] / "sample_entries"


@dataclass(frozen=True)
class Tables:
    """Something that is read part by part."""

    name: str
    by_id: dict[str, Any]
    over: frozenset[str]

    def twice(self, id: str) -> Any:
        return self.by_id[id], self.by_id[id]


BEFORE = Tables("one", {"a": (1, "x"), "b": (2, "y")}, frozenset({"a"}))


class TestReads:
    """What was made is made again where what it read is otherwise, and only there."""

    @pytest.fixture
    def made_again(self) -> Any:
        def run(read: Any, now: Tables) -> bool:
            memory, made = Memory(), []
            for tables in (BEFORE, now):
                views = memory.begin({"tables": tables})
                memory.keep("toy", "x", lambda views=views: made.append(read(views["tables"])))
                memory.end()
            return len(made) == 2

        return run

    @pytest.mark.parametrize(
        ("read", "what"),
        [
            (lambda tables: tables.name, "name"),
            (lambda tables: tables.by_id["a"], "a"),
            (lambda tables: tables.by_id.get("a"), "a"),
            (lambda tables: tables.by_id.get("c"), "c"),
            (lambda tables: "c" in tables.by_id, "c"),
            (lambda tables: tables.twice("a"), "a"),
            (lambda tables: len(tables.by_id), "c"),
            (lambda tables: list(tables.by_id), "c"),
            (lambda tables: list(tables.by_id.values()), "a"),
            (lambda tables: {**tables.by_id}, "a"),
            (lambda tables: "c" in tables.over, "over"),
            (lambda tables: sorted(tables.over), "over"),
            (lambda tables: {"c"} & tables.over, "over"),
        ],
    )
    def test_of_each_part_by_itself(self, made_again, read: Any, what: str) -> None:
        changed = {
            "name": replace(BEFORE, name="two"),
            "a": replace(BEFORE, by_id={**BEFORE.by_id, "a": (1, "other")}),
            "c": replace(BEFORE, by_id={**BEFORE.by_id, "c": (3, "z")}),
            "over": replace(BEFORE, over=frozenset({"a", "c"})),
            "nothing": Tables("one", {"a": (1, "x"), "b": (2, "y")}, frozenset({"a"})),
        }
        assert made_again(read, changed[what])
        others = {name for name in changed if name != what and not (name == "c" and what == "a")}
        if what in ("name", "over"):
            assert not any(made_again(read, changed[name]) for name in others)
        assert not made_again(read, changed["nothing"])

    def test_what_reads_something_kept_is_made_of_what_that_has_read(self) -> None:
        memory, made = Memory(), []
        for value in (1, 1, 2):
            views = memory.begin({"tables": replace(BEFORE, by_id={"a": value})})

            def inner(views: Any = views) -> Any:
                return views["tables"].by_id["a"]

            memory.keep("outer", "x", lambda inner=inner: made.append(memory.keep("inner", "x", inner)))
            memory.end()
        assert made == [1, 2]

    def test_what_something_kept_was_made_of_is_kept_with_it(self) -> None:
        memory, made = Memory(), []
        for name, value in (("one", 1), ("one", 1), ("two", 1), ("two", 2)):
            views = memory.begin({"tables": replace(BEFORE, name=name, by_id={"a": value})})

            def innermost(views: Any = views) -> Any:
                return made.append(views["tables"].by_id["a"])

            def inner(innermost: Any = innermost) -> Any:
                return memory.keep("innermost", "x", innermost)

            def outer(views: Any = views, inner: Any = inner) -> Any:
                made.append(views["tables"].name)
                return memory.keep("inner", "x", inner)

            memory.keep("outer", "x", outer)
            memory.end()
        assert made == ["one", 1, "two", "two", 2]

    def test_what_one_plan_does_not_ask_for_is_not_kept_for_the_next(self) -> None:
        memory, made = Memory(), []
        for asks in (True, False, True):
            views = memory.begin({"tables": replace(BEFORE, name="one" if asks else "two")})
            if asks:
                memory.keep("toy", "x", lambda views=views: made.append(views["tables"].name))
            memory.end()
        assert made == ["one", "one"]

    def test_nothing_is_kept_of_a_plan_that_was_broken_off(self) -> None:
        memory, made = Memory(), []
        for is_whole in (True, False, True):
            views = memory.begin({"tables": BEFORE})
            memory.keep("toy", "x", lambda views=views: made.append("absent" in views["tables"].by_id))
            if is_whole:
                memory.end()
        assert len(made) == 2

    def test_nothing_is_kept_if_what_all_is_made_from_is_otherwise(self) -> None:
        memory, made = Memory(), []
        for depends_on in ("metric", "metric", "us"):
            memory.begin({"tables": BEFORE}, depends_on=depends_on)
            memory.keep("toy", "x", lambda depends_on=depends_on: made.append(depends_on))
            memory.end()
        assert made == ["metric", "us"]

    def test_one_object_under_many_keys_is_compared_once(self, monkeypatch: pytest.MonkeyPatch) -> None:
        compared = []

        def counted(one: Any, other: Any) -> bool:
            compared.append(one)
            return same(one, other)

        monkeypatch.setattr("journal.site.memory.same", counted)
        memory, shared = Memory(), ("x", "y")
        for value in (shared, tuple("xy"), tuple("xz")):
            views = memory.begin({"tables": replace(BEFORE, by_id=dict.fromkeys(range(9), value))})
            memory.keep("toy", "x", lambda views=views: [views["tables"].by_id[key] for key in range(9)])
            memory.end()
        assert compared.count(shared) == 2  # once in each of the two later plans


TWO_ZONES = (datetime(2026, 1, 1, 12, tzinfo=UTC), datetime(2026, 1, 1, 13, tzinfo=timezone(timedelta(hours=1))))


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        (1, 1, True), (1, True, False), (1, 1.0, False), (0.0, -0.0, False), (float("nan"), float("nan"), True),
        ("é", "é", True), ((1, "a"), (1, "a"), True), ((1,), [1], False), ((1, 2), (1,), False), (None, 0, False),
        ({"a": 1, "b": 2}, {"a": 1, "b": 2}, True), ({"a": 1, "b": 2}, {"b": 2, "a": 1}, False),
        ({"a": 1}, {"a": 1, "b": 2}, False), (MappingProxyType({"a": 1}), MappingProxyType({"a": 2}), False),
        (frozenset({"a", "b"}), frozenset({"b", "a"}), True), (frozenset({1}), frozenset({True}), False),
        (SimpleNamespace(a=1), SimpleNamespace(a=1), True), (SimpleNamespace(a=1), SimpleNamespace(a=2), False),
        (*TWO_ZONES, False), (date(2026, 1, 1), date(2026, 1, 1), True),
        (TWO_ZONES[0].replace(tzinfo=ZoneInfo("Europe/London")), TWO_ZONES[0], False),
        (PhotoUse("a", "x"), PhotoUse("a", "x"), True), (PhotoUse("a", "x"), PhotoUse("a", "y"), False),
        (range(2, 5), range(2, 5), True), (range(2, 5), range(2, 6), False), (range(1, 1), range(2, 2), False),
        (object(), object(), False),
    ],
)  # fmt: skip
def test_same_is_alike_to_the_last_part(one: object, other: object, alike: bool) -> None:
    assert same(one, other) is alike


def test_two_entries_that_differ_in_one_field_are_never_the_same() -> None:
    note = Note(path="a.md", date=_when(1), title="", by="", about=())
    for part in fields(note):
        assert not same(note, replace(note, **{part.name: "another value"}))


def _when(day: int) -> Any:
    from journal.model import When

    return When(f"2026-10-{day:02}", date(2026, 10, day), "day")


# -- the plan of a whole journal -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Journal:
    """The sample, with a tenth of its loggers' readings: half the time of a plan goes into judging them."""
    memory = FileCache(Cache(tmp_path_factory.mktemp("cache")), SAMPLE, 0)
    journal = read_journal(memory, lambda *told: None).journal
    columns = ("stamps_s", "temperature_c", "humidity_pct")
    return replace(
        journal,
        logs=tuple(replace(log, **{name: getattr(log, name)[::10] for name in columns}) for log in journal.logs),
    )


def published_of(journal: Journal) -> dict[str, Published]:
    sizes = (PublishedSize(320, 240, 9000, "0a"), PublishedSize(960, 720, 40_000, "0a"))
    return {photo.path: Published(photo.digest[:16], sizes, "data:,") for photo in journal.photos if photo.width}


def told_by(site: Site) -> tuple[Any, ...]:
    """All that a site is made from."""
    pages = [
        (page.path, page.digest(""), page.section, page.growing, page.endpoint, page.values) for page in site.pages
    ]
    return pages, site.pictures, site.texts


def test_a_line_more_in_one_note_plans_few_pages_again(sample: Journal) -> None:
    memory = Memory()
    before = plan_site(sample, published_of(sample), memory=memory)
    note = next(note for note in sample.notes if note.about and note.about[0].id == "B-031")
    edited = replace(note, text=note.text + "\nOne more line.\n")
    after = with_entry(sample, note, edited)
    found = plan_site(after, published_of(after), memory=memory)
    known = {id(page) for page in before.pages}
    with_own = [page for page in found.pages if page.endpoint in ("find", "culture", "batch", "month", "tent", "door")]
    anew = [page.path for page in with_own if id(page) not in known]
    assert "batches/b-031/index.html" in anew
    assert 5 * len(anew) < len(with_own), anew


@pytest.mark.parametrize("kind", ["finds", "cultures", "batches"])
def test_a_line_more_in_what_has_an_id_looks_for_no_name_in_another_entry(
    sample: Journal, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked_into: list[str] = []
    names = indexes.names_in_keys
    monkeypatch.setattr(indexes, "names_in_keys", lambda entry: looked_into.append(entry.path) or names(entry))
    memory = Memory()
    journal = replace(sample, figures={})
    plan_site(journal, published_of(sample), memory=memory)
    assert len(looked_into) == len([*sample.entries()])
    looked_into.clear()
    entry = getattr(journal, kind)[0]
    after = with_entry(journal, entry, replace(entry, text=f"{entry.text}\nAs B-031.\n"))
    plan_site(after, published_of(after), memory=memory)
    assert looked_into == [entry.path]


def test_a_line_more_in_one_find_plans_no_other_find_of_its_patch_again() -> None:
    at = Position(58.3, -8.9, 5.0, "entry")
    rows = [replace(find(f"F-{n}", n), position=at) for n in (1, 2, 3)]
    memory = Memory()
    before = plan_site(journal_of(*rows), {}, memory=memory)
    edited = replace(rows[1], text="Under the same alder.\n")
    found = plan_site(journal_of(rows[0], edited, rows[2]), {}, memory=memory)
    known = {id(page) for page in before.pages}
    assert [page.path for page in found.pages if page.endpoint == "find" and id(page) not in known] == [
        "finds/f-2/index.html"
    ]
    renamed = replace(rows[0], patch="the bank")
    found = plan_site(journal_of(renamed, *rows[1:]), {}, memory=memory)
    pages = {page.path: page.context["patch"]["title"] for page in found.pages if page.endpoint == "find"}
    assert {f"finds/f-{n}/index.html": "the bank" for n in (1, 2, 3)} == pages


def test_an_id_that_is_spelled_otherwise_is_so_everywhere(sample: Journal) -> None:
    memory, published = Memory(), published_of(sample)
    plan_site(sample, published, memory=memory)
    batch = next(batch for batch in sample.batches if batch.id == "B-031")
    after = with_entry(sample, batch, replace(batch, id="b-031"))
    expected = told_by(plan_site(replace(after, figures={}), published))
    assert told_by(plan_site(after, published, memory=memory)) == expected


def test_a_page_that_is_only_compared_is_not_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [culture("C-1", method="tissue"), batch("B-1", "C-1", 1), note("B-1", 5)]
    drawn: list[str] = []
    monkeypatch.setattr(batch_timeline, "draw_timeline", lambda content: drawn.append("timeline"))
    monkeypatch.setattr(cultures, "draw_descent", lambda nodes, contents: drawn.append("descent"))
    for page in plan_site(journal_of(*rows), {}).pages:
        page.digest("")
    assert drawn == []


def test_a_note_of_a_later_day_plans_no_other_batch_again() -> None:
    """How far the journal tells is known to every batch, and changes nothing that most of them show."""
    rows = [culture("C-1", method="tissue"), batch("B-1", "C-1", 1), note("B-1", 5)]
    others = [culture("C-2", method="tissue"), batch("B-2", "C-2", 1), note("B-2", 4)]
    memory = Memory()
    before = plan_site(journal_of(*rows, *others), {}, memory=memory)
    found = plan_site(journal_of(*rows, *others, note("B-1", 9, stage="pinning")), {}, memory=memory)
    known = {id(page) for page in before.pages}
    anew = [page.path for page in found.pages if page.endpoint in ("batch", "culture") and id(page) not in known]
    assert "batches/b-1/index.html" in anew
    assert "batches/b-2/index.html" not in anew


def test_a_note_plans_only_the_lists_again_that_tell_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """And a find that is entered after it makes no other find's row again."""
    at, memory, made, row_of = Position(58.3, -8.9, 5.0, "entry"), Memory(), list[str](), finds._row
    monkeypatch.setattr(finds, "_row", lambda lookup, find: made.append(find.id) or row_of(lookup, find))
    rows = [*(replace(find(f"F-{n}", n), position=at) for n in (1, 2)), culture("C-1"), batch("B-1", "C-1")]
    before = {page.path: page for page in plan_site(journal_of(*rows), {}, memory=memory).pages}
    for day in (5, 6):
        rows.append(note("B-1", day))
        found = {page.path: page for page in plan_site(journal_of(*rows), {}, memory=memory).pages}
        lists = ("finds", "patches", "patches/f-1", "near-me", "cultures/compare", "labels", "calculators", "batches")
        assert [name for name in lists if found[f"{name}/index.html"] is not before[f"{name}/index.html"]] == [
            "batches"
        ]
    made.clear()
    plan_site(journal_of(*rows, find("F-3", 7)), {}, memory=memory)
    assert made == ["F-3"]


def test_a_note_makes_only_the_facts_for_recording_again_of_what_it_is_about(monkeypatch: pytest.MonkeyPatch) -> None:
    memory, made, facts_of = Memory(), list[str](), record._facts
    monkeypatch.setattr(record, "_facts", lambda lookup, row: made.append(row.id) or facts_of(lookup, row))
    rows = [find("F-1", 1), culture("C-1"), batch("B-1", "C-1"), batch("B-2", "C-1", 1)]
    plan_site(journal_of(*rows), {}, memory=memory)
    assert made == ["F-1", "C-1", "B-1", "B-2"]
    made.clear()
    plan_site(journal_of(*rows, note("B-1", 5, stage="pinning")), {}, memory=memory)
    assert made == ["B-1"]


def with_entry(journal: Journal, old: Entry, new: Entry | None) -> Journal:
    """The journal with another entry in the place of one, or none."""
    for name in ("finds", "cultures", "batches", "notes", "tent_entries", "devices"):
        rows = getattr(journal, name)
        if old in rows:
            return replace(
                journal, **{name: tuple(new if row is old else row for row in rows if new or row is not old)}
            )
    raise AssertionError(old)


class Edits:
    """Changes of a journal's values, at random."""

    def __init__(self, journal: Journal, seed: int) -> None:
        self.journal, self.published = journal, published_of(journal)
        self.chance, self.count = random.Random(seed), 0

    def one(self) -> str:
        self.count += 1
        edit = self.chance.choice([self.write, self.write, self.alter, self.alter, self.alter, self.drop, self.more])
        return f"{edit.__name__} {edit() or ''}"

    def write(self) -> str:
        entry = self.chance.choice([*self.journal.entries()])
        words = self.chance.choice(["See B-031.", "Not like PP-26A-2.", "Pins.", "![p](pins.jpg)", "Was WAS-2 once."])
        self.journal = with_entry(self.journal, entry, replace(entry, text=f"{entry.text}\n{words}\n"))
        return entry.path

    def alter(self) -> str:
        kind = self.chance.choice([Find, Culture, Batch, Note, TentEntry, Device])
        entry = self.chance.choice([entry for entry in self.journal.entries() if type(entry) is kind])
        changes: dict[type, dict[str, Any]] = {
            Find: {
                "species": f"Pholiota {self.count}", "certainty": "confirmed", "place": "Kiln brae", "host": "ash",
                "patch": self.chance.choice(["the bank", "the slip", None]),
                "position": self.chance.choice(self.journal.finds).position,
            },
            Culture: {
                "form": "grain", "kept": "fridge", "vessels": 9, "master": True, "received_from": "a friend",
                "sources": (Ref(self.journal.finds[0].id),),
            },
            Batch: {
                "units": 12, "dry_g": 700.0, "title": f"Batch {self.count}", "tent": None, "spawn_g": 210.0,
                "cultures": (Ref(self.chance.choice(self.journal.cultures).id),),
            },
            Note: {
                "harvest_g": 310.0, "lost": 1, "stage": self.chance.choice(["pinning", "fruiting", "contaminated"]),
                "done": ("mist",), "date": _when(self.chance.randint(1, 28)), "moved_to": None, "photos": (),
                "about": (Ref(self.chance.choice(self.journal.batches).id),),
            },
            TentEntry: {"humidity_set_pct": 91.0, "serviced": ("tank",), "humidity_reading_pct": 88.0},
            Device: {"rated_for": "IP44", "does": "fogs", "powered_by": None, "spare": "one in the drawer"},
        }  # fmt: skip
        if kind in (Find, Culture, Batch, Device):
            free = {f"WAS-{number}" for number in (1, 2, 3)} - {*map(str.upper, by_former_id(self.journal))}
            changes[kind]["formerly"] = tuple(sorted(free)[:1])
        key, value = self.chance.choice(sorted(changes[kind].items(), key=lambda row: row[0]))
        self.journal = with_entry(self.journal, entry, replace(entry, **{key: value}))
        return f"{entry.path} {key}"

    def drop(self) -> str:
        note = self.chance.choice([*self.journal.notes, *self.journal.tent_entries])
        self.journal = with_entry(self.journal, note, None)
        return note.path

    def more(self) -> str:
        """A problem, a photo that cannot be decoded any more, another day of the newest file, other settings, IDs set
        aside for labels."""
        what = self.chance.choice(["problem", "photo", "newest", "settings", "labels"])
        if what == "problem":
            problem = Problem("a.md", self.count, "warning", "odd", "look")
            self.journal = replace(self.journal, problems=(*self.journal.problems, problem))
        elif what == "photo" and self.published:
            del self.published[self.chance.choice(sorted(self.published))]
        elif what == "newest":
            self.journal = replace(self.journal, newest=date(2026, 10, self.chance.randint(1, 28)))
        elif what == "labels":
            labels = LabelSettings(has_check=bool(self.count % 2), reserved=(("batch", f"B-{900 + self.count}"),))
            self.journal = replace(self.journal, settings=replace(self.journal.settings, labels=labels))
        else:
            settings = replace(self.journal.settings, units=self.chance.choice(["us", "metric"]))
            self.journal = replace(self.journal, settings=settings)
        return what


@seeded(2)
def test_any_sequence_of_changes_is_planned_as_from_nothing(sample: Journal, seed: int) -> None:
    edits, memory, told = Edits(sample, seed), Memory(), []
    plan_site(edits.journal, edits.published, memory=memory)
    for _ in range(6):
        told += [edits.one() for _ in range(edits.chance.randint(1, 2))]
        expected = told_by(plan_site(replace(edits.journal, figures={}), edits.published))
        assert told_by(plan_site(edits.journal, edits.published, memory=memory)) == expected, told


def test_what_joins_patches_and_what_had_another_id_is_planned_as_from_nothing(sample: Journal) -> None:
    """Two finds of one patch, a third that joins it and names it, IDs renamed that are named by their earlier ones
    already, all of it undone, and IDs set aside for labels."""
    journal, published, memory = sample, published_of(sample), Memory()
    first, second, third = sample.finds[0], sample.finds[1], sample.finds[-1]
    batch, culture = sample.batches[0], sample.cultures[0]
    note = next(note for note in sample.notes if note.about and note.about[0].id != batch.id)
    labels = LabelSettings(reserved=(("batch", "B-901"),))
    plan_site(journal, published, memory=memory)
    steps = [
        (second, replace(second, position=first.position)),
        (third, replace(third, position=first.position, patch="the bank")),
        (note, replace(note, text=f"{note.text}\nAs in WAS-1 and WAS-2.\n")),
        (batch, replace(batch, formerly=("WAS-1",))),
        (culture, replace(culture, formerly=("WAS-2",))),
    ]
    journals = [journal]
    for old, new in steps:
        journals.append(journal := with_entry(journal, old, new))
    journals.append(replace(journal, settings=replace(journal.settings, labels=labels)))
    for at in (1, 2, 3, 5, 0, 6):
        found = told_by(plan_site(journals[at], published, memory=memory))
        assert found == told_by(plan_site(replace(journals[at], figures={}), published)), at
    assert "batches/was-1/index.html" in {row[0] for row in found[0]}
