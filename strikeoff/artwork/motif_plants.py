"""The plants, the moth and the fillers of the demonstration repeat, each grown from the origin."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from strikeoff.artwork.motif_shapes import (
    Drawing,
    Points,
    Rng,
    Shape,
    bezier,
    blob,
    leaf,
    mirrored,
    moved,
    normals,
    petal,
    stroke,
    tapered,
)

#: The palette: flat colours in sRGB. "flame" lies outside what dyed or printed cloth can show.
PALETTE: dict[str, tuple[int, int, int]] = {
    "ground": (21, 45, 58),
    "shadow": (32, 61, 73),
    "pine": (44, 92, 84),
    "sage": (96, 141, 116),
    "mist": (178, 203, 166),
    "coral": (238, 112, 90),
    "wine": (158, 50, 66),
    "blush": (249, 199, 178),
    "cream": (252, 241, 221),
    "honey": (233, 172, 62),
    "flame": (255, 54, 10),
    "pearl": (190, 190, 190),
    "grey": (138, 138, 138),
    "slate": (92, 92, 92),
}

_GREEN = ("sage", "pine", "mist")
_PALE = ("mist", "sage", "pine")
_DEEP = ("pine", "shadow", "sage")


def _direction(path: Points, i: int) -> float:
    step = path[min(i + 1, len(path) - 1)] - path[max(i - 1, 0)]
    return float(np.arctan2(step[1], step[0]))


def _leaves_along(
    rng: Rng,
    path: Points,
    places: ArrayLike,
    length: float,
    shape: float,
    colours: tuple[str, str, str],
    spread: float = 0.75,
) -> Drawing:
    drawing: Drawing = []
    for k, place in enumerate(np.asarray(places)):
        i = int(place * (len(path) - 1))
        side = 1.0 if k % 2 else -1.0
        size = length * rng.uniform(0.85, 1.1) * (1 - 0.35 * place)
        angle = _direction(path, i) + side * spread * rng.uniform(0.85, 1.15)
        drawing += moved(leaf(rng, size, size * shape, colours), angle, path[i])
    return drawing


def anemone(rng: Rng, radius: float, edge: str = "coral", body: str = "blush", line: str = "wine") -> Drawing:
    """Return an open flower seen from above: two rings of petals, dark eye, honey stamens."""
    drawing: Drawing = []
    for ring, (count, reach, inner) in enumerate(((7, 1.0, False), (6, 0.72, True))):
        start = rng.uniform(0, 2 * np.pi)
        colours = (edge, body, line) if not inner else (line, edge, body)
        for k in range(count):
            angle = start + 2 * np.pi * k / count + rng.uniform(-0.06, 0.06)
            size = radius * reach * rng.uniform(0.94, 1.04)
            ring_width = (1.02 if ring == 0 else 0.9) * size * 2 * np.pi / count * 0.92
            drawing += moved(petal(rng, size, ring_width, colours, lines=11), angle)
    drawing.append(blob(rng, (0, 0), radius * 0.255, "wine", 0.04))
    for k in range(48):
        angle = 2 * np.pi * k / 48 + rng.uniform(-0.05, 0.05)
        reach = radius * rng.uniform(0.27, 0.37)
        way = np.array([np.cos(angle), np.sin(angle)])
        drawing.append(stroke(bezier(way * radius * 0.18, way * reach, n=6), 0.0016, "cream"))
        drawing.append(blob(rng, way * reach, radius * 0.021, "honey", 0.0, 12))
    drawing.append(blob(rng, (0, 0), radius * 0.17, "ground", 0.05))
    for k in range(15):
        angle, reach = k * 2.39996, radius * 0.125 * np.sqrt(k / 15)
        drawing.append(
            blob(rng, (reach * np.cos(angle), reach * np.sin(angle)), radius * 0.013, "sage", 0.0, 10)
        )
    return drawing


def daisy(rng: Rng, radius: float) -> Drawing:
    """Return a flower of many narrow cream petals round a honey cushion."""
    drawing: Drawing = []
    count = 19
    for k in rng.permutation(count):
        angle = 2 * np.pi * k / count + rng.uniform(-0.05, 0.05)
        size = radius * rng.uniform(0.9, 1.04)
        drawing += moved(
            petal(rng, size, size * 0.33, ("pearl", "cream", "honey"), lines=3, notch=0.02, broad=7), angle
        )
    drawing.append(blob(rng, (0, 0), radius * 0.3, "honey", 0.04))
    for k in range(40):
        angle, reach = k * 2.39996, radius * 0.27 * np.sqrt(k / 40)
        at = (reach * np.cos(angle), reach * np.sin(angle))
        drawing.append(blob(rng, at, radius * 0.02, "wine" if k < 14 else "coral", 0.0, 10))
    return drawing


def bud(rng: Rng, size: float, edge: str = "wine", body: str = "coral", line: str = "blush") -> Drawing:
    """Return a closed flower from the side, standing along +x, held by two sepals."""
    drawing: Drawing = []
    for angle in (0.3, -0.3, 0.0):
        drawing += moved(
            petal(rng, size, size * 0.5, (edge, body, line), lines=5, notch=0.0, broad=2.4), angle
        )
    for angle in (0.55, -0.55):
        drawing += moved(leaf(rng, size * 0.5, size * 0.17, _GREEN, veins=2), angle)
    drawing.append(blob(rng, (size * 0.02, 0), size * 0.1, "pine"))
    return drawing


def flower_spray(rng: Rng, size: float) -> Drawing:
    """Return the leading plant: a bending stem with one anemone, a bud and broad leaves."""
    return _spray(rng, size, ("coral", "blush", "wine"), _GREEN)


def rose_spray(rng: Rng, size: float) -> Drawing:
    """Return the leading plant's sister in cream and blush."""
    return _spray(rng, size, ("blush", "cream", "coral"), _PALE)


