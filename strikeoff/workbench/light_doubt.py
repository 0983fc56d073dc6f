"""Colours that were taken under another light or observer than readings say."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from strikeoff.base.problems import Problem
from strikeoff.colour.difference import delta_e_2000
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet

if TYPE_CHECKING:
    from strikeoff.condition.record import Condition

_LIGHTS, _OBSERVERS = ("D50", "D65", "A", "FL11"), ("2", "10")
# Fewest patches; misfit above which the light is doubted, and what another must leave of it. Common practice,
# no source. [-], [CIEDE2000], [-]
_FEWEST, _LEAST, _LEAVES = 8, 0.5, 0.6


def light_doubts(record: Condition, readings: ReadingSet) -> list[Problem]:
    """Return a warning where Lab or XYZ fit a condition much better as of another light or observer.

    Parameters
    ----------
    record : Condition
        Made from spectra; one that knows its own light only tells nothing.
    readings : ReadingSet
        Of its inks. Spectra need no light, and are not doubted.

    Returns
    -------
    list of Problem
        At most one.
    """
    stated = (readings.setup.illuminant, readings.setup.observer)
    if readings.spectra is not None or record.wavelengths_nm is None or len(readings) < _FEWEST:
        return []
    lights = {stated, *product(_LIGHTS, _OBSERVERS)}
    misfits = {light: _misfit(record, readings, *light) for light in sorted(lights)}
    best = min(misfits, key=misfits.__getitem__)
    if misfits[stated] < _LEAST or misfits[best] > _LEAVES * misfits[stated]:
        return []
    return [
        Problem(
            "warning",
            "header",
            f"colours look as if taken under {'/'.join(best)}, not under {'/'.join(stated)}",
            found=f"half the patches within {misfits[best]:.1f} CIEDE2000 of the condition's colours under "
            f"the former, within {misfits[stated]:.1f} under the latter",
            advice="Look up both in the instrument's export and state them as ILLUMINATION_NAME and "
            "OBSERVER_ANGLE, or export spectra",
        )
    ]


def _misfit(record: Condition, readings: ReadingSet, illuminant: str, observer: str) -> float:
    """Return the median CIEDE2000 from what the condition predicts under a light. [CIEDE2000]."""
    setup = replace(readings.setup, illuminant=illuminant, observer=observer)
    lab = readings_lab(replace(readings, setup=setup))
    predicted = record.under(illuminant, observer).lab(readings.coverages)
    return float(np.median(delta_e_2000(lab, predicted)))
