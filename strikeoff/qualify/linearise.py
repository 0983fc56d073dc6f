"""Tone curves from ramps: even steps of calibrated ink look even, or as they did before."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError, UsageError
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.inks.tables import FULL, NODES, Codes, to_codes
from strikeoff.qualify.ramps import Ramp, require_rising
from strikeoff.qualify.smoothing import growth_scale, smooth_curve
from strikeoff.qualify.tone_change import ToneChange, tone_change, tones_off

FloatArray = NDArray[np.float64]
ToneOf = Callable[[FloatArray, FloatArray, FloatArray], FloatArray]

_FINE = 2049
#: Least lightness between cloth and solid that tones are made even in. [L*]
LEAST_RANGE = 8.0
#: Least colour between cloth and solid that a tone is reckoned on; common practice, no source. [CIEDE2000]
LEAST_COLOUR = 3.0
# Below so much the ink may not have been printed at all. [CIEDE2000]
_UNSEEN = 1.0
# Probability above which an ink is told to have moved.
_MOVED = 0.95
#: Readings of a ramp that tell how far a model that was made from them is off along it.
LEAST_READ = 6
# Standard deviations of a normal spread within which nine of ten lie.
_RADIUS_90 = 1.645


def even_colour(lab: FloatArray, cloth: FloatArray, solid: FloatArray) -> FloatArray:
    """Return CIEDE2000 from the cloth over that of the solid, shape (n,)."""
    return np.asarray(delta_e_2000(cloth, lab) / delta_e_2000(cloth, solid))


def even_lightness(lab: FloatArray, cloth: FloatArray, solid: FloatArray) -> FloatArray:
    """Return the loss of lightness over that of the solid, shape (n,)."""
    return np.asarray((cloth[0] - lab[:, 0]) / (cloth[0] - solid[0]))


#: What is to grow evenly, by the name of the aim.
AIMS: dict[str, ToneOf] = {
    "colour": even_colour,
    "sctv": tone_value_iso_20654,
    "lightness": even_lightness,
}


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
    pale_l : float, optional
        Lightness between cloth and solid, where that is too little for a lightness aim, so that tones are
        even in colour. [L*]
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
    pale_l: float | None = None


def linearise(
    ramps: Sequence[Ramp],
    limits: Sequence[float],
    aim: str = "colour",
    *,
    wanted: tuple[FloatArray, FloatArray] | None = None,
) -> tuple[ToneCurveFit, ...]:
    """Return tone curves after which even steps of ink have even steps of tone.

    Parameters
    ----------
    ramps : sequence of Ramp
        One per ink, amounts of the colour as laid down before any tone curve.
    limits : sequence of float
        Amount at which each ink ends, 0-1. [-]
    aim : {"colour", "sctv", "lightness"}
        What is to be even: CIEDE2000 from the cloth, tone value of ISO 20654, lightness. Inks that are too
        pale for lightness, as yellow is on most cloths, are even in colour.
    wanted : tuple of ndarray, optional
        Tone over ink, both from 0 to 1, rising: another course than the straight one.

    Returns
    -------
    tuple of ToneCurveFit

    Raises
    ------
    InputError
        A ramp that turns back below its limit, an ink too pale for a tone.
    UsageError
        An unknown aim.
    """
    if aim not in AIMS:
        raise UsageError("unknown tone aim", found=aim, expected=", ".join(AIMS))
    nominal = np.linspace(0.0, 1.0, NODES)
    target = nominal if wanted is None else np.interp(nominal, *wanted)
    fits = []
    for ramp, limit in zip(ramps, limits, strict=True):
        course = _course(ramp, limit)
        cloth, solid = ramp.lab[0], course(limit)
        reach = float(delta_e_2000(cloth, solid))
        if reach < LEAST_COLOUR:
            raise InputError(
                "ink is too pale for a tone curve",
                where=f"ink {ramp.ink}",
                found=f"{reach:.2f} CIEDE2000 between cloth and solid",
                expected=f"{LEAST_COLOUR:g} or more",
                advice="Check the ramp of this ink",
            )
        darker = float(abs(cloth[0] - solid[0]))
        pale = darker if aim == "lightness" and darker < LEAST_RANGE else None
        tone_of = _between(AIMS[aim if pale is None else "colour"], cloth, solid)
        fits.append(replace(_fit(ramp, course, tone_of, limit, target, relative=True), pale_l=pale))
    return tuple(fits)


def hidden_inks(ramps: Sequence[Ramp], limits: Sequence[float]) -> dict[int, float]:
    """Return inks too near the cloth's colour for a tone curve, as yellow is on yellow cloth.

    Parameters
    ----------
    ramps, limits
        As for `linearise`.

    Returns
    -------
    dict of int to float
        Place of each such ink to CIEDE2000 between cloth and solid.

    Raises
    ------
    InputError
        An ink that does not show at all.
    """
    hidden = {}
    for place, (ramp, limit) in enumerate(zip(ramps, limits, strict=True)):
        bare = np.ptp(_used(ramp, limit).lab, axis=0).max() <= 0.0
        reach = 0.0 if bare else float(delta_e_2000(ramp.lab[0], _course(ramp, limit)(limit)))
        if reach < _UNSEEN:
            raise InputError(
                "ink does not show on this cloth",
                where=f"ink {ramp.ink}",
                found=f"{reach:.2f} CIEDE2000 between cloth and solid",
                expected=f"{_UNSEEN:g} or more",
                advice="See whether its head fires and print its ramp again, or leave the ink out",
            )
        if reach < LEAST_COLOUR:
            hidden[place] = reach
    return hidden


def match_tones(
    ramps: Sequence[Ramp],
    limits: Sequence[float],
    model_lab: Sequence[FloatArray],
    curves: Sequence[Codes] | None = None,
    learnt: Sequence[tuple[FloatArray, FloatArray]] | None = None,
) -> tuple[ToneCurveFit, ...]:
    """Return tone curves that bring back the tones that a model has learnt.

    Parameters
    ----------
    ramps, limits
        As for `linearise`.
    model_lab : sequence of ndarray, shape (NODES, 3)
        What the model says of each ink in even steps, bare cloth first; full white first for a ramp over it.
    curves : sequence of ndarray of uint16, shape (NODES,), optional
        Tone curves that the model has learnt through, of the same screen and heads. They are changed only as
        far as the readings tell a change from their own noise and from errors of the model; without them new
        ones are made.
    learnt : sequence of tuple of ndarray, optional
        Calibrated ink, shape (n,), and Lab, shape (n, 3), of the readings of each ramp, without its start,
        that the model was made from; where they are fewer than `LEAST_READ` the model counts as exact.

    Returns
    -------
    tuple of ToneCurveFit

    Notes
    -----
    Tone is the distance from the cloth that ISO 20654 takes its ratio of, in absolute terms: an ink
    that has grown stronger is held back. Where the solid falls short of the model's, the whole
    ramp is scaled to what it reaches. The change against present curves is that of `tone_change`, from the
    tones that the press had: those of the model and what the readings that it was made from say beside it.
    """
    fits = []
    for k, (ramp, limit, lab) in enumerate(zip(ramps, limits, model_lab, strict=True)):
        # Tone values are linear in Lab, so the model's cloth and solid may be moved to the cloth of today.
        cloth = ramp.lab[0]
        tone_of = _between(tone_value_iso_20654, cloth, cloth + lab[-1] - lab[0])
        target = np.maximum.accumulate(tone_value_iso_20654(lab, lab[0], lab[-1]))
        course = _course(ramp, limit)
        if curves is None:
            fits.append(_fit(ramp, course, tone_of, limit, target, relative=False))
        else:
            known = None if learnt is None else learnt[k]
            fits.append(_changed(ramp, course, tone_of, limit, target, curves[k], lab, known))
    return tuple(fits)


def _between(tone: ToneOf, cloth: FloatArray, solid: FloatArray) -> Callable[[FloatArray], FloatArray]:
    return lambda lab: tone(lab, cloth, solid)


def _used(ramp: Ramp, limit: float) -> Ramp:
    """Return the steps up to the limit and one more, which steadies the end."""
    count = min(int(np.searchsorted(ramp.amount, limit - 1e-6)) + 1, len(ramp.amount))
    return ramp.up_to(float(ramp.amount[count - 1]))


def _course(ramp: Ramp, limit: float) -> Callable[[ArrayLike], FloatArray]:
    """Return the smooth colour of a ramp over ink, which starts at the cloth as read."""
    if not 0 < limit <= ramp.amount[-1] + 1e-6:
        raise InputError(
            "ink limit is beyond the ramp",
            where=f"ink {ramp.ink}",
            found=f"{limit * 100:g} %",
            expected=f"at most {ramp.amount[-1] * 100:g} %",
        )
    used = _used(ramp, limit)
    scale = growth_scale(used.amount, tone_value_iso_20654(used.lab, used.lab[0], used.lab[-1]))
    x = scale(used.amount)
    curves = [smooth_curve(x, axis, rising=False, start=float(axis[0])) for axis in used.lab.T]
    return lambda amount: np.stack([curve(scale(amount)) for curve in curves], axis=-1)


def _fit(
    ramp: Ramp,
    course: Callable[[ArrayLike], FloatArray],
    tone_of: Callable[[FloatArray], FloatArray],
    limit: float,
    target: FloatArray,
    *,
    relative: bool,
) -> ToneCurveFit:
    used = _checked(ramp, limit, tone_of)
    return _inverted(
        used, tone_of(used.lab), lambda amount: tone_of(course(amount)), limit, target, relative=relative
    )


def _changed(
    ramp: Ramp,
    course: Callable[[ArrayLike], FloatArray],
    tone_of: Callable[[FloatArray], FloatArray],
    limit: float,
    target: FloatArray,
    curve: Codes,
    model_lab: FloatArray,
    learnt: tuple[FloatArray, FloatArray] | None,
) -> ToneCurveFit:
    """Return the present curve moved by the change of tone that the readings tell from their noise."""
    used = _checked(ramp, limit, tone_of)
    tone = tone_of(used.lab)
    laid, first = np.unique(curve / FULL, return_index=True)
    end = float(laid[-1])

    def before(amount: ArrayLike) -> FloatArray:
        # Beyond the end of the present curve nothing was learnt: there the ink grows as it was read.
        asked = np.asarray(amount, dtype=np.float64)
        beyond = tone_of(course(np.maximum(asked, end))) - tone_of(course(np.array([end])))
        return np.interp(asked, laid, target[first]) + np.where(asked > end, beyond, 0.0)

    was = before(used.amount)[1:]
    off, doubt = _model_off(target, model_lab, learnt, was)
    moved = tone[1:] - was - off
    change = tone_change(was, moved, doubt, smooth_curve(used.amount[1:], moved, rising=False).noise)
    fit = _inverted(
        used,
        tone,
        lambda amount: before(amount) + change.at(before(amount))[0],
        limit,
        target,
        relative=False,
    )
    return replace(fit, change=_told(change, target, model_lab))


def _model_off(
    target: FloatArray,
    model_lab: FloatArray,
    learnt: tuple[FloatArray, FloatArray] | None,
    was: FloatArray,
) -> tuple[FloatArray, FloatArray | None]:
    """Return how far a model's tones are off at some tones, and the covariance of what is open of that."""
    if learnt is None or len(learnt[0]) < LEAST_READ:
        return np.zeros(len(was)), None
    ink, lab = learnt
    said = np.interp(ink, np.linspace(0.0, 1.0, NODES), target)
    return tones_off(said, tone_value_iso_20654(lab, model_lab[0], model_lab[-1]) - said, was)


