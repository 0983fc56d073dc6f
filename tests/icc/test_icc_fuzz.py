"""Damaged profiles raise our errors only, and ask for no more memory than a few times their size."""

import tracemalloc
from contextlib import suppress

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from strikeoff.base.errors import StrikeoffError
from strikeoff.icc.curves import ParametricCurve, SampledCurve
from strikeoff.icc.evaluate import device_to_lab, gamut_alarm, lab_to_device
from strikeoff.icc.header import VERSION_4_4, Header, channels
from strikeoff.icc.luts import Clut, CurveLut, Curves
from strikeoff.icc.output import output_profile
from strikeoff.icc.output_tables import A2BTable, B2ATable
from strikeoff.icc.profile import Profile, read_profile, write_profile
from strikeoff.icc.tags import any_curve, mab, xyz


def small_profiles(press):
    """Whole profiles with every kind of tag."""
    for version in (2, 4):
        a2b = A2BTable(np.full((2, 2, 2, 2, 3), 40.0), np.tile(np.linspace(0, 1, 4), (4, 1)))
        b2a = B2ATable(np.full((2, 2, 2, 4), 0.5))
        values = press.arguments(version, "CMYK", press.tables("CMYK"))
        values |= {"a2b": dict.fromkeys(values["a2b"], a2b), "b2a": dict.fromkeys(values["b2a"], b2a)}
        values |= {"gamut": B2ATable(np.zeros((2, 2, 2, 1))), "colorants": [("x", (50, 0, 0))] * 4}
        yield output_profile(**values)
    curve = SampledCurve(np.linspace(0, 1, 5))
    lut = CurveLut(
        "mAB ", 3, 3, b=Curves((curve, ParametricCurve(0, (2.0,)), ParametricCurve(4, (2.0,) * 7))),
        clut=Clut(np.zeros((2, 2, 2, 3), np.uint8)), a=Curves((curve,) * 3),
    )  # fmt: skip
    tags = {
        name: xyz.encode(xyz.Xyz(np.eye(3)[i : i + 1])) for i, name in enumerate(("rXYZ", "gXYZ", "bXYZ"))
    }
    tags |= {name: any_curve.encode(curve) for name in ("rTRC", "gTRC", "bTRC")}
    tags |= {"A2B0": mab.encode(lut)}
    yield write_profile(Profile(Header(VERSION_4_4, "prtr", "RGB "), tags))
    yield write_profile(
        Profile(Header(VERSION_4_4, "mntr", "RGB "), {k: v for k, v in tags.items() if k != "A2B0"})
    )


def use_everything(data):
    profile = read_profile(data)
    for name in profile.tags:
        with suppress(StrikeoffError):
            profile.decode(name)
    device = np.full((3, channels(profile.header.colour_space)), 0.3)
    for intent in ("perceptual", "relative", "saturation", "absolute"):
        for action in (
            lambda i=intent: device_to_lab(profile, device, i),
            lambda i=intent: lab_to_device(profile, np.full((3, 3), 20.0), i),
            lambda: gamut_alarm(profile, np.full((3, 3), 20.0)),
        ):
            with suppress(StrikeoffError):
                assert np.isfinite(action()).all()


#: Where damage hurts: header, tag table, heads of tags; or anywhere.
POSITIONS = st.one_of(st.integers(0, 400), st.integers(0, 2**20))
WORDS = st.one_of(
    st.binary(min_size=1, max_size=8),
    st.sampled_from(
        [b"\xff" * 4, b"\0" * 4, b"\x7f\xff\xff\xff", b"\x80\0\0\0", b"\x0f\x0f", b"mft1", b"mAB ", b"para"]
    ),
)


@pytest.fixture(scope="module")
def seeds(press):
    return list(small_profiles(press))


@given(data=st.data())
@settings(max_examples=250, deadline=None)
def test_damage_raises_only_our_errors(seeds, data):
    profile = bytearray(data.draw(st.sampled_from(seeds)))
    for position, word in data.draw(st.lists(st.tuples(POSITIONS, WORDS), min_size=1, max_size=6)):
        start = position % len(profile)
        profile[start : start + len(word)] = word
    cut = data.draw(st.one_of(st.just(len(profile)), st.integers(0, len(profile))))
    with suppress(StrikeoffError):
        use_everything(bytes(profile[:cut]))


@pytest.mark.parametrize("kind", ["mft2", "mAB "])
def test_huge_declared_tables_allocate_nothing(press, kind):
    version = 2 if kind == "mft2" else 4
    data = bytearray(press.profile(version, "CMYK"))
    start = data.index(kind.encode(), 300)
    if kind == "mft2":
        data[start + 8 : start + 11] = bytes([15, 15, 255])
    else:
        clut = start + int.from_bytes(data[start + 24 : start + 28])
        data[clut : clut + 4] = bytes([255] * 4)
    tracemalloc.start()
    try:
        with pytest.raises(StrikeoffError, match=r"A2B0: .*ends too early"):
            read_profile(bytes(data)).decode("A2B0")
        assert tracemalloc.get_traced_memory()[1] < 20 * len(data)
    finally:
        tracemalloc.stop()


@given(st.binary(max_size=600))
@settings(max_examples=100, deadline=None)
def test_noise_is_refused(noise):
    with pytest.raises(StrikeoffError):
        read_profile(noise)
