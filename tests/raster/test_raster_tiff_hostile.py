"""Damaged and hostile files: one clear error, nothing large allocated."""

import struct
import tracemalloc
from contextlib import suppress

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import InputError, StorageError
from strikeoff.raster import tiff_tags as tags
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.planes_tiff import open_planes, write_planes

PITCH = (25.4 / 600, 25.4 / 600)


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    path = tmp_path_factory.mktemp("good") / "good.tif"
    array = np.arange(40 * 30 * 5, dtype=np.uint16).reshape(40, 30, 5)
    write_planes(path, ArraySource(array, PITCH), ink_names=list("CMYKO"), info={"a": 1}, rows_per_strip=8)
    return path


def changed(good, tmp_path, code, value, kind=None):
    """Return a copy of the good file in which the first value of a tag is another one."""
    data = bytearray(good.read_bytes())
    start = struct.unpack_from("<I", data, 4)[0]
    for i in range(struct.unpack_from("<H", data, start)[0]):
        at = start + 2 + 12 * i
        if struct.unpack_from("<H", data, at)[0] == code:
            kind_found, count = struct.unpack_from("<HI", data, at + 2)
            size = {2: 1, 3: 2, 4: 4, 5: 8}[kind_found] * count
            where = at + 8 if size <= 4 else struct.unpack_from("<I", data, at + 8)[0]
            struct.pack_into("<H" if kind_found == 3 else "<I", data, where, value)
    path = tmp_path / "bad.tif"
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(
    ("code", "value", "message"),
    [
        (tags.IMAGE_WIDTH, 0, "ImageWidth"),
        (tags.IMAGE_WIDTH, 4_000_000_000, "ImageWidth"),
        (tags.IMAGE_LENGTH, 2_000_000_000, "ImageLength"),
        (tags.IMAGE_LENGTH, 900_000_000, "wrong number of strips"),
        (tags.SAMPLES_PER_PIXEL, 60000, "SamplesPerPixel"),
        (tags.BITS_PER_SAMPLE, 8, "BitsPerSample"),
        (tags.COMPRESSION, 7, "Compression"),
        (tags.PHOTOMETRIC, 2, "not ink planes"),
        (tags.STRIP_OFFSETS, 4_000_000_000, "strip 0: truncated or damaged"),
        (tags.STRIP_BYTE_COUNTS, 0, "strip 0: truncated or damaged"),
        (tags.STRIP_BYTE_COUNTS, 4_000_000_000, "strip 0: truncated or damaged"),
        (tags.ROWS_PER_STRIP, 0, "RowsPerStrip"),
        (tags.PREDICTOR, 3, "Predictor"),
        (tags.X_RESOLUTION, 0, "XResolution"),
        (tags.RESOLUTION_UNIT, 1, "do not say their pitch"),
        (tags.PLANAR_CONFIGURATION, 3, "PlanarConfiguration"),
        (tags.INK_NAMES, 0, "InkNames"),
    ],
)
def test_a_lying_tag_is_named(good, tmp_path, code, value, message):
    tracemalloc.start()
    with pytest.raises(InputError, match=message):
        open_planes(changed(good, tmp_path, code, value))
    assert tracemalloc.get_traced_memory()[1] < 4 << 20
    tracemalloc.stop()


def test_hundred_gigapixels_in_one_strip(good, tmp_path):
    path = changed(good, tmp_path, tags.ROWS_PER_STRIP, 316_000)
    data = changed(path, tmp_path, tags.IMAGE_LENGTH, 316_000)
    with pytest.raises(InputError, match=r"StripOffsets|RowsPerStrip"):
        open_planes(changed(data, tmp_path, tags.IMAGE_WIDTH, 316_000))


def test_endless_names_in_a_file_that_is_large_enough(good, tmp_path):
    data = bytearray(good.read_bytes())
    start = struct.unpack_from("<I", data, 4)[0]
    for i in range(struct.unpack_from("<H", data, start)[0]):
        at = start + 2 + 12 * i
        if struct.unpack_from("<H", data, at)[0] == tags.INK_NAMES:
            struct.pack_into("<II", data, at + 4, 1 << 29, 8)
    path = tmp_path / "bad.tif"
    path.write_bytes(data)
    with open(path, "rb+") as stream:
        stream.truncate(1 << 30)
    tracemalloc.start()
    with pytest.raises(InputError, match=r"InkNames .*too long"):
        open_planes(path)
    assert tracemalloc.get_traced_memory()[1] < 4 << 20
    tracemalloc.stop()


