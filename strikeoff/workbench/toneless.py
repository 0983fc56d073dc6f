"""Inks without tone values: clear ones, and white on white cloth."""

from __future__ import annotations

import numpy as np

from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.record import Condition

# A full tone nearer to the cloth has no tints that readings tell apart (own rule). [CIEDE2000]
_LEAST_SOLID = 2.0


def toneless(condition: Condition) -> tuple[int, ...]:
    """Return the calibrated inks whose full tone can hardly be told from the cloth.

    A tone value is a share of the way from cloth to solid: where there is no way, it is a share of noise.
    """
    solids = condition.native.lab(np.eye(condition.n_inks))
    cloth = condition.native.lab(np.zeros((1, condition.n_inks)))[0]
    return tuple(np.flatnonzero(delta_e_2000(cloth, solids) < _LEAST_SOLID).tolist())


def toneless_words(condition: Condition) -> str:
    """Say which inks have no tone value and why, or nothing."""
    names = [condition.spaces.channels[k] for k in toneless(condition)]
    if not names:
        return ""
    return (
        f" No tone value of {' and '.join(names)}: full tone lies within {_LEAST_SOLID:g} CIEDE2000 of the "
        "cloth, so that readings tell no tints of it apart."
    )
