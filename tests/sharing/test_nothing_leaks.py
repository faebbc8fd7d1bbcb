"""Whatever is granted, nothing else comes out: every byte of what is made is searched for what was planted.

Which words may be told is worked out in `planted`, apart from the program; the notations of positions are made there
from the standards' forms, by pyproj and mgrs.
"""

from __future__ import annotations

import base64
from collections.abc import Iterator, Mapping
from dataclasses import fields, replace
from functools import lru_cache
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given
from hypothesis import strategies as st

from journal.model import Device, Journal, Position
from journal.problems import Refusal
from journal.settings import Share
from journal.sharing.detectors import Search, detectors_of
from journal.sharing.redact import redaction_of
from tests.builders import examples, some
from tests.sharing.made import files_of, published_of, write
from tests.sharing.planted import NAMES, SINCE, ids_of_names, notations, planted, sight_of, with_its_public_one

PRIVATE = ("hushed",)
OPEN = tuple(name for name in NAMES if name not in PRIVATE)

shares = st.builds(
    Share,
    name=st.just("mentor"),
    about=st.sets(st.sampled_from(OPEN), min_size=1, max_size=3).map(
        lambda names: tuple(ids_of_names()[name] for name in sorted(names))
    ),
    since=st.sampled_from([None, SINCE]),
    positions=st.sampled_from(["hidden", "area", "exact"]),
    area_deg=st.sampled_from([1.0, 0.1, 0.01, 0.001]),
    times=st.sampled_from(["day", "minute"]),
    by=st.booleans(),
    texts=st.sampled_from(["grown", "all"]),
)
few = examples(6, phases=[Phase.generate], suppress_health_check=list(HealthCheck))
"""A failing grant is short enough to be read as it is."""


def blob_of(files: Mapping[str, bytes]) -> str:
    """Everything, names of files too, in small letters."""
    return "\n".join([*files, *(content.decode("utf-8") for content in files.values())]).lower()


PIECE = 6


@lru_cache(maxsize=1)
def pieces_of(blob: str) -> frozenset[str]:
    """Every run of so many letters: a word whose first is not among them is not there."""
    return frozenset(blob[at : at + PIECE] for at in range(len(blob)))


def told(blob: str, words: Mapping[str, tuple[str, str]]) -> set[str]:
    """Which of the planted words are told, also in base64, in hexadecimal or percent-encoded."""
    found, pieces = set(), pieces_of(blob)
    for word in words:
        forms = [word.lower(), word.encode().hex(), "".join(f"%{byte:02x}" for byte in word.encode())]
        forms += [_middle(base64.b64encode(b"x" * shift + word.encode()).decode()) for shift in range(3)]
        assert min(map(len, forms)) >= PIECE
        if any(form[:PIECE] in pieces and form in blob for form in map(str.lower, forms)):
            found.add(word)
    return found


def _middle(coded: str) -> str:
    """Those letters of base64 that depend on nothing around what was coded."""
    return coded[4:-4]


def words_wrongly_told(share: Share, blob: str) -> dict[str, tuple[str, str]]:
    whole = planted()
    sight = sight_of(whole.journal, share)
    forbidden = {word: at for word, at in whole.words.items() if not sight.may_tell(*at)}
    return {word: forbidden[word] for word in told(blob, forbidden)}


def words_missing(share: Share, blob: str) -> set[tuple[str, str]]:
    """What is granted and not there: no promise is kept by showing nothing."""
    whole = planted()
    sight = sight_of(whole.journal, share)
    shown = {
        word: at
        for word, at in whole.words.items()
        if at[1] in ("id", "text", "substrate", "cause", "why") and sight.may_tell(*at)
    }
    return set(shown.values()) - {shown[word] for word in told(blob, shown)}


def hidden_positions(journal: Journal, share: Share) -> Iterator[tuple[float, float]]:
    """Positions that may not be told exactly: all but that of the find that allows it."""
    sight = sight_of(journal, share)
    for find in journal.finds:
        assert find.position is not None
        allowed = share.positions == "exact" and find.locality == "exact" and find.path in sight.entries - sight.quiet
        if not allowed:
            yield find.position.lat_deg, find.position.lon_deg
    for photo in journal.photos:
        place = photo.track or Position(photo.lat_deg or 0, photo.lon_deg or 0, None, "photo")
        yield place.lat_deg, place.lon_deg


