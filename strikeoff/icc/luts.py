"""Look-up table records: the parts and the two shapes in which ICC tags store them.

References
----------
ICC.1:2022 clauses 10.10 (lut16Type), 10.11 (lut8Type), 10.12 (lutAToBType), 10.13 (lutBToAType).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.icc.curves import Curve, SampledCurve
from strikeoff.icc.encoding import FloatArray

MAX_CHANNELS = 15


@dataclass(frozen=True)
class Curves:
    """One curve for each channel."""

    curves: tuple[Curve, ...]


@dataclass(frozen=True)
class Matrix:
    """``y = coefficients @ x + offset``: shapes ``(3, 3)`` and ``(3,)``."""

    coefficients: FloatArray
    offset: FloatArray


@dataclass(frozen=True)
class Clut:
    """A grid of codes, shape ``(g_1, ..., g_n_in, n_out)``, uint8 or uint16; full scale stands for 1."""

    codes: NDArray[Any]

    @property
    def n_in(self) -> int:
        """Input channels."""
        return self.codes.ndim - 1

    @property
    def n_out(self) -> int:
        """Output channels."""
        return int(self.codes.shape[-1])


Stage = Curves | Matrix | Clut


@dataclass(frozen=True)
class TableLut:
    """mft1 or mft2: matrix (used for XYZ input only), input tables, CLUT, output tables.

    Tables have shape ``(channels, entries)``, values 0-1; ``clut.codes`` is uint8 in mft1 and uint16
    in mft2 and has one size for all axes.
    """

    kind: Literal["mft1", "mft2"]
    matrix: FloatArray
    input_tables: FloatArray
    clut: Clut
    output_tables: FloatArray

    @property
    def n_in(self) -> int:
        """Input channels."""
        return self.clut.n_in

    @property
    def n_out(self) -> int:
        """Output channels."""
        return self.clut.n_out


@dataclass(frozen=True)
class CurveLut:
    """mAB or mBA: ``b`` curves beside the PCS, ``a`` curves beside the device."""

    kind: Literal["mAB ", "mBA "]
    n_in: int
    n_out: int
    b: Curves
    matrix: Matrix | None = None
    m: Curves | None = None
    clut: Clut | None = None
    a: Curves | None = None


Lut = TableLut | CurveLut


def stages(lut: Lut, *, xyz_input: bool = False) -> tuple[Stage, ...]:
    """Return the stages of a table in the order in which values pass them."""
    if isinstance(lut, CurveLut):
        order = (lut.a, lut.clut, lut.m, lut.matrix, lut.b)
        return tuple(stage for stage in (order if lut.kind == "mAB " else order[::-1]) if stage is not None)
    tables = (
        Curves(tuple(SampledCurve(row) for row in lut.input_tables)),
        lut.clut,
        Curves(tuple(SampledCurve(row) for row in lut.output_tables)),
    )
    return (Matrix(lut.matrix, np.zeros(3)), *tables) if xyz_input else tables
