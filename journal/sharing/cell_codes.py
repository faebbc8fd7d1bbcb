"""Names of cells that programs give to places: geohashes and open location codes."""

from __future__ import annotations

_GEOHASH = "0123456789bcdefghjkmnpqrstuvwxyz"
_OLC = "23456789CFGHJMPQRVWX"
_OLC_PAIRS = 5
_OLC_ROWS, _OLC_COLUMNS = 5, 4


def geohash_of(lat_deg: float, lon_deg: float, letters: int = 12) -> str:
    """The geohash of a place: each letter tells five halvings, longitude first, of the whole Earth.

    *Source:* G. Niemeyer's description of 2008, in the public domain (from memory).
    """
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

    *Source:* Open Location Code, specification of 2014 (from memory).
    """
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