def _told(change: ToneChange, target: FloatArray, model_lab: FloatArray) -> InkChange:
    """Return what a change of tone is in colour, over even steps of calibrated ink."""
    moved, spread = change.at(target)

    def difference(by: FloatArray) -> float:
        tone = np.maximum(target + by, 0.0)
        lab = np.stack([np.interp(tone, target, axis) for axis in model_lab.T], axis=-1)
        # Beyond the solid the colour goes on away from the cloth.
        past = np.maximum(tone / target[-1], 1.0)[:, None]
        return float(np.mean(delta_e_2000(model_lab, model_lab[0] + (lab - model_lab[0]) * past)))

    return InkChange(
        difference(moved), difference(_RADIUS_90 * spread), float(moved.mean()), change.chance < _MOVED
    )


def _checked(ramp: Ramp, limit: float, tone_of: Callable[[FloatArray], FloatArray]) -> Ramp:
    """Return the used steps of a ramp; refuse one that turns back."""
    used = _used(ramp, limit)
    tone = tone_of(used.lab)
    require_rising(used, tone, smooth_curve(used.amount, tone, rising=False).noise)
    return used


def _inverted(
    used: Ramp,
    tone: FloatArray,
    grows: Callable[[FloatArray], FloatArray],
    limit: float,
    target: FloatArray,
    *,
    relative: bool,
) -> ToneCurveFit:
    """Return the curve that lays down what reaches each tone of a target."""
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
