"""The table of the cultures: what each came from, how old it is, and what was grown from it so far."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from statistics import median
from typing import Any

from journal.analysis.progress import iso_day
from journal.analysis.rollups import Rollup
from journal.analysis.species_names import name_of_kind
from journal.model import Culture
from journal.quantities import counted
from journal.reading.keys import STAGES
from journal.site import addresses, wording
from journal.site.pages.entry_words import headline
from journal.site.pages.grown_from import be_counts, be_values, pinning_days
from journal.site.pages.growth_section import growth_of_all
from journal.site.pages.long_lists import FILTERED_FROM, OPEN_ROWS, LongList, filters_of, folded, species_compared
from journal.site.pages.lookup import Lookup, species_words
from journal.site.plan import Page

LIST = LongList("cultures", "Cultures", "Cultures", addresses.CULTURES, "culture", "cultures")


def list_pages(lookup: Lookup) -> Iterator[Page]:
    """The list of the cultures, and the pages of its folded parts."""
    newest_first = lookup.journal.cultures[::-1]

    def use(culture: Culture) -> tuple[str, float]:  # by species, those that gave most first, then the newest
        species = name_of_kind(culture.species, lookup.settings.names)
        rollup = lookup.analysis.rollups.cultures[culture.id]
        be_median = rollup.be_median if len(rollup.counted) > 1 else None  # one batch ranks no line
        return species.casefold() or "~", -(be_median or 0.0)

    in_order = sorted(newest_first, key=use)
    current = _current(lookup)
    rows = {culture.path: lookup.keep("culture's row", culture, partial(_row, lookup, culture)) for culture in in_order}
    shown = [rows[culture.path] for culture in in_order if culture.path in current]
    others = [(culture.date.first, rows[culture.path]) for culture in in_order if culture.path not in current]
    years, parts = folded(LIST, others)
    stages = filter(None, map(wording.stage_in_words, STAGES["culture"]))
    shown, letters = _with_letters(shown) if len(rows) >= FILTERED_FROM else (shown, ())
    context = {
        "title": "Cultures",
        "place": "Cultures",
        "rows": shown,
        "years": years,
        "jumps": tuple((f"letter-{letter}", letter) for letter in letters),
        "filters": filters_of([*rows.values()], ("species", "Species"), ("line", "Line"), stages=stages),
        "compare": addresses.COMPARE,
        "growth": growth_of_all(lookup),
    }
    yield Page("cultures", (), addresses.CULTURES, "cultures/list.html", context, "main", growing=True)
    yield from parts


def _current(lookup: Lookup) -> frozenset[str]:
    """Paths of the cultures that stand unfolded: all where they are few, else the newest of those that still live."""
    cultures = lookup.journal.cultures
    if len(cultures) > OPEN_ROWS:
        cultures = tuple(one for one in cultures if not lookup.analysis.progress[one.id].is_over)[-OPEN_ROWS:]
    return frozenset(culture.path for culture in cultures)


def _with_letters(rows: Sequence[dict[str, Any]]) -> tuple[list[dict[str, Any]], tuple[str, ...]]:
    """The rows with the first of each letter marked by it, and these letters."""
    letters: dict[str, int] = {}
    for at, row in enumerate(rows):
        first = next(iter(row["filter"]["species"]), "?")[0].upper()
        letters.setdefault(first if first.isalnum() else "?", at)
    marked = {at: letter for letter, at in letters.items() if letter != "?"}
    return [{**row, "letter": marked.get(at)} for at, row in enumerate(rows)], tuple(marked.values())


def _row(lookup: Lookup, culture: Culture) -> dict[str, Any]:
    descent = lookup.analysis.lineage.descents[culture.id]
    rollup = lookup.analysis.rollups.cultures[culture.id]
    stage = lookup.analysis.progress[culture.id].stage
    doubts = [] if lookup.analysis.confirmed[culture.id] else ["identity not confirmed"]
    if culture.id in lookup.analysis.doubtful:
        doubts.append("in doubt")
    line, share = descent.line, rollup.lost_of_units
    return {
        "label": lookup.label(culture.id),
        "species": species_words(culture.species),
        "own_title": headline(culture),
        "made": lookup.how_made(culture),
        "standing": tuple(filter(None, ("master" if culture.master else None, stage))),
        "doubts": ", ".join(doubts) or None,
        "origin": {
            "finds": lookup.labels(lookup.analysis.lineage.wild_origins_of(culture.id)),
            "received": culture.received_from or lookup.analysis.received_above.get(culture.id),
            "line": lookup.label(line) if line and line != culture.id else None,
        },
        "transfers": (descent.transfers_at_least, (wording.transfers_in_words(descent) or "").replace("T", "")),
        "generation": descent.spawn_generation,
        "batches": len(rollup.batches),
        "be": _be_cell(lookup, rollup),
        "pins": _pins_cell(pinning_days(lookup, rollup)),
        "lost": {
            "sort": wording.number(share.value * 100, 2) if share else "",
            "share": f"{wording.number(share.value * 100, 0)} %" if share else None,
            "counts": f"{share.part} of {share.whole}" if share else None,
        },
        "kept": culture.kept,
        "renewal": renewal_of(lookup, culture),
        "age_from": iso_day(culture.date) or "",
        "iso": culture.date.iso,
        "when": wording.when_in_few_words(culture.date),
        "days": culture.date.first.toordinal(),
        "letter": None,
        "filter": {
            "species": species_compared([culture.species], lookup.settings.names),
            "stage": wording.stage_in_words(stage),
            "line": line,
        },
    }


def _pins_cell(took: Sequence[int]) -> dict[str, Any]:
    """took: the days that its batches took to the first pins."""
    middle = median(took) if took else None
    return {
        "sort": wording.number(middle) if middle is not None else "",
        "median": f"{wording.number(middle)} d" if middle is not None else None,
        "spread": spread(took, "batch", "batches") if took else None,
    }


def _be_cell(lookup: Lookup, rollup: Rollup) -> dict[str, Any]:
    """The median BE of the finished batches, by which it sorts where there are several, since one batch ranks no line;
    what is still running is beside it, so far."""
    values = sorted(be_values(lookup, rollup.counted))
    so_far = None
    if rollup.be and not set(be_counts(rollup)) <= set(rollup.finished):
        n = counted(len(be_counts(rollup)), "batch", "batches")
        so_far = f"so far {wording.number(rollup.be.value, 0)} %, {n}"
    return {
        "sort": wording.number(rollup.be_median, 2) if rollup.be_median is not None and len(values) > 1 else "",
        "median": f"{wording.number(rollup.be_median, 0)} %" if rollup.be_median is not None else None,
        "spread": spread(values, "batch", "batches") if values else None,
        "so_far": so_far,
    }


def spread(values: Sequence[float], one: str, several: str) -> str:
    """`41–77, 3 batches`, or `1 batch`: the least and greatest of a sorted sample, and how many there are."""
    n = counted(len(values), one, several)
    low, high = (wording.number(value, 0) for value in (values[0], values[-1]))
    return n if low == high else f"{low}–{high}, {n}"


def renewal_of(lookup: Lookup, culture: Culture) -> dict[str, Any] | None:
    renewal = lookup.analysis.renewals.get(culture.id)
    if renewal is None:
        return None
    iso, day = (renewal.day.isoformat(), wording.day_in_words(renewal.day)) if renewal.day else (None, None)
    return {"what": renewal.what, "iso": iso, "day": day, "words": renewal.words}
