"""Labels as a phone's camera sees them in a fogged tent: tilted, blurred or partly hidden, from fixed seeds.

A scene is a label (a QR code of level H, black on white, with its quiet zone) on a textured ground, seen by a camera
four label widths away, under uneven light, with the noise and the JPEG compression of a phone.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

import numpy as np
import segno
from numpy.typing import NDArray
from PIL import Image

Plane = NDArray[np.float64]

QUIET = 4  # modules. Source: ISO/IEC 18004, 6.3.8
_DRAWN_PX = 8
"""How large a module is drawn before it is seen by the camera."""


def scene(
    text: str,
    seed: int,
    px: float,
    tilt_deg: float = 0.0,
    blur: str = "",
    hidden: float = 0.0,
    version: int | None = None,
) -> Image.Image:
    """A photo of a label in mode L. px: pixels a module, were it not tilted. blur: "disc" (out of focus) or "line"
    (shaken), one module wide. hidden: the share of the code's area under one opaque drop. version: of the code."""
    chance = np.random.default_rng([seed, int(px * 10), int(tilt_deg), len(text)])
    rows = np.array(segno.make(text, error="h", version=version, micro=False, boost_error=False).matrix, dtype=float)
    modules = 1 - np.pad(rows, QUIET)
    drawn = np.kron(modules, np.ones((_DRAWN_PX, _DRAWN_PX)))
    if hidden:
        _hide(drawn, len(rows), hidden, chance)
    side = len(modules) * px
    width = int(side * 1.9)
    picture = _seen(drawn * 200 + 30, px / _DRAWN_PX, tilt_deg, width, chance)
    if blur:
        picture = _blurred(picture, px, blur, chance)
    across, down = np.meshgrid(*2 * [np.linspace(-1, 1, width)])
    turn = chance.uniform(0, 2 * np.pi)
    light = chance.uniform(0.65, 1) * (1 + chance.uniform(0, 0.3) * (across * np.cos(turn) + down * np.sin(turn)))
    noisy = picture * light + chance.normal(0, 5, picture.shape)
    out = io.BytesIO()
    Image.fromarray(noisy.clip(0, 255).astype(np.uint8)).save(out, "JPEG", quality=85)
    return Image.open(out).convert("L")


def _hide(drawn: Plane, modules: int, share: float, chance: np.random.Generator) -> None:
    """A round drop anywhere on the code, as large as that share of it, of any grey."""
    radius = modules * np.sqrt(share / np.pi)
    x, y = chance.uniform(radius, modules - radius, 2) + QUIET
    down, across = np.mgrid[: len(drawn), : len(drawn)] / _DRAWN_PX
    drawn[(across - x) ** 2 + (down - y) ** 2 < radius**2] = chance.uniform(0, 1)


def _seen(label: Plane, scale: float, tilt_deg: float, width: int, chance: np.random.Generator) -> Plane:
    """The label turned by any angle and tilted about any axis, on a ground of blotches."""
    blotches = Image.fromarray(chance.integers(60, 200, (12, 12), dtype=np.uint8))
    ground = blotches.resize((width, width), Image.Resampling.BICUBIC)
    fine = Image.fromarray(chance.integers(0, 255, (width // 3, width // 3), dtype=np.uint8))
    ground = Image.blend(ground, fine.resize(ground.size), 0.25)
    side = len(label) * scale
    turn, axis, tilt = chance.uniform(0, 2 * np.pi), chance.uniform(0, 2 * np.pi), np.radians(tilt_deg)
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * side / 2
    corners = corners @ np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
    along = np.array([np.cos(axis), np.sin(axis)])
    across = np.array([-along[1], along[0]])
    tilted = np.outer(corners @ along, along) + np.outer(corners @ across, across) * np.cos(tilt)
    depth = corners @ across * np.sin(tilt)
    distance = 4 * side
    seen = tilted * (distance / (distance + depth))[:, None] + width / 2 + chance.uniform(-0.5, 0.5, 2)
    times = 3  # drawn larger, then averaged, as a sensor's cells do
    rows = _perspective(seen * times, [(0, 0), (len(label), 0), (len(label), len(label)), (0, len(label))])
    large = (width * times, width * times)
    paper = Image.fromarray(label.astype(np.uint8)).transform(
        large, Image.Transform.PERSPECTIVE, rows, Image.Resampling.BILINEAR
    )
    mask = Image.new("L", label.shape, 255).transform(large, Image.Transform.PERSPECTIVE, rows)
    ground.paste(paper.reduce(times), mask=mask.reduce(times))
    return np.asarray(ground, dtype=float)


def _perspective(seen: Plane, drawn: Sequence[tuple[int, int]]) -> list[float]:
    """The eight coefficients by which Pillow finds the drawn point of each point seen."""
    rows, values = [], []
    for (x, y), (u, v) in zip(seen, drawn, strict=True):
        rows += [(x, y, 1, 0, 0, 0, -u * x, -u * y), (0, 0, 0, x, y, 1, -v * x, -v * y)]
        values += [u, v]
    return list(np.linalg.solve(np.array(rows), np.array(values)))


def _blurred(picture: Plane, px: float, blur: str, chance: np.random.Generator) -> Plane:
    """Averaged over a disc of one module's diameter, or along a line of one module's length in any direction."""
    if blur == "disc":
        steps = np.arange(-0.5, 0.51, 0.25)
        points = [(x, y) for x in steps for y in steps if x * x + y * y <= 0.25]
    else:
        turn = chance.uniform(0, np.pi)
        points = [(step * np.cos(turn), step * np.sin(turn)) for step in np.linspace(-0.5, 0.5, 9)]
    image = Image.fromarray(picture.astype(np.float32))
    moved = [
        np.asarray(
            image.transform(image.size, Image.Transform.AFFINE, (1, 0, x * px, 0, 1, y * px), Image.Resampling.BILINEAR)
        )
        for x, y in points
    ]
    return np.mean(moved, axis=0, dtype=float)
