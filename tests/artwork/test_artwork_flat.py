"""Flat artwork against drawings whose colours and coverage are known. No source: own oracle, `flat_art`."""

from dataclasses import replace

import flat_art
import numpy as np
import pytest
from scipy.cluster.vq import kmeans2

from strikeoff.artwork.linear_rgb import linear_rgb
from strikeoff.artwork.palette import find_palette
from strikeoff.artwork.palette_file import NamedPalette, read_palette, write_palette
from strikeoff.artwork.recolour import RecolouredSource, cover_map
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


@pytest.mark.parametrize(("seed", "count", "least"), [(1, 8, 20), (2, 14, 12), (5, 8, 6)])
@pytest.mark.parametrize("mixing", ["linear", "encoded"])
def test_palettes_are_found_where_means_of_clusters_fail(seed, count, least, mixing):
    colours, pixels, _ = art(seed, count, least, mixing, size=(200, 240))
    found = find_palette(ArraySource(pixels), SPACE)
    assert len(found.linear) == count
    assert found.mixing == mixing
    codes = SPACE.encode(found.linear).astype(int)
    off = [np.linalg.norm(codes - one, axis=1).min() for one in colours]
    # Lines one pixel wide are never quite pure.
    assert max(off) <= 3.5
    assert max(off[:-2]) <= 1.0
    means, _ = kmeans2(pixels.reshape(-1, 3).astype(float), count, minit="++", rng=seed)
    assert max(np.linalg.norm(means - one, axis=1).min() for one in colours) > 2 * max(off)


def test_weights_are_the_coverage():
    colours, pixels, cover = art()
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


def test_new_colours_are_those_of_artwork_drawn_in_them():
    colours, pixels, cover = art()
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


def test_map_averages_coverage():
    colours, pixels, cover = art()
    small = cover_map(true_unmixer(colours, pixels), 30)
    assert small.cover.shape == (24, 30, 8)
    np.testing.assert_allclose(small.shares, cover.mean(axis=(0, 1)), atol=0.003)
    np.testing.assert_allclose(small.cover, cover.reshape(24, 5, 30, 5, 8).mean(axis=(1, 3)), atol=0.08)


def test_pictures_are_refused():
    rng = np.random.default_rng(0)
    with pytest.raises(InputError, match="not flat"):
        find_palette(ArraySource(rng.integers(0, 256, (64, 64, 3)).astype(np.uint8)), SPACE)


def test_palettes_come_back_from_their_file(tmp_path):
    colours, pixels, _ = art()
    palette = true_unmixer(colours, pixels).palette
    names = tuple(f'colour "{k}"' for k in range(8))
    path = tmp_path / "p.toml"
    named = NamedPalette(palette, names, "sha256:0")
    write_palette(path, named, SPACE.lab(palette.linear), ["#000000"] * 8, np.full(8, 0.125))
    back = read_palette(path)
    assert back.names == names
    np.testing.assert_array_equal(back.palette.linear, palette.linear)
    assert back.palette.mixing == "linear"
    for text in ("", "schema = 1", path.read_text().replace("linear = [", "linear = [7, "), "\0"):
        path.write_text(text)
        with pytest.raises(InputError, match="palette"):
            read_palette(path)
    with pytest.raises(InputError, match="palette of another size"):
        Unmixer(ArraySource(pixels), SPACE, replace(palette, linear=np.zeros((41, 3))))
