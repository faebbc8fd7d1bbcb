"""What must hold of the readers of values, entries, settings, tables and tracks, whatever the text."""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

from journal.geo.format import degrees_of, dms_of, geo_uri_of, iso6709_of, mgrs_of, utm_of
from journal.geo.grids import degrees_uncertainty_m
from journal.geo.parse import distance_m, parse_position
from journal.model import LoggerFile, Position
from journal.problems import Problem, Refusal, Unreadable
from journal.quantities import Parsed
from journal.reading.core_logs import read_core_log
from journal.reading.dates import read_next, read_when, when_in_name
from journal.reading.entries import read_entry
from journal.reading.front_matter import guess_front_matter, read_front_matter
from journal.reading.keys import KEYS, KINDS
from journal.reading.logger_files import read_log
from journal.reading.logger_layout import Layout, layout_of
from journal.reading.settings_file import read_settings
from journal.reading.tracks import place_on, read_track
from journal.reading.values import NOTATIONS
from journal.reading.weather_files import read_weather
from journal.settings import ClimateSource, Settings, Tent, WeatherSource

ZONE = ZoneInfo("Europe/London")
SETTINGS = Settings(tents=(Tent(id="hut", name="Hut"),))
LONGEST_MESSAGE = 1000

# What must hold of a message


def tells(message: str, fix: str) -> None:
    """A message is one line that says something, and so is its fix; both can be written as UTF-8."""
    assert message.strip(), "no message"
    assert "\n" not in message + fix, f"a message of several lines: {message!r}"
    assert len(message + fix) <= LONGEST_MESSAGE, f"a message of {len(message + fix)} characters"
    (message + fix).encode()


def sound(problems: Iterable[Problem], data: bytes) -> None:
    """Each problem says where in this file, what and how to fix it, and none is a fault in the program."""
    lines = len(re.findall(rb"\r\n|\r|\n", data)) + 2
    for problem in problems:
        tells(problem.message, problem.fix)
        assert problem.fix.strip(), f"no fix: {problem}"
        assert 0 <= problem.line <= lines, f"line {problem.line} of {lines}: {problem}"
        assert "fault in the program" not in problem.message, str(problem)


def read_or_refused(read: Callable[[], object]) -> object:
    """What is read; None where it is refused with a message."""
    try:
        return read()
    except Unreadable as refused:
        tells(refused.message, refused.fix)
        return None


def finite(value: object) -> Iterator[float]:
    """Every number within a value that was read, each of which must be one."""
    if isinstance(value, float):
        assert math.isfinite(value), f"{value} was read"
        yield value
    elif isinstance(value, tuple | list):
        for one in value:
            yield from finite(one)
    elif hasattr(value, "__dataclass_fields__"):
        for name in value.__dataclass_fields__:
            yield from finite(getattr(value, name))


def text_of(data: bytes) -> str:
    return data.decode("utf-8", "ignore")


def one_of(*ways: Callable[[bytes], object]) -> Callable[[bytes], object]:
    """The first byte says in which of several ways the others are read."""

    def run(data: bytes) -> object:
        return ways[data[0] % len(ways)](data[1:]) if data else None

    return run


def each_way(ways: int, seeds: Iterable[bytes]) -> list[bytes]:
    """Examples for a target of so many ways."""
    return [bytes([way]) + seed for seed in seeds for way in range(ways)]


# Values of an entry

QUANTITIES = [name for name in NOTATIONS if name not in ("word", "date", "next", "position", "text", "names", "photo")]
_BELOW_ZERO = frozenset(
    {"elevation", "length", "temperature", "temperature range", "humidity", "humidity range", "percentage"}
)
_ANY_KEY = next(iter(KEYS["note"].values()))


def quantity(data: bytes) -> None:
    """The first byte says which notation is read."""
    name = QUANTITIES[data[0] % len(QUANTITIES)] if data else "mass"
    text = text_of(data[1:])
    read = read_or_refused(lambda: NOTATIONS[name].read(text, _ANY_KEY, UTC))
    if read is not None:
        assert isinstance(read, Parsed)
        for remark in read.remarks:
            tells(remark.message, remark.fix)
        numbers = list(finite(read.value))
        assert name in _BELOW_ZERO or all(number >= 0 for number in numbers), f"{name}: {read.value}"
        again = NOTATIONS[name].read(f"  {text} ", _ANY_KEY, UTC)
        assert again.value == read.value, "blanks around it count"


def a_date(data: bytes) -> None:
    text = text_of(data)
    read = read_or_refused(lambda: read_when(text, ZONE))
    if isinstance(read, Parsed):
        when = read.value
        again = read_when(when.iso, ZONE).value
        assert (again.first, again.moment) == (when.first, when.moment), f"{when.iso} is read otherwise"
        assert again.exact == ("day" if when.exact == "about" else when.exact)
        for remark in read.remarks:
            tells(remark.message, remark.fix)
    planned = read_or_refused(lambda: read_next(text))
    if isinstance(planned, Parsed) and planned.value.date:
        again = read_next(f"{planned.value.date} {planned.value.text}").value
        assert (planned.value.date, planned.value.text) == (again.date, again.text)
    named = when_in_name(text)
    assert named is None or 1700 <= named.first.year <= 2999


