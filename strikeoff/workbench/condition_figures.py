"""A condition as sections of a page."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.condition.record import Condition
from strikeoff.condition.rendering import render
from strikeoff.model.error_bars import covered_radius
from strikeoff.model.validation import interpolation_errors, split_recipes
from strikeoff.report.gamut import surface_inks
from strikeoff.report.page import Section
from strikeoff.report.plots_gamut import NamedColour, gamut_projection, gamut_solid
from strikeoff.report.plots_inks import ToneCurve, black_curve, tone_curves
from strikeoff.report.plots_quality import error_histogram, neutral_axis
from strikeoff.report.screen_colour import hex_colour
from strikeoff.report.tables import figure, paragraph, table_html
from strikeoff.workbench.condition_tables import grey_words
from strikeoff.workbench.held_out_words import group_name, much_ink_words
from strikeoff.workbench.hue_reach import hue_reach
from strikeoff.workbench.mixing import mixing_words
from strikeoff.workbench.toneless import toneless, toneless_words

FloatArray = NDArray[np.float64]

_RAMP = 101
# Steps of each ink on the surface of the gamut; the surface of many inks has many faces.
_FINE, _COARSE, _FEW_INKS = 17, 9, 8
_EDGE = 65
# Darker by less is not worth a word. [L*]
_SAME_DARK = 0.5


def ink_colours(condition: Condition) -> tuple[str, ...]:
    """Return the screen colour of each solid: over white where the cloth is too dark to show it."""
    white = condition.native.view.white
    solids = np.eye(condition.n_inks)
    if condition.white_recipe is not None:
        solids = condition.limits.pulled_in(np.maximum(solids, condition.white_recipe))
    return tuple(hex_colour(lab, white) for lab in condition.native.lab(solids))


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
    rows = [
        [group_name(g.group), f"{g.patches:,}", f"{g.mean:.2f}", f"{g.percentile_95:.2f}", f"{g.maximum:.2f}"]
        for g in condition.validation.groups
        if g.patches
    ]
    late = np.quantile(baseline, 0.95)
    rows.append(
        ["interpolation, all", rows[0][1], f"{baseline.mean():.2f}", f"{late:.2f}", f"{baseline.max():.2f}"]
    )
    drawing = error_histogram(condition.validation.errors, baseline)
    body = (
        paragraph(
            "CIEDE2000 between what the model predicts and what was read, for patches that it had not seen: "
            "five splits of distinct recipes, a fifth held out each time. Beside it the usual "
            "interpolation, its smoothing tuned on the same training patches."
        )
        + paragraph(f"As far as the readings tell, {mixing_words(condition)}.", quiet=True)
        + drawing
        + table_html(["Held out [CIEDE2000]", "patches", "mean", "95 %", "worst"], rows)
    )
    if (much := much_ink_words(condition)) is not None:
        body += paragraph(f"{much[0].upper()}{much[1:]}.", quiet=True)
    return Section("model", "How far the model can be trusted", body, condition.label, (drawing,))


def tone_section(condition: Condition) -> Section:
    """Tone value and colour distance of each ink."""
    nominal = np.linspace(0.0, 1.0, _RAMP)
    curves, bare = [], toneless(condition)
    for k, (name, colour) in enumerate(zip(condition.spaces.channels, ink_colours(condition), strict=True)):
        ramp = np.zeros((_RAMP, condition.n_inks))
        ramp[:, k] = nominal
        lab = condition.native.lab(ramp)
        tone = tone_value_iso_20654(lab, lab[0], lab[-1]) if k not in bare else None
        curve = ToneCurve(name, colour, nominal, tone, delta_e_2000(lab[0], lab))
        curves.append(replace(curve, points=_read_ramp(condition, k, lab[0], lab[-1])))
    drawing = tone_curves(curves)
    body = drawing + paragraph(
        f"Lines: the model; marks: {'patches of one ink as read' if condition.validation else 'the source'}. "
        + (
            "These readings were printed elsewhere, so calibrated ink goes to the heads unchanged; the "
            "curves show the press as it was read."
            if condition.spaces.is_identity
            else "Calibrated ink; the heads get it through the condition's own curves."
        )
        + toneless_words(condition),
        quiet=True,
    )
    return Section("tone", "Tone curves", body, condition.label, (drawing,))


def _read_ramp(
    condition: Condition, ink: int, cloth: FloatArray, solid: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """Return amount, tone value and distance from the cloth of an ink's own patches, or None without any."""
    recipes = condition.forward.recipes
    alone = (recipes[:, ink] > 0) & (np.delete(recipes, ink, axis=1) <= 0).all(axis=1)
    if not alone.any():
        return None
    lab = condition.native.view.lab(condition.forward.bands[alone])
    tone = tone_value_iso_20654(lab, cloth, solid)
    return recipes[alone, ink], tone, delta_e_2000(cloth, lab)


