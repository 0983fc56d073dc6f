"""Ink planes from artwork, and their ink use."""

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.tables import InkTable, apply_table, straight_shapers
from strikeoff.separation.separate import InkMeter, separated


def table(inks=4, seed=0):
    rng = np.random.default_rng(seed)
    return InkTable(straight_shapers(3), rng.integers(0, 65536, (5, 5, 5, inks)).astype(np.uint16))


def artwork(dtype=np.uint8):
    rng = np.random.default_rng(1)
    return ArraySource(rng.integers(0, np.iinfo(dtype).max, (37, 20, 3)).astype(dtype), (0.1, 0.2))


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_planes_keep_size_and_pitch_and_do_not_depend_on_bands(dtype):
    source = artwork(dtype)
    planes = separated(source, table())
    assert (planes.height, planes.width, planes.channels, planes.dtype) == (37, 20, 4, np.uint16)
    assert planes.pitch_mm == (0.1, 0.2)
    whole = apply_table(source.array, table())
    np.testing.assert_array_equal(
        np.concatenate([planes.read(y, min(y + 8, 37)) for y in range(0, 37, 8)]), whole
    )


def test_unfit_artwork_is_refused():
    with pytest.raises(InputError, match="does not fit"):
        separated(ArraySource(np.zeros((2, 2, 4), np.uint8)), table())
    with pytest.raises(InputError, match="does not fit"):
        separated(ArraySource(np.zeros((2, 2, 3), np.float32)), table())


def test_meter_counts_each_row_once_and_changes_nothing():
    planes = separated(artwork(), table())
    meter = InkMeter(planes, ("C", "M", "Y", "K"), limit=2.0)
    with pytest.raises(RuntimeError, match="37 rows"):
        meter.use()
    whole = planes.read(0, 37)
    np.testing.assert_array_equal(meter.read(0, 20), whole[:20])
    meter.read(10, 37)
    meter.read(0, 5)
    use = meter.use()
    np.testing.assert_allclose(use.mean_coverage, whole.mean(axis=(0, 1)) / 65535, rtol=1e-12)
    total = whole.astype(np.int64).sum(axis=2)
    assert use.max_total == total.max() / 65535
    assert use.share_over_limit == (total > 2 * 65535 + 2).mean()
    assert 0 < use.share_over_limit < 1


def test_total_and_limit_weigh_inks_alike():
    planes = np.array([[[40000, 30000], [65535, 0]]], np.uint16)
    meter = InkMeter(ArraySource(planes), "CM", limit=0.7, weights=(0.5, 1.5))
    meter.read(0, 1)
    use = meter.use()
    assert use.max_total == pytest.approx((0.5 * 40000 + 1.5 * 30000) / 65535)
    assert use.share_over_limit == 0.5


def test_total_counts_inks_by_curves():
    planes = np.array([[[40000, 30000], [65535, 0]]], np.uint16)
    counts = np.stack([(np.arange(65536) / 65535) ** 2, 0.5 * np.arange(65536) / 65535])
    meter = InkMeter(ArraySource(planes), "CM", limit=0.7, weights=(1.0, 0.5), counts=counts)
    meter.read(0, 1)
    use = meter.use()
    assert use.max_total == pytest.approx(1.0)
    assert use.share_over_limit == 0.5


def test_half_a_code_of_a_steep_ink_counts_for_more():
    """An ink whose last tones count five times as much: half a code up is no excess, two codes are one."""
    ink = np.arange(65536) / 65535
    steep = np.maximum(0.4 * ink, 5.0 * ink - 4.0)
    limit = float(np.interp(60000.5 / 65535, ink, steep)) * 2
    for code, over in ((60001, 0.0), (60003, 1.0)):
        meter = InkMeter(
            ArraySource(np.full((1, 1, 2), code, np.uint16)), "CM", limit, counts=np.stack([steep] * 2)
        )
        meter.read(0, 1)
        assert meter.use().share_over_limit == over
        assert (meter.use().max_total > limit) == bool(over)


def test_limit_allows_rounding_only():
    planes = np.array([[[32768, 32768, 0], [32769, 32768, 0]]], np.uint16)
    meter = InkMeter(ArraySource(planes), "CMY", limit=1.0)
    meter.read(0, 1)
    assert meter.use().share_over_limit == 0.5
    assert meter.use().max_total > 1.0


def test_rounding_to_codes_is_no_excess():
    """A figure above the limit it stands beside would alarm for nothing."""
    planes = np.array([[[32768, 32768, 0], [30000, 30000, 0]]], np.uint16)
    for limit, expected in ((1.0, 1.0), (None, 65536 / 65535)):
        meter = InkMeter(ArraySource(planes), "CMY", limit=limit)
        meter.read(0, 1)
        assert meter.use().max_total == expected
        assert meter.use().share_over_limit == 0.0


def test_meter_wants_matching_names():
    with pytest.raises(InputError):
        InkMeter(ArraySource(np.zeros((1, 1, 3), np.uint16)), "CMYK")
