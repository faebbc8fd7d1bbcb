"""Implausible entries in a journal: dates, masses and settings outside the limits of `data/limits.toml`.

Nothing is left out because of this: each is a warning, and a total that includes a doubtful harvest says so.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import takewhile

from journal.amounts import Units, exact_mass, mass, number
from journal.analysis.kept import each_kept, kept
from journal.analysis.limits import limit
from journal.analysis.progress import GROWING, Progress, calendar_day, last_day_meant, notes_by_id
from journal.model import Batch, Culture, Device, Entry, Find, Journal, Note, Ref, When
from journal.quantities import counted


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something implausible in an entry. key: where it is; message, fix: as in `Problem`. harvests: those that are
    doubtful because of it. is_future: whether the entry's day is later than any file."""

    entry: Entry
    key: str
    message: str
    fix: str
    harvests: tuple[Note, ...] = ()
    is_future: bool = False


def doubts_of(journal: Journal, progress: Mapping[str, Progress]) -> tuple[Doubt, ...]:
    """Everything implausible in the entries of a journal. progress: of every batch and culture."""

    def made(*_: object) -> tuple[Doubt, ...]:
        return (
            *_in_the_future(journal),
            *_before_it_began(journal, progress),
            *(doubt for found in by_run.values() for doubt in found[0]),
            *_origins_at_another_time(journal, progress),
            *(doubt for found in by_run.values() for doubt in found[1]),
            *_settings_crossed(journal),
        )

    runs = {id: (run, journal.settings.units) for id, run in progress.items()}
    by_run = each_kept(journal, "doubts of one run", _doubts_of_run, runs)
    entries = (journal.finds, journal.cultures, journal.batches, journal.notes, journal.tent_entries, journal.devices)
    return kept(journal, "doubts", made, journal.settings, journal.newest, by_run, progress, *entries)


def _doubts_of_run(run: Progress, units: Units) -> tuple[tuple[Doubt, ...], tuple[Doubt, ...]]:
    return tuple(_after_its_end(run)), (*_unit_too_heavy(run, units), *_too_heavy(run, units))


def doubtful_harvests(doubts: Iterable[Doubt]) -> dict[str, tuple[Note, ...]]:
    """The harvests that are doubtful, each once and in order, by the ID of each batch that they are of."""
    notes = {note.path: note for doubt in doubts for note in doubt.harvests}
    return notes_by_id(notes.values())


def _dated(note: Entry, key: str, message: str, fix: str, is_future: bool = False) -> Doubt:
    """A doubt about the day of an entry, and so about its harvest."""
    harvests = (note,) if isinstance(note, Note) and note.harvest_g else ()
    return Doubt(note, key, message, fix, harvests, is_future)


def _in_the_future(journal: Journal) -> Iterator[Doubt]:
    latest_first = reversed((*journal.entries(),))
    for entry in reversed([*takewhile(journal.is_future, latest_first)]):
        message = f"{entry.date.written} is in the future: no file of this journal is as new"
        yield _dated(entry, "date", message, "correct `date`, or the camera's clock", is_future=True)


_BEGAN = {"find": "was found", "culture": "was made", "batch": "was inoculated", "device": "came into use"}


def _began(row: Entry, run: Progress | None) -> date | None:
    """The first day of a thing; None if it is only approximate."""
    if run is not None and run.day0 is not None:
        return run.day0
    return None if row.date.exact == "about" else row.date.first


def _before_it_began(journal: Journal, progress: Mapping[str, Progress]) -> Iterator[Doubt]:
    """Notes with an earlier day than what they are about; those that only record work may be from the days before."""
    ahead = timedelta(days=limit("preparation_d").high or 0)
    for note in journal.notes:
        last = last_day_meant(note.date)
        for row in _subjects(journal, note):
            began = _began(row, progress.get(row.id))
            if began is None or last >= began or note.stage == "inoculated":
                continue
            if _shows_life(note) or last < min(began, row.date.first) - ahead:
                message = f"this is dated {_earlier(note.date, began)} {row.id} {_BEGAN[row.kind]} ({began})"
                yield _dated(note, "date", message, f"correct `date` here, or in {row.path}")


