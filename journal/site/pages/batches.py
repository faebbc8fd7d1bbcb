"""The batches: by tent and stage, as lines of a list, and one by one: the state of each, and what comes next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from functools import partial
from typing import Any

from journal.analysis.forecast import DaysTaken, OtherBatches, days_taken, why_nothing
from journal.analysis.progress import Progress
from journal.model import Batch
from journal.quantities import counted
from journal.reading.keys import STAGES
from journal.site import addresses, wording
from journal.site.figures import Figure
from journal.site.pages.batch_timeline import timeline_chart
from journal.site.pages.calculators import link_with
from journal.site.pages.crop import crop_in_words, crop_of, four_and_more, unit_word
from journal.site.pages.cultures import above
from journal.site.pages.entry_words import earlier_ids, headline
from journal.site.pages.heat_section import heat_section
from journal.site.pages.long_lists import OPEN_ROWS, LongList, filters_of, folded, species_compared
from journal.site.pages.lookup import Lookup, species_words
from journal.site.plan import Page, Planned

LIST = LongList("batches", "Batches", "Batches", addresses.BATCHES, "batch", "batches")
GROWING = LongList("growing", "Growing batches", "Batches", addresses.BATCHES, "batch", "batches")


MOST_GROWING = 16
"""How many batches that grow stand unfolded at most."""


def ahead_of(lookup: Lookup, id: str) -> dict[str, Any] | None:
    """What to look for next of a batch; None where nothing is expected. first, last: ISO dates, both included; last is
    None where there is no range. is_firm: it is late after the last. basis: what they rest on, in a few words;
    rests_on: in full, with the days counted."""
    found = lookup.analysis.expected.get(id)
    if not found:
        return None
    by_batches = f"by {counted(found.n or 0, 'finished batch', 'finished batches')} of its {found.basis}"
    by = {"batch": "by its own flushes", "published": "by a published range", "practice": "by common practice"}
    return {
        "what": found.what,
        "first": found.from_day.isoformat(),
        "last": found.to_day.isoformat() if found.to_day else None,
        "is_firm": found.late_after is not None,
        "from_words": wording.day_in_words(found.from_day),
        "from_short": wording.day_in_few_words(found.from_day),
        "until_words": f"usually by {wording.day_in_words(found.to_day)}" if found.to_day else "or later",
        "basis": by.get(found.basis, by_batches),
        "rests_on": wording.ranges_in_units(found.words, lookup.units),
    }


def batch_line(lookup: Lookup, batch: Batch) -> dict[str, Any]:
    """What the line says: its stage, its harvest so far, what is expected next. picture: or the wild find's."""
    return lookup.keep("batch's line", batch, partial(_line, lookup, batch))


def _line(lookup: Lookup, batch: Batch) -> dict[str, Any]:
    run = lookup.analysis.progress[batch.id]
    finds = (lookup.journal.by_id[name.lower()] for name in lookup.analysis.lineage.wild_origins_of(batch.id))
    faces = (lookup.face(find, newest=False) for find in finds)
    return {
        "label": lookup.label(batch.id),
        "species": species_words(batch.species),
        "own_title": headline(batch),
        "stage": wording.stage_in_words(run.stage, run.stage_derived),
        "words": "; ".join(filter(None, (crop_in_words(lookup, batch), parts_in_stages(run)))),
        "when": wording.when_in_words(batch.date),
        "day0": run.day0.isoformat() if run.day0 and not run.is_over else None,
        "nexts": lookup.nexts_about(batch.id),
        "ahead": ahead_of(lookup, batch.id),
        "picture": lookup.face(batch) or next(filter(None, faces), None),
        "unconfirmed": lookup.identity(batch) is not None,
        "in_doubt": lookup.doubt(batch) is not None,
        "filter": {
            "species": species_compared([batch.species], lookup.settings.names),
            "stage": wording.stage_in_words(run.stage),
            "place": place_name(lookup, batch),
            "line": ", ".join(lookup.analysis.lineage.lines_of(batch.id)),
        },
    }


