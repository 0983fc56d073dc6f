"""Files of readings put together, and written in other formats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError
from strikeoff.base.files import keep_inputs
from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.measurement.chart_patches import CHART_KEYWORDS
from strikeoff.measurement.consistency import consistency_findings
from strikeoff.measurement.findings import Rank, problems_in_order
from strikeoff.measurement.further_columns import further_columns
from strikeoff.measurement.mixing import combine_readings
from strikeoff.measurement.names import names_apart
from strikeoff.measurement.noise import DEFAULT_WANTED, patch_noise
from strikeoff.measurement.read import read_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import merge_repeats, recipe_groups
from strikeoff.measurement.write import write_readings
from strikeoff.workbench.readings import InkScale, data_label, noise_line, noise_record
from strikeoff.workbench.result import Result

_FORMATS = {".csv": "CSV", ".tsv": "TSV", ".cxf": "CxF3", ".xml": "CxF3"}
_KEPT = ("ORIGINATOR", "DESCRIPTOR", "DATA_SOURCE", "INK_NAMES", "INK_SPACE", "CURVES_DIGEST", "SCREEN")
# What a chart is, where each patch stands and what was computed hold for one chart and its rows alone.
_CHART = (*CHART_KEYWORDS, "READING_ORDER", "CREATED")


def merge_readings(
    paths: Sequence[str | Path], out: str | Path, *, ink_scale: InkScale = "percent"
) -> Result:
    """Average patches that were read more than once, in one file or several.

    Parameters
    ----------
    paths : sequence of str or Path
        Readings with the same inks, read in one set-up.
    out : str or Path
        File to write: one row a recipe, with ``READINGS`` and ``DE_U95``.
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the files.

    Returns
    -------
    Result

    Raises
    ------
    InputError
        When inks, wavelengths, lights, measuring modes, backings, sides or geometries differ.
    """
    keep_inputs(out, *paths)
    sets, problems = [], []
    for path in paths:
        readings, found = read_readings(path, ink_scale=ink_scale)
        sets.append(readings)
        problems += [replace(p, where=f"{path}: {p.where}") if len(paths) > 1 else p for p in found]
    first = next((p for p in problems if p.severity == "error"), None)
    if first is not None:
        raise InputError(
            first.message,
            where=first.where,
            found=first.found,
            expected=first.expected,
            advice=first.advice,
        )
    together, mixed = combine_readings(sets)
    named, renamed = names_apart(sets)
    together = replace(together, sample_ids=tuple(name for one in named for name in one.sample_ids))
    # A strip of few recipes may be merged; whether they do for a condition is asked when it is built.
    findings = [one for one in consistency_findings(together) if one.rank != Rank.SETUP]
    problems += mixed + renamed + [p for p in problems_in_order(findings) if p.severity != "note"]
    noise = patch_noise(together)
    merged = merge_repeats(together)
    extra = {"READINGS": noise.readings, "DE_U95": np.round(noise.uncertainty, 4)}
    header = _header(sets[0]) | _shared(sets)
    header |= {"DATA_SOURCE": f"mean of repeats in {_names(sets)} ({data_label(together)})"}
    write_readings(out, merged, extra, header)
    results: dict[str, Any] = {
        "files": [{"name": Path(s.source).name, "digest": s.digest, "patches": len(s)} for s in sets],
        "readings": int(together.counts.sum()),
        "recipes": len(merged),
        "most_readings": int(noise.readings.max()),
        "averaged": "spectra" if together.spectra is not None else "XYZ or Lab",
        "noise": noise_record(together, noise, DEFAULT_WANTED),
        "label": data_label(together),
    }
    lines = (
        f"{counted(results['readings'], 'reading')} of {counted(len(sets), 'file')} merged to "
        f"{counted(len(merged), 'recipe')} ({results['averaged']} averaged)",
        noise_line(noise, DEFAULT_WANTED),
    )
    bad = any(problem.severity == "error" for problem in problems)
    return Result(results, tuple(problems), (Path(out),), "fail" if bad else "done", lines)


def convert_readings(path: str | Path, out: str | Path, *, ink_scale: InkScale = "percent") -> Result:
    """Write readings in the format of the ending of a name.

    Parameters
    ----------
    path : str or Path
        ISO 28178 text, CxF3 or CSV; inks are not needed, nor colours in a chart reference.
    out : str or Path
        ``.csv``, ``.tsv``, ``.cxf`` or ``.xml``, anything else ISO 28178 text.
    ink_scale : {"percent", "unit", "byte"}
        What full ink is in the file; percent is written.

    Returns
    -------
    Result
    """
    keep_inputs(out, path)
    readings, problems = _readings_or_chart(path, ink_scale)
    header = _header(readings) | _words(readings, _CHART)
    write_readings(out, readings, further_columns(path, readings), header)
    kind = _FORMATS.get(Path(out).suffix.lower(), "ISO 28178")
    bands = None if readings.wavelengths_nm is None else len(readings.wavelengths_nm)
    results = {
        "patches": len(readings),
        "recipes": int(recipe_groups(readings.coverages).max()) + 1,
        "ink_columns": list(readings.ink_columns),
        "bands": bands,
        "format": kind,
        "digest": readings.digest,
    }
    lines = (f"{counted(len(readings), 'patch')} written as {kind}",)
    bad = any(problem.severity == "error" for problem in problems)
    return Result(results, tuple(problems), (Path(out),), "fail" if bad else "done", lines)


def _readings_or_chart(path: str | Path, ink_scale: InkScale) -> tuple[ReadingSet, list[Problem]]:
    """Return readings with their problems; of a chart reference, which has no colours, its inks."""
    try:
        return read_readings(path, ink_scale=ink_scale, need_inks=False)
    except InputError:
        chart, problems = read_readings(path, ink_scale=ink_scale, need_inks=False, need_colour=False)
        if chart.has_colour or "CHART_KIND" not in chart.keywords:
            raise
        return chart, problems


def _header(readings: ReadingSet) -> dict[str, str]:
    return _words(readings, _KEPT)


def _words(readings: ReadingSet, keys: Sequence[str]) -> dict[str, str]:
    return {key: readings.keywords[key] for key in keys if key in readings.keywords}


def _shared(sets: Sequence[ReadingSet]) -> dict[str, str]:
    """Return what all files say alike of their chart."""
    first, *others = (_words(one, CHART_KEYWORDS) for one in sets)
    return {key: text for key, text in first.items() if all(other.get(key) == text for other in others)}


def _names(sets: Sequence[ReadingSet]) -> str:
    return ", ".join(Path(readings.source).name for readings in sets)
