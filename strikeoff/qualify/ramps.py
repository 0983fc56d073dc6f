"""Ramps of single inks out of readings, and smooth curves through them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import InputError
from strikeoff.base.problems import Problem
from strikeoff.base.words import counted
from strikeoff.colour.cielab import lab_to_xyz
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.weights import white_point
from strikeoff.inks.roles import special_role
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.measurement.repeats import merge_repeats
from strikeoff.qualify.smoothing import smooth_curve

FloatArray = NDArray[np.float64]

_LEAST_STEPS = 6
_LONGEST_GAP = 0.35
_NOTHING = 1e-4
# An ink that moves bare cloth by less than this part of what it moves white is judged over white.
_FAINT = 0.3
# Where it moves the cloth by less than this part, it is open whether it is to be judged over white.
_PALER = 0.6
# White and clear inks that move the cloth by less have no tone that may fall. [CIEDE2000]
_HIDDEN = 3.0
_FALLS = "ink does not grow stronger all along its ramp"
_FALL_ADVICE = "Set its limit below these steps, or read them again: swapped rows and dead nozzles look so"
# Common practice, no source.
_FALL_TO_END = (
    "Its strongest step is {step}. A ramp that falls from there to its end may be overinked, its solid paler "
    "than the steps before, or starved of ink: look at the print, and set the ink's limit to that step. Else "
    "read the steps again: swapped rows and dead nozzles look so too"
)


@dataclass(frozen=True)
class Ramp:
    """One ink alone, from bare cloth upwards; on dark cloth over full white, from white alone upwards.

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
    spectra : ndarray, shape (n, n_bands), optional
        Reflectance factors, where they were read. [-]
    over : str, optional
        White ink beneath all steps.
    """

    ink: str
    amount: FloatArray
    lab: FloatArray
    xyz: FloatArray
    ids: tuple[str, ...]
    spectra: FloatArray | None = None
    over: str | None = None

    def up_to(self, most: float) -> Ramp:
        """Return the steps up to an amount of ink."""
        kept = self.amount <= most + _NOTHING
        ids = tuple(name for name, keep in zip(self.ids, kept, strict=True) if keep)
        spectra = None if self.spectra is None else self.spectra[kept]
        return Ramp(self.ink, self.amount[kept], self.lab[kept], self.xyz[kept], ids, spectra, self.over)


def ink_ramps(readings: ReadingSet, over_white: bool | None = None) -> tuple[Ramp, ...]:
    """Return the ramp of each ink of readings.

    Parameters
    ----------
    readings : ReadingSet
        Any chart that holds single inks in steps and the bare cloth.
    over_white : bool, optional
        Whether inks print over white, where that was read; told from the ramps by default.

    Raises
    ------
    InputError
        Without bare cloth, or where an ink has no ramp: fewer than six steps, steps further apart
        than 35 % of ink, or none above 90 %.

    Notes
    -----
    On cloth so dark that an ink hardly shows, ramps over full white are taken if they were read: of all inks
    that show more there, for they print together.
    """
    single = merge_repeats(readings)
    lab = readings_lab(single)
    if not single.ink_columns or not (single.coverages.max(axis=1) <= _NOTHING).any():
        raise InputError(
            "ramps need the bare cloth",
            path=readings.source or None,
            expected="a patch without ink",
            advice="Read it and add it",
        )
    ramps = []
    pairs = _pairs(single, lab)
    over = any(_paler(*pair, _FAINT) for pair in pairs) if over_white is None else over_white
    for column, pair in enumerate(pairs):
        ramp = pair[1] if over and pair[1] is not None and _paler(*pair, 1.0) else pair[0]
        steps = ramp.amount
        gap = float(np.diff(steps).max(initial=0.0))
        seen = f"{counted(len(steps), 'step')} of this ink alone up to {steps[-1] * 100:.0f} %"
        seen += f", {gap * 100:.0f} % apart" if len(steps) > 1 else ""
        if len(steps) < _LEAST_STEPS or gap > _LONGEST_GAP or steps[-1] < 0.9:
            raise InputError(
                "no ramp of this ink",
                path=readings.source or None,
                where=f"column {readings.ink_columns[column]}",
                found=seen,
                expected=f"{_LEAST_STEPS} or more from bare cloth to at least 90 %, "
                f"at most {_LONGEST_GAP * 100:.0f} % apart",
                advice="Print and read a chart with ramps of each ink",
            )
        ramps.append(ramp)
    return tuple(ramps)


def white_doubt(readings: ReadingSet) -> tuple[bool | None, list[Problem]]:
    """Return whether colours are judged over white: None where no ramp tells or it is open; a note then.

    Parameters
    ----------
    readings : ReadingSet
        With ramps.
    """
    single = merge_repeats(readings)
    pairs = _pairs(single, readings_lab(single))
    known = [pair for pair in pairs if pair[1] is not None]
    if not known or any(_paler(*pair, _FAINT) for pair in known):
        return (True if known else None), []
    paler = [bare.ink for bare, over in known if _paler(bare, over, _PALER)]
    if not paler:
        return False, []
    note = Problem(
        "note",
        f"ink {', '.join(paler)}",
        "shows on the cloth, but far less than over white; judged on the cloth",
        expected=f"{100 * _PALER:.0f} % or more of what it shows over white",
        advice="If colours are to print over white (--process-ink of 'condition build'), write "
        "over_white = true into the file of ink limits and run this again; else over_white = false",
    )
    return None, [note]


def falling_inks(readings: ReadingSet) -> list[Problem]:
    """Return a warning for each ink whose steps alone do not grow away from the cloth all along.

    Parameters
    ----------
    readings : ReadingSet
        Any chart; inks with fewer than six steps alone are left out, and so are white and clear ones that
        the cloth hides.
    """
    single = merge_repeats(readings)
    lab = readings_lab(single)
    if not single.ink_columns or not (single.coverages.max(axis=1) <= _NOTHING).any():
        return []
    problems = []
    for column in range(len(single.ink_columns)):
        ramp = _ramp(single, lab, column)
        if len(ramp.amount) >= _LEAST_STEPS:
            tone = np.asarray(delta_e_2000(ramp.lab[0], ramp.lab))
            if special_role(ramp.ink) in ("white", "clear") and tone.max() < _HIDDEN:
                continue
            fall = _fall(ramp, tone, smooth_curve(ramp.amount, tone, rising=False).noise)
            if fall is not None:
                where, found, expected, advice = fall
                problems.append(Problem("warning", where, _FALLS, found, expected, advice))
    return problems


def _over_white(single: ReadingSet, lab: FloatArray, column: int) -> Ramp | None:
    """Return the ramp of an ink over full white; None for white itself, and where there is none."""
    names = single.inks
    for base in [k for k, name in enumerate(names) if special_role(name) == "white"]:
        full = np.flatnonzero(single.coverages[:, base] >= 1.0 - _NOTHING)
        if base == column or not len(full):
            continue
        over = single.take(full)
        over = replace(over, coverages=np.where(np.arange(len(names)) == base, 0.0, over.coverages))
        if (over.coverages.max(axis=1) <= _NOTHING).any():
            ramp = _ramp(over, lab[full], column)
            if len(ramp.amount) >= _LEAST_STEPS:
                return replace(ramp, over=names[base])
    return None


def _pairs(single: ReadingSet, lab: FloatArray) -> list[tuple[Ramp, Ramp | None]]:
    """Return the ramp of each ink on the cloth, and that over white where it was read."""
    columns = range(len(single.ink_columns))
    return [(_ramp(single, lab, column), _over_white(single, lab, column)) for column in columns]


def _paler(bare: Ramp, over: Ramp | None, part: float) -> bool:
    """Return whether an ink moves the cloth by less than some part of what it moves white."""
    if over is None:
        return False
    moved = [float(delta_e_2000(ramp.lab[0], ramp.lab[-1])) for ramp in (bare, over)]
    return moved[0] < part * moved[1]


def _ramp(single: ReadingSet, lab: FloatArray, column: int) -> Ramp:
    amounts = single.coverages
    bare = np.flatnonzero(amounts.max(axis=1) <= _NOTHING)
    others = np.delete(amounts, column, axis=1).max(axis=1, initial=0.0)
    rows = np.flatnonzero((others <= _NOTHING) & (amounts[:, column] > _NOTHING))
    rows = np.concatenate([bare[:1], rows[np.argsort(amounts[rows, column])]])
    white = white_point(single.setup.illuminant, single.setup.observer)
    xyz = lab_to_xyz(lab[rows], white) / white
    ids = tuple(single.sample_ids[row] for row in rows)
    spectra = None if single.spectra is None else single.spectra[rows]
    return Ramp(single.inks[column], amounts[rows, column], lab[rows], xyz, ids, spectra)


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
    fall = _fall(ramp, tone, noise)
    if fall is not None:
        where, found, expected, advice = fall
        raise InputError(_FALLS, where=where, found=found, expected=expected, advice=advice)


def _fall(ramp: Ramp, tone: FloatArray, noise: float) -> tuple[str, str, str, str] | None:
    """Return where a tone turns back, by how much, what noise explains and what to do; None if nowhere."""
    falls = np.maximum.accumulate(tone) - tone
    worst = int(np.argmax(falls))
    size = float(np.ptp(tone))
    allowed = max(4.0 * noise, 0.02 * size)
    if falls[worst] <= allowed:
        return None
    top = int(np.argmax(tone[: worst + 1]))
    named = [f"{ramp.amount[k] * 100:.0f} % ({ramp.ids[k]})" for k in (top, worst)]
    steps = " to ".join(named)
    to_end = top > 0 and bool((falls[worst:] > allowed).all())
    return (
        f"ink {ramp.ink}, steps {steps}",
        f"its tone falls by {100 * falls[worst] / size:.1f} % of the range",
        f"at most {100 * allowed / size:.1f} %",
        _FALL_TO_END.format(step=named[0]) if to_end else _FALL_ADVICE,
    )
