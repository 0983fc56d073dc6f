"""Charts for any inks: ramps, overprints, neutrals and points between, under a total ink limit."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.chart.patch_sets import ChartLimits, PatchSet, check_inks, numbered
from strikeoff.chart.space_filling import fill_space
from strikeoff.inks.roles import process_channels, special_role

FloatArray = NDArray[np.float64]

LOT_CHECK_RANGE = (25, 60)
CONTROL_STEPS = (1.0, 0.75, 0.5, 0.25)

_RAMP_STEPS = (0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
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


def overprints(limits: ChartLimits) -> FloatArray:
    """Return the overprints of full inks, two to four together; those above the total come in on it.

    Returns
    -------
    ndarray, shape (n, n_inks)
        Equal ones may occur.
    """
    count = len(limits.per_ink)
    rows = [
        np.isin(np.arange(count), inks) * limits.per_ink
        for together in range(2, min(_MOST_TOGETHER, count) + 1)
        for inks in combinations(range(count), together)
    ]
    return limits.kept(np.array(rows).reshape(-1, count))


def neutrals(inks: Sequence[str], limits: ChartLimits) -> FloatArray:
    """Return recipes near the neutral axis; none when cyan, magenta and yellow are not all there.

    Black is kept when a recipe is over the total, the others lose in proportion.
    """
    channel = process_channels(inks)
    if not {"C", "M", "Y"} <= set(channel):
        return np.zeros((0, len(inks)))
    blacks = _GREY_BLACKS if "K" in channel else (0.0,)
    rows = np.zeros((len(blacks) * len(_GREYS), len(inks)))
    for row, (black, grey) in zip(rows, product(blacks, _GREYS), strict=True):
        row[[channel[name] for name in "CMY"]] = grey
        if black:
            row[channel["K"]] = black
    return limits.kept(rows, channel.get("K"))


def characterisation(inks: Sequence[str], limits: ChartLimits, patches: int, *, seed: int = 0) -> PatchSet:
    """Return a general chart: cloth, ramps, overprints, neutrals, then points that fill the space.

    What is most needed comes first, so small charts lose the finer steps and keep the corners. White, told
    by its name, lies beneath the others: their solids, neutrals and the points between stand over it too.

    Parameters
    ----------
    inks : sequence of str
        Ink names in channel order.
    limits : ChartLimits
        What the recipes keep.
    patches : int
        Distinct recipes.
    seed : int
        Of the space-filling points.

    Raises
    ------
    UsageError
        When there is no room for the cloth and two steps of each ink.
    """
    check_inks(inks)
    needed = 1 + 2 * len(inks)
    if patches < needed:
        raise UsageError(
            "too few patches for a chart of these inks", found=patches, expected=f"{needed} or more"
        )
    solids, tints = limits.kept(np.eye(len(inks))), limits.kept(0.5 * np.diag(limits.per_ink))
    structure = np.vstack([np.zeros((1, len(inks))), solids, tints])
    white = white_channels(inks)
    greys = neutrals(inks, limits)
    finer = [
        overprints(limits),
        greys,
        *[over_full(greys, channel, limits) for channel in white],
        limits.kept(single_ramps(len(inks), _RAMP_STEPS) * limits.per_ink),
        *[over_full(0.5 * np.diag(limits.per_ink), channel, limits) for channel in white],
    ]
    # At least half of what is left stays free for the points between.
    share = min(1.0, (patches - needed) / (2 * sum(map(len, finer)) or 1))
    finer = [_thinned(rows, share) for rows in finer]
    structure = _distinct(np.vstack([structure, *finer]))[:patches]
    rest = fill_space(patches - len(structure), limits, start=structure, seed=seed, beside=white)
    return numbered(inks, np.vstack([structure, rest]))


def white_channels(inks: Sequence[str]) -> list[int]:
    """Return the channels of white inks, told by their names.

    Examples
    --------
    >>> white_channels(["C", "Yellow", "White"]), white_channels(["C", "M"])
    ([2], [])
    """
    return [channel for channel, name in enumerate(inks) if special_role(name) == "white"]


def over_full(rows: FloatArray, channel: int, limits: ChartLimits) -> FloatArray:
    """Return recipes with one ink full in all of them; it keeps its amount as long as others can give way.

    Examples
    --------
    >>> from strikeoff.chart.patch_sets import plain_limits
    >>> over_full(np.array([[0.5, 0.0]]), 1, plain_limits(2)).tolist()
    [[0.5, 1.0]]
    """
    rows = rows.copy()
    rows[:, channel] = limits.per_ink[channel]
    return limits.kept(rows, channel)


def ink_limit_ramps(inks: Sequence[str], groups: Sequence[Sequence[str]] = ()) -> list[FloatArray]:
    """Return one ramp per ink, then one per chosen group of inks in equal parts, in steps of 5 %.

    Where there is white, each other ink once more over all of it: dark cloth shows no colour without.

    Returns
    -------
    list of ndarray, shape (21, n_inks)
        Each from the bare cloth, which limits cannot be found without, or from white alone.
    """
    check_inks(inks)
    steps = np.arange(0.0, 1.0 + 1e-9, _LIMIT_STEP).round(2)
    white = white_channels(inks)
    columns = [[i] for i in range(len(inks))] + [channels(inks, group) for group in groups]
    ramps = []
    for column in columns:
        ramp = np.zeros((len(steps), len(inks)))
        ramp[:, column] = steps[:, None]
        ramps.append(ramp)
    for base in white:
        for ink in [i for i in range(len(inks)) if i not in white]:
            ramp = np.zeros((len(steps), len(inks)))
            ramp[:, base], ramp[:, ink] = 1.0, steps
            ramps.append(ramp)
    return ramps


def linearisation(inks: Sequence[str], *, over_white: bool = True) -> PatchSet:
    """Return ramps of each ink from cloth to full, in steps of 5 %, finer in the lights.

    The bare cloth stands there once for each ink: all tones are measured from it. Where there is white, the
    other inks stand over all of it too, and it alone once for each, unless that is not wanted.
    """
    check_inks(inks)
    bare, ramps = np.zeros((len(inks), len(inks))), single_ramps(len(inks), _LINEAR_STEPS)
    rows = [bare, ramps]
    for base in white_channels(inks) if over_white else []:
        above = ramps[ramps[:, white_channels(inks)].max(axis=1) == 0]
        rows.append(np.vstack([bare[: len(above) // len(_LINEAR_STEPS)], above]))
        rows[-1][:, base] = 1.0
    return numbered(inks, np.vstack(rows))


def lot_check(inks: Sequence[str], limits: ChartLimits, patches: int, *, seed: int = 0) -> PatchSet:
    """Return a small chart, 25 to 60 patches, that tells whether a new lot of cloth or ink still fits.

    Raises
    ------
    UsageError
        For another number of patches, or too few for the inks.
    """
    low, high = LOT_CHECK_RANGE
    if not low <= patches <= high:
        raise UsageError("a lot check has 25 to 60 patches", found=patches)
    return characterisation(inks, limits, patches, seed=seed)


def control_strip(inks: Sequence[str], limits: ChartLimits) -> PatchSet:
    """Return a strip that travels with the goods: cloth, four steps of each ink, pairs, greys."""
    check_inks(inks)
    ramps = single_ramps(len(inks), CONTROL_STEPS)
    process = process_channels(inks)
    coloured = sorted(process[letter] for letter in "CMY" if letter in process)
    pairs = np.zeros((len(list(combinations(coloured, 2))), len(inks)))
    for row, pair in zip(pairs, combinations(coloured, 2), strict=True):
        row[list(pair)] = 1.0
    greys = neutrals(inks, limits)[1:5]
    rows = np.vstack([np.zeros((1, len(inks))), limits.kept(ramps), limits.kept(pairs), greys])
    return numbered(inks, _distinct(rows))


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
    """Return the channels of named inks: as they are written, else by any case.

    Raises
    ------
    UsageError
        A name that is not among the inks, or twice.

    Examples
    --------
    >>> channels(["C", "M", "c", "Orange"], ["c", "m", "orange"])
    [2, 1, 3]
    """
    names = [ink.strip() for ink in inks]
    known = {name.lower(): i for i, name in enumerate(names)} | {name: i for i, name in enumerate(names)}
    found = [known.get(ink.strip(), known.get(ink.strip().lower())) for ink in group]
    chosen = [i for i in found if i is not None]
    if not found or len(set(chosen)) != len(found):
        raise UsageError(
            "not a combination of the inks", found="+".join(group), expected=f"names among {', '.join(inks)}"
        )
    return chosen


def _thinned(rows: FloatArray, share: float) -> FloatArray:
    count = min(len(rows), int(np.ceil(share * len(rows))))
    return rows[np.linspace(0, len(rows) - 1, count).round().astype(int)] if count else rows[:0]


def _distinct(rows: FloatArray) -> FloatArray:
    """Return the rows without their repeats, in the order of first appearance."""
    _, first = np.unique(rows.round(6), axis=0, return_index=True)
    return np.asarray(rows[np.sort(first)])
