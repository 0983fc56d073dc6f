"""The figures of each light as a table, on the terminal and on a page: only those that there are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from strikeoff.base.words import counted
from strikeoff.report.tables import paragraph, table_html

#: How each figure is reckoned, by the names of the results.
FORMULAS = {
    "difference": "CIEDE2000 of print and colour",
    "metamerism": "ISO 18314-4, additive correction, CIEDE2000",
    "inconstancy": "CMCCON02 (ISO 105-J05): CMCCAT2000, complete adaptation, CIEDE2000",
}


@dataclass(frozen=True)
class _Figure:
    key: str
    word: str
    short: str
    formula: str


_FIGURES = (
    _Figure("de00", "CIEDE2000", "DE00", "difference"),
    _Figure("mi", "metamerism", "MI", "metamerism"),
    _Figure("cii", "inconstancy", "CII", "inconstancy"),
)
_WIDTH = 14


def lights_lines(rows: Sequence[dict[str, Any]], colours: int) -> tuple[str, ...]:
    """Return the figures of each light in lines.

    Parameters
    ----------
    rows : sequence of dict
        ``lights`` of the results.
    colours : int
        How many colours there are.

    Returns
    -------
    tuple of str

    Examples
    --------
    >>> row = {"light": "A", "mean_de00": None, "max_de00": None, "mean_mi": None, "max_mi": None}
    >>> for line in lights_lines([row | {"mean_cii": 0.871, "max_cii": 0.94}], 2):
    ...     print(line)
    light        inconstancy
                 mean    max
    A            0.87   0.94
    prints only: the colours have no spectra to compare them with, so neither CIEDE2000 nor metamerism
    """
    figures = _known(rows)
    absent = _absent(figures, colours)
    if not figures:
        return (absent,)
    heads = "".join(f"{figure.word:>{_WIDTH}}" for figure in figures)
    lines = [
        f"{'light':<10}{heads}",
        " " * 10 + f"{'mean':>7}{'max':>7}" * len(figures),
        *(
            f"{row['light']:<10}"
            + "".join(f"{mean:>7.2f}{most:>7.2f}" for mean, most in _pairs(row, figures))
            for row in rows
        ),
    ]
    return (*lines, absent) if absent else tuple(lines)


def lights_html(rows: Sequence[dict[str, Any]], colours: int) -> str:
    """Return the same for a page, with the formulas of what it shows."""
    figures = _known(rows)
    absent = _absent(figures, colours)
    words = paragraph(f"{absent[:1].upper()}{absent[1:]}.") if absent else ""
    if not figures:
        return words
    heads = ["light", *(f"{figure.short} {kind}" for figure in figures for kind in ("mean", "worst"))]
    cells = [
        [row["light"], *(f"{value:.2f}" for pair in _pairs(row, figures) for value in pair)] for row in rows
    ]
    formulas = " ".join(f"{figure.short} {FORMULAS[figure.formula]}." for figure in figures)
    return table_html(heads, cells) + words + paragraph(formulas)


def _known(rows: Sequence[dict[str, Any]]) -> list[_Figure]:
    """Return the figures that each light has; which colours are undecided is the same for all of them."""
    return [
        figure for figure in _FIGURES if rows and all(row[f"mean_{figure.key}"] is not None for row in rows)
    ]


def _pairs(row: dict[str, Any], figures: Sequence[_Figure]) -> list[tuple[float, float]]:
    return [(row[f"mean_{figure.key}"], row[f"max_{figure.key}"]) for figure in figures]


def _absent(figures: Sequence[_Figure], colours: int) -> str:
    """Say why figures are absent; nothing where none is."""
    if not figures:
        return f"no figures: {counted(colours, 'colour is', 'colours are')} undecided under other lights"
    lacking = [figure.word for figure in _FIGURES if figure not in figures]
    if not lacking:
        return ""
    return (
        f"prints only: the colours have no spectra to compare them with, so neither {' nor '.join(lacking)}"
    )
