"""Screening against the two plain ways: numpy compare and packbits, and Pillow's own one-bit conversion."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np

from strikeoff.raster.bands import ArraySource
from strikeoff.screening.screen import screened
from strikeoff.screening.void_cluster import ink_masks

ROWS, WIDTH, INKS = 64, 33_071, 4


def run() -> list[dict[str, Any]]:
    """Return million ink samples a second of each method, one thread, best of five."""
    from PIL import Image

    planes = np.random.default_rng(0).integers(0, 65536, (ROWS, WIDTH, INKS), dtype=np.uint16)
    masks = ink_masks(INKS)
    source = screened(ArraySource(planes), masks)
    size = masks.shape[1]
    tiled = np.tile(masks, (1, 1, WIDTH // size + 1))[:, :ROWS, :WIDTH]
    interleaved = np.ascontiguousarray(np.moveaxis(tiled, 0, 2))
    separate, masks_8 = np.ascontiguousarray(np.moveaxis(planes, 2, 0)), np.ascontiguousarray(tiled)
    grey = [Image.fromarray((plane >> 8).astype(np.uint8)) for plane in separate]
    methods: dict[str, Callable[[], object]] = {
        "strikeoff mask, interleaved planes to packed drops": lambda: source.read_packed(0, ROWS),
        "numpy compare, moveaxis, packbits, same input": lambda: np.packbits(
            np.moveaxis(planes > interleaved, 2, 0), axis=2
        ),
        "numpy compare, packbits, planes separate already": lambda: np.packbits(separate > masks_8, axis=2),
        "Pillow convert('1'), error diffusion, 8 bit": lambda: [image.convert("1") for image in grey],
    }
    return [
        {"bench": "screening", "method": name, "msamples_s": round(planes.size / _best(method) / 1e6)}
        for name, method in methods.items()
    ]


def _best(method: Callable[[], object], times: int = 5) -> float:
    method()
    found = []
    for _ in range(times):
        start = time.perf_counter()
        method()
        found.append(time.perf_counter() - start)
    return min(found)
