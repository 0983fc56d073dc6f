"""Samples of any width as 8 or 16-bit codes."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError


def codes_of(stored: NDArray[Any], bits: int) -> NDArray[Any]:
    """Return samples as codes over the full range of uint8 (up to 8 bits) or uint16.

    Parameters
    ----------
    stored : ndarray of unsigned integers or floats
        Integers of ``bits`` bits; floats 0-1.
    bits : int
        Of a sample. [bits]

    Returns
    -------
    ndarray of uint8 or uint16
        Rounded to the nearest code. Floats are cut to 0-1, which readers announce.

    Raises
    ------
    InputError
        For floats that are not finite.

    Examples
    --------
    >>> codes_of(np.array([0, 1, 3], np.uint8), 2).tolist()
    [0, 85, 255]
    >>> codes_of(np.array([4095], np.uint16), 12).tolist()
    [65535]
    >>> codes_of(np.array([0.5, 1.2], np.float32), 32).tolist()
    [32768, 65535]
    """
    if stored.dtype.kind == "f":
        if not np.isfinite(stored).all():
            raise InputError(
                "picture holds samples that are no numbers",
                found="NaN or infinity",
                expected="0-1",
                advice="Have it saved with 16 bits per channel",
            )
        return np.asarray(np.rint(np.clip(stored, 0.0, 1.0) * np.float64(65535.0)), dtype=np.uint16)
    if bits in (8, 16):
        return np.asarray(stored, dtype=np.uint8 if bits == 8 else np.uint16)
    if bits == 32:
        return np.asarray(stored >> np.uint32(16), dtype=np.uint16)
    full, most = (255, (1 << bits) - 1) if bits < 8 else (65535, (1 << bits) - 1)
    wide = stored.astype(np.uint32)
    return np.asarray((wide * full + most // 2) // most, dtype=np.uint8 if bits < 8 else np.uint16)


def lab_codes(stored: NDArray[Any], *, signed: bool, full_l: int) -> NDArray[Any]:
    """Return Lab samples as codes: L* 0-100 and a*, b* -128 to 127, each over the full range.

    Parameters
    ----------
    stored : ndarray of uint8 or uint16, shape (..., 3)
        As in a file.
    signed : bool
        Whether a*, b* are signed numbers (TIFF "CIELab"), not shifted by 128.
    full_l : int
        Code of L* 100: 255, 65535 or 65280.

    References
    ----------
    TIFF 6.0 section 23; TIFF technical note of 2002 on ICC L*a*b* (photometric 9).

    Examples
    --------
    >>> lab_codes(np.array([[255, 0, 255]], np.uint8), signed=True, full_l=255).tolist()
    [[255, 128, 127]]
    >>> lab_codes(np.array([[65280, 32768, 256]], np.uint16), signed=False, full_l=65280).tolist()
    [[65535, 32896, 257]]
    """
    result = stored.copy()
    half = 1 << (8 * stored.dtype.itemsize - 1)
    if signed:
        result[..., 1:] += stored.dtype.type(half)
    if stored.dtype.itemsize == 2:
        # In 16 bits a unit of a* or b* is 256 codes in files and 257 here.
        result[..., 1:] = np.minimum((result[..., 1:].astype(np.uint32) * 257 + 128) >> 8, 65535)
        scaled = np.minimum(stored[..., 0].astype(np.uint64), full_l) * 65535 + full_l // 2
        result[..., 0] = scaled // full_l
    return result
