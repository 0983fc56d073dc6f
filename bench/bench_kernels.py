"""The pixel path step by step, each beside the best general tool for the same work, in the same run."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np

from bench.bench_screening_quality import floyd_steinberg
from bench.lcms import rgb_to_inks
from bench.timing import core_seconds, seconds
from strikeoff.inks.drops import drop_shares
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.resample import PeriodicTile
from strikeoff.raster.tables import InkTable, apply_table, apply_table_reference, straight_shapers
from strikeoff.screening.diffusion import DiffusedSource, diffusion_tables
from strikeoff.screening.masks import roll_masks
from strikeoff.screening.screen import screened

ROWS, WIDTH = 64, 33_071
INKS = 7

Row = dict[str, Any]


def _rates(
    work: dict[str, tuple[float, Callable[[], object]]], unit: str, clock: Callable[..., float]
) -> list[Row]:
    rows = []
    for name, (size, method) in work.items():
        rows.append({"method": name, unit: f"{size / clock(method) / 1e6:.0f}"})
    return rows


def masks() -> list[Row]:
    """Return million ink samples a second of a core: 16-bit planes in, packed drops out."""
    from PIL import Image

    lines = np.random.default_rng(0).integers(0, 65536, (ROWS, INKS, WIDTH), dtype=np.uint16)
    planes = ArraySource(np.moveaxis(lines, 1, 2))
    made = roll_masks(INKS)
    single = screened(planes, made)
    several = screened(planes, made, np.repeat(drop_shares([6.0, 12.0, 18.0])[None], INKS, axis=0))
    across = np.tile(made.thresholds, (1, 1, WIDTH // made.thresholds.shape[2] + 1))[:, :ROWS, :WIDTH]
    limits = np.ascontiguousarray(np.moveaxis(across, 1, 0))
    pixels = np.ascontiguousarray(np.moveaxis(lines, 1, 2))
    interleaved = screened(ArraySource(pixels), made)
    grey = [Image.fromarray((lines[:, ink] >> 8).astype(np.uint8)) for ink in range(INKS)]
    return _rates(
        {
            "masks, 1 bit": (lines.size, lambda: single.read_packed(0, ROWS)),
            "masks, 4 levels in 2 bits": (lines.size, lambda: several.read_packed(0, ROWS, 2)),
            "masks, 1 bit, from pixels with inks side by side": (
                lines.size, lambda: interleaved.read_packed(0, ROWS)
            ),
            "numpy compare and packbits": (lines.size, lambda: np.packbits(lines > limits, axis=2)),
            "Pillow convert('1'), diffusion of 8 bits": (
                lines.size, lambda: [image.convert("1") for image in grey]
            ),
        },
        "million ink samples a second of a core",
        core_seconds,
    )  # fmt: skip


def diffusion() -> list[Row]:
    """Return million ink samples a second of a core for eight inks, packed drops out."""
    from strikeoff.screening.kernels_diffusion import diffuse_rows

    lines = np.random.default_rng(0).integers(0, 65536, (ROWS, 8, WIDTH), dtype=np.uint16)
    source = DiffusedSource(ArraySource(np.moveaxis(lines, 1, 2)), diffusion_tables([[1.0]] * 8))
    errors, tables = source.start(), source.grouped
    out = np.empty((8, ROWS, -(-WIDTH // 8)), np.uint8)
    tones = np.ascontiguousarray(lines[:, 0] / 65535)
    return _rates(
        {
            "variable coefficients, 8 inks": (
                lines.size, lambda: diffuse_rows(lines, errors, *tables, 0, 1, out)
            ),
            "Floyd-Steinberg in Numba, one ink, packed": (
                tones.size, lambda: np.packbits(floyd_steinberg(tones), axis=1)
            ),
        },
        "million ink samples a second of a core",
        core_seconds,
    )  # fmt: skip


def tables() -> list[Row]:
    """Return megapixels a second of a core from RGB to seven inks of 16 bits, and the greatest error."""
    rng = np.random.default_rng(0)
    axis = np.linspace(0, 1, 33)
    mesh = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1)
    mix = rng.random((3, INKS)) / 3
    nodes = np.rint(((1 - mesh) @ mix) ** 1.3 * 65535).astype(np.uint16)
    table = InkTable(straight_shapers(3), nodes)
    smooth = np.linspace(0, 200, 2048)[None, :, None] + rng.integers(0, 55, (128, 2048, 3))
    rows = []
    for sample, factor in ((np.uint8, 1), (np.uint16, 257)):
        pixels = np.ascontiguousarray((smooth.astype(np.uint16) * factor).astype(sample))
        exact = apply_table_reference(pixels[:64], table)
        methods: dict[str, Callable[[np.ndarray], np.ndarray] | None] = {
            "strikeoff": lambda data: apply_table(data, table, workers=1),
            "lcms2": rgb_to_inks(nodes, sample),
        }
        for name, method in methods.items():
            if method is None:
                continue
            spent = core_seconds(lambda method=method, pixels=pixels: method(pixels))  # type: ignore[misc]
            worst = np.abs(method(pixels)[:64].astype(float) - exact).max()
            rows.append(
                {
                    "method": f"{name}, {np.dtype(sample).itemsize * 8} bit RGB to 7 inks of 16 bit",
                    "megapixels a second of a core": f"{pixels.size / 3 / spent / 1e6:.1f}",
                    "greatest error [16-bit codes]": f"{worst:.2f}",
                }
            )
    return rows


def resampling() -> list[Row]:
    """Return million ink samples a second on two cores, a third of the press pitch to the press pitch."""
    rng = np.random.default_rng(0)
    tile = rng.integers(0, 40_000, (400, 5040, INKS), dtype=np.uint16)
    source = PeriodicTile(ArraySource(tile), 1200, 15_588)
    size = 2 * ROWS * 15_588 * INKS
    with ThreadPoolExecutor(2) as pool:
        work = {
            "cubic convolution, 7 inks, two threads": (
                size, lambda: list(pool.map(lambda y: source.read(y, y + ROWS), (0, ROWS)))
            ),
        }  # fmt: skip
        rows = _rates(work, "million ink samples a second", seconds)
    one = {"the same, of a core": (size / 2, lambda: source.read(0, ROWS))}
    return rows + _rates(one, "million ink samples a second", core_seconds)
