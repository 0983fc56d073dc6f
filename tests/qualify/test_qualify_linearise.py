"""Ramps to limits and tone curves: known curves come back, bad ramps are named."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.base.errors import InputError, UsageError
from strikeoff.chart.designs import linearisation
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.inks.spaces import identity_spaces
from strikeoff.inks.tables import FULL, NODES, look_up, to_codes
from strikeoff.measurement.read import readings_lab
from strikeoff.measurement.records import ReadingSet
from strikeoff.mill.finishing import finishing_of, run
from strikeoff.mill.press import invented_press
from strikeoff.qualify.limits import LimitRule, find_limit, find_limits
from strikeoff.qualify.linearise import AIMS, linearise
from strikeoff.qualify.ramps import Ramp, falling_inks, ink_ramps, require_rising
from strikeoff.qualify.smoothing import growth_scale, smooth_curve

INKS = "CMYK"


def ramp_recipes(steps):
    rows = [np.zeros((1, 4))]
    for ink in range(4):
        one = np.zeros((len(steps), 4))
        one[:, ink] = steps
        rows.append(one)
    return np.vstack(rows)


def printed(amounts, *, noise=0.0, repeats=1, seed=3):
    press = invented_press("T1", inks=INKS)
    finishing = finishing_of(press.fabric, press.printer)
    return run(press, amounts, finishing=finishing, noise=noise, repeats=repeats, seed=seed).readings


def mill_ramps(noise=0.25, repeats=6, seed=3, **changes):
    readings = printed(ramp_recipes(np.linspace(0.05, 1, 20)), noise=noise, repeats=repeats, seed=seed)
    return ink_ramps(replace(readings, **changes))


def bent_ramp(bend, *, steps=21, noise=0.0, seed=0, ink="X"):
    """A ramp in Lab whose tone value of ISO 20654 is ``bend(amount)``, straight from cloth to solid."""
    amount = np.linspace(0, 1, steps)
    cloth, solid = np.array([93.0, 0.5, -2.0]), np.array([48.0, 72.0, -4.0])
    tone = bend(amount) + np.random.default_rng(seed).normal(0, noise, steps) * (amount > 0)
    lab = cloth + tone[:, None] * (solid - cloth)
    return Ramp(ink, amount, lab, np.ones((steps, 3)), tuple(f"P{n}" for n in range(steps)))


# Tone values of a public 1,617-patch characterisation, computed from its Lab with the formula of
# ISO 20654 as restated in public analysis scripts; to the digits given there.
PAPER = [95.00, 1.50, -6.00]
CHECKS = [
    ("C50", [75.02, -16.20, -29.84], [56.12, -34.90, -52.52], 0.50, 51.12),
    ("M40", [75.43, 28.45, -9.24], [48.06, 75.29, -5.18], 0.40, 40.44),
    ("Y50", [91.62, -3.44, 39.94], [88.94, -4.04, 92.37], 0.50, 47.87),
    ("K50", [62.72, 0.31, -4.44], [16.00, 0.07, -0.33], 0.50, 40.73),
]


@pytest.mark.parametrize(("name", "tint", "solid", "nominal", "sctv"), CHECKS)
def test_tone_curve_moves_a_published_tint_to_its_tone_value(name, tint, solid, nominal, sctv):
    """The ink that gave the tint is asked for at its own tone value, and no longer at its nominal ink."""
    assert AIMS["sctv"](np.array([tint]), np.array(PAPER), np.array(solid))[0] * 100 == pytest.approx(
        sctv, abs=0.006
    )
    # A ramp through that tint: tone value nominal**g with the tint on it.
    power = np.log(sctv / 100) / np.log(nominal)
    amount = np.linspace(0, 1, 21)
    lab = np.array(PAPER) + (amount**power)[:, None] * (np.array(solid) - PAPER)
    ramp = Ramp(name, amount, lab, np.ones((21, 3)), tuple(map(str, range(21))))
    (fit,) = linearise([ramp], [1.0], "sctv")
    asked = look_up(fit.curve, to_codes([sctv / 100]))[0] / FULL
    assert asked == pytest.approx(nominal, abs=0.003)


@pytest.mark.parametrize("limit", [1.0, 0.72])
@pytest.mark.parametrize(
    "bend",
    [
        lambda x: (1 - np.exp(-4 * x)) / (1 - np.exp(-4)),
        lambda x: (1 - np.exp(-2.5 * x)) / (1 - np.exp(-2.5)),
        lambda x: x**1.4,
    ],
)
def test_known_curves_come_back_through_noise(bend, limit):
    (fit,) = linearise([bent_ramp(bend, steps=33, noise=0.002)], [limit], "sctv")
    amount = fit.curve / FULL
    assert amount[0] == 0
    assert amount[-1] == pytest.approx(limit, abs=1e-4)
    assert (np.diff(fit.curve.astype(int)) >= 0).all()
    tone = bend(amount) / bend(np.array(limit))
    assert np.abs(tone - np.linspace(0, 1, NODES)).max() < 0.01


def test_a_custom_course_is_followed():
    wanted = (np.array([0.0, 0.5, 1.0]), np.array([0.0, 0.68, 1.0]))
    (fit,) = linearise([bent_ramp(lambda x: x)], [1.0], "sctv", wanted=wanted)
    assert fit.curve[128] / FULL == pytest.approx(np.interp(128 / 255, *wanted), abs=2e-3)


@pytest.mark.parametrize(
    ("noise", "most"), [(0.25, {"colour": 0.006, "sctv": 0.01, "lightness": 0.01}), (0.0, None)]
)
@pytest.mark.parametrize("aim", ["colour", "sctv", "lightness"])
def test_the_mill_prints_even_steps_after_linearisation(aim, noise, most):
    """Simulated: consistency of the loop only. The program's own chart, each patch read six times."""
    limits = [0.9, 0.85, 1.0, 0.8]
    chart = linearisation(tuple(INKS)).recipes
    fits = linearise(ink_ramps(printed(chart, noise=noise, repeats=6 if noise else 1)), limits, aim)
    bound = 0.002 if most is None else most[aim]
    spaces = identity_spaces(INKS, 3.0).with_tone(np.stack([fit.curve for fit in fits]), aim)
    steps = np.linspace(0, 1, 26)[1:]
    calibrated = to_codes(ramp_recipes(steps))
    lab = readings_lab(printed(spaces.to_laid_down(calibrated) / FULL))
    for ink, fit in enumerate(fits):
        one = lab[1 + ink * 25 : 1 + (ink + 1) * 25]
        off = AIMS[aim](one, lab[0], one[-1]) - steps
        # Yellow hardly darkens: a lightness scale of 8 units and its noise are no percent matter.
        pale = noise > 0 and aim == "lightness" and ink == 2
        assert np.abs(off).max() < (0.03 if pale else bound), (aim, ink)
        assert fit.residual_rms < (0.03 if aim == "lightness" else 0.01)
        assert fit.curve[-1] / FULL == pytest.approx(limits[ink], abs=1e-4)


