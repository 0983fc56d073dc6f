"""Tints after screening: 4,096 steps, each with more drops than the one before."""

import numpy as np
import pytest

from strikeoff.raster.bands import ArraySource
from strikeoff.raster.tables import InkTable, straight_shapers
from strikeoff.screening.masks import plain_masks
from strikeoff.screening.screen import screened
from strikeoff.screening.void_cluster import shuffled, thresholds
from strikeoff.separation.named import NamedSource
from strikeoff.spot.tints import TINTS, full_table, matched_tints, tint_table

SIZE = 128
WEDGE = np.rint(np.arange(4096) * 65535 / 4095).astype(np.uint16)


@pytest.fixture(scope="module")
def tables(small_readings):
    """By name: a mixed colour, a dark one, a curve that starts slowly, one ink alone."""
    record = small_readings.condition
    made = {}
    for name, solid in {"mixed": (0.5, 0.3, 0.4), "dark": (0.9, 0.8, 0.7), "deep": (0.0, 0.95, 0.3)}.items():
        made[name] = matched_tints(record.native, record.limits, np.array(solid), TINTS)
    made["curve"] = matched_tints(record.native, record.limits, np.array([0.7, 0.6, 0.2]), TINTS**1.3)
    made["ink"] = TINTS[:, None] * np.array([0.0, 0.0, 0.9])
    return {name: tint_table(TINTS, tints) for name, tints in made.items()}


def masks(inks=3):
    """Masks with the thresholds of those that rolls get, each 16,384 of them once, in any order."""
    ranks = np.stack([shuffled(SIZE * SIZE, seed) for seed in range(inks)])
    return plain_masks(np.stack([thresholds(rank.reshape(SIZE, SIZE)) for rank in ranks]))


@pytest.mark.parametrize("name", ["mixed", "dark", "deep", "curve", "ink"])
def test_every_step_of_the_wedge_has_more_drops(tables, name):
    codes = full_table(tables[name])[WEDGE]
    values = np.sort(masks().thresholds.reshape(3, -1), axis=1)
    # A drop falls where ink > threshold.
    counts = sum(np.searchsorted(values[ink], codes[:, ink], side="left") for ink in range(3))
    assert counts[0] == 0
    assert (np.diff(counts) > 0).all()


def test_counts_are_those_of_the_screen(tables):
    """The same count from drops: named plane to inks to screen, over one period of the mask."""
    white = InkTable(straight_shapers(3), np.zeros((2, 2, 2, 3), np.uint16))
    by_code = full_table(tables["mixed"])
    values = np.sort(masks().thresholds.reshape(3, -1), axis=1)
    for step in (0, 1, 2, 700, 701, 4094, 4095):
        art = np.zeros((SIZE, SIZE, 4), np.uint16)
        art[..., 3] = WEDGE[step]
        planes = NamedSource(ArraySource(art), white, (), (1.0,) * 3, 3.0, ((3, by_code),))
        drops = screened(planes, masks()).read(0, SIZE)
        wanted = [np.searchsorted(values[ink], by_code[WEDGE[step], ink]) for ink in range(3)]
        assert drops.sum(axis=(0, 1)).tolist() == wanted
