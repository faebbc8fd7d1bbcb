"""When and where a picture was taken, from its EXIF.

Nothing here raises for what a camera wrote: what cannot be read is None, with a fault that says why. *Source* of each
tag's notation, where no other is named: CIPA DC-008 / JEITA CP-3451 (Exif).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from io import BytesIO
from typing import Any, BinaryIO

from PIL import Image

from journal.problems import Severity, Unreadable, shortened
from journal.reading.picture_files import kind_by_first_bytes

Fault = tuple[Severity, str, str]
"""(severity, message, fix), as in a Problem; the file it belongs to is known elsewhere."""

LEAST_OFFSET_MIN, MOST_OFFSET_MIN = -12 * 60, 14 * 60
_GPS_SLACK_S = 5 * 60

_FIX_TIME = "write the date in the entry, with its time of day"
_FIX_PLACE = "write `where` in the entry if the place matters"


Warn = Callable[[str, str], None]
"""Called with the message and fix of a warning."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExifFacts:
    """The contents of EXIF; None for whatever is missing or cannot be read.

    local: the camera's clock, naive. offset_min: of that clock from UTC, by its own tag or by GPS time.
    gps_utc: the GPS clock, naive, in UTC. lat_deg, lon_deg: WGS 84. uncertainty_m: radius.
    camera: its model, as it writes it.
    """

    local: datetime | None = None
    offset_min: int | None = None
    gps_utc: datetime | None = None
    lat_deg: float | None = None
    lon_deg: float | None = None
    uncertainty_m: float | None = None
    camera: str | None = None
    faults: tuple[Fault, ...] = ()


def read_exif(file: BinaryIO, image: Image.Image | None) -> ExifFacts:
    """The facts of an open picture file; image: the same file opened by Pillow, None if Pillow cannot open it."""
    try:
        return exif_facts(_tags_of(file, image))
    except Exception:  # ExifRead may raise anything for a damaged block
        return ExifFacts(faults=(("warning", "this photo has EXIF that cannot be read", _FIX_TIME),))


def _tags_of(file: BinaryIO, image: Image.Image | None) -> Mapping[str, Any]:
    """ExifRead's tags by their names; empty if there is no EXIF.

    TIFF is read directly, and so is a JPEG that Pillow cannot open. From every other file the block is extracted first:
    ExifRead misreads some of those containers, and JPEGs whose first segment is not the EXIF.
    """
    kind = kind_by_first_bytes(file)
    if kind == "TIFF" or (image is None and kind == "JPEG"):
        return _exifread(file)
    if block := _exif_block(image) if image is not None else b"":
        return _exifread(BytesIO(block))
    # Pillow finds a chunk after the pixels only when it decodes them.
    return _exifread(file) if kind == "PNG" else {}


def _exif_block(image: Image.Image) -> bytes:
    """The EXIF block of an opened picture, beginning with its TIFF header; empty if there is none."""
    block = image.info.get("exif") or b""
    as_text = image.info.get("Raw profile type exif")
    if not block and as_text:  # hex digits under three lines of heading, as PNG carried EXIF before it had a chunk
        block = bytes.fromhex("".join(as_text.split("\n")[3:]))
    return re.sub(b"^(Exif\0\0)+", b"", block)


def _exifread(file: BinaryIO) -> Mapping[str, Any]:
    import exifread  # only new photos need it

    tags: Mapping[str, Any] = exifread.process_file(file, details=False, extract_thumbnail=False)
    return tags


def exif_facts(tags: Mapping[str, Any]) -> ExifFacts:
    faults: list[Fault] = []

    def warn(message: str, fix: str) -> None:
        faults.append(("warning", message, fix))

    local = _local(tags, warn)
    offset_min = _offset_min(tags, warn)
    gps_utc = _gps_utc(tags, warn)
    if offset_min is None and local is not None and gps_utc is not None:
        try:
            offset_min = offset_by_gps(local, gps_utc)
        except Unreadable as unreadable:
            warn(unreadable.message, unreadable.fix)
    position = _position(tags, warn)
    lat_deg, lon_deg = position or (None, None)
    return ExifFacts(
        local=local, offset_min=offset_min, gps_utc=gps_utc, lat_deg=lat_deg, lon_deg=lon_deg,
        uncertainty_m=_uncertainty_m(tags) if position else None, camera=_text(tags, "Image Model"),
        faults=tuple(faults),
    )  # fmt: skip


