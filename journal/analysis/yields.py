"""A batch's yield: biological efficiency on all units and on those not lost before the harvest, by flush and by part.

Biological efficiency (BE) is fresh mass harvested over dry mass of substrate, in per cent; spawn does not count as
substrate. It is provisional ("so far") until the batch is finished.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from journal.analysis import substrate
from journal.analysis.calculation import Amount, Calculation
from journal.analysis.kept import each_kept
from journal.analysis.progress import Progress, calendar_day
from journal.model import Batch, Culture, Journal, Note, When
from journal.quantities import counted

BE_SOURCE = (
    "G. L. Pettipher, J. Sci. Food Agric. 42(3), 1988, doi:10.1002/jsfa.2740420302: fresh weight of mushrooms per unit "
    "dry weight of substrate"
)
RATE_SOURCE = (
    "D. J. Royse, Mycologia 77(5):756–762 (1985), doi:10.1080/00275514.1985.12025163, abstract: the daily average "
    "biological efficiency. Counted here from inoculation to the last harvest (common practice)"
)
PLAIN_SOURCE = "common practice: plain arithmetic on what was weighed"
_FRESH = "fresh mass harvested"
PARTLY_SHARED = "No BE: part of what was harvested or lost is not shared, and every total is of the rest."
UNITS_UNREADABLE = "No BE: how many units were inoculated cannot be read. Write the number alone under `units`, like 4."
SPAWN_SOURCE = "common practice: some count the dry substance of the spawn as substrate, which makes a lower figure"


@dataclass(frozen=True, slots=True)
class Flush:
    """One flush: what was harvested, on which days, and its own BE on units inoculated, None without a dry mass."""

    number: int
    harvest_g: float
    first: When
    last: When
    be: Calculation | None


@dataclass(frozen=True, slots=True)
class PartYield:
    """The yield of units harvested together. flushes: (number, g). be: None without a dry mass, or a harvest, or where
    one of them was also harvested with others, so that it may have given more."""

    parts: tuple[int, ...]
    harvest_g: float
    flushes: tuple[tuple[int, float], ...]
    lost: int
    be: Calculation | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchYield:
    """Every figure of a batch's yield; a figure that cannot be calculated is None, and `missing` says why, a sentence
    each. inoculated: None if their number cannot be read, and so is whatever is counted by the unit. final: whether it
    is finished (see `Progress.finished`); until then every figure is provisional. be: on units inoculated. survived,
    be_survived: units not lost before the first harvest, and BE on them. be_with_spawn: including the dry mass of the
    spawn. be_with_spawn_lacks, flushes_lack: the sentences of `missing` on the spawn's dry share, and on missing flush
    numbers. unnumbered_g: harvested without a flush number. per_unit: g a unit inoculated. per_day: g a day since
    inoculation. be_per_day: BE over the same days. dried: mass kept in drying, % of fresh."""

    batch: str
    inoculated: int | None
    survived: int | None
    lost: int
    harvest_g: float
    final: bool
    flushes: tuple[Flush, ...]
    unnumbered_g: float
    parts: tuple[PartYield, ...]
    be: Calculation | None
    be_survived: Calculation | None
    be_with_spawn: Calculation | None
    be_with_spawn_lacks: str | None
    flushes_lack: str | None
    spawn_rate_wet: Calculation | None
    spawn_rate_dry: Calculation | None
    per_unit: Calculation | None
    per_day: Calculation | None
    be_per_day: Calculation | None
    dried: Calculation | None
    missing: tuple[str, ...]

    @property
    def is_unharvested(self) -> bool:
        """Whether nothing was harvested so far. It has no BE yet, and is not shown as 0 %."""
        return not self.final and not self.harvest_g

    @property
    def first_flush_pct(self) -> float | None:
        """BE of flush 1 on units inoculated: 0 if a finished batch has no harvest, None if it is not known."""
        if self.be is None or self.unnumbered_g:
            return None
        if not self.harvest_g:
            return 0.0 if self.final else None
        return next((flush.be.value for flush in self.flushes if flush.number == 1 and flush.be), None)


def biological_efficiency_pct(fresh_g: float, dry_g: float | None) -> float | None:
    """Fresh mass in % of the dry mass of substrate; None unless fresh_g ≥ 0 and dry_g > 0. *Source:* `BE_SOURCE`."""
    return None if dry_g is None or dry_g <= 0 or fresh_g < 0 else fresh_g / dry_g * 100


def yields_of(journal: Journal, progress: Mapping[str, Progress]) -> Mapping[str, BatchYield]:
    """Every batch's yield, by its ID."""
    known = {culture.id: culture for culture in journal.cultures}
    made_with = {row.id: [known[ref.id] for ref in row.cultures if ref.id in known] for row in journal.batches}
    measured = journal.settings.ingredients
    return each_kept(
        journal,
        "yields",
        lambda batch, run, measured, *cultures: yield_of(batch, run, cultures, measured),
        {row.id: (row, progress[row.id], measured, *made_with[row.id]) for row in journal.batches},
    )


