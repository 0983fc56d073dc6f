"""Swatches through a condition: recipes, tints, and how far the print is from what was asked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.colour.cielab import xyz_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.colour.tristimulus import spectra_to_xyz
from strikeoff.colour.weights import white_point
from strikeoff.condition.record import Condition
from strikeoff.model.error_bars import covered_radius
from strikeoff.model.inverse import IN_GAMUT_DE00, solve
from strikeoff.spot.book import Swatch
from strikeoff.spot.tints import TINTS, diluted_tints, matched_tints

FloatArray = NDArray[np.float64]
Light = tuple[str, str]

_SLACK = 1e-9


@dataclass(frozen=True)
class Printed:
    """A swatch at full tint as a condition prints it.

    Attributes
    ----------
    swatch : Swatch
        What was asked for.
    light : tuple of str
        Illuminant and observer of what follows.
    target_lab : ndarray, shape (3,), or None
        Colour asked for; None for recipes and inks by name.
    inks : ndarray, shape (n_inks,)
        Recipe at full tint. [-]
    lab : ndarray, shape (3,)
        Its predicted colour.
    de00 : float or None
        Between the two.
    de00_u90 : float or None
        Radius that holds 90 % of the model's errors there.
    """

    swatch: Swatch
    light: Light
    target_lab: FloatArray | None
    inks: FloatArray
    lab: FloatArray
    de00: float | None
    de00_u90: float | None

    @property
    def in_reach(self) -> bool | None:
        """Whether the print is within 0.25 CIEDE2000 of the target; None without target."""
        return None if self.de00 is None else self.de00 <= IN_GAMUT_DE00


@dataclass(frozen=True)
class Matched(Printed):
    """A swatch with its tints.

    Attributes
    ----------
    lights : dict of str to float
        CIEDE2000 between a spectral target and the print under other lights, the same observer.
    tints : ndarray, shape (33, n_inks)
        Recipes of even tints. [-]
    tint_lab : ndarray, shape (33, 3)
        Their predicted colours.
    tone_error : float
        Largest distance of a tint's tone value (ISO 20654) from its aim; 0 for an ink by name. [-]
    """

    lights: dict[str, float]
    tints: FloatArray
    tint_lab: FloatArray
    tone_error: float


def match_swatches(
    condition: Condition,
    swatches: Sequence[Swatch],
    lights: Sequence[str],
    step: Callable[[float], None] = lambda fraction: None,
) -> list[Matched]:
    """Return swatches as a condition prints them, in order.

    Parameters
    ----------
    condition : Condition
        Where they are printed.
    swatches : sequence of Swatch
        What is asked for.
    lights : sequence of str
        Illuminants under which spectral targets are compared with their print.
    step : callable
        Told the fraction done, 0-1.

    Raises
    ------
    InputError
        When a recipe or an ink by name does not fit the condition; the colour is named.
    UsageError
        When another light is asked for and the condition has no spectra.
    """
    out = []
    for i, printed in enumerate(print_swatches(condition, swatches)):
        step(i / len(swatches))
        out.append(_with_tints(condition, printed, lights))
    return out


def print_swatches(
    condition: Condition,
    swatches: Sequence[Swatch],
    step: Callable[[float], None] = lambda fraction: None,
) -> list[Printed]:
    """Return swatches at full tint, in order; see `match_swatches`."""
    wanted = [_light(condition, swatch) for swatch in swatches]
    solids = np.zeros((len(swatches), condition.n_inks))
    targets: dict[int, FloatArray] = {}
    lights = sorted(set(wanted))
    for at, light in enumerate(lights):
        step(at / len(lights))
        rows = [i for i, own in enumerate(wanted) if own == light and _has_colour(swatches[i])]
        if rows:
            aim = np.array([_target(swatches[i], light) for i in rows])
            solids[rows] = solve(condition.inverse_under(*light), aim).inks
            targets |= dict(zip(rows, aim, strict=True))
    for i, swatch in enumerate(swatches):
        if not _has_colour(swatch):
            solids[i] = _given(condition, swatch)
    radii = _radii(condition, wanted, solids)
    return [
        _printed(condition, swatch, wanted[i], solids[i], targets.get(i), radii[i])
        for i, swatch in enumerate(swatches)
    ]


def _radii(condition: Condition, wanted: Sequence[Light], solids: FloatArray) -> list[float | None]:
    """Return the radii that hold 90 % of the model's errors, all of one light at once: far quicker."""
    found: list[float | None] = [None] * len(solids)
    if condition.validation is None:
        return found
    for light in sorted(set(wanted)):
        rows = [i for i, own in enumerate(wanted) if own == light]
        scale = condition.validation.radius_scale
        radii = covered_radius(condition.forward, condition.under(*light), solids[rows], scale)
        for i, radius in zip(rows, radii, strict=True):
            found[i] = float(radius)
    return found


