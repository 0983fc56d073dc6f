"""Colour tables: the fast integer path against plain floating point."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError
from strikeoff.raster.tables import InkTable, apply_table, apply_table_reference, straight_shapers


def random_table(rng, channels, grid, inks):
    shapers = np.sort(rng.integers(0, 65536, (channels, 65536)).astype(np.uint16), axis=1)
    nodes = rng.integers(0, 65536, (grid,) * channels + (inks,)).astype(np.uint16)
    return InkTable(shapers, nodes)


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    channels=st.sampled_from([1, 3, 4]),
    grid=st.integers(2, 9),
    inks=st.integers(1, 16),
    dtype=st.sampled_from([np.uint8, np.uint16]),
)
def test_integer_path_is_within_half_a_code_of_the_float_reference(seed, channels, grid, inks, dtype):
    rng = np.random.default_rng(seed)
    table = random_table(rng, channels, grid, inks)
    pixels = rng.integers(0, np.iinfo(dtype).max + 1, (3, 50, channels)).astype(dtype)
    pixels[0, :8] = np.iinfo(dtype).max
    pixels[1, :8] = 0
    pixels[2, 1::2] = pixels[2, ::2]  # runs, as in flat artwork
    exact = apply_table_reference(pixels, table)
    assert np.abs(apply_table(pixels, table) - exact).max() <= 0.5 + 1e-6


@pytest.mark.parametrize("channels", [3, 4])
@pytest.mark.parametrize("inks", range(1, 17))
def test_every_number_of_inks_over_several_blocks(channels, inks):
    """Inks are worked in eights; spare lanes must not reach what was written before."""
    rng = np.random.default_rng(inks)
    table = random_table(rng, channels, 4, inks)
    pixels = rng.integers(0, 65536, (2, 300, channels)).astype(np.uint16)
    exact = apply_table_reference(pixels, table)
    assert np.abs(apply_table(pixels, table, workers=1) - exact).max() <= 0.5 + 1e-6


@pytest.mark.parametrize(("channels", "grid"), [(1, 256), (3, 18), (3, 16), (4, 6)])
def test_nodes_come_back_exactly(channels, grid):
    # 65535 = 3 * 5 * 17 * 257, so these grids have whole codes at their nodes
    rng = np.random.default_rng(7)
    assert 65535 % (grid - 1) == 0
    table = InkTable(
        straight_shapers(channels), rng.integers(0, 65536, (grid,) * channels + (5,)).astype(np.uint16)
    )
    axis = (np.arange(grid) * (65535 // (grid - 1))).astype(np.uint16)
    pixels = np.stack(np.meshgrid(*[axis] * channels, indexing="ij"), axis=-1).reshape(1, -1, channels)
    np.testing.assert_array_equal(apply_table(pixels, table).reshape(table.nodes.shape), table.nodes)


def test_axes_are_in_channel_order():
    nodes = np.zeros((2, 2, 2, 3), np.uint16)
    for axis in range(3):
        nodes[(slice(None),) * axis + (1,) + (slice(None),) * (2 - axis) + (axis,)] = 65535
    table = InkTable(straight_shapers(3), nodes)
    rng = np.random.default_rng(1)
    pixels = rng.integers(0, 65536, (5, 40, 3)).astype(np.uint16)
    np.testing.assert_array_equal(apply_table(pixels, table), pixels)
    eight = rng.integers(0, 256, (5, 40, 3)).astype(np.uint8)
    np.testing.assert_array_equal(apply_table(eight, table), eight.astype(np.uint16) * 257)


def test_grey_axis_is_continuous_and_uses_diagonal_nodes_only():
    # Tetrahedra share the grey diagonal, so off-diagonal nodes must not reach a neutral.
    rng = np.random.default_rng(3)
    grid = 17
    nodes = rng.integers(0, 65536, (grid, grid, grid, 4)).astype(np.uint16)
    diagonal = np.arange(grid)
    nodes[diagonal, diagonal, diagonal] = np.linspace(0, 65535, grid).astype(np.uint16)[:, None]
    ramp = np.repeat(np.arange(65536, dtype=np.uint16)[None, :, None], 3, axis=2)
    grey = apply_table(ramp, InkTable(straight_shapers(3), nodes))[0].astype(np.int64)
    assert np.diff(grey, axis=0).min() >= 0
    assert np.diff(grey, axis=0).max() <= 2


def test_bytes_do_not_depend_on_bands_or_threads():
    rng = np.random.default_rng(5)
    table = random_table(rng, 3, 9, 4)
    pixels = rng.integers(0, 256, (301, 1000, 3)).astype(np.uint8)
    whole = apply_table(pixels, table, workers=1)
    np.testing.assert_array_equal(apply_table(pixels, table, workers=3), whole)
    bands = [apply_table(pixels[y : y + 37], table) for y in range(0, 301, 37)]
    np.testing.assert_array_equal(np.concatenate(bands), whole)


def test_table_is_checked_frozen_and_named_by_its_content():
    nodes = np.zeros((3, 3, 3, 4), np.uint16)
    table = InkTable(straight_shapers(3), nodes)
    before = table.digest
    nodes[0, 0, 0, 0] = 1
    assert table.nodes[0, 0, 0, 0] == 0
    assert InkTable(straight_shapers(3), nodes).digest != before
    with pytest.raises(ValueError, match="read-only"):
        table.nodes[0, 0, 0, 0] = 1
    for bad in (nodes[..., 0], nodes[:2], nodes.astype(np.float64), np.zeros((3, 3, 3, 17), np.uint16)):
        with pytest.raises(InputError):
            InkTable(straight_shapers(3), bad)
    with pytest.raises(InputError):
        InkTable(straight_shapers(2), np.zeros((3, 3, 1), np.uint16))
    with pytest.raises(InputError):
        apply_table(np.zeros((2, 2, 4), np.uint8), table)
    with pytest.raises(InputError):
        apply_table(np.zeros((2, 2, 3), np.float64), table)