def _subjects(journal: Journal, note: Note) -> list[Find | Culture | Batch | Device]:
    rows = (journal.by_id.get(id.lower()) for id in dict.fromkeys(ref.id for ref in note.about))
    return [row for row in rows if isinstance(row, Find | Culture | Batch | Device)]


def _shows_life(note: Note) -> bool:
    """Whether a note records something that cannot happen before the thing itself exists."""
    return bool(
        note.stage or note.harvest_g or note.dried_g or note.dried_from_g or note.lost or note.flush or note.moved_to
    )


def _earlier(when: When, began: date) -> str:
    """`2026-09-20, 11 days before`, `2026-09, before`."""
    day = calendar_day(when)
    ahead = f"{counted((began - day).days, 'day')} " if day else ""
    return f"{when.written}, {ahead}before"


_GONE = frozenset({"discarded", "dead"})
_LATER = "correct `date` or `about`, or the note in {path}"


def _after_its_end(run: Progress) -> Iterator[Doubt]:
    """Harvests, moves and stages of growth of what was lost, discarded or dead by then, whole or in part."""
    parts: dict[int, Note] = {}
    ended_by: Note | None = None
    lost, losses, whole = 0, set(map(id, run.losses)), Ref(run.of.id)
    for note in run.notes:
        is_whole = whole in note.about
        is_loss = id(note) in losses
        lost += (note.lost or 0) if is_loss else 0
        if is_alive := bool(note.harvest_g or note.moved_to or note.stage in GROWING):
            named = sorted(ref.part for ref in note.about if ref.id == run.of.id and ref.part in parts)
            before = [(f"{run.of.id}.{part}", parts[part]) for part in named] if not is_whole else []
            before += [(run.of.id, ended_by)] if ended_by else []
            yield from _note_after_end(note, before)
        elif again := [part for part in _parts_lost(note, run) if part in parts]:
            yield from _note_after_end(note, [(f"{run.of.id}.{part}", parts[part]) for part in again])
        for part in _parts_lost(note, run):
            parts.setdefault(part, note)
        if is_whole and is_alive and note.stage in GROWING:
            ended_by = None
        elif (is_whole and note.stage in _GONE) or (is_loss and run.inoculated is not None and lost >= run.inoculated):
            ended_by = ended_by or note


def _note_after_end(note: Note, before: Sequence[tuple[str, Note]]) -> Iterator[Doubt]:
    """The first of these ends that the note is later than, as a doubt."""
    for name, end in before:
        if note.date.first > last_day_meant(end.date):
            what = end.stage if end.stage in _GONE else "lost"
            message = f"{name} was {'found dead' if what == 'dead' else what} on {end.date.first}, before this"
            key = next((key for key in ("harvest", "moved to", "stage", "lost") if key in note.lines), "date")
            yield _dated(note, key, message, _LATER.format(path=end.path))
            return


def _parts_lost(note: Note, run: Progress) -> tuple[int, ...]:
    """The parts that a note counts as lost: all that it names, if it states as many losses or calls them gone."""
    if not note.lost and note.stage not in _GONE:
        return ()
    parts = {ref.part for ref in note.about if ref.id == run.of.id}
    named = tuple(sorted(part for part in parts if part is not None))
    is_all = bool(note.lost) and (note.lost or 0) >= len(named) and len({ref.id for ref in note.about}) == 1
    return named if None not in parts and (is_all or note.stage in _GONE) else ()


