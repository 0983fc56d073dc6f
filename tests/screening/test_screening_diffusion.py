"""Error diffusion: the published table, equality with the definition, tone, evenness, graininess."""

import hashlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numba import njit

from strikeoff.base.errors import UsageError
from strikeoff.raster.bands import ArraySource
from strikeoff.screening.diffusion import (
    DiffusedSource,
    diffuse_plain,
    diffusion_tables,
    ostromoukhov_2001,
)
from strikeoff.screening.graininess import graininess, sensitivity_nasanen_1984
from strikeoff.screening.masks import roll_masks
from strikeoff.screening.spectrum import principal_frequency, radial_spectrum

ONE = [[1.0]]
TONES = [0.05, 0.1, 0.2, 0.3, 0.7, 0.9]


def diffused(planes, volumes=ONE, bits=1):
    tables = diffusion_tables(list(volumes) * planes.shape[2])
    return DiffusedSource(ArraySource(planes), tables, bits)


@njit
def floyd_steinberg_1976(tones):
    """R. W. Floyd, L. Steinberg, Proc. SID 17 (1976): 7, 3, 5, 1 sixteenths; rows to and fro."""
    rows, width = tones.shape
    out = np.zeros((rows, width), np.uint8)
    left = np.zeros((rows + 1, width + 2))
    for y in range(rows):
        turn = 1 if y % 2 == 0 else -1
        for i in range(width):
            x = i if turn == 1 else width - 1 - i
            value = tones[y, x] + left[y, x + 1]
            out[y, x] = value >= 0.5
            error = value - out[y, x]
            left[y, x + 1 + turn] += error * 7 / 16
            left[y + 1, x + 1 - turn] += error * 3 / 16
            left[y + 1, x + 1] += error * 5 / 16
            left[y + 1, x + 1 + turn] += error / 16
    return out


def test_coefficients_are_the_published_ones():
    """V. Ostromoukhov, Proc. SIGGRAPH 2001, appendix: rows, and row sums as printed in the table."""
    table = ostromoukhov_2001()
    assert table.shape == (128, 3)
    published = {0: (13, 0, 5), 10: (7, 3, 3), 25: (1389, 866, 685), 40: (257, 160, 171), 64: (11, 10, 0),
                 72: (5, 7, 1), 85: (4, 1, 1), 95: (5, 3, 2), 107: (5, 3, 2), 127: (4, 1, 1)}  # fmt: skip
    for level, row in published.items():
        assert tuple(table[level]) == row
    sums = {1: 18, 9: 78, 23: 980, 33: 4704, 48: 294, 71: 2184, 76: 195, 86: 100, 108: 600, 126: 600}
    for level, total in sums.items():
        assert table[level].sum() == total
    # Regression: all 128 rows, after two stored copies of the table had been compared row by row.
    digest = hashlib.sha256(table.astype("<i8").tobytes()).hexdigest()
    assert digest[:16] == "57ca10f4b3417930"


@settings(max_examples=30, deadline=None)
@given(
    rows=st.integers(1, 7), width=st.integers(1, 40), inks=st.integers(1, 9), seed=st.integers(0, 999),
    several=st.booleans(),
)  # fmt: skip
def test_equal_to_the_definition(rows, width, inks, seed, several):
    rng = np.random.default_rng(seed)
    planes = rng.integers(0, 65536, (rows, width, inks), dtype=np.uint16)
    planes[rng.random(planes.shape) < 0.1] = 0
    planes[rng.random(planes.shape) < 0.1] = 65535
    volumes = [[6.0, 10.0, 24.0]] if several else ONE
    source = diffused(planes, volumes, 2 if several else 1)
    expected = diffuse_plain(planes, source.tables)
    assert np.array_equal(source.read(0, rows), expected)
    assert np.array_equal(source.read(rows - 1, rows), expected[-1:])


def test_any_order_of_reading_gives_the_same():
    planes = np.random.default_rng(1).integers(0, 65536, (1200, 24, 2), dtype=np.uint16)
    whole = diffused(planes).read(0, 1200)
    source = diffused(planes)
    for y0, y1 in ((700, 900), (0, 40), (1190, 1200), (31, 33), (5, 900)):
        assert np.array_equal(source.read(y0, y1), whole[y0:y1])


