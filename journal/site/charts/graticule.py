"""What part of a flat map is drawn, its paths in metres, and the graticule: lines of equal latitude and longitude."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, cos, floor, log10, radians

from journal.geo.flat_map import FlatMap, Metres, normal_lon
from journal.site.charts.primitives import trimmed, width_em

ASPECT = 5 / 4
"""Width by height of every map; `.sketch-map` in the style sheet says the same."""

PHONE_PX = 326
"""The width of a map on a phone, for which clusters and names are laid out in the page."""


NARROWEST_PX = 216
"""The width of a map on a screen of 320 px."""

_DEGREES_PX = 12
_DEGREES_GUTTER_PX = 60.0


@dataclass(frozen=True, slots=True)
class PlaceName:
    """A name or a number. x, y: in %. data: metres east and south. shown: whether it fits. dx, dy: how far from there
    its middle and its baseline are, and half: of its width, in px."""

    x: str
    y: str
    words: str
    data: str = ""
    shown: bool = True
    dx: int = 0
    dy: int = 0
    half: int = 0


@dataclass(frozen=True, slots=True)
class View:
    """What of the flat map is drawn: its upper left corner (metres east and south) and its width."""

    left: float
    top: float
    width: float

    @property
    def height(self) -> float:
        return self.width / ASPECT

    @property
    def px_per_m(self) -> float:
        return PHONE_PX / self.width

    def percent(self, x: float, y: float) -> tuple[str, str]:
        across, down = (x - self.left) / self.width, (y - self.top) / self.height
        return f"{trimmed(across * 100)}%", f"{trimmed(down * 100)}%"

    def holds(self, x: float, y: float, margin: float = 0.0) -> bool:
        out_x, out_y = margin * self.width, margin * self.height
        return (
            self.left - out_x <= x <= self.left + self.width + out_x
            and self.top - out_y <= y <= self.top + self.height + out_y
        )

    def metres(self, value: float) -> str:
        """A length in the view, rounded to half a px of a large screen."""
        return trimmed(value, max(0, min(2, 3 - floor(log10(self.width)))))


def path_of(view: View, line: Sequence[Metres]) -> str:
    return "M" + "L".join(f"{view.metres(x)} {view.metres(y)}" for x, y in line)


_STEPS = (30.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001, 5e-4, 2e-4, 1e-4, 5e-5, 2e-5)
_DEG_M = 111_320.0
_MARGIN = 0.03
"""Fraction of the view by which lines extend beyond it, because its edges are calculated on a sphere only."""


def graticule_of(flat: FlatMap, view: View) -> tuple[str, tuple[PlaceName, ...]]:
    """Lines of equal latitude and longitude as one path, and their degrees at the left and lower edges."""
    bounds = _bounds(flat, view)
    if bounds is None:
        return "", ()
    south, north, west, east = bounds
    lat_step = _step(view.height / _DEG_M)
    lon_step = _step(min(180.0, view.width / _DEG_M / max(0.001, cos(radians((south + north) / 2)))))
    is_all_round = east - west >= 360
    pieces = 36 if is_all_round else 1 if view.width < 5_000 else 8
    path, numbers, taken = "", [], -_DEGREES_GUTTER_PX
    for lat in _multiples(south, north, lat_step):
        line = [level(flat, lat, west + (east - west) * at / pieces) for at in range(pieces + 1)]
        path += path_of(view, line)
        if (y := _crossing(line, view.left, 0)) is not None and view.holds(view.left, y):
            numbers.append(PlaceName("0%", view.percent(0, y)[1], degrees_words(lat, lat_step)))
    for lon in _multiples(west, east - lon_step / 2 if is_all_round else east, lon_step):
        line = [level(flat, south + (north - south) * at / pieces, lon) for at in range(pieces + 1)]
        path += path_of(view, line)
        if (x := _crossing(line, view.top + view.height, 1)) is not None and view.holds(x, view.top):
            words = degrees_words(normal_lon(lon), lon_step)
            across, half = (x - view.left) / view.width * NARROWEST_PX, width_em(words) * _DEGREES_PX / 2
            fits = across + half <= NARROWEST_PX and across - half >= taken
            taken = across + half + 4 if fits else taken
            numbers.append(PlaceName(view.percent(x, 0)[0], "100%", words, shown=fits))
    return path, tuple(numbers)


def level(flat: FlatMap, lat_deg: float, lon_deg: float) -> Metres:
    """Metres east and south of the centre: down is south on a screen."""
    x, y = flat.metres(lat_deg, lon_deg)
    return x, -y


def _bounds(flat: FlatMap, view: View) -> tuple[float, float, float, float] | None:
    """South, north, west and east of the view, with east greater than west; None if it is too large for lines to mean
    anything. If a pole is in it, all longitudes are."""
    if view.width > 8_000_000:
        return None
    edge = [-_MARGIN, *(at / 8 for at in range(9)), 1 + _MARGIN]
    around = [(a, b) for a in edge for b in edge if a in (edge[0], edge[-1]) or b in (edge[0], edge[-1])]
    places = [flat.place(view.left + a * view.width, -(view.top + b * view.height)) for a, b in around]
    lats = [lat for lat, _ in places]
    turns = [normal_lon(lon - flat.lon_deg) for _, lon in places]
    for pole in (-90.0, 90.0):
        if view.holds(*level(flat, pole, 0.0)):
            return min([*lats, pole]), max([*lats, pole]), -180.0, 180.0
    return min(lats), max(lats), flat.lon_deg + min(turns), flat.lon_deg + max(turns)


def _step(span_deg: float) -> float:
    """The step that fits two to five times into the span."""
    return next((step for step in _STEPS if span_deg / step >= 2), _STEPS[-1])


def _multiples(low: float, high: float, step: float) -> Iterator[float]:
    for at in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1):
        yield round(at * step, 6)


def _crossing(line: Sequence[Metres], edge: float, axis: int) -> float | None:
    """Where a line meets an edge of the view: the other coordinate there. axis: 0 a vertical edge, 1 a horizontal
    one."""
    for before, after in pairwise(line):
        low, high = before[axis], after[axis]
        if low != high and min(low, high) <= edge <= max(low, high):
            share = (edge - low) / (high - low)
            return before[1 - axis] + share * (after[1 - axis] - before[1 - axis])
    return None


def degrees_words(value_deg: float, step_deg: float) -> str:
    """`58.304°`, `−8.90°`: with the same signs as positions elsewhere, and as many decimals as the step."""
    decimals = max(0, ceil(-log10(step_deg) - 1e-9))
    value_deg = abs(value_deg) if abs(value_deg) == 180 else value_deg
    return f"{value_deg:z.{decimals}f}°".replace("-", "−")
