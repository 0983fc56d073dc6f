"""What the neighbours of a patch in ink space say of it."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# Patches solved at once, which bounds memory.
_BLOCK = 2048
# Weight of what the neighbours miss of a recipe against the error of interpolation, both squared. [-]
_MISSED = 0.25


def neighbour_residuals(
    coverages: FloatArray, lab: FloatArray, usable: NDArray[np.bool_], n_neighbours: int = 32
) -> FloatArray:
    """Return each patch's distance from what its neighbours predict without it.

    Parameters
    ----------
    coverages : ndarray, shape (n, n_inks)
        Distinct recipes, 0-1. [-]
    lab : ndarray, shape (n, 3)
        Their CIELAB.
    usable : ndarray of bool, shape (n,)
        Patches that may serve as neighbours.
    n_neighbours : int
        How many serve.

    Returns
    -------
    ndarray, shape (n,)
        CIELAB distance.
    """
    gaps = neighbour_predictions(coverages, lab, usable, n_neighbours) - lab
    return np.asarray(np.sqrt((gaps**2).sum(axis=1)), dtype=np.float64)


def neighbour_predictions(
    coverages: FloatArray, values: FloatArray, usable: NDArray[np.bool_], n_neighbours: int = 32
) -> FloatArray:
    """Return what the neighbours of each patch predict for it, without it.

    Parameters
    ----------
    coverages : ndarray, shape (n, n_inks)
        Recipes, 0-1. [-]
    values : ndarray, shape (n, k)
        Any quantities of the patches.
    usable : ndarray of bool, shape (n,)
        Patches that may serve as neighbours.
    n_neighbours : int
        How many serve.

    Returns
    -------
    ndarray, shape (n, k)

    Notes
    -----
    Local interpolation with the kernel r cubed and a plane, one small system a patch. Only the slopes of the
    plane are ridge-regularised: the weights of the neighbours sum to one.
    """
    predicted = np.empty((len(coverages), values.shape[1]))
    near, weights = _own_weights(coverages, usable, n_neighbours)
    for first in range(0, len(coverages), _BLOCK):
        rows = slice(first, first + _BLOCK)
        predicted[rows] = np.einsum("nk,nkc->nc", weights[rows], values[near[rows]])
    return predicted


def neighbour_losses(
    coverages: FloatArray,
    values: FloatArray,
    usable: NDArray[np.bool_],
    share: float = 0.2,
    n_neighbours: int = 32,
) -> FloatArray:
    """Return how the neighbours of each patch say that it changes as it loses some of one ink.

    Parameters
    ----------
    coverages : ndarray, shape (n, n_inks)
        Recipes, 0-1. [-]
    values : ndarray, shape (n, k)
        Any quantities of the patches.
    usable : ndarray of bool, shape (n,)
        Patches that may serve as neighbours.
    share : float
        Part of the ink that is lost, between 0 and 1. [-]
    n_neighbours : int
        How many serve.

    Returns
    -------
    ndarray, shape (n_inks, n, k)
        Change of the values, divided by the share.
    """
    shape = (coverages.shape[1], *values.shape)
    changes = np.empty(shape)
    for rows, near, local in _blocks(coverages, usable, n_neighbours):
        here = coverages[rows]
        thinner = np.repeat(here[:, None, :], 1 + shape[0], axis=1)
        for ink in range(shape[0]):
            thinner[:, 1 + ink, ink] *= 1.0 - share
        weights = _local_weights(local, _spread(thinner) - _spread(here)[:, None, :])
        found = np.einsum("ntk,nkc->tnc", weights, values[near])
        changes[:, rows] = (found[1:] - found[0]) / share
    return changes


def neighbour_doubts(coverages: FloatArray, usable: NDArray[np.bool_], n_neighbours: int = 32) -> FloatArray:
    """Return how far off what the neighbours of each patch predict for it may be, in units of its own.

    Parameters
    ----------
    coverages : ndarray, shape (n, n_inks)
        Recipes, 0-1. [-]
    usable : ndarray of bool, shape (n,)
        Patches that may serve as neighbours.
    n_neighbours : int
        How many serve.

    Returns
    -------
    ndarray, shape (n,)
        Comparable between the patches of a chart. [-]

    Notes
    -----
    Standard error of interpolation under the generalised covariance r cubed (G. Matheron, Adv. Appl. Prob. 5
    (1973), 439-468), and the way from the patch to the mean of the neighbours as they are weighed: the ink
    that none of them has. How much the latter counts is common practice, no source.
    """
    doubts = np.empty(len(coverages))
    own = _own_weights(coverages, usable, n_neighbours)[1]
    for rows, _, local in _blocks(coverages, usable, n_neighbours):
        weights = own[rows]
        cubed = _cubed_distances(local, local)
        far = _cubed_distances(local, np.zeros_like(local[:, :1]))[:, :, 0]
        between = (np.matmul(weights[:, None, :], cubed)[:, 0] * weights).sum(axis=1)
        error = between - 2.0 * (weights * far).sum(axis=1)
        missed = (np.einsum("nk,nkd->nd", weights, local) ** 2).sum(axis=1)
        doubts[rows] = np.sqrt(np.maximum(error, 0.0) + _MISSED * missed)
    return doubts


def nearest_recipes(coverages: FloatArray, rows: NDArray[np.intp], count: int) -> NDArray[np.intp]:
    """Return so many recipes, those that lie nearest to any of some rows, these among them.

    Parameters
    ----------
    coverages : ndarray, shape (n, n_inks)
        Recipes, 0-1. [-]
    rows : ndarray of int
        Those that the others are to be near to.
    count : int
        How many recipes.

    Returns
    -------
    ndarray of int
        Rows of the recipes, rising.
    """
    from scipy.spatial import cKDTree

    points = _spread(coverages)
    far, _ = cKDTree(points[rows]).query(points)
    return np.sort(np.argsort(far, kind="stable")[:count])


def _blocks(
    coverages: FloatArray, usable: NDArray[np.bool_], n_neighbours: int
) -> Iterator[tuple[slice, NDArray[np.intp], FloatArray]]:
    """Yield rows, their neighbours (n, k), and how far off these are (n, k, n_inks), some rows at a time."""
    points = _spread(coverages)
    near = _nearest(points, usable, n_neighbours)
    for first in range(0, len(points), _BLOCK):
        rows = slice(first, first + _BLOCK)
        yield rows, near[rows], points[near[rows]] - points[rows, None, :]


def _nearest(points: FloatArray, usable: NDArray[np.bool_], n_neighbours: int) -> NDArray[np.intp]:
    """Return the neighbours of each point, itself left out, shape (n, k)."""
    from scipy.spatial import cKDTree

    pool = np.flatnonzero(usable)
    k = min(n_neighbours, pool.size - 1)
    _, near = cKDTree(points[pool]).query(points, k=k + 1)
    near = pool[near]
    own = near == np.arange(len(points))[:, None]
    # Drop the patch itself, or the farthest where it is not among them.
    own[~own.any(axis=1), -1] = True
    return np.asarray(near[~own].reshape(len(points), k), dtype=np.intp)


def _own_weights(
    coverages: FloatArray, usable: NDArray[np.bool_], n_neighbours: int
) -> tuple[NDArray[np.intp], FloatArray]:
    """Return the neighbours of each recipe and their weights for it, both (n, k)."""
    recipes = np.asarray(coverages, dtype=np.float64)
    return _kept_weights(recipes.tobytes(), recipes.shape[1], usable.tobytes(), n_neighbours)


# The checks of one chart ask for the same weights one after another.
@lru_cache(maxsize=4)
def _kept_weights(
    coverages: bytes, n_inks: int, usable: bytes, n_neighbours: int
) -> tuple[NDArray[np.intp], FloatArray]:
    recipes = np.frombuffer(coverages).reshape(-1, n_inks)
    nears, weights = [], []
    for _, near, local in _blocks(recipes, np.frombuffer(usable, np.bool_), n_neighbours):
        nears.append(near)
        weights.append(_local_weights(local, np.zeros_like(local[:, :1]))[:, 0])
    found = np.concatenate(nears), np.concatenate(weights)
    for shared in found:
        shared.setflags(write=False)
    return found


def _cubed_distances(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the cubes of the distances, shape (n, k, t), of points (n, k, n_inks) from (n, t, n_inks)."""
    squares = np.zeros((len(a), a.shape[1], b.shape[1]))
    for ink in range(a.shape[2]):
        gap = a[:, :, None, ink] - b[:, None, :, ink]
        gap *= gap
        squares += gap
    return np.asarray(squares * np.sqrt(squares))


