"""Finds on a sketch map: those with a position that may be told here, with the tracks and the author's own map."""

from __future__ import annotations

from collections.abc import Iterable

from journal.model import Find
from journal.site import addresses, wording
from journal.site.charts.sketch_map import MapPoint, SketchMap, sketch_map
from journal.site.pages.lookup import Lookup, species_words


def map_of_finds(lookup: Lookup, finds: Iterable[Find], title: str = "Sketch map of the finds") -> SketchMap | None:
    """The map of those finds that have a position, in the order given; None where none has. In a share a position is
    there only as far as it is granted, and tracks and own maps never are."""
    points = [_point(lookup, find) for find in finds if find.position is not None]
    return sketch_map(title, points, lookup.outlines, lookup.units)


def _point(lookup: Lookup, find: Find) -> MapPoint:
    assert find.position is not None
    name = species_words(lookup.identified(find).species)
    words = [name.text if name else "Unnamed find", find.place, wording.when_in_words(find.date)]
    return MapPoint(find.position, find.id, addresses.page_of(find), ", ".join(filter(None, words)), find.place)