def parts_in_stages(run: Progress) -> str | None:
    """Units not lost that are in another stage than the whole, and those whose pins gave it its stage: `no. 5
    contaminated`, `pins on no. 1 and 2 of 6`."""
    lost = {part for note in run.losses for ref in note.about if (part := ref.part) is not None}
    by_stage: dict[str | None, list[str]] = {}
    for part, note in run.parts_staged.items() if not run.is_over else ():
        gave = run.stage_derived == "from the first pins"
        if part not in lost and (gave or note.stage != run.stage):
            by_stage.setdefault(note.stage, []).append(str(part))
    words = []
    for stage, parts in by_stage.items():
        named = f"no. {wording.joined(parts)}"
        of = f" of {run.inoculated}" if run.inoculated else ""
        words.append(f"{named} {wording.stage_in_words(stage)}" if stage != run.stage else f"pins on {named}{of}")
    return ", ".join(words) or None


FORMULA = (
    "whole calendar days between the two dates; for the other batches the median (half-way between the two middle "
    "values where their number is even), the least and the greatest"
)
SOURCE = "common practice: plain counting of days. A day that is not known exactly gives no number"


def days_table(lookup: Lookup, batch: Batch) -> dict[str, Any]:
    """What a batch took so far, and what of it others took. of: what all these others have in common with it."""
    run = lookup.analysis.progress[batch.id]
    taken = days_taken(batch, run, lookup.analysis.evidence, lookup.analysis.lineage)
    in_common = {one.others.of for one in taken if one.others}
    of = in_common.pop() if len(in_common) == 1 else None
    still = "not recorded" if run.is_over else "not yet"
    of_all = f" of {run.inoculated}" if run.inoculated else ""
    on = f" (on {len(run.first_pinned)}{of_all})" if run.first_pinned else ""
    rows = tuple(
        {
            "what": one.what,
            "days": still if one.days is None else counted(one.days, "day") + (on if one.to_first_pins else ""),
            "others": _others_words(one.others, names_them=of is None) if one.others else None,
        }
        for one in taken
    )
    return {
        "rows": rows,
        "has_others": any(row["others"] for row in rows),
        "of": of,
        "calculation": _calculation(run, taken),
    }


def _calculation(run: Progress, taken: Sequence[DaysTaken]) -> Figure | None:
    """None where no day is known from which anything could be counted, and nothing of the others."""
    others = [
        (f"{one.what}, others", ", ".join(f"{batch} {days} d" for batch, days in one.others.took))
        for one in taken
        if one.others
    ]
    has_note = any(note.stage == "inoculated" for note in run.whole_notes)
    whose = "the first note with the stage inoculated" if has_note else "the day of the batch"
    day0 = [("day 0", f"{wording.day_in_words(run.day0)}, {whose}")] if run.day0 else []
    if not day0 and not others:
        return None
    return Figure(number="each span", words="", inputs=(*day0, *others), formula=FORMULA, source=SOURCE)


def _others_words(others: OtherBatches, names_them: bool) -> str:
    """`28 (n = 1)`, `median 12, range 10 to 20 (n = 3)`."""
    of = f", {others.of}" if names_them else ""
    if others.n == 1:
        return f"{others.low_d} (n = 1{of})"
    return f"median {wording.number(others.median_d)}, range {others.low_d} to {others.high_d} (n = {others.n}{of})"


