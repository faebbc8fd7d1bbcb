"""Finds on a sketch map: those with a position that may be shown here, with the tracks and the author's own map."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial

from journal.geo.flat_map import FlatMap, fit_of
from journal.model import Find
from journal.site import addresses, wording
from journal.site.charts.sketch_map import Beneath, MapPoint, SketchMap, sketch_map
from journal.site.pages.lookup import Lookup, species_words


def map_of_finds(lookup: Lookup, finds: Iterable[Find], title: str = "Sketch map of the finds") -> SketchMap | None:
    """The map of those finds that have a position, in the order given; None if none has. A share has only granted
    positions, and never tracks or own maps."""
    points = [_point(lookup, find) for find in finds if find.position is not None]
    return sketch_map(title, points, lookup.outlines, lookup.units, partial(_beneath, lookup))


def _beneath(lookup: Lookup, flat: FlatMap) -> Beneath | None:
    """The author's own map that contains the middle of the drawing; of several, the one with the smallest error."""
    fits = []
    for own in lookup.settings.maps:
        photo, fit = lookup.journal.photo_by_path.get(own.file), fit_of(flat, own.points)
        if photo is None or fit is None or not photo.width or not photo.height or lookup.share is not None:
            continue
        a, b, c, d, e, f = fit.matrix
        whole = a * d - b * c
        x, y = (c * f - d * e) / whole, (b * e - a * f) / whole  # of the middle, in px
        if 0 <= x <= photo.width and 0 <= y <= photo.height:
            fits.append((fit.residual_m, own, photo.width, fit))
    if not fits:
        return None
    residual_m, own, width, fit = min(fits, key=lambda row: row[0])
    picture = lookup.pictures.of(own.file, "the author's own map")
    if picture.large is None:
        return None
    times = width / picture.width  # the published picture is smaller than the file
    a, b, c, d, e, f = fit.matrix
    matrix = " ".join(f"{value:.9g}" for value in (a * times, b * times, c * times, d * times, e, f))
    count = len(own.points)
    missed = f", which it misses by {wording.way(residual_m, lookup.units)} (root mean square)" if count > 3 else ""
    words = f"Below it is your own map, placed by {count} points{missed}."
    return Beneath(picture.large, picture.width, picture.height, f"matrix({matrix})", words)


def _point(lookup: Lookup, find: Find) -> MapPoint:
    assert find.position is not None
    name = species_words(lookup.identified(find).species)
    words = [name.text if name else "Unnamed find", find.place, wording.when_in_words(find.date)]
    return MapPoint(find.position, find.id, addresses.page_of(find), ", ".join(filter(None, words)), find.place)
