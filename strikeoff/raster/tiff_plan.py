"""How a TIFF is cut into strips, and which of them are stored once for several places."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.raster.bands import BandSource, canonical_rows

_STRIP_BYTES = 6 << 20
#: Read by one task. [bytes]
TASK_BYTES = 16 << 20


def block_rows(block: int, row_bytes: int, limit: int = _STRIP_BYTES) -> int:
    """Return the divisor of ``block`` rows that makes the best strip.

    The largest that stays within ``limit`` bytes; when that is a small part of it, the next larger
    one up to four times the limit: very short strips make long tables.

    Examples
    --------
    >>> block_rows(15998, 264_568), block_rows(7874, 264_568), block_rows(7919, 264_568)
    (19, 31, 1)
    """
    most = max(1, limit // max(1, row_bytes))
    divisors = [d for d in range(1, min(block, 4 * most) + 1) if block % d == 0]
    best = max(d for d in divisors if d <= most)
    larger = [d for d in divisors if d > best]
    return larger[0] if best < most // 4 and larger else best


@dataclass(frozen=True)
class StripPlan:
    """How the file is cut: rows per strip, and which strips are stored once for several places."""

    source: BandSource
    bits: int
    compression: str
    predictor: int
    planar: bool
    rows_per_strip: int
    first: NDArray[np.int64]
    order: NDArray[np.int64]

    @property
    def planes(self) -> int:
        """Planes that are stored apart."""
        return self.source.channels if self.planar else 1

    @property
    def row_bytes(self) -> int:
        """Bytes of one row of all inks."""
        return self.source.channels * -(-self.source.width * self.bits // 8)


def plan_strips(
    source: BandSource, bits: int, compression: str, planar: bool, rows_per_strip: int | None
) -> StripPlan:
    """Return how a source is cut into strips; in as many rows as a repeat allows unless told."""
    row_bytes = StripPlan.row_bytes.fget  # type: ignore[attr-defined]
    predictor = 2 if bits >= 8 and compression in ("zstd", "deflate") else 1
    empty = np.zeros(0, np.int64)
    draft = StripPlan(source, bits, compression, predictor, planar, 1, empty, empty)
    if rows_per_strip is None:
        block = int(getattr(source, "row_block", 0)) or 0
        size = row_bytes(draft)
        read = source.width * source.channels * 2
        own = max(1, min(_STRIP_BYTES // size, TASK_BYTES // read))
        rows_per_strip = block_rows(block, size) if block else own
    rows = min(max(1, rows_per_strip), source.height)
    canonical = canonical_rows(source)
    first = _first_equal_strips(canonical, rows)
    # Strips that are made from the same rows of the source's own source follow each other.
    affinity = getattr(source, "affinity", None)
    own = np.flatnonzero(first == np.arange(len(first)))
    if affinity is not None:
        keys = np.array([affinity(int(s) * rows) for s in own], dtype=np.int64)
        own = own[np.argsort(keys, kind="stable")]
    return StripPlan(source, bits, compression, predictor, planar, rows, first, own)


def _first_equal_strips(canonical: NDArray[np.int64], rows: int) -> NDArray[np.int64]:
    """Return for each strip the first strip whose rows are known to be the same."""
    first = np.arange(-(-len(canonical) // rows), dtype=np.int64)
    full = len(canonical) // rows
    table = canonical[: full * rows].reshape(full, rows)
    _, index, inverse = np.unique(table, axis=0, return_index=True, return_inverse=True)
    first[:full] = index[inverse.reshape(-1)]
    return first
