"""Black policy: where black begins, how fast it comes, how far it goes.

References
----------
J. A. C. Yule, "Theory of subtractive color photography; the four-color process and the black
printer", J. Opt. Soc. Am. 30 (1940), 322-331.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

_NEUTRAL_CHROMA = 22.0


@dataclass(frozen=True)
class BlackPolicy:
    """How black replaces the coloured inks.

    Attributes
    ----------
    start : float
        Lightness at which black begins, 0-100. [L*]
    width : float
        Lightness over which black comes to its full share, above 0. [L*]
    maximum : float
        Most black, 0-1. [-]
    strength : float
        From least (0) to most (1) black: share of the black that a pure black tint of the same
        lightness would have. [-]
    chroma_reach : float
        Chroma at which black has fallen to half: small keeps black to neutrals. [C*]
    """

    start: float = 88.0
    width: float = 60.0
    maximum: float = 1.0
    strength: float = 0.75
    chroma_reach: float = 45.0

    def __post_init__(self) -> None:
        checks = (
            (0 <= self.start <= 100, "black start", self.start, "0 to 100"),
            (self.width > 0, "black width", self.width, "above 0"),
            (0 <= self.maximum <= 1, "black maximum", self.maximum, "0 to 1"),
            (0 <= self.strength <= 1, "black strength", self.strength, "0 to 1"),
            (self.chroma_reach > 0, "black chroma reach", self.chroma_reach, "above 0"),
        )
        for fine, name, value, expected in checks:
            if not fine:
                raise UsageError(f"{name} is out of range", found=value, expected=expected)


@dataclass(frozen=True)
class BlackCurve:
    """Pure black tint by lightness: the most black that a neutral of that lightness can hold."""

    lightness: FloatArray
    ink: FloatArray

    def at(self, lightness: FloatArray) -> FloatArray:
        """Return black ink, 0-1, whose pure tint has the lightness; 1 below the solid's."""
        return np.asarray(np.interp(lightness, self.lightness, self.ink))


def find_black(names: tuple[str, ...], model: InksToLab) -> int | None:
    """Return which ink is the black one, or None when no solid is dark and neutral enough.

    An ink called K or black is it; otherwise the darkest solid of chroma below 22.
    """
    for index, name in enumerate(names):
        if name.strip().lower() in ("k", "black"):
            return index
    lightness, a, b = model.lab(np.eye(len(names))).T
    chroma = np.hypot(a, b)
    order = np.argsort(lightness)
    darkest = int(order[0])
    cloth = float(model.lab(np.zeros((1, len(names))))[0, 0])
    return darkest if chroma[darkest] < _NEUTRAL_CHROMA and lightness[darkest] < 0.6 * cloth else None


def black_curve(model: InksToLab, black: int, limit: float) -> BlackCurve:
    """Tabulate the pure black ramp by lightness."""
    ramp = np.zeros((256, model.n_inks))
    ramp[:, black] = np.linspace(0.0, limit, 256)
    lightness = np.minimum.accumulate(model.lab(ramp)[:, 0])
    return BlackCurve(lightness[::-1].copy(), ramp[::-1, black].copy())


def black_goal(policy: BlackPolicy, curve: BlackCurve, lab: FloatArray) -> FloatArray:
    """Return the black ink, shape (m,), that the policy wants for colours, shape (m, 3)."""
    lightness = lab[:, 0]
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    u = np.clip((policy.start - lightness) / policy.width, 0.0, 1.0)
    onset = u * u * (3.0 - 2.0 * u)
    reach = 1.0 / (1.0 + (chroma / policy.chroma_reach) ** 2)
    share = policy.strength * onset * reach
    return np.minimum(share * curve.at(lightness), policy.maximum)
