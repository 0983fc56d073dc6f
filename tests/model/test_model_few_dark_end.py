"""Greys of four inks run into the darkest one: what is under nearly full black comes in time."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.measurement.iso28178 import format_iso28178
from strikeoff.measurement.read import parse_readings
from strikeoff.measurement.records import ReadingSet
from strikeoff.mill.press import WAVELENGTHS_NM, ink_columns, invented_press
from strikeoff.model.black import black_greys
from strikeoff.model.dark_end import end_of_few
from strikeoff.model.inverse import make_inverse, solve
from strikeoff.model.limits import FULL
from strikeoff.model.solved_nodes import solved_nodes
from strikeoff.qualify.build import build_condition

INKS, STEP = "CMYK", 0.25


@pytest.fixture(scope="module")
def inverse(coarse_gamut_of_module):
    """Four inks at 300 %, dots after Neugebauer (1937) and Yule and Nielsen (1951) with an exponent of 2."""
    rng = np.random.default_rng(4)
    corners = np.array(np.meshgrid(*[[0.0, 1.0]] * 4, indexing="ij")).reshape(4, -1).T
    solids = invented_press("T1", inks=INKS).print(corners)
    scattered = rng.random((400, 4)) * (rng.random((400, 4)) < 0.5)
    scattered /= np.maximum(scattered.sum(axis=1) / 3.0, 1.0)[:, None]
    tints = np.kron(np.eye(4), [[0.25], [0.5], [0.75], [1.0]])
    inks = np.round(np.vstack([np.zeros(4), tints, scattered]), 3)
    share = np.prod(np.where(corners[None] > 0, inks[:, None], 1.0 - inks[:, None]), axis=2)
    spectra = (share @ np.sqrt(solids)) ** 2 * (1.0 + 0.002 * rng.standard_normal((len(inks), 1)))
    ids = tuple(f"P{number}" for number in range(len(inks)))
    made = ReadingSet(ids, ink_columns(INKS), inks, spectra=spectra, wavelengths_nm=WAVELENGTHS_NM)
    data = format_iso28178(made).encode()
    readings = parse_readings(data, source="simulated cloth")[0]
    options = {"name": "area", "label": "simulated", "total_ink": 3.0, "validated": False}
    return build_condition(readings, data, **options).inverse


def greys(inverse, lightness):
    return np.column_stack([lightness, black_greys(inverse.policy, inverse.curve, lightness)])


@pytest.fixture(scope="module")
def darkest(inverse):
    """Lightness of the darkest grey that is met."""
    lightness = np.arange(5.0, 60.0, STEP)
    met = solve(inverse, greys(inverse, lightness), exact=False).de00 < 0.1
    return lightness[met.argmax()]


def test_inks_under_black_come_in_time(inverse, darkest):
    """No quarter of an L* takes more than an eighth of an ink, all together; without the lead one does."""
    ramp = greys(inverse, darkest + np.arange(4.0, -4.0, -STEP))
    led, late = (
        np.abs(np.diff(solve(one, ramp, exact=False).inks, axis=0)).sum(axis=1).max()
        for one in (inverse, replace(inverse, dark_end=None))
    )
    assert led < 0.125 < late


def test_greys_below_the_darkest_are_no_lighter(inverse, darkest):
    found = solve(inverse, greys(inverse, np.arange(darkest, 0.0, -1.0)), exact=False)
    assert np.diff(found.lab[:, 0]).max() < 0.02
    assert found.lab[-1, 0] > inverse.dark_end.lab[0] - 1.0


def test_the_lead_hardly_costs_colour(inverse, darkest):
    ramp = greys(inverse, np.arange(darkest + 15.0, darkest, -STEP))
    assert solve(inverse, ramp, exact=False).de00.max() < 0.05


def test_the_end_is_kept_with_the_nodes(inverse):
    """In whole codes, so that kept and fresh give the same recipes; and it keeps the limits."""
    nodes = solved_nodes(inverse.field, inverse.dark_end)
    assert (np.array(nodes.dark_end) / FULL == inverse.dark_end.inks).all()
    assert inverse.limits.legal(inverse.dark_end.inks[None]).all()
    again = make_inverse(
        inverse.exact, tuple(INKS), inverse.limits, inverse.policy, inverse.quick, nodes=nodes
    )
    assert (again.dark_end.inks == inverse.dark_end.inks).all()


def test_nodes_of_earlier_releases_lead_to_the_end_too(inverse):
    """They say of few inks that their field leads to no darkest neutral."""
    nodes = replace(solved_nodes(inverse.field), dark_end=())
    again = make_inverse(
        inverse.exact, tuple(INKS), inverse.limits, inverse.policy, inverse.quick, nodes=nodes
    )
    assert np.abs(again.dark_end.inks - inverse.dark_end.inks).max() < 0.02


def test_of_what_lies_below_the_darkest_grey_the_darkest_is_chosen():
    """Not the one that is a little darker and far off grey; greys from L* 20 on are met here."""
    ends = {
        19.5: [19.6, 0, 0],
        19.0: [19.2, 0, 0],
        18.0: [18.9, 3, 0],
        16.0: [19.3, 0, 0],
        12.0: [19.5, 0, 0],
    }

    def solved(lab):
        below = np.array([ends.get(round(row[0], 2), row) for row in lab])
        return lab / 100.0, below, np.where(lab[:, 0] >= 20.0, 0.0, 1.0)

    def neutrals(lightness):
        return np.column_stack([lightness, np.zeros((len(lightness), 2))])

    inks, lab = end_of_few(solved, neutrals, 15.0)
    assert lab.tolist() == [19.2, 0.0, 0.0]
    assert inks[0] == 0.19
    assert end_of_few(solved, neutrals, 70.0) is None
