"""What a share would publish, piece by piece, for its author to look at; and what they have looked at."""

from __future__ import annotations

import hmac
import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date
from functools import cached_property
from typing import Any, Literal

from journal.model import Batch, Culture, Device, Entry, Find, Journal, MixPart, Next, Note, PhotoUse
from journal.quantities import counted
from journal.reading.keys import KEYS
from journal.settings import Settings, Share
from journal.sharing.clean_text import NOT_SHARED, doubts_in
from journal.sharing.flags import Flag, flags_in
from journal.sharing.grant import FIELDS
from journal.sharing.redact import AUTHOR, TITLE, Redaction

SETTINGS = "journal.toml"


At = tuple[str, str, int]
"""A place in a redacted journal: path, field of the model, index."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Something to look at before it goes out: a text, a photo, or what the share allows.

    path: of its file in the journal. field: the key that it is written under, "text" for the text below the keys. text:
    as it would be shared; for a photo, what is said beside it. digest: keyed, of all of this, which it does not
    reveal. at: every place in the redacted journal where it occurs.
    """

    kind: Literal["text", "photo", "share"]
    path: str
    field: str
    text: str
    digest: str
    flags: tuple[Flag, ...] = ()
    at: tuple[At, ...] = ()


@dataclass(frozen=True, slots=True)
class ReviewRecord:
    """What is remembered of earlier reviews. looked_at: digests of pieces, with the day. left_out: digests of texts
    that the author leaves out. shown: digests of everything that the last preview showed; None if there was none."""

    looked_at: Mapping[str, date] = field(default_factory=dict)
    left_out: frozenset[str] = frozenset()
    shown: frozenset[str] | None = None


@dataclass(frozen=True)
class Review:
    """All pieces of a share, and what is remembered of earlier reviews."""

    pieces: tuple[Piece, ...]
    record: ReviewRecord = field(default_factory=ReviewRecord)

    @cached_property
    def new(self) -> tuple[Piece, ...]:
        """What the author has not looked at in its present form."""
        known = self.record.looked_at.keys() | self.record.left_out
        return tuple(piece for piece in self.pieces if piece.digest not in known)

    @cached_property
    def going_out(self) -> tuple[Piece, ...]:
        """What the author has not left out."""
        return tuple(piece for piece in self.pieces if piece.digest not in self.record.left_out)

    @cached_property
    def left_out(self) -> tuple[Piece, ...]:
        return tuple(piece for piece in self.pieces if piece.digest in self.record.left_out)

    def after(self, looked_at: Iterable[Piece], left_out: Iterable[Piece], day: date) -> ReviewRecord:
        """The record after the author looked at these pieces and left out those; without pieces that no longer go
        out."""
        kept_out = self.record.left_out | {piece.digest for piece in left_out}
        seen = {**self.record.looked_at, **{piece.digest: day for piece in looked_at}}
        now = {piece.digest for piece in self.pieces}
        days = {digest: on for digest, on in seen.items() if digest in now - kept_out}
        return ReviewRecord(days, kept_out & now, self.record.shown)

    def shown(self) -> ReviewRecord:
        """The record after a preview has shown all pieces."""
        return replace(self.record, shown=frozenset(piece.digest for piece in self.pieces))


def counts_in_words(pieces: Iterable[Piece]) -> str:
    """`3 texts with 5 flags and 2 photos`."""
    rows = tuple(pieces)
    texts, photos = ([row for row in rows if row.kind == kind] for kind in ("text", "photo"))
    flags = sum(len(row.flags) for row in texts)
    flagged = f" with {counted(flags, 'flag')}" if flags else ""
    parts = [f"{counted(len(texts), 'text')}{flagged}"] if texts else []
    parts += [counted(len(photos), "photo")] if photos else []
    return " and ".join(parts)


def new_in_words(pieces: Sequence[Piece]) -> str:
    """`3 texts with 5 flags and 2 photos are new.` and what the share allows, if that is new."""
    counts = counts_in_words(pieces)
    of_things = [piece for piece in pieces if piece.kind != "share"]
    sentences = [f"{counts} {'is' if len(of_things) == 1 else 'are'} new."] if counts else []
    sentences += [f"What the share allows is new: {one.text}." for one in pieces if one.kind == "share"]
    return " ".join(sentences)


