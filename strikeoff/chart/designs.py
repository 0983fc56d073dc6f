"""Charts for any inks: ramps, overprints, neutrals and points between, under a total ink limit."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.chart.patch_sets import PatchSet, check_inks, numbered
from strikeoff.chart.space_filling import fill_space
from strikeoff.inks.roles import process_role

FloatArray = NDArray[np.float64]

LOT_CHECK_RANGE = (25, 60)
CONTROL_STEPS = (1.0, 0.75, 0.5, 0.25)

_RAMP_STEPS = (0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
_SHORT_RAMP = (0.25, 0.5, 0.75, 1.0)
_LIMIT_STEP = 0.05
_LINEAR_STEPS = (0.02, 0.04, 0.06, 0.08, *(round(0.05 * i, 2) for i in range(2, 21)))
#: C, M, Y that come out near grey on coated stock (near-neutrals of ISO 12642-2); on cloth they only
#: have to pass near the neutral axis.
_GREYS = ((1.0, 0.85, 0.85), (0.8, 0.65, 0.65), (0.6, 0.45, 0.45), (0.4, 0.27, 0.27), (0.2, 0.12, 0.12),
          (0.1, 0.06, 0.06))  # fmt: skip
_GREY_BLACKS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
_MOST_TOGETHER = 4


def single_ramps(n_inks: int, steps: Sequence[float]) -> FloatArray:
    """Return each ink alone in the given steps, ink after ink, shape (n_inks * n_steps, n_inks).

    Examples
    --------
    >>> single_ramps(2, (0.5, 1.0)).tolist()
    [[0.5, 0.0], [1.0, 0.0], [0.0, 0.5], [0.0, 1.0]]
    """
    rows = np.zeros((n_inks * len(steps), n_inks))
    for ink in range(n_inks):
        rows[ink * len(steps) : (ink + 1) * len(steps), ink] = steps
    return rows


def overprints(per_ink: FloatArray, total: float) -> FloatArray:
    """Return the overprints of full inks, two to four together, that lie under the total.

    Those of more than two inks whose sum is above it come in on the limit, in equal parts.

    Parameters
    ----------
    per_ink : ndarray, shape (n_inks,)
        Most of each ink, 0-1. [-]
    total : float
        Most of all inks together. [-]
    """
    rows = []
    for together in range(2, min(_MOST_TOGETHER, len(per_ink)) + 1):
        for inks in combinations(range(len(per_ink)), together):
            row = np.zeros(len(per_ink))
            row[list(inks)] = per_ink[list(inks)]
            rows.append(row * min(1.0, total / row.sum()))
    return _per_mille(np.array(rows).reshape(-1, len(per_ink)))


def neutrals(inks: Sequence[str], total: float) -> FloatArray:
    """Return recipes near the neutral axis; none when cyan, magenta and yellow are not all there.

    Black is kept when a recipe is over the total, the others lose in proportion.
    """
    channel = {process_role(ink): i for i, ink in enumerate(inks)}
    if not {"C", "M", "Y"} <= set(channel):
        return np.zeros((0, len(inks)))
    rows = []
    for black in _GREY_BLACKS if "K" in channel else (0.0,):
        for grey in _GREYS:
            row = np.zeros(len(inks))
            room = max(0.0, total - black)
            row[[channel[name] for name in "CMY"]] = np.array(grey) * min(1.0, room / sum(grey))
            if black:
                row[channel["K"]] = black
            rows.append(row)
    return _per_mille(np.array(rows))


def characterisation(
    inks: Sequence[str], total: float, patches: int, *, per_ink: FloatArray | None = None, seed: int = 0
) -> PatchSet:
    """Return a general chart: cloth, ramps, overprints, neutrals, then points that fill the space.

    What is most needed comes first, so small charts lose the finer steps and keep the corners.

    Parameters
    ----------
    inks : sequence of str
        Ink names in channel order.
    total : float
        Most of all inks together (3.0 is 300 %). [-]
    patches : int
        Distinct recipes.
    per_ink : ndarray, shape (n_inks,), optional
        Most of each ink; full by default. [-]
    seed : int
        Of the space-filling points.

    Raises
    ------
    UsageError
        When there is no room for the cloth and two steps of each ink.
    """
    check_inks(inks)
    most = np.ones(len(inks)) if per_ink is None else np.asarray(per_ink, dtype=np.float64)
    needed = 1 + 2 * len(inks)
    if patches < needed:
        raise UsageError(
            "too few patches for a chart of these inks", found=patches, expected=f"{needed} or more"
        )
    solids, tints = np.diag(np.minimum(most, total)), np.diag(0.5 * np.minimum(most, total))
    structure = np.vstack([np.zeros((1, len(inks))), solids, tints])
    finer = [
        overprints(most, total),
        neutrals(inks, total),
        single_ramps(len(inks), _RAMP_STEPS) * np.minimum(most, total),
    ]
    if patches < needed + sum(map(len, finer)) * 2:
        # Half of a small chart stays free for the points between.
        share = (patches - needed) / max(1, 2 * sum(map(len, finer)))
        finer = [_thinned(rows, share) for rows in finer]
    structure = _distinct(np.vstack([structure, *finer]))[:patches]
    rest = fill_space(patches - len(structure), most, total, start=structure, seed=seed)
    return numbered(inks, np.vstack([structure, rest]))


def ink_limit_ramps(inks: Sequence[str], groups: Sequence[Sequence[str]] = ()) -> list[FloatArray]:
    """Return one ramp per ink, then one per chosen group of inks in equal parts, in steps of 5 %.

    Returns
    -------
    list of ndarray, shape (20, n_inks)
    """
    check_inks(inks)
    steps = np.arange(_LIMIT_STEP, 1.0 + 1e-9, _LIMIT_STEP).round(2)
    columns = [[i] for i in range(len(inks))] + [channels(inks, group) for group in groups]
    ramps = []
    for column in columns:
        ramp = np.zeros((len(steps), len(inks)))
        ramp[:, column] = steps[:, None]
        ramps.append(ramp)
    return ramps


def linearisation(inks: Sequence[str], *, repeats: int = 2) -> PatchSet:
    """Return ramps of each ink from cloth to full, every patch ``repeats`` times."""
    check_inks(inks)
    once = np.vstack([np.zeros((1, len(inks))), single_ramps(len(inks), _LINEAR_STEPS)])
    return repeated(numbered(inks, once), np.arange(len(once)), repeats)


def lot_check(inks: Sequence[str], total: float, patches: int, *, seed: int = 0) -> PatchSet:
    """Return a small chart, 25 to 60 patches, that tells whether a new lot of cloth or ink still fits.

    Raises
    ------
    UsageError
        For another number of patches, or too few for the inks.
    """
    low, high = LOT_CHECK_RANGE
    if not low <= patches <= high:
        raise UsageError("a lot check has 25 to 60 patches", found=patches)
    return characterisation(inks, total, patches, seed=seed)


def control_strip(inks: Sequence[str], total: float) -> PatchSet:
    """Return a strip that travels with the goods: cloth, four steps of each ink, pairs, greys."""
    check_inks(inks)
    ramps = single_ramps(len(inks), CONTROL_STEPS)
    coloured = [i for i, ink in enumerate(inks) if process_role(ink) in ("C", "M", "Y")]
    pairs = np.zeros((len(list(combinations(coloured, 2))), len(inks)))
    for row, pair in zip(pairs, combinations(coloured, 2), strict=True):
        row[list(pair)] = 1.0
    greys = neutrals(inks, total)[1:5]
    rows = _distinct(np.vstack([np.zeros((1, len(inks))), ramps, _under(pairs, total), greys]))
    return numbered(inks, rows)


def repeated(patches: PatchSet, which: NDArray[np.int64], times: int) -> PatchSet:
    """Return a set in which some patches stand several times, so that the noise shows.

    Repeats are named after the first: ``17``, ``17.2``, ``17.3``.
    """
    rows, names = [patches.recipes], list(patches.names)
    for turn in range(2, times + 1):
        rows.append(patches.recipes[which])
        names += [f"{patches.names[i]}.{turn}" for i in which]
    return PatchSet(patches.inks, np.vstack(rows), tuple(names))


def channels(inks: Sequence[str], group: Sequence[str]) -> list[int]:
    """Return the channels of named inks.

    Raises
    ------
    UsageError
        A name that is not among the inks, or twice.
    """
    names = [ink.strip().lower() for ink in inks]
    wanted = [ink.strip().lower() for ink in group]
    unknown = [ink for ink, name in zip(group, wanted, strict=True) if name not in names]
    if unknown or len(set(wanted)) != len(wanted) or not wanted:
        raise UsageError(
            "not a combination of the inks", found="+".join(group), expected=f"names among {', '.join(inks)}"
        )
    return [names.index(name) for name in wanted]


def _under(rows: FloatArray, total: float) -> FloatArray:
    sums = rows.sum(axis=1, keepdims=True)
    return _per_mille(rows * np.minimum(1.0, total / np.maximum(sums, 1e-12)))


def _per_mille(rows: FloatArray) -> FloatArray:
    """Round down to whole per mille, so that rounding cannot pass a limit."""
    return np.asarray(np.floor(rows * 1000.0 + 1e-6) / 1000.0)


def _thinned(rows: FloatArray, share: float) -> FloatArray:
    count = min(len(rows), int(np.ceil(share * len(rows))))
    return rows[np.linspace(0, len(rows) - 1, count).round().astype(int)] if count else rows[:0]


def _distinct(rows: FloatArray) -> FloatArray:
    """Return the rows without their repeats, in the order of first appearance."""
    _, first = np.unique(rows.round(6), axis=0, return_index=True)
    return np.asarray(rows[np.sort(first)])
