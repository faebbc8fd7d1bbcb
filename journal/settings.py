"""What the settings of a journal hold, once read, and those of a tent: frozen values.

Units are at the end of a name, and None means unknown, as in `model.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal


@dataclass(frozen=True, slots=True)
class ValueRange:
    """A wanted range, both ends included, in the unit its field names."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LightHours:
    """Hours of light a day, with the clock times ("06:30") where they were written."""

    on_h: float
    lit_from: str | None = None
    lit_to: str | None = None


@dataclass(frozen=True, slots=True)
class Exhaust:
    """How an exhaust fan runs. For "cycle": on_min of every every_min minutes; on_min None where not said."""

    mode: Literal["cycle", "on", "off"]
    on_min: float | None = None
    every_min: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tent:
    """A tent or room as the settings describe it. every: (service, days between).

    unshared: a share keeps it back; ID and name are made up, and it is there only for what was in it.
    """

    id: str
    name: str
    width_m: float | None = None
    depth_m: float | None = None
    height_m: float | None = None
    shelf_area_m2: float | None = None
    floor: str | None = None
    exhaust_m3_h: float | None = None
    exhaust_flow_is: Literal["rated", "measured"] | None = None
    humidity_pct: ValueRange | None = None
    temperature_c: ValueRange | None = None
    every: tuple[tuple[str, float], ...] = ()
    unshared: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """`[shares.NAME]` of the settings, as written and checked. texts: whose words go out: of what is grown and the
    tents named, or also those of finds and of visits to them."""

    name: str
    about: tuple[str, ...] = ()
    since: date | None = None
    positions: Literal["hidden", "area", "exact"] = "hidden"
    area_deg: float = 0.1
    times: Literal["day", "minute"] = "day"
    by: bool = False
    texts: Literal["grown", "all"] = "grown"
    locked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Permit:
    """`[permits.NAME]` of the settings: how much it allows to pick, on a day and in all, and from which day to which,
    both included; None: without that bound."""

    name: str
    a_day_g: float | None = None
    in_all_g: float | None = None
    first: date | None = None
    last: date | None = None

    def holds_on(self, day: date) -> bool:
        return (self.first or day) <= day <= (self.last or day)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClimateSource:
    """`[[climate]]` of the settings: which CSV files, for which tent, and how to read them."""

    files: str
    tent: str
    time: str | None = None
    temperature: str | None = None
    humidity: str | None = None
    time_zone: str | None = None
    time_format: str | None = None
    temperature_unit: Literal["°C", "°F"] | None = None
    humidity_accuracy_pct: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherSource:
    """`[[weather]]` of the settings: which CSV files of a weather station, and the names of their columns. base_c: of
    degree-days, None where it is not written."""

    files: str
    date: str
    rain: str | None = None
    temperature: str | None = None
    temperature_max: str | None = None
    temperature_min: str | None = None
    date_format: str | None = None
    base_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraClock:
    """A camera whose clock is off, by the name that it writes into its photos. add_min: minutes to add to its times,
    for photos that it dates from the day `first` to the day `last`, both included; None: without that bound."""

    camera: str
    add_min: float
    first: date | None = None
    last: date | None = None

    def is_for(self, camera: str | None, day: date) -> bool:
        is_camera = camera is not None and camera.casefold() == self.camera.casefold()
        return is_camera and (self.first or day) <= day <= (self.last or day)


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSize:
    """A size of labels. margin_mm: where the first label of a sheet begins, from its left and its upper edge; None: as
    many as fit, in the middle of the sheet. gap_mm: between two labels, across and down."""

    name: str
    width_mm: float
    height_mm: float
    margin_mm: tuple[float, float] | None = None
    gap_mm: tuple[float, float] = (0.0, 0.0)

    @property
    def is_small(self) -> bool:
        """Whether a label has room for its most needed lines alone."""
        return self.height_mm < 20


LABEL_SIZES = (
    LabelSize(name="dish", width_mm=30, height_mm=15),
    LabelSize(name="jar", width_mm=50, height_mm=30),
    LabelSize(name="block", width_mm=70, height_mm=40),
)
"""For the lid of a dish, a jar, and a block or bag."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSettings:
    """`[labels]` of the settings. sheet: None where the units decide. sizes: the author's own. reserved: (kind, ID) of
    each label that was printed ahead, whether its ID was taken up since or not."""

    size: str | None = None
    sheet: Literal["A4", "Letter"] | None = None
    has_check: bool = False
    sizes: tuple[LabelSize, ...] = ()
    reserved: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnMap:
    """`[[map]]` of the settings: a drawn or scanned map. points: (px from the left, px from the top, latitude,
    longitude) in the picture as it is shown upright, three or more that are not on one line."""

    file: str
    points: tuple[tuple[float, float, float, float], ...]


FORMAT = 1
"""The newest format of a journal folder that this program reads; it reads every earlier one too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    format: int = 1
    """Of the journal folder: at most FORMAT."""
    title: str = "Journal"
    author: str = "the author"
    time_zone: str = "UTC"
    units: Literal["metric", "us"] = "metric"
    currency: str | None = None
    """ISO 4217: of all money in the journal."""
    site_url: str | None = None
    poison_centre: str | None = None
    as_of: date | None = None
    elevation_m: float | None = None
    """Of where things are sterilised, above sea level."""
    locked: bool = False
    """Whether the site is built under a passphrase."""
    ingredients: tuple[tuple[str, float], ...] = ()
    """Dry share (0-1) of each ingredient the author has measured."""
    names: tuple[tuple[str, str], ...] = ()
    """The author's own names of species, each with what it means: (`shelf oyster`, `Pleurotus pulmonarius`)."""
    english_names: tuple[tuple[str, str], ...] = ()
    """In a share: the program's own names by which its search finds the species that it shows; an English name of
    several species is beside each. Nothing else takes them for what a name means."""
    tents: tuple[Tent, ...] = ()
    climate: tuple[ClimateSource, ...] = ()
    weather: tuple[WeatherSource, ...] = ()
    shares: tuple[Share, ...] = ()
    permits: tuple[Permit, ...] = ()
    camera_clocks: tuple[CameraClock, ...] = ()
    maps: tuple[OwnMap, ...] = ()
    labels: LabelSettings = LabelSettings()
