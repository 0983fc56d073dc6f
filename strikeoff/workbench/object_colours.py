"""Colours asked for that no surface can have."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem
from strikeoff.colour.optimal import is_object_colour
from strikeoff.measurement.records import ReadingSet

FloatArray = NDArray[np.float64]

_ADVICE = "Look at the aim: a wrong column, sign or light looks so; that of a fluorescent sample may be right"


def object_colour_problems(
    lab: FloatArray, light: tuple[str, str], places: Sequence[str], missed: NDArray[np.bool_]
) -> list[Problem]:
    """Return a warning where colours lie beyond those of all surfaces that do not fluoresce.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
        Aims, absolute CIELAB.
    light : (str, str)
        Illuminant and observer of the aims.
    places : sequence of str
        Where each aim stands.
    missed : ndarray of bool, shape (n,)
        Aims that the print misses: one that it reaches is a fluorescent ink's.

    Returns
    -------
    list of Problem
        At most one, at the first such colour.
    """
    beyond = missed & ~is_object_colour(lab, *light)
    if not beyond.any():
        return []
    return [
        Problem(
            "warning",
            places[int(beyond.argmax())],
            "no cloth that does not fluoresce has such a colour; the nearest is given",
            found=colours_found(lab, beyond),
            expected=f"within the optimal colours (MacAdam limits) of {light[0]}",
            advice=_ADVICE,
        )
    ]


def out_of_reach_problem(
    where: str, words: str, de00: float, lab: Sequence[float] | None, light: tuple[str, str]
) -> Problem:
    """Return the warning that a named colour cannot be printed, and whether any surface could have it.

    Parameters
    ----------
    where : str
        The colour.
    words : str
        How the nearest print differs.
    de00 : float
        By how much. [CIEDE2000]
    lab : sequence of float, optional
        The aim, absolute CIELAB.
    light : (str, str)
        Its illuminant and observer.
    """
    real = lab is None or bool(is_object_colour([lab], *light)[0])
    return Problem(
        "warning",
        where,
        f"out of reach; the nearest that can be printed is {words}",
        found=f"CIEDE2000 {de00:.2f}",
        advice=None
        if real
        else f"No cloth that does not fluoresce has such a colour (MacAdam limits). {_ADVICE}",
    )


def colours_found(lab: FloatArray, rows: NDArray[np.bool_]) -> str:
    """Return the first of some colours, and how many more there are.

    Examples
    --------
    >>> colours_found(np.array([[50.0, 0, 0], [20, 150, 0], [95, 80, 0]]), np.array([False, True, True]))
    '20 150 0, and 1 more'
    """
    first = " ".join(f"{value:g}" for value in np.round(lab[rows][0], 2) + 0.0)
    more = int(rows.sum()) - 1
    return first + (f", and {more} more" if more else "")


def row_places(readings: ReadingSet) -> list[str]:
    """Return line or row of each colour, as messages name it."""
    if readings.lines:
        return [f"line {line}" for line in readings.lines]
    return [f"row {row + 1}" for row in range(len(readings))]