def gamut_section(condition: Condition, volume: float | None = None) -> Section:
    """Gamut from above, cut and in the round; ``volume`` in cubic units of absolute D50, if known."""
    white = condition.native.view.white
    model = condition.inverse.quick
    inks = surface_inks(
        condition.n_inks,
        _FINE if condition.n_inks <= _FEW_INKS else _COARSE,
        total_limit=condition.limits.total,
        sums=condition.limits.sums,
        edge_steps=_EDGE,
    )
    inks = np.minimum(inks, condition.inverse.limits.per_ink)
    reachable = model.lab(inks)
    named = [
        _named("+".join(condition.spaces.channels[k] for k in group), model.lab(recipe)[0], white)
        for group, recipe in _marked(condition)
    ]
    cloth = _named("cloth", condition.cloth_lab, white)
    drawings = (gamut_projection(reachable, named, cloth), gamut_solid(reachable, white))
    body = "".join(drawings)
    if condition.by_name_only:
        body += paragraph(
            f"Without {', '.join(condition.by_name_only)}: no colour is separated into what prints by name "
            "only, so its solid may stand outside.",
            quiet=True,
        )
    if volume is not None:
        body += paragraph(
            f"Volume {round(volume):,} cubic L*a*b* units (absolute, D50), from the darkest neutral to "
            f"{'cloth' if condition.white_recipe is None else _white(condition)}."
            f"{_coloured_darks(condition, float(reachable[:, 0].min()))}"
        )
    body += _chroma_table(condition)
    return Section("gamut", "Gamut under the total ink limit", body, condition.label, drawings)


def _coloured_darks(condition: Condition, darkest: float) -> str:
    """Say that drawings go on below the darkest neutral, where they do."""
    neutral = float(condition.connection.from_relative(condition.black_lab[None])[0, 0])
    if darkest > neutral - _SAME_DARK:
        return ""
    return (
        f" The drawings also show coloured darks below that neutral of L* {neutral:.1f}, down to "
        f"{darkest:.1f}; the volume leaves them out, for no grey reaches them."
    )


def _marked(condition: Condition) -> list[tuple[tuple[int, ...], FloatArray]]:
    """Return the solids and overprints that a drawing of the gamut names: inks, and recipe (1, n_inks).

    Overprints are left out where the total forbids them. On dark cloth inks are shown over white, on which
    colours are printed there: alone they all lie beside the cloth.
    """
    count = range(condition.n_inks)
    under = [] if condition.white_recipe is None else np.flatnonzero(condition.white_recipe > 0).tolist()
    if under:
        over = [k for k in count if k not in under and k != condition.inverse.black]
        groups = [tuple(under), *((k, *under) for k in over)]
        recipes = [np.eye(condition.n_inks)[list(g)].max(axis=0, keepdims=True) for g in groups]
        return [(g, condition.limits.pulled_in(recipe)) for g, recipe in zip(groups, recipes, strict=True)]
    chromatic = [k for k in count if k != condition.inverse.black][:3]
    found: list[tuple[tuple[int, ...], FloatArray]] = []
    for group in [*((k,) for k in count), *combinations(chromatic, 2)]:
        recipe = np.zeros((1, condition.n_inks))
        recipe[0, list(group)] = 1.0
        if len(group) == 1 or condition.limits.sums(recipe)[0] <= condition.limits.total + 1e-6:
            found.append((group, recipe))
    return found


