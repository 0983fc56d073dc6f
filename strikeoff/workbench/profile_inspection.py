"""What is in an ICC profile; loads nothing that computes conditions unless one is named."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError
from strikeoff.base.files import read_bytes
from strikeoff.base.problems import Problem
from strikeoff.icc.inspect import inspect, table_inks
from strikeoff.icc.profile import read_profile
from strikeoff.inks.tables import to_codes
from strikeoff.workbench.profile_carried import carried_inks, carried_lines
from strikeoff.workbench.result import Result

_PROFILE_BYTES = 64 << 20
# Difference of two black points that is told. [L*]
_BLACK_OFF = 0.25


def inspect_profile(profile: str | Path, *, condition: str | Path | None = None) -> Result:
    """Say what is in an ICC profile and what is wrong with it.

    Parameters
    ----------
    profile : str or Path
        ICC profile.
    condition : str or Path, optional
        Condition in whose weights the most ink is told.

    Returns
    -------
    Result
    """
    data = read_bytes(profile, _PROFILE_BYTES)
    try:
        found, problems = inspect(data)
    except InputError as error:
        error.path = error.path or str(profile)
        raise
    weighted, told = (None, ()) if condition is None else _weighted(data, condition, profile)
    carried, damage = carried_inks(data)
    results = found | {"digest": digest_bytes(data), "weighted_ink": weighted, "carried_inks": carried}
    return Result(results, (*problems, *damage, *told), (), "done", _inspection_lines(results))


def _weighted(
    data: bytes, condition: str | Path, path: str | Path
) -> tuple[dict[str, Any], tuple[Problem, ...]]:
    """Return the most ink of the tables to inks as the condition weighs it, and what to know of that."""
    from strikeoff.condition.archive import read_condition
    from strikeoff.condition.standing import date_problems

    record, digest = read_condition(condition)
    tables = list(table_inks(read_profile(data)).values())
    counts = sorted({table.shape[1] for table in tables})
    if counts != [record.n_inks]:
        raise InputError(
            "profile has no tables to the inks of the condition",
            path=path,
            found=f"{' and '.join(map(str, counts))} inks" if counts else "none",
            expected=f"{record.n_inks} inks: {', '.join(record.spaces.channels)}",
            advice="Name the condition that the profile was made for",
        )
    inks = np.concatenate(tables)
    load = float(record.spaces.load(record.spaces.to_laid_down(to_codes(inks))).max())
    full = record.spaces.total_ml_m2
    link = record.connection
    found = {
        "condition": digest,
        "black_point_lab": [
            round(float(v), 3) for v in link.to_absolute(link.from_relative(record.black_lab[None]))[0]
        ],
        "is_its_own": digest_bytes(data) in {digest_bytes(own) for own in record.profiles.values()},
        "calibrated_percent": round(100.0 * float(record.limits.sums(inks).max()), 2),
        "calibrated_limit_percent": round(100.0 * record.limits.total, 2),
        "laid_down_percent": round(100.0 * load, 2),
        "laid_down_limit_percent": round(100.0 * record.spaces.total, 2),
        "laid_down_ml_m2": None if full is None else round(load / record.spaces.total * full, 3),
        "laid_down_limit_ml_m2": None if full is None else round(full, 3),
    }
    return found, date_problems(record.goods)


def _weighted_lines(known: dict[str, Any]) -> list[str]:
    def volume(value: float | None) -> str:
        return "" if value is None else f" or {value:.2f} ml/m2"

    laid = f"{known['laid_down_percent']:.1f} %{volume(known['laid_down_ml_m2'])}"
    limit = f"{known['laid_down_limit_percent']:.1f} %{volume(known['laid_down_limit_ml_m2'])}"
    own = "" if known["is_its_own"] else "; the profile is not one of those in the condition"
    return [
        f"  by the condition's weights {known['calibrated_percent']:.1f} % calibrated "
        f"(limit {known['calibrated_limit_percent']:.1f} %){own}",
        f"  laid down {laid} (limit {limit})",
    ]


def _black_lines(found: dict[str, Any]) -> list[str]:
    """Return the profile's black as the profile counts it and as conditions do, and why theirs is another."""
    relative, absolute = found["black_point_lab"], found["black_point_absolute_lab"]
    lines = [f"black point {_lab(relative)} relative to media white, {_lab(absolute)} absolute"]
    if found["weighted_ink"]:
        black = found["weighted_ink"]["black_point_lab"]
        off = absolute[0] - black[0]
        why = ""
        if abs(off) >= _BLACK_OFF:
            side = "lighter" if off > 0 else "darker"
            why = (
                f"; the profile's is {abs(off):.1f} L* {side}, for recipes of its table change "
                "smoothly from colour to colour"
            )
        lines.append(f"  the condition's is {_lab(black)} absolute{why}")
    return lines


def _lab(lab: list[float]) -> str:
    return "L* {:.1f}  a* {:.1f}  b* {:.1f}".format(*(round(value, 1) + 0.0 for value in lab))


def _inspection_lines(found: dict[str, Any]) -> tuple[str, ...]:
    lines = [
        f"{found['description']}",
        f"version {found['version']}, {found['device_class']}, {found['colour_space']} to {found['pcs']}, "
        f"{found['bytes']} bytes",
    ]
    if found["viewing"]:
        lines.append(f"viewing: {found['viewing']}")
    if found["media_white_lab"] is not None:
        lines.append("media white L* {:.1f}  a* {:.1f}  b* {:.1f}".format(*found["media_white_lab"]))
    for table in found["tables"]:
        grid = "x".join(map(str, table["grid"])) or "no grid"
        lines.append(f"  {table['tag']}  {table['kind'].strip()}  {grid}  {table['bits']} bit")
    if found["round_trips"]:
        lines.append("to colour and back, CIEDE2000; perceptual and saturation move colours on purpose")
    for trip in found["round_trips"]:
        lines.append(
            f"  round trip {trip['intent']:<11} mean {trip['mean_de00']:.2f}  95 % {trip['p95_de00']:.2f}  "
            f"largest {trip['max_de00']:.2f}"
        )
    if found["ink_limit_percent"] is not None:
        known = found["weighted_ink"]
        words = "" if known else "; name its --condition for the sum by their weights"
        lines.append(f"most ink in the tables {found['ink_limit_percent']:.0f} %, all inks alike{words}")
        if known:
            lines += _weighted_lines(known)
    if found["black_point_lab"] is not None:
        lines += _black_lines(found)
    lines += carried_lines(found)
    return tuple(lines)
