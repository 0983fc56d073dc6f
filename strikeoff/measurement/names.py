"""Names of patches that stay apart when files are put together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from strikeoff.base.problems import Problem
from strikeoff.measurement.records import ReadingSet

_DECIMALS = 4


def names_apart(sets: Sequence[ReadingSet]) -> tuple[list[ReadingSet], list[Problem]]:
    """Return readings of several files in which no name stands for two recipes of different files.

    Parameters
    ----------
    sets : sequence of ReadingSet
        In the order in which they are put together.

    Returns
    -------
    sets : list of ReadingSet
        Where a file names another recipe as a file before it does, its names begin with its own. Readings of
        one chart keep theirs.
    problems : list of Problem
        A note for each file with new names.
    """
    taken: dict[str, bytes] = {}
    done, problems = [], []
    for readings in sets:
        recipes = [row.tobytes() for row in np.round(readings.coverages, _DECIMALS) + 0.0]
        names = readings.sample_ids
        before, number = "", 1
        while any(taken.get(name, own) != own for name, own in zip(names, recipes, strict=True)):
            before = Path(readings.source).stem + (f"-{number}" if number > 1 else "")
            names = tuple(f"{before}:{name}" for name in readings.sample_ids)
            number += 1
        for name, own in zip(names, recipes, strict=True):
            taken.setdefault(name, own)
        if before:
            problems.append(
                Problem(
                    "note",
                    readings.source,
                    "patches are named as other recipes of a file before are, so their names begin with "
                    "the file's",
                    f"{readings.sample_ids[0]} is {names[0]} now",
                )
            )
        done.append(replace(readings, sample_ids=names))
    return done, problems
