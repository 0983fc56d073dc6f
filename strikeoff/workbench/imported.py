"""A condition from an ICC profile alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.condition.archive import write_condition
from strikeoff.icc.profile import read_profile
from strikeoff.measurement.read import parse_readings
from strikeoff.qualify.build import build_condition
from strikeoff.qualify.from_profile import profile_readings
from strikeoff.qualify.profile_total import inks_never_used
from strikeoff.qualify.profiles import build_profiles
from strikeoff.workbench.condition_told import describe, summary
from strikeoff.workbench.result import Result

_PROFILE_BYTES = 64 << 20
# [%]
_LEAST_TOTAL = 50.0


def import_condition(
    profile: str | Path,
    out: str | Path,
    *,
    name: str | None = None,
    total_ink: float | None = None,
    progress: Progress = silent,
) -> Result:
    """Make a condition from an output profile alone, without error figures.

    Parameters
    ----------
    profile : str or Path
        ICC output profile for CMYK or 2CLR to CCLR.
    out : str or Path
        Condition file to write.
    name : str, optional
        Name of the condition; that of the file by default.
    total_ink : float, optional
        Most ink in one place, laid down where the profile carries curves, else every ink counted alike; in
        place of what the profile carries or its tables use. [%]
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    if total_ink is not None and total_ink < _LEAST_TOTAL:
        raise UsageError(
            "total ink limit is too low to print with",
            found=f"{total_ink:g} %",
            expected=f"{_LEAST_TOTAL:g} % or more",
        )
    data = read_bytes(profile, _PROFILE_BYTES)
    source = Path(profile).name
    try:
        wished = None if total_ink is None else total_ink / 100.0
        said = profile_readings(data, source, wished)
    except InputError as error:
        error.path = error.path or str(profile)
        raise
    readings, problems = parse_readings(said.readings, source=source)
    problems += said.problems
    problems += inks_never_used(read_profile(data), readings.inks, said.facts)
    problems.append(
        Problem(
            "warning",
            "condition",
            "made from a profile alone: it knows what the profile says, not what is printed",
            found=f"{source} {digest_bytes(data)[:19]}",
            advice="Read a chart to have error figures and verdicts",
        )
    )
    condition = build_condition(
        readings,
        said.readings,
        name=name or Path(out).stem,
        label="reference engine",
        total_ink=said.total,
        spaces=None if said.facts is None else said.facts.spaces,
        process_inks=() if said.facts is None else said.facts.process_inks,
        validated=False,
        problems=tuple(problems),
        progress=progress,
    )
    condition = replace(condition, profiles=build_profiles(condition, progress))
    digest = write_condition(out, condition)
    progress("write the condition", 1.0)
    facts = summary(condition, digest)
    return Result(
        facts, condition.problems, (Path(out),), "done", describe(condition, digest, facts["expected_de00"])
    )
