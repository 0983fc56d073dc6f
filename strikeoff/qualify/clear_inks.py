"""Clear inks, and white ones on light cloth, whose ramps have no colour to go by: tones stay even in ink.

A clear ink is seen by its gloss and felt by its hand; instruments for colour see it little or not at all. So
it is with white ink on cloth that is as light. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.colour.difference import delta_e_2000
from strikeoff.inks.records import Ink
from strikeoff.inks.spaces import InkSpaces
from strikeoff.inks.tables import FULL, NODES, Codes, to_codes
from strikeoff.qualify.limits import PLAIN_RANGE
from strikeoff.qualify.linearise import LEAST_COLOUR
from strikeoff.qualify.ramps import Ramp
from strikeoff.qualify.tone_curve import ToneCurveFit

FloatArray = NDArray[np.float64]

# Cloth that is darker shows a white ink that prints. Common practice, no source. [L*]
_LIGHT_CLOTH = 75.0


def clear_places(inks: Sequence[Ink]) -> tuple[int, ...]:
    """Return the places of the clear inks.

    Examples
    --------
    >>> clear_places([Ink("C"), Ink("Gloss", "clear")])
    (1,)
    """
    return tuple(place for place, ink in enumerate(inks) if ink.role == "clear")


def hidden_white_places(roles: Sequence[str], ramps: Sequence[Ramp]) -> tuple[int, ...]:
    """Return the places of the white inks that light cloth hides.

    Parameters
    ----------
    roles : sequence of str
        Role of the ink of each ramp.
    ramps : sequence of Ramp
        Of single inks from the cloth upwards.
    """
    return tuple(
        place
        for place, (role, ramp) in enumerate(zip(roles, ramps, strict=True))
        if role == "white"
        and ramp.lab[0, 0] >= _LIGHT_CLOTH
        and np.abs(ramp.lab - ramp.lab[0]).max() < PLAIN_RANGE
    )


def shows_all_but_white(roles: Sequence[str], cloth: FloatArray, solids: FloatArray) -> bool:
    """Return whether light cloth hides its white inks and shows all others: nothing needs white below it.

    Parameters
    ----------
    roles : sequence of str
        Of the inks.
    cloth : ndarray, shape (3,)
        CIELAB of the bare cloth.
    solids : ndarray, shape (n_inks, 3)
        CIELAB of each ink alone, full.

    Examples
    --------
    >>> lab = np.array([[94.0, 0.0, 0.0], [50.0, 0.0, 0.0], [96.0, 0.0, 0.0]])
    >>> shows_all_but_white(["process", "white"], lab[0], lab[1:])
    True
    >>> shows_all_but_white(["process", "white"], lab[1] - 30.0, lab[1:])
    False
    """
    if cloth[0] < _LIGHT_CLOTH:
        return False
    away = delta_e_2000(np.broadcast_to(cloth, solids.shape), solids)
    hidden = np.abs(solids - cloth).max(axis=1) < PLAIN_RANGE
    return all(
        hidden[place] if role == "white" else role == "clear" or away[place] >= LEAST_COLOUR
        for place, role in enumerate(roles)
    )


def clear_channels(spaces: InkSpaces) -> tuple[int, ...]:
    """Return the places of the clear inks among the channels."""
    names = {ink.name for ink in spaces.inks if ink.role == "clear"}
    return tuple(place for place, name in enumerate(spaces.channels) if name in names)


def fit_others(
    fit: Callable[[list[int]], Sequence[ToneCurveFit]],
    ramps: Sequence[Ramp],
    limits: Sequence[float],
    clear: Sequence[int],
    kept: Sequence[Codes] | None = None,
) -> tuple[ToneCurveFit, ...]:
    """Return the tone curves that ``fit`` makes for places, and straight ones for those of clear inks.

    Where curves are ``kept``, one for each place, clear inks have those.
    """
    others = [place for place in range(len(ramps)) if place not in clear]
    fits = dict(zip(others, fit(others), strict=True))
    for place in clear:
        straight = straight_tones(ramps[place], limits[place])
        own = straight.curve if kept is None else kept[place]
        fits[place] = replace(straight, curve=own, limit=float(own[-1]) / FULL)
    return tuple(fits[place] for place in range(len(ramps)))


def straight_tones(ramp: Ramp, limit: float) -> ToneCurveFit:
    """Return the tone curve of a clear ink, even in ink up to its limit."""
    curve = to_codes(np.linspace(0.0, limit, NODES))
    amount = ramp.amount[ramp.amount <= limit + 1e-6]
    return ToneCurveFit(ramp.ink, curve, limit, 0.0, 0.0, 1.0, amount, amount / limit, amount / limit)
