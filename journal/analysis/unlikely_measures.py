"""Unlikely measures in a journal: core logs, colonies, sales and harvests that can hardly be right, each a warning."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta

from journal.amounts import length, mass, temperature
from journal.analysis.calendar import zone_of
from journal.analysis.growth import doubtful_colonies
from journal.analysis.heat import heating_of, steam_of, why_uncalculated
from journal.analysis.limits import limit
from journal.analysis.plausibility import Doubt
from journal.analysis.progress import Progress, last_day_meant
from journal.model import Batch, CoreLog, Culture, Journal


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
