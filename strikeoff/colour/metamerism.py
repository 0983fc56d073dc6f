"""One colour, or a pair, under changing light: metamerism of a pair, inconstancy of one."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError
from strikeoff.colour.cielab import xyz_to_lab
from strikeoff.colour.difference import delta_e_1976, delta_e_2000

FloatArray = NDArray[np.float64]
Formula = Literal["de2000", "de1976"]

_FORMULAS = {"de2000": delta_e_2000, "de1976": delta_e_1976}
# CMCCAT2000: Li, Luo, Rigg, Hunt, Color Research and Application 27 (2002), 49-58.
_CMCCAT2000: FloatArray = np.array(
    [[0.7982, 0.3389, -0.1371], [-0.5918, 1.5512, 0.0406], [0.0008, 0.0239, 0.9753]]
)


def special_metamerism_iso_18314_4(
    standard_reference: ArrayLike,
    standard_test: ArrayLike,
    sample_reference: ArrayLike,
    sample_test: ArrayLike,
    formula: Formula = "de2000",
) -> FloatArray:
    """Return the special metamerism index for a change of illuminant, additive correction in CIELAB.

    Parameters
    ----------
    standard_reference, standard_test : array_like, shape (..., 3)
        CIELAB of the standard under reference and test light.
    sample_reference, sample_test : array_like, shape (..., 3)
        CIELAB of the sample.
    formula : {"de2000", "de1976"}
        Colour difference.

    Returns
    -------
    ndarray, shape (...)
        0 for pairs that differ under the test light just as they do under the reference light.

    Notes
    -----
    What the pair differs by under the reference light is taken off under the test light:
    Lab' = Lab_sample,test - (Lab_sample,ref - Lab_standard,ref); the index is the difference between Lab'
    and Lab_standard,test.

    References
    ----------
    ISO 18314-4:2020, Analytical colorimetry - Metamerism index for pairs of samples for change of illuminant.

    Examples
    --------
    >>> pair = ([40, 0, 0], [41, 1, 0], [42, 0, 0], [43, 1, 1])
    >>> float(special_metamerism_iso_18314_4(*pair, formula="de1976"))
    1.0
    """
    standard, sample = np.asarray(standard_reference, float), np.asarray(sample_reference, float)
    corrected = np.asarray(sample_test, float) - (sample - standard)
    return np.asarray(_FORMULAS[formula](standard_test, corrected), dtype=np.float64)


def special_metamerism_ratio(
    standard_reference: ArrayLike,
    standard_test: ArrayLike,
    sample_reference: ArrayLike,
    sample_test: ArrayLike,
    formula: Formula = "de2000",
) -> FloatArray:
    """Return the older index, corrected by ratios of the coordinates in place of differences.

    Parameters
    ----------
    standard_reference, standard_test, sample_reference, sample_test, formula
        As for `special_metamerism_iso_18314_4`.

    Returns
    -------
    ndarray, shape (...)

    Raises
    ------
    InputError
        When a coordinate of a sample is zero under the reference light.

    Notes
    -----
    Kept to compare with figures of older programs; unstable near neutral, where a* or b* passes zero.
    """
    sample = np.asarray(sample_reference, float)
    if np.any(sample == 0.0):
        raise InputError("ratios of zero coordinates do not exist", expected="the additive correction")
    corrected = np.asarray(sample_test, float) * (np.asarray(standard_reference, float) / sample)
    return np.asarray(_FORMULAS[formula](standard_test, corrected), dtype=np.float64)


def corresponding_cmccat2000(
    xyz: ArrayLike, white_test: ArrayLike, white_reference: ArrayLike, degree: float = 1.0
) -> FloatArray:
    """Return the colour that looks under the reference light as ``xyz`` looks under the test light.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        Colours under the test light, Y = 100 for the perfect diffuser.
    white_test, white_reference : array_like, shape (3,)
        Perfect diffuser under both lights.
    degree : float
        Degree of adaptation, 0 none to 1 complete.

    Returns
    -------
    ndarray, shape (..., 3)

    References
    ----------
    C. Li, M. R. Luo, B. Rigg, R. W. G. Hunt, Color Research and Application 27 (2002), 49-58.
    """
    test, reference = np.asarray(white_test, float), np.asarray(white_reference, float)
    cones = np.asarray(xyz, float) @ _CMCCAT2000.T
    gain = degree * (test[1] / reference[1]) * (_CMCCAT2000 @ reference) / (_CMCCAT2000 @ test) + 1.0 - degree
    return np.asarray(np.linalg.solve(_CMCCAT2000, (cones * gain)[..., None])[..., 0], dtype=np.float64)


def inconstancy_cmccon02(
    xyz_reference: ArrayLike,
    xyz_test: ArrayLike,
    white_reference: ArrayLike,
    white_test: ArrayLike,
    formula: Formula = "de2000",
) -> FloatArray:
    """Return the colour inconstancy index of samples when the light changes.

    Parameters
    ----------
    xyz_reference, xyz_test : array_like, shape (..., 3)
        Samples under reference and test light, Y = 100 for the perfect diffuser.
    white_reference, white_test : array_like, shape (3,)
        Perfect diffuser under both.
    formula : {"de2000", "de1976"}
        Colour difference.

    Returns
    -------
    ndarray, shape (...)
        Difference between the sample and its corresponding colour, both under the reference light.

    Notes
    -----
    The method is CMCCON02: corresponding colours by CMCCAT2000, here with complete adaptation and CIEDE2000;
    the choice of these two is from memory, and figures from programs that choose otherwise differ.

    References
    ----------
    ISO 105-J05:2007, Textiles - Instrumental assessment of the colour inconstancy of a specimen with change
    in illuminant (CMCCON02).
    """
    corresponding = corresponding_cmccat2000(xyz_test, white_test, white_reference)
    seen, kept = xyz_to_lab(corresponding, white_reference), xyz_to_lab(xyz_reference, white_reference)
    return np.asarray(_FORMULAS[formula](kept, seen), dtype=np.float64)
