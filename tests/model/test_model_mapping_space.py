"""The space in which gamut mapping keeps hue is the one that keeps Munsell hues best."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from strikeoff.model.gamut import MAPPING_SPACE, WORST_HUE, WORST_HUE_STEPS, lab_to_ok, ok_to_lab

BENCH = Path(__file__).parents[2] / "bench" / "bench_hue.py"


@pytest.fixture(scope="module")
def bench():
    spec = importlib.util.spec_from_file_location("bench_hue", BENCH)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_ground_is_the_munsell_renotation(bench):
    """Newhall, Nickerson & Judd 1943: forty hues, several values and chromas of each."""
    xyz, number = bench.munsell_loci()
    assert np.bincount(number).shape == (40,)
    assert np.bincount(number).min() >= 20
    # Values 2 and 9 have Y 3.13 and 78.7 (MgO 102.57); adaptation changes the luminance of strong colours.
    assert 0.025 < xyz[:, 1].min() < 0.0306
    assert 0.766 < xyz[:, 1].max() < 0.79


def test_no_space_keeps_munsell_hues_clearly_better(bench):
    rows = {row["method"]: row for row in bench.run()}
    assert len(rows) == 8
    for figure in ("degrees", "steps", "worst_steps"):
        best = min(row[figure] for row in rows.values())
        assert rows["Oklab"][figure] <= 1.02 * best
    assert rows["CIELAB"]["worst_hue"].endswith("PB")  # the known bend of CIELAB's blues
    assert ("Oklab", rows["Oklab"]["worst_hue"]) == (MAPPING_SPACE, WORST_HUE)
    assert pytest.approx(rows["Oklab"]["worst_steps"], abs=0.005) == WORST_HUE_STEPS
    assert rows["CIELAB"]["worst_steps"] > 1.3 * rows["Oklab"]["worst_steps"]


def test_mapping_takes_place_there(bench):
    """A swapped or turned opponent axis in the mapping's own conversion would show."""
    xyz, number = bench.munsell_loci()
    from strikeoff.colour.adaptation import adapt
    from strikeoff.colour.cielab import xyz_to_lab

    lab = xyz_to_lab(adapt(xyz, bench.D65, np.array([0.9642, 1.0, 0.8249])), np.array([0.9642, 1.0, 0.8249]))
    expected = {row["method"]: row for row in bench.run()}["Oklab"]["steps"]
    found = np.sqrt((bench.hue_departures(lab_to_ok(lab), number)[1] ** 2).mean())
    assert found == pytest.approx(expected, rel=0.02)
    np.testing.assert_allclose(ok_to_lab(lab_to_ok(lab)), lab, atol=1e-6)