def _text(tags: Mapping[str, Any], name: str) -> str | None:
    """A text tag without its padding; None if it is absent or blank, which in the standard means unknown."""
    if name not in tags:
        return None
    values = tags[name].values
    if isinstance(values, list):
        values = bytes(v for v in values if isinstance(v, int) and 0 < v < 256)
    text = values.decode("latin-1") if isinstance(values, bytes) else str(values)
    text = text.strip(" \0\t\r\n")
    return text if text.strip(": ") else None


def _numbers(tags: Mapping[str, Any], name: str) -> list[Fraction] | None:
    """A tag of rationals, exact; None where it is absent; raises Unreadable for a denominator of zero."""
    if name not in tags:
        return None
    values = tags[name].values if isinstance(tags[name].values, list) else []
    # ExifRead keeps x/0 as a Fraction whose denominator is 0.
    if not all(isinstance(value, Fraction | int) and value.denominator != 0 for value in values):
        raise Unreadable(f"this photo has a {name.removeprefix('GPS ')} with a zero denominator or no number")
    return [Fraction(value.numerator, value.denominator) for value in values]


_STRICT = re.compile(r"([0-9]{4}):([0-9]{2}):([0-9]{2}) ([0-9]{2}):([0-9]{2}):([0-9]{2})")
_LOOSE_DAY = re.compile(r"([0-9]{4})[-:/.]([0-9]{1,2})[-:/.]([0-9]{1,2})")
_LOOSE = re.compile(_LOOSE_DAY.pattern + r"[ T]([0-9]{1,2}):([0-9]{2}):([0-9]{2})")
_FIRST_YEAR, _LAST_YEAR = 1700, 2999


def _local(tags: Mapping[str, Any], warn: Warn) -> datetime | None:
    """DateTimeOriginal (9003.H) with SubSecTimeOriginal (9291.H); only zeros mean unknown, as blanks do."""
    text = _text(tags, "EXIF DateTimeOriginal")
    if text is None or not text.strip("0:- "):
        return None
    local = _calendar_moment(_LOOSE, text)
    if local is None:
        warn(f"this photo has the time {_shown(text)}, which is impossible", _FIX_TIME)
        return None
    if not _STRICT.fullmatch(text):
        message = f"this photo has the time {_shown(text)}, not written as 2026:10:03 14:05:00"
        warn(message, f"check that {local:%Y-%m-%d %H:%M:%S} is right")
    digits = _text(tags, "EXIF SubSecTimeOriginal") or ""
    if re.fullmatch("[0-9]+", digits):  # those that follow the decimal point: “045” is 0.045 s
        local += timedelta(microseconds=int(f"{digits:0<6}"[:6]))
    return local


def _calendar_moment(notation: re.Pattern[str], text: str) -> datetime | None:
    """The moment that a text in that notation names; None for another notation or an impossible date."""
    match = notation.fullmatch(text)
    try:
        parts = [int(part) for part in match.groups()] if match else [0, 0, 0]
        year, month, day, hour, minute, second = (*parts, 0, 0, 0)[:6]
        moment = datetime(year, month, day, hour, minute, second)
    except ValueError:
        return None
    return moment if _FIRST_YEAR <= moment.year <= _LAST_YEAR else None


def _shown(text: str) -> str:
    """What a camera wrote, for a message: short, and without control characters."""
    return shortened("".join(c if c.isprintable() else "?" for c in text))


_OFFSET = re.compile(r"([+-])([0-9]{1,2}):?([0-5][0-9])")


def _offset_min(tags: Mapping[str, Any], warn: Warn) -> int | None:
    """OffsetTimeOriginal (9011.H): “+HH:MM”. Small deviations are read, with a warning."""
    text = _text(tags, "EXIF OffsetTimeOriginal")
    if text is None:
        return None
    match = _OFFSET.fullmatch("+00:00" if text == "Z" else text)
    minutes = int(match[1] + "1") * (int(match[2]) * 60 + int(match[3])) if match else None
    if minutes is None or not LEAST_OFFSET_MIN <= minutes <= MOST_OFFSET_MIN:
        warn(f"this photo has the offset from UTC {_shown(text)}, which is impossible", _FIX_TIME)
        return None
    if not re.fullmatch(r"[+-][0-9]{2}:[0-9]{2}", text):
        message = f"this photo has the offset from UTC {_shown(text)}, not written as +01:00"
        warn(message, "check that its time is right")
    return minutes


