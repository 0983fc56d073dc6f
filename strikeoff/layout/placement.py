"""Pieces on a roll: which artwork lies where, how it is turned, in which order it leaves the press.

Every size is finished, in millimetres; the printed one follows from the dimensional change. The origin is
the left upper corner of the cuttable cloth, the top leaves the press first.
"""

from __future__ import annotations

from dataclasses import dataclass

from strikeoff.layout.fill import RepeatFill
from strikeoff.layout.finishing import finishing_factor, printed_mm

#: Left, top, right, bottom.
Edges = tuple[float, float, float, float]

TURNS_DEGREES = (0, 90, 180, 270)
MOST_PLACEMENTS = 100_000


@dataclass(frozen=True)
class Placement:
    """One piece as it lies, or an area that is filled with a repeat.

    Attributes
    ----------
    code : str
        Name of the piece, unique on the roll.
    x_mm, y_mm : float
        Left and upper edge of its printed box, bleed included, finished. [mm]
    width_mm, height_mm : float
        Size of that box as it lies, after turning, finished. [mm]
    artwork : str
        File of the artwork; empty when it is not known yet.
    bleed_mm : float or tuple of float
        Of the box, beyond the trim at every edge, finished; four numbers where the edges differ: left, top,
        right, bottom of the box as it lies. [mm]
    turn_degrees : int
        Clockwise: 0, 90, 180 or 270.
    mirror : bool
        Left and right of the artwork change places before it is turned.
    crop_mm : tuple of float, optional
        Part of the upright artwork that is shown: left, top, width, height, finished; all of it when
        None. It may reach beyond the artwork, where the artwork's mirror image stands, by the bleed
        and ``mirrored_mm``. [mm]
    artwork_mm : tuple of float, optional
        Finished size of the whole upright artwork (across, along); that of the upright box when None.
        Needed with a crop. [mm]
    mirrored_mm : float
        How much further than the bleed a crop may reach beyond the artwork: hems and pockets. [mm]
    repeat : RepeatFill, optional
        Fills the box with a repeat, whose tile is turned and mirrored like the artwork of a piece; such
        an area has no crop and no other size of its artwork.
    group : str
        Pieces of one group come from one stretch of cloth.
    sequence : int
        Order of hanging or sewing; 0 when it does not matter.
    """

    code: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    artwork: str = ""
    bleed_mm: float | Edges = 0.0
    turn_degrees: int = 0
    mirror: bool = False
    crop_mm: tuple[float, float, float, float] | None = None
    group: str = ""
    sequence: int = 0
    artwork_mm: tuple[float, float] | None = None
    mirrored_mm: float = 0.0
    repeat: RepeatFill | None = None

    @property
    def bleeds_mm(self) -> Edges:
        """Bleed at the left, top, right and bottom of the box as it lies, in millimetres."""
        bleed = self.bleed_mm
        return bleed if isinstance(bleed, tuple) else (bleed, bleed, bleed, bleed)

    @property
    def upright_bleeds_mm(self) -> Edges:
        """Bleed at the left, top, right and bottom of the upright artwork, in millimetres.

        Examples
        --------
        >>> Placement("A", 0, 0, 50, 90, bleed_mm=(1, 2, 3, 4), turn_degrees=90).upright_bleeds_mm
        (2, 3, 4, 1)
        """
        left, top, right, bottom = self.bleeds_mm
        for _ in range(self.turn_degrees // 90):
            left, top, right, bottom = top, right, bottom, left
        return (right, top, left, bottom) if self.mirror else (left, top, right, bottom)

    @property
    def trim_box_mm(self) -> Edges:
        """Left, top, right and bottom of what is left once the bleed is cut away, finished. [mm]."""
        left, top, right, bottom = self.bleeds_mm
        return (
            self.x_mm + left,
            self.y_mm + top,
            self.x_mm + self.width_mm - right,
            self.y_mm + self.height_mm - bottom,
        )

    @property
    def upright_mm(self) -> tuple[float, float]:
        """Finished size of the box with the artwork upright (across, along), in millimetres."""
        size = self.width_mm, self.height_mm
        return size if self.turn_degrees % 180 == 0 else size[::-1]

    @property
    def whole_mm(self) -> tuple[float, float]:
        """Finished size of the whole upright artwork (across, along), in millimetres."""
        if self.repeat is not None:
            size = self.repeat.size_mm
            return size if self.turn_degrees % 180 == 0 else size[::-1]
        return self.artwork_mm or self.upright_mm

    @property
    def shown_mm(self) -> tuple[float, float, float, float]:
        """Part of the upright artwork that is shown: left, top, width, height. [mm]."""
        return self.crop_mm or (0.0, 0.0, *self.whole_mm)


@dataclass(frozen=True)
class Layout:
    """Pieces on the cuttable width of one roll.

    Attributes
    ----------
    width_mm, margin_mm : float
        Unfinished cloth, and what is lost at each edge. [mm]
    warp_percent, weft_percent : float
        Dimensional change along and across, shrinkage negative. [%]
    placements : tuple of Placement
        In the order in which they leave the press.
    """

    width_mm: float
    margin_mm: float
    warp_percent: float
    weft_percent: float
    placements: tuple[Placement, ...]

    @property
    def cuttable_mm(self) -> tuple[float, float]:
        """Width that can be used: (printed, finished) in millimetres."""
        printed = self.width_mm - 2 * self.margin_mm
        return printed, printed * finishing_factor(self.weft_percent)

    @property
    def length_mm(self) -> tuple[float, float]:
        """Length up to the last piece: (printed, finished) in millimetres."""
        finished = max((p.y_mm + p.height_mm for p in self.placements), default=0.0)
        return printed_mm(finished, self.warp_percent), finished

    def printed_box_mm(self, placement: Placement) -> tuple[float, float, float, float]:
        """Return left, top, right, bottom of a piece on the unfinished cuttable cloth. [mm]."""
        across, along = printed_mm(1.0, self.weft_percent), printed_mm(1.0, self.warp_percent)
        return (
            placement.x_mm * across,
            placement.y_mm * along,
            (placement.x_mm + placement.width_mm) * across,
            (placement.y_mm + placement.height_mm) * along,
        )
