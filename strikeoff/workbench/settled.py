"""Findings of readings that the limits of a press set-up have settled already."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from strikeoff.base.problems import Problem
from strikeoff.measurement.plausible import falls_back, patch_place
from strikeoff.measurement.records import ReadingSet


def without_settled(
    problems: Sequence[Problem], readings: ReadingSet, limits: Sequence[float]
) -> list[Problem]:
    """Leave out that an ink falls back beyond its limit: nothing is printed there any more.

    Parameters
    ----------
    problems : sequence of Problem
        What was noticed in the readings.
    readings : ReadingSet
        Ramps in laid-down ink.
    limits : sequence of float
        Most of each ink, in column order. [-]
    """
    settled = {
        (patch_place(readings, int(row)), falls_back(ink))
        for column, (ink, limit) in enumerate(zip(readings.inks, limits, strict=True))
        for row in np.flatnonzero(readings.coverages[:, column] > limit)
    }
    return [problem for problem in problems if (problem.where, problem.message) not in settled]
