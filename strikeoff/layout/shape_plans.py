"""What is nested by its shapes, and where it lies."""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.layout.contours import Contour, Points
from strikeoff.layout.finishing import finishing_factor, printed_mm
from strikeoff.layout.shapes import Shape


@dataclass(frozen=True)
class ShapeJob:
    """What is to be nested on which cloth.

    Attributes
    ----------
    shapes : tuple of Shape
        Finished.
    width_mm, margin_mm : float
        Unfinished cloth, and what is lost at each edge. [mm]
    warp_percent, weft_percent : float
        Dimensional change along and across, shrinkage negative. [%]
    gap_mm : float
        Least finished distance between pieces. [mm]
    """

    shapes: tuple[Shape, ...]
    width_mm: float
    margin_mm: float
    warp_percent: float
    weft_percent: float
    gap_mm: float = 2.0


@dataclass(frozen=True)
class PlacedShape:
    """One copy as it lies on the finished cloth.

    Attributes
    ----------
    name : str
        Of the shape and the copy's number.
    shape : str
        Its shape.
    turn_degrees : float
        Clockwise as seen. [deg]
    outline : ndarray, shape (n, 2)
        From the left upper corner of the cuttable cloth, finished. [mm]
    holes : tuple of ndarray
        The same of its holes. [mm]
    """

    name: str
    shape: str
    turn_degrees: float
    outline: Points
    holes: tuple[Points, ...]

    def contours(self) -> tuple[Contour, ...]:
        """Return its lines for cutting."""
        inner = (Contour(f"{self.name}/hole {k}", hole) for k, hole in enumerate(self.holes, 1))
        return (Contour(self.name, self.outline), *inner)


@dataclass(frozen=True)
class ShapePlan:
    """A roll of free shapes.

    Attributes
    ----------
    job : ShapeJob
        What was asked.
    placed : tuple of PlacedShape
        In the order in which they leave the press.
    length_mm : float
        Finished. [mm]
    bound_mm : float
        No nesting is shorter than this, finished. [mm]
    fill : float
        Area of pieces over that of the cuttable cloth they lie on, 0-1.
    """

    job: ShapeJob
    placed: tuple[PlacedShape, ...]
    length_mm: float
    bound_mm: float
    fill: float

    @property
    def cuttable_mm(self) -> tuple[float, float]:
        """Width that can be used: (printed, finished) in millimetres."""
        printed = self.job.width_mm - 2 * self.job.margin_mm
        return printed, printed * finishing_factor(self.job.weft_percent)

    @property
    def printed_length_mm(self) -> float:
        """Length on the unfinished cloth, in millimetres."""
        return printed_mm(self.length_mm, self.job.warp_percent)

    @property
    def gap_percent(self) -> float:
        """How much longer than the lower bound, in percent."""
        return (self.length_mm / self.bound_mm - 1) * 100
