"""How much dark and light inks lay down together under a total: room for overprints against grain."""

from dataclasses import replace

import numpy as np
import pytest

from strikeoff.colour.cielab import lab_to_xyz, spectra_to_lab
from strikeoff.colour.weights import white_point
from strikeoff.condition.ink_space import calibrated_limits
from strikeoff.inks.press_file import PressFile
from strikeoff.inks.records import Ink
from strikeoff.inks.tables import NODES, to_codes
from strikeoff.mill.physics import with_ink_scaled
from strikeoff.mill.press import WAVELENGTHS_NM, invented_press
from strikeoff.qualify.light_split import GRAINY_TONES, KEPT, LightPair, choose_split, light_pair
from strikeoff.qualify.ramps import Ramp

STEPS = np.linspace(0, 1, 21)
COLOURS, PALE = "CMK", {"c": "C", "k": "K"}


def ramp(name):
    """Simulated: light inks are the dark ones diluted to a tenth."""
    spectra = invented_press("T1", inks=name.upper()).print(STEPS[:, None])
    if name in PALE:
        spectra = with_ink_scaled(spectra, spectra[0], 0.1)
    lab = spectra_to_lab(spectra, WAVELENGTHS_NM)
    xyz = lab_to_xyz(lab, white_point("D50", "2"))
    return Ramp(name, STEPS, lab, xyz, tuple(str(n) for n in range(len(STEPS))), spectra)


@pytest.fixture(scope="module")
def ramps():
    return {name: ramp(name) for name in (*COLOURS, *PALE)}


def choose(ramps, total, bound=None, light_drop=12.0):
    inks = (
        *(Ink(name, drop_pl=(12.0,)) for name in COLOURS),
        *(Ink(name, "light", dark, drop_pl=(light_drop,)) for name, dark in PALE.items()),
    )
    press = PressFile(inks, total=total)
    loads = dict(zip([ink.name for ink in inks], press.each_ink().spaces().loads, strict=True))
    record = {ink.name: ink for ink in inks}
    pairs = {
        dark: light_pair(ramps[dark], ramps[name], (record[dark], record[name]), (loads[dark], loads[name]))
        for name, dark in PALE.items()
    }
    return choose_split(press, pairs, [ramps[name] for name in COLOURS], bound), press, pairs


def reached(press, splits):
    """How far towards all full inks the total lets a recipe go, before tone curves."""
    limits = calibrated_limits(press.spaces(splits))
    shares = np.linspace(0, 1, 201)[:, None]
    return float(shares[limits.legal(shares * np.ones((1, len(COLOURS))))].max())


def test_room_for_every_tone_changes_nothing(ramps):
    choice, _, pairs = choose(ramps, 4.5)
    assert choice.bound is None
    assert not choice.is_held
    assert choice.printed == choice.printed_free == choice.printed_dark == 1
    for name, pair in pairs.items():
        assert (choice.splits[name].light == pair.split().light).all()
        assert (choice.splits[name].dark == pair.split().dark).all()


@pytest.mark.parametrize(("light_drop", "asked"), [(12.0, None), (18.0, 1.0)])
def test_a_total_of_all_full_tones_prints_them_all(ramps, light_drop, asked):
    """The sum of full tones is what they lay down together: arithmetic."""
    total = 3 * 12.0 / light_drop
    choice, press, pairs = choose(ramps, total, asked, light_drop)
    assert choice.bound == 1
    assert choice.printed == choice.printed_dark == 1
    assert reached(press, choice.splits) == 1
    free = {name: pair.split() for name, pair in pairs.items()}
    assert max(split.most_laid_down for split in free.values()) > 1.1
    assert reached(press, free) < 0.9
    spaces = press.spaces(choice.splits)
    laid = spaces.to_laid_down(np.arange(0, 65536, 257, dtype=np.uint16)[:, None].repeat(3, axis=1))
    assert spaces.load(laid).max() <= total + 1e-4


def test_a_lower_total_holds_light_tones_back_as_far_as_overprints_need_it(ramps):
    choice, press, pairs = choose(ramps, 2.3)
    assert 0.25 < choice.bound < 1
    assert choice.printed_free < choice.printed
    assert KEPT * choice.printed_dark - 2e-3 <= choice.printed <= choice.printed_dark
    assert all(1 > choice.grain[name] > choice.grain_free[name] for name in pairs)
    free = {name: pair.split() for name, pair in pairs.items()}
    assert reached(press, choice.splits) > reached(press, free) + 0.1
    more = choose(ramps, 2.3, choice.bound + 0.05)[0]
    assert more.printed < KEPT * choice.printed_dark
    assert more.grain["K"] < choice.grain["K"]


def test_a_bound_that_is_asked_for(ramps):
    choice, press, pairs = choose(ramps, 3.0, 1.1)
    assert choice.bound == 1.1
    assert all(split.most_laid_down == pytest.approx(1.1, abs=1e-3) for split in choice.splits.values())
    unheard = choose(ramps, 3.0, 4.0)[0]
    assert choice.is_held
    assert not unheard.is_held
    assert unheard.grain == unheard.grain_free
    assert unheard.printed == unheard.printed_free < choice.printed
    # A dark ink that counts nothing takes no room: its light ink is not held back.
    dark, light = replace(press.inks[0], weight=0.0), press.inks[3]
    pair = light_pair(ramps["C"], ramps["c"], (dark, light), (0.0, 1.0))
    assert (pair.split(1.0).light == pairs["C"].split().light).all()


def test_grain_of_dyes_is_that_of_drops_in_one_layer():
    """A tenth of the dye in each drop: ten times the drops, so the root of a tenth of the scatter.

    Drops at random scatter as the root of their number (E. W. H. Selwyn, 1935), but for the share of pixels
    that is covered; in one layer (P. Kubelka, F. Munk, 1931) the same tone changes as fast by either ink.
    """
    absorbs, part = np.linspace(0.0, 1.0, 65), 0.1

    def density(absorbed):
        k = 0.02 + 9.0 * absorbed
        return -np.log10((1 + k - np.sqrt(k * (k + 2))) / (1.02 - np.sqrt(0.02 * 2.02)))

    pair = LightPair(density(absorbs), density(part * absorbs), absorbs, 1.0, 1.0, 1.0)
    node = np.linspace(0.0, 1.0, NODES)
    # Tones so light that the light ink alone prints them.
    tone = to_codes(0.05 * node)
    amount = GRAINY_TONES * 0.05
    wanted = np.sqrt(part * amount * (1 - amount / part)).mean() / np.sqrt(amount * (1 - amount)).mean()
    assert wanted < 0.3
    assert pair.grain(pair.split(), tone) == pytest.approx(wanted, rel=0.05)