NOTATIONS_OF_PLACES = (degrees_of, dms_of, iso6709_of, geo_uri_of, utm_of, mgrs_of)
FINEST_M = {utm_of: 2.0, mgrs_of: 2.0}
"""By how much a notation may be off besides the position's own uncertainty: whole metres, and the edge of a square."""


def a_position(data: bytes) -> None:
    """What is read lies on the Earth, and every notation that it is shown in reads back to the same place."""
    text = text_of(data)
    read = read_or_refused(lambda: parse_position(text))
    if isinstance(read, Position):
        reads_back(read)


def reads_back(place: Position) -> None:
    lat, lon, radius_m = place.lat_deg, place.lon_deg, place.uncertainty_m
    assert -90 <= lat <= 90, lat
    assert -180 <= lon <= 180, lon
    assert radius_m is None or 0 < radius_m < math.inf, radius_m
    for notation in NOTATIONS_OF_PLACES:
        written = notation(place)
        if written is None:
            continue
        back = parse_position(written)
        away_m = distance_m(lat, lon, back.lat_deg, back.lon_deg)
        allowed_m = max(radius_m or degrees_uncertainty_m(1e-5, lat), FINEST_M.get(notation, 0.01))
        assert away_m <= allowed_m * 1.01 + 0.01, f"{notation.__name__}: {written} is {away_m} m from {lat}, {lon}"


# Files of the journal


def front_matter(data: bytes) -> None:
    front = read_front_matter("a.md", data)
    if front is not None:
        sound(front.problems, data)
        assert all(1 <= field.line <= data.count(b"\n") + data.count(b"\r") + 1 for field in front.fields)
    guess_front_matter("a.md", data)


def an_entry(data: bytes) -> None:
    draft = read_entry("a.md", data, SETTINGS)
    if draft is not None:
        sound(draft.problems, data)
        for value in draft.values.values():
            list(finite(value))


def keys_of(kind: str, data: bytes) -> None:
    """As what follows the kind of an entry."""
    an_entry(f"---\nkind: {kind}\n".encode() + data)


ENTRY_WAYS = (front_matter, an_entry, *(functools.partial(keys_of, kind) for kind in KINDS))


def the_settings(data: bytes) -> None:
    with suppress(Refusal):
        settings, problems = read_settings(data)
        sound(problems, data)
        list(finite(settings))


LOGGER = ClimateSource(files="*.csv", tent="hut", time="Time", temperature="Temp", humidity="RH")
STATION = WeatherSource(files="*.csv", date="Date", rain="Rain (mm)", temperature_max="Max", temperature_min="Min")


def a_log(data: bytes) -> None:
    log, problems = read_log("a.csv", data, LOGGER, "Europe/London")
    sound(problems, data)
    in_order(log)


def a_core_log(data: bytes) -> None:
    log, problems = read_core_log("a.csv", data, None, "Europe/London")
    sound(problems, data)
    in_order(log)


def the_weather(data: bytes) -> None:
    weather, problems = read_weather("a.csv", data, STATION)
    sound(problems, data)
    assert all(one.day < later.day for one, later in pairwise(weather.days))


def a_layout(data: bytes) -> None:
    layout = read_or_refused(lambda: layout_of(data))
    if isinstance(layout, Layout):
        for time in layout.times:
            layout.formats(time)
        for temperature in layout.temperatures:
            layout.unit(temperature)


TABLE_WAYS = (a_log, a_core_log, the_weather, a_layout)


def in_order(log: LoggerFile) -> None:
    assert len(log.stamps_s) == len(log.temperature_c) == len(log.humidity_pct)
    assert all(one < later for one, later in pairwise(log.stamps_s)), "not in the order of time"
    assert all(math.isnan(air) or -60 <= air <= 150 for air in log.temperature_c)
    assert all(math.isnan(humidity) or 0 <= humidity <= 100 for humidity in log.humidity_pct)


def a_track(file: bytes) -> None:
    track, problems = read_track("a.gpx", file)
    sound(problems, file)
    assert problems or track.starts, "neither a track nor a message"
    for first, past in track.runs():
        assert all(one < later for one, later in pairwise(track.stamps_s[first:past])), "time stands still"
    assert all(-90 <= lat <= 90 for lat in track.lats_deg)
    assert all(-180 <= lon <= 180 for lon in track.lons_deg)
    if track.starts:
        middle = datetime.fromtimestamp((track.from_s + track.to_s) / 2, UTC)
        place = place_on([track], middle)
        assert place is None or (abs(place.lat_deg) <= 90 and abs(place.lon_deg) <= 180)


TRACK_WAYS = (a_track, lambda data: a_track(b"<gpx><trk><trkseg>" + data + b"</trkseg></trk></gpx>"))
