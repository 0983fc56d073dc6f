"""Contours of an SVG drawing: every shape that is drawn, in its file's order."""

from __future__ import annotations

import io
import math
import re
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes
from strikeoff.layout.contours import LONGEST_MM, MOST_CONTOURS, Contour, ContourSet, closed_contour
from strikeoff.layout.contours_curves import arc_pieces, flat_bezier

# Reading takes some 2 seconds for 10,000 points of 20 letters each.
_MOST_BYTES = 32 << 20
_MOST_DEPTH = 100
# About 100,000 pieces of line; drawn as short as can be, 300,000 that take some fifteen seconds.
_MOST_DATA = 1_500_000
_UNITLESS_PER_INCH = 96.0
# Lengths of the drawing and its shapes; where one of the needed is missing, the library makes up a size.
_LENGTHS = {
    "svg": ("width", "height"),
    "rect": ("x", "y", "width", "height", "rx", "ry"),
    "circle": ("cx", "cy", "r"),
    "ellipse": ("cx", "cy", "rx", "ry"),
    "line": ("x1", "y1", "x2", "y2"),
}
_NEEDED = {"rect": ("width", "height"), "circle": ("r",), "ellipse": ("rx", "ry")}
_LENGTH = re.compile(r"\s*[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?(px|pt|pc|mm|cm|in|%)?\s*")


def read_svg_contours(path: str | Path, tolerance_mm: float) -> ContourSet:
    """Read the closed lines of an SVG file.

    Parameters
    ----------
    path : path-like
        File. Lengths without a unit are CSS pixels of 1/96 inch.
    tolerance_mm : float
        Most distance of a curve from the straight pieces that stand for it. [mm]

    Raises
    ------
    InputError
        Not SVG, too large, with references or entities, an open line, a number that is none.
    """
    file = Path(path)
    text = read_bytes(file, _MOST_BYTES)
    _check_tree(text, file)
    try:
        import svgelements
    except ImportError as error:
        raise UsageError(
            "reading SVG needs an optional package",
            path=file,
            found="no package svgelements",
            expected="strikeoff installed with its extra: strikeoff[cut]",
        ) from error
    try:
        drawing = svgelements.SVG.parse(io.BytesIO(text), reify=True, ppi=_UNITLESS_PER_INCH)
        shapes = [element for element in drawing.elements() if isinstance(element, svgelements.Shape)]
        mm = 25.4 / _UNITLESS_PER_INCH
        found: list[Contour] = []
        for number, shape in enumerate(shapes, 1):
            if (shape.values or {}).get("display") == "none":
                continue
            found += _contours(svgelements, shape, number, mm, tolerance_mm, file)
        width, height = float(drawing.width) * mm, float(drawing.height) * mm
    except (InputError, MemoryError):
        raise
    except Exception as error:
        # The library raises nearly anything on damaged numbers and transforms.
        raise InputError(
            "SVG cannot be understood", path=file, found=" ".join(str(error).split())[:120]
        ) from error
    root = ET.fromstring(text)
    has_size = root.get("viewBox") is not None or (root.get("width") and root.get("height"))
    good = math.isfinite(width) and math.isfinite(height) and min(width, height) > 0
    if has_size and not (good and max(width, height) <= LONGEST_MM):
        raise InputError(
            "size of the drawing cannot be",
            path=file,
            where="svg",
            found=f"{width:g} x {height:g} mm",
            expected="width and height above 0",
        )
    return ContourSet(tuple(found), (width, height) if has_size else None)


