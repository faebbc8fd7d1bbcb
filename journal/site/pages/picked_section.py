"""What was picked, by permit and day, as the page of finds shows it; in no share."""

from __future__ import annotations

from typing import Any

from journal.analysis.permits import PermitUse, PickedDay
from journal.analysis.progress import calendar_day
from journal.model import Find
from journal.site import wording
from journal.site.pages.lookup import Lookup
from journal.site.wording import Units

MOST_DAYS = 60


def picked_section(lookup: Lookup) -> list[dict[str, Any]]:
    """A part for each permit that was used or holds, and one for what was picked under none."""
    if lookup.share is not None:
        return []
    return [_permit(lookup, use) for use in lookup.analysis.permit_uses]


def _permit(lookup: Lookup, use: PermitUse) -> dict[str, Any]:
    units = lookup.units
    permit = use.permit
    bounds = []
    if permit is not None:
        bounds = [f"{wording.mass(permit.a_day_g, units)} a day"] if permit.a_day_g is not None else []
        bounds += [f"{wording.mass(permit.in_all_g, units)} in all"] if permit.in_all_g is not None else []
        if permit.first and permit.last:
            bounds.append(wording.days_in_words(permit.first, permit.last))
        elif permit.first or permit.last:
            day = wording.day_in_words(permit.first or permit.last or use.days[0].day)
            bounds.append(f"{'from' if permit.first else 'to'} {day}")
    left_g = use.left_g
    return {
        "name": permit.name if permit else "Under no permit written here",
        "allows": ", ".join(bounds),
        "total": wording.mass(use.mass_g, units),
        "left": wording.mass(left_g, units) if left_g is not None and left_g >= 0 else None,
        "over": wording.mass(-left_g, units) if left_g is not None and left_g < 0 else None,
        "outside": wording.mass(use.outside_g, units) if use.outside_g else None,
        "days": [
            {
                "day": wording.day_in_words(day.day),
                "finds": lookup.labels(day.finds),
                "mass": wording.mass(day.mass_g, units),
                "warn": _warning(use, day, units),
            }
            for day in use.days[: -MOST_DAYS - 1 : -1]
        ],
        "more": max(0, len(use.days) - MOST_DAYS),
    }


def _warning(use: PermitUse, day: PickedDay, units: Units) -> str:
    if use.is_outside(day):
        return "the permit does not hold then: not in the sum"
    return f"{wording.mass(use.over_g(day), units)} over the limit of a day" if use.over_g(day) else ""


def picked_words(lookup: Lookup, find: Find) -> str | None:
    """`640 g, under common-wood`, with a warning where that permit did not hold on its day; None where nothing is
    written, and in a share."""
    if find.picked_mass_g is None or lookup.share is not None:
        return None
    under = f", under {find.permit}" if find.permit else ""
    named = (one for one in lookup.settings.permits if one.name.casefold() == (find.permit or "").casefold())
    day, permit = calendar_day(find.date), next(named, None)
    outside = ", which did not hold on that day" if permit and day and not permit.holds_on(day) else ""
    return wording.mass(find.picked_mass_g, lookup.units) + under + outside
