"""Finding the repeat in a swatch that holds more than one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.swatch_likeness import Likeness, likeness, worst_places
from strikeoff.base.errors import InputError
from strikeoff.raster.lattice import Lattice

FloatArray = NDArray[np.float64]
Vector = tuple[float, float]

#: Most by which a scan may lie aslant, or its axes be off the right angle. [degrees]
MOST_ASLANT_DEGREES = 2.5
_MOST_PARTS = 8
# A move that is as alike as the best one, but for this much of what the best one lacks, is a repeat.
_LACKS_MORE, _LACKS_ROOM = 1.35, 0.012
_MOST_MOVES = 12
# The same for the place where it is least alike, which tells motifs that are nearly the same apart.
_WORST_TIMES, _WORST_ROOM = 2.5, 0.25
_LEAST_LIKE = 0.45
_SURE_LIKE, _SURE_GAP = 0.7, 0.005


@dataclass(frozen=True)
class SwatchRepeat:
    """The repeat of a swatch.

    Attributes
    ----------
    lattice : Lattice
        How tiles stand beside each other.
    width_px, height_px : float
        Size of a tile in pixels of the swatch.
    across, along : tuple of float
        Sides of the tile (right, down) in the swatch, as it lies. [pixels]
    next_column, next_row : tuple of float
        From a tile to those beside and below it. [pixels]
    turned_degrees, skew_degrees : float
        By how much the swatch lies aslant, clockwise; what the sides are off the right angle.
    likeness : float
        Correlation of the swatch with itself, moved by a repeat, 0-1. [-]
    nearly : tuple of (float, float, float)
        Other moves (right, down) that are nearly repeats and their likeness, the most alike first.
    is_sure : bool
        Whether the likeness is high and stands clear of the next one.
    """

    lattice: Lattice
    width_px: float
    height_px: float
    across: Vector
    along: Vector
    next_column: Vector
    next_row: Vector
    turned_degrees: float
    skew_degrees: float
    likeness: float
    nearly: tuple[tuple[float, float, float], ...]
    is_sure: bool


def find_repeat(picture: FloatArray, path: str = "") -> SwatchRepeat:
    """Find the lattice of a swatch that holds two repeats or more each way.

    Parameters
    ----------
    picture : ndarray, shape (h, w, channels)
        Samples, 0-1.
    path : str
        Named in errors.

    Raises
    ------
    InputError
        When no repeat is found, or only one that does not stand upright.
    """
    field = likeness(picture)
    peaks = field.peaks()
    if not peaks or max(p[2] for p in peaks) < _LEAST_LIKE:
        raise _none(path, max((p[2] for p in peaks), default=0.0))
    best = max(p[2] for p in peaks)
    least = best - (_LACKS_MORE - 1) * (1 - best) - _LACKS_ROOM
    repeats = sorted((p for p in peaks if p[2] >= least), key=lambda p: math.hypot(p[0], p[1]))[:_MOST_MOVES]
    worst = worst_places(picture, [p[:2] for p in repeats])
    most = _WORST_TIMES * min(worst) + _WORST_ROOM
    repeats = [p for p, value in zip(repeats, worst, strict=True) if value <= most]
    basis = _basis(repeats)
    if basis is None:
        raise _none(path, best, "it repeats in one direction at most")
    fine = _refined(field, _reduced(basis))
    if fine is None:
        raise _none(path, best, "moves that look alike make no lattice")
    found, like = fine
    upright = _upright(found)
    if upright is None:
        raise InputError(
            "the repeat of this swatch does not stand upright",
            path=path or None,
            found="moves (right, down) of " + " and ".join(f"{x:.1f}, {y:.1f} px" for x, y in found),
            expected=f"a straight repeat, a drop or a brick, at most {MOST_ASLANT_DEGREES:g} degrees aslant",
            advice="Turn the picture upright first",
        )
    lattice, across, along, column, row = upright
    nearly = _nearly(peaks, found)
    gap = like - (nearly[0][2] if nearly else 0.0)
    first = math.degrees(math.atan2(across[1], across[0]))
    second = math.degrees(math.atan2(-along[0], along[1]))
    return SwatchRepeat(
        lattice, math.hypot(*across), math.hypot(*along), across, along, column, row,
        (first + second) / 2, second - first, like, nearly, like >= _SURE_LIKE and gap >= _SURE_GAP,
    )  # fmt: skip


def scaled(repeat: SwatchRepeat, factor: float) -> SwatchRepeat:
    """Return a repeat found in a smaller picture in pixels of one that is larger by a factor."""

    def times(vector: Vector) -> Vector:
        return vector[0] * factor, vector[1] * factor

    return SwatchRepeat(
        repeat.lattice, repeat.width_px * factor, repeat.height_px * factor, times(repeat.across),
        times(repeat.along), times(repeat.next_column), times(repeat.next_row), repeat.turned_degrees,
        repeat.skew_degrees, repeat.likeness, tuple((x * factor, y * factor, v) for x, y, v in repeat.nearly),
        repeat.is_sure,
    )  # fmt: skip


def _none(path: str, best: float, why: str = "no move of up to half the swatch makes it alike") -> InputError:
    return InputError(
        "no repeat found in this swatch",
        path=path or None,
        found=f"{why}; likeness at most {max(best, 0.0):.2f}",
        expected="two whole repeats or more, across and along",
        advice="Scan a larger piece, flat and evenly lit",
    )


def _basis(repeats: list[tuple[float, float, float]]) -> FloatArray | None:
    """Return the two shortest moves that do not lie in one line."""
    for x, y, _ in repeats[1:]:
        first = repeats[0]
        sine = abs(first[0] * y - first[1] * x) / (math.hypot(first[0], first[1]) * math.hypot(x, y))
        if sine > 0.15:
            return np.array([[first[0], first[1]], [x, y]])
    return None


def _reduced(basis: FloatArray) -> FloatArray:
    """Return the shortest basis of the same lattice (C. F. Gauss, 1801)."""
    a, b = basis
    for _ in range(32):
        if a @ a > b @ b:
            a, b = b, a
        step = round(float(a @ b) / float(a @ a))
        if step == 0:
            break
        b = b - step * a
    return np.array([a, b])


def _refined(field: Likeness, basis: FloatArray) -> tuple[FloatArray, float] | None:
    """Fit a basis to all peaks of the lattice, far ones last; None where too many are missing."""
    like: list[float] = []
    for furthest in (1, 2, 4, 12):
        places, counts, weights, like = [], [], [], []
        tried = 0
        for i in range(-furthest, furthest + 1):
            for j in range(-furthest, furthest + 1):
                if (i, j) <= (0, 0):
                    continue
                x, y = i * basis[0] + j * basis[1]
                if abs(x) > field.over - 2 or abs(y) > field.down - 2:
                    continue
                tried += 1
                peak = field.peak_near(float(x), float(y), 3)
                if peak is not None and math.hypot(peak[0] - x, peak[1] - y) < 3.5:
                    places.append(peak[:2])
                    counts.append((i, j))
                    weights.append(max(peak[2], 0.0))
                    like.append(peak[2])
        if tried < 2 or np.linalg.matrix_rank(np.array(counts)) < 2:
            return None
        root = np.sqrt(np.array(weights))[:, None]
        basis = np.linalg.lstsq(np.array(counts) * root, np.array(places) * root, rcond=None)[0]
    worst = min(like)
    mean = float(np.mean(like))
    return None if mean < _LEAST_LIKE or worst < 0.5 * mean else (basis, mean)


def _upright(basis: FloatArray) -> tuple[Lattice, Vector, Vector, Vector, Vector] | None:
    """Return the least elongated tile with upright sides: lattice, its sides, steps to its neighbours."""
    choices = [c for c in (_drop(basis), _brick(basis)) if c is not None]
    if not choices:
        return None
    return min(choices, key=lambda c: abs(math.log(math.hypot(*c[1]) / math.hypot(*c[2]))))


def _drop(basis: FloatArray) -> tuple[Lattice, Vector, Vector, Vector, Vector] | None:
    down = _shortest_upright(basis)
    if down is None:
        return None
    area = abs(float(np.linalg.det(basis)))
    best = None
    for i, j in np.ndindex(25, 25):
        step = (i - 12) * basis[0] + (j - 12) * basis[1]
        if abs(abs(float(step[0] * down[1] - step[1] * down[0])) - area) < 1e-6 * area and step[0] > 0:
            lower = float(step @ down) / float(down @ down)
            if -0.1 < lower < 0.97 and (best is None or lower < best[0]):
                best = lower, step
    if best is None:
        return None
    step = best[1]
    for parts in range(1, _MOST_PARTS + 1):
        whole = round(parts * float(step @ down) / float(down @ down))
        if parts > 1 and math.gcd(whole, parts) != 1:
            continue
        across = (parts * step - whole * down) / parts
        aslant = math.degrees(math.asin(float(across @ down) / math.sqrt((across @ across) * (down @ down))))
        if abs(aslant) <= MOST_ASLANT_DEGREES / parts:
            share = Fraction(whole, parts) % 1
            lattice = Lattice("drop", share) if share else Lattice()
            return lattice, _pair(across), _pair(down), _pair(step), _pair(down)
    return None


def _brick(basis: FloatArray) -> tuple[Lattice, Vector, Vector, Vector, Vector] | None:
    """Return the drop of the transposed lattice, transposed."""
    found = _drop(basis[:, ::-1])
    if found is None:
        return None
    lattice, along, across, row, column = found
    turned = Lattice("brick", lattice.share) if lattice.share else lattice
    return turned, across[::-1], along[::-1], column[::-1], row[::-1]


def _shortest_upright(basis: FloatArray) -> FloatArray | None:
    steps = [(i - 12) * basis[0] + (j - 12) * basis[1] for i, j in np.ndindex(25, 25) if (i, j) != (12, 12)]
    most = math.tan(math.radians(MOST_ASLANT_DEGREES))
    upright = [s for s in steps if s[1] > 0 and abs(s[0]) <= most * s[1]]
    return min(upright, key=lambda s: float(s @ s)) if upright else None


def _nearly(
    peaks: list[tuple[float, float, float]], basis: FloatArray
) -> tuple[tuple[float, float, float], ...]:
    inverse = np.linalg.inv(basis)
    found = []
    for x, y, value in peaks:
        counts = np.array([x, y]) @ inverse
        if np.abs(counts - np.round(counts)).max() > 0.08:
            found.append((x, y, value))
    return tuple(sorted(found, key=lambda p: -p[2])[:4])


def _pair(vector: FloatArray) -> Vector:
    return float(vector[0]), float(vector[1])
