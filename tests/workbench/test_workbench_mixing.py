"""A condition says how its inks mix."""

from dataclasses import replace

from strikeoff.model.neugebauer import fit_area_coverage
from strikeoff.workbench.condition_figures import error_section
from strikeoff.workbench.condition_told import describe
from strikeoff.workbench.mixing import mixing_record, mixing_words


def test_simulated_cloth_mixes_in_one_layer(small_readings):
    """The press of the mill adds absorption up; 1.1 % is its surface, 0.5 % more no crowded dye takes."""
    told = mixing_record(small_readings.condition)
    assert told["by"] == "layer"
    assert told["exponent"] is None
    assert abs(told["surface_percent"] - 1.5) < 0.5
    assert 50.0 < told["physics_share_percent"] <= 95.0
    words = mixing_words(small_readings.condition)
    assert words in describe(small_readings.condition, "sha256:0", None)
    assert words in error_section(small_readings.condition).html


def test_by_area(small_readings):
    forward = small_readings.condition.forward
    physics = fit_area_coverage(forward.recipes, forward.bands)
    forward = replace(forward, physics=physics, share=0.25)
    view = small_readings.condition.native.view
    condition = replace(small_readings.condition, forward=forward, native=forward.under(view))
    told = mixing_record(condition)
    assert (told["by"], told["surface_percent"]) == ("area", None)
    assert told["exponent"] == round(physics.exponent, 3)
    assert mixing_words(condition).endswith("physics counts 25 % beside plain regression")