def pieces_of(journal: Journal, redaction: Redaction, key: bytes) -> tuple[Piece, ...]:
    """Every piece of a share, in order of the journal's files. journal: the whole one. key: of this share alone."""
    share = redaction.grant.share
    known = _known_words(redaction, share)
    names = {shared: path.rpartition("/")[2] for path, shared in redaction.photos.items()}

    def piece(kind: Literal["text", "photo", "share"], path: str, field: str, text: str, more: str = "") -> Piece:
        where = "" if field == "species" else path  # one look is enough, whatever it is shown for first
        words = "\0".join((kind, where, field, text, more)).encode("utf-8", "surrogatepass")
        return Piece(kind, path, field, text, hmac.digest(key, words, "sha256").hex()[:32])

    def worded(path: str, field: str, text: str, at: At) -> Piece:
        text = _SHOWN_PICTURE.sub(lambda found: f"]({names.get(found[1], found[1])})", text)  # as the author calls it
        flags = () if field == "journal.poison_centre" else _flags_of(text, share, known)
        if field == "where" and "square" not in text:
            flags = (Flag(0, len(text), "position", text),)
        return replace(piece("text", path, field, text), flags=flags, at=(at,))

    rows = [
        worded(redaction.paths[entry.path], _label(entry, name, index, names), text, (entry.path, name, index))
        for entry in redaction.journal.entries()
        for name, index, text in _texts_of(entry, redaction)
    ]
    rows = [
        *_each_species_once(rows),
        *(worded(SETTINGS, *row) for row in _of_settings(redaction.journal.settings, share)),
    ]
    digests = {photo.path: photo.digest for photo in journal.photos}
    rows += [piece("photo", path, "photo", "", digests[path]) for path in redaction.photos]
    allowed = piece("share", SETTINGS, f"shares.{share.name}", _allowed(share))
    return (allowed, *sorted(rows, key=lambda row: (row.path == SETTINGS, row.path.rpartition("/")[0], row.path)))


_SHOWN_PICTURE = re.compile(r"\]\((picture-[0-9a-f]{20}\.jpg)\)")
_PICTURE = re.compile(r"\]\([^()\n]*\)")


def _known_words(redaction: Redaction, share: Share) -> frozenset[str]:
    journal = redaction.journal
    species = [e.species for e in journal.entries() if isinstance(e, Find | Culture | Batch | Note) and e.species]
    words = {*redaction.grant.ids, *species, *(word for name in species for word in name.split())}
    words |= {tent.name for tent in journal.settings.tents} | {name for name, _ in journal.settings.ingredients}
    if share.by:
        words |= {journal.settings.author, *(entry.by for entry in journal.entries())}
    return frozenset(words)


def _flags_of(text: str, share: Share, known: Collection[str]) -> tuple[Flag, ...]:
    """The flags of a text; adjacent ones are merged into one of the first one's kind."""
    found = [(flag.start, flag.end, flag.kind) for flag in flags_in(text, known)]
    targets = [found.span() for found in _PICTURE.finditer(text) if "://" not in found.group()]
    made: list[Flag] = []
    for start, end, kind in sorted([*doubts_in(text, share), *found], key=lambda one: (one[0], -one[1])):
        is_target = any(low <= start and end <= high for low, high in targets)  # of a picture that is shown
        if is_target or text[start:end].strip(" .,;:()") in NOT_SHARED:
            continue
        if made and start < made[-1].end:
            first = made.pop()
            start, end, kind = first.start, max(first.end, end), first.kind
        made.append(Flag(start, end, kind, text[start:end]))
    return tuple(made)


_MADE = frozenset({"title", "text", "next", "done", "photos", "mix", "powered_by", "controlled_by"})
"""Fields whose text the redaction replaces, besides those of persons."""


def _texts_of(entry: Entry, redaction: Redaction) -> Iterator[tuple[str, int, str]]:
    """Every text of a redacted entry: its field of the model, its index, and the text."""
    share = redaction.grant.share
    persons = {"by", "identified_by"} if share.by else set()
    for one in fields(entry):
        way = FIELDS[type(entry)][one.name]
        if way not in ("words", "surroundings", "person") and one.name not in _MADE | persons:
            continue
        value = getattr(entry, one.name)
        if one.name == "title" and "title" not in entry.lines:
            continue  # made by the program from fields that are pieces themselves
        if one.name in ("powered_by", "controlled_by") and all(map(redaction.grant.has, (value or "").split(", "))):
            continue
        for index, item in enumerate(value if isinstance(value, tuple) else (value,)):
            text = _words_of(item)
            if text and text.strip() and not (one.name == "photos" and text in entry.text):
                yield one.name, index, text
    if isinstance(entry, Find) and entry.position is not None:
        place = entry.position
        square = f", as a square of {place.grid_deg:g}°" if place.grid_deg else ""
        yield "position", 0, f"{place.lat_deg:.6g}, {place.lon_deg:.6g}{square}"


def _words_of(item: Any) -> str | None:
    if isinstance(item, PhotoUse):
        return item.caption
    if isinstance(item, Next):
        return item.text
    words: str | None = item.name if isinstance(item, MixPart) else item
    return words


def _label(entry: Entry, name: str, index: int, names: Mapping[str, str]) -> str:
    """The key that a field is written under; of a caption, with its photo's name."""
    if name == "photos":
        return f"caption of {names.get(entry.photos[index].path, 'a photo')}"
    keys = KEYS[entry.kind].values()
    return next((key.name for key in keys if key.field == name), name)