def _spray(rng: Rng, size: float, bloom: tuple[str, str, str], foliage: tuple[str, str, str]) -> Drawing:
    main = bezier(
        (0, 0), (0.16 * size, -0.3 * size), (-0.16 * size, -0.5 * size), (0.02 * size, -0.86 * size)
    )
    side = bezier(
        main[17], main[17] + [0.13 * size, -0.13 * size], main[17] + [0.33 * size, -0.28 * size], n=24
    )
    drawing = _leaves_along(rng, main, (0.12, 0.2, 0.42, 0.55), 0.42 * size, 0.4, foliage)
    drawing += _leaves_along(rng, main, (0.32,), 0.27 * size, 0.36, _PALE, 1.0)
    drawing += _leaves_along(rng, side, (0.45,), 0.2 * size, 0.42, _PALE)
    drawing.append(stroke(side, tapered(len(side), 0.0075, 0.005), "mist"))
    drawing.append(stroke(main, tapered(len(main), 0.0115, 0.0065), "mist"))
    drawing += moved(bud(rng, 0.17 * size), _direction(side, len(side) - 1), side[-1])
    drawing += moved(anemone(rng, 0.31 * size, *bloom), 0.0, main[-1])
    return drawing


def daisy_spray(rng: Rng, size: float) -> Drawing:
    """Return the second plant: two daisies on thin stems over slender leaves."""
    main = bezier(
        (0, 0), (-0.2 * size, -0.3 * size), (0.12 * size, -0.55 * size), (-0.04 * size, -0.9 * size)
    )
    side = bezier(
        main[12], main[12] + [0.2 * size, -0.1 * size], main[12] + [0.36 * size, -0.36 * size], n=24
    )
    drawing = _leaves_along(rng, main, (0.04, 0.1, 0.26, 0.38, 0.5, 0.62), 0.4 * size, 0.2, _PALE, 0.62)
    drawing += _leaves_along(rng, side, (0.3, 0.55), 0.22 * size, 0.24, _DEEP)
    drawing.append(stroke(side, tapered(len(side), 0.006, 0.0045), "sage"))
    drawing.append(stroke(main, tapered(len(main), 0.009, 0.005), "sage"))
    drawing += moved(daisy(rng, 0.17 * size), 0.0, side[-1])
    drawing += moved(daisy(rng, 0.23 * size), 0.0, main[-1])
    return drawing


def fern(rng: Rng, size: float) -> Drawing:
    """Return a frond: leaflets in pairs that shrink toward the tip."""
    rib = bezier((0, 0), (0.22 * size, -0.35 * size), (0.08 * size, -size), n=60)
    drawing: Drawing = []
    for place in np.linspace(0.1, 0.97, 15):
        i = int(place * (len(rib) - 1))
        length = size * 0.25 * np.sin(np.pi * (0.16 + 0.8 * (1 - place))) + 0.01
        for side in (1.0, -1.0):
            angle = _direction(rib, i) + side * rng.uniform(0.82, 0.95)
            drawing += moved(
                leaf(rng, length, length * 0.26, ("pine", "pine", "sage"), veins=0, bend=0.1), angle, rib[i]
            )
    drawing.append(stroke(rib, tapered(len(rib), 0.006, 0.002), "sage"))
    return drawing