def positions_wrongly_told(share: Share, blob: str) -> set[str]:
    found = set()
    for lat, lon in hidden_positions(planted().journal, share):
        dms, minutes, utm, grid, iso, geo = notations(lat, lon).lower().split("; ")[3:]
        cut = (f"{abs(number):.7f}"[:-3] for number in (lat, lon))
        found |= {
            text
            for text in (*cut, *dms.split(), *minutes.split(", "), utm.partition(" ")[2], grid, iso, geo)
            if text in blob
        }
    return found


def clocks_told(blob: str) -> set[str]:
    whole = planted().journal
    moments = [entry.date.moment for entry in whole.entries()] + [photo.taken for photo in whole.photos]
    clocks = {moment.strftime("%H:%M") for moment in moments if moment is not None}
    return {clock for clock in clocks if clock in blob}


def photos_told(blob: str) -> set[str]:
    return {made.name for made in published_of(planted().journal).values() if made.name in blob}


def photos_granted(share: Share) -> set[str]:
    whole = planted().journal
    sight = sight_of(whole, share)
    shown = (e for e in whole.entries() if e.path in sight.entries - sight.quiet)
    return {published_of(whole)[use.path].name for entry in shown for use in entry.photos}


@few
@given(share=shares)
def test_nothing_is_told_that_the_share_does_not_grant(share: Share, tmp_path_factory: Any) -> None:
    whole = planted().journal
    redaction = redaction_of(whole, share)
    files = files_of(redaction, published_of(whole))
    blob = blob_of(files)
    assert {} == words_wrongly_told(share, blob)
    assert set() == words_missing(share, blob)
    assert set() == positions_wrongly_told(share, blob)
    assert share.times == "minute" or set() == clocks_told(blob)
    assert photos_granted(share) == photos_told(blob)
    others = [made.name for path, made in published_of(whole).items() if path not in redaction.photos]
    assert () == Search(detectors_of(whole, share, strings=others)).leaks_in(
        write(files, tmp_path_factory.mktemp("share"))
    )


@few
@given(share=shares)
def test_positions_are_revealed_no_finer_than_the_grid(share: Share) -> None:
    """The share holds all that is no secret, so that there is a find to look at in every example."""
    share = replace(share, positions="area", about=tuple(ids_of_names()[name] for name in OPEN), since=None)
    finds = redaction_of(planted().journal, share).journal.finds
    for position in some(find.position for find in finds if find.position is not None):
        steps = [position.lat_deg / share.area_deg, position.lon_deg / share.area_deg]
        assert [round(step) for step in steps] == pytest.approx(steps, abs=1e-6)
        assert share.area_deg == position.grid_deg


# Granting less -----------------------------------------------------------------------------------------------------

_FINENESS = {"hidden": 0, "area": 1, "exact": 2}


@st.composite
def more_and_less(draw: st.DrawFn) -> tuple[Share, Share]:
    """A share, and one that grants less in some ways and more in none."""
    more = draw(shares)
    about = draw(st.sets(st.sampled_from(more.about), min_size=1))
    positions = draw(st.sampled_from([p for p, fine in _FINENESS.items() if fine <= _FINENESS[more.positions]]))
    return more, Share(
        name=more.name,
        about=tuple(one for one in more.about if one in about),
        since=SINCE if more.since else draw(st.sampled_from([None, SINCE])),
        positions=positions,
        area_deg=draw(st.sampled_from([area for area in (1.0, 0.1, 0.01, 0.001) if area >= more.area_deg])),
        times="day" if more.times == "day" else draw(st.sampled_from(["day", "minute"])),
        by=more.by and draw(st.booleans()),
        texts="grown" if more.texts == "grown" else draw(st.sampled_from(["grown", "all"])),
    )


