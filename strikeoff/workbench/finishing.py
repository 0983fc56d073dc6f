"""Readings of finishing grids to sizes to print, and to the risk that sizes, seams and joins are off."""

from __future__ import annotations

from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import Any

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.layout.bow_skew import BOW_LIMIT_PERCENT, SKEW_LIMIT_PERCENT, read_lines, worst_lines
from strikeoff.layout.finishing import printed_mm
from strikeoff.layout.finishing_drawing import finishing_drawing_svg
from strikeoff.layout.finishing_readings import DIRECTIONS, PRINTED, GridReadings, read_grid_readings
from strikeoff.layout.finishing_risk import Risk, draw_changes, meeting_risk, size_risk
from strikeoff.layout.finishing_spread import (
    ChangeSpread,
    grid_spread,
    more_needed,
    predicted_interval,
    step_changes,
)
from strikeoff.layout.repeat import snap_repeat
from strikeoff.layout.svg import write_drawing
from strikeoff.report.cautions import cautions
from strikeoff.workbench.result import Outcome, Result

#: Longest finished size. [mm]
LONGEST_MM = 200_000.0
_WIDEST_MM = 10_000.0

#: How well the mean should be known. [%]
WITHIN_PERCENT = 0.2


def measure_finishing(
    readings: str | Path,
    *,
    lines: str | Path | None = None,
    bow_limit: float | None = None,
    skew_limit: float | None = None,
    drawing: str | Path | None = None,
) -> Result:
    """Tell dimensional change, its spread and what a new piece will do; judge bow and skew.

    Parameters
    ----------
    readings : str or Path
        CSV table of marks: ``direction``, ``file_mm``, ``finished_mm``, and ``lot``, ``specimen``, steps.
    lines : str or Path, optional
        CSV table of bow and skew: ``width_mm``, ``bow_mm``, ``skew_mm``, and ``roll``, ``at_m``.
    bow_limit, skew_limit : float, optional
        Most that a roll's worst place may have; 2 and 3 by default. [%]
    drawing : str or Path, optional
        SVG or PDF to write.

    Returns
    -------
    Result
        Outcome pass or fail with ``lines``, else done.
    """
    limits = (
        BOW_LIMIT_PERCENT if bow_limit is None else bow_limit,
        SKEW_LIMIT_PERCENT if skew_limit is None else skew_limit,
    )
    if min(limits) <= 0:
        raise UsageError("limit of bow or skew cannot be", found=min(limits), expected="above 0 %")
    grid = read_grid_readings(readings)
    spreads = {d: s for d in DIRECTIONS if (s := grid_spread(grid, d)) is not None}
    results: dict[str, Any] = dict.fromkeys(DIRECTIONS)
    results |= {d: _direction_facts(grid, d, s) for d, s in spreads.items()}
    outcome: Outcome = "done"
    told = [_direction_line(d, s) for d, s in spreads.items()]
    careful = cautions(["finishing"])
    results |= {"cautions": list(careful)}
    results |= {"bow_limit_percent": limits[0], "skew_limit_percent": limits[1], "rolls": []}
    if lines is not None:
        worst = worst_lines(read_lines(lines))
        results["rolls"] = [
            {"roll": roll, "bow_percent": bow, "skew_percent": skew, "passes": _passes((bow, skew), limits)}
            for roll, (bow, skew) in worst.items()
        ]
        outcome = "pass" if all(roll["passes"] for roll in results["rolls"]) else "fail"
        told += [
            f"roll {r['roll']}: {'pass' if r['passes'] else 'FAIL'}, worst bow {r['bow_percent']:.2f} % "
            f"(limit {limits[0]:g}), worst skew {r['skew_percent']:.2f} % (limit {limits[1]:g})"
            for r in results["rolls"]
        ]
    outputs: tuple[Path, ...] = ()
    if drawing is not None:
        write_drawing(drawing, finishing_drawing_svg(spreads, f"Dimensional change: {Path(readings).stem}"))
        outputs = (Path(drawing),)
    problems = tuple(p for d, s in spreads.items() for p in _few(d, s))
    return Result(results, problems, outputs, outcome, (*told, *careful))


