"""How much ink in one place is of use: where overprints stop growing, and where their lines run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.colour.difference import delta_e_2000
from strikeoff.qualify.limits import clean_amount
from strikeoff.qualify.smoothing import SmoothCurve, smooth_curve

FloatArray = NDArray[np.float64]

LEAST_STEPS = 5
_STEP = 0.1
_FINE = 0.01
_NOTHING = 1e-4
_ALIKE = 0.02
_FULL = 0.99
_DRAWS = 24
#: Half-width of what holds 90 % of a normal quantity, over its standard deviation.
_U90 = 1.645


@dataclass(frozen=True)
class TotalRule:
    """When an overprint has enough; common practice, no source.

    Attributes
    ----------
    least_gain_de00 : float
        Movement away from the cloth over 10 % more ink below which the colour has stopped growing.
        [CIEDE2000]
    growth_mm : float
        Most that an edge of a line may move beyond what it moves at little ink. [mm]
    """

    least_gain_de00: float = 0.5
    growth_mm: float = 0.10


@dataclass(frozen=True)
class Ladder:
    """Steps of one combination of inks, from little to much.

    Attributes
    ----------
    inks : tuple of str
        What is in it.
    total : ndarray, shape (n,)
        Laid-down ink, rising; 2.5 is 250 %. [-]
    lab : ndarray, shape (n, 3)
        As read.
    rows : tuple of int
        Of the readings.
    is_full : bool
        Whether the last step has an ink at full tone: there are no further steps.
    """

    inks: tuple[str, ...]
    total: FloatArray
    lab: FloatArray
    rows: tuple[int, ...]
    is_full: bool = False


@dataclass(frozen=True)
class LadderLimit:
    """How far one combination is of use.

    Attributes
    ----------
    ladder : Ladder
        The steps.
    useful : float
        Total beyond which its colour does not grow; its last step where it still does. [-]
    useful_u90 : float
        Radius that holds 90 % of what the noise of the readings makes of it. [-]
    is_open : bool
        Whether the colour still grows at the last step.
    clean : float or None
        Total at which lines have grown too far; None where they have not, or were not measured. [-]
    total, gain : ndarray, shape (m,)
        Ink, and the movement away from the cloth over the next 10 % of it [CIEDE2000].
    """

    ladder: Ladder
    useful: float
    useful_u90: float
    is_open: bool
    clean: float | None
    total: FloatArray
    gain: FloatArray


@dataclass(frozen=True)
class TotalInk:
    """The total ink limit that readings speak for.

    Attributes
    ----------
    total : float
        Most of all inks, laid down. [-]
    u90 : float
        Radius that holds 90 % of what the noise of the readings makes of it; 0 where lines decide. [-]
    inks : tuple of str
        The combination that decides.
    reason : str
        In words.
    limits : tuple of LadderLimit
        Of each combination.
    """

    total: float
    u90: float
    inks: tuple[str, ...]
    reason: str
    limits: tuple[LadderLimit, ...]


def find_ladders(
    names: Sequence[str], coverages: FloatArray, load: FloatArray, lab: FloatArray
) -> list[Ladder]:
    """Return the combinations whose inks rise together in at least five steps.

    Parameters
    ----------
    names : sequence of str
        Inks, in column order.
    coverages : ndarray, shape (n, n_inks)
        Distinct recipes. [-]
    load : ndarray, shape (n,)
        Laid-down total of each. [-]
    lab : ndarray, shape (n, 3)
        Colour of each.

    Returns
    -------
    list of Ladder
        Of one ink only where there is no other.
    """
    found: list[tuple[FloatArray, list[int]]] = []
    for row in np.argsort(load, kind="stable"):
        most = float(coverages[row].max())
        if most <= _NOTHING:
            continue
        mix = coverages[row] / most
        if (coverages[row] > _NOTHING).sum() < min(2, len(names)):
            continue
        same = next((rows for other, rows in found if np.abs(other - mix).max() <= _ALIKE), None)
        if same is None:
            found.append((mix, [int(row)]))
        elif load[row] - load[same[-1]] > _NOTHING:
            same.append(int(row))
    return [
        Ladder(
            tuple(name for name, share in zip(names, mix, strict=True) if share > _NOTHING),
            load[rows],
            lab[rows],
            tuple(rows),
            bool(coverages[rows[-1]].max() >= _FULL),
        )
        for mix, rows in found
        if len(rows) >= LEAST_STEPS
    ]


def find_total(
    ladders: Sequence[Ladder],
    cloth_lab: FloatArray,
    rule: TotalRule | None = None,
    growths: Mapping[int, float] | None = None,
) -> TotalInk:
    """Return the total ink limit.

    Parameters
    ----------
    ladders : sequence of Ladder
        See `find_ladders`.
    cloth_lab : ndarray, shape (3,)
        Bare cloth.
    rule : TotalRule, optional
        When an overprint has enough.
    growths : mapping of int to float, optional
        By row of the readings, how far edges of lines moved there. [mm]

    Returns
    -------
    TotalInk
        Beyond it no combination gains colour, and below it the lines of none run: a combination that has
        enough early does not hold the others back, but one that bleeds does.

    Raises
    ------
    InputError
        Without a ladder.
    """
    rule = rule or TotalRule()
    if not ladders:
        raise InputError(
            "no combination of inks rises in steps",
            expected=f"{LEAST_STEPS} or more steps of inks in one proportion, such as C, M, Y and K alike",
            advice="Print the chart of kind ink-limit with --combine, such as C+M,C+M+Y,C+M+Y+K, and read it",
        )
    limits = tuple(_limit(ladder, cloth_lab, rule, growths or {}) for ladder in ladders)
    most = max(limits, key=lambda limit: (limit.useful, limit.is_open))
    runs = min((limit for limit in limits if limit.clean is not None), key=_clean, default=None)
    if runs is not None and _clean(runs) <= most.useful:
        reason = f"lines grow by more than {rule.growth_mm:g} mm an edge"
        return TotalInk(round(_clean(runs), 3), 0.0, runs.ladder.inks, reason, limits)
    reason = (
        f"colour grows up to {'full tone' if most.ladder.is_full else 'the last step'}"
        if most.is_open
        else f"no colour gains more than {rule.least_gain_de00:g} CIEDE2000 per 10 % of ink beyond"
    )
    return TotalInk(round(most.useful, 3), most.useful_u90, most.ladder.inks, reason, limits)


def _clean(limit: LadderLimit) -> float:
    return np.inf if limit.clean is None else limit.clean


def _limit(ladder: Ladder, cloth: FloatArray, rule: TotalRule, growths: Mapping[int, float]) -> LadderLimit:
    curves = [smooth_curve(ladder.total, ladder.lab[:, axis], rising=False) for axis in range(3)]
    x = np.arange(ladder.total[0], ladder.total[-1] - _STEP + 1e-9, _FINE)
    gain = _gain(curves, x, cloth)
    useful = _useful(x, gain, rule, float(ladder.total[-1]))
    rng, again = np.random.default_rng(0), []
    middle = np.stack([curve(ladder.total) for curve in curves], axis=-1)
    noise = np.array([curve.noise for curve in curves])
    if noise.max() > _NOTHING:
        for _ in range(_DRAWS):
            seen = middle + noise * rng.standard_normal(middle.shape)
            drawn = [smooth_curve(ladder.total, seen[:, axis], rising=False) for axis in range(3)]
            again.append(_useful(x, _gain(drawn, x, cloth), rule, float(ladder.total[-1])))
    spread = float(np.sqrt(np.mean((np.array(again) - useful) ** 2))) if again else 0.0
    is_open = useful >= ladder.total[-1]
    return LadderLimit(ladder, useful, _U90 * spread, bool(is_open), _lines(ladder, rule, growths), x, gain)


def _gain(curves: Sequence[SmoothCurve], x: FloatArray, cloth: FloatArray) -> FloatArray:
    """Return the movement away from the cloth over the next tenth of ink; below 0 towards it. [CIEDE2000]."""
    here, there = (np.stack([curve(at) for curve in curves], axis=-1) for at in (x, x + _STEP))
    away = ((there - here) * (here - cloth)).sum(axis=-1)
    return np.asarray(np.sign(away) * delta_e_2000(here, there))


def _useful(x: FloatArray, gain: FloatArray, rule: TotalRule, last: float) -> float:
    """Return the least total from which on nothing more is gained."""
    growing = np.flatnonzero(gain >= rule.least_gain_de00)
    if not len(growing):
        return float(x[0])
    return last if growing[-1] == len(x) - 1 else float(x[growing[-1] + 1])


def _lines(ladder: Ladder, rule: TotalRule, growths: Mapping[int, float]) -> float | None:
    pairs = zip(ladder.total, ladder.rows, strict=True)
    steps = np.array([(total, growths[row]) for total, row in pairs if row in growths]).reshape(-1, 2)
    return clean_amount(steps[:, 0], steps[:, 1], rule.growth_mm)
