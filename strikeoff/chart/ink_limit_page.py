"""Ink limit ramps: each step a patch to be read and, beside it, lines and gaps that show spreading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.errors import UsageError
from strikeoff.chart.drawing import (
    Page,
    Rect,
    Text,
    corner_ticks,
    hidden_channels,
    letters,
    only,
    page_heading,
    wrapped,
)
from strikeoff.chart.layout import MOST_PAGES, check_page, row_label
from strikeoff.inks.roles import darkest_ink

FloatArray = NDArray[np.float64]

#: Widths of the lines and of the gaps beside them. [mm]
LINE_MM = (0.3, 0.5, 0.8, 1.2, 2.0)

_EDGE_MM = 10.0
_LABEL_MM = 8.0
_TEXT_MM = 3.0
_BETWEEN_MM = 2.0
#: Solid around a gap, as a share of the widest gap.
_SOLID_MM = 1.5

_ADVICE = (
    "Each step: a patch to read; beside it lines, then gaps of {widths} mm. Take the last step at which the "
    "lines keep their width, the gaps stay open and the patch still grows darker or more colourful."
)


@dataclass(frozen=True)
class RampPatch:
    """A step of a ramp and its place; the lines stand in ``lines_mm``, the gaps in ``gaps_mm``.

    Attributes
    ----------
    recipe : tuple of float
        Ink amounts, 0-1. [-]
    page, row, column : int
        From 1.
    x_mm, y_mm, size_mm : float
        Left upper corner and side of the patch. [mm]
    """

    recipe: tuple[float, ...]
    page: int
    row: int
    column: int
    x_mm: float
    y_mm: float
    size_mm: float


def ink_limit_pages(
    ramps: Sequence[FloatArray],
    ink_names: tuple[str, ...],
    page_mm: tuple[float, float],
    patch_mm: float,
    title: str,
) -> tuple[list[Page], list[RampPatch]]:
    """Return pages with one ramp after the other, and where the patches to read stand.

    Parameters
    ----------
    ramps : sequence of ndarray, shape (n_steps, n_inks)
        Laid-down ink, 0-1. [-]
    ink_names : tuple of str
        Inks in channel order.
    page_mm : tuple of float
        Width and height. [mm]
    patch_mm : float
        Side of a patch. [mm]
    title : str
        First line.

    Raises
    ------
    UsageError
        When not one step fits.
    """
    check_page(page_mm)
    pairs_mm = sum(2.0 * w for w in LINE_MM) + 2.0
    cell_w, cell_h = patch_mm + 1.0 + pairs_mm + _BETWEEN_MM, patch_mm + _TEXT_MM + 1.0 + _BETWEEN_MM
    dark, hidden = only(len(ink_names), darkest_ink(ink_names)), hidden_channels(ink_names)
    room = page_mm[0] - 2 * _EDGE_MM
    advice = wrapped(_ADVICE.format(widths=", ".join(f"{w:g}" for w in LINE_MM)), room, _TEXT_MM)
    heading = page_heading(title, MOST_PAGES, MOST_PAGES, room, _TEXT_MM)
    top = _EDGE_MM + 1.6 * _TEXT_MM * (len(heading) + len(advice)) + 2.0
    columns = int((page_mm[0] - 2 * _EDGE_MM - _LABEL_MM + _BETWEEN_MM) / cell_w)
    rows = int((page_mm[1] - top - _EDGE_MM) / cell_h)
    if columns < 1 or rows < 1:
        raise UsageError(
            "not one step of the ramps fits on the page",
            found=f"{page_mm[0]:g}x{page_mm[1]:g} mm, patches of {patch_mm:g} mm",
            advice="Take smaller patches or a larger page",
        )
    # A ramp starts on a new row, so that it can be read in one stroke.
    lines = [chunk for ramp in ramps for chunk in np.split(ramp, range(columns, len(ramp), columns))]
    count = -(-len(lines) // rows)
    pages, patches = [], []
    for number in range(count):
        items: list[Rect | Text] = [
            Text(_EDGE_MM, _EDGE_MM + 1.6 * _TEXT_MM * i, _TEXT_MM, line, dark)
            for i, line in enumerate([*page_heading(title, number + 1, count, room, _TEXT_MM), *advice])
        ]
        for row, line in enumerate(lines[number * rows : (number + 1) * rows]):
            y = top + row * cell_h
            items.append(
                Text(_EDGE_MM, y + _TEXT_MM + 1.0 + patch_mm / 2, _TEXT_MM, row_label(row + 1), dark)
            )
            for column, recipe in enumerate(line):
                x = _EDGE_MM + _LABEL_MM + column * cell_w
                inks = tuple(float(v) for v in recipe)
                label = _name(inks, ink_names)
                items.append(Text(x, y + _TEXT_MM / 2, _TEXT_MM, letters(label), dark))
                at = y + _TEXT_MM + 1.0
                items += _step(x, at, patch_mm, inks)
                items += corner_ticks(x, at, patch_mm, inks, dark, hidden)
                patches.append(RampPatch(inks, number + 1, row + 1, column + 1, x, at, patch_mm))
        pages.append(Page(*page_mm, ink_names, tuple(items)))
    return pages, patches


def _step(x: float, y: float, side: float, inks: tuple[float, ...]) -> list[Rect]:
    """Return a patch, lines above and gaps in a solid below, each pair of the same width."""
    items = [Rect(x, y, side, side, inks)]
    left, half = x + side + 1.0, side / 2 - 0.25
    # Gaps are what the cloth keeps between pieces of solid: the solid is as wide as the line above.
    solid = sum(2.0 * w for w in LINE_MM) + _SOLID_MM
    none = tuple(0.0 for _ in inks)
    items.append(Rect(left, y + side - half, solid, half, inks))
    at = left
    for width in LINE_MM:
        items.append(Rect(at, y, width, half, inks))
        items.append(Rect(at + width, y + side - half, width, half, none))
        at += 2.0 * width
    return items


def _name(inks: tuple[float, ...], ink_names: Sequence[str]) -> str:
    """Return a step in words.

    Examples
    --------
    >>> _name((0.0, 0.55, 0.55), ("C", "M", "Y")), _name((0.0, 0.0, 0.0), ("C", "M", "Y"))
    ('M+Y 55', 'cloth')
    >>> _name((0.05, 0.0, 1.0), ("C", "M", "W"))
    'C 5 W 100'
    """
    there = [(name, amount) for name, amount in zip(ink_names, inks, strict=True) if amount > 0]
    if not there:
        return "cloth"
    if len({amount for _, amount in there}) > 1:
        return " ".join(f"{name} {100 * amount:.3g}" for name, amount in there)
    return f"{'+'.join(name for name, _ in there)} {100 * max(inks):.3g}"
