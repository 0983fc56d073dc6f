"""Flat drawings by the number, with a truth: grounds, tiles, stripes, dots, outlines, accents and thin lines.

Nothing here was used to set the palette finder; `seed` alone decides what is drawn, and what was set on some
seeds is judged on others.
"""

import io

import numpy as np
from PIL import Image

from strikeoff.colour.cielab import lab_to_xyz
from strikeoff.report.screen_colour import encode_srgb, xyz_to_linear_srgb

SCALE = 4
D50 = np.array([96.422, 100.0, 82.521])
#: How a drawing may come: clean, through JPEG, from a scanner, dithered.
WAYS = ("clean", "jpeg 75", "jpeg 82", "jpeg 90", "noise 2", "noise 3", "noise 4", "diffused", "ordered")


def colours(rng, count, least=9.0):
    """Return sRGB codes, at least ``least`` CIELAB units apart; half of them are tones of three hues."""
    hues = rng.uniform(0, 2 * np.pi, 3)
    found, codes = [], []
    while len(found) < count:
        hue = hues[rng.integers(3)] + rng.normal(0, 0.15) if rng.random() < 0.5 else rng.uniform(0, 2 * np.pi)
        chroma = rng.uniform(0, 70)
        lab = np.array([rng.uniform(12, 97), chroma * np.cos(hue), chroma * np.sin(hue)])
        linear = xyz_to_linear_srgb(lab_to_xyz(lab, D50), D50)
        if (linear < 0).any() or (linear > 1).any():
            continue
        if all(np.linalg.norm(lab - one) >= least for one in found):
            found.append(lab)
            codes.append(encode_srgb(linear))
    return np.array(codes)


def numbers(rng, height, width, count):
    """Return colour numbers at SCALE times the size, and what each colour draws."""
    high, wide = height * SCALE, width * SCALE
    y, x = np.mgrid[:high, :wide].astype(np.float32) / SCALE
    out = np.zeros((high, wide), np.uint8)
    kinds = ["ground"]
    order = rng.permutation(np.arange(1, count))
    plan = {}
    for k in order:
        plan[int(k)] = str(
            rng.choice(["tiles", "stripes", "dots", "outline", "accent", "line", "blob", "blob"])
        )
    # Large things first, so that small ones stay on top.
    ranks = {"tiles": 0, "stripes": 1, "blob": 2, "dots": 3, "outline": 4, "line": 5, "accent": 6}
    for k in sorted(plan, key=lambda k: ranks[plan[k]]):
        kind = plan[k]
        if kind == "tiles":
            seeds = rng.uniform(0, 1, (14, 2)) * (height, width)
            own = np.argmin([(y - a) ** 2 + (x - b) ** 2 for a, b in seeds], axis=0)
            out[np.isin(own, rng.choice(14, 3, replace=False))] = k
        elif kind == "stripes":
            turn, pitch = rng.uniform(0, np.pi), rng.uniform(18, 60)
            at = (x * np.cos(turn) + y * np.sin(turn)) % pitch
            inside = x > rng.uniform(0.2, 0.7) * width
            out[(at < pitch * rng.uniform(0.15, 0.45)) & inside] = k
        elif kind == "blob":
            for _ in range(3):
                cy, cx = rng.uniform(0, height), rng.uniform(0, width)
                reach = rng.uniform(0.05, 0.16) * min(height, width)
                angle = np.arctan2(y - cy, x - cx)
                edge = reach * (1 + 0.3 * np.sin(rng.integers(2, 7) * angle + rng.uniform(0, 6)))
                out[np.hypot(y - cy, x - cx) < edge] = k
        elif kind == "dots":
            radius, pitch = rng.uniform(2.5, 7), rng.uniform(22, 48)
            turn = rng.uniform(0, np.pi)
            u, v = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
            out[np.hypot(u % pitch - pitch / 2, v % pitch - pitch / 2) < radius] = k
        elif kind == "outline":
            for _ in range(4):
                cy, cx, reach = rng.uniform(0, height), rng.uniform(0, width), rng.uniform(12, 45)
                out[abs(np.hypot(y - cy, x - cx) - reach) < rng.uniform(0.6, 1.6)] = k
        elif kind == "line":
            for _ in range(3):
                turn, at = rng.uniform(0, np.pi), rng.uniform(0.2, 0.8, 2)
                along = (x - at[1] * width) * np.cos(turn) + (y - at[0] * height) * np.sin(turn)
                far = (y - at[0] * height) * np.cos(turn) - (x - at[1] * width) * np.sin(turn)
                out[abs(far - 9 * np.sin(along / rng.uniform(15, 40))) < rng.uniform(0.5, 0.9)] = k
        else:
            left = 0.001 * height * width
            while left > 0:
                radius = rng.uniform(1.8, 3.6)
                cy, cx = rng.uniform(0, height), rng.uniform(0, width)
                out[np.hypot(y - cy, x - cx) < radius] = k
                left -= np.pi * radius**2
    for k in range(1, count):
        kinds.append(plan[k])
    return out, kinds


