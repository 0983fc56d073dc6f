"""A forward model tabulated on a grid of inks, for the many evaluations of an inverse."""

from __future__ import annotations

from collections.abc import Sequence
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


@dataclass(frozen=True)
class PartlyTabulated:
    """A table of some inks, and the model itself for recipes that hold others.

    Attributes
    ----------
    table : TabulatedModel
        Of the inks ``channels``, where there are no others.
    model : InksToLab
        Of all inks.
    channels : ndarray of int, shape (n_channels,)
        Which inks the table has, rising.
    """

    table: TabulatedModel
    model: InksToLab
    channels: NDArray[np.intp]

    @property
    def n_inks(self) -> int:
        """Number of inks."""
        return self.model.n_inks

    def lab(self, inks: FloatArray) -> FloatArray:
        """Return Lab, shape (m, 3), of ink coverages, shape (m, n_inks)."""
        others = self._others(inks)
        out = self.table.lab(inks[:, self.channels])
        if others.any():
            out[others] = self.model.lab(inks[others])
        return out

    def jacobian(self, inks: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return Lab, shape (m, 3), and its slopes, shape (m, 3, n_inks); 0 for inks the table lacks."""
        others = self._others(inks)
        value, slope = self.table.jacobian(inks[:, self.channels])
        slopes = np.zeros((len(inks), 3, self.n_inks))
        slopes[:, :, self.channels] = slope
        if others.any():
            value[others], slopes[others] = self.model.jacobian(inks[others])
        return value, slopes

    def _others(self, inks: FloatArray) -> NDArray[np.bool_]:
        rest = np.ones(self.n_inks, dtype=bool)
        rest[self.channels] = False
        return np.asarray((inks[:, rest] != 0).any(axis=1))


def tabulate(model: InksToLab, channels: Sequence[int] | None = None) -> InksToLab:
    """Return a tabulated copy of the model, or the model itself when a grid would be too large.

    Parameters
    ----------
    model : InksToLab
        An exact model, for example :class:`strikeoff.model.forward.LabModel`.
    channels : sequence of int, optional
        Inks that most recipes are of; all by default.
    """
    some = list(range(model.n_inks)) if channels is None else sorted(channels)
    count = len(some)
    if count not in NODES:
        return model
    inner = NODES[count]
    axis = np.arange(-1, inner + 1) / (inner - 1)
    grid = np.zeros(((inner + 2) ** count, model.n_inks))
    grid[:, some] = np.stack(np.meshgrid(*[axis] * count, indexing="ij"), axis=-1).reshape(-1, count)
    table = TabulatedModel(np.ascontiguousarray(model.lab(grid)), inner + 2, count)
    return with_table(table, model, some)


def with_table(table: TabulatedModel, model: InksToLab, channels: Sequence[int]) -> InksToLab:
    """Return a table as a model of all inks: itself where it has them all."""
    if table.n_inks == model.n_inks:
        return table
    return PartlyTabulated(table, model, np.array(channels, dtype=np.intp))
