"""What was read, the limits, the cloth and how long all holds, as sections of facts and tables."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from strikeoff import __version__
from strikeoff.base.canonical import digest_bytes
from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.colour.weights import white_point
from strikeoff.condition.recipe_rules import rules_problems
from strikeoff.condition.record import Condition
from strikeoff.measurement.records import ReadingSet
from strikeoff.qualify.reach import darkest_patch
from strikeoff.report.page import Section
from strikeoff.report.tables import facts_html, figure, form_html, paragraph, subheading, table_html
from strikeoff.workbench.condition_goods import to_fill_in
from strikeoff.workbench.condition_readings import ReadRecipes
from strikeoff.workbench.condition_told import judged_words, laid_down_is_known
from strikeoff.workbench.undecided import MODE_OPEN

FloatArray = NDArray[np.float64]

_COMPUTED = " (computed, nothing was measured)"
_NOTICED = 60
# Ink asked for at which the table of limits tells what it counts in the total. [-]
_COUNTED_AT = (0.5, 0.8, 1.0)
_WORST_FIRST = ("error", "warning", "note")
_OTHER_LIGHTS = (("D65", "10"), ("A", "10"), ("FL11", "10"))
# Words of a file's head that an auditor asks for.
_HEAD = (
    ("made by", "ORIGINATOR"),
    ("created", "CREATED"),
    ("printed", "PROD_DATE"),
    ("material", "MATERIAL"),
    ("print conditions", "PRINT_CONDITIONS"),
    ("description", "DESCRIPTOR"),
)
_GREY_WORDS = {
    "cloth": "{white}'s colour, scaled",
    "fading": "{white}'s a*, b*, {fade:g} % gone at black",
    "absolute": "a* = b* = 0",
}


def grey_words(condition: Condition) -> str:
    """Say what neutral means."""
    policy = condition.policy
    return _GREY_WORDS[policy.grey].format(white=condition.white_name, fade=policy.grey_fade * 100)


def light_words(condition: Condition) -> str:
    """Say under which light and observer the condition's colours hold."""
    return f"{condition.setup.illuminant}, {condition.setup.observer} degree observer"


def lab_words(lab: FloatArray) -> str:
    """Return a colour in one line."""
    return "L*\u00a0{} a*\u00a0{} b*\u00a0{}".format(*(figure(value, 1) for value in lab))


def not_stated(condition: Condition) -> list[str]:
    """Return what the readings do not say about how they were taken."""
    setup = condition.setup
    stated = {
        "measuring mode": setup.mode,
        "geometry": setup.geometry,
        "backing": setup.backing,
        "side": setup.side,
        "instrument": setup.instrument,
        "aperture": setup.aperture_mm,
    }
    return [name for name, value in stated.items() if not value]


def total_name(condition: Condition) -> str:
    """Return what the total in calibrated ink is called: no plain sum where curves count the inks."""
    return "total ink, calibrated" if condition.limits.curves is None else "total ink, as inks count"


def measured_section(condition: Condition, readings: ReadingSet | None, read: ReadRecipes) -> Section:
    """State what was read and how."""
    setup, recipes = condition.setup, condition.forward.recipes
    repeated, computed = int((read.counts > 1).sum()), condition.validation is None
    facts = [
        ("readings", condition.readings_name + (_COMPUTED if computed else "")),
        ("rows", _rows_words(readings, computed)),
        ("distinct recipes", f"{len(recipes):,}"),
        ("recipes read more than once", "" if computed or readings is None else f"{repeated:,}"),
        ("inks", " ".join(condition.spaces.channels)),
        ("highest sum of inks", f"{recipes.sum(axis=1).max() * 100:.4g} %"),
        ("colour", _colour_words(condition)),
        ("light", light_words(condition)),
        ("measuring mode (ISO 13655)", setup.mode or ""),
        ("geometry", setup.geometry or ""),
        ("backing", setup.backing or ""),
        ("side", setup.side or ""),
        ("instrument", setup.instrument or ""),
        ("aperture", "" if setup.aperture_mm is None else f"{setup.aperture_mm:g} mm"),
    ]
    if readings is not None:
        facts += [(name, readings.keywords.get(keyword, "")[:80]) for name, keyword in _HEAD]
    body = facts_html([(name, value) for name, value in facts if value])
    if missing := not_stated(condition):
        body += paragraph(f"Not stated in the readings: {', '.join(missing)}.")
    return Section("measured", "What was measured, and how", body, condition.label)