def berry_sprig(rng: Rng, size: float) -> Drawing:
    """Return a branching twig with brilliant berries, each with a shade and a light."""
    rib = bezier((0, 0), (-0.15 * size, -0.4 * size), (0.1 * size, -size), n=50)
    drawing = _leaves_along(rng, rib, (0.06, 0.2), 0.36 * size, 0.42, _DEEP)
    heads: list[Points] = [rib[-1]]
    for k, place in enumerate(np.linspace(0.3, 0.9, 8)):
        i = int(place * (len(rib) - 1))
        angle = _direction(rib, i) + (0.75 if k % 2 else -0.75)
        reach = size * rng.uniform(0.2, 0.27) * (1.15 - 0.5 * place)
        tip = rib[i] + reach * np.array([np.cos(angle), np.sin(angle)])
        middle = (rib[i] + tip) / 2 + normals(rib)[i] * 0.02 * size
        drawing.append(stroke(bezier(rib[i], middle, tip, n=14), tapered(14, 0.0042, 0.003), "sage"))
        heads.append(tip)
    drawing.append(stroke(rib, tapered(len(rib), 0.0075, 0.0035), "sage"))
    for head in heads:
        radius = size * rng.uniform(0.052, 0.066)
        drawing.append(blob(rng, head, radius, "wine", 0.03))
        drawing.append(blob(rng, head + radius * np.array([-0.1, -0.12]), radius * 0.86, "flame", 0.03))
        drawing.append(blob(rng, head + radius * np.array([-0.36, -0.4]), radius * 0.16, "cream", 0.0, 14))
    return drawing


def seed_head(rng: Rng, size: float) -> Drawing:
    """Return a seed clock in neutral greys: nothing but fine lines and dots."""
    rib = bezier((0, 0), (0.12 * size, -0.35 * size), (0, -0.68 * size), n=40)
    drawing = _leaves_along(rng, rib, (0.03, 0.1), 0.42 * size, 0.2, _DEEP, 0.6)
    drawing.append(stroke(rib, tapered(len(rib), 0.006, 0.0035), "slate"))
    centre = rib[-1]
    for ring, (count, reach, colour) in enumerate(((26, 0.18, "slate"), (44, 0.29, "grey"))):
        for k in range(count):
            angle = 2 * np.pi * (k + 0.5 * ring) / count + rng.uniform(-0.03, 0.03)
            way = np.array([np.cos(angle), np.sin(angle)])
            tip = centre + way * size * reach * rng.uniform(0.93, 1.05)
            drawing.append(stroke(bezier(centre, tip, n=4), 0.0012, colour))
            for fan in (-0.75, -0.38, 0.0, 0.38, 0.75):
                ray = np.array([np.cos(angle + fan), np.sin(angle + fan)])
                drawing.append(stroke(bezier(tip, tip + ray * size * 0.042, n=3), 0.0011, "pearl"))
            drawing.append(blob(rng, tip, size * 0.0068, "pearl", 0.0, 10))
    drawing.append(blob(rng, centre, size * 0.042, "grey"))
    drawing.append(blob(rng, centre, size * 0.025, "slate"))
    return drawing


def umbel(rng: Rng, size: float) -> Drawing:
    """Return a flat head of small honey flowers on rays."""
    rib = bezier((0, 0), (-0.1 * size, -0.3 * size), (0, -0.6 * size), n=36)
    drawing = _leaves_along(rng, rib, (0.1, 0.28, 0.45), 0.33 * size, 0.34, _GREEN, 0.8)
    drawing.append(stroke(rib, tapered(len(rib), 0.007, 0.0045), "mist"))
    for k in range(11):
        angle = -np.pi / 2 + (k - 5) * 0.235
        reach = size * (0.37 + 0.035 * np.cos(k * 2.4)) * (1.0 if k % 2 else 0.76)
        tip = rib[-1] + reach * np.array([np.cos(angle), np.sin(angle)])
        middle = rib[-1] + 0.45 * reach * np.array([np.cos(angle * 0.6 - 0.63), np.sin(angle)])
        drawing.append(stroke(bezier(rib[-1], middle, tip, n=16), tapered(16, 0.0036, 0.0024), "mist"))
        drawing += moved(floret(rng, 0.062 * size, "honey", "wine"), rng.uniform(0, 6), tip)
    return drawing


