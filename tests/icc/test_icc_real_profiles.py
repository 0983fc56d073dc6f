"""Profiles that others made: those inside the installed packages, and Debian's."""

import re
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.icc.colorants import read_colorants
from strikeoff.icc.evaluate import device_to_lab, lab_to_device
from strikeoff.icc.header import channels
from strikeoff.icc.profile import read_profile, write_profile

#: Tag types of real profiles that this package leaves undecoded.
OTHER_TYPES = {b"chrm", b"meas", b"cicp", b"meta", b"data", b"ui08"}

DEBIAN = sorted(
    path
    for folder in ("/usr/share/color/icc", "/usr/share/scribus/profiles", "/usr/share/ghostscript")
    for path in Path(folder).rglob("*.ic[cm]")
)


def vips_profile(name):
    pyvips = pytest.importorskip("pyvips")
    return bytes(pyvips.Operation.call("profile_load", name))


def packaged_profiles():
    """Profiles of libvips, Pillow and lcms, and those embedded in pictures that packages carry."""
    from PIL import ImageCms

    for name in ("cmyk", "srgb", "p3"):
        yield name, vips_profile(name)
    for name in ("sRGB", "XYZ", "LAB"):
        yield name, ImageCms.ImageCmsProfile(ImageCms.createProfile(name)).tobytes()
    for package in ("colour", "matplotlib", "PIL"):
        spec = find_spec(package)
        if spec is None or spec.origin is None:
            continue
        for path in sorted(Path(spec.origin).parent.rglob("*.jpg")):
            data = path.read_bytes()
            for match in re.finditer(rb"ICC_PROFILE\0\x01\x01", data):
                yield path.name, data[match.end() :]


def exercise(data):
    profile = read_profile(data)
    again = read_profile(write_profile(profile))
    assert dict(again.tags) == dict(profile.tags)
    for name, tag in profile.tags.items():
        if tag[:4] in OTHER_TYPES:
            with pytest.raises(InputError, match="not supported"):
                profile.decode(name)
        else:
            profile.decode(name)
    if profile.header.device_class in ("prtr", "mntr", "scnr"):
        device = np.random.default_rng(1).random((50, channels(profile.header.colour_space)))
        lab = device_to_lab(profile, device)
        assert np.isfinite(lab).all()
        assert lab_to_device(profile, lab).shape == device.shape
    return profile


def test_packaged_profiles():
    seen = {name for name, data in packaged_profiles() if exercise(data)}
    assert {"cmyk", "srgb", "p3", "sRGB", "LAB"} <= seen


@pytest.mark.debian
@pytest.mark.skipif(
    not DEBIAN, reason="no Debian package with ICC profiles is installed (scribus-data has some)"
)
@pytest.mark.parametrize("path", DEBIAN, ids=lambda path: path.name)
def test_debian_profiles(path, lcms):
    data = path.read_bytes()
    profile = exercise(data)
    if profile.header.colour_space == "CMYK":
        check_against_lcms(data, lcms)


def check_against_lcms(data, lcms):
    profile = read_profile(data)
    rng = np.random.default_rng(2)
    device = np.rint(
        np.concatenate([np.eye(4), np.zeros((1, 4)), np.ones((1, 4)), rng.random((2000, 4))]) * 65535
    )
    device /= 65535
    for intent in ("relative", "absolute"):
        ours, theirs = device_to_lab(profile, device, intent), lcms.to_lab(data, "CMYK", device, intent)
        distance = np.linalg.norm(ours - theirs, axis=1)
        assert distance[:6].max() < 0.02  # solids, paper and full overprint are nodes
        lab = ours[distance < 1]
        difference = np.abs(lab_to_device(profile, lab, intent) - lcms.from_lab(data, "CMYK", lab, intent))
        if profile.header.pcs.strip() == "Lab":
            assert distance.mean() < 0.2  # elsewhere it interpolates otherwise
            assert difference.max() < 1e-3
        else:  # few nodes in XYZ: dark colours hang on the interpolation and on the codes of XYZ
            assert np.median(difference) < 1e-3


def test_measured_cmyk_profile_against_lcms(lcms):
    check_against_lcms(vips_profile("cmyk"), lcms)


def test_colorants_of_a_version_2_profile_are_its_solids():
    """The legacy encoding, against the profile's own A2B1; the other one is 0.6 off."""
    profile = read_profile(vips_profile("cmyk"))
    names, lab = zip(*read_colorants(profile), strict=True)
    assert names == ("Cyan", "Magenta", "Yellow", "Black")
    np.testing.assert_allclose(lab, device_to_lab(profile, np.eye(4)), atol=0.01)


def test_measured_characterisation_text_is_whole():
    text = read_profile(vips_profile("cmyk")).decode("targ").text
    assert "NUMBER_OF_SETS 2376" in text
    assert text.rstrip().endswith("END_DATA")