def limits_section(condition: Condition, colours: tuple[str, ...]) -> Section:
    """Inks, limits, screen and curves; colours are those of the calibrated inks."""
    spaces, policy = condition.spaces, condition.policy
    known = laid_down_is_known(condition)
    totals = [
        (total_name(condition), f"{condition.limits.total * 100:.4g} %"),
        (
            "total ink, laid down",
            f"{spaces.total * 100:.4g} %" if known else "not known: the profile told no tone curves",
        ),
        (
            "total ink, volume",
            "not known: no drop volumes" if spaces.total_ml_m2 is None else f"{spaces.total_ml_m2:.2f} ml/m²",
        ),
        ("tone aim", _aim_words(condition)),
    ]
    if (judged := judged_words(condition)) is not None:
        totals.append(("limits and tones judged", judged))
    if spaces.screen is not None:
        screen = spaces.screen
        totals.append(("addressability, across x along", f"{screen.dpi_x:g} x {screen.dpi_y:g} dpi"))
    limits, counted_heads = _counted(condition)
    of_channel = dict(zip(spaces.channels, limits, strict=True))
    rows = []
    for ink in spaces.inks:
        rows.append(
            [
                ink.name,
                ink.role if ink.light_of is None else f"light of {ink.light_of}",
                f"{ink.limit * 100:.4g} %" if known else "not known",
                *of_channel.get(ink.name, ["-"] * len(counted_heads)),
                ", ".join(f"{volume:g}" for volume in ink.drop_pl) or "not stated",
            ]
        )
    heads = ["Ink", "role", "limit laid down", *counted_heads, "drops [pL]"]
    chips = [
        colours[channel] if ink.light_of is None else ""
        for ink, channel in zip(spaces.inks, spaces.source, strict=True)
    ]
    black = [
        ("black starts at", f"L* {policy.start:g}, whole {policy.width:g} L* darker"),
        ("most black", f"{policy.maximum * 100:g} %, strength {policy.strength * 100:g} %"),
        ("black is halved at", f"C* {policy.chroma_reach:g} from grey"),
        ("neutral means", grey_words(condition)),
        ("black point", lab_words(condition.connection.from_relative(condition.black_lab[None])[0])),
        (
            "darkest patch within the limits",
            lab_words(darkest_patch(condition.native, condition.recipe_limits)),
        ),
        ("the artwork's own black", "black ink alone" if policy.pure_black else "as the darkest grey"),
        ("the artwork's full inks", "their namesakes alone" if policy.pure_inks else "by colour"),
    ]
    body = facts_html(totals) + table_html(heads, rows, words=True, colours=chips)
    if condition.limits.curves is not None:
        body += paragraph(
            "An ink counts in the total as its curve lays it down, and not by the ink asked for: the sum of "
            "a recipe's calibrated inks may be above the limit and yet be allowed. Where a middle tone lays "
            "down more than its share of the full tone, as light and dark ink together may, that excess is "
            "set aside from the limit for every recipe, and the full tone counts so much less."
        )
    body += subheading("Black and neutrals") + facts_html(black)
    if condition.limits.apart:
        pairs = ", ".join("+".join(spaces.channels[k] for k in pair) for pair in condition.limits.apart)
        body += paragraph(
            f"Recipes for colours do not mix {pairs}: no reading tells what they make together."
        )
    return Section("limits", "Inks and limits", body)


def _aim_words(condition: Condition) -> str:
    if not laid_down_is_known(condition):
        return "not known"
    return "none: straight curves" if condition.spaces.is_identity else condition.spaces.aim


def _counted(condition: Condition) -> tuple[list[list[str]], list[str]]:
    """Return cells that say for each calibrated ink how much of it is allowed and counts, and their heads."""
    limits = condition.limits
    most = [f"{float(limit) * 100:.4g} %" for limit in limits.per_ink]
    if limits.curves is None:
        weights = np.broadcast_to(limits.weights, (condition.n_inks,))
        cells = [[limit, f"{float(weight):.3g}"] for limit, weight in zip(most, weights, strict=True)]
        return cells, ["limit calibrated", "weight in calibrated total"]
    count = np.array([limits.sums(np.eye(condition.n_inks) * share) for share in _COUNTED_AT])
    cells = [
        [limit, *(f"{100 * share:.1f} %" for share in shares)]
        for limit, shares in zip(most, count.T, strict=True)
    ]
    return cells, ["limit calibrated", *(f"counts at {share * 100:.0f} %" for share in _COUNTED_AT)]


