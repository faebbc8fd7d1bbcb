"""Unlikely measures in a journal: core logs, colonies and sales that can hardly be right, each a warning."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from statistics import fmean

from journal.analysis.calendar import zone_of
from journal.analysis.growth import part_of
from journal.analysis.heat import heating_of, steam_of, why_untold
from journal.analysis.limits import limit
from journal.analysis.plausibility import Doubt
from journal.analysis.progress import Progress, last_day_meant
from journal.model import Batch, Colony, CoreLog, Culture, Journal, Note
from journal.quantities import counted

_NOT_AGAR = frozenset({"liquid", "syringe", "grain", "sawdust", "plugs", "spore print"})
"""Forms of a culture on which no colony is measured."""


def doubts_of_measures(journal: Journal, progress: Mapping[str, Progress]) -> Iterator[Doubt]:
    """Every unlikely measure in the entries of a journal. progress: of every batch and culture."""
    rows: dict[str, Batch | Culture] = {row.path: row for row in journal.batches}
    rows.update((row.path, row) for row in journal.cultures)
    for core in journal.core_logs:
        if core.entry in rows and core.log.stamps_s:  # one that could not be read at all is an error of its file
            yield from _core_log(journal, rows[core.entry], core, progress[rows[core.entry].id].day0)
    for culture in journal.cultures:
        yield from _colonies(culture, progress[culture.id])
    for note in journal.notes:
        if note.sold is not None and not (note.harvest_g or note.dried_g):
            fix = "write `harvest` (or `dried`) here too, or `sold` in the note of the harvest"
            yield Doubt(note, "sold", "this note says what was sold, but has no harvest", fix)


def _core_log(journal: Journal, row: Batch | Culture, core: CoreLog, day0: date | None) -> Iterator[Doubt]:
    key, name = "core log", core.log.path
    if why := why_untold(core):
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
            where = "at sea level" if steam.assumed else f"at {steam.elevation_m:g} m"
            message = (
                f"the core of {name} reached {heating.peak_c:.1f} °C, but steam at the pressure under `treatment` has "
                f"{steam.steam_c:.1f} °C {where}"
            )
            yield Doubt(row, key, message, "check the probe, its unit, and the pressure under `treatment`")


def _colonies(culture: Culture, run: Progress) -> Iterator[Doubt]:
    """Colonies of plates that the culture does not have, on no agar, and that have become smaller."""
    before: dict[int | None, tuple[Note, float]] = {}
    shrinks = limit("colony_shrinks_mm")
    for note in run.notes:
        if note.colony and culture.form in _NOT_AGAR:
            message = f"a colony is measured on agar, but {culture.id} is of the form {culture.form}"
            yield Doubt(note, "colony", message, f"correct `about` here, or `form` in {culture.path}")
        for colony in note.colony:
            if too_many := _beyond(colony, culture):
                yield Doubt(note, "colony", too_many, f"correct the number here, or `vessels` in {culture.path}")
            part, across_mm = part_of(colony, note), fmean(colony.across_mm)
            earlier, was_mm = before.get(part, (note, across_mm))
            if earlier.date.first < note.date.first and not shrinks.allows(was_mm - across_mm):
                plate = f"plate {part}" if part else "it"
                message = (
                    f"the colony was {was_mm:g} mm across on {earlier.date.first}, and now {plate} has {across_mm:g} mm"
                )
                yield Doubt(note, "colony", message, f"correct the size or the plate here, or in {earlier.path}")
            before[part] = note, across_mm


def _beyond(colony: Colony, culture: Culture) -> str | None:
    if colony.part is None or culture.vessels is None or colony.part <= culture.vessels:
        return None
    return f"this is a colony on plate {colony.part}, but {culture.id} has {counted(culture.vessels, 'vessel')}"
