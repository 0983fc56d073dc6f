"""What counts as white where inks are lighter than the cloth: the lightest neutral that recipes reach."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem
from strikeoff.condition.record import LIGHTER, Condition, lightens
from strikeoff.inks.spaces import InkSpaces
from strikeoff.model.forward import LabModel
from strikeoff.model.inverse import solve
from strikeoff.model.limits import InkLimits
from strikeoff.model.ways import Inverse

FloatArray = NDArray[np.float64]

#: How far from a* = b* = 0 white may be; common practice, no source. [CIELAB units]
NEAR_NEUTRAL = 3.0
# Steps of a single ink, steps down from one that is too coloured alone, and how close a recipe comes.
_STEPS, _STEP_L, _REACHED_DE00 = 256, 0.25, 0.5
# Chroma up to which an ink is white by what it prints; common practice, no source. [CIELAB units]
_PALE = 12.0
# Lightness that is given up for a lighter load of ink. [L*]
_AS_LIGHT = 0.1


def white_places(spaces: InkSpaces) -> tuple[int, ...]:
    """Return the channels of the inks that the press's file, else their names, call white."""
    white = {ink.name for ink in spaces.inks if ink.role == "white"}
    return tuple(place for place, name in enumerate(spaces.channels) if name in white)


def find_white(
    inverse: Inverse, native: LabModel, limits: InkLimits, called: Sequence[int] = ()
) -> FloatArray | None:
    """Return the recipe of the lightest neutral, shape (n_inks,); None where white is the bare cloth.

    Parameters
    ----------
    inverse : Inverse
        Of the model, under the limits.
    native : LabModel
        The model under the condition's own light.
    limits : InkLimits
        Of recipes for colours.
    called : sequence of int
        Channels of inks that are called white: of those that lighten the cloth the lightest goes before
        lighter inks of another name.

    Returns
    -------
    ndarray or None
        The lightest ink alone where it is within `NEAR_NEUTRAL` of a* = b* = 0, else with the inks that bring
        it so close. None where no neutral is lighter than the cloth by more than 3 L*.
    """
    if not lightens(native, limits):
        return None
    cloth = float(native.lab(np.zeros((1, len(limits.per_ink))))[0, 0])
    recipe, lab = _lightest_ink(native, limits, called)
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


def white_problem(condition: Condition) -> Problem:
    """Return which ink is taken for white where inks are lighter than the cloth, and by what it is known.

    A note where the ink is called white; a warning where another one is taken, which asks what was meant.
    """
    assert condition.white_recipe is not None
    leave = "Leave artwork transparent where the cloth is to stay bare"
    main = int(condition.white_recipe.argmax())
    if main in white_places(condition.spaces):
        message = (
            "inks are lighter than the cloth: profiles and all intents but absolute take the lightest "
            "neutral that they reach for white, and artwork's white is printed with it"
        )
        return Problem("note", "white", message, found=condition.white_words, advice=leave)
    found = f"{condition.white_words}, L* {condition.media_lab[0]:.1f}"
    ink = condition.spaces.channels[main]
    full = np.zeros((1, condition.n_inks))
    full[0, main] = condition.recipe_limits.alone()[main]
    alone = condition.native.lab(full)[0]
    chroma = float(np.hypot(alone[1], alone[2]))
    how = "is pale, but not called white" if chroma <= _PALE else "is coloured"
    message = (
        f"inks are lighter than the cloth, and the lightest neutral that they reach is taken for white, "
        f"though its main ink {ink} {how} (L* {alone[0]:.1f}, C* {chroma:.1f} alone)"
    )
    aside = _left_aside(condition)
    if aside:
        words = ", ".join(f"{condition.spaces.channels[k]} of L* {lightness:.1f}" for k, lightness in aside)
        expected, name = f"{words}, which prints by name only", condition.spaces.channels[aside[0][0]]
        advice = f"If colours and artwork's white are to be printed with it, build with --process-ink {name}"
    else:
        expected = "an ink of the role white that lightens the cloth"
        advice = "See on a proof whether that serves; a white ink reaches lighter colours"
        if chroma <= _PALE:
            advice = f'If {ink} is the white, say so in the file of the press: role = "white"'
    return Problem("warning", "white", message, found, expected, f"{advice}. {leave}")


def aside_problem(condition: Condition) -> Problem | None:
    """Return a note of a white ink that lightens the cloth, but that no colour is separated into."""
    aside = _left_aside(condition)
    if condition.white_recipe is not None or not aside:
        return None
    names = [condition.spaces.channels[k] for k, _ in aside]
    return Problem(
        "note",
        "white",
        "an ink that is called white lightens the cloth, but prints by name only: bare cloth is white, and "
        "colours are printed on it",
        found=", ".join(f"{name} of L* {white:.1f}" for name, (_, white) in zip(names, aside, strict=True))
        + f" on cloth of {condition.cloth_lab[0]:.1f}",
        advice=f"If colours and artwork's white are to print with it, build with --process-ink {names[0]}",
    )


def _left_aside(condition: Condition) -> list[tuple[int, float]]:
    """Return channel and L* of white inks that lighten the cloth, but that no colour is separated into."""
    solids = condition.native.lab(np.diag(condition.limits.alone()))[:, 0]
    return [
        (k, float(solids[k]))
        for k in white_places(condition.spaces)
        if condition.spaces.channels[k] in condition.by_name_only
        and solids[k] > condition.cloth_lab[0] + LIGHTER
    ]


def _lightest_ink(
    native: LabModel, limits: InkLimits, called: Sequence[int]
) -> tuple[FloatArray, FloatArray]:
    """Return recipe and Lab of the ink that is lightest alone, no more of it than that takes."""
    most = limits.alone()
    lightness = native.lab(np.vstack([np.diag(most), np.zeros(len(most))]))[:, 0]
    white = [k for k in called if lightness[k] > lightness[-1] + LIGHTER]
    ink = max(white or range(len(most)), key=lambda k: float(lightness[k]))
    ramp = np.zeros((_STEPS, len(most)))
    ramp[:, ink] = np.linspace(0.0, most[ink], _STEPS)
    lab = native.lab(ramp)
    first = int(np.flatnonzero(lab[:, 0] >= lab[:, 0].max() - _AS_LIGHT)[0])
    return ramp[first], lab[first]