def cloth_section(condition: Condition, read: ReadRecipes) -> Section:
    """White point of the cloth and its light, and what is known of its ultraviolet."""
    setup, brightener = condition.setup, condition.goods.cloth.optical_brightener
    rows = [_light_row(light_words(condition), setup.illuminant, setup.observer, condition.cloth_lab)]
    place = read.row(condition, np.zeros(condition.n_inks))
    words = "Bare cloth against the perfect diffuser, as the model has it, and the white of each light. "
    if place is not None and condition.validation is not None:
        read_at = f" ({counted(int(read.counts[place]), 'reading')})" if read.counts[place] else ""
        words += f"Read: {lab_words(read.lab[place])}{read_at}. "
    if condition.wavelengths_nm is not None and place is not None:
        cloth = condition.forward.bands[place]
        peak = condition.wavelengths_nm[int(cloth.argmax())]
        doubt = ", undecided" if cloth.max() > 1.0 or brightener == "yes" else ""
        for name, eye in _OTHER_LIGHTS:
            lab = spectra_to_lab(cloth, condition.wavelengths_nm, name, eye)
            rows.append(_light_row(f"{name}, {eye} degree observer{doubt}", name, eye, lab))
        words += f"Its reflectance reaches {cloth.max():.3f} at {peak:.0f} nm. "
        if cloth.max() > 1.0:
            words += "Above 1 it fluoresces, or the white reference is off: how it looks under other lights "
            words += "is undecided. "
    if condition.white_recipe is not None:
        words += f"White of artwork and profiles is not the cloth but {condition.white_words}, the lightest "
        words += f"neutral that the inks reach: {lab_words(condition.media_lab)}. "
    if brightener == "yes":
        words += "An optical brightener is in the cloth, by its record: other lights stay undecided."
    elif brightener == "no":
        words += "No optical brightener is in the cloth, by its record, so ultraviolet does not matter to it"
        glowing = [ink.name for ink in condition.spaces.inks if ink.role == "fluorescent"]
        words += f"; it may to {' and '.join(glowing)}." if glowing else "."
    elif setup.mode is None:
        words += f"The {MODE_OPEN}: "
        words += "a whitener in the cloth would make figures under other lights wrong."
    elif setup.mode == "M2":
        words += "It was read without ultraviolet (M2)."
    else:
        words += f"It was read with the ultraviolet of {setup.mode}."
    heads = ["Light", "X of the light", "Y", "Z", "L* of the cloth", "a*", "b*"]
    return Section(
        "cloth", "White point of the cloth", paragraph(words) + table_html(heads, rows), condition.label
    )


def validity_section(condition: Condition, digest: str) -> Section:
    """How long this holds, digests, what was noticed while it was made, and lines to sign on."""
    digests = [
        ["condition", digest],
        ["readings", condition.readings_digest],
        ["curves", condition.spaces.curves_digest],
        *([f"profile, version {v}", digest_bytes(p)] for v, p in sorted(condition.profiles.items())),
        ["this report", f"strikeoff {__version__}"],
    ]
    day = condition.goods.valid_until
    until = "" if day is None else f"until {day} and "
    words = (
        "Holds for this printer, mode, ink set, cloth lot, pre-treatment, fixation and finishing, "
        f"{until}for as long as a control strip passes. A change of screen, drop curves, passes or direction "
        "needs a new linearisation; a change of ink, cloth or finishing needs new readings."
        if condition.validation is not None
        else "Says what its source says, and promises nothing: no readings of printed patches stand behind "
        "it, so no control strip can be judged against it. Read a chart before an order rests on it."
    )
    body = paragraph(words)
    for reason in condition.spaces.stale:
        body += paragraph(f"No longer valid, make the tone curves again: {reason}.")
    body += table_html(["Content", "digest"], digests, words=True)
    since = rules_problems(condition.recipe_rules)
    made = tuple(problem for problem in condition.problems if problem not in since)
    for heading, problems in (("Noticed while it was made", made), ("Different today", since)):
        if problems:
            body += subheading(heading) + _noticed(problems)
    body += subheading("To be filled in and signed")
    body += to_fill_in(condition)
    body += form_html(["Signed", "name", "signature", "date"], ("Technician", "Auditor"))
    return Section("validity", "Validity and digests", body)


def _noticed(problems: Sequence[Problem]) -> str:
    """Return a table of the worst, and how many more there are."""
    ranked = sorted(problems, key=lambda problem: _WORST_FIRST.index(problem.severity))
    rows = [[p.severity, p.where, _problem_words(p)] for p in ranked]
    body = table_html(["Kind", "where", "what"], rows[:_NOTICED], words=True)
    if len(rows) > _NOTICED:
        body += paragraph(f"And {len(rows) - _NOTICED} more, in the condition file.")
    return body


def _rows_words(readings: ReadingSet | None, computed: bool) -> str:
    if readings is None:
        return "not known"
    if computed:
        return f"{len(readings):,}, computed"
    if readings.averaged is None:
        return f"{len(readings):,}, each one reading"
    return f"{len(readings):,}, means of {round(float(readings.counts.sum())):,} readings"


def _colour_words(condition: Condition) -> str:
    nm = condition.wavelengths_nm
    if nm is None:
        return "XYZ or Lab: other lights cannot be answered"
    steps = np.unique(np.round(np.diff(nm), 3))
    step = f"in steps of {steps[0]:g} nm" if len(steps) == 1 else "in unequal steps"
    return f"spectra, {nm[0]:g} to {nm[-1]:g} nm {step} ({len(nm)} bands)"


def _light_row(words: str, illuminant: str, observer: str, lab: FloatArray) -> list[str]:
    return [words, *(f"{v:.2f}" for v in white_point(illuminant, observer)), *(figure(v, 2) for v in lab)]


def _problem_words(problem: Problem) -> str:
    parts = [("found", problem.found), ("expected", problem.expected)]
    told = "; ".join(f"{name} {value}" for name, value in parts if value)
    return (
        problem.message + (f" ({told})" if told else "") + (f". {problem.advice}" if problem.advice else "")
    )
