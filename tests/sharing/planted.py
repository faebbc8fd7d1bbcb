"""A journal in which every text of every field is a word that stands nowhere else, and a rule, apart from the program's
own, of who may see it."""

from __future__ import annotations

import hashlib
import itertools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from datetime import UTC, date, datetime, timedelta, timezone
from functools import cache
from typing import Any

from journal import model
from journal.model import (
    Batch,
    Culture,
    Device,
    Entry,
    Find,
    Journal,
    LoggerFile,
    MixPart,
    Next,
    Note,
    Photo,
    PhotoUse,
    Position,
    Ref,
    TentEntry,
    When,
)
from journal.problems import Problem
from journal.settings import CameraClock, ClimateSource, Exhaust, LightHours, OwnMap, Settings, Share, Tent, ValueRange

SINCE = date(2026, 9, 1)
_SUMMER = timezone(timedelta(hours=1))
_SYLLABLES = [c + v for c in "bdfgklmnprstv" for v in "aeiou"]


def word(number: int) -> str:
    """A word of ten letters that no text of the program holds, another for each number."""
    letters = hashlib.sha256(str(number).encode()).digest()
    return "Zq" + "".join(_SYLLABLES[byte % len(_SYLLABLES)] for byte in letters[:4])


# Fields whose texts the program itself must be able to read, or that name IDs; IDs are planted words themselves.
_LEFT = {
    "id",
    "stage",
    "form",
    "tent",
    "moved_to",
    "about",
    "controlled_by",
    "lit_from",
    "lit_to",
    "time_zone",
    "entries",
}


@dataclass
class Planted:
    """journal: the whole. words: each planted word -> (the row's path or ID, the field it stands in)."""

    journal: Journal
    words: dict[str, tuple[str, str]] = field(default_factory=dict)


class _Planter:
    def __init__(self) -> None:
        self._numbers = itertools.count(1)
        self.words: dict[str, tuple[str, str]] = {}

    def word(self, owner: str, where: str) -> str:
        made = word(next(self._numbers))
        self.words[made] = (owner, where)
        return made

    def fill(self, row: Any, owner: str) -> Any:
        """The row with a planted word in every field that takes a text, by the model's own types."""
        more: dict[str, Any] = {}
        for one in fields(row):
            value = getattr(row, one.name)
            where = f"share {one.name}" if isinstance(row, Share) else one.name
            if one.name in _LEFT or one.name == "lines" or (one.name == "text" and isinstance(row, Entry)):
                continue
            if one.type in ("str", "str | None"):
                more[one.name] = value or self.word(owner, where)
            elif one.type == "tuple[str, ...]":
                more[one.name] = value or (self.word(owner, where), self.word(owner, where))
            elif is_dataclass(value):
                more[one.name] = self.fill(value, owner)
            elif isinstance(value, tuple) and value and is_dataclass(value[0]):
                more[one.name] = tuple(
                    self.fill(inner, inner.id if isinstance(inner, Tent) else owner) for inner in value
                )
        return replace(row, **more)


def _when(day: date, clock: str | None) -> When:
    if clock is None:
        return When("", day, "day")
    hours, minutes = map(int, clock.split(":"))
    return When("", day, "minute", datetime(day.year, day.month, day.day, hours, minutes, 41, tzinfo=_SUMMER))


@dataclass(frozen=True)
class Ids:
    """The planted IDs, by what they stand for."""

    by: Mapping[str, str]

    def __getitem__(self, name: str) -> str:
        return self.by[name]


NAMES = (
    "find a", "find b", "culture a1", "culture a2", "culture b1", "received", "mixed", "hushed", "batch a", "batch b",
    "batch m", "batch h", "hut", "loft", "fan", "strip", "lamp",
)  # fmt: skip


@cache
def planted() -> Planted:
    """The journal: two finds, their lines, one of them mixed, a private culture, three tents' worth of gear."""
    planter = _Planter()
    ids = ids_of_names()
    for name in NAMES:
        planter.words[ids[name]] = (ids[name], "id")
    entries = [planter.fill(row, row.path) for row in _rows(planter, ids)]
    settings = planter.fill(_settings(ids), "settings")
    photos = tuple(planter.fill(photo, photo.path) for photo in _photos(entries))
    logs = tuple(planter.fill(log, log.path) for log in _logs(planter, ids))
    entries = [replace(entry, text=_text(planter, entry, entries, photos, ids)) for entry in entries]
    rows = sorted(entries, key=model.sort_key)
    journal = Journal(
        settings=settings,
        finds=tuple(row for row in rows if isinstance(row, Find)),
        cultures=tuple(row for row in rows if isinstance(row, Culture)),
        batches=tuple(row for row in rows if isinstance(row, Batch)),
        notes=tuple(row for row in rows if isinstance(row, Note)),
        tent_entries=tuple(row for row in rows if isinstance(row, TentEntry)),
        devices=tuple(row for row in rows if isinstance(row, Device)),
        photos=tuple(sorted(photos, key=lambda photo: photo.path)),
        logs=logs,
        problems=(Problem("x.md", 3, "error", planter.word("problems", "says"), planter.word("problems", "mend")),),
    )
    return Planted(with_its_public_one(journal), planter.words)


