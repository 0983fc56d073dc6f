"""Simulated readings of random recipes on invented cloth, and conditions of them."""

import numpy as np

from strikeoff.measurement.records import ReadingSet
from strikeoff.mill.press import WAVELENGTHS_NM, ink_columns, invented_press
from strikeoff.qualify.build import build_condition


def cloth(inks, patches, printer="T1", seed=0):
    """Simulated readings of random recipes, with cloth, solids and ramps."""
    rng = np.random.default_rng(seed)
    count = len(inks)
    ramps = np.kron(np.eye(count), np.array([[0.25], [0.5], [0.75], [1.0]]))
    rest = rng.random((max(patches - len(ramps) - 1, 0), count))
    rest[rng.random(rest.shape) < 0.3] = 0.0
    over = np.maximum(rest.sum(axis=1) / 3.0, 1.0)
    recipes = np.vstack([np.zeros(count), ramps, rest / over[:, None]])
    press = invented_press(printer, inks=inks)
    return press, ReadingSet(
        tuple(f"P{n}" for n in range(len(recipes))),
        ink_columns(inks),
        recipes,
        spectra=press.print(recipes),
        wavelengths_nm=WAVELENGTHS_NM,
        source="simulated cloth",
    )


def made(readings, data=b"data", **options):
    options = {"name": "cloth", "label": "simulated", "total_ink": 2.6} | options
    return build_condition(readings, data, **options)
