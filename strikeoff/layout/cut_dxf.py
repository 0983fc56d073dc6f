"""Cut paths as DXF: closed polylines in millimetres, y upwards."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

from strikeoff.base.files import write_text
from strikeoff.layout.contours_dxf import import_ezdxf
from strikeoff.layout.cut_paths import CutPlan

OUTER_LAYER, INNER_LAYER = "CUT", "CUT_INNER"

_MILLIMETRES = 4
_APPLICATION = "STRIKEOFF"


def write_cut_dxf(path: str | Path, plan: CutPlan, title: str, caution: str) -> None:
    """Write cuts in their order; the origin is the left lower corner of the cloth, its top is up.

    Outlines are on the layer ``CUT``, holes on ``CUT_INNER``; the name of each is its extended data. Title
    and caution are properties of the document, which are not drawn.
    """
    ezdxf = import_ezdxf(path)
    text = io.StringIO()
    # Without this, dates and random names would make equal cuts unequal files.
    was = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        _document(ezdxf, plan, title, caution).write(text)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = was
    write_text(path, text.getvalue())


def _document(ezdxf: Any, plan: CutPlan, title: str, caution: str) -> Any:
    document = ezdxf.new("R2010", setup=False)
    left, top, right, bottom = plan.box_mm
    document.header["$INSUNITS"] = _MILLIMETRES
    document.header["$MEASUREMENT"] = 1
    document.header["$EXTMIN"] = (0.0, 0.0, 0.0)
    document.header["$EXTMAX"] = (right - left, bottom - top, 0.0)
    document.header.custom_vars.append("title", title)
    document.header.custom_vars.append("caution", caution)
    document.layers.add(OUTER_LAYER, color=6)
    document.layers.add(INNER_LAYER, color=4)
    document.appids.add(_APPLICATION)
    space = document.modelspace()
    space.reset_extents((0.0, 0.0, 0.0), (right - left, bottom - top, 0.0))
    for cut in plan.paths:
        points = [(round(x - left, 5), round(bottom - y, 5)) for x, y in cut.points.tolist()]
        layer = INNER_LAYER if cut.is_inner else OUTER_LAYER
        line = space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})
        line.set_xdata(_APPLICATION, [(1000, cut.name[:250])])
    return document
