"""A grid that is measured on the print and after finishing: dimensional change, bow and skew.

References
----------
ISO 3759:2011, dimensional change: specimens of 500 mm or more, three pairs of marks each way,
at least 350 mm apart and at least 50 mm from all edges. Bow and skew: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.base.errors import UsageError
from strikeoff.chart.drawing import Inks, Page, Rect, Text, frame, letters, only, wrapped
from strikeoff.chart.layout import check_page
from strikeoff.inks.roles import darkest_ink

LEAST_SPECIMEN_MM = 500.0
LEAST_DISTANCE_MM = 350.0
LEAST_EDGE_MM = 50.0

_LINE_MM = 0.5
_ARM_MM = 10.0
_TEXT_MM = 5.0
_ADVICE = (
    "Condition the cloth flat and without tension. Measure between the middles of the crosses to 1 mm, "
    "after finishing; on the print too, to tell the feed of the press from the finishing. "
    "Across (weft): A1 to C1, A2 to C2, A3 to C3. Along (warp): A1 to A3, B1 to B3, C1 to C3. "
    "Change = 100 x (finished - file) / file, shrinkage negative; take the mean of the three, across and "
    "along apart.",
    "Bow: lay a straight edge over both ends of the long line; the largest distance between line and edge, "
    "in % of the length. Skew: lay a square along the left selvedge; the distance between the square and the "
    "right end of the line, in % of its length.",
)


@dataclass(frozen=True)
class GridMarks:
    """Where the marks stand, from the left upper corner. [mm].

    Attributes
    ----------
    columns_mm, rows_mm : tuple of float
        Middles of the crosses, three each way.
    """

    columns_mm: tuple[float, float, float]
    rows_mm: tuple[float, float, float]

    @property
    def across_mm(self) -> float:
        """Distance of the marks across, in the file."""
        return self.columns_mm[2] - self.columns_mm[0]

    @property
    def along_mm(self) -> float:
        """Distance of the marks along, in the file."""
        return self.rows_mm[2] - self.rows_mm[0]


def grid_marks(page_mm: tuple[float, float]) -> GridMarks:
    """Return the marks of a grid: nine crosses, as far apart as 50 mm from the edges allows.

    Raises
    ------
    UsageError
        When the specimen is smaller than 500 mm each way.

    Examples
    --------
    >>> grid_marks((500.0, 600.0)).columns_mm, grid_marks((500.0, 600.0)).along_mm
    ((60.0, 250.0, 440.0), 480.0)
    """
    check_page(page_mm)
    if min(page_mm) < LEAST_SPECIMEN_MM:
        raise UsageError(
            "cloth is too small for a finishing grid",
            found=f"{page_mm[0]:g}x{page_mm[1]:g} mm",
            expected="500x500 mm or more (ISO 3759)",
        )
    edge = LEAST_EDGE_MM + _ARM_MM
    columns, rows = ((edge, size / 2, size - edge) for size in page_mm)
    return GridMarks(columns, rows)


def grid_page(ink_names: tuple[str, ...], page_mm: tuple[float, float], title: str) -> Page:
    """Return the page: crosses, a bow and skew line right across, and how to measure.

    Parameters
    ----------
    ink_names : tuple of str
        Inks in channel order; marks are printed in the darkest.
    page_mm : tuple of float
        Width across and length along the roll. [mm]
    title : str
        First line.
    """
    marks = grid_marks(page_mm)
    dark = only(len(ink_names), darkest_ink(ink_names))
    width, height = page_mm
    items: list[Rect | Text] = list(frame(0.0, 0.0, width, height, _LINE_MM, dark))
    for letter, x in zip("ABC", marks.columns_mm, strict=True):
        for number, y in enumerate(marks.rows_mm, 1):
            items += _cross(x, y, dark)
            items.append(Text(x + 3.0, y - 5.0, _TEXT_MM, f"{letter}{number}", dark))
    # Bow and skew show in a line that was straight across the cloth: one near each end.
    for y in (marks.rows_mm[0] - 25.0, marks.rows_mm[2] + 25.0):
        items.append(Rect(_ARM_MM, y, width - 2 * _ARM_MM, _LINE_MM, dark))
        items.append(Text(_ARM_MM + 2.0, y - 4.0, _TEXT_MM, "bow and skew", dark))
    left = marks.columns_mm[0] + 15.0
    said = f"marks: {marks.across_mm:g} mm across, {marks.along_mm:g} mm along, in the file"
    room = marks.columns_mm[1] - left - 15.0
    lines = [*wrapped(title, room, _TEXT_MM), *wrapped(said, room, _TEXT_MM)]
    for paragraph in _ADVICE:
        lines += ["", *wrapped(paragraph, room, _TEXT_MM)]
    top = marks.rows_mm[0] + 15.0
    items += [
        Text(left, top + 1.5 * _TEXT_MM * i, _TEXT_MM, letters(line), dark)
        for i, line in enumerate(lines)
        if line
    ]
    items.append(_arrow_text(marks, dark))
    return Page(width, height, ink_names, tuple(items))


def _cross(x: float, y: float, inks: Inks) -> list[Rect]:
    """Return a cross whose middle is at a point."""
    return [
        Rect(x - _ARM_MM, y - _LINE_MM / 2, 2 * _ARM_MM, _LINE_MM, inks),
        Rect(x - _LINE_MM / 2, y - _ARM_MM, _LINE_MM, 2 * _ARM_MM, inks),
    ]


def _arrow_text(marks: GridMarks, inks: Inks) -> Text:
    x = (marks.columns_mm[1] + marks.columns_mm[2]) / 2
    text = "^ warp: along the roll, this end first | across: weft"
    return Text(x, marks.rows_mm[0] + 15.0, _TEXT_MM, text, inks, centred=True)
