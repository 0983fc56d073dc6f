"""Make a condition from readings, look at it, take its profiles out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import keep_inputs, read_bytes
from strikeoff.base.problems import raise_first_error
from strikeoff.base.progress import Progress, silent
from strikeoff.base.words import counted
from strikeoff.condition.archive import read_condition, write_condition
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import date_problems, standing_problems
from strikeoff.inks.goods import Goods
from strikeoff.inks.press_file import read_goods, read_inks
from strikeoff.inks.spaces import InkSpaces
from strikeoff.measurement.text import MAX_BYTES
from strikeoff.model.gamut import ok_to_lab
from strikeoff.qualify.build import build_condition as qualify
from strikeoff.qualify.next_patches import expected_error, usual_words
from strikeoff.qualify.profiles import build_profiles
from strikeoff.qualify.reach import darkest_patch, lighter_problem
from strikeoff.workbench.black import make_policy
from strikeoff.workbench.condition_goods import goods_words, not_recorded
from strikeoff.workbench.condition_noticed import noticed_line
from strikeoff.workbench.condition_uncertainty import bar_groups, few_recipes_words
from strikeoff.workbench.mixing import mixing_record, mixing_words
from strikeoff.workbench.readings import InkScale, data_label, load_checked
from strikeoff.workbench.result import Result
from strikeoff.workbench.settled import channel_roles, with_known_glow
from strikeoff.workbench.undecided import mode_notes

# Held-out errors over expected ones from which on a person would wonder. Common practice, no source.
_FAR_LARGER = 2.0


def build_condition(
    readings: str | Path,
    out: str | Path,
    *,
    total_ink: float | None = None,
    limits: str | Path | None = None,
    curves: str | Path | None = None,
    ink_scale: InkScale = "percent",
    goods: str | Path | None = None,
    name: str | None = None,
    illuminant: str | None = None,
    observer: str | None = None,
    black_start: float | None = None,
    black_width: float | None = None,
    black_maximum: float | None = None,
    black_strength: float | None = None,
    black_reach: float | None = None,
    black_point: str | None = None,
    grey: str | None = None,
    grey_fade: float | None = None,
    pure_black: bool = False,
    pure_inks: bool = False,
    process_inks: Sequence[str] = (),
    progress: Progress = silent,
) -> Result:
    """Make a condition file from readings.

    Parameters
    ----------
    readings : str or Path
        ISO 28178 text or CSV with inks and spectra, XYZ or Lab.
    out : str or Path
        Condition file to write.
    total_ink : float, optional
        Total ink limit, laid down; that of limits or curves, else the highest sum in the readings. [%]
    limits : str or Path, optional
        File of ink limits for readings that were printed without curves.
    curves : str or Path, optional
        Curves that the readings were printed through; they hold the limits too.
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the readings.
    goods : str or Path, optional
        File with the press, cloth and finishing that it holds for; of those in limits or curves it replaces
        the tables that it has.
    name : str, optional
        Name of the condition; that of the file by default.
    illuminant, observer : str, optional
        Light and observer of the condition; the readings' own by default.
    black_start, black_width : float, optional
        Lightness at which black begins, and over which it comes. [L*]
    black_maximum, black_strength : float, optional
        Most black; share of the most black possible. [%]
    black_reach : float, optional
        Chroma at which black has fallen to half: small keeps black to neutrals. [C*]
    black_point : str, optional
        ``neutral``, the darkest neutral that can be reached, by default; ``patch``, the darkest
        patch printed within the limits; or absolute Lab as ``L,A,B``.
    grey : {"cloth", "fading", "absolute"}, optional
        What neutral means; the cloth's own colour scaled down by default.
    grey_fade : float, optional
        With fading greys: share of the cloth's a*, b* gone at black. [%]
    pure_black, pure_inks : bool
        Whether artwork's own black prints with black alone, and full inks with their namesakes alone.
    process_inks : sequence of str
        White, clear, fluorescent or metallic inks that colours are separated into nevertheless.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    keep_inputs(out, readings)
    measured, problems = load_checked(readings, ink_scale)
    raise_first_error(problems, readings)
    spaces, recorded = _spaces(limits, curves)
    if goods is not None:
        recorded = read_goods(goods).over(recorded)
    problems += mode_notes(measured.setup, recorded.cloth, problems)
    if spaces is not None:
        problems = with_known_glow(problems, measured, channel_roles(spaces))
    known = measured.inks if spaces is None else [ink.name for ink in spaces.inks]
    _check_inks(recorded, known, goods or limits or curves)
    condition = qualify(
        measured,
        read_bytes(readings, MAX_BYTES),
        name=name or Path(out).stem,
        label=data_label(measured),
        total_ink=None if total_ink is None else total_ink / 100.0,
        spaces=spaces,
        policy=make_policy(
            start=black_start,
            width=black_width,
            maximum=black_maximum,
            strength=black_strength,
            reach=black_reach,
            point=black_point,
            grey=grey,
            grey_fade=grey_fade,
            pure_black=pure_black,
            pure_inks=pure_inks,
        ),
        process_inks=tuple(process_inks),
        illuminant=illuminant,
        observer=observer,
        problems=tuple(problems),
        progress=progress,
    )
    condition = replace(condition, profiles=build_profiles(condition, progress), goods=recorded)
    digest = write_condition(out, condition)
    progress("write the condition", 1.0)
    told = (*condition.problems, *date_problems(recorded))
    facts = summary(condition, digest)
    return Result(facts, told, (Path(out),), "done", describe(condition, digest, facts["expected_de00"]))


