"""Between the condition's own light and the profile connection space: media-relative, D50."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.colour.adaptation import adaptation_matrix
from strikeoff.colour.cielab import lab_to_xyz, xyz_to_lab

FloatArray = NDArray[np.float64]

#: ICC.1:2022, 6.3.4.3: the connection space's white, as XYZ with Y = 1.
D50 = np.array([0.9642, 1.0, 0.8249])


@dataclass(frozen=True)
class Connection:
    """Media-relative connection space of one condition under one light.

    Attributes
    ----------
    white : ndarray, shape (3,)
        XYZ of the perfect diffuser under the light, Y = 100.
    media_lab : ndarray, shape (3,)
        Lab of what counts as white under the light: the bare cloth, or on dark cloth the lightest neutral
        that inks reach.
    """

    white: FloatArray
    media_lab: FloatArray

    @property
    def adaptation(self) -> FloatArray:
        """Bradford matrix, shape (3, 3), from the light's white to D50."""
        return adaptation_matrix(self.white / self.white[1], D50)

    @property
    def media_white(self) -> FloatArray:
        """XYZ of the media white adapted to D50, Y = 1 for the perfect diffuser."""
        return np.asarray(lab_to_xyz(self.media_lab, self.white) / 100.0 @ self.adaptation.T)

    def to_absolute(self, lab: FloatArray) -> FloatArray:
        """Return D50 Lab against the perfect diffuser of Lab under the light."""
        return xyz_to_lab(lab_to_xyz(lab, self.white) / 100.0 @ self.adaptation.T, D50)

    def from_absolute(self, lab: FloatArray) -> FloatArray:
        """Return Lab under the light of D50 Lab against the perfect diffuser."""
        return xyz_to_lab(100.0 * lab_to_xyz(lab, D50) @ np.linalg.inv(self.adaptation).T, self.white)

    def to_relative(self, lab: FloatArray) -> FloatArray:
        """Return media-relative D50 Lab of Lab under the light."""
        absolute = lab_to_xyz(self.to_absolute(lab), D50)
        return xyz_to_lab(absolute / self.media_white, np.ones(3))

    def from_relative(self, lab: FloatArray) -> FloatArray:
        """Return Lab under the light of media-relative D50 Lab."""
        absolute = lab_to_xyz(lab, np.ones(3)) * self.media_white
        return self.from_absolute(xyz_to_lab(absolute, D50))


def black_scaled(lab: FloatArray, source_black: float, target_black: float) -> FloatArray:
    """Return media-relative Lab with the source's black moved to the target's.

    Parameters
    ----------
    lab : ndarray, shape (m, 3)
        Media-relative Lab.
    source_black, target_black : float
        Y of the two blacks, 1 for white; their a*, b* count as neutral. [-]

    Returns
    -------
    ndarray, shape (m, 3)

    References
    ----------
    ISO 18619: XYZ' = s XYZ + (1 - s) W, s = (1 - Y_d) / (1 - Y_s).
    """
    scale = (1.0 - target_black) / (1.0 - source_black)
    return xyz_to_lab(scale * lab_to_xyz(lab, np.ones(3)) + (1.0 - scale), np.ones(3))
