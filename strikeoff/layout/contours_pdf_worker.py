"""The process that reads contours out of a PDF page; it alone loads the interpreter."""

from __future__ import annotations

from typing import Any

from strikeoff.layout.contours_process import serve_process

_MOST_ITEMS = 1_000_000


def page_lines(request: dict[str, Any]) -> dict[str, Any]:
    """Return the lines of one layer of the first page, in points, y downwards.

    Parameters
    ----------
    request : dict
        ``path``, and ``layer``: name of the optional content, None for all that is drawn.
    """
    import pymupdf

    pymupdf.TOOLS.mupdf_display_errors(False)
    document = pymupdf.open(request["path"], filetype="pdf")
    if document.needs_pass:
        return {"fault": "the file is locked with a password"}
    if document.page_count < 1:
        return {"fault": "the file has no page"}
    page = document[0]
    layers = sorted({str(group["name"]) for group in document.get_ocgs().values()})
    lines, items = [], 0
    for drawing in page.get_drawings():
        if request["layer"] is not None and drawing.get("layer") != request["layer"]:
            continue
        items += len(drawing["items"])
        if items > _MOST_ITEMS:
            return {"fault": "more than a million pieces of line"}
        lines += _lines(drawing)
    box = page.rect
    return {"size": [box.width, box.height], "layers": layers, "lines": lines}


def _lines(drawing: dict[str, Any]) -> list[dict[str, Any]]:
    """Return runs of segments; each is a list of nodes, 2 for a straight line and 4 for a curve."""
    runs: list[dict[str, Any]] = []

    def add(nodes: list[Any]) -> None:
        xy = [[node.x, node.y] for node in nodes]
        if not runs or runs[-1]["closed"] or runs[-1]["segments"][-1][-1] != xy[0]:
            runs.append({"segments": [], "closed": False})
        runs[-1]["segments"].append(xy)

    for item in drawing["items"]:
        kind = item[0]
        if kind in ("l", "c"):
            add(list(item[1:]))
        elif kind in ("re", "qu"):
            shape = item[1].quad if kind == "re" else item[1]
            corners = [shape.ul, shape.ur, shape.lr, shape.ll]
            for a, b in zip(corners, [*corners[1:], corners[0]], strict=True):
                add([a, b])
            runs[-1]["closed"] = True
    if runs and (drawing.get("closePath") or drawing.get("type") in ("f", "fs")):
        runs[-1]["closed"] = True
    return runs


if __name__ == "__main__":
    serve_process(page_lines)
