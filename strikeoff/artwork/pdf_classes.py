"""What each pixel of a PDF page belongs to: pictures, line work or type.

The page is drawn once more with every object in the flat colour of its class, in the same order and under the
same clips, so that what covers what is settled as in the page itself. Loaded in the worker process only.
"""

from __future__ import annotations

from typing import Any

from pymupdf import mupdf

# Channel of each class; all 0 is bare.
_GRAPHICS, _TEXT, _IMAGES = 0, 1, 2
_ANY_PART, _SMOOTH = 9, 8
_MOST_COLOURANTS = 32
_TYPE_TIMES = 8


def draw_classes(drawn: Any, matrix: Any, width: int, y0: int, y1: int) -> memoryview:
    """Return rows of a page in class colours, three bytes a pixel: line work, type, pictures.

    Parameters
    ----------
    drawn : FzDisplayList
        The page.
    matrix : FzMatrix
        Page to pixels.
    width, y0, y1 : int
        Pixels of a row; first row, and the row after the last.

    Notes
    -----
    Line work and pictures are not smoothed: a pixel that they touch is theirs. Type is drawn smooth, for the
    interpreter's letters have no such way, and so often over itself that a tenth of a pixel counts most.
    """
    bounds = mupdf.FzIrect(0, y0, width, y1)
    pixmap = mupdf.fz_new_pixmap_with_bbox(mupdf.fz_device_rgb(), bounds, mupdf.FzSeparations(), 0)
    size = pixmap.stride() * pixmap.h()
    data = mupdf.python_memoryview_from_memory(mupdf.ll_fz_pixmap_samples(pixmap.m_internal), size, 1)
    data[:] = bytes(size)
    mupdf.fz_set_graphics_aa_level(_ANY_PART)
    try:
        inner = mupdf.fz_new_draw_device(mupdf.FzMatrix(), pixmap)
        device = ClassDevice(inner, (0.0, float(y0), float(width), float(y1)))
        mupdf.fz_run_display_list(drawn, device, matrix, mupdf.FzRect(0, y0, width, y1), mupdf.FzCookie())
        mupdf.fz_close_device(device)
        mupdf.fz_close_device(inner)
    finally:
        mupdf.fz_set_graphics_aa_level(_SMOOTH)
    # The copy outlives the pixmap; the view alone would not keep it.
    return memoryview(bytes(data))


