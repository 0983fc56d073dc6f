"""Cut paths as PDF with processing steps.

References
----------
ISO 19593-1:2018, Use of PDF to associate processing steps and content data: an optional content group whose
dictionary GTS_Metadata holds GTS_ProcStepsGroup (Structural) and GTS_ProcStepsType (Cutting). The names are
those of public conformance patches; that its lines are drawn in a spot colour of their own and overprint is
from memory. ISO 32000-1:2008, 8.11 (optional content), 8.6.6.4 (Separation), table 30 (UserUnit).
"""

from __future__ import annotations

import math
from pathlib import Path

from strikeoff.base.files import write_bytes
from strikeoff.layout.cut_paths import CutPlan
from strikeoff.report.pdf_file import pdf_bytes, stream_object

SPOT, GROUP, STEP = "CutContour", "Structural", "Cutting"

_POINT_MM = 25.4 / 72
_LARGEST_UNITS = 14_400.0
_LINE_MM = 0.25


def write_cut_pdf(path: str | Path, plan: CutPlan, title: str, caution: str) -> None:
    """Write cuts in their order on a page of the size of the cloth, its top up.

    The caution is the subject of the document, which is not drawn. A page of more than 5.08 m counts in
    larger units (UserUnit), for readers take no more than 14,400.
    """
    left, top, right, bottom = plan.box_mm
    points = (right - left) / _POINT_MM, (bottom - top) / _POINT_MM
    unit = max(1, math.ceil(max(points) / _LARGEST_UNITS))
    step = _POINT_MM * unit
    content = [f"/OC /Cut BDC q /Over gs /Spot CS 1 SCN {_LINE_MM / step:.6f} w"]
    for cut in plan.paths:
        places = [f"{(x - left) / step:.6f} {(bottom - y) / step:.6f}" for x, y in cut.points.tolist()]
        content.append(f"{places[0]} m " + " ".join(f"{place} l" for place in places[1:]) + " s")
    content.append("Q EMC\n")
    size = f"{points[0] / unit:.6f} {points[1] / unit:.6f}"
    user = "" if unit == 1 else f" /UserUnit {unit}"
    resources = (
        "<< /Properties << /Cut 6 0 R >> "
        "/ExtGState << /Over << /Type /ExtGState /OP true /op true /OPM 1 >> >> "
        f"/ColorSpace << /Spot [ /Separation /{SPOT} /DeviceCMYK 7 0 R ] >> >>"
    )
    layers = "<< /OCGs [ 6 0 R ] /D << /Name (Layers) /BaseState /ON /ON [ 6 0 R ] /Order [ 6 0 R ] >> >>"
    metadata = f"<< /GTS_ProcStepsGroup /{GROUP} /GTS_ProcStepsType /{STEP} >>"
    tint = "<< /FunctionType 2 /Domain [ 0 1 ] /C0 [ 0 0 0 0 ] /C1 [ 0 1 0 0 ] /N 1 >>"
    stream = "\n".join(content).encode("ascii")
    write_bytes(
        path,
        pdf_bytes(
            [
                f"<< /Type /Catalog /Pages 2 0 R /OCProperties {layers} >>".encode("ascii"),
                b"<< /Type /Pages /Kids [ 3 0 R ] /Count 1 >>",
                f"<< /Type /Page /Parent 2 0 R /MediaBox [ 0 0 {size} ] /TrimBox [ 0 0 {size} ]{user} "
                f"/Resources {resources} /Contents 4 0 R >>".encode("ascii"),
                stream_object(stream),
                b"<< /Title " + _text(title) + b" /Subject " + _text(caution) + b" >>",
                f"<< /Type /OCG /Name ({STEP}) /GTS_Metadata {metadata} >>".encode("ascii"),
                tint.encode("ascii"),
            ],
            version=b"1.7",
            trailer=b"trailer\n<< /Size %d /Root 1 0 R /Info 5 0 R >>",
        ),
    )


def _text(text: str) -> bytes:
    return b"<" + ("\ufeff" + text).encode("utf-16-be").hex().encode("ascii") + b">"
