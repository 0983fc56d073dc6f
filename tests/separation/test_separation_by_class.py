"""Each pixel through the table of its class. No source: common practice of page colour management."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.tables import InkTable, apply_table, straight_shapers
from strikeoff.separation.by_class import ByClassSource, ClassTables, class_shares
from strikeoff.separation.named import NamedSource


def table(seed, inks=4):
    rng = np.random.default_rng(seed)
    return InkTable(straight_shapers(3), rng.integers(0, 65536, (5, 5, 5, inks)).astype(np.uint16))


TABLES = (table(0), table(1), table(2), table(3))


@given(seed=st.integers(0, 999), rows=st.integers(1, 7), one=st.booleans())
@settings(max_examples=30)
def test_every_pixel_gets_the_codes_of_its_own_table(seed, rows, one):
    rng = np.random.default_rng(seed)
    pixels = rng.integers(0, 256, (9, 13, 3)).astype(np.uint8)
    codes = rng.integers(0, 1 if one else 4, (9, 13, 1)).astype(np.uint8)
    source = ByClassSource(ArraySource(pixels), ClassTables(ArraySource(codes), TABLES))
    made = np.concatenate([source.read(y, min(y + rows, 9)) for y in range(0, 9, rows)])
    wanted = np.select([codes == code for code in range(4)], [apply_table(pixels, found) for found in TABLES])
    np.testing.assert_array_equal(made, wanted)
    assert source.channels == 4
    assert source.dtype == np.uint16


def test_named_colours_lie_over_classes_as_over_one_table():
    rng = np.random.default_rng(4)
    samples = rng.integers(0, 256, (6, 8, 4)).astype(np.uint8)
    codes = rng.integers(1, 3, (6, 8, 1)).astype(np.uint8)

    def planes(which, by_class=None):
        return NamedSource(ArraySource(samples), which, ((3, 2),), (1, 1, 1, 1), 3.0, by_class=by_class).read(
            0, 6
        )

    made = planes(TABLES[0], ClassTables(ArraySource(codes), TABLES))
    wanted = np.where(codes == 1, planes(TABLES[1]), planes(TABLES[2]))
    np.testing.assert_array_equal(made, wanted)


def test_what_does_not_fit_is_refused():
    codes = ArraySource(np.full((2, 2, 1), 4, np.uint8))
    with pytest.raises(InputError, match="unknown class"):
        ClassTables(codes, TABLES).inks(np.zeros((2, 2, 3), np.uint8), 0)
    with pytest.raises(InputError, match="do not fit"):
        ClassTables(codes, TABLES).inks(np.zeros((2, 3, 3), np.uint8), 0)
    with pytest.raises(InputError, match="do not fit each other"):
        ClassTables(codes, (table(0), table(1, inks=3)))


def test_shares_count_every_pixel_once():
    codes = ArraySource(np.array([[0, 1, 1, 3], [0, 0, 1, 3]], np.uint8)[..., None])
    assert class_shares(codes, ("a", "b", "c", "d"), rows=1) == {"a": 0.375, "b": 0.375, "c": 0, "d": 0.25}
