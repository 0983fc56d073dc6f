"""Screening in bands: equal to the definition, phase of the roll, equal rows truly equal."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import UsageError
from strikeoff.raster.bands import ArraySource, period_rows
from strikeoff.raster.planes_tiff import open_planes, write_planes
from strikeoff.screening.screen import screen_plain, screened
from strikeoff.screening.void_cluster import thresholds

PITCH = (25.4 / 600, 25.4 / 600)


def random_masks(inks, high, wide, seed=0):
    rng = np.random.default_rng(seed)
    return np.stack([thresholds(rng.permutation(high * wide).reshape(high, wide)) for _ in range(inks)])


@settings(max_examples=80, deadline=None)
@given(
    rows=st.integers(1, 30), width=st.integers(1, 70), inks=st.integers(1, 7), high=st.integers(1, 9),
    wide=st.integers(1, 20), y0=st.integers(0, 29), curved=st.booleans(),
)  # fmt: skip
def test_equal_to_the_definition(rows, width, inks, high, wide, y0, curved):
    rng = np.random.default_rng(rows * width + inks)
    planes = rng.integers(0, 65536, (rows, width, inks), dtype=np.uint16)
    planes[rng.random(planes.shape) < 0.2] = 0
    planes[rng.random(planes.shape) < 0.2] = 65535
    masks = random_masks(inks, high, wide)
    bent = np.sort(rng.integers(0, 65536, (inks, 65536), dtype=np.uint16), axis=1)
    curves = bent if curved else None
    source = screened(ArraySource(planes, PITCH), masks, curves)
    y0 = min(y0, rows)
    expected = screen_plain(planes[y0:], masks, y0, curves)
    assert np.array_equal(source.read(y0, rows), expected)
    assert np.array_equal(source.read_packed(y0, rows), np.packbits(np.moveaxis(expected, 2, 0), axis=2))


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
    assert period_rows(Periodic(planes, PITCH)) == 12
    assert period_rows(ArraySource(planes, PITCH)) == 0


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


def test_wrong_use():
    with pytest.raises(UsageError, match="one mask per ink"):
        screened(ArraySource(np.zeros((4, 4, 2), np.uint16), PITCH), random_masks(3, 4, 4))
    with pytest.raises(UsageError, match="16-bit"):
        screened(ArraySource(np.zeros((4, 4, 3), np.uint8), PITCH), random_masks(3, 4, 4))