def _origins_at_another_time(journal: Journal, progress: Mapping[str, Progress]) -> Iterator[Doubt]:
    """Cultures and batches of an earlier day than what they came from, or of a later one than its end."""
    rows: tuple[Culture | Batch, ...] = (*journal.cultures, *journal.batches)
    for row in rows:
        key, refs = ("culture", row.cultures) if isinstance(row, Batch) else ("from", row.sources)
        for ref in refs:
            source = journal.by_id.get(ref.id.lower())
            if not isinstance(source, Find | Culture | Batch):
                continue
            run = progress.get(source.id)
            began = _began(source, run)
            if began is not None and last_day_meant(row.date) < began:
                message = f"{row.id} is dated {_earlier(row.date, began)} {source.id} {_BEGAN[source.kind]} ({began})"
                yield Doubt(row, "date", message, f"correct `date` here, or in {source.path}")
            elif run is not None and (end := _end_of(run, ref.part)) and row.date.first > last_day_meant(end.date):
                message = f"{row.id} is dated {row.date.written}, after {ref} was lost or discarded ({end.date.first})"
                yield Doubt(row, key, message, f"correct `date` or `{key}` here, or the note in {end.path}")


def _end_of(run: Progress, part: int | None) -> Note | None:
    """The note that says that a thing, or a part of it, has ended: lost, discarded or dead, not merely spent."""
    of_part = next((note for note in run.notes if part is not None and part in _parts_lost(note, run)), None)
    whole = run.ended_by if run.ended_by and run.ended_by.stage in _GONE else None
    return of_part or whole or (run.losses[-1] if run.is_all_lost else None)


def gone_since(run: Progress) -> dict[int | None, date]:
    """The day that each part was lost or discarded; of the whole, under None alone, where that is."""
    ends: dict[int | None, Note] = {part: note for note in reversed(run.notes) for part in _parts_lost(note, run)}
    if whole := _end_of(run, None):
        ends = {None: whole}
    return {part: last_day_meant(note.date) for part, note in ends.items()}


def wet_mass_g(batch: Batch) -> float | None:
    """Of the substrate of one unit; None if it is not known, or the number of units is not."""
    return (batch.wet_g or sum(part.mass_g for part in batch.mix) / batch.units or None) if batch.units else None


_LARGE = re.compile(r"\b(?:log|stump|bed|bucket|tub|tote|crate|tray|barrel|drum|column|bale|mound)s?\b", re.IGNORECASE)
_SMALL = re.compile(r"\b(?:block|bag|jar|bottle)s?\b", re.IGNORECASE)


def _unit_too_heavy(run: Progress, units: Units) -> Iterator[Doubt]:
    """A unit that weighs more than what it is in can."""
    batch = run.of
    if not isinstance(batch, Batch) or batch.wet_g is None:
        return
    is_large = bool(_LARGE.search(batch.container or f"{batch.title} {batch.substrate or ''}"))
    is_unknown = bool(batch.container) and not _SMALL.search(batch.container or "")
    most = limit("large_unit_wet_kg" if is_large or is_unknown else "unit_wet_kg")
    if most.allows(batch.wet_g / 1000):
        return
    weight, usual = exact_mass(batch.wet_g, units), mass((most.high or 0) * 1000, units)
    fix = "correct the number or its unit, or write how many `units` there are"
    if batch.units != 1:
        fix = f"write `{weight} in all` if that is all of them together, else correct the number or its unit"
    yield Doubt(batch, "wet mass", f"{weight} wet is more than a unit weighs; up to {usual} is usual", fix)