def _spaces(limits: str | Path | None, curves: str | Path | None) -> tuple[InkSpaces | None, Goods]:
    if limits is not None and curves is not None:
        raise UsageError("curves hold the ink limits already", expected="--limits or --curves")
    return (None, Goods()) if limits is None and curves is None else read_inks(limits, curves)


def _check_inks(goods: Goods, known: Sequence[str], path: str | Path | None) -> None:
    """Refuse lots of inks that the condition will not have."""
    strangers = [ink.name for ink in goods.inks if ink.name not in known]
    if strangers:
        raise InputError(
            "an ink with a lot or a full name is none of the condition's",
            path=path,
            where="ink",
            found=", ".join(strangers),
            expected=", ".join(known),
        )


def show_condition(condition: str | Path) -> Result:
    """Say what is in a condition file.

    Parameters
    ----------
    condition : str or Path
        Condition file.

    Returns
    -------
    Result
    """
    record, digest = read_condition(condition)
    problems = standing_problems(record)
    if record.white_recipe is None and all(known.where != "bare cloth" for known in record.problems):
        # Conditions of before this was told.
        old = lighter_problem(record)
        problems = problems if old is None else (*problems, old)
    facts = summary(record, digest)
    told = noticed_line(record.problems, "the report and --json")
    return Result(facts, problems, (), "done", (*describe(record, digest, facts["expected_de00"]), *told))


def summary(condition: Condition, digest: str) -> dict[str, Any]:
    """Return what a condition holds, for JSON."""
    solids = condition.native.lab(np.eye(condition.n_inks))
    return {
        "name": condition.name,
        "digest": digest,
        "label": condition.label,
        "ink_columns": list(condition.ink_columns),
        "light": {"illuminant": condition.setup.illuminant, "observer": condition.setup.observer},
        "setup": asdict(condition.setup),
        "has_spectra": condition.has_spectra,
        "recipes": len(condition.forward.recipes),
        "total_ink_percent": round(condition.limits.total * 100, 3),
        "black_policy": asdict(condition.policy),
        "cloth_lab": [round(float(v), 4) for v in condition.cloth_lab],
        "white": {
            "is_cloth": condition.white_recipe is None,
            "recipe_percent": _white_percent(condition),
            "lab": _lab(condition.media_lab),
        },
        "black_point_lab": _lab(condition.connection.from_relative(condition.black_lab[None])[0]),
        "darkest_patch_lab": _lab(darkest_patch(condition.native, condition.recipe_limits)),
        "darkest_neutral_l": round(_darkest_neutral(condition), 2),
        "solids_lab": {
            ink: [round(float(v), 4) for v in lab] for ink, lab in zip(condition.inks, solids, strict=True)
        },
        "total_ink_laid_down_percent": round(condition.spaces.total * 100, 3),
        "total_ink_ml_m2": _rounded(condition.spaces.total_ml_m2),
        "ink_limits_percent": {
            ink: round(float(most) * 100, 2)
            for ink, most in zip(condition.inks, condition.limits.per_ink, strict=True)
        },
        "physical_inks": [
            {"name": ink.name, "role": ink.role, "light_of": ink.light_of, "drop_pl": list(ink.drop_pl)}
            for ink in condition.spaces.inks
        ],
        "inks_by_name_only": list(condition.by_name_only),
        "screen": None if condition.spaces.screen is None else asdict(condition.spaces.screen),
        "tone_aim": condition.spaces.aim,
        "curves_digest": condition.spaces.curves_digest,
        "stale": list(condition.spaces.stale),
        "mixing": mixing_record(condition),
        "held_out": None
        if condition.validation is None
        else [group.as_record() for group in condition.validation.groups if group.patches],
        "expected_de00": _rounded(expected_error(condition)),
        "error_bars": None
        if condition.validation is None or condition.validation.bars is None
        else asdict(condition.validation.bars),
        "readings": {"name": condition.readings_name, "digest": condition.readings_digest},
        "profiles": {str(v): digest_bytes(p) for v, p in sorted(condition.profiles.items())},
        "recipe_rules": condition.recipe_rules,
        "goods": condition.goods.as_record(),
        "goods_not_recorded": list(not_recorded(condition)),
        "noticed": [problem.as_record() for problem in condition.problems],
        "valid_until": None if (day := condition.goods.valid_until) is None else day.isoformat(),
    }


