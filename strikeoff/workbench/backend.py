"""The pixel path's kernels behind one record, each with its plain reference.

Another way to compute them (another compiler, a graphics processor) is another ``Backend``. What makes it
one is agreement: the tests run every kernel of a backend beside its reference on made data, and the same
tests serve for any other. All take and give whole numbers; results do not depend on how the work is cut.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.inks.guard import laid_down_plain
from strikeoff.inks.spaces import InkSpaces
from strikeoff.raster import artwork_kernels
from strikeoff.raster.artwork_kernels import ArtworkKernels
from strikeoff.raster.bands import ArraySource, Band
from strikeoff.raster.packing import pack_levels
from strikeoff.raster.resample import PeriodicTile, resample_plain
from strikeoff.raster.tables import InkTable, apply_table, apply_table_reference
from strikeoff.screening.diffusion import DiffusedSource, DiffusionTables, diffuse_plain
from strikeoff.screening.laid_down import LaidDownSource
from strikeoff.screening.masks import InkMasks
from strikeoff.screening.pixel_kernels import COMPILED, PLAIN, PixelKernels
from strikeoff.screening.screen import ScreenedSource, screen_plain

Levels = NDArray[np.uint8]


@dataclass(frozen=True)
class Backend:
    """One way to compute the steps between artwork and drops.

    Attributes
    ----------
    name : str
        What it is called.
    separate : callable
        Pixels ``(rows, width, channels)`` and an InkTable to ink, uint16.
    enlarge : callable
        A repeat ``(rows, width, inks)`` uint16 that joins itself, height and width to that size of it.
    lay_down : callable
        Calibrated ink and InkSpaces to laid-down ink under the total, uint16.
    screen : callable
        Laid-down ink, InkMasks, first row of the roll, drop curves or None to levels.
    diffuse : callable
        Laid-down ink and DiffusionTables to levels.
    pack : callable
        Levels and bits to packed planes ``(inks, rows, bytes)``.
    artwork : ArtworkKernels
        What the sources between artwork and planes take.
    kernels : PixelKernels
        What the sources between planes and drops take.
    tolerance_codes : dict of str to float
        Greatest difference from the reference, by step; 0 where none is named. [16-bit codes]
    """

    name: str
    separate: Callable[[Band, InkTable], NDArray[Any]]
    enlarge: Callable[[Band, int, int], NDArray[Any]]
    lay_down: Callable[[Band, InkSpaces], NDArray[Any]]
    screen: Callable[[Band, InkMasks, int, NDArray[np.uint16] | None], Levels]
    diffuse: Callable[[Band, DiffusionTables], Levels]
    pack: Callable[[Levels, int], Levels]
    artwork: ArtworkKernels
    kernels: PixelKernels
    tolerance_codes: dict[str, float]


def steps() -> tuple[str, ...]:
    """Return the names of the steps that a backend computes.

    Examples
    --------
    >>> steps()
    ('separate', 'enlarge', 'lay_down', 'screen', 'diffuse', 'pack')
    """
    told = ("name", "artwork", "kernels", "tolerance_codes")
    return tuple(field.name for field in fields(Backend) if field.name not in told)


def plain_backend() -> Backend:
    """Return the references: the definitions, in plain Python and numpy."""
    return Backend(
        name="plain",
        separate=apply_table_reference,
        enlarge=resample_plain,
        lay_down=lambda ink, spaces: laid_down_plain(ink, spaces)[0],
        screen=screen_plain,
        diffuse=diffuse_plain,
        pack=pack_levels,
        artwork=artwork_kernels.PLAIN,
        kernels=PLAIN,
        tolerance_codes={},
    )


def compiled_backend() -> Backend:
    """Return the compiled kernels, by way of the sources that use them."""

    def lay_down(ink: Band, spaces: InkSpaces) -> NDArray[Any]:
        return LaidDownSource(ArraySource(ink), spaces).read(0, len(ink))

    def screen(ink: Band, masks: InkMasks, y0: int, drops: NDArray[np.uint16] | None) -> Levels:
        above = np.zeros((y0, *ink.shape[1:]), np.uint16)
        source = ScreenedSource(ArraySource(np.concatenate([above, ink])), masks, drops)
        return source.read(y0, y0 + len(ink))

    def diffuse(ink: Band, tables: DiffusionTables) -> Levels:
        bits = 1 if (tables.amounts[:, 1:] == 0).all() else 2
        return DiffusedSource(ArraySource(ink), tables, bits).read(0, len(ink))

    def pack(levels: Levels, bits: int) -> Levels:
        # Thresholds that turn a level, spread over 16 bits, back into itself.
        count = (1 << bits) - 1
        drops = np.zeros((levels.shape[2], count, 256), np.uint16)
        for level in range(count):
            drops[:, level, 64 * (level + 1) :] = 65535
        masks = InkMasks(np.full((levels.shape[2], 1, 32), 30000, np.uint16), 1, 1)
        ink = levels.astype(np.uint16) * np.uint16(64 * 257)
        return ScreenedSource(ArraySource(ink), masks, drops).read_packed(0, len(levels), bits)

    return Backend(
        name="compiled",
        separate=lambda pixels, table: apply_table(pixels, table, workers=1),
        enlarge=lambda tile, height, width: PeriodicTile(ArraySource(tile), height, width).read(0, height),
        lay_down=lay_down,
        screen=screen,
        diffuse=diffuse,
        pack=pack,
        artwork=artwork_kernels.COMPILED,
        kernels=COMPILED,
        tolerance_codes={"separate": 0.5 + 1e-6, "enlarge": 1.0},
    )


#: Every way there is to compute the pixel path.
BACKENDS: dict[str, Callable[[], Backend]] = {"plain": plain_backend, "compiled": compiled_backend}
