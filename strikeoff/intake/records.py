"""What a check of artwork asks and finds."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Severity
from strikeoff.raster.lattice import Lattice, as_lattice

Picture = NDArray[np.uint8]

_MOST_MM = 100_000.0


@dataclass(frozen=True)
class Wish:
    """What the artwork is wanted for.

    Attributes
    ----------
    finished_mm : tuple of float
        Size on the finished goods (across, along). [mm]
    repeat : str or Lattice
        ``none``, or how it repeats: a lattice, or the name of one.
    bleed_mm : float
        Bleed that is needed at each edge, finished. [mm]
    least_ppi : float
        Effective resolution below which pixels may show; below half of it they do. [pixels per inch]
    least_line_mm : float
        Lines thinner than this, finished, may break up. [mm]
    intent : str
        Rendering intent.
    """

    finished_mm: tuple[float, float]
    repeat: str | Lattice = "none"
    bleed_mm: float = 0.0
    least_ppi: float = 150.0
    least_line_mm: float = 0.3
    intent: str = "perceptual"

    def __post_init__(self) -> None:
        if self.repeat != "none":
            as_lattice(self.repeat)
        if not all(0 < side <= _MOST_MM for side in self.finished_mm):
            raise InputError("finished size out of range", found=self.finished_mm, expected="0-100000 mm")
        if not (0 <= self.bleed_mm < 1000 and 0 < self.least_ppi < 10_000 and 0 < self.least_line_mm < 100):
            raise InputError(
                "limit of the check out of range",
                found=f"{self.bleed_mm} mm, {self.least_ppi} ppi, {self.least_line_mm} mm",
            )

    @property
    def lattice(self) -> Lattice | None:
        """How it repeats, or None."""
        return None if self.repeat == "none" else as_lattice(self.repeat)


@dataclass(frozen=True)
class Finding:
    """One thing that the check found.

    Attributes
    ----------
    topic : str
        What it is about; see `TOPICS`.
    severity : {"error", "warning", "note"}
        An error would spoil the goods, a warning may, a note is to be known.
    message : str
        What is wrong, in one line.
    fix : str
        What to do.
    found, expected : str, optional
        The value and the rule.
    picture : ndarray of uint8, shape (h, w, 3), optional
        sRGB; where it can be seen.
    caption : str
        What the picture shows.
    """

    topic: str
    severity: Severity
    message: str
    fix: str
    found: str | None = None
    expected: str | None = None
    picture: Picture | None = field(default=None, compare=False, repr=False)
    caption: str = ""

    def as_record(self) -> dict[str, Any]:
        """Return the finding for JSON."""
        return {
            "topic": self.topic,
            "severity": self.severity,
            "message": self.message,
            "found": self.found,
            "expected": self.expected,
            "fix": self.fix,
        }


#: Topics in the order of a report.
TOPICS = (
    "size", "resolution", "profile", "named colours", "gamut", "ink", "overprint", "thin lines", "small type",
    "fonts", "bleed", "repeat", "JPEG",
)  # fmt: skip