def finishing_risk(
    readings: str | Path,
    *,
    finished: tuple[float, float],
    tolerance: float,
    repeats: int = 1,
    dpi: tuple[float, float] | None = None,
    skew_sd: float = 0.0,
    cut_sd: float = 0.0,
    sew_sd: float = 0.0,
    seed: int = 1,
) -> Result:
    """Tell the size to print and the risk that size, repeats, seams and joins are off.

    Parameters
    ----------
    readings : str or Path
        As for `measure_finishing`, both directions, two specimens or more.
    finished : tuple of float
        Finished size wanted (across, along): of a piece or of a repeat. [mm]
    tolerance : float
        Most that a size may be off, or two edges may part. [mm]
    repeats : int
        Repeats along the order.
    dpi : tuple of float, optional
        Addressability (across, along): tells what snapping to whole press pixels adds. [dots per inch]
    skew_sd, cut_sd, sew_sd : float
        Spread of skew and cutting of each piece, of sewing. [mm]
    seed : int
        Same seed, same answer.

    Returns
    -------
    Result
    """
    if not 1 <= repeats <= 1_000_000:
        raise UsageError("number of repeats cannot be", found=repeats, expected="1 to 1,000,000")
    _check_lengths(finished, tolerance, (skew_sd, cut_sd, sew_sd))
    if seed < 0:
        raise UsageError("seed cannot be negative", found=seed, expected="0 or more")
    grid = read_grid_readings(readings)
    spreads = [grid_spread(grid, d) for d in ("weft", "warp")]
    if None in spreads:
        raise InputError(
            "both directions are needed", path=readings, found="one", expected="rows of warp and of weft"
        )
    across, along = spreads
    assert across is not None
    assert along is not None
    means = across.mean_percent, along.mean_percent
    snapped = [printed_mm(f, m) for f, m in zip(finished, means, strict=True)]
    snapping = (0.0, 0.0)
    if dpi is not None:
        unit = snap_repeat(
            *finished,
            weft_percent=means[0],
            warp_percent=means[1],
            dpi_x=dpi[0],
            dpi_y=dpi[1],
            kind="straight",
        )
        snapped, snapping = [unit.printed_width_mm, unit.printed_height_mm], unit.error_mm()
    drawn = draw_changes(across, seed=seed), draw_changes(along, seed=seed + 1)
    meeting = partial(
        meeting_risk, drawn[1], tolerance_mm=tolerance, skew_sd_mm=skew_sd, cut_sd_mm=cut_sd, sew_sd_mm=sew_sd
    )
    risks = {
        "width": size_risk(drawn[0], snapped[0], finished[0], tolerance),
        "length": size_risk(drawn[1], snapped[1], finished[1], tolerance),
        "order": size_risk(drawn[1], repeats * snapped[1], repeats * finished[1], tolerance),
        "seam_same_lot": meeting(snapped[1], same_lot=True),
        "seam_other_lot": meeting(snapped[1], same_lot=False),
        "join_same_lot": meeting(repeats * snapped[1], same_lot=True),
    }
    results = {
        "finished_mm": list(finished),
        "printed_mm": [round(v, 4) for v in snapped],
        "tolerance_mm": tolerance,
        "repeats": repeats,
        "snapping_error_mm": [round(v + 0.0, 6) for v in snapping],
        "snapping_error_over_order_mm": round(repeats * snapping[1] + 0.0, 6),
        "risks": {name: _risk_facts(risk) for name, risk in risks.items()},
        "holds_for_new_lots": across.holds_for_new_lots and along.holds_for_new_lots,
        "seed": seed,
    }
    told = (
        f"{finished[0]:g} x {finished[1]:g} mm finished, {snapped[0]:.2f} x {snapped[1]:.2f} mm printed",
        _snapping_line(snapping, repeats, dpi is not None),
        f"shrink spread of finished sizes, the order {repeats} x the length; snapping is not in it:",
        *(
            f"  {name.replace('_', ' '):<15} 90 % within {r.low_mm:+8.2f} to {r.high_mm:+8.2f} mm; "
            f"{100 * r.beyond:5.1f} % beyond {tolerance:g} mm"
            for name, r in risks.items()
        ),
    )
    problems = (*_few("weft", across), *_few("warp", along))
    return Result(results, problems, (), "done", told)


