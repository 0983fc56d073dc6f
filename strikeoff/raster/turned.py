"""A band source turned by 90 degrees in bounded memory: through a temporary file, block by block."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.files import storage_errors
from strikeoff.base.progress import Progress, silent
from strikeoff.raster.bands import BandSource, check_rows

_BLOCK_BYTES = 16 << 20


@dataclass(frozen=True)
class TurnedSource:
    """A band source turned clockwise, in a file of blocks: each holds some of its columns, row by row.

    Attributes
    ----------
    height, width, channels : int
        Size after turning.
    dtype : numpy.dtype
        Sample type.
    pitch_mm : tuple of float
        Pixel pitch after turning, across and along. [mm]
    block_px : int
        Columns of a block.
    """

    height: int
    width: int
    channels: int
    dtype: np.dtype[Any]
    pitch_mm: tuple[float, float]
    block_px: int
    _file: BinaryIO

    def read(self, y0: int, y1: int) -> NDArray[Any]:
        """Return rows ``y0`` to ``y1`` (exclusive), shape ``(rows, width, channels)``."""
        check_rows(self, y0, y1)
        out = np.empty((y1 - y0, self.width, self.channels), self.dtype)
        pixel = self.channels * self.dtype.itemsize
        start = 0
        for right in range(self.width, 0, -self.block_px):
            left = max(0, right - self.block_px)
            columns = right - left
            data = os.pread(self._file.fileno(), (y1 - y0) * columns * pixel, start + y0 * columns * pixel)
            out[:, left:right] = np.frombuffer(data, self.dtype).reshape(y1 - y0, columns, self.channels)
            start += self.height * columns * pixel
        return out


@contextmanager
def turned_clockwise(
    source: BandSource, folder: str | Path, *, progress: Progress = silent
) -> Iterator[TurnedSource]:
    """Yield a source turned by 90 degrees clockwise: its first row becomes the last column.

    Its samples stand in a file without a name that is gone afterwards, however the program ends.

    Parameters
    ----------
    source : BandSource
        What to turn; read once, a few rows at a time.
    folder : str or Path
        Where the file goes; it takes as many bytes as the samples.
    progress : Progress
        Told after each block.

    Raises
    ------
    StorageError
        The disk is full or the folder cannot be written.

    Examples
    --------
    >>> from strikeoff.raster.bands import ArraySource
    >>> with turned_clockwise(ArraySource(np.array([[[1], [2]], [[3], [4]]])), "/tmp") as turned:
    ...     turned.read(0, 2)[..., 0].tolist()
    [[3, 1], [4, 2]]
    """
    row_bytes = source.width * source.channels * source.dtype.itemsize
    block = max(1, min(source.height, _BLOCK_BYTES // row_bytes))
    with storage_errors(folder):
        Path(folder).mkdir(parents=True, exist_ok=True)
    with storage_errors(folder), tempfile.TemporaryFile(dir=folder) as stream:
        for y in range(0, source.height, block):
            band = source.read(y, min(y + block, source.height))
            # Clockwise: columns become rows, and the rows run from right to left.
            stream.write(np.ascontiguousarray(np.swapaxes(band, 0, 1)[:, ::-1]).data)
            progress("turn artwork", min(1.0, (y + block) / source.height))
        stream.flush()
        pitch = source.pitch_mm[::-1]
        yield TurnedSource(
            source.width, source.height, source.channels, source.dtype, (pitch[0], pitch[1]), block, stream
        )
