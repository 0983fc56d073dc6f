"""A condition as sections of a page."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.condition.record import Condition
from strikeoff.condition.rendering import render
from strikeoff.model.validation import interpolation_errors, split_recipes
from strikeoff.report.gamut import surface_inks
from strikeoff.report.page import Section
from strikeoff.report.plots_gamut import NamedColour, gamut_projection, gamut_solid
from strikeoff.report.plots_inks import ToneCurve, black_curve, tone_curves
from strikeoff.report.plots_quality import error_histogram, neutral_axis
from strikeoff.report.screen_colour import hex_colour
from strikeoff.report.tables import facts_html, paragraph
from strikeoff.workbench.condition_tables import grey_words

FloatArray = NDArray[np.float64]

_RAMP = 101


def ink_colours(condition: Condition) -> tuple[str, ...]:
    """Return the screen colour of each solid."""
    white = condition.native.view.white
    solids = condition.native.lab(np.eye(condition.n_inks))
    return tuple(hex_colour(lab, white) for lab in solids)


def error_section(condition: Condition) -> Section:
    """Held-out error beside interpolation on the same splits."""
    if condition.validation is None:
        body = paragraph(
            "There are no error figures: what was learnt from are no readings of printed patches."
        )
        return Section("model", "How far the model can be trusted", body, condition.label)
    recipes = condition.forward.recipes
    lab = condition.native.view.lab(condition.forward.bands)
    baseline = np.concatenate(
        [interpolation_errors(recipes, lab, train, test) for train, test in split_recipes(len(recipes))]
    )
    figures = [g for g in condition.validation.groups if g.patches]
    facts = [
        (f"{g.group} ({g.patches} patches)", f"mean {g.mean:.2f}, 95 % {g.percentile_95:.2f}")
        for g in figures
    ]
    facts.append(
        ("interpolation, all", f"mean {baseline.mean():.2f}, 95 % {np.quantile(baseline, 0.95):.2f}")
    )
    drawing = error_histogram(condition.validation.errors, baseline)
    body = (
        paragraph(
            "CIEDE2000 between what the model predicts and what was read, for patches that it had not seen: "
            "five splits of distinct recipes, a fifth held out each time. Beside it the usual "
            "interpolation, its smoothing tuned on the same training patches."
        )
        + drawing
        + facts_html(facts)
    )
    return Section("model", "How far the model can be trusted", body, condition.label, (drawing,))


def tone_section(condition: Condition) -> Section:
    """Tone value and colour distance of each ink."""
    nominal = np.linspace(0.0, 1.0, _RAMP)
    curves = []
    for k, (name, colour) in enumerate(zip(condition.spaces.channels, ink_colours(condition), strict=True)):
        ramp = np.zeros((_RAMP, condition.n_inks))
        ramp[:, k] = nominal
        lab = condition.native.lab(ramp)
        tone = tone_value_iso_20654(lab, lab[0], lab[-1])
        curves.append(ToneCurve(name, colour, nominal, tone, delta_e_2000(lab[0], lab)))
    drawing = tone_curves(curves)
    body = drawing + paragraph(
        "These readings were printed elsewhere, so calibrated ink goes to the heads unchanged; the curves "
        "show the press as it was read."
        if condition.spaces.is_identity
        else "Calibrated ink; the heads get it through the condition's own curves.",
        quiet=True,
    )
    return Section("tone", "Tone curves", body, condition.label, (drawing,))


def gamut_section(condition: Condition) -> Section:
    """Gamut from above, cut and in the round."""
    white = condition.native.view.white
    model = condition.inverse.quick
    inks = surface_inks(
        condition.n_inks, total_limit=condition.limits.total, weights=condition.limits.weights
    )
    inks = np.minimum(inks, condition.inverse.limits.per_ink)
    reachable = model.lab(inks)
    chromatic = [k for k in range(condition.n_inks) if k != condition.inverse.black][:3]
    named = []
    for group in [(k,) for k in range(condition.n_inks)] + list(combinations(chromatic, 2)):
        recipe = np.zeros((1, condition.n_inks))
        recipe[0, list(group)] = 1.0
        if len(group) > 1 and condition.limits.sums(recipe)[0] > condition.limits.total + 1e-6:
            continue
        named.append(
            _named("+".join(condition.spaces.channels[k] for k in group), model.lab(recipe)[0], white)
        )
    cloth = _named("cloth", condition.cloth_lab, white)
    drawings = (gamut_projection(reachable, named, cloth), gamut_solid(reachable, white))
    body = "".join(drawings)
    if condition.by_name_only:
        body += paragraph(
            f"Without {', '.join(condition.by_name_only)}: no colour is separated into what prints by name "
            "only, so its solid may stand outside.",
            quiet=True,
        )
    return Section("gamut", "Gamut under the total ink limit", body, condition.label, drawings)


def neutral_section(condition: Condition) -> Section:
    """Return the grey ramp through the inverse, against the greys of the policy."""
    _, lab = _neutrals(condition)
    aims = condition.greys.onto(condition.connection.from_relative(_grey_ramp(condition)))
    drawing = neutral_axis(lab, aims, aim_words="grey")
    body = drawing + paragraph(
        "Greys under the condition's light, from bare cloth to black, as the model predicts them for the "
        f"recipes that the inverse gives, against what is neutral here: {grey_words(condition.policy)}."
    )
    return Section("neutral", "Neutral axis", body, condition.label, (drawing,))


def black_section(condition: Condition) -> Section:
    """How greys are made of inks."""
    inks, lab = _neutrals(condition)
    relative = condition.connection.to_relative(lab)
    body = black_curve(
        relative[:, 0],
        inks,
        condition.spaces.channels,
        ink_colours(condition),
        total_limit=condition.limits.total,
        weights=condition.limits.weights,
    )
    return Section("black", "Black curve", body, condition.label, (body,))


def _neutrals(condition: Condition) -> tuple[FloatArray, FloatArray]:
    recipes = render(condition, _grey_ramp(condition), "relative")
    return recipes.inks, recipes.lab


def _grey_ramp(condition: Condition) -> FloatArray:
    """Return media-relative greys from the cloth to black."""
    ramp = np.zeros((_RAMP, 3))
    ramp[:, 0] = np.linspace(100.0, condition.black_lab[0], _RAMP)
    return ramp


def _named(name: str, lab: FloatArray, white: FloatArray) -> NamedColour:
    return NamedColour(name, (float(lab[0]), float(lab[1]), float(lab[2])), hex_colour(lab, white))