def _local_weights(local: FloatArray, at: FloatArray) -> FloatArray:
    """Return weights, shape (n, t, k), of neighbours at offsets (n, k, n_inks) for places (n, t, n_inks)."""
    count, k, _ = local.shape
    scale = np.maximum(np.sqrt((local**2).sum(axis=2)).max(axis=1), 1e-9)[:, None, None]
    local, at = local / scale, at / scale
    plane = np.concatenate([np.ones((count, k, 1)), local], axis=2)
    m = plane.shape[2]
    system = np.zeros((count, k + m, k + m))
    system[:, :k, :k] = _cubed_distances(local, local) + 1e-2 * np.eye(k)
    system[:, :k, k:] = plane
    system[:, k:, :k] = plane.transpose(0, 2, 1)
    # The slopes are held, the height is not: of an ink that no neighbour has, nothing is known, and weights
    # that do not sum to one would darken the patch instead.
    system[:, k + 1 :, k + 1 :] = -1e-4 * np.eye(m - 1)
    right = np.zeros((count, k + m, at.shape[1]))
    right[:, :k] = _cubed_distances(local, at)
    right[:, k] = 1.0
    right[:, k + 1 :] = at.transpose(0, 2, 1)
    return np.asarray(np.linalg.solve(system, right)[:, :k].transpose(0, 2, 1), dtype=np.float64)


def _spread(coverages: FloatArray) -> FloatArray:
    # Equal steps of ink change light tints most; the square root spreads them.
    return np.asarray(np.sqrt(np.clip(coverages, 0.0, None)), dtype=np.float64)
