"""A colour difference in a dyer's words."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

#: Differences in L*, C* or H* below this are not worth a word; common practice, no source.
WORTH_A_WORD = 0.5
_NEUTRAL_CHROMA = 6.0
_AXES = ("redder", "yellower", "greener", "bluer")


def difference_words(wanted: ArrayLike, reached: ArrayLike) -> tuple[str, ...]:
    """Say how a reached colour differs from the wanted one, the largest difference first.

    Parameters
    ----------
    wanted, reached : array_like, shape (3,)
        L*, a*, b*.

    Returns
    -------
    tuple of str
        Of ``lighter``, ``darker``, ``duller`` (less chroma), ``brighter`` (more chroma), and ``redder``,
        ``greener``, ``yellower`` or ``bluer`` for the axis that hue turns to; near neutral these stand for
        a* and b* instead.

    Examples
    --------
    >>> difference_words([50, 60, 0], [47, 50, 4])
    ('duller', 'yellower', 'darker')
    >>> difference_words([50, 1, 1], [50, 1, -2])
    ('bluer',)
    """
    first, second = np.asarray(wanted, float), np.asarray(reached, float)
    delta = second - first
    parts = [(delta[0], "lighter", "darker")]
    chroma = float(np.hypot(first[1], first[2]))
    if chroma < _NEUTRAL_CHROMA:
        parts += [(delta[1], "redder", "greener"), (delta[2], "yellower", "bluer")]
    else:
        turn = np.arctan2(first[1] * second[2] - first[2] * second[1], first[1:] @ second[1:])
        other = float(np.hypot(second[1], second[2]))
        parts.append((other - chroma, "brighter", "duller"))
        hue = 2.0 * np.sqrt(chroma * other) * np.sin(turn / 2.0)
        middle = np.degrees(np.arctan2(first[2], first[1]) + turn / 2.0)
        parts.append((abs(hue), *_hue_words(float(middle), float(np.sign(hue)))))
    told = [(abs(value), up if value > 0 else down) for value, up, down in parts]
    return tuple(word for size, word in sorted(told, reverse=True) if size >= WORTH_A_WORD)


def _hue_words(middle_degrees: float, sign: float) -> tuple[str, str]:
    """Return the name of the axis towards which hue turns, twice."""
    quadrant = int(middle_degrees % 360.0 // 90.0)
    word = _AXES[(quadrant + 1) % 4 if sign > 0 else quadrant]
    return word, word