def _chroma_table(condition: Condition) -> str:
    """Return the largest chroma by hue and where it lies."""
    reaches = hue_reach(condition, range(0, 360, 30))
    rows = [
        ["largest C*", *(f"{reach.chroma:.1f}" if reach.chroma > 0 else "none" for reach in reaches)],
        ["at L*", *(f"{reach.lightness:.1f}" if reach.chroma > 0 else "-" for reach in reaches)],
    ]
    words = paragraph(
        "Largest chroma of each hue angle, absolute CIELAB under D50, that recipes under the limits make; "
        "the drawings are interpolated and may lie a little inside or outside.",
        quiet=True,
    )
    return words + table_html(["Hue", *(f"{reach.hue:.0f}°" for reach in reaches)], rows, dense=True)


def neutral_section(condition: Condition) -> Section:
    """Return the grey ramp through the inverse, against the greys of the policy."""
    inks, lab = _neutrals(condition)
    aims = condition.greys.onto(condition.connection.from_relative(_grey_ramp(condition)))
    drawing = neutral_axis(lab, aims, aim_words="grey")
    words = (
        f"Greys under the condition's light, from {_white(condition)} to black, as the model predicts them "
        "for the recipes that the inverse gives, against what is neutral here: "
        f"{grey_words(condition)}."
    )
    if condition.validation is not None:
        scale = condition.validation.radius_scale
        radius = covered_radius(condition.forward, condition.native, inks, scale)
        words += (
            f" The 90 % radius of these predictions is {np.median(radius):.2f} (median) and "
            f"{radius.max():.2f} (largest) CIEDE2000: so far off printed greys may be."
        )
    return Section("neutral", "Neutral axis", drawing + paragraph(words), condition.label, (drawing,))


def _even(condition: Condition) -> bool:
    """Return whether every ink counts in the total as what it is."""
    return condition.limits.curves is None and bool(np.all(condition.limits.weights == 1.0))


def counting_words(condition: Condition) -> str:
    """Say in two or three words how inks count in the total where they do not count alike."""
    return "weighted" if condition.limits.curves is None else "as inks count"


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
        sums=None if _even(condition) else condition.limits.sums(inks),
        sums_words=counting_words(condition),
        white=condition.white_name,
    )
    return Section("black", "Black curve", body, condition.label, (body,))


def black_table(condition: Condition) -> Section:
    """Return the recipes of greys in steps of ten."""
    ramp = _grey_ramp(condition)
    low = float(ramp[-1, 0])
    levels = [*(step for step in range(100, 0, -10) if step > low + 1.0), low]
    greys = np.zeros((len(levels), 3))
    greys[:, 0] = levels
    found = render(condition, greys, "relative")
    sums = condition.limits.sums(found.inks)
    rows = [
        [
            f"{level:.1f}",
            *(f"{100 * v:.1f}" for v in found.inks[k]),
            f"{100 * sums[k]:.0f}",
            *(figure(v, 2) for v in found.lab[k]),
        ]
        for k, level in enumerate(levels)
    ]
    even = _even(condition)
    names = [f"{name} %" for name in condition.spaces.channels]
    told = "sum %" if even else f"sum, {counting_words(condition)}, %"
    heads = ["L* asked for", *names, told, "L*", "a*", "b*"]
    body = paragraph(
        f"Recipes of greys, by lightness relative to {condition.white_name}, and the colour that the "
        "model predicts for them under the condition's light."
    )
    body += table_html(heads, rows, names=0, dense=True)
    return Section("greys", "Recipes of greys", body, condition.label)


def _neutrals(condition: Condition) -> tuple[FloatArray, FloatArray]:
    recipes = render(condition, _grey_ramp(condition), "relative")
    return recipes.inks, recipes.lab


def _white(condition: Condition) -> str:
    return "bare cloth" if condition.white_recipe is None else f"white ({condition.white_words})"


def _grey_ramp(condition: Condition) -> FloatArray:
    """Return media-relative greys from white to black."""
    ramp = np.zeros((_RAMP, 3))
    ramp[:, 0] = np.linspace(100.0, condition.black_lab[0], _RAMP)
    return ramp


def _named(name: str, lab: FloatArray, white: FloatArray) -> NamedColour:
    return NamedColour(name, (float(lab[0]), float(lab[1]), float(lab[2])), hex_colour(lab, white))
