import numpy as np
import pytest

from strikeoff.base.errors import RangeError
from strikeoff.icc.encoding import (
    D50_XYZ,
    codes16,
    from_s15fixed16,
    lab_from_unit,
    lab_from_xyz,
    s15fixed16,
    unit_from_lab,
    xyz_from_lab,
)

# ICC.1:2022 6.3.4.2 tables 11 and 12 (first two colours); third computed from the formulas there.
CODES = [
    ((100, 0, 0), (0xFF00, 0x8000, 0x8000), (0xFFFF, 0x8080, 0x8080)),
    ((50, -128, 127), (0x7F80, 0x0000, 0xFF00), (0x8000, 0x0000, 0xFFFF)),
    ((56.12, -34.90, -52.52), (0x8F1B, 0x5D1A, 0x4B7B), (0x8FAA, 0x5D77, 0x4BC6)),
]


@pytest.mark.parametrize(("lab", "legacy", "v4"), CODES)
def test_lab_codes(lab, legacy, v4):
    assert codes16(unit_from_lab(lab, "legacy")).tolist() == list(legacy)
    assert codes16(unit_from_lab(lab, "v4")).tolist() == list(v4)
    np.testing.assert_allclose(lab_from_unit(np.array(legacy) / 65535, "legacy"), lab, atol=0.002)
    np.testing.assert_allclose(lab_from_unit(np.array(v4) / 65535, "v4"), lab, atol=0.002)


def test_the_two_encodings_are_not_interchangeable():
    white = lab_from_unit(unit_from_lab([100, 0, 0], "v4"), "legacy")
    np.testing.assert_allclose(white, [100.390625, 0.5, 0.5], atol=1e-4)


def test_d50_words():
    # ICC.1:2022 7.2.16: 0.9642, 1.0, 0.8249.
    np.testing.assert_allclose(D50_XYZ, [0.9642, 1.0, 0.8249], atol=1e-5)
    assert s15fixed16([0.9642, 1.0, 0.8249]).hex() == "0000f6d6000100000000d32d"


def test_fixed_point_is_signed():
    assert s15fixed16([-1.5]).hex() == "fffe8000"
    assert from_s15fixed16(np.frombuffer(bytes.fromhex("fffe8000"), ">i4")).tolist() == [-1.5]


def test_lab_xyz_round_trip_and_one_known_point():
    rng = np.random.default_rng(5)
    lab = np.stack([rng.uniform(0, 100, 500), rng.uniform(-90, 90, 500), rng.uniform(-90, 90, 500)], axis=1)
    np.testing.assert_allclose(lab_from_xyz(xyz_from_lab(lab)), lab, atol=1e-9)
    # CIE 15: L* 50 is Y 0.18418651851.
    assert xyz_from_lab([50, 0, 0])[1] == pytest.approx(0.1841865185)
    assert lab_from_xyz([0.5, 0.5, 0.5])[1] > 0 > lab_from_xyz([0.5, 0.5, 0.5])[2]


@pytest.mark.parametrize("bad", [1.001, -0.001, np.nan, np.inf])
def test_codes_refuse_what_they_cannot_hold(bad):
    with pytest.raises(RangeError):
        codes16([0.5, bad])


@pytest.mark.parametrize("bad", [32768.0, -32769.0, np.nan, np.inf])
def test_fixed_point_refuses_what_it_cannot_hold(bad):
    with pytest.raises(RangeError):
        s15fixed16([bad])
