"""Dates, quantities, counts and summaries of readings as a person reads them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, timedelta
from functools import lru_cache, partial

from markupsafe import Markup, escape

from journal.amounts import MASS_UNITS as MASS_UNITS
from journal.amounts import Units as Units
from journal.amounts import half_up as half_up
from journal.amounts import length as length
from journal.amounts import mass as mass
from journal.amounts import number as number
from journal.amounts import radius as radius
from journal.amounts import temperature as temperature
from journal.amounts import way as way
from journal.analysis.in_range import Shares
from journal.analysis.limits import limit
from journal.analysis.lineage import Descent
from journal.analysis.readings import ASSUMED_ACCURACY_PCT, LeftOut
from journal.analysis.statistics import Summary
from journal.model import Note, When
from journal.quantities import FLOW_M3_H, LENGTH_M, counted, to_fahrenheit
from journal.settings import Exhaust, LightHours, ValueRange

_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip

_M_PER_FT = float(LENGTH_M.factors["ft"])
_M3_H_PER_CFM = float(FLOW_M3_H.factors["cfm"])


def day_in_words(day: date) -> str:
    """`22 November 2025`."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def day_in_few_words(day: date) -> str:
    """`22 Nov`, for places where the year is clear from the context."""
    return f"{day.day} {_MONTHS[day.month - 1][:3]}"


def days_in_words(first: date, last: date) -> str:
    """A range of days: `28 November to 4 December 2026`, `3 to 9 December 2026`; one day if both are the same."""
    if first == last:
        return day_in_words(first)
    if first.year != last.year:
        return f"{day_in_words(first)} to {day_in_words(last)}"
    month = "" if first.month == last.month else f" {_MONTHS[first.month - 1]}"
    return f"{first.day}{month} to {day_in_words(last)}"


def month_in_words(day: date) -> str:
    """`November 2025`."""
    return f"{_MONTHS[day.month - 1]} {day.year}"


def when_in_words(when: When) -> str:
    """`22 November 2025, 14:05`, or as much of it as is known."""
    if when.moment is not None:
        return f"{day_in_words(when.first)}, {clock(when.moment)}"
    if when.exact == "month":
        return month_in_words(when.first)
    if when.exact == "year":
        return str(when.first.year)
    return f"about {day_in_words(when.first)}" if when.exact == "about" else day_in_words(when.first)


def date_in_words(when: When) -> str:
    """`22 November 2025`, or as much of it as is known; never the time of day."""
    return day_in_words(when.first) if when.counts_days else when_in_words(when)


def when_in_few_words(when: When) -> str:
    """`22 Nov 2025`, or as much of it as is known; never the time of day."""
    day = when.first
    month = _MONTHS[day.month - 1][:3]
    if when.exact == "year":
        return str(day.year)
    if when.exact == "month":
        return f"{month} {day.year}"
    return f"{'about ' if when.exact == 'about' else ''}{day.day} {month} {day.year}"


def clock(moment: datetime) -> str:
    """`14:05`, in the time zone offset that the value has."""
    return moment.strftime("%H:%M")


def clocks(first: datetime, last: datetime) -> tuple[str, str]:
    """`14:05`, `16:20`; with the offsets where the clocks were changed in between: `01:45 (UTC+1)`, `02:00 (UTC)`."""
    if first.utcoffset() == last.utcoffset():
        return clock(first), clock(last)
    return f"{clock(first)} ({_offset(first)})", f"{clock(last)} ({_offset(last)})"


def _offset(moment: datetime) -> str:
    minutes = round((moment.utcoffset() or timedelta()) / timedelta(minutes=1))
    hours, rest = divmod(abs(minutes), 60)
    sign = "+" if minutes > 0 else "−"
    return "UTC" if not minutes else f"UTC{sign}{hours}" + (f":{rest:02}" if rest else "")


def capitalised(words: str) -> str:
    """The words with a capital letter, as at the start of a sentence."""
    return words[:1].upper() + words[1:]


def keys_quoted(sentence: str) -> str:
    """A sentence whose keys between backticks are quoted as on a page: `Write “moisture”.`"""
    return re.sub(r"`([^`]+)`", r"“\1”", sentence)


