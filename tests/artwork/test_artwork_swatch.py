"""Repeats found in swatches that are drawn here from tiles of known size, and cut."""

import io

import numpy as np
import pytest
from PIL import Image
from scipy import ndimage

from strikeoff.artwork.swatch_lattice import find_repeat
from strikeoff.artwork.swatch_tile import cut_tile
from strikeoff.base.errors import InputError


def tile(seed, side=64):
    """A tile of soft blobs that goes on over all its edges."""
    noise = np.random.default_rng(seed).normal(size=(side, side, 3))
    soft = ndimage.gaussian_filter(noise, (2.5, 2.5, 0), mode="wrap")
    return (0.5 + 0.17 * soft / soft.std()).clip(0, 1)


def swatch(unit, shape, width, height, drop=0.0, brick=0.0, degrees=0.0):
    """Lay a tile out: straight from the definition, pixel by pixel."""
    y, x = np.mgrid[: shape[0], : shape[1]] + 0.5
    a = np.radians(degrees)
    across = (np.cos(a) * x + np.sin(a) * y + 11) / width
    along = (-np.sin(a) * x + np.cos(a) * y + 5) / height
    along, across = along - np.floor(across) * drop, across - np.floor(along) * brick
    places = [(along % 1) * len(unit) - 0.5, (across % 1) * len(unit) - 0.5]
    return np.stack(
        [ndimage.map_coordinates(unit[..., c], places, order=1, mode="grid-wrap") for c in range(3)], axis=-1
    )


def scanned(picture, seed):
    """Uneven light, noise, JPEG."""
    high, wide = picture.shape[:2]
    light = 1 + 0.12 * np.linspace(-1, 1, wide)[:, None] - 0.08 * np.linspace(-1, 1, high)[:, None, None] ** 2
    noise = np.random.default_rng(seed).normal(0, 0.03, picture.shape)
    codes = ((picture * light + noise).clip(0, 1) * 255).astype(np.uint8)
    stream = io.BytesIO()
    Image.fromarray(codes).save(stream, "JPEG", quality=70)
    return np.asarray(Image.open(stream)) / 255


@pytest.mark.parametrize(
    ("name", "drop", "brick", "size", "degrees"),
    [
        ("straight", 0, 0, (117.3, 96.4), 0.0),
        ("half-drop", 1 / 2, 0, (101.7, 99.2), 1.0),
        ("drop 1/3", 1 / 3, 0, (90.4, 97.0), -1.0),
        ("drop 2/3", 2 / 3, 0, (90.4, 97.0), 0.6),
        ("brick", 0, 1 / 2, (98.6, 103.1), 1.0),
        ("brick 1/4", 0, 1 / 4, (104.0, 88.3), -1.2),
    ],
)
def test_known_lattices_in_bad_scans(name, drop, brick, size, degrees):
    seed = int(size[0] * 10)
    found = find_repeat(scanned(swatch(tile(seed), (340, 360), *size, drop, brick, degrees), seed))
    assert found.lattice.name == name
    assert abs(found.width_px - size[0]) < 0.1
    assert abs(found.height_px - size[1]) < 0.1
    assert abs(found.turned_degrees - degrees) < 0.05
    assert found.is_sure


def test_two_flowers_nearly_alike_do_not_halve_the_repeat():
    unit = tile(5)
    pair = np.concatenate([unit, unit], axis=1)
    pair[20:32, 20:32, 0] = 1 - pair[20:32, 20:32, 0]
    wide = np.concatenate([pair, pair], axis=0)
    wide[10:22, 90:100, 1] = 0.2
    found = find_repeat(scanned(swatch(wide, (420, 440), 190.0, 188.0), 4))
    assert (round(found.width_px), round(found.height_px)) == (190, 188)
    assert found.nearly
    assert found.nearly[0][2] < found.likeness


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_less_than_two_repeats_and_noise_are_refused(seed):
    rng = np.random.default_rng(seed)
    for picture in (
        scanned(swatch(tile(seed), (170, 170), 100.0, 95.0), seed),
        rng.random((200, 200, 3)),
        np.full((100, 100, 3), 0.4),
    ):
        with pytest.raises(InputError, match="no repeat found"):
            find_repeat(picture)


def test_the_tile_is_the_drawn_one_without_a_seam():
    unit, size = tile(8), (96, 100)
    clean = swatch(unit, (340, 330), *size, drop=0.5, degrees=0.8)
    found = find_repeat(scanned(clean, 8))
    codes = (scanned(clean, 8) * 255).round().astype(np.uint8)
    cut = cut_tile(codes, found, size) / 255
    assert cut.shape == (100, 96, 3)
    # Upright on its own lattice: where it begins is free, so the truth is laid out and the tile sought in it.
    truth = swatch(unit, (200, 192), *size, drop=0.5)
    field = truth.mean(axis=2) - truth.mean()
    product = np.fft.irfft2(
        np.fft.rfft2(field) * np.conj(np.fft.rfft2(cut.mean(axis=2) - cut.mean(), field.shape)), field.shape
    )
    dy, dx = np.unravel_index(product.argmax(), product.shape)
    same = np.roll(truth, (-dy, -dx), axis=(0, 1))[:100, :96]
    assert np.corrcoef(same.mean(axis=2).ravel(), cut.mean(axis=2).ravel())[0, 1] > 0.98
    inside = np.abs(np.diff(cut, axis=0)).mean(), np.abs(np.diff(cut, axis=1)).mean()
    over = (
        np.abs(cut[0] - cut[-1]).mean(),
        np.abs(np.roll(cut[:, 0], 50, axis=0) - cut[:, -1]).mean(),
    )
    assert over[0] < 1.4 * inside[0]
    assert over[1] < 1.4 * inside[1]
