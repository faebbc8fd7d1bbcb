"""A coarse position: the cell of a decimal grid that contains it, and the names of cells.

Never by noise, which repeats average out.
*Source:* A. D. Chapman, Current Best Practices for Generalizing Sensitive Species Occurrence Data (GBIF Secretariat,
2020; version 1.1 of 2023), sections 4.1 and 4.2: rounding to 1°, 0.1°, 0.01° or 0.001°, and against displacing places
at random.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from math import ceil, floor, log10

from journal.geo.grids import degrees_uncertainty_m
from journal.model import Position
from journal.settings import Share

_ORDER = ("hidden", "area", "exact")  # what shows less comes first


def shown(position: Position | None, locality: str, share: Share) -> Position | None:
    """What a share shows of a find's position: at most what share and find allow; None where that is nothing."""
    allowed = min(share.positions, locality, key=_ORDER.index)
    if position is None or allowed == "hidden":
        return None
    if allowed == "area":
        return cell_of(position, share.area_deg)
    return Position(position.lat_deg, position.lon_deg, position.uncertainty_m, position.source)


def cell_of(position: Position, grid_deg: float) -> Position:
    """The centre of the cell of a decimal grid that a position is in, and how sure it is. grid_deg: the cell's side.
    Its uncertainty is one step of the grid in each axis, at that edge of the cell where it is widest, and the
    position's own on top; rounded up to two digits, so that it tells no more than the cell does.
    *Source:* A. D. Chapman, J. R. Wieczorek, Georeferencing Best Practices (2020), Uncertainty due to Coordinate
    Precision."""
    lat_deg, lon_deg = _rounded(position.lat_deg, grid_deg), _rounded(position.lon_deg, grid_deg)
    widest_deg = max(0.0, abs(lat_deg) - grid_deg / 2)
    whole_m = degrees_uncertainty_m(grid_deg, widest_deg) + (position.uncertainty_m or 0.0)
    step_m = 10.0 ** max(0, floor(log10(whole_m)) - 1)
    return Position(lat_deg, lon_deg, ceil(whole_m / step_m) * step_m, "entry", grid_deg=grid_deg)


def _rounded(angle_deg: float, grid_deg: float) -> float:
    step = Decimal(str(grid_deg))
    cells = (Decimal(repr(angle_deg)) / step).quantize(Decimal(1), ROUND_HALF_UP)
    return float(cells * step) + 0.0


_GEOHASH = "0123456789bcdefghjkmnpqrstuvwxyz"
_OLC = "23456789CFGHJMPQRVWX"
_OLC_PAIRS = 5
_OLC_ROWS, _OLC_COLUMNS = 5, 4


def geohash_of(lat_deg: float, lon_deg: float, letters: int = 12) -> str:
    """The geohash of a place. *Source:* G. Niemeyer's description of 2008, in the public domain (from memory)."""
    low, high = [-90.0, -180.0], [90.0, 180.0]
    value, places, bits = 0, (lat_deg, lon_deg), []
    for bit in range(5 * letters):
        axis = 1 - bit % 2
        middle = (low[axis] + high[axis]) / 2
        upper = places[axis] >= middle
        (low if upper else high)[axis] = middle
        value = value * 2 + upper
        if bit % 5 == 4:
            bits.append(_GEOHASH[value])
            value = 0
    return "".join(bits)


def location_code_of(lat_deg: float, lon_deg: float, grid_letters: int = 1) -> str:
    """The open location code of a place: ten letters in pairs, each pair a twentieth of the last, then `grid_letters`
    of a finer grid.
    *Source:* Open Location Code, specification of 2014 (from memory)."""
    finest_lat, finest_lon = 8000 * _OLC_ROWS**grid_letters, 8000 * _OLC_COLUMNS**grid_letters
    lat = min(max(0, int((lat_deg + 90) * finest_lat)), 180 * finest_lat - 1)
    lon = int((lon_deg + 180) * finest_lon) % (360 * finest_lon)
    tail = ""
    for _ in range(grid_letters):
        tail = _OLC[(lat % _OLC_ROWS) * _OLC_COLUMNS + lon % _OLC_COLUMNS] + tail
        lat, lon = lat // _OLC_ROWS, lon // _OLC_COLUMNS
    head = ""
    for _ in range(_OLC_PAIRS):
        head = _OLC[lat % 20] + _OLC[lon % 20] + head
        lat, lon = lat // 20, lon // 20
    return f"{head[:8]}+{head[8:]}{tail}"
