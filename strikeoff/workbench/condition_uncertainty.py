"""How sure a condition is: scatter of readings, radii of predictions, and what the radii are worth."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from strikeoff.base.words import counted
from strikeoff.condition.record import Condition
from strikeoff.measurement.noise import DEFAULT_WANTED, patch_noise
from strikeoff.measurement.records import ReadingSet
from strikeoff.model.error_bars import covered_radius
from strikeoff.model.validation import Validation, held_out_rows
from strikeoff.report.page import Section
from strikeoff.report.tables import facts_html, paragraph, table_html

#: Recipes below which a chart tells too little of its own error bars. Common practice, no source.
FEW_RECIPES = 100
_PROMISED = 0.9
_NORMAL_95 = 1.96
_ORDER = ("all", "smallest radii", "middle radii", "largest radii", "neutrals", "darks")


def bar_groups(names: Iterable[str]) -> list[str]:
    """Return the groups of error bars in the order in which they are told, unknown ones last."""
    return sorted(names, key=lambda name: (*_ORDER, name).index(name))


def uncertainty_section(condition: Condition, readings: ReadingSet | None) -> Section:
    """Scatter of readings and radii of predictions."""
    facts = []
    if readings is not None and condition.validation is not None:
        noise = patch_noise(readings)
        source = "assumed: nothing was read twice"
        if noise.source == "repeats":
            low, high = scatter_interval(noise.reading_de, noise.freedom)
            source = f"{counted(noise.freedom, 'repeat')}, 95\u00a0% interval {low:.2f} to {high:.2f}"
        facts += [
            ("scatter of one reading", f"{noise.reading_de:.2f} CIELAB ({source})"),
            ("95 % half-width of a patch, median", f"{np.median(noise.uncertainty):.2f} CIELAB"),
            (
                f"recipes to read again for ±{DEFAULT_WANTED:g} CIELAB",
                f"{int((noise.more > 0).sum()):,} of {len(noise.more):,}",
            ),
        ]
    body = ""
    if condition.validation is not None:
        recipes = condition.forward.recipes
        radius = covered_radius(
            condition.forward, condition.native, recipes, condition.validation.radius_scale
        )
        facts += [
            ("90 % radius at the patches, median", f"{np.median(radius):.2f} CIEDE2000"),
            ("90 % radius at the patches, largest", f"{radius.max():.2f} CIEDE2000"),
        ]
        body = _coverage(condition.validation, len(recipes))
    nothing = (
        "Nothing is known: these colours were computed, not read, so they have neither scatter nor radius."
    )
    body = (facts_html(facts) if facts else paragraph(nothing)) + body
    return Section("uncertainty", "Uncertainty", body, condition.label)


def few_recipes_words(count: int) -> str | None:
    """Return what few recipes mean for error bars, or None where there are enough."""
    if count >= FEW_RECIPES:
        return None
    low, high = share_interval_wilson_1927(_PROMISED, count)
    return (
        f"With {count} recipes the radii themselves are uncertain: right ones would hold anything from "
        f"{100 * low:.0f} to {100 * high:.0f} % of so few errors by chance alone. Take them as a rough "
        f"guide, and read {FEW_RECIPES} recipes or more before an order rests on them."
    )


def scatter_interval(scatter: float, freedom: int) -> tuple[float, float]:
    """Return the 95 % interval of a scatter that was found from so many repeats.

    Few repeats tell a scatter roughly, and with it how many readings a mean takes.

    Parameters
    ----------
    scatter : float
        Root mean square.
    freedom : int
        Degrees of freedom, 1 or more.

    Returns
    -------
    tuple of float
        Lower and upper end, of the unit of the scatter.

    Notes
    -----
    By the chi-square distribution, as if the scatter went one way in colour space only: on three axes alike
    the interval would be narrower.

    Examples
    --------
    >>> [round(end, 2) for end in scatter_interval(0.24, 8)]
    [0.16, 0.46]
    """
    from scipy.special import chdtri

    low, high = (scatter * math.sqrt(freedom / float(chdtri(freedom, tail))) for tail in (0.025, 0.975))
    return low, high


def share_interval_wilson_1927(share: float, count: float) -> tuple[float, float]:
    """Return the 95 % interval of a share that was counted in so many independent cases.

    Parameters
    ----------
    share : float
        0-1. [-]
    count : float
        Cases, above 0.

    Returns
    -------
    tuple of float
        Lower and upper end, 0-1. [-]

    References
    ----------
    E. B. Wilson, J. Am. Stat. Assoc. 22 (1927), 209-212.

    Examples
    --------
    >>> [round(end, 3) for end in share_interval_wilson_1927(0.9, 60)]
    [0.799, 0.953]
    """
    squared = _NORMAL_95**2
    middle = share + squared / (2 * count)
    half = _NORMAL_95 * math.sqrt(share * (1 - share) / count + squared / (4 * count * count))
    scale = 1 + squared / count
    return (middle - half) / scale, (middle + half) / scale


def _coverage(validation: Validation, count: int) -> str:
    """Say what share of held-out errors lay inside the radii, and how well so many patches can tell."""
    if validation.bars is None:
        return ""
    told = len(np.unique(held_out_rows(count)))
    sizes = {group.group: told * group.patches / len(validation.errors) for group in validation.groups}
    rows = []
    for name in bar_groups(validation.bars.covered):
        share = validation.bars.covered[name]
        size = max(sizes.get(name, told / 3), 1.0)
        low, high = share_interval_wilson_1927(share, size)
        rows.append(
            [name, f"{size:.0f}", f"{100 * share:.0f}\u00a0%", f"{100 * low:.0f} to {100 * high:.0f}\u00a0%"]
        )
    words = (
        "A radius should hold 90 % of errors. Counted on patches that set neither model nor radius, with the "
        "95 % interval that so many patches leave:"
    )
    few = few_recipes_words(count)
    return (
        (paragraph(few) if few else "")
        + paragraph(words)
        + table_html(["Errors inside their radius", "recipes", "share", "95 % interval"], rows)
    )
