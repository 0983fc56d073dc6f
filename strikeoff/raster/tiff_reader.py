"""Read separated multi-ink TIFF files in bands, distrusting every number in them."""

from __future__ import annotations

from pathlib import Path

from strikeoff.base.files import storage_errors
from strikeoff.raster import tiff_tags as tags
from strikeoff.raster.planes_file import PlanesFile, file_identity
from strikeoff.raster.strip_cache import StripCache
from strikeoff.raster.tiff_checks import TiffChecks

_CACHE_BYTES = 96 << 20


def open_planes(path: str | Path, cache: StripCache | None = None) -> PlanesFile:
    """Open a separated multi-ink TIFF of 16, 8, 2 or 1 bits.

    Parameters
    ----------
    path : str or Path
        The file.
    cache : StripCache, optional
        Shared by several files that are open together; one of its own by default.

    Raises
    ------
    InputError
        When it is no such file, is cut short, or claims what it cannot hold; the tag or strip is named.
    StorageError
        When it cannot be read at all.
    """
    with storage_errors(path), open(path, "rb") as stream:
        identity = file_identity(stream.fileno())
        directory = tags.read_directory(stream, identity[0], path)
    return TiffChecks(Path(path), directory, identity).planes_file(cache or StripCache(_CACHE_BYTES))
