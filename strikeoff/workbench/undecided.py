"""Prints whose look under another light nobody can know from readings under one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.inks.goods import Cloth
from strikeoff.measurement.records import Setup

if TYPE_CHECKING:
    from strikeoff.condition.record import Condition

FloatArray = NDArray[np.float64]
Mask = NDArray[np.bool_]

#: What is open where readings do not say how they were taken.
MODE_OPEN = "measuring mode is not stated, so it is not known whether ultraviolet took part"
_MODES = "M0, M1, M2 or M3"
# How what readers and comparisons say of the mode begins.
_MODE_TOLD = "measuring mode is not"
# Calibrated ink of which nobody sees the glow. [-]
_TRACE = 0.01


def undecided_prints(
    record: Condition, inks: FloatArray, reflectance: FloatArray, *, compared: bool = False
) -> tuple[Mask, list[Problem]]:
    """Return the prints that are undecided under other lights than the condition's own, and why.

    Reflectance above 1 shows that light comes back which the instrument's lamp did not send at that
    wavelength; how much comes back under another lamp is then unknown. Tints of a fluorescent ink do so
    below 1 as well, and so does all cloth of which it is recorded that an optical brightener is in it.

    Parameters
    ----------
    record : Condition
        Spectral condition.
    inks : ndarray, shape (n, n_inks)
        Recipes, calibrated. [-]
    reflectance : ndarray, shape (n, n_bands)
        Of the prints. [-]
    compared : bool
        Whether readings with and without ultraviolet say more than the record of the cloth.

    Returns
    -------
    mask : ndarray of bool, shape (n,)
        Undecided prints.
    problems : list of Problem
        A warning for each cause.
    """
    bare = record.forward.recipes.sum(axis=1) <= 0.0
    cloth = float(record.forward.bands[bare].max(initial=0.0))
    over = reflectance.max(axis=1) > 1.0
    problems = []
    if cloth > 1.0:
        problems.append(too_bright("condition", "cloth reflects more than it receives", cloth, len(inks)))
    elif over.any():
        value = float(reflectance.max())
        problems.append(
            too_bright("condition", "prints reflect more than they receive", value, int(over.sum()))
        )
    held = _fluorescent(record, inks, problems)
    brightened = record.goods.cloth.optical_brightener == "yes" and not compared
    if brightened:
        problems.append(
            Problem(
                "warning",
                "condition",
                "an optical brightener is recorded of the cloth: "
                f"{counted(len(inks), 'colour is', 'colours are')} undecided under other lights",
                advice="Give readings of prints with and without ultraviolet to 'condition lights', or "
                "judge by eye",
            )
        )
    return np.asarray(over | held | (cloth > 1.0) | brightened), problems


def undecided_elsewhere(record: Condition, inks: FloatArray, elsewhere: Mask) -> tuple[Mask, list[Problem]]:
    """Return which of some recipes are asked for under another light and undecided there, and why.

    Parameters
    ----------
    record : Condition
        Without spectra nothing can be told.
    inks : ndarray, shape (n, n_inks)
        Recipes, calibrated. [-]
    elsewhere : ndarray of bool, shape (n,)
        Those that are asked for under another light than the condition's own.

    Returns
    -------
    mask : ndarray of bool, shape (n,)
        Undecided ones among them.
    problems : list of Problem
        A warning for each cause, which counts only them.
    """
    if not record.has_spectra or not elsewhere.any():
        return np.zeros(len(inks), dtype=bool), []
    reflectance = record.forward.reflectance(inks)
    mask = undecided_prints(record, inks, reflectance)[0] & elsewhere
    if not mask.any():
        return mask, []
    return mask, undecided_prints(record, inks[mask], reflectance[mask])[1]


def undecided_under(record: Condition, inks: FloatArray, illuminant: str) -> tuple[Mask, list[Problem]]:
    """Return the recipes that are undecided under a light, and why; none under the condition's own light.

    Parameters
    ----------
    record : Condition
        Spectral where the light is another.
    inks : ndarray, shape (n, n_inks)
        Recipes, calibrated. [-]
    illuminant : str
        Proper name of the light.

    Returns
    -------
    mask : ndarray of bool, shape (n,)
        Undecided recipes.
    problems : list of Problem
        A short warning for each cause; also where nobody said how the cloth was read. What to do about it is
        told by the command that asks for other lights.
    """
    if illuminant == record.setup.illuminant:
        return np.zeros(len(inks), dtype=bool), []
    mask, problems = undecided_prints(record, inks, record.forward.reflectance(inks))
    problems += [] if mask.all() else uv_problems(record, False)
    return mask, [replace(problem, advice=None) for problem in problems]


def light_problems(record: Condition, illuminant: str, inks: Sequence[str] | None = None) -> list[Problem]:
    """Return a warning where colours of a whole condition are undecided under a light, and why.

    Parameters
    ----------
    record : Condition
        Nothing is undecided under its own light, and nothing can be told without spectra.
    illuminant : str
        Name of the light.
    inks : sequence of str, optional
        Inks that are printed; by default those that colours are separated into.

    Returns
    -------
    list of Problem
        Also where nobody said how the cloth was read.
    """
    if illuminant == record.setup.illuminant or not record.has_spectra:
        return []
    names = [name for name in record.inks if name not in record.by_name_only] if inks is None else list(inks)
    probes = np.zeros((1 + len(names), record.n_inks))
    for row, name in enumerate(names, 1):
        place = record.inks.index(name)
        probes[row, place] = record.limits.per_ink[place]
    mask, _ = undecided_prints(record, probes, record.forward.reflectance(probes))
    if not mask.any():
        return [replace(problem, advice=None) for problem in uv_problems(record, False)]
    glowing = ", ".join(name for name, glows in zip(names, mask[1:], strict=True) if glows)
    return [
        Problem(
            "warning",
            "condition",
            f"how its prints look under {illuminant} is undecided: they fluoresce",
            found="the cloth" if mask[0] else f"ink {glowing}",
            advice="What comes back depends on ultraviolet and blue in the light; judge prints by eye",
        )
    ]


def _fluorescent(record: Condition, inks: FloatArray, problems: list[Problem]) -> Mask:
    """Return the rows that hold fluorescent ink, and say so; tints of it glow below reflectance 1 too."""
    roles = {ink.name: ink.role for ink in record.spaces.inks}
    named = np.array([roles[name] == "fluorescent" for name in record.spaces.channels])
    held = (inks * named).max(axis=1) > _TRACE
    if held.any():
        problems.append(
            Problem(
                "warning",
                "condition",
                "prints hold fluorescent ink: "
                f"{counted(int(held.sum()), 'colour is', 'colours are')} undecided under other lights",
                found=", ".join(name for name, there in zip(record.inks, named, strict=True) if there),
                advice="A fluorescent ink answers to ultraviolet and blue in each light; judge by eye",
            )
        )
    return np.asarray(held)


def too_bright(where: str, message: str, value: float, count: int) -> Problem:
    """Return the warning that some colours reflect more than they receive."""
    return Problem(
        "warning",
        where,
        f"{message}: {counted(count, 'colour is', 'colours are')} undecided under other lights",
        found=f"reflectance {value:.3f}",
        expected="1 or less",
        advice="A whitener or fluorescent ink answers to the ultraviolet of each light; judge by eye",
    )


def mode_notes(
    setup: Setup, cloth: Cloth, told: Sequence[Problem] = (), *, glows: bool = False
) -> list[Problem]:
    """Return a note where readings are silent about ultraviolet and it may matter.

    Parameters
    ----------
    setup : Setup
        Of the readings.
    cloth : Cloth
        What is recorded of the cloth; without an optical brightener ultraviolet does not matter.
    told : sequence of Problem
        What else is told; a note on the measuring mode among it is enough.
    glows : bool
        Whether an ink is fluorescent: to it ultraviolet may matter on any cloth.

    Examples
    --------
    >>> len(mode_notes(Setup(), Cloth())), mode_notes(Setup(mode="M1"), Cloth())
    (1, [])
    """
    known = setup.mode is not None or (cloth.optical_brightener == "no" and not glows)
    if known or any(problem.message.startswith(_MODE_TOLD) for problem in told):
        return []
    advice = "State it as MEASUREMENT_CONDITION, a keyword or a column of the file"
    return [Problem("note", "header", MODE_OPEN, expected=_MODES, advice=advice)]


def uv_problems(record: Condition, compared: bool) -> list[Problem]:
    """Warn where nobody knows whether ultraviolet matters: it does not without an optical brightener."""
    mode = record.setup.mode
    problems: list[Problem] = []
    if record.goods.cloth.optical_brightener in ("yes", "no"):
        return problems
    if mode is None:
        problems.append(
            Problem(
                "warning",
                "condition",
                MODE_OPEN,
                expected=_MODES,
                advice="Other lights are right only for cloth without whitener; read it in M1 and M2 to know",
            )
        )
    elif mode in ("M0", "M1") and not compared:
        message = "cloth was read with ultraviolet: a whitener below reflectance 1 would not be noticed"
        problems.append(Problem("note", "condition", message, found=mode))
    elif mode in ("M2", "M3"):
        problems.append(
            Problem(
                "warning",
                "condition",
                "cloth was read without ultraviolet: a whitener that answers to it is not seen",
                found=mode,
                advice="Other lights are right only for cloth without whitener; record optical_brightener "
                "of the cloth, or read prints in M1 too",
            )
        )
    return problems
