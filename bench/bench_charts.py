"""Adaptive charts against random and even ones, with measured readings as the press.

2,372 distinct measured CMYK recipes. A seed keeps a fifth back for judging; the others can be bought.
The chooser sees the recipes on offer and the readings bought so far, never those not yet bought.
All designs are judged through the same model on the same recipes, mean CIEDE2000, noise of the
readings included. Label: measured.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc
from threadpoolctl import threadpool_limits

from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.record import make_view
from strikeoff.measurement.embedded import measured_cmyk_text
from strikeoff.measurement.read import parse_readings
from strikeoff.measurement.repeats import merge_repeats
from strikeoff.model.design import (
    amplitudes,
    choose_together,
    squares_per_variance,
    trusted_kernel,
    usual_kernel,
)
from strikeoff.model.forward import View, fit_forward

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SIZES = (60, 100, 150)
CURVE = (40, 60, 80, 100, 150, 200, 300, 400)
SEEDS = range(1, 11)
_NEAR_CORNER = 0.03
_START, _BATCH = 60, 20
#: Squared CIEDE2000 to a unit of variance, before anything is read.
_SQUARE = 2000.0


@dataclass(frozen=True)
class Press:
    """Readings that stand in for a press."""

    recipes: FloatArray
    bands: FloatArray
    view: View

    def model(self, bought: IntArray) -> Any:
        """Fit the model to what was bought."""
        return fit_forward(self.recipes[bought], np.ones(len(bought)), self.bands[bought], self.view)

    def error(self, bought: IntArray, judged: IntArray) -> float:
        """Return the mean error on recipes that were not bought. [CIEDE2000]"""
        lab = self.model(bought).under(self.view).lab(self.recipes[judged])
        return float(delta_e_2000(lab, self.view.lab(self.bands[judged])).mean())


def measured_press() -> Press:
    """Return the measured set of the demo package as a press."""
    readings, _ = parse_readings(measured_cmyk_text().encode("latin-1"), source="measured set")
    merged = merge_repeats(readings)
    return Press(merged.coverages, merged.spectra, make_view("D50", "2", merged.wavelengths_nm))


def offer(press: Press, seed: int) -> tuple[IntArray, IntArray]:
    """Return the rows that judge, a fifth, and the rows that can be bought."""
    order = np.random.default_rng(seed).permutation(len(press.recipes))
    fifth = len(order) // 5
    return order[:fifth], order[fifth:]


def corners(press: Press, pool: IntArray) -> list[int]:
    """Return the recipes on offer within 3 % of a corner of ink space."""
    found = []
    for corner in product((0.0, 1.0), repeat=press.recipes.shape[1]):
        gap = np.abs(press.recipes[pool] - corner).max(axis=1)
        if gap.min() < _NEAR_CORNER:
            found.append(int(pool[gap.argmin()]))
    return list(dict.fromkeys(found))


def cloth_and_solids(press: Press, pool: IntArray) -> list[int]:
    """Return the recipes on offer nearest to bare cloth and to each ink in full, as first charts begin."""
    count = press.recipes.shape[1]
    places = np.vstack([np.zeros((1, count)), np.eye(count)])
    gaps = [np.abs(press.recipes[pool] - place).max(axis=1) for place in places]
    return list(dict.fromkeys(int(pool[gap.argmin()]) for gap in gaps))


def random_and_corners(press: Press, pool: IntArray, size: int, seed: int) -> IntArray:
    """Return the corners, then recipes by lot."""
    first = corners(press, pool)
    rest = [int(i) for i in np.random.default_rng(seed).permutation(pool) if i not in set(first)]
    return np.array((first + rest)[:size])


def even(press: Press, pool: IntArray, size: int, seed: int) -> IntArray:
    """Return the corners, then the recipes on offer that are nearest to scrambled Sobol points."""
    chosen = corners(press, pool)
    taken = set(chosen)
    limit = press.recipes.sum(axis=1).max()
    for point in qmc.Sobol(4, seed=np.random.default_rng(seed)).random(2048):
        if len(chosen) >= size:
            break
        if point.sum() > limit:
            continue
        gap = ((press.recipes[pool] - point) ** 2).sum(axis=1)
        nearest = next(int(pool[i]) for i in np.argsort(gap) if int(pool[i]) not in taken)
        chosen.append(nearest)
        taken.add(nearest)
    return np.array(chosen[:size])


def farthest(press: Press, pool: IntArray, size: int, seed: int) -> IntArray:
    """Return the corners, then always the recipe that is farthest from all chosen (maximin)."""
    chosen = corners(press, pool)
    points = press.recipes[pool]
    gap = np.min([((points - press.recipes[i]) ** 2).sum(axis=1) for i in chosen], axis=0)
    while len(chosen) < size:
        chosen.append(int(pool[gap.argmax()]))
        gap = np.minimum(gap, ((points - press.recipes[chosen[-1]]) ** 2).sum(axis=1))
    return np.array(chosen[:size])


def adaptive(press: Press, pool: IntArray, sizes: tuple[int, ...]) -> dict[int, IntArray]:
    """Return what the chooser buys, by size: a first chart, unread, then batches of 20 with refits.

    The first chart is the smallest size, at most the 60 patches of a first chart of the product.
    """
    recipes, start = press.recipes, np.array(cloth_and_solids(press, pool))
    kernel, share, found = usual_kernel(recipes.shape[1]), np.full(len(pool), 1.0 / len(pool)), {}
    stop, alike = min(_START, sizes[0]), np.full(len(pool), _SQUARE)
    open_ = pool[~np.isin(pool, start)]
    once, count = np.ones(len(start)), stop - len(start)
    picked = choose_together(kernel, recipes[start], once, recipes[open_], recipes[pool], alike, share, count)
    read = np.append(start, open_[picked])
    while True:
        if stop in sizes:
            found[stop] = read
        if stop == sizes[-1]:
            return found
        model = press.model(read)
        kernel = trusted_kernel(model.free, len(read))
        spread = amplitudes(kernel, model.recipes, model.repeats, press.view.lab(press.bands[read]))
        squares = squares_per_variance(*model.under(press.view).jacobian(recipes[pool]), spread)
        stop = min(stop + _BATCH, *(size for size in sizes if size > stop))
        open_ = pool[~np.isin(pool, read)]
        once, count = np.ones(len(read)), stop - len(read)
        picked = choose_together(
            kernel, recipes[read], once, recipes[open_], recipes[pool], squares, share, count
        )
        read = np.append(read, open_[picked])


OTHERS = {"random + corners": random_and_corners, "even (Sobol)": even, "even (maximin)": farthest}


def compare(press: Press, seeds: Any, sizes: tuple[int, ...]) -> dict[str, FloatArray]:
    """Return the errors of each design, shape (seeds, sizes)."""
    found: dict[str, list[list[float]]] = {}
    with threadpool_limits(1, user_api="blas"):
        for seed in seeds:
            judged, pool = offer(press, seed)
            chosen = adaptive(press, pool, sizes)
            designs = {"adaptive": [chosen[size] for size in sizes]} | {
                name: [design(press, pool, size, seed) for size in sizes] for name, design in OTHERS.items()
            }
            for name, rows in designs.items():
                found.setdefault(name, []).append([press.error(bought, judged) for bought in rows])
                shown = np.round(found[name][-1], 4).tolist()
                print(
                    json.dumps({"seed": seed, "design": name, "sizes": sizes, "mean_de00": shown}), flush=True
                )
    return {name: np.array(errors) for name, errors in found.items()}


def run(seeds: Any = SEEDS, sizes: tuple[int, ...] = SIZES) -> list[dict[str, Any]]:
    """Return the mean error of each design, and by how much the chooser's is lower, by size.

    With the standard error of the latter, from differences seed by seed: ten seeds settle about 1 %.
    """
    errors = compare(measured_press(), seeds, sizes)
    return [
        {"bench": "charts", "design": name, "patches": size, "mean_de00": round(float(e[:, i].mean()), 4)}
        | ({} if name == "adaptive" else _lead(errors["adaptive"][:, i], e[:, i]))
        for name, e in errors.items()
        for i, size in enumerate(sizes)
    ]


def _lead(chosen: FloatArray, other: FloatArray) -> dict[str, float]:
    """Return by how much the mean error of the chooser is lower, and the standard error of that. [%]"""
    found = {"adaptive_lower_by_percent": round(100.0 * float(1.0 - chosen.mean() / other.mean()), 2)}
    if len(chosen) > 1:
        # Of a ratio of means: W. G. Cochran, Sampling Techniques, 3rd ed., Wiley 1977, section 2.11.
        rest = chosen - chosen.mean() / other.mean() * other
        found["standard_error_percent"] = round(
            100.0 * float(rest.std(ddof=1) / other.mean() / np.sqrt(len(rest))), 2
        )
    return found


def rows(found: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return the rows of the results page."""
    return [
        {
            "design": row["design"],
            "patches": row["patches"],
            "mean": f"{row['mean_de00']:.3f}",
            "adaptive lower by [%]": row.get("adaptive_lower_by_percent", ""),
            "standard error [%]": row.get("standard_error_percent", ""),
        }
        for row in found
    ]


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="1-10", help="first-last")
    parser.add_argument("--curve", action="store_true", help="40 to 400 patches in place of 60, 100, 150")
    asked = parser.parse_args()
    first, last = map(int, asked.seeds.split("-"))
    for row in run(range(first, last + 1), CURVE if asked.curve else SIZES):
        print(json.dumps(row))