def yield_of(
    batch: Batch, progress: Progress, cultures: Iterable[Culture] = (), measured: Iterable[tuple[str, float]] = ()
) -> BatchYield:
    """One batch's yield. cultures: what it was made with. measured: the author's own dry shares by name."""
    measured = tuple(measured)
    harvest_g = progress.harvest_g
    survived = None if batch.units is None else max(0, batch.units - progress.lost_before_harvest)
    be = be_of_units(harvest_g, batch.dry_g, batch.units, "units inoculated")
    fresh, units = (_FRESH, Amount(harvest_g, "g")), _units_counted(batch)
    be_amount = ("BE on units inoculated", Amount(be.value, "%")) if be else None
    spawn_share, days = spawn_dry_share(cultures, measured), _days_counted(progress)
    crop = BatchYield(
        batch=batch.id,
        inoculated=batch.units,
        survived=survived,
        lost=progress.lost,
        harvest_g=harvest_g,
        final=progress.finished,
        flushes=flushes_of(progress.harvests, batch),
        unnumbered_g=sum(note.harvest_g or 0.0 for note in progress.harvests if note.flush is None),
        parts=parts_of(progress, batch),
        be=be,
        be_survived=be_of_units(harvest_g, batch.dry_g, survived, "units not lost before the first harvest"),
        be_with_spawn=_be_with_spawn(harvest_g, batch, spawn_share),
        be_with_spawn_lacks=_what_be_with_spawn_lacks(batch, spawn_share),
        flushes_lack=_what_the_flushes_lack(batch, progress),
        spawn_rate_wet=_spawn_rate(batch.spawn_g, batch.wet_g, "wet"),
        spawn_rate_dry=_spawn_rate(batch.spawn_g, batch.dry_g, "dry"),
        per_unit=_per(fresh, units, "g", f"{_FRESH} / units inoculated", PLAIN_SOURCE),
        per_day=_per(fresh, days, "g a day", f"{_FRESH} / days", PLAIN_SOURCE),
        be_per_day=_per(be_amount, days, "% a day", "production rate = BE / days", RATE_SOURCE),
        dried=dried_share(progress.notes),
        missing=tuple(_missing(batch, progress, survived, spawn_share, measured)),
    )
    return _without_figures(crop) if batch.totals_are_partial else crop


def _without_figures(crop: BatchYield) -> BatchYield:
    """The yield of a batch with unknown totals: without the figures that would be too low."""
    return replace(
        crop,
        flushes=tuple(replace(flush, be=None) for flush in crop.flushes),
        parts=tuple(replace(part, be=None) for part in crop.parts),
        be=None, be_survived=None, be_with_spawn=None, be_with_spawn_lacks=None, per_unit=None, per_day=None,
        be_per_day=None, missing=(PARTLY_SHARED, *crop.missing),
    )  # fmt: skip


def _units_counted(batch: Batch) -> tuple[int, tuple[str, str]] | None:
    """The units inoculated, and that as an input; None if their number is not known."""
    return None if batch.units is None else (batch.units, ("units inoculated", str(batch.units)))


