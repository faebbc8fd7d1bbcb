"""The last readings of a tent, and probes checked against a saturated salt."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from math import nan

from journal.analysis.calculation import Amount, Calculation
from journal.analysis.due import entries_about, subject_ids
from journal.analysis.in_range import Judged, Side, TargetRanges, Verdict, sides_out, verdicts, wanted_in
from journal.analysis.limits import limit
from journal.analysis.psychrometrics import dew_point_c
from journal.analysis.readings import ASSUMED_ACCURACY_PCT, READING_LASTS_AT_MOST_S, Series
from journal.data import read_table
from journal.model import Device, Entry, Journal, Note, TentEntry, When
from journal.problems import Unreadable
from journal.quantities import normalised, percentage, temperature_c
from journal.settings import Tent


@dataclass(frozen=True, slots=True)
class LastReading:
    """One reading, or a day's medians: `when` then has no time of day. humidity, temperature: the verdict on each, None
    if it was not read or has no range. accuracy_pct: of the humidity. accuracy_assumed: it was not stated. sides: in
    which ways it is out of range."""

    when: When
    is_manual: bool
    door_open: bool
    humidity_pct: float | None
    temperature_c: float | None
    accuracy_pct: float
    accuracy_assumed: bool
    verdict: Verdict
    humidity: Verdict | None
    temperature: Verdict | None
    sides: tuple[Side, ...]

    @property
    def dew_point_c(self) -> float | None:
        """The temperature at and below which a surface would be wet; None if the two were not read together."""
        return dew_point_c(self.temperature_c, self.humidity_pct)


@dataclass(frozen=True, slots=True)
class LastReadings:
    """counted: the latest not read with the door open or by a stuck logger. uncounted: a later one, door open."""

    counted: LastReading | None = None
    uncounted: LastReading | None = None


def last_readings(
    journal: Journal, tent: Tent, series: Series, zone: tzinfo, unwanted_s: Iterable[tuple[float, float]] = ()
) -> LastReadings:
    """A tent's last readings; a manual reading without a time of day counts as the first of its day. zone: the
    journal's. unwanted_s: periods in which its range does not apply, in seconds since 1970-01-01T00:00Z."""
    wanted = wanted_in(tent)

    def possible(name: str, value: float | None) -> float | None:
        return value if value is None or limit(name).allows(value) else None

    rows = _last_in_series(series, wanted, zone)
    for entry in entries_about(journal, tent):
        values = (
            possible("humidity_pct", entry.humidity_reading_pct),
            possible("temperature_c", entry.temperature_reading_c),
            None,
        )
        if entry.date.moment is None and any(value is not None for value in values):
            rows.append(_judged(entry.date, True, entry.door == "open", values, wanted))
    counted = max((row for row in rows if not row.door_open), key=_order, default=None)
    open_door = max((row for row in rows if row.door_open), key=_order, default=None)
    is_later = open_door is not None and (counted is None or _order(open_door) > _order(counted))
    found = LastReadings(counted, open_door if is_later else None)
    if counted is None or counted.when.moment is None:
        return found
    at_s = counted.when.moment.timestamp()
    if any(from_s <= at_s < until_s for from_s, until_s in unwanted_s):
        nothing = replace(counted, verdict="not counted", humidity=None, temperature=None, sides=())
        return replace(found, counted=nothing)
    return found


def _order(row: LastReading) -> tuple[str, float]:
    return row.when.first.isoformat(), row.when.moment.timestamp() if row.when.moment else 0.0


def _last_in_series(series: Series, wanted: TargetRanges, zone: tzinfo) -> list[LastReading]:
    """The last of a series with the door open, and the last that counts."""
    rows = []
    for is_open in (True, False):
        fine = (at for at in reversed(range(len(series))) if not series.stuck[at] and series.door_open[at] == is_open)
        at = next(fine, None)
        if at is None:
            continue
        moment = datetime.fromtimestamp(series.stamps_s[at], zone)
        day = moment.date()
        when = When(moment.isoformat(), day, "minute", moment)
        if series.by_day and not series.is_manual[at]:
            when = When(day.isoformat(), day, "day")
        is_assumed = series.accuracy_assumed and series.accuracy_pct[at] == ASSUMED_ACCURACY_PCT
        values = (series.humidity_pct[at], series.temperature_c[at], None if is_assumed else series.accuracy_pct[at])
        rows.append(_judged(when, series.is_manual[at], is_open, values, wanted))
    return rows


