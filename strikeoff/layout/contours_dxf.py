"""Contours of a DXF drawing: closed polylines, circles, ellipses and splines of its model space."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes
from strikeoff.layout.contours import (
    LONGEST_MM,
    MOST_CONTOURS,
    Contour,
    ContourSet,
    Points,
    closed_contour,
)
from strikeoff.layout.contours_curves import arc_pieces

_MOST_BYTES = 64 << 20
_KINDS = ("LWPOLYLINE", "POLYLINE", "CIRCLE", "ELLIPSE", "SPLINE")
_OTHERS = ("LINE", "ARC", "INSERT")

#: $INSUNITS to millimetres; 0, nothing stated, is taken for millimetres.
_UNIT_MM = {0: 1.0, 1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 14: 100.0}


def read_dxf_contours(path: str | Path, tolerance_mm: float) -> ContourSet:
    """Read the closed lines of a DXF file; y is turned downwards, the origin stays at the lower edge.

    Parameters
    ----------
    path : path-like
        File; without a unit it is taken for millimetres.
    tolerance_mm : float
        Most distance of a curve from the straight pieces that stand for it. [mm]

    Raises
    ------
    InputError
        Not DXF, too large, units that are not known, an open line, loose lines that are not joined.
    """
    file = Path(path)
    data = read_bytes(file, _MOST_BYTES)
    ezdxf = import_ezdxf(file)
    if not data.strip():
        raise InputError("file is empty", path=file, expected="a DXF drawing")
    try:
        document = ezdxf.readfile(str(file))
        units = int(document.header.get("$INSUNITS", 0))
        entities = list(document.modelspace())
    except MemoryError:
        raise
    except Exception as error:
        # The library raises many classes on damaged files.
        raise InputError("DXF cannot be read", path=file, found=" ".join(str(error).split())[:120]) from error
    if units not in _UNIT_MM:
        raise InputError(
            "units of the drawing are not known",
            path=file,
            where="$INSUNITS",
            found=units,
            expected="millimetres",
        )
    if len(entities) > MOST_CONTOURS:
        raise InputError(
            "too many shapes", path=file, found=len(entities), expected=f"at most {MOST_CONTOURS:,}"
        )
    mm = _UNIT_MM[units]
    found: list[Contour] = []
    for number, entity in enumerate(entities, 1):
        kind = entity.dxftype()
        if kind in _OTHERS:
            raise InputError(
                "contour is loose lines or a block",
                path=file,
                where=f"{kind} {entity.dxf.handle}, layer {entity.dxf.layer}",
                expected="closed polylines",
                advice="Explode blocks, and join lines into polylines",
            )
        if kind in _KINDS:
            name = f"{entity.dxf.layer}/{number}"
            found.append(_contour(entity, name, mm, tolerance_mm, file))
    return ContourSet(tuple(found), None)


def import_ezdxf(file: object) -> Any:
    """Return the DXF library of the extra ``cut``."""
    try:
        import ezdxf
    except ImportError as error:
        raise UsageError(
            "DXF needs an optional package",
            path=file,
            found="no package ezdxf",
            expected="strikeoff installed with its extra: strikeoff[cut]",
        ) from error
    return ezdxf


def _contour(entity: Any, name: str, mm: float, tolerance_mm: float, file: Path) -> Contour:
    try:
        points, is_closed = _points(entity, tolerance_mm / mm)
    except Exception as error:
        raise InputError(
            "contour cannot be understood",
            path=file,
            where=f"contour {name}",
            found=" ".join(str(error).split())[:120],
        ) from error
    return closed_contour(name, points * (mm, -mm), path=file, is_closed=is_closed)


def _points(entity: Any, tolerance: float) -> tuple[Points, bool]:
    """Return points in the drawing's units and axes, and whether the entity says that they close."""
    kind = entity.dxftype()
    if kind == "LWPOLYLINE":
        corners = np.array(list(entity.get_points("xyb")), dtype=np.float64).reshape(-1, 3)
        line = _with_bulges(corners, bool(entity.closed), tolerance)
        return _xy(entity.ocs().points_to_wcs([(x, y, 0.0) for x, y in line.tolist()])), bool(entity.closed)
    if kind == "POLYLINE":
        if not entity.is_2d_polyline:
            return _xy(vertex.dxf.location for vertex in entity.vertices), bool(entity.is_closed)
        rows = [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in entity.vertices]
        line = _with_bulges(np.array(rows, dtype=np.float64).reshape(-1, 3), entity.is_closed, tolerance)
        places = entity.ocs().points_to_wcs([(x, y, 0.0) for x, y in line.tolist()])
        return _xy(places), bool(entity.is_closed)
    if kind == "CIRCLE":
        if not 0 < entity.dxf.radius < LONGEST_MM * 1000:
            raise ValueError(f"radius {entity.dxf.radius:g}")
        return _xy(entity.flattening(min(tolerance, entity.dxf.radius / 4))), True
    return _xy(entity.flattening(tolerance, 8)), bool(kind == "SPLINE" and entity.closed)


def _with_bulges(corners: Points, is_closed: bool, tolerance: float) -> Points:
    """Return corners with the arcs between them; a bulge is the tangent of a quarter of the arc's angle."""
    parts = []
    for k, (x, y, bulge) in enumerate(corners.tolist()):
        parts.append(np.array([[x, y]]))
        if bulge == 0 or (k == len(corners) - 1 and not is_closed):
            continue
        end = corners[(k + 1) % len(corners), :2]
        chord = end - (x, y)
        sweep = 4 * math.atan(bulge)
        # From the middle of the chord to its left, for a positive bulge curves to the right of it.
        centre = (np.array([x, y]) + end) / 2 + np.array([-chord[1], chord[0]]) * (1 - bulge**2) / (4 * bulge)
        radius = math.hypot(*(centre - (x, y)))
        pieces = arc_pieces(radius, sweep, tolerance)
        start = math.atan2(y - centre[1], x - centre[0])
        angle = start + sweep * np.arange(1, pieces) / pieces
        parts.append(centre + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1))
    return np.concatenate(parts) if parts else np.zeros((0, 2))


def _xy(points: Any) -> Points:
    return np.array([(p[0], p[1]) for p in points], dtype=np.float64).reshape(-1, 2)