_TO_THE_AUTHOR = re.compile(r"(?<=\.) (?:Write|Dry) .*|: write [^.]*", re.DOTALL)


def for_reader(sentence: str, is_share: bool) -> str:
    """What is missing, its keys quoted as on a page; in a share without what only the author can do about it."""
    return keys_quoted(_TO_THE_AUTHOR.sub("", sentence) if is_share else sentence)


_DEGREES = r"(-?\d{1,3}(?:\.\d{1,3})?)"
_TEMPERATURES = re.compile(rf"(?<![\d.]){_DEGREES} to {_DEGREES} °C")


def ranges_in_units(text: str, units: Units) -> str:
    """A text of the program, with its ranges of temperature in these units: `at 10 to 16 °C`, `at 50 to 61 °F`."""
    if units == "metric":
        return text
    return _TEMPERATURES.sub(lambda found: f"{' to '.join(_whole_f(one) for one in found.groups())} °F", text)


def _whole_f(celsius: str) -> str:
    return number(to_fahrenheit(float(celsius)), 0)


def flow(m3_h: float, units: Units = "metric") -> str:
    """`200 m³/h`; in US units `118 cfm`."""
    return f"{number(m3_h / _M3_H_PER_CFM, 0)} cfm" if units == "us" else f"{number(m3_h, 0)} m³/h"


def volume(m3: float, units: Units = "metric") -> str:
    """`2.94 m³`; in US units `104 ft³`."""
    return f"{number(m3 / _M_PER_FT**3)} ft³" if units == "us" else f"{number(m3, 2)} m³"


def area(m2: float, units: Units = "metric") -> str:
    """`1.7 m²`; in US units `18.3 ft²`."""
    return f"{number(m2 / _M_PER_FT**2)} ft²" if units == "us" else f"{number(m2, 2)} m²"


def litres(ml: float) -> str:
    """`5.6 l`."""
    return f"{number(ml / 1000)} l"


def lux(value: float) -> str:
    return f"{number(value, 0)} lux"


_SIGN_BEFORE = {"GBP": "£", "EUR": "€", "USD": "$", "JPY": "¥"}


def money(amount: float, currency: str | None) -> str:
    """`£18.40`, `18.40 SEK`; `18.40` where no currency is known."""
    rounded = half_up(abs(amount), 2)
    figures = f"{rounded:,.2f}"
    sign, minus = _SIGN_BEFORE.get(currency or ""), "−" if amount < 0 and rounded else ""
    return f"{minus}{sign}{figures}" if sign else f"{minus}{figures} {currency or ''}".rstrip()


def percent(value: float, decimals: int = 1) -> str:
    return f"{number(value, decimals)} %"


def hours(value: float) -> str:
    return f"{number(value)} h"


def in_range(shares: Shares) -> str:
    """`97 %`, or `45 to 99 %` if some of the time is too close to call."""
    low, high = ((share or 0.0) * 100 for share in (shares.in_range, shares.in_range_at_most))
    return percent(low, 0) if number(low, 0) == number(high, 0) else f"{number(low, 0)} to {percent(high, 0)}"


def in_range_that_day(shares: Shares) -> str:
    """The same of one day, which may have a single reading: `too close to call` if all of it is."""
    return "too close to call" if shares.in_range == 0 and shares.in_range_at_most == 1 else in_range(shares)


def within_accuracy(shares: Shares, wanted: ValueRange | None) -> Iterator[str]:
    """`24 h above 95 %, within the sensor's accuracy`, and the same for readings below the range."""
    if wanted is not None:
        for spent_s, where in (
            (shares.above_s, f"above {number(wanted.high)}"),
            (shares.below_s, f"below {number(wanted.low)}"),
        ):
            if spent_s:
                yield f"{hours(spent_s / 3600)} {where} %, within the sensor's accuracy"


_GRAINS_PER_POUND = 7000


def humidity_ratio(kg_kg: float, units: Units) -> str:
    """`9.7 g/kg`; in US units grains of water to a pound of dry air, as ASHRAE's psychrometric charts have it:
    `68 gr/lb`."""
    return f"{number(kg_kg * _GRAINS_PER_POUND)} gr/lb" if units == "us" else f"{number(kg_kg * 1000)} g/kg"


