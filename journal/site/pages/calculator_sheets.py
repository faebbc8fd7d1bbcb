"""Each of the trade's sums as a page lays it out: what it asks for, what it gives, by which formula and whose."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from journal.analysis import psychrometrics, substrate, ventilation, yields

Kind = Literal["mass", "length", "temperature", "flow", "%", "min", "count", "choice"]

UNITS: Mapping[str, tuple[str, ...]] = {
    "mass": ("g", "kg", "oz", "lb"),
    "length": ("m", "cm", "ft", "in"),
    "temperature": ("°C", "°F"),
    "flow": ("m³/h", "cfm"),
}
"""Units that are chosen in place, by kind; the other kinds have one unit alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One value that a sum asks for.

    least, above, most, below: what it may be, in the kind's own unit (g, m, °C, m³/h, %, min). why: why not beyond
    that. usual: the unit it stands in at first, metric and US. optional: whether the rest can be calculated without it.
    choices: (value, words), for a choice.
    """

    key: str
    label: str
    kind: Kind
    usual: tuple[str, str] = ("", "")
    least: float | None = None
    above: float | None = None
    most: float | None = None
    below: float | None = None
    why: str = ""
    optional: bool = False
    choices: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Working:
    """A formula and who says that it is calculated so. key: by it the page puts the numbers in."""

    key: str
    formula: str
    source: str


@dataclass(frozen=True, slots=True)
class Result:
    """One number that a sum gives. words: what it is."""

    key: str
    words: str
    workings: tuple[Working, ...]


@dataclass(frozen=True, slots=True)
class Calculator:
    """One sum. short: its name where there is little room. lead: what it is for, in a sentence or two."""

    key: str
    short: str
    title: str
    lead: str
    fields: tuple[Field, ...]
    results: tuple[Result, ...]


def _mass(key: str, label: str, usual: tuple[str, str] = ("kg", "lb"), *, optional: bool = False) -> Field:
    why = "a mass is more than nothing"
    return Field(key=key, label=label, kind="mass", usual=usual, above=0, why=why, optional=optional)


def _mass_or_none(key: str, label: str, usual: tuple[str, str] = ("g", "oz")) -> Field:
    return Field(key=key, label=label, kind="mass", usual=usual, least=0, why="no mass is below nothing")


def _moisture(key: str, label: str) -> Field:
    why = "it is on the wet basis, water over everything, and dry substance cannot be all water"
    return Field(key=key, label=label, kind="%", least=0, below=100, why=why)


def _units(label: str, *, optional: bool = False) -> Field:
    return Field(key="units", label=label, kind="count", least=1, why="units are counted", optional=optional)


def _side(key: str, label: str) -> Field:
    return Field(key=key, label=label, kind="length", usual=("m", "ft"), above=0, why="air needs room")


MIX_SOURCE = (
    "Cornell Waste Management Institute, Calculate percent moisture of compost: the mean of the parts by their mass"
)
SAMPLE_SOURCE = "Cornell Waste Management Institute, composting moisture worksheets: (wet − dry) / wet"
DRY_BASIS_SOURCE = "common practice: water over dry substance; always say which basis"
PLAIN_SOURCE = "common practice: plain arithmetic on what was weighed"
DEFICIT_SOURCE = (
    "R. G. Allen, L. S. Pereira, D. Raes, M. Smith, Crop evapotranspiration, FAO Irrigation and Drainage Paper 56, "
    "1998, chapter 3: saturation less actual vapour pressure; saturation by ASHRAE’s equations"
)
ASHRAE_SOURCE = "ASHRAE Handbook, Fundamentals, 2017, chapter 1, equations 5 (over ice) and 6 (over water)"
SATURATION_FORMULA = (
    "over water, T in kelvin, p in Pa: ln p = −5800.2206 / T + 1.3914993 − 0.048640239 T + 4.1764768·10⁻⁵ T² "
    "− 1.4452093·10⁻⁸ T³ + 6.5459673 ln T"
)

MIX = Calculator(
    "mix",
    "Mix and water",
    "A mix, and the water to add",
    "What goes into it, as it is weighed out, and how much of each is dry substance. The dry shares come from your own "
    "settings, else from what is common practice; put in your own where you know better.",
    (_moisture("wanted", "Moisture to reach"), _units("Units it fills", optional=True)),
    (
        Result("water", "water to add", (Working("water", substrate.WATER_FORMULA, substrate.WATER_SOURCE),)),
        Result(
            "moisture",
            "moisture of the mix now",
            (
                Working("wet", "wet basis = (mass − dry substance) / mass × 100", MIX_SOURCE),
                Working("dry", "dry basis = wet basis / (100 − wet basis) × 100", DRY_BASIS_SOURCE),
            ),
        ),
        Result(
            "dry",
            "dry substance in the mix",
            (Working("dry", "dry substance = sum of each mass × its dry share", MIX_SOURCE),),
        ),
        Result(
            "wet",
            "the mix with the water in it",
            (Working("wet", "mass with the water = mass of the mix + water to add", PLAIN_SOURCE),),
        ),
    ),
)

SAMPLE = Calculator(
    "sample",
    "Sample",
    "Moisture of a sample",
    "Weigh a handful, dry it until it loses no more, weigh it again. The vessel is not counted.",
    (_mass("wet", "Sample as it is", ("g", "oz")), _mass_or_none("dried", "Sample dried")),
    (
        Result(
            "moisture",
            "moisture",
            (
                Working("wet", "wet basis = (as it is − dried) / as it is × 100", SAMPLE_SOURCE),
                Working("dry", "dry basis = wet basis / (100 − wet basis) × 100", DRY_BASIS_SOURCE),
            ),
        ),
        Result(
            "share",
            "dry share, as it stands in the settings",
            (Working("share", "dry share = dried / as it is × 100", SAMPLE_SOURCE),),
        ),
    ),
)

DRY = Calculator(
    "dry",
    "Dry mass",
    "Dry mass of a unit",
    "Substrate as bagged, before heat and spawn, the bag not counted.",
    (_mass("wet", "Wet mass of a unit"), _moisture("moisture", "Its moisture"), _units("Units", optional=True)),
    (
        Result(
            "unit",
            "dry substrate a unit",
            (Working("unit", "dry mass = wet mass × (100 % − moisture)", SAMPLE_SOURCE),),
        ),
        Result("all", "dry substrate in all", (Working("all", "dry mass in all = units × dry mass", PLAIN_SOURCE),)),
    ),
)

EFFICIENCY = Calculator(
    "be",
    "BE",
    "Biological efficiency",
    "Fresh mass of all flushes, trimmed and unwashed, over the dry substrate it grew on. Spawn is no substrate.",
    (
        _mass_or_none("fresh", "Fresh mass picked"),
        _mass("dry", "Dry substrate a unit", ("g", "oz")),
        _units("Units inoculated"),
        Field(key="lost", label="Units lost", kind="count", least=0, why="lost units are counted", optional=True),
    ),
    (
        Result(
            "begun",
            "BE of the units inoculated",
            (Working("begun", "BE = fresh mass / (units inoculated × dry substrate a unit) × 100", yields.BE_SOURCE),),
        ),
        Result(
            "lived",
            "BE of the units that lived",
            (
                Working(
                    "lived",
                    "BE = fresh mass / ((units inoculated − units lost) × dry substrate a unit) × 100",
                    yields.BE_SOURCE,
                ),
            ),
        ),
    ),
)

SPAWN = Calculator(
    "spawn",
    "Spawn",
    "Spawn rate",
    "Spawn as it is, over the substrate without it. A rate says little until its basis is named.",
    (
        _mass_or_none("spawn", "Spawn a unit"),
        _mass("wet", "Wet substrate a unit"),
        _mass("dry", "Dry substrate a unit", ("g", "oz"), optional=True),
        Field(
            key="rate", label="Rate wanted, wet basis", kind="%", least=0, why="no rate is below nothing", optional=True
        ),
    ),
    (
        Result(
            "rate",
            "spawn rate, wet basis",
            (
                Working("wet", "wet basis = spawn / wet substrate × 100", substrate.SPAWN_WET_SOURCE),
                Working("dry", "dry basis = spawn as it is / dry substrate × 100", substrate.SPAWN_DRY_SOURCE),
            ),
        ),
        Result(
            "needed",
            "spawn for the rate wanted",
            (Working("needed", "spawn = wet substrate × rate wanted / 100", substrate.SPAWN_WET_SOURCE),),
        ),
    ),
)

AIR = Calculator(
    "air",
    "Dew point",
    "Dew point and vapour pressure deficit",
    "How near the air is to condensing, and how hard it dries what is wet.",
    (
        Field(
            key="temperature",
            label="Temperature of the air",
            kind="temperature",
            usual=("°C", "°F"),
            least=psychrometrics.COLDEST_C,
            most=psychrometrics.HOTTEST_C,
            why="the equations hold no further",
        ),
        Field(
            key="humidity",
            label="Relative humidity",
            kind="%",
            above=0,
            most=100,
            why="air that is quite dry has no dew point, and above 100 % it is fog",
        ),
    ),
    (
        Result("dew", "dew point", (Working("dew", psychrometrics.DEW_POINT_FORMULA, ASHRAE_SOURCE),)),
        Result(
            "deficit",
            "vapour pressure deficit",
            (Working("deficit", psychrometrics.DEFICIT_FORMULA, DEFICIT_SOURCE),),
        ),
        Result(
            "saturation",
            "saturation pressure of water vapour",
            (Working("saturation", SATURATION_FORMULA, ASHRAE_SOURCE),),
        ),
    ),
)

CHANGES = Calculator(
    "changes",
    "Air changes",
    "Air changes",
    "How often an hour the exhaust moves as much air as the tent holds, over its runs and pauses. A rated flow is that "
    "of free air: duct, filter and damper let less through, so from it the air changes are at most so many.",
    (
        _side("width", "Width"),
        _side("depth", "Depth"),
        _side("height", "Height"),
        Field(
            key="flow",
            label="Flow of the fan",
            kind="flow",
            usual=("m³/h", "cfm"),
            least=0,
            why="no flow is below nothing",
        ),
        Field(
            key="flow_is",
            label="That flow is",
            kind="choice",
            choices=(("rated", "rated"), ("measured", "measured")),
        ),
        Field(
            key="runs",
            label="It runs",
            kind="choice",
            choices=(("cycle", "on a cycle"), ("on", "all the time")),
        ),
        Field(key="on", label="Minutes it runs", kind="min", least=0, why="no time is below nothing"),
        Field(key="every", label="From start to start", kind="min", above=0, why="a cycle takes time"),
    ),
    (
        Result(
            "hour",
            "air changes an hour, on the mean",
            (Working("hour", ventilation.FORMULA, ventilation.SOURCE),),
        ),
        Result(
            "run",
            "air changes in one run",
            (Working("run", "air changes in one run = flow × run time / volume", ventilation.SOURCE),),
        ),
        Result(
            "volume",
            "volume of the empty tent",
            (Working("volume", "volume = width × depth × height", PLAIN_SOURCE),),
        ),
    ),
)

CALCULATORS = (MIX, SAMPLE, DRY, EFFICIENCY, SPAWN, AIR, CHANGES)