def _each_species_once(rows: Iterable[Piece]) -> Iterator[Piece]:
    """Cultures and batches take their species from what they came from: one look at each is enough."""
    species: dict[str, Piece] = {}
    others = []
    for row in rows:
        if row.field == "species":
            first = species.setdefault(row.text, replace(row, at=()))
            species[row.text] = replace(first, at=first.at + row.at)
        else:
            others.append(row)
    yield from (*species.values(), *others)


def _of_settings(settings: Settings, share: Share) -> Iterator[tuple[str, str, At]]:
    """(name of the setting, its text, its place)."""
    plain = {"title": settings.title if settings.title != TITLE else None, "poison_centre": settings.poison_centre}
    if share.by:
        plain["author"] = settings.author
    yield from ((f"journal.{name}", text, (SETTINGS, name, 0)) for name, text in plain.items() if text)
    for number, (name, _) in enumerate(settings.ingredients):
        yield "ingredients", name, (SETTINGS, "ingredients", number)
    for number, row in enumerate(settings.names):
        yield "names", row[0], (SETTINGS, "names", number)
    for tent in settings.tents:
        if tent.unshared:
            continue
        at = f"tents.{tent.id}"
        if tent.name != tent.id:
            yield f"{at}.name", tent.name, (at, "name", 0)
        if tent.floor:
            yield f"{at}.floor", tent.floor, (at, "floor", 0)
        yield from ((f"{at}.every", name, (at, "every", number)) for number, (name, _) in enumerate(tent.every))


def _allowed(share: Share) -> str:
    since = f", since {share.since}" if share.since else ""
    positions = {
        "hidden": "hidden",
        "area": f"area ({share.area_deg:g}°)",
        "exact": f"exact where a find’s locality is exact (a square of {share.area_deg:g}° where it is area)",
    }[share.positions]
    return (
        f"{', '.join(share.about)}{since}; positions {positions}, times {share.times}, "
        f"persons {'shown' if share.by else 'not shown'}, texts {share.texts}"
    )


# -- left out --------------------------------------------------------------------------------------------------------


def without(journal: Journal, pieces: Iterable[Piece]) -> Journal:
    """A share's journal without these texts."""
    drops: dict[str, set[tuple[str, int]]] = defaultdict(set)
    for path, name, index in (at for piece in pieces for at in piece.at):
        drops[path].add((name, index))
    if not drops:
        return journal
    kinds = ("finds", "cultures", "batches", "notes", "tent_entries", "devices")
    rows: dict[str, Any] = {
        kind: tuple(_entry_without(entry, drops.get(entry.path, set())) for entry in getattr(journal, kind))
        for kind in kinds
    }
    return replace(journal, **rows, settings=_settings_without(journal.settings, drops))


def _entry_without(entry: Entry, drops: Collection[tuple[str, int]]) -> Entry:
    values: dict[str, Any] = {}
    for name in {name for name, _ in drops}:
        value, gone = getattr(entry, name), {index for one, index in drops if one == name}
        if name == "photos":
            uses = values.get("photos", value)
            values[name] = tuple(replace(use, caption=None) if at in gone else use for at, use in enumerate(uses))
        elif name == "mix":
            values[name] = tuple(
                replace(part, name=NOT_SHARED) if at in gone else part for at, part in enumerate(value)
            )
        elif isinstance(value, tuple):
            values[name] = tuple(item for at, item in enumerate(value) if at not in gone)
        elif name == "text":
            uses = (replace(use, in_text=False) for use in values.get("photos", entry.photos))
            bare = tuple(replace(use, caption=None) if use.caption and use.caption in value else use for use in uses)
            values |= {"text": "", "photos": bare}
        elif name == "title":
            id = f" {entry.id}" if isinstance(entry, Find | Culture | Batch | Device) else ""
            values |= {"title": f"{entry.kind.capitalize()}{id}", "lines": {}}
        elif name == "position":
            values |= {"position": None, "locality": "hidden", "elevation_m": None}
        else:
            values[name] = AUTHOR if name == "by" else None
    made: Entry = replace(entry, **values)
    return made


def _settings_without(settings: Settings, drops: Mapping[str, Collection[tuple[str, int]]]) -> Settings:
    usual = {"title": TITLE, "author": AUTHOR, "poison_centre": None}
    values: dict[str, Any] = {name: usual[name] for name, _ in drops.get(SETTINGS, ()) if name in usual}
    kept = [row for at, row in enumerate(settings.ingredients) if ("ingredients", at) not in drops.get(SETTINGS, ())]
    names = tuple(row for at, row in enumerate(settings.names) if ("names", at) not in drops.get(SETTINGS, ()))
    tents = []
    for tent in settings.tents:
        gone = drops.get(f"tents.{tent.id}", ())
        name = tent.id if ("name", 0) in gone else tent.name
        every = tuple(row for at, row in enumerate(tent.every) if ("every", at) not in gone)
        tents.append(replace(tent, name=name, floor=None if ("floor", 0) in gone else tent.floor, every=every))
    return replace(settings, **values, ingredients=tuple(kept), names=names, tents=tuple(tents))