def be_of_units(harvest_g: float, dry_g: float | None, units: int | None, which: str) -> Calculation | None:
    """BE on a number of units of `dry_g` each; None if either is not known. which: what those units are called."""
    value = biological_efficiency_pct(harvest_g, None if dry_g is None or units is None else dry_g * units)
    if value is None or dry_g is None:
        return None
    return Calculation(
        value=value,
        unit="%",
        inputs=(
            ("fresh mass harvested", Amount(harvest_g, "g")),
            (which, str(units)),
            ("dry substrate a unit", Amount(dry_g, "g")),
        ),
        formula=f"BE = fresh mass harvested / ({which} × dry substrate a unit) × 100",
        source=BE_SOURCE,
    )


def flushes_of(harvests: Iterable[Note], batch: Batch) -> tuple[Flush, ...]:
    """The flushes that harvests name, by number."""
    named: dict[int, list[Note]] = {}
    for note in harvests:
        if note.flush is not None:
            named.setdefault(note.flush, []).append(note)
    flushes = []
    for number, notes in sorted(named.items()):
        mass_g = sum(note.harvest_g or 0.0 for note in notes)
        be = be_of_units(mass_g, batch.dry_g, batch.units, "units inoculated")
        flushes.append(Flush(number, mass_g, notes[0].date, notes[-1].date, be))
    return tuple(flushes)


def parts_of(progress: Progress, batch: Batch) -> tuple[PartYield, ...]:
    """The yields of parts; parts that were harvested together are one row, because they were not weighed separately."""
    harvested: dict[tuple[int, ...], list[Note]] = {}
    lost: dict[tuple[int, ...], int] = {}
    for note in progress.harvests:
        harvested.setdefault(_parts_named(note, batch.id), []).append(note)
    for note in progress.losses:
        if parts := _parts_named(note, batch.id):
            lost[parts] = lost.get(parts, 0) + (note.lost or 0)
    gave = {parts for parts, notes in harvested.items() if any(note.harvest_g for note in notes)}
    weighings = Counter(part for parts in gave for part in parts)
    rows = []
    for parts in sorted((harvested.keys() | lost.keys()) - {()}):
        notes = harvested.get(parts, [])
        mass_g = sum(note.harvest_g or 0.0 for note in notes)
        flushes = tuple((flush.number, flush.harvest_g) for flush in flushes_of(notes, batch))
        is_apart = () not in gave and all(weighings[part] == (parts in gave) for part in parts)
        be = be_of_units(mass_g, batch.dry_g, len(parts), "units named") if notes and is_apart else None
        rows.append(PartYield(parts, mass_g, flushes, lost.get(parts, 0), be))
    return tuple(rows)


def lagging_units(crop: BatchYield) -> tuple[int, frozenset[int]]:
    """The latest flush that more than half of the living units have given, and the living units that have not given
    it; (0, none) if that cannot be told: a harvest or a loss does not say which units it is of, or their number is not
    known. *Source:* common practice, a plain majority."""
    lost = {part for row in crop.parts if row.lost >= len(row.parts) for part in row.parts}
    by_unit_g = sum(row.harvest_g for row in crop.parts)
    if crop.inoculated is None or len(lost) != crop.lost or abs(by_unit_g - crop.harvest_g) > 0.5:
        return 0, frozenset()
    living = set(range(1, crop.inoculated + 1)) - lost
    given: dict[int, int] = {}
    for row in crop.parts:
        last = max((number for number, _ in row.flushes), default=0)
        given |= {part: max(last, given.get(part, 0)) for part in row.parts}
    for number in sorted(set(given.values()) - {0}, reverse=True):
        behind = frozenset(unit for unit in living if given.get(unit, 0) < number)
        if 2 * len(behind) < len(living):
            return number, behind
    return 0, frozenset()


def _parts_named(note: Note, id: str) -> tuple[int, ...]:
    """The parts a note is about, in order; none if it is about the whole."""
    parts = {ref.part for ref in note.about if ref.id == id}
    return () if None in parts else tuple(sorted(part for part in parts if part is not None))


