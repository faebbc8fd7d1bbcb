"""A BE and a comparison of lines in words that claim no more than the numbers support."""

from __future__ import annotations

from dataclasses import dataclass

from journal.amounts import half_up, number
from journal.analysis.calculation import figure
from journal.analysis.comparison import FEWEST_BATCHES, RARE, Difference, LineFigures, Measure, Middle
from journal.analysis.statistics import fewest_for_median
from journal.analysis.yields import BatchYield
from journal.quantities import counted

MEDIAN_SOURCE = (
    "order statistics (W. J. Conover, Practical Nonparametric Statistics, 3rd edition): both ends are batches of this "
    "line, and no shape of distribution is assumed"
)
SHARE_SOURCE = "E. B. Wilson's score interval, as in R. G. Newcombe, Statistics in Medicine 17:857–872, 1998"
TEST_SOURCE = "exact permutation test of the difference of means (E. J. G. Pitman, 1937), in both directions"
ADJUSTED_SOURCE = "S. Holm, Scandinavian Journal of Statistics 6:65–70, 1979"

NOT_ONLY_THE_LINE = (
    "Batches differ in more than their line: substrate, season, tent and treatment may be behind a gap, or hide one."
)
UNITS_SHARE = (
    "Units of one batch share one heat treatment, so they are not lost one by one: the truth is less certain than this "
    "interval, which holds no stated confidence, and the number of batches says more than the number of units."
)

_TOO_MANY_WAYS = "more ways of dealing these batches out than are gone through here"
NAMES: dict[Measure, str] = {"be": "BE", "first flush": "BE of the first flush", "lost": "share of units lost"}


def median_words(row: Middle) -> str:
    """`median 85 % of 10 batches; 76.5 to 91.6 % with 97.9 % confidence`, or how many batches are missing."""
    n = len(row.values)
    if row.median is None:
        return "no finished batch with a dry mass yet"
    if n == 1:
        return f"{figure(row.median, '%')} in 1 batch; too few to say"
    result = f"median {figure(row.median, '%')} of {counted(n, 'batch', 'batches')}"
    if row.interval is None:
        return f"{result}; too few to give an interval: {fewest_for_median()} batches are needed, there are {n}"
    low, high = figure(row.interval.low), figure(row.interval.high, "%")
    return f"{result}; {low} to {high} with {figure(row.interval.confidence * 100, '%')} confidence"


def lost_words(row: LineFigures) -> str:
    """`3 of 15 units lost in 3 batches, 20 %; 7 to 45.2 % if units were lost one by one`; none under three batches."""
    lost = row.lost
    if lost is None:
        return "no finished batch yet"
    batches = counted(row.lost_batches, "batch", "batches")
    result = f"{lost.part} of {counted(lost.whole, 'unit')} lost in {batches}"
    if row.lost_batches < FEWEST_BATCHES:
        return f"{result}; too few batches to say"
    low, high = figure(lost.low * 100), figure(lost.high * 100, "%")
    return f"{result}, {figure(lost.value * 100, '%')}; {low} to {high} if units were lost one by one"


def difference_words(row: Difference) -> str:
    """What the batches of two lines show for one measure, in one or two sentences."""
    if row.outcome == "too few" or row.first_mean is None or row.second_mean is None:
        return _too_few(row)
    means = f"Mean {NAMES[row.measure]} {_means(row)}"
    if row.test is None:
        return f"{means}. There are {_TOO_MANY_WAYS}; no verdict is given."
    chance = (
        f"If the line made no difference, means at least this far apart would come of {row.test.as_far} of the "
        f"{row.test.ways} ways to deal these batches out (p = {p_words(row.test.p)})."
    )
    allowed = ""
    if row.tests >= 2 and row.p is not None:
        allowed = f" (p = {p_words(row.p)} after allowing for the {row.tests} pairs compared)"
    verdict = f"Chance alone does that often enough{allowed}: no difference is shown, but they may still differ."
    if row.outcome in ("first more", "second more"):
        verdict = f"Chance alone seldom does that{allowed}: {_more_in_these_batches(row)}"
    elif row.outcome == "out of reach":
        verdict = "These batches are too few, or too alike, for any gap between them to show that two lines differ."
    return f"{means}. {chance} {verdict}"


