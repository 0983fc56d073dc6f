"""Learnt tones come back through ramps of a press that has drifted, and noise is no drift."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.colour.cielab import xyz_to_lab
from strikeoff.colour.difference import delta_e_2000
from strikeoff.colour.tone_value import tone_value_iso_20654
from strikeoff.inks.tables import FULL, NODES, look_up, to_codes
from strikeoff.mill.press import invented_press
from strikeoff.qualify.learnt_tones import match_tones, no_worse
from strikeoff.qualify.linearise import linearise
from strikeoff.qualify.ramps import Ramp
from strikeoff.qualify.tone_change import tone_change

INKS = "CMYK"
# ISO 13655, CIE 1931 observer.
D50 = np.array([96.42, 100.0, 82.49])


def test_relinearisation_brings_drifted_tones_back():
    """Simulated: the press gives 12 % more ink than when the model learnt; curves take it back."""
    steps = np.linspace(0.05, 1, 20)
    press = invented_press("T1", inks=INKS)
    model = [press_lab(press, ink, np.linspace(0, 1, NODES)) for ink in range(4)]
    ramps = tuple(
        Ramp(
            INKS[ink],
            np.append(0, steps),
            press_lab(press, ink, np.append(0, steps), 1.12),
            np.ones((21, 3)),
            ("",) * 21,
        )
        for ink in range(4)
    )
    fits = match_tones(ramps, [1.0] * 4, model)
    for ink, fit in enumerate(fits):
        now = press_lab(press, ink, fit.curve / FULL, 1.12)
        before = model[ink]
        tone, wanted = (tone_value_iso_20654(lab, before[0], before[-1]) for lab in (now, before))
        assert np.abs(tone - wanted).max() < 0.01
        assert fit.limit < 0.97
        assert fit.reached == 1.0
    weak = tuple(replace(r, lab=press_lab(press, i, r.amount, 0.8)) for i, r in enumerate(ramps))
    done = match_tones(weak, [1.0] * 4, model)
    assert all(0.8 < fit.reached < 0.98 for fit in done)
    # What is said to stay is what the weak press prints through the new curves beside what it printed.
    for ink, fit in enumerate(done):
        left = delta_e_2000(model[ink], press_lab(press, ink, fit.curve / FULL, 0.8))
        assert fit.rest.solid > 1
        assert fit.rest.solid == pytest.approx(left[-1], abs=0.3)
        assert fit.rest.difference == pytest.approx(left.mean(), abs=0.15)


def halftone(amount, gain=1.0):
    """A dot model of its own: areas grow as drops fall at random, reflectances of three bands mix by area."""
    area = -np.expm1(-2.4 * (amount * gain) ** 1.1) / -np.expm1(-2.4)
    cloth, solid = np.array([0.78, 0.80, 0.72]), np.array([0.12, 0.20, 0.50])
    mixed = (1 - area)[:, None] * np.sqrt(cloth) + area[:, None] * np.sqrt(solid)
    return xyz_to_lab(mixed**2 * D50, D50)


def corrected(seed, gain, *, held):
    """Present curves, those made from noisy ramps (CIELAB sd 0.3), and mean CIEDE2000 left of the drift."""
    steps = np.linspace(0, 1, 21)
    before = Ramp("C", steps, halftone(steps), np.ones((21, 3)), tuple(map(str, range(21))))
    old = linearise([before], [0.9], "sctv")[0].curve
    amount = look_up(old, to_codes(steps)) / FULL
    lab = halftone(amount, gain) + np.random.default_rng(seed).normal(0, 0.3, (21, 3))
    today = replace(before, amount=amount, lab=lab)
    wanted = halftone(old / FULL)
    (fit,) = match_tones([today], [float(amount[-1])], [wanted], [old] if held else None)
    left = delta_e_2000(wanted, halftone(fit.curve / FULL, gain))[1:]
    return old, fit, float(left.mean())


def test_noise_of_the_ramps_alone_hardly_moves_the_curves():
    """Simulated by the test: without a drift the only right change is none."""
    done = [corrected(seed, 1.0, held=True) for seed in range(24)]
    left = np.array([miss for *_, miss in done])
    assert left.max() < 0.3
    assert left.mean() < 0.35 * np.mean([corrected(seed, 1.0, held=False)[2] for seed in range(24)])
    assert np.mean([fit.change.within_noise for _, fit, _ in done]) > 0.85
    old, fit, _ = done[0]
    assert np.abs(fit.curve.astype(int) - old).max() < 0.01 * FULL
    assert fit.change.difference < fit.change.uncertainty


def test_a_small_drift_is_not_made_worse_and_a_large_one_is_taken_back_whole():
    """Simulated by the test: more ink on the cloth, the same curves and readings."""
    for gain, harm in ((1.02, 1.15), (1.2, 1.0)):
        old, _, _ = corrected(0, gain, held=True)
        drift = float(delta_e_2000(halftone(old / FULL), halftone(old / FULL, gain))[1:].mean())
        done = [corrected(seed, gain, held=True)[1:] for seed in range(10)]
        left = np.array([miss for _, miss in done])
        assert left.max() < harm * max(drift, 0.3)
        assert left.mean() < drift
        if gain == 1.2:
            assert drift > 2.5
            assert left.mean() < 1.15 * np.mean([corrected(seed, gain, held=False)[2] for seed in range(10)])
            assert not any(fit.change.within_noise for fit, _ in done)
            told = np.array([(fit.change.difference, fit.change.tone) for fit, _ in done])
            # One reading of the cloth is common to all steps, and its noise is counted.
            radius = np.array([fit.change.uncertainty for fit, _ in done])
            assert told[:, 0].mean() == pytest.approx(drift, abs=0.25)
            assert (np.abs(told[:, 0] - drift) < radius).mean() >= 0.75
            assert (told[:, 1] > 0).all()


def test_what_a_weaker_solid_leaves_is_told():
    """Simulated by the test: a press that lays down a tenth less, and one that stands still."""
    for gain in (0.9, 1.0):
        done = [corrected(seed, gain, held=True) for seed in range(8)]
        solid = [
            float(delta_e_2000(halftone(old[-1:] / FULL), halftone(fit.curve[-1:] / FULL, gain))[0])
            for old, fit, _ in done
        ]
        told = np.array([(fit.rest.difference, fit.rest.solid) for _, fit, _ in done])
        assert told[:, 0].mean() == pytest.approx(np.mean([left for *_, left in done]), abs=0.1)
        assert told[:, 1].mean() == pytest.approx(np.mean(solid), abs=0.2)
        if gain < 1:
            assert all(0 < fit.rest.difference < fit.change.difference for _, fit, _ in done)
        else:
            assert told.max() < 0.3


def tired(amount):
    """The same dots, but ink that spreads no further above nine tenths: tints as before, a weaker solid."""
    area = -np.expm1(-2.4 * np.asarray(amount) ** 1.1) / -np.expm1(-2.4)
    area = area - 0.08 * area**10
    cloth, solid = np.array([0.78, 0.80, 0.72]), np.array([0.12, 0.20, 0.50])
    mixed = (1 - area)[:, None] * np.sqrt(cloth) + area[:, None] * np.sqrt(solid)
    return xyz_to_lab(mixed**2 * D50, D50)


@pytest.mark.parametrize("noise", [0.05, 0.2])
@pytest.mark.parametrize(("start", "size"), [(0.95, 0.1), (0.9, 0.1), (0.8, 0.2)])
@pytest.mark.parametrize("count", [13, 21])
def test_a_solid_that_fades_over_the_last_steps_is_told_as_far_as_it_is_off(start, size, count, noise):
    """Simulated by the test: less ink than asked for, from a step near the end on, by a line to the solid."""
    steps, model = np.linspace(0, 1, count), halftone(np.linspace(0, 1, NODES))
    lab = halftone(steps - size * np.maximum(steps - start, 0.0) / (1.0 - start))
    true, told = float(delta_e_2000(model[-1], lab[-1])), []
    for seed in range(6):
        read = lab + np.random.default_rng(seed).normal(0, noise, lab.shape)
        ramp = Ramp("M", steps, read, np.ones((count, 3)), ("",) * count)
        (fit,) = match_tones([ramp], [1.0], [model], [to_codes(np.linspace(0, 1, NODES))])
        told.append(fit.rest.solid)
    assert np.mean(told) == pytest.approx(true, rel=0.15)


def left_of(press, model, curve):
    return float(delta_e_2000(model, press(curve / FULL)).mean())


@pytest.mark.parametrize("noise", [0.0, 0.2])
def test_a_weak_solid_alone_leaves_the_tints_in_peace(noise):
    """Simulated by the test: only the solid is weaker, and a ramp even up to it would pale every tint."""
    steps, nodes = np.linspace(0, 1, 21), np.linspace(0, 1, NODES)
    even, model = to_codes(nodes), halftone(nodes)
    for seed in range(6 if noise else 1):
        lab = tired(steps) + np.random.default_rng(seed).normal(0, noise, (21, 3))
        ramp = Ramp("M", steps, lab, np.ones((21, 3)), ("",) * 21)
        (anew,) = match_tones([ramp], [1.0], [model])
        (fit,) = match_tones([ramp], [1.0], [model], [even])
        assert left_of(tired, model, anew.curve) > 1.3 * left_of(tired, model, even)
        assert fit.kept is not None
        np.testing.assert_array_equal(fit.curve, even)
        stays, instead = fit.kept
        assert stays == fit.rest.difference == fit.change.difference
        assert instead > stays
        assert stays == pytest.approx(left_of(tired, model, even), abs=0.3)
        assert fit.rest.solid > 1.0


@pytest.mark.parametrize("aim", ["lightness", "custom"])
@pytest.mark.parametrize("noise", [0.0, 0.3])
def test_other_aims_leave_no_more_than_they_found(aim, noise):
    """Simulated by the test: a press that stands still, one that grew, one with a weak solid; its own aim."""
    steps = np.linspace(0, 1, 21)
    wanted = (np.array([0.0, 0.3, 1.0]), np.array([0.0, 0.45, 1.0])) if aim == "custom" else None
    name = "sctv" if aim == "custom" else aim
    before = Ramp("M", steps, halftone(steps), np.ones((21, 3)), ("",) * 21)
    old = linearise([before], [0.9], name, wanted=wanted)[0].curve
    model = halftone(old / FULL)
    for press, better in ((halftone, False), (lambda x: halftone(x, 1.15), True), (tired, False)):
        for seed in range(6 if noise else 1):
            lab = press(steps) + np.random.default_rng(seed).normal(0, noise, (21, 3))
            today = replace(before, lab=lab)
            (new,) = linearise([today], [0.9], name, wanted=wanted)
            fit = no_worse(new, today, 0.9, old, model)
            found, left = left_of(press, model, old), left_of(press, model, fit.curve)
            assert left <= found + (0.35 if noise else 0.01)
            if better:
                assert fit.kept is None
                assert left < found
            if fit.kept is not None:
                np.testing.assert_array_equal(fit.curve, old)
                assert fit.limit == old[-1] / FULL
                assert fit.kept[0] < fit.kept[1]


def glowing(amount):
    """A fluorescent pink of the test's own: absorbing bands mix by area, light given off adds to the red."""
    area = (-np.expm1(-5 * amount) / -np.expm1(-5.0))[:, None]
    cloth, solid = np.array([0.87, 0.86, 0.83]), np.array([0.35, 0.30, 0.45])
    mixed = ((1 - area) * np.sqrt(cloth) + area * np.sqrt(solid)) ** 2 + area * np.array([0.62, 0.30, 0.21])
    return xyz_to_lab(mixed * D50, D50)