@pytest.mark.parametrize("tone", [0.01, *TONES, 0.5])
def test_mean_tone(tone):
    planes = np.full((256, 256, 1), round(tone * 65535), np.uint16)
    assert abs(diffused(planes).read(0, 256).mean() - tone) < 0.002


def test_volume_is_kept_with_several_sizes():
    volumes = [[7.0, 12.0, 30.0]]
    ramp = np.linspace(0, 65535, 512).astype(np.uint16)
    levels = diffused(np.repeat(ramp[None, :, None], 256, 0), volumes, 2).read(0, 256)[..., 0]
    amount = np.array([0.0, *volumes[0]])[levels] / 30.0
    columns = amount.mean(axis=0).reshape(-1, 16).mean(axis=1)
    assert np.abs(columns - ramp.reshape(-1, 16).mean(axis=1) / 65535).max() < 0.006


def test_bare_cloth_stays_bare_and_full_tone_full():
    planes = np.random.default_rng(2).integers(0, 65536, (64, 64, 1), dtype=np.uint16)
    planes[20:40] = 0
    planes[:, 30:50] = 65535
    found = diffused(planes).read(0, 64)
    assert not found[planes == 0].any()
    assert found[planes == 65535].all()


@pytest.mark.parametrize("tone", TONES)
def test_blue_noise_and_less_grain_than_floyd_steinberg(tone):
    """Low frequencies quiet; graininess by Nasanen 1984 at 600 dpi and 300 mm beside Floyd-Steinberg."""
    planes = np.full((384, 256, 1), round(tone * 65535), np.uint16)
    found = diffused(planes).read(128, 384)[..., 0]
    low = radial_spectrum(found).mean_below(principal_frequency(tone) / 2)
    assert low < (0.1 if tone in (0.1, 0.2) else 0.25)
    usual = floyd_steinberg_1976(np.full((384, 256), tone))[128:]
    assert graininess(found, tone) <= 1.05 * graininess(usual, tone)


def test_graininess_on_a_ramp():
    """Masks at most 1.8 times, diffusion at most 1.05 times Floyd-Steinberg; white noise far above."""
    ramp = np.repeat(np.linspace(0, 1, 2048)[None], 256, axis=0)
    planes = np.rint(ramp * 65535).astype(np.uint16)
    usual = graininess(floyd_steinberg_1976(ramp), ramp)
    mask = np.tile(roll_masks(4).thresholds[0], (2, 16))
    noise = np.random.default_rng(1).random(ramp.shape) < ramp
    assert graininess(planes > mask, ramp) <= 1.8 * usual
    assert graininess(diffused(planes[..., None]).read(0, 256)[..., 0], ramp) <= 1.05 * usual
    assert graininess(noise, ramp) > 5 * usual


def test_sensitivity_of_the_eye():
    """exp(-f / (0.525 ln L + 3.91)) falls to 1/e at 6.328 cycles a degree for 100 cd/m2 (Nasanen 1984)."""
    assert sensitivity_nasanen_1984(0) == 1
    assert np.isclose(sensitivity_nasanen_1984(6.328), np.exp(-1), atol=1e-4)
    stripes = np.tile([[0.0, 1.0]], (64, 32))
    assert graininess(stripes, 0.5) < 0.001
    wide = np.repeat(stripes, 32, axis=1)[:, :1024]
    # 32 px stripes at 600 dpi, 300 mm: first harmonic 1.93 cycles a degree, seen at 0.74 of 0.45 rms.
    assert 0.3 < graininess(wide, 0.5) < 0.4


def test_wrong_use():
    planes = np.zeros((4, 4, 2), np.uint16)
    with pytest.raises(UsageError, match="do not fit"):
        DiffusedSource(ArraySource(planes), diffusion_tables(ONE))
    with pytest.raises(UsageError, match="rising"):
        diffusion_tables([[3.0, 2.0]])
    with pytest.raises(UsageError, match="levels do not fit"):
        diffused(planes, [[1.0, 2.0]], 1)
    with pytest.raises(UsageError, match="another number of bits"):
        diffused(planes).read_packed(0, 4, 2)
