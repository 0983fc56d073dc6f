"""The light-ink split: who prints what, strength kept, grain gone from the highlights."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError
from strikeoff.colour.cielab import lab_to_xyz, spectra_to_lab
from strikeoff.colour.weights import white_point
from strikeoff.inks.split import graininess, light_split
from strikeoff.mill.physics import with_ink_scaled
from strikeoff.mill.press import invented_press

X = np.linspace(0, 1, 65)


def ramp(top, bend):
    return top * (1 - np.exp(-bend * X)) / (1 - np.exp(-bend))


@settings(max_examples=60)
@given(
    top=st.floats(0.6, 2.0),
    ratio=st.floats(0.08, 0.6),
    bends=st.tuples(st.floats(0.2, 3), st.floats(0.2, 3)),
    limit=st.floats(0.5, 1.0),
    knee=st.floats(0.2, 0.9),
)
def test_strength_is_kept_and_the_dark_ink_starts_late(top, ratio, bends, limit, knee):
    dark_d, light_d = ramp(top, bends[0]), ramp(top * ratio, bends[1])
    split = light_split(X, dark_d, X, light_d, light_limit=limit, knee=knee)
    dark, light = split.dark / 65535, split.light / 65535
    assert (np.diff(split.dark.astype(int)) >= 0).all()
    assert dark[0] == light[0] == 0
    assert dark[-1] == pytest.approx(1, abs=2e-5)
    assert light[-1] == pytest.approx(0, abs=2e-3)
    # Rises to one peak, at its limit or half of the dark solid's density, then falls.
    top_at = int(np.argmax(light))
    assert (np.diff(split.light.astype(int))[:top_at] >= 0).all()
    assert (np.diff(split.light.astype(int))[top_at:] <= 0).all()
    assert light.max() == pytest.approx(min(limit, np.interp(0.5 * top, light_d, X)), abs=0.01)
    t = np.linspace(0, 1, 256)
    assert split.start > 0
    assert (dark[t < split.start - 0.01] < 0.003).all()
    made = np.interp(dark, X, dark_d) + np.interp(light, X, light_d)
    np.testing.assert_allclose(made, np.interp(t, X, dark_d), atol=2e-3 * top)


def dye_density(absorbed, base=0.02):
    """P. Kubelka, F. Munk (1931): density above a cloth of what absorbs in a thick layer."""
    seen, cloth = (1 / (1 + k + np.sqrt(k * (k + 2))) for k in (base + absorbed, base))
    return np.log10(cloth) - np.log10(seen)


def test_absorption_of_dyes_adds_up():
    """Absorption over scattering adds up, and less density."""
    absorbs, dye = np.linspace(0.0, 1.0, 65) ** 1.3, 9.0
    dark_d, light_d = dye_density(dye * absorbs), dye_density(0.2 * dye * absorbs)
    t = np.linspace(0, 1, 256)
    wanted = np.interp(t, X, dark_d)
    missed = []
    for adds in (absorbs, None):
        split = light_split(X, dark_d, X, light_d, adds=adds)
        assert (np.diff(split.dark.astype(int)) >= 0).all()
        assert split.dark[-1] == pytest.approx(65535, abs=2)
        amounts = [np.interp(ink / 65535, X, absorbs) for ink in (split.dark, split.light)]
        missed.append(dye_density(dye * (amounts[0] + 0.2 * amounts[1])) - wanted)
    np.testing.assert_allclose(missed[0], 0.0, atol=0.01)
    assert missed[1].min() < -0.1
    steps = np.diff(missed[1] + wanted)
    assert steps[70:].min() < 0 < np.diff(missed[0] + wanted).min()


def test_grain_is_fine_in_highlights_and_never_jumps():
    """Graininess of random dots (E. W. H. Selwyn, 1935): well below that of the dark ink alone, no steps."""
    split = light_split(X, ramp(1.2, 1.0), X, ramp(0.35, 1.0))
    amounts = np.stack([split.dark, split.light], axis=-1) / 65535
    t = np.linspace(0, 1, 256)
    alone = graininess(t[:, None], [1.2])
    both = graininess(amounts, [1.2, 0.35])
    light_tones = (t > 0.02) & (t < split.start)
    assert (both[light_tones] < 0.75 * alone[light_tones]).all()
    assert both.max() <= alone.max() * 1.06
    # But for the first and last dots, where any grain goes as a root, it changes evenly.
    steps = np.abs(np.diff(both[(t > 0.03) & (t < 0.97)]))
    assert steps.max() < 0.03 * alone.max()


def test_strength_of_a_diluted_magenta_of_the_mill():
    """Simulated: overprints as products of reflectances keep the dark ramp's density within 10 %.

    Density of a broad band does not add up exactly; the tone curves made after the split take the rest.
    """
    press = invented_press("T1", inks="M")
    white = white_point("D50", "2")
    dark_r = press.print(X[:, None])
    cloth = dark_r[0]
    light_r = with_ink_scaled(dark_r, cloth, 0.2)

    def luminance(spectra):
        return lab_to_xyz(spectra_to_lab(spectra, press.wavelengths_nm), white)[:, 1]

    dark_d, light_d = (np.log10(luminance(r)[0] / luminance(r)) for r in (dark_r, light_r))
    split = light_split(X, dark_d, X, light_d)

    def at(spectra, amounts):
        return np.stack([np.interp(amounts, X, band) for band in spectra.T], axis=-1)

    made = at(dark_r, split.dark / 65535) * at(light_r, split.light / 65535) / cloth
    density = np.log10(luminance(dark_r)[0] / luminance(made))
    wanted = np.interp(np.linspace(0, 1, 256), X, dark_d)
    assert np.abs(density - wanted).max() < 0.10 * dark_d[-1]
    assert (np.diff(density) > 0).all()
    assert np.abs(density - wanted)[[0, 255]].max() < 0.002


def test_the_solid_at_the_limit_is_the_dark_ink_alone():
    """Tone curves end at the dark ink's limit: what is printed there is its own colour, not a paler mix."""
    dark_d, light_d = ramp(1.2, 2.0), ramp(0.3, 1.0)
    split = light_split(X, dark_d, X, light_d, dark_limit=0.7)
    t = np.linspace(0, 1, 256)
    dark, light = split.dark / 65535, split.light / 65535
    assert (light[t >= 0.7] < 0.005).all()
    np.testing.assert_allclose(dark[t >= 0.7], t[t >= 0.7], atol=2e-3)
    assert light.max() == pytest.approx(1, abs=0.01)
    assert (np.diff(split.dark.astype(int)) >= 0).all()
    made = np.interp(dark, X, dark_d) + np.interp(light, X, light_d)
    np.testing.assert_allclose(made, np.interp(t, X, dark_d), atol=2e-3)