def left_out(rows: Sequence[LeftOut], units: Units) -> list[str]:
    """`1,296 readings of temperature, 53.1 °C to 60.5 °C, are left out: no tent has less than -10 °C or more than 45
    °C`; the same of humidity."""
    found = []
    for what, limits, worded in (
        ("temperature", limit("temperature_c"), partial(temperature, units=units)),
        ("humidity", limit("humidity_pct"), percent),
    ):
        values = [row.value for row in rows if row.what == what]
        if not values:
            continue
        least, most = worded(min(values)), worded(max(values))
        low, high = worded(limits.low or 0), worded(limits.high or 0)
        read = f"{counted(len(values), 'reading')} of {what}, {least if least == most else f'{least} to {most}'},"
        none_has = f"less than {low} or more than {high}" if what == "temperature" else f"less than {low}"
        found.append(f"{read} {'is' if len(values) == 1 else 'are'} left out: no tent has {none_has}")
    return found


def accuracy_assumed(is_most: bool = False) -> str:
    """What to do about a humidity sensor whose accuracy is not stated. is_most: most of the time depends on it."""
    most = ", and most of the time is too close to call" if is_most else ""
    return (
        f"The accuracy of a humidity sensor is not stated: ±{ASSUMED_ACCURACY_PCT:g} % is assumed{most}. Write "
        "humidity_accuracy under its [[climate]] in journal.toml."
    )


def humidity_range(wanted: ValueRange) -> str:
    return f"{number(wanted.low)}–{number(wanted.high)} %"


def temperature_range(wanted: ValueRange, units: Units = "metric") -> str:
    if units == "us":
        return f"{number(to_fahrenheit(wanted.low))}–{number(to_fahrenheit(wanted.high))} °F"
    return f"{number(wanted.low)}–{number(wanted.high)} °C"


def light(hours: LightHours) -> str:
    """`12 h on, 12 h off`, or `06:30–18:30 (12 h)`."""
    if hours.lit_from and hours.lit_to:
        return f"{hours.lit_from}–{hours.lit_to} ({number(hours.on_h)} h)"
    return f"{number(hours.on_h)} h on, {number(24 - hours.on_h)} h off"


def exhaust(run: Exhaust) -> str:
    """`2 min every 15 min`, `every 15 min (run time not written)`, `on`, `off`."""
    if run.mode != "cycle":
        return run.mode
    if run.every_min is None:
        return "on a cycle"
    if run.on_min is None:
        return f"every {number(run.every_min)} min (run time not written)"
    return f"{number(run.on_min)} min every {number(run.every_min)} min"


def stage_in_words(stage: str | None, derived: str | None = None) -> str | None:
    """A stage as a screen names it: `resting` is between two flushes. derived: what it is derived from, if it is:
    `fruiting (from the harvest)`."""
    named = "between flushes" if stage == "resting" else stage
    return f"{named} ({derived})" if named and derived else named


def how_many(number: int | None, one: str) -> str:
    """`4 blocks`; `an unknown number of blocks` where what is written cannot be read."""
    return f"an unknown number of {one}s" if number is None else counted(number, one)


def cause(words: str) -> str:
    """The cause of a loss, in its author's words: a thing (`green mould`) or what happened (`dropped`); "" if none."""
    return {"": "cause not noted", "unknown": "cause unknown"}.get(words.strip().casefold(), words)


def causes(of: Sequence[tuple[str, int]]) -> str:
    """`green mould`; `green mould 2, cause not noted 3` where losses have several causes; "" where none is noted.

    of: (cause, how many were lost to it), "" where none is noted."""
    if len(of) == 1:
        return cause(of[0][0]) if of[0][0] else ""
    return ", ".join(f"{cause(words)} {count}" for words, count in of)


def lost(count: int, of: Sequence[tuple[str, int]]) -> str:
    """`5 lost: green mould 2, cause not noted 3`; `1 lost: cause unknown`; `1 lost` where no cause is noted. of: as
    `causes` has it."""
    named = causes(of)
    return f"{count} lost: {named}" if named else f"{count} lost"


