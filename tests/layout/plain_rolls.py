"""Rolls of pieces composed plainly in memory: cubic convolution (Keys 1981) in doubles."""

from __future__ import annotations

import numpy as np

from strikeoff.layout.lay import LaidRoll, Sheet, lay_roll, press_grids
from strikeoff.layout.layout_checks import check_layout
from strikeoff.layout.leader import Leader
from strikeoff.layout.placement import Layout
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.resample import InkLimits, cubic_keys_1981

INKS = ("C", "M", "Y")
OPEN = InkLimits((65535,) * 3, 3 * 65535)
DPI = (50.0, 37.0)


def artwork(seed: int, wide: int = 23, high: int = 17) -> np.ndarray:
    return np.random.default_rng(seed).integers(0, 65536, (high, wide, 3)).astype(np.uint16)


def laid(layout: Layout, pictures: dict[str, np.ndarray], dpi=DPI, marks=(), leader_mm=0.0) -> LaidRoll:
    check_layout(layout)
    sheets = {}
    for grid in press_grids(layout, *dpi):
        array = pictures[grid.artwork]
        array = np.ascontiguousarray(np.rot90(array, -1)) if grid.quarter else array
        sheets[grid] = Sheet(ArraySource(array), OPEN)
    margin = round(layout.margin_mm * dpi[0] / 25.4)
    printable = round(layout.width_mm * dpi[0] / 25.4) - 2 * margin
    leader = Leader(INKS, *dpi, margin, printable, 0, 0)
    return lay_roll(layout, sheets, leader=leader, marks=marks, leader_mm=leader_mm, tail_mm=3)


def matrix(source: int, target: int) -> np.ndarray:
    """Weights of a row of samples for a row of pixels; beyond the ends the last samples go on."""
    scale = max(1.0, source / target)
    centre = (np.arange(target) + 0.5) * source / target - 0.5
    reach = int(np.ceil(2 * scale)) + 1
    full = np.zeros((target, source))
    for x in range(target):
        taps = np.arange(int(centre[x]) - reach, int(centre[x]) + reach + 2)
        weights = cubic_keys_1981((taps - centre[x]) / scale)
        np.add.at(full[x], np.clip(taps, 0, source - 1), weights / weights.sum())
    return full


def wrapped(source: int, target: int) -> np.ndarray:
    """The same for a row of samples that joins itself."""
    start, reach = 0, 2 * max(source, target)
    scale = max(1.0, source / target)
    centre = (np.arange(target) + 0.5) * source / target - 0.5
    full = np.zeros((target, source))
    for x in range(target):
        taps = np.arange(start - reach, source + reach)
        weights = cubic_keys_1981((taps - centre[x]) / scale)
        np.add.at(full[x], taps % source, weights / weights.sum())
    return full


def half_up(value: float) -> int:
    return int(np.floor(value + 0.5))


def plain(layout: Layout, pictures: dict[str, np.ndarray], dpi=DPI) -> np.ndarray:
    """Mirror, turn, scale, cut and paste, one whole piece after the other."""
    across = dpi[0] / 25.4 / (1 + layout.weft_percent / 100)
    along = dpi[1] / 25.4 / (1 + layout.warp_percent / 100)
    margin = round(layout.margin_mm * dpi[0] / 25.4)
    width = round(layout.width_mm * dpi[0] / 25.4)
    pasted = []
    for piece in layout.placements:
        picture = pictures[piece.artwork].astype(float)
        turns = piece.turn_degrees // 90
        if piece.repeat is not None:
            shown = np.rot90(picture[:, ::-1] if piece.mirror else picture, -turns)
            pasted.append(window(piece, shown, across, along, margin))
            continue
        left, top, wide, high = piece.crop_mm or (0, 0, *piece.upright_mm)
        whole = piece.artwork_mm or piece.upright_mm
        # Corners of the cut, turned with the picture by the quarter only, then the rest in whole pixels.
        size = whole if turns % 2 == 0 else whole[::-1]
        pixels = max(1, half_up(size[0] * across)), max(1, half_up(size[1] * along))
        box = (left, top, left + wide, top + high)
        if turns % 2:
            box = (whole[1] - top - high, left, whole[1] - top, left + wide)
        cut = [half_up(v * n / s) for v, n, s in zip(box, pixels * 2, size * 2, strict=True)]
        cut[2], cut[3] = max(cut[2], cut[0] + 1), max(cut[3], cut[1] + 1)
        shown = np.rot90(picture[:, ::-1] if piece.mirror else picture, -turns)
        scaled = np.einsum(
            "yh,xw,hwc->yxc", matrix(len(shown), pixels[1]), matrix(shown.shape[1], pixels[0]), shown
        )
        scaled = np.clip(scaled, 0, 65535)
        if piece.turn_degrees >= 180:
            cut = [pixels[0] - cut[2], pixels[1] - cut[3], pixels[0] - cut[0], pixels[1] - cut[1]]
        if piece.mirror and turns % 2 == 0:
            cut = [pixels[0] - cut[2], cut[1], pixels[0] - cut[0], cut[3]]
        if piece.mirror and turns % 2:
            cut = [cut[0], pixels[1] - cut[3], cut[2], pixels[1] - cut[1]]
        room = 4 * max(pixels)
        framed = np.pad(scaled, ((room, room), (room, room), (0, 0)), mode="symmetric")
        part = framed[room + cut[1] : room + cut[3], room + cut[0] : room + cut[2]]
        pasted.append((half_up(piece.y_mm * along), margin + half_up(piece.x_mm * across), part))
    rows = max(top + len(part) for top, _, part in pasted)
    out = np.zeros((rows + round(3 * dpi[1] / 25.4), width, 3))
    for top, left, part in pasted:
        room = out[top : top + len(part), left : left + part.shape[1]]
        room[:] = part[:, : room.shape[1]]
    return out