@pytest.mark.parametrize("keep", [0, 1, 7, 100, -9, -200])
def test_truncated(good, tmp_path, keep):
    path = tmp_path / "cut.tif"
    path.write_bytes(good.read_bytes()[:keep])
    with pytest.raises(InputError, match=r"cut.tif: .*(truncated|not a TIFF)"):
        open_planes(path)


def test_text_named_tif(tmp_path):
    path = tmp_path / "notes.tif"
    path.write_text("Dear printer, the file follows tomorrow.\n")
    with pytest.raises(InputError, match="not a TIFF file"):
        open_planes(path)


def test_missing_and_folder(tmp_path):
    with pytest.raises(StorageError):
        open_planes(tmp_path / "none.tif")
    with pytest.raises(StorageError):
        open_planes(tmp_path)


def test_picture_without_inks(tmp_path):
    path = tmp_path / "rgb.tif"
    tifffile.imwrite(path, np.zeros((8, 8, 3), np.uint8), photometric="rgb")
    with pytest.raises(InputError, match="not ink planes"):
        open_planes(path)
    tifffile.imwrite(path, np.zeros((8, 8, 5), np.uint16), photometric="separated", resolution=(300, 300))
    with pytest.raises(InputError, match="do not say their inks"):
        open_planes(path)


def test_damaged_strip_is_named(good, tmp_path):
    data = bytearray(good.read_bytes())
    with tifffile.TiffFile(good) as tif:
        offset, count = tif.pages[0].dataoffsets[2], tif.pages[0].databytecounts[2]
    data[offset : offset + count] = bytes(count)
    path = tmp_path / "bad.tif"
    path.write_bytes(data)
    planes = open_planes(path)
    planes.read(0, 16)
    with pytest.raises(InputError, match="strip 2: damaged strip"):
        planes.read(0, 40)


def test_bomb_is_refused_at_its_size(tmp_path):
    """A strip that would unpack to 200 MB where 480 bytes are due stops at 480."""
    import imagecodecs

    bomb = bytes(imagecodecs.zstd_encode(bytes(200_000_000)))
    array = np.zeros((8, 6, 5), np.uint16)
    path = tmp_path / "a.tif"
    write_planes(path, ArraySource(array, PITCH), ink_names=list("CMYKO"), info={}, compression="zstd")
    with tifffile.TiffFile(path) as tif:
        offset, page = tif.pages[0].dataoffsets[0], tif.pages[0]
        where = page.tags["StripByteCounts"].valueoffset
    data = bytearray(path.read_bytes())
    place = len(data)
    data += bomb
    struct.pack_into("<I", data, where, len(bomb))
    struct.pack_into("<I", data, tifffile_offset(path), place)
    path.write_bytes(data)
    assert offset == 8
    with pytest.raises(InputError, match="strip 0"):
        open_planes(path).read(0, 8)


def tifffile_offset(path):
    with tifffile.TiffFile(path) as tif:
        return tif.pages[0].tags["StripOffsets"].valueoffset


def test_file_replaced_while_open(good, tmp_path):
    path = tmp_path / "a.tif"
    path.write_bytes(good.read_bytes())
    planes = open_planes(path)
    path.write_bytes(good.read_bytes() + b"more")
    with pytest.raises(InputError, match="changed while"):
        planes.read(0, 8)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(at=st.floats(0, 1, exclude_max=True), value=st.integers(0, 255), tail=st.booleans())
def test_any_changed_byte_is_an_input_error_or_readable(good, tmp_path, at, value, tail):
    data = bytearray(good.read_bytes())
    start = struct.unpack_from("<I", data, 4)[0] if tail else 0
    data[start + int(at * (len(data) - start))] = value
    path = tmp_path / "any.tif"
    path.write_bytes(data)
    with suppress(InputError):
        planes = open_planes(path)
        planes.read(0, min(planes.height, 40))