def test_growth_scale_takes_the_bend_out():
    """A curve of that very form becomes straight; the scale rises whatever the ramp does."""
    x = np.linspace(0, 1, 21)
    tone = np.expm1(-5 * x**0.8) / np.expm1(-5)
    scale = growth_scale(x * 0.7, tone)
    assert np.abs(scale(x * 0.7) - tone).max() < 1e-3
    for odd in (np.where(x < 0.5, x, 1 - x), x**4, np.minimum(1, 6 * x)):
        assert (np.diff(growth_scale(x, odd)(np.linspace(0, 1, 200))) > 0).all()


def test_smooth_curves_follow_and_never_fall():
    x = np.linspace(0, 1, 21)
    noisy = np.maximum(0, x - 0.2) ** 0.5 + np.random.default_rng(2).normal(0, 0.01, 21)
    fine = np.linspace(0, 1, 500)
    assert (np.diff(smooth_curve(x, noisy, rising=True, start=0.0)(fine)) >= -1e-12).all()
    assert smooth_curve(x, noisy, rising=True, start=0.0)(0.0) == 0
    free = smooth_curve(x, np.sin(3 * x), rising=False)
    assert np.abs(free(fine) - np.sin(3 * fine)).max() < 1e-3
    assert smooth_curve(
        x, x + np.random.default_rng(3).normal(0, 0.01, 21), rising=True
    ).noise == pytest.approx(0.01, rel=0.5)


