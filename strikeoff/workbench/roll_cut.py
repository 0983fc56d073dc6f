"""Cut paths of a roll or of one drawing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from strikeoff.artwork.coverage import open_coverage
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.base.units import pitch_mm
from strikeoff.layout.contours import (
    TOLERANCE_MM,
    Contour,
    ContourSet,
    check_contours,
    check_tolerance,
)
from strikeoff.layout.contours_dxf import read_dxf_contours
from strikeoff.layout.contours_pdf import read_pdf_contours
from strikeoff.layout.contours_svg import read_svg_contours
from strikeoff.layout.contours_trace import trace_contours
from strikeoff.layout.cut_files import check_cut_name, write_cuts
from strikeoff.layout.cut_paths import CutPlan, plan_cuts
from strikeoff.layout.finishing import finished_mm, printed_mm
from strikeoff.layout.piece_contours import contours_on_piece, moved_contours, trim_contours
from strikeoff.layout.placement import Layout, Placement
from strikeoff.layout.placement_file import read_layout
from strikeoff.report.cautions import cautions
from strikeoff.workbench.result import Result

_MOST_OFFSET_MM = 1000.0


def cut_roll(
    out: str | Path,
    *,
    layout: str | Path | None = None,
    contour: str | Path | None = None,
    contour_layer: str | None = None,
    alpha: str | Path | None = None,
    own_alpha: bool = False,
    trace: str = "alpha",
    threshold: float | None = None,
    smallest: float | None = None,
    size: tuple[float, float] | None = None,
    warp: float | None = None,
    weft: float | None = None,
    pieces: tuple[str, ...] = (),
    offset: float | None = None,
    tolerance: float | None = None,
    progress: Progress = silent,
) -> Result:
    """Write the paths along which the printed cloth is cut.

    Parameters
    ----------
    out : str or Path
        SVG, DXF or PDF by its name.
    layout : str or Path, optional
        Layout document. Alone: the trim of each of its pieces; with a contour or alpha: that on every piece.
    contour : str or Path, optional
        SVG, DXF or PDF with closed lines at finished size.
    contour_layer : str, optional
        Layer of a PDF that holds them.
    alpha : str or Path, optional
        Picture that is traced.
    own_alpha : bool
        Trace the artwork that each piece of the layout names.
    trace : {"alpha", "ink"}
        Trace transparency, or whatever is not bare.
    threshold : float, optional
        Coverage along the line; 0.5 by default.
    smallest : float, optional
        Smaller specks and holes of a trace are left out; 1 by default. [mm2]
    size : tuple of float, optional
        Finished size of the picture (across, along); from its piece or resolution by default. [mm]
    warp, weft : float, optional
        Dimensional change along and across, where there is no layout. [%]
    pieces : tuple of str
        Codes of the pieces that are cut; all by default.
    offset : float, optional
        Finished distance of the cut outside the contour, negative inside. [mm]
    tolerance : float, optional
        Most distance of the path from the contour, finished; 0.05 by default. [mm]
    progress : Progress
        Told of traces.

    Returns
    -------
    Result
    """
    check_cut_name(out)
    sources = [name for name, is_given in (("a contour", contour), ("alpha", alpha)) if is_given]
    sources += ["own alpha"] if own_alpha else []
    if len(sources) > 1 or not (sources or layout):
        raise UsageError(
            "cuts come from one place",
            found=", ".join(sources) or "none",
            expected="a layout, or one of these",
        )
    _check_options(layout, sources, warp, weft, size, contour_layer, own_alpha, pieces)
    fine = TOLERANCE_MM if tolerance is None else tolerance
    check_tolerance(fine)
    away = offset or 0.0
    if abs(away) > _MOST_OFFSET_MM:
        raise UsageError("offset cannot be", found=f"{away:g} mm", expected="-1,000 to 1,000 mm")
    reader = _Reader(
        contour, contour_layer, alpha, trace, 0.5 if threshold is None else threshold,
        1.0 if smallest is None else smallest, size, fine, progress,
    )  # fmt: skip
    if layout is None:
        found = reader.contours(None)
        plan = _alone(found, warp or 0.0, weft or 0.0, away, progress)
        roll = None
    else:
        roll = _chosen(read_layout(layout), pieces)
        plan = _on_roll(roll, reader, bool(sources), away, progress)
    write_cuts(out, plan, f"Cut paths of {Path(str(layout or contour or alpha)).name}")
    change = (warp or 0.0, weft or 0.0) if roll is None else (roll.warp_percent, roll.weft_percent)
    return _told(plan, reader, roll, change, away, fine, out)


def _check_options(
    layout: object,
    sources: list[str],
    warp: float | None,
    weft: float | None,
    size: object,
    contour_layer: object,
    own_alpha: bool,
    pieces: tuple[str, ...],
) -> None:
    if layout is None and (warp is None or weft is None):
        raise UsageError("dimensional change is missing", expected="warp and weft, or a layout")
    if layout is not None and (warp is not None or weft is not None):
        raise UsageError("dimensional change is given twice", expected="that of the layout, no warp or weft")
    if layout is None and (own_alpha or pieces):
        raise UsageError("pieces are in a layout", expected="a layout")
    if size is not None and sources != ["alpha"]:
        raise UsageError("only a picture that is traced can be sized", expected="alpha")
    if contour_layer is not None and sources != ["a contour"]:
        raise UsageError("only a contour file has layers", expected="a contour in PDF")


class _Reader:
    """Reads each source once; counts what traces left out."""

    def __init__(
        self,
        contour: str | Path | None,
        layer: str | None,
        alpha: str | Path | None,
        trace: str,
        threshold: float,
        smallest: float,
        size: tuple[float, float] | None,
        tolerance: float,
        progress: Progress,
    ) -> None:
        self.contour, self.layer, self.alpha, self.size = contour, layer, alpha, size
        self.tolerance = tolerance
        self.options: dict[str, Any] = {
            "threshold": threshold, "least_mm2": smallest, "tolerance_mm": tolerance, "progress": progress
        }  # fmt: skip
        self.trace = trace
        self.specks = 0
        self._known: dict[tuple[str, tuple[float, float] | None], ContourSet] = {}

    def contours(self, piece: Placement | None) -> ContourSet:
        """Return the contours for a piece, or those that stand alone."""
        path = str(self.contour or self.alpha or (piece.artwork if piece else ""))
        upright = piece.upright_mm if piece is not None and piece.crop_mm is None else None
        key = path, None if self.contour else upright
        if key not in self._known:
            found = self._file(path) if self.contour else self._traced(path, piece, upright)
            check_contours(found.contours, path=path)
            self._known[key] = found
        return self._known[key]

    def _file(self, path: str) -> ContourSet:
        ending = Path(path).suffix.lower()
        if self.layer is not None and ending != ".pdf":
            raise UsageError("only a PDF has layers", path=path)
        if ending == ".svg":
            return read_svg_contours(path, self.tolerance)
        if ending == ".dxf":
            return read_dxf_contours(path, self.tolerance)
        if ending == ".pdf":
            return read_pdf_contours(path, self.tolerance, self.layer)
        raise UsageError(
            "unknown kind of contour", found=Path(path).name, expected="a name in .svg, .dxf or .pdf"
        )

    def _traced(self, path: str, piece: Placement | None, upright: tuple[float, float] | None) -> ContourSet:
        if not path and piece is not None:
            raise InputError("piece names no artwork", where=piece.code, advice="Give alpha or a contour")
        plane, dpi = open_coverage(path, self.trace)
        size = self.size or upright
        if size is None:
            if dpi is None:
                raise InputError(
                    "size of the picture is not known",
                    path=path,
                    expected="a resolution in the file, or its finished size",
                )
            size = plane.width * pitch_mm(dpi[0]), plane.height * pitch_mm(dpi[1])
        try:
            found, specks = trace_contours(plane, size, **self.options)
        except InputError as error:
            error.path = path
            raise
        self.specks += specks
        return found


def _chosen(layout: Layout, pieces: tuple[str, ...]) -> Layout:
    strange = set(pieces) - {p.code for p in layout.placements}
    if strange:
        raise UsageError(
            "no such piece in the layout", found=", ".join(sorted(strange)), expected="codes of the layout"
        )
    if not layout.placements:
        raise InputError("layout has no piece", expected="at least one")
    return layout if not pieces else replace(
        layout, placements=tuple(p for p in layout.placements if p.code in pieces)
    )  # fmt: skip


def _on_roll(layout: Layout, reader: _Reader, has_source: bool, away: float, progress: Progress) -> CutPlan:
    if has_source:
        lines: tuple[Contour, ...] = tuple(
            line for piece in layout.placements for line in contours_on_piece(reader.contours(piece), piece)
        )
    else:
        lines = trim_contours(layout)
    check_contours(lines)
    box = 0.0, 0.0, layout.cuttable_mm[0], layout.length_mm[0]
    moved = moved_contours(lines, away)
    return plan_cuts(moved, layout.warp_percent, layout.weft_percent, box_mm=box, progress=progress)


def _alone(found: ContourSet, warp: float, weft: float, away: float, progress: Progress) -> CutPlan:
    """Plan cuts of one drawing; its page grows where they lie beyond it."""
    lines = found.contours
    if found.size_mm is None:
        top = min(float(line.points[:, 1].min()) for line in lines)
        lines = tuple(Contour(line.name, line.points - (0.0, top)) for line in lines)
    plan = plan_cuts(moved_contours(lines, away), warp, weft, progress=progress)
    if found.size_mm is None:
        return plan
    page = printed_mm(found.size_mm[0], weft), printed_mm(found.size_mm[1], warp)
    left, top, right, bottom = plan.box_mm
    return replace(plan, box_mm=(min(left, 0.0), min(top, 0.0), max(right, page[0]), max(bottom, page[1])))


def _told(
    plan: CutPlan,
    reader: _Reader,
    roll: Layout | None,
    change: tuple[float, float],
    away: float,
    fine: float,
    out: str | Path,
) -> Result:
    left, top, right, bottom = plan.box_mm
    inner = sum(path.is_inner for path in plan.paths)
    careful = cautions(["cutting"])
    results = {
        "cuts": len(plan.paths),
        "inner": inner,
        "points": sum(len(path.points) for path in plan.paths),
        "pieces": None if roll is None else len(roll.placements),
        "box_mm": list(plan.box_mm),
        "cut_m": plan.cut_m,
        "travel_m": plan.travel_m,
        "offset_mm": away,
        "tolerance_mm": fine,
        "specks": reader.specks,
        "cautions": list(careful),
    }
    problems: tuple[Problem, ...] = ()
    if reader.specks:
        problems = (
            Problem("note", "trace", "specks and small holes are left out", found=str(reader.specks)),
        )
    size = finished_mm(right - left, change[1]), finished_mm(bottom - top, change[0])
    lines = (
        f"{len(plan.paths)} cuts, {inner} of them inner; {plan.cut_m:.2f} m to cut, "
        f"{plan.travel_m:.2f} m of way between, as printed",
        f"on {size[0]:.1f} x {size[1]:.1f} mm of cloth as finished, {right - left:.1f} x "
        f"{bottom - top:.1f} mm as printed",
        *careful,
    )
    return Result(results, problems, (Path(out),), "done", lines)
