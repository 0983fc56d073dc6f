"""Artwork codes to CIELAB."""

import io
import struct

import imagecodecs
import numpy as np
import pytest

from strikeoff.artwork.colour import INTENTS, profile_fault, profile_to_lab, srgb_to_lab
from strikeoff.base.errors import InputError


def grey_profile(gamma):
    """Build a version 2 grey display profile: header and four tags, ICC.1:2001-04 clauses 6.1, 6.5."""
    tags = {
        b"wtpt": b"XYZ \0\0\0\0" + struct.pack(">3i", 63190, 65536, 54061),
        b"kTRC": b"curv\0\0\0\0" + struct.pack(">IH", 1, round(gamma * 256)) + b"\0\0",
        b"cprt": b"text\0\0\0\0free\0\0\0\0",
        b"desc": b"desc\0\0\0\0" + struct.pack(">I", 2) + b"g\0" + bytes(80),
    }
    at, table, body = 132 + 12 * len(tags), struct.pack(">I", len(tags)), b""
    for name, data in tags.items():
        data += bytes(-len(data) % 4)
        table += name + struct.pack(">II", at + len(body), len(data))
        body += data
    head = struct.pack(">I4xI4s4s4s", 128 + len(table) + len(body), 0x02400000, b"mntr", b"GRAY", b"XYZ ")
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28)
    return head + struct.pack(">3i", 63190, 65536, 54061) + bytes(48) + table + body


def cmyk_profile():
    pyvips = pytest.importorskip("pyvips")
    return bytes(pyvips.Operation.call("profile_load", "cmyk"))


def test_srgb_known_values():
    # CIELAB D50 of the sRGB primaries as widely published for Bradford adaptation; from memory.
    lab = srgb_to_lab(np.array([[1.0, 1, 1], [0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]]))
    np.testing.assert_allclose(lab[0], [100, 0, 0], atol=1e-9)
    np.testing.assert_allclose(lab[1], [0, 0, 0], atol=1e-9)
    np.testing.assert_allclose(
        lab[2:], [[54.29, 80.80, 69.89], [87.82, -79.27, 80.99], [29.57, 68.29, -112.03]], atol=0.02
    )


def test_own_srgb_equals_the_reference_engine():
    values = np.random.default_rng(0).random((500, 3))
    through_profile = profile_to_lab(imagecodecs.cms_profile("srgb"), "rgb", values)
    np.testing.assert_allclose(profile_to_lab(None, "rgb", values), through_profile, atol=0.02)


def test_grey_default_is_neutral_and_a_grey_profile_is_followed():
    values = np.array([[0.0], [0.5], [1.0]])
    lab = profile_to_lab(None, "grey", values)
    np.testing.assert_allclose(lab[:, 1:], 0, atol=1e-9)
    np.testing.assert_allclose(lab[:, 0], [0, 53.389, 100], atol=1e-3)
    lab = profile_to_lab(grey_profile(1.8), "grey", values)
    gamma = round(1.8 * 256) / 256
    np.testing.assert_allclose(lab[:, 0], [0, 116 * 0.5 ** (gamma / 3) - 16, 100], atol=0.02)


@pytest.mark.parametrize("intent", ["perceptual", "relative", "absolute"])
def test_cmyk_profile_equals_another_binding_of_the_reference_engine(intent):
    from PIL import Image, ImageCms

    profile = cmyk_profile()
    codes = np.random.default_rng(0).integers(0, 256, (400, 4)).astype(np.uint8)
    lab = profile_to_lab(profile, "cmyk", codes / 255.0, intent)
    transform = ImageCms.buildTransform(
        ImageCms.ImageCmsProfile(io.BytesIO(profile)), ImageCms.createProfile("LAB"), "CMYK", "LAB",
        INTENTS[intent], ImageCms.Flags.NOOPTIMIZE,
    )  # fmt: skip
    image = ImageCms.applyTransform(Image.frombytes("CMYK", (400, 1), codes.tobytes()), transform)
    other = np.frombuffer(image.tobytes(), np.uint8).reshape(400, 3).astype(float)
    other[:, 0] /= 2.55
    other[:, 1:] = (other[:, 1:] + 128) % 256 - 128
    assert (np.abs(lab - other) <= [0.2, 0.51, 0.51]).all()  # half of its 8-bit codes


def test_absolute_keeps_the_papers_tint_and_relative_does_not():
    profile = cmyk_profile()
    none = np.zeros((1, 4))
    np.testing.assert_allclose(profile_to_lab(profile, "cmyk", none, "relative"), [[100, 0, 0]], atol=0.01)
    assert profile_to_lab(profile, "cmyk", none, "absolute")[0, 0] < 98


def test_refusals():
    with pytest.raises(InputError, match="Name the profile"):
        profile_to_lab(None, "cmyk", np.zeros((1, 4)))
    for bad in (np.zeros((1, 4)), np.full((1, 3), np.nan), np.full((1, 3), 1.1), np.zeros(3)):
        with pytest.raises(InputError):
            profile_to_lab(None, "rgb", bad)
    with pytest.raises(InputError, match="relative"):
        profile_to_lab(None, "rgb", np.zeros((1, 3)), "vivid")
    with pytest.raises(InputError, match="refuses"):
        profile_to_lab(b"\0" * 200, "rgb", np.zeros((1, 3)))


def test_profile_fault_says_why():
    srgb = imagecodecs.cms_profile("srgb")
    assert profile_fault(srgb, "rgb") is None
    assert "RGB" in profile_fault(srgb, "cmyk")
    assert "cut off" in profile_fault(srgb[:400], "rgb")
    assert "not an ICC" in profile_fault(b"hello", "rgb")
    assert "refuses" in profile_fault(srgb[:128] + bytes(len(srgb) - 128), "rgb")
