"""Colours that a surface can have: the solid of optimal colours."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.colour.cielab import lab_to_xyz
from strikeoff.colour.weights import canonical_illuminant, canonical_observer, weighting_factors, white_point

FloatArray = NDArray[np.float64]

# Bands in which a reflectance may be anything from 0 to 1. Under daylight the solid is nowhere 0.2 CIELAB
# units short of that of bands of 1 nm. [nm]
_BANDS_NM = np.arange(380.0, 781.0, 2.0)
# Colours are taken for so much nearer to middle grey than they are said to be: rounding, and aims that were
# adapted from another light. [CIELAB units]
_SLACK = 0.5
# Colours judged at once, which bounds memory.
_BLOCK = 256
# Bands that hold less of all light than this span no plane. [-]
_NO_LIGHT = 1e-9


def is_object_colour(lab: ArrayLike, illuminant: str = "D50", observer: str = "2") -> NDArray[np.bool_]:
    """Say which colours a surface that does not fluoresce can have.

    Parameters
    ----------
    lab : array_like, shape (n, 3)
        CIELAB relative to the perfect diffuser under the light.
    illuminant : str
        CIE illuminant.
    observer : {"2", "10"}
        Standard observer. [degrees]

    Returns
    -------
    ndarray of bool, shape (n,)
        Whether some reflectance from 0 to 1 at every wavelength has this colour, give or take half a CIELAB
        unit.

    Notes
    -----
    The colours of all such reflectances fill a convex body whose edges are the colours of the bands: a
    zonohedron. A colour is in it where it is on the right side of every face, and a face lies along two of
    the edges, so that no search is needed.

    References
    ----------
    D. L. MacAdam, J. Opt. Soc. Am. 25 (1935), 361-367: the limits. P. Centore, Color Res. Appl. 38 (2013),
    110-119: the zonohedron; from memory.

    Examples
    --------
    >>> is_object_colour([[50, 60, 20], [20, 150, 0], [95, 80, 0]]).tolist()
    [True, False, False]
    """
    light, eye = canonical_illuminant(illuminant), canonical_observer(observer)
    given = np.asarray(lab, dtype=np.float64)
    grey = np.array([50.0, 0.0, 0.0])
    away = given - grey
    size = np.sqrt((away**2).sum(axis=1, keepdims=True))
    nearer = grey + away * np.maximum(1.0 - _SLACK / np.maximum(size, _SLACK), 0.0)
    xyz = lab_to_xyz(nearer, white_point(light, eye))
    faces, reach = _faces(light, eye)
    inside = np.empty(len(xyz), dtype=np.bool_)
    for first in range(0, len(xyz), _BLOCK):
        height = xyz[first : first + _BLOCK] @ faces.T
        inside[first : first + _BLOCK] = ((height <= reach[0]) & (height >= reach[1])).all(axis=1)
    return inside


@lru_cache(maxsize=8)
def _faces(illuminant: str, observer: str) -> tuple[FloatArray, FloatArray]:
    """Return the directions across the faces, shape (n, 3), and how far up and down the solid reaches."""
    bands = np.asarray(weighting_factors(illuminant, observer, _BANDS_NM))
    bands = bands[np.abs(bands).sum(axis=1) > _NO_LIGHT * np.abs(bands).sum()]
    i, j = np.triu_indices(len(bands), 1)
    across = np.cross(bands[i], bands[j])
    size = np.sqrt((across**2).sum(axis=1))
    across = across[size > 0.0] / size[size > 0.0, None]
    heights = across @ bands.T
    return across, np.stack([np.maximum(heights, 0.0).sum(axis=1), np.minimum(heights, 0.0).sum(axis=1)])
