"""Unlikely measures in a journal: core logs, colonies, sales, harvests, flushes and what was dried of them that can
hardly be right, each a warning.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta

from journal.amounts import exact_mass, length, mass, temperature
from journal.analysis.calendar import zone_of
from journal.analysis.growth import doubtful_colonies
from journal.analysis.heat import heating_of, steam_of, why_uncalculated
from journal.analysis.limits import limit
from journal.analysis.plausibility import Doubt
from journal.analysis.progress import Progress, last_day_meant
from journal.model import Batch, CoreLog, Culture, Journal, Note


def doubts_of_measures(journal: Journal, progress: Mapping[str, Progress]) -> Iterator[Doubt]:
    """Every unlikely measure in the entries of a journal. progress: of every batch and culture."""
    rows: dict[str, Batch | Culture] = {row.path: row for row in journal.batches}
    rows.update((row.path, row) for row in journal.cultures)
    for core in journal.core_logs:
        if core.entry in rows and core.log.stamps_s:  # one that could not be read at all is an error of its file
            yield from _core_log(journal, rows[core.entry], core, progress[rows[core.entry].id].day0)
    for culture in journal.cultures:
        yield from (doubt for _, doubt in doubtful_colonies(culture, progress[culture.id]))
    for note in journal.notes:
        if note.sold is not None and not (note.harvest_g or note.dried_g):
            fix = "write `harvest` (or `dried`) here too, or `sold` in the note of the harvest"
            yield Doubt(note, "sold", "this note says what was sold, but has no harvest", fix)
        if note.stage == "nothing there" and note.harvest_g:
            message = f"the stage is `nothing there`, but {mass(note.harvest_g, journal.settings.units)} was harvested"
            yield Doubt(note, "stage", message, "correct `stage`, or leave `harvest` out if nothing was picked")
    yield from _dried(journal)
    for run in progress.values():
        yield from _flushes_out_of_order(run)


def _dried(journal: Journal) -> Iterator[Doubt]:
    """Dried masses near to what went into the dryer, and more put into it than was harvested of these things by then
    and not dried before. Where no harvest is written down, nothing is known of that."""
    units, drying = journal.settings.units, [note for note in journal.notes if note.dried_g or note.dried_from_g]
    picked = _picked(journal) if drying else {}
    dried: dict[frozenset[str], float] = defaultdict(float)
    for note in drying:
        ids, until = frozenset(ref.id for ref in note.about), last_day_meant(note.date)
        fresh_g = note.dried_from_g or note.harvest_g or 0
        if fresh_g and (note.dried_g or 0) > fresh_g * (limit("dried_over_fresh").high or 1):
            left = exact_mass(note.dried_g or 0, units)
            message = f"{left} dried is hardly what is left of {mass(fresh_g, units)} fresh"
            yield Doubt(note, "dried", message, "correct one of the two, or write under `dried from` what went in")
        harvested_g = sum(one_g for id in ids for day, one_g in picked.get(id, ()) if day <= until)
        before_g = dried[ids] if len(ids) == 1 else sum(one_g for others, one_g in dried.items() if others <= ids)
        most_g = harvested_g * (limit("dryer_over_harvest").high or 1)
        if harvested_g and note.dried_from_g and note.dried_from_g + before_g > most_g:
            went = f"{exact_mass(note.dried_from_g, units)} went into the dryer"
            also = f", of which {mass(before_g, units)} was dried before" if before_g else ""
            of_it = f"of {' and '.join(sorted(ids))} by then"
            message = f"{went}, but only {mass(harvested_g, units)} was harvested {of_it}{also}"
            yield Doubt(note, "dried from", message, "correct the mass, its unit or the date, or add the harvest")
        dried[ids] += fresh_g


def _picked(journal: Journal) -> dict[str, list[tuple[date, float]]]:
    """What was harvested of each thing, by its ID: the day, and g fresh. A harvest of several counts for each."""
    rows: list[tuple[date, float | None, tuple[str, ...]]]
    rows = [(find.date.first, find.picked_mass_g, (find.id,)) for find in journal.finds]
    rows += [(note.date.first, note.harvest_g, tuple({ref.id for ref in note.about})) for note in journal.notes]
    found: dict[str, list[tuple[date, float]]] = {}
    for day, mass_g, ids in rows:
        for id in ids if mass_g else ():
            found.setdefault(id, []).append((day, mass_g or 0))
    return found


def _flushes_out_of_order(run: Progress) -> Iterator[Doubt]:
    """Flushes whose first note is of an earlier day than that of one with a lower number, and numbers left out. A
    harvest without a number may be of any flush, so nothing is told then."""
    if not all(note.flush for note in run.nonzero_harvests):
        return
    firsts: dict[int, Note] = {}
    for note in run.notes:
        if note.flush is not None:
            firsts.setdefault(note.flush, note)
    numbers = sorted(firsts)
    for at, number in enumerate(numbers):
        first, name, below = firsts[number], f"flush {number} of {run.of.id}", numbers[at - 1] if at else number
        late = next((firsts[low] for low in numbers[:at] if _is_surely_later(firsts[low], first)), None)
        if late is not None:
            message = f"{name} is dated {first.date.first}, before flush {late.flush} ({late.date.first})"
            yield Doubt(first, "flush", message, f"correct `flush` or `date` here, or in {late.path}")
        elif number > below + 1:
            missed = f"flush {below + 1}" if number == below + 2 else f"flushes {below + 1} to {number - 1}"
            message = f"{name} comes after flush {below}, and no note has {missed}"
            yield Doubt(first, "flush", message, "correct `flush`, or add the harvests between")


def _is_surely_later(one: Note, other: Note) -> bool:
    return one.date.counts_days and other.date.counts_days and one.date.first > other.date.first


def _core_log(journal: Journal, row: Batch | Culture, core: CoreLog, day0: date | None) -> Iterator[Doubt]:
    key, name = "core log", core.log.path
    if why := why_uncalculated(core):
        yield Doubt(row, key, f"{name} {why}, so nothing is calculated from it", "log every minute or two")
    logged = datetime.fromtimestamp(core.log.stamps_s[0], zone_of(journal.settings)).date()
    usual = timedelta(days=limit("core_log_d").high or 0)
    latest = max(last_day_meant(row.date), day0 or date.min)
    if row.date.exact != "about" and not row.date.first - usual <= logged <= latest + usual:
        message = f"{name} was written on {logged}, and {row.id} is of {row.date.written}"
        yield Doubt(row, key, message, "name the log of this load, or correct the logger's clock or `date`")
    heating, steam = heating_of(core), steam_of(row.treatment, journal.settings.elevation_m)
    if heating and steam and steam.steam_c is not None:
        over_k = heating.peak_c - steam.steam_c
        if not limit("core_over_steam_k").allows(over_k):
            units = journal.settings.units
            where = "at sea level" if steam.assumed else f"at {length(steam.elevation_m, units)}"
            message = (
                f"the core of {name} reached {temperature(heating.peak_c, units)}, but steam at the pressure under "
                f"`treatment` has {temperature(steam.steam_c, units)} {where}"
            )
            yield Doubt(row, key, message, "check the probe, its unit, and the pressure under `treatment`")
