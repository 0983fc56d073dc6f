"""What was read of a condition's recipes, out of the readings that it carries."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.condition.record import Condition
from strikeoff.measurement.read import InkScale, parse_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.model.validation import held_out_rows

FloatArray = NDArray[np.float64]

_SCALES: tuple[InkScale, ...] = ("percent", "unit", "byte")


@dataclass(frozen=True)
class ReadRecipes:
    """Recipes of a condition as they were read.

    Attributes
    ----------
    names : tuple of str
        First patch of each recipe, or its number.
    counts : ndarray of int, shape (n,)
        Readings behind each; 0 where the file does not tell.
    lab : ndarray, shape (n, 3)
        Mean L*, a*, b* under the condition's light.
    """

    names: tuple[str, ...]
    counts: NDArray[np.intp]
    lab: FloatArray

    def row(self, condition: Condition, recipe: FloatArray) -> int | None:
        """Return the row of a recipe, or None where it was not read."""
        same = np.abs(condition.forward.recipes - recipe).max(axis=1) < 1e-4
        return int(same.argmax()) if same.any() else None


def original_readings(condition: Condition) -> ReadingSet | None:
    """Return the readings that the condition carries, or None where they cannot be read as they stand.

    The condition does not say what full ink was in the file, so the scale that gives its recipes is taken.
    """
    known = {_key(recipe) for recipe in condition.forward.recipes}
    for scale in _SCALES:
        try:
            readings = parse_readings(condition.readings, ink_scale=scale, need_inks=True)[0]
        except InputError:
            continue
        if readings.coverages.shape[1] == condition.n_inks and known & {
            _key(inks) for inks in readings.coverages if inks.any()
        }:
            return readings
    return None


def read_recipes(condition: Condition, readings: ReadingSet | None) -> ReadRecipes:
    """Return names, counts and colours of the recipes that the condition was made from."""
    recipes = condition.forward.recipes
    names: dict[tuple[float, ...], str] = {}
    counts: dict[tuple[float, ...], float] = {}
    if readings is not None:
        for name, inks, count in zip(readings.sample_ids, readings.coverages, readings.counts, strict=True):
            names.setdefault(_key(inks), name)
            counts[_key(inks)] = counts.get(_key(inks), 0.0) + float(count)
    keys = [_key(recipe) for recipe in recipes]
    return ReadRecipes(
        tuple(names.get(key, f"recipe {number}") for number, key in enumerate(keys, 1)),
        np.array([round(counts.get(key, 0.0)) for key in keys], dtype=np.intp),
        condition.native.view.lab(condition.forward.bands),
    )


def held_out(condition: Condition) -> tuple[NDArray[np.intp], FloatArray] | None:
    """Return recipes that were held out and the mean of their errors, or None without error figures."""
    if condition.validation is None:
        return None
    rows = held_out_rows(len(condition.forward.recipes))
    errors = condition.validation.errors
    if len(rows) != len(errors):
        return None
    found, place, count = np.unique(rows, return_inverse=True, return_counts=True)
    return found, np.bincount(place.ravel(), weights=errors) / count


def _key(recipe: FloatArray) -> tuple[float, ...]:
    return tuple((np.round(recipe, 4) + 0.0).tolist())
