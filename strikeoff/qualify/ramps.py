"""Ramps of single inks out of readings, and smooth curves through them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.colour.cielab import lab_to_xyz
from strikeoff.colour.weights import white_point
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import merge_repeats

FloatArray = NDArray[np.float64]

_LEAST_STEPS = 6
_LONGEST_GAP = 0.35
_NOTHING = 1e-4


@dataclass(frozen=True)
class Ramp:
    """One ink alone, from bare cloth upwards.

    Attributes
    ----------
    ink : str
        Name, as the readings have it.
    amount : ndarray, shape (n,)
        Ink, rising from 0. [-]
    lab : ndarray, shape (n, 3)
        What was measured, repeats averaged.
    xyz : ndarray, shape (n, 3)
        The same over the light's white, Y = 1 for the perfect diffuser. [-]
    ids : tuple of str
        Patch names.
    """

    ink: str
    amount: FloatArray
    lab: FloatArray
    xyz: FloatArray
    ids: tuple[str, ...]

    def up_to(self, most: float) -> Ramp:
        """Return the steps up to an amount of ink."""
        kept = self.amount <= most + _NOTHING
        ids = tuple(name for name, keep in zip(self.ids, kept, strict=True) if keep)
        return Ramp(self.ink, self.amount[kept], self.lab[kept], self.xyz[kept], ids)


def ink_ramps(readings: ReadingSet) -> tuple[Ramp, ...]:
    """Return the ramp of each ink of readings.

    Parameters
    ----------
    readings : ReadingSet
        Any chart that holds single inks in steps and the bare cloth.

    Raises
    ------
    InputError
        Without bare cloth, or where an ink has no ramp: fewer than six steps, steps further apart
        than 35 % of ink, or none above 90 %.
    """
    single = merge_repeats(readings)
    amounts, lab = single.coverages, readings_lab(single)
    path = readings.source or None
    bare = np.flatnonzero(amounts.max(axis=1, initial=0.0) <= _NOTHING)
    if not len(bare) or not amounts.shape[1]:
        raise InputError(
            "ramps need the bare cloth",
            path=path,
            expected="a patch without ink",
            advice="Read it and add it",
        )
    setup = readings.setup
    white = white_point(setup.illuminant, setup.observer)
    ramps = []
    for column, ink in enumerate(readings.inks):
        others = np.delete(amounts, column, axis=1).max(axis=1, initial=0.0)
        rows = np.flatnonzero((others <= _NOTHING) & (amounts[:, column] > _NOTHING))
        rows = np.concatenate([bare[:1], rows[np.argsort(amounts[rows, column])]])
        steps = amounts[rows, column]
        gap = float(np.diff(steps).max(initial=0.0))
        seen = f"{len(rows)} steps of this ink alone up to {steps[-1] * 100:.0f} %, {gap * 100:.0f} % apart"
        if len(rows) < _LEAST_STEPS or gap > _LONGEST_GAP or steps[-1] < 0.9:
            raise InputError(
                "no ramp of this ink",
                path=path,
                where=f"column {readings.ink_columns[column]}",
                found=seen,
                expected=f"{_LEAST_STEPS} or more from bare cloth to at least 90 %, "
                f"at most {_LONGEST_GAP * 100:.0f} % apart",
                advice="Print and read a chart with ramps of each ink",
            )
        xyz = lab_to_xyz(lab[rows], white) / white
        ramps.append(Ramp(ink, steps, lab[rows], xyz, tuple(single.sample_ids[r] for r in rows)))
    return tuple(ramps)


def require_rising(ramp: Ramp, tone: FloatArray, noise: float) -> None:
    """Refuse a ramp whose tone turns back by more than noise explains.

    Parameters
    ----------
    ramp : Ramp
        For names.
    tone : ndarray, shape (n,)
        Its tone, which ought to rise.
    noise : float
        Standard deviation of one reading of it.

    Raises
    ------
    InputError
        Names ink and steps.
    """
    highest = np.maximum.accumulate(tone)
    fall = highest - tone
    worst = int(np.argmax(fall))
    allowed = max(4.0 * noise, 0.02 * float(np.ptp(tone)))
    if fall[worst] <= allowed:
        return
    top = int(np.argmax(tone[: worst + 1]))
    raise InputError(
        "ink does not grow stronger all along its ramp",
        where=f"ink {ramp.ink}, steps {ramp.amount[top] * 100:.0f} % ({ramp.ids[top]}) "
        f"to {ramp.amount[worst] * 100:.0f} % ({ramp.ids[worst]})",
        found=f"its tone falls by {fall[worst] / np.ptp(tone):.1%} of the range",
        expected=f"at most {allowed / np.ptp(tone):.1%}",
        advice="Set its limit below these steps, or read them again: swapped rows and dead nozzles look so",
    )
