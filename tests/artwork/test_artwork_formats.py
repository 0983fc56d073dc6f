"""Kinds of TIFF and layered pictures: widths of samples, Lab, named channels, large ones in little memory."""

import io
import struct
import tracemalloc

import numpy as np
import pytest
import tifffile
from picture_files import kinds, names, odd_tiff, psd, resolution, resource
from PIL import Image

from strikeoff.artwork.colour import profile_to_lab
from strikeoff.artwork.opening import open_artwork
from strikeoff.base.errors import InputError

RNG = np.random.default_rng(3)


def whole(artwork):
    return artwork.planes.read(0, artwork.height)


def told(artwork):
    return " | ".join(map(str, artwork.problems))


def opened(tmp_path, data, name="a.tif"):
    (tmp_path / name).write_bytes(data)
    return open_artwork(tmp_path / name)


@pytest.mark.parametrize("bits", [1, 2, 3, 4, 6, 10, 12, 14, 32])
@pytest.mark.parametrize("samples", [1, 3])
def test_tiff_of_any_width_fills_the_range(tmp_path, bits, samples):
    values = RNG.integers(0, 1 << bits, (7, 11, samples), dtype=np.uint64)
    artwork = opened(tmp_path, odd_tiff(values, bits, 1 if samples == 1 else 2))
    full = 255 if bits < 8 else 65535
    assert artwork.bits == (8 if bits < 8 else 16)
    expected = values / ((1 << bits) - 1) * full
    assert np.abs(whole(artwork) - expected).max() <= (0.5001 if bits < 32 else 1.0)
    np.testing.assert_array_equal(artwork.source.read(3, 6), whole(artwork)[3:6])


def test_tiff_of_one_bit_white_is_zero_and_fax_coded(tmp_path):
    picture = RNG.random((40, 64)) > 0.5
    Image.fromarray(picture).save(tmp_path / "f.tif", compression="group4")
    np.testing.assert_array_equal(whole(open_artwork(tmp_path / "f.tif"))[..., 0], picture * 255)


@pytest.mark.parametrize("dtype", ["f2", "f4", "f8"])
def test_tiff_of_floats(tmp_path, dtype):
    art = RNG.random((9, 8, 3)).astype(dtype)
    art[0, 0] = (-0.5, 1.5, 0.25)
    tifffile.imwrite(tmp_path / "f.tif", art, photometric="rgb", compression="zlib")
    artwork = open_artwork(tmp_path / "f.tif")
    assert "are cut" in told(artwork)
    assert np.abs(whole(artwork) - np.clip(art.astype(float), 0, 1) * 65535).max() <= 0.501
    art[5, 5, 1] = np.nan
    tifffile.imwrite(tmp_path / "n.tif", art, photometric="rgb")
    with pytest.raises(InputError, match="no numbers"):
        whole(open_artwork(tmp_path / "n.tif"))


@pytest.mark.parametrize(("bits", "photometric"), [(8, 8), (16, 8), (8, 9), (16, 9)])
def test_tiff_in_lab_gives_its_colours(tmp_path, bits, photometric):
    # TIFF 6.0 section 23: a*, b* are signed; photometric 9 shifts them as ICC does.
    lab = np.array([[[100, 0, 0], [50, -128, 127], [25.5, 10, -20], [0, 0, 0]]], dtype=float)
    unit = 1 if bits == 8 else 256
    full_l = 255 if bits == 8 else 65535 if photometric == 8 else 65280
    stored = np.rint(lab * [full_l / 100, unit, unit]).astype(np.int64)
    if photometric == 9:
        stored[..., 1:] += 128 * unit
    tifffile.imwrite(
        tmp_path / "l.tif",
        (stored % (1 << bits)).astype(f"u{bits // 8}"),
        photometric="cielab" if photometric == 8 else "icclab",
    )
    artwork = open_artwork(tmp_path / "l.tif")
    assert (artwork.kind, artwork.profile_origin, artwork.bits) == ("lab", "Lab", bits)
    values = whole(artwork)[0] / (255 if bits == 8 else 65535)
    np.testing.assert_allclose(profile_to_lab(None, "lab", values), lab[0], atol=0.25 if bits == 8 else 0.005)


