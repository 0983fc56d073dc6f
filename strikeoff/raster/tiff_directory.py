"""The directory of a TIFF that is written: what it says of the pixels and the inks."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.units import MM_PER_INCH
from strikeoff.raster import tiff_tags as tags
from strikeoff.raster.tiff_codecs import compression_code
from strikeoff.raster.tiff_plan import StripPlan

_CMYK = (("C", "M", "Y", "K"), ("Cyan", "Magenta", "Yellow", "Black"))


def pixel_tags(
    plan: StripPlan,
    description: bytes,
    offsets: NDArray[np.uint64],
    counts: NDArray[np.uint64],
    big: bool,
) -> list[tags.Tag]:
    """Return the tags of size, pitch, samples and strips."""
    channels = plan.source.channels
    kind = tags.LONG8 if big else tags.LONG
    across, along = (_dots_per_inch(pitch) for pitch in plan.source.pitch_mm)
    table = [
        tags.Tag(tags.IMAGE_WIDTH, tags.LONG, [plan.source.width]),
        tags.Tag(tags.IMAGE_LENGTH, tags.LONG, [plan.source.height]),
        tags.Tag(tags.BITS_PER_SAMPLE, tags.SHORT, [plan.bits] * channels),
        tags.Tag(tags.COMPRESSION, tags.SHORT, [compression_code(plan.compression)]),
        tags.Tag(tags.IMAGE_DESCRIPTION, tags.ASCII, description),
        tags.Tag(tags.STRIP_OFFSETS, kind, offsets.reshape(-1)),
        tags.Tag(tags.ORIENTATION, tags.SHORT, [1]),
        tags.Tag(tags.SAMPLES_PER_PIXEL, tags.SHORT, [channels]),
        tags.Tag(tags.ROWS_PER_STRIP, tags.LONG, [plan.rows_per_strip]),
        tags.Tag(tags.STRIP_BYTE_COUNTS, kind, counts.reshape(-1)),
        tags.Tag(tags.X_RESOLUTION, tags.RATIONAL, [across.numerator, across.denominator]),
        tags.Tag(tags.Y_RESOLUTION, tags.RATIONAL, [along.numerator, along.denominator]),
        tags.Tag(tags.PLANAR_CONFIGURATION, tags.SHORT, [2 if plan.planar else 1]),
        tags.Tag(tags.RESOLUTION_UNIT, tags.SHORT, [2]),
        tags.Tag(tags.SOFTWARE, tags.ASCII, b"strikeoff\0"),
    ]
    if plan.predictor != 1:
        table.append(tags.Tag(tags.PREDICTOR, tags.SHORT, [plan.predictor]))
    return table


def ink_tags(names: list[str]) -> list[tags.Tag]:
    """Return the tags that name the inks."""
    inks = len(names)
    table = [
        tags.Tag(tags.PHOTOMETRIC, tags.SHORT, [5]),
        tags.Tag(tags.INK_SET, tags.SHORT, [1 if tuple(names) in _CMYK else 2]),
        tags.Tag(tags.INK_NAMES, tags.ASCII, b"".join(name.encode() + b"\0" for name in names)),
        tags.Tag(tags.NUMBER_OF_INKS, tags.SHORT, [inks]),
    ]
    if inks > 4:
        table.append(tags.Tag(tags.EXTRA_SAMPLES, tags.SHORT, [0] * (inks - 4)))
    return table


def _dots_per_inch(pitch_mm: float) -> Fraction:
    """Return the addressability as the simplest fraction that gives the pitch."""
    return Fraction(MM_PER_INCH / pitch_mm).limit_denominator(10_000)
