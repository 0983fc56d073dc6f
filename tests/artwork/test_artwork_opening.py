"""Opening artwork: every format, every trap; bad files give one clear error."""

import io
import logging
import struct
import tracemalloc
import zlib

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from strikeoff.artwork.opening import open_artwork
from strikeoff.base.errors import InputError, StorageError, StrikeoffError, UsageError


def pixels(height=53, width=71, channels=3, dtype=np.uint8, seed=1):
    rng = np.random.default_rng(seed)
    return rng.integers(0, np.iinfo(dtype).max + 1, (height, width, channels)).astype(dtype)


def whole(artwork):
    return artwork.source.read(0, artwork.height)


def messages(artwork):
    return " | ".join(map(str, artwork.problems))


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
@pytest.mark.parametrize("planar", ["contig", "separate"])
@pytest.mark.parametrize(
    "layout",
    [{"rowsperstrip": 7}, {"tile": (16, 32)}, {"rowsperstrip": 1000}],
    ids=["strips", "tiles", "one"],
)
@pytest.mark.parametrize("compression", [None, "lzw", "deflate", "packbits", "zstd"])
def test_tiff_bands_equal_the_pixels(tmp_path, dtype, planar, layout, compression):
    art = pixels(dtype=dtype)
    path = tmp_path / "a.tif"
    data = art if planar == "contig" else np.moveaxis(art, 2, 0)
    predictor = compression in ("lzw", "deflate")
    tifffile.imwrite(
        path, data, photometric="rgb", planarconfig=planar, compression=compression, predictor=predictor,
        byteorder=">" if dtype == np.uint16 else "<", **layout,
    )  # fmt: skip
    artwork = open_artwork(path)
    assert (artwork.kind, artwork.bits, artwork.width, artwork.height) == (
        "rgb",
        8 * dtype().itemsize,
        71,
        53,
    )
    assert artwork.source.dtype == dtype
    for y0, y1 in ((0, 53), (5, 6), (13, 37), (52, 53), (20, 20)):
        np.testing.assert_array_equal(artwork.source.read(y0, y1), art[y0:y1])
    with pytest.raises(IndexError):
        artwork.source.read(0, 54)


def test_tiff_jpeg_compression(tmp_path):
    art = np.full((64, 48, 3), (200, 100, 50), np.uint8)
    tifffile.imwrite(tmp_path / "a.tif", art, photometric="rgb", compression="jpeg", rowsperstrip=16)
    assert np.abs(whole(open_artwork(tmp_path / "a.tif")).astype(int) - art).max() <= 3


def test_tiff_grey_minimum_is_white_is_turned_round(tmp_path):
    art = pixels(channels=1, dtype=np.uint16)[..., 0]
    tifffile.imwrite(tmp_path / "w.tif", art, photometric="miniswhite")
    artwork = open_artwork(tmp_path / "w.tif")
    assert (artwork.kind, artwork.profile_origin) == ("grey", "assumed sRGB grey curve")
    np.testing.assert_array_equal(whole(artwork)[..., 0], 65535 - art)


def test_tiff_cmyk_is_0_for_no_ink(tmp_path):
    art = pixels(channels=4)
    tifffile.imwrite(tmp_path / "c.tif", art, photometric="separated")
    artwork = open_artwork(tmp_path / "c.tif")
    assert (artwork.kind, artwork.profile_origin) == ("cmyk", "none")
    assert "no known colour" in messages(artwork)
    np.testing.assert_array_equal(whole(artwork), art)


def test_tiff_with_other_inks_is_refused(tmp_path):
    tifffile.imwrite(tmp_path / "n.tif", pixels(channels=4), photometric="separated", extratags=[
        (332, "H", 1, 2, True)])  # fmt: skip
    with pytest.raises(InputError, match="separation, not artwork"):
        open_artwork(tmp_path / "n.tif")


@pytest.mark.parametrize(("extra", "premultiplied"), [("unassalpha", False), ("assocalpha", True)])
def test_tiff_alpha_is_laid_over_bare_cloth_and_told(tmp_path, extra, premultiplied):
    art = pixels(channels=4)
    if premultiplied:
        art[..., :3] = np.minimum(art[..., :3], art[..., 3:])
    tifffile.imwrite(tmp_path / "a.tif", art, photometric="rgb", extrasamples=[extra])
    artwork = open_artwork(tmp_path / "a.tif")
    assert "bare cloth" in messages(artwork)
    cover = art[..., 3:] / 255.0
    colour = art[..., :3] * (1.0 if premultiplied else cover) + 255 * (1 - cover)
    assert artwork.source.channels == 3
    assert np.abs(whole(artwork) - colour).max() <= 0.501


