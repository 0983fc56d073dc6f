"""Colour through a profile, plainly: device to Lab, Lab to device, gamut.

No black point compensation, no link between two profiles: this is what the profile's own tags say.

References
----------
ICC.1:2022 clauses 6.2 (intents), 6.3.3 (media-relative and ICC-absolute), 8.10 (which tag serves which
intent).
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from strikeoff.base.errors import InputError, RangeError, UsageError
from strikeoff.icc import shaper
from strikeoff.icc.curves import evaluate_curve
from strikeoff.icc.encoding import (
    D50_XYZ,
    XYZ_FULL,
    FloatArray,
    LabEncoding,
    lab_from_unit,
    lab_from_xyz,
    unit_from_lab,
    xyz_from_lab,
)
from strikeoff.icc.header import channels
from strikeoff.icc.interpolate import Interpolation, interpolate
from strikeoff.icc.luts import Clut, CurveLut, Curves, Lut, TableLut, stages
from strikeoff.icc.profile import Profile

Intent = Literal["perceptual", "relative", "saturation", "absolute"]

#: Intent to the number in A2Bn and B2An.
_TABLE_OF_INTENT: dict[str, int] = {"perceptual": 0, "relative": 1, "saturation": 2, "absolute": 1}

_SLACK = 1e-9


def evaluate(
    lut: Lut, values: ArrayLike, method: Interpolation = "multilinear", *, xyz_input: bool = False
) -> FloatArray:
    """Return what a table makes of unit codes.

    Parameters
    ----------
    lut : TableLut or CurveLut
    values : array_like, shape (n, n_in)
        Unit codes, 0-1.
    method : {"multilinear", "simplex"}
        How to interpolate in the CLUT.
    xyz_input : bool
        Whether the input is PCS XYZ; only then does the matrix of mft1 and mft2 count.

    Returns
    -------
    ndarray, shape (n, n_out)
        Unit codes, 0-1; limited to that range between stages, as ICC.1 demands.

    Raises
    ------
    InputError
        When the shape is wrong or a value is not a number.
    """
    unit = _columns(values, lut.n_in)
    for stage in stages(lut, xyz_input=xyz_input):
        if isinstance(stage, Curves):
            columns = [evaluate_curve(curve, unit[:, i]) for i, curve in enumerate(stage.curves)]
            unit = np.stack(columns, axis=1)
        elif isinstance(stage, Clut):
            unit = interpolate(stage.codes, unit, method) / float(np.iinfo(stage.codes.dtype).max)
        else:
            unit = np.clip(unit @ stage.coefficients.T + stage.offset, 0.0, 1.0)
    return unit


def device_to_lab(
    profile: Profile, device: ArrayLike, intent: Intent = "relative", method: Interpolation = "multilinear"
) -> FloatArray:
    """Return Lab (D50) of device values.

    Parameters
    ----------
    profile : Profile
        With A2B tables, or a matrix with curves (RGB), or a grey curve.
    device : array_like, shape (n, n_channels)
        Device values, 0-1; for inks 0 is none.
    intent : {"perceptual", "relative", "saturation", "absolute"}
        ``absolute`` is ICC-absolute colorimetric: media-relative XYZ times media white over D50.
    method : {"multilinear", "simplex"}

    Returns
    -------
    ndarray, shape (n, 3)

    Raises
    ------
    RangeError
        When a device value lies outside 0-1.
    InputError
        When the profile lacks or garbles the tags needed.
    """
    number = _table_number(intent)
    unit = _columns(device, channels(profile.header.colour_space))
    if unit.size and (unit.min() < -_SLACK or unit.max() > 1 + _SLACK):
        raise RangeError("device value outside 0-1", found=f"{unit.min():g} to {unit.max():g}")
    lut = _lut(profile, "A2B", number, ("mft1", "mft2", "mAB "))
    if lut is None:
        lab = lab_from_xyz(shaper.device_to_xyz(profile, unit))
    elif _pcs_is_xyz(profile):
        lab = lab_from_xyz(evaluate(lut, unit, method) * XYZ_FULL)
    else:
        lab = lab_from_unit(evaluate(lut, unit, method), lab_encoding(lut))
    if intent == "absolute":
        lab = lab_from_xyz(xyz_from_lab(lab) * media_white(profile) / D50_XYZ)
    return lab


def lab_to_device(
    profile: Profile, lab: ArrayLike, intent: Intent = "relative", method: Interpolation = "multilinear"
) -> FloatArray:
    """Return device values of Lab (D50).

    Parameters
    ----------
    profile : Profile
        With B2A tables, or a matrix with curves (RGB), or a grey curve.
    lab : array_like, shape (n, 3)
        Colours; those outside the PCS encoding (L* 0-100, a* and b* -128 to 127) count as its nearest
        code, axis by axis, as in any ICC engine: with ``absolute`` that is usual for colours lighter than
        the medium.
    intent, method
        As for `device_to_lab`.

    Returns
    -------
    ndarray, shape (n, n_channels)
        Device values, 0-1.

    Raises
    ------
    InputError
        When the profile lacks or garbles the tags needed, or a colour is not a number.
    """
    number = _table_number(intent)
    lab = _columns(lab, 3)
    if intent == "absolute":
        lab = lab_from_xyz(xyz_from_lab(lab) * D50_XYZ / media_white(profile))
    lut = _lut(profile, "B2A", number, ("mft1", "mft2", "mBA "))
    if lut is None:
        return shaper.xyz_to_device(profile, xyz_from_lab(lab))
    return _from_pcs(profile, lut, lab, method)


def gamut_alarm(profile: Profile, lab: ArrayLike) -> FloatArray:
    """Return the gamut tag's value for media-relative Lab, shape ``(n,)``; 0 in gamut, above it outside.

    Raises
    ------
    InputError
        When the profile has no usable gamut tag.
    """
    lut = profile.decode("gamt")
    if not isinstance(lut, TableLut | CurveLut) or lut.n_in != 3 or lut.n_out != 1:
        raise InputError("gamut tag is not a table from PCS to one channel", where="gamt")
    return _from_pcs(profile, lut, _columns(lab, 3), "multilinear")[:, 0]


def media_white(profile: Profile) -> FloatArray:
    """Return the media white point XYZ, shape ``(3,)``, Y about 0-1.

    Raises
    ------
    InputError
        When it is missing or not positive.
    """
    record = profile.decode("wtpt")
    white: FloatArray = getattr(record, "values", np.zeros((1, 3)))
    if white.shape != (1, 3) or white.min() <= 0:
        raise InputError("media white is not one positive XYZ", where="wtpt", found=white.tolist())
    return np.asarray(white[0])


def lab_encoding(lut: Lut) -> LabEncoding:
    """Return the encoding that Lab has in a table: its tag type decides, not the profile's version."""
    return "legacy" if lut.kind == "mft2" else "v4"