def test_lab_with_transparency_lies_on_white(tmp_path):
    data = odd_tiff(np.array([[[255, 128, 128, 0], [0, 200, 60, 0], [90, 200, 60, 255]]]), 8, 9,
                    t338=(3, 2))  # fmt: skip
    assert whole(opened(tmp_path, data)).tolist() == [[[255, 128, 128], [255, 128, 128], [90, 200, 60]]]


def test_tiff_palette_of_four_bits(tmp_path):
    index = RNG.integers(0, 16, (5, 9, 1))
    table = RNG.integers(0, 65536, (3, 16))
    artwork = opened(tmp_path, odd_tiff(index, 4, 3, t320=(3, table.ravel().tolist())))
    np.testing.assert_array_equal(whole(artwork), (table.T >> 8)[index[..., 0]])


@pytest.mark.parametrize("planar", ["contig", "separate"])
def test_tiff_spot_channels_by_ink_name(tmp_path, planar):
    art = RNG.integers(0, 65536, (6, 8, 6)).astype(np.uint16)
    words = b"Cyan\0Magenta\0Yellow\0Black\0Coral 12\0Glow\0"
    tifffile.imwrite(
        tmp_path / "s.tif",
        art if planar == "contig" else np.moveaxis(art, 2, 0),
        photometric="separated",
        planarconfig=planar,
        extrasamples=[0, 0],
        bigtiff=True,
        extratags=[(332, "H", 1, 2, True), (333, 2, len(words), words, True), (334, "H", 1, 6, True)],
    )
    artwork = open_artwork(tmp_path / "s.tif")
    assert (artwork.kind, artwork.named) == ("cmyk", ("Coral 12", "Glow"))
    np.testing.assert_array_equal(whole(artwork), art)
    np.testing.assert_array_equal(artwork.source.read(2, 5), art[2:5, :, :4])


def test_tiff_spot_channels_by_resource_block(tmp_path):
    # A mask and a spot; block numbers and kinds from the published description of layered pictures.
    art = RNG.integers(0, 256, (6, 8, 5))
    block = names("Mask", "Coral") + kinds(False, True)
    artwork = opened(tmp_path, odd_tiff(art, 8, 2, t338=(3, [0, 0]), t34377=(7, block)))
    assert artwork.named == ("Coral",)
    assert "full ink at 0" in told(artwork)
    assert "not printed" in told(artwork)
    np.testing.assert_array_equal(whole(artwork)[..., :3], art[..., :3])
    np.testing.assert_array_equal(whole(artwork)[..., 3], 255 - art[..., 4])


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_psd_rgb_in_bands(tmp_path, packed, large, dtype):
    art = RNG.integers(0, np.iinfo(dtype).max + 1, (3, 21, 34)).astype(dtype)
    art[:, 5:9] = 7
    artwork = opened(tmp_path, psd(art, 3, packed=packed, large=large, resources=resolution(254)), "a.psd")
    assert (artwork.kind, artwork.bits, artwork.dpi) == ("rgb", 8 * art.itemsize, (254, 254))
    np.testing.assert_array_equal(whole(artwork), np.moveaxis(art, 0, 2))
    np.testing.assert_array_equal(artwork.source.read(4, 11), np.moveaxis(art, 0, 2)[4:11])


@pytest.mark.parametrize("mode", [1, 3, 4])
def test_psd_equals_another_reader(tmp_path, mode):
    art = RNG.integers(0, 256, ({1: 1, 3: 3, 4: 4}[mode], 21, 34)).astype(np.uint8)
    data = psd(art, mode, packed=True)
    expected = np.asarray(Image.open(io.BytesIO(data)))
    found = whole(opened(tmp_path, data, "a.psd"))
    # That reader gives CMYK as 0 = no ink, too.
    np.testing.assert_array_equal(found if mode != 1 else found[..., 0], expected)


def test_psd_spot_channels_beside_transparency(tmp_path):
    art = RNG.integers(0, 256, (6, 5, 9)).astype(np.uint8)
    blocks = names("Mask", "Coral") + kinds(False, True)
    artwork = opened(tmp_path, psd(art, 3, resources=blocks, layer_count=-1), "a.psd")
    assert artwork.named == ("Coral",)
    assert "transparent places are bare cloth" in told(artwork)
    np.testing.assert_array_equal(whole(artwork)[..., :3], np.moveaxis(art[:3], 0, 2))
    np.testing.assert_array_equal(whole(artwork)[..., 3], 255 - art[5])


