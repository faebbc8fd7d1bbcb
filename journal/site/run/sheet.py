"""What the drawing of a run is made of, and the widths that it is laid out for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from journal.site.charts import Scale
from journal.site.run.axis import Axis
from journal.site.run.happenings import Happening, Picked, Span

WIDTHS_PX: Mapping[str, float] = {"n": 288, "m": 690, "w": 1150}
"""The widths that are laid out for, each from which on it is shown: a phone, a tablet or a sheet of paper, a wide
screen. Between two of them the drawing stretches, and so nothing comes to cover anything."""

Hidden = str
"""Classes of the widths at which a part is not there: `xn xw`."""


def hidden_but_at(widths: Iterable[str]) -> Hidden:
    """The classes of a part that is there at some widths alone."""
    there = set(widths)
    return " ".join(f"x{name}" for name in WIDTHS_PX if name not in there)


@dataclass(frozen=True, slots=True)
class HungPicture:
    """A photograph to hang: its day, its smallest and largest file, where its entry stands on the page, its words."""

    at_d: float
    small: str
    large: str
    anchor: str
    words: str


@dataclass(frozen=True, slots=True)
class Trace:
    """One measure over the whole run. bands: (from, to, low, high) in days and the measure's unit. dots: (day, value,
    whether the door was open). path: in a box over `scale` and the whole axis."""

    title: str
    wants: str | None
    scale: Scale
    path: str
    bands: tuple[tuple[float, float, float, float], ...] = ()
    dots: tuple[tuple[float, float, bool], ...] = ()


@dataclass(frozen=True, slots=True)
class Told:
    """All that a run's drawing shows."""

    axis: Axis
    spans: tuple[Span, ...]
    happenings: tuple[Happening, ...]
    picked: tuple[Picked, ...]
    changes: tuple[Happening, ...]
    pictures: tuple[HungPicture, ...]
    traces: tuple[Trace, ...]


@dataclass(frozen=True, slots=True)
class Text:
    """dx: px that it stands off its place."""

    x: str
    y: float
    words: str
    anchor: str = "start"
    look: str = ""
    dx: int = 0


@dataclass(frozen=True, slots=True)
class Line:
    """Upright at x, or level over the whole width where x is None."""

    x: str | None
    from_y: float
    to_y: float
    look: str = ""


@dataclass(frozen=True, slots=True)
class Box:
    x: str
    y: float
    width: str
    height: float
    look: str = ""


@dataclass(frozen=True, slots=True)
class Frame:
    """A hung photograph. x: its day. shift_px: how far its middle is moved from there, to lie inside the drawing.

    behind: (how many more hang behind it, classes of the widths at which that is not so).
    """

    x: str
    shift_px: float
    picture: HungPicture
    lane: int
    hidden: Hidden = ""
    behind: tuple[tuple[int, Hidden], ...] = ()


@dataclass(frozen=True, slots=True)
class Bar:
    """A harvest: a bar of fixed width about its day."""

    x: str
    y: float
    width: float
    height: float
    look: str


@dataclass(frozen=True, slots=True)
class Dot:
    x: str
    y: float
    look: str


@dataclass(frozen=True, slots=True)
class Panel:
    """The box of one trace: y and height of the plot, and its path."""

    y: float
    height: float
    path: str


@dataclass(slots=True)
class Drawing:
    """height: px. Lists are in the order they are painted; photographs in the order of their days."""

    height: float = 0
    boxes: list[Box] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    frames: list[Frame] = field(default_factory=list)
    bars: list[Bar] = field(default_factory=list)
    dots: list[Dot] = field(default_factory=list)
    panels: list[Panel] = field(default_factory=list)
