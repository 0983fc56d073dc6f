"""Planes through the integer link against direct inversion, at random pixels of pictures.

Both are sent through the exact forward model; CIEDE2000 between the two. Run: python bench/bench_link.py
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

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
_INTENTS = ("perceptual", "relative-bpc", "relative")


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


def main() -> None:
    """Print the table."""
    print("condition  intent        picture     mean    p99    max   CIEDE2000; link made in [s]")
    for name, condition in (("measured", measured()), ("seven", seven_inks())):
        for intent in _INTENTS:
            reads = "perceptual" if intent == "perceptual" else "relative"
            start = time.perf_counter()
            table = artwork_table(
                condition, "rgb", lambda v, reads=reads: profile_to_lab(None, "rgb", v, reads), intent
            )
            took = time.perf_counter() - start
            for picture, image in pictures():
                flat = image.reshape(-1, 3)
                pixels = flat[np.random.default_rng(0).integers(0, len(flat), _PIXELS)]
                inks = apply_table(pixels[None], table)[0] / 65535.0
                lab = profile_to_lab(None, "rgb", pixels / 255.0, reads)
                direct = render(condition, lab, intent).inks
                error = delta_e_2000(condition.native.lab(inks), condition.native.lab(direct))
                print(
                    f"{name:<10} {intent:<13} {picture:<10} {error.mean():6.3f} "
                    f"{np.quantile(error, 0.99):6.3f} {error.max():6.2f}   {took:5.1f}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
