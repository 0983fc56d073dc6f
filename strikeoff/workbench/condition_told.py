"""What a condition holds, as results and in words."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.words import counted
from strikeoff.condition.ink_space import CURVES_DIGEST
from strikeoff.condition.record import Condition
from strikeoff.model.gamut import ok_to_lab
from strikeoff.qualify.next_patches import expected_error, usual_words
from strikeoff.qualify.reach import darkest_patch
from strikeoff.workbench.condition_goods import goods_words, not_recorded
from strikeoff.workbench.condition_uncertainty import bar_groups, few_recipes_words
from strikeoff.workbench.held_out_words import group_name, much_ink_words
from strikeoff.workbench.mixing import mixing_record, mixing_words

# Held-out errors over expected ones from which on a person would wonder. Common practice, no source.
_FAR_LARGER = 2.0


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
        "total_ink_laid_down_percent": round(condition.spaces.total * 100, 3)
        if laid_down_is_known(condition)
        else None,
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
        "over_white": condition.over_white,
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
        f"tone curves: {_curve_words(condition)}",
        *([] if (judged := judged_words(condition)) is None else [f"limits and tones: judged {judged}"]),
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
        f"  {group_name(g.group):<22} {g.patches:>8} {g.mean:>6.2f} {g.percentile_95:>6.2f} {g.maximum:>6.2f}"
        for g in condition.validation.groups
        if g.patches
    ]
    if (much := much_ink_words(condition)) is not None:
        lines.append(much)
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


def judged_words(condition: Condition) -> str | None:
    """Say whether limits and tones come from ramps over white ink; None where that is no question."""
    if condition.over_white is not None:
        return "over white ink" if condition.over_white else "on the bare cloth, not over white ink"
    if any(ink.role == "white" for ink in condition.spaces.inks):
        return "over white ink or on the cloth: not recorded"
    return None


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


def laid_down_is_known(condition: Condition) -> bool:
    """Return whether what the heads lay down is known: not from a profile that carries no curves.

    One that carries straight curves says so, and its colours are kept with the digest of those.
    """
    if condition.validation is not None or not condition.spaces.is_plain:
        return True
    return CURVES_DIGEST.encode() in condition.readings


def _curve_words(condition: Condition) -> str:
    if not laid_down_is_known(condition):
        return "not known, none are applied"
    return f"{condition.spaces.aim}, {condition.spaces.curves_digest[:19]}"


def _total_words(condition: Condition) -> str:
    spaces = condition.spaces
    if not laid_down_is_known(condition):
        total = f"{condition.limits.total * 100:.4g} %"
        return f"total ink limit {total}, all inks alike; no table tells what is laid down for it"
    volume = "" if spaces.total_ml_m2 is None else f" or {spaces.total_ml_m2:.2f} ml/m2"
    laid = f"{spaces.total * 100:.4g} %{volume} laid down"
    kind = "calibrated" if condition.limits.curves is None else "as inks count in it"
    return f"total ink limit {condition.limits.total * 100:.4g} % {kind}, {laid}"
