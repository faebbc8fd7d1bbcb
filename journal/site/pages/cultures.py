"""The cultures: their table, and for each where it comes from and what was grown from it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from statistics import median
from typing import Any

from journal.analysis.descent import WHOLE
from journal.analysis.lineage import Counted, Descent, way_of
from journal.analysis.progress import calendar_day
from journal.analysis.rollups import Rollup
from journal.model import Batch, Culture, Find
from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.figures import Figure
from journal.site.pages.crop import made_and_lost
from journal.site.pages.culture_descent import culture_descent
from journal.site.pages.grown_from import be_counts, be_values, grown_from, pinning_days
from journal.site.pages.lookup import Lookup, species_words
from journal.site.plan import Page

SOURCE = "common practice, as the format of this journal counts it"
TRANSFERS = "a start is T0, or the number its giver stated; each transfer adds one, by the longest way"
STEPS = (
    "the first culture from a find is 0, and each culture after it adds one; through a batch by way of the culture it "
    "was made with"
)
GENERATIONS = "grain from anything but grain is G1; grain or sawdust taken from grain is one more"


def culture_numbers(lookup: Lookup, culture: Culture) -> Iterator[Figure]:
    """Transfers, steps since the wild, spawn generation and vessels, as far as there are such numbers."""
    descent = lookup.analysis.lineage.descents[culture.id]
    if descent.transfers is not None:
        before = f"{culture.transfers_before} of them before it came here" if culture.transfers_before else None
        says = _counted(lookup, culture, "transfers", lambda one: f"T{one.transfers}")
        yield _figure(f"T{descent.transfers}", "transfers since this line began", before, says, TRANSFERS)
    if descent.steps_since_wild is not None:
        says = _counted(lookup, culture, "steps_since_wild", lambda one: str(one.steps_since_wild))
        yield _figure(
            str(descent.steps_since_wild), "steps since the wild", "cultures, through batches too", says, STEPS
        )
    if descent.spawn_generation is not None:
        says = _counted(lookup, culture, "spawn_generation", lambda one: f"G{one.spawn_generation}")
        yield _figure(f"G{descent.spawn_generation}", "spawn generation", None, says, GENERATIONS)
    if culture.vessels is not None:
        run = lookup.analysis.progress[culture.id]
        lost = f"{run.lost} lost, {run.living} left" if run.lost else None
        yield made_and_lost(run, "containers made", lost)


def _figure(number: str, words: str, beside: str | None, inputs: Iterator[tuple[str, str]], formula: str) -> Figure:
    return Figure(
        number=number, words=words, beside=beside, inputs=tuple(inputs), formula=formula, source=SOURCE
    )  # fmt: skip


def _counted(
    lookup: Lookup, culture: Culture, number: Counted, said: Callable[[Descent], str]
) -> Iterator[tuple[str, str]]:
    """Every step of the way by which a number came about, with what it is counted as there; of a very long way the last
    steps, and which page lists those before them."""
    way = way_of(culture.id, number, lookup.analysis.lineage, lookup.analysis.yields, WHOLE)
    if len(way) == WHOLE:
        yield "before these", f"see the page of {way[0]}"
    for name in way:
        row = lookup.journal.by_id[name.lower()]
        if isinstance(row, Find):
            yield row.id, "the wild find"
        else:
            made = lookup.how_made(row) if isinstance(row, Culture) else "fruited as a batch"
            yield name, f"{said(lookup.analysis.lineage.descents[name])}, {made}"


def pages(lookup: Lookup) -> Iterator[Page]:
    received = lookup.analysis.received_above
    rows = [_row(lookup, culture, received) for culture in _by_use(lookup)]
    context = {"title": "Cultures", "place": "Cultures", "rows": rows, "compare": addresses.COMPARE}
    yield Page("cultures", (), addresses.CULTURES, "cultures/list.html", context, "main", growing=True)
    for culture in lookup.journal.cultures:
        yield _culture(lookup, culture)


def _by_use(lookup: Lookup) -> list[Culture]:
    """The cultures by species, those that gave most first, then the newest."""

    def use(culture: Culture) -> tuple[str, float]:
        species = species_words(culture.species)
        be_median = lookup.analysis.rollups.cultures[culture.id].be_median
        return species.text.casefold() if species else "~", -(be_median or 0.0)

    newest_first = lookup.journal.cultures[::-1]
    return sorted(newest_first, key=use)


def _row(lookup: Lookup, culture: Culture, received: Mapping[str, str]) -> dict[str, Any]:
    descent = lookup.analysis.lineage.descents[culture.id]
    rollup = lookup.analysis.rollups.cultures[culture.id]
    stage = lookup.analysis.progress[culture.id].stage
    doubts = [] if lookup.analysis.confirmed[culture.id] else ["identity not confirmed"]
    if culture.id in lookup.analysis.doubtful:
        doubts.append("in doubt")
    line, share = descent.line, rollup.lost_of_units
    took = pinning_days(lookup, rollup)
    middle = median(took) if took else None
    return {
        "label": lookup.label(culture.id),
        "species": species_words(culture.species),
        "made": lookup.how_made(culture),
        "standing": tuple(filter(None, ("master" if culture.master else None, stage))),
        "doubts": ", ".join(doubts) or None,
        "origin": {
            "finds": lookup.labels(lookup.analysis.lineage.wild_origins_of(culture.id)),
            "received": culture.received_from or received.get(culture.id),
            "line": lookup.label(line) if line and line != culture.id else None,
        },
        "transfers": descent.transfers,
        "generation": descent.spawn_generation,
        "batches": len(rollup.batches),
        "be": _be_cell(lookup, rollup),
        "pins": {
            "sort": wording.number(middle) if middle is not None else "",
            "median": f"{wording.number(middle)} d" if middle is not None else None,
            "spread": spread(took, "batch", "batches") if took else None,
        },
        "lost": {
            "sort": wording.number(share.value * 100, 2) if share else "",
            "share": f"{wording.number(share.value * 100, 0)} %" if share else None,
            "counts": f"{share.part} of {share.whole}" if share else None,
        },
        "kept": culture.kept,
        "renewal": _renewal(lookup, culture),
        "age_from": _age_from(culture),
        "iso": culture.date.iso,
        "when": wording.when_in_few_words(culture.date),
        "days": culture.date.first.toordinal(),
    }


def _age_from(culture: Culture) -> str:
    """The day from which its age counts, "" where less than that is known."""
    day = calendar_day(culture.date)
    return day.isoformat() if day else ""


def _be_cell(lookup: Lookup, rollup: Rollup) -> dict[str, Any]:
    """The median BE of the finished batches, by which it sorts; what is still running stands beside it, so far."""
    values = sorted(be_values(lookup, rollup.counted))
    so_far = None
    if rollup.be and not set(be_counts(rollup)) <= set(rollup.finished):
        n = counted(len(be_counts(rollup)), "batch", "batches")
        so_far = f"so far {wording.number(rollup.be.value, 0)} %, {n}"
    return {
        "sort": wording.number(rollup.be_median, 2) if rollup.be_median is not None else "",
        "median": f"{wording.number(rollup.be_median, 0)} %" if rollup.be_median is not None else None,
        "spread": spread(values, "batch", "batches") if values else None,
        "so_far": so_far,
    }


def spread(values: Sequence[float], one: str, several: str) -> str:
    """`41–77, 3 batches`, or `1 batch`: the least and greatest of a sorted sample, and how many there are."""
    n = counted(len(values), one, several)
    low, high = (wording.number(value, 0) for value in (values[0], values[-1]))
    return n if low == high else f"{low}–{high}, {n}"


def _renewal(lookup: Lookup, culture: Culture) -> dict[str, Any] | None:
    renewal = lookup.analysis.renewals.get(culture.id)
    if renewal is None:
        return None
    iso, day = (renewal.day.isoformat(), wording.day_in_words(renewal.day)) if renewal.day else (None, None)
    return {"what": renewal.what, "iso": iso, "day": day, "words": renewal.words}


def _culture(lookup: Lookup, culture: Culture) -> Page:
    own = lookup.pictures.beside(culture)
    line = lookup.analysis.lineage.descents[culture.id].line
    lines = [
        ("form", culture.form),
        ("medium", culture.medium),
        ("treatment", culture.treatment),
        ("master", "yes, kept as the original" if culture.master else None),
        ("made by", culture.by),
    ]
    context = {
        "title": f"{culture.id} {lookup.name_of(culture)}",
        "place": "Cultures",
        "name": species_words(culture.species),
        "made": lookup.how_made(culture),
        "when": wording.when_in_words(culture.date),
        "age_from": _age_from(culture),
        "stage": wording.stage_in_words(lookup.analysis.progress[culture.id].stage),
        "kept": culture.kept,
        "came_from": {
            "labels": [(lookup.label(ref.id), ref.part) for ref in culture.sources],
            "received": culture.received_from,
            "unshared": culture.unshared_sources > 0,
        },
        "numbers": tuple(culture_numbers(lookup, culture)),
        "grown": grown_from(lookup, lookup.analysis.rollups.cultures[culture.id]),
        "descent": culture_descent(lookup, culture.id),
        "facts": [(what, words) for what, words in lines if words],
        "renewal": _renewal(lookup, culture),
        "hero": own[0] if own else None,
        "pictures": own[1:],
        "doubt": lookup.doubt(culture),
        "line": lookup.label(line) if line and line != culture.id else None,
        "compare": addresses.in_comparison(line) if line and lookup.analysis.rollups.lines[line].finished else None,
    }
    return lookup.page_of(culture, context)


def above(lookup: Lookup, row: Culture | Batch) -> list[dict[str, Any]]:
    """What stands above a culture or batch, the wild first: everything, or of a very long line what is nearest."""
    nearest = lookup.analysis.lineage.nearest(row.id, lookup.analysis.lineage.parents, WHOLE)
    tops = lookup.analysis.lineage.tops.get(row.id, ()) if len(nearest) == WHOLE else ()
    names = sorted({*nearest, *tops}, key=lookup.analysis.lineage.rank.__getitem__)
    steps = []
    for entry in (lookup.journal.by_id[name.lower()] for name in names):
        match entry:
            case Find():
                words = "wild find" + (f" at {entry.place}" if entry.place else "")
            case Culture():
                words = lookup.how_made(entry)
            case Batch():
                words = "fruited as a batch"
            case _:
                continue
        steps.append({"label": lookup.label(entry.id), "words": words, "when": wording.when_in_words(entry.date)})
    return steps