def test_tiff_unspecified_channel_is_ignored_and_told(tmp_path):
    art = pixels(channels=4)
    tifffile.imwrite(tmp_path / "x.tif", art, photometric="rgb", extrasamples=["unspecified"])
    artwork = open_artwork(tmp_path / "x.tif")
    assert "not printed" in messages(artwork)
    np.testing.assert_array_equal(whole(artwork), art[..., :3])


def test_tiff_palette(tmp_path):
    index = pixels(channels=1)[..., 0]
    table = pixels(256, 1, 3, np.uint16)[:, 0]
    tifffile.imwrite(tmp_path / "p.tif", index, photometric="palette", colormap=table.T)
    np.testing.assert_array_equal(
        whole(open_artwork(tmp_path / "p.tif")), (table >> 8).astype(np.uint8)[index]
    )


@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation_matches_the_general_image_library(tmp_path, orientation):
    # Pillow's exif_transpose is the reference engine.
    from PIL import ImageOps

    art = pixels(8, 13)
    tifffile.imwrite(tmp_path / "o.tif", art, photometric="rgb", rowsperstrip=3, resolution=(300, 150),
                     resolutionunit=2, extratags=[(274, "H", 1, orientation, True)])  # fmt: skip
    artwork = open_artwork(tmp_path / "o.tif")
    exif = Image.Exif()
    exif[0x0112] = orientation
    image = Image.fromarray(art)
    image.info["exif"] = exif.tobytes()
    image._exif = exif
    expected = np.asarray(ImageOps.exif_transpose(image))
    np.testing.assert_array_equal(whole(artwork), expected)
    np.testing.assert_array_equal(artwork.source.read(2, 7), expected[2:7])
    assert artwork.dpi == ((300, 150) if orientation < 5 else (150, 300))
    assert ("turned" in messages(artwork)) == (orientation != 1)
    assert artwork.source.pitch_mm == pytest.approx((25.4 / artwork.dpi[0], 25.4 / artwork.dpi[1]))


def test_jpeg_rgb_grey_and_exif_turn(tmp_path):
    art = np.zeros((40, 80, 3), np.uint8)
    art[:, :40] = (220, 30, 30)
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.fromarray(art).save(tmp_path / "r.jpg", quality=95, subsampling=0, exif=exif, dpi=(200, 200))
    artwork = open_artwork(tmp_path / "r.jpg")
    assert (artwork.width, artwork.height, artwork.kind) == (40, 80, "rgb")
    assert artwork.dpi == (200, 200)
    assert np.abs(whole(artwork).astype(int) - np.rot90(art, -1)).max() <= 8
    Image.fromarray(art[..., 0]).save(tmp_path / "g.jpg")
    assert open_artwork(tmp_path / "g.jpg").kind == "grey"


def test_jpeg_cmyk_is_0_for_no_ink_with_and_without_the_marker(tmp_path):
    art = np.zeros((32, 32, 4), np.uint8)
    art[..., 0] = 255
    Image.fromarray(art, "CMYK").save(tmp_path / "c.jpg", quality=98)
    data = (tmp_path / "c.jpg").read_bytes()
    assert b"Adobe" in data
    artwork = open_artwork(tmp_path / "c.jpg")
    assert artwork.kind == "cmyk"
    assert np.abs(whole(artwork).astype(int) - art).max() <= 3
    at = data.index(b"\xff\xee")
    size = int.from_bytes(data[at + 2 : at + 4], "big")
    (tmp_path / "n.jpg").write_bytes(data[:at] + data[at + 2 + size :])
    bare = open_artwork(tmp_path / "n.jpg")
    assert "without the marker" in messages(bare)
    assert np.abs(whole(bare).astype(int) - (255 - art)).max() <= 3


