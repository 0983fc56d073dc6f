"""Sources turned by 90 degrees against numpy's own turn."""

import errno
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.base.errors import StorageError
from strikeoff.raster import turned
from strikeoff.raster.bands import ArraySource


@given(
    height=st.integers(1, 40), width=st.integers(1, 40), inks=st.integers(1, 9),
    block_bytes=st.integers(1, 900), data=st.data(),
)  # fmt: skip
def test_any_rows_of_a_turned_source(tmp_path_factory, height, width, inks, block_bytes, data):
    art = np.random.default_rng(0).integers(0, 65536, (height, width, inks), dtype=np.uint16)
    first = data.draw(st.integers(0, width))
    last = data.draw(st.integers(first, width))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(turned, "_BLOCK_BYTES", block_bytes)
        folder = tmp_path_factory.getbasetemp()
        with turned.turned_clockwise(ArraySource(art, (0.1, 0.2)), folder) as source:
            assert (source.height, source.width, source.channels) == (width, height, inks)
            assert source.pitch_mm == (0.2, 0.1)
            assert np.array_equal(source.read(first, last), np.rot90(art, -1)[first:last])


def test_nothing_is_left_and_memory_is_bounded(tmp_path):
    """50 MB of artwork never stands in memory; its file is gone even before the end."""
    read = []

    def rows(y0, y1):
        read.append((y1 - y0) * 5000 * 8)
        return np.full((y1 - y0, 5000, 4), y0, np.uint16)

    tall = SimpleNamespace(
        height=1250, width=5000, channels=4, dtype=np.dtype(np.uint16), pitch_mm=(0.1, 0.1), read=rows
    )
    with turned.turned_clockwise(tall, tmp_path):
        assert not list(tmp_path.iterdir())
    assert max(read) <= 16 << 20


def test_a_full_disk_is_one_clear_error(tmp_path):
    def full(y0, y1):
        raise OSError(errno.ENOSPC, "no space")

    art = ArraySource(np.zeros((4, 4, 1), np.uint16))
    broken = SimpleNamespace(height=4, width=4, channels=1, dtype=art.dtype, pitch_mm=art.pitch_mm, read=full)
    with pytest.raises(StorageError, match="disk is full"), turned.turned_clockwise(broken, tmp_path):
        pass
