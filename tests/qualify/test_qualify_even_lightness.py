"""Ramps printed again through curves of the aim lightness: how even L* is, with and without a light ink."""

import numpy as np
import pytest

from strikeoff.chart.designs import linearisation
from strikeoff.colour.cielab import lab_to_xyz, xyz_to_lab
from strikeoff.inks.split import light_split
from strikeoff.inks.tables import FULL, look_up, to_codes
from strikeoff.qualify.linearise import linearise
from strikeoff.qualify.ramps import Ramp
from strikeoff.workbench.ramp_tones import leaping, resting

D50 = np.array([96.42, 100.0, 82.49])
STEPS = np.unique(linearisation(["M"]).recipes[:, 0])
CLOTH, DARK, LIGHT = np.array([0.78, 0.80, 0.72]), np.array([0.25, 0.11, 0.20]), np.array([0.60, 0.47, 0.51])


def printed(dark, light):
    """Dots of both inks at random over each other (Demichel) on cloth that spreads light (Yule-Nielsen)."""
    a, b = (-np.expm1(-2.0 * np.asarray(x)[:, None] ** 1.15) / -np.expm1(-2.0) for x in (dark, light))
    both = np.sqrt(DARK * LIGHT / CLOTH)
    mixed = (1 - a) * ((1 - b) * np.sqrt(CLOTH) + b * np.sqrt(LIGHT)) + a * (
        (1 - b) * np.sqrt(DARK) + b * both
    )
    return xyz_to_lab(mixed**2 * D50, D50)


def ramp(lab):
    return Ramp("M", STEPS, lab, lab_to_xyz(lab, D50) / D50, tuple(map(str, STEPS)))


def density(lab):
    """Of the green that magenta takes away: Y over that of the cloth."""
    y = lab_to_xyz(lab, D50)[:, 1]
    return np.maximum.accumulate(np.log10(y[0] / y)) + 1e-6 * np.arange(len(y))


@pytest.mark.parametrize("with_light", [False, True])
def test_lightness_falls_evenly_when_ramps_are_printed_again(with_light):
    """Simulated by the test: 56 L* between cloth and solid, CIELAB noise 0.2, two seeds."""
    none, nominal = np.zeros(len(STEPS)), np.linspace(0, 1, 21)
    for seed in range(2):
        rng = np.random.default_rng(seed)

        def read(dark, light, rng=rng):
            return printed(dark, light) + rng.normal(0, 0.2, (len(STEPS), 3))

        if with_light:
            split = light_split(STEPS, density(read(STEPS, none)), STEPS, density(read(none, STEPS)))
            dark, light = split.dark, split.light
        else:
            dark, light = to_codes(np.linspace(0, 1, 256)), to_codes(np.zeros(256))

        def laid(amount, curves=(dark, light)):
            return tuple(look_up(curve, to_codes(amount)) / FULL for curve in curves)

        (fit,) = linearise([ramp(read(*laid(STEPS)))], [1.0], "lightness")
        uneven = {}
        for name, amount in (("before", nominal), ("after", look_up(fit.curve, to_codes(nominal)) / FULL)):
            light_now = printed(*laid(amount))[:, 0]
            uneven[name] = np.abs((light_now[0] - light_now) / np.ptp(light_now) - nominal)
        assert uneven["after"].max() < 0.03
        assert uneven["after"].mean() < 0.01
        assert uneven["after"].max() < 0.25 * uneven["before"].max()
        assert leaping([fit]) == []


def test_a_leap_between_two_steps_is_told():
    """What lies between two steps of which one is cloth and the other half the solid nobody has read."""
    lab = np.array([90.0, 0.0, 0.0]) - np.outer(np.where(STEPS > 0, 0.4 + 0.6 * STEPS, 0.0), [40.0, 0.0, 0.0])
    (fit,) = linearise([ramp(lab)], [1.0], "lightness")
    (problem,) = leaping([fit])
    assert problem.severity == "warning"
    assert "between 0 % and 2 %" in problem.found
    assert problem.found.startswith("41 %")


def test_a_tone_that_rests_between_two_inks_is_told():
    """A light ink that gives way faster than the dark one comes: the colour waits, as that of dyes does."""

    def fit(course):
        tone = np.interp(STEPS, np.linspace(0, 1, len(course)), course)
        lab = np.array([90.0, 0.0, 0.0]) - np.outer(tone, [40.0, 0.0, 0.0])
        return linearise([ramp(lab)], [1.0], "lightness")

    assert resting(fit([0.0, 0.4, 0.6, 0.75, 0.88, 1.0])) == []
    # Towards the solid every ink slows down.
    assert resting(fit([0.0, 0.7, 0.92, 0.98, 0.99, 1.0])) == []
    (problem,) = resting(fit([0.0, 0.5, 0.71, 0.72, 0.86, 1.0]))
    assert (problem.severity, problem.expected) == ("warning", "3 % or more in 15 % of the ink")
    assert "--most-laid-down" in problem.advice