def test_png_keeps_16_bits_and_understands_the_rest(tmp_path):
    import imagecodecs

    art = pixels(dtype=np.uint16)
    (tmp_path / "r.png").write_bytes(imagecodecs.png_encode(art))
    artwork = open_artwork(tmp_path / "r.png")
    assert artwork.bits == 16
    np.testing.assert_array_equal(whole(artwork), art)

    indexed = Image.fromarray(pixels(channels=1)[..., 0] % 4).convert("P")
    indexed.putpalette([10, 20, 30, 40, 50, 60, 70, 80, 90, 255, 0, 0])
    indexed.save(tmp_path / "p.png", dpi=(254, 127))
    artwork = open_artwork(tmp_path / "p.png")
    assert artwork.kind == "rgb"
    assert artwork.dpi == pytest.approx((254, 127), rel=1e-3)
    np.testing.assert_array_equal(whole(artwork), np.asarray(indexed.convert("RGB")))

    Image.new("1", (9, 4), 1).save(tmp_path / "b.png")
    assert whole(open_artwork(tmp_path / "b.png")).min() == 255
    Image.new("LA", (9, 4), (0, 51)).save(tmp_path / "la.png")
    artwork = open_artwork(tmp_path / "la.png")
    assert artwork.kind == "grey"
    assert set(whole(artwork).ravel()) == {204}


def test_jpeg_with_a_thumbnail_and_bytes_behind_its_end(tmp_path):
    art = np.full((64, 64, 3), 90, np.uint8)
    stream = io.BytesIO()
    Image.fromarray(art).save(stream, "JPEG", progressive=True)
    data = stream.getvalue()
    (tmp_path / "b.jpg").write_bytes(data + b"maker's own \xff\xda bytes")
    assert np.abs(whole(open_artwork(tmp_path / "b.jpg")).astype(int) - art).max() <= 2
    thumbnail = b"\xff\xe1" + (len(data) + 8).to_bytes(2, "big") + b"Exif\0\0" + data
    (tmp_path / "t.jpg").write_bytes(data[:2] + thumbnail + data[2:-2])
    with pytest.raises(InputError, match="cut off"):
        open_artwork(tmp_path / "t.jpg")


def test_tiff_jpeg_in_luma_and_chroma(tmp_path):
    # (200, 100, 50) in Y, Cb, Cr by ITU-R BT.601, as TIFF 6.0 section 21 takes it.
    stored = np.full((64, 64, 3), (124, 86, 182), np.uint8)
    tifffile.imwrite(
        tmp_path / "y.tif", stored, photometric="ycbcr", compression="jpeg", subsampling=(2, 2), tile=(32, 32)
    )
    assert np.abs(whole(open_artwork(tmp_path / "y.tif")).astype(int) - (200, 100, 50)).max() <= 3


def png_chunk(name, body):
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def test_png_states_its_encoding(tmp_path):
    import imagecodecs

    data = imagecodecs.png_encode(pixels())
    at = 33
    for chunk, origin, told in (
        (png_chunk(b"sRGB", b"\0"), "stated sRGB", ""),
        (png_chunk(b"gAMA", struct.pack(">I", 100000)), "assumed sRGB", "an encoding other than sRGB"),
        (png_chunk(b"iCCP", b"x\0\0" + zlib.compress(b"nonsense")), "assumed sRGB", "not an ICC profile"),
        (png_chunk(b"iCCP", b"x\0\0nonsense"), "assumed sRGB", "damaged"),
    ):
        (tmp_path / "s.png").write_bytes(data[:at] + chunk + data[at:])
        artwork = open_artwork(tmp_path / "s.png")
        assert artwork.profile_origin == origin
        assert told in messages(artwork)


def test_embedded_profile_is_honoured_only_where_it_fits(tmp_path):
    import imagecodecs

    profile = imagecodecs.cms_profile("srgb")
    tifffile.imwrite(tmp_path / "a.tif", pixels(), photometric="rgb", iccprofile=profile)
    artwork = open_artwork(tmp_path / "a.tif")
    assert (artwork.profile, artwork.profile_origin) == (profile, "embedded")
    tifffile.imwrite(tmp_path / "b.tif", pixels(channels=4), photometric="separated", iccprofile=profile)
    artwork = open_artwork(tmp_path / "b.tif")
    assert (artwork.profile, artwork.profile_origin) == (None, "none")
    assert "'RGB'" in messages(artwork)
    tifffile.imwrite(tmp_path / "c.tif", pixels(), photometric="rgb", iccprofile=profile[:300])
    assert "cut off" in messages(open_artwork(tmp_path / "c.tif"))


