"""A repeat in whole press pixels, and what that makes of its finished size."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.units import MM_PER_INCH
from strikeoff.layout.finishing import finishing_factor, printed_mm

Kind = Literal["straight", "half-drop", "brick"]


@dataclass(frozen=True)
class Repeat:
    """The unit that tiles the cloth.

    Attributes
    ----------
    kind : {"straight", "half-drop", "brick"}
        Plain grid; columns offset half a height; rows offset half a width.
    width_px, height_px : int
        Size in press pixels: across (weft) and along the roll (warp).
    dpi_x, dpi_y : float
        Addressability. [dots per inch]
    weft_percent, warp_percent : float
        Dimensional change across and along, shrinkage negative. [%]
    asked_width_mm, asked_height_mm : float
        Finished size asked for. [mm]
    """

    kind: Kind
    width_px: int
    height_px: int
    dpi_x: float
    dpi_y: float
    weft_percent: float
    warp_percent: float
    asked_width_mm: float
    asked_height_mm: float

    @property
    def printed_width_mm(self) -> float:
        """Width on the unfinished cloth, in millimetres."""
        return self.width_px * MM_PER_INCH / self.dpi_x

    @property
    def printed_height_mm(self) -> float:
        """Height on the unfinished cloth, in millimetres."""
        return self.height_px * MM_PER_INCH / self.dpi_y

    @property
    def finished_width_mm(self) -> float:
        """Width that the finished goods will have, in millimetres."""
        return self.printed_width_mm * finishing_factor(self.weft_percent)

    @property
    def finished_height_mm(self) -> float:
        """Height that the finished goods will have, in millimetres."""
        return self.printed_height_mm * finishing_factor(self.warp_percent)

    @property
    def period_rows(self) -> int:
        """Rows after which the roll repeats itself exactly."""
        return self.height_px * (2 if self.kind == "brick" else 1)

    def error_mm(self, repeats: int = 1) -> tuple[float, float]:
        """Return how far (across, along) that many finished repeats are from what was asked, in mm."""
        return (
            repeats * (self.finished_width_mm - self.asked_width_mm),
            repeats * (self.finished_height_mm - self.asked_height_mm),
        )


def snap_repeat(
    finished_w_mm: float,
    finished_h_mm: float,
    *,
    warp_percent: float,
    weft_percent: float,
    dpi_x: float,
    dpi_y: float,
    kind: str,
) -> Repeat:
    """Return the repeat in whole press pixels that comes nearest to the finished size.

    Parameters
    ----------
    finished_w_mm, finished_h_mm : float
        Finished size across and along the roll. [mm]
    warp_percent, weft_percent : float
        Dimensional change along (height) and across (width), shrinkage negative. [%]
    dpi_x, dpi_y : float
        Addressability across and along. [dots per inch]
    kind : str
        ``straight``, ``half-drop`` (height becomes even) or ``brick`` (width becomes even).

    Raises
    ------
    UsageError
        Unknown kind.
    InputError
        A size or addressability that cannot be; RangeError for the dimensional change.

    Examples
    --------
    >>> r = snap_repeat(320, 320, warp_percent=-4, weft_percent=-4, dpi_x=600, dpi_y=600, kind="straight")
    >>> r.width_px, round(r.error_mm()[0], 4)
    (7874, -0.0006)
    """
    if kind not in get_args(Kind):
        raise UsageError("unknown kind of repeat", found=kind, expected=", ".join(get_args(Kind)))
    for name, dpi in (("across", dpi_x), ("along", dpi_y)):
        if not (math.isfinite(dpi) and 10 <= dpi <= 10_000):
            raise InputError(f"addressability {name} cannot be", found=dpi, expected="10 to 10,000 dpi")
    return Repeat(
        kind=kind,  # type: ignore[arg-type]
        width_px=_snapped(finished_w_mm, weft_percent, dpi_x, 2 if kind == "brick" else 1, "width"),
        height_px=_snapped(finished_h_mm, warp_percent, dpi_y, 2 if kind == "half-drop" else 1, "height"),
        dpi_x=dpi_x,
        dpi_y=dpi_y,
        weft_percent=weft_percent,
        warp_percent=warp_percent,
        asked_width_mm=finished_w_mm,
        asked_height_mm=finished_h_mm,
    )


def _snapped(size_mm: float, change_percent: float, dpi: float, divisor: int, what: str) -> int:
    if not math.isfinite(size_mm) or not 1.0 <= size_mm <= 100_000.0:
        raise InputError(f"finished {what} cannot be", found=f"{size_mm} mm", expected="1 to 100,000 mm")
    exact = printed_mm(size_mm, change_percent) * dpi / MM_PER_INCH
    return max(divisor, divisor * round(exact / divisor))
