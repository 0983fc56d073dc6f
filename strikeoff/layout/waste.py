"""Free cloth between pieces, in printed millimetres."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

#: Kept free around a mark.
CLEAR_MM = 1.0
_BIN_MM = 100.0
_HAIR_MM = 1e-6

#: Left, top, right, bottom.
Box = tuple[float, float, float, float]


@dataclass
class Waste:
    """Cloth that is free, searched in stretches along the roll."""

    left: float
    top: float
    right: float
    bottom: float
    _bins: dict[int, list[tuple[Box, str]]] = field(default_factory=dict)

    def take(self, box: Box, name: str) -> None:
        """Mark a box as used."""
        for k in _stretches(box):
            self._bins.setdefault(k, []).append((box, name))

    def why_not(self, box: Box, clear: float = CLEAR_MM) -> str | None:
        """Return what stands in the way of a box, or None when it is free."""
        grown = box[0] - clear, box[1] - clear, box[2] + clear, box[3] + clear
        for k in _stretches(grown):
            for other, name in self._bins.get(k, ()):
                if _meet(grown, other):
                    return name
        inside = self.left <= box[0] and box[2] <= self.right and self.top <= box[1] and box[3] <= self.bottom
        return None if inside else "edge of the cloth"


def _stretches(box: Box) -> range:
    return range(math.floor(box[1] / _BIN_MM), math.floor(box[3] / _BIN_MM) + 1)


def _meet(a: Box, b: Box) -> bool:
    """Return whether two boxes share more than a hair: boxes that touch after rounding do not meet."""
    h = _HAIR_MM
    return a[0] < b[2] - h and b[0] < a[2] - h and a[1] < b[3] - h and b[1] < a[3] - h
