"""Separated multi-ink TIFF: the file in which ink planes and drops travel."""

from __future__ import annotations

from strikeoff.raster.tiff_reader import PlanesFile, open_planes
from strikeoff.raster.tiff_writer import block_rows, write_planes

__all__ = ["PlanesFile", "block_rows", "open_planes", "write_planes"]
