"""Profiles that we only read: shapers, mft1, XYZ connection space, mAB and mBA with every stage."""

import io

import numpy as np
import pytest
from PIL import ImageCms

from strikeoff.base.errors import InputError, RangeError, UsageError
from strikeoff.icc.curves import IDENTITY, ParametricCurve, SampledCurve
from strikeoff.icc.encoding import D50_XYZ, XYZ_FULL, lab_from_xyz, xyz_from_lab
from strikeoff.icc.evaluate import device_to_lab, gamut_alarm, lab_to_device, media_white
from strikeoff.icc.header import VERSION_2_4, VERSION_4_4, Header
from strikeoff.icc.luts import Clut, CurveLut, Curves, Matrix, TableLut
from strikeoff.icc.profile import Profile, read_profile, write_profile
from strikeoff.icc.tags import any_curve, mab, mft2, sf32, text, xyz

RGB = np.rint(np.random.default_rng(4).random((500, 3)) * 65535) / 65535


def profile_bytes(version, space, tags, pcs="Lab ", white=D50_XYZ):
    common = {"desc": text.encode(text.Text("x")), "wtpt": xyz.encode(xyz.Xyz(np.array([white])))}
    return write_profile(Profile(Header(version, "prtr", space, pcs), common | tags))


def distances(a, b):
    return np.linalg.norm(a - b, axis=1)


def lightness_curve(power):
    return SampledCurve(np.linspace(0, 1, 64) ** power)


def test_srgb_shaper_agrees_with_lcms(lcms):
    data = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    profile = read_profile(data)
    lab = device_to_lab(profile, RGB)
    assert distances(lab, lcms.to_lab(data, "RGB", RGB, "relative")).max() < 0.05
    np.testing.assert_allclose(lab_to_device(profile, lab), RGB, atol=1e-4)
    np.testing.assert_allclose(
        device_to_lab(profile, [[1, 1, 1], [0, 0, 0]]), [[100, 0, 0], [0, 0, 0]], atol=0.02
    )
    # sRGB red under D50, Bradford adapted (common practice, no source): 54.29, 80.81, 69.89
    np.testing.assert_allclose(device_to_lab(profile, [[1, 0, 0]]), [[54.29, 80.81, 69.89]], atol=0.05)


@pytest.mark.parametrize("pcs", ["XYZ ", "Lab "])
def test_grey_curve_agrees_with_lcms(lcms, pcs):
    data = profile_bytes(VERSION_2_4, "GRAY", {"kTRC": any_curve.encode(lightness_curve(2.2))}, pcs)
    grey = np.linspace(0, 1, 100)[:, None]
    grey = np.rint(grey * 65535) / 65535
    profile = read_profile(data)
    lab = device_to_lab(profile, grey)
    assert distances(lab, lcms.to_lab(data, "GRAY", grey, "relative")).max() < 0.05
    assert np.abs(lab[:, 1:]).max() < 1e-9
    np.testing.assert_allclose(lab_to_device(profile, lab), grey, atol=1e-4)


def test_mft1_agrees_with_lcms(lcms):
    rng = np.random.default_rng(6)
    codes = rng.integers(60, 200, (3, 3, 3, 3), dtype=np.uint8)
    tables = np.sort(rng.integers(0, 256, (6, 256), dtype=np.uint8), axis=1)
    tables[:, 0], tables[:, -1] = 0, 255
    head = b"mft1" + bytes(4) + bytes([3, 3, 3, 0]) + sf32.encode(sf32.FixedArray(np.eye(3).ravel()))[8:]
    tag = head + tables[:3].tobytes() + codes.tobytes() + tables[3:].tobytes()
    data = profile_bytes(VERSION_2_4, "RGB ", {"A2B0": tag, "B2A0": tag})
    profile = read_profile(data)
    corners = np.array(np.meshgrid([0, 1], [0, 1], [0, 1])).reshape(3, -1).T
    assert (
        distances(device_to_lab(profile, corners), lcms.to_lab(data, "RGB", corners, "relative")).max() < 0.02
    )
    found = device_to_lab(profile, RGB, "relative", "simplex")
    assert distances(found, lcms.to_lab(data, "RGB", RGB, "relative")).max() < 0.1
    lab = found * [0.9, 0.5, 0.5]
    np.testing.assert_allclose(
        lab_to_device(profile, lab), lcms.from_lab(data, "RGB", lab, "relative"), atol=4e-3
    )


