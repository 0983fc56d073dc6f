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
from strikeoff.model.grey import GREYS, grey_axis
from strikeoff.model.table import InksToLab

FloatArray = NDArray[np.float64]

POINTS = ("neutral", "patch", "given")

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
        Most black in any colour, 0-1; pure black for type excepted. [-]
    strength : float
        From least (0) to most (1) black: share of the black that a pure black tint of the same
        lightness would have, or the least that greys can do with where that is more. [-]
    chroma_reach : float
        Chroma, from the grey of the same lightness, at which black has fallen to half: small keeps black
        to neutrals. [C*]
    point : {"neutral", "patch", "given"}
        Where black is scaled to: darkest neutral that can be reached, darkest patch that was printed
        within the limits, or ``point_lab``.
    point_lab : tuple of float, optional
        Black point that is given, absolute Lab.
    grey : {"cloth", "fading", "absolute"}
        What neutral means: the cloth's own colour scaled down, the same fading towards black, or
        a* = b* = 0. See :func:`strikeoff.model.grey.grey_axis`.
    grey_fade : float
        With fading: share of the cloth's a*, b* gone at black, 0-1. [-]
    pure_black : bool
        Whether artwork's own black prints with black alone, for type.
    pure_inks : bool
        Whether artwork's full inks print with the ink of the same name alone.
    """

    start: float = 88.0
    width: float = 60.0
    maximum: float = 1.0
    strength: float = 0.75
    chroma_reach: float = 45.0
    point: str = "neutral"
    point_lab: tuple[float, float, float] | None = None
    grey: str = "cloth"
    grey_fade: float = 0.85
    pure_black: bool = False
    pure_inks: bool = False

    def __post_init__(self) -> None:
        checks = (
            (0 <= self.start <= 100, "black start", self.start, "0 to 100"),
            (self.width > 0, "black width", self.width, "above 0"),
            (0 <= self.maximum <= 1, "black maximum", self.maximum, "0 to 1"),
            (0 <= self.strength <= 1, "black strength", self.strength, "0 to 1"),
            (self.chroma_reach > 0, "black chroma reach", self.chroma_reach, "above 0"),
            (0 <= self.grey_fade <= 1, "fading of grey", self.grey_fade, "0 to 1"),
            (self.point in POINTS, "black point", self.point, ", ".join(POINTS)),
            (self.grey in GREYS, "grey definition", self.grey, ", ".join(GREYS)),
            (
                (self.point == "given") == (self.point_lab is not None),
                "black point",
                self.point_lab,
                "Lab with 'given' only",
            ),
        )
        for fine, name, value, expected in checks:
            if not fine:
                raise UsageError(f"{name} is out of range", found=value, expected=expected)
        if self.point_lab is not None:
            lab = tuple(float(value) for value in self.point_lab)
            if len(lab) != 3 or not (0 <= lab[0] < 90 and max(abs(lab[1]), abs(lab[2])) <= 60):
                raise UsageError(
                    "black point is out of range", found=lab, expected="L* 0 to 90, a* and b* -60 to 60"
                )
            object.__setattr__(self, "point_lab", lab)


@dataclass(frozen=True)
class BlackCurve:
    """Pure black tint by lightness: the most black that a neutral of that lightness can hold.

    Attributes
    ----------
    lightness, ink : ndarray, shape (n,)
        Of the pure ramp, darkest first. [L*], [-]
    cloth_lab : ndarray, shape (3,)
        Bare cloth, from which greys are counted.
    least_lightness, least_ink : ndarray, shape (m,)
        Least black that greys can do with, darkest first; none where nothing is known. [L*], [-]
    """

    lightness: FloatArray
    ink: FloatArray
    cloth_lab: FloatArray
    least_lightness: FloatArray
    least_ink: FloatArray

    def at(self, lightness: FloatArray) -> FloatArray:
        """Return black ink, 0-1, whose pure tint has the lightness; 1 below the solid's."""
        return np.asarray(np.interp(lightness, self.lightness, self.ink))

    def least(self, lightness: FloatArray) -> FloatArray:
        """Return the least black ink, 0-1, of greys of the lightness."""
        return np.asarray(np.interp(lightness, self.least_lightness, self.least_ink))


def find_black(names: tuple[str, ...], model: InksToLab, used: NDArray[np.bool_] | None = None) -> int | None:
    """Return which ink is the black one, or None when no solid is dark and neutral enough.

    An ink called K or black is it (of several, as with a light black k, the darkest solid); otherwise the
    darkest solid of chroma below 22, of the inks that are used, shape (n_inks,), all by default.
    """
    allowed = np.ones(len(names), dtype=bool) if used is None else used
    lightness, a, b = model.lab(np.eye(len(names))).T
    named = [k for k, name in enumerate(names) if name.strip().lower() in ("k", "black") and allowed[k]]
    if named:
        return min(named, key=lambda k: float(lightness[k]))
    chroma = np.hypot(a, b)
    darkest = int(np.argmin(np.where(allowed, lightness, np.inf)))
    cloth = float(model.lab(np.zeros((1, len(names))))[0, 0])
    return darkest if chroma[darkest] < _NEUTRAL_CHROMA and lightness[darkest] < 0.6 * cloth else None


def black_curve(model: InksToLab, black: int, limit: float) -> BlackCurve:
    """Tabulate the pure black ramp by lightness; greys are taken to do without black."""
    ramp = np.zeros((256, model.n_inks))
    ramp[:, black] = np.linspace(0.0, limit, 256)
    lab = model.lab(ramp)
    lightness = np.minimum.accumulate(lab[:, 0])
    ends = lightness[[-1, 0]]
    return BlackCurve(lightness[::-1].copy(), ramp[::-1, black].copy(), lab[0], ends, np.zeros(2))


def black_greys(policy: BlackPolicy, curve: BlackCurve, lightness: FloatArray) -> FloatArray:
    """Return a*, b*, shape (m, 2), of what the policy calls grey.

    Fading greys are taken to fade until the black solid, or the black point that is given.
    """
    end = curve.lightness[0] if policy.point_lab is None else policy.point_lab[0]
    return grey_axis(policy.grey, policy.grey_fade, curve.cloth_lab, float(end), lightness)


def black_goal(policy: BlackPolicy, curve: BlackCurve, lab: FloatArray) -> FloatArray:
    """Return the black ink, shape (m,), that the policy wants for colours, shape (m, 3).

    Chroma counts from what the policy calls grey, so that the greys of a tinted cloth take the black of
    greys. However little the policy asks for, it is the least that greys can do with.
    """
    lightness = lab[:, 0]
    chroma = np.hypot(*(lab[:, 1:] - black_greys(policy, curve, lightness)).T)
    u = np.clip((policy.start - lightness) / policy.width, 0.0, 1.0)
    onset = u * u * (3.0 - 2.0 * u)
    reach = 1.0 / (1.0 + (chroma / policy.chroma_reach) ** 2)
    asked = np.maximum(policy.strength * onset * curve.at(lightness), curve.least(lightness))
    return np.asarray(np.minimum(reach * asked, policy.maximum))