def test_assumed_profile(tmp_path):
    import imagecodecs

    (tmp_path / "p.icc").write_bytes(imagecodecs.cms_profile("adobergb"))
    tifffile.imwrite(tmp_path / "a.tif", pixels(), photometric="rgb")
    artwork = open_artwork(tmp_path / "a.tif", assume_profile=tmp_path / "p.icc")
    assert artwork.profile_origin == "assumed: p.icc"
    tifffile.imwrite(tmp_path / "g.tif", pixels(channels=1)[..., 0], photometric="minisblack")
    with pytest.raises(InputError, match="does not fit"):
        open_artwork(tmp_path / "g.tif", assume_profile=tmp_path / "p.icc")
    with pytest.raises(UsageError):
        open_artwork(tmp_path / "a.tif", default_rgb="other")


def test_wrong_name_is_told(tmp_path):
    Image.fromarray(pixels()).save(tmp_path / "a.png")
    (tmp_path / "a.png").rename(tmp_path / "a.tif")
    assert "does not fit the content" in messages(open_artwork(tmp_path / "a.tif"))


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b"Dear printer,\nplease find", "text"),
        (b"%PDF-1.7 ", "PDF"),
        (b"\0\1\2\3", "bytes 00 01"),
    ],
)
def test_files_that_are_no_picture(tmp_path, content, says):
    (tmp_path / "a.tif").write_bytes(content)
    with pytest.raises(InputError, match=says):
        open_artwork(tmp_path / "a.tif")


def test_missing_and_folder(tmp_path):
    with pytest.raises(StorageError, match="no such file"):
        open_artwork(tmp_path / "none.tif")
    with pytest.raises(StorageError, match="folder"):
        open_artwork(tmp_path)


def test_truncated_files(tmp_path):
    Image.fromarray(pixels(200, 300)).save(tmp_path / "a.jpg", quality=90)
    Image.fromarray(pixels(200, 300)).save(tmp_path / "a.png")
    tifffile.imwrite(
        tmp_path / "a.tif", pixels(200, 300), photometric="rgb", compression="lzw", rowsperstrip=20
    )
    tifffile.imwrite(tmp_path / "b.tif", pixels(200, 300), photometric="rgb")
    for name in ("a.jpg", "a.png", "a.tif", "b.tif"):
        data = (tmp_path / name).read_bytes()
        for share in (0.999, 0.7, 0.1):
            (tmp_path / f"cut-{name}").write_bytes(data[: int(len(data) * share)])
            with pytest.raises(InputError) as caught:
                open_artwork(tmp_path / f"cut-{name}")
            assert "\n" not in str(caught.value)


def bare_tiff(next_page=0, **tags):
    """Return a TIFF made by hand: header, 100 bytes of pixels, one directory (TIFF 6.0 section 2)."""
    entries = {
        256: (4, 1, 10), 257: (4, 1, 10), 258: (3, 1, 8), 259: (3, 1, 1), 262: (3, 1, 1),
        273: (4, 1, 8), 277: (3, 1, 1), 278: (4, 1, 10), 279: (4, 1, 100),
    }  # fmt: skip
    entries.update({int(name[1:]): value for name, value in tags.items()})
    body = struct.pack("<H", len(entries))
    for tag, (kind, count, value) in sorted(entries.items()):
        body += struct.pack("<HHII", tag, kind, count, value)
    return struct.pack("<2sHI", b"II", 42, 108) + bytes(100) + body + struct.pack("<I", next_page)


@pytest.mark.parametrize("compression", [1, 5, 8])
@pytest.mark.parametrize("rows", [1, 400_000])
def test_hundred_gigapixel_header_is_refused_without_memory(tmp_path, compression, rows):
    side = (4, 1, 316_228)
    (tmp_path / "h.tif").write_bytes(
        bare_tiff(t256=side, t257=side, t259=(3, 1, compression), t278=(4, 1, rows))
    )
    tracemalloc.start()
    with pytest.raises(InputError, match="316228"):
        open_artwork(tmp_path / "h.tif")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 50e6


@pytest.mark.parametrize(
    ("tags", "says"),
    [
        ({"t256": (4, 1, 0)}, "out of bounds"),
        ({"t273": (4, 2**31 - 1, 8), "t279": (4, 2**31 - 1, 8)}, "states more than it holds"),
        ({"t277": (3, 1, 60_000)}, "data cubes"),
        ({"t278": (4, 1, 0)}, "without size"),
        ({"t279": (4, 1, 99)}, "cut off"),
        ({"t273": (4, 1, 2**31)}, "outside the file"),
        ({"t258": (3, 1, 64)}, "8 or 16 bits"),
        ({"t262": (3, 1, 10)}, "colour space"),
        ({"t262": (3, 1, 3), "t320": (3, 768, 8)}, "palette"),
    ],
)
def test_tags_that_cannot_be(tmp_path, tags, says):
    (tmp_path / "h.tif").write_bytes(bare_tiff(**tags))
    with pytest.raises(InputError, match=says):
        open_artwork(tmp_path / "h.tif")


