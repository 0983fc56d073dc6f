"""What a technician and an auditor sign of a condition, as sections of facts and tables."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError
from strikeoff.base.words import counted
from strikeoff.colour.cielab import lab_to_lch, spectra_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.condition.record import Condition
from strikeoff.inks.roles import BY_NAME_ONLY
from strikeoff.measurement.read import parse_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.model.black import BlackPolicy
from strikeoff.model.error_bars import covered_radius
from strikeoff.model.validation import held_out_rows
from strikeoff.qualify.reach import darkest_patch
from strikeoff.report.page import Section
from strikeoff.report.plots_errors import error_map
from strikeoff.report.tables import facts_html, paragraph, table_html

FloatArray = NDArray[np.float64]

_STEPS = np.linspace(0.0, 1.0, 11)
_TONES_ACROSS = 4
_COMPUTED = " (computed, nothing was measured)"
_AGAIN = 15
_NOTICED = 60
_SPECIAL_TITLE = "White, clear, fluorescent and light inks"
_SPECIAL = (*BY_NAME_ONLY, "light")
_OTHER_LIGHTS = (("D65", "10"), ("A", "10"), ("FL11", "10"))
_GREY_WORDS = {
    "cloth": "the cloth's colour, scaled",
    "fading": "the cloth's a*, b*, {fade:g} % gone at black",
    "absolute": "a* = b* = 0",
}


def grey_words(policy: BlackPolicy) -> str:
    """Say what neutral means."""
    return _GREY_WORDS[policy.grey].format(fade=policy.grey_fade * 100)


def measured_section(condition: Condition) -> Section:
    """State what was read and how."""
    setup = condition.setup
    facts = [
        ("readings", condition.readings_name + (_COMPUTED if condition.validation is None else "")),
        ("distinct recipes", f"{len(condition.forward.recipes)}"),
        ("inks", " ".join(condition.spaces.channels)),
        ("light", f"{setup.illuminant}, {setup.observer} degree observer"),
        ("colour", "spectra" if condition.has_spectra else "XYZ or Lab: other lights cannot be answered"),
        ("measuring mode", setup.mode or "not stated"),
        ("geometry", setup.geometry or "not stated"),
        ("backing", setup.backing or "not stated"),
        ("side", setup.side or "not stated"),
        ("instrument", setup.instrument or "not stated"),
        ("aperture", "not stated" if setup.aperture_mm is None else f"{setup.aperture_mm:g} mm"),
    ]
    return Section("measured", "What was measured, and how", facts_html(facts), condition.label)


def limits_section(condition: Condition) -> Section:
    """Inks, limits, screen and curves."""
    spaces, policy = condition.spaces, condition.policy
    facts = [
        ("total ink, calibrated", f"{condition.limits.total * 100:.4g} %"),
        ("total ink, laid down", f"{spaces.total * 100:.4g} %"),
        (
            "total ink, volume",
            "not known: no drop volumes" if spaces.total_ml_m2 is None else f"{spaces.total_ml_m2:.2f} ml/m²",
        ),
        ("tone aim", spaces.aim),
        ("curves", spaces.curves_digest[:23]),
        ("black starts at", f"L* {policy.start:g}, whole {policy.width:g} L* darker"),
        ("most black", f"{policy.maximum * 100:g} %, strength {policy.strength * 100:g} %"),
        ("black is halved at", f"C* {policy.chroma_reach:g} from grey"),
        ("black point", _lab_words(condition.connection.from_relative(condition.black_lab[None])[0])),
        (
            "darkest patch within the limits",
            _lab_words(darkest_patch(condition.native, condition.recipe_limits)),
        ),
        ("neutral means", grey_words(policy)),
        ("the artwork's own black", "black ink alone" if policy.pure_black else "as the darkest grey"),
        ("the artwork's full inks", "their namesakes alone" if policy.pure_inks else "by colour"),
    ]
    if spaces.screen is not None:
        screen = spaces.screen
        facts.append(("addressability", f"{screen.dpi_x:g} x {screen.dpi_y:g} dpi"))
    limits = dict(zip(condition.spaces.channels, condition.limits.per_ink, strict=True))
    rows = [
        [
            ink.name,
            ink.role if ink.light_of is None else f"light of {ink.light_of}",
            f"{ink.limit * 100:.4g} %",
            f"{float(limits.get(ink.channel, 1.0)) * 100:.4g} %",
            ", ".join(f"{volume:g}" for volume in ink.drop_pl) or "not stated",
        ]
        for ink in spaces.inks
    ]
    table = table_html(["Ink", "role", "limit laid down", "limit calibrated", "drops [pL]"], rows, words=True)
    return Section("limits", "Inks and limits", facts_html(facts) + table)


def tone_table(condition: Condition) -> Section:
    """Tone values and gains in steps of 10 %, a few inks beside each other."""
    body = paragraph("Tone value of ISO 20654 (SCTV) and its gain over the ink asked for. [%]")
    inks = list(enumerate(condition.spaces.channels))
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


def solids_section(condition: Condition) -> Section:
    """Solids and overprints with their error radius."""
    count = range(condition.n_inks)
    chromatic = [k for k in count if k != condition.inverse.black]
    groups = [*combinations(count, 1), *combinations(count, 2), *combinations(chromatic, 3)]
    inks = np.zeros((len(groups) + 1, condition.n_inks))
    for row, group in enumerate(groups, 1):
        inks[row, list(group)] = 1.0
    keep = condition.limits.sums(inks) <= condition.limits.total + 1e-6
    names = ["cloth", *("+".join(condition.spaces.channels[k] for k in group) for group in groups)]
    lab = condition.native.lab(inks)
    lch = lab_to_lch(lab)
    radius = None
    if condition.validation is not None:
        radius = covered_radius(condition.forward, condition.native, inks, condition.validation.radius_scale)
    rows = [
        [
            names[i],
            *(f"{value:.2f}" for value in lab[i]),
            f"{lch[i, 1]:.2f}",
            f"{lch[i, 2]:.1f}",
            "-" if radius is None else f"{radius[i]:.2f}",
        ]
        for i in np.flatnonzero(keep)
    ]
    words = "As the model has them under the condition's light. "
    words += (
        "No radius can be given: there are no error figures."
        if radius is None
        else "The radius holds 90 % of errors. [CIEDE2000]"
    )
    if not keep.all():
        above = counted(int((~keep).sum()), "overprint is", "overprints are")
        words += f" {above} above the total ink limit and left out."
    body = paragraph(words)
    body += table_html(["Full tone", "L*", "a*", "b*", "C*", "h [°]", "radius"], rows)
    return Section("solids", "Solids and overprints", body, condition.label)


def special_section(condition: Condition) -> Section:
    """Inks that a process chart does not explain."""
    special = [ink for ink in condition.spaces.inks if ink.role in _SPECIAL]
    if not special:
        return Section(
            "special", _SPECIAL_TITLE, paragraph("No white, clear, fluorescent, metallic or light inks.")
        )
    rows = []
    for ink in special:
        shown = ["-"] * 5
        if ink.name in condition.spaces.channels:
            recipe = np.zeros((1, condition.n_inks))
            recipe[0, condition.spaces.channels.index(ink.name)] = 1.0
            lab = condition.native.lab(recipe)[0]
            shown = [f"{v:.2f}" for v in lab] + [f"{float(delta_e_2000(condition.cloth_lab, lab)):.2f}"]
            highest = float(condition.forward.reflectance(recipe).max()) if condition.has_spectra else None
            shown.append("not known" if highest is None else f"{highest:.3f}")
        use = "by name only" if ink.name in condition.by_name_only else "in separations"
        rows.append([ink.name, ink.role, use, *shown])
    heads = ["Ink", "role", "used", "L*", "a*", "b*", "from cloth [CIEDE2000]", "highest reflectance"]
    body = table_html(heads, rows, names=3) + paragraph(
        "Solids as the model has them. A light ink has none of its own: it prints the first part of its dark "
        "ink's ramp. Above 1 an ink fluoresces, and its look under other lights is undecided.",
        quiet=True,
    )
    return Section("special", _SPECIAL_TITLE, body, condition.label)


def cloth_section(condition: Condition) -> Section:
    """White point of the cloth and its light, and what is known of its ultraviolet."""
    setup = condition.setup
    light = f"{setup.illuminant}, {setup.observer} degree observer"
    rows = [[light, *(f"{value:.2f}" for value in condition.cloth_lab)]]
    bare = condition.forward.recipes.sum(axis=1) <= 0.0
    words = "Bare cloth against the perfect diffuser, as the model has it. "
    if condition.wavelengths_nm is not None and bare.any():
        cloth = condition.forward.bands[bare].mean(axis=0)
        doubt = ", undecided" if cloth.max() > 1.0 else ""
        for name, eye in _OTHER_LIGHTS:
            lab = spectra_to_lab(cloth, condition.wavelengths_nm, name, eye)
            rows.append([f"{name}, {eye} degree observer{doubt}", *(f"{value:.2f}" for value in lab)])
        words += f"Its reflectance reaches {cloth.max():.3f}. "
        if cloth.max() > 1.0:
            words += "Above 1 it fluoresces, or the white reference is off: how it looks under other lights "
            words += "is undecided. "
    if setup.mode is None:
        words += "The measuring mode is not stated, so it is not known whether ultraviolet took part: "
        words += "a whitener in the cloth would make figures under other lights wrong."
    elif setup.mode == "M2":
        words += "It was read without ultraviolet (M2)."
    else:
        words += f"It was read with the ultraviolet of {setup.mode}."
    body = paragraph(words) + table_html(["Light", "L*", "a*", "b*"], rows)
    return Section("cloth", "White point of the cloth", body, condition.label)


def original_readings(condition: Condition) -> ReadingSet | None:
    """Return the readings that the condition carries, or None where they cannot be read as they stand."""
    try:
        return parse_readings(condition.readings, need_inks=True)[0]
    except InputError:
        return None


def held_out(condition: Condition) -> tuple[NDArray[np.intp], FloatArray] | None:
    """Return recipes that were held out and the mean of their errors, or None without error figures."""
    if condition.validation is None:
        return None
    rows = held_out_rows(len(condition.forward.recipes))
    errors = condition.validation.errors
    if len(rows) != len(errors):
        return None
    found, place, count = np.unique(rows, return_inverse=True, return_counts=True)
    return found, np.bincount(place.ravel(), weights=errors) / count


def map_section(condition: Condition) -> Section:
    """Where in lightness, chroma and hue the held-out error is largest."""
    judged = held_out(condition)
    if judged is None:
        return Section("map", "Where the errors are", paragraph("There are no error figures."))
    rows, errors = judged
    lab = condition.native.view.lab(condition.forward.bands[rows])
    drawing = error_map(lab, errors)
    body = paragraph("Mean held-out CIEDE2000 of the patches in each part of colour space; blank: none read.")
    return Section("map", "Where the errors are", body + drawing, condition.label, (drawing,))


def again_section(condition: Condition, readings: ReadingSet | None) -> Section:
    """Patches whose held-out error is largest: misread, or where the model lacks neighbours."""
    judged = held_out(condition)
    if judged is None:
        return Section("again", "Patches to read again", paragraph("There are no error figures."))
    found, errors = judged
    names = _names(condition, readings)
    worst = np.argsort(-errors, kind="stable")[:_AGAIN]
    rows = [
        [
            names[found[i]],
            " ".join(f"{100 * v:.0f}" for v in condition.forward.recipes[found[i]]),
            " ".join(f"{v:.1f}" for v in condition.native.view.lab(condition.forward.bands[found[i]])),
            f"{errors[i]:.2f}",
        ]
        for i in worst
    ]
    body = paragraph(
        "The largest errors of patches that were held out. Read these first; what stays large lacks "
        "neighbours."
    )
    body += table_html(
        ["Patch", f"{' '.join(condition.spaces.channels)} [%]", "L* a* b* as read", "held-out CIEDE2000"],
        rows,
    )
    return Section("again", "Patches to read again", body, condition.label)


def _lab_words(lab: FloatArray) -> str:
    return "L* {:.1f}  a* {:.1f}  b* {:.1f}".format(*lab)


def _names(condition: Condition, readings: ReadingSet | None) -> list[str]:
    """Return the name of the first patch of each recipe, or its number."""
    recipes = condition.forward.recipes
    if readings is None or readings.coverages.shape[1] != recipes.shape[1]:
        return [f"recipe {i + 1}" for i in range(len(recipes))]
    known: dict[tuple[float, ...], str] = {}
    for name, inks in zip(readings.sample_ids, readings.coverages, strict=True):
        known.setdefault(tuple(np.round(inks, 4) + 0.0), name)
    return [known.get(tuple(np.round(r, 4) + 0.0), f"recipe {i + 1}") for i, r in enumerate(recipes)]


def validity_section(condition: Condition, digest: str) -> Section:
    """How long this holds, digests, and what was noticed while it was made."""
    digests = [
        ["condition", digest],
        ["readings", condition.readings_digest],
        ["curves", condition.spaces.curves_digest],
        *([f"profile, version {v}", digest_bytes(p)] for v, p in sorted(condition.profiles.items())),
    ]
    words = (
        "Holds for this printer, mode, ink set, cloth lot, pre-treatment, fixation and finishing, for as "
        "long as a control strip passes. A change of screen, drop curves, passes or direction needs a new "
        "linearisation; a change of ink, cloth or finishing needs new readings."
        if condition.validation is not None
        else "Says what its source says, and promises nothing: no readings of printed patches stand behind "
        "it, so no control strip can be judged against it. Read a chart before an order rests on it."
    )
    body = paragraph(words)
    for reason in condition.spaces.stale:
        body += paragraph(f"No longer valid, make the tone curves again: {reason}.")
    body += table_html(["Content", "digest"], digests, words=True)
    if condition.problems:
        rows = [
            [p.severity, p.where, p.message + (f" ({p.found})" if p.found else "")]
            for p in condition.problems
        ]
        body += paragraph("Noticed while it was made:") + table_html(
            ["Kind", "where", "what"], rows[:_NOTICED], words=True
        )
        if len(rows) > _NOTICED:
            body += paragraph(f"And {len(rows) - _NOTICED} more, in the condition file.")
    where = [[what, "_" * 48] for what in ("Printer, mode", "Cloth, lot", "Finishing", "Valid until")]
    body += table_html(["Made with", "to be filled in"], where, words=True)
    signed = [[who, "_" * 32, "_" * 14] for who in ("Technician", "Auditor")]
    body += table_html(["Signed", "name", "date"], signed, words=True)
    return Section("validity", "Validity and digests", body)
