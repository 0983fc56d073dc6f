"""Periodic resampling: agreement with the definition, and what must never change."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import UsageError
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.lattice import Lattice
from strikeoff.raster.resample import PeriodicTile, cubic_keys_1981, limits_of, resample_plain, tap_weights

size = st.integers(1, 40)


def tile(h, w, c, seed, contrast=True):
    rng = np.random.default_rng(seed)
    if contrast:
        return rng.choice(np.array([0, 65535, 30000], np.uint16), (h, w, c))
    return rng.integers(0, 65536, (h, w, c), dtype=np.uint16)


def whole(array, height, width):
    return PeriodicTile(ArraySource(array), height, width).read(0, height)


@settings(max_examples=150, deadline=None)
@given(size, size, st.integers(1, 5), st.integers(1, 60), st.integers(1, 60), st.booleans())
def test_within_one_code_of_the_definition(h, w, c, height, width, contrast):
    array = tile(h, w, c, h * w + height, contrast)
    fast = whole(array, height, width)
    assert fast.dtype == np.uint16
    assert np.abs(fast - resample_plain(array, height, width)).max() <= 1.0


def test_strong_reduction_agrees_too():
    array = tile(700, 900, 4, 5)
    assert np.abs(whole(array, 9, 7) - resample_plain(array, 9, 7)).max() <= 1.0


@given(size, size, size, size, st.integers(0, 65535))
@settings(max_examples=60, deadline=None)
def test_constant_stays_constant(h, w, height, width, value):
    assert (whole(np.full((h, w, 3), value, np.uint16), height, width) == value).all()


def test_same_size_is_a_copy():
    array = tile(23, 31, 4, 2, contrast=False)
    assert np.array_equal(whole(array, 23, 31), array)


@given(
    st.integers(1, 8),
    st.integers(1, 8),
    st.integers(1, 7),
    st.integers(1, 7),
    st.integers(0, 9),
    st.integers(0, 9),
)
@settings(max_examples=80, deadline=None)
def test_shift_by_whole_pixels_of_both_pitches(repeats_y, repeats_x, up, down, dy, dx):
    """A tile of n * down samples becomes n * up pixels: shift by down before is shift by up after."""
    array = tile(repeats_y * down, repeats_x * down, 2, dy + 10 * dx, contrast=False)
    height, width = repeats_y * up, repeats_x * up
    before = whole(np.roll(array, (dy * down, dx * down), (0, 1)), height, width)
    after = np.roll(whole(array, height, width), (dy * up, dx * up), (0, 1))
    assert np.array_equal(before, after)


def test_axes_are_not_swapped():
    array = np.zeros((4, 6, 1), np.uint16)
    array[1] = 65535
    out = whole(array, 8, 6)[..., 0]
    assert (out == out[:, :1]).all()
    assert out[2:4].min() > 50000
    assert out[5:8].max() < 10000


@given(st.integers(-200, 200), st.integers(0, 90), st.integers(1, 30))
@settings(max_examples=60, deadline=None)
def test_any_band_wraps(y0, rows, height):
    array = tile(13, 5, 3, 7)
    source = PeriodicTile(ArraySource(array), height, 11)
    expected = source.read(0, height)[np.arange(y0, y0 + rows) % height]
    assert np.array_equal(source.read(y0, y0 + rows), expected)


def test_zero_ink_stays_zero_and_overshoot_saturates():
    """A full-tone square on bare cloth: no wrap-around of the sign, no ink two samples away."""
    array = np.zeros((16, 16, 4), np.uint16)
    array[6:10, 6:10, 1] = 65535
    out = whole(array, 80, 80)
    assert (out[..., [0, 2, 3]] == 0).all()
    assert (out[:19, :, 1] == 0).all()
    assert (out[61:, :, 1] == 0).all()
    plain = resample_plain(array, 80, 80)[..., 1]
    assert out[..., 1].max() == 65535
    assert np.abs(out[..., 1] - plain).max() <= 1


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 12), st.integers(1, 12), st.integers(1, 40), st.integers(1, 40), st.booleans())
def test_edges_see_the_neighbour_of_the_lattice(half_h, half_w, height, width, drop):
    """A half-drop or brick tile is one half of a straight cell of two tiles, and resamples as such."""
    array = tile(2 * half_h, 2 * half_w, 2, height + width)
    if drop:
        cell = np.concatenate([array, np.roll(array, half_h, axis=0)], axis=1)
        expected = whole(cell, height, 2 * width)[:, :width]
    else:
        cell = np.concatenate([array, np.roll(array, half_w, axis=1)], axis=0)
        expected = whole(cell, 2 * height, width)[:height]
    source = PeriodicTile(ArraySource(array), height, width, "half-drop" if drop else "brick")
    assert np.array_equal(source.read(0, height), expected)
    assert np.array_equal(
        source.read(height - 1, height + 2), expected[np.arange(height - 1, height + 2) % height]
    )


@pytest.mark.parametrize("lattice", ["half-drop", "brick"])
def test_odd_tiles_meet_half_way_between_samples(lattice):
    """A wave that fits the lattice shows no step at the joint, odd number of samples or not."""
    n = 31
    t = (np.arange(n) + 0.5) / n
    along, across = (t[:, None], t[None, :]) if lattice == "half-drop" else (t[None, :], t[:, None])
    wave = 32768 + 20000 * np.cos(2 * np.pi * (along + across / 2))
    array = np.repeat(np.rint(wave).astype(np.uint16)[..., None], 2, axis=2)
    fine = PeriodicTile(ArraySource(array), 248, 248, lattice).read(0, 248)[..., 0].astype(int)
    u = (np.arange(248) + 0.5) / 248
    along, across = (u[:, None], u[None, :]) if lattice == "half-drop" else (u[None, :], u[:, None])
    exact = 32768 + 20000 * np.cos(2 * np.pi * (along + across / 2))
    assert np.abs(fine - exact).max() < 25


@settings(max_examples=40, deadline=None)
@given(size, size, st.integers(1, 4), st.integers(1, 60), st.integers(1, 60))
def test_no_pixel_is_heavier_than_the_artwork(h, w, c, height, width):
    """Ink limits of the artwork hold after enlarging; where nothing is over them nothing changes."""
    array = np.random.default_rng(h + w).choice(np.array([0, 20000, 30000], np.uint16), (h, w, c))
    array[array.sum(axis=2) > 50000] = 15000
    source = ArraySource(array)
    limits = limits_of(source)
    assert limits.each == tuple(array.max(axis=(0, 1)))
    assert limits.total == array.sum(axis=2, dtype=int).max()
    held = PeriodicTile(source, height, width, limits=limits).read(0, height).astype(int)
    free = whole(array, height, width).astype(int)
    assert (held <= limits.each).all()
    assert held.sum(axis=2).max() <= limits.total
    capped = np.minimum(free, limits.each)
    total = capped.sum(axis=2, keepdims=True)
    expected = np.where(total > limits.total, capped * limits.total // np.maximum(total, 1), capped)
    assert np.array_equal(held, expected)


def test_reduction_does_not_alias():
    """Stripes finer than the new pitch leave a flat tone; picking samples would leave stripes."""
    x = np.arange(1000)
    array = np.repeat((32768 + 20000 * np.sin(2 * np.pi * x * 0.47)).astype(np.uint16)[None, :, None], 10, 0)
    out = whole(array, 10, 250)
    assert np.ptp(out.astype(int)) < 600


def test_kernel_is_keys_1981():
    """Partition of unity and exact for a parabola (Keys 1981, third-order for a = -1/2)."""
    t = np.linspace(0, 1, 11)
    taps = np.arange(-1, 3)
    weights = cubic_keys_1981(taps - t[:, None])
    assert np.allclose(weights.sum(axis=1), 1)
    assert np.allclose(weights @ taps**2, t**2)


def test_centres():
    """Twofold enlarging: pixel centres at -1/4 and +1/4 of a sample."""
    start, weights = tap_weights(4, 8)
    assert start.tolist() == [-2, -1, -1, 0, 0, 1, 1, 2]
    centroid = start + weights @ np.arange(4)
    assert np.allclose(centroid, (np.arange(8) + 0.5) / 2 - 0.5)


def test_other_sample_types_are_refused():
    with pytest.raises(UsageError, match="16-bit"):
        PeriodicTile(ArraySource(np.zeros((2, 2, 1), np.uint8)), 4, 4)


LATTICES = [
    Lattice("drop", Fraction(1, 3)),
    Lattice("drop", Fraction(2, 5)),
    Lattice("brick", Fraction(1, 3)),
    Lattice("brick", Fraction(3, 4)),
    Lattice(mirror="across"),
    Lattice(mirror="along"),
    Lattice(mirror="both"),
    Lattice("drop", Fraction(1, 2), "across"),
    Lattice("brick", Fraction(1, 2), "along"),
    Lattice(turned=True),
    Lattice("drop", Fraction(1, 3), turned=True),
    Lattice("brick", Fraction(2, 5), turned=True),
]


def cell_of(array, lattice):
    """One whole period of the lattice as a straight tile, sample by sample."""
    h, w = array.shape[:2]
    rows, columns = lattice.period_heights * h, lattice.period_widths * w
    if lattice.offset == "drop":
        columns, rows = columns, (2 * h if lattice.turned else h)
    if lattice.offset == "brick":
        columns = 2 * w if lattice.turned or lattice.mirror == "across" else w
    y, x = np.mgrid[:rows, :columns]
    if lattice.offset == "drop":
        i, u = np.divmod(x, w)
        j, v = np.divmod(y - i * h * lattice.share.numerator // lattice.share.denominator, h)
    else:
        j, v = np.divmod(y, h)
        i, u = np.divmod(x - j * w * lattice.share.numerator // lattice.share.denominator, w)
    flip = np.vectorize(lambda i, j: lattice.flips(int(i), int(j)))(i, j)
    return array[np.where(flip[1], h - 1 - v, v), np.where(flip[0], w - 1 - u, u)]


@pytest.mark.parametrize("lattice", LATTICES, ids=lambda lattice: lattice.name)
@pytest.mark.parametrize("target", [(60, 120), (120, 60), (180, 240), (20, 20)])
def test_a_tile_resamples_as_part_of_its_whole_period(lattice, target):
    array = tile(60, 60, 2, 4)
    cell = cell_of(array, lattice)
    height, width = target
    straight = whole(cell, height * cell.shape[0] // 60, width * cell.shape[1] // 60)[:height, :width]
    assert np.array_equal(PeriodicTile(ArraySource(array), height, width, lattice).read(0, height), straight)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from([x for x in LATTICES if x.mirror == "none" and not x.turned]), st.data())
def test_shifts_of_a_lattice_commute_exactly(lattice, data):
    """Moving the design by whole pixels of both pitches, before or after, gives the same bytes."""
    n, m = (data.draw(st.integers(1, 3)) * lattice.share.denominator for _ in range(2))
    up, down = data.draw(st.tuples(st.integers(1, 6), st.integers(1, 6)))
    dy, dx = data.draw(st.tuples(st.integers(-9, 9), st.integers(-9, 9)))
    h, w, height, width = n * down, m * down, n * up, m * up
    array = tile(h, w, 2, n + up, contrast=False)

    def moved(tiles, y, x):
        rows, columns = tiles.shape[:2]
        i, u = np.divmod(np.arange(columns) + x, columns)
        j, v = np.divmod(np.arange(rows) + y, rows)
        if lattice.offset == "drop":
            off = i * rows * lattice.share.numerator // lattice.share.denominator
            return tiles[(v[:, None] - off[None]) % rows, u[None]]
        off = j * columns * lattice.share.numerator // lattice.share.denominator
        return tiles[v[:, None], (u[None] - off[:, None]) % columns]

    def fine(tiles):
        return PeriodicTile(ArraySource(tiles), height, width, lattice).read(0, height)

    assert np.array_equal(fine(moved(array, dy * down, dx * down)), moved(fine(array), dy * up, dx * up))


@pytest.mark.parametrize("parts", [(1, 3), (2, 5), (5, 7)])
@pytest.mark.parametrize("offset", ["drop", "brick"])
def test_offsets_between_samples_meet(offset, parts):
    """A wave that fits the lattice shows no step at the joint, whatever the number of samples."""
    share, n = Fraction(*parts), 31
    lattice = Lattice(offset, share)

    def wave(t):
        main, side = (t[:, None], t[None, :]) if offset == "drop" else (t[None, :], t[:, None])
        return 32768 + 20000 * np.cos(2 * np.pi * (main - float(share) * side))

    array = np.rint(wave((np.arange(n) + 0.5) / n)).astype(np.uint16)[..., None]
    fine = PeriodicTile(ArraySource(array), 248, 248, lattice).read(0, 248)[..., 0].astype(int)
    assert np.abs(fine - wave((np.arange(248) + 0.5) / 248)).max() < 25


def test_a_border_goes_on_beyond_its_own_edges():
    """Where a tile does not repeat its last samples go on: no ink of the far edge leaks in."""
    array = np.zeros((8, 8, 1), np.uint16)
    array[:, -1] = 65535
    fine = PeriodicTile(ArraySource(array), 32, 32, Lattice(repeats="along")).read(0, 32)[..., 0]
    assert not fine[:, :8].any()
    assert (fine[:, -2:] == 65535).all()
    array = array.transpose(1, 0, 2)
    fine = PeriodicTile(ArraySource(array), 32, 32, Lattice(repeats="across")).read(0, 32)[..., 0]
    assert not fine[:8].any()
    assert (fine[-2:] == 65535).all()