def test_mft2_with_xyz_connection_space_and_matrix_agrees_with_lcms(lcms):
    rng = np.random.default_rng(8)
    grid = np.stack(np.meshgrid(*[np.linspace(0, 0.45, 4)] * 3, indexing="ij"), axis=-1)
    mix = np.array([[0.6, 0.3, 0.1], [0.2, 0.7, 0.1], [0.05, 0.15, 0.6]])
    forward = Clut(np.rint(grid @ mix.T * 65535).astype(np.uint16))
    plain = np.tile([0.0, 1.0], (3, 1))
    curve = np.linspace(0, 1, 20) ** np.array([[1.1], [1.4], [0.9]])
    backward = Clut(rng.integers(0, 65536, (4, 4, 4, 3)).astype(np.uint16))
    matrix = np.array([[1.5, 0.2, 0], [0, 1.8, 0.1], [0.3, 0, 1.2]])
    tags = {
        "A2B0": mft2.encode(TableLut("mft2", np.eye(3), curve, forward, plain)),
        "B2A0": mft2.encode(TableLut("mft2", matrix, curve, backward, plain)),
    }
    data = profile_bytes(VERSION_2_4, "RGB ", tags, "XYZ ")
    profile = read_profile(data)
    lab = device_to_lab(profile, RGB)
    assert distances(lab, lcms.to_lab(data, "RGB", RGB, "relative")).max() < 0.1
    np.testing.assert_allclose(
        xyz_from_lab(device_to_lab(profile, [[1, 1, 1]])), [0.45 * mix.sum(axis=1) * XYZ_FULL], atol=1e-4
    )
    bright = xyz_from_lab(lab) / XYZ_FULL
    assert bright.max() < 0.5  # nothing is limited by the matrix, which the engines do differently
    difference = np.abs(
        lab_to_device(profile, lab, "relative", "simplex") - lcms.from_lab(data, "RGB", lab, "relative")
    )
    plain_difference = np.abs(lab_to_device(profile, lab) - lcms.from_lab(data, "RGB", lab, "relative"))
    assert min(difference.max(), plain_difference.max()) < 2e-3


def test_mab_and_mba_with_every_stage_agree_with_both_engines(lcms, reference):
    rng = np.random.default_rng(9)
    codes = np.stack(np.meshgrid(*[np.linspace(0.2, 0.8, n) for n in (3, 4, 5)], indexing="ij"), axis=-1)
    codes = np.rint((codes + rng.uniform(-0.1, 0.1, codes.shape)) * 65535).astype(np.uint16)
    curves = Curves((lightness_curve(1.3), ParametricCurve(0, (0.8,)), IDENTITY))
    other = Curves((IDENTITY, lightness_curve(0.9), ParametricCurve(1, (1.2, 0.9, 0.1))))
    matrix = Matrix(np.array([[0.8, 0.1, 0], [0.05, 0.7, 0.1], [0, 0.2, 0.75]]), np.array([0.02, 0.05, 0.01]))
    parts = {"b": curves, "m": other, "matrix": matrix, "clut": Clut(codes), "a": Curves(curves.curves[::-1])}
    tags = {
        "A2B0": mab.encode(CurveLut("mAB ", 3, 3, **parts)),
        "B2A0": mab.encode(CurveLut("mBA ", 3, 3, **parts)),
    }
    data = profile_bytes(VERSION_4_4, "RGB ", tags)
    profile = read_profile(data)
    lab = device_to_lab(profile, RGB)
    assert distances(lab, reference.to_lab(data, RGB, "relative")).max() < 0.002
    simplex = device_to_lab(profile, RGB, "relative", "simplex")
    assert distances(simplex, lcms.to_lab(data, "RGB", RGB, "relative")).max() < 0.02
    np.testing.assert_allclose(
        lab_to_device(profile, lab), reference.from_lab(data, lab, "relative"), atol=1e-5
    )


