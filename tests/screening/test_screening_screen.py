"""Screening in bands: equal to the definition, phase of the roll, equal rows truly equal."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError, UsageError
from strikeoff.inks.tables import NODES
from strikeoff.raster.bands import ArraySource, repeat_of_rows
from strikeoff.raster.packing import pack_levels, unpack_levels
from strikeoff.raster.planes_tiff import open_planes, write_planes
from strikeoff.screening.masks import InkMasks, plain_masks
from strikeoff.screening.screen import screen_plain, screened
from strikeoff.screening.void_cluster import thresholds

PITCH = (25.4 / 600, 25.4 / 600)


def random_masks(inks, high, wide, seed=0):
    rng = np.random.default_rng(seed)
    return plain_masks(
        np.stack([thresholds(rng.permutation(high * wide).reshape(high, wide)) for _ in range(inks)])
    )


def random_drops(inks, levels, rng):
    drops = np.sort(rng.integers(0, 65536, (inks, levels, NODES), dtype=np.uint16), axis=2)
    drops[..., 0] = 0
    return -np.sort(-drops.astype(np.int64), axis=1).astype(np.int64)


@settings(max_examples=60, deadline=None)
@given(
    rows=st.integers(1, 20), width=st.integers(1, 140), inks=st.integers(1, 7), high=st.integers(1, 9),
    wide=st.integers(1, 40), y0=st.integers(0, 29), levels=st.integers(0, 3), planar=st.booleans(),
)  # fmt: skip
def test_equal_to_the_definition(rows, width, inks, high, wide, y0, levels, planar):
    rng = np.random.default_rng(rows * width + inks)
    planes = rng.integers(0, 65536, (rows, width, inks), dtype=np.uint16)
    planes[rng.random(planes.shape) < 0.2] = 0
    planes[rng.random(planes.shape) < 0.2] = 65535
    if planar:
        planes = np.moveaxis(np.ascontiguousarray(np.moveaxis(planes, 2, 1)), 1, 2)
    masks = random_masks(inks, high, wide)
    masks = InkMasks(masks.thresholds, max(1, high - 2), 2 * high + 5, start=3)
    drops = random_drops(inks, levels, rng).astype(np.uint16) if levels else None
    source = screened(ArraySource(planes, PITCH), masks, drops)
    y0 = min(y0, rows)
    expected = screen_plain(planes[y0:], masks, y0, drops)
    assert np.array_equal(source.read(y0, rows), expected)
    for bits in (1, 2):
        if levels < 1 << bits:
            packed = source.read_packed(y0, rows, bits)
            assert np.array_equal(packed, pack_levels(expected, bits))
            assert np.array_equal(unpack_levels(packed, width, bits), expected)


def test_bare_cloth_and_full_tone():
    masks = random_masks(2, 16, 16)
    planes = np.zeros((20, 20, 2), np.uint16)
    planes[..., 1] = 65535
    drops = screened(ArraySource(planes, PITCH), masks).read(0, 20)
    assert not drops[..., 0].any()
    assert drops[..., 1].all()


class Periodic(ArraySource):
    row_block = 4

    def canonical_row(self, y):
        return y % 12


@pytest.mark.parametrize(("high", "repeats"), [(4, 12), (8, 24), (5, 60)])
def test_rows_are_called_equal_only_where_the_mask_agrees(high, repeats):
    planes = np.tile(np.random.default_rng(3).integers(0, 65536, (12, 17, 3), dtype=np.uint16), (6, 1, 1))
    source = screened(Periodic(planes, PITCH), random_masks(3, high, 6))
    drops = source.read(0, 72)
    for y in range(72):
        assert source.canonical_row(y) == y % repeats
        assert np.array_equal(drops[y], drops[source.canonical_row(y)])
        assert source.affinity(y) == y % 12


def test_period_of_a_source():
    planes = np.zeros((72, 3, 1), np.uint16)
    assert repeat_of_rows(Periodic(planes, PITCH)) == (12, 0)
    assert repeat_of_rows(ArraySource(planes, PITCH)) == (0, 0)


@pytest.mark.parametrize("high", [4, 5])
def test_file_of_drops(tmp_path, high):
    """Planes file with shared strips, screened to a drops file: nothing is lost on the way."""
    planes = np.tile(np.random.default_rng(3).integers(0, 65536, (12, 37, 5), dtype=np.uint16), (6, 1, 1))
    write_planes(tmp_path / "roll.tif", Periodic(planes, PITCH), ink_names=list("CMYKO"), info={})
    masks = random_masks(5, high, 6)
    source = screened(open_planes(tmp_path / "roll.tif"), masks)
    write_planes(
        tmp_path / "drops.tif", source, ink_names=list("CMYKO"), info={}, bits=1, compression="deflate"
    )
    drops = open_planes(tmp_path / "drops.tif")
    assert np.array_equal(drops.read(0, 72), screen_plain(planes, masks))
    assert (drops.row_block > 0) == (high == 4 or 72 > 60)


def test_larger_drops_stand_on_smaller_ones():
    """Levels of an ink share thresholds: counts follow the curves, and no large drop lacks its place."""
    masks = plain_masks(thresholds(np.random.default_rng(1).permutation(4096)).reshape(1, 64, 64))
    ramp = np.linspace(0, 65535, NODES)
    drops = np.stack([np.minimum(ramp * 2, 65535), np.maximum(ramp * 2 - 65535, 0)])[None].astype(np.uint16)
    for value, at_least in ((16384, (0.5, 0.0)), (49152, (1.0, 0.5))):
        found = screened(ArraySource(np.full((64, 64, 1), value, np.uint16), PITCH), masks, drops).read(0, 64)
        assert abs((found >= 1).mean() - at_least[0]) < 0.003
        assert abs((found >= 2).mean() - at_least[1]) < 0.003


def test_wrong_use():
    three = random_masks(3, 4, 4)
    with pytest.raises(UsageError, match="one mask per ink"):
        screened(ArraySource(np.zeros((4, 4, 2), np.uint16), PITCH), three)
    with pytest.raises(UsageError, match="16-bit"):
        screened(ArraySource(np.zeros((4, 4, 3), np.uint8), PITCH), three)
    planes = ArraySource(np.zeros((4, 4, 3), np.uint16), PITCH)
    rising = np.zeros((3, 2, NODES), np.uint16)
    rising[:, 1] = np.arange(NODES)
    with pytest.raises(InputError, match="larger drop"):
        screened(planes, three, rising).read(0, 1)
    with pytest.raises(UsageError, match="do not fit"):
        screened(planes, three, np.zeros((3, 2, NODES), np.uint16)).read_packed(0, 1, 1)
