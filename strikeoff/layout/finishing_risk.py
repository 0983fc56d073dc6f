"""What the spread of dimensional change does to sizes, repeats, seams and joins: Monte Carlo, fixed seed.

Variance components and mean are drawn within what the readings leave open (scaled inverse chi-square,
normal), then lots and specimens from them, so that few readings give wide answers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.layout.finishing_spread import ChangeSpread

FloatArray = NDArray[np.float64]

DRAWS = 100_000


@dataclass(frozen=True)
class Risk:
    """Where an error will lie.

    Attributes
    ----------
    low_mm, high_mm : float
        5th and 95th percentile. [mm]
    beyond : float
        Share beyond the tolerance, 0-1.
    """

    low_mm: float
    high_mm: float
    beyond: float


@dataclass(frozen=True)
class DrawnChanges:
    """Changes of pieces of cloth, drawn; rows are draws. [%].

    Attributes
    ----------
    first, neighbour, stranger : ndarray, shape (draws,)
        A piece of a new lot; another of the same lot; one of another lot.
    """

    first: FloatArray
    neighbour: FloatArray
    stranger: FloatArray


def draw_changes(spread: ChangeSpread, *, seed: int = 1, draws: int = DRAWS) -> DrawnChanges:
    """Draw changes of new pieces from what the readings tell.

    Where one lot alone was measured, strangers are of that lot too: nothing is known about others.

    Raises
    ------
    InputError
        From a single specimen, whose spread is not known.
    """
    between, within = spread.lot_means_variance, spread.within_variance
    if between is None and within is None:
        raise InputError(
            "spread is not known",
            found="one specimen",
            expected="three specimens or more",
            advice="Finish and read more grids",
        )
    rng = np.random.default_rng(seed)
    n, lots = spread.specimens, len(spread.lots)
    inside = np.zeros(draws) if within is None else within * (n - lots) / rng.chisquare(n - lots, draws)
    if between is None:
        of_means, of_lots = inside / n, np.zeros(draws)
    else:
        means = between * (lots - 1) / rng.chisquare(lots - 1, draws)
        of_means, of_lots = means / lots, np.maximum(0.0, means - spread.share_within * inside)
        if within is None:
            # One specimen of each lot: all the scatter may be that of specimens, which seams feel.
            inside, of_lots = of_lots, np.zeros(draws)
    normal = rng.standard_normal((6, draws))
    mean = spread.mean_percent + normal[0] * np.sqrt(of_means)
    here, there = (mean + normal[k] * np.sqrt(of_lots) for k in (1, 2))
    scatter = np.sqrt(inside)
    return DrawnChanges(here + normal[3] * scatter, here + normal[4] * scatter, there + normal[5] * scatter)


def size_risk(drawn: DrawnChanges, printed_length_mm: float, aim_mm: float, tolerance_mm: float) -> Risk:
    """Return the risk that a printed length finishes away from its aim.

    Parameters
    ----------
    drawn : DrawnChanges
        Of the direction of the length.
    printed_length_mm : float
        Length in the file. [mm]
    aim_mm : float
        Finished length wanted. [mm]
    tolerance_mm : float
        Most that it may be off. [mm]
    """
    return _risk(printed_length_mm * (1 + drawn.first / 100) - aim_mm, tolerance_mm)


def meeting_risk(
    drawn: DrawnChanges,
    printed_length_mm: float,
    tolerance_mm: float,
    *,
    same_lot: bool,
    skew_sd_mm: float = 0.0,
    cut_sd_mm: float = 0.0,
    sew_sd_mm: float = 0.0,
    seed: int = 2,
) -> Risk:
    """Return the risk that a pattern fails to meet at the far end of a seam or join.

    Both pieces start together; what parts them is the difference of their changes over the length, their
    skew and cutting (each piece its own), and sewing.

    Parameters
    ----------
    drawn : DrawnChanges
        Of the direction of the seam.
    printed_length_mm : float
        Length from where they start together, in the file. [mm]
    tolerance_mm : float
        Most that they may part. [mm]
    same_lot : bool
        Whether both pieces are of one lot.
    skew_sd_mm, cut_sd_mm, sew_sd_mm : float
        Spread of skew and cutting of each piece, and of sewing. [mm]
    seed : int
        Same seed, same answer.
    """
    other = drawn.neighbour if same_lot else drawn.stranger
    rng = np.random.default_rng(seed)
    handling = np.sqrt(2 * skew_sd_mm**2 + 2 * cut_sd_mm**2 + sew_sd_mm**2)
    parted = printed_length_mm * (drawn.first - other) / 100 + handling * rng.standard_normal(len(other))
    return _risk(parted, tolerance_mm)


def _risk(errors_mm: FloatArray, tolerance_mm: float) -> Risk:
    if not tolerance_mm > 0:
        raise InputError("tolerance cannot be", found=f"{tolerance_mm} mm", expected="above 0 mm")
    low, high = np.percentile(errors_mm, (5, 95))
    return Risk(float(low), float(high), float(np.mean(np.abs(errors_mm) > tolerance_mm)))
