"""One fault of the reading order that was found in pieces, told as one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

# Rows that look alike may stand between two pieces, so many at most. [rows]
_BETWEEN = 4
# The whole must leave less than this share of the distance as read. [-]
_SHRINKS_TO = 0.5


@dataclass(frozen=True)
class SequenceFault:
    """One fault of the order.

    Attributes
    ----------
    kind : {"swap", "reversed", "shift", "drift"}
        Rows (or runs of rows) exchanged; a strip read backwards; readings one row late or early; a trend.
    rows : tuple of int
        First and last row of the run.
    other : tuple of int
        First and last row of the run it is exchanged with; for a shift where its readings belong.
    residual : float
        Mean distance of these rows from what is predicted, as read. [CIELAB units]
    residual_undone : float
        The same if the fault were undone. [CIELAB units]
    change : tuple of float
        For drift: change of L*, a*, b* from the first to the last row.
    """

    kind: str
    rows: tuple[int, int]
    other: tuple[int, int]
    residual: float
    residual_undone: float
    change: tuple[float, float, float] = (0.0, 0.0, 0.0)

    @property
    def misread(self) -> frozenset[int]:
        """Rows whose readings belong elsewhere, and where they belong; none for drift."""
        if self.kind == "drift":
            return frozenset()
        spans = (self.rows, self.other)
        return frozenset(row for first, last in spans for row in range(max(first, 0), last + 1))

    def trend(self, count: int) -> FloatArray:
        """Return the change of each of so many rows from their middle, shape (count, 3); 0 but for drift."""
        return np.asarray(np.outer(np.linspace(-0.5, 0.5, count), self.change))


def join_pieces(
    faults: Iterable[SequenceFault], lab: FloatArray, aims: FloatArray, limit: float
) -> list[SequenceFault]:
    """Return faults with the pieces of exchanged strips, and of strips read backwards, joined.

    Rows that look alike show no exchange, and so one strip is found in many pieces.

    Parameters
    ----------
    faults : iterable of SequenceFault
        As found, one by one.
    lab : ndarray, shape (n, 3)
        CIELAB as read.
    aims : ndarray, shape (n, 3)
        What is predicted once all faults are undone.
    limit : float
        Distance from the prediction that scatter may explain. [CIELAB units]

    Returns
    -------
    list of SequenceFault
        In the order of the rows.
    """
    left = list(faults)
    for kind in ("reversed", "swap"):
        families: dict[int, list[SequenceFault]] = {}
        for fault in left:
            if (shared := _family(fault, kind)) is not None:
                families.setdefault(shared, []).append(fault)
        for family in families.values():
            for pieces in _near(sorted(family, key=lambda f: f.rows), kind):
                if len(pieces) < 2:
                    continue
                whole = _whole(pieces, kind, lab, aims, limit)
                if whole is not None:
                    left = [*(fault for fault in left if fault not in pieces), whole]
    return sorted(left, key=lambda fault: fault.rows)


def _family(fault: SequenceFault, kind: str) -> int | None:
    """Return what the pieces of one exchange share: how far apart its rows are, or where its middle is."""
    if kind == "swap":
        return fault.other[0] - fault.rows[0] if fault.kind == "swap" else None
    single = fault.kind == "swap" and fault.rows[0] == fault.rows[1]
    return fault.rows[0] + fault.other[1] if single or fault.kind == "reversed" else None


def _near(faults: list[SequenceFault], kind: str) -> list[list[SequenceFault]]:
    """Return pieces of one family in runs; those around one middle belong together however far they are."""
    if kind == "reversed":
        return [faults]
    runs = [faults[:1]]
    for fault in faults[1:]:
        if fault.rows[0] - runs[-1][-1].rows[1] <= _BETWEEN + 1:
            runs[-1].append(fault)
        else:
            runs.append([fault])
    return runs


def _whole(
    pieces: list[SequenceFault], kind: str, lab: FloatArray, aims: FloatArray, limit: float
) -> SequenceFault | None:
    """Return the one fault that undoes all pieces and what stands between, if no row is the worse for it."""
    first, last = pieces[0].rows[0], max(piece.rows[1] for piece in pieces)
    if kind == "reversed":
        last = max(piece.other[1] for piece in pieces)
        rows = np.arange(first, last + 1)
        source, whole = rows[::-1], SequenceFault(kind, (first, last), (first, last), 0.0, 0.0)
    else:
        apart = pieces[0].other[0] - first
        if last - first >= apart:
            return None
        here = np.arange(first, last + 1)
        rows, source = np.append(here, here + apart), np.append(here + apart, here)
        whole = SequenceFault(kind, (first, last), (first + apart, last + apart), 0.0, 0.0)
    read, undone = _distance(lab[rows] - aims[rows]), _distance(lab[source] - aims[rows])
    if (undone > np.maximum(read, limit)).any() or undone.mean() >= _SHRINKS_TO * read.mean():
        return None
    return replace(whole, residual=float(read.mean()), residual_undone=float(undone.mean()))


def _distance(gaps: FloatArray) -> FloatArray:
    return np.asarray(np.sqrt((gaps**2).sum(axis=-1)), dtype=np.float64)
