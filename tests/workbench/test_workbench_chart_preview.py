"""Previews of charts show finished tones, not amounts after curves, and say what they are worth."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff import workbench
from strikeoff.chart.screen_inks import screen_colours
from strikeoff.colour.difference import delta_e_2000
from strikeoff.condition.archive import write_condition
from strikeoff.inks.spaces import identity_spaces
from strikeoff.inks.tables import FULL, NODES, to_codes
from strikeoff.report.screen_colour import lab_to_srgb, srgb_to_lab
from strikeoff.workbench.chart_preview import condition_preview, curves_preview, tones_of

# A press on which little ink makes much tone.
EARLY = np.tile(to_codes(np.linspace(0.0, 0.9, NODES) ** 2), (3, 1))
NAMES = ("C", "M", "Y")


def test_amounts_before_tone_curves_look_like_the_tones_they_make(small_readings):
    condition = small_readings.condition
    bent = replace(condition, spaces=condition.spaces.with_tone(EARLY, "colour"))
    tones = np.random.default_rng(4).random((40, 3)) * 0.8
    laid = np.stack(
        [np.interp(column, np.linspace(0, 1, NODES), EARLY[0] / FULL) for column in tones.T], axis=1
    )
    np.testing.assert_allclose(tones_of(laid, bent.spaces), tones, atol=0.01)
    shown = condition_preview(bent, "laid-down")
    white = condition.native.view.white
    wanted = lab_to_srgb(condition.native.lab(tones), white)[0] / 255
    np.testing.assert_allclose(shown.colours(laid), wanted, atol=0.02)
    assert "taken back through its tone curves" in shown.words
    np.testing.assert_allclose(condition_preview(bent, "calibrated").colours(tones), wanted, atol=1e-9)
    # More than the curve's end is its full ink.
    np.testing.assert_allclose(tones_of(np.full((1, 3), 0.95), bent.spaces), 1.0)


def test_curves_alone_tell_the_tones_of_single_inks_and_overprints_are_not_blackened():
    """Half of the tone is half of the CIEDE2000 between cloth and solid, by the aim of the curves."""
    spaces = replace(identity_spaces(NAMES, 3.0), tone=EARLY, aim="colour")
    half, full = 0.5 * np.eye(3), np.eye(3)
    none = np.zeros((1, 3))
    laid = np.full((3, 3), 0.0)
    np.fill_diagonal(laid, np.interp(0.5, np.linspace(0, 1, NODES), EARLY[0] / FULL))
    for amounts, space in ((half, "calibrated"), (laid, "laid-down")):
        shown = curves_preview(spaces, space, NAMES)
        cloth, middle, solid = (srgb_to_lab(shown.colours(inks)) for inks in (none, amounts, full))
        ratio = delta_e_2000(cloth, middle) / delta_e_2000(cloth, solid)
        np.testing.assert_allclose(ratio, 0.5, atol=0.02)
        assert "(colour)" in shown.words
    recipe = np.full((1, 3), 0.6)
    dark = curves_preview(spaces, "calibrated", NAMES).colours(recipe)
    assert (srgb_to_lab(dark) - srgb_to_lab(screen_colours(recipe, NAMES)))[0, 0] > 5


def test_without_curves_the_preview_says_that_tones_are_not_known():
    shown = curves_preview(identity_spaces(NAMES, 3.0), "calibrated", NAMES)
    np.testing.assert_array_equal(shown.colours(np.eye(3)), screen_colours(np.eye(3), NAMES))
    assert "not how dark they print" in shown.words


@pytest.mark.parametrize("kind", ["characterisation", "linearisation"])
def test_the_foot_of_a_preview_says_what_its_colours_are(small_readings, tmp_path, kind):
    record = tmp_path / "a.cond"
    write_condition(record, small_readings.condition)
    workbench.make_chart(tmp_path / "made", kind=kind, condition=record, dpi=(50.0, 50.0))
    text = (tmp_path / "made" / f"{kind}.pdf").read_bytes().decode("latin-1")
    assert "(Preview: colours" in text
    assert "model of the condition" in text
    assert "Preview" not in (tmp_path / "made" / f"{kind}.txt").read_text()
