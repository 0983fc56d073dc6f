"""Planes through the integer link against direct inversion, at random pixels of pictures.

Both are sent through the exact forward model; CIEDE2000 between the two. ``python -m bench`` prints the
measured condition; run ``python -m bench.bench_link`` for seven inks too.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.colour import profile_to_lab
from strikeoff.artwork.motif import draw_repeat
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.links import artwork_table
from strikeoff.condition.record import Condition
from strikeoff.condition.rendering import render
from strikeoff.measurement.embedded import measured_cmyk_text
from strikeoff.measurement.iso28178 import format_iso28178
from strikeoff.measurement.read import parse_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.mill.press import WAVELENGTHS_NM, ink_columns, invented_press
from strikeoff.qualify.build import build_condition
from strikeoff.raster.tables import apply_table

_PIXELS = 3000
_INTENTS = ("perceptual", "relative-bpc", "relative", "absolute")


def measured() -> Condition:
    """Return the condition of the measured CMYK set at 300 %."""
    data = measured_cmyk_text().encode("latin-1")
    readings = parse_readings(data, source="measured CMYK set")[0]
    return build_condition(readings, data, name="measured", label="measured", total_ink=3.0, validated=False)


def seven_inks() -> Condition:
    """Return a condition of seven simulated inks from 700 readings at 280 %."""
    rng, names = np.random.default_rng(4), "CMYKORB"
    scattered = rng.random((692, 7)) * (rng.random((692, 7)) < 0.5)
    scattered /= np.maximum(scattered.sum(axis=1) / 2.8, 1.0)[:, None]
    inks = np.round(np.vstack([np.zeros(7), np.eye(7), scattered]), 3)
    spectra = invented_press("T1", inks=names).print(inks)
    ids = tuple(f"P{number}" for number in range(len(inks)))
    made = ReadingSet(ids, ink_columns(names), inks, spectra=spectra, wavelengths_nm=WAVELENGTHS_NM)
    data = format_iso28178(made).encode()
    readings = parse_readings(data, source="simulated cloth")[0]
    return build_condition(readings, data, name="seven", label="simulated", total_ink=2.8, validated=False)


def pictures() -> Iterator[tuple[str, NDArray[np.uint8]]]:
    """Yield a drawn motif, soft clouds of colour, and the photograph that matplotlib carries."""
    import matplotlib
    from PIL import Image
    from scipy.ndimage import gaussian_filter

    yield "motif", draw_repeat(600)
    noise = np.random.default_rng(5).normal(size=(400, 400, 3))
    soft = sum(gaussian_filter(noise, (s, s, 0)) * s for s in (4, 16, 60))
    soft = (soft - soft.min()) / np.ptp(soft)
    yield "clouds", np.asarray(soft * 255, dtype=np.uint8)
    photo = Path(matplotlib.__file__).parent / "mpl-data" / "sample_data" / "grace_hopper.jpg"
    if photo.is_file():
        yield "photograph", np.asarray(Image.open(photo).convert("RGB"))


def run(condition: Condition, intents: tuple[str, ...] = _INTENTS) -> list[dict[str, Any]]:
    """Return mean, 99th percentile and largest difference by intent and picture."""
    return [row for intent in intents for row in _rows(condition, intent)]


def _rows(condition: Condition, intent: str) -> Iterator[dict[str, Any]]:
    reads = "perceptual" if intent == "perceptual" else "relative"

    def to_lab(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return profile_to_lab(None, "rgb", values, reads)

    start = time.perf_counter()
    table = artwork_table(condition, "rgb", to_lab, intent)
    took = time.perf_counter() - start
    for picture, image in pictures():
        flat = image.reshape(-1, 3)
        pixels = flat[np.random.default_rng(0).integers(0, len(flat), _PIXELS)]
        inks = apply_table(pixels[None], table)[0] / 65535.0
        direct = render(condition, to_lab(pixels / 255.0), intent).inks
        error = delta_e_2000(condition.native.lab(inks), condition.native.lab(direct))
        yield {
            "data": condition.name,
            "intent": intent,
            "picture": picture,
            "mean": f"{error.mean():.3f}",
            "99th percentile": f"{np.quantile(error, 0.99):.3f}",
            "largest": f"{error.max():.2f}",
            "link made in": f"{took:.1f} s",
        }


def main() -> None:
    """Print the table of both conditions."""
    for condition in (measured(), seven_inks()):
        for row in run(condition):
            print("  ".join(f"{value:<12}" for value in row.values()), flush=True)


if __name__ == "__main__":
    main()
