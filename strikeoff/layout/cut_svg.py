"""Cut paths as SVG: one user unit is one printed millimetre."""

from __future__ import annotations

from html import escape
from pathlib import Path

from strikeoff.base.files import write_text
from strikeoff.layout.cut_paths import CutPath, CutPlan


def write_cut_svg(path: str | Path, plan: CutPlan, title: str, caution: str) -> None:
    """Write cuts as paths in their order; y downwards, the origin at the left upper corner of the cloth.

    The caution is the description of the document, which is not drawn.
    """
    left, top, right, bottom = plan.box_mm
    size = right - left, bottom - top
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]:.4f}mm" height="{size[1]:.4f}mm" '
        f'viewBox="{left:.4f} {top:.4f} {size[0]:.4f} {size[1]:.4f}">',
        f"<title>{escape(title)}</title>",
        f"<desc>{escape(caution)}</desc>",
        '<g id="cut" fill="none" stroke="#e6007e" stroke-width="0.25">',
        *(_path(number, cut) for number, cut in enumerate(plan.paths, 1)),
        "</g>",
        "</svg>",
        "",
    ]
    write_text(path, "\n".join(lines))


def _path(number: int, cut: CutPath) -> str:
    points = " ".join(f"{x:.4f},{y:.4f}" for x, y in cut.points.tolist())
    kind = "inner" if cut.is_inner else "outer"
    return f'<path id="cut-{number}" class="{kind}" d="M{points}Z"><title>{escape(cut.name)}</title></path>'
