"""What every drawing of a roll, of panels or of cuts ends with: lines to heed."""

from __future__ import annotations

from collections.abc import Iterable

from strikeoff.layout import svg
from strikeoff.report.cautions import cautions


def careful(
    left: float, top: float, width: float, processes: Iterable[str] = ()
) -> tuple[tuple[str, ...], float]:
    """Return the lines of caution of a drawing, and how high they are.

    Parameters
    ----------
    left, top, width : float
        Where they stand.
    processes : iterable of str
        What is done with what is drawn, beside lifting and hanging it: ``cutting``.

    Examples
    --------
    >>> lines, high = careful(0, 0, 1240)
    >>> sum("Rolls are heavy" in line for line in lines), high
    (1, 144.0)
    """
    return svg.notes(left, top, width, cautions(processes))
