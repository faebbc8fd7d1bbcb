"""Labels and photographs side by side without one covering another: in lanes, as far as there is room."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from journal.site.charts.primitives import Anchor, width_em

LETTERED_PX = 14.3
"""The size charts are lettered in: 0.84 of the page's 17 px."""


@dataclass(frozen=True, slots=True)
class Placed:
    """lane: which, from 0. anchor: which end of the text stands at its place."""

    lane: int
    anchor: Anchor


def width_of(text: str) -> float:
    """How wide a chart's text comes out at most, in px."""
    return width_em(text) * LETTERED_PX


def cut_to(text: str, room_px: float) -> str:
    """The text, with as much of its end left out as does not fit."""
    if width_of(text) <= room_px:
        return text
    fitting = (text[:end].rstrip(" ,.:(") + "…" for end in range(len(text) - 1, 1, -1))
    return next((shorter for shorter in fitting if width_of(shorter) <= room_px), "…")


def labels_in_lanes(
    labels: Sequence[tuple[float, str]],
    width_px: float,
    lanes: int,
    placed: Sequence[Placed | None] | None = None,
    gap_px: float = 6,
) -> list[Placed | None]:
    """A lane for each label (place in px, text), in the order given; None where all lanes are taken there. A label
    stands inside the drawing, beside its place: after it, else before it, else about it; rather where it covers no
    other label's place, since a line may run there. placed: labels that have their lane already."""
    taken: list[list[tuple[float, float]]] = [[] for _ in range(lanes)]
    places = [place_px for place_px, _ in labels]
    result = list(placed or [None] * len(labels))
    for (place_px, text), place in zip(labels, result, strict=True):
        if place is not None:
            taken[place.lane].append(_span(place_px, width_of(text), place.anchor))
    for at, (place_px, text) in enumerate(labels):
        anchors: tuple[Anchor, ...] = ("start", "end", "middle")
        ways: list[LabelSpace] = [(anchor, *_span(place_px, width_of(text), anchor)) for anchor in anchors]
        inside = [way for way in ways if way[1] >= 0 and way[2] <= width_px]
        stands = sorted(inside or ways[2:], key=lambda way: sum(way[1] < other < way[2] for other in places))
        found = _first_free(stands, taken, gap_px) if result[at] is None else None
        if found is not None:
            lane, (anchor, left, right) = found
            taken[lane].append((left, right))
            result[at] = Placed(lane, anchor)
    return result


def _span(place_px: float, text_px: float, anchor: Anchor) -> tuple[float, float]:
    left = {"start": place_px, "end": place_px - text_px, "middle": place_px - text_px / 2}[anchor]
    return left, left + text_px


LabelSpace = tuple[Anchor, float, float]


def _first_free(
    stands: Sequence[LabelSpace], taken: Sequence[Sequence[tuple[float, float]]], gap_px: float
) -> tuple[int, LabelSpace] | None:
    for lane, spans in enumerate(taken):
        for stand in stands:
            if all(stand[2] + gap_px <= start or stand[1] >= end + gap_px for start, end in spans):
                return lane, stand
    return None


@dataclass(frozen=True, slots=True)
class PlacedPhotos:
    """Photographs at one place: the first shows, the others are counted. centre_px: of the picture, inside the
    drawing; members: their places in what was handed in."""

    lane: int
    centre_px: float
    members: tuple[int, ...]


def place_photos(
    places_px: Sequence[float],
    size_px: float,
    width_px: float,
    lanes: int,
    fixed: Mapping[int, int] | None = None,
    gap_px: float = 4,
) -> list[PlacedPhotos]:
    """Photographs hung at their places (in order, px) in lanes; one with no room joins the nearest that hangs. fixed:
    the lane of those (by their place in what was handed in) that must hang, for which there is room."""
    fixed = fixed or {}
    centres = [min(max(place_px, size_px / 2), width_px - size_px / 2) for place_px in places_px]
    hung = {at: (lane, centres[at]) for at, lane in fixed.items()}
    joined: dict[int, list[int]] = {at: [] for at in fixed}
    reach_px = size_px + gap_px
    for at, centre in enumerate(centres):
        if at in fixed:
            continue
        taken = {lane for lane, other in hung.values() if abs(other - centre) < reach_px}
        free = [lane for lane in range(lanes) if lane not in taken]
        if free:
            hung[at], joined[at] = (free[0], centre), []
        else:
            joined[min(hung, key=lambda one: (abs(hung[one][1] - places_px[at]), one))].append(at)
    return [PlacedPhotos(lane, centre, (at, *joined[at])) for at, (lane, centre) in sorted(hung.items())]
