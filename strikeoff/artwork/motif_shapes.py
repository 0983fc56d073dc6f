"""Outlines that a hand could have drawn: strokes, blobs, leaves, petals.

All are polygons in units of one repeat, y downward. A drawing is
a list of `Shape`; later shapes lie on top.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

Points = NDArray[np.float64]
Rng = np.random.Generator


@dataclass(frozen=True)
class Shape:
    """A filled outline, shape (n, 2), and the name of its colour."""

    points: Points
    colour: str


Drawing = list[Shape]


def moved(drawing: Drawing, angle: float = 0.0, at: ArrayLike = (0.0, 0.0), scale: float = 1.0) -> Drawing:
    """Return a drawing scaled, turned by an angle [rad] about the origin, then shifted."""
    cos, sin = np.cos(angle) * scale, np.sin(angle) * scale
    matrix = np.array([[cos, sin], [-sin, cos]])
    return [Shape(shape.points @ matrix + np.asarray(at), shape.colour) for shape in drawing]


def mirrored(drawing: Drawing) -> Drawing:
    """Return a drawing seen in a mirror, left for right."""
    return [Shape(shape.points * [-1.0, 1.0], shape.colour) for shape in drawing]


def bezier(*control: ArrayLike, n: int = 40) -> Points:
    """Return n points of the Bezier curve with the given control points."""
    points = [np.asarray(c, dtype=np.float64)[None] for c in control]
    t = np.linspace(0.0, 1.0, n)[:, None]
    while len(points) > 1:
        points = [a * (1 - t) + b * t for a, b in pairwise(points)]
    return points[0]


def normals(path: Points) -> Points:
    """Return the unit normals of a path, turned left from its direction."""
    step = np.gradient(path, axis=0)
    step /= np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-12)[:, None]
    return np.stack([step[:, 1], -step[:, 0]], axis=1)


def stroke(path: Points, width: ArrayLike, colour: str) -> Shape:
    """Return a brush stroke along a path; width may vary from point to point."""
    half = np.broadcast_to(np.asarray(width, dtype=np.float64), (len(path),))[:, None] / 2
    side = normals(path) * half
    return Shape(np.concatenate([path + side, (path - side)[::-1]]), colour)


def tapered(n: int, start: float, stop: float, swell: float = 0.0) -> Points:
    """Return stroke widths that run from start to stop with a swell in the middle."""
    t = np.linspace(0.0, 1.0, n)
    return start + (stop - start) * t + swell * np.sin(np.pi * t)


def blob(rng: Rng, centre: ArrayLike, radius: float, colour: str, wobble: float = 0.05, n: int = 40) -> Shape:
    """Return a disc with an unsteady outline."""
    angle = np.linspace(0.0, 2 * np.pi, n, endpoint=False)
    reach = np.full(n, 1.0)
    for wave in (2, 3, 5):
        reach += wobble / wave * np.sin(wave * angle + rng.uniform(0, 2 * np.pi))
    reach *= radius
    return Shape(
        np.asarray(centre) + np.stack([np.cos(angle) * reach, np.sin(angle) * reach], axis=1), colour
    )


def leaf(
    rng: Rng,
    length: float,
    width: float,
    colours: tuple[str, str, str],
    *,
    bend: float = 0.15,
    veins: int = 7,
    blunt: float = 0.9,
) -> Drawing:
    """Return a leaf from the origin along +x: a light and a dark half, midrib and side veins.

    ``colours`` are light half, dark half, veins; ``bend`` curves the midrib.
    """
    bend = bend * rng.uniform(0.6, 1.3) * rng.choice([-1.0, 1.0])
    rib = bezier((0, 0), (0.5 * length, bend * length), (length, bend * 0.2 * length), n=48)
    t = np.linspace(0.0, 1.0, len(rib))
    profile = t**0.62 * (1 - t) ** blunt
    profile *= 0.5 * width / profile.max()
    side = normals(rib)
    edge = 1 + 0.035 * np.sin(t * rng.uniform(18, 26) + rng.uniform(0, 6))
    upper, lower = rib + side * (profile * edge)[:, None], rib - side * (profile * edge[::-1])[:, None]
    drawing = [
        Shape(np.concatenate([rib, upper[::-1]]), colours[0]),
        Shape(np.concatenate([rib, lower[::-1]]), colours[1]),
    ]
    fine = 0.0011 + 0.006 * width
    for place in np.linspace(0.14, 0.82, veins):
        i = int(place * (len(rib) - 1))
        for sign in (1.0, -1.0):
            j = min(len(rib) - 1, i + 6)
            tip = rib[j] + sign * side[j] * profile[j] * 0.82
            start = rib[i]
            middle = (start + tip) / 2 + (rib[j] - start) * 0.16
            drawing.append(stroke(bezier(start, middle, tip, n=9), tapered(9, fine, fine * 0.35), colours[2]))
    drawing.append(stroke(rib[:-2], tapered(len(rib) - 2, fine * 1.9, fine * 0.5), colours[2]))
    return drawing


def petal(
    rng: Rng,
    length: float,
    width: float,
    colours: tuple[str, str, str],
    *,
    lines: int = 9,
    notch: float = 0.05,
    broad: float = 4.0,
) -> Drawing:
    """Return a petal from the origin along +x: edge, body and fine lines running from its base.

    ``colours`` are edge, body and lines; ``broad`` above 2 puts the widest place near the tip.
    """
    t = np.linspace(0.0, 1.0, 40)
    profile = t**0.75 * np.maximum(1 - t**broad, 0.0) ** 0.55
    profile *= 0.5 * width / profile.max()
    swing = rng.uniform(-0.06, 0.06) * length
    rib = np.stack([t * length, swing * np.sin(np.pi * t)], axis=1)
    ruffle = rng.uniform(0, 6, 2)
    left = 1 + 0.05 * np.sin(7 * t + ruffle[0]) * t
    right = 1 + 0.05 * np.sin(7 * t + ruffle[1]) * t
    upper, lower = rib.copy(), rib.copy()
    upper[:, 1] += profile * left
    lower[:, 1] -= profile * right
    outline = np.concatenate([upper, lower[-2::-1]])
    across = (outline[:, 1] - swing) / (0.5 * width)
    outline[:, 0] -= notch * length * np.exp(-((across / 0.28) ** 2)) * (outline[:, 0] > 0.85 * length)
    drawing = [Shape(outline, colours[0])]
    body = outline * [0.93, 0.86] + [0.012 * length, 0.0]
    drawing.append(Shape(body, colours[1]))
    for k in range(lines):
        s = (k + 0.5) / lines * 2 - 1 + rng.uniform(-0.06, 0.06)
        reach = rng.uniform(0.42, 0.78) * (1 - 0.25 * abs(s))
        m = int(reach * 39)
        line = np.stack([t[2:m] * length, rib[2:m, 1] + s * 0.74 * profile[2:m]], axis=1)
        if len(line) > 4:
            drawing.append(stroke(line, tapered(len(line), 0.0034, 0.0009), colours[2]))
    return drawing
