"""Dark greys under a strong black, where coloured inks hardly show and a way down has many dents."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff import workbench
from strikeoff.colour.difference import delta_e_2000
from strikeoff.inks.press_file import PressFile, press_text, read_curves
from strikeoff.inks.records import Ink, Screen
from strikeoff.measurement.read import read_readings
from strikeoff.measurement.write import write_readings
from strikeoff.mill.press import WAVELENGTHS_NM, invented_press
from strikeoff.model.black import BlackPolicy
from strikeoff.model.inverse import make_inverse, solve
from strikeoff.qualify.build import build_condition

INKS = ("C", "M", "Y", "K")


def printed(reference, path, curves=None):
    """Write simulated readings of a chart, with the scatter of a quiet instrument."""
    chart, _ = read_readings(reference, need_colour=False)
    laid = chart.coverages
    if curves is not None:
        laid = read_curves(curves).to_laid_down(np.rint(laid * 65535).astype(np.uint16)) / 65535.0
    spectra = invented_press("T1", inks="CMYK").print(laid)
    rng = np.random.default_rng(1)
    spectra *= 1.0 + 0.0045 * rng.standard_normal((len(laid), 1))
    spectra += 0.0002 * rng.standard_normal(spectra.shape)
    write_readings(
        path, replace(chart, spectra=spectra, wavelengths_nm=WAVELENGTHS_NM), header=chart.keywords
    )
    return path


@pytest.fixture(scope="module")
def condition(tmp_path_factory, coarse_gamut_of_module):
    """A cloth of strong black, linearised first, so that the dark end of its ramps is steep."""
    folder = tmp_path_factory.mktemp("dark")
    inks = [Ink(name, drop_pl=(12.0,)) for name in INKS]
    (folder / "inks.toml").write_text(press_text(PressFile(tuple(inks), Screen(600, 600), 2.8)))
    workbench.make_chart(folder / "ramps", kind="linearisation", curves=folder / "inks.toml", dpi=(25, 25))
    ramps = printed(folder / "ramps" / "linearisation.txt", folder / "ramps-read.txt")
    curves = folder / "curves.json"
    workbench.make_tone_curves(ramps, curves, limits=folder / "inks.toml")
    workbench.make_chart(folder / "chart", kind="characterisation", curves=curves, patches=220, dpi=(25, 25))
    chart = printed(folder / "chart" / "characterisation.txt", folder / "read.txt", curves)
    readings, _ = read_readings(chart)
    options = {"name": "cloth", "label": "simulated", "spaces": read_curves(curves), "validated": False}
    return build_condition(readings, chart.read_bytes(), **options)


def closest_by_search(condition, greys):
    """Errors of the best of many legal recipes with much black, each then moved at random."""
    rng = np.random.default_rng(5)
    model, limits = condition.inverse.quick, condition.limits
    tried = rng.random((60_000, 4))
    tried[:, 3] = 1.0 - 0.5 * tried[:, 3] ** 2
    tried = tried[limits.legal(tried)]
    lab = model.lab(tried)
    best = np.empty(len(greys))
    for row, grey in enumerate(greys):
        at = tried[np.argsort(delta_e_2000(grey, lab))[:20]]
        for spread in 0.1, 0.03, 0.01, 0.003:
            moved = np.clip(at[:, None] + spread * rng.standard_normal((len(at), 100, 4)), 0, 1).reshape(
                -1, 4
            )
            moved = np.vstack([at, moved[limits.legal(moved)]])
            error = delta_e_2000(grey, model.lab(moved))
            at = moved[np.argsort(error)[:20]]
        best[row] = error.min()
    return best


def test_the_darkest_greys_are_found(condition):
    ramp = np.zeros((24, 3))
    ramp[:, 0] = np.linspace(44.0, 24.0, 24)
    greys = condition.connection.from_relative(ramp)
    searched = closest_by_search(condition, greys)
    found = solve(condition.inverse, greys, exact=False).de00
    within = searched < 0.5
    table = np.round(np.column_stack([ramp[:, 0], found, searched]), 2)
    assert (found < searched + 0.1)[within].all(), table
    assert condition.black_lab[0] < ramp[within, 0].min() + 1.0


@pytest.mark.parametrize("most", [0.4, 0.0])
def test_no_colour_holds_more_black_than_the_most(condition, most):
    """A maximum is a limit, however dark the colour: what cannot be reached without is lighter."""
    policy = BlackPolicy(maximum=most)
    inverse = make_inverse(condition.native, INKS, condition.limits, policy, condition.table)
    ramp = np.zeros((30, 3))
    ramp[:, 0] = np.linspace(100.0, 15.0, 30)
    tried = condition.limits.random(200, np.random.default_rng(2))
    lab = np.vstack([condition.connection.from_relative(ramp), condition.inverse.quick.lab(tried)])
    for exact in (True, False):
        found = solve(inverse, lab, exact=exact)
        assert found.inks[:, 3].max() <= most + 1e-9
        assert condition.limits.legal(found.inks).all()
    assert solve(condition.inverse, lab, exact=False).inks[:, 3].max() > 0.9


@pytest.mark.parametrize("little", [{"strength": 0.0}, {"start": 50.0}, {"chroma_reach": 1.0}])
def test_the_dark_is_reached_however_little_black_is_wished(condition, little):
    """Colour comes before the policy: greys that need black get it, as deep as under the usual policy."""
    inverse = make_inverse(condition.native, INKS, condition.limits, BlackPolicy(**little), condition.table)
    ramp = np.zeros((10, 3))
    ramp[:, 0] = np.linspace(42.0, float(condition.black_lab[0]), 10)
    greys = condition.connection.from_relative(ramp)
    usual = solve(condition.inverse, greys, exact=False).de00
    found = solve(inverse, greys, exact=False)
    assert usual.max() < 0.5
    assert (found.de00 < usual + 0.1).all(), np.round(np.column_stack([ramp[:, 0], found.de00, usual]), 2)
