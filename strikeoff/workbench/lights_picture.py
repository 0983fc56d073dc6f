"""The picture of colours under several lights: as a drawing, or on a page with its table."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.files import write_text
from strikeoff.base.problems import Problem
from strikeoff.colour.cielab import xyz_to_lab
from strikeoff.colour.tristimulus import spectra_to_xyz
from strikeoff.colour.weights import Illuminant, white_point
from strikeoff.report.page import Section, render_page
from strikeoff.report.plots_lights import LightsView, lights_picture
from strikeoff.report.screen_colour import lab_to_srgb
from strikeoff.report.style import LABELS
from strikeoff.report.tables import points_html
from strikeoff.workbench.lights_table import lights_html

FloatArray = NDArray[np.float64]

_MOST = 24


def screen_patches(
    spectra: FloatArray, grid: FloatArray, lamps: Sequence[Illuminant], eye: str
) -> NDArray[np.uint8]:
    """Return spectra on the screen, shape (n, n_lamps, 3), for an eye adapted to each lamp."""
    shown = []
    for lamp in lamps:
        white = white_point(lamp, eye)
        shown.append(lab_to_srgb(xyz_to_lab(spectra_to_xyz(spectra, grid, lamp, eye), white), white)[0])
    return np.stack(shown, axis=1)


def write_picture(
    plot: str | Path,
    *,
    names: Sequence[str],
    lights: Sequence[str],
    printed: NDArray[np.uint8],
    wanted: NDArray[np.uint8] | None,
    figures: FloatArray,
    unsure: NDArray[np.bool_],
    table: Sequence[dict[str, Any]],
    facts: dict[str, str],
    reasons: Sequence[Problem],
    label: str,
) -> None:
    """Write the colours that differ most under the lights, decided ones first.

    Parameters
    ----------
    plot : str or Path
        ``.svg`` or ``.html``.
    names, lights : sequence of str
        Colours; lights, the reference first.
    printed, wanted : ndarray of uint8, shape (n, n_lights, 3)
        From `screen_patches`; ``wanted`` is None where there is nothing to compare with.
    figures : ndarray, shape (n, n_lights)
        CIEDE2000 of print and colour, or the inconstancy of the print.
    unsure : ndarray of bool, shape (n,)
        Colours that are undecided under other lights.
    table : sequence of dict
        Rows of the results.
    facts : dict
        Title and light in words.
    reasons : sequence of Problem
        Why colours are undecided, and what else is open; for the page.
    label : str
        What the figures rest on.
    """
    change = np.where(unsure, -1.0, figures[:, 1:].max(axis=1, initial=0.0))
    order = np.argsort(-change, kind="stable")
    shown = np.sort(order[:_MOST])
    shown = shown[np.argsort(unsure[shown], kind="stable")]
    sure = figures[~unsure]
    empty = np.full(len(lights), np.nan)
    empty[0] = figures[:, 0].mean()
    most = ", those that change most" if int((~unsure).sum()) >= _MOST else ""
    view = LightsView(
        tuple(names[row] for row in shown),
        tuple(lights),
        printed[shown],
        None if wanted is None else wanted[shown],
        figures[shown],
        "CII of the print" if wanted is None else "CIEDE2000",
        unsure[shown],
        sure.mean(axis=0) if len(sure) else empty,
        sure.max(axis=0) if len(sure) else np.where(np.isnan(empty), empty, figures[:, 0].max()),
    )
    some = "" if len(shown) == len(names) else f": {len(shown)} of {len(names)}{most}"
    drawing = lights_picture(view, f"Colours under other lights{some}", label=LABELS[label][0])
    if Path(plot).suffix.lower() == ".svg":
        write_text(plot, str(drawing))
        return
    words = lights_html(table, len(names))
    if reasons:
        words = points_html([_sentence(reason) for reason in reasons]) + words
    sections = [
        Section("patches", "Patches", str(drawing), label, (drawing,)),
        Section("figures", "Figures", words, label),
    ]
    write_text(plot, render_page(facts["title"], facts["lead"], sections))


def _sentence(reason: Problem) -> str:
    """Return what a person reads of a problem."""
    found = f" ({reason.found})" if reason.found else ""
    advice = f" {reason.advice}." if reason.advice else ""
    return f"{reason.where[:1].upper()}{reason.where[1:]}: {reason.message}{found}.{advice}"
