"""Rectangles cut from a roll whose shortest length is known, beside a general library at its best setting."""

from __future__ import annotations

import time
from itertools import product
from typing import Any

import numpy as np

from strikeoff.layout.layout_checks import check_layout
from strikeoff.layout.nesting import NestPiece, nest

_SECONDS = 10.0
_CASES = ((16, 200, 200), (25, 400, 150), (50, 1000, 1000), (75, 600, 900), (100, 800, 600), (200, 700, 1000))
_SEEDS = (301, 302)


def run() -> list[dict[str, Any]]:
    """Return the gap to the known optimum by size class, turned and not."""
    rows = []
    for (count, width, height), turn in product(_CASES, ("none", "90")):
        gaps, other, longest = [], 0.0, 0.0
        for seed in _SEEDS:
            boxes = cut(count, width, height, seed, pinwheels=seed % 2 == 0)
            pieces = [NestPiece(str(k), a, b, turn) for k, (a, b) in enumerate(boxes)]
            begun = time.perf_counter()
            found = nest(pieces, width_mm=width, seconds=_SECONDS)
            longest = max(longest, time.perf_counter() - begun)
            check_layout(found.layout)
            gaps.append(100 * (found.length_mm / height - 1))
            if seed == _SEEDS[0]:  # in Python: minutes for many pieces
                other = 100 * (_library(boxes, width, turn == "90") / height - 1)
        rows.append(
            {
                "pieces": count,
                "cut from": f"{width} x {height}",
                "turning": turn,
                "gap of each seed [%]": ", ".join(f"{gap:.2f}" for gap in gaps),
                "mean [%]": f"{np.mean(gaps):.2f}",
                "rectpack, best of its settings, first seed [%]": f"{other:.2f}",
                "longest [s]": f"{longest:.1f}",
            }
        )
    return rows


def cut(count: int, width: int, height: int, seed: int, *, pinwheels: bool) -> list[tuple[int, int]]:
    """Cut a rectangle into pieces, edge to edge or in pinwheels that no straight cut parts."""
    rng = np.random.default_rng(seed)
    boxes = [(width, height)]
    while len(boxes) < count:
        area = np.array([a * b for a, b in boxes], float)
        i = int(rng.choice(len(boxes), p=area / area.sum()))
        w, h = boxes[i]
        if pinwheels and count - len(boxes) >= 4 and rng.random() < 0.5 and min(w, h) >= 5:
            x1, x2 = sorted(int(v) for v in rng.choice(np.arange(1, w), 2, replace=False))
            y1, y2 = sorted(int(v) for v in rng.choice(np.arange(1, h), 2, replace=False))
            parts = [(x2, y1), (w - x2, y2), (w - x1, h - y2), (x1, h - y1), (x2 - x1, y2 - y1)]
        elif rng.random() < w / (w + h):
            c = int(rng.integers(1, max(2, w)))
            parts = [(c, h), (w - c, h)]
        else:
            c = int(rng.integers(1, max(2, h)))
            parts = [(w, c), (w, h - c)]
        # Slivers are rare in the trade; nothing may have no size.
        slim = min(min(p) / max(p) for p in parts)
        if slim <= 0 or (slim < 0.1 and rng.random() < 0.9):
            continue
        boxes[i : i + 1] = parts
    return [boxes[int(i)] for i in rng.permutation(len(boxes))]


def _library(boxes: list[tuple[int, int]], width: int, turn: bool) -> int:
    """Return the least length over all algorithms and orders of rectpack, each by bisection."""
    import rectpack as r

    ways = [
        getattr(r, name)
        for name in (
            "MaxRectsBl", "MaxRectsBssf", "MaxRectsBaf", "MaxRectsBlsf", "SkylineBl", "SkylineBlWm",
            "SkylineMwf", "SkylineMwfl", "SkylineMwfWm", "SkylineMwflWm", "GuillotineBssfSas",
            "GuillotineBafSas", "GuillotineBlsfSas",
        )
    ]  # fmt: skip
    orders = [r.SORT_AREA, r.SORT_PERI, r.SORT_DIFF, r.SORT_SSIDE, r.SORT_LSIDE, r.SORT_RATIO, r.SORT_NONE]
    area = sum(a * b for a, b in boxes)
    best = 3 * max(-(-area // width), max(max(b) for b in boxes))
    for way, order in product(ways, orders):
        low, high = -(-area // width), best - 1
        middle = high  # no setting is bisected that does not beat the best so far
        while low <= high:
            packer = r.newPacker(
                mode=r.PackingMode.Offline, bin_algo=r.PackingBin.Global, pack_algo=way, sort_algo=order,
                rotation=turn,
            )  # fmt: skip
            packer.add_bin(width, middle)
            for a, b in boxes:
                packer.add_rect(a, b)
            packer.pack()
            if len(packer.rect_list()) == len(boxes):
                best, high = middle, middle - 1
            elif middle == best - 1 and high == middle:
                break
            else:
                low = middle + 1
            middle = (low + high) // 2
    return best
