"""Recipes along ramps of colour: largest steps, steps back in lightness, and change of ink.

Ramps of equal CIEDE2000 from the cloth to every solid, overprint of two and the darkest neutral, along
greys, from grey across the edge of the gamut, and from solid to solid beside it in hue. Printed for each
press and intent is how many ramps hold a predicted step over three times their median, the largest step
over that median and over the one that was asked for (of ramps that go far beyond the gamut most points lie
on its edge, and their own median is small), and how many a change of ink per CIEDE2000 over three times the
least that the ramp needs at the same colours, found by relaxing the ramp's inks alone while its colours are
held. Last come steps from one level of 8 bits to the next, along the lines between corners of the sRGB cube,
that change an ink by over a tenth: many such lines run along the edge of the gamut. Run ``python -m
bench.bench_smoothness``, with names of presses if not all are wanted; the tables' recipes are judged, not
those of direct matches.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bench.bench_link import measured
from strikeoff.artwork.colour import profile_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.record import Condition
from strikeoff.condition.rendering import render
from strikeoff.measurement.iso28178 import format_iso28178
from strikeoff.measurement.read import parse_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.mill import world
from strikeoff.mill.press import WAVELENGTHS_NM, InventedPress, ink_columns
from strikeoff.model.descent import descend
from strikeoff.qualify.build import build_condition

FloatArray = NDArray[np.float64]

# Absolute is left out: its ramps cross from a white of another hue to the cloth.
_INTENTS = ("relative", "perceptual", "relative-bpc", "saturation")
# Points of a ramp, the most that counts as even, chroma at which ramps out of the gamut end, and the share of
# a median step below which a ramp stands still.
_POINTS, _LIMIT, _FAR, _STANDING = 97, 3.0, 130.0, 0.3
# Lightness of the greys that ramps out of the gamut begin at, and a step that is none. [CIEDE2000]
_LEVELS, _NONE = (30.0, 50.0, 70.0), 1e-9
# Exponents of the press by area, and the scatter of its and others' readings. [-]
_YULE_NIELSEN, _GAIN, _NOISE = 2.0, 0.8, 0.002
# Change of an ink from one level of 8 bits to the next that is a leap. [-]
_LEAP = 0.1
# How much dye a light ink holds, of what its full one does. [-]
_DILUTED = 0.25


@dataclass(frozen=True)
class Ramps:
    """Ramps of a condition.

    Attributes
    ----------
    names : tuple of str
        What each ramp joins.
    lab : ndarray, shape (n_ramps, points, 3)
        Absolute Lab.
    """

    names: tuple[str, ...]
    lab: FloatArray


def by_dye(inks: str) -> Callable[[FloatArray], FloatArray]:
    """Return a press whose inks add up as dye in the cloth."""
    return InventedPress(world.printer("T1"), world.fabric("cotton satin"), tuple(inks)).print


def with_light() -> Callable[[FloatArray], FloatArray]:
    """Return a press of eight dyes, three of them the first, second and fourth ink diluted."""
    press = by_dye("CMYKO")
    strength = np.vstack([np.eye(5)[:4], _DILUTED * np.eye(5)[[0, 1, 3]], np.eye(5)[4]])

    def print_patches(recipes: FloatArray) -> FloatArray:
        return press(np.asarray(recipes @ strength / (1.0 + _DILUTED)))

    return print_patches


def by_area(inks: str) -> Callable[[FloatArray], FloatArray]:
    """Return a press of dots that lie over each other at random, after Yule and Nielsen."""
    press = by_dye(inks)
    corners = np.array(np.meshgrid(*[[0.0, 1.0]] * len(inks), indexing="ij")).reshape(len(inks), -1).T
    solids = press(corners) ** (1.0 / _YULE_NIELSEN)

    def print_patches(recipes: FloatArray) -> FloatArray:
        area = recipes**_GAIN
        share = np.prod(np.where(corners[None] > 0, area[:, None], 1.0 - area[:, None]), axis=2)
        return np.asarray((share @ solids) ** _YULE_NIELSEN)

    return print_patches


def simulated(name: str, inks: str, press: Callable[[FloatArray], FloatArray], total: float) -> Condition:
    """Return a condition of simulated readings: solids, quarter tones and scattered recipes."""
    count, rng = len(inks), np.random.default_rng(4)
    scattered = rng.random((100 * count, count)) * (rng.random((100 * count, count)) < 0.5)
    scattered /= np.maximum(scattered.sum(axis=1) / total, 1.0)[:, None]
    pairs = np.array([np.eye(count)[list(pair)].sum(axis=0) for pair in combinations(range(count), 2)])
    tints = np.kron(np.eye(count), [[0.25], [0.5], [0.75], [1.0]])
    recipes = np.round(np.vstack([np.zeros(count), tints, pairs, scattered]), 3)
    spectra = press(recipes) * (1.0 + _NOISE * rng.normal(size=(len(recipes), 1)))
    ids = tuple(f"P{number}" for number in range(len(recipes)))
    made = ReadingSet(ids, ink_columns(inks), recipes, spectra=spectra, wavelengths_nm=WAVELENGTHS_NM)
    data = format_iso28178(made).encode()
    readings = parse_readings(data, source="simulated cloth")[0]
    return build_condition(readings, data, name=name, label="simulated", total_ink=total, validated=False)


def ramps_of(condition: Condition) -> Ramps:
    """Return all ramps of a condition."""
    cloth, link = condition.cloth_lab, condition.connection
    names, limits = condition.inks, condition.inverse.limits
    short = [name.split("_")[-1] for name in names]
    count = len(names)
    black = condition.inverse.black
    recipes = [np.eye(count)[k] * limits.per_ink[k] for k in range(count)]
    labels = list(short)
    for first, second in combinations(range(count), 2):
        recipe = recipes[first] + recipes[second]
        if limits.legal(recipe[None])[0]:
            recipes.append(recipe)
            labels.append(f"{short[first]}+{short[second]}")
    corners = condition.native.lab(np.array(recipes))
    dark = link.from_relative(condition.black_lab[None])[0]
    ends = [(f"cloth-{label}", cloth, end) for label, end in zip(labels, corners, strict=True)]
    ends += [("greys", cloth, dark), ("greys to 0", cloth, np.array([0.0, 0.0, 0.0]))]
    # Where the darkest neutral is lighter, a ramp would lie beyond the gamut from its first point.
    for lightness in [one for one in _LEVELS if one > dark[0]]:
        for degrees in range(0, 360, 30):
            angle = np.radians(degrees)
            far = [lightness, _FAR * np.cos(angle), _FAR * np.sin(angle)]
            ends.append((f"L{lightness:.0f} h{degrees}", np.array([lightness, 0.0, 0.0]), np.array(far)))
    solids = [k for k in range(count) if k != black]
    by_hue = sorted(solids, key=lambda k: float(np.arctan2(corners[k, 2], corners[k, 1])))
    for first, second in zip(by_hue, [*by_hue[1:], by_hue[0]], strict=True):
        ends.append((f"{short[first]}-{short[second]}", corners[first], corners[second]))
    if black is not None:
        ends += [(f"{short[black]}-{short[k]}", corners[black], corners[k]) for k in solids]
    return Ramps(tuple(name for name, _, _ in ends), np.array([_even(a, b) for _, a, b in ends]))


def _even(start: FloatArray, end: FloatArray) -> FloatArray:
    """Return a straight line in Lab whose points are equally far apart in CIEDE2000."""
    fine = start + np.linspace(0, 1, 2001)[:, None] * (end - start)
    walked = np.concatenate([[0.0], np.cumsum(delta_e_2000(fine[:-1], fine[1:]))])
    places = np.interp(np.linspace(0, walked[-1], _POINTS), walked, np.linspace(0, 1, 2001))
    return start + places[:, None] * (end - start)


def least_change(condition: Condition, lab: FloatArray, inks: FloatArray) -> FloatArray:
    """Return inks of the same colours, relaxed along each ramp alone with its ends free."""
    inverse, x = condition.inverse, inks.copy()
    targets, count = lab.reshape(-1, 3), inks.shape[2]
    for _ in range(60):
        before = np.concatenate([x[:, 1:2], x[:, :-1]], axis=1)
        after = np.concatenate([x[:, 1:], x[:, -2:-1]], axis=1)
        aims = (0.5 * (before + after)).reshape(-1, count)
        wishes = np.full(aims.shape, 0.02)
        flat = x.reshape(-1, count)
        x = descend(inverse.quick, inverse.limits, targets, flat, wishes, aims, 2, 1e-3).reshape(x.shape)
    return x


def per_colour(lab: FloatArray, inks: FloatArray) -> FloatArray:
    """Return the change of ink per CIEDE2000; standing still counts as a third of a median step."""
    steps = _steps(lab)
    steps = np.maximum(steps, _STANDING * np.median(steps, axis=1, keepdims=True) + _NONE)
    return np.asarray(np.abs(np.diff(inks, axis=1)).sum(axis=2) / steps)


def _steps(lab: FloatArray) -> FloatArray:
    return np.array([delta_e_2000(one[:-1], one[1:]) for one in lab])


def leaps(condition: Condition, intent: str) -> int:
    """Return at how many steps of 8 bits, along the lines between corners of the sRGB cube, an ink leaps."""
    corners = np.array(np.meshgrid([0.0, 1.0], [0.0, 1.0], [0.0, 1.0], indexing="ij")).reshape(3, -1).T
    share = np.linspace(0.0, 1.0, 256)[:, None]
    lines = np.stack([a + share * (b - a) for a, b in combinations(corners, 2)])
    read = "perceptual" if intent == "perceptual" else "relative"
    found = render(condition, profile_to_lab(None, "rgb", lines.reshape(-1, 3), read), intent)
    change = np.abs(np.diff(found.inks.reshape((*lines.shape[:2], -1)), axis=1)).max(axis=2)
    return int((change > _LEAP).sum())


def judge(condition: Condition, intent: str) -> tuple[dict[str, Any], list[str]]:
    """Return a row of figures and the names of the ramps that fail, with theirs."""
    ramps = ramps_of(condition)
    begun = time.process_time()
    relative = condition.connection.to_relative(ramps.lab.reshape(-1, 3))
    found = render(condition, relative, intent)
    took = time.process_time() - begun
    lab, inks = found.lab.reshape(ramps.lab.shape), found.inks.reshape((*ramps.lab.shape[:2], -1))
    steps = _steps(lab)
    largest = steps.max(axis=1) / np.maximum(np.median(steps, axis=1), _NONE)
    asked = steps.max(axis=1) / np.maximum(np.median(_steps(ramps.lab), axis=1), _NONE)
    falls = ramps.lab[:, -1, 0] < ramps.lab[:, 0, 0] - 1.0
    back = np.where(falls, np.diff(lab[:, :, 0], axis=1).max(axis=1), 0.0)
    mine = per_colour(lab, inks).max(axis=1)
    least = per_colour(lab, least_change(condition, lab, inks)).max(axis=1)
    share = mine / np.maximum(least, 1e-9)
    told = [
        f"{name}: step {a:.1f}, ink {b:.1f} ({c * 100:.0f} of {d * 100:.0f} % per CIEDE2000), back {e:.2f}"
        for name, a, b, c, d, e in zip(ramps.names, largest, share, mine, least, back, strict=True)
        if a > _LIMIT or b > _LIMIT or e > 0.1
    ]
    row = {
        "data": condition.name,
        "intent": intent,
        "ramps": len(largest),
        "steps over 3 x": int((largest > _LIMIT).sum()),
        "largest": f"{largest.max():.1f}",
        "of asked": f"{asked.max():.1f}",
        "ink over 3 x": int((share > _LIMIT).sum()),
        "largest ": f"{share.max():.1f}",
        "back in L*": f"{back.max():.2f}",
        "leaps": leaps(condition, intent),
        "seconds": f"{took:.0f}",
    }
    return row, told


def presses() -> dict[str, Callable[[], Condition]]:
    """Return what is judged, by name."""
    return {
        "measured": measured,
        "four by area": lambda: simulated("four by area", "CMYK", by_area("CMYK"), 3.0),
        "six dyes": lambda: simulated("six dyes", "CMYKRG", by_dye("CMYKRG"), 2.6),
        "eight dyes": lambda: simulated("eight dyes", "CMYKORGB", by_dye("CMYKORGB"), 2.8),
        "light inks": lambda: simulated("light inks", "CMYKcmkO", with_light(), 2.6),
        "eight by area": lambda: simulated("eight by area", "CMYKORGB", by_area("CMYKORGB"), 3.0),
    }


def main() -> None:
    """Print figures of the presses named, or all, and every ramp that fails."""
    wanted = sys.argv[1:] or list(presses())
    if unknown := [name for name in wanted if name not in presses()]:
        sys.exit(f"unknown press (found {', '.join(unknown)}; expected {', '.join(presses())})")
    for name in wanted:
        condition = presses()[name]()
        for intent in _INTENTS:
            row, told = judge(condition, intent)
            print("  ".join(f"{key} {value}" for key, value in row.items()), flush=True)
            for line in told:
                print("   ", line, flush=True)


if __name__ == "__main__":
    main()