def test_a_light_ink_that_is_nearly_as_strong_gives_way_no_faster_than_it_came():
    """A dye diluted to a quarter prints with over half of the density: no exchange in a few steps."""
    dark_d, light_d = ramp(1.05, 2.5), ramp(0.72, 1.2)
    split = light_split(X, dark_d, X, light_d)
    share = np.interp(split.light / 65535, X, light_d) / np.interp(np.linspace(0, 1, 256), X, dark_d)[-1]
    assert share.max() == pytest.approx(0.5, abs=0.01)
    strength = np.interp(np.linspace(0, 1, 256), X, dark_d) / dark_d[-1]
    slope = np.diff(share) / np.diff(strength)
    assert slope.min() > -1.7
    assert (split.light.astype(float) + split.dark).max() < 1.02 * 65535


@pytest.mark.parametrize("limit", [0.88, 0.917, 0.999, 0.5])
def test_none_of_the_light_ink_is_left_at_a_limit_between_nodes(limit):
    split = light_split(X, ramp(1.05, 2.5), X, ramp(0.4, 1.2), dark_limit=limit)
    nodes = np.linspace(0, 1, 256)
    assert np.interp(limit, nodes, split.light) == 0
    assert np.interp(limit, nodes, split.dark / 65535) == pytest.approx(limit, abs=2e-3)


def test_a_light_ink_that_is_none():
    with pytest.raises(InputError, match="not lighter"):
        light_split(X, ramp(1.0, 1.0), X, ramp(0.95, 1.0))
    with pytest.raises(InputError, match="light ramp"):
        light_split(X, ramp(1.0, 1.0), X, -ramp(0.3, 1.0))
    with pytest.raises(InputError, match="out of range"):
        light_split(X, ramp(1.0, 1.0), X, ramp(0.3, 1.0), light_limit=0.0)


