"""RGB profiles of three primaries and one exponent.

References
----------
ICC.1:2022 clause 8.3.3 and ICC.1:2001-04 clause 6.3.2.2: three-component matrix-based display profiles.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from strikeoff.icc.curves import ParametricCurve, SampledCurve
from strikeoff.icc.encoding import D50_XYZ
from strikeoff.icc.header import VERSION_2_4, VERSION_4_4, Header
from strikeoff.icc.profile import Profile, write_profile
from strikeoff.icc.tags import curv, para, pseq, text, xyz

_SAMPLES = 1024


def matrix_profile(
    *,
    version: Literal[2, 4],
    primaries: ArrayLike,
    gamma: float,
    description: str,
    copyright_text: str,
    date: tuple[int, int, int, int, int, int],
) -> bytes:
    """Return the bytes of a display-class RGB profile.

    Parameters
    ----------
    version : {2, 4}
        2 writes version 2.4 with sampled curves, 4 writes version 4.4 with parametric ones.
    primaries : array_like, shape (3, 3)
        XYZ of red, green and blue, one in each row, adapted to D50.
    gamma : float
        Exponent of the curves.
    description, copyright_text : str
        Plain text.
    date : tuple
        Year, month, day, hour, minute, second in UTC.
    """
    rows = np.asarray(primaries, float)
    if version == 2:
        curve = curv.encode(SampledCurve(np.linspace(0.0, 1.0, _SAMPLES) ** gamma))
        words = text.encode(text.Text(copyright_text))
    else:
        curve = para.encode(ParametricCurve(0, (gamma,)))
        words = pseq.plain_text(copyright_text, version)
    tags = {
        "desc": pseq.plain_text(description, version),
        "cprt": words,
        "wtpt": xyz.encode(xyz.Xyz(D50_XYZ[None])),
    }
    tags |= {f"{c}XYZ": xyz.encode(xyz.Xyz(row[None])) for c, row in zip("rgb", rows, strict=True)}
    tags |= {f"{c}TRC": curve for c in "rgb"}
    header = Header(
        version=VERSION_2_4 if version == 2 else VERSION_4_4,
        device_class="mntr",
        colour_space="RGB ",
        pcs="XYZ ",
        date=date,
    )
    return write_profile(Profile(header, tags))
