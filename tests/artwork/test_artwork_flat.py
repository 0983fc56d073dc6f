"""Flat artwork against drawings whose colours and coverage are known. No source: own oracle, `flat_art`."""

from dataclasses import replace

import flat_art
import numpy as np
import pytest

from strikeoff.artwork.flat_survey import scratch_weights, survey_flat
from strikeoff.artwork.linear_rgb import linear_rgb
from strikeoff.artwork.recolour import RecolouredSource
from strikeoff.artwork.unmix import Palette, Unmixer, unmix_reference
from strikeoff.base.errors import InputError
from strikeoff.raster.bands import ArraySource

SPACE = linear_rgb(None, 8)


def art(seed=1, count=8, least=20, mixing="linear", noise=0.0, size=(120, 150)):
    rng = np.random.default_rng(seed)
    colours = flat_art.palette(rng, count, least)
    numbers = flat_art.shapes(rng, *size, count)
    return colours, *flat_art.drawn(numbers, colours, mixing, noise, rng)


def true_unmixer(colours, pixels, mixing="linear"):
    return Unmixer(ArraySource(pixels), SPACE, Palette(SPACE.linear(colours), 0.3 / 255, mixing))


@pytest.fixture(scope="module")
def drawn():
    return art()


def test_weights_are_the_coverage(drawn):
    colours, pixels, cover = drawn
    made = true_unmixer(colours, pixels).read(0, 120)[1]
    assert (made.weights.sum(axis=2, dtype=int) == 65535).all()
    error = np.abs(flat_art.as_cover(made, 8) - cover).max(axis=2)
    assert error[cover.max(axis=2) == 1].max() == 0
    assert error.mean() < 0.003
    assert np.quantile(error[cover.max(axis=2) < 1], 0.9) < 0.02


def test_compiled_weights_equal_the_plain_ones():
    colours, pixels, _ = art(size=(24, 30))
    unmixer = true_unmixer(colours, pixels)
    made, plain = unmixer.read(3, 20)[1], unmix_reference(unmixer, 3, 20)
    full = flat_art.as_cover(made, 8)
    np.testing.assert_allclose(full, flat_art.as_cover(plain, 8), atol=2 / 65535)
    np.testing.assert_allclose(made.rest, plain.rest, atol=1e-3)


def test_bands_change_nothing_and_the_same_colours_change_nothing():
    colours, pixels, _ = art(noise=1.0)
    unmixer = true_unmixer(colours, pixels)
    same = RecolouredSource(unmixer, unmixer.palette.linear, (False,) * 8, SPACE)
    np.testing.assert_array_equal(same.read(0, 120), pixels)
    new = RecolouredSource(unmixer, SPACE.linear(colours[::-1]), (True,) * 8, SPACE)
    pieces = np.concatenate([new.read(y, min(y + 7, 120)) for y in range(0, 120, 7)])
    np.testing.assert_array_equal(pieces, new.read(0, 120))


def test_new_colours_are_those_of_artwork_drawn_in_them(drawn):
    colours, pixels, cover = drawn
    other = np.roll(colours, 1, axis=0)
    unmixer = true_unmixer(colours, pixels)
    made = RecolouredSource(unmixer, SPACE.linear(other), (True,) * 8, SPACE).read(0, 120)
    truth = SPACE.encode(cover @ SPACE.linear(other))
    off = np.abs(made.astype(int) - truth).max(axis=2)
    assert off[cover.max(axis=2) == 1].max() == 0
    assert np.quantile(off, 0.99) <= 6
    # Pixels without the one colour that changes keep their codes.
    one = RecolouredSource(
        unmixer, np.vstack([SPACE.linear(colours[:1]) * 0.5, unmixer.palette.linear[1:]]),
        (True, *[False] * 7), SPACE,
    ).read(0, 120)  # fmt: skip
    apart = cover[..., 0] == 0
    assert (one[apart] == pixels[apart]).all(axis=1).mean() > 0.99
    assert (one[cover[..., 0] == 1] != pixels[cover[..., 0] == 1]).any()


def test_a_survey_tells_shares_and_neighbours_and_keeps_the_weights(drawn, tmp_path):
    colours, pixels, cover = drawn
    unmixer = true_unmixer(colours, pixels)
    kept = scratch_weights(unmixer, tmp_path)
    small = survey_flat(unmixer, 30, keep=kept.keep)
    assert small.cover.shape == (24, 30, 8)
    np.testing.assert_allclose(small.shares, cover.mean(axis=(0, 1)), atol=0.003)
    np.testing.assert_allclose(small.cover, cover.reshape(24, 5, 30, 5, 8).mean(axis=(1, 3)), atol=0.08)
    for y0, y1 in ((0, 120), (31, 33), (5, 64), (119, 120)):
        (codes, made), (wanted, plain) = kept.read(y0, y1), unmixer.read(y0, y1)
        np.testing.assert_array_equal(codes, wanted)
        np.testing.assert_array_equal(made.places, plain.places)
        np.testing.assert_array_equal(made.weights, plain.weights)
    assert list(tmp_path.iterdir()) == []
    kept.close()


def test_borders_are_counted_by_hand():
    """Two stripes beside each other and a spot in one of them: sides of pixels, across bands too."""
    colours = np.array([[255, 255, 255], [200, 30, 40], [10, 20, 120]])
    pixels = np.full((300, 20, 3), 255, np.uint8)
    pixels[:, 10:] = colours[1]
    pixels[254:258, 14:18] = colours[2]
    small = survey_flat(true_unmixer(colours, pixels), 10)
    assert small.borders.tolist() == [[0, 300, 0], [300, 0, 16], [0, 16, 0]]
    assert not small.mixed.any()
    assert small.pure == 1.0


def test_palettes_of_another_size_are_refused(drawn):
    colours, pixels, _ = drawn
    palette = true_unmixer(colours, pixels).palette
    with pytest.raises(InputError, match="palette of another size"):
        Unmixer(ArraySource(pixels), SPACE, replace(palette, linear=np.zeros((41, 3))))