def _judged(
    when: When,
    is_manual: bool,
    door_open: bool,
    values: tuple[float | None, float | None, float | None],
    wanted: TargetRanges,
) -> LastReading:
    """A reading compared with its ranges by the same rules as every reading; also with the door open."""
    humidity_pct, temperature_c = (nan if value is None else value for value in values[:2])
    accuracy_pct = ASSUMED_ACCURACY_PCT if values[2] is None else values[2]
    alone = Series((0.0,), (temperature_c,), (humidity_pct,), (accuracy_pct,), (2 * READING_LASTS_AT_MOST_S,),
                   (False,), (False,), (is_manual,))  # fmt: skip

    def side(value: float, of_it: TargetRanges) -> Verdict | None:
        return verdicts(alone, of_it)[0] if value == value and of_it.is_known else None

    judged = Judged(alone, wanted)
    return LastReading(
        when=when,
        is_manual=is_manual,
        door_open=door_open,
        humidity_pct=_known(humidity_pct),
        temperature_c=_known(temperature_c),
        accuracy_pct=accuracy_pct,
        accuracy_assumed=values[2] is None,
        verdict=judged.verdicts[0],
        humidity=side(humidity_pct, replace(wanted, temperature_c=None)),
        temperature=side(temperature_c, replace(wanted, humidity_pct=None)),
        sides=sides_out(judged, range(1)) if judged.verdicts[0] == "out" else (),
    )


def _known(value: float) -> float | None:
    return value if value == value else None


SALT_SOURCE = (
    "L. Greenspan, Humidity fixed points of binary saturated aqueous solutions, J. Res. Natl. Bur. Stand. 81A(1), "
    "1977, 89–96; ± 2 %: CRC Handbook of Chemistry and Physics, section 15, Constant humidity solutions"
)
SALT_HOW = (
    "over the pure salt, wet and with crystals left in it, once air, brine and probe have come to one temperature"
)

COLDEST_C, HOTTEST_C = 0.0, 50.0
"""Range in which the equation of every salt here is valid."""


@dataclass(frozen=True, slots=True)
class Salt:
    """name: as shown. also: other names and its formula, as an author may write them. powers: coefficients of the
    humidity over it in %, a polynomial of its temperature in °C, lowest power first. uncertainties: (°C, %), coldest
    first; none where they are not known."""

    name: str
    also: tuple[str, ...]
    powers: tuple[float, ...]
    uncertainties: tuple[tuple[float, float], ...] = ()

    def humidity_pct(self, t_c: float) -> float | None:
        """Relative humidity over it, by `SALT_SOURCE`; None outside 0 to 50 °C, where the equation is not used."""
        if not COLDEST_C <= t_c <= HOTTEST_C:
            return None
        return sum(factor * t_c**power for power, factor in enumerate(self.powers))

    def uncertainty_pct(self, t_c: float) -> float | None:
        """How uncertain its humidity is, by `SALT_SOURCE`: between two temperatures of its table the larger of both;
        None outside the table."""
        colder = [pct for at_c, pct in self.uncertainties if at_c <= t_c]
        warmer = [pct for at_c, pct in self.uncertainties if at_c >= t_c]
        return max(colder[-1], warmer[0]) if colder and warmer else None


SALTS = tuple(
    Salt(row["name"], tuple(row["also"]), tuple(row["powers"]), tuple(map(tuple, row.get("uncertainty", ()))))
    for row in read_table("salts")["salts"]
)

_BY_NAME = {name.casefold(): salt for salt in SALTS for name in (salt.name, *salt.also)}
_NAMES = re.compile(
    r"\b(?:" + "|".join(re.escape(name) for name in sorted(_BY_NAME, key=len, reverse=True)) + r")(?![\w-])",
    re.IGNORECASE,
)


def salt_in(text: str) -> Salt | None:
    """The first salt that a text names, None if it names none. `salt` alone is table salt; `sea salt` does not
    count."""
    for found in _NAMES.finditer(text):
        name = found[0].casefold()
        if name != "salt" or not re.search(r"\b(?:sea|epsom|rock) $", text[: found.start()], re.IGNORECASE):
            return _BY_NAME[name]
    return None


TAKEN_WHERE_UNSAID_C = 20.0
PROBE_FORMULA = "off by = what the probe read − humidity over the salt"

