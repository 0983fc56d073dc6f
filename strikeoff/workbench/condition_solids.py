"""Tone values, solids, overprints and inks of their own kind, as sections of a page."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.words import counted
from strikeoff.colour.cielab import lab_to_lch
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.condition.record import Condition
from strikeoff.inks.records import Ink
from strikeoff.inks.roles import BY_NAME_ONLY
from strikeoff.inks.tables import FULL
from strikeoff.model.error_bars import covered_radius
from strikeoff.report.page import Section
from strikeoff.report.plots_inks import head_curves
from strikeoff.report.screen_colour import hex_colour
from strikeoff.report.tables import figure, paragraph, table_html
from strikeoff.workbench.condition_figures import ink_colours
from strikeoff.workbench.condition_readings import ReadRecipes
from strikeoff.workbench.toneless import toneless, toneless_words

FloatArray = NDArray[np.float64]

_STEPS = np.linspace(0.0, 1.0, 11)
_TONES_ACROSS = 4
# Chromatic inks above which overprints of three are shown only where they were read.
_ALL_THREES = 4
_SPECIAL_TITLE = "White, clear, metallic, fluorescent and light inks"
_SPECIAL = (*BY_NAME_ONLY, "light")


def heads_section(condition: Condition) -> Section | None:
    """Return what each head lays down for the ink asked for, or None where that is the same."""
    spaces = condition.spaces
    if spaces.is_straight:
        return None
    asked = np.linspace(0.0, 1.0, 101)
    codes = np.round(asked * FULL).astype(np.uint16)[:, None]
    laid = spaces.to_laid_down(np.repeat(codes, len(spaces.channels), axis=1)) / FULL
    own = ink_colours(condition)
    drawing = head_curves(
        [ink.name for ink in spaces.inks],
        [own[channel] for channel in spaces.source],
        asked,
        laid,
        dashed=[ink.light_of is not None for ink in spaces.inks],
    )
    rows = [
        [f"{step * 100:.0f}\u00a0%", *(f"{v * 100:.1f}" for v in laid[round(step * 100)])] for step in _STEPS
    ]
    body = (
        paragraph(
            f"From calibrated ink to the share of an ink's full tone; aim: {spaces.aim}; light inks dashed."
        )
        + drawing
        + table_html(["Ink asked for", *(f"{ink.name} %" for ink in spaces.inks)], rows, dense=True)
    )
    return Section("heads", "Curves to the heads", body, "", (drawing,))


def tone_table(condition: Condition) -> Section:
    """Tone values and gains in steps of 10 %, a few inks beside each other."""
    body = paragraph(
        "Tone value of ISO 20654 (SCTV) and its gain over the ink asked for, both in percent; from the model "
        f"under the condition's light.{toneless_words(condition)}"
    )
    bare = toneless(condition)
    inks = [(k, name) for k, name in enumerate(condition.spaces.channels) if k not in bare]
    for start in range(0, len(inks), _TONES_ACROSS):
        header, rows = ["Ink asked for"], [[f"{step * 100:.0f}\u00a0%"] for step in _STEPS]
        for k, name in inks[start : start + _TONES_ACROSS]:
            header += [name, "gain"]
            ramp = np.zeros((len(_STEPS), condition.n_inks))
            ramp[:, k] = _STEPS
            lab = condition.native.lab(ramp)
            tone = 100.0 * tone_value_iso_20654(lab, lab[0], lab[-1])
            for row, value, step in zip(rows, tone, _STEPS, strict=True):
                row += [f"{value:.1f}", f"{value - 100.0 * step:+.1f}"]
        body += table_html(header, rows)
    return Section("tone-values", "Tone values and gains", body, condition.label)


def solids_section(condition: Condition, read: ReadRecipes) -> Section:
    """Solids and overprints as the model has them, with their error radius, and as they were read."""
    inks, names, cut, unread = _full_tones(condition, read)
    lab = condition.native.lab(inks)
    lch = lab_to_lch(lab)
    radius = None
    if condition.validation is not None:
        radius = covered_radius(condition.forward, condition.native, inks, condition.validation.radius_scale)
    rows = []
    for i, name in enumerate(names):
        place = read.row(condition, inks[i])
        seen = ["-"] * 5
        if place is not None:
            off = float(delta_e_2000(lab[i], read.lab[place]))
            count = int(read.counts[place])
            seen = [*(figure(v, 2) for v in read.lab[place]), str(count) if count else "-", f"{off:.2f}"]
        rows.append(
            [
                name,
                *(figure(value, 2) for value in lab[i]),
                f"{lch[i, 1]:.2f}",
                f"{lch[i, 2]:.1f}",
                "-" if radius is None else f"{radius[i]:.2f}",
                *seen,
            ]
        )
    was_read = condition.validation is not None
    words = "Left as the model has them under the condition's light, right as they were "
    words += "read. " if was_read else "computed for the source. "
    words += (
        "No radius can be given: there are no error figures."
        if radius is None
        else "The radius holds 90 % of errors; it and the difference (off) in CIEDE2000."
    )
    if cut:
        words += (
            f" {counted(cut, 'overprint', 'overprints')} of full tones would exceed the total ink limit: "
            "shown is the most of each ink, all alike, that it holds."
        )
    if unread:
        words += (
            f" {counted(unread, 'overprint of three was', 'overprints of three were')} not read and left out."
        )
    heads = ["Full tone", "L*", "a*", "b*", "C*", "h [°]", "radius"]
    origin = "read" if was_read else "source"
    heads += [f"L* {origin}", f"a* {origin}", f"b* {origin}", "readings" if was_read else "rows", "off"]
    white = condition.native.view.white
    chips = [hex_colour(colour, white) for colour in lab]
    body = paragraph(words) + table_html(heads, rows, colours=chips, dense=True)
    return Section("solids", "Solids and overprints", body, condition.label)


def special_section(condition: Condition, read: ReadRecipes) -> Section:
    """Inks that a process chart does not explain."""
    special = [ink for ink in condition.spaces.inks if ink.role in _SPECIAL]
    if not special:
        return Section(
            "special", _SPECIAL_TITLE, paragraph("No white, clear, fluorescent, metallic or light inks.")
        )
    rows = []
    for ink in special:
        shown = ["-"] * 8
        if ink.name in condition.spaces.channels:
            recipe = np.zeros((1, condition.n_inks))
            recipe[0, condition.spaces.channels.index(ink.name)] = 1.0
            lab = condition.native.lab(recipe)[0]
            shown = [figure(v, 2) for v in lab] + [f"{float(delta_e_2000(condition.cloth_lab, lab)):.2f}"]
            place = read.row(condition, recipe[0])
            off = "not read" if place is None else f"{float(delta_e_2000(lab, read.lab[place])):.2f}"
            shown += [off, *_highest(condition, recipe)]
            shown.append(f"{condition.limits.per_ink[condition.spaces.channels.index(ink.name)] * 100:.4g} %")
        rows.append([ink.name, ink.role, _use(condition, ink), *shown])
    heads = [
        "Ink",
        "role",
        "used",
        "L*",
        "a*",
        "b*",
        "from cloth",
        "off",
        "highest reflectance",
        "at [nm]",
        "limit",
    ]
    body = table_html(heads, rows, names=3, dense=True) + paragraph(
        "Solids as the model has them; distance from the cloth and from what was read (off) in CIEDE2000. A "
        "light ink has no solid of its own: it prints the first part of its dark ink's ramp. Above 1 an ink "
        "fluoresces, and its look under other lights is undecided.",
        quiet=True,
    )
    return Section("special", _SPECIAL_TITLE, body, condition.label)


def _full_tones(condition: Condition, read: ReadRecipes) -> tuple[FloatArray, list[str], int, int]:
    """Return recipes of full tones, or as full as the total lets them be, and their names.

    Then how many the total holds back, and how many are left out for lack of readings.
    """
    count = range(condition.n_inks)
    chromatic = [k for k in count if k != condition.inverse.black]
    groups = [(), *combinations(count, 1), *combinations(count, 2), *combinations(chromatic, 3)]
    inks = np.zeros((len(groups), condition.n_inks))
    for row, group in enumerate(groups):
        inks[row, list(group)] = 1.0
    beyond = condition.limits.sums(inks) > condition.limits.total + 1e-6
    # Whole per mille, rounded down, as charts print them.
    inks[beyond] = np.floor(condition.limits.pulled_in(inks[beyond]) * 1000.0 + 1e-6) / 1000.0
    few = len(chromatic) <= _ALL_THREES
    known = np.array(
        [few or len(g) < 3 or read.row(condition, inks[i]) is not None for i, g in enumerate(groups)]
    )
    names = ["cloth", *("+".join(condition.spaces.channels[k] for k in group) for group in groups[1:])]
    for row in np.flatnonzero(beyond).tolist():
        names[row] += f" at {inks[row].max() * 100:.4g}\u00a0%"
    keep = np.flatnonzero(known)
    return inks[keep], [names[i] for i in keep], int(beyond[keep].sum()), int((~known).sum())


def _highest(condition: Condition, recipe: FloatArray) -> list[str]:
    """Return the highest reflectance of a recipe and where it is, in words."""
    if condition.wavelengths_nm is None:
        return ["not known", "-"]
    spectrum = condition.forward.reflectance(recipe)[0]
    return [f"{spectrum.max():.3f}", f"{condition.wavelengths_nm[int(spectrum.argmax())]:.0f}"]


def _use(condition: Condition, ink: Ink) -> str:
    if ink.name in condition.by_name_only:
        return "by name only"
    spaces = condition.spaces
    dark = next((k for k, other in enumerate(spaces.inks) if other.name == ink.light_of), None)
    if dark is None:
        return "in separations"
    starts = int((spaces.tables[dark] > 0).argmax()) / FULL
    words = f"light part of {ink.light_of}; the dark ink from {starts * 100:.0f} % of the ink asked for"
    if not np.array_equal(spaces.tone, spaces.straight().tone):
        before = int((spaces.straight().tables[dark] > 0).argmax()) / FULL
        words += f", {before * 100:.0f} % before the tone curve"
    return words
