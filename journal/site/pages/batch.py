"""One batch's page: how it stands and what comes next, its crop and its days, its course, and where it comes from."""

from __future__ import annotations

from typing import Any

from journal.model import Batch
from journal.reckoning.expecting import why_nothing
from journal.site import addresses, wording
from journal.site.pages.ahead import ahead_of
from journal.site.pages.asking import asking_of
from journal.site.pages.batch_days import days_table
from journal.site.pages.common import Lookup, species_words
from journal.site.pages.crop import crop_of
from journal.site.pages.crop_words import unit_word
from journal.site.pages.cultures import above
from journal.site.pages.run import run_chart
from journal.site.pages.sums import link_with
from journal.site.plan import Page


def page(lookup: Lookup, batch: Batch) -> Page:
    context = {
        "title": f"{batch.id} {lookup.name_of(batch)}",
        "place": "Batches",
        "id": batch.id,
        "label": lookup.label(batch.id),
        "name": species_words(batch.species),
        "units": wording.count(batch.units, unit_word(batch)),
        **_standing(lookup, batch),
        **_origin(lookup, batch),
        **_course(lookup, batch),
        "run_chart": run_chart(lookup, batch),
        "crop": crop_of(lookup, batch),
        "days": days_table(lookup, batch),
        "facts": _facts(lookup, batch),
        "sums": link_with(lookup, batch),
        "leads": lookup.leads_to(batch),
    }
    section = f"batches-{batch.date.first.year}"
    is_growing = batch.id in lookup.growing_ids
    values = (("name", batch.id.lower()),)
    return Page("batch", values, addresses.page_of(batch), "batches/batch.html", context, section, is_growing)


def _standing(lookup: Lookup, batch: Batch) -> dict[str, Any]:
    """The day it is in, its stage and place, and what comes next."""
    run = lookup.runs[batch.id]
    tent = lookup.labels([run.tent]) if run.tent else ()
    last = (batch, *lookup.entries_on(batch))[-1]
    return {
        "written_to": wording.day_in_words(last.date.first),
        "stage": run.stage,
        "stage_since": wording.date_in_words(run.stage_since) if run.stage_since else None,
        "day0": run.day0.isoformat() if run.day0 else None,
        "told_from": wording.day_in_words(batch.told_from) if batch.told_from else None,
        "day0_words": wording.day_in_words(run.day0) if run.day0 else None,
        "ended_on_day": (run.over_on - run.day0).days if run.over_on and run.day0 else None,
        "is_over": run.is_over,
        "tent": tent[0] if tent else None,
        "ahead": ahead_of(lookup, batch.id),
        "nothing_ahead": why_nothing(batch, run, lookup.evidence, lookup.lineage),
    }


def _origin(lookup: Lookup, batch: Batch) -> dict[str, Any]:
    """Where it comes from and what was taken from it, and how sure its name is."""
    return {
        "cultures": [(lookup.label(ref.id), ref.part) for ref in batch.cultures],
        "unshared": batch.unshared_sources > 0,
        "above": above(lookup, batch),
        "wild": lookup.labels(lookup.lineage.wild_origins_of(batch.id)),
        "taken": lookup.labels(c.id for c in lookup.journal.cultures if any(r.id == batch.id for r in c.sources)),
        "identity": lookup.identity(batch),
        "doubt": lookup.doubt(batch),
    }


def _course(lookup: Lookup, batch: Batch) -> dict[str, Any]:
    """What was written and photographed of it."""
    day0 = lookup.runs[batch.id].day0
    return {
        "begun": {"iso": batch.date.iso, "words": wording.when_in_words(batch.date)},
        "hero": lookup.face(batch),
        "pictures": lookup.pictures.beside(batch),
        "prose": lookup.prose(batch),
        "asking": asking_of(lookup, batch),
        "nexts": lookup.nexts(batch),
        "entries": [lookup.told(entry, batch, day0) for entry in lookup.entries_on(batch)],
        "larger": any(len(picture.sources) > 1 for picture in lookup.photos_about(batch)),
    }


def _facts(lookup: Lookup, batch: Batch) -> list[tuple[str, str]]:
    units = lookup.units
    mix = ", ".join(f"{part.name} {wording.mass(part.mass_g, units)}" for part in batch.mix)
    wants = [wording.humidity_band(batch.wants_humidity_pct)] if batch.wants_humidity_pct else []
    if batch.wants_temperature_c:
        wants.append(wording.temperature_band(batch.wants_temperature_c, units))
    lines = [
        ("substrate", batch.substrate),
        ("container", batch.container),
        ("mix, whole lot", mix),
        ("wet, a unit", wording.mass(batch.wet_g, units) if batch.wet_g is not None else None),
        ("moisture", wording.percent(batch.moisture_pct) if batch.moisture_pct is not None else None),
        ("heat", batch.heat),
        ("spawn, a unit", wording.mass(batch.spawn_g, units) if batch.spawn_g is not None else None),
        ("wants", ", ".join(wants)),
        ("made by", batch.by),
    ]
    return [(what, words) for what, words in lines if words]
