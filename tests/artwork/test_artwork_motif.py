"""The demonstration repeat: seamless on the half-drop lattice, evenly filled, reproducible."""

import numpy as np
import pytest

from strikeoff.artwork.motif import draw_repeat
from strikeoff.artwork.motif_plants import PALETTE
from strikeoff.base.errors import InputError

SIZE = 504


@pytest.fixture(scope="module")
def tile():
    return draw_repeat(SIZE)


def steps(a, b):
    return np.abs(a.astype(int) - b.astype(int)).sum(axis=-1).mean()


def test_joins_look_like_the_interior(tile):
    # Right of column -1 stands column 0 of the neighbour, which hangs half a height lower.
    across = np.array([steps(tile[:, x], tile[:, x + 1]) for x in range(SIZE - 1)])
    along = np.array([steps(tile[y], tile[y + 1]) for y in range(SIZE - 1)])
    drop = steps(tile[:, -1], np.roll(tile[:, 0], SIZE // 2, axis=0))
    assert np.percentile(across, 2) < drop < np.percentile(across, 98)
    assert np.percentile(along, 2) < steps(tile[-1], tile[0]) < np.percentile(along, 98)
    assert steps(tile[:, -1], tile[:, 0]) > 2 * across.max()  # a straight repeat would show the seam


def test_the_eye_finds_no_holes_and_no_heap(tile):
    # Share of ground in windows of a sixth of the repeat.
    bare = np.abs(tile.astype(int) - PALETTE["ground"]).sum(axis=-1) < 60
    share = bare.reshape(6, SIZE // 6, 6, SIZE // 6).mean(axis=(1, 3))
    assert share.min() > 0.05
    assert share.max() < 0.9
    assert 0.3 < bare.mean() < 0.65


def test_palette_has_a_neutral_and_a_brilliant_colour_that_are_used(tile):
    for name in ("grey", "slate", "pearl"):
        assert len(set(PALETTE[name])) == 1
    for name in ("grey", "flame", "ground", "cream", "honey"):
        used = (np.abs(tile.astype(int) - PALETTE[name]).sum(axis=-1) <= 6).mean()
        assert used > 0.001, name


def test_another_size_shows_the_same_drawing(tile):
    half = draw_repeat(SIZE // 2)
    small = tile.reshape(SIZE // 2, 2, SIZE // 2, 2, 3).mean(axis=(1, 3))
    assert np.abs(half - small).mean() < 5  # other antialiasing
    assert np.abs(np.roll(half, 1, axis=0) - small).mean() > 10


def test_size_is_checked():
    for size in (63, 505, 10_000):
        with pytest.raises(InputError):
            draw_repeat(size)
