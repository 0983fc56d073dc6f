"""Prove conformance: readings of a control strip against the condition."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.base.files import write_text
from strikeoff.base.problems import Problem, raise_first_error
from strikeoff.condition.archive import read_condition
from strikeoff.condition.ink_space import CURVES_DIGEST, check_ink_space
from strikeoff.condition.standing import is_past, print_problems
from strikeoff.measurement.examine import examine
from strikeoff.measurement.mixing import compare_setups
from strikeoff.measurement.read import read_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.model.error_bars import covered_radius
from strikeoff.verification.judge import judge
from strikeoff.verification.tolerances import default_tolerances_path, read_tolerances
from strikeoff.verification.verdict import Verdict
from strikeoff.workbench.light_doubt import light_doubts
from strikeoff.workbench.readings import InkScale, data_label, require_inks_of
from strikeoff.workbench.result import Result

if TYPE_CHECKING:
    from strikeoff.condition.record import Condition


def verify(
    condition: str | Path,
    readings: str | Path,
    *,
    tolerances: str | Path | None = None,
    out: str | Path | None = None,
    ink_scale: InkScale = "percent",
) -> Result:
    """Judge readings of a strip against what the condition predicts for it.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    readings : str or Path
        ISO 28178 text or CSV with inks and colours; repeats are separate rows.
    tolerances : str or Path, optional
        TOML file of limits; the packaged textile set by default.
    out : str or Path, optional
        JSON file for the verdict.
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the readings.

    Returns
    -------
    Result
        Outcome pass, fail or undecided.
    """
    record, digest = read_condition(condition)
    if record.validation is None:
        raise UsageError(
            "this condition has no error figures, so readings cannot be judged against it",
            found=f"made from a profile ({record.label})",
            expected="a condition made from readings",
            advice="Read a chart and build the condition, or judge against its readings",
        )
    limits = read_tolerances(default_tolerances_path() if tolerances is None else tolerances)
    strip, problems = read_readings(readings, ink_scale=ink_scale)
    raise_first_error(problems, readings)
    require_inks_of(record, strip, readings)
    problems += compare_setups(record.setup, strip.setup, f"condition {record.name}", str(readings))
    if CURVES_DIGEST in strip.keywords:
        check_ink_space(strip, record.spaces)
    # Spectra are judged under the condition's light; bare Lab or XYZ must have been taken under it.
    light, eye = record.setup.illuminant, record.setup.observer
    predicted = record.native.lab(strip.coverages)
    verdict = judge(
        strip,
        predicted,
        limits,
        aim_radius_90=covered_radius(
            record.forward, record.native, strip.coverages, record.validation.radius_scale
        ),
        illuminant=light,
        observer=eye,
    )
    until = record.goods.valid_until
    results = verdict.as_record() | {
        "valid_until": None if until is None else until.isoformat(),
        "condition": digest,
        "readings": strip.digest,
        "light": {"illuminant": light, "observer": eye},
        "label": data_label(strip),
        "tolerance_digest": limits.digest,
    }
    if verdict.outcome != "pass":
        problems += _causes(record, strip, predicted)
    problems += print_problems(record)
    said = f"the condition was said to hold until {until}: that day has passed"
    past = [said] if is_past(record.goods) else []
    outputs: tuple[Path, ...] = ()
    if out is not None:
        write_text(out, json.dumps(results, indent=1, sort_keys=True, allow_nan=False) + "\n")
        outputs = (Path(out),)
    return Result(results, tuple(problems), outputs, verdict.outcome, (*verdict_lines(verdict), *past))


def _causes(record: Condition, strip: ReadingSet, predicted: NDArray[np.float64]) -> list[Problem]:
    """Return warnings of light, columns, order, heads and patches that may be why a strip does not pass."""
    light = (strip.setup.illuminant, strip.setup.observer)
    known = predicted if light == (record.setup.illuminant, record.setup.observer) else None
    causes = [
        replace(problem, severity="warning")
        for problem in examine(strip, known).problems
        if problem.severity != "note" and problem.cause is None
    ]
    return [*light_doubts(record, strip), *causes]


def verdict_lines(verdict: Verdict) -> tuple[str, ...]:
    """Return a verdict for people: one line per item, the set-up last."""
    lines = [f"{verdict.outcome.upper()}  ({verdict.tolerances})"]
    for item in verdict.items:
        value = "   -  " if item.value is None else f"{item.value:6.2f}"
        spread = "      " if item.uncertainty is None else f"± {item.uncertainty:4.2f}"
        advice = "" if item.outcome == "pass" else f"; {item.advice}"
        lines.append(
            f"  {item.outcome:<9} {item.name:<34} {value} {spread}  limit {item.limit:5.2f}  {item.formula}"
            f"{advice}"
        )
    return (*lines, verdict.setup)