def test_absolute_scales_xyz_by_the_media_white(press):
    # ICC.1:2022 6.3.3: XYZ absolute = XYZ relative x white / D50, axis by axis.
    profile = read_profile(press.profile(4, "CMYK"))
    np.testing.assert_allclose(media_white(profile), press.white, atol=1e-5)
    paper = device_to_lab(profile, np.zeros((1, 4)), "absolute")
    np.testing.assert_allclose(paper[0], lab_from_xyz(press.white), atol=0.02)
    assert paper[0, 2] > 1  # the white is yellowish; dividing instead would make it bluish
    inks = np.random.default_rng(1).random((50, 4))
    relative, absolute = (device_to_lab(profile, inks, intent) for intent in ("relative", "absolute"))
    np.testing.assert_allclose(
        lab_to_device(profile, absolute, "absolute"), lab_to_device(profile, relative, "relative"), atol=1e-9
    )


def test_colours_beyond_the_encoding_count_as_its_edge(press):
    profile = read_profile(press.profile(4, "CMYK"))
    far, edge = [[120.0, 300, -300]], [[100.0, 127, -128]]
    np.testing.assert_array_equal(lab_to_device(profile, far), lab_to_device(profile, edge))


def test_missing_intents_fall_back_to_the_perceptual_table(press):
    profile = read_profile(press.profile(2, "CMYK"))
    thin = Profile(profile.header, {k: v for k, v in profile.tags.items() if k not in ("A2B1", "A2B2")})
    inks = [[0.1, 0.2, 0.3, 0.4]]
    np.testing.assert_array_equal(device_to_lab(thin, inks), device_to_lab(profile, inks, "perceptual"))


def test_what_is_refused(press):
    profile = read_profile(press.profile(4, "CMYK"))
    with pytest.raises(RangeError, match="outside 0-1"):
        device_to_lab(profile, [[0, 0, 0, 1.01]])
    with pytest.raises(InputError, match="row 1: value is not a number"):
        device_to_lab(profile, [[0, 0, 0, 1], [0, np.nan, 0, 0]])
    with pytest.raises(InputError, match="wrong shape"):
        device_to_lab(profile, [[0, 0, 0]])
    with pytest.raises(UsageError, match="unknown intent"):
        device_to_lab(profile, [[0, 0, 0, 0]], "colorimetric")
    with pytest.raises(InputError, match="gamt: profile lacks a tag"):
        gamut_alarm(Profile(profile.header, {}), [[50, 0, 0]])
    swapped = Profile(profile.header, {**profile.tags, "A2B1": profile.tags["B2A1"]})
    with pytest.raises(InputError, match="A2B1: tag is not a table of an allowed type"):
        device_to_lab(swapped, [[0, 0, 0, 0]])
    misfit = Profile(Header(VERSION_4_4, "prtr", "RGB "), profile.tags)
    with pytest.raises(InputError, match="A2B1: table does not fit"):
        device_to_lab(misfit, [[0, 0, 0]])
    black = Profile(profile.header, {**profile.tags, "wtpt": xyz.encode(xyz.Xyz(np.zeros((1, 3))))})
    with pytest.raises(InputError, match="wtpt: media white"):
        device_to_lab(black, [[0, 0, 0, 0]], "absolute")


def test_profile_without_any_table_or_curve(press):
    bare = Profile(Header(VERSION_4_4, "prtr", "RGB "), {})
    with pytest.raises(InputError, match="lacks a tag"):
        device_to_lab(bare, [[0, 0, 0]])
    assert ImageCms.ImageCmsProfile(io.BytesIO(press.profile(4, "RGB")))