def floret(rng: Rng, radius: float, colour: str = "blush", eye: str = "coral") -> Drawing:
    """Return a small five-petalled flower."""
    drawing: Drawing = []
    for k in range(5):
        angle = 2 * np.pi * k / 5 + rng.uniform(-0.08, 0.08)
        at = 0.55 * radius * np.array([np.cos(angle), np.sin(angle)])
        drawing.append(blob(rng, at, radius * 0.45, colour, 0.1, 36))
    for k in range(5):
        angle = 2 * np.pi * k / 5
        way = np.array([np.cos(angle), np.sin(angle)])
        drawing.append(stroke(bezier(way * radius * 0.1, way * radius * 0.6, n=4), 0.0013, eye))
    drawing.append(blob(rng, (0, 0), radius * 0.2, eye, 0.0, 16))
    return drawing


def moth(rng: Rng, size: float) -> Drawing:
    """Return a resting moth in neutral greys, symmetrical, head up."""
    fore = np.concatenate(
        [
            bezier((0, -0.16), (0.2, -0.42), (0.62, -0.52), n=20),
            bezier((0.62, -0.52), (0.66, -0.3), (0.5, -0.08), n=14),
            bezier((0.5, -0.08), (0.26, 0.0), (0.02, 0.02), n=14),
        ]
    )
    hind = np.concatenate(
        [
            bezier((0.02, -0.02), (0.3, -0.06), (0.46, 0.04), n=14),
            bezier((0.46, 0.04), (0.46, 0.3), (0.2, 0.34), n=14),
            bezier((0.2, 0.34), (0.06, 0.24), (0.02, 0.12), n=10),
        ]
    )
    half: Drawing = [Shape(hind, "grey"), Shape(hind * 0.8 + [0.045, 0.03], "pearl")]
    half += [Shape(fore, "slate"), Shape(fore * 0.9 + [0.022, -0.016], "grey")]
    for s in np.linspace(0.15, 0.92, 8):
        target = bezier((0.6, -0.5), (0.64, -0.3), (0.48, -0.1), n=20)[int(s * 19)]
        half.append(stroke(bezier((0.02, -0.1), target * 0.5, target * 0.96, n=12), 0.006, "pearl"))
    half.append(blob(rng, (0.4, -0.31), 0.066, "slate", 0.0))
    half.append(blob(rng, (0.4, -0.31), 0.042, "cream", 0.0))
    half.append(blob(rng, (0.4, -0.31), 0.02, "slate", 0.0))
    half.append(blob(rng, (0.3, 0.15), 0.045, "slate", 0.0))
    feeler = bezier((0.01, -0.24), (0.06, -0.38), (0.2, -0.44), n=12)
    half.append(stroke(feeler, tapered(12, 0.012, 0.006), "pearl"))
    body = stroke(bezier((0, -0.26), (0, 0), (0, 0.26), n=24), tapered(24, 0.06, 0.02, 0.06), "slate")
    stripes = [
        stroke(bezier((-0.034, y), (0, y + 0.012), (0.034, y), n=6), 0.008, "pearl")
        for y in (0.0, 0.06, 0.12)
    ]
    return moved([*half, *mirrored(half), body, *stripes], 0.0, (0, 0), size)


def twig(rng: Rng, size: float) -> Drawing:
    """Return a small filler: a curved twig with five leaves."""
    rib = bezier((0, 0), (0.25 * size, -0.4 * size), (0, -0.8 * size), n=24)
    colours = (_GREEN, _PALE, _DEEP)[int(rng.integers(3))]
    drawing = _leaves_along(rng, rib, (0.15, 0.35, 0.55, 0.75), 0.42 * size, 0.4, colours, 0.85)
    drawing.append(stroke(rib, tapered(24, 0.005, 0.003), colours[0]))
    return drawing + moved(
        leaf(rng, 0.36 * size, 0.15 * size, colours, veins=4), _direction(rib, 23), rib[-1]
    )


def seeds(rng: Rng, size: float) -> Drawing:
    """Return the smallest filler: three seeds."""
    colour = ("honey", "blush", "mist", "coral")[int(rng.integers(4))]
    return [
        blob(rng, (size * np.cos(a) * 0.6, size * np.sin(a) * 0.6), size * 0.3, colour, 0.12, 16)
        for a in rng.uniform(0, 6) + np.array([0.0, 2.1, 4.2])
    ]
