"""Pictures that show a finding."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from strikeoff.intake.records import Picture
from strikeoff.report.screen_colour import lab_to_srgb

FloatArray = NDArray[np.float64]

#: The colour of marks: no cloth has it, and no eye misses it.
MARK = (255, 0, 200)
_D50 = np.array([96.42, 100.0, 82.49])
_CROP_PX = 260
_LONGER_PX = 560


def shown(lab: FloatArray) -> Picture:
    """Return media-relative colours, shape (h, w, 3), for the screen."""
    return lab_to_srgb(lab, _D50)[0]


def reduced(picture: Picture, longer_px: int = _LONGER_PX) -> Picture:
    """Return a picture whose longer side has at most so many pixels, every n-th kept."""
    step = max(1, -(-max(picture.shape[:2]) // longer_px))
    return np.ascontiguousarray(picture[::step, ::step])


def enlarged(picture: Picture, longer_px: int = _CROP_PX) -> Picture:
    """Return a picture with each pixel repeated so that its longer side has about so many."""
    times = max(1, longer_px // max(1, *picture.shape[:2]))
    return np.ascontiguousarray(np.repeat(np.repeat(picture, times, axis=0), times, axis=1))


def with_boxes(picture: Picture, boxes: Iterable[tuple[float, float, float, float]]) -> Picture:
    """Return a picture with frames drawn round some places.

    Parameters
    ----------
    picture : ndarray of uint8, shape (h, w, 3)
        sRGB.
    boxes : iterable of tuple of float
        Left, top, right, bottom as shares of the picture, 0-1.
    """
    result = picture.copy()
    height, width = picture.shape[:2]
    for x0, y0, x1, y1 in boxes:
        left, right = (int(np.clip(round(x * width) + d, 0, width - 1)) for x, d in ((x0, -4), (x1, 3)))
        top, bottom = (int(np.clip(round(y * height) + d, 0, height - 1)) for y, d in ((y0, -4), (y1, 3)))
        for thick in range(2):
            result[top : bottom + 1, [min(left + thick, width - 1), max(right - thick, 0)]] = MARK
            result[[min(top + thick, height - 1), max(bottom - thick, 0)], left : right + 1] = MARK
    return result


def with_places(picture: Picture, places: NDArray[np.bool_]) -> Picture:
    """Return a picture in pale grey with some places in the colour of marks.

    Parameters
    ----------
    picture : ndarray of uint8, shape (h, w, 3)
        sRGB.
    places : ndarray of bool, shape (h, w)
        What is marked.
    """
    grey = picture.mean(axis=2, keepdims=True) * 0.45 + 140
    pale = np.repeat(np.minimum(grey, 255), 3, axis=2).astype(np.uint8)
    pale[places] = MARK
    return np.asarray(pale, dtype=np.uint8)


def as_heat(share: FloatArray) -> Picture:
    """Return amounts, 0-1, shape (h, w), as white through amber to dark red."""
    stops = np.array([[255, 255, 255], [252, 213, 137], [225, 110, 40], [110, 10, 20]], dtype=np.float64)
    at = np.clip(share, 0.0, 1.0) * (len(stops) - 1)
    low = np.minimum(at.astype(int), len(stops) - 2)
    mixed = stops[low] + (at - low)[..., None] * (stops[low + 1] - stops[low])
    return np.asarray(np.rint(mixed), dtype=np.uint8)
