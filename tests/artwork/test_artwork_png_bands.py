"""Large PNG in bands: the same pixels as in one piece, in little memory, damage told."""

import struct
import tracemalloc
import zlib

import numpy as np
import pytest
from PIL import Image

from strikeoff.artwork import png
from strikeoff.artwork.opening import open_artwork
from strikeoff.artwork.png_source import PngSource
from strikeoff.base.errors import InputError

RNG = np.random.default_rng(9)


def chunk(name, body):
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def written(samples, kind, filters, *, more=b"", cut=700):
    """Return a PNG of 8 or 16 bits with given row filters, its data in chunks of a few bytes.

    W3C PNG (Third Edition), clauses 9.2 to 9.4, written down once more, value by value.
    """
    height, width, channels = samples.shape
    step = channels * samples.itemsize
    raw = samples.astype(samples.dtype.newbyteorder(">")).view(np.uint8).reshape(height, -1).astype(int)
    rows = b""
    for y in range(height):
        up = raw[y - 1] if y else np.zeros_like(raw[0])
        left = np.concatenate([np.zeros(step, int), raw[y, :-step]])
        corner = np.concatenate([np.zeros(step, int), up[:-step]])
        guess = left + up - corner
        order = np.argsort(np.abs([guess - left, guess - up, guess - corner]), axis=0, kind="stable")[0]
        paeth = np.choose(order, [left, up, corner])
        kinds = [np.zeros_like(left), left, up, (left + up) // 2, paeth]
        kind_here = filters[y % len(filters)]
        rows += bytes([kind_here]) + ((raw[y] - kinds[kind_here]) % 256).astype(np.uint8).tobytes()
    packed = zlib.compress(rows)
    header = struct.pack(">IIBBBBB", width, height, 8 * samples.itemsize, kind, 0, 0, 0)
    data = b"".join(chunk(b"IDAT", packed[i : i + cut]) for i in range(0, len(packed), cut))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + more + data + chunk(b"IEND", b"")


@pytest.fixture
def in_bands(monkeypatch):
    """Every picture is a large one, in blocks of a few rows."""
    monkeypatch.setattr(png, "_LARGE_BYTES", 0)
    monkeypatch.setattr("strikeoff.artwork.png_source._BLOCK_BYTES", 1000)
    monkeypatch.setattr("strikeoff.artwork.png_source._PIECE_BYTES", 100)


@pytest.mark.parametrize("filters", [[0], [1], [2], [3], [4], [4, 0, 3, 1, 2]])
@pytest.mark.parametrize(("kind", "channels"), [(0, 1), (2, 3), (4, 2), (6, 4)])
@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_bands_are_the_pixels(tmp_path, in_bands, filters, kind, channels, dtype):
    art = RNG.integers(0, np.iinfo(dtype).max + 1, (43, 29, channels)).astype(dtype)
    (tmp_path / "a.png").write_bytes(written(art, kind, filters))
    source = png.read_png(str(tmp_path / "a.png")).source
    assert isinstance(source, PngSource)
    for y0, y1 in ((30, 43), (0, 43), (7, 8), (20, 20), (3, 25)):
        np.testing.assert_array_equal(source.read(y0, y1), art[y0:y1])


def test_bands_equal_libpng(tmp_path, monkeypatch):
    art = RNG.integers(0, 256, (90, 70, 3)).astype(np.uint8)
    art[20:60] //= 16
    image = Image.fromarray(art)
    image.save(tmp_path / "a.png")
    image.quantize(100).save(tmp_path / "p.png", transparency=bytes(range(100)))
    for name in ("a.png", "p.png"):
        whole = open_artwork(tmp_path / name)
        with monkeypatch.context() as patch:
            patch.setattr(png, "_LARGE_BYTES", 0)
            bands = open_artwork(tmp_path / name)
        assert bands.kind == whole.kind
        np.testing.assert_array_equal(bands.source.read(0, 90), whole.source.read(0, 90))


def test_damage_is_told(tmp_path, in_bands):
    art = RNG.integers(0, 256, (43, 29, 3)).astype(np.uint8)
    good = written(art, 2, [4])
    for data, says in (
        (good[: len(good) // 2], "damaged|cut off"),
        (written(art, 2, [0]).replace(b"IDAT", b"iDAT", 1), "damaged|cut off"),
        (good[:300] + bytes(50) + good[350:], "damaged"),
        (good[:33] + chunk(b"IEND", b""), "more pixels|cut off"),
    ):
        (tmp_path / "d.png").write_bytes(data)
        with pytest.raises(InputError, match=says):
            open_artwork(tmp_path / "d.png").source.read(0, 43)
    packed = zlib.compress(b"\7" + bytes(87) * 43)
    header = struct.pack(">IIBBBBB", 29, 1, 8, 2, 0, 0, 0)
    (tmp_path / "f.png").write_bytes(good[:8] + chunk(b"IHDR", header) + chunk(b"IDAT", packed))
    with pytest.raises(InputError, match="filter 7"):
        open_artwork(tmp_path / "f.png").source.read(0, 1)


def test_forty_thousand_square_stays_on_the_disk(tmp_path):
    # 4.8 gigabytes of samples: one flushed piece of zeros over and over.
    side = 40_000
    packer = zlib.compressobj(9)
    head = packer.compress(bytes(1 << 20)) + packer.flush(zlib.Z_FULL_FLUSH)
    piece = packer.compress(bytes(1 << 20)) + packer.flush(zlib.Z_FULL_FLUSH)
    data = head + piece * (side * (3 * side + 1) // (1 << 20))
    header = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    (tmp_path / "z.png").write_bytes(
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", data) + chunk(b"IEND", b"")
    )
    tracemalloc.start()
    artwork = open_artwork(tmp_path / "z.png")
    for y in range(0, 1024, 256):
        band = artwork.source.read(y, y + 256)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert (artwork.width, artwork.height, band.shape) == (side, side, (256, side, 3))
    assert peak < 150 << 20
