"""Readings to a condition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.colour.cielab import lab_to_xyz
from strikeoff.colour.weights import canonical_illuminant, canonical_observer, white_point
from strikeoff.condition.ink_space import (
    calibrated_limits,
    check_ink_space,
    inks_by_name_only,
    without_named,
)
from strikeoff.condition.record import Condition, make_view
from strikeoff.inks.spaces import InkSpaces, identity_spaces
from strikeoff.inks.tables import to_codes
from strikeoff.measurement.consistency import own_light
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import merge_repeats
from strikeoff.model.black import BlackPolicy
from strikeoff.model.forward import fit_forward
from strikeoff.model.validation import validate
from strikeoff.qualify.media_white import white_places
from strikeoff.qualify.ramps import falling_inks
from strikeoff.qualify.reach import apart_problem, find_reach, lighter_problem

FloatArray = NDArray[np.float64]

_MAX_INKS = 12
_CLOTH_INK = 0.02


def build_condition(
    readings: ReadingSet,
    data: bytes,
    *,
    name: str,
    label: str,
    total_ink: float | None = None,
    spaces: InkSpaces | None = None,
    policy: BlackPolicy | None = None,
    process_inks: Sequence[str] = (),
    illuminant: str | None = None,
    observer: str | None = None,
    validated: bool = True,
    problems: tuple[Problem, ...] = (),
    progress: Progress = silent,
) -> Condition:
    """Make a condition, without profiles yet.

    Parameters
    ----------
    readings : ReadingSet
        Inks with spectra, XYZ or Lab.
    data : bytes
        The readings file itself, kept as evidence.
    name : str
        What people will call the condition.
    label : str
        What the readings are: measured, smoothed data, simulated or reference engine.
    total_ink : float, optional
        Total ink limit in laid-down ink, 3.0 is 300 %. Default: that of ``spaces``, else the most
        ink in the readings, with a warning.
    spaces : InkSpaces, optional
        Inks, screen and curves that the chart was printed through; straight curves by default.
    policy : BlackPolicy, optional
        Black policy.
    process_inks : sequence of str
        White, clear, fluorescent or metallic inks that recipes may use nevertheless.
    illuminant, observer : str, optional
        The condition's light; the readings' own by default. Another needs spectra.
    validated : bool
        Whether error figures are found; False for what are no readings of printed patches.
    problems : tuple of Problem
        What was noticed before, kept in the record.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Condition

    Raises
    ------
    InputError
        Too few patches, too many inks, no bare cloth; readings printed through other curves.
    UsageError
        A light that the readings cannot answer, a limit that no ink fits under.
    """
    found = list(problems)
    check_ink_space(readings, spaces)
    light, eye = _light(readings, illuminant, observer)
    merged = merge_repeats(readings)
    repeats = merged.counts
    bands, wavelengths = _bands(merged, light, eye)
    _check_inks(merged, found)
    found += falling_inks(merged)
    view = make_view(light, eye, wavelengths)
    plain = identity_spaces(readings.inks, float(len(readings.inks)))
    laid_down = _with_total(merged, spaces or plain, total_ink, found)
    limits = calibrated_limits(laid_down)
    _check_process_inks(process_inks, laid_down)

    # Many small factorings: threads inside them wait for each other far longer than they work, and
    # one thread adds up in the same order on every machine.
    with threadpool_limits(1, user_api="blas"):
        progress("validate the model", 0.0)
        checked = (
            validate(merged.coverages, repeats, bands, view, lambda f: progress("validate the model", f))
            if validated
            else None
        )
        progress("fit the model", 0.0)
        forward = fit_forward(merged.coverages, repeats, bands, view)
        native = forward.under(view)
    progress("tabulate the model", 0.0)
    reach = find_reach(
        native,
        laid_down.channels,
        without_named(limits, laid_down, process_inks),
        policy or BlackPolicy(),
        lambda f: progress("find the gamut", f),
        called_white=white_places(laid_down),
    )
    if (too_dark := reach.black_problem()) is not None:
        found.append(too_dark)
    apart = apart_problem(native, laid_down.channels, without_named(limits, laid_down, process_inks))
    if apart is not None:
        found.append(apart)
    made = Condition(
        name=name,
        ink_columns=readings.ink_columns,
        setup=replace(readings.setup, illuminant=light, observer=eye),
        wavelengths_nm=wavelengths,
        limits=limits,
        policy=reach.policy,
        spaces=laid_down,
        forward=forward,
        native=native,
        table=reach.table,
        boundary=reach.boundary,
        black_lab=reach.black_lab,
        validation=checked,
        readings=data,
        readings_name=readings.source.rsplit("/", 1)[-1],
        readings_digest=readings.digest,
        label=label,
        problems=tuple(found),
        process_inks=tuple(process_inks),
        white_recipe=reach.white_recipe,
    ).keeping(reach.nodes)
    lighter = lighter_problem(made, fresh=True)
    return made if lighter is None else replace(made, problems=(*made.problems, lighter))


def _light(readings: ReadingSet, illuminant: str | None, observer: str | None) -> tuple[str, str]:
    own = own_light(readings)
    light = canonical_illuminant(illuminant or own[0])
    eye = canonical_observer(observer or own[1])
    seen = (canonical_illuminant(own[0]), canonical_observer(own[1]))
    if readings.spectra is None and (light, eye) != seen:
        raise UsageError(
            "readings without spectra can be seen under their own light only",
            found=f"{light}/{eye}",
            expected="/".join(own),
            advice="Measure with a spectral instrument, or leave the light out",
        )
    return light, eye


def _bands(readings: ReadingSet, light: str, eye: str) -> tuple[FloatArray, FloatArray | None]:
    """Return spectra and wavelengths, or XYZ over white and None."""
    if readings.spectra is not None:
        return readings.spectra, readings.wavelengths_nm
    white = white_point(light, eye)
    if readings.xyz is not None:
        return np.asarray(readings.xyz / white), None
    if readings.lab is None:
        raise InputError("readings hold no colour", path=readings.source, expected="spectra, XYZ or Lab")
    return np.asarray(lab_to_xyz(readings.lab, white) / white), None


def _check_inks(readings: ReadingSet, problems: list[Problem]) -> None:
    coverages = readings.coverages
    if coverages.shape[1] > _MAX_INKS:
        raise InputError(
            "too many inks", path=readings.source, found=coverages.shape[1], expected=f"1 to {_MAX_INKS}"
        )
    for column, most in zip(readings.ink_columns, coverages.max(axis=0), strict=True):
        if most < 0.05:
            raise InputError(
                "an ink was never printed",
                path=readings.source,
                where=f"column {column}",
                found=f"at most {most * 100:.1f} %",
                expected="a ramp up to the solid",
                advice="Leave the column out, or read a chart that holds the ink",
            )
        if most < 0.95:
            problems.append(
                Problem(
                    "warning",
                    f"column {column}",
                    "ink was never printed solid",
                    f"{most * 100:.0f} %",
                    "100 %",
                    "Amounts above that are extrapolated",
                )
            )
    if coverages.sum(axis=1).min() > _CLOTH_INK:
        raise InputError(
            "no patch of bare cloth",
            path=readings.source,
            found=f"least total {coverages.sum(axis=1).min() * 100:.0f} %",
            expected="a patch with no ink",
            advice="Read the bare cloth and add it to the file",
        )


def _check_process_inks(process_inks: Sequence[str], spaces: InkSpaces) -> None:
    special = inks_by_name_only(spaces)
    for name in process_inks:
        if name not in special:
            raise UsageError(
                "no special ink of that name",
                found=name,
                expected=", ".join(special) or "a white, clear, fluorescent or metallic ink; there is none",
            )


def _beyond_chart(readings: ReadingSet, spaces: InkSpaces, total_ink: float) -> bool:
    """Return whether legal recipes have totals in calibrated ink above all of the chart.

    Bent curves lay less down than the straight limit in calibrated ink allows for, in any chart.
    """
    limits = calibrated_limits(replace(spaces, total=total_ink))
    return float(limits.sums(readings.coverages).max()) < limits.total - 0.005


def _with_total(
    readings: ReadingSet, spaces: InkSpaces, total_ink: float | None, problems: list[Problem]
) -> InkSpaces:
    """Return the ink spaces with the total ink limit."""
    count = len(spaces.channels)
    highest = float(spaces.load(spaces.to_laid_down(to_codes(readings.coverages))).max())
    if total_ink is None and spaces.total_is_set:
        total_ink = spaces.total
    if total_ink is None:
        most = float(spaces.loads.sum())
        given = spaces.total < float(count)
        problems.append(
            Problem(
                "warning",
                "total ink",
                f"the limit of {spaces.total * 100:.0f} % is more than all inks lay down; "
                "the highest sum in the readings is taken"
                if given
                else "no limit was given; the highest sum in the readings is taken",
                found=f"{highest * 100:.0f} %",
                expected=f"a limit below {most * 100:.0f} %, 100 % being the heaviest ink" if given else None,
                advice="Find the limit on a chart and give it",
            )
        )
        total_ink = highest
    elif total_ink > highest + 0.005 and _beyond_chart(readings, spaces, total_ink):
        problems.append(
            Problem(
                "warning",
                "total ink",
                "limit is above every total in the readings, so the darkest colours are extrapolated",
                found=f"{total_ink * 100:.0f} %",
                expected=f"at most {highest * 100:.0f} %",
            )
        )
    if total_ink < 0.5:
        raise UsageError(
            "total ink limit is too low to print with",
            found=f"{total_ink * 100:g} %",
            expected="50 % or more",
        )
    return replace(spaces, total=min(total_ink, float(count)))