def lost_by(note: Note) -> str:
    """What one note says that was lost, in the same words."""
    return lost(note.lost or 0, [(note.cause or "", note.lost or 0)])


def joined(words: list[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


_MOST_NAMED = 24


def joined_first(words: list[str]) -> str:
    """The same, but of a long list only the first ones and the number of the others."""
    if len(words) <= _MOST_NAMED:
        return joined(words)
    return f"{', '.join(words[:_MOST_NAMED])} and {len(words) - _MOST_NAMED} more"


def range_words(spread: Summary | None, words: Callable[[float], str]) -> str | None:
    """`84.1 to 93.9 %`; None if there was one reading, or all were the same."""
    if spread is None or spread.low == spread.high:
        return None
    low, high = words(spread.low), words(spread.high)
    return f"{low.rpartition(' ')[0]} to {high}"


def medians_words(
    humidity_pct: Summary | None, temperature_c: Summary | None, units: Units, by_day: bool = False
) -> str | None:
    """`humidity 90.2 % (68.4 to 95.1 %), temperature 15.1 °C (9.9 to 18 °C): median and range of 4032 readings`.
    by_day: only the medians of each day are known. None where there are no readings."""
    rows = (
        ("humidity", humidity_pct, percent),
        ("temperature", temperature_c, lambda celsius: temperature(celsius, units)),
    )
    known = [(name, spread, words) for name, spread, words in rows if spread is not None]
    if not known:
        return None
    parts = []
    for name, spread, words in known:
        ends = range_words(spread, words)
        parts.append(f"{name} {words(spread.median)}" + (f" ({ends})" if ends else ""))
    medians, count = ", ".join(parts), max(spread.count for _, spread, _ in known)
    if count == 1:
        return f"{medians}: {'one day’s medians' if by_day else 'one reading'}"
    return f"{medians}: median and range of {count} {'days, by their medians' if by_day else 'readings'}"


def transfers_in_words(numbers: Descent) -> str | None:
    """`T3`, or `at least T3` where not all are known; None where nothing is known of them."""
    if numbers.transfers is not None:
        return f"T{numbers.transfers}"
    return f"at least T{numbers.transfers_at_least}" if numbers.transfers_at_least else None


_NAMED = re.compile(r"(?<![\w.:-])(?=[\w-]{1,12}(?![\w-]))[A-Za-z][A-Za-z\d]*-(?=[A-Za-z]*\d)[\w-]+(?:\.\d+)?(?!\w)")
_UNIT = (
    r"(?:%|°[CF]|[kmcµ]?g|[kmcd]?m[²³]?(?:/h)?|ml|l|h|min|s|d|days?|lux|ppm|kWh|kPa|K|lb|oz|psi|ft|mi|cfm|"
    rf"{'|'.join(name for month in _MONTHS for name in (month, month[:3]))})(?!\w)"
)
_QUANTITY = re.compile(rf"(\d(?<![\w.,:-]\d)(?:[\d.,]*+(?<=\d))?+) (?={_UNIT})")  # its first digit is searched fast
_CODED_QUANTITY = re.compile(rf"{_QUANTITY.pattern}{_UNIT}")


def with_units(text: str) -> str:
    """A text in which no line breaks between a number and its unit, or a day and its month."""
    return _QUANTITY.sub("\\1\N{NO-BREAK SPACE}", text)


@lru_cache(maxsize=1 << 14, typed=True)
def unbroken(text: str) -> Markup:
    """A text as HTML in which no line breaks within a short ID (`B-031.2`), or between a number and its unit. Kept,
    since most of what pages say in a few words they say many times."""
    return Markup(_NAMED.sub(r'<span class="nowrap">\g<0></span>', with_units(str(escape(text)))))


def unbroken_code(text: str) -> Markup:
    """The same of what is copied as it is written: its spaces stay spaces."""
    bound = _NAMED.sub(r'<span class="nowrap">\g<0></span>', str(escape(text)))
    return Markup(_CODED_QUANTITY.sub(r'<span class="nowrap">\g<0></span>', bound))
