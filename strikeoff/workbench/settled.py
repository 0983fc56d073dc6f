"""Findings of readings that what is known of a press set-up has settled already."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from strikeoff.base.problems import Problem
from strikeoff.inks.spaces import InkSpaces
from strikeoff.measurement.consistency import FAR_ABOVE, FAR_ABOVE_ONE
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


def channel_roles(spaces: InkSpaces) -> list[str]:
    """Return the role of each calibrated ink, in column order."""
    roles = {ink.name: ink.role for ink in spaces.inks}
    return [roles[name] for name in spaces.channels]


def with_known_glow(problems: Sequence[Problem], readings: ReadingSet, roles: Sequence[str]) -> list[Problem]:
    """Make it a note that patches reflect far above 1, where each of them holds a fluorescent ink.

    Parameters
    ----------
    problems : sequence of Problem
        What was noticed in the readings.
    readings : ReadingSet
        With inks.
    roles : sequence of str
        Of the inks, in column order; others than the columns settle nothing.
    """
    fluorescent = np.array([role == "fluorescent" for role in roles], dtype=bool)
    if readings.spectra is None or len(fluorescent) != len(readings.ink_columns):
        return list(problems)
    bright = readings.spectra.max(axis=1) > FAR_ABOVE_ONE
    if not (readings.coverages[bright][:, fluorescent] > 0.0).any(axis=1).all():
        return list(problems)
    return [
        replace(problem, severity="note", expected=None, advice="They hold fluorescent ink, which does so")
        if problem.message.startswith(FAR_ABOVE)
        else problem
        for problem in problems
    ]