def test_an_ink_that_keeps_its_lightness_is_not_laid_down_for_a_small_error_of_the_model():
    """Simulated by the test: a fluorescent ink that stands still, its model 0.3 L* too light in the tints."""
    steps, nodes = np.linspace(0, 1, 21), np.linspace(0, 1, NODES)
    course = glowing(nodes)
    off = np.stack([0.3 * np.exp(-nodes / 0.1) * np.minimum(nodes / 0.02, 1), 0 * nodes, 0 * nodes], axis=-1)
    for curves in (None, [to_codes(nodes)]):
        ramp = Ramp("P", steps, glowing(steps), np.ones((21, 3)), ("",) * 21)
        (fit,) = match_tones([ramp], [1.0], [course + off], curves)
        assert delta_e_2000(course, glowing(fit.curve / FULL)).max() < 0.5


def test_what_the_model_is_off_by_is_no_drift():
    """Simulated by the test: a model up to 3 % of tone off along the ramp, made from noisy readings of it."""
    steps, nodes = np.linspace(0, 1, 21), np.linspace(0, 1, NODES)
    read = np.array([0.05, *np.linspace(0.1, 1, 10)])
    even = to_codes(nodes)

    def model(x):
        return halftone(np.clip(x + 0.03 * np.sin(2 * np.pi * x), 0, 1))

    left = {}
    for seed in range(2):
        rng = np.random.default_rng(seed)
        learnt = (read, halftone(read) + rng.normal(0, 0.25, (len(read), 3)))
        for gain in (1.0, 1.2):
            lab = halftone(steps, gain) + rng.normal(0, 0.2, (21, 3))
            today = Ramp("C", steps, lab, np.ones((21, 3)), ("",) * 21)
            for known in (None, [learnt]):
                (fit,) = match_tones([today], [1.0], [model(nodes)], [even], known)
                now = halftone(fit.curve / FULL, gain)
                miss = float(delta_e_2000(halftone(nodes), now)[1:].mean())
                left.setdefault((gain, known is None), []).append(miss)
                if gain == 1.2:
                    assert not fit.change.within_noise
    mean = {key: np.mean(values) for key, values in left.items()}
    assert mean[1.0, False] < 0.15 * mean[1.0, True]
    assert mean[1.2, False] < 0.7 * mean[1.2, True]


