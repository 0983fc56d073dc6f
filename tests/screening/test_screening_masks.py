"""Blue-noise masks: even, undirected, unbiased, the same everywhere."""

import hashlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from strikeoff.base.errors import UsageError
from strikeoff.screening.spectrum import principal_frequency, radial_spectrum
from strikeoff.screening.void_cluster import (
    gaussian_window,
    ink_masks,
    mask_rows,
    shuffled,
    thresholds,
    void_cluster_1993,
)


@pytest.fixture(scope="module")
def masks():
    return ink_masks(4)


def plain_void_and_cluster(rows, columns, seed):
    """Ulichney 1993 by its three phases, energies computed anew each time (phase 3 on empty cells)."""
    kernel = np.zeros((rows, columns), np.int64)
    window = gaussian_window()
    reach = len(window) // 2
    for dy in range(-reach, reach + 1):
        for dx in range(-reach, reach + 1):
            kernel[dy % rows, dx % columns] += window[dy + reach, dx + reach]
    order = shuffled(rows * columns, seed)
    tie = np.empty(rows * columns, np.int64)
    tie[order] = np.arange(rows * columns)
    tie = tie.reshape(rows, columns)

    def energy(pattern):
        total = np.zeros((rows, columns), np.int64)
        for y, x in np.argwhere(pattern):
            total += np.roll(kernel, (y, x), (0, 1))
        return total

    def cluster(pattern):
        cells = [tuple(c) for c in np.argwhere(pattern)]
        e = energy(pattern)
        return max(cells, key=lambda c: (e[c], tie[c]))

    def void(pattern):
        cells = [tuple(c) for c in np.argwhere(pattern == 0)]
        e = energy(pattern)
        return min(cells, key=lambda c: (e[c], tie[c]))

    def cluster_of_empty(pattern):
        cells = [tuple(c) for c in np.argwhere(pattern == 0)]
        e = energy(1 - pattern)
        return max(cells, key=lambda c: (e[c], -tie[c]))

    pattern = np.zeros((rows, columns), int)
    pattern.flat[order[: max(1, rows * columns // 10)]] = 1
    while True:
        tight = cluster(pattern)
        pattern[tight] = 0
        gap = void(pattern)
        pattern[gap] = 1
        if gap == tight:
            break
    rank = np.zeros((rows, columns), int)
    first = pattern.copy()
    for number in range(int(pattern.sum()) - 1, -1, -1):
        tight = cluster(pattern)
        pattern[tight] = 0
        rank[tight] = number
    pattern = first
    for number in range(int(pattern.sum()), rows * columns):
        cell = void(pattern) if number < rows * columns // 2 else cluster_of_empty(pattern)
        pattern[cell] = 1
        rank[cell] = number
    return rank


@pytest.mark.parametrize(("rows", "columns", "seed"), [(8, 8, 1), (12, 10, 2), (9, 16, 3)])
def test_same_as_the_paper_step_by_step(rows, columns, seed):
    """R. A. Ulichney, Proc. SPIE 1913 (1993), 332-343, phases 1 to 3."""
    assert np.array_equal(void_cluster_1993(rows, columns, seed), plain_void_and_cluster(rows, columns, seed))


def test_every_threshold_is_used_once(masks):
    for mask in masks:
        assert len(np.unique(mask)) == 128 * 128 >= 4096
    assert np.array_equal(np.sort(void_cluster_1993(16, 16, 1).ravel()), np.arange(256))


def test_ends_of_the_scale(masks):
    assert not (np.uint16(0) > masks).any()
    assert (np.uint16(65535) > masks).all()


@given(st.integers(0, 65535))
def test_mean_follows_tone(value):
    """Unbiased rounding: the share of drops is the tone to half a cell."""
    mask = thresholds(np.arange(4096).reshape(64, 64))
    share = float((value > mask).mean())
    assert abs(share - value / 65535) <= 0.51 / 4096 + 1 / 65535


def test_mean_over_all_tones_is_unbiased(masks):
    counts = np.searchsorted(np.sort(masks[0].ravel()), np.arange(65536), side="left")
    error = counts / 16384 - np.arange(65536) / 65535
    assert abs(error.mean()) < 1e-6


@pytest.mark.parametrize("tone", [0.05, 0.1, 0.2, 0.3, 0.7, 0.9])
def test_blue_noise(masks, tone):
    """Low frequencies are quiet. Limits: common practice; own calculation gave 0.05-0.10 here.

    Void-and-cluster with sigma 1.5: Ulichney 1993.
    """
    for mask in masks:
        spectrum = radial_spectrum(tone * 65535 > mask)
        assert spectrum.mean_below(principal_frequency(tone) / 2) < (0.1 if tone in (0.1, 0.2) else 0.25)
        assert abs(spectrum.tone - tone) < 1e-4


@pytest.mark.parametrize("tone", [0.05, 0.2, 0.7])
def test_no_direction(masks, tone):
    """Anisotropy near 1 (0 dB) in the rings that carry the power: Ulichney 1987, chapter 3."""
    spectrum = radial_spectrum(tone * 65535 > masks[0])
    strong = (spectrum.power > 0.5) & (spectrum.frequency < 0.5)
    assert spectrum.anisotropy[strong].mean() < 1.6


def test_white_noise_measures_one():
    dots = np.random.default_rng(1).random((128, 128)) < 0.3
    spectrum = radial_spectrum(dots)
    assert abs(spectrum.mean_below(0.5) - 1.0) < 0.05
    assert abs(spectrum.mean_below(principal_frequency(0.3) / 2) - 1.0) < 0.25


def test_seamless(masks):
    """A window over the mask's own seam looks like the inside."""
    dots = np.roll(masks[0], (64, 64), (0, 1)) < 0.15 * 65535
    seam = radial_spectrum(dots[32:96, 32:96]).mean_below(0.19)
    assert seam < 0.25


def test_inks_are_independent(masks):
    """Dots of two inks meet as often as chance has it, neither on top of nor beside each other."""
    a, b = (masks[i] < 0.2 * 65535 for i in (0, 1))
    assert abs((a & b).mean() - 0.04) < 0.006


def test_same_mask_on_every_machine(masks):
    """Regression: digest of four masks; weights too far from a tie for any exp() to round them apart."""
    exact = np.exp(-np.arange(200) / 4.5) * (1 << 24)
    assert np.abs(exact - np.floor(exact) - 0.5).min() > 1e-4
    assert hashlib.sha256(masks.astype("<u2").tobytes()).hexdigest()[:16] == "cce4458490f7abd8"


def test_mask_height_goes_into_the_period():
    for period in range(2, 3000):
        high = mask_rows(period)
        assert 96 <= high <= 192
        assert period % high == 0 or (high == 128 and not any(period % h == 0 for h in range(96, 193)))
    assert mask_rows(32 * 16, 64) == 64


def test_oblong_mask_is_as_good():
    mask = ink_masks(1, 128, 127)[0]
    assert mask.shape == (127, 128)
    assert len(np.unique(mask)) == 127 * 128
    spectrum = radial_spectrum(mask[:127, :127] < 0.1 * 65535)
    assert spectrum.mean_below(principal_frequency(0.1) / 2) < 0.15


def test_too_small_is_refused():
    with pytest.raises(UsageError, match="too small"):
        void_cluster_1993(4, 64, 1)
