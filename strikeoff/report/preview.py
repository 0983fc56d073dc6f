"""An honest picture of cloth on a screen."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.files import write_bytes
from strikeoff.colour.cielab import lab_to_xyz
from strikeoff.report.figures import svg_open
from strikeoff.report.screen_colour import encode_srgb, xyz_to_linear_srgb
from strikeoff.report.style import FONTS, INK
from strikeoff.report.weave import weave_relief

FloatArray = NDArray[np.float64]

_MOST_PIXELS = 64_000_000
# Depth of the weave in L*, from crest to mean. Looks right; no source.
_DEPTH_L = 2.2
_YARN_MM = 0.35


def cloth_preview(
    lab_image: ArrayLike,
    white: ArrayLike,
    *,
    pitch_mm: float,
    weave: str | None = None,
    yarn_mm: float = _YARN_MM,
    out_px: int | None = None,
) -> NDArray[np.uint8]:
    """Return a picture of cloth for an sRGB screen.

    The light's white becomes the white of the page, so that bare cloth keeps its own shade beside it.

    Parameters
    ----------
    lab_image : array_like, shape (h, w, 3)
        Absolute L*, a*, b* under the viewing light.
    white : array_like, shape (3,)
        XYZ of that light.
    pitch_mm : float
        Finished cloth that one pixel of ``lab_image`` covers. [mm]
    weave : {"plain", "twill", "satin"}, optional
        Binding to suggest in the lightness; default none.
    yarn_mm : float
        Distance between yarns, finished. [mm]
    out_px : int, optional
        Longer side of the picture; default as ``lab_image``. [pixels]

    Returns
    -------
    ndarray of uint8, shape (rows, columns, 3)
        sRGB. Colours that the screen cannot show are set to the nearest that it can.

    Raises
    ------
    InputError
        For a wrong shape, more than 64 million pixels, or values that are not finite.
    UsageError
        Unknown weave.
    """
    lab = np.asarray(lab_image, dtype=np.float64)
    if lab.ndim != 3 or lab.shape[2] != 3 or 0 in lab.shape:
        raise InputError("not a picture in L*, a*, b*", found=lab.shape, expected="(h, w, 3)")
    rows, columns = lab.shape[:2]
    longer = max(rows, columns)
    out_px = longer if out_px is None else out_px
    size = (max(1, round(rows * out_px / longer)), max(1, round(columns * out_px / longer)))
    if max(rows * columns, size[0] * size[1]) > _MOST_PIXELS or out_px < 1:
        raise InputError(
            "preview is out of range", found=f"{out_px} pixels", expected=f"1 to {_MOST_PIXELS} in all"
        )
    if not (pitch_mm > 0 and np.isfinite(pitch_mm)):
        raise InputError("pitch must be positive", found=pitch_mm, expected="millimetres a pixel")
    if not np.isfinite(lab).all():
        raise InputError("picture holds colours that are not finite")
    xyz = _resized(lab_to_xyz(lab, white), size)
    if weave is not None:
        relief = weave_relief(weave, size[0], size[1], pitch_mm * longer / out_px, yarn_mm)
        # Above L* 8, L* + 16 goes with the cube root of Y.
        root = 116.0 * np.cbrt(np.maximum(xyz[..., 1], 1e-6) / 100.0)
        xyz = xyz * (np.maximum(root + relief * _DEPTH_L, 0.0)[..., None] / root[..., None]) ** 3
    return encode_srgb(xyz_to_linear_srgb(xyz, white))


def _resized(xyz: FloatArray, size: tuple[int, int]) -> FloatArray:
    """Average areas in linear light, as cloth seen from further away does."""
    if xyz.shape[:2] == size:
        return xyz
    from PIL import Image

    method = Image.Resampling.BOX if size[0] <= xyz.shape[0] else Image.Resampling.BILINEAR
    planes = [
        np.asarray(Image.fromarray(xyz[..., i].astype(np.float32)).resize((size[1], size[0]), method))
        for i in range(3)
    ]
    return np.stack(planes, axis=-1).astype(np.float64)


def png_bytes(rgb: NDArray[np.uint8], *, pitch_mm: float | None = None) -> bytes:
    """Return a picture as PNG with an sRGB profile; same pixels, same bytes.

    Parameters
    ----------
    rgb : ndarray of uint8, shape (h, w, 3)
        sRGB.
    pitch_mm : float, optional
        What a pixel covers, written as resolution. [mm]
    """
    from PIL import Image

    options: dict[str, Any] = {"icc_profile": srgb_profile()}
    if pitch_mm is not None:
        options["dpi"] = (25.4 / pitch_mm, 25.4 / pitch_mm)
    buffer = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(rgb)).save(buffer, "PNG", **options)
    return buffer.getvalue()


def write_png(path: str | Path, rgb: NDArray[np.uint8], *, pitch_mm: float | None = None) -> None:
    """Write a picture as PNG with an sRGB profile, whole or not at all; see `png_bytes`."""
    write_bytes(path, png_bytes(rgb, pitch_mm=pitch_mm))


def picture(rgb: NDArray[np.uint8], description: str) -> str:
    """Return an HTML image that holds its own data."""
    from html import escape

    data = base64.b64encode(png_bytes(rgb)).decode("ascii")
    height, width = rgb.shape[:2]
    return (
        f'<img class="cloth" width="{width}" height="{height}" alt="{escape(description)}" '
        f'src="data:image/png;base64,{data}">'
    )


@dataclass(frozen=True)
class ScaleBar:
    """A round length and how many pixels of the picture it covers."""

    length_mm: float
    length_px: float


def scale_bar(pitch_mm: float, width_px: int) -> ScaleBar:
    """Return the longest of 1, 2, 5 times a power of ten that fits a third of the picture.

    Examples
    --------
    >>> scale_bar(0.5, 1280)
    ScaleBar(length_mm=200.0, length_px=400.0)
    """
    if not (pitch_mm > 0 and width_px > 0):
        raise InputError("scale bar needs a picture", found=f"{pitch_mm} mm, {width_px} pixels")
    most = pitch_mm * width_px / 3.0
    power = 10.0 ** np.floor(np.log10(most))
    length = float(max(step * power for step in (1, 2, 5) if step * power <= most * (1 + 1e-9)))
    return ScaleBar(length, length / pitch_mm)


def scale_bar_svg(pitch_mm: float, width_px: int, *, ident: str = "scale-bar-drawing") -> str:
    """Return the scale bar as SVG, as wide as the picture under which it is put."""
    bar = scale_bar(pitch_mm, width_px)
    unit = width_px / 900.0
    length = f"{bar.length_mm:g} mm"
    ticks = "".join(
        f'<path d="M{x:.1f},{4 * unit:.1f} v{14 * unit:.1f}" stroke="{INK}" stroke-width="{2 * unit:.2f}"/>'
        for x in (unit, unit + bar.length_px / 2, unit + bar.length_px)
    )
    return (
        svg_open(ident, f"Scale: {length}", "", f"0 0 {width_px} {26 * unit:.1f}")
        + f'<path d="M{unit:.1f},{11 * unit:.1f} h{bar.length_px:.1f}" stroke="{INK}" '
        + f'stroke-width="{2.5 * unit:.2f}"/>{ticks}'
        + f'<text x="{bar.length_px + 14 * unit:.1f}" y="{17 * unit:.1f}" font-size="{16 * unit:.1f}" '
        + f'fill="{INK}" style="font-family:{FONTS}">{length} finished</text></svg>'
    )


def srgb_profile() -> bytes:
    """Return an ICC profile of sRGB, the same bytes each time."""
    from PIL import ImageCms

    data = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    # ICC.1:2022, 7.2: creation date at byte 24, profile ID at 84. A fixed date keeps the bytes the same.
    data[24:36] = bytes.fromhex("07d000010001000000000000")
    data[84:100] = bytes(16)
    return bytes(data)
