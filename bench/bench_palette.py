"""How well palettes are found in drawings that the finder was not set on: right, missing, extra, doubted.

Drawings are made by number (`tests/flat_drawings.py`) with 3 to 14 colours in grounds, tiles, stripes, dots,
outlines, accents of a thousandth of the area and lines one or two pixels wide, and then come clean, through
JPEG (4:2:0 at quality 75 and 82, 4:4:4 at 90), with the noise of a scanner (deviation in 8-bit codes),
or dithered to 32 levels a channel. A colour is found where one of the palette is within 4 CIEDE2000.
The finder was set on seeds below 100.

Run: python -m bench.bench_palette [FIRST_SEED LAST_SEED]
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.artwork.linear_rgb import linear_rgb
from strikeoff.artwork.palette import find_palette
from strikeoff.base.errors import InputError
from strikeoff.colour.difference import delta_e_2000
from strikeoff.raster.bands import ArraySource

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

SEEDS = (2000, 2029)
_NEAR_DE00 = 4.0
_LARGE = 0.02


def score(found: np.ndarray, drawn: np.ndarray) -> tuple[list[int], int]:
    """Return drawn colours without a palette colour of their own, and how many of these are left over."""
    off = delta_e_2000(drawn[:, None], found[None])
    missing: list[int] = []
    used: set[int] = set()
    for i in np.argsort(off.min(axis=1)):
        own = [int(j) for j in np.argsort(off[i]) if int(j) not in used and off[i, j] < _NEAR_DE00]
        used.update(own[:1])
        missing += [] if own else [int(i)]
    return missing, len(found) - len(used)


def row(way: str, seeds: range) -> dict[str, Any]:
    """Return figures of one way in which drawings come."""
    import flat_drawings

    space = linear_rgb(None, 8)
    assert space is not None
    counts = dict.fromkeys(("right", "doubted", "wrong", "refused", "missing", "large", "drawn", "extra"), 0)
    for seed in seeds:
        pixels, codes, _, share = flat_drawings.draw(seed, way)
        counts["drawn"] += len(codes)
        try:
            found = find_palette(ArraySource(pixels), space)
        except InputError:
            counts["refused"] += 1
            counts["missing"] += len(codes)
            continue
        lab = space.lab(space.linear(codes.astype(int)))
        missing, extra = score(space.lab(found.palette.linear), lab)
        is_right = not missing and not extra
        counts["right"] += is_right
        counts["doubted"] += bool(found.doubts)
        counts["wrong"] += not is_right and not found.doubts
        counts["missing"] += len(missing)
        counts["large"] += sum(share[i] >= _LARGE for i in missing)
        counts["extra"] += extra
    return counts


def main() -> None:
    """Print a table."""
    import flat_drawings

    first, last = (int(word) for word in sys.argv[1:3]) if len(sys.argv) == 3 else SEEDS
    seeds = range(first, last + 1)
    print(f"{len(seeds)} drawings a row, seeds {first}-{last}")
    head = ("right", "wrong, no doubt told", "doubted", "refused", "colours missing", "above 2 %", "extra")
    print("| artwork | " + " | ".join(head) + " |")
    for way in flat_drawings.WAYS:
        c = row(way, seeds)
        shares = [f"{100 * c[key] / len(seeds):.0f} %" for key in ("right", "wrong", "doubted", "refused")]
        lost = f"{c['missing']} of {c['drawn']}"
        print(
            f"| {way} | " + " | ".join([*shares, lost, str(c["large"]), str(c["extra"])]) + " |", flush=True
        )


if __name__ == "__main__":
    main()