class ClassDevice(mupdf.FzDevice2):  # type: ignore[misc]
    """A device that passes everything on in the colour of its class.

    Whatever is transparent, blended or masked softly counts as a picture, and so do shadings, whose colour
    runs as a picture's does. Only soft masks themselves are drawn as they are.
    """

    def __init__(self, inner: Any, area: tuple[float, float, float, float]) -> None:
        super().__init__()
        for name in (
            "fill_path", "stroke_path", "clip_path", "clip_stroke_path", "fill_text", "stroke_text",
            "clip_text", "clip_stroke_text", "fill_shade", "fill_image", "fill_image_mask",
            "clip_image_mask", "pop_clip", "begin_mask", "end_mask", "begin_group", "end_group",
            "begin_tile", "end_tile",
        ):  # fmt: skip
            getattr(self, f"use_virtual_{name}")()
        self._kept, self._whole = inner, area
        self._to = inner.m_internal
        self._rgb = mupdf.fz_device_rgb()
        self._kept_params = mupdf.FzColorParams()
        self._params = self._kept_params.internal()
        self._colours = [_class_colour(channel) for channel in range(3)]
        self._masks = 0
        self._clips: list[bool] = []
        self._groups: list[bool] = []
        self._soft = 0

    def _paint(self, own: int, alpha: float, space: Any, color: Any) -> tuple[Any, Any, float]:
        """Return space, colour and alpha to draw with: of the class, or inside a soft mask as they are."""
        if self._masks:
            return space, color, alpha
        return self._rgb.m_internal, self._colours[_IMAGES if self._soft or alpha < 1 else own], 1.0

    def fill_path(
        self, ctx: Any, path: Any, even_odd: int, ctm: Any, space: Any, color: Any, alpha: float, params: Any
    ) -> None:
        """Line work."""
        paint = self._paint(_GRAPHICS, alpha, space, color)
        mupdf.ll_fz_fill_path(self._to, path, even_odd, ctm, *paint, self._params)

    def stroke_path(
        self, ctx: Any, path: Any, stroke: Any, ctm: Any, space: Any, color: Any, alpha: float, params: Any
    ) -> None:
        """Line work."""
        paint = self._paint(_GRAPHICS, alpha, space, color)
        mupdf.ll_fz_stroke_path(self._to, path, stroke, ctm, *paint, self._params)

    def fill_text(
        self, ctx: Any, text: Any, ctm: Any, space: Any, color: Any, alpha: float, params: Any
    ) -> None:
        """Type."""
        space, colour, alpha = self._paint(_TEXT, alpha, space, color)
        for _ in range(1 if self._masks else _TYPE_TIMES):
            mupdf.ll_fz_fill_text(self._to, text, ctm, space, _floats(space, colour), alpha, self._params)

    def stroke_text(
        self, ctx: Any, text: Any, stroke: Any, ctm: Any, space: Any, color: Any, alpha: float, params: Any
    ) -> None:
        """Type."""
        paint = self._paint(_TEXT, alpha, space, color)
        for _ in range(1 if self._masks else _TYPE_TIMES):
            mupdf.ll_fz_stroke_text(self._to, text, stroke, ctm, *paint, self._params)

    def fill_image(self, ctx: Any, image: Any, ctm: Any, alpha: float, params: Any) -> None:
        """Draw the square that a picture fills."""
        if self._masks:
            mupdf.ll_fz_fill_image(self._to, image, ctm, alpha, params)
        else:
            self._area(0.0, 0.0, 1.0, 1.0, ctm)

    def fill_shade(self, ctx: Any, shade: Any, ctm: Any, alpha: float, params: Any) -> None:
        """Draw the box around a gradient: its clip is what shows of it."""
        if self._masks:
            mupdf.ll_fz_fill_shade(self._to, shade, ctm, alpha, params)
        else:
            # One that extends beyond its ends has no bounds, and no path holds those.
            box, whole = mupdf.ll_fz_bound_shade(shade, ctm), self._whole
            low, high = (max(box.x0, whole[0]), max(box.y0, whole[1])), (box.x1, box.y1)
            self._area(
                *low,
                min(high[0], whole[2]),
                min(high[1], whole[3]),
                mupdf.ll_fz_make_matrix(1, 0, 0, 1, 0, 0),
            )

    def _area(self, x0: float, y0: float, x1: float, y1: float, ctm: Any) -> None:
        path = mupdf.FzPath(mupdf.ll_fz_new_path())
        mupdf.ll_fz_rectto(path.m_internal, x0, y0, x1, y1)
        mupdf.ll_fz_fill_path(
            self._to, path.m_internal, 0, ctm, self._rgb.m_internal, self._colours[_IMAGES], 1.0, self._params
        )

    def fill_image_mask(
        self, ctx: Any, image: Any, ctm: Any, space: Any, color: Any, alpha: float, params: Any
    ) -> None:
        """Draw a stencil, which is line work: one flat colour."""
        paint = self._paint(_GRAPHICS, alpha, space, color)
        mupdf.ll_fz_fill_image_mask(self._to, image, ctm, *paint, self._params)

    def clip_path(self, ctx: Any, path: Any, even_odd: int, ctm: Any, scissor: Any) -> None:
        """Clip alike."""
        self._clips.append(False)
        mupdf.ll_fz_clip_path(self._to, path, even_odd, ctm, scissor)

    def clip_stroke_path(self, ctx: Any, path: Any, stroke: Any, ctm: Any, scissor: Any) -> None:
        """Clip alike."""
        self._clips.append(False)
        mupdf.ll_fz_clip_stroke_path(self._to, path, stroke, ctm, scissor)

    def clip_text(self, ctx: Any, text: Any, ctm: Any, scissor: Any) -> None:
        """Clip alike."""
        self._clips.append(False)
        mupdf.ll_fz_clip_text(self._to, text, ctm, scissor)

    def clip_stroke_text(self, ctx: Any, text: Any, stroke: Any, ctm: Any, scissor: Any) -> None:
        """Clip alike."""
        self._clips.append(False)
        mupdf.ll_fz_clip_stroke_text(self._to, text, stroke, ctm, scissor)

    def clip_image_mask(self, ctx: Any, image: Any, ctm: Any, scissor: Any) -> None:
        """Clip alike; most often a picture's own alpha."""
        self._clips.append(False)
        mupdf.ll_fz_clip_image_mask(self._to, image, ctm, scissor)

    def pop_clip(self, ctx: Any) -> None:
        """End a clip or a soft mask."""
        if self._clips and self._clips.pop():
            self._soft -= 1
        mupdf.ll_fz_pop_clip(self._to)

    def begin_mask(self, ctx: Any, area: Any, luminosity: int, space: Any, color: Any, params: Any) -> None:
        """Draw a soft mask as it is."""
        self._masks += 1
        mupdf.ll_fz_begin_mask(self._to, area, luminosity, space, color, params)

    def end_mask(self, ctx: Any, transfer: Any) -> None:
        """Take what comes next through the mask, as pictures."""
        self._masks -= 1
        self._clips.append(True)
        self._soft += 1
        mupdf.ll_fz_end_mask_tr(self._to, transfer)

    def begin_group(
        self, ctx: Any, area: Any, space: Any, isolated: int, knockout: int, blend: int, alpha: float
    ) -> None:
        """Take a group that changes colours for pictures."""
        self._groups.append(alpha < 1 or blend != 0)
        self._soft += self._groups[-1]
        if self._masks:
            mupdf.ll_fz_begin_group(self._to, area, space, isolated, knockout, blend, alpha)

    def end_group(self, ctx: Any) -> None:
        """End a group."""
        self._soft -= self._groups.pop() if self._groups else False
        if self._masks:
            mupdf.ll_fz_end_group(self._to)

    def begin_tile(
        self,
        ctx: Any,
        area: Any,
        view: Any,
        x_step: float,
        y_step: float,
        ctm: Any,
        ident: int,
        document: int,
    ) -> int:
        """Tile alike, but never out of the interpreter's store, which holds true colours."""
        mupdf.ll_fz_begin_tile(self._to, area, view, x_step, y_step, ctm)
        return 0

    def end_tile(self, ctx: Any) -> None:
        """End a tile."""
        mupdf.ll_fz_end_tile(self._to)


def _class_colour(channel: int) -> Any:
    values = mupdf.new_floats(3)
    for index in range(3):
        mupdf.floats_setitem(values, index, float(index == channel))
    return values


def _floats(space: Any, color: Any) -> list[float]:
    if not space or not color:
        return []
    return [float(mupdf.floats_getitem(color, i)) for i in range(min(space.n, _MOST_COLOURANTS))]