@settings(max_examples=60)
@given(
    top=st.floats(0.6, 2.0),
    ratio=st.floats(0.08, 0.6),
    bends=st.tuples(st.floats(0.2, 3), st.floats(0.2, 3)),
    powers=st.tuples(st.floats(0.8, 2.5), st.floats(0.8, 2.5)),
    limits=st.tuples(st.floats(0.5, 1.0), st.floats(0.5, 1.0)),
    load=st.floats(0.0, 3.0),
    bound=st.floats(0.1, 2.0),
)
def test_a_bound_is_kept_and_nothing_changes_where_it_does_not_bind(
    top, ratio, bends, powers, limits, load, bound
):
    ramps = (X, ramp(top, bends[0]) ** powers[0], X, ratio * ramp(top, bends[1]) ** powers[1])
    end = np.floor(limits[0] * 255 + 1e-9) / 255
    if ramps[3][-1] >= 0.85 * np.interp(end, X, ramps[1]):
        return
    kept = {"dark_limit": limits[0], "light_limit": limits[1], "light_load": load}
    free, split = light_split(*ramps, **kept), light_split(*ramps, **kept, bound=bound)
    t = np.linspace(0, 1, 256)
    dark, light = split.dark / 65535, split.light / 65535
    most = bound + max(1 - bound, 0) * t / end
    laid, laid_free = ((s.dark + load * s.light) / 65535 / end for s in (split, free))
    used = t <= end
    assert (laid <= most + 4e-5 * (1 + load))[used].all()
    assert split.most_laid_down == pytest.approx(laid[used].max(), abs=1e-9)
    if (laid_free < most)[used].all():
        assert (split.dark == free.dark).all()
        assert (split.light == free.light).all()
    assert (np.diff(split.dark.astype(int)) >= 0).all()
    assert dark[0] == light[0] == 0
    assert light[t >= end].max() < 2e-3
    assert light.max() <= limits[1] + 1e-5
    made = np.interp(dark, X, ramps[1]) + np.interp(light, X, ramps[3])
    whole = np.interp(t, X, ramps[1])
    np.testing.assert_allclose(made, whole, atol=2e-3 * whole[-1])
    # Goes in no fewer tones than it came in, or than without a bound; small steps are rounding.
    seen = used[1:] & (np.diff(whole) > 1e-3 * whole[-1])
    falls = [
        (np.diff(np.interp(s.light / 65535, X, ramps[3]))[seen] / np.diff(whole)[seen]).min()
        for s in (split, free)
    ]
    assert falls[0] > 1.1 * min(-1.0, falls[1])


@pytest.mark.parametrize("part", [0.35, 0.4])
def test_a_bound_that_is_just_passed_takes_a_little_of_the_light_ink(part):
    """Dyes in one layer: the nearer the bound to what the free split lays down, the nearer the split."""
    absorbs = X**1.3
    ramps = (X, dye_density(9.0 * absorbs), X, dye_density(part * 9.0 * absorbs))
    free = light_split(*ramps, adds=absorbs)
    assert 1.005 < free.most_laid_down < 1.1
    bounds = np.append(np.arange(0.9, free.most_laid_down, 0.01), free.most_laid_down)
    splits = [light_split(*ramps, adds=absorbs, bound=bound) for bound in bounds]
    peaks = np.array([split.peak for split in splits])
    assert peaks[-1] == pytest.approx(free.peak, abs=1e-3)
    assert (np.diff(peaks) >= 0).all()
    assert np.diff(peaks).max() < 0.05
    for split, bound in zip(splits, bounds, strict=True):
        assert split.most_laid_down < max(bound, 1.0) + 1e-4
        whole = np.interp(split.dark / 65535, X, absorbs) + part * np.interp(split.light / 65535, X, absorbs)
        made = dye_density(9.0 * whole) - np.interp(np.linspace(0, 1, 256), X, ramps[1])
        np.testing.assert_allclose(made, 0.0, atol=0.01)


def test_full_load_at_most_keeps_most_of_the_light_ink():
    """Inks of equal drops: light tones stay as fine as without a bound, and no tone is above the solid."""
    ramps = (X, ramp(1.2, -0.8), X, ramp(0.36, -0.3))
    free, held = light_split(*ramps), light_split(*ramps, bound=1.0)
    assert free.most_laid_down > 1.2
    assert held.most_laid_down == pytest.approx(1.0, abs=1e-4)
    assert held.peak > 0.85
    assert held.start > free.start
    t = np.linspace(0, 1, 256)
    grain = {
        name: graininess(np.stack([split.dark, split.light], -1) / 65535, [1.2, 0.36])
        for name, split in (("free", free), ("held", held))
    }
    light_tones = (t > 0.02) & (t < free.start)
    assert (grain["held"] <= grain["free"] + 1e-4)[light_tones].all()
    peaks = [light_split(*ramps, bound=bound).peak for bound in (0.25, 0.5, 0.75, 1.0, 1.2)]
    assert (np.diff(peaks) > 0).all()


@pytest.mark.parametrize(
    "wrong", [{"bound": 0.0}, {"bound": np.nan}, {"light_load": -1.0}, {"light_load": np.inf}]
)
def test_a_bound_or_load_that_is_none(wrong):
    with pytest.raises(InputError, match="load or bound"):
        light_split(X, ramp(1.0, 1.0), X, ramp(0.3, 1.0), **wrong)
