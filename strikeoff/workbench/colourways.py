"""The palette of flat artwork, as a file that a person edits."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.artwork.flat_survey import survey_flat
from strikeoff.artwork.linear_rgb import LinearRgb, flat_rgb, linear_rgb
from strikeoff.artwork.opening import open_artwork
from strikeoff.artwork.palette import find_palette
from strikeoff.artwork.palette_file import NamedPalette, write_palette
from strikeoff.artwork.unmix import Unmixer
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.workbench.result import Result

_MAP_PX = 64


def artwork_palette(
    image: str | Path,
    out: str | Path,
    *,
    colours: int | None = None,
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
    colours : int, optional
        How many colours there are, where a person knows better.
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
        When the artwork is not flat, holds named colours, or fewer colours than asked for can be told apart.
    """
    artwork = open_artwork(image, assume_profile=assume_profile)
    source, space, way = flat_rgb(artwork)
    found = find_palette(source, space, lambda f: progress("find the colours", 0.8 * f), count=colours)
    palette = found.palette
    shares = survey_flat(
        Unmixer(source, space, palette), _MAP_PX, step=lambda f: progress("find the colours", 0.8 + 0.2 * f)
    )
    lab, maybe = space.lab(palette.linear), space.lab(found.maybe)
    hexes, exact = screen_hexes(lab)
    names = tuple(f"colour {k + 1}" for k in range(len(lab)))
    remarks = [
        f"{hexes[k]}, {shares.shares[k] * 100:.3f} % of the artwork"
        + ("" if found.is_sure[k] else "; not sure, look at it")
        for k in range(len(lab))
    ]
    write_palette(
        out,
        NamedPalette(lab, names, artwork.digest, palette.noise, palette.mixing),
        remarks,
        head=found.doubts,
        maybe=[(one, code) for one, code in zip(maybe, screen_hexes(maybe)[0], strict=True)],
    )
    rows: list[dict[str, Any]] = [
        {
            "name": name,
            "hex": hexes[k],
            "is_hex_exact": exact[k],
            "lab": [round(float(v), 2) for v in lab[k]],
            "share": round(float(shares.shares[k]), 6),
            "is_sure": bool(found.is_sure[k]),
        }
        for k, name in enumerate(names)
    ]
    results = {
        "colours": rows,
        "maybe": screen_hexes(maybe)[0],
        "is_sure": not found.doubts,
        "mixing": palette.mixing,
        "noise_percent": round(palette.noise * 100, 4),
        "unexplained_share": round(shares.unexplained, 6),
        "read_as": way,
        "artwork": artwork.digest,
    }
    doubts = [
        Problem(
            "warning",
            "palette",
            doubt,
            found=f"{len(names)} colours",
            advice="Look the palette over and edit its file, or give the number of colours with --colours",
        )
        for doubt in found.doubts
    ]
    lines = tuple(
        f"{c['name']}  {c['hex']}  {100 * c['share']:.1f} %{'' if c['is_sure'] else '  not sure'}"
        for c in rows
    )
    return Result(results, (*artwork.problems, *doubts), (Path(out),), "done", lines)


def screen_hexes(lab: np.ndarray[Any, np.dtype[np.float64]]) -> tuple[list[str], list[bool]]:
    """Return sRGB of Lab D50 as ``#rrggbb``, and whether sRGB holds it."""
    screen = srgb_space()
    light = screen.from_lab(lab)
    codes = screen.encode(np.clip(light, 0.0, 1.0))
    return ["#" + bytes(code).hex() for code in codes], [bool(v) for v in screen.holds(light)]


def srgb_space(bits: int = 8) -> LinearRgb:
    """Return sRGB."""
    space = linear_rgb(None, bits)
    assert space is not None
    return space
