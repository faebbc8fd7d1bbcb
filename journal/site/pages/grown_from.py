"""What was grown from a culture or find, as a page shows it: figures, and what was lost at which step."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from journal.analysis.comparison import FEWEST_BATCHES
from journal.analysis.milestones import milestones
from journal.analysis.rollups import Rollup, StepLoss
from journal.analysis.statistics import Proportion, fewest_for_median
from journal.quantities import counted
from journal.site import wording
from journal.site.figures import Figure, figure
from journal.site.pages.lookup import Lookup

MEDIAN_SOURCE = (
    "order statistics, with no shape of the distribution assumed: between the r-th value from below and the r-th from "
    "above the median lies with probability 1 − 2 P(X < r), X binomial (n, 1/2) (W. J. Conover, Practical "
    "Nonparametric Statistics, 3rd edition)"
)
WEIGHED_SOURCE = "as the author weighed it: fresh, trimmed and unwashed"
SHARE_SOURCE = (
    "interval: Wilson's score; R. G. Newcombe, Statistics in Medicine 17:857-872, 1998, method 3. It supposes that "
    "each unit was lost or not by itself"
)

_STEPS = {
    "plate": "plates",
    "slant": "slants",
    "liquid": "jars of liquid",
    "syringe": "syringes",
    "grain": "jars of grain",
    "sawdust": "bags of sawdust",
    "plugs": "jars of plugs",
    "spore print": "spore prints",
    "vessel": "containers of unknown form",
    "batch": "units of batches",
}


def grown_from(lookup: Lookup, rollup: Rollup) -> dict[str, Any]:
    note = None
    if not rollup.batches:
        note = "No batch was made with it yet."
    elif not rollup.harvest_g and not rollup.final:
        note = f"{_of_batches(lookup, rollup.batches)}: nothing harvested yet."
    return {
        "figures": tuple(_figures(lookup, rollup)),
        "note": note,
        "asides": tuple(_asides(lookup, rollup)),
        "losses": tuple(_lost(lookup, loss) for loss in rollup.losses if loss.inoculated or loss.uncounted),
    }


def _figures(lookup: Lookup, rollup: Rollup) -> Iterator[Figure]:
    so_far = "" if rollup.final else " so far"
    if rollup.harvest_g or (rollup.batches and rollup.final):
        shown = [(name, wording.mass(lookup.analysis.yields[name].harvest_g, lookup.units)) for name in rollup.batches]
        yield Figure(
            number=wording.mass(rollup.harvest_g, lookup.units),
            words=f"harvested{so_far}, from {counted(len(rollup.batches), 'batch', 'batches')}",
            inputs=tuple(shown),
            formula="sum of the harvests of all batches",
            source=WEIGHED_SOURCE,
        )
        if rollup.be:
            finished = ", finished" if _is_lone(rollup) else ""
            words = f"BE{'' if finished else so_far} of the {_of_batches(lookup, be_counts(rollup))}{finished}"
            note = "; ".join(_note(lookup, rollup))
            yield figure(rollup.be, words, lookup.units, note=note or None)
    if rollup.counted and not _is_lone(rollup):
        yield _median(lookup, rollup)
    if rollup.lost_of_units:
        crops = [lookup.analysis.yields[name] for name in rollup.finished if name not in rollup.partly_shared]
        yield lost_figure(rollup.lost_of_units, sum(crop.inoculated is not None for crop in crops))


def _of_batches(lookup: Lookup, names: Sequence[str]) -> str:
    """`10 units inoculated in 2 batches`."""
    made = [lookup.analysis.yields[name].inoculated for name in names]
    units = None if None in made else sum(filter(None, made))
    return f"{wording.how_many(units, 'unit')} inoculated in {counted(len(names), 'batch', 'batches')}"


def be_counts(rollup: Rollup) -> list[str]:
    """The batches that count for the BE of all: those with a known dry mass and a harvest."""
    left_out = {*rollup.without_dry, *rollup.unharvested, *rollup.partly_shared}
    return [name for name in rollup.batches if name not in left_out]


def _is_lone(rollup: Rollup) -> bool:
    """Whether a BE is calculated from only one finished batch, which is then its own median."""
    return len(rollup.counted) == 1 and be_counts(rollup) == list(rollup.counted)


def _note(lookup: Lookup, rollup: Rollup) -> Iterator[str]:
    """The BE on the units not lost before the harvest, if any was lost; and that of finished batches, if others count
    too."""
    crops = [lookup.analysis.yields[name] for name in be_counts(rollup)]
    made, survived = sum(crop.inoculated or 0 for crop in crops), sum(crop.survived or 0 for crop in crops)
    if rollup.be_survived is not None and survived < made:
        yield f"{wording.percent(rollup.be_survived.value, 0)} of the {survived} not lost before harvest"
    if _is_lone(rollup):
        yield _interval_words(rollup)
    elif rollup.be_finished is not None and not set(be_counts(rollup)) <= set(rollup.finished):
        yield f"{wording.percent(rollup.be_finished.value, 0)} of the finished ones"


def _median(lookup: Lookup, rollup: Rollup) -> Figure:
    values = sorted(be_values(lookup, rollup.counted))
    n, low, high = len(values), wording.percent(values[0], 0), wording.percent(values[-1], 0)
    span = low if low == high else f"{low.removesuffix(' %')} to {high}"
    words = "BE of the one finished batch" if n == 1 else f"median BE of {n} finished batches, {span}"
    return Figure(
        number=wording.percent(rollup.be_median or 0.0),
        words=words,
        note=_interval_words(rollup),
        inputs=tuple((name, wording.percent(value)) for name, value in _be_by_batch(lookup, rollup.counted)),
        formula="the middle one of the finished batches' BE on units inoculated, or the mean of the two in the middle",
        source=MEDIAN_SOURCE,
    )


def _interval_words(rollup: Rollup) -> str:
    interval = rollup.be_interval
    if interval is None:
        return f"too few for an interval: that takes {fewest_for_median()} batches"
    sure = wording.percent(interval.confidence * 100)
    low, high = wording.percent(interval.low, 0), wording.percent(interval.high, 0)
    return f"it is between {low} and {high}, at least {sure} sure"


def be_values(lookup: Lookup, names: Sequence[str]) -> list[float]:
    return [value for _, value in _be_by_batch(lookup, names)]


def _be_by_batch(lookup: Lookup, names: Sequence[str]) -> list[tuple[str, float]]:
    return [(name, be.value) for name in names if (be := lookup.analysis.yields[name].be)]


def lost_figure(share: Proportion, batches: int) -> Figure:
    """Units lost of those inoculated, with an interval if there are enough batches for one."""
    finished = "the one finished batch" if batches == 1 else f"{batches} finished batches"
    low, high = (wording.percent(bound * 100, 0) for bound in (share.low, share.high))
    interval = (
        f"{low} to {high} if units were lost one by one; less certain, since those of a batch share one treatment"
    )
    return Figure(
        number=wording.percent(share.value * 100, 0),
        words=f"lost: {share.part} of the {counted(share.whole, 'unit')} inoculated in {finished}",
        note=interval if batches >= FEWEST_BATCHES else "too few batches for an interval",
        inputs=(("units lost", str(share.part)), ("units inoculated", str(share.whole))),
        formula="share lost = units lost / units inoculated × 100",
        source=SHARE_SOURCE,
    )


def _asides(lookup: Lookup, rollup: Rollup) -> Iterator[str]:
    if lookup.share is not None:
        yield "Only shared entries are counted; there may be more batches, harvests or losses."
    yield from _unsure(lookup, rollup)
    if doubtful := lookup.doubtful_harvests(rollup.batches):
        yield f"The total {doubtful}."
    if rollup.partly_shared:
        names = wording.joined(list(rollup.partly_shared))
        yield f"Some harvests or losses of {names} are not shared, so they are left out of BE."
    uncounted = [name for name in rollup.without_dry if lookup.analysis.yields[name].inoculated is None]
    without_dry = [name for name in rollup.without_dry if name not in uncounted]
    for without, lacking in ((without_dry, "dry mass"), (uncounted, "readable number of units")):
        if without:
            yield f"{wording.joined(without)} {'has' if len(without) == 1 else 'have'} no {lacking}, so no BE."
    if rollup.unharvested and rollup.harvest_g:
        yield f"{wording.joined(list(rollup.unharvested))}: nothing harvested yet, so not in any BE."
    if rollup.shared:
        was = "was" if len(rollup.shared) == 1 else "were"
        yield (
            f"{wording.joined(list(rollup.shared))} {was} made with another culture too, and {was} counted in "
            "full for both."
        )


def _unsure(lookup: Lookup, rollup: Rollup) -> Iterator[str]:
    """The batches whose identity is less certain than that of the page's own subject, which says how certain it is."""
    confirmed, doubtful = lookup.analysis.confirmed, lookup.analysis.doubtful
    unconfirmed = [name for name in rollup.batches if confirmed[rollup.of] and not confirmed[name]]
    doubted = [name for name in rollup.batches if rollup.of not in doubtful and name in doubtful]
    for what, names in (("Identity not confirmed", unconfirmed), ("Origin in doubt", doubted)):
        if names:
            is_ = "is" if len(names) == 1 else "are"
            yield f"{what} of {wording.joined(names)}, which {is_} still counted."


def _lost(lookup: Lookup, loss: StepLoss) -> dict[str, Any]:
    """One step's losses. share: `3 of 5 (60 %)`. causes: `green mould 3`, most first. uncounted: IDs."""
    share = f"{loss.lost} of {loss.inoculated}"
    if loss.share:
        share += f" ({wording.number(loss.share * 100, 0)}\N{NO-BREAK SPACE}%)"
    causes = ", ".join(f"{wording.cause(cause)} {number}" for cause, number in loss.causes)
    return {
        "step": _STEPS[loss.step],
        "made": loss.inoculated,
        "lost": loss.lost,
        "share": share,
        "causes": causes,
        "uncounted": lookup.labels(loss.uncounted),
        "uncounted_more": loss.uncounted_more,
    }


def pinning_days(lookup: Lookup, rollup: Rollup) -> list[int]:
    """Days from inoculation to first pins of the finished batches that pinned, fewest first."""
    took = [milestones(lookup.analysis.progress[name]).pinning_d for name in rollup.finished]
    return sorted(days for days in took if days is not None)
