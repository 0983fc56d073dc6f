"""Contours of a DXF drawing: closed polylines, circles, ellipses and splines of its model space."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes
from strikeoff.layout.contours import MOST_CONTOURS, Contour, ContourSet, closed_contour

_MOST_BYTES = 64 << 20
_KINDS = ("LWPOLYLINE", "POLYLINE", "CIRCLE", "ELLIPSE", "SPLINE")
_OTHERS = ("LINE", "ARC")

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
                "contour is loose lines",
                path=file,
                where=f"{kind} {entity.dxf.handle}, layer {entity.dxf.layer}",
                expected="closed polylines",
                advice="Join them into polylines in the drawing program",
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
    from ezdxf import path as paths

    try:
        made = paths.make_path(entity)
        points = np.array([(p.x, p.y) for p in made.flattening(tolerance_mm / mm, segments=4)])
        is_closed = bool(made.is_closed)
    except Exception as error:
        raise InputError(
            "contour cannot be understood",
            path=file,
            where=f"contour {name}",
            found=" ".join(str(error).split())[:120],
        ) from error
    return closed_contour(name, points * (mm, -mm), path=file, is_closed=is_closed)
