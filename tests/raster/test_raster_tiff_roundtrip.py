"""Planes written by us are read identically by us, by tifffile and by libtiff."""

import shutil
import subprocess
import sys
import tracemalloc

import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError, UsageError
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.planes_tiff import block_rows, open_planes, write_planes

PITCH = (25.4 / 600, 25.4 / 720)
NAMES = ["C", "M", "Y", "K", "Orange", "Red", "Blue"]


def samples(rows, width, inks, bits, seed=1):
    rng = np.random.default_rng(seed)
    top = {1: 2, 8: 256, 16: 65536}[bits]
    array = rng.integers(0, top, (rows, width, inks), dtype=np.uint16 if bits == 16 else np.uint8)
    array[rows // 3 : rows // 2] = 0
    return array


class Repeating(ArraySource):
    """Rows from ``start`` on repeat every ``period``."""

    start, period, reads = 6, 12, 0

    row_block = 6

    def canonical_row(self, y):
        return y if y < self.start else self.start + (y - self.start) % self.period

    def read(self, y0, y1):
        type(self).reads += y1 - y0
        return super().read(y0, y1)


@pytest.mark.parametrize("compression", ["none", "packbits", "deflate", "zstd"])
@pytest.mark.parametrize("bits", [1, 8, 16])
@pytest.mark.parametrize("inks", [1, 4, 7])
def test_same_samples_in_every_reader(tmp_path, bits, inks, compression):
    array = samples(37, 61, inks, bits)
    path = tmp_path / "planes.tif"
    write_planes(
        path, ArraySource(array, PITCH), ink_names=NAMES[:inks], info={"name": "Ä", "n": 1.5},
        bits=bits, compression=compression, rows_per_strip=8,
    )  # fmt: skip
    planes = open_planes(path)
    assert np.array_equal(planes.read(0, 37), array)
    assert np.array_equal(planes.read(7, 26), array[7:26])
    assert planes.read(5, 5).shape == (0, 61, inks)
    assert planes.ink_names == tuple(NAMES[:inks])
    assert planes.info == {"name": "Ä", "n": 1.5}
    assert planes.pitch_mm == PITCH
    assert (planes.bits, planes.channels, planes.row_block) == (bits, inks, 0)
    with tifffile.TiffFile(path) as tif:
        foreign = tif.asarray()
        page = tif.pages[0]
        assert page.tags["InkSet"].value == (1 if inks == 4 else 2)
        assert page.tags["NumberOfInks"].value == inks
        extra = page.tags["ExtraSamples"] if inks > 4 else None
        assert extra is None or (extra.count, set(np.ravel(extra.value))) == (inks - 4, {0})
        assert ("ExtraSamples" in page.tags) == (inks > 4)
    if foreign.ndim == 2:
        foreign = foreign[..., None]
    elif bits == 1:
        foreign = np.moveaxis(foreign, 0, 2)
    assert np.array_equal(foreign, array)


@pytest.mark.debian
@pytest.mark.skipif(shutil.which("tiffcp") is None, reason="libtiff-tools is not installed")
@pytest.mark.parametrize("big", [False, True])
@pytest.mark.parametrize(("bits", "inks"), [(1, 4), (1, 7), (8, 7), (16, 3), (16, 4), (16, 7)])
def test_libtiff_reads_the_same_without_a_warning(tmp_path, bits, inks, big):
    array = samples(40, 61, inks, bits)
    array[18:30] = array[6:18]
    array[30:] = array[6:16]
    path, copy = tmp_path / "planes.tif", tmp_path / "copy.tif"
    source = Repeating(array, PITCH)
    write_planes(path, source, ink_names=NAMES[:inks], info={}, bits=bits, compression="deflate", big=big)
    for command in (["tiffinfo", "-D", path], ["tiffcp", "-c", "none", path, copy]):
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        assert done.stderr == ""
    with tifffile.TiffFile(copy) as tif:
        foreign = tif.asarray()
    assert np.array_equal(np.moveaxis(foreign, 0, 2) if bits == 1 else foreign, array)
    assert np.array_equal(open_planes(copy).read(0, 40), array)


@pytest.mark.parametrize("bits", [1, 16])
def test_equal_rows_are_read_and_stored_once(tmp_path, bits):
    array = samples(6 + 12 * 5, 50, 5, bits)
    array[6:] = np.tile(array[6:18], (5, 1, 1))
    path = tmp_path / "roll.tif"
    Repeating.reads = 0
    write_planes(path, Repeating(array, PITCH), ink_names=NAMES[:5], info={}, bits=bits)
    assert Repeating.reads == 6 + 12
    planes = open_planes(path)
    assert planes.rows_per_strip == 6
    assert planes.row_block == 6
    assert [planes.canonical_row(y) for y in (0, 5, 6, 17, 18, 29, 65)] == [0, 5, 6, 17, 6, 17, 17]
    assert np.array_equal(planes.read(0, 66), array)
    assert np.array_equal(tifffile.imread(path), np.moveaxis(array, 2, 0) if bits == 1 else array)
    # The copy that knows nothing of repeats is bigger, and equal.
    write_planes(tmp_path / "plain.tif", ArraySource(array, PITCH), ink_names=NAMES[:5], info={}, bits=bits)
    assert np.array_equal(open_planes(tmp_path / "plain.tif").read(0, 66), array)


@settings(max_examples=30, deadline=None)
@given(rows=st.integers(1, 70), start=st.integers(0, 30), period=st.integers(1, 25), strip=st.integers(1, 12))
def test_any_cut_of_a_repeating_roll_comes_back(tmp_path_factory, rows, start, period, strip):
    array = samples(start + period, 9, 2, 16, seed=rows)
    order = [y if y < start else start + (y - start) % period for y in range(rows)]
    array = array[order]

    class Source(Repeating):
        pass

    Source.start, Source.period = start, period
    path = tmp_path_factory.mktemp("cut") / "a.tif"
    write_planes(path, Source(array, PITCH), ink_names=["a", "b"], info={}, rows_per_strip=strip)
    planes = open_planes(path)
    assert np.array_equal(planes.read(0, rows), array)
    canonical = [planes.canonical_row(y) for y in range(rows)]
    assert np.array_equal(array[canonical], array)


class Endless:
    """A tall roll of which every row is made when it is asked for."""

    height, width, channels, dtype, pitch_mm = 200_000, 800, 4, np.dtype(np.uint16), PITCH

    def read(self, y0, y1):
        rows = (
            np.arange(y0, y1, dtype=np.uint32)[:, None, None] * 977 + np.arange(800, dtype=np.uint32)[:, None]
        )
        return np.broadcast_to(rows & 0xFFF0, (y1 - y0, 800, 4)).astype(np.uint16)


def test_memory_does_not_grow_with_the_roll(tmp_path):
    """1.28 GB of samples go through less than 150 MB."""
    source = Endless()
    tracemalloc.start()
    write_planes(tmp_path / "a.tif", source, ink_names=NAMES[:4], info={})
    planes = open_planes(tmp_path / "a.tif")
    for y in range(0, 200_000, 20_000):
        assert np.array_equal(planes.read(y, y + 50), source.read(y, y + 50))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 150 << 20


def test_bytes_do_not_depend_on_workers(tmp_path):
    array = samples(400, 300, 4, 16)
    for workers in (1, 3):
        write_planes(
            tmp_path / f"{workers}.tif", ArraySource(array, PITCH), ink_names=NAMES[:4], info={},
            workers=workers, rows_per_strip=7,
        )  # fmt: skip
    assert (tmp_path / "1.tif").read_bytes() == (tmp_path / "3.tif").read_bytes()


def test_cancelling_leaves_the_older_file(tmp_path):
    path = tmp_path / "a.tif"
    path.write_bytes(b"older")

    def stop(stage, fraction):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_planes(
            path, ArraySource(samples(9, 9, 4, 16), PITCH), ink_names=NAMES[:4], info={}, progress=stop
        )
    assert [p.name for p in tmp_path.iterdir()] == ["a.tif"]
    assert path.read_bytes() == b"older"


FULL_DISK = """
import resource, sys, numpy as np
from strikeoff.base.errors import StorageError
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.planes_tiff import write_planes
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
noise = np.random.default_rng(1).integers(0, 65536, (200, 300, 4), dtype=np.uint16)
try:
    write_planes(sys.argv[1], ArraySource(noise), ink_names="CMYK", info={}, rows_per_strip=10)
except StorageError as error:
    print(error)
"""


def test_a_disk_that_takes_no_more_leaves_nothing(tmp_path):
    command = [sys.executable, "-c", FULL_DISK, str(tmp_path / "a.tif")]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert "a.tif: file grew past the limit" in done.stdout
    assert list(tmp_path.iterdir()) == []


def test_wrong_use_is_refused(tmp_path):
    source = ArraySource(samples(9, 9, 4, 16), PITCH)
    with pytest.raises(UsageError, match="one name per ink"):
        write_planes(tmp_path / "a.tif", source, ink_names=NAMES, info={})
    with pytest.raises(UsageError, match="another sample type"):
        write_planes(tmp_path / "a.tif", source, ink_names=NAMES[:4], info={}, bits=8)
    with pytest.raises(UsageError, match="unknown compression"):
        write_planes(tmp_path / "a.tif", source, ink_names=NAMES[:4], info={}, compression="jpeg")
    drops = np.zeros((9, 9, 1), np.uint8)
    drops[4, 2] = 2
    with pytest.raises(InputError, match=r"row 4: not a single drop \(found 2"):
        write_planes(tmp_path / "a.tif", ArraySource(drops, PITCH), ink_names=["K"], info={}, bits=1)
    assert list(tmp_path.iterdir()) == []


def test_strip_height_divides_the_block():
    assert block_rows(24, 1, 7) == 6
    assert block_rows(24, 1, 1000) == 24
    assert block_rows(24, 100, 7) == 1
    assert block_rows(2 * 31, 1, 30) == 31
    assert block_rows(2 * 131, 1, 30) == 2
