"""Marks for pieces on a roll: where they stand, for the operator and for the cutter."""

from __future__ import annotations

from pathlib import Path

from strikeoff.layout.mark_records import KINDS
from strikeoff.layout.marks import place_marks
from strikeoff.layout.marks_drawing import marks_svg
from strikeoff.layout.marks_file import write_positions
from strikeoff.layout.marks_problems import told_together
from strikeoff.layout.placement_file import read_layout
from strikeoff.layout.svg import write_drawing
from strikeoff.report.cautions import cautions
from strikeoff.workbench.design_marks import ENDS_MM, mark_options
from strikeoff.workbench.result import Result


def roll_marks(
    layout: str | Path,
    *,
    marks: tuple[str, ...] | None = None,
    cutter_every: float | None = None,
    bare: float | None = None,
    fold: tuple[float, float] | None = None,
    eyelets: float | None = None,
    job: str | None = None,
    positions: str | Path | None = None,
    drawing: str | Path | None = None,
) -> Result:
    """Place marks in the waste of a layout; none ever stands on a piece.

    Parameters
    ----------
    layout : str or Path
        Layout document.
    marks : tuple of str, optional
        Kinds wanted; by default all, and folds and eyelets where they are given.
    cutter_every : float, optional
        Finished distance of cutter marks; 400 by default. [mm]
    bare : float, optional
        Cloth at each edge that stays unprinted; the margin of the layout by default. [mm]
    fold : tuple of float, optional
        Finished distance of folds from the trim, at the sides, and above and below. [mm]
    eyelets : float, optional
        Eyelets in the corners of the folded piece and at most so far apart. [mm]
    job : str, optional
        Begins the codes of pieces; the name of the layout file by default.
    positions : str or Path, optional
        JSON or CSV file of positions to write.
    drawing : str or Path, optional
        SVG or PDF to write.

    Returns
    -------
    Result
    """
    roll = read_layout(layout)
    name = job or Path(layout).stem
    kinds = KINDS if marks is None else marks
    options = mark_options(kinds, cutter_every, bare, fold, eyelets, name)
    placed, problems = place_marks(roll, options)
    outputs: list[Path] = []
    if positions is not None:
        write_positions(positions, roll, placed)
        outputs.append(Path(positions))
    if drawing is not None:
        write_drawing(drawing, marks_svg(roll, placed, f"Marks, {name}", ENDS_MM, ENDS_MM))
        outputs.append(Path(drawing))
    careful = cautions([]) if fold or eyelets is not None else ()
    counts = {kind: sum(m.kind == kind for m in placed) for kind in options.kinds}
    results = {
        "marks": counts,
        "codes": {m.piece: m.text for m in placed if m.kind == "code"},
        "without_room": len(problems),
        "waste_at_ends_mm": [options.head_mm, options.tail_mm],
        "cautions": list(careful),
    }
    lines = [", ".join(f"{count} {kind}" for kind, count in counts.items() if count) + " marks", *careful]
    return Result(results, told_together(problems), tuple(outputs), "done", tuple(lines))
