"""One pass over artwork: the small picture is the mean, edges are kept, bands do not matter."""

import numpy as np
import pytest

from strikeoff.intake import survey as module
from strikeoff.intake.survey import survey
from strikeoff.raster.bands import ArraySource


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
@pytest.mark.parametrize("shape", [(301, 97), (70, 130), (1, 50), (50, 1)])
def test_small_picture_is_the_mean_and_edges_are_whole(monkeypatch, dtype, shape):
    art = np.random.default_rng(2).integers(0, np.iinfo(dtype).max + 1, (*shape, 3)).astype(dtype)
    monkeypatch.setattr(module, "_BAND_BYTES", 3000)
    seen = survey(ArraySource(art), longer_px=60)
    values = art / np.iinfo(dtype).max
    step = -(-max(shape) // 60)
    assert seen.step == step
    assert seen.small.shape[:2] == tuple(-(-side // step) for side in shape)
    np.testing.assert_allclose(seen.small[0, 0], values[:step, :step].mean(axis=(0, 1)))
    rows, columns = (side - (side - 1) // step * step for side in shape)
    np.testing.assert_allclose(seen.small[-1, -1], values[-rows:, -columns:].mean(axis=(0, 1)))
    np.testing.assert_array_equal(seen.right[:, -1], values[:, -1])
    np.testing.assert_array_equal(seen.left[:, 0], values[:, 0])
    np.testing.assert_array_equal(seen.bottom[-1], values[-1])
    np.testing.assert_array_equal(seen.top[0], values[0])


def test_jumps_are_means_of_differences():
    art = np.zeros((40, 30, 1), np.uint8)
    art[:, 15:] = 51
    seen = survey(ArraySource(art))
    assert seen.across_jumps.max() == pytest.approx(0.2)
    assert np.count_nonzero(seen.across_jumps) == 1
    assert seen.along_jumps.max() == 0
