"""Drawing of dimensional change: every specimen, the lots apart, the mean and where a new one will lie."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from strikeoff.layout import svg
from strikeoff.layout.finishing_spread import ChangeSpread, predicted_interval

_WIDTH, _LEFT, _RIGHT, _TOP, _PANEL = 1240, 90, 1150, 110, 420


def finishing_drawing_svg(spreads: Mapping[str, ChangeSpread], title: str, share: float = 0.9) -> str:
    """Return an SVG drawing of the change along and across.

    Parameters
    ----------
    spreads : mapping of str to ChangeSpread
        By direction.
    title : str
        Heading.
    share : float
        Share of new specimens that the band shall hold, 0-1.
    """
    values = [v for s in spreads.values() for lot in s.lots for v in lot]
    bands = [predicted_interval(s, share) for s in spreads.values()]
    reach = max(np.ptp(values), 0.5)
    ends = [*values, *(min(max(e, min(values) - reach), max(values) + reach) for b in bands if b for e in b)]
    low, high = np.floor(2 * min(ends) - 0.2) / 2, np.ceil(2 * max(ends) + 0.2) / 2
    body = [svg.words(_LEFT, 62, title, 40, bold=True)]
    for number, (direction, spread) in enumerate(spreads.items()):
        body += _panel(direction, spread, _TOP + number * _PANEL, float(low), float(high), share)
    return svg.page(_WIDTH, _TOP + _PANEL * len(spreads) + 20, title, body)


def _panel(
    direction: str, spread: ChangeSpread, top: float, low: float, high: float, share: float
) -> Iterator[str]:
    def x(percent: float) -> float:
        return _LEFT + (min(max(percent, low), high) - low) / (high - low) * (_RIGHT - _LEFT)

    band = predicted_interval(spread, share)
    where = "along" if direction == "warp" else "across"
    told = "interval not known: one specimen"
    if band is not None:
        whose = "a new lot" if spread.holds_for_new_lots else "this lot"
        told = f"{100 * share:.0f} % of {whose}: {band[0]:+.2f} to {band[1]:+.2f} %"
    yield svg.words(_LEFT, top + 40, f"{direction} ({where}) {spread.mean_percent:+.2f} %", 34, bold=True)
    yield svg.words(_RIGHT, top + 40, told, 28, anchor="end")
    base, bottom = top + 70, top + 330
    yield svg.rectangle(_LEFT, base, _RIGHT - _LEFT, bottom - base, svg.CLOTH)
    if band is not None:
        yield svg.rectangle(
            x(band[0]), base, x(band[1]) - x(band[0]), bottom - base, svg.PIECE, stroke="none", kind="band"
        )
    step = max(0.5, np.ceil((high - low) / 12 * 2) / 2)
    for tick in np.arange(low, high + 1e-9, step):
        yield svg.segment(x(tick), bottom, x(tick), bottom + 12)
        yield svg.words(x(tick), bottom + 42, f"{tick:+.1f}", 26, anchor="middle")
    rows = np.linspace(base, bottom, len(spread.lots) + 2)[1:-1]
    for y, lot in zip(rows, spread.lots, strict=True):
        for value in lot:
            yield svg.circle(x(value), float(y), 9, svg.DARK, "specimen")
    yield svg.segment(x(spread.mean_percent), base, x(spread.mean_percent), bottom, stroke=svg.ALARM, line=4)
