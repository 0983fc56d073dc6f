"""What the worker answers about a page of a PDF file: what is on it, its picture, rows of it."""

from __future__ import annotations

import base64
from dataclasses import dataclass, field
from typing import Any

from strikeoff.artwork.pdf_profiles import MOST_OBJECTS, held_profiles, set_output_intent

_CMYK, _RGB = 4, 2
_BOXES = ("media", "crop", "bleed", "trim", "art")


@dataclass
class Opened:
    """One open file.

    Attributes
    ----------
    document, page : object
        Of the interpreter.
    picture : Picture
        How the page is to be drawn, once that was said.
    spots : dict
        Named colours that are drawn; see `pdf_watch.Watcher`.
    """

    document: Any = None
    page: Any = None
    picture: Any = None
    spots: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Picture:
    """How a page becomes pixels: space, planes, mapping, and the list of what is drawn."""

    space: Any
    separations: Any
    n_named: int
    matrix: Any
    drawn: Any
    width: int
    is_rgb: bool


def open_page(opened: Opened, request: dict[str, Any]) -> dict[str, Any]:
    """Open a page and tell everything about it that decides how it is rendered."""
    import pymupdf
    from pymupdf import mupdf

    from strikeoff.artwork.pdf_watch import watch

    document = pymupdf.open(request["path"], filetype="pdf")
    if document.needs_pass:
        return {"fault": "the file is locked with a password"}
    number = int(request["page"])
    if not 0 <= number < document.page_count:
        return {"fault": "there is no such page", "found": str(number + 1), "pages": document.page_count}
    xref = document.page_xref(number)
    if request.get("profile"):
        set_output_intent(document, base64.b64decode(request["profile"]))
    if request.get("no_page_group_space"):
        document.xref_set_key(xref, "Group/CS", "null")
    if request.get("overprint_by_multiply"):
        _multiply_overprints(document)
    opened.document = document
    opened.page = mupdf.fz_load_page(pymupdf._as_fz_document(document), number)
    separations = mupdf.fz_page_separations(opened.page)
    n_named = mupdf.fz_count_separations(separations) if separations.m_internal else 0
    boxes = {}
    for index, name in enumerate(_BOXES):
        box = mupdf.fz_bound_page_box(opened.page, index)
        boxes[name] = [box.x0, box.y0, box.x1, box.y1]
    answer = {
        "pages": document.page_count,
        "boxes": boxes,
        "user_unit": _number(document.xref_get_key(xref, "UserUnit"), 1.0),
        "named": [mupdf.fz_separation_name(separations, i) for i in range(n_named)],
        "uses_overprint": bool(mupdf.fz_page_uses_overprint(opened.page)),
        "page_group": _page_group(document, xref),
        "fonts": _fonts(document, number),
    }
    watcher = watch(opened.page)
    opened.spots = watcher.spots
    answer |= watcher.facts()
    answer |= held_profiles(document, answer["spaces"])
    return answer


def set_picture(opened: Opened, request: dict[str, Any]) -> dict[str, Any]:
    """Fix the process space, the planes and the mapping of the page to pixels."""
    from pymupdf import mupdf

    from strikeoff.artwork.pdf_watch import full_tone

    separations = mupdf.fz_page_separations(opened.page)
    n_named = mupdf.fz_count_separations(separations) if separations.m_internal else 0
    if not request["separate"]:
        separations, n_named = mupdf.FzSeparations(), 0
    # All or none: the interpreter's planes are wrong where only some are kept.
    for index in range(n_named):
        mupdf.fz_set_separation_behavior(separations, index, mupdf.FZ_SEPARATION_SPOT)
    if n_named == 0 and not request["rgb"] and mupdf.fz_page_uses_overprint(opened.page):
        separations = mupdf.fz_new_separations(0)
    x0, y0, x1, y1 = request["box"]
    width, height = request["pixels"]
    scale = mupdf.FzMatrix(width / (x1 - x0), 0, 0, height / (y1 - y0), 0, 0)
    shift = mupdf.FzMatrix(1, 0, 0, 1, -x0, -y0)
    drawn = mupdf.FzDisplayList(mupdf.FzRect(mupdf.FzRect.Fixed_INFINITE))
    device = mupdf.fz_new_list_device(drawn)
    mupdf.pdf_run_page_with_usage(
        mupdf.pdf_page_from_fz_page(opened.page), device, mupdf.FzMatrix(), "Print", mupdf.FzCookie()
    )
    mupdf.fz_close_device(device)
    opened.picture = Picture(
        space=_space(opened, request),
        separations=separations,
        n_named=n_named,
        matrix=mupdf.fz_concat(shift, scale),
        drawn=drawn,
        width=width,
        is_rgb=bool(request["rgb"]),
    )
    planes = [str(mupdf.fz_separation_name(separations, index)) for index in range(n_named)]
    tones = {
        name: full_tone(opened.spots[name], opened.picture.space) for name in planes if name in opened.spots
    }
    return {"planes": planes, "full_tones": tones}


