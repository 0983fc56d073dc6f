"""Where in colour space a model errs."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from strikeoff.base.errors import InputError
from strikeoff.report.figures import Drawing, svg_figure
from strikeoff.report.style import INK, MUTED

# Where inks of these names lie in CIELAB: magenta near 0, cyan near 230 degrees.
_HUES = (
    "0°\nmagenta",
    "45°\nred",
    "90°\nyellow",
    "135°\nleaf",
    "180°\ngreen",
    "225°\ncyan",
    "270°\nblue",
    "315°\nviolet",
)
_LIGHT_STEP = 20.0
_GREY_CHROMA = 8.0


def error_map(lab: ArrayLike, errors: ArrayLike, *, ident: str = "error-map-drawing") -> Drawing:
    """Return mean errors by lightness and hue, greys apart, and by lightness and chroma.

    Parameters
    ----------
    lab : array_like, shape (n, 3)
        Colours of the patches.
    errors : array_like, shape (n,)
        Their held-out errors. [CIEDE2000]
    ident : str
        See `svg_figure`.

    Returns
    -------
    Drawing
        SVG.

    Raises
    ------
    InputError
        When there are no patches, or unlike numbers of them.
    """
    colours, values = np.asarray(lab, dtype=np.float64), np.asarray(errors, dtype=np.float64)
    if len(colours) == 0 or colours.shape != (len(values), 3):
        raise InputError("errors do not fit their colours", found=(colours.shape, values.shape))
    chroma = np.hypot(colours[:, 1], colours[:, 2])
    hue = np.degrees(np.arctan2(colours[:, 2], colours[:, 1])) % 360.0
    step = 360.0 / len(_HUES)
    sector = ((hue + step / 2) // step).astype(int) % len(_HUES) + 1
    sector[chroma < _GREY_CHROMA] = 0
    level = np.clip(colours[:, 0] // _LIGHT_STEP, 0, 4).astype(int)
    ring = np.minimum(chroma // _LIGHT_STEP, 4).astype(int)

    def draw(figure: Any) -> None:
        left, right = figure.subplots(1, 2, width_ratios=[9, 5], sharey=True)
        top = max(float(np.quantile(values, 0.98)), 1e-6)
        _heat(left, level, sector, values, [f"grey\nC*<{_GREY_CHROMA:g}", *_HUES], top)
        _heat(right, level, ring, values, ["0–20", "20–40", "40–60", "60–80", "80+"], top)
        left.set(title="By hue", ylabel="L*", xlabel="CIELAB hue")
        right.set(title="By chroma", xlabel="C*")
        figure.suptitle(
            "mean CIEDE2000; below it: patches", fontsize="small", color=MUTED, x=0.99, ha="right"
        )
        left.set_yticks(range(5), ["0–20", "20–40", "40–60", "60–80", "80–100"])

    worst = float(values.max())
    words = f"Mean held-out CIEDE2000 by lightness, hue and chroma; the largest single error is {worst:.2f}."
    return svg_figure(ident, "Error map", words, (9.6, 4.8), draw)


def _heat(axes: Any, rows: Any, columns: Any, values: Any, names: list[str], top: float) -> None:
    table = np.full((5, len(names)), np.nan)
    for row in range(5):
        for column in range(len(names)):
            inside = (rows == row) & (columns == column)
            if inside.any():
                table[row, column] = values[inside].mean()
                shade = "#ffffff" if table[row, column] > 0.6 * top else INK
                words = f"{table[row, column]:.2f}\n{int(inside.sum())}"
                axes.text(column, row, words, ha="center", va="center", fontsize="small", color=shade)
    axes.grid(visible=False)
    axes.imshow(table, origin="lower", aspect="auto", cmap="YlOrBr", vmin=0.0, vmax=top)
    axes.set_xticks(range(len(names)), names, fontsize="small")
