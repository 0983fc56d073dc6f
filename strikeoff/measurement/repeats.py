"""Patches that were printed and read more than once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


@dataclass(frozen=True)
class RepeatNoise:
    """Scatter of repeated patches around their means.

    Attributes
    ----------
    n_groups : int
        Recipes with two readings or more.
    freedom : int
        Degrees of freedom: readings of these recipes minus their number.
    lab_sd : ndarray, shape (3,)
        Pooled standard deviation of L*, a*, b*.
    de_rms : float
        Root of the summed variances: the distance of one reading from the truth. [CIELAB units]
    spectra_sd : ndarray, shape (n_bands,), or None
        Pooled standard deviation of the reflectance factor. [-]
    patch_sd : ndarray, shape (n,)
        Standard deviation (three axes together) within each patch's own recipe; NaN for single readings.
    """

    n_groups: int
    freedom: int
    lab_sd: FloatArray
    de_rms: float
    spectra_sd: FloatArray | None
    patch_sd: FloatArray


def recipe_groups(coverages: ArrayLike, decimals: int = 4) -> IntArray:
    """Return for each patch the index of its recipe; recipes are numbered as they first occur.

    Parameters
    ----------
    coverages : array_like, shape (n, n_inks)
        Ink, 0-1. [-]
    decimals : int
        Inks equal after rounding to so many decimals count as the same.

    Returns
    -------
    ndarray of int, shape (n,)

    Examples
    --------
    >>> recipe_groups([[0.5, 0], [0, 0], [0.50001, 0]]).tolist()
    [0, 1, 0]
    """
    rounded = np.round(np.asarray(coverages, dtype=np.float64), decimals) + 0.0
    if rounded.shape[1] == 0:
        return np.arange(len(rounded))
    _, first, inverse = np.unique(rounded, axis=0, return_index=True, return_inverse=True)
    rank = np.empty_like(first)
    rank[np.argsort(first)] = np.arange(first.size)
    return np.asarray(rank[inverse.ravel()], dtype=np.intp)


def merge_repeats(readings: ReadingSet, decimals: int = 4) -> ReadingSet:
    """Return one patch a recipe: spectra, XYZ and Lab averaged, the name and line of the first.

    Rows that are means already weigh by the number of their readings, and numbers of readings add up.

    Parameters
    ----------
    readings : ReadingSet
        Readings with inks.
    decimals : int
        See `recipe_groups`.

    Returns
    -------
    ReadingSet
        In the order in which recipes first occur.
    """
    groups = recipe_groups(readings.coverages, decimals)
    count = int(groups.max()) + 1 if groups.size else 0
    if count == len(readings):
        return readings
    _, first = np.unique(groups, return_index=True)
    single = readings.take(first)

    def mean(values: FloatArray | None) -> FloatArray | None:
        return None if values is None else group_means(values, groups, readings.counts)

    return replace(
        single,
        spectra=mean(readings.spectra),
        xyz=mean(readings.xyz),
        lab=mean(readings.lab),
        averaged=np.bincount(groups, weights=readings.counts).astype(np.float64),
    )


def repeat_noise(readings: ReadingSet, decimals: int = 4) -> RepeatNoise | None:
    """Return the scatter of repeated recipes, or None where no recipe was read twice.

    A row that is the mean of n readings scatters by the root of n less, and is weighed for it.

    Parameters
    ----------
    readings : ReadingSet
        Readings with inks and colour.
    decimals : int
        See `recipe_groups`.

    Returns
    -------
    RepeatNoise or None
    """
    groups = recipe_groups(readings.coverages, decimals)
    sizes = np.bincount(groups) if groups.size else np.zeros(0, dtype=int)
    repeated = sizes > 1
    if not repeated.any():
        return None
    freedom = int((sizes[repeated] - 1).sum())

    def squares(values: FloatArray) -> FloatArray:
        gaps = values - group_means(values, groups, readings.counts)[groups]
        return gaps * gaps * readings.counts[:, None]

    lab_squares = squares(readings_lab(readings))
    lab_sd = np.sqrt(lab_squares.sum(axis=0) / freedom)
    spectra = readings.spectra
    group_squares = np.bincount(groups, weights=lab_squares.sum(axis=1))
    with np.errstate(invalid="ignore", divide="ignore"):
        group_sd = np.where(repeated, np.sqrt(group_squares / (sizes - 1)), np.nan)
    return RepeatNoise(
        n_groups=int(repeated.sum()),
        freedom=freedom,
        lab_sd=lab_sd,
        de_rms=float(np.sqrt((lab_sd**2).sum())),
        spectra_sd=None if spectra is None else np.sqrt(squares(spectra).sum(axis=0) / freedom),
        patch_sd=group_sd[groups],
    )


def group_means(values: FloatArray, groups: NDArray[Any], counts: FloatArray) -> FloatArray:
    """Return the means of rows, shape (n, ...), by group; rows weigh by their number of readings."""
    total = np.bincount(groups, weights=counts)
    sums = np.zeros((total.size, values.shape[1]))
    np.add.at(sums, groups, values * counts[:, None])
    return sums / total[:, None]