def window(piece, shown: np.ndarray, across: float, along: float, margin: int):
    """An area of a repeat by the words of the trade (common practice, no source).

    One whole period of the lattice is put together from samples of the artwork, scaled as one picture, and
    looked up pixel by pixel; offsets must be whole samples.
    """
    lattice = piece.repeat.lattice
    parts = lattice.share.denominator
    wide = piece.repeat.size_mm[0] * across
    high = piece.repeat.size_mm[1] * along
    wide = max(1, half_up(wide)) if lattice.offset != "brick" else parts * max(1, half_up(wide / parts))
    high = max(1, half_up(high)) if lattice.offset != "drop" else parts * max(1, half_up(high / parts))
    once_across, once_along = lattice.repeats == "along", lattice.repeats == "across"
    cells = 1 if once_across else 2 * parts, 1 if once_along else 2 * parts
    h, w = shown.shape[:2]
    period = np.zeros((cells[1] * h, cells[0] * w, shown.shape[2]))
    for y in range(len(period)):
        for x in range(period.shape[1]):
            period[y, x] = shown[sample(lattice, y, x, h, w)]
    rows = (matrix if once_along else wrapped)(len(period), cells[1] * high)
    columns = (matrix if once_across else wrapped)(period.shape[1], cells[0] * wide)
    fine = np.clip(np.einsum("yh,xw,hwc->yxc", rows, columns, period, optimize=True), 0, 65535)
    left, top = half_up(piece.x_mm * across), half_up(piece.y_mm * along)
    right = half_up((piece.x_mm + piece.width_mm) * across)
    bottom = half_up((piece.y_mm + piece.height_mm) * along)
    origin = piece.repeat.origin_mm or (piece.x_mm, piece.y_mm)
    x = np.arange(left, max(right, left + 1)) - half_up(origin[0] * across)
    y = np.arange(top, max(bottom, top + 1)) - half_up(origin[1] * along)
    part = fine[y % len(fine)][:, x % fine.shape[1]]
    if once_across:
        part[:, (x < 0) | (x >= wide)] = 0
    if once_along:
        part[(y < 0) | (y >= high)] = 0
    return top, margin + left, part


def sample(lattice, y: int, x: int, h: int, w: int) -> tuple[int, int]:
    """Which sample of a tile stands at a place of the plane."""
    share = lattice.share
    if lattice.offset == "drop":
        i, u = divmod(x, w)
        j, v = divmod(y - i * h * share.numerator // share.denominator, h)
    else:
        j, v = divmod(y, h)
        i, u = divmod(x - (j * w * share.numerator // share.denominator if share else 0), w)
    odd = lattice.turned and (i + j) % 2
    if odd or (lattice.mirror in ("across", "both") and i % 2):
        u = w - 1 - u
    if odd or (lattice.mirror in ("along", "both") and j % 2):
        v = h - 1 - v
    return v, u
