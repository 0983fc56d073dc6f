"""What a PDF page draws: spaces, images, thin lines, small type, overprinted white, groups.

Loaded in the worker process only.
"""

from __future__ import annotations

import math
from typing import Any

from pymupdf import mupdf

_SEPARATION, _LAB, _CMYK = 7, 5, 4
_MOST = 400
# FZ_MAX_COLORS.
_MOST_COLOURANTS = 32
# Thinner strokes and slivers than this are kept for the check, in points on the page as drawn. [pt]
_THIN_PT = 12.0
_SMALL_TYPE_PT = 60.0


def watch(page: Any) -> Watcher:
    """Run a page through a device that draws nothing and writes down what it is told."""
    watcher = Watcher()
    mupdf.pdf_run_page_with_usage(
        mupdf.pdf_page_from_fz_page(page), watcher, mupdf.FzMatrix(), "Print", mupdf.FzCookie()
    )
    return watcher


def full_tone(spot: tuple[Any, int], target: Any) -> list[float]:
    """Return the alternate colour of a named one's full tone in a process space.

    Parameters
    ----------
    spot : tuple
        Colour space and place of the name in it; see `Watcher.spots`.
    target : FzColorspace
        Process space.
    """
    tones = mupdf.new_floats(_MOST_COLOURANTS)
    for index in range(_MOST_COLOURANTS):
        mupdf.floats_setitem(tones, index, float(index == spot[1]))
    found, params = mupdf.fz_convert_color2_v(), mupdf.FzColorParams()
    mupdf.ll_fz_convert_color2(spot[0], tones, target.m_internal, found, None, params.internal())
    return [float(getattr(found, f"v{index}")) for index in range(target.m_internal.n)]