def test_an_ink_that_turns_back_is_named_with_its_steps():
    ramp = bent_ramp(lambda x: np.where(x < 0.65, x, 1.3 - x), ink="Gold")
    with pytest.raises(InputError, match=r"Gold.*65 % \(P13\) to 100 % \(P20\)"):
        linearise([ramp], [1.0], "sctv")
    linearise([ramp], [0.6], "sctv")
    # Common practice, no source: more ink than the cloth takes makes paler solids.
    with pytest.raises(InputError, match=r"strongest step is 65 % \(P13\).*overinked") as told:
        linearise([ramp], [1.0], "sctv")
    assert "swapped rows" in told.value.advice
    tone = np.linspace(0, 1, 21)
    tone[[7, 12]] = tone[[12, 7]]
    with pytest.raises(InputError, match="swapped") as told:
        require_rising(ramp, tone, 0.002)
    assert "overinked" not in told.value.advice


def test_a_chart_with_an_ink_that_turns_back_warns():
    ramp = bent_ramp(lambda x: np.where(x < 0.65, x, 1.3 - x))
    readings = ReadingSet(ramp.ids, ("CMYK_C",), ramp.amount[:, None], lab=ramp.lab)
    (problem,) = falling_inks(readings)
    assert (problem.severity, problem.where) == ("warning", "ink C, steps 65 % (P13) to 100 % (P20)")
    assert falling_inks(replace(readings, lab=bent_ramp(np.sqrt, noise=0.004).lab)) == []
    assert falling_inks(readings.take(np.array([0, 20]))) == []


@pytest.mark.parametrize(("name", "told"), [("White", 0), ("Clear", 0), ("Yellow", 1)])
def test_white_and_clear_inks_that_cloth_hides_have_no_tone_that_falls(name, told):
    """A table of few nodes, as an imported profile has it: 1.2 L* up, and back by a third between nodes."""
    amount = np.linspace(0, 1, 11)
    lab = np.zeros((11, 3))
    lab[:, 0] = 94.0 + np.interp(amount, [0, 0.2, 0.6, 1.0], [0, 0.9, 0.5, 1.2])
    readings = ReadingSet(
        tuple(f"P{i}" for i in range(11)), ("1CLR_1",), amount[:, None], lab=lab, keywords={"INK_NAMES": name}
    )
    assert len(falling_inks(readings)) == told


def test_curves_of_published_data_give_even_tone_values(smoothed_set):
    """Smoothed data, printed elsewhere: its own ramps between its steps, read through the curve."""
    ramps = ink_ramps(smoothed_set)
    for ramp, fit in zip(ramps, linearise(ramps, [1.0] * 4, "sctv"), strict=True):
        asked = fit.curve / FULL
        lab = np.stack([np.interp(asked, ramp.amount, axis) for axis in ramp.lab.T], axis=-1)
        tone = tone_value_iso_20654(lab, ramp.lab[0], ramp.lab[-1])
        assert np.abs(tone - np.linspace(0, 1, NODES)).max() < 0.01
        assert fit.residual_max < 0.005


def test_an_unknown_aim_and_a_limit_beyond_the_ramp():
    with pytest.raises(UsageError, match="colour, sctv, lightness"):
        linearise([bent_ramp(np.sqrt)], [1.0], "density")
    with pytest.raises(InputError, match="beyond the ramp"):
        linearise([replace(bent_ramp(np.sqrt), amount=np.linspace(0, 0.9, 21))], [1.0], "sctv")
    with pytest.raises(InputError, match="too pale"):
        linearise([bent_ramp(lambda x: 0.02 * x)], [1.0], "colour")


