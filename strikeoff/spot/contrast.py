"""Which colours of flat artwork stay apart in a colourway, and which merge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.colour.difference import delta_e_2000

FloatArray = NDArray[np.float64]

#: CIEDE2000 below which two colours count as merged; common practice, no source.
MERGE_DE00 = 2.0
#: Differences of lightness that are worth telling when they turn, before and after; no source.
_TURN_BEFORE, _TURN_AFTER = 5.0, 2.0
# Neighbours share this much of the shorter outline [-, sides of pixels].
_LEAST_SHARE, _LEAST_SIDES = 0.01, 8


@dataclass(frozen=True)
class ColourPair:
    """Two palette colours in a colourway.

    Attributes
    ----------
    first, second : int
        Places in the palette.
    is_neighbour : bool
        Whether they meet in the artwork.
    before, wished, printed : float
        CIEDE2000 between the two: in the artwork, as wished, as predicted.
    lightness_before, lightness_printed : float
        L* of the second less that of the first.
    merge_de00 : float
        Below it the two count as merged.
    """

    first: int
    second: int
    is_neighbour: bool
    before: float
    wished: float
    printed: float
    lightness_before: float
    lightness_printed: float
    merge_de00: float

    @property
    def merges(self) -> bool:
        """Whether the print no longer holds apart what the artwork does."""
        return self.printed < self.merge_de00 <= self.before

    @property
    def is_wished(self) -> bool:
        """Whether the wish itself made them one."""
        return self.wished < self.merge_de00

    @property
    def turns(self) -> bool:
        """Whether the lighter of two neighbours became the darker."""
        apart = abs(self.lightness_before) > _TURN_BEFORE and abs(self.lightness_printed) > _TURN_AFTER
        return self.is_neighbour and apart and self.lightness_before * self.lightness_printed < 0


def colour_pairs(
    before: FloatArray,
    wished: FloatArray,
    printed: FloatArray,
    borders: NDArray[np.int64],
    merge_de00: float = MERGE_DE00,
) -> list[ColourPair]:
    """Return the pairs that meet in the artwork or merge in print, the closest in print first.

    Parameters
    ----------
    before, wished, printed : ndarray, shape (n, 3)
        CIELAB of the palette: in the artwork, as wished, as predicted.
    borders : ndarray, shape (n, n)
        Length at which two colours meet. [sides of pixels]
    merge_de00 : float
        CIEDE2000 below which colours count as merged.

    Examples
    --------
    >>> lab = np.array([[90.0, 0, 0], [50.0, 0, 0], [20.0, 0, 0]])
    >>> meet = np.array([[0, 90, 0], [90, 0, 0], [0, 0, 0]])
    >>> [(p.first, p.second, p.merges) for p in colour_pairs(lab, lab, lab[[0, 0, 2]], meet)]
    [(0, 1, True)]
    """
    outline = borders.sum(axis=1)
    found = []
    for i in range(len(before)):
        for j in range(i + 1, len(before)):
            least = max(_LEAST_SIDES, _LEAST_SHARE * min(outline[i], outline[j]))
            pair = ColourPair(
                i,
                j,
                bool(borders[i, j] >= least),
                float(delta_e_2000(before[i], before[j])),
                float(delta_e_2000(wished[i], wished[j])),
                float(delta_e_2000(printed[i], printed[j])),
                float(before[j, 0] - before[i, 0]),
                float(printed[j, 0] - printed[i, 0]),
                merge_de00,
            )
            if pair.is_neighbour or pair.merges:
                found.append(pair)
    return sorted(found, key=lambda pair: pair.printed)