def with_its_public_one(journal: Journal) -> Journal:
    """The journal, which knows what it is without its private entries; what names their IDs then names nothing."""
    hushed = {row.id for row in (*journal.cultures, *journal.batches, *journal.finds) if row.private}

    def named(refs: tuple[Ref, ...]) -> tuple[Ref, ...]:
        return tuple(ref for ref in refs if ref.id not in hushed)

    def told(rows: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(row for row in rows if not row.private)

    public = replace(
        journal,
        finds=told(journal.finds),
        cultures=tuple(
            replace(row, sources=named(row.sources), unknown_sources=len(row.sources) - len(named(row.sources)))
            for row in told(journal.cultures)
        ),
        batches=tuple(
            replace(row, cultures=named(row.cultures), unknown_sources=len(row.cultures) - len(named(row.cultures)))
            for row in told(journal.batches)
        ),
        notes=tuple(replace(row, about=named(row.about)) for row in told(journal.notes)),
        tent_entries=told(journal.tent_entries),
        devices=told(journal.devices),
    )
    return journal.with_public(lambda: public)


@cache
def ids_of_names() -> Ids:
    """IDs that are planted words too: `Zqfinda-1` is like none of the others."""
    return Ids({name: f"{word(9000 + number)}-{number}" for number, name in enumerate(NAMES, 1)})


def _rows(planter: _Planter, ids: Ids) -> Iterator[Entry]:
    """Every entry, with its links, dates and numbers, and no text yet."""
    clocks = (f"{7 + number % 9:02d}:{(11 + 7 * number) % 60:02d}" for number in itertools.count())
    days = itertools.count()

    def common(kind: str, photos: int = 1, early: bool = False, private: bool = False) -> dict[str, Any]:
        folder, name = planter.word(kind, "path"), planter.word(kind, "path")
        day = (date(2026, 3, 1) if early else date(2026, 9, 10)) + timedelta(days=next(days))
        uses = [PhotoUse(f"{folder}/{planter.word(kind, 'path')}_04{n}.jpg", None, n > 0) for n in range(photos)]
        return {
            "path": f"{folder}/{name}.md", "date": _when(day, next(clocks)), "title": "", "by": "",
            "private": private, "photos": tuple(uses), "next": (Next("", day),), "lines": {"title": 2},
        }  # fmt: skip

    def find(name: str, lat: float, lon: float, locality: Any, early: bool = False) -> Find:
        place = Position(lat, lon, 8.0, "entry")
        return Find(**common("find", 2, early), id=ids[name], position=place, locality=locality, elevation_m=123.0)

    def culture(name: str, *sources: str, early: bool = False, private: bool = False, **more: Any) -> Culture:
        refs = tuple(Ref(ids[source]) for source in sources)
        return Culture(**common("culture", 1, early, private), id=ids[name], sources=refs, vessels=4, **more)

    def batch(name: str, tent: str, *cultures: str) -> Batch:
        return Batch(
            **common("batch"), id=ids[name], cultures=tuple(Ref(ids[one]) for one in cultures), units=4, wet_g=2300.0,
            dry_g=874.0, dry_from="mix", mix=(MixPart("", 5000.0), MixPart("", 800.0)), tent=ids[tent],
            wants_humidity_pct=ValueRange(85, 95),
        )  # fmt: skip

    def note(*about: str, early: bool = False, private: bool = False, **more: Any) -> Note:
        refs = tuple(Ref(ids[one]) for one in about)
        return Note(**common("note", 1, early, private), about=refs, **more)

    def tent(name: str, early: bool = False) -> TentEntry:
        return TentEntry(
            **common("tent", 1, early), about=(ids[name],), humidity_set_pct=92.0, humidity_reading_pct=86.0,
            light=LightHours(12.0, "06:25", "18:25"), exhaust=Exhaust("cycle", 2.0, 15.0), door="open",
        )  # fmt: skip

    def device(name: str, tent: str, early: bool = False, switch: str | None = None) -> Device:
        return Device(
            **common("device", 1, early), id=ids[name], tent=ids[tent], controlled_by=ids[switch] if switch else None
        )

    yield find("find a", 58.3041234, -8.9017789, "exact", early=True)
    yield find("find b", 57.1185671, -7.4530912, "area")
    yield culture("culture a1", "find a", early=True, method="tissue")
    yield culture("culture a2", "culture a1", method="transfer")
    yield culture("culture b1", "find b", method="tissue")
    yield culture("received", method="received", transfers_before=2)
    yield culture("mixed", "culture a2", "culture b1", method="transfer")
    yield culture("hushed", "culture a1", private=True, method="transfer")
    yield batch("batch a", "hut", "culture a2")
    yield batch("batch b", "loft", "culture b1")
    yield batch("batch m", "loft", "mixed", "received")
    yield batch("batch h", "hut", "hushed")
    yield device("strip", "hut", early=True)
    yield device("fan", "hut", switch="strip")
    yield device("lamp", "loft")
    yield tent("hut")
    yield tent("hut", early=True)
    yield tent("loft")
    for name in NAMES[:12]:
        yield note(name, early=True)
        yield note(name, stage="young" if name.startswith("find") else "colonised")
    yield note("batch a", moved_to=ids["loft"])
    yield note("batch a", "batch b", harvest_g=412.0, flush=1, lost=1)
    yield note("batch a", harvest_g=321.0, flush=1)
    yield note("batch a", private=True)
    yield note("find b", certainty="confirmed")
    yield note("fan", stage="dead")
    yield note("lamp", stage="faulty")


def _settings(ids: Ids) -> Settings:
    return Settings(
        title="", author="", time_zone="Europe/Paris", site_url=None, poison_centre="+00 000 000",
        tents=(Tent(id=ids["hut"], name="", width_m=1.2, depth_m=1.2, height_m=2.0, every=(("tank", 7.0),)),
               Tent(id=ids["loft"], name="", every=(("boards", 14.0),))),
        climate=(ClimateSource(files="", tent=ids["hut"]),),
        shares=(Share(name="", about=(ids["hut"],)),), camera_clocks=(CameraClock(camera="", add_min=5.0),),
        maps=(OwnMap(file="", points=((1.0, 2.0, 57.12345, -7.54321),)),),
    )  # fmt: skip


def _photos(entries: list[Entry]) -> Iterator[Photo]:
    """A photo for every use, each with a place of its own, or one on a track."""
    uses = [(entry, use) for entry in entries for use in entry.photos]
    for number, (entry, use) in enumerate(uses):
        lat, lon = 41.1234567 + number * 0.2713171, 12.7654321 - number * 0.3137713
        moment = entry.date.moment
        assert moment is not None
        yield Photo(
            path=use.path, digest=hashlib.sha256(use.path.encode()).hexdigest(),
            taken=moment + timedelta(minutes=3 + number % 50), width=1600, height=1200, entries=(entry.path,),
            **({"lat_deg": lat, "lon_deg": lon, "uncertainty_m": 5.0} if number % 3 else
               {"track": Position(lat, lon, None, "track")}),
        )  # fmt: skip


def _logs(planter: _Planter, ids: Ids) -> Iterator[LoggerFile]:
    start = datetime(2026, 8, 20, tzinfo=UTC).timestamp()
    for tent, base in (("hut", 86.0), ("loft", 71.0)):
        rows = range(90 * 24)
        yield LoggerFile(
            path=f"{planter.word('log', 'path')}/{planter.word('log', 'path')}.csv", tent=ids[tent],
            stamps_s=tuple(start + row * 3600 for row in rows),
            temperature_c=tuple(15 + row % 7 / 10 for row in rows),
            humidity_pct=tuple(base + row % 11 / 10 for row in rows), humidity_accuracy_pct=3.0,
        )  # fmt: skip


def _text(planter: _Planter, entry: Entry, entries: list[Entry], photos: tuple[Photo, ...], ids: Ids) -> str:
    """Its own word, and the mention of everything that there is to be told."""
    own, secret, way, target = (
        planter.word(entry.path, where) for where in ("text", "private passage", "way", "link target")
    )
    finds = [one for one in entries if isinstance(one, Find)]
    names = [*ids.by.values(), *(one.place for one in finds), *(one.permission for one in finds)]
    names += [one.by for one in entries][::6] + [one.received_from for one in entries if isinstance(one, Culture)]
    shown = "".join(f"![Seen {own}]({use.path.rpartition('/')[2]})\n\n" for use in entry.photos if use.in_text)
    mentions = ". ".join(f"Like {name} so" for name in names if name)
    return (
        f"{own} stands here.\n\n{shown}::: private\n{secret} is for me.\n:::\n\n{mentions}.\n\n"
        f"{notations(58.3041234, -8.9017789)} and {notations(57.1185671, -7.4530912)}\n\n"
        f"It is 250 m NE of the {way} and, by bearing 214° from the {way}, near.\n\n"
        f"[a page](https://{target.lower()}.example/map?q=1) and [a file](../{target}/{target}.csv), "
        f"seen as {photos[0].path.rpartition('/')[2]} at 14:05."
    )


def notations(lat: float, lon: float) -> str:
    """A place in several notations, made here from the standards' forms."""
    import mgrs
    from pyproj import Transformer

    zone = int((lon + 180) // 6) + 1
    east, north = Transformer.from_crs(4326, 32600 + zone, always_xy=True).transform(lon, lat)
    grid = mgrs.MGRS().toMGRS(lat, lon)
    ns, ew = ("N" if lat >= 0 else "S"), ("E" if lon >= 0 else "W")
    a, b = abs(lat), abs(lon)

    def sexagesimal(angle: float) -> str:
        return f"{int(angle)}°{int(angle * 60 % 60):02d}′{angle * 3600 % 60:04.1f}″"

    return "; ".join((
        f"{lat:.5f}, {lon:.5f}", f"{lat:.3f} {lon:.3f}", f"{lat:.1f}, {lon:.1f}",
        f"{sexagesimal(a)}{ns} {sexagesimal(b)}{ew}",
        f"{int(a)}° {a * 60 % 60:.3f}′ {ns}, {int(b)}° {b * 60 % 60:.3f}′ {ew}",
        f"{zone}V {east:.0f} {north:.0f}", grid, f"{lat:+010.6f}{lon:+011.6f}/", f"geo:{lat:.5f},{lon:.5f};u=8",
    ))  # fmt: skip


# Who may see what --------------------------------------------------------------------------------------------------

_NEVER = {
    "path", "place", "permission", "written", "private passage", "link target", "price", "site_url", "files",
    "time", "temperature", "humidity", "time_format", "digest", "says", "mend", "share name", "formerly",
}  # fmt: skip
_PERSONS = {"by", "author", "received_from", "identified_by"}
_SAID = {"title", "text", "way", "next", "done", "caption"}
_SURROUNDINGS = {"habitat", "growing_on", "host", "weather"}


@dataclass(frozen=True)
class Sight:
    """What a share may show, by a walk over the journal's own links."""

    share: Share
    ids: frozenset[str]
    entries: frozenset[str]
    quiet: frozenset[str]
    untold: frozenset[str]

    def may_tell(self, owner: str, where: str) -> bool:
        if where in _NEVER:
            return False
        if where in _PERSONS and not self.share.by:
            return False
        if where == "id":
            return owner in self.ids
        if owner == "settings":
            return where in {"title", "author"}
        if where in ("name", "floor") and owner in self.ids:
            return True
        if owner in self.untold and where in _SAID | _SURROUNDINGS:
            return False
        return owner in self.entries and not (where in _SAID and owner in self.quiet)


def sight_of(journal: Journal, share: Share) -> Sight:
    rows = {row.id: row for row in (*journal.finds, *journal.cultures, *journal.batches, *journal.devices)}
    hushed = {id for id, row in rows.items() if row.private}
    up: dict[str, set[str]] = {c.id: {r.id for r in c.sources} for c in journal.cultures}
    up |= {b.id: {r.id for r in b.cultures} for b in journal.batches}
    up = {child: parents - hushed for child, parents in up.items() if child not in hushed}
    down: dict[str, set[str]] = {}
    for child, parents in up.items():
        for parent in parents:
            down.setdefault(parent, set()).add(child)
    kin = {one for name in share.about for one in (_walk(name, up) | _walk(name, down)) - {name}}
    early = {id for id, row in rows.items() if share.since and row.date.first < share.since}
    gear = {device.id for device in journal.devices if device.tent in share.about}
    ids = (kin - early - hushed) | (set(share.about) | gear) - hushed
    seen = {row.path for id, row in rows.items() if id in ids}
    for entry in (*journal.notes, *journal.tent_entries):
        about = {ref.id for ref in entry.about} if isinstance(entry, Note) else set(entry.about)
        late = share.since is None or entry.date.first >= share.since
        if about & ids and late and not entry.private:
            seen.add(entry.path)
    quiet = {rows[id].path for id in ids & early}
    finds = {find.id for find in journal.finds}
    visits = {note.path for note in journal.notes if {ref.id for ref in note.about} & finds}
    untold = visits | {find.path for find in journal.finds} if share.texts == "grown" else set[str]()
    return Sight(share, frozenset(ids), frozenset(seen), frozenset(quiet), frozenset(untold))


def _walk(start: str, steps: dict[str, set[str]]) -> set[str]:
    seen, waiting = {start}, [start]
    while waiting:
        for after in steps.get(waiting.pop(), set()) - seen:
            seen.add(after)
            waiting.append(after)
    return seen
