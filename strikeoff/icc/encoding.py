"""Number and colour encodings of the profile connection space (PCS), and Lab against XYZ.

References
----------
ICC.1:2022 clauses 4 (number types), 6.3.4.2 and 10.10 (the legacy 16-bit Lab of lut16Type),
D.1 (Lab and XYZ); CIE 15:2004 clause 8.2.1.
"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import RangeError

FloatArray = NDArray[np.float64]
LabEncoding = Literal["legacy", "v4"]

#: PCS illuminant as the header stores it, s15Fixed16: F6D6 10000 D32D.
D50_WORDS = (0xF6D6, 0x10000, 0xD32D)
D50_XYZ: FloatArray = np.array(D50_WORDS) / 65536.0
D50_XYZ.setflags(write=False)

#: XYZ value of the highest 16-bit code (u1Fixed15).
XYZ_FULL = 1 + 32767 / 32768

_LAB_SCALE: dict[LabEncoding, FloatArray] = {
    "legacy": np.array([65535 / 652.8, 65535 / 256, 65535 / 256]),
    "v4": np.array([100.0, 255.0, 255.0]),
}
_LAB_SHIFT = np.array([0.0, 128.0, 128.0])

_EPSILON = 216 / 24389
_KAPPA = 24389 / 27


def lab_from_unit(unit: ArrayLike, encoding: LabEncoding) -> FloatArray:
    """Return Lab of unit codes (16-bit code over 65535), shape ``(..., 3)``.

    The tag type decides the encoding, not the profile version: ``legacy`` in mft2, ``v4`` in mAB,
    mBA and (as 8-bit codes over 255) mft1.

    Examples
    --------
    >>> lab_from_unit([0xFF00 / 65535, 0x8000 / 65535, 0x8000 / 65535], "legacy").round(6).tolist()
    [100.0, 0.0, 0.0]
    """
    lab: FloatArray = np.asarray(unit, float) * _LAB_SCALE[encoding] - _LAB_SHIFT
    return lab


def unit_from_lab(lab: ArrayLike, encoding: LabEncoding) -> FloatArray:
    """Return unit codes of Lab, shape ``(..., 3)``; not clipped, so may leave 0-1.

    Examples
    --------
    >>> [f"{round(v):04X}" for v in 65535 * unit_from_lab([50, -128, 127], "v4")]
    ['8000', '0000', 'FFFF']
    """
    unit: FloatArray = (np.asarray(lab, float) + _LAB_SHIFT) / _LAB_SCALE[encoding]
    return unit


def xyz_from_lab(lab: ArrayLike, white: ArrayLike = D50_XYZ) -> FloatArray:
    """Return XYZ of Lab under a white, shape ``(..., 3)``.

    Examples
    --------
    >>> xyz_from_lab([100, 0, 0]).round(4).tolist()
    [0.9642, 1.0, 0.8249]
    """
    lab = np.asarray(lab, float)
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], axis=-1)
    cube = f**3
    xyz: FloatArray = np.where(cube > _EPSILON, cube, (116 * f - 16) / _KAPPA) * np.asarray(white, float)
    return xyz


def lab_from_xyz(xyz: ArrayLike, white: ArrayLike = D50_XYZ) -> FloatArray:
    """Return Lab of XYZ under a white, shape ``(..., 3)``.

    Examples
    --------
    >>> lab_from_xyz([0.9642, 1.0, 0.8249], [0.9642, 1.0, 0.8249]).tolist()
    [100.0, 0.0, 0.0]
    """
    ratio = np.asarray(xyz, float) / np.asarray(white, float)
    f = np.where(ratio > _EPSILON, np.cbrt(ratio), (_KAPPA * ratio + 16) / 116)
    return np.stack(
        [116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1
    )


def s15fixed16(values: ArrayLike) -> bytes:
    """Return numbers as big-endian s15Fixed16.

    Raises
    ------
    RangeError
        When a value is not finite or does not fit -32768 to 32767.99998.
    """
    words = np.rint(np.asarray(values, float) * 65536)
    if not np.all((words >= -(2**31)) & (words < 2**31)):
        raise RangeError("value does not fit s15Fixed16", expected="-32768 to 32767.99998")
    return bytes(words.astype(">i4").tobytes())


def from_s15fixed16(words: NDArray[Any]) -> FloatArray:
    """Return the values of s15Fixed16 words."""
    return words.astype(np.float64) / 65536.0


def codes16(unit: ArrayLike) -> NDArray[np.uint16]:
    """Return unit values as 16-bit codes, to the nearest.

    Raises
    ------
    RangeError
        When a value is not finite or lies outside 0-1 by more than half a code.
    """
    scaled = np.rint(np.asarray(unit, float) * 65535)
    if not np.all((scaled >= 0) & (scaled <= 65535)):
        raise RangeError("value does not fit a 16-bit code", expected="0-1")
    codes: NDArray[np.uint16] = scaled.astype(np.uint16)
    return codes
