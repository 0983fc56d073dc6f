"""The palette of flat artwork, as a file that a person edits."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.artwork.linear_rgb import flat_rgb, linear_rgb
from strikeoff.artwork.opening import open_artwork
from strikeoff.artwork.palette import find_palette
from strikeoff.artwork.palette_file import NamedPalette, write_palette
from strikeoff.artwork.recolour import cover_map
from strikeoff.artwork.unmix import Unmixer
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.workbench.result import Result

_MAP_PX = 400


def artwork_palette(
    image: str | Path,
    out: str | Path,
    *,
    assume_profile: str | Path | None = None,
    progress: Progress = silent,
) -> Result:
    """Find the colours of flat artwork and write them to a file.

    Parameters
    ----------
    image : str or Path
        Artwork of few colours.
    out : str or Path
        TOML to write; its colours may be renamed, changed, added or taken out by hand.
    assume_profile : str or Path, optional
        ICC profile for artwork that carries none.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result

    Raises
    ------
    InputError
        When the artwork is not flat, or holds named colours.
    """
    artwork = open_artwork(image, assume_profile=assume_profile)
    source, space, way = flat_rgb(artwork)
    palette = find_palette(source, space, lambda f: progress("find the colours", 0.8 * f))
    shares = cover_map(Unmixer(source, space, palette), _MAP_PX)
    lab = space.lab(palette.linear)
    screen = linear_rgb(None, 8)
    assert screen is not None
    light = screen.from_lab(lab)
    is_shown = screen.holds(light)
    hexes = ["#" + bytes(code).hex() for code in screen.encode(np.clip(light, 0.0, 1.0))]
    names = tuple(f"colour {k + 1}" for k in range(len(lab)))
    write_palette(out, NamedPalette(palette, names, artwork.digest), lab, hexes, shares.shares)
    colours: list[dict[str, Any]] = [
        {
            "name": name,
            "hex": hexes[k],
            "is_hex_exact": bool(is_shown[k]),
            "lab": [round(float(v), 2) for v in lab[k]],
            "share": round(float(shares.shares[k]), 6),
        }
        for k, name in enumerate(names)
    ]
    warning = Problem(
        "warning",
        "palette",
        "colours of thin lines and tiny areas are not found reliably, least of all in noisy or JPEG artwork:"
        " look the palette over, and edit its file by hand",
        found=f"{len(names)} colours",
    )
    results = {
        "colours": colours,
        "mixing": palette.mixing,
        "noise_percent": round(palette.noise * 100, 4),
        "unexplained_share": round(shares.unexplained, 6),
        "read_as": way,
        "artwork": artwork.digest,
    }
    rows = tuple(f"{c['name']}  {c['hex']}  {c['share']:.1%}" for c in colours)
    return Result(results, (*artwork.problems, warning), (Path(out),), "done", rows)
