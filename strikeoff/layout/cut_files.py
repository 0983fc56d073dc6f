"""Cut paths as SVG, DXF or PDF, in printed millimetres."""

from __future__ import annotations

from pathlib import Path

from strikeoff.base.errors import UsageError
from strikeoff.layout.contours import printable
from strikeoff.layout.cut_dxf import write_cut_dxf
from strikeoff.layout.cut_paths import CutPlan
from strikeoff.layout.cut_pdf import write_cut_pdf
from strikeoff.layout.cut_svg import write_cut_svg
from strikeoff.report.cautions import cautions

_WRITERS = {".svg": write_cut_svg, ".dxf": write_cut_dxf, ".pdf": write_cut_pdf}


def check_cut_name(path: str | Path) -> None:
    """Raise UsageError for a name that is none of the kinds."""
    if Path(path).suffix.lower() not in _WRITERS:
        raise UsageError(
            "unknown kind of cut file", found=Path(path).name, expected="a name in .svg, .dxf or .pdf"
        )


def write_cuts(path: str | Path, plan: CutPlan, title: str) -> None:
    """Write cuts as the ending of the name says; the file tells what to heed, where nothing cuts it.

    Raises
    ------
    UsageError
        For another ending, or a package that is missing.
    """
    check_cut_name(path)
    _WRITERS[Path(path).suffix.lower()](path, plan, printable(title), " ".join(cautions(["cutting"])))