def _check_tree(text: bytes, file: Path) -> None:
    """Refuse what would grow or reach out, before the drawing is built."""
    if not text.strip():
        raise InputError("file is empty", path=file, expected="an SVG drawing")
    if b"<!ENTITY" in text or b"\0" in text[:1024]:
        raise InputError(
            "SVG holds entities or is not UTF-8", path=file, advice="Save it as plain SVG in UTF-8"
        )
    depth = shapes = data = 0
    try:
        for event, element in ET.iterparse(io.BytesIO(text), events=("start", "end")):
            depth += 1 if event == "start" else -1
            if event == "end":
                continue
            name = str(element.tag).rpartition("}")[2]
            if depth == 1 and name != "svg":
                raise InputError("not an SVG drawing", path=file, found=name, expected="svg")
            if name == "use":
                raise InputError(
                    "contours are drawn by reference",
                    path=file,
                    where=f"use {element.get('id') or ''}".strip(),
                    advice="Turn symbols and clones into paths in the drawing program",
                )
            _check_lengths(element, name, file)
            shapes += name in ("path", "rect", "circle", "ellipse", "polygon", "polyline", "line")
            data += len(element.get("d", "")) + len(element.get("points", ""))
            if data > _MOST_DATA:
                raise InputError(
                    "contours are too long",
                    path=file,
                    where=f"{name} {element.get('id') or ''}".strip(),
                    found=f"more than {_MOST_DATA:,} characters of coordinates",
                    advice="Simplify the lines in the drawing program",
                )
            if depth > _MOST_DEPTH or shapes > MOST_CONTOURS:
                raise InputError(
                    "SVG is too deep or has too many shapes",
                    path=file,
                    expected=f"at most {_MOST_DEPTH} levels and {MOST_CONTOURS:,} shapes",
                )
    except ET.ParseError as error:
        raise InputError("file is not XML", path=file, found=str(error)[:120]) from None


def _check_lengths(element: ET.Element, name: str, file: Path) -> None:
    """Refuse lengths in units that the library takes for none, and shapes without a size."""
    where = f"{name} {element.get('id') or ''}".strip()
    for length in _LENGTHS.get(name, ()):
        found = element.get(length)
        if found is not None and not _LENGTH.fullmatch(found):
            raise InputError(
                "length in SVG cannot be understood",
                path=file,
                where=f"{where}, {length}",
                found=found[:40],
                expected="a number, followed at once by mm, cm, in, pt, pc, px, % or nothing",
            )
    for length in _NEEDED.get(name, ()):
        if element.get(length) is None and length not in element.get("style", ""):
            raise InputError(
                "shape has no size",
                path=file,
                where=where,
                found=f"no {length}",
                advice="Turn it into a path",
            )


def _contours(svg: Any, shape: Any, number: int, mm: float, tolerance_mm: float, file: Path) -> list[Contour]:
    path = svg.Path(shape)
    path.reify()
    parts = [svg.Path(part) for part in path.as_subpaths()]
    parts = [part for part in parts if any(not isinstance(s, svg.Move) for s in part)]
    lead = str(shape.id) if shape.id else str(number)
    made = []
    for index, part in enumerate(parts, 1):
        name = lead if len(parts) == 1 else f"{lead}/{index}"
        points: list[np.ndarray[Any, np.dtype[np.float64]]] = []
        is_closed = False
        for segment in part:
            kind = type(segment).__name__
            if kind == "Move":
                points.append(_xy(segment.end)[None])
            elif kind == "Close":
                is_closed = True
            elif kind in ("QuadraticBezier", "CubicBezier"):
                points.append(flat_bezier(np.array([_xy(p) for p in segment]), tolerance_mm / mm))
            elif kind == "Arc":
                pieces = arc_pieces(max(segment.rx, segment.ry), segment.sweep, tolerance_mm / mm)
                points.append(np.array([_xy(segment.point(k / pieces)) for k in range(1, pieces + 1)]))
            else:
                points.append(_xy(segment.end)[None])
        made.append(closed_contour(name, np.concatenate(points) * mm, path=file, is_closed=is_closed))
    return made


def _xy(point: Any) -> np.ndarray[Any, np.dtype[np.float64]]:
    return np.array([float(point.x), float(point.y)])