def rows(opened: Opened, request: dict[str, Any]) -> tuple[dict[str, Any], memoryview]:
    """Draw some rows: process planes, then one plane for each named colour, 8 bits."""
    from pymupdf import mupdf

    made: Picture = opened.picture
    y0, y1 = int(request["y0"]), int(request["y1"])
    bounds = mupdf.FzIrect(0, y0, made.width, y1)
    pixmap = mupdf.fz_new_pixmap_with_bbox(made.space, bounds, made.separations, 0)
    size = pixmap.stride() * pixmap.h()
    data = mupdf.python_memoryview_from_memory(mupdf.ll_fz_pixmap_samples(pixmap.m_internal), size, 1)
    if made.is_rgb:
        data[:] = (b"\xff\xff\xff" + bytes(made.n_named)) * (made.width * (y1 - y0))
    else:
        data[:] = bytes(size)
    device = mupdf.fz_new_draw_device(mupdf.FzMatrix(), pixmap)
    mupdf.fz_run_display_list(
        made.drawn, device, made.matrix, mupdf.FzRect(0, y0, made.width, y1), mupdf.FzCookie()
    )
    mupdf.fz_close_device(device)
    # The copy outlives the pixmap; the view alone would not keep it.
    return {"bytes": size}, memoryview(bytes(data))


def classes(opened: Opened, request: dict[str, Any]) -> tuple[dict[str, Any], memoryview]:
    """Draw some rows in class colours, three bytes a pixel; see `pdf_classes`."""
    from strikeoff.artwork.pdf_classes import draw_classes

    made: Picture = opened.picture
    data = draw_classes(made.drawn, made.matrix, made.width, int(request["y0"]), int(request["y1"]))
    return {"bytes": len(data)}, data


def _space(opened: Opened, request: dict[str, Any]) -> Any:
    import pymupdf
    from pymupdf import mupdf

    if not request["rgb"]:
        intent = mupdf.fz_document_output_intent(pymupdf._as_fz_document(opened.document))
        is_cmyk = bool(intent.m_internal) and mupdf.fz_colorspace_type(intent) == _CMYK
        return intent if is_cmyk else mupdf.fz_device_cmyk()
    if not request.get("space"):
        return mupdf.fz_device_rgb()
    profile = mupdf.fz_new_buffer_from_copied_data(base64.b64decode(request["space"]))
    return mupdf.fz_new_icc_colorspace(_RGB, 0, "page", profile)


def _multiply_overprints(document: Any) -> None:
    """Let what overprints multiply: in RGB, where nothing can overprint, that keeps what lies beneath."""
    import pymupdf
    from pymupdf import mupdf

    pdf = pymupdf._as_pdf_document(document)
    for number in range(1, min(mupdf.pdf_xref_len(pdf), MOST_OBJECTS)):
        holder = mupdf.pdf_load_object(pdf, number)
        states = mupdf.pdf_dict_gets(mupdf.pdf_dict_gets(holder, "Resources"), "ExtGState")
        for index in range(mupdf.pdf_dict_len(states) if mupdf.pdf_is_dict(states) else 0):
            state = mupdf.pdf_dict_get_val(states, index)
            stated = [mupdf.pdf_dict_gets(state, key) for key in ("op", "OP")]
            stated = [value for value in stated if mupdf.pdf_is_bool(value)]
            blend = mupdf.pdf_to_name(mupdf.pdf_dict_gets(state, "BM"))
            if stated and blend in ("", "Normal", "Compatible"):
                is_over = any(mupdf.pdf_to_bool(value) for value in stated)
                mupdf.pdf_dict_puts(state, "BM", mupdf.pdf_new_name("Multiply" if is_over else "Normal"))


def _page_group(document: Any, xref: int) -> str | None:
    kind, value = document.xref_get_key(xref, "Group/CS")
    return None if kind == "null" else str(value)[:80]


def _number(entry: tuple[str, str], default: float) -> float:
    try:
        return float(entry[1]) if entry[0] in ("int", "float", "real") else default
    except ValueError:
        return default


def _fonts(document: Any, number: int) -> list[dict[str, Any]]:
    return [
        {"name": str(font[3])[:120], "kind": str(font[2]), "embedded": font[1] != "n/a" or font[2] == "Type3"}
        for font in document.get_page_fonts(number, full=True)[:500]
    ]
