"""Rolls to drops in processes of their own: 50 m of one repeat, and noisy artwork that never repeats."""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from bench.data import Case
from strikeoff.condition.archive import write_condition

_PEAK = """
# Not getrusage: that starts from the peak of the process that forked this one.
status = Path("/proc/self/status").read_text().split("VmHWM:")[1]
peak = int(status.split()[0]) / 1024
"""

_REPEAT = (
    """
import json, sys, time
from pathlib import Path
import numpy as np
from strikeoff.raster.bands import ArraySource
from strikeoff.raster.tiff_writer import write_planes
from strikeoff.workbench.rolls import compose_roll
folder, mode = Path(sys.argv[1]), sys.argv[2]
inks = ("C", "M", "Y", "K", "Orange", "Violet", "Green")
planes = folder / "planes.tif"
if mode == "make":
    n = 5040
    rng = np.random.default_rng(0)
    y, x = np.mgrid[0:n, 0:n].astype(np.float32)
    made = np.empty((n, n, 7), np.uint16)
    for k in range(7):
        wave = 1 + np.sin(2 * np.pi * (x * (k + 1) + y * (2 * k + 1)) / n)
        made[..., k] = 10000 * wave + rng.integers(0, 6000, (n, n))
    named = {"digest": "0" * 64, "name": "bench", "label": "simulated"}
    info = {"schema": "strikeoff/planes/1", "condition": named, "total_ink": 4.0,
            "ink_columns": list(inks), "ink_spaces": None}
    write_planes(planes, ArraySource(made, (640 / n, 640 / n)), ink_names=inks, info=info)
    sys.exit()
start = time.perf_counter()
length = 50_000.0 if mode == "long" else 1_500.0
drops = folder / f"{mode}.tif"
compose_roll(planes, repeat="half-drop", finished=(640, 640), warp=-5.5, weft=-3.0, width=1400, length=length,
             dpi=(600, 600), drops=drops)
spent = time.perf_counter() - start
"""
    + _PEAK
    + """
cores = time.process_time()
print(json.dumps({"spent": spent, "cores": cores, "peak": peak, "bytes": drops.stat().st_size}))
"""
)

_NOISE = (
    """
import json, sys, time
from pathlib import Path
import numpy as np
from PIL import Image
folder, who = Path(sys.argv[1]), sys.argv[2]
width, height = 11023, 39370
# The chain's last step holds its image whole, so it works stripe by stripe, and over a part of the length.
stripe, stripes = 1969, 4
art = folder / "noise.tif"
if who == "make":
    import tifffile
    rng = np.random.default_rng(0)
    ramp = np.linspace(0, 200, width)[None, :, None]
    whole = tifffile.memmap(art, shape=(height, width, 3), dtype=np.uint8, photometric="rgb", metadata=None,
                            resolution=(200, 200), resolutionunit="INCH")
    for top in range(0, height, stripe):
        rows = min(stripe, height - top)
        whole[top : top + rows] = (ramp + rng.integers(0, 55, (rows, width, 3))).astype(np.uint8)
    whole.flush()
    sys.exit()
across, along, tall = 33071, 118110, 5906
part = 1.0
start = time.perf_counter()
cores = time.process_time()
if who == "strikeoff":
    from strikeoff.artwork.opening import open_artwork
    from strikeoff.artwork.colour import srgb_to_lab
    from strikeoff.condition.archive import read_condition
    from strikeoff.condition.links import artwork_table
    from strikeoff.inks.spaces import identity_spaces
    from strikeoff.raster.resample import PeriodicTile
    from strikeoff.raster.tiff_writer import write_planes
    from strikeoff.screening.laid_down import LaidDownSource
    from strikeoff.screening.masks import roll_masks
    from strikeoff.screening.screen import screened
    from strikeoff.separation.separate import separated
    table = artwork_table(read_condition(folder / "condition")[0], "rgb", srgb_to_lab, "perceptual")
    made = roll_masks(4)
    setup, start, cores = time.perf_counter() - start, time.perf_counter(), time.process_time()
    from strikeoff.raster.bands import ArraySource
    source = open_artwork(art).source
    class Roll(PeriodicTile):
        pitch_mm = (25.4 / 600, 25.4 / 600)
        @property
        def dtype(self): return np.dtype(np.uint16)
    planes = Roll(separated(source, table, workers=1), along, across)
    laid = LaidDownSource(planes, identity_spaces(("C", "M", "Y", "K"), 4.0))
    write_planes(folder / "drops.tif", screened(laid, made), ink_names=list("CMYK"), info={}, bits=1,
                 compression="packbits")
else:
    import pyvips
    from concurrent.futures import ThreadPoolExecutor
    setup = 0.0
    part = stripes * stripe / height
    for number in range(stripes):
        image = pyvips.Image.new_from_file(str(art)).crop(0, number * stripe, width, stripe)
        image = image.resize(across / width, vscale=tall / stripe, kernel="cubic")
        image = image.icc_transform(str(folder / "press.icc"), input_profile=str(folder / "srgb.icc"),
                                    intent="perceptual")
        inks = np.asarray(image.numpy())
        def one(ink):
            Image.fromarray(np.ascontiguousarray(inks[..., ink])).convert("1").save(
                folder / f"chain-{number}-{ink}.tif", compression="packbits")
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(one, range(4)))
spent, cores = time.perf_counter() - start, time.process_time() - cores
"""
    + _PEAK
    + """
print(json.dumps({"spent": spent / part, "setup": setup, "cores": cores / part, "peak": peak}))
"""
)


