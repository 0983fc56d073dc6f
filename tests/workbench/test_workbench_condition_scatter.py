"""What the report of a condition makes of noise: tones of inks without colour, scatter from few repeats."""

import re
from dataclasses import replace

import numpy as np

from strikeoff.workbench.condition_figures import tone_section
from strikeoff.workbench.condition_solids import tone_table
from strikeoff.workbench.condition_uncertainty import scatter_interval


def test_an_ink_without_colour_has_no_tone_values(small_readings):
    """Tints of a clear ink are noise over noise: they filled the table and stretched the drawing to 300 %."""
    condition = small_readings.condition

    class Clear:
        """The model of the condition, its last ink changing colours by half a unit, back and forth."""

        view = condition.native.view

        def lab(self, inks):
            seen = condition.native.lab(np.where([True, True, False], inks, 0.0))
            return seen + 0.5 * np.sin(9.0 * inks[:, 2:])

    clear = replace(condition, native=Clear())
    html = tone_table(clear).html
    heads = re.findall(r"<th[^>]*>([^<]*)</th>", html)
    assert {"1", "2"} < set(heads)
    assert "3" not in heads
    told = "No tone value of 3: full tone lies within 2 CIEDE2000 of the cloth"
    assert told in html
    section = tone_section(clear)
    assert told in section.html
    ticks = [float(t) for t in re.findall(r">([0-9]+)</text>", section.html)]
    assert max(ticks) <= 120
    assert "No tone value" not in tone_table(condition).html
    assert "No tone value" not in tone_section(condition).html


def test_a_scatter_from_few_repeats_has_a_wide_interval():
    """Chi-square of 8 degrees of freedom: 2.180 and 17.535 leave 2.5 % below and above (textbook tables)."""
    np.testing.assert_allclose(scatter_interval(1.0, 8), [(8 / 17.535) ** 0.5, (8 / 2.180) ** 0.5], rtol=3e-4)
    low, high = scatter_interval(0.3, 3000)
    assert 0.29 < low < 0.3
    assert 0.3 < high < 0.31
