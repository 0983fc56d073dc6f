"""Work larger than the cloth, split into panels: what to print, where panels meet, where eyelets stand.

References
----------
Trim 3 mm, join 25 mm, and the overall height trim + join + pocket + H + pocket + join + trim: makers'
artwork sheets. Pocket, flat: pi d / 2 + 5 mm. Eyelets: at most 600 mm apart and in the corners. Common
practice of the trade; follow the maker of frame or pole where it says otherwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from strikeoff.base.errors import InputError, UsageError
from strikeoff.layout.finishing import printed_mm

JOINS = ("overlap", "butt")
TRIM_MM, SEAM_MM, HEM_MM, EYELETS_MM = 3.0, 25.0, 25.0, 600.0

MOST_PANELS = 1000
_LONGEST_MM = 200_000.0


@dataclass(frozen=True)
class PanelJob:
    """What is to hang.

    Attributes
    ----------
    visible_w_mm, visible_h_mm : float
        What is seen when it hangs (across, along the roll). [mm]
    warp_percent, weft_percent : float
        Dimensional change along and across. [%]
    cuttable_mm : float
        Width that can be used, before finishing. [mm]
    join : str
        ``overlap``: neighbours share a strip; ``butt``: they meet edge to edge.
    overlap_mm : float
        Finished width of the shared strip. [mm]
    trim_mm, hem_mm : float
        Cut away at each edge; folded at each edge that is hemmed, 0 for none. [mm]
    pole_mm : float
        Diameter of the poles in pockets above and below, 0 for none. [mm]
    stretch_percent : float
        How much the frame stretches the cloth. [%]
    longest_mm : float, optional
        Most printed length of a panel; work that is higher is split into rows too. [mm]
    """

    visible_w_mm: float
    visible_h_mm: float
    warp_percent: float
    weft_percent: float
    cuttable_mm: float
    join: str = "overlap"
    overlap_mm: float = 20.0
    trim_mm: float = TRIM_MM
    hem_mm: float = 0.0
    pole_mm: float = 0.0
    stretch_percent: float = 0.0
    longest_mm: float | None = None


@dataclass(frozen=True)
class Panel:
    """One panel, numbered from the left as it hangs, row by row, its top first through the press.

    Attributes
    ----------
    number : int
        1 is the leftmost above.
    start_mm, end_mm : float
        Of the finished, unstretched cloth, from its left edge. [mm]
    top_mm, bottom_mm : float
        The same from its upper edge. [mm]
    printed_mm : tuple of float
        Size to print (across, along). [mm]
    """

    number: int
    start_mm: float
    end_mm: float
    top_mm: float
    bottom_mm: float
    printed_mm: tuple[float, float]


@dataclass(frozen=True)
class PanelMap:
    """All panels of one piece of work.

    Attributes
    ----------
    panels : tuple of Panel
        From the left, row by row.
    cloth_mm : tuple of float
        Finished size before making up: pockets, hems, trim included (across, along). [mm]
    side_mm, end_mm : float
        Of it, beyond what is seen: left and right; above and below. [mm]
    overlap_mm : float
        Shared strip; 0 for butt joins. [mm]
    """

    panels: tuple[Panel, ...]
    cloth_mm: tuple[float, float]
    side_mm: float
    end_mm: float
    overlap_mm: float

    @property
    def printed_m(self) -> float:
        """Length of all panels one after the other, printed, in metres."""
        return sum(panel.printed_mm[1] for panel in self.panels) / 1000


def pocket_flat_mm(pole_mm: float) -> float:
    """Return the flat width of a pocket for a pole: half its girth and 5 mm.

    Examples
    --------
    >>> round(pocket_flat_mm(35))
    60
    """
    return math.pi * pole_mm / 2 + 5


def eyelet_places_mm(side_mm: float, apart_mm: float = EYELETS_MM) -> tuple[float, ...]:
    """Return where eyelets stand along a side: both corners, evenly, at most so far apart. [mm].

    Examples
    --------
    >>> eyelet_places_mm(1500)
    (0.0, 500.0, 1000.0, 1500.0)
    """
    if not (0 < side_mm <= _LONGEST_MM and 10 <= apart_mm <= _LONGEST_MM):
        raise InputError(
            "eyelets cannot be placed",
            found=f"{apart_mm:g} mm apart on {side_mm:g} mm",
            expected="10 mm or more apart",
        )
    gaps = math.ceil(side_mm / apart_mm * (1 - 1e-9))
    return tuple(side_mm * k / gaps for k in range(gaps + 1))


def plan_panels(job: PanelJob) -> PanelMap:
    """Split work into the fewest panels of one width that the cloth holds.

    Parameters
    ----------
    job : PanelJob
        What is to hang.

    Raises
    ------
    UsageError
        Unknown join.
    InputError
        Sizes that cannot be, an overlap that leaves nothing, more than 1,000 panels; RangeError for the
        dimensional change.

    Examples
    --------
    >>> plan = plan_panels(PanelJob(6000, 2500, -1.2, 0.3, 3150))
    >>> len(plan.panels), round(plan.panels[0].printed_mm[0], 1), round(plan.printed_m, 2)
    (2, 3004.0, 5.07)
    """
    _check(job)
    overlap = job.overlap_mm if job.join == "overlap" else 0.0
    stretched = 1 + job.stretch_percent / 100
    side = job.trim_mm + job.hem_mm
    end = side if job.pole_mm == 0 else job.trim_mm + SEAM_MM + pocket_flat_mm(job.pole_mm)
    width, height = job.visible_w_mm / stretched + 2 * side, job.visible_h_mm / stretched + 2 * end
    widest = job.cuttable_mm / printed_mm(1.0, job.weft_percent)
    starts, wide = _split(width, widest, overlap)
    tops, high = [0.0], height
    if job.longest_mm is not None:
        tops, high = _split(height, job.longest_mm / printed_mm(1.0, job.warp_percent), overlap)
    if len(starts) * len(tops) > MOST_PANELS:
        raise InputError("too many panels", found=len(starts) * len(tops), expected=f"at most {MOST_PANELS}")
    size = printed_mm(wide, job.weft_percent), printed_mm(high, job.warp_percent)
    panels = tuple(
        Panel(k + 1, start, start + wide, top, top + high, size)
        for k, (top, start) in enumerate((top, start) for top in tops for start in starts)
    )
    return PanelMap(panels, (width, height), side, end, overlap)


def _split(size: float, most: float, overlap: float) -> tuple[list[float], float]:
    """Return where the fewest equal parts of a size begin, and how large each is."""
    if size <= most * (1 + 1e-9):
        return [0.0], size
    if most <= overlap:
        raise InputError(
            "overlap is wider than the cloth",
            found=f"{overlap:g} mm of {most:g} mm finished",
            expected="a narrower overlap",
        )
    count = math.ceil((size - overlap) / (most - overlap) * (1 - 1e-9))
    if count > MOST_PANELS:
        raise InputError("too many panels", found=count, expected=f"at most {MOST_PANELS}")
    each = (size + (count - 1) * overlap) / count
    return [k * (each - overlap) for k in range(count)], each


def _check(job: PanelJob) -> None:
    if job.join not in JOINS:
        raise UsageError("unknown join", found=job.join, expected=", ".join(JOINS))
    for what, value in (
        ("visible width", job.visible_w_mm),
        ("visible height", job.visible_h_mm),
        ("cuttable width", job.cuttable_mm),
    ):
        if not 1 <= value <= _LONGEST_MM:
            raise InputError(f"{what} cannot be", found=f"{value:g} mm", expected="1 to 200,000 mm")
    extras = job.overlap_mm, job.trim_mm, job.hem_mm, job.pole_mm
    if not all(0 <= value <= 1000 for value in extras):
        raise InputError(
            "overlap, trim, hem or pole cannot be",
            found=", ".join(f"{value:g}" for value in extras) + " mm",
            expected="0 to 1,000 mm",
        )
    if job.longest_mm is not None and not 1 <= job.longest_mm <= _LONGEST_MM:
        raise InputError(
            "longest panel cannot be", found=f"{job.longest_mm:g} mm", expected="1 to 200,000 mm"
        )
    if not 0 <= job.stretch_percent <= 50:
        raise InputError("stretch cannot be", found=f"{job.stretch_percent:g} %", expected="0 to 50 %")
