"""Pictures of planes and drops as cloth."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.condition.record import Condition
from strikeoff.raster.tiff_reader import open_planes
from strikeoff.report.preview import cloth_preview
from strikeoff.report.screen_colour import lab_to_srgb

_MM_PER_PIXEL = 0.75


def cloth_picture(
    condition: Condition, planes: str | Path, finished_mm: tuple[float, float], piece_mm: tuple[float, float]
) -> tuple[NDArray[np.uint8], float]:
    """Return a piece of finished half-drop cloth for the screen, and the finished size of a pixel [mm].

    Parameters
    ----------
    condition : Condition
        What the planes were made for.
    planes : str or Path
        Planes of one repeat.
    finished_mm : tuple of float
        Finished size of the repeat (across, along). [mm]
    piece_mm : tuple of float
        Finished size of the piece shown (across, along). [mm]
    """
    source = open_planes(planes)
    step = max(1, round(source.width / (finished_mm[0] / _MM_PER_PIXEL)))
    width, height = source.width // step, source.height // step // 2 * 2
    tile = np.empty((height, width, source.channels))
    for row in range(height):
        band = source.read(row * step, (row + 1) * step)[:, : width * step] / 65535.0
        tile[row] = band.reshape(step, width, step, -1).mean(axis=(0, 2))
    lab = condition.inverse.quick.lab(tile.reshape(-1, source.channels)).reshape(height, width, 3)
    pitch = finished_mm[0] / width
    columns, rows = (round(size / pitch) for size in piece_mm)
    across = np.arange(columns)
    down = np.arange(rows)[:, None] + np.where(across // width % 2 == 1, height // 2, 0)[None]
    cloth = lab[down % height, np.broadcast_to(across % width, down.shape)]
    return cloth_preview(cloth, condition.native.view.white, pitch_mm=pitch, weave="satin"), pitch


def drop_picture(
    condition: Condition, drops: str | Path, at_mm: tuple[float, float], size_mm: float, scale: int
) -> NDArray[np.uint8]:
    """Return a square of drops, enlarged, each overprint in its predicted colour.

    Parameters
    ----------
    condition : Condition
        What the drops were made for.
    drops : str or Path
        Screened file.
    at_mm : tuple of float
        Left upper corner (across, along), printed. [mm]
    size_mm : float
        Side of the square, printed. [mm]
    scale : int
        Screen pixels per drop.
    """
    source = open_planes(drops)
    left, top = (round(at / pitch) for at, pitch in zip(at_mm, source.pitch_mm, strict=True))
    wide, high = (round(size_mm / pitch) for pitch in source.pitch_mm)
    if left + wide > source.width or top + high > source.height:
        raise InputError("square lies outside the roll", path=drops, found=f"{at_mm} mm")
    bits = source.read(top, top + high)[:, left : left + wide].astype(np.int64)
    codes = (bits << np.arange(source.channels)).sum(axis=2)
    recipes = (np.arange(1 << source.channels)[:, None] >> np.arange(source.channels)) & 1
    colours, _ = lab_to_srgb(condition.native.lab(recipes.astype(float)), condition.native.view.white)
    picture: Any = colours[codes]
    return np.repeat(np.repeat(picture, scale, axis=0), scale, axis=1)
