"""Separated multi-ink TIFF: the file in which ink planes and drops travel."""

from __future__ import annotations

from strikeoff.raster.planes_file import PlanesFile
from strikeoff.raster.tiff_plan import block_rows
from strikeoff.raster.tiff_reader import open_planes
from strikeoff.raster.tiff_writer import write_planes

__all__ = ["PlanesFile", "block_rows", "open_planes", "write_planes"]
