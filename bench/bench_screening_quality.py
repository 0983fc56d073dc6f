"""How screened tints and ramps look, in numbers: masks, diffusion, Floyd-Steinberg and white noise."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from strikeoff.raster.bands import ArraySource
from strikeoff.screening.diffusion import DiffusedSource, diffusion_tables
from strikeoff.screening.graininess import graininess
from strikeoff.screening.masks import roll_masks
from strikeoff.screening.screen import screened
from strikeoff.screening.spectrum import principal_frequency, radial_spectrum

TONES = (0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.9)
SIZE, RUN_IN = 256, 128


@njit(cache=True)
def floyd_steinberg(tones: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Weights 7, 3, 5, 1, rows to and fro."""
    rows, width = tones.shape
    out = np.zeros((rows, width), np.uint8)
    left = np.zeros((rows + 1, width + 2))
    for y in range(rows):
        turn = 1 if y % 2 == 0 else -1
        for i in range(width):
            x = i if turn == 1 else width - 1 - i
            value = tones[y, x] + left[y, x + 1]
            out[y, x] = value >= 0.5
            error = value - out[y, x]
            left[y, x + 1 + turn] += error * 7 / 16
            left[y + 1, x + 1 - turn] += error * 3 / 16
            left[y + 1, x + 1] += error * 5 / 16
            left[y + 1, x + 1 + turn] += error / 16
    return out


def patterns(tones: NDArray[np.float64]) -> dict[str, NDArray[np.uint8]]:
    """Return the drops of each method for tones 0-1, shape (rows, columns)."""
    planes = ArraySource(np.rint(tones * 65535).astype(np.uint16)[..., None])
    height = len(tones)
    mask = roll_masks(1)
    return {
        "masks": screened(planes, mask).read(0, height)[..., 0],
        "diffusion": DiffusedSource(planes, diffusion_tables([[1.0]])).read(0, height)[..., 0],
        "Floyd-Steinberg": floyd_steinberg(tones),
        "white noise": (np.random.default_rng(1).random(tones.shape) < tones).astype(np.uint8),
    }


def tints() -> list[dict[str, Any]]:
    """Return, for flat tints: error of the mean tone, low-frequency power, graininess."""
    rows = []
    for tone in TONES:
        made = patterns(np.full((SIZE + RUN_IN, SIZE), tone))
        for name, drops in made.items():
            # Diffusion settles over the first rows; a mask is looked at over whole periods.
            seen = drops[RUN_IN:]
            one = seen[:128, :128] if name == "masks" else seen
            low = radial_spectrum(one).mean_below(principal_frequency(tone) / 2)
            rows.append(
                {
                    "tone": tone,
                    "method": name,
                    "mean tone error": f"{float(seen.mean()) - tone:+.4f}",
                    "low-frequency power": f"{low:.3f}",
                    "graininess x 1000": f"{graininess(seen, tone) * 1000:.2f}",
                }
            )
    return rows


def ramp() -> list[dict[str, Any]]:
    """Return, for a ramp over all tones: greatest error of the mean over 64 columns, and graininess."""
    tones = np.repeat(np.linspace(0, 1, 4096)[None], SIZE, axis=0)
    made = patterns(tones)
    usual = graininess(made["Floyd-Steinberg"], tones)
    rows = []
    for name, drops in made.items():
        off = (drops - tones).mean(axis=0).reshape(-1, 128).mean(axis=1)
        found = graininess(drops, tones)
        rows.append(
            {
                "method": name,
                "mean tone error over the ramp": f"{float((drops - tones).mean()):+.5f}",
                "greatest over 128 columns": f"{np.abs(off).max():.4f}",
                "graininess x 1000": f"{found * 1000:.2f}",
                "of Floyd-Steinberg": f"{found / usual:.2f}",
            }
        )
    return rows


def overlaps() -> list[dict[str, Any]]:
    """Return how often drops of two inks meet, as a part of chance, by number of inks and tone."""
    rows = []
    for inks in (2, 4, 7):
        masks = roll_masks(inks).thresholds
        found: dict[str, Any] = {"inks": inks}
        for tone in (0.05, 0.1, 0.2):
            dots = masks < tone * 65535
            pairs = [(dots[i] & dots[j]).mean() for i in range(inks) for j in range(i)]
            found[f"at {tone:.0%} each, worst pair"] = f"{max(pairs) / tone**2:.2f}"
        rows.append(found)
    return rows
