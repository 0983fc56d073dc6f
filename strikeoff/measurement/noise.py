"""How far one reading is off, per patch, and how many readings a wanted certainty takes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import recipe_groups, repeat_noise

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

#: Scatter of one reading on cloth where nothing was read twice, 0.3 on each axis; common practice, no source.
DEFAULT_READING_DE = 0.52
#: What the mean of a patch should be known to; common practice, no source. [CIELAB units]
DEFAULT_WANTED = 0.5
_COVERAGE = 1.96
# Readings of other patches that count as much as a patch's own.
_PRIOR_FREEDOM = 8.0


@dataclass(frozen=True)
class PatchNoise:
    """Scatter and uncertainty of recipes, in the order in which they first occur.

    Attributes
    ----------
    source : {"repeats", "default"}
        Where the scatter comes from.
    reading_de : float
        Scatter of one reading, three axes together. [CIELAB units]
    freedom : int
        Degrees of freedom behind it; 0 for the default.
    first : ndarray of int, shape (n_recipes,)
        Row in which the recipe first occurs.
    readings : ndarray of int, shape (n_recipes,)
        How often it was read.
    patch_de : ndarray, shape (n_recipes,)
        Scatter of one reading of this recipe: its own and the pooled one, weighed by degrees of freedom.
    uncertainty : ndarray, shape (n_recipes,)
        Half-width of the 95 % interval of its mean.
    more : ndarray of int, shape (n_recipes,)
        Further readings that the wanted half-width takes.
    cloth_only : bool
        Whether nothing but bare cloth was read twice: prints scatter more, and nobody knows how much.
    """

    source: str
    reading_de: float
    freedom: int
    first: IntArray
    readings: IntArray
    patch_de: FloatArray
    uncertainty: FloatArray
    more: IntArray
    cloth_only: bool


def readings_needed(reading_de: float, wanted: float) -> int:
    """Return how many readings hold their mean within a half-width with 95 % confidence.

    Parameters
    ----------
    reading_de : float
        Scatter of one reading. [CIELAB units]
    wanted : float
        Half-width, above 0. [CIELAB units]

    Returns
    -------
    int
        n = (1.96 s / E) squared, rounded up; at least 1.

    Notes
    -----
    Textbook statistics: the half-width of the 95 % interval of a mean is 1.96 s / sqrt(n).

    Examples
    --------
    >>> readings_needed(0.3, 0.15), readings_needed(0.6, 0.2), readings_needed(0.15, 0.1)
    (16, 35, 9)
    """
    return max(1, math.ceil((_COVERAGE * reading_de / wanted) ** 2 - 1e-9))


def patch_noise(readings: ReadingSet, wanted: float = DEFAULT_WANTED) -> PatchNoise:
    """Return scatter and uncertainty of every recipe.

    Parameters
    ----------
    readings : ReadingSet
        Readings with inks and colour.
    wanted : float
        Half-width that the mean of each recipe should have. [CIELAB units]

    Returns
    -------
    PatchNoise
    """
    groups = recipe_groups(readings.coverages)
    _, first, rows = np.unique(groups, return_index=True, return_counts=True)
    sizes = np.bincount(groups, weights=readings.counts)
    noise = repeat_noise(readings)
    if noise is None or noise.de_rms == 0.0:
        pooled, freedom, source = DEFAULT_READING_DE, 0, "default"
        patch_de = np.full(len(first), pooled)
    else:
        pooled, freedom, source = noise.de_rms, noise.freedom, "repeats"
        own = rows - 1.0
        squares = own * np.nan_to_num(noise.patch_sd[first]) ** 2
        patch_de = np.sqrt((_PRIOR_FREEDOM * pooled**2 + squares) / (_PRIOR_FREEDOM + own))
    twice = readings.coverages[first[rows > 1]]
    needed = np.array([readings_needed(float(sd), wanted) for sd in patch_de], dtype=np.intp)
    return PatchNoise(
        source,
        float(pooled),
        freedom,
        np.asarray(first, dtype=np.intp),
        np.asarray(sizes, dtype=np.intp),
        patch_de,
        _COVERAGE * patch_de / np.sqrt(sizes),
        np.asarray(np.maximum(needed - sizes, 0), dtype=np.intp),
        source == "repeats" and not bool(twice.any()),
    )
