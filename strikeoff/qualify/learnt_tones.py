"""Tone curves that bring back the tones that a model has learnt, as far as ramps tell a drift from noise."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.colour.difference import delta_e_2000
from strikeoff.inks.tables import FULL, NODES, Codes
from strikeoff.qualify.linearise import even_colour
from strikeoff.qualify.ramps import Ramp
from strikeoff.qualify.smoothing import smooth_curve
from strikeoff.qualify.tone_change import ToneChange, tone_change, tones_off
from strikeoff.qualify.tone_curve import (
    InkChange,
    InkRest,
    ToneCurveFit,
    checked_steps,
    curve_to_tones,
    fallen_end,
    fitted_curve,
    kept_curve,
    ramp_course,
    tone_between,
)

FloatArray = NDArray[np.float64]

# Probability above which an ink is told to have moved.
_MOVED = 0.95
#: Readings of a ramp that tell how far a model that was made from them is off along it.
LEAST_READ = 6
# Mean colour by which one curve is no worse than another. [CIEDE2000]
_ALIKE = 0.005
# Difference of Lab that slopes of tone are taken over.
_SMALL = 0.05
# Standard deviations of a normal spread within which nine of ten lie.
_RADIUS_90 = 1.645


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
    Tone is CIEDE2000 from the cloth over that of the model's solid: an ink that has grown stronger is held
    back. Tone values of ISO 20654 would not do: light tints of inks that keep their lightness, above all of
    fluorescent ones, hardly move them, so that a model's least error there would pass for much ink. Where
    the solid falls short of the model's, the whole ramp is scaled to what it reaches, and `ToneCurveFit.rest`
    is what this leaves; where that is more than the change that was found, the present curve is kept. The
    change against present curves is that of `tone_change`, from the tones that the press had: those of the
    model and what the readings that it was made from say beside it.
    """
    fits = []
    for k, (ramp, limit, lab) in enumerate(zip(ramps, limits, model_lab, strict=True)):
        # Cloth and solid of the model are moved to the cloth of today.
        cloth = ramp.lab[0]
        tone_of = tone_between(even_colour, cloth, cloth + lab[-1] - lab[0])
        target = np.maximum.accumulate(even_colour(lab, lab[0], lab[-1]))
        course = ramp_course(ramp, limit)
        if curves is None:
            fit = fitted_curve(ramp, course, tone_of, limit, target, relative=False)
        else:
            known = None if learnt is None else learnt[k]
            fit = _changed(ramp, course, tone_of, limit, target, curves[k], lab, known)
        short = _apart(target, (fit.reached - 1.0) * target, lab)
        rest = InkRest(float(short.mean()), float(short[-1]))
        found = None if fit.change is None else fit.change.difference
        if curves is not None and found is not None and rest.difference > found + _ALIKE:
            fit = kept_curve(fit, curves[k], found, rest.difference)
            rest = InkRest(found, rest.solid)
        fits.append(_with_end(fit, rest, target, lab))
    return tuple(fits)


def _with_end(fit: ToneCurveFit, rest: InkRest, target: FloatArray, model_lab: FloatArray) -> ToneCurveFit:
    """Return a fit with what stays, at the solid by its own readings where they lie below the course."""
    fallen = fallen_end(fit)
    if fallen == 0.0:
        return replace(fit, rest=rest)
    reached = max(fit.reached - fallen / float(target[-1]), 0.0)
    solid = float(_apart(target, (reached - 1.0) * target, model_lab)[-1])
    if solid <= rest.solid:
        return replace(fit, rest=rest)
    return replace(fit, reached=reached, rest=InkRest(rest.difference, solid, True))


def no_worse(
    fit: ToneCurveFit, ramp: Ramp, limit: float, curve: Codes, model_lab: FloatArray
) -> ToneCurveFit:
    """Return a fit, or the same with the curve of before where that keeps closer to a model.

    Parameters
    ----------
    fit : ToneCurveFit
        With a new curve.
    ramp, limit
        As for `linearise`.
    curve : ndarray of uint16, shape (NODES,)
        Curve of before.
    model_lab : ndarray, shape (NODES, 3)
        As for `match_tones`.
    """
    course, wanted = ramp_course(ramp, limit), model_lab + (ramp.lab[0] - model_lab[0])
    new, old = (
        float(delta_e_2000(wanted, course(np.minimum(one / FULL, ramp.amount[-1]))).mean())
        for one in (fit.curve, curve)
    )
    return fit if new <= old + _ALIKE else kept_curve(fit, curve, old, new)


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
    used = checked_steps(ramp, limit, tone_of)
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
    noise = smooth_curve(used.amount[1:], moved, rising=False).noise
    change = tone_change(was, moved, doubt, noise, _slopes(tone_of, used.lab[1:]))
    fit = curve_to_tones(
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
    tone_of = tone_between(even_colour, model_lab[0], model_lab[-1])
    return tones_off(said, tone_of(lab) - said, was, _slopes(tone_of, lab))


def _slopes(tone_of: Callable[[FloatArray], FloatArray], lab: FloatArray) -> FloatArray:
    """Return how tones change with the Lab that they are of, shape (n, 3). [1 / CIELAB].

    By differences to one side: the distance from the cloth grows to both, and is no more certain at it.
    """
    tone = tone_of(lab)
    return np.stack([(tone_of(lab + _SMALL * axis) - tone) / _SMALL for axis in np.eye(3)], axis=1)


def _told(change: ToneChange, target: FloatArray, model_lab: FloatArray) -> InkChange:
    """Return what a change of tone is in colour, over even steps of calibrated ink."""
    moved, spread = change.at(target)

    return InkChange(
        float(_apart(target, moved, model_lab).mean()),
        float(_apart(target, _RADIUS_90 * spread, model_lab).mean()),
        float(moved.mean()),
        change.chance < _MOVED,
    )


def _apart(target: FloatArray, moved: FloatArray, model_lab: FloatArray) -> FloatArray:
    """Return CIEDE2000, shape (NODES,), between the colours of some tones and those of tones moved."""
    tone = np.maximum(target + moved, 0.0)
    lab = np.stack([np.interp(tone, target, axis) for axis in model_lab.T], axis=-1)
    # Beyond the solid the colour goes on away from the cloth.
    past = np.maximum(tone / target[-1], 1.0)[:, None]
    return np.asarray(delta_e_2000(model_lab, model_lab[0] + (lab - model_lab[0]) * past))
