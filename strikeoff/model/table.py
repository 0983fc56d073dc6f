"""A forward model tabulated on a grid of inks, for the many evaluations of an inverse."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from strikeoff.model.gaussian import in_parts

FloatArray = NDArray[np.float64]

#: Nodes between 0 and 1, both included, by number of inks; more inks are evaluated directly.
NODES = {1: 65, 2: 33, 3: 21, 4: 15}


class InksToLab(Protocol):
    """Anything that gives Lab and its slopes for inks."""

    @property
    def n_inks(self) -> int:
        """Number of inks."""

    def lab(self, inks: FloatArray) -> FloatArray:
        """Return Lab, shape (m, 3), of ink coverages, shape (m, n_inks)."""

    def jacobian(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return Lab, shape (m, 3), and its slopes, shape (m, 3, n_inks)."""


@dataclass(frozen=True)
class TabulatedModel:
    """Lab on a regular grid of inks, read by Catmull-Rom cubics.

    Attributes
    ----------
    nodes : ndarray, shape (size ** n_inks, 3)
        Lab at the nodes, last ink fastest; one node stands outside 0-1 at each end.
    size : int
        Nodes per ink, the two outside included.
    n_inks : int
        Number of inks.
    """

    nodes: FloatArray
    size: int
    n_inks: int

    def lab(self, inks: FloatArray) -> FloatArray:
        """Return Lab, shape (m, 3), of ink coverages, shape (m, n_inks)."""
        return self.jacobian(inks)[0]

    def jacobian(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return Lab, shape (m, 3), and its slopes, shape (m, 3, n_inks)."""
        from strikeoff.model.kernels import cubic_table

        value = np.empty((len(inks), 3))
        slope = np.empty((len(inks), 3, self.n_inks))
        strides = self.size ** np.arange(self.n_inks - 1, -1, -1, dtype=np.int64)
        inks = np.ascontiguousarray(inks)

        def work(rows: slice) -> None:
            cubic_table(inks[rows], self.nodes, strides, self.size, value[rows], slope[rows])

        in_parts(work, len(inks))
        return value, slope


def tabulate(model: InksToLab) -> InksToLab:
    """Return a tabulated copy of the model, or the model itself when a grid would be too large.

    Parameters
    ----------
    model : InksToLab
        An exact model, for example :class:`strikeoff.model.forward.LabModel`.
    """
    count = model.n_inks
    if count not in NODES:
        return model
    inner = NODES[count]
    axis = np.arange(-1, inner + 1) / (inner - 1)
    grid = np.stack(np.meshgrid(*[axis] * count, indexing="ij"), axis=-1).reshape(-1, count)
    return TabulatedModel(np.ascontiguousarray(model.lab(grid)), inner + 2, count)