def _too_heavy(run: Progress, units: Units) -> Iterator[Doubt]:
    """Flushes of a batch heavier than the wet mass of their substrate, or hardly anything of it, and a BE above the
    usual; of none whose number of units is not known."""
    batch = run.of
    if not isinstance(batch, Batch) or batch.units is None:
        return
    wet_g = wet_mass_g(batch)
    flagged: list[Note] = []
    for name, count, notes in _flushes(run, batch, batch.units) if wet_g else ():
        mass_g, most_g = sum(note.harvest_g or 0 for note in notes), (wet_g or 0) * count
        largest = max(notes, key=lambda note: note.harvest_g or 0)
        if mass_g > most_g * (limit("flush_over_wet_mass").high or 1) and largest not in flagged:
            flagged.append(largest)
            message = f"{mass(mass_g, units)} {name} is more than {_weighed(count, most_g, units)}"
            yield Doubt(largest, "harvest", message, f"correct `harvest`, or the masses in {batch.path}", (largest,))
    yield from _too_light(run, batch, wet_g, units) if wet_g else ()
    most_pct = limit("biological_efficiency_pct").high or 0
    be_pct = run.harvest_g / (batch.dry_g * batch.units) * 100 if batch.dry_g else 0
    if be_pct > most_pct:
        largest = max(run.nonzero_harvests, key=lambda note: note.harvest_g or 0)
        key = next((key for key in ("dry mass", "moisture", "wet mass", "mix") if key in batch.lines), "dry mass")
        message = f"the harvests of {batch.id} make a BE of {number(be_pct, 0)} %, and over {most_pct:g} % is not usual"
        fix = f"correct `harvest` in {largest.path}, or the masses of the substrate here"
        yield Doubt(batch, key, message, fix, tuple(flagged) or (largest,))


def _weighed(count: int, wet_g: float, units: Units) -> str:
    return f"{f'the {count} units' if count > 1 else 'the unit'} weighed wet ({mass(wet_g, units)})"


def _too_light(run: Progress, batch: Batch, wet_g: float, units: Units) -> Iterator[Doubt]:
    """Flushes of hardly anything, of all units that anything of them was harvested from."""
    for name, notes in _by_flush(run):
        parts = {ref.part for note in notes for ref in note.about if ref.id == batch.id}
        count = (batch.units or 0) if None in parts else len(parts)
        mass_g, least_pct = sum(note.harvest_g or 0 for note in notes), limit("flush_share_of_wet_mass_pct").low or 0
        if mass_g < wet_g * count * least_pct / 100:
            largest = max(notes, key=lambda note: note.harvest_g or 0)
            least = f"less than {least_pct:g} % of what {_weighed(count, wet_g * count, units)}"
            fix = f"correct `harvest` or its unit, or the masses in {batch.path}"
            yield Doubt(largest, "harvest", f"{exact_mass(mass_g, units)} {name} is {least}", fix, (largest,))


def _flushes(run: Progress, batch: Batch, of_all: int) -> Iterator[tuple[str, int, list[Note]]]:
    """Each flush by the units that it was harvested from, then as a whole, of all units: its name, how many units, its
    harvests."""
    for name, notes in _by_flush(run):
        by_parts: dict[frozenset[int | None], list[Note]] = {}
        for note in notes:
            by_parts.setdefault(frozenset(ref.part for ref in note.about if ref.id == batch.id), []).append(note)
        for parts, rows in by_parts.items():
            yield name, of_all if None in parts else len(parts), rows
        if len(by_parts) > 1:
            yield name, of_all, notes


def _by_flush(run: Progress) -> list[tuple[str, list[Note]]]:
    """The harvests of each flush, and each that names none alone: its name, the harvests."""
    flushes: dict[int | str, list[Note]] = {}
    for note in run.nonzero_harvests:
        flushes.setdefault(note.path if note.flush is None else note.flush, []).append(note)
    named = (("in one harvest" if isinstance(flush, str) else f"in flush {flush}") for flush in flushes)
    return [*zip(named, flushes.values(), strict=True)]


def _settings_crossed(journal: Journal) -> Iterator[Doubt]:
    """A humidity differential as large as the set point: the lower set point would be at or below 0 %."""
    for entry in journal.tent_entries:
        set_pct, falls_pct = entry.humidity_set_pct, entry.humidity_differential_pct
        if set_pct is not None and falls_pct is not None and falls_pct >= set_pct:
            message = f"a differential of {falls_pct:g} % under a set point of {set_pct:g} % lets it fall to 0"
            yield Doubt(entry, "humidity differential", message, "write how far it may fall, like 5 %")
