"""One cache of strips for many files: each gives its own samples, and all together stay within the bound."""

import numpy as np

from strikeoff.raster.bands import ArraySource
from strikeoff.raster.planes_tiff import open_planes, write_planes
from strikeoff.raster.strip_cache import StripCache


def test_files_that_share_a_cache(tmp_path):
    art = [np.full((40, 30, 4), value, np.uint16) + np.arange(4, dtype=np.uint16) for value in range(6)]
    for k, array in enumerate(art):
        write_planes(
            tmp_path / f"{k}.tif", ArraySource(array), ink_names=list("CMYK"), info={}, rows_per_strip=8
        )
    strip_bytes = 8 * 30 * 4 * 2
    cache = StripCache(7 * strip_bytes)
    files = [open_planes(tmp_path / f"{k}.tif", cache) for k in range(6)]
    for y in (0, 8, 3, 30):
        for source, array in zip(files, art, strict=True):
            assert np.array_equal(source.read(y, y + 10), array[y : y + 10])
            assert cache.held_bytes <= 7 * strip_bytes
    assert cache.held_bytes == 7 * strip_bytes
