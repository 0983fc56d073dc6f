"""Bare cloth where artwork is transparent, ink by coverage at soft edges."""

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.tables import InkTable, straight_shapers
from strikeoff.separation.covered import Cover, OpaqueSource, covered, without_white

PITCH = (0.1, 0.1)


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
@pytest.mark.parametrize("white", ["full", "none"])
def test_opaque_colours_come_back_from_over_white(dtype, white):
    full = np.iinfo(dtype).max
    rng = np.random.default_rng(1)
    colour = rng.integers(0, full + 1, (20, 30, 3)).astype(dtype)
    cover = rng.integers(0, full + 1, (20, 30, 1)).astype(dtype)
    cover[0], cover[1] = 0, full
    base = float(full if white == "full" else 0)
    share = cover / full
    over = np.rint(colour * share + base * (1 - share)).astype(dtype)
    back = without_white(over, cover, (int(base),) * 3)
    assert (back[0] == base).all()
    np.testing.assert_array_equal(back[1], colour[1])
    # What rounding over white has lost is no more than a code of what the pixel shows.
    lost = np.abs(back.astype(float) - colour)[share[..., 0] > 0] * share[share[..., 0] > 0]
    assert lost.max() <= 1.0


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_inks_go_by_coverage(dtype):
    full = np.iinfo(dtype).max
    inks = np.full((1, 3, 2), 65535, np.uint16)
    cover = np.array([[[0], [full // 3], [full]]], dtype)
    np.testing.assert_array_equal(covered(inks, cover)[0, :, 0], [0, 21845, 65535])


def test_sources_read_bands_and_refuse_another_size():
    samples = np.zeros((8, 5, 4), np.uint8)
    samples[..., 3] = 77
    cover = np.zeros((8, 5, 1), np.uint8)
    cover[4:] = 255
    opaque = OpaqueSource(ArraySource(samples, PITCH), ArraySource(cover, PITCH), (255, 255, 255))
    band = opaque.read(3, 5)
    assert band[0, 0].tolist() == [255, 255, 255, 77]
    assert band[1, 0].tolist() == [0, 0, 0, 77]
    with pytest.raises(InputError, match="coverage does not fit"):
        OpaqueSource(opaque.source, ArraySource(cover[1:], PITCH), (255, 255, 255))


def veil_adding(codes):
    """A veil that adds codes to two inks at every coverage, for all colours."""
    nodes = np.full((2, 2, 2, 2, 2), 32768, np.uint16)
    nodes[:] = 32768 + np.array(codes) // 2
    return InkTable(straight_shapers(4), nodes)


@pytest.mark.parametrize("channels", [1, 3])
def test_a_veil_changes_what_is_covered_in_part_and_nothing_else(channels):
    inks = np.full((2, 4, 2), 30000, np.uint16)
    samples = np.zeros((2, 4, channels), np.uint8)
    cover = np.tile(np.array([0, 51, 204, 255], np.uint8), (3, 1))[..., None]
    laid = Cover(ArraySource(cover, PITCH), veil_adding([2000, -8000])).laid(inks, samples, 1)
    assert laid[0].tolist() == [[0, 0], [8000, 0], [26000, 16000], [30000, 30000]]
    plain = Cover(ArraySource(cover, PITCH)).laid(inks, samples, 1)
    assert plain[0, :, 0].tolist() == [0, 6000, 24000, 30000]
