"""Every way to lay a repeat across a cuttable width: what is left over, and the metres for an order."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from strikeoff.base.errors import InputError, UsageError
from strikeoff.layout.finishing import finishing_factor, printed_mm
from strikeoff.raster.lattice import Lattice, as_lattice

BASES = ("cloth", "finished")
_LONGEST_MM = 10_000_000.0
# Counts are taken a hair generously: 4 repeats that fill the width exactly are 4 in spite of rounding.
_HAIR = 1e-9


@dataclass(frozen=True)
class WidthJob:
    """What is to be laid out.

    Attributes
    ----------
    kind : str or Lattice
        ``straight``, ``half-drop``, ``brick``, or any lattice.
    repeat_w_mm, repeat_h_mm : float
        Finished size of a repeat across and along. [mm]
    warp_percent, weft_percent : float
        Dimensional change along and across. [%]
    cuttable_mm : float
        Width that can be used, before finishing. [mm]
    order_mm : float
        Finished length that is ordered. [mm]
    end_loss_mm : float
        Finished length lost at the ends of the roll. [mm]
    overlap_mm : float
        Finished width that a join takes. [mm]
    drop_mm : float or None
        Finished length of one cut, allowance included, where widths are joined.
    """

    kind: str | Lattice
    repeat_w_mm: float
    repeat_h_mm: float
    warp_percent: float
    weft_percent: float
    cuttable_mm: float
    order_mm: float
    end_loss_mm: float = 0.0
    overlap_mm: float = 0.0
    drop_mm: float | None = None


@dataclass(frozen=True)
class WidthOption:
    """One way.

    Attributes
    ----------
    name : str
        ``left``, ``motif`` or ``gap`` (centred) with ``-bare`` or ``-edge``, ``scaled-N``, ``join``.
    whole_across : int
        Whole repeats.
    scale_percent : float
        Size of the repeat against the one asked for; 100 is unchanged. [%]
    first_mm : float
        Printed distance from the left edge of the cuttable width to the first whole repeat. [mm]
    repeat_printed_mm, repeat_finished_mm : tuple of float
        Size of the repeat (across, along). [mm]
    left_mm, right_mm : tuple of float
        Beyond the whole repeats on each side (printed, finished): bare, or parts of repeats. [mm]
    edge : str
        ``bare`` or ``parts``: what lies there.
    repeats_along : int
        Repeats that the order takes; 1 for a border that stands once along, or 1 for each drop.
    order_m : tuple of float
        Cloth that the order takes, end loss included (printed, finished). [m]
    join_shift_mm : float
        How far along the next width must be moved so that the pattern meets, finished. [mm]
    """

    name: str
    whole_across: int
    scale_percent: float
    first_mm: float
    repeat_printed_mm: tuple[float, float]
    repeat_finished_mm: tuple[float, float]
    left_mm: tuple[float, float]
    right_mm: tuple[float, float]
    edge: str
    repeats_along: int
    order_m: tuple[float, float]
    join_shift_mm: float


def cloth_width_mm(width_mm: float, basis: str, weft_percent: float) -> float:
    """Return the width of the cloth before finishing. [mm].

    Parameters
    ----------
    width_mm : float
        Width as it was stated. [mm]
    basis : {"cloth", "finished"}
        Whether it is that of the cloth on the roll, or of the finished goods.
    weft_percent : float
        Dimensional change across, shrinkage negative. [%]

    Examples
    --------
    >>> cloth_width_mm(1400, "cloth", -3.0), round(cloth_width_mm(1400, "finished", -3.0), 2)
    (1400, 1443.3)
    """
    if basis not in BASES:
        raise UsageError("unknown basis of a width", found=basis, expected=" or ".join(BASES))
    return width_mm if basis == "cloth" else printed_mm(width_mm, weft_percent)


def cuttable_width_mm(
    fabric_mm: float, selvedge_mm: float, margin_mm: float, printer_mm: float | None = None
) -> float:
    """Return the width that can be used: the narrower of fabric and printer, less both edges. [mm].

    Parameters
    ----------
    fabric_mm, printer_mm : float
        Width of the unfinished cloth, and most that the press prints. [mm]
    selvedge_mm, margin_mm : float
        Lost at each edge. [mm]

    Raises
    ------
    InputError
        When nothing is left, or a width cannot be.

    Examples
    --------
    >>> cuttable_width_mm(1450, 15, 10), cuttable_width_mm(1900, 15, 10, 1800)
    (1400, 1750)
    """
    widths = [fabric_mm] if printer_mm is None else [fabric_mm, printer_mm]
    if not all(0 < w <= 20_000 for w in widths) or not (selvedge_mm >= 0 and margin_mm >= 0):
        raise InputError(
            "width cannot be",
            found=f"fabric {fabric_mm}, printer {printer_mm}, edges {selvedge_mm} and {margin_mm} mm",
            expected="widths above 0 to 20,000 mm, edges 0 or more",
        )
    cuttable = min(widths) - 2 * (selvedge_mm + margin_mm)
    if cuttable <= 0:
        raise InputError("edges leave nothing to print on", found=f"{cuttable:g} mm", expected="above 0 mm")
    return cuttable


def width_options(job: WidthJob) -> tuple[WidthOption, ...]:
    """Return every way to lay a repeat across a width.

    Bare options leave the cloth beyond whole repeats unprinted, edge options print parts of repeats there;
    scaled ones fill the width with whole repeats, one count enlarged and the next reduced, shape kept;
    the join option is for widths that are sewn side by side. A stripe that repeats along only stands once
    across: at the left, in the middle or as wide as the cloth. A border that repeats across only stands once
    along, and the rest of what is ordered is bare.

    Parameters
    ----------
    job : WidthJob
        What is to be laid out.

    Raises
    ------
    InputError
        Sizes that cannot be; RangeError for the dimensional change.
    UsageError
        Unknown kind of repeat.

    Examples
    --------
    >>> job = WidthJob("half-drop", 640, 640, -5.5, -3.0, 1400, 420_000)
    >>> best = width_options(job)[0]
    >>> best.whole_across, round(best.right_mm[0], 1), round(best.right_mm[1], 1), best.repeats_along
    (2, 80.4, 78.0, 657)
    """
    _check(job)
    return tuple(_options(job))


def _options(job: WidthJob) -> Iterator[WidthOption]:
    width, cuttable = printed_mm(job.repeat_w_mm, job.weft_percent), job.cuttable_mm
    most = _whole(cuttable / width)
    if as_lattice(job.kind).repeats == "along":
        if most:
            yield _option(job, "left-bare", 1, 1.0, 0.0, cuttable - width)
            yield _option(job, "motif-bare", 1, 1.0, (cuttable - width) / 2, (cuttable - width) / 2)
        yield _option(job, "scaled-1", 1, cuttable / width, 0.0, 0.0)
        return
    counts = {
        "left": most,
        "motif": most - 1 + most % 2,  # the largest odd count
        "gap": most - most % 2,  # the largest even one
    }
    for edge in ("bare", "edge"):
        for name, count in counts.items():
            whole = max(count, 0)
            if whole or edge == "edge":
                # Without a whole repeat the middle one reaches beyond both edges.
                first = 0.0 if name == "left" else (cuttable - whole * width) / 2
                yield _option(job, f"{name}-{edge}", whole, 1.0, first, cuttable - whole * width - first)
    for count in (most, most + 1):
        if count:
            yield _option(job, f"scaled-{count}", count, cuttable / (count * width), 0.0, 0.0)
    overlap = printed_mm(job.overlap_mm, job.weft_percent) if job.overlap_mm else 0.0
    joined = _whole((cuttable - overlap) / width)
    if _joins_in_pairs(as_lattice(job.kind)):
        joined -= joined % 2
    if joined > 0:
        yield _option(job, "join", joined, 1.0, 0.0, cuttable - joined * width)


def _option(job: WidthJob, name: str, whole: int, scale: float, left: float, right: float) -> WidthOption:
    across, along = finishing_factor(job.weft_percent), finishing_factor(job.warp_percent)
    height = job.repeat_h_mm * scale
    is_join = name == "join"
    shift = _join_shift(as_lattice(job.kind), whole) * height if is_join else 0.0
    drops, drop = 1, job.order_mm
    if is_join and job.drop_mm is not None:
        drops, drop = _least(job.order_mm / job.drop_mm), job.drop_mm
    is_border = as_lattice(job.kind).repeats == "across"
    each = 1 if is_border else _least(drop / height)
    repeats = drops * each
    length = drops * max(drop, height) if is_border else repeats * height
    finished = (length + shift + job.end_loss_mm) / 1000
    size = job.repeat_w_mm * scale, height
    return WidthOption(
        name=name,
        whole_across=whole,
        scale_percent=100 * scale,
        first_mm=left,
        repeat_printed_mm=(size[0] / across, size[1] / along),
        repeat_finished_mm=size,
        left_mm=(left, left * across),
        right_mm=(right, right * across),
        edge="parts" if name.endswith("-edge") else "bare",
        repeats_along=repeats,
        order_m=(finished / along, finished),
        join_shift_mm=shift,
    )


def _join_shift(lattice: Lattice, whole: int) -> float:
    """Return by how many heights a width of that many columns is moved to go on in the next."""
    if lattice.offset == "brick":
        # The rows come back after as many as the offset has parts; a chequerboard as well, or after twice.
        return float(lattice.share.denominator) if lattice.turned and whole % 2 else 0.0
    return float(whole * (1 + lattice.share) % 2 if lattice.turned else whole * lattice.share % 1)


def _joins_in_pairs(lattice: Lattice) -> bool:
    """Whether only an even number of columns goes on in the next width."""
    odd_turn = lattice.share.numerator + lattice.share.denominator
    # A border has no second row to which a width could be moved.
    stays_turned = lattice.repeats == "across" or (lattice.offset == "brick" and odd_turn % 2 == 0)
    return lattice.mirror in ("across", "both") or (lattice.turned and stays_turned)


def _whole(ratio: float) -> int:
    return math.floor(ratio * (1 + _HAIR))


def _least(ratio: float) -> int:
    return max(1, math.ceil(ratio * (1 - _HAIR)))


def _check(job: WidthJob) -> None:
    if as_lattice(job.kind).repeats == "none":
        raise InputError(
            "artwork that stands once has no options across",
            found=as_lattice(job.kind).name,
            expected="a repeat",
        )
    above_zero = {
        "repeat": min(job.repeat_w_mm, job.repeat_h_mm),
        "cuttable width": job.cuttable_mm,
        "order": job.order_mm,
        "drop": 1.0 if job.drop_mm is None else job.drop_mm,
    }
    for what, value in above_zero.items():
        if not 1 <= value <= _LONGEST_MM:
            raise InputError(f"{what} cannot be", found=f"{value:g} mm", expected="1 to 10,000,000 mm")
    if not 0 <= job.overlap_mm < job.cuttable_mm or not 0 <= job.end_loss_mm <= _LONGEST_MM:
        raise InputError(
            "overlap or end loss cannot be", found=f"{job.overlap_mm:g} and {job.end_loss_mm:g} mm"
        )
