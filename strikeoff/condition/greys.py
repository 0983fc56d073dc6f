"""Where greys lie: between the media-relative axis and what the policy calls neutral."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from strikeoff.condition.pcs import Connection
from strikeoff.model.black import BlackPolicy
from strikeoff.model.grey import grey_axis

FloatArray = NDArray[np.float64]

_RAMP = 256


@dataclass(frozen=True)
class GreyShift:
    """Moves colours at constant lightness so that media-relative greys become the policy's greys.

    Attributes
    ----------
    policy : BlackPolicy
        Which greys.
    connection : Connection
        What counts as white, and its light.
    black_l : float
        L* of black under that light, where fading ends.
    """

    policy: BlackPolicy
    connection: Connection
    black_l: float

    def onto(self, lab: FloatArray) -> FloatArray:
        """Return Lab under the light, shape (m, 3), moved from the media's greys to the policy's."""
        return self._moved(lab, 1.0)

    def off(self, lab: FloatArray) -> FloatArray:
        """Return Lab under the light, shape (m, 3), moved back."""
        return self._moved(lab, -1.0)

    def _moved(self, lab: FloatArray, way: float) -> FloatArray:
        if self.policy.grey == "cloth":
            return lab
        lightness, own = lab[:, 0], self._own
        now = np.stack([np.interp(lightness, own[:, 0], own[:, i]) for i in (1, 2)], axis=1)
        white = self.connection.media_lab
        axis = grey_axis(self.policy.grey, self.policy.grey_fade, white, self.black_l, lightness)
        out = lab.copy()
        out[:, 1:] += way * (axis - now)
        return out

    @cached_property
    def _own(self) -> FloatArray:
        ramp = np.zeros((_RAMP, 3))
        ramp[:, 0] = np.linspace(0.0, 100.0, _RAMP)
        return self.connection.from_relative(ramp)
