"""Plain readings of an instrument put on the patches of the chart that was read."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import UsageError
from strikeoff.base.files import keep_inputs
from strikeoff.base.problems import Problem, raise_first_error
from strikeoff.base.words import counted
from strikeoff.measurement.assign import assign
from strikeoff.measurement.chart_match import By, Walk
from strikeoff.measurement.chart_patches import CHART_KEYWORDS, WALKS, read_chart
from strikeoff.measurement.examine import examine
from strikeoff.measurement.read import read_readings
from strikeoff.measurement.write import write_readings
from strikeoff.workbench.readings import data_label
from strikeoff.workbench.result import Result


def assign_readings(
    chart: str | Path,
    paths: Sequence[str | Path],
    out: str | Path,
    *,
    by: By | None = None,
    walk: Walk | None = None,
) -> Result:
    """Put readings that name no inks on the patches of a chart.

    Parameters
    ----------
    chart : str or Path
        Reference of the chart, as `make_chart` or `next_chart` wrote it.
    paths : sequence of str or Path
        Readings: the whole chart in each file, or a file for each page in order.
    out : str or Path
        File to write, with the chart's names, inks and keywords; its ending says the format.
    by : {"names", "places", "order"}, optional
        How patches are found; the first that fits by default.
    walk : {"rows", "back", "turning", "columns"}, optional
        In which order the chart was read; ``rows``, as the chart says, by default.

    Returns
    -------
    Result
        Outcome ``fail`` when a problem makes values unfit for use.
    """
    for value, known, what in ((by, ("names", "places", "order"), "way"), (walk, tuple(WALKS), "walk")):
        if value is not None and value not in known:
            raise UsageError(f"unknown {what} of finding patches", found=value, expected=", ".join(known))
    if by == "names" and walk is not None:
        raise UsageError("names say which patch is read, whatever the order", expected="--by or --walk")
    keep_inputs(out, chart, *paths)
    reference = read_chart(chart)
    sets, problems = [], list[Problem]()
    for path in paths:
        readings, noticed = read_readings(path, need_inks=False)
        raise_first_error(noticed, path)
        sets.append(readings)
        problems += noticed
    found = assign(reference, sets, by, walk)
    problems += [*found.problems, *examine(found.readings).problems]
    told = reference.readings.keywords
    words = {key: told[key] for key in CHART_KEYWORDS if key in told}
    extra: dict[str, Any] = {}
    if reference.has_places:
        extra = {"PAGE": reference.page[found.patches]}
    write_readings(out, found.readings, extra, words)
    results: dict[str, Any] = {
        "by": found.by,
        "walk": walk or "rows",
        "patches": len(reference.readings),
        "readings": len(found.readings),
        "missing": list(found.missing),
        "chart": {"name": Path(chart).name, "digest": reference.readings.digest},
        "files": [{"name": Path(s.source).name, "digest": s.digest, "patches": len(s)} for s in sets],
        "ink_space": words.get("INK_SPACE"),
        "curves_digest": words.get("CURVES_DIGEST"),
        "label": data_label(found.readings),
    }
    how = {
        "names": "by their names",
        "places": "by row and column",
        "order": f"in order, {WALKS[walk or 'rows']}",
    }
    lines = (
        f"{counted(len(found.readings), 'reading')} put on {counted(len(np.unique(found.patches)), 'patch')} "
        f"of {len(reference.readings)}, {how[found.by]}",
    )
    bad = any(problem.severity == "error" for problem in problems)
    return Result(results, tuple(problems), (Path(out),), "fail" if bad else "done", lines)