def page(lookup: Lookup, batch: Batch) -> Page:
    timeline, crop = timeline_chart(lookup, batch), crop_of(lookup, batch)
    numbers, more_numbers = four_and_more(crop, timeline.figures if timeline else ())
    context = {
        "title": f"{batch.id} {lookup.name_of(batch)}",
        "place": "Batches",
        "name": species_words(batch.species),
        "units": wording.how_many(batch.units, unit_word(batch)),
        **_stage_facts(lookup, batch),
        **_origin(lookup, batch),
        "timeline": timeline,
        "crop": crop,
        "numbers": numbers,
        "more_numbers": more_numbers,
        "days": days_table(lookup, batch),
        "facts": _facts(lookup, batch),
        "heat": heat_section(lookup, batch),
        "calculators": link_with(lookup, batch),
        "begun": {"iso": batch.date.iso, "words": wording.when_in_words(batch.date)},
        "hero": lookup.face(batch),
        "pictures": lookup.pictures.beside(batch),
    }
    return lookup.page_of(batch, context, lookup.analysis.progress[batch.id].day0)


def _stage_facts(lookup: Lookup, batch: Batch) -> dict[str, Any]:
    """The day it is in, its stage and place, and what comes next."""
    run = lookup.analysis.progress[batch.id]
    tent = lookup.labels([run.tent]) if run.tent else ()
    last = (batch, *lookup.entries_on(batch))[-1]
    return {
        "written_to": lookup.last_entry(last)[0],
        "stage": wording.stage_in_words(run.stage, run.stage_derived),
        "stage_since": wording.date_in_words(run.stage_since) if run.stage_since else None,
        "day0": run.day0.isoformat() if run.day0 else None,
        "shared_from": wording.day_in_words(batch.shared_from) if batch.shared_from else None,
        "day0_words": wording.day_in_words(run.day0) if run.day0 else None,
        "ended_on_day": (run.over_on - run.day0).days if run.over_on and run.day0 else None,
        "is_over": run.is_over,
        "tent": tent[0] if tent else None,
        "parts_in_stages": parts_in_stages(run),
        "planned": lookup.nexts_about(batch.id),
        "ahead": ahead_of(lookup, batch.id),
        "nothing_ahead": why_nothing(batch, run, lookup.analysis.evidence, lookup.analysis.lineage),
    }


def _origin(lookup: Lookup, batch: Batch) -> dict[str, Any]:
    """Where it comes from and what was taken from it, and how sure its name is."""
    return {
        "cultures": [(lookup.label(ref.id), ref.part) for ref in batch.cultures],
        "unshared": batch.unshared_sources > 0,
        "above": above(lookup, batch),
        "wild": lookup.labels(lookup.analysis.lineage.wild_origins_of(batch.id)),
        "taken": lookup.labels(culture.id for culture in lookup.indexes.cultures_from.get(batch.id, ())),
        "doubt": lookup.doubt(batch),
    }


def _facts(lookup: Lookup, batch: Batch) -> list[tuple[str, str]]:
    units = lookup.units
    mix = ", ".join(f"{part.name} {wording.mass(part.mass_g, units)}" for part in batch.mix)
    wants = [wording.humidity_range(batch.wants_humidity_pct)] if batch.wants_humidity_pct else []
    if batch.wants_temperature_c:
        wants.append(wording.temperature_range(batch.wants_temperature_c, units))
    if batch.wants_humidity_while_colonising_pct:
        wants.append(f"{wording.humidity_range(batch.wants_humidity_while_colonising_pct)} while colonising")
    if batch.wants_temperature_while_colonising_c:
        wants.append(f"{wording.temperature_range(batch.wants_temperature_while_colonising_c, units)} while colonising")
    lines = [
        ("substrate", batch.substrate),
        ("container", batch.container),
        ("mix, whole batch", mix),
        ("wet, a unit", wording.mass(batch.wet_g, units) if batch.wet_g is not None else None),
        ("moisture", wording.percent(batch.moisture_pct) if batch.moisture_pct is not None else None),
        ("treatment", batch.treatment),
        ("spawn, a unit", wording.mass(batch.spawn_g, units) if batch.spawn_g is not None else None),
        ("liquid spawn, a unit", f"{wording.number(batch.spawn_ml)} ml" if batch.spawn_ml is not None else None),
        ("cost, whole batch", None if batch.cost is None else wording.money(batch.cost, lookup.settings.currency)),
        ("wants", ", ".join(wants)),
        ("made by", batch.by),
        earlier_ids(batch),
    ]
    return [(what, words) for what, words in lines if words]


