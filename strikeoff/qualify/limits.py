"""How much of each ink is of use: where its colour stops growing, turns, or its lines run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.qualify.ramps import Ramp
from strikeoff.qualify.smoothing import smooth_curve

FloatArray = NDArray[np.float64]

_FINE = 201
_STEP = 0.1
_SEARCH_FROM = 0.3
# Change of chroma or lightness along a ramp below which it has no colour to go by. [CIELAB units]
PLAIN_RANGE = 10.0
# Loss of chroma up to the limit that is worth a word, as a share of its range. Common practice, no source.
_DULL = 0.1


@dataclass(frozen=True)
class LimitRule:
    """When an ink has enough; common practice, no source.

    Attributes
    ----------
    least_gain : float
        Gain of chroma and of lightness over 10 % more ink, as a share of their range, below which the
        colour has stopped growing. [-]
    hook_degrees : float
        Turn of hue over 10 % more ink beyond which it hooks. [degree]
    growth_mm : float
        Most that an edge of a line may move beyond what it moves at little ink. [mm]
    """

    least_gain: float = 0.02
    hook_degrees: float = 5.0
    growth_mm: float = 0.10


@dataclass(frozen=True)
class InkLimit:
    """The limit of one ink and why.

    Attributes
    ----------
    ink : str
        Name.
    limit : float
        Most of it. [-]
    reason : str
        In words.
    amount : ndarray, shape (n,)
        Ink, for the curves below. [-]
    gain : ndarray, shape (n,)
        Gain of chroma or lightness, the larger, over the next 10 % of ink as a share of its range. [-]
    chroma, lightness : ndarray, shape (n,)
        Smoothed colour.
    hue_turn : ndarray, shape (n,)
        Turn of hue over the next 10 % of ink; 0 where there is too little chroma. [degree]
    """

    ink: str
    limit: float
    reason: str
    amount: FloatArray
    gain: FloatArray
    chroma: FloatArray
    lightness: FloatArray
    hue_turn: FloatArray

    @property
    def richest(self) -> float | None:
        """Ink up to the limit with the highest chroma, seen from the cloth; None for inks without. [-]."""
        used = self.chroma[self.amount <= self.limit + 1e-9]
        return None if used.max() < 2 * PLAIN_RANGE else float(self.amount[int(np.argmax(used))])

    @property
    def dulled(self) -> float:
        """Share of that chroma that is lost up to the limit, where it is worth a word, else 0. [-]."""
        if self.richest is None:
            return 0.0
        used = self.chroma[self.amount <= self.limit + 1e-9]
        lost = float(1.0 - used[-1] / used.max())
        return lost if lost >= _DULL else 0.0


def find_limit(
    ramp: Ramp, rule: LimitRule | None = None, growth: tuple[FloatArray, FloatArray] | None = None
) -> InkLimit:
    """Return the limit of an ink.

    Parameters
    ----------
    ramp : Ramp
        In laid-down ink.
    rule : LimitRule, optional
        When an ink has enough.
    growth : tuple of ndarray, optional
        Ink [0-1] and how far the edges of lines moved there [mm].

    Returns
    -------
    InkLimit
        The least of what colour, hue and lines allow; full tone where none of them says anything.

    Raises
    ------
    InputError
        When the ink leaves no colour, or its colour turns back below 30 % of ink.
    """
    rule = rule or LimitRule()
    most = float(ramp.amount[-1])
    x = np.linspace(0.0, most, _FINE)
    curves = [smooth_curve(ramp.amount, ramp.lab[:, axis], rising=False) for axis in range(3)]
    lab = np.stack([curve(x) for curve in curves], axis=-1)
    offset = lab - lab[0]
    chroma, lightness = np.hypot(offset[:, 1], offset[:, 2]), lab[:, 0]
    ranges = (float(np.ptp(chroma)), float(np.ptp(lightness)))
    if max(ranges) < PLAIN_RANGE:
        raise InputError(
            "ink leaves no colour",
            where=f"ink {ramp.ink}",
            found=f"chroma changes by {ranges[0]:.1f}, lightness by {ranges[1]:.1f}",
            expected=f"{PLAIN_RANGE:g} or more",
            advice="Check that rows and inks belong together, and that the nozzles print. Dark cloth shows "
            "inks over white only: name the white ink W or White, and the chart has ramps over it",
        )
    ahead = np.minimum(x + _STEP, most)
    share = np.where(ahead > x, _STEP / np.where(ahead > x, ahead - x, 1.0), 0.0)
    gains = []
    # Ink darkens, but for white on cloth that is darker than it.
    away = 1.0 if lightness[-1] > lightness[0] else -1.0
    for values, size, sign in ((chroma, ranges[0], 1.0), (lightness, ranges[1], away)):
        if size >= PLAIN_RANGE:
            gains.append(sign * (np.interp(ahead, x, values) - values) * share / size)
    gain = np.max(gains, axis=0)
    turn = _hue_turn(x, ahead, offset, chroma, share)
    # What is left beyond the last tenth says too little: too few steps.
    seen = (x >= _SEARCH_FROM * most) & (x <= most - _STEP / 2)
    found = [(most, "colour grows up to the end of the ramp")]
    _require_growth(ramp, x, gain, noise=max(curve.noise for curve in curves) / max(ranges))
    for test, words in (
        (
            gain < rule.least_gain,
            f"colour gains less than {rule.least_gain * 100:g} % of its range per 10 % of ink",
        ),
        (turn > rule.hook_degrees, f"hue turns by more than {rule.hook_degrees:g} degrees per 10 % of ink"),
    ):
        stop = np.flatnonzero(test & seen)
        if len(stop):
            found.append((float(x[stop[0]]), words))
    clean = None if growth is None else clean_amount(*growth, rule.growth_mm)
    if clean is not None:
        found.append((clean, f"lines grow by more than {rule.growth_mm:g} mm an edge"))
    limit, reason = min(found, key=lambda pair: pair[0])
    if ramp.over is not None:
        reason += f", over {ramp.over}"
    return InkLimit(ramp.ink, round(limit, 3), reason, x, gain, chroma, lightness, turn)


def _require_growth(ramp: Ramp, x: FloatArray, gain: FloatArray, noise: float) -> None:
    early = (x > 0.02) & (x < _SEARCH_FROM * x[-1])
    worst = int(np.flatnonzero(early)[np.argmin(gain[early])])
    if gain[worst] < -max(0.02, 4 * noise):
        steps = np.flatnonzero(ramp.amount >= x[worst])[:1]
        raise InputError(
            "ink does not grow stronger where there is little of it",
            where=f"ink {ramp.ink}, near {x[worst] * 100:.0f} % ({ramp.ids[int(steps[0])]})",
            found=f"colour falls by {-100 * gain[worst]:.0f} % of its range per 10 % of ink",
            expected="growth up to 30 % of ink at least",
            advice="Read these steps again: swapped rows and dead nozzles look so",
        )


def _hue_turn(
    x: FloatArray, ahead: FloatArray, offset: FloatArray, chroma: FloatArray, share: FloatArray
) -> FloatArray:
    """Turn of hue, seen from the cloth, over the next tenth of ink; only where there is chroma."""
    hue = np.unwrap(np.arctan2(offset[:, 2], offset[:, 1]))
    turn = np.degrees(np.abs(np.interp(ahead, x, hue) - hue)) * share
    strong = (chroma > max(PLAIN_RANGE, 0.4 * float(chroma.max()))) & (ahead - x > _STEP / 4)
    return np.where(strong, turn, 0.0)


def clean_amount(amount: FloatArray, moved: FloatArray, growth_mm: float) -> float | None:
    """Return the ink at which edges of lines have moved too far; None where they have not.

    Parameters
    ----------
    amount : ndarray, shape (n,)
        Ink; fewer than three steps say nothing. [-]
    moved : ndarray, shape (n,)
        How far the edges moved there; the first quarter of the steps is little ink. [mm]
    growth_mm : float
        Most that they may move beyond what they do at little ink. [mm]
    """
    order = np.argsort(amount)
    amount, moved = amount[order], moved[order]
    if len(amount) < 3:
        return None
    extra = moved - float(moved[: max(1, len(moved) // 4)].mean())
    over = np.flatnonzero(extra > growth_mm)
    if not len(over):
        return None
    k = int(over[0])
    if k == 0:
        return float(amount[0])
    part = (growth_mm - extra[k - 1]) / (extra[k] - extra[k - 1])
    return float(amount[k - 1] + part * (amount[k] - amount[k - 1]))


def clear_limit(
    ramp: Ramp,
    rule: LimitRule | None = None,
    growth: tuple[FloatArray, FloatArray] | None = None,
    words: str = "a clear ink: colour tells no limit; look at gloss and hand",
) -> InkLimit:
    """Return the limit of an ink without colour: where lines have grown too far, else the end of its ramp.

    Instruments for colour hardly see it. Parameters are those of `find_limit`; ``words`` say why the ramp is
    whole. Common practice, no source.
    """
    most = float(ramp.amount[-1])
    x = np.linspace(0.0, most, _FINE)
    lab = np.stack([np.interp(x, ramp.amount, axis) for axis in ramp.lab.T], axis=-1)
    growth_mm = (rule or LimitRule()).growth_mm
    clean = None if growth is None else clean_amount(*growth, growth_mm)
    if clean is None:
        limit, reason = most, words
    else:
        limit, reason = clean, f"lines grow by more than {growth_mm:g} mm an edge"
    chroma = np.hypot(lab[:, 1] - lab[0, 1], lab[:, 2] - lab[0, 2])
    none = np.zeros_like(x)
    return InkLimit(ramp.ink, round(limit, 3), reason, x, none, chroma, lab[:, 0], none)


def find_limits(
    ramps: Sequence[Ramp],
    rule: LimitRule | None = None,
    growths: Sequence[tuple[FloatArray, FloatArray] | None] | None = None,
    clear: Sequence[int] = (),
    hidden_whites: Sequence[int] = (),
) -> tuple[InkLimit, ...]:
    """Return the limit of each ink; `clear_limit` is for the places of those without colour."""
    lines = growths if growths is not None else [None] * len(ramps)
    white = "a white ink on cloth as light: colour tells no limit; look at cover and hand"
    return tuple(
        clear_limit(ramp, rule, growth)
        if place in clear
        else clear_limit(ramp, rule, growth, white)
        if place in hidden_whites
        else find_limit(ramp, rule, growth)
        for place, (ramp, growth) in enumerate(zip(ramps, lines, strict=True))
    )