def _run(work: str, *arguments: str) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-c", work, *arguments], check=True, capture_output=True, text=True
    )
    lines = done.stdout.strip().splitlines()
    return json.loads(lines[-1]) if lines else {}


def repeat() -> list[dict[str, Any]]:
    """Return seconds, peak memory and size of 50 m of a half-drop repeat."""
    with tempfile.TemporaryDirectory() as folder:
        _run(_REPEAT, folder, "make")
        short = _run(_REPEAT, folder, "short")
        found = _run(_REPEAT, folder, "long")
    return [
        {"what": "1.4 x 50 m, 7 inks, 600 dpi, drops", "found": f"{found['spent']:.1f} s"},
        {"what": "seconds of a core, imports and masks with them", "found": f"{found['cores']:.1f} s"},
        {"what": "peak memory", "found": f"{found['peak']:.0f} MiB"},
        {
            "what": "file, beside that of 1.5 m (2.1 periods stored as one, leader and tail)",
            "found": f"{found['bytes'] / 1e6:.0f} MB, {found['bytes'] / short['bytes']:.2f} times",
        },
    ]


def noise(case: Case) -> list[dict[str, Any]]:
    """Return seconds for 5 m of noisy artwork at 200 ppi to 4 inks at 600 dpi, beside general tools.

    Those work on 1 m of it, in stripes of 0.25 m, and their time is taken five times.
    """
    from PIL import ImageCms

    with tempfile.TemporaryDirectory() as folder:
        write_condition(Path(folder) / "condition", case.condition)
        Path(folder, "press.icc").write_bytes(case.condition.profiles[4])
        srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
        Path(folder, "srgb.icc").write_bytes(srgb)
        _run(_NOISE, folder, "make")
        own, chain = _run(_NOISE, folder, "strikeoff"), _run(_NOISE, folder, "chain")
    return [
        {
            "method": "strikeoff: link at 200 ppi, cubic to 600 dpi, masks, PackBits",
            "seconds": f"{own['spent']:.2f}",
            "seconds of a core": f"{own['cores']:.2f}",
            "once before (link, masks, imports)": f"{own['setup']:.1f}",
            "peak MiB": f"{own['peak']:.0f}",
            "chain's time over this": f"{chain['spent'] / own['spent']:.1f}",
        },
        {
            "method": "libvips cubic resize and icc_transform, Pillow convert('1') on two threads, PackBits; "
            "1 m in stripes of 0.25 m, times five",
            "seconds": f"{chain['spent']:.2f}",
            "seconds of a core": f"{chain['cores']:.2f}",
            "once before (link, masks, imports)": f"{chain['setup']:.1f}",
            "peak MiB": f"{chain['peak']:.0f}",
            "chain's time over this": "1.0",
        },
    ]


def peak_mib() -> float:
    """Return the peak memory of this process in MiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