def spawn_dry_share(cultures: Iterable[Culture], measured: Iterable[tuple[str, float]]) -> float | None:
    """Dry share (0-1) of the spawn, only if the author has measured it; None otherwise, or if two spawns differ. It
    is looked up in the author's dry shares as `grain spawn` (the culture's form and `spawn`), then as `spawn`."""
    measured = tuple(measured)
    any_spawn = substrate.dry_share_of("spawn", measured)
    forms = {culture.form for culture in cultures} or {None}
    own = {substrate.dry_share_of(f"{form} spawn", measured) if form else None for form in forms}
    shares = {any_spawn if share is None else share for share in own}
    return shares.pop() if len(shares) == 1 else None


def _be_with_spawn(harvest_g: float, batch: Batch, spawn_share: float | None) -> Calculation | None:
    if batch.dry_g is None or batch.spawn_g is None or spawn_share is None or batch.units is None:
        return None
    dry_g = (batch.dry_g + batch.spawn_g * spawn_share) * batch.units
    value = biological_efficiency_pct(harvest_g, dry_g)
    inputs = (
        ("fresh mass harvested", Amount(harvest_g, "g")),
        ("units inoculated", str(batch.units)),
        ("dry substrate a unit", Amount(batch.dry_g, "g")),
        ("spawn a unit", Amount(batch.spawn_g, "g")),
        ("dry share of the spawn", Amount(spawn_share * 100, "%")),
    )
    formula = "fresh mass harvested / (units inoculated × (dry substrate a unit + spawn a unit × its dry share)) × 100"
    return None if value is None else Calculation(value, "%", inputs, formula, SPAWN_SOURCE)


def _spawn_rate(spawn_g: float | None, substrate_g: float | None, basis: Literal["wet", "dry"]) -> Calculation | None:
    if spawn_g is None or substrate_g is None:
        return None
    is_wet = basis == "wet"
    value = (substrate.spawn_rate_wet_pct if is_wet else substrate.spawn_rate_dry_pct)(spawn_g, substrate_g)
    inputs = (("spawn a unit", Amount(spawn_g, "g")), (f"{basis} substrate a unit", Amount(substrate_g, "g")))
    formula = f"spawn rate, {basis} basis = spawn{'' if is_wet else ' as it is'} / {basis} substrate × 100"
    source = substrate.SPAWN_WET_SOURCE if is_wet else substrate.SPAWN_DRY_SOURCE
    return None if value is None else Calculation(value, "%", inputs, formula, source)


def _days_counted(progress: Progress) -> tuple[int, tuple[str, str]] | None:
    """Days from inoculation to the last harvest, and that in words; None if unknown, or if there is none."""
    last_harvest = progress.nonzero_harvests[-1] if progress.nonzero_harvests else None
    first, last = progress.day0, calendar_day(last_harvest.date) if last_harvest else None
    if first is None or last is None or last <= first:
        return None
    count = (last - first).days
    return count, ("days from inoculation to the last harvest", f"{count} ({first} to {last})")


def _per(
    named: tuple[str, Amount] | None, by: tuple[int, tuple[str, str]] | None, unit: str, formula: str, source: str
) -> Calculation | None:
    """An amount divided by a count, each with its name."""
    if named is None or by is None:
        return None
    return Calculation(named[1].value / by[0], unit, (named, by[1]), formula, source)


