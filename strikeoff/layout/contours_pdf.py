"""Contours of the first page of a PDF: the lines of one layer."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import numpy as np

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import storage_errors
from strikeoff.layout.contours import Contour, ContourSet, closed_contour
from strikeoff.layout.contours_curves import flat_bezier
from strikeoff.layout.contours_process import ask_process

_MM = 25.4 / 72
_MOST_BYTES = 256 << 20
_SECONDS, _MEMORY_BYTES = 60.0, 4 << 30


def read_pdf_contours(path: str | Path, tolerance_mm: float, layer: str | None = None) -> ContourSet:
    """Read the closed lines that a layer of a PDF page holds.

    Parameters
    ----------
    path : path-like
        File; its first page.
    tolerance_mm : float
        Most distance of a curve from the straight pieces that stand for it. [mm]
    layer : str, optional
        Name of the optional content; all that the page draws when None.

    Raises
    ------
    InputError
        Not PDF, no such layer, an open line.
    """
    file = Path(path)
    if find_spec("pymupdf") is None:
        raise UsageError(
            "reading PDF needs an optional package",
            path=file,
            found="no package pymupdf",
            expected="strikeoff installed with its extra: strikeoff[pdf]",
        )
    with storage_errors(file):
        size = file.stat().st_size
        with file.open("rb") as stream:
            head = stream.read(1024)
    if size > _MOST_BYTES or b"%PDF-" not in head:
        raise InputError("not a PDF that can be read", path=file, expected="PDF of at most 256 MiB")
    answer = ask_process(
        "strikeoff.layout.contours_pdf_worker",
        {"path": str(file.resolve()), "layer": layer},
        seconds=_SECONDS,
        memory_bytes=_MEMORY_BYTES,
        what="reading the PDF",
        path=file,
    )
    if layer is not None and not answer["lines"]:
        raise InputError(
            "layer holds no line",
            path=file,
            where=layer,
            expected=", ".join(answer["layers"]) or "a PDF with layers",
        )
    found: list[Contour] = []
    for number, run in enumerate(answer["lines"], 1):
        nodes = [np.array(segment, dtype=np.float64) * _MM for segment in run["segments"]]
        parts = [nodes[0][:1]]
        parts += [n[1:] if len(n) == 2 else flat_bezier(n, tolerance_mm) for n in nodes]
        name = str(number) if layer is None else f"{layer}/{number}"
        found.append(closed_contour(name, np.concatenate(parts), path=file, is_closed=run["closed"]))
    width, height = answer["size"]
    return ContourSet(tuple(found), (width * _MM, height * _MM))