def test_psd_lab_grey_indexed_and_its_profile(tmp_path):
    import imagecodecs

    lab = np.array([[[65535]], [[32768]], [[0]]], np.uint16)
    artwork = opened(tmp_path, psd(lab, 9), "l.psd")
    np.testing.assert_allclose(
        profile_to_lab(None, "lab", whole(artwork)[0] / 65535), [[100, 0, -128]], atol=0.005
    )
    palette = RNG.integers(0, 256, (3, 256)).astype(np.uint8)
    index = RNG.integers(0, 256, (1, 4, 5)).astype(np.uint8)
    artwork = opened(tmp_path, psd(index, 2, palette=palette.tobytes()), "i.psd")
    np.testing.assert_array_equal(whole(artwork), palette.T[index[0]])
    profile = imagecodecs.cms_profile("adobergb")
    art = np.zeros((3, 2, 2), np.uint8)
    artwork = opened(tmp_path, psd(art, 3, resources=resource(1039, profile)), "p.psd")
    assert (artwork.profile, artwork.profile_origin) == (profile, "embedded")


def test_psd_faults(tmp_path):
    art = RNG.integers(0, 256, (3, 40, 50)).astype(np.uint8)
    good = psd(art, 3)
    for share in (0.999, 0.6, 0.01):
        with pytest.raises(InputError):
            opened(tmp_path, good[: int(len(good) * share)], "c.psd")
    for data, says in (
        (psd(art, 3, resources=resource(1057, struct.pack(">IB", 1, 0))), "without a merged"),
        (psd(art, 7), "multichannel"),
        (psd(art[:1], 3), "too few channels"),
        (good[:4] + b"\0\3" + good[6:], "unknown version"),
        (good[:14] + struct.pack(">I", 2_000_000) + good[18:], "out of bounds"),
        (good[:26] + b"\xff\xff\xff\xff" + good[30:], "cut off"),
    ):
        with pytest.raises(InputError, match=says):
            opened(tmp_path, data, "f.psd")
    at = good.index(b"\0\1", 36) + 2
    with pytest.raises(InputError, match=r"wrong length|damaged"):
        whole(opened(tmp_path, good[: at + 240] + bytes(len(good) - at - 240), "w.psd"))


def sparse(path, head, size):
    """A file of zeros behind its head: as large as it says, on the disk as small as it is."""
    with open(path, "wb") as stream:
        stream.write(head)
        stream.truncate(len(head) + size)


def large_tiff(side):
    """Head of a BigTIFF of one strip, its pixels right behind it."""
    tags = {
        256: (4, side), 257: (4, side), 258: (3, 8), 259: (3, 1), 262: (3, 2), 273: (16, 4096), 277: (3, 3),
        278: (4, side), 279: (16, 3 * side * side),
    }  # fmt: skip
    entries = b"".join(
        struct.pack("<HHQ", tag, kind, 1) + struct.pack({3: "<H6x", 4: "<I4x", 16: "<Q"}[kind], value)
        for tag, (kind, value) in tags.items()
    )
    head = struct.pack("<2sHHHQQ", b"II", 43, 8, 0, 16, len(tags)) + entries + bytes(8)
    return head.ljust(4096, b"\0")


@pytest.mark.parametrize("form", ["TIFF", "PSD"])
def test_forty_thousand_square_stays_on_the_disk(tmp_path, monkeypatch, form):
    # 4.8 gigabytes of samples; a band is all that is ever held.
    from strikeoff.artwork import opening

    side = 40_000
    layered = struct.pack(">4sH6xHIIHH", b"8BPS", 2, 3, side, side, 8, 3) + bytes(4 + 4 + 8 + 2)
    sparse(tmp_path / "a", large_tiff(side) if form == "TIFF" else layered, 3 * side * side)
    # Gigabytes of zeros need not be digested here.
    monkeypatch.setattr(opening, "digest_file", lambda path: "sha256:0")
    tracemalloc.start()
    artwork = opening.open_artwork(tmp_path / "a")
    band = artwork.source.read(artwork.height - 64, artwork.height)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert (artwork.width, artwork.height, band.shape) == (side, side, (64, side, 3))
    assert peak < 4 * band.nbytes