def dried_share(notes: Iterable[Note]) -> Calculation | None:
    """The mass left by drying, % of what went into the dryer: `dried from`, or the whole harvest if a note has none.
    None if no note weighed both, or dried exceeds fresh."""
    both = [
        (note.dried_g, fresh_g, note.dried_from_g is None)
        for note in notes
        if note.dried_g is not None and (fresh_g := note.dried_from_g or note.harvest_g)
    ]
    dried_g, fresh_g = sum(dried_g for dried_g, _, _ in both), sum(fresh_g for _, fresh_g, _ in both)
    if not both or dried_g > fresh_g:
        return None
    taken_whole = sum(is_whole for _, _, is_whole in both)
    inputs: tuple[tuple[str, Amount | str], ...] = (
        ("dried", Amount(dried_g, "g")),
        ("fresh, of the same", Amount(fresh_g, "g")),
        ("times weighed both ways", str(len(both))),
    )
    if taken_whole:
        inputs += (("of these without `dried from`: the whole harvest counts as dried", str(taken_whole)),)
    return Calculation(dried_g / fresh_g * 100, "%", inputs, "dried / fresh × 100", PLAIN_SOURCE)


def _missing(
    batch: Batch,
    progress: Progress,
    survived: int | None,
    spawn_share: float | None,
    measured: tuple[tuple[str, float], ...],
) -> Iterable[str]:
    if batch.units is None:
        yield UNITS_UNREADABLE
    elif batch.dry_g is None:
        yield what_the_dry_mass_lacks(batch, measured)
    elif not survived and not batch.totals_are_partial:
        yield "All units were lost before a harvest, so there is no BE on those not lost."
    if batch.spawn_g is None and batch.spawn_ml is None:
        yield "No spawn rate: `spawn mass` is not written."
    elif batch.spawn_g is None:
        yield "No spawn rate: the spawn was liquid, and measured by volume."
    elif batch.wet_g is None:
        yield "No spawn rate on the wet basis: `wet mass` is not written."
    if lack := _what_be_with_spawn_lacks(batch, spawn_share):
        yield lack
    if unnumbered := sum(note.flush is None for note in progress.harvests):
        names, count = ("names", "it counts") if unnumbered == 1 else ("name", "they count")
        yield f"{counted(unnumbered, 'harvest')} {names} no flush: {count} in the total, in no flush."
    if lack := _what_the_flushes_lack(batch, progress):
        yield lack
    if any(note.dried_g is not None and not (note.dried_from_g or note.harvest_g) for note in progress.notes):
        yield "Some was weighed dry in a note with neither `dried from` nor a harvest: its fresh mass is not known."
    if progress.harvests and progress.day0 is None:
        yield "The day of inoculation is not known, so nothing is calculated by the day."


def _what_the_flushes_lack(batch: Batch, progress: Progress) -> str | None:
    named = {note.flush for note in progress.harvests if note.flush is not None}
    lacking = sorted(set(range(1, max(named, default=0))) - named)
    if not lacking or batch.totals_are_partial:
        return None
    numbers = ", ".join(map(str, lacking))
    return (
        f"No harvest names flush {numbers}, though one names flush {max(named)}: nothing was harvested then, or a "
        "number is wrong."
    )


def what_the_dry_mass_lacks(batch: Batch, measured: Iterable[tuple[str, float]] = ()) -> str:
    """Why there is no dry mass per unit, and so no BE, and what would give one."""
    if batch.mix and (lacking := substrate.mixed(batch.mix, measured).missing):
        return (
            f"No BE: the dry share of {', '.join(lacking)} in the mix is not known. "
            "Write it under [ingredients] in journal.toml, or write `dry mass`, or `wet mass` and `moisture`."
        )
    if batch.wet_g is not None:
        return "No BE: the substrate was weighed wet, and its moisture is not known. Write `moisture`, or `dry mass`."
    if batch.moisture_pct is not None:
        return "No BE: the moisture is known, and not what a unit weighed. Write `wet mass`, or `dry mass`."
    return "No BE: the dry mass of a unit is not known. Write `dry mass`, or `wet mass` and `moisture`, or the `mix`."


def _what_be_with_spawn_lacks(batch: Batch, spawn_share: float | None) -> str | None:
    if batch.spawn_g is None or batch.dry_g is None or spawn_share is not None or batch.units is None:
        return None
    return (
        "No BE with spawn counted: the dry share of the spawn is not known. Dry a weighed sample of it, and write "
        'the share under [ingredients] in journal.toml as "grain spawn", or as what it is.'
    )