def test_exact_ramps_of_a_press_that_stands_still_give_the_same_curve():
    steps = np.linspace(0, 1, 21)
    ramp = Ramp("C", steps, halftone(steps), np.ones((21, 3)), ("",) * 21)
    old = linearise([ramp], [0.9], "sctv")[0].curve
    (fit,) = match_tones([ramp], [0.9], [halftone(old / FULL)], [old])
    # Tones stand at 256 nodes, the ramp's steps between them.
    assert np.abs(fit.curve.astype(int) - old).max() < 0.001 * FULL
    assert fit.change.difference < 0.02


def press_lab(press, ink, amounts, gain=1.0):
    from strikeoff.colour.cielab import spectra_to_lab

    inks = np.zeros((len(amounts), 4))
    inks[:, ink] = amounts
    return spectra_to_lab(press.print(inks, np.full(4, gain)), press.wavelengths_nm)


def test_noise_that_only_some_tones_see_is_no_change_of_them():
    """Steps whose tone moves little with Lab speak louder than those that it moves four times as far.

    The covariance of y = S e + S e0, for readings e and that of the cloth e0 of equal variance, is
    diag(|s|^2) + S S' (C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, 2006,
    A.2).
    """
    tone = np.linspace(0.05, 1, 20)
    slopes = np.outer(np.where(tone < 0.4, 4.0, 1.0), [0.0, 0.6, 0.8])
    rng = np.random.default_rng(4)
    chances = []
    for _ in range(40):
        errors = rng.normal(0, 0.004, (21, 3))
        moved = (slopes * (errors[1:] - errors[0])).sum(axis=1)
        chances.append([tone_change(tone, moved, slopes=known).chance for known in (slopes, None)])
    told, flat = (np.array(chances) > 0.95).mean(axis=0)
    assert told <= 0.1
    assert told < flat
    still = tone_change(tone, np.zeros(20), slopes=slopes)
    assert np.abs(still.moved).max() == 0.0


def test_a_step_that_reads_as_the_cloth_is_no_more_certain_than_its_neighbours():
    """A lost tint: one of 20 steps without ink moves the others by less than it is off itself."""
    steps, nodes = np.linspace(0, 1, 21), np.linspace(0, 1, NODES)
    model, lab = halftone(nodes), halftone(steps) + np.random.default_rng(2).normal(0, 0.2, (21, 3))
    lab[1] = lab[0]
    off = delta_e_2000(halftone(steps[:2])[:1], halftone(steps[:2])[1:])[0]
    (fit,) = match_tones(
        [Ramp("C", steps, lab, np.ones((21, 3)), ("",) * 21)], [1.0], [model], [to_codes(nodes)]
    )
    assert off > 2.0
    assert delta_e_2000(model, halftone(fit.curve / FULL)).max() < 0.5 * off
