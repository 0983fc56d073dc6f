"""Clear inks, whose ramps have no colour to go by: their tones stay even in ink.

A clear ink is seen by its gloss and felt by its hand; instruments for colour see it little or not at all.
Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from strikeoff.inks.records import Ink
from strikeoff.inks.tables import NODES, to_codes
from strikeoff.qualify.linearise import ToneCurveFit
from strikeoff.qualify.ramps import Ramp


def clear_places(inks: Sequence[Ink]) -> tuple[int, ...]:
    """Return the places of the clear inks.

    Examples
    --------
    >>> clear_places([Ink("C"), Ink("Gloss", "clear")])
    (1,)
    """
    return tuple(place for place, ink in enumerate(inks) if ink.role == "clear")


def straight_tones(ramp: Ramp, limit: float) -> ToneCurveFit:
    """Return the tone curve of a clear ink, even in ink up to its limit."""
    curve = to_codes(np.linspace(0.0, limit, NODES))
    amount = ramp.amount[ramp.amount <= limit + 1e-6]
    return ToneCurveFit(ramp.ink, curve, limit, 0.0, 0.0, 1.0, amount, amount / limit, amount / limit)
