"""What the model of a condition, and the readings behind it, say of the ramps of its inks."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.record import Condition
from strikeoff.inks.tables import NODES
from strikeoff.qualify.learnt_tones import LEAST_READ
from strikeoff.qualify.linearise import AIMS, LEAST_RANGE
from strikeoff.qualify.ramps import Ramp

FloatArray = NDArray[np.float64]

#: CIEDE2000 that may stay of a solid's drift; common practice, no source.
SOLID_OFF = 1.0
#: What to do about more.
WEAK_ADVICE = (
    "Check heads, ink and fixing and print the ramps again, or read a characterisation chart and build a "
    "condition for the press as it is"
)
_OTHER_TONES = 0.02
# Ink that is none.
_NOTHING = 1e-4
# Amount of ink and white in a patch that tells what the ink is over white.
_KNOWN = 0.9


def knows_ramp(record: Condition, ink: int, ramp: Ramp) -> bool:
    """Return whether readings tell the model what an ink is where its ramp stands, over white if it does."""
    if ramp.over is None:
        return True
    printed = record.forward.recipes[:, [ink, _white_channel(record, ramp.over)]]
    return bool((printed >= _KNOWN).all(axis=1).any())


def require_known(record: Condition, ink: int, ramp: Ramp) -> None:
    """Refuse a ramp over white where no reading tells the model what its ink is there.

    Raises
    ------
    InputError
        Says which patch is missing.
    """
    if knows_ramp(record, ink, ramp):
        return
    white = _white_channel(record, str(ramp.over))
    name, over = record.spaces.channels[ink], record.spaces.channels[white]
    raise InputError(
        "the condition has no reading of this ink over white, so its tones there cannot come back",
        where=f"ink {name}",
        found=f"a ramp over {over}",
        expected=f"a patch of full {name} over full {over} in the condition's readings",
        advice="Print and read a characterisation chart with a total ink of "
        f"{100 * float(record.limits.weights[[ink, white]].sum()):.0f} % or more, which holds {name} over "
        f"{over}, and build again; or take an aim that counts from white, such as --aim colour",
    )


def model_ramp(record: Condition, ink: int, ramp: Ramp) -> FloatArray:
    """Return what the model says of an ink in even steps, over full white where its ramp stands there."""
    inks = np.zeros((NODES, record.n_inks))
    if ramp.over is not None:
        white = _white_channel(record, ramp.over)
        inks[:, white] = record.limits.per_ink[white]
    inks[:, ink] = np.linspace(0.0, 1.0, NODES)
    return record.native.lab(inks)


def readings_behind(record: Condition, ink: int, ramp: Ramp) -> tuple[FloatArray, FloatArray]:
    """Return ink and Lab of the readings along a ramp that the model was made from, without its start."""
    printed = record.forward.recipes
    beneath = np.zeros(record.n_inks)
    if ramp.over is not None:
        white = _white_channel(record, ramp.over)
        beneath[white] = record.limits.per_ink[white]
    others = np.arange(record.n_inks) != ink
    alone = (np.abs(printed - beneath)[:, others] <= _NOTHING).all(axis=1) & (printed[:, ink] > _NOTHING)
    rows = np.flatnonzero(alone)
    rows = rows[np.argsort(printed[rows, ink])]
    return printed[rows, ink], record.native.view.lab(record.forward.bands[rows])


def too_few_behind(steps: Sequence[tuple[str, int]]) -> list[Problem]:
    """Warn of inks whose ramps no reading behind the model tells of."""
    few = [(name, count) for name, count in steps if count < LEAST_READ]
    if not few:
        return []
    return [
        Problem(
            "warning",
            f"ink {', '.join(name for name, _ in few)}",
            "too few readings of it alone are behind the condition, so errors of its model count as change",
            f"{', '.join(str(count) for _, count in few)} steps",
            f"{LEAST_READ} or more",
            "Take back only what a control strip shows too, or build from a chart with ramps of each ink",
        )
    ]


def other_tones(
    model: Sequence[tuple[str, FloatArray]],
    aim: str,
    wanted: tuple[FloatArray, FloatArray] | None,
) -> list[Problem]:
    """Warn where the model has learnt other tones than the aim: its colours would be wrong."""
    nominal = np.linspace(0.0, 1.0, NODES)
    target = nominal if wanted is None else np.interp(nominal, *wanted)
    problems = []
    for name, lab in model:
        pale = aim == "lightness" and abs(lab[0, 0] - lab[-1, 0]) < LEAST_RANGE
        tone_of = AIMS["colour" if pale else aim]
        gap = float(np.abs(tone_of(lab, lab[0], lab[-1]) - target).max())
        if gap > _OTHER_TONES:
            problems.append(
                Problem(
                    "warning",
                    f"ink {name}",
                    "the model has learnt other tones than this aim gives",
                    f"{100 * gap:.1f} % apart",
                    f"at most {100 * _OTHER_TONES:.0f} %",
                    "Use the aim 'condition', or read a characterisation chart and build again",
                )
            )
    return problems


def weak_solids(solids: Sequence[tuple[str, FloatArray, Ramp, float]]) -> list[Problem]:
    """Warn of inks whose solids have moved towards the cloth since the model learnt them.

    Parameters
    ----------
    solids : sequence of (str, ndarray, Ramp, float)
        Name of each ink, what the model says of it in even steps, its ramp and the ink at its end. [-]
    """
    problems = []
    for name, lab, ramp, limit in solids:
        end = np.array([np.interp(limit, ramp.amount, ramp.lab[:, axis]) for axis in range(3)])
        off = float(delta_e_2000(end, lab[-1]))
        nearer = float(delta_e_2000(end, ramp.lab[0])) < float(delta_e_2000(lab[-1], lab[0]))
        if nearer and off > SOLID_OFF:
            problems.append(
                Problem(
                    "warning",
                    f"ink {name}",
                    "its solid is weaker than the condition has learnt, no curve makes it stronger, and "
                    "model and profiles still count on it",
                    f"{off:.2f} CIEDE2000 off",
                    f"at most {SOLID_OFF:g}",
                    WEAK_ADVICE,
                )
            )
    return problems


def _white_channel(record: Condition, over: str) -> int:
    """Return the channel of the white ink that readings name."""
    for names in (record.inks, record.spaces.channels):
        if over in names:
            return names.index(over)
    roles = {ink.name: ink.role for ink in record.spaces.inks}
    return next(k for k, name in enumerate(record.spaces.channels) if roles[name] == "white")