_NUMBER = r"[+-]?[0-9]+(?:[.,][0-9]+)?"
_PCT = rf"(?<![0-9.,]){_NUMBER} ?(?:%|per ?cent\b)"
_ANY_PCT = re.compile(_PCT, re.IGNORECASE)
_READ = re.compile(rf"\b(?:reads?|reading|show(?:s|ed|n|ing)?|said|says|gives?|gave)\b[^0-9%]*({_PCT})", re.IGNORECASE)
_DUE = re.compile(rf"\([^()]*\)|\b(?:should|ought|instead of|rather than|expected)\b[^0-9%]*{_PCT}", re.IGNORECASE)
_AT = re.compile(rf"(?<![0-9.,])({_NUMBER}) ?(?:°|deg(?:rees?)? )? ?([CF])\b")
_OVER = re.compile(r"\b(?:over|above|against|saturated|wet|salt (?:test|check))\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ProbeCheck:
    """about: the probe if one is named, else the tent. words: as written. path: its entry. read_pct, expected_pct: the
    reading, and the humidity over that salt. uncertainty_pct: that of the humidity, None where it is not known.
    t_is_written: whether the temperature was written; otherwise 20 °C is assumed. off: the probe's error in %, positive
    if it reads too high, with its calculation."""

    about: str
    when: When
    words: str
    path: str
    salt: str
    read_pct: float
    expected_pct: float
    uncertainty_pct: float | None
    t_c: float
    t_is_written: bool
    off: Calculation


def probe_checks(journal: Journal) -> tuple[ProbeCheck, ...]:
    """Every check under `serviced` of a tent or `done` of a tent or device, oldest first. A text is a check if it has a
    reading in %, `over` (above, against), `saturated`, `wet` or `salt test`, and a known salt. Of several percentages
    the reading is the one with the verb for it, or the only one besides the expected value; if that does not decide it,
    there is no check. Values outside 0 to 100 %, or at a temperature outside 0 to 50 °C, do not count; nor does a check
    of an unnamed probe in an entry that is not about a tent."""
    probes = {device.id.lower(): device.id for device in journal.devices}
    checks = []
    for entry in journal.entries():
        is_about_a_probe = isinstance(entry, Note) and any(ref.id.lower() in probes for ref in entry.about)
        serviced = entry.serviced if isinstance(entry, TentEntry) else ()
        done = entry.done if is_about_a_probe or isinstance(entry, TentEntry | Device) else ()
        checks += [_check(entry, words, probes) for words in (*serviced, *done)]
    return tuple(check for check in checks if check is not None)


def _check(entry: Entry, words: str, probes: dict[str, str]) -> ProbeCheck | None:
    try:
        plain = normalised(words)
        salt, read, at = salt_in(plain), _what_was_read(plain), _AT.search(plain)
        if salt is None or read is None or not _OVER.search(plain):
            return None
        read_pct = percentage(read).value
        t_c = temperature_c(f"{at[1]} °{at[2]}").value if at else TAKEN_WHERE_UNSAID_C
    except Unreadable:
        return None
    expected_pct = salt.humidity_pct(t_c)
    about = _probe_named(entry, plain, probes)
    if expected_pct is None or about is None or not 0 <= read_pct <= 100:
        return None
    inputs = (
        ("the probe read", Amount(read_pct, "%")),
        (f"humidity over {salt.name}", Amount(expected_pct, "%")),
        ("temperature" if at else "temperature (none was written, so this was taken)", Amount(t_c, "°C")),
    )
    return ProbeCheck(
        about=about,
        when=entry.date,
        words=words,
        path=entry.path,
        salt=salt.name,
        read_pct=read_pct,
        expected_pct=expected_pct,
        uncertainty_pct=salt.uncertainty_pct(t_c),
        t_c=t_c,
        t_is_written=at is not None,
        off=Calculation(read_pct - expected_pct, "%", inputs, PROBE_FORMULA, f"{SALT_SOURCE}: {SALT_HOW}"),
    )


def _what_was_read(words: str) -> str | None:
    """The percentage that the probe showed; None if there is none, or several are possible."""
    stated = _READ.search(words)
    if stated is not None:
        return stated[1]
    found = set(_ANY_PCT.findall(words))
    if len(found) > 1:
        found = set(_ANY_PCT.findall(_DUE.sub(" ", words)))
    return found.pop() if len(found) == 1 else None


def _probe_named(entry: Entry, words: str, probes: dict[str, str]) -> str | None:
    """The device that the words name, else the first that the entry is about; None if that is unknown."""
    named = (probes.get(word.lower()) for word in re.findall(r"[A-Za-z][A-Za-z0-9-]*", words))
    about = subject_ids(entry)
    of_entry = (id for id in about if id.lower() in probes)
    return next((id for id in named if id), None) or next(of_entry, None) or next(iter(about), None)
