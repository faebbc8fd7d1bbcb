"""What a share contains: which IDs, which entries about them, which fields of each; and what it leaves out."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import Literal

from journal import model
from journal.analysis.lineage import lineage_of
from journal.analysis.progress import last_day, progress_of
from journal.geo import coarsen
from journal.model import Batch, Culture, Device, Entry, Find, Journal, Note, TentEntry
from journal.problems import Refusal, nearest, shortened
from journal.reading.keys import KEYS, ShareRule
from journal.reading.listing import SETTINGS_NAME
from journal.reading.private_passages import split_private
from journal.reading.toml_tables import NOT_TOML, toml_string
from journal.settings import (
    CameraClock,
    ClimateSource,
    Exhaust,
    LabelSettings,
    LabelSize,
    LightHours,
    OwnMap,
    Permit,
    Settings,
    Share,
    Tent,
    ValueRange,
    WeatherSource,
)

Reason = Literal["not shared", "private", "before since"]
"""Why something is kept back: nothing grants it, its author marked it private, or it is from before the share
begins."""


@dataclass(frozen=True, slots=True)
class Grant:
    """What a share contains of one journal. ids: every ID that is shared, spelled as defined. wordless: those of them
    that began before the share does: their pages have facts and links, for later entries about them, but no title,
    text, photos or position. without_text: paths of finds and of visits to finds whose words the share keeps back."""

    share: Share
    ids: frozenset[str]
    wordless: frozenset[str]
    without_text: frozenset[str]
    _folded: frozenset[str] = field(repr=False)

    def has(self, id: str) -> bool:
        return id.lower() in self._folded

    def why_left_out(self, entry: Entry) -> Reason | None:
        """Why an entry is not shared; None if it is (possibly without words, see `is_wordless`). A note or tent entry
        is shared if one of the IDs that it is about is. For an inexact date the first possible day counts."""
        if entry.private:
            return "private"
        if not any(map(self.has, ids_of(entry))):
            return "before since" if self._is_early(entry) else "not shared"
        if self._is_early(entry) and not self.is_wordless(entry):
            return "before since"
        return None

    def is_wordless(self, entry: Entry) -> bool:
        """Whether an entry is shared only for its ID."""
        return isinstance(entry, Find | Culture | Batch | Device) and entry.id in self.wordless

    def is_without_text(self, entry: Entry) -> bool:
        """Whether the words of an entry are kept back, though its facts and photos may be shared."""
        return entry.path in self.without_text

    def _is_early(self, entry: Entry) -> bool:
        return self.share.since is not None and entry.date.first < self.share.since


def ids_of(entry: Entry) -> tuple[str, ...]:
    """The ID that an entry has, or those that it is about."""
    if isinstance(entry, Find | Culture | Batch | Device):
        return (entry.id,)
    if isinstance(entry, Note):
        return tuple(dict.fromkeys(ref.id for ref in entry.about))
    return tuple(dict.fromkeys(entry.about)) if isinstance(entry, TentEntry) else ()


def share_named(journal: Journal, name: str, example: str = "B-001") -> Share:
    """The share of that name; raises Refusal if the settings have no usable one.

    example: an ID of the journal, for the lines that would make such a share.
    """
    known = {share.name.casefold(): share for share in journal.settings.shares}
    if name.casefold() in known:
        return known[name.casefold()]
    if fault := next((problem for problem in journal.problems if NOT_TOML in problem.message), None):
        what = fault.message.partition(", so ")[0]
        raise Refusal(f"{fault.path}:{fault.line}: {what}, so no share can be read from it; {fault.fix}")
    broken = f"the share {shortened(name)} cannot be made"
    if any(broken in problem.message for problem in journal.problems):
        raise Refusal(f"{broken}, because its settings have errors; `journal check` says how to fix them")
    names = sorted(share.name for share in journal.settings.shares)
    if near := nearest(name, names):
        raise Refusal(f"there is no share {name}; did you mean {near}?")
    there = f"; the shares are {', '.join(names)}" if names else ""
    add = f"to make it one, add these lines to {SETTINGS_NAME}"
    raise Refusal(f"there is no share {name}{there}; {add}", share_block(name, example))


def share_block(name: str, example: str) -> str:
    """The lines of settings that a share begins with. example: an ID that it is about."""
    key = name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else toml_string(name)
    rows = (
        (f"about = [{toml_string(example)}]", "IDs: each with what it came from and what was grown from it"),
        ('positions = "hidden"', "the most it shows of where a find was: hidden, area or exact"),
        ('times = "day"', "how fine the clock is shown: day or minute"),
        ("by = false", "true shows who wrote, identified or gave something"),
    )
    return "\n".join([f"[shares.{key}]", *(f"{line:<24}# {remark}" for line, remark in rows)])


def grant_of(journal: Journal, share: Share) -> Grant:
    """What a share contains: the IDs it names, the ancestors and the descendants of each, but not the descendants of an
    ancestor; a tent with its devices, only if it is named. All as in the public journal: nothing private, nor what is
    related only through something private. An ancestor or descendant that began before `since` is not shared; a named
    thing that did is there without words, as are a tent's devices. Raises Refusal if the share names nothing, a missing
    ID, or a private one."""
    public = journal.public
    named = _named(journal, share)
    lineage = lineage_of(public)
    rows: tuple[Find | Culture | Batch | Device, ...]
    rows = (*public.finds, *public.cultures, *public.batches, *public.devices)
    early = {row.id for row in rows if share.since and row.date.first < share.since}
    devices = {device.id for device in public.devices if device.tent.lower() in {name.lower() for name in named}}
    stay = {*named, *devices}
    relatives = {id for name in named for id in (*lineage.ancestors_of(name), *lineage.descendants_of(name))}
    ids = stay | (relatives - early)
    return Grant(
        share=share,
        ids=frozenset(ids),
        wordless=frozenset(stay & early),
        without_text=frozenset() if share.texts == "all" else frozenset(_of_the_wild(journal)),
        _folded=frozenset(id.lower() for id in ids),
    )


def _of_the_wild(journal: Journal) -> Iterator[str]:
    """Paths of finds, and of notes that are about a find, even if that is private or the note is also about other
    things."""
    finds = {find.id for find in journal.finds}
    yield from (find.path for find in journal.finds)
    yield from (note.path for note in journal.notes if any(ref.id in finds for ref in note.about))


def _named(journal: Journal, share: Share) -> tuple[str, ...]:
    if not share.about:
        raise Refusal(f"the share {share.name} has no IDs; list under `about` the IDs to share")
    ids = []
    for name in share.about:
        row = journal.public.by_id.get(name.lower())
        if row is not None:
            ids.append(row.id)
            continue
        private = journal.by_id.get(name.lower())
        if isinstance(private, Find | Culture | Batch | Device) and private.private:
            raise Refusal(
                f"the share {share.name} names {private.id}, which is private and so in no share; "
                f"take it out of the share, or `private` out of {private.path}"
            )
        near = nearest(name, (known.id for known in journal.by_id.values()))
        hint = f"; did you mean {near}?" if near else ""
        raise Refusal(f"the share {share.name} names {name}, which is not in this journal{hint}")
    return tuple(dict.fromkeys(ids))


def sums_left_out(journal: Journal, grant: Grant) -> frozenset[str]:
    """IDs of shared batches with a total that is left out because the share begins later, or because a note is about
    several IDs of which not all are shared; not because a note is private, which is not revealed either."""
    as_written = {note.path: note for note in journal.notes}
    return frozenset(
        id
        for id, note in _counting(journal.public, grant)
        if grant.why_left_out(note) == "before since" or not is_whole(as_written.get(note.path, note), grant)
    )


def known_until(journal: Journal, grant: Grant) -> dict[str, date | None]:
    """For each batch a day until which a share has every harvest of it, from where the share begins: the last of the
    public journal; None if one of the notes is shared without its harvest."""
    as_written = {note.path: note for note in journal.notes}
    kept_back = {
        id
        for id, note in _counting(journal.public, grant)
        if note.harvest_g and not (grant.why_left_out(note) or is_whole(as_written.get(note.path, note), grant))
    }
    until = last_day(journal.public)
    return {row.id: None if row.id in kept_back else until for row in journal.public.batches}


def is_whole(note: Note, grant: Grant) -> bool:
    """Whether all is shared that a note of the whole journal is about; else nobody could say what of its sums is
    whose. In the public journal it no longer names what is private."""
    return all(grant.has(ref.id) for ref in note.about)


def _counting(journal: Journal, grant: Grant) -> Iterator[tuple[str, Note]]:
    """The IDs of shared batches, each with every note that counts in what it gave."""
    for id, run in progress_of(journal).items():
        if isinstance(run.of, Batch) and grant.has(id):
            yield from ((id, note) for note in (*run.harvests, *run.losses))


SHOWN = frozenset({"title", "text", "next", "done", "photos"})
"""What an entry says and shows beside its facts; a wordless one has nothing of it, one without text only its photos."""


def withheld_fields(entry: Entry, grant: Grant) -> frozenset[str]:
    """The fields of a shared entry that stay out as those of a wordless one or one without text. Of one without text
    `photos` is among them, since the captions stay out."""
    gone = SHOWN if grant.is_wordless(entry) or grant.is_without_text(entry) else frozenset()
    if not grant.is_without_text(entry):
        return gone
    return gone | {name for name, way in FIELDS[type(entry)].items() if way == "surroundings"}


_ORIGIN: Mapping[str, ShareRule] = {"unknown_sources": "made", "unshared_sources": "made"}


def _fields_of(kind: str, more: Mapping[str, ShareRule] = MappingProxyType({})) -> Mapping[str, ShareRule]:
    """The fields of an entry: those of its keys, as each key declares, and those that no key fills."""
    of_keys = {key.field: key.share for key in KEYS[kind].values() if key.field}
    return {**of_keys, "path": "made", "text": "made", "lines": "made", **more}


FIELDS: Mapping[type, Mapping[str, ShareRule]] = MappingProxyType({
    model.Find: _fields_of("find"),
    model.Culture: _fields_of("culture", _ORIGIN),
    model.Batch: _fields_of("batch", {
        **_ORIGIN, "species": "words", "dry_from": "kept", "totals_are_partial": "made", "shared_from": "made",
        "known_until": "made",
    }),
    model.Note: _fields_of("note"),
    model.TentEntry: _fields_of("tent"),
    model.Device: _fields_of("device"),
    Tent: {
        "id": "kept", "name": "words", "width_m": "number", "depth_m": "number", "height_m": "number",
        "shelf_area_m2": "number", "floor": "words", "exhaust_m3_h": "number", "exhaust_flow_is": "kept",
        "humidity_pct": "number", "temperature_c": "number", "every": "made", "unshared": "made",
    },
    model.Photo: {
        "path": "made", "digest": "made", "taken": "made", "by_day": "made", "lat_deg": "gone", "lon_deg": "gone",
        "uncertainty_m": "gone", "track": "gone", "width": "number", "height": "number", "entries": "made",
        "camera": "gone",
    },
    model.LoggerFile: {
        "path": "made", "tent": "made", "stamps_s": "made", "temperature_c": "made", "humidity_pct": "made",
        "humidity_accuracy_pct": "number", "digest": "gone", "by_day": "made",
    },
    model.WeatherDay: dict.fromkeys(("day", "rain_mm", "mean_c"), "gone"),
    model.WeatherFile: dict.fromkeys(("path", "days"), "gone"),
    model.CoreLog: dict.fromkeys(("entry", "log"), "gone"),
    Settings: {
        "title": "made", "author": "made", "time_zone": "made", "units": "kept", "currency": "gone", "site_url": "gone",
        "poison_centre": "kept", "as_of": "kept", "ingredients": "made", "names": "made", "english_names": "made",
        "tents": "made", "climate": "gone", "shares": "gone", "camera_clocks": "gone", "maps": "gone", "labels": "gone",
        "locked": "gone", "elevation_m": "gone", "permits": "gone", "weather": "gone", "format": "kept",
    },
    model.Journal: {
        "settings": "made", "finds": "made", "cultures": "made", "batches": "made", "notes": "made",
        "tent_entries": "made", "devices": "made", "photos": "made", "logs": "made", "problems": "gone",
        "core_logs": "gone", "weather": "gone",
        "newest": "made", "surest": "made", "figures": "gone", "_link_public": "gone",
    },
    model.When: {"written": "made", "first": "kept", "exact": "made", "moment": "made"},
    model.Position: {
        "lat_deg": "made", "lon_deg": "made", "uncertainty_m": "made", "source": "kept", "written": "gone",
        "grid_deg": "made",
    },
    model.Ref: {"id": "kept", "part": "number"},
    ValueRange: {"low": "number", "high": "number"},
    model.MixPart: {"name": "words", "mass_g": "number"},
    LightHours: {"on_h": "number", "lit_from": "kept", "lit_to": "kept"},
    Exhaust: {"mode": "kept", "on_min": "number", "every_min": "number"},
    model.Colony: {"part": "number", "across_mm": "number"},
    model.Next: {"text": "words", "date": "kept"},
    model.PhotoUse: {"path": "made", "caption": "words", "in_text": "kept"},
    Share: dict.fromkeys(("name", "about", "since", "positions", "area_deg", "times", "by", "texts", "locked"), "gone"),
    Permit: dict.fromkeys(("name", "a_day_g", "in_all_g", "first", "last"), "gone"),
    LabelSettings: dict.fromkeys(("size", "sheet", "has_check", "sizes", "reserved"), "gone"),
    LabelSize: dict.fromkeys(("name", "width_mm", "height_mm", "margin_mm", "gap_mm"), "gone"),
    WeatherSource: dict.fromkeys(
        (
            "files", "date", "rain", "temperature", "temperature_max", "temperature_min", "date_format", "base_c",
        ),
        "gone",
    ),
    OwnMap: dict.fromkeys(("file", "points"), "gone"),
    CameraClock: dict.fromkeys(("camera", "add_min", "first", "last"), "gone"),
    ClimateSource: dict.fromkeys(
        (
            "files", "tent", "time", "temperature", "humidity", "time_zone", "time_format", "temperature_unit",
            "humidity_accuracy_pct",
        ),
        "gone",
    ),
})  # fmt: skip
"""Every field of every kind of row in the model, with the way it passes. A test holds it against the model."""


LeftOut = Literal[
    "hidden", "made coarse", "private passage", "never shared", "persons are not shared", "not all shared",
    "told as a part", "private sums", "words of finds",
]  # fmt: skip
"""Why something of what is shared is kept back."""


@dataclass(frozen=True, slots=True)
class LeftOutOfShare:
    """Something that a share keeps back. what: "entry", "photo", "position" and so on. which: its ID, title or path."""

    what: str
    which: str
    reason: Reason | LeftOut


def is_visit(journal: Journal, note: Note) -> bool:
    """Whether a note is about a find, so that what was picked counts under a permit. journal: the whole one."""
    return any(isinstance(journal.by_id.get(ref.id.lower()), Find) for ref in note.about)


def _never_shared(entry: Entry, logged: Collection[str]) -> Iterator[str]:
    """The keys of an entry with a value that no share has. logged: paths of the entries with a core log."""
    for key in KEYS[entry.kind].values():
        if key.share == "gone" and key.field and key.name != "private" and getattr(entry, key.field) not in (None, ()):
            yield key.name
    if entry.path in logged:
        yield "core log"


def left_out_of(journal: Journal, grant: Grant) -> Iterator[LeftOutOfShare]:
    """What a share leaves out of a journal, by kind and reason."""
    share = grant.share
    public = {entry.path: entry for entry in journal.public.entries()}
    logged = {core.entry for core in journal.core_logs}
    for entry in journal.entries():
        reason = grant.why_left_out(public[entry.path]) if entry.path in public else "private"
        if reason is not None:
            yield LeftOutOfShare("entry", entry.title, reason)
            continue
        if any(is_private_passage for _, is_private_passage in split_private(entry.text)):
            yield LeftOutOfShare("text", entry.title, "private passage")
        if grant.is_wordless(entry):
            yield LeftOutOfShare("words and photos", entry.title, "before since")
        elif grant.is_without_text(entry):
            yield LeftOutOfShare("words", entry.title, "words of finds")
        which = getattr(entry, "id", entry.title)
        yield from (LeftOutOfShare(what, which, "never shared") for what in _never_shared(entry, logged))
        if isinstance(entry, Find):
            shown = coarsen.shown(entry.position, entry.locality, share)
            if entry.position is not None and (shown is None or shown.grid_deg is not None):
                yield LeftOutOfShare("position", entry.id, "made coarse" if shown else "hidden")
        sums = (entry.harvest_g, entry.dried_g, entry.dried_from_g, entry.lost) if isinstance(entry, Note) else ()
        if isinstance(entry, Note) and any(sum is not None for sum in sums) and not is_whole(entry, grant):
            yield LeftOutOfShare("sum", entry.title, "not all shared")
        elif isinstance(entry, Note) and entry.harvest_g is not None and is_visit(journal, entry):
            yield LeftOutOfShare("mass picked at a visit", entry.title, "never shared")
    paths, used = (
        {use.path for entry in of.entries() if grant.why_left_out(entry) is None for use in entry.photos}
        for of in (journal.public, journal)
    )
    for photo in journal.photos:
        if photo.path not in paths:  # those that a shared entry shows, but only in what is private, are private
            yield LeftOutOfShare("photo", photo.path, "private" if photo.path in used else "not shared")
    yield from (LeftOutOfShare("BE", id, "told as a part") for id in sorted(sums_left_out(journal, grant)))
    private = {id for id, note in _counting(journal, grant) if note.private}
    yield from (LeftOutOfShare("sums of", id, "private sums") for id in sorted(private))
    for tent in journal.settings.tents:
        if not grant.has(tent.id):
            yield LeftOutOfShare("tent", tent.name, "not shared")
    if not share.by:
        yield LeftOutOfShare("persons", "by, identified by, received from", "persons are not shared")