def describe(condition: Condition, digest: str, expected_de00: float | None) -> tuple[str, ...]:
    """Return what a condition holds, for people."""
    light = f"{condition.setup.illuminant}, {condition.setup.observer} degree observer"
    lines = [
        f"condition {condition.name}  {digest[:19]}",
        f"inks {' '.join(condition.spaces.channels)}, {_total_words(condition)}",
        *([f"by name only: {', '.join(condition.by_name_only)}"] if condition.by_name_only else []),
        f"tone curves: {condition.spaces.aim}, {condition.spaces.curves_digest[:19]}",
        *(f"make the tone curves again: {reason}" for reason in condition.spaces.stale),
        f"{counted(len(condition.forward.recipes), 'recipe')} ({condition.label}), {light}",
        "bare cloth L* {:.1f}  a* {:.1f}  b* {:.1f}".format(*condition.cloth_lab),
        *(
            []
            if condition.white_recipe is None
            else [
                "white {}: L* {:.1f}  a* {:.1f}  b* {:.1f}".format(
                    condition.white_words, *condition.media_lab
                )
            ]
        ),
        f"darkest neutral L* {_darkest_neutral(condition):.1f} relative to {condition.white_name}",
        *goods_words(condition.goods),
    ]
    lines.append(mixing_words(condition))
    if condition.validation is None:
        return (*lines, "no error figures: these are no readings of printed patches")
    lines.append("held-out CIEDE2000        patches   mean   95 %    max")
    lines += [
        f"  {g.group:<22} {g.patches:>8} {g.mean:>6.2f} {g.percentile_95:>6.2f} {g.maximum:>6.2f}"
        for g in condition.validation.groups
        if g.patches
    ]
    if expected_de00 is not None:
        held_out = condition.validation.figure("all").mean
        lines.append(_expected_words(condition.n_inks, expected_de00, held_out))
    bars = condition.validation.bars
    if bars is not None:
        lines.append(
            "90 % radii held "
            + ", ".join(f"{bars.covered[name] * 100:.0f} % of {name}" for name in bar_groups(bars.covered))
        )
        if (few := few_recipes_words(len(condition.forward.recipes))) is not None:
            lines.append(few)
    return tuple(lines)


def _expected_words(inks: int, expected_de00: float, held_out_de00: float) -> str:
    words = f"expected mean error over {usual_words(inks)} {expected_de00:.2f}, from the radii"
    if held_out_de00 < _FAR_LARGER * expected_de00:
        return words
    return f"{words}; held-out patches err more where no other patch holds their inks together"


def _darkest_neutral(condition: Condition) -> float:
    """Return L* relative to white of the darkest neutral that can be reached."""
    return float(ok_to_lab(np.array([[condition.boundary.lightness[0], 0.0, 0.0]]))[0, 0])


def _white_percent(condition: Condition) -> dict[str, float]:
    recipe = np.zeros(condition.n_inks) if condition.white_recipe is None else condition.white_recipe
    return {
        ink: round(float(amount) * 100, 2)
        for ink, amount in zip(condition.inks, recipe, strict=True)
        if amount
    }


def _lab(lab: Any) -> list[float]:
    return [round(float(value), 4) for value in lab]


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _total_words(condition: Condition) -> str:
    spaces = condition.spaces
    volume = "" if spaces.total_ml_m2 is None else f" or {spaces.total_ml_m2:.2f} ml/m2"
    laid = f"{spaces.total * 100:.4g} %{volume} laid down"
    kind = "calibrated" if condition.limits.curves is None else "as inks count in it"
    return f"total ink limit {condition.limits.total * 100:.4g} % {kind}, {laid}"
