"""What counts as white where inks are lighter than the cloth: the lightest neutral that recipes reach."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from strikeoff.condition.record import LIGHTER, lightens
from strikeoff.model.forward import LabModel
from strikeoff.model.inverse import solve
from strikeoff.model.limits import InkLimits
from strikeoff.model.ways import Inverse

FloatArray = NDArray[np.float64]

#: How far from a* = b* = 0 white may be; common practice, no source. [CIELAB units]
NEAR_NEUTRAL = 3.0
# Steps of a single ink, steps down from one that is too coloured alone, and how close a recipe comes.
_STEPS, _STEP_L, _REACHED_DE00 = 256, 0.25, 0.5
# Lightness that is given up for a lighter load of ink. [L*]
_AS_LIGHT = 0.1


def find_white(inverse: Inverse, native: LabModel, limits: InkLimits) -> FloatArray | None:
    """Return the recipe of the lightest neutral, shape (n_inks,); None where white is the bare cloth.

    Parameters
    ----------
    inverse : Inverse
        Of the model, under the limits.
    native : LabModel
        The model under the condition's own light.
    limits : InkLimits
        Of recipes for colours.

    Returns
    -------
    ndarray or None
        The lightest ink alone where it is within `NEAR_NEUTRAL` of a* = b* = 0, else with the inks that bring
        it so close. None where no neutral is lighter than the cloth by more than 3 L*.
    """
    if not lightens(native, limits):
        return None
    cloth = float(native.lab(np.zeros((1, len(limits.per_ink))))[0, 0])
    recipe, lab = _lightest_ink(native, limits)
    chroma = float(np.hypot(lab[1], lab[2]))
    if chroma > NEAR_NEUTRAL:
        lightness = np.arange(float(lab[0]), cloth + LIGHTER, -_STEP_L)
        wanted = np.column_stack([lightness, np.tile(lab[1:] * NEAR_NEUTRAL / chroma, (len(lightness), 1))])
        found = solve(inverse, wanted, exact=False)
        reached = np.flatnonzero(found.de00 < _REACHED_DE00)
        if not len(reached):
            return None
        recipe = np.asarray(found.inks[reached[0]])
        lab = native.lab(recipe[None])[0]
    return recipe if lab[0] > cloth + LIGHTER else None


def _lightest_ink(native: LabModel, limits: InkLimits) -> tuple[FloatArray, FloatArray]:
    """Return recipe and Lab of the ink that is lightest alone, no more of it than that takes."""
    most = limits.alone()
    ink = int(native.lab(np.diag(most))[:, 0].argmax())
    ramp = np.zeros((_STEPS, len(most)))
    ramp[:, ink] = np.linspace(0.0, most[ink], _STEPS)
    lab = native.lab(ramp)
    first = int(np.flatnonzero(lab[:, 0] >= lab[:, 0].max() - _AS_LIGHT)[0])
    return ramp[first], lab[first]
