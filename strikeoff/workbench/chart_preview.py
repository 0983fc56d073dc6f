"""How charts look on a screen: amounts of ink as the finished tones that they stand for, as far as known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.chart.screen_inks import layered_colours, screen_colours
from strikeoff.condition.record import Condition
from strikeoff.inks.spaces import InkSpaces
from strikeoff.inks.tables import FULL, NODES
from strikeoff.qualify.linearise import AIMS
from strikeoff.report.screen_colour import lab_to_srgb, srgb_to_lab

FloatArray = NDArray[np.float64]
InkSpace = Literal["calibrated", "laid-down"]


@dataclass(frozen=True)
class ChartPreview:
    """What a preview shows.

    Attributes
    ----------
    colours : callable
        Ink amounts of the chart, shape (n, n_inks), to red, green and blue, 0-1, shape (n, 3).
    words : str
        What they are worth, for a line in the preview.
    """

    colours: Callable[[FloatArray], FloatArray]
    words: str


def condition_preview(record: Condition, space: InkSpace) -> ChartPreview:
    """Return colours by the model of a condition; amounts before its tone curves are taken back first."""

    def seen(tones: FloatArray) -> FloatArray:
        return lab_to_srgb(record.native.lab(tones), record.native.view.white)[0] / 255.0

    if space == "calibrated":
        return ChartPreview(seen, "Preview: colours as the model of the condition predicts them")
    stale = ", which do not hold any more" if record.spaces.stale else ""
    return ChartPreview(
        lambda amounts: seen(record.limits.pulled_in(tones_of(amounts, record.spaces))),
        f"Preview: colours by the model of the condition, taken back through its tone curves{stale}; more "
        "ink than its limits hold looks like the most that they do",
    )


def curves_preview(spaces: InkSpaces, space: InkSpace, names: tuple[str, ...]) -> ChartPreview:
    """Return colours by the tones that curves aim at; without tone curves nothing is known of tones."""
    if spaces.aim == "identity":
        return names_preview(names)
    aim = spaces.aim if spaces.aim in AIMS else "colour"

    def seen(amounts: FloatArray) -> FloatArray:
        tones = amounts if space == "calibrated" else tones_of(amounts, spaces)
        return layered_colours(_aimed(tones, names, aim), names)

    stale = ", which do not hold any more" if spaces.stale else ""
    return ChartPreview(
        seen,
        f"Preview: tones by the aim of the tone curves ({spaces.aim}){stale}; colours of the inks are "
        "approximate",
    )


def names_preview(names: tuple[str, ...]) -> ChartPreview:
    """Return colours by the names of inks alone."""
    return ChartPreview(
        lambda amounts: screen_colours(amounts, names),
        "Preview: no tone curves are known, so colours tell inks apart and not how dark they print",
    )


def tones_of(amounts: FloatArray, spaces: InkSpaces) -> FloatArray:
    """Return calibrated ink of amounts before the tone curves, shape (n, n_inks); full ink beyond their end.

    Parameters
    ----------
    amounts : ndarray, shape (n, n_inks)
        Amounts of each colour, 0-1. [-]
    spaces : InkSpaces
        Holds the tone curves.
    """
    even = np.linspace(0.0, 1.0, NODES)
    columns = []
    for column, curve in zip(np.asarray(amounts).T, spaces.tone, strict=True):
        laid, first = np.unique(curve / FULL, return_index=True)
        columns.append(np.interp(column, laid, even[first]))
    return np.stack(columns, axis=1)


def _aimed(tones: FloatArray, names: tuple[str, ...], aim: str) -> FloatArray:
    """Return amounts of screen ink that have the tones, each by itself."""
    even = np.linspace(0.0, 1.0, NODES)
    columns = []
    for k, column in enumerate(tones.T):
        ramp = np.zeros((NODES, len(names)))
        ramp[:, k] = even
        lab = srgb_to_lab(screen_colours(ramp, names))
        reach = np.ptp(lab, axis=0).max()
        tone = np.maximum.accumulate(AIMS[aim](lab, lab[0], lab[-1])) if reach > 1.0 else even
        columns.append(np.interp(column, tone, even))
    return np.stack(columns, axis=1)
