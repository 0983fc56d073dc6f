"""A long roll for drawings: stretches in which a fabric only goes on are left out."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from strikeoff.layout.placement import Layout

# Of a stretch, in widths of the cloth: what is left out is longer, what is kept at each end.
_LEAST, _KEPT = 0.5, 0.5


@dataclass(frozen=True)
class Shortened:
    """Lengths along a roll as a drawing shows them.

    Attributes
    ----------
    left_out_mm : tuple of tuple of float
        Stretches that are not drawn, printed, in order: from, to. [mm]
    """

    left_out_mm: tuple[tuple[float, float], ...] = ()

    def place_mm(self, y_mm: float) -> float:
        """Return where a place stands once stretches are left out. [mm].

        Examples
        --------
        >>> Shortened(((100, 400),)).place_mm(50), Shortened(((100, 400),)).place_mm(450)
        (50, 150)
        """
        return y_mm - sum(max(0, min(y_mm, end) - start) for start, end in self.left_out_mm)

    def hides(self, top_mm: float, end_mm: float) -> bool:
        """Return whether a stretch is left out in part or in whole."""
        return any(top_mm < end and end_mm > start for start, end in self.left_out_mm)


def shortened(layout: Layout) -> Shortened:
    """Return what a drawing of a layout leaves out: long stretches in which only areas of a repeat stand.

    Parameters
    ----------
    layout : Layout
        Checked pieces and areas.

    Examples
    --------
    >>> from strikeoff.layout.fill import RepeatFill
    >>> from strikeoff.layout.placement import Placement
    >>> cloth = Placement("A", 0, 0, 980, 20_000, repeat=RepeatFill((640, 640)))
    >>> shortened(Layout(1000, 10, 0, 0, (cloth,))).left_out_mm
    ((500.0, 19500.0),)
    """
    boxes = [(*layout.printed_box_mm(p)[1::2], p.repeat is not None) for p in layout.placements]
    edges = sorted({edge for top, end, _ in boxes for edge in (top, end)})
    kept, least = _KEPT * layout.width_mm, _LEAST * layout.width_mm
    longer = [(top, end) for top, end in pairwise(edges) if end - top > 2 * kept + least]
    left_out = []
    # Few stretches are so long: each is looked at by itself.
    for top, end in longer:
        standing = [is_area for start, last, is_area in boxes if start < end and last > top]
        if standing and all(standing):
            left_out.append((top + kept, end - kept))
    return Shortened(tuple(left_out))