def draw(seed, way="clean", size=(300, 360), count=None):
    """Return uint8 pixels, sRGB codes of the colours that show, what each draws, and its share."""
    rng = np.random.default_rng([seed, 77])
    count = int(rng.integers(3, 15)) if count is None else count
    codes = colours(rng, count)
    places, kinds = numbers(rng, *size, count)
    h, w = size
    if seed % 4 == 3:  # hard edges
        cover_of = places[SCALE // 2 :: SCALE, SCALE // 2 :: SCALE]
        pixels = codes[cover_of].astype(np.float64)
    else:
        value = codes / 255.0
        is_linear = seed % 2 == 0
        light = (
            np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
            if is_linear
            else value
        )
        pixels = light[places].reshape(h, SCALE, w, SCALE, 3).mean(axis=(1, 3))
        if is_linear:
            pixels = np.where(pixels <= 0.0031308, 12.92 * pixels, 1.055 * pixels ** (1 / 2.4) - 0.055)
        pixels = pixels * 255
    share = np.bincount(places.ravel(), minlength=count) / places.size
    shown = share >= 0.0005
    return (
        degraded(pixels, way, rng),
        codes[shown],
        [k for k, s in zip(kinds, shown, strict=True) if s],
        share[shown],
    )


def degraded(pixels, way, rng):
    """Return pixels (0-255, float) as they come."""
    kind, _, amount = way.partition(" ")
    if kind == "noise":
        pixels = pixels + rng.normal(0, float(amount), pixels.shape)
    if kind in ("ordered", "diffused"):
        return (_ordered if kind == "ordered" else _diffused)(pixels, 255 / 31)
    whole = np.clip(np.rint(pixels), 0, 255).astype(np.uint8)
    if kind == "jpeg":
        file = io.BytesIO()
        Image.fromarray(whole).save(file, "JPEG", quality=int(amount), subsampling=0 if amount == "90" else 2)
        whole = np.asarray(Image.open(file).convert("RGB"))
    return whole


def _ordered(pixels, step):
    order = np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]])
    h, w = pixels.shape[:2]
    limit = (np.tile(order, (-(-h // 4), -(-w // 4)))[:h, :w, None] + 0.5) / 16
    return np.clip(np.rint(np.floor(pixels / step + limit) * step), 0, 255).astype(np.uint8)


def _diffused(pixels, step):
    from numba import njit

    @njit(cache=False)
    def run(work, step):
        h, w, c = work.shape
        for y in range(h):
            for x in range(w):
                for k in range(c):
                    old = work[y, x, k]
                    new = np.rint(old / step) * step
                    work[y, x, k] = new
                    e = old - new
                    if x + 1 < w:
                        work[y, x + 1, k] += e * 7 / 16
                    if y + 1 < h:
                        if x:
                            work[y + 1, x - 1, k] += e * 3 / 16
                        work[y + 1, x, k] += e * 5 / 16
                        if x + 1 < w:
                            work[y + 1, x + 1, k] += e / 16
        return work

    global _RUN
    if _RUN is None:
        _RUN = run
    return np.clip(np.rint(_RUN(pixels.copy(), step)), 0, 255).astype(np.uint8)


_RUN = None
