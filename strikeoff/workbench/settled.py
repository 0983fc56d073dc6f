"""Findings of readings that what is known of a press set-up has settled already."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from strikeoff.base.problems import Problem
from strikeoff.inks.spaces import InkSpaces
from strikeoff.measurement.consistency import FAR_ABOVE, FAR_ABOVE_ONE
from strikeoff.measurement.plausible import UNSEEN_ADVICE, falls_back, hardly_changes, patch_place
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


def with_known_roles(
    problems: Sequence[Problem], readings: ReadingSet, roles: Sequence[str]
) -> list[Problem]:
    """Make notes of what the roles of inks explain.

    That patches reflect far above 1, where each of them holds a fluorescent ink, and that a clear ink hardly
    changes the cloth.

    Parameters
    ----------
    problems : sequence of Problem
        What was noticed in the readings.
    readings : ReadingSet
        With inks.
    roles : sequence of str
        Of the inks, in column order; others than the columns settle nothing.
    """
    if len(roles) != len(readings.ink_columns):
        return list(problems)
    explained = _unseen(readings, roles) | _glow(readings, roles)
    return [_explained(problem, explained) for problem in problems]


def _explained(problem: Problem, explained: dict[str, str]) -> Problem:
    for begin, advice in explained.items():
        if problem.message.startswith(begin):
            return replace(problem, severity="note", expected=None, advice=advice)
    return problem


def _unseen(readings: ReadingSet, roles: Sequence[str]) -> dict[str, str]:
    """Return what to say of clear inks, by what is said of them."""
    inks = zip(readings.inks, roles, strict=True)
    return {hardly_changes(ink): UNSEEN_ADVICE for ink, role in inks if role == "clear"}


def _glow(readings: ReadingSet, roles: Sequence[str]) -> dict[str, str]:
    """Return what to say of patches far above 1, where fluorescent inks explain them all."""
    if readings.spectra is None:
        return {}
    fluorescent = np.array([role == "fluorescent" for role in roles], dtype=bool)
    bright = readings.spectra.max(axis=1) > FAR_ABOVE_ONE
    holds = (readings.coverages[bright][:, fluorescent] > 0.0).any(axis=1).all()
    return {FAR_ABOVE: "They hold fluorescent ink, which does so"} if holds else {}
