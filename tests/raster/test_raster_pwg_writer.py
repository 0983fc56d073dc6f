"""PWG Raster: read back by libcups, and by the definition of the encoding."""

import ctypes
import ctypes.util
import os
import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import UsageError
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.kernels_packing import pack_runs
from strikeoff.raster.pwg_writer import page_header, write_pwg

PITCH = (25.4 / 600, 25.4 / 300)


def unpack(data, pixels, size):
    """PWG 5102.4-2012, clause 4.4: 0-127 repeats the next pixel n + 1 times, 129-255 copies 257 - n."""
    out, at = [], 0
    while len(out) < pixels:
        n = int(data[at])
        count, step = (n + 1, 0) if n < 128 else (257 - n, size)
        assert n != 128
        for i in range(count):
            out.append(bytes(data[at + 1 + i * step : at + 1 + i * step + size]))
        at += 1 + size * (1 if n < 128 else count)
    assert len(out) == pixels
    return np.frombuffer(b"".join(out), np.uint8).reshape(pixels, size), at


@settings(max_examples=150, deadline=None)
@given(st.integers(1, 400), st.integers(1, 8), st.integers(1, 5), st.integers(0, 1000))
def test_runs_come_back(pixels, size, kinds, seed):
    rng = np.random.default_rng(seed)
    line = np.repeat(rng.integers(0, kinds, (pixels, size)), rng.integers(1, 9, pixels), axis=0)[:pixels]
    line = np.ascontiguousarray(line.astype(np.uint8))
    out = np.full(pixels * (size + 1) + 1, 77, np.uint8)
    written = pack_runs(line, out)
    found, used = unpack(out, pixels, size)
    assert used == written <= pixels * (size + 1)
    assert np.array_equal(found, line)


def read_with_cups(path):
    name = ctypes.util.find_library("cups")
    if name is None:
        pytest.skip("libcups is absent")
    cups = ctypes.CDLL(name)
    cups.cupsRasterOpen.restype = ctypes.c_void_p
    handle = os.open(path, os.O_RDONLY)
    raster = ctypes.c_void_p(cups.cupsRasterOpen(handle, 0))
    header = ctypes.create_string_buffer(1796)
    assert cups.cupsRasterReadHeader2(raster, header) == 1
    height, length = (struct.unpack_from("=I", header.raw, at)[0] for at in (376, 392))
    lines = []
    for _ in range(height):
        line = ctypes.create_string_buffer(length)
        assert cups.cupsRasterReadPixels(raster, line, length) == length
        lines.append(line.raw[:length])
    assert cups.cupsRasterReadPixels(raster, ctypes.create_string_buffer(length), length) == 0
    cups.cupsRasterClose(raster)
    os.close(handle)
    return header.raw, np.frombuffer(b"".join(lines), np.uint8).reshape(height, length)


def number(header, offset):
    return struct.unpack_from("=I", header, offset)[0]


@pytest.mark.debian
@pytest.mark.parametrize(("inks", "bits"), [(7, 8), (1, 8), (15, 8), (1, 1)])
def test_libcups_reads_it_back(tmp_path, inks, bits):
    rng = np.random.default_rng(inks)
    drops = rng.integers(0, 4 if bits == 8 else 2, (300, 203, inks), dtype=np.uint8)
    drops[40:350] = drops[40]  # more equal lines than one count holds
    drops[100, :, 0] = 1
    write_pwg(
        tmp_path / "a.pwg", ArraySource(drops, PITCH), ink_names=[str(n) for n in range(inks)], bits=bits
    )
    header, found = read_with_cups(tmp_path / "a.pwg")
    expected = drops.reshape(300, -1) if bits == 8 else np.packbits(drops[..., 0], axis=1)
    assert np.array_equal(found, expected)
    assert header[:10] == b"PwgRaster\0"
    assert (number(header, 276), number(header, 280)) == (600, 300)
    assert (number(header, 372), number(header, 376)) == (203, 300)
    assert (number(header, 384), number(header, 388)) == (bits, bits * inks)
    # Device-1 is 48, Device-15 is 62; black is 3 (PWG 5102.4-2012, table of colour spaces).
    assert number(header, 400) == (3 if inks == 1 else 47 + inks)
    assert number(header, 420) == inks


def test_header_is_the_size_of_the_standard():
    assert len(page_header(10, 10, 7, 8, (600, 600))) == 1796


def test_what_the_format_cannot_hold_is_refused(tmp_path):
    drops = np.zeros((4, 4, 2), np.uint8)
    with pytest.raises(UsageError, match="does not hold"):
        write_pwg(tmp_path / "a.pwg", ArraySource(drops, PITCH), ink_names="CM", bits=1)
    with pytest.raises(UsageError, match="do not fit"):
        write_pwg(tmp_path / "a.pwg", ArraySource(drops.astype(np.uint16), PITCH), ink_names="CM")
    with pytest.raises(UsageError, match="whole dots"):
        write_pwg(tmp_path / "a.pwg", ArraySource(drops, (0.0417, 0.0417)), ink_names="CM")
    assert not list(tmp_path.iterdir())
