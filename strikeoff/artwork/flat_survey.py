"""One look at flat artwork: shares, a small map, which colours meet; its weights kept for many readers."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.linear_rgb import LinearRgb
from strikeoff.artwork.palette_flat import bands_of
from strikeoff.artwork.palette_lines import odd_places
from strikeoff.artwork.unmix import Palette, Unmixer, Weights
from strikeoff.base.files import storage_errors
from strikeoff.raster.bands import BandSource, check_rows
from strikeoff.raster.tiff_codecs import decode_strip, encode_strip

FloatArray = NDArray[np.float64]

_FULL = 65535
_BLOCK = 32


@dataclass(frozen=True)
class FlatSurvey:
    """What flat artwork holds.

    Attributes
    ----------
    cover : ndarray, shape (rows, columns, n)
        A small map: share of each palette colour in each place, adding up to 1. [-]
    shares : ndarray, shape (n,)
        Of the whole artwork. [-]
    unexplained : float
        Share of pixels that the palette does not mix to. [-]
    pure : float
        Share of pixels of one colour alone. [-]
    borders : ndarray of int64, shape (n, n)
        Sides of pixels at which two colours meet; symmetric. [pixels]
    mixed : ndarray of bool, shape (n, n)
        Which pairs share a pixel; symmetric.
    """

    cover: FloatArray
    shares: FloatArray
    unexplained: float
    pure: float
    borders: NDArray[np.int64]
    mixed: NDArray[np.bool_]

    def linear(self, colours: FloatArray) -> FloatArray:
        """Return the map in any colours: averages in linear light, shape (rows, columns, 3)."""
        return np.asarray(self.cover @ colours)


@dataclass(frozen=True)
class KeptWeights:
    """Weights of an artwork that were found once and are read many times, from a nameless scratch file.

    Attributes
    ----------
    source, space, palette
        As for `Unmixer`.
    """

    source: BandSource
    space: LinearRgb
    palette: Palette
    _file: IO[bytes]
    _blocks: list[tuple[int, int, int]]

    def keep(self, made: Weights) -> None:
        """Add the next rows, a multiple of 32 but at the end."""
        with storage_errors("scratch file"):
            for y in range(0, len(made.places), _BLOCK):
                rows = slice(y, y + _BLOCK)
                parts = [
                    encode_strip(made.places[rows], "zstd", 2), encode_strip(made.weights[rows], "zstd", 2),
                ]  # fmt: skip
                start = self._file.seek(0, os.SEEK_END)
                self._file.write(b"".join(parts))
                self._blocks.append((start, len(parts[0]), len(parts[1])))
            self._file.flush()

    def read(self, y0: int, y1: int) -> tuple[NDArray[np.uint16], Weights]:
        """Return the codes and weights of rows ``y0`` to ``y1`` (exclusive), with nothing left over."""
        check_rows(self.source, y0, y1)
        codes = np.ascontiguousarray(self.source.read(y0, y1), np.uint16)
        first, last = y0 // _BLOCK, max(-(-y1 // _BLOCK), y0 // _BLOCK + 1)
        places, weights = zip(*(self._block(k) for k in range(first, last)), strict=True)
        own = slice(y0 - first * _BLOCK, y1 - first * _BLOCK)
        rest = np.zeros((y1 - y0, self.source.width), np.float32)
        return codes, Weights(np.concatenate(places)[own], np.concatenate(weights)[own], rest)

    def _block(self, number: int) -> tuple[NDArray[np.uint8], NDArray[np.uint16]]:
        start, one, two = self._blocks[number]
        rows = min(_BLOCK, self.source.height - number * _BLOCK)
        shape = (rows, self.source.width, 3)
        with storage_errors("scratch file"):
            data = os.pread(self._file.fileno(), one + two, start)
        places = decode_strip(data[:one], "zstd", 2, shape, np.dtype("<u1"))
        return places, decode_strip(data[one:], "zstd", 2, shape, np.dtype("<u2"))

    def close(self) -> None:
        """Give the scratch file back."""
        self._file.close()


def scratch_weights(unmixer: Unmixer, folder: str | Path) -> KeptWeights:
    """Return a place for the weights of an artwork; the file vanishes with the process, however that ends.

    Raises
    ------
    StorageError
        When the folder cannot be written.
    """
    with storage_errors(folder):
        Path(folder).mkdir(parents=True, exist_ok=True)
        file = tempfile.TemporaryFile(dir=folder)  # noqa: SIM115
    return KeptWeights(unmixer.source, unmixer.space, unmixer.palette, file, [])


def survey_flat(
    unmixer: Unmixer,
    longer: int,
    *,
    keep: Callable[[Weights], None] = lambda made: None,
    step: Callable[[float], None] = lambda fraction: None,
) -> FlatSurvey:
    """Look at an artwork once, in bands.

    Parameters
    ----------
    unmixer : Unmixer
        The artwork.
    longer : int
        Most places of the map, a side.
    keep : callable
        Given the weights of each band.
    step : callable
        Told the fraction done, 0-1.
    """
    from strikeoff.artwork.kernels_regions import borders, spread

    source, palette = unmixer.source, unmixer.palette
    scale = min(1.0, longer / max(source.height, source.width))
    rows, columns = max(1, round(source.height * scale)), max(1, round(source.width * scale))
    at = np.minimum((np.arange(source.width) * columns) // source.width, columns - 1)
    count = len(palette.linear)
    total = np.zeros((rows, columns, count))
    lengths, mixed = np.zeros((count, count), np.int64), np.zeros((count, count), np.bool_)
    above = np.zeros(source.width, np.uint8)
    missed = pure = 0
    for y0, y1 in bands_of(source):
        _, made = unmixer.read(y0, y1)
        keep(made)
        odd = odd_places(made.rest, palette)
        missed += int(odd.sum())
        alone = made.weights[..., 0] == _FULL
        pure += int((alone & ~odd).sum())
        borders(made.places, made.weights, above, y0 > 0, lengths)
        _mark(mixed, made, ~alone)
        for y in range(y0, y1):
            row = y * rows // source.height
            spread(made.places[y - y0 : y - y0 + 1], made.weights[y - y0 : y - y0 + 1], at, total[row])
        step(y1 / source.height)
    pixels = source.height * source.width
    shares = total.sum(axis=(0, 1)) / (_FULL * pixels)
    cover = total / np.maximum(total.sum(axis=2, keepdims=True), 1.0)
    return FlatSurvey(cover, shares, missed / pixels, pure / pixels, lengths, mixed)


def _mark(mixed: NDArray[np.bool_], made: Weights, where: NDArray[np.bool_]) -> None:
    """Note which pairs share a pixel."""
    places, weights = made.places[where], made.weights[where]
    for a in range(3):
        for b in range(3):
            both = (weights[:, a] > 0) & (weights[:, b] > 0)
            mixed[places[both, a], places[both, b]] = True
    np.fill_diagonal(mixed, False)
