"""Contours traced around what artwork covers, between its pixels."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.progress import Progress, silent
from strikeoff.layout.contours import Contour, ContourSet, Points, check_amount, import_shapely
from strikeoff.raster.bands import BandSource

_MOST_PIXELS = 30_000_000
_COARSEST_MM = 0.25
_BAND_BYTES = 32 << 20


def trace_contours(
    plane: BandSource,
    size_mm: tuple[float, float],
    *,
    threshold: float = 0.5,
    tolerance_mm: float = 0.05,
    least_mm2: float = 1.0,
    progress: Progress = silent,
) -> tuple[ContourSet, int]:
    """Trace lines of equal coverage by marching squares, then leave out points that are not needed.

    Parameters
    ----------
    plane : BandSource
        One channel; full scale is covered.
    size_mm : tuple of float
        Finished size of the picture (across, along). [mm]
    threshold : float
        Coverage along the line, between 0 and 1.
    tolerance_mm : float
        Most that simplifying moves the line (Douglas and Peucker, 1973). Corners that the grid cuts off
        are put back. [mm]
    least_mm2 : float
        Smaller specks and holes are left out. [mm2]
    progress : Progress
        Told how far the picture is read.

    Returns
    -------
    contours : ContourSet
    specks : int
        Lines left out.

    Raises
    ------
    InputError
        Nothing is covered, too many lines, or pixels too many to be traced in finished detail.

    Notes
    -----
    The line between two centres of pixels is found by linear interpolation: where a straight edge is
    antialiased, within a tenth of a pixel at half coverage. Pictures of more than 30 million pixels are
    averaged in squares first.

    References
    ----------
    Lorensen and Cline, Computer Graphics 21 (1987) 163-169, in two dimensions. Douglas and Peucker,
    Cartographica 10 (1973) 112-122.
    """
    if not 0 < threshold < 1:
        raise UsageError("threshold cannot be", found=f"{threshold:g}", expected="between 0 and 1")
    if not 0 <= least_mm2 <= 1e6:
        raise UsageError("smallest area cannot be", found=f"{least_mm2:g} mm2", expected="0 or more")
    pitch = size_mm[0] / plane.width, size_mm[1] / plane.height
    every = max(1, math.ceil(math.sqrt(plane.width * plane.height / _MOST_PIXELS)))
    if every > 1 and every * max(pitch) > _COARSEST_MM:
        raise InputError(
            "artwork has too many pixels to be traced",
            found=f"{plane.width} x {plane.height} pixels",
            expected=f"at most {_MOST_PIXELS:,}, or pixels so fine that {every} of them are 0.25 mm",
            advice="Trace a reduced copy, or give a contour",
        )
    grid = _averaged(plane, every, progress)
    level = threshold
    if np.any(grid == level):
        # A sample that equals the level would give lines of no length.
        level = float(np.nextafter(np.float32(level), np.float32(1)))
    from contourpy import LineType, contour_generator

    lines = contour_generator(z=grid, line_type=LineType.Separate).lines(level)
    # Sample 1 of the padded grid is the first, its centre half a sample from the edge.
    step = np.array([pitch[0] * every, pitch[1] * every])
    rings = [(np.asarray(line)[:-1] - 0.5) * step for line in lines]
    return _kept(rings, size_mm, float(step.max()), tolerance_mm, least_mm2)


def _averaged(plane: BandSource, every: int, progress: Progress) -> NDArray[np.float32]:
    """Return coverage 0-1 of squares of pixels, bare all around."""
    rows, columns = math.ceil(plane.height / every), math.ceil(plane.width / every)
    grid = np.zeros((rows + 2, columns + 2), dtype=np.float32)
    full = float(np.iinfo(plane.dtype).max)
    band = every * max(1, _BAND_BYTES // (every * plane.width * 8))
    starts = np.arange(0, plane.width, every)
    for y in range(0, plane.height, band):
        end = min(y + band, plane.height)
        part = plane.read(y, end)[..., 0].astype(np.float64)
        part = np.add.reduceat(np.add.reduceat(part, starts, axis=1), np.arange(0, end - y, every), axis=0)
        grid[1 + y // every : 1 + y // every + len(part), 1:-1] = part / (full * every * every)
        progress("trace", end / plane.height)
    return grid


def _kept(
    rings: list[Points], size_mm: tuple[float, float], pixel_mm: float, tolerance_mm: float, least_mm2: float
) -> tuple[ContourSet, int]:
    shapely = import_shapely()
    whole = [ring for ring in rings if len(ring) >= 3]
    shapes = np.array([shapely.Polygon(ring) for ring in whole], dtype=object)
    large = shapely.area(shapes) > max(least_mm2, 1e-9)
    found: list[Contour] = []
    for ring, is_large in zip(whole, large, strict=True):
        if is_large:
            first = _simplified(ring, min(0.1 * pixel_mm, tolerance_mm / 2))
            points = _simplified(_with_corners(first, pixel_mm), tolerance_mm / 2)
            found.append(Contour(f"trace {len(found) + 1}", points))
    if not found:
        raise InputError(
            "nothing is covered",
            found=f"{len(rings)} specks",
            advice="Lower the threshold or the smallest area",
        )
    check_amount(found)
    return ContourSet(tuple(found), size_mm), len(rings) - len(found)


def _simplified(points: Points, tolerance_mm: float) -> Points:
    """Return fewer points; the start is put where the line bends most, for that point stays."""
    shapely = import_shapely()
    ahead, behind = np.roll(points, -1, axis=0) - points, points - np.roll(points, 1, axis=0)
    cross = ahead[:, 0] * behind[:, 1] - ahead[:, 1] * behind[:, 0]
    bend = np.abs(np.arctan2(cross, (ahead * behind).sum(axis=1)))
    ring = shapely.Polygon(np.roll(points, -int(np.argmax(bend)), axis=0))
    plain = shapely.simplify(ring, tolerance_mm, preserve_topology=True)
    return np.asarray(shapely.get_coordinates(plain.exterior)[:-1])


def _with_corners(points: Points, pixel_mm: float) -> Points:
    """Put back corners that a grid cannot show: two long edges with one short edge between them meet again.

    The short edge is at most 1.2 pixels, the long ones at least 3 pixels, and the corner stands at most one
    pixel beyond it.
    """
    edges = np.roll(points, -1, axis=0) - points
    length = np.hypot(*edges.T)
    before, after = np.roll(edges, 1, axis=0), np.roll(edges, -1, axis=0)
    is_cut = (length < 1.2 * pixel_mm) & (np.roll(length, 1) > 3 * pixel_mm)
    is_cut &= np.roll(length, -1) > 3 * pixel_mm
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    along = edges[:, 0] * after[:, 1] - edges[:, 1] * after[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        corner = points + before * (along / cross)[:, None]
    far = np.hypot(*(corner - (points + edges / 2)).T)
    is_cut &= np.isfinite(far) & (far < pixel_mm)
    if not is_cut.any():
        return points
    made = np.where(is_cut[:, None], corner, points)
    return np.asarray(made[~np.roll(is_cut, 1)])