def _has_colour(swatch: Swatch) -> bool:
    return swatch.lab is not None or bool(swatch.spectrum)


def _light(condition: Condition, swatch: Swatch) -> Light:
    # A recipe and an ink by name ask for no colour, and a spectrum holds under every light.
    if swatch.lab is None and not condition.has_spectra:
        return condition.light()
    return condition.light(swatch.illuminant, swatch.observer)


def _target(swatch: Swatch, light: Light) -> FloatArray:
    if swatch.lab is not None:
        return np.array(swatch.lab)
    xyz = spectra_to_xyz(np.array([swatch.spectrum]), np.array(swatch.wavelengths_nm), *light)
    return np.asarray(xyz_to_lab(xyz, white_point(*light))[0])


def _given(condition: Condition, swatch: Swatch) -> FloatArray:
    where = f"colour {swatch.name}"
    inks = np.zeros(condition.n_inks)
    for name, amount in swatch.recipe or ((swatch.ink or "", swatch.limit),):
        inks[_channel(condition, name, where)] = amount
    limits = condition.limits
    if (inks > limits.per_ink + _SLACK).any() or limits.sums(inks) > limits.total + _SLACK:
        raise InputError(
            "recipe is above the ink limits of the condition",
            where=where,
            found=f"{limits.sums(inks) * 100:g} %",
            expected=f"at most {limits.total * 100:g} % in all",
            advice="Lower the recipe, or limit_percent for an ink by name",
        )
    return inks


def _channel(condition: Condition, name: str, where: str) -> int:
    for names in (condition.inks, condition.spaces.channels):
        if name in names:
            return names.index(name)
    raise InputError(
        "condition has no such ink",
        where=where,
        found=name,
        expected=", ".join(condition.spaces.channels),
    )


def _printed(
    condition: Condition,
    swatch: Swatch,
    light: Light,
    solid: FloatArray,
    target: FloatArray | None,
    radius: float | None,
) -> Printed:
    lab = condition.under(*light).lab(solid[None])[0]
    error = None if target is None else float(delta_e_2000(target, lab))
    return Printed(swatch, light, target, solid, lab, error, radius)


def _with_tints(condition: Condition, printed: Printed, lights: Sequence[str]) -> Matched:
    swatch, light, solid = printed.swatch, printed.light, printed.inks
    model = condition.under(*light)
    aims = swatch.aim(TINTS)
    if swatch.ink is not None:
        tints = aims[:, None] * solid
    elif swatch.recipe is not None:
        tints = diluted_tints(model, solid, aims)
    else:
        tints = matched_tints(model, condition.limits, solid, aims)
    lab = model.lab(tints)
    error = 0.0
    if swatch.ink is None and solid.any():
        error = float(np.abs(tone_value_iso_20654(lab, lab[0], lab[-1]) - aims).max())
    own = {field.name: getattr(printed, field.name) for field in fields(Printed)}
    return Matched(
        **own,
        lights=_under(condition, swatch, light, solid, lights),
        tints=tints,
        tint_lab=lab,
        tone_error=error,
    )


def _under(
    condition: Condition, swatch: Swatch, light: Light, solid: FloatArray, lights: Sequence[str]
) -> dict[str, float]:
    if not swatch.spectrum or not condition.has_spectra:
        return {}
    found = {}
    for name in lights:
        printed = condition.under(name, light[1]).lab(solid[None])[0]
        found[name] = float(delta_e_2000(_target(swatch, (name, light[1])), printed))
    return found
