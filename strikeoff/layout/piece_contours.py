"""Contours of pieces: their trim, or lines drawn for them, as they lie on the roll."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from strikeoff.base.errors import InputError
from strikeoff.layout.contours import (
    Contour,
    ContourSet,
    Points,
    check_contours,
    import_shapely,
    nesting_depth,
)
from strikeoff.layout.placement import Layout, Placement

_MITRE = 4.0
_SIZE_MM = 0.5


def trim_contours(layout: Layout) -> tuple[Contour, ...]:
    """Return the trim of every piece, its box less its bleed.

    Raises
    ------
    InputError
        A bleed that leaves nothing.
    """
    found = []
    for piece in layout.placements:
        left, top, right, bottom = piece.trim_box_mm
        if not (min(piece.bleeds_mm) >= 0 and left < right and top < bottom):
            raise InputError(
                "bleed leaves nothing of a piece", where=piece.code, found=f"{max(piece.bleeds_mm):g} mm"
            )
        corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
        found.append(Contour(piece.code, np.array(corners, dtype=np.float64)))
    return tuple(found)


def contours_on_piece(contours: ContourSet, piece: Placement) -> tuple[Contour, ...]:
    """Lay contours drawn on upright artwork where a piece lies: cropped, mirrored, turned, moved.

    Parameters
    ----------
    contours : ContourSet
        Finished, from the left upper corner of the artwork; artwork without a page stands on the lower edge
        of the piece. A page of the size of the trim is laid on the trim, else it must be the printed box.
    piece : Placement
        Where it lies.

    Raises
    ------
    InputError
        An area of a repeat, a page of another size than the piece, or nothing left after cropping.
    """
    if piece.repeat is not None:
        raise InputError(
            "contours cannot be laid on an area of a repeat",
            where=piece.code,
            expected="pieces that show their artwork once",
            advice="Choose them with --pieces, or cut the area along its trim",
        )
    wide, high = piece.upright_mm
    move = np.zeros(2)
    if contours.size_mm is None:
        move[1] = high
    elif piece.crop_mm is None:
        move[:] = _bleed_of_page(contours.size_mm, piece)
    lines = [Contour(f"{piece.code}/{c.name}", c.points + move) for c in contours.contours]
    if piece.crop_mm is not None:
        lines = _cropped(lines, piece)
    return tuple(Contour(c.name, lying_points(c.points, piece, wide, high)) for c in lines)


def lying_points(points: Points, piece: Placement, wide: float, high: float) -> Points:
    """Return places on the roll of points of an upright piece of a size. [mm]."""
    x, y = points[:, 0], points[:, 1]
    if piece.mirror:
        x = wide - x
    turned = {0: (x, y), 90: (high - y, x), 180: (wide - x, high - y), 270: (y, wide - x)}[piece.turn_degrees]
    return np.stack([turned[0] + piece.x_mm, turned[1] + piece.y_mm], axis=1)


def _bleed_of_page(size: tuple[float, float], piece: Placement) -> tuple[float, float]:
    """Return where the page begins in the upright box: at its corner, or at that of the trim."""
    wide, high = piece.upright_mm
    for left, top, right, bottom in ((0.0, 0.0, 0.0, 0.0), piece.upright_bleeds_mm):
        wanted = wide - left - right, high - top - bottom
        if all(abs(a - b) <= _SIZE_MM for a, b in zip(size, wanted, strict=True)):
            return left, top
    raise InputError(
        "page of the contours is not as large as the piece",
        where=piece.code,
        found=f"{size[0]:.1f} x {size[1]:.1f} mm",
        expected=f"{wide:.1f} x {high:.1f} mm finished, upright, or that less the bleed",
        advice="Draw contours on the page of the artwork at its finished size",
    )


def _cropped(lines: list[Contour], piece: Placement) -> list[Contour]:
    shapely = import_shapely()
    left, top, wide, high = piece.crop_mm or (0.0, 0.0, 0.0, 0.0)
    parts = shapely.intersection(
        [polygon for _, polygon in _polygons(lines)], shapely.box(left, top, left + wide, top + high)
    )
    found = []
    for name, part in zip([name for name, _ in _polygons(lines)], parts, strict=True):
        found += [Contour(c.name, c.points - (left, top)) for c in _rings(name, part)]
    if not found:
        raise InputError("crop of a piece leaves nothing of its contours", where=piece.code)
    return found


def moved_contours(contours: Sequence[Contour], offset_mm: float) -> tuple[Contour, ...]:
    """Return contours farther out, or farther in for a negative offset; holes become smaller, or larger.

    Corners stay corners, up to four times the offset away; sharper ones are cut off.

    Raises
    ------
    InputError
        A contour that vanishes, or grows into another one.
    """
    if offset_mm == 0:
        return tuple(contours)
    shapely = import_shapely()
    found: list[Contour] = []
    for name, polygon in _polygons(contours):
        grown = shapely.buffer(polygon, offset_mm, join_style="mitre", mitre_limit=_MITRE)
        if grown.is_empty:
            raise InputError(
                "offset leaves nothing of a contour", where=f"contour {name}", found=f"{offset_mm:g} mm"
            )
        found += _rings(name, grown)
    check_contours(found)
    return tuple(found)


def _polygons(contours: Sequence[Contour]) -> list[tuple[str, object]]:
    """Return pieces with their holes: what lies in an odd number of others is a hole."""
    shapely = import_shapely()
    depth, parent = nesting_depth(contours)
    holes: dict[int, list[Points]] = {}
    for i in np.flatnonzero(depth % 2).tolist():
        holes.setdefault(int(parent[i]), []).append(contours[i].points)
    return [
        (contours[i].name, shapely.Polygon(contours[i].points, holes.get(i, [])))
        for i in np.flatnonzero(depth % 2 == 0).tolist()
    ]


def _rings(name: str, shape: object) -> list[Contour]:
    shapely = import_shapely()
    found: list[Contour] = []
    for part in shapely.get_parts(shape):
        if shapely.get_dimensions(part) != 2:
            continue
        for ring in (part.exterior, *part.interiors):
            points = shapely.get_coordinates(ring)[:-1]
            found.append(Contour(name if not found else f"{name}/{len(found) + 1}", points))
    return found
