"""Charts of a condition hold the total ink limit under the curves that it has now."""

from dataclasses import replace

import numpy as np

from strikeoff.chart.space_filling import legal_points
from strikeoff.inks.tables import FULL, NODES, to_codes
from strikeoff.workbench.charts import condition_press


def test_curves_made_again_do_not_lift_a_chart_over_the_total(small_readings):
    condition = small_readings.condition
    steps = np.linspace(0.0, 1.0, NODES) ** 0.7
    tone = np.tile(np.round(FULL * steps).astype(np.uint16), (3, 1))
    bent = replace(condition, spaces=condition.spaces.with_tone(tone, "colour"))

    def highest(press):
        amounts = legal_points(2000, press.limits, seed=1)
        return bent.spaces.load(bent.spaces.to_laid_down(to_codes(amounts))).max()

    before = condition_press("characterisation", condition, "sha256:0", "calibrated", None, 0)
    after = condition_press("characterisation", bent, "sha256:0", "calibrated", None, 0)
    assert highest(before) > bent.spaces.total * 1.03
    assert bent.spaces.total * 0.97 < highest(after) <= bent.spaces.total
    assert (before.limits.weights == condition.limits.weights).all()
    assert before.limits.total == condition.limits.total