def _gps_utc(tags: Mapping[str, Any], warn: Warn) -> datetime | None:
    """GPSDateStamp (1D.H) with GPSTimeStamp (7.H), both UTC; a time without a date does not count."""
    day = _text(tags, "GPS GPSDate")
    try:
        clock = _numbers(tags, "GPS GPSTimeStamp")
    except Unreadable as unreadable:
        warn(unreadable.message, _FIX_TIME)
        return None
    if day is None or clock is None or not day.strip("0:- "):
        return None
    midnight = _calendar_moment(_LOOSE_DAY, day)
    in_range = len(clock) == 3 and all(0 <= part < most for part, most in zip(clock, (24, 60, 60), strict=True))
    if midnight is None or not in_range:
        warn("this photo has an impossible GPS date or time", _FIX_TIME)
        return None
    seconds = clock[0] * 3600 + clock[1] * 60 + clock[2]
    return midnight + timedelta(microseconds=round(seconds * 1_000_000))


def offset_by_gps(local: datetime, gps_utc: datetime) -> int:
    """Minutes that a camera's clock is ahead of UTC, to the quarter hour; raises Unreadable if GPS time does not decide
    it.

    Both naive. A difference more than 5 minutes from every quarter hour, or outside -12 ... +14 h, decides nothing.
    """
    ahead = local - gps_utc
    quarters = round(ahead / timedelta(minutes=15))
    off_s = abs(ahead - quarters * timedelta(minutes=15)).total_seconds()
    if off_s > _GPS_SLACK_S or not LEAST_OFFSET_MIN <= quarters * 15 <= MOST_OFFSET_MIN:
        raise Unreadable(
            f"this photo has a camera clock ({local:%Y-%m-%d %H:%M:%S}) "
            f"and a GPS clock ({gps_utc:%Y-%m-%d %H:%M:%S} UTC) that no time zone explains",
            "check the camera's clock; its time is taken as in the journal's time zone",
        )
    return quarters * 15


def _position(tags: Mapping[str, Any], warn: Warn) -> tuple[float, float] | None:
    """GPSLatitude and GPSLongitude (2.H, 4.H) with their references, in degrees."""
    if "GPS GPSLatitude" not in tags and "GPS GPSLongitude" not in tags:
        return None
    try:
        lat_deg = _degrees(tags, "GPS GPSLatitude", "NS", 90)
        lon_deg = _degrees(tags, "GPS GPSLongitude", "EW", 180)
        # 12.H: a position on another ellipsoid is hundreds of metres from the same numbers on WGS 84.
        datum = _text(tags, "GPS GPSMapDatum") or ""
        if re.sub("[^A-Z0-9]", "", datum.upper()) not in ("", "WGS84", "WORLDGEODETICSYSTEM1984"):
            raise Unreadable(f"this photo has a GPS position on the datum {_shown(datum)}, not on WGS 84")
        if lat_deg == lon_deg == 0:
            raise Unreadable("this photo has the GPS position 0, 0, which cameras write when they have no position")
    except Unreadable as unreadable:
        warn(unreadable.message, _FIX_PLACE)
        return None
    if _text(tags, "GPS GPSStatus") == "V":  # 9.H: measurement interrupted
        message = "this photo has a GPS position that was not measured at that moment"
        warn(message, "check that the place is right")
    return float(lat_deg), float(lon_deg)


def _degrees(tags: Mapping[str, Any], name: str, ends: str, most: int) -> Fraction:
    """Signed degrees. 60 carries over: cameras that round their seconds write 59.99996″ as 60″."""
    parts = _numbers(tags, name)
    end = (_text(tags, f"{name}Ref") or "").upper()[:1]
    if parts is None or len(parts) != 3:
        raise Unreadable(f"this photo has an incomplete {name.removeprefix('GPS ')}")
    if not end or end not in ends:
        raise Unreadable(f"this photo has a {name.removeprefix('GPS ')} that does not say {' or '.join(ends)}")
    degrees, minutes, seconds = parts
    whole = degrees + minutes / 60 + seconds / 3600
    if min(parts) < 0 or minutes > 60 or seconds > 60 or whole > most:
        raise Unreadable(f"this photo has a {name.removeprefix('GPS ')} that is out of range")
    return -whole if end in "SW" else whole


def _uncertainty_m(tags: Mapping[str, Any]) -> float | None:
    """GPSHPositioningError (1F.H) in metres, which ExifRead knows only by its number; None if not stated.

    Zero states nothing. *Source* of that: Darwin Core, coordinateUncertaintyInMeters ("Zero is not a valid value").
    """
    try:
        error_m = _numbers(tags, "GPS Tag 0x001F") or _numbers(tags, "GPS GPSHPositioningError")
    except Unreadable:
        return None
    return float(error_m[0]) if error_m and error_m[0] > 0 else None
