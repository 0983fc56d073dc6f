"""Plots of how good it is: neutral axis, errors of the model, verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from strikeoff.base.errors import InputError
from strikeoff.report.figures import Drawing, svg_figure
from strikeoff.report.style import ACCENT, INK, MUTED, OUTCOME_COLOURS, SECOND

# Marks along a line, so that they stay apart.
_MARKS = 20


def neutral_axis(
    lab: ArrayLike,
    aim_lab: ArrayLike | None = None,
    *,
    band: float = 1.0,
    aim_words: str = "neutral",
    ident: str = "neutral-axis-drawing",
) -> Drawing:
    """Return lightness and cast along a grey ramp.

    Parameters
    ----------
    lab : array_like, shape (n, 3)
        The greys, in the order of the ramp.
    aim_lab : array_like, shape (n, 3), optional
        Their aims; default neutral at the same lightness.
    band : float
        Half height of the band around the aim in a* and b*.
    aim_words : str
        What the aim is, for the legend.
    ident : str
        See `svg_figure`.

    Returns
    -------
    str
        SVG.
    """
    greys = np.asarray(lab, dtype=np.float64)
    aims = greys * [1, 0, 0] if aim_lab is None else np.asarray(aim_lab, dtype=np.float64)
    if greys.ndim != 2 or greys.shape[1] != 3 or aims.shape != greys.shape or len(greys) < 2:
        raise InputError("greys and aims disagree", found=(greys.shape, aims.shape), expected="(n, 3) each")
    if not (np.isfinite(greys).all() and np.isfinite(aims).all()):
        raise InputError("a number to be plotted is not finite")
    order = np.argsort(aims[:, 0])
    greys, aims = greys[order], aims[order]
    x = aims[:, 0]
    cast = greys[:, 1:] - aims[:, 1:]
    every = max(1, len(x) // _MARKS)

    def draw(figure: Any) -> None:
        if aim_lab is None:
            axes = figure.subplots()
        else:
            upper, axes = figure.subplots(2, 1, sharex=True, height_ratios=[1, 1.6])
            gap = greys[:, 0] - x
            upper.axhline(0, color=MUTED, lw=1)
            upper.plot(x, gap, "o-", color=INK, lw=1.6, ms=4, markevery=every)
            reach = max(2.0 * band, float(np.abs(gap).max()) * 1.15)
            upper.set(title="Lightness", ylabel="L* off aim", ylim=(-reach, reach))
        axes.axhspan(-band, band, color="#e3efe6", zorder=0.5, label=f"aim ±{band:g}")
        axes.axhline(0, color=MUTED, lw=1)
        axes.plot(x, cast[:, 0], "o-", color="#a61b4a", lw=2, ms=5, markevery=every, label="a*  (up: redder)")
        axes.plot(
            x, cast[:, 1], "s--", color="#2b6ca3", lw=2, ms=5, markevery=every, label="b*  (up: yellower)"
        )
        reach = max(2.0 * band, float(np.abs(cast).max()) * 1.25)
        axes.set(title="Cast", xlabel="L* of the grey  (dark to light)", ylabel=f"a*, b* off {aim_words}")
        axes.set(ylim=(-reach, reach))
        figure.legend(*axes.get_legend_handles_labels(), loc="outside lower center", ncols=3, frameon=False)

    worst = float(np.abs(cast).max())
    return svg_figure(
        ident, "Neutral axis", f"Cast of greys from dark to light; at most {worst:.2f}.", (9.6, 4.9), draw
    )


def error_histogram(
    model: ArrayLike,
    baseline: ArrayLike | None = None,
    *,
    model_name: str = "this model",
    baseline_name: str = "cubic radial basis",
    ident: str = "model-error-drawing",
) -> Drawing:
    """Return how often held-out patches are off by how much, against a baseline.

    Parameters
    ----------
    model, baseline : array_like, shape (n,)
        CIEDE2000 of held-out patches.
    model_name, baseline_name : str
        For the legend.
    ident : str
        See `svg_figure`.

    Returns
    -------
    str
        SVG.
    """
    sets = [(model_name, np.asarray(model, dtype=np.float64), ACCENT)]
    if baseline is not None:
        sets.append((baseline_name, np.asarray(baseline, dtype=np.float64), SECOND))
    for name, values, _ in sets:
        if values.ndim != 1 or values.size == 0 or not np.isfinite(values).all() or (values < 0).any():
            raise InputError("errors of a model must be finite and not negative", where=name)
    far = max(float(np.quantile(values, 0.99)) for _, values, _ in sets)
    edges = np.linspace(0.0, max(far * 1.1, 1e-3), 31)

    def draw(figure: Any) -> None:
        axes = figure.subplots()
        top = 0.0
        for index, (name, values, colour) in enumerate(sets):
            rank = int(np.ceil(0.95 * values.size)) - 1
            late = float(np.sort(values)[rank])
            share = 100.0 * np.histogram(np.minimum(values, edges[-1]), edges)[0] / values.size
            top = max(top, float(share.max()))
            text = f"{name}: mean {values.mean():.2f}, 95 % {late:.2f}, worst {values.max():.2f}"
            axes.stairs(
                share, edges, color=colour, lw=2, fill=index == 0, alpha=0.45 if index == 0 else 1, label=text
            )
            axes.axvline(late, color=colour, lw=1.6, ls=(0, (4, 3)))
        axes.set(xlabel="CIEDE2000 of held-out patches (dashed: 95 %; last bar: all beyond)")
        axes.set(ylabel="patches [%]", xlim=(0, edges[-1]), ylim=(0, top * 1.32))
        axes.legend(loc="upper right")

    words = "; ".join(f"{name}: mean {values.mean():.2f}" for name, values, _ in sets)
    return svg_figure(ident, "Error of the colour model", words, (9.6, 4.2), draw)


def verdict_chart(items: Sequence[Mapping[str, Any]], *, ident: str = "verdict-chart-drawing") -> str:
    """Return each item's value with its uncertainty as a share of its limit.

    Parameters
    ----------
    items : sequence of mapping
        With ``name``, ``value``, ``uncertainty``, ``limit``, ``outcome``, as a verdict's record has them.
    ident : str
        See `svg_figure`.

    Returns
    -------
    str
        SVG.
    """
    shown = [item for item in items if item["value"] is not None]

    def draw(figure: Any) -> None:
        axes = figure.subplots()
        axes.axvspan(0, 100, color="#eaf2ec", zorder=0.5)
        axes.axvline(100, color=INK, lw=2)
        far = 130.0
        for row, item in enumerate(shown):
            share = 100.0 * item["value"] / item["limit"]
            reach = 100.0 * item["uncertainty"] / item["limit"]
            colour = OUTCOME_COLOURS[item["outcome"]]
            axes.errorbar(
                [share], [row], xerr=[[min(reach, share)], [reach]], fmt="none", ecolor=colour, elinewidth=3,
                capsize=6, capthick=2,
            )  # fmt: skip
            marker = {"pass": "o", "fail": "X", "undecided": "D"}[item["outcome"]]
            axes.plot([share], [row], marker, ms=10, mfc=colour, mec="white", mew=1.2)
            far = max(far, share + reach)
        axes.set_yticks(range(len(shown)), [item["name"] for item in shown])
        axes.set_ylim(len(shown) - 0.4, -0.6)
        axes.grid(axis="y", visible=False)
        axes.set(xlim=(0, far * 1.05), xlabel="share of the limit [%]; whisker: ±U")
        axes.annotate(
            "limit", (100, 1.0), xycoords=("data", "axes fraction"), xytext=(5, -2),
            textcoords="offset points", va="top", fontweight="bold",
        )  # fmt: skip

    words = "; ".join(f"{item['name']}: {item['outcome']}" for item in shown)
    return svg_figure(ident, "Verdict by item", words, (7.6, 1.3 + 0.42 * max(1, len(shown))), draw)
