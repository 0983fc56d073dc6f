"""Interpolation in tables of 1 to 15 dimensions, plain numpy.

References
----------
Multilinear: product of one-dimensional linear weights. Simplex: J. M. Kasson, S. I. Nin,
W. Plouffe, J. L. Hafner, J. Electron. Imaging 4 (1995) 226-250; with three inputs it is the
tetrahedral interpolation along the grey diagonal.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.icc.encoding import FloatArray

Interpolation = Literal["multilinear", "simplex"]
_BLOCK = 1 << 14


def interpolate(grid: NDArray[Any], points: FloatArray, method: Interpolation = "multilinear") -> FloatArray:
    """Return grid values at points.

    Parameters
    ----------
    grid : ndarray, shape (g_1, ..., g_n, n_out)
        Values at the nodes, 2 or more along each axis; axis i spans 0-1 of coordinate i.
    points : ndarray, shape (n_points, n)
        Coordinates, 0-1; limited to that range.
    method : {"multilinear", "simplex"}
        ``simplex`` sorts the coordinates inside a cell and uses n + 1 nodes of its 2**n.

    Returns
    -------
    ndarray, shape (n_points, n_out)

    Examples
    --------
    >>> grid = np.array([[[0.0], [1.0]], [[10.0], [31.0]]])  # axes: first, second, output
    >>> interpolate(grid, np.array([[1.0, 0.0], [0.5, 0.5]])).ravel().tolist()
    [10.0, 10.5]
    >>> interpolate(grid, np.array([[0.5, 0.25]]), "simplex").ravel().tolist()
    [10.25]
    """
    sizes = np.array(grid.shape[:-1])
    strides = np.append(np.cumprod(sizes[:0:-1])[::-1], 1)
    nodes = grid.reshape(-1, grid.shape[-1])
    blend = _METHODS[method]
    result = np.empty((len(points), grid.shape[-1]))
    for start in range(0, len(points), _BLOCK):
        position = np.clip(points[start : start + _BLOCK], 0.0, 1.0) * (sizes - 1)
        cell = np.minimum(position.astype(np.int64), sizes - 2)
        result[start : start + _BLOCK] = blend(nodes, strides, cell @ strides, position - cell)
    return result


def _multilinear(
    nodes: NDArray[Any], strides: NDArray[np.int64], base: NDArray[np.int64], inside: FloatArray
) -> FloatArray:
    total = np.zeros((len(base), nodes.shape[1]))
    for corner in range(1 << len(strides)):
        weight = np.ones(len(base))
        offset = 0
        for axis, stride in enumerate(strides):
            if corner >> axis & 1:
                weight *= inside[:, axis]
                offset += int(stride)
            else:
                weight *= 1 - inside[:, axis]
        total += weight[:, None] * nodes[base + offset]
    return total


def _simplex(
    nodes: NDArray[Any], strides: NDArray[np.int64], base: NDArray[np.int64], inside: FloatArray
) -> FloatArray:
    order = np.argsort(-inside, axis=1, kind="stable")
    falling = np.take_along_axis(inside, order, axis=1)
    weights = -np.diff(falling, axis=1, prepend=1.0, append=0.0)
    total = weights[:, :1] * nodes[base]
    index = base.copy()
    for step in range(len(strides)):
        index += strides[order[:, step]]
        total += weights[:, step + 1 : step + 2] * nodes[index]
    return np.asarray(total)


_METHODS: dict[str, Callable[..., FloatArray]] = {"multilinear": _multilinear, "simplex": _simplex}
