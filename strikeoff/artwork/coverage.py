"""Where artwork covers the cloth: its alpha, or how far it is from bare."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from strikeoff.artwork.opening import alpha_of, open_artwork, read_decoded
from strikeoff.artwork.pixels import ORIENTATIONS, MappedSource
from strikeoff.base.errors import InputError
from strikeoff.raster.bands import Band, BandSource

COVERAGES = ("alpha", "ink")


def open_coverage(path: str | Path, of: str = "alpha") -> tuple[BandSource, tuple[float, float] | None]:
    """Open one channel that tells where artwork is, and its resolution.

    Parameters
    ----------
    path : path-like
        TIFF, PNG, PSD, JPEG or PDF.
    of : {"alpha", "ink"}
        Its transparency; or its darkest colour channel against bare cloth, 0 where it is white.

    Returns
    -------
    source : BandSource
        uint8 or uint16, one channel; 0 bare, full scale covered.
    dpi : tuple of float, optional
        Resolution (across, along); None when the file states none.

    Raises
    ------
    InputError
        No alpha where it is asked for, and what `open_artwork` raises.
    """
    name = str(path)
    if of == "ink":
        artwork = open_artwork(name)
        source, ink = artwork.source, artwork.kind == "cmyk"
        if artwork.kind == "lab":
            raise InputError("coverage of Lab artwork is not known", path=name, expected="RGB, grey or CMYK")

        def darkest(band: Band) -> Band:
            if ink:
                return np.asarray(band.max(axis=2, keepdims=True))
            full = band.dtype.type(np.iinfo(band.dtype).max)
            return np.asarray(full - band.min(axis=2, keepdims=True))

        return MappedSource(source, darkest, 1, source.dtype, source.pitch_mm), artwork.dpi
    decoded = read_decoded(name)
    if decoded is None or decoded.alpha == "none":
        raise InputError(
            "artwork has no alpha",
            path=name,
            expected="TIFF, PNG or PSD with transparency",
            advice="Trace its ink instead, or give a contour",
        )
    dpi = decoded.dpi
    if dpi is not None and ORIENTATIONS[decoded.orientation][0]:
        dpi = dpi[1], dpi[0]
    return alpha_of(decoded, name), dpi