class Watcher(mupdf.FzDevice2):  # type: ignore[misc]
    """A device that counts."""

    def __init__(self) -> None:
        super().__init__()
        for name in (
            "fill_path", "stroke_path", "clip_path", "fill_text", "stroke_text", "fill_image",
            "fill_image_mask", "fill_shade", "begin_group", "set_default_colorspaces",
        ):  # fmt: skip
            getattr(self, f"use_virtual_{name}")()
        self.spaces: set[str] = set()
        self.groups: set[str] = set()
        self.images: list[dict[str, Any]] = []
        self.thin: list[dict[str, Any]] = []
        self.type: list[dict[str, Any]] = []
        self.white_overprints: list[list[float]] = []
        self.objects = 0
        self.is_transparent = False
        self.has_rgb_overprints = False
        self.spots: dict[str, tuple[Any, int]] = {}

    def facts(self) -> dict[str, Any]:
        """Return what was written down."""
        return {
            "spaces": sorted(self.spaces),
            "groups": sorted(self.groups),
            "images": self.images,
            "thin": sorted(self.thin, key=lambda line: float(line["width_pt"]))[:_MOST],
            "type": sorted(self.type, key=lambda text: float(text["size_pt"]))[:_MOST],
            "white_overprints": self.white_overprints,
            "colourants": sorted(self.spots),
            "objects": self.objects,
            "is_transparent": self.is_transparent,
            "has_rgb_overprints": self.has_rgb_overprints,
        }

    def _note(self, space: Any, alpha: float) -> None:
        self.objects += 1
        if space:
            name = _name(space)
            if name not in self.spaces:
                self.spaces.add(name)
                self._note_spots(space)
        if alpha < 1:
            self.is_transparent = True

    def _note_spots(self, space: Any) -> None:
        if mupdf.ll_fz_colorspace_type(space) == _SEPARATION:
            for index in range(min(space.n, _MOST_COLOURANTS)):
                colourant = str(mupdf.ll_fz_colorspace_colorant(space, index))
                if colourant not in self.spots:
                    self.spots[colourant] = mupdf.ll_fz_keep_colorspace(space), index

    def _note_white(self, space: Any, color: Any, params: Any, box: list[float]) -> None:
        if params.op and space and space.n == 3 and any(mupdf.floats_getitem(color, i) > 0 for i in range(3)):
            self.has_rgb_overprints = True
        if params.op and space and _is_white(space, color) and len(self.white_overprints) < _MOST:
            self.white_overprints.append(box)

    def fill_path(
        self, ctx: Any, path: Any, even_odd: int, ctm: Any, space: Any, color: Any, alpha: float, params: Any
    ) -> None:
        """Note a filled path; slivers count as thin lines."""
        self._note(space, alpha)
        box = _bounds(mupdf.ll_fz_bound_path(path, None, ctm))
        width = min(box[2] - box[0], box[3] - box[1])
        longer = max(box[2] - box[0], box[3] - box[1])
        if 0 < width < _THIN_PT and longer > 3 * width and len(self.thin) < 20 * _MOST:
            self.thin.append({"width_pt": width, "box": box, "kind": "area"})
        self._note_white(space, color, params, box)

    def stroke_path(
        self, ctx: Any, path: Any, stroke: Any, ctm: Any, space: Any, color: Any, alpha: float, params: Any
    ) -> None:
        """Note a stroke and how thin it is."""
        self._note(space, alpha)
        box = _bounds(mupdf.ll_fz_bound_path(path, stroke, ctm))
        width = stroke.linewidth * _expansion(ctm)
        if width < _THIN_PT and len(self.thin) < 20 * _MOST:
            self.thin.append({"width_pt": width, "box": box, "kind": "line"})
        self._note_white(space, color, params, box)

    def clip_path(self, ctx: Any, path: Any, even_odd: int, ctm: Any, scissor: Any) -> None:
        """Nothing is drawn."""

    def fill_text(
        self, ctx: Any, text: Any, ctm: Any, space: Any, color: Any, alpha: float, params: Any
    ) -> None:
        """Note type and how small it is."""
        self._note(space, alpha)
        box = _bounds(mupdf.ll_fz_bound_text(text, None, ctm))
        self._note_white(space, color, params, box)
        self._note_type(text, ctm, box)

    def stroke_text(
        self, ctx: Any, text: Any, stroke: Any, ctm: Any, space: Any, color: Any, alpha: float, params: Any
    ) -> None:
        """Note outlined type."""
        self._note(space, alpha)
        self._note_type(text, ctm, _bounds(mupdf.ll_fz_bound_text(text, stroke, ctm)))

    def _note_type(self, text: Any, ctm: Any, box: list[float]) -> None:
        span = text.head
        if span is None:
            return
        size = _expansion(span.trm) * _expansion(ctm)
        if size < _SMALL_TYPE_PT and len(self.type) < 20 * _MOST:
            self.type.append({"size_pt": size, "box": box})

    def fill_image(self, ctx: Any, image: Any, ctm: Any, alpha: float, params: Any) -> None:
        """Note an image: its pixels, its place, its space."""
        self._note(image.colorspace, alpha)
        if len(self.images) < _MOST:
            self.images.append(
                {
                    "width_px": image.w,
                    "height_px": image.h,
                    "bits": image.bpc,
                    "space": _name(image.colorspace) if image.colorspace else "mask",
                    "matrix": [ctm.a, ctm.b, ctm.c, ctm.d, ctm.e, ctm.f],
                }
            )

    def fill_image_mask(
        self, ctx: Any, image: Any, ctm: Any, space: Any, color: Any, alpha: float, params: Any
    ) -> None:
        """Note a stencil."""
        self._note(space, alpha)

    def fill_shade(self, ctx: Any, shade: Any, ctm: Any, alpha: float, params: Any) -> None:
        """Note a gradient."""
        self._note(shade.colorspace, alpha)

    def begin_group(
        self, ctx: Any, area: Any, space: Any, isolated: int, knockout: int, blend: int, alpha: float
    ) -> None:
        """Note a transparency group and the space that it blends in."""
        if space:
            self.groups.add(_name(space))
        if alpha < 1 or blend:
            self.is_transparent = True

    def set_default_colorspaces(self, ctx: Any, defaults: Any) -> None:
        """Note spaces that stand for the plain ones on this page."""
        for default in (mupdf.ll_fz_default_rgb, mupdf.ll_fz_default_cmyk, mupdf.ll_fz_default_gray):
            space = default(defaults)
            if space and not mupdf.ll_fz_colorspace_is_device(space):
                self.spaces.add("default " + _name(space))


def _name(space: Any) -> str:
    return str(mupdf.ll_fz_colorspace_name(space))[:4000]


def _bounds(rect: Any) -> list[float]:
    return [rect.x0, rect.y0, rect.x1, rect.y1]


def _expansion(matrix: Any) -> float:
    return math.sqrt(abs(matrix.a * matrix.d - matrix.b * matrix.c))


def _is_white(space: Any, color: Any) -> bool:
    values: list[float] = [float(mupdf.floats_getitem(color, i)) for i in range(space.n)]
    kind = int(mupdf.ll_fz_colorspace_type(space))
    if kind in (_SEPARATION, _CMYK):
        return all(value <= 0 for value in values)
    if kind == _LAB:
        return values[0] >= 100
    return all(value >= 1 for value in values)
