"""The text that travels with a chart: which inks stand where, and in which ink space.

References
----------
ISO 28178:2009, exchange format for colour and process control data using ASCII text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from strikeoff.chart.layout import Placed, row_label
from strikeoff.inks.roles import ink_names_text, process_role
from strikeoff.measurement.iso28178 import write_iso28178
from strikeoff.measurement.records import ReadingSet

FloatArray = NDArray[np.float64]

InkSpace = Literal["calibrated", "laid-down"]

#: CURVES_DIGEST of charts that were printed without tone curves.
NO_CURVES = "identity"


@dataclass(frozen=True)
class ChartFacts:
    """What a chart says about itself.

    Attributes
    ----------
    kind : str
        Becomes CHART_KIND.
    ink_space : {"calibrated", "laid-down"}
        Space of the ink amounts; becomes INK_SPACE.
    curves_digest : str
        Digest of the tone curves that the chart is printed through, or ``identity``; CURVES_DIGEST.
    condition_name, condition_digest : str
        Empty without a condition.
    total_ink : float, optional
        Limit that the chart keeps. [-]
    seed : int
        Of places and space-filling points.
    """

    kind: str
    ink_space: InkSpace
    curves_digest: str = NO_CURVES
    condition_name: str = ""
    condition_digest: str = ""
    total_ink: float | None = None
    seed: int = 0

    def keywords(self) -> dict[str, str]:
        """Return the header keywords."""
        words = {
            "CHART_KIND": self.kind,
            "INK_SPACE": self.ink_space,
            "CURVES_DIGEST": self.curves_digest,
            "CONDITION_NAME": self.condition_name,
            "CONDITION_DIGEST": self.condition_digest,
            "TOTAL_INK": "" if self.total_ink is None else f"{100 * self.total_ink:g}",
            "SEED": str(self.seed),
        }
        return {key: value for key, value in words.items() if value}


def ink_columns(ink_names: Sequence[str]) -> tuple[str, ...]:
    """Return the column names of inks: CMYK_C to CMYK_K for those four in that order, else nCLR_1 and on.

    Examples
    --------
    >>> ink_columns(["C", "M", "Y", "K"])[1], ink_columns(["C", "M", "Y", "K", "Orange"])[4]
    ('CMYK_M', '5CLR_5')
    """
    if [process_role(ink) for ink in ink_names] == ["C", "M", "Y", "K"]:
        return tuple(f"CMYK_{name}" for name in "CMYK")
    count = len(ink_names)
    return tuple(f"{count}CLR_{i + 1}" for i in range(count))


def write_reference(
    path: str | Path,
    recipes: FloatArray,
    names: Sequence[str],
    ink_names: Sequence[str],
    facts: ChartFacts,
    *,
    columns: Sequence[str] | None = None,
    placed: Placed | None = None,
) -> None:
    """Write the reference of a chart, patches in reading order.

    Parameters
    ----------
    path : str or Path
        File to write.
    recipes : ndarray, shape (n, n_inks)
        Of the patch set, 0-1. [-]
    names : sequence of str
        SAMPLE_ID of the patch set.
    ink_names : sequence of str
        Inks in channel order, kept as INK_NAMES.
    facts : ChartFacts
        Header.
    columns : sequence of str, optional
        Ink columns; by default those of the ink names.
    placed : Placed, optional
        Places; without them the set's order is the reading order.
    """
    order = np.arange(len(names)) if placed is None else placed.patch
    extra: dict[str, NDArray[np.generic]] = {}
    if placed is not None:
        extra = {
            "PAGE": placed.page,
            "ROW": np.array([row_label(int(row)) for row in placed.row]),
            "COLUMN": placed.column,
            "POSITION_X_MM": placed.x_mm.round(3),
            "POSITION_Y_MM": placed.y_mm.round(3),
        }
    header = {"ORIGINATOR": "strikeoff", "DESCRIPTOR": f"chart reference: {facts.kind}"}
    header |= facts.keywords() | {"INK_NAMES": ink_names_text(ink_names)}
    if placed is not None:
        header |= {
            "PATCH_SIZE_MM": f"{placed.patch_mm:g}",
            "PAGE_SIZE_MM": f"{placed.page_mm[0]:g}x{placed.page_mm[1]:g}",
            "READING_ORDER": placed.instrument.order,
        }
    readings = ReadingSet(
        sample_ids=tuple(names[i] for i in order),
        ink_columns=tuple(columns or ink_columns(ink_names)),
        coverages=recipes[order],
    )
    write_iso28178(path, readings, extra, header)
