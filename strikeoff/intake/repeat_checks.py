"""Whether a repeat goes on over its edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.intake.colours import display_lab
from strikeoff.intake.pictures import enlarged, shown
from strikeoff.intake.records import Finding
from strikeoff.intake.subject import Subject

FloatArray = NDArray[np.float64]

# A join shows when colours jump by more than this, and by more than nearly all neighbours inside do.
# Common practice; no source.
_VISIBLE_DE = 2.0
_INSIDE = 1.5
_WINDOW_PX = 96


@dataclass(frozen=True)
class Join:
    """How colours jump over one pair of edges.

    Attributes
    ----------
    name : str
        ``across`` (right edge to left one) or ``along`` (lower to upper).
    jump_de : float
        Mean difference over the edge. [CIELAB units]
    over_inside : float
        Mean jump of the samples over the 99th percentile of neighbours inside. [-]
    worst : int
        Pixel along the edge where it is worst.
    """

    name: str
    jump_de: float
    over_inside: float
    worst: int

    @property
    def shows(self) -> bool:
        """Whether the join will be seen."""
        return self.jump_de > _VISIBLE_DE and self.over_inside > _INSIDE


def joins(subject: Subject) -> tuple[Join, ...]:
    """Return how well both pairs of edges meet under the repeat; none where nothing repeats."""
    kind, survey = subject.wish.repeat, subject.survey
    if kind == "none":
        return ()
    left, top = _met(subject)
    return (
        _join(subject, "across", survey.right[:, -1], left[:, 0], survey.across_jumps),
        _join(subject, "along", survey.bottom[-1], top[0], survey.along_jumps),
    )


def _met(subject: Subject) -> tuple[FloatArray, FloatArray]:
    """Return the edges that the right and the lower edge meet: shifted by half a repeat where it is so."""
    survey, kind = subject.survey, subject.wish.repeat
    left, top = survey.left, survey.top
    if kind == "half-drop":
        left = np.roll(left, left.shape[0] // 2, axis=0)
    elif kind == "brick":
        top = np.roll(top, top.shape[1] // 2, axis=1)
    return left, top


def _join(subject: Subject, name: str, last: FloatArray, first: FloatArray, inside: FloatArray) -> Join:
    over = np.linalg.norm(
        display_lab(subject.artwork, last[None])[0] - display_lab(subject.artwork, first[None])[0], axis=1
    )
    usual = float(np.percentile(inside, 99)) if len(inside) else 0.0
    jump = float(np.abs(last - first).mean())
    window = np.convolve(over, np.ones(min(_WINDOW_PX, len(over))), mode="same")
    return Join(name, float(over.mean()), jump / max(usual, 1e-3), int(window.argmax()))


def repeat_findings(subject: Subject) -> list[Finding]:
    """Say where a repeat breaks at its edges."""
    found = []
    for join in joins(subject):
        if not join.shows:
            continue
        found.append(
            Finding(
                "repeat",
                "error",
                f"the repeat breaks {join.name}: colours jump by {join.jump_de:.1f} at the "
                f"{'right and left' if join.name == 'across' else 'lower and upper'} edge",
                "Ask for the repeat cut to the pixel, or check how it repeats",
                found=f"{join.over_inside:.1f} times what neighbours differ inside",
                expected=f"a jump below {_VISIBLE_DE:g}, or below {_INSIDE:g} times those inside",
                picture=_join_picture(subject, join),
                caption="The join runs through the middle",
            )
        )
    return found


def _join_picture(subject: Subject, join: Join) -> NDArray[np.uint8]:
    survey = subject.survey
    left, top = _met(subject)
    if join.name == "across":
        both = np.concatenate([survey.right, left], axis=1)
        start = int(np.clip(join.worst - _WINDOW_PX // 2, 0, max(0, len(both) - _WINDOW_PX)))
        piece = both[start : start + _WINDOW_PX]
    else:
        both = np.concatenate([survey.bottom, top], axis=0)
        start = int(np.clip(join.worst - _WINDOW_PX // 2, 0, max(0, both.shape[1] - _WINDOW_PX)))
        piece = both[:, start : start + _WINDOW_PX]
    return enlarged(shown(display_lab(subject.artwork, piece)), 384)