@pytest.mark.parametrize(
    ("keywords", "says"), [({"next_page": 108}, "circular"), ({"t34675": (7, 2**32 - 2, 8)}, "34675")]
)
def test_tags_that_are_survived_and_told(tmp_path, keywords, says):
    (tmp_path / "h.tif").write_bytes(bare_tiff(**keywords))
    artwork = open_artwork(tmp_path / "h.tif")
    assert says in messages(artwork)
    assert whole(artwork).shape == (10, 10, 1)


def test_png_that_claims_more_than_it_holds(tmp_path):
    head = png_chunk(b"IHDR", struct.pack(">IIBBBBB", 19_000, 19_000, 8, 2, 0, 0, 0))
    (tmp_path / "b.png").write_bytes(
        b"\x89PNG\r\n\x1a\n" + head + png_chunk(b"IDAT", zlib.compress(bytes(100)))
    )
    with pytest.raises(InputError, match="more pixels than its bytes"):
        open_artwork(tmp_path / "b.png")


def test_memory_stays_within_a_few_stripes(tmp_path):
    path = tmp_path / "tall.tif"
    band = pixels(64, 800)

    tifffile.imwrite(path, np.tile(band, (400, 1, 1)), photometric="rgb", compression="zstd", rowsperstrip=64)
    artwork = open_artwork(path)
    tracemalloc.start()
    for y in range(0, artwork.height, 100):
        artwork.source.read(y, min(y + 100, artwork.height))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    np.testing.assert_array_equal(artwork.source.read(12_800, 12_864), band)
    assert peak < 4e6  # the picture is 61 MB


def small_files():
    files = []
    for extra in (
        {"compression": "lzw", "rowsperstrip": 4},
        {"tile": (16, 16), "compression": "deflate"},
        {},
    ):
        stream = io.BytesIO()
        tifffile.imwrite(stream, pixels(12, 17), photometric="rgb", **extra)
        files.append(stream.getvalue())
    for form, mode in (("JPEG", "RGB"), ("JPEG", "CMYK"), ("PNG", "RGBA"), ("TIFF", "P")):
        stream = io.BytesIO()
        Image.fromarray(pixels(12, 17)).convert(mode).save(stream, form)
        files.append(stream.getvalue())
    return files


SMALL = small_files()


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    number=st.integers(0, len(SMALL) - 1),
    changes=st.lists(
        st.tuples(st.floats(0, 0.9999), st.sampled_from(["head", "any"]), st.integers(0, 255)),
        min_size=1,
        max_size=4,
    ),
    cut=st.one_of(st.none(), st.floats(0, 1)),
)
def test_damaged_files_give_an_error_of_ours_or_a_picture(tmp_path, capfd, number, changes, cut):
    data = bytearray(SMALL[number])
    for place, where, value in changes:
        data[int(place * (len(data) if where == "any" else min(len(data), 300)))] = value
    path = tmp_path / "f.bin"
    path.write_bytes(data if cut is None else data[: int(cut * len(data))])
    try:
        artwork = open_artwork(path)
        band = artwork.source.read(0, min(artwork.height, 4096)) if artwork.width < 1_000_000 else None
        assert band is None or band.shape[2] == artwork.source.channels
    except StrikeoffError:
        pass
    assert capfd.readouterr().err == ""


def test_log_of_the_tiff_library_becomes_problems(tmp_path, capfd):
    tifffile.imwrite(tmp_path / "a.tif", pixels(), photometric="rgb")
    data = bytearray((tmp_path / "a.tif").read_bytes())
    start = struct.unpack("<I", data[4:8])[0]
    count = struct.unpack("<H", data[start : start + 2])[0]
    for i in range(count):
        at = start + 2 + 12 * i
        if struct.unpack("<H", data[at : at + 2])[0] == 305:
            data[at + 2 : at + 4] = struct.pack("<H", 999)
    (tmp_path / "b.tif").write_bytes(data)
    artwork = open_artwork(tmp_path / "b.tif")
    assert "tag" in messages(artwork).lower()
    assert capfd.readouterr().err == ""
    assert not logging.getLogger("tifffile").handlers
