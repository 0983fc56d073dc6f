"""The tone curve of one ink: what is laid down so that its ramp reaches each tone of a target."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError
from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.inks.tables import FULL, Codes, to_codes
from strikeoff.qualify.ramps import Ramp, require_rising
from strikeoff.qualify.smoothing import growth_scale, smooth_curve

FloatArray = NDArray[np.float64]
#: Tone, shape (n,), of Lab, shape (n, 3), between the Lab of cloth and solid.
ToneOf = Callable[[FloatArray, FloatArray, FloatArray], FloatArray]

_FINE = 2049
# Median of the size of what is normally distributed, over its standard deviation.
_MEDIAN_OF_NORMAL = 0.6745
# Times the noise of a step, and share of the solid's tone, from which an end has fallen. Common practice, no
# source.
_BEYOND_NOISE, _SEEN = 3.5, 0.002


@dataclass(frozen=True)
class InkChange:
    """How far the colours of one ink have moved since a model learnt them.

    Attributes
    ----------
    difference : float
        Mean CIEDE2000 over even steps of calibrated ink, as far as the readings tell it from their noise.
    uncertainty : float
        90 % radius of the change, as mean CIEDE2000.
    tone : float
        Mean change of tone, 1 = that of the solid; above 0 where the ink has grown stronger. [-]
    within_noise : bool
        Whether the readings may be noise alone.
    """

    difference: float
    uncertainty: float
    tone: float
    within_noise: bool


@dataclass(frozen=True)
class InkRest:
    """What new curves cannot bring back, since no curve makes a solid stronger.

    Attributes
    ----------
    difference : float
        Mean CIEDE2000 over even steps of calibrated ink.
    solid : float
        CIEDE2000 at full ink.
    is_read : bool
        Whether the readings of the solid itself tell that, beyond their noise, where the smooth course of the
        ramp does not follow them.
    """

    difference: float
    solid: float
    is_read: bool = False


@dataclass(frozen=True)
class ToneCurveFit:
    """A tone curve and how well it follows the ramp.

    Attributes
    ----------
    ink : str
        Name.
    curve : ndarray of uint16, shape (NODES,)
        Calibrated ink to amount of the colour.
    limit : float
        Amount at full tone. [-]
    residual_max, residual_rms : float
        Distance of the steps from the smooth curve, in tone, 1 = that of the solid. [-]
    reached : float
        Tone of the solid over that of the aim; below 1 where the press is weaker than it was. [-]
    amount, tone, smooth : ndarray, shape (n,)
        Steps of the ramp, their tone, and that of the smooth curve.
    change : InkChange, optional
        How far the ink has moved, where it was held against present curves.
    rest : InkRest, optional
        What of the tones that a model has learnt does not come back, where they were aimed at.
    pale_l : float, optional
        Lightness between cloth and solid, where that is too little for a lightness aim, so that tones are
        even in colour. [L*]
    kept : tuple of float, optional
        Where the curve of before is kept since a new one would leave the tones further off: mean CIEDE2000
        that stays with the one that is kept, and with a new one.
    """

    ink: str
    curve: Codes
    limit: float
    residual_max: float
    residual_rms: float
    reached: float
    amount: FloatArray
    tone: FloatArray
    smooth: FloatArray
    change: InkChange | None = None
    rest: InkRest | None = None
    pale_l: float | None = None
    kept: tuple[float, float] | None = None


def kept_curve(fit: ToneCurveFit, curve: Codes, stays: float, instead: float) -> ToneCurveFit:
    """Return a fit with the curve of before, and what stays with it and with a new one. [CIEDE2000]."""
    return replace(fit, curve=curve, limit=float(curve[-1]) / FULL, kept=(stays, instead))


def fallen_end(fit: ToneCurveFit) -> float:
    """Return how far the end of a ramp was read below its smooth course, in tone; 0 where noise may do that.

    What fades over the last steps alone is smoothed away with their noise.

    Notes
    -----
    Noise is told by the median of the distances of the other steps from the course (F. R. Hampel, J. Am.
    Statist. Assoc. 69 (1974), 383-393).
    """
    off = fit.tone - fit.smooth
    # The noise of the cloth's reading is in all steps alike.
    common = float(np.median(off[1:-1]))
    noise = float(np.median(np.abs(off[1:-1] - common))) / _MEDIAN_OF_NORMAL
    end = float(np.interp(fit.limit, fit.amount, off))
    return max(-end, 0.0) if end - common < -max(_BEYOND_NOISE * noise, _SEEN) else 0.0


def tone_between(tone: ToneOf, cloth: FloatArray, solid: FloatArray) -> Callable[[FloatArray], FloatArray]:
    """Return the tone, shape (n,), of Lab, shape (n, 3), between given cloth and solid."""
    return lambda lab: tone(lab, cloth, solid)


def used_steps(ramp: Ramp, limit: float) -> Ramp:
    """Return the steps up to the limit and one more, which steadies the end."""
    count = min(int(np.searchsorted(ramp.amount, limit - 1e-6)) + 1, len(ramp.amount))
    return ramp.up_to(float(ramp.amount[count - 1]))


def ramp_course(ramp: Ramp, limit: float) -> Callable[[ArrayLike], FloatArray]:
    """Return the smooth Lab, shape (n, 3), of a ramp over ink, which starts at the cloth as read.

    Raises
    ------
    InputError
        A limit beyond the ramp.
    """
    if not 0 < limit <= ramp.amount[-1] + 1e-6:
        raise InputError(
            "ink limit is beyond the ramp",
            where=f"ink {ramp.ink}",
            found=f"{limit * 100:g} %",
            expected=f"at most {ramp.amount[-1] * 100:g} %",
        )
    used = used_steps(ramp, limit)
    scale = growth_scale(used.amount, tone_value_iso_20654(used.lab, used.lab[0], used.lab[-1]))
    x = scale(used.amount)
    curves = [smooth_curve(x, axis, rising=False, start=float(axis[0])) for axis in used.lab.T]
    return lambda amount: np.stack([curve(scale(amount)) for curve in curves], axis=-1)


def fitted_curve(
    ramp: Ramp,
    course: Callable[[ArrayLike], FloatArray],
    tone_of: Callable[[FloatArray], FloatArray],
    limit: float,
    target: FloatArray,
    *,
    relative: bool,
) -> ToneCurveFit:
    """Return the curve that follows the course of a ramp to each tone of a target.

    Parameters
    ----------
    ramp : Ramp
        Steps of the ink.
    course : callable
        Its smooth Lab over ink; see `ramp_course`.
    tone_of : callable
        Tone of Lab.
    limit, target, relative
        As for `curve_to_tones`.

    Returns
    -------
    ToneCurveFit

    Raises
    ------
    InputError
        A ramp that turns back below its limit.
    """
    used = checked_steps(ramp, limit, tone_of)
    return curve_to_tones(
        used, tone_of(used.lab), lambda amount: tone_of(course(amount)), limit, target, relative=relative
    )


def checked_steps(ramp: Ramp, limit: float, tone_of: Callable[[FloatArray], FloatArray]) -> Ramp:
    """Return the used steps of a ramp.

    Raises
    ------
    InputError
        A ramp that turns back.
    """
    used = used_steps(ramp, limit)
    tone = tone_of(used.lab)
    require_rising(used, tone, smooth_curve(used.amount, tone, rising=False).noise)
    return used


def curve_to_tones(
    used: Ramp,
    tone: FloatArray,
    grows: Callable[[FloatArray], FloatArray],
    limit: float,
    target: FloatArray,
    *,
    relative: bool,
) -> ToneCurveFit:
    """Return the curve that lays down what reaches each tone of a target.

    Parameters
    ----------
    used : Ramp
        Steps up to the limit.
    tone : ndarray, shape (n,)
        Their tone as read.
    grows : callable
        Tone over the amount of the colour.
    limit : float
        Amount at which the ink ends, 0-1. [-]
    target : ndarray, shape (NODES,)
        Tones that even steps of calibrated ink are to have, rising.
    relative : bool
        Whether 1 is the tone at the limit; otherwise tones are absolute, and the target is scaled to what the
        ink reaches.

    Returns
    -------
    ToneCurveFit
    """
    smooth = grows(used.amount)
    grid = np.linspace(0.0, limit, _FINE)
    grown = np.maximum.accumulate(grows(grid))
    top = float(grown[-1])
    reached = 1.0 if relative else min(1.0, top / float(target[-1]))
    goal = target * (top if relative else reached)
    # Where the curve lies flat the least ink counts.
    rising, first = np.unique(grown, return_index=True)
    amounts = np.interp(goal, rising, grid[first])
    if relative and target[-1] == 1.0:
        amounts[-1] = limit
    miss = (smooth - tone) / top
    return ToneCurveFit(
        used.ink,
        np.maximum.accumulate(to_codes(np.clip(amounts, 0.0, 1.0))),
        float(amounts[-1]),
        float(np.abs(miss).max()),
        float(np.sqrt((miss**2).mean())),
        reached,
        used.amount,
        tone,
        smooth,
    )