def _check_lengths(finished: tuple[float, float], tolerance: float, spreads: tuple[float, ...]) -> None:
    for what, lengths, above, most in (
        ("finished size cannot be", finished, True, LONGEST_MM),
        ("tolerance cannot be", (tolerance,), True, _WIDEST_MM),
        ("spread of skew, cutting or sewing cannot be", spreads, False, _WIDEST_MM),
    ):
        wrong = [v for v in lengths if not (0 <= v <= most) or (above and v == 0)]
        if wrong:
            raise UsageError(
                what, found=f"{wrong[0]:g} mm", expected=f"{'above 0' if above else '0'} to {most:,.0f} mm"
            )


def _direction_facts(grid: GridReadings, direction: str, spread: ChangeSpread) -> dict[str, Any]:
    band = predicted_interval(spread)
    iso = grid_spread(grid, direction, iso=True) if PRINTED in grid.stages else None
    inside, between = spread.specimen_sd_percent, spread.lot_sd_percent
    lots = len(spread.lots)
    return {
        "change_percent": spread.mean_percent,
        "iso_5077_percent": None if iso is None else iso.mean_percent,
        "steps_percent": step_changes(grid, direction),
        "specimens": spread.specimens,
        "lots": lots,
        "specimen_sd_percent": inside,
        "lot_sd_percent": between,
        "interval_90_percent": None if band is None else list(band),
        "holds_for_new_lots": spread.holds_for_new_lots,
        "more_specimens": None
        if inside is None
        else more_needed(inside, max(map(len, spread.lots)), WITHIN_PERCENT),
        "more_lots": None
        if spread.lot_means_variance is None
        else more_needed(spread.lot_means_variance**0.5, lots, WITHIN_PERCENT),
        "printed_for_1000_mm": printed_mm(1000.0, spread.mean_percent),
    }


def _direction_line(direction: str, spread: ChangeSpread) -> str:
    band = predicted_interval(spread)
    told = "interval not known from one specimen"
    if band is not None:
        whose = "a new piece of a new lot" if spread.holds_for_new_lots else "a new piece of this lot"
        told = f"90 % interval of {whose} {band[0]:+.2f} to {band[1]:+.2f} %"
    return (
        f"{direction} {spread.mean_percent:+.2f} % ({spread.specimens} specimens, {len(spread.lots)} lots): "
        f"1000 mm finished is {printed_mm(1000.0, spread.mean_percent):.2f} mm printed; {told}"
    )


def _snapping_line(snapping: tuple[float, float], repeats: int, known: bool) -> str:
    if not known:
        return "snapping to press pixels: not counted, the addressability was not given"
    return (
        f"snapping to press pixels: {snapping[0]:+.4f} x {snapping[1]:+.4f} mm a repeat, "
        f"{repeats * snapping[1]:+.3f} mm over the order"
    )


def _few(direction: str, spread: ChangeSpread) -> tuple[Problem, ...]:
    if spread.specimens == 1:
        return (
            Problem(
                "warning", direction, "spread is not known", "one specimen", "three", "Read more specimens"
            ),
        )
    if not spread.holds_for_new_lots:
        return (
            Problem(
                "warning",
                direction,
                "one lot was read: the interval says nothing about other lots",
                "one lot",
                "three lots or more",
                "Read a grid of each new lot",
            ),
        )
    return ()


def _passes(found: tuple[float, float], limits: tuple[float, float]) -> bool:
    return found[0] <= limits[0] and found[1] <= limits[1]


def _risk_facts(risk: Risk) -> dict[str, float]:
    return {name: round(value, 5) for name, value in asdict(risk).items()}
