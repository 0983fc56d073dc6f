"""Profiles without tables: three curves and a matrix (RGB), or one curve (grey).

References
----------
ICC.1:2022 annex F (F.2 monochrome, F.3 three-component matrix-based profiles).
"""

from __future__ import annotations

import numpy as np

from strikeoff.base.errors import InputError
from strikeoff.icc.curves import Curve, ParametricCurve, SampledCurve, evaluate_curve, invert_curve
from strikeoff.icc.encoding import D50_XYZ, FloatArray, lab_from_xyz, xyz_from_lab
from strikeoff.icc.profile import Profile
from strikeoff.icc.tags.xyz import Xyz


def device_to_xyz(profile: Profile, device: FloatArray) -> FloatArray:
    """Return media-relative XYZ ``(n, 3)`` of device values 0-1, ``(n, 3)`` RGB or ``(n, 1)`` grey."""
    if device.shape[1] == 1:
        return _grey_xyz(profile, evaluate_curve(_curve(profile, "kTRC"), device[:, 0]))
    linear = [evaluate_curve(_curve(profile, f"{c}TRC"), device[:, i]) for i, c in enumerate("rgb")]
    return np.asarray(np.stack(linear, axis=1) @ _primaries(profile))


def xyz_to_device(profile: Profile, xyz: FloatArray) -> FloatArray:
    """Return device values of media-relative XYZ; colours out of reach are limited channel by channel.

    Raises
    ------
    InputError
        When the primaries span no colour space, or tags are missing.
    """
    if profile.header.colour_space == "GRAY":
        level = lab_from_xyz(xyz)[:, 0] / 100 if profile.header.pcs == "Lab " else xyz[:, 1]
        return invert_curve(_curve(profile, "kTRC"), level)[:, None]
    primaries = _primaries(profile)
    if abs(np.linalg.det(primaries)) < 1e-9:
        raise InputError("primaries span no colour space", where="rXYZ", found=primaries.tolist())
    linear = xyz @ np.linalg.inv(primaries)
    device = [invert_curve(_curve(profile, f"{c}TRC"), linear[:, i]) for i, c in enumerate("rgb")]
    return np.stack(device, axis=1)


def _grey_xyz(profile: Profile, level: FloatArray) -> FloatArray:
    if profile.header.pcs == "Lab ":
        return xyz_from_lab(np.stack([100 * level, 0 * level, 0 * level], axis=1))
    return level[:, None] * D50_XYZ


def _primaries(profile: Profile) -> FloatArray:
    """Return the XYZ of the three primaries, one in each row."""
    rows = []
    for name in ("rXYZ", "gXYZ", "bXYZ"):
        record = profile.decode(name)
        if not isinstance(record, Xyz) or len(record.values) != 1:
            raise InputError("primary is not one XYZ", where=name)
        rows.append(record.values[0])
    return np.array(rows)


def _curve(profile: Profile, name: str) -> Curve:
    curve = profile.decode(name)
    if not isinstance(curve, SampledCurve | ParametricCurve):
        raise InputError("tag is not a curve", where=name)
    return curve