_BY_NEED = (
    "fruiting", "pinning", "contaminated", "colonised", "resting", "colonising", "inoculated", "stored",
)  # fmt: skip

_MORE = (("Plan", addresses.PLAN), ("Losses", addresses.LOSSES), ("Costs", addresses.COSTS))
"""Pages about all batches, which a share does not have."""

NOWHERE = "Place not recorded"


def pages(lookup: Lookup) -> Iterator[Planned]:
    yield from lookup.together("batches", (addresses.BATCHES,), partial(_list_pages, lookup))
    for batch in lookup.journal.batches:
        yield lookup.keep_page("batch", batch, addresses.page_of(batch), partial(page, lookup, batch))


def _list_pages(lookup: Lookup) -> Iterator[Page]:
    current, older = growing(lookup)
    over = [b for b in reversed(lookup.journal.batches) if lookup.analysis.progress[b.id].is_over]
    finished = over if len(lookup.journal.batches) <= OPEN_ROWS else []
    # what grows, by where it stands: the tents in the settings' order, what is in none last
    groups: dict[str, list[dict[str, Any]]] = {tent.name: [] for tent in lookup.settings.tents}
    for batch in current:
        groups.setdefault(place_name(lookup, batch) or NOWHERE, []).append(batch_line(lookup, batch))
    older_years, older_parts = folded(GROWING, [(b.date.first, batch_line(lookup, b)) for b in older[::-1]])
    years, parts = folded(LIST, [] if finished else [(b.date.first, batch_line(lookup, b)) for b in over])
    rows = [batch_line(lookup, batch) for batch in lookup.journal.batches]
    fields = (("species", "Species"), ("place", "Place"), ("line", "Line"))
    context = {
        "title": "Batches",
        "place": "Batches",
        "more": () if lookup.share else _MORE,
        "groups": [(place, rows) for place, rows in groups.items() if rows],
        "older": older_years,
        "finished": [batch_line(lookup, batch) for batch in finished],
        "years": years,
        "filters": filters_of(rows, *fields, stages=filter(None, map(wording.stage_in_words, STAGES["batch"]))),
    }
    yield Page("batches", (), addresses.BATCHES, "batches/list.html", context, "main", growing=True)
    yield from (*older_parts, *parts)


def growing(lookup: Lookup) -> tuple[list[Batch], list[Batch]]:
    """The batches that are not over: those that want looking at first, then the oldest. Where they are many, these are
    those with the latest entries; the others stand apart, the oldest first."""
    progress = lookup.analysis.progress

    def need(batch: Batch) -> tuple[int, Any, str]:
        stage = progress[batch.id].stage
        place = _BY_NEED.index(stage) if stage in _BY_NEED else len(_BY_NEED)
        return (place, batch.date.first, batch.path)

    def latest(batch: Batch) -> tuple[date, date, str]:
        entries = lookup.entries_on(batch)
        return (entries[-1].date.first if entries else batch.date.first, batch.date.first, batch.path)

    all_of_them = [batch for batch in lookup.journal.batches if not progress[batch.id].is_over]
    current = sorted(all_of_them, key=latest)[-MOST_GROWING:]
    paths = {batch.path for batch in current}
    return sorted(current, key=need), [batch for batch in all_of_them if batch.path not in paths]


def place_name(lookup: Lookup, batch: Batch) -> str | None:
    """Where a batch stands now, in the settings' words."""
    where = lookup.analysis.progress[batch.id].tent
    row = lookup.journal.by_id.get(where.lower()) if where else None
    return lookup.name_of(row) if row is not None else None
