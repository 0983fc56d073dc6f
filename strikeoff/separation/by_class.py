"""Process samples to inks, each pixel through the table of what it belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.raster.artwork_kernels import COMPILED, ArtworkKernels
from strikeoff.raster.bands import Band, BandSource, FramedSource, check_rows
from strikeoff.raster.tables import InkTable


@dataclass(frozen=True)
class ClassTables:
    """Tables by class, and the class of every pixel.

    Attributes
    ----------
    classes : BandSource
        One uint8 channel: which table a pixel goes through.
    tables : tuple of InkTable
        By code; equal ones may stand at several codes. All take the same samples and give the same inks.
    kernels : ArtworkKernels
        How they are computed.
    """

    classes: BandSource
    tables: tuple[InkTable, ...]
    kernels: ArtworkKernels = field(default=COMPILED, repr=False)

    def __post_init__(self) -> None:
        shapes = {(table.channels, table.n_inks) for table in self.tables}
        if len(shapes) != 1 or self.classes.channels != 1 or self.classes.dtype != np.uint8:
            raise InputError("tables of classes do not fit each other", found=sorted(shapes))

    def inks(self, pixels: NDArray[Any], y0: int) -> NDArray[np.uint16]:
        """Return the inks of a band that starts at row ``y0``, shape (rows, width, n_inks).

        Raises
        ------
        InputError
            When a pixel is of a class without table, or the band has another width than the classes.

        Notes
        -----
        A pixel gets the very codes that the kernel gives it with its table.
        """
        codes = self.classes.read(y0, y0 + pixels.shape[0])[..., 0]
        if codes.shape != pixels.shape[:2]:
            raise InputError("classes and pixels do not fit", found=codes.shape, expected=str(pixels.shape))
        present = np.flatnonzero(np.bincount(codes.ravel(), minlength=1))
        if present[-1] >= len(self.tables):
            raise InputError("pixel of an unknown class", found=int(present[-1]))
        used = {id(self.tables[code]): self.tables[code] for code in present}
        if len(used) == 1:
            return self.kernels.interpolate(pixels, next(iter(used.values())), None)
        out = np.empty((*codes.shape, self.tables[0].n_inks), np.uint16)
        for key, table in used.items():
            own = np.array([id(one) == key for one in self.tables])[codes]
            out[own] = self.kernels.interpolate(np.ascontiguousarray(pixels[own])[None], table, None)[0]
        return out


@dataclass(frozen=True)
class ByClassSource(FramedSource):
    """Ink planes of artwork without named colours, by class: uint16, 0 none, 65535 full tone."""

    by_class: ClassTables

    @property
    def channels(self) -> int:
        """Inks."""
        return self.by_class.tables[0].n_inks

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type: uint16."""
        return np.dtype(np.uint16)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        return self.by_class.inks(self.source.read(y0, y1), y0)


def class_shares(classes: BandSource, names: Sequence[str], rows: int = 256) -> dict[str, float]:
    """Return the share of each class among all pixels, by name, 0-1."""
    counts = np.zeros(len(names), np.int64)
    for y in range(0, classes.height, rows):
        band = classes.read(y, min(y + rows, classes.height))
        counts += np.bincount(band.ravel(), minlength=len(names))
    return {name: float(count) / max(1, counts.sum()) for name, count in zip(names, counts, strict=True)}