def _from_pcs(profile: Profile, lut: Lut, lab: FloatArray, method: Interpolation) -> FloatArray:
    if _pcs_is_xyz(profile):
        unit = xyz_from_lab(lab) / XYZ_FULL
    else:
        unit = unit_from_lab(lab, lab_encoding(lut))
    return evaluate(lut, np.clip(unit, 0.0, 1.0), method, xyz_input=_pcs_is_xyz(profile))


def _lut(profile: Profile, family: str, number: int, kinds: tuple[str, ...]) -> Lut | None:
    """Return the table of an intent, the perceptual one in its absence, or None when there is neither."""
    name = next((name for name in (f"{family}{number}", f"{family}0") if name in profile.tags), None)
    if name is None:
        return None
    lut = profile.decode(name)
    if not isinstance(lut, TableLut | CurveLut) or lut.kind not in kinds:
        raise InputError("tag is not a table of an allowed type", where=name, expected=", ".join(kinds))
    device = channels(profile.header.colour_space)
    expected = (device, 3) if family == "A2B" else (3, device)
    if (lut.n_in, lut.n_out) != expected:
        raise InputError(
            "table does not fit the profile's colour space",
            where=name,
            found=f"{lut.n_in} to {lut.n_out} channels",
            expected=f"{expected[0]} to {expected[1]}",
        )
    return lut


def _pcs_is_xyz(profile: Profile) -> bool:
    pcs = profile.header.pcs
    if pcs not in ("Lab ", "XYZ "):
        raise InputError("unknown PCS", where="header", found=repr(pcs), expected="Lab or XYZ")
    return pcs == "XYZ "


def _table_number(intent: str) -> int:
    try:
        return _TABLE_OF_INTENT[intent]
    except KeyError:
        raise UsageError("unknown intent", found=intent, expected=", ".join(_TABLE_OF_INTENT)) from None


def _columns(values: ArrayLike, count: int) -> FloatArray:
    array = np.asarray(values, float)
    if array.ndim != 2 or array.shape[1] != count:
        raise InputError("wrong shape", found=array.shape, expected=f"(n, {count})")
    if not np.isfinite(array).all():
        row = int(np.flatnonzero(~np.isfinite(array).all(axis=1))[0])
        raise InputError("value is not a number", where=f"row {row}")
    return array
