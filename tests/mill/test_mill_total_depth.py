"""Depth under the total ink limit on a simulated press whose grey is the light ink of its black."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.colour.cielab import spectra_to_lab
from strikeoff.condition.ink_space import calibrated_limits
from strikeoff.inks.calibrated_total import straight_limits
from strikeoff.inks.records import Ink
from strikeoff.inks.spaces import InkSpaces
from strikeoff.inks.split import light_split
from strikeoff.inks.tables import NODES, straight_curves, to_codes
from strikeoff.mill.press import WAVELENGTHS_NM, invented_press

SAG = 1.8
STEPS = np.linspace(0, 1, 33)


@pytest.fixture(scope="module")
def press():
    return invented_press("T1")


def lab(press, laid_down):
    """Truth of laid-down amounts; the press takes them for what its heads are told."""
    return spectra_to_lab(press.print(laid_down), WAVELENGTHS_NM)


@pytest.fixture(scope="module")
def spaces(press):
    """Tones that sag, as those against gain do; the grey gives way to black as the split has it."""
    names = press.inks
    colours = [name for name in names if name != "N"]
    inks = [Ink(name) for name in colours] + [Ink("N", "light", "K")]
    ramp = {name: np.zeros((len(STEPS), len(names))) for name in names}
    for name in names:
        ramp[name][:, names.index(name)] = STEPS
    density = {
        name: -np.log10(press.print(ramp[name]).mean(axis=1) / press.print(ramp[name][:1]).mean())
        for name in "KN"
    }
    tone = np.tile(np.linspace(0, 1, NODES) ** SAG, (len(colours), 1))
    split = straight_curves(len(inks)).copy()
    both = light_split(STEPS, density["K"], STEPS, density["N"])
    split[colours.index("K")], split[-1] = both.dark, both.light
    return InkSpaces(
        tuple(colours), tuple(inks), to_codes(tone), split,
        straight_curves(len(inks))[:, None], total=3.0,
    )  # fmt: skip


def darkest(press, spaces, legal):
    """Lowest L* of greys, by random search."""
    order = [[ink.name for ink in spaces.inks].index(name) for name in press.inks]
    rng, size = np.random.default_rng(0), len(spaces.channels)
    recipes = rng.random((6000, size)) * (rng.random((6000, size)) < 0.6)
    for turn in range(10):
        recipes = recipes[legal(recipes)]
        laid = spaces.to_laid_down(to_codes(recipes))[:, order] / 65535
        seen = lab(press, laid)
        price = seen[:, 0] + 2 * np.maximum(np.hypot(seen[:, 1], seen[:, 2]) - 1.5, 0)
        best = recipes[np.argsort(price)[:100]]
        near = best[rng.integers(0, 100, 1500)] + rng.normal(0, 0.25 / (turn + 1), (1500, size))
        recipes = np.vstack([best, np.clip(near, 0, 1)])
    return float(price.min())


@pytest.mark.parametrize("total", [2.2, 3.0])
def test_the_darkest_grey_is_within_one_of_what_the_laid_down_total_allows(press, spaces, total):
    spaces = replace(spaces, total=total)
    _, weights, most = straight_limits(spaces)
    held = darkest(press, spaces, calibrated_limits(spaces).legal)
    true = darkest(press, spaces, lambda x: spaces.load(spaces.to_laid_down(to_codes(x))) <= total)
    straight = darkest(press, spaces, lambda x: x @ weights <= most)
    assert true - 0.1 <= held <= true + 1.0
    assert held < straight - 0.5
