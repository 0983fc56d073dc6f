"""Flat artwork with a truth: drawn at eight times the size, averaged in linear light or in codes."""

import numpy as np

from strikeoff.artwork.colour import srgb_to_linear

SCALE = 8


def shapes(rng, height, width, count, thin=2):
    """Return colour numbers at eight times the size; the last ``thin`` colours are lines one pixel wide."""
    high, wide = height * SCALE, width * SCALE
    y, x = np.mgrid[:high, :wide]
    out = np.zeros((high, wide), np.uint8)
    for k in range(1, count - thin):
        for _ in range(2):
            cy, cx = rng.uniform(0, high), rng.uniform(0, wide)
            a, b = rng.uniform(0.06, 0.22, 2) * min(high, wide)
            turn = rng.uniform(0, np.pi)
            u = (x - cx) * np.cos(turn) + (y - cy) * np.sin(turn)
            v = (y - cy) * np.cos(turn) - (x - cx) * np.sin(turn)
            out[(u / a) ** 2 + (v / b) ** 2 < 1 if k % 2 else (abs(u) < a) & (abs(v) < b)] = k
    for k in range(count - thin, count):
        for _ in range(3):
            turn, at = rng.uniform(0.1, 1.4), rng.uniform(0.2, 0.8)
            far = (x - at * wide) * np.sin(turn) - (y - at * high) * np.cos(turn)
            out[abs(far) <= SCALE / 2] = k
    return out


def palette(rng, count, least=5.0):
    """Return sRGB codes no closer than ``least`` codes (Euclidean), white first."""
    found = [np.array([255, 255, 255])]
    while len(found) < count:
        new = rng.integers(0, 256, 3)
        if min(np.linalg.norm(new - one) for one in found) >= least:
            found.append(new)
    return np.array(found)


def drawn(numbers, colours, mixing="linear", noise=0.0, rng=None):
    """Return uint8 pixels and exact coverage, shapes (h, w, 3) and (h, w, n)."""
    h, w = (size // SCALE for size in numbers.shape)
    blocks = numbers.reshape(h, SCALE, w, SCALE)
    cover = np.stack([(blocks == k).mean(axis=(1, 3)) for k in range(len(colours))], axis=-1)
    codes = colours / 255.0
    light = cover @ (srgb_to_linear(codes) if mixing == "linear" else codes)
    if mixing == "linear":
        light = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.power(light, 1 / 2.4) - 0.055)
    if noise:
        light = light + rng.normal(0, noise / 255, light.shape)
    return np.rint(np.clip(light, 0, 1) * 255).astype(np.uint8), cover


def as_cover(made, count):
    """Return weights as coverage, shape (h, w, n)."""
    out = np.zeros((*made.places.shape[:2], count))
    for k in range(3):
        np.add.at(
            out, (*np.indices(made.places.shape[:2]), made.places[..., k]), made.weights[..., k] / 65535
        )
    return out
