"""Pixels to inks: strikeoff's link against lcms2 on the same profile, same run."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median
from typing import Any

import numpy as np

from bench.data import Case
from strikeoff.artwork.colour import srgb_to_lab
from strikeoff.condition.links import artwork_table
from strikeoff.raster.tables import apply_table

ROWS, WIDTH = 1024, 2048


def run(case: Case) -> list[dict[str, Any]]:
    """Return megapixels a second, median of five."""
    import imagecodecs
    from PIL import ImageCms

    rng = np.random.default_rng(0)
    smooth = np.linspace(0, 200, WIDTH)[None, :, None] + rng.integers(0, 55, (ROWS, WIDTH, 3))
    pixels = smooth.astype(np.uint8)
    deep = pixels.astype(np.uint16) * 257
    start = time.perf_counter()
    table = artwork_table(case.condition, "rgb", srgb_to_lab, "perceptual")
    made = time.perf_counter() - start
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    profile = case.condition.profiles[4]

    def foreign(data: np.ndarray) -> Callable[[], Any]:
        return lambda: imagecodecs.cms_transform(
            data, srgb, profile, colorspace="rgb", outcolorspace="cmyk", outdtype="uint16", intent=0
        )

    methods: dict[str, Callable[[], Any]] = {
        "strikeoff, 8 to 16 bit, all cores": lambda: apply_table(pixels, table),
        "strikeoff, 8 to 16 bit, one thread": lambda: apply_table(pixels, table, workers=1),
        "lcms2, 8 to 16 bit, one thread": foreign(pixels),
        "strikeoff, 16 to 16 bit, one thread": lambda: apply_table(deep, table, workers=1),
        "lcms2, 16 to 16 bit, one thread": foreign(deep),
    }
    megapixels = ROWS * WIDTH / 1e6
    rows = [
        {"path": name, "Mpx/s": f"{megapixels / _median(method):.1f}"} for name, method in methods.items()
    ]
    return [*rows, {"path": "making the link (once a condition and intent)", "Mpx/s": f"{made:.1f} s"}]


def _median(method: Callable[[], Any], times: int = 5) -> float:
    method()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        method()
        found.append(time.perf_counter() - start)
    return median(found)
