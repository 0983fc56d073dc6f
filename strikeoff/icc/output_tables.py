"""A press's tables as arrays, and their two ICC encodings: mft2 (version 2), mAB and mBA (version 4).

The same arrays serve both versions. The input axes of a B2A table are sampled at the same L*, a*, b*
in both: 65535 (last code of mft2) and 65280 (the code of L* 100 there) share the divisor 17, so that
3856 entries of mft2 and 3841 of mBA stand at the same colours, 1/3840 of the range apart, and both
encodings give the same grid coordinate within rounding, between knots too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from strikeoff.base.errors import RangeError, UsageError
from strikeoff.icc.curves import IDENTITY, Curve, SampledCurve
from strikeoff.icc.encoding import FloatArray, LabEncoding, codes16, lab_from_unit, unit_from_lab
from strikeoff.icc.luts import Clut, CurveLut, Curves, TableLut
from strikeoff.icc.tags.mft2 import MAX_ENTRIES

MFT2_AXIS_ENTRIES = 65535 // 17 + 1
MBA_AXIS_ENTRIES = 65280 // 17 + 1

_PLAIN_TABLE = np.array([0.0, 1.0])


@dataclass(frozen=True)
class A2BTable:
    """Inks to colour.

    Attributes
    ----------
    grid : ndarray, shape (g, ..., g, 3)
        Media-relative Lab at the nodes; axes in ink order, the first ink slowest.
    input_curves : ndarray, shape (n_inks, m), optional
        Even samples over ink value 0-1 of the grid coordinate 0-1; identity when absent.
    """

    grid: FloatArray
    input_curves: FloatArray | None = None


@dataclass(frozen=True)
class Axis:
    """Grid coordinate 0-1 as a piecewise linear function of L*, a* or b*.

    Attributes
    ----------
    positions : ndarray, shape (k,)
        Rising L* (0-100), a* or b* (-128 to 127); beyond the ends the coordinate stays.
    coordinates : ndarray, shape (k,)
        Rising, 0-1.
    """

    positions: FloatArray
    coordinates: FloatArray


def straight_axis(low: float, high: float) -> Axis:
    """Return the axis that is linear from ``low`` (coordinate 0) to ``high`` (coordinate 1).

    Examples
    --------
    >>> straight_axis(0, 100).positions.tolist()
    [0.0, 100.0]
    """
    return Axis(np.array([low, high], float), np.array([0.0, 1.0]))


#: Whole version 4 range of L*, a*, b*.
FULL_AXES = (straight_axis(0, 100), straight_axis(-128, 127), straight_axis(-128, 127))


def axis_nodes(axis: Axis, size: int) -> FloatArray:
    """Return the L*, a* or b* of each of ``size`` nodes along an axis whose coordinates rise from 0 to 1.

    Examples
    --------
    >>> axis_nodes(straight_axis(-128, 127), 3).tolist()
    [-128.0, -0.5, 127.0]
    """
    return np.interp(np.linspace(0, 1, size), axis.coordinates, axis.positions)


def curve_nodes(curve: FloatArray, size: int) -> FloatArray:
    """Return the ink value of each of ``size`` nodes behind a rising input curve of even samples.

    Examples
    --------
    >>> curve_nodes(np.array([0, 0.75, 1.0]), 5).round(3).tolist()
    [0.0, 0.167, 0.333, 0.5, 1.0]
    """
    return np.interp(np.linspace(0, 1, size), curve, np.linspace(0, 1, len(curve)))


@dataclass(frozen=True)
class B2ATable:
    """Colour to inks, or to the one channel of a gamut table (0 in gamut, more outside).

    Attributes
    ----------
    grid : ndarray, shape (g_L, g_a, g_b, n_inks)
        Values 0-1 at the nodes, before the output curves.
    axes : three Axis
        Where media-relative L*, a*, b* lie on the grid.
    output_curves : ndarray, shape (n_inks, m), optional
        Even samples over grid value 0-1 of the ink value 0-1; identity when absent.
    """

    grid: FloatArray
    axes: tuple[Axis, Axis, Axis] = FULL_AXES
    output_curves: FloatArray | None = None


def a2b_mft2(table: A2BTable, where: str) -> TableLut:
    """Return an A2B table in version 2 form."""
    n_inks = table.grid.ndim - 1
    clut = _lab_clut(table.grid, "legacy", where)
    inputs = _tables(table.input_curves, n_inks, where)
    return TableLut("mft2", np.eye(3), inputs, clut, np.tile(_PLAIN_TABLE, (3, 1)))


def a2b_mab(table: A2BTable, where: str) -> CurveLut:
    """Return an A2B table in version 4 form."""
    n_inks = table.grid.ndim - 1
    clut = _lab_clut(table.grid, "v4", where)
    plain = Curves((IDENTITY,) * 3)
    return CurveLut("mAB ", n_inks, 3, b=plain, clut=clut, a=_curves(table.input_curves, n_inks, where))


def b2a_mft2(table: B2ATable, where: str) -> TableLut:
    """Return a B2A table in version 2 form."""
    n_out = table.grid.shape[-1]
    inputs = _axis_tables(table.axes, "legacy", MFT2_AXIS_ENTRIES, where)
    outputs = _tables(table.output_curves, n_out, where)
    return TableLut("mft2", np.eye(3), inputs, _unit_clut(table.grid, where), outputs)


def b2a_mba(table: B2ATable, where: str) -> CurveLut:
    """Return a B2A table in version 4 form."""
    n_out = table.grid.shape[-1]
    rows = _axis_tables(table.axes, "v4", MBA_AXIS_ENTRIES, where)
    return CurveLut(
        "mBA ",
        3,
        n_out,
        b=Curves(tuple(SampledCurve(row) for row in rows)),
        clut=_unit_clut(table.grid, where),
        a=_curves(table.output_curves, n_out, where),
    )


def _lab_clut(grid: FloatArray, encoding: LabEncoding, where: str) -> Clut:
    if grid.shape[-1] != 3:
        raise UsageError("A2B grid needs L*, a*, b*", where=where, found=grid.shape, expected="(..., 3)")
    return _unit_clut(unit_from_lab(grid, encoding), where)


def _unit_clut(unit: FloatArray, where: str) -> Clut:
    try:
        return Clut(codes16(unit))
    except RangeError:
        bad = ~((unit > -0.5 / 65535) & (unit < 1 + 0.5 / 65535)).all(axis=-1)
        node = tuple(int(i[0]) for i in np.nonzero(bad))
        raise RangeError(
            "table value cannot be encoded",
            where=f"{where} node {node}",
            found=f"unit codes {unit[node].tolist()}",
            expected="L* 0-100, a* and b* -128 to 127, inks 0-1",
            advice="Limit the values where they are computed",
        ) from None


def _check_curves(curves: FloatArray, count: int, where: str) -> None:
    if curves.ndim != 2 or len(curves) != count or not 2 <= curves.shape[1] <= MAX_ENTRIES:
        raise UsageError(
            "wrong shape of curves", where=where, found=curves.shape, expected=f"({count}, 2-{MAX_ENTRIES})"
        )
    if not ((curves >= 0) & (curves <= 1)).all():
        raise RangeError("curve value outside 0-1", where=where)


def _tables(curves: FloatArray | None, count: int, where: str) -> FloatArray:
    if curves is None:
        return np.tile(_PLAIN_TABLE, (count, 1))
    _check_curves(curves, count, where)
    return curves


def _curves(curves: FloatArray | None, count: int, where: str) -> Curves:
    if curves is None:
        return Curves((IDENTITY,) * count)
    _check_curves(curves, count, where)
    rows: tuple[Curve, ...] = tuple(SampledCurve(row) for row in curves)
    return Curves(rows)


def _axis_tables(
    axes: tuple[Axis, Axis, Axis], encoding: LabEncoding, entries: int, where: str
) -> FloatArray:
    unit = np.repeat(np.linspace(0, 1, entries)[:, None], 3, axis=1)
    lab = lab_from_unit(unit, encoding)
    for name, axis in zip("Lab", axes, strict=True):
        _check_axis(axis, f"{where} axis {name}")
    return np.stack([np.interp(lab[:, i], axis.positions, axis.coordinates) for i, axis in enumerate(axes)])


def _check_axis(axis: Axis, where: str) -> None:
    positions, coordinates = np.asarray(axis.positions, float), np.asarray(axis.coordinates, float)
    if positions.ndim != 1 or positions.shape != coordinates.shape or len(positions) < 2:
        raise UsageError("axis needs as many positions as coordinates, two or more", where=where)
    if not ((np.diff(positions) > 0).all() and (np.diff(coordinates) >= 0).all()):
        raise UsageError("axis does not rise", where=where)
    if not (coordinates[0] >= 0 and coordinates[-1] <= 1):
        raise RangeError("axis coordinate outside 0-1", where=where)
