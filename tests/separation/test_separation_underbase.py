"""White underbase: distances in millimetres, and the same bytes however it is read."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from strikeoff.base.errors import UsageError
from strikeoff.raster.bands import ArraySource
from strikeoff.separation.underbase import Underbase, UnderbaseSource, shrunk


def by_hand(covered, choke_mm, pitch_mm):
    """Every pair of pixels, no cleverness."""
    out = covered.copy()
    for (y, x), inside in np.ndenumerate(covered):
        for (v, u), other in np.ndenumerate(covered):
            near = np.hypot((u - x) * pitch_mm[0], (v - y) * pitch_mm[1]) <= abs(choke_mm) + 1e-9
            if choke_mm > 0 and inside and not other and near:
                out[y, x] = False
            if choke_mm < 0 and not inside and other and near:
                out[y, x] = True
    return out


@given(
    hnp.arrays(np.bool_, (7, 9)),
    st.sampled_from([-0.25, -0.1, -0.02, 0.0, 0.05, 0.1, 0.2, 0.31]),
    st.sampled_from([(0.1, 0.1), (0.05, 0.1), (0.1, 0.05), (0.047, 0.0353)]),
)
def test_distances_agree_with_every_pair(covered, choke_mm, pitch_mm):
    np.testing.assert_array_equal(shrunk(covered, choke_mm, pitch_mm), by_hand(covered, choke_mm, pitch_mm))


def test_millimetres_count_whatever_the_pitch():
    """A square of 2 mm, drawn in by 0.2 mm, is 1.6 mm on both axes at 540 x 720 dpi."""
    pitch = (25.4 / 540, 25.4 / 720)
    covered = np.zeros((90, 70), bool)
    wide, high = round(2 / pitch[0]), round(2 / pitch[1])
    covered[10 : 10 + high, 10 : 10 + wide] = True
    for choke, side in ((0.2, 1.6), (-0.2, 2.4)):
        rows, columns = np.nonzero(shrunk(covered, choke, pitch))
        assert (np.ptp(columns) + 1) * pitch[0] == pytest.approx(side, abs=2.1 * pitch[0])
        assert (np.ptp(rows) + 1) * pitch[1] == pytest.approx(side, abs=2.1 * pitch[1])


def planes(seed=0):
    rng = np.random.default_rng(seed)
    art = rng.integers(1, 65536, (41, 33, 4)).astype(np.uint16)
    art[5:30, 3:20, :3] = 0
    art[..., 2] = 0
    art[..., 3] = 0
    art[2, 2, 3] = 60000
    return ArraySource(art, (0.05, 0.08))


@pytest.mark.parametrize("choke_mm", [0.0, 0.1, 0.33, -0.2])
def test_bytes_do_not_depend_on_bands(choke_mm):
    source = UnderbaseSource(planes(), Underbase(3, (0, 1), 0.5, choke_mm))
    whole = source.read(0, 41)
    np.testing.assert_array_equal(whole[..., :3], planes().array[..., :3])
    for rows in (1, 2, 7):
        parts = [source.read(y, min(y + rows, 41)) for y in range(0, 41, rows)]
        np.testing.assert_array_equal(np.concatenate(parts), whole)
    assert set(np.unique(whole[..., 3])) == {0, 32768, 60000}
    inside = whole[..., 3] > 0
    covered = (planes().array[..., :2] > 0).any(axis=2)
    assert inside[2, 2]
    assert (inside[covered].mean() < 1) == (choke_mm > 0)
    assert inside[~covered].any() == (choke_mm < 0)
    # The middle of the open field stays open.
    assert whole[17, 11, 3] == 0


def test_cloth_without_ink_and_full_cloth():
    for fill in (0, 9):
        art = ArraySource(np.full((5, 6, 2), fill, np.uint16) * np.array([1, 0], np.uint16), (0.1, 0.1))
        for choke in (0.3, -0.3):
            found = UnderbaseSource(art, Underbase(1, (0,), 1.0, choke)).read(0, 5)[..., 1]
            assert (found == (65535 if fill else 0)).all()


@pytest.mark.parametrize(
    "values",
    [(0, (0, 1)), (0, ()), (0, (1,), 0.0), (0, (1,), 1.1), (0, (1,), 1.0, 25.0), (0, (1,), 1.0, np.nan)],
)
def test_impossible_underbases(values):
    with pytest.raises(UsageError):
        Underbase(*values)
