"""What a condition has learnt of single inks is found, and other tones than those warn."""

import numpy as np

from strikeoff.colour.difference import delta_e_2000
from strikeoff.inks.tables import NODES
from strikeoff.measurement.read import readings_lab
from strikeoff.qualify.ramps import Ramp
from strikeoff.workbench.model_ramps import other_tones, readings_behind, too_few_behind, weak_solids


def test_readings_of_the_ramp_behind_a_condition_are_found(small_readings):
    """Its chart has the solids alone and no steps: too few to tell what the model is off by."""
    condition, readings = small_readings.condition, small_readings.readings
    ramp = Ramp("X", np.linspace(0, 1, 21), np.zeros((21, 3)), np.ones((21, 3)), ("",) * 21)
    for ink in range(3):
        row = readings.coverages.tolist().index(np.eye(3)[ink].tolist())
        found, lab = readings_behind(condition, ink, ramp)
        assert found.tolist() == [1.0]
        np.testing.assert_allclose(lab, readings_lab(readings)[[row]], atol=1e-6)
    (problem,) = too_few_behind([("C", 1), ("M", 11), ("Y", 2)])
    assert (problem.where, problem.found) == ("ink C, Y", "1, 2 steps")
    assert too_few_behind([("C", 6)]) == []


def test_what_a_model_has_learnt_of_a_pale_ink_is_held_against_colour_too():
    """Yellow in even steps of CIEDE2000; in lightness they are not even."""
    cloth, way, fine = np.array([92.0, 0.0, 3.0]), np.array([-6.0, -4.0, 80.0]), np.linspace(0.0, 1.0, 2001)
    away = delta_e_2000(cloth, cloth + fine[:, None] * way)
    even = np.interp(np.linspace(0.0, away[-1], NODES), away, fine)[:, None]
    assert other_tones([("Y", cloth + even * way)], "lightness", None) == []
    (told,) = other_tones([("K", cloth + even * [-70.0, 0.0, 0.0])], "lightness", None)
    assert told.where == "ink K"


def test_a_solid_that_has_weakened_is_told_whatever_the_aim():
    """What moved towards the cloth by more than 1 CIEDE2000; a stronger solid, or noise, is no fault."""
    share = np.linspace(0.0, 1.0, NODES)[:, None]
    cloth, way = np.array([92.0, 0.0, 3.0]), np.array([-40.0, -30.0, -45.0])
    learnt = cloth + share * way

    def ramp(strength):
        lab = cloth + np.linspace(0.0, 1.0, 21)[:, None] * strength * way
        return Ramp("C", np.linspace(0.0, 1.0, 21), lab, np.ones((21, 3)), ("",) * 21)

    for strength in (1.0, 0.99, 1.1):
        assert weak_solids([("C", learnt, ramp(strength), 1.0)]) == []
    (told,) = weak_solids([("C", learnt, ramp(0.9), 1.0)])
    off = float(delta_e_2000(cloth + 0.9 * way, cloth + way))
    assert (told.severity, told.where, told.found) == ("warning", "ink C", f"{off:.2f} CIEDE2000 off")
    # An ink limited to 0.9 of the strong ramp is as the model has it.
    assert weak_solids([("C", learnt, ramp(1.0 / 0.9), 0.9)]) == []
