"""Tone curves from ramps: even steps of calibrated ink look even."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, UsageError
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.inks.tables import NODES
from strikeoff.qualify.ramps import Ramp
from strikeoff.qualify.tone_curve import (
    ToneCurveFit,
    ToneOf,
    fitted_curve,
    ramp_course,
    tone_between,
    used_steps,
)

FloatArray = NDArray[np.float64]

#: Least lightness between cloth and solid that tones are made even in. [L*]
LEAST_RANGE = 8.0
#: Least colour between cloth and solid that a tone is reckoned on; common practice, no source. [CIEDE2000]
LEAST_COLOUR = 3.0
# Below so much the ink may not have been printed at all. [CIEDE2000]
_UNSEEN = 1.0


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
        course = ramp_course(ramp, limit)
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
        tone_of = tone_between(AIMS[aim if pale is None else "colour"], cloth, solid)
        fits.append(replace(fitted_curve(ramp, course, tone_of, limit, target, relative=True), pale_l=pale))
    return tuple(fits)


def hidden_inks(
    ramps: Sequence[Ramp], limits: Sequence[float], unseen: Sequence[int] = ()
) -> dict[int, float]:
    """Return inks too near the cloth's colour for a tone curve, as yellow is on yellow cloth.

    Parameters
    ----------
    ramps, limits
        As for `linearise`.
    unseen : sequence of int
        Places of inks that may not show at all, as white on white cloth.

    Returns
    -------
    dict of int to float
        Place of each such ink to CIEDE2000 between cloth and solid.

    Raises
    ------
    InputError
        Another ink that does not show at all.
    """
    hidden = {}
    for place, (ramp, limit) in enumerate(zip(ramps, limits, strict=True)):
        bare = np.ptp(used_steps(ramp, limit).lab, axis=0).max() <= 0.0
        reach = 0.0 if bare else float(delta_e_2000(ramp.lab[0], ramp_course(ramp, limit)(limit)))
        if reach < _UNSEEN and place not in unseen:
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
