"""Named colours to inks of their name."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from strikeoff.base.errors import InputError
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.tables import InkTable, apply_table, straight_shapers
from strikeoff.separation.named import NamedSource, inks_for, laid_together

FULL = 65535


def table(inks=5):
    rng = np.random.default_rng(0)
    return InkTable(straight_shapers(3), rng.integers(0, 20000, (5, 5, 5, inks)).astype(np.uint16))


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_named_planes_reach_their_inks_and_the_rest_is_the_link(dtype):
    rng = np.random.default_rng(1)
    art = rng.integers(0, np.iinfo(dtype).max + 1, (9, 7, 5)).astype(dtype)
    art[:4, :, 3:] = 0
    source = NamedSource(ArraySource(art), table(), ((4, 2), (3, 0)), (1.0,) * 5, 50.0)
    link = apply_table(np.ascontiguousarray(art[..., :3]), table())
    found = source.read(0, 9)
    np.testing.assert_array_equal(found[:4], link[:4])
    wide = art.astype(np.int64) * (257 if dtype == np.uint8 else 1)
    np.testing.assert_array_equal(found[..., 2], np.minimum(link[..., 2] + wide[..., 4], FULL))
    np.testing.assert_array_equal(found[..., 0], np.minimum(link[..., 0] + wide[..., 3], FULL))
    np.testing.assert_array_equal(found[..., [1, 3, 4]], link[..., [1, 3, 4]])
    np.testing.assert_array_equal(source.read(2, 5), found[2:5])


AMOUNTS = hnp.arrays(np.uint16, (6, 4), elements=st.integers(0, FULL))


@given(AMOUNTS, AMOUNTS, st.floats(0.2, 4.0), st.tuples(*[st.floats(0.1, 1.0)] * 4))
def test_total_holds_and_process_yields_first(process, named, limit, weights):
    found = laid_together(process, named, weights, limit).astype(np.int64)
    load = np.asarray(weights)
    assert (found @ load <= limit * FULL + 1e-6).all()
    wish = np.minimum(process.astype(np.int64) + named, FULL)
    assert (found <= wish).all()
    fits = wish @ load <= limit * FULL
    np.testing.assert_array_equal(found[fits], wish[fits])
    firm = named @ load <= limit * FULL
    assert (found[firm] >= named[firm]).all()


def _counted(codes, counts):
    return counts[np.arange(4), codes].sum(axis=1)


@given(AMOUNTS, AMOUNTS, st.floats(0.2, 4.0), st.tuples(*[st.floats(1.0, 3.0)] * 4))
def test_total_along_curves_holds_and_what_fits_stays(process, named, limit, powers):
    counts = np.stack([(np.arange(FULL + 1) / FULL) ** power for power in powers])
    found = laid_together(process, named, (1.0,) * 4, limit, counts).astype(np.int64)
    assert (_counted(found, counts) <= limit + 1e-9).all()
    wish = np.minimum(process.astype(np.int64) + named, FULL)
    assert (found <= wish).all()
    fits = _counted(wish, counts) <= limit - 1e-9
    np.testing.assert_array_equal(found[fits], wish[fits])
    firm = _counted(named, counts) <= limit - 1e-9
    assert (found[firm] >= named[firm]).all()


def test_names_meet_whatever_their_case():
    assert inks_for(["ORANGE", "Coral"], ["C", "Orange"]) == {"ORANGE": 1}


def test_unfit_planes():
    with pytest.raises(InputError, match="do not fit"):
        laid_together(np.zeros((2, 3), np.uint16), np.zeros((2, 4), np.uint16), (1, 1, 1), 1.0)


def tint_codes(seed, inks=5):
    rng = np.random.default_rng(seed)
    codes = np.sort(rng.integers(0, 50000, (65536, inks)), axis=0).astype(np.uint16)
    codes[0] = 0
    return codes


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_flat_tints_are_their_table_and_overlaps_add(dtype):
    """Reference: whole-number sums, pixel by pixel."""
    rng = np.random.default_rng(1)
    art = rng.integers(0, np.iinfo(dtype).max + 1, (12, 7, 5)).astype(dtype)
    art[:4, :, :3] = 0
    art[:2, :, 4] = 0
    nodes = table().nodes.copy()
    nodes[0, 0, 0] = 0
    clear = InkTable(straight_shapers(3), nodes)
    first, second = tint_codes(1), tint_codes(2)
    source = NamedSource(ArraySource(art), clear, (), (1.0,) * 5, 50.0, ((3, first), (4, second)))
    found = source.read(0, 12)
    wide = art.astype(np.int64) * (257 if dtype == np.uint8 else 1)
    np.testing.assert_array_equal(found[:2], first[wide[:2, :, 3]])
    both = first[wide[..., 3]].astype(np.int64) + second[wide[..., 4]]
    link = apply_table(np.ascontiguousarray(art[..., :3]), clear).astype(np.int64)
    np.testing.assert_array_equal(found, np.minimum(np.minimum(both, FULL) + link, FULL))
    assert (both > FULL).any()
    for rows in (1, 2, 7):
        parts = [source.read(y, min(y + rows, 12)) for y in range(0, 12, rows)]
        np.testing.assert_array_equal(np.concatenate(parts), found)
