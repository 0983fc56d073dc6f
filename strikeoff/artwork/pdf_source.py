"""A page of a PDF as a band source, drawn when asked for."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from strikeoff.artwork.pdf_process import PdfWorker
from strikeoff.artwork.pixels import MappedSource
from strikeoff.raster.bands import Band, check_rows

#: Of a drawn block.
BLOCK_BYTES = 48 << 20


@dataclass(frozen=True)
class PdfSource:
    """A page as a band source: uint8, process samples and then named ones; see `BandSource`.

    ``what`` the worker is asked to draw: ``rows`` of the page, or ``classes``.
    """

    worker: PdfWorker
    height: int
    width: int
    channels: int
    pitch_mm: tuple[float, float]
    block_rows: int
    what: str = "rows"
    _kept: list[tuple[int, Band]] = field(default_factory=list, compare=False, repr=False)
    _lock: threading.Lock = field(default_factory=threading.Lock, compare=False, repr=False)

    @property
    def dtype(self) -> np.dtype[Any]:
        """Sample type."""
        return np.dtype(np.uint8)

    def read(self, y0: int, y1: int) -> Band:
        """Return rows ``y0`` to ``y1`` (exclusive)."""
        check_rows(self, y0, y1)
        band = np.empty((y1 - y0, self.width, self.channels), np.uint8)
        for block in range(y0 // self.block_rows, -(-y1 // self.block_rows)):
            top = block * self.block_rows
            start, stop = max(y0, top), min(y1, top + self.block_rows)
            band[start - y0 : stop - y0] = self._block(block)[start - top : stop - top]
        return band

    def _block(self, block: int) -> Band:
        # One block is kept: bands seldom end where blocks do, and a page is interpreted for each.
        with self._lock:
            if self._kept and self._kept[0][0] == block:
                return self._kept[0][1]
            top = block * self.block_rows
            bottom = min(self.height, top + self.block_rows)
            size = (bottom - top) * self.width * self.channels
            _, data = self.worker.ask({"do": self.what, "y0": top, "y1": bottom}, size)
            rows = np.frombuffer(data, np.uint8).reshape(bottom - top, self.width, self.channels)
            self._kept[:] = [(block, rows)]
            return rows


def classes_of(source: PdfSource) -> MappedSource:
    """Return what each pixel of a page belongs to: one uint8 channel of the codes in `records.CLASSES`.

    A pixel of several, as under a soft mask, is that of most.
    """
    drawn = replace(
        source,
        channels=3,
        what="classes",
        block_rows=max(1, min(source.height, BLOCK_BYTES // (source.width * 3))),
        _kept=[],
        _lock=threading.Lock(),
    )

    def change(band: Band) -> Band:
        # Of equals the last is taken: pictures.
        most = (2 - band[..., ::-1].argmax(axis=2)).astype(np.uint8) + np.uint8(1)
        return np.where(band.any(axis=2), most, np.uint8(0))[..., None]

    return MappedSource(drawn, change, 1, np.dtype(np.uint8), source.pitch_mm)