_TOLD_COARSER = frozenset(
    {
        "path", "lines", "date", "by", "title", "text", "photos", "position", "locality", "tent", "sources", "cultures",
        "unknown_sources", "unshared_sources", "totals_are_partial",
    }
)  # fmt: skip
"""Fields in which a share that grants less has fewer words, or tells that there is something that it does not tell."""


def numbers_in(journal: Journal) -> set[tuple[object, ...]]:
    """Every number that a note or a tent's entry tells, with its day."""
    return {
        (entry.date.first, one.name, value)
        for entry in (*journal.notes, *journal.tent_entries)
        for one in fields(entry)
        if isinstance(value := getattr(entry, one.name), int | float) and not isinstance(value, bool)
    }


@few
@given(pair=more_and_less())
def test_granting_less_never_shows_more(pair: tuple[Share, Share]) -> None:
    more, less = (redaction_of(planted().journal, share).journal for share in pair)
    assert planted_in(less) <= planted_in(more)
    assert {photo.path for photo in less.photos} <= {photo.path for photo in more.photos}
    assert {row.id for row in less.by_id.values()} - {row.id for row in more.by_id.values()} <= {
        "not-shared-1", "not-shared-2",
    }  # fmt: skip
    assert numbers_in(less) <= numbers_in(more)
    rows = more.by_id
    for id, row in less.by_id.items():
        told = {one.name: getattr(row, one.name) for one in fields(row) if one.name not in _TOLD_COARSER}
        known = {name: getattr(rows.get(id, row), name) for name in told}
        assert {name: value for name, value in told.items() if value not in (known[name], None, "", ())} == {}, id
    finer = {find.id: find.position for find in more.finds}
    for find in less.finds:
        kept = finer[find.id]
        if find.position is not None:
            assert kept is not None
            assert (find.position.grid_deg or 0) >= (kept.grid_deg or 0)
    days = {(log.stamps_s[at] // 86400, log.humidity_pct[at]) for log in more.logs for at in range(len(log.stamps_s))}
    for log in less.logs:
        assert {(stamp // 86400, pct) for stamp, pct in zip(log.stamps_s, log.humidity_pct, strict=True)} <= days


def with_more_private(journal: Journal, paths: set[str]) -> Journal:
    """The journal as it is where the author made these entries private too."""

    def told(rows: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(replace(row, private=row.private or row.path in paths) for row in rows)

    kinds = ("finds", "cultures", "batches", "notes", "tent_entries")
    return with_its_public_one(replace(journal, **{kind: told(getattr(journal, kind)) for kind in kinds}))


@examples(3, phases=[Phase.generate])
@given(share=shares, numbers=st.sets(st.integers(0, 60), min_size=1, max_size=5))
def test_making_more_private_never_shows_more(share: Share, numbers: set[int]) -> None:
    whole = planted().journal
    entries = [entry for entry in whole.entries() if not isinstance(entry, Device)]
    paths = {entries[number % len(entries)].path for number in numbers}
    before = redaction_of(whole, share).journal
    hushed = with_more_private(whole, paths)
    private = {row.id for row in (*hushed.finds, *hushed.cultures, *hushed.batches) if row.private}
    if private & set(share.about):
        with pytest.raises(Refusal, match="is private and so in no share"):
            redaction_of(hushed, share)
        return
    after = redaction_of(hushed, share).journal
    assert planted_in(after) <= planted_in(before)
    assert {photo.path for photo in after.photos} <= {photo.path for photo in before.photos}
    assert after.by_id.keys() <= before.by_id.keys() | {"not-shared-1", "not-shared-2"}


def planted_in(journal: Journal) -> set[str]:
    text = repr(journal)
    return {word for word in planted().words if word in text}


def test_the_share_of_everything_may_be_built_as_any_site() -> None:
    share = Share(
        name="all", about=tuple(ids_of_names()[name] for name in OPEN), positions="exact", by=True, texts="all"
    )
    files = files_of(redaction_of(planted().journal, share), published_of(planted().journal))
    assert {"index.html", "finds/index.html", "diary/index.html"} <= set(files)
