"""Bare cloth where artwork is transparent, ink by coverage at soft edges."""

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.raster.bands import ArraySource
from strikeoff.separation.covered import CoveredSource, OpaqueSource, covered, without_white

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
    planes = ArraySource(np.full((8, 5, 2), 1000, np.uint16), PITCH)
    laid = CoveredSource(planes, ArraySource(cover, PITCH)).read(3, 5)
    assert laid[0].max() == 0
    assert laid[1].min() == 1000
    with pytest.raises(InputError, match="coverage does not fit"):
        CoveredSource(planes, ArraySource(cover[1:], PITCH))