def test_an_ink_too_pale_for_lightness_is_even_in_colour():
    """Yellow on white cloth; the definition of the two aims is the reference."""
    amount = np.linspace(0.0, 1.0, 21)
    grown = amount**0.6
    lab = np.array([92.0, 0.0, 3.0]) + grown[:, None] * np.array([-6.0, -4.0, 80.0])
    yellow = Ramp("Y", amount, lab, np.ones((21, 3)), tuple(map(str, range(21))))
    dark = bent_ramp(np.sqrt)
    fits = linearise([yellow, dark], [1.0, 1.0], "lightness")
    assert fits[0].pale_l == pytest.approx(6.0, abs=0.1)
    assert fits[1].pale_l is None
    (even,) = linearise([yellow], [1.0], "colour")
    np.testing.assert_array_equal(fits[0].curve, even.curve)
    assert even.pale_l is None


@pytest.mark.parametrize(
    ("rows", "word"),
    [
        (lambda steps: steps > 0, "bare cloth"),
        (lambda steps: (steps == 0) | (steps > 0.5), "% apart"),
        (lambda steps: steps < 0.8, "up to 75 %"),
        (lambda steps: np.isin(np.round(steps, 2), [0, 0.3, 0.6, 0.9]), "4 steps"),
    ],
)
def test_ramps_that_are_no_ramps(rows, word):
    steps = np.linspace(0, 1, 21)
    readings = ReadingSet(tuple(map(str, range(21))), ("CMYK_C",), steps[:, None], lab=bent_ramp(np.sqrt).lab)
    with pytest.raises(InputError, match=word):
        ink_ramps(readings.take(rows(steps)))


def test_where_an_ink_stops_growing():
    """It saturates at 70 %."""
    ramp = bent_ramp(lambda x: np.minimum(x / 0.7, 1.0), steps=41)
    limit = find_limit(ramp)
    assert limit.limit == pytest.approx(0.70, abs=0.02)
    assert "2 %" in limit.reason
    assert find_limit(bent_ramp(lambda x: x)).limit == 1.0
    strict = find_limit(bent_ramp(lambda x: 1 - (1 - x) ** 2, steps=41), LimitRule(least_gain=0.10))
    assert strict.limit < find_limit(bent_ramp(lambda x: 1 - (1 - x) ** 2, steps=41)).limit


def test_where_hue_hooks():
    ramp = bent_ramp(lambda x: x, steps=41)
    lab = ramp.lab.copy()
    lab[:, 2] += 90 * np.maximum(0, ramp.amount - 0.6) ** 1.3
    hooked = find_limit(replace(ramp, lab=lab))
    assert 0.5 < hooked.limit < 0.75
    assert "hue" in hooked.reason


def test_where_lines_run():
    amount = np.linspace(0.1, 1, 10)
    grown = np.where(amount < 0.55, 0.02, 0.02 + 0.4 * (amount - 0.55))
    limit = find_limit(bent_ramp(lambda x: x), growth=(amount, grown))
    # 0.1 mm beyond the start is reached at 0.55 + 0.1 / 0.4.
    assert limit.limit == pytest.approx(0.80, abs=0.01)
    assert "lines" in limit.reason
    assert find_limit(bent_ramp(lambda x: x), growth=(amount, np.full(10, 0.3))).limit == 1.0


def test_an_ink_that_leaves_nothing_or_falls_at_once():
    with pytest.raises(InputError, match="leaves no colour"):
        find_limit(bent_ramp(lambda x: 0.01 * x))
    with pytest.raises(InputError, match="little of it"):
        find_limit(
            bent_ramp(lambda x: np.where(x < 0.15, 3 * x, np.where(x < 0.3, 0.9 - 3 * x, x)), steps=41)
        )


def test_limits_of_the_mill_are_sensible():
    """Simulated: a black whose ramp saturates gets a lower limit than a yellow that keeps growing.

    What a limit gives away of the solid is hardly seen; where half of the mean gain ends the ink, it is.
    """
    ramps = mill_ramps()
    strict = {limit.ink: limit.limit for limit in find_limits(ramps, LimitRule(least_gain=0.05))}
    assert strict["K"] < 0.85
    assert strict["Y"] == 1.0
    for ramp, limit in zip(ramps, find_limits(ramps), strict=True):
        kept = np.array([np.interp(limit.limit, ramp.amount, ramp.lab[:, axis]) for axis in range(3)])
        assert delta_e_2000(kept, ramp.lab[-1]) < 1.5