def short_words(row: Difference) -> str:
    """The same in one sentence, without the permutations."""
    if row.outcome == "too few":
        return _too_few(row)
    verdict = {
        "too many": f"no verdict, for there are {_TOO_MANY_WAYS}.",
        "out of reach": "too few batches, or too alike, for any gap between them to show that two lines differ.",
        "no difference": "chance alone does that often enough; no difference is shown, but they may still differ.",
    }.get(row.outcome) or f"chance alone seldom does that. {_more_in_these_batches(row)}"
    return f"Mean {_means(row)}: {verdict}"


def _too_few(row: Difference) -> str:
    return (
        f"Too few to say: {row.first} has {counted(row.first_n, 'finished batch', 'finished batches')} to go by, "
        f"{row.second} {row.second_n}; each needs {FEWEST_BATCHES}."
    )


def _means(row: Difference) -> str:
    first, second = figure(row.first_mean or 0.0, "%"), figure(row.second_mean or 0.0, "%")
    batches = counted(row.first_n, "batch", "batches")
    return f"{first} in {batches} of {row.first}, {second} in {row.second_n} of {row.second}"


def _more_in_these_batches(row: Difference) -> str:
    more, less = (row.first, row.second) if row.outcome == "first more" else (row.second, row.first)
    if row.measure == "lost":
        return f"{more} lost a greater share than {less}, in these batches."
    flush = " in the first flush" if row.measure == "first flush" else ""
    return f"{more} gave more than {less}{flush}, in these batches."


def p_words(p: float) -> str:
    """Two figures, `0.016`; `under 0.001` below that."""
    if p < 0.001:
        return "under 0.001"
    return f"{half_up(p, 2):.2f}" if p >= 0.1 else f"{half_up(p, 3):.3f}"


def rarity_words(measures: int, looks: int) -> str:
    """What counts as rare, and what is not taken into account, for the foot of a page. looks: how often the finished
    batches could have been compared so far, once after each."""
    return (
        f"Seldom means p up to {RARE:g}, a custom and no law. Several pairs are allowed for by {ADJUSTED_SOURCE}; not "
        f"allowed for are {counted(measures, 'measure')} compared for each pair, nor looking again: with "
        f"{counted(looks, 'finished batch', 'finished batches')} there were up to {looks} occasions to look."
    )


@dataclass(frozen=True, slots=True)
class BeWords:
    """`BE 53 %`, `of the 4 blocks inoculated`, `(71 % of the 3 not lost before harvest)` or nothing, `2 flushes`."""

    be: str
    inoculated: str
    survived: str
    ending: str

    def __str__(self) -> str:
        text = " ".join(filter(None, (self.be, self.inoculated, self.survived)))
        return f"{text}, {self.ending}" if self.ending else text


def be_words(crop: BatchYield, units: str = "units") -> BeWords | None:
    """A batch's BE in words; None without a dry mass, a number of units or a harvest. units: what several are
    called."""
    made, left = crop.inoculated, crop.survived
    if crop.be is None or made is None or left is None or crop.is_unharvested:
        return None
    survived = "(all lost)" if crop.lost >= made else ""
    if crop.be_survived and left < made:
        survived = f"({number(crop.be_survived.value, 0)} % of the {left} not lost before harvest)"
    return BeWords(
        be=f"BE {number(crop.be.value, 0)} %",
        inoculated=f"of the {made} {units} inoculated" if made > 1 else "of the one inoculated",
        survived=survived,
        ending=flushes_words(crop),
    )


def be_in_words(crop: BatchYield, units: str = "units") -> str | None:
    """`BE 53 % of the 4 blocks inoculated (71 % of the 3 not lost before harvest), 2 flushes so far`, as `be_words`."""
    words = be_words(crop, units)
    return str(words) if words else None


def flushes_words(crop: BatchYield) -> str:
    """`2 flushes so far`, `3 flushes`; without flushes `so far`, and nothing once it is finished."""
    borne = sum(flush.harvest_g > 0 for flush in crop.flushes)
    flushes = counted(borne, "flush", "flushes") if borne else ""
    return " ".join(filter(None, (flushes, "" if crop.final else "so far")))
