"""Plots of inks: tone curves, black curve, ink use."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from strikeoff.base.errors import InputError
from strikeoff.report.figures import Drawing, svg_figure
from strikeoff.report.ink_lines import MARKS, end_names, ink_line, legend_below, marks
from strikeoff.report.style import INK, MUTED

FloatArray = NDArray[np.float64]

# An ink below this takes no part. [%]
_USED = 0.05
# About how wide a small letter, and the lines of the black curve, are. [points]
_LETTER_PT, _ACROSS_PT = 5.6, 600.0


@dataclass(frozen=True)
class ToneCurve:
    """One ink's ramp.

    Attributes
    ----------
    name : str
        Ink.
    colour : str
        Its own colour on the screen, ``#rrggbb``.
    nominal : ndarray, shape (n,)
        Ink asked for, 0-1. [-]
    tone_value : ndarray, shape (n,), or None
        Tone value of ISO 20654, 0-1, where the ink has one. [-]
    distance : ndarray, shape (n,)
        Colour distance from the cloth.
    points : tuple of ndarray, optional
        Steps as read: ink asked for, tone value and colour distance, each of shape (m,); the tone value is
        not drawn where the ink has none.
    """

    name: str
    colour: str
    nominal: FloatArray
    tone_value: FloatArray | None
    distance: FloatArray
    points: tuple[FloatArray, FloatArray, FloatArray] | None = None


def tone_curves(
    curves: Sequence[ToneCurve],
    *,
    distance_label: str = "CIEDE2000 from cloth",
    ident: str = "tone-curves-drawing",
) -> Drawing:
    """Return two panels: tone value and colour distance from the cloth over nominal ink.

    Parameters
    ----------
    curves : sequence of ToneCurve
        One per ink.
    distance_label : str
        Formula of the distances.
    ident : str
        See `svg_figure`.

    Returns
    -------
    str
        SVG.
    """
    for c in curves:
        _finite(c.nominal, c.distance, *(() if c.tone_value is None else (c.tone_value,)), *(c.points or ()))

    def draw(figure: Any) -> None:
        left, right = figure.subplots(1, 2)
        (even,) = left.plot([0, 100], [0, 100], color=MUTED, lw=1, ls=(0, (4, 3)))
        samples: list[Any] = [even]
        for number, curve in enumerate(curves):
            mark = MARKS[number % len(MARKS)]
            line = ink_line(right, 100 * curve.nominal, curve.distance, curve.colour, curve.name)
            if curve.tone_value is not None:
                ink_line(left, 100 * curve.nominal, 100 * curve.tone_value, curve.colour, curve.name)
            if curve.points is None:
                samples.append(line)
                continue
            asked, tone, far = curve.points
            samples.append((line, marks(right, 100 * asked, far, curve.colour, mark)))
            if curve.tone_value is not None:
                marks(left, 100 * asked, 100 * tone, curve.colour, mark)
        end_names(right, [(curve.name, float(curve.distance[-1])) for curve in curves])
        left.set(title="Tone value (ISO 20654)", xlabel="ink asked for [%]", ylabel="tone value [%]")
        left.set(xlim=(0, 100), ylim=(0, None))
        right.set(title="Colour distance", xlabel="ink asked for [%]", ylabel=distance_label)
        right.set(xlim=(0, 100), ylim=(0, None))
        legend_below(figure, samples, ["even tone", *(curve.name for curve in curves)])

    names = ", ".join(curve.name for curve in curves)
    return svg_figure(
        ident, "Tone curves", f"Tone value and colour distance from the cloth for {names}.", (9.6, 4.3), draw
    )


def head_curves(
    names: Sequence[str],
    colours: Sequence[str],
    asked: ArrayLike,
    laid_down: ArrayLike,
    *,
    dashed: Sequence[bool] = (),
    ident: str = "head-curves-drawing",
) -> Drawing:
    """Return what each head lays down over the ink that is asked for.

    Parameters
    ----------
    names, colours : sequence of str
        Per physical ink; colours as ``#rrggbb``.
    asked : array_like, shape (n,)
        Calibrated ink, 0-1. [-]
    laid_down : array_like, shape (n, n_inks)
        Share of the ink's full tone, 0-1. [-]
    dashed : sequence of bool
        Inks whose lines are dashed, as light inks are; none by default.
    ident : str
        See `svg_figure`.

    Returns
    -------
    Drawing
    """
    x, y = 100 * np.asarray(asked, dtype=np.float64), 100 * np.asarray(laid_down, dtype=np.float64)
    if y.shape != (x.size, len(names)) or len(colours) != len(names):
        raise InputError("inks and names disagree", found=y.shape, expected=f"({x.size}, {len(names)})")
    _finite(x, y)
    styles = ["--" if dash else "-" for dash in dashed or [False] * len(names)]

    def draw(figure: Any) -> None:
        axes = figure.subplots()
        (unchanged,) = axes.plot([0, 100], [0, 100], color=MUTED, lw=1, ls=(0, (1, 2)))
        samples: list[Any] = [unchanged]
        for k, name in enumerate(names):
            line = ink_line(axes, x, y[:, k], colours[k], name, style=styles[k])
            # Every line has its marks at places of its own.
            rows = np.arange(4 + 2 * k % 10, len(x), 10)
            samples.append((line, marks(axes, x[rows], y[rows, k], colours[k], MARKS[k % len(MARKS)])))
        axes.set(xlabel="ink asked for [%]", ylabel="laid down [% of full tone]")
        axes.set(xlim=(0, 100), ylim=(0, max(100.0, float(y.max())) * 1.03))
        legend_below(figure, samples, ["unchanged", *names])

    said = f"Ink laid down over ink asked for: {', '.join(names)}."
    return svg_figure(ident, "Curves to the heads", said, (9.6, 4.3), draw)


def black_curve(
    lightness: ArrayLike,
    inks: ArrayLike,
    names: Sequence[str],
    colours: Sequence[str],
    *,
    total_limit: float | None = None,
    sums: ArrayLike | None = None,
    sums_words: str = "weighted",
    white: str = "the cloth",
    ident: str = "black-curve-drawing",
) -> Drawing:
    """Return how neutrals are made: each ink and the sum over lightness.

    Parameters
    ----------
    lightness : array_like, shape (n,)
        L* of the neutrals.
    inks : array_like, shape (n, n_inks)
        Calibrated ink, 0-1. [-]
    names, colours : sequence of str
        Per ink; colours as ``#rrggbb``.
    total_limit : float, optional
        Total ink limit as a sum of 0-1. [-]
    sums : array_like, shape (n,), optional
        What the inks count in the total, where that is not their plain sum. [-]
    sums_words : str
        How they do.
    white : str
        What the lightness is relative to.
    ident : str
        See `svg_figure`.

    Returns
    -------
    str
        SVG.
    """
    x, amounts = np.asarray(lightness, dtype=np.float64), np.asarray(inks, dtype=np.float64)
    if amounts.shape != (x.size, len(names)) or len(colours) != len(names):
        raise InputError("inks and names disagree", found=amounts.shape, expected=f"({x.size}, {len(names)})")
    _finite(x, amounts)
    order = np.argsort(x)
    x, amounts = x[order], 100 * amounts[order]
    total = amounts.sum(axis=1) if sums is None else 100 * np.asarray(sums, dtype=np.float64)[order]
    summed = "Total ink" if sums is None else f"Total ink, {sums_words}"

    def draw(figure: Any) -> None:
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=[1, 1.9])
        upper.fill_between(x, 0, total, color="#e4e0d6")
        upper.plot(x, total, color=INK, lw=2)
        top = total.max()
        if total_limit is not None:
            upper.axhline(100 * total_limit, color="#a61b1b", lw=1.5, ls=(0, (5, 3)))
            upper.annotate(
                f"limit {100 * total_limit:.4g} %",
                (0.995, 100 * total_limit),
                xycoords=("axes fraction", "data"),
                xytext=(0, 3),
                textcoords="offset points",
                ha="right",
                color="#a61b1b",
            )
            top = max(top, 100 * total_limit)
        upper.set(title=summed, ylabel="sum [%]", ylim=(0, top * 1.25))
        used = [k for k in range(len(names)) if amounts[:, k].max() >= _USED]
        for k in used:
            ink_line(lower, x, amounts[:, k], colours[k], names[k])
        lower.set(
            title="Each ink",
            xlabel=f"L* of the neutral, relative to {white}  (dark to light)",
            ylabel="ink [%]",
        )
        # Room for names before the lines begin.
        share = min(0.3, (_LETTER_PT * max((len(names[k]) for k in used), default=0) + 12.0) / _ACROSS_PT)
        room = max(0.07, share / (1.0 - share)) * float(x[-1] - x[0])
        lower.set(ylim=(0, max(100.0, float(amounts.max())) * 1.1), xlim=(float(x[0]) - room, float(x[-1])))
        if used:
            legend_below(figure, *lower.get_legend_handles_labels())
            end_names(lower, [(names[k], float(amounts[0, k])) for k in used], start=float(x[0]))

    return svg_figure(
        ident, "Black curve", "Amount of each ink and their sum along the neutral axis.", (9.6, 5.6), draw
    )


def ink_use(
    names: Sequence[str], colours: Sequence[str], laydown_ml_m2: ArrayLike, *, ident: str = "ink-use-drawing"
) -> str:
    """Return bars of the ink laid down per area.

    Parameters
    ----------
    names, colours : sequence of str
        Per ink; colours as ``#rrggbb``.
    laydown_ml_m2 : array_like, shape (n_inks,)
        Mean over the printed area. [ml/m2]
    ident : str
        See `svg_figure`.

    Returns
    -------
    str
        SVG.
    """
    amounts = np.asarray(laydown_ml_m2, dtype=np.float64)
    _finite(amounts)
    if amounts.shape != (len(names),) or len(colours) != len(names) or (amounts < 0).any():
        raise InputError("ink use does not fit the inks", found=amounts.tolist(), expected="one each, >= 0")

    def draw(figure: Any) -> None:
        axes = figure.subplots()
        rows = np.arange(len(names))
        axes.barh(rows, amounts, color=list(colours), edgecolor=INK, linewidth=0.8, height=0.66)
        axes.set_yticks(rows, list(names))
        axes.invert_yaxis()
        axes.grid(axis="y", visible=False)
        for row, amount in zip(rows, amounts, strict=True):
            axes.annotate(
                f"{amount:.2f}", (amount, row), xytext=(6, 0), textcoords="offset points", va="center"
            )
        axes.set(xlabel="ink laid down [ml/m²]", xlim=(0, max(float(amounts.max()), 1e-6) * 1.15))
        axes.set_title(f"Together {amounts.sum():.2f} ml/m²")

    height = 1.3 + 0.36 * len(names)
    words = "; ".join(f"{name} {amount:.2f}" for name, amount in zip(names, amounts, strict=True))
    return svg_figure(ident, "Ink use in millilitres per square metre", words, (7.6, height), draw)


def _finite(*arrays: ArrayLike) -> None:
    for array in arrays:
        if not np.isfinite(np.asarray(array, dtype=np.float64)).all():
            raise InputError("a number to be plotted is not finite")
