"""Metamerism and inconstancy against a worked pair and a foreign engine."""

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.colour.metamerism import (
    corresponding_cmccat2000,
    inconstancy_cmccon02,
    special_metamerism_iso_18314_4,
    special_metamerism_ratio,
)
from strikeoff.colour.spectra import GRID_10NM
from strikeoff.colour.tristimulus import spectra_to_xyz
from strikeoff.colour.weights import white_point

# A worked pair for ISO 18314-4: standard and sample under reference and test light. The four indices were
# computed by two independent programs.
PAIR = (
    [39.0908, -21.3269, 22.6657],
    [38.17781, -17.4939, 21.0618],
    [38.83253, -19.8787, 20.0453],
    [37.9013, -19.56327, 16.9346],
)


def test_the_worked_pair():
    assert special_metamerism_iso_18314_4(*PAIR, formula="de1976") == pytest.approx(3.8268, abs=5e-5)
    assert special_metamerism_iso_18314_4(*PAIR) == pytest.approx(2.4654, abs=5e-5)
    assert special_metamerism_ratio(*PAIR, formula="de1976") == pytest.approx(3.9842, abs=5e-5)
    assert special_metamerism_ratio(*PAIR) == pytest.approx(2.6006, abs=5e-5)


def test_a_pair_that_matches_everywhere_has_no_metamerism():
    """And one that is off by the same under both lights."""
    reference, test = np.array(PAIR[0]), np.array(PAIR[1])
    assert special_metamerism_iso_18314_4(reference, test, reference, test) == 0
    off = [1.0, -2.0, 0.5]
    index = special_metamerism_iso_18314_4(reference, test, reference + off, test + off)
    assert index == pytest.approx(0, abs=1e-12)
    with pytest.raises(InputError, match="ratios"):
        special_metamerism_ratio(reference, test, [40.0, 0.0, 1.0], test)


def test_corresponding_colours_agree_with_the_foreign_engine():
    """colour-science's CMCCAT2000 at the degree of adaptation that its luminances give."""
    from colour.adaptation import chromatic_adaptation_forward_CMCCAT2000

    rng = np.random.default_rng(1)
    a, d65 = white_point("A", "10"), white_point("D65", "10")
    xyz = rng.uniform(5, 90, (20, 3))
    luminance = 200.0
    degree = 0.08 * np.log10(luminance) + 0.76
    theirs = chromatic_adaptation_forward_CMCCAT2000(xyz, a, d65, luminance, luminance)
    np.testing.assert_allclose(corresponding_cmccat2000(xyz, a, d65, degree), theirs, rtol=1e-6)
    np.testing.assert_allclose(corresponding_cmccat2000(a, a, d65), d65, rtol=1e-9)


def test_inconstancy_is_zero_for_greys_and_grows_with_structure():
    """A flat grey keeps its look; the same grey made of narrow bands does not."""
    whites = [white_point(light, "10") for light in ("D65", "FL11")]
    flat = np.full(len(GRID_10NM), 0.3)
    combed = 0.3 + 0.25 * np.cos(GRID_10NM / 18.0)
    index = []
    for spectrum in (flat, combed):
        xyz = [spectra_to_xyz(spectrum, GRID_10NM, light, "10") for light in ("D65", "FL11")]
        index.append(float(inconstancy_cmccon02(*xyz, *whites)))
    assert index[0] < 1e-9
    assert index[1] > 1.0
