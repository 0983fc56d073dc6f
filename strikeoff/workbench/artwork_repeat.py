"""From a swatch that holds several repeats to one clean repeat."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.decoded import check_whole_size
from strikeoff.artwork.opening import open_artwork
from strikeoff.artwork.records import Artwork
from strikeoff.artwork.swatch_lattice import SwatchRepeat, find_repeat, scaled
from strikeoff.artwork.swatch_tile import cut_tile, tile_size
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import atomic_path, keep_inputs
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.base.units import MM_PER_INCH
from strikeoff.workbench.result import Result

_LONGER_PX = 1500
_PHOTOMETRIC = {"rgb": "rgb", "grey": "minisblack", "cmyk": "separated"}
_DIFFERENT_SCALE = 0.005


def artwork_repeat(
    image: str | Path,
    out: str | Path | None = None,
    *,
    finished: tuple[float, float] | None = None,
    ppi: tuple[float, float] | None = None,
    progress: Progress = silent,
) -> Result:
    """Find the repeat of a swatch, scanned or drawn, and cut one clean tile.

    Parameters
    ----------
    image : str or Path
        TIFF, JPEG, PNG or PSD that holds two whole repeats or more each way.
    out : str or Path, optional
        TIFF of one tile to write, in the artwork's own colours and with its profile.
    finished : tuple of float, optional
        Finished size of one repeat (across, along). [mm]
    ppi : tuple of float, optional
        Resolution of the swatch (across, along) in place of what the file states. [pixels per inch]
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result

    Raises
    ------
    UsageError
        For a size and a resolution at once.
    InputError
        When no repeat is found, or the artwork is a page, in Lab, or has named colours.
    """
    if finished is not None and ppi is not None:
        raise UsageError("give the finished size of a repeat or the resolution, not both")
    if finished is not None and not all(math.isfinite(side) and side > 0 for side in finished):
        raise InputError("finished size cannot be", found=finished, expected="two lengths above 0 mm")
    if out is not None:
        keep_inputs(out, image)
    artwork = open_artwork(image)
    _check(artwork)
    progress("find the repeat", 0.0)
    picture = artwork.source.read(0, artwork.height)
    repeat = _found(picture, artwork.path)
    resolution = _resolution(repeat, finished, ppi or artwork.dpi)
    outputs: tuple[Path, ...] = ()
    size = tile_size(repeat)
    if out is not None:
        progress("cut one repeat", 0.5)
        _write(Path(out), cut_tile(picture, repeat, size), artwork, repeat, resolution)
        outputs = (Path(out),)
    progress("cut one repeat", 1.0)
    results = _results(repeat, artwork, resolution, size)
    return Result(results, (*artwork.problems, *_problems(repeat, results)), outputs, "done", _lines(results))


def _check(artwork: Artwork) -> None:
    name = artwork.path
    if artwork.page is not None:
        raise InputError("a page is drawn, not scanned", path=name, advice="Save it as TIFF first")
    if artwork.kind not in _PHOTOMETRIC:
        raise InputError("artwork in Lab is not cut", path=name, advice="Save it as RGB with a profile")
    if artwork.named:
        raise InputError("named colours would be lost", path=name, found=", ".join(artwork.named)[:200])
    check_whole_size(artwork.width, artwork.height, name, "Cut out a part with a few repeats")


def _found(picture: NDArray[Any], path: str) -> SwatchRepeat:
    step = max(1, math.ceil(max(picture.shape[:2]) / _LONGER_PX))
    rows, columns = (size // step * step for size in picture.shape[:2])
    if min(rows, columns) < 32 * step:
        raise InputError(
            "swatch is too small", path=path, found=f"{picture.shape[1]} x {picture.shape[0]} px"
        )
    parts = picture[:rows, :columns].reshape(rows // step, step, columns // step, step, picture.shape[2])
    small = parts.mean(axis=(1, 3)) / np.iinfo(picture.dtype).max
    return scaled(find_repeat(small, path), step)


def _resolution(
    repeat: SwatchRepeat, finished: tuple[float, float] | None, ppi: tuple[float, float] | None
) -> tuple[float, float] | None:
    if finished is None:
        return ppi
    return repeat.width_px * MM_PER_INCH / finished[0], repeat.height_px * MM_PER_INCH / finished[1]


def _results(
    repeat: SwatchRepeat, artwork: Artwork, ppi: tuple[float, float] | None, size: tuple[int, int]
) -> dict[str, Any]:
    share = repeat.lattice.share
    return {
        "repeat": repeat.lattice.name,
        "offset": None if repeat.lattice.offset == "none" else f"{share.numerator}/{share.denominator}",
        "repeat_px": [round(repeat.width_px, 3), round(repeat.height_px, 3)],
        "repeat_mm": None
        if ppi is None
        else [
            round(repeat.width_px * MM_PER_INCH / ppi[0], 3),
            round(repeat.height_px * MM_PER_INCH / ppi[1], 3),
        ],
        "ppi": None if ppi is None else [round(value, 3) for value in ppi],
        "columns": round(artwork.width / repeat.width_px, 2),
        "rows": round(artwork.height / repeat.height_px, 2),
        "tile_px": list(size),
        "next_column_px": [round(value, 3) for value in repeat.next_column],
        "next_row_px": [round(value, 3) for value in repeat.next_row],
        "turned_degrees": round(repeat.turned_degrees, 4),
        "skew_degrees": round(repeat.skew_degrees, 4),
        "likeness": round(repeat.likeness, 4),
        "nearly": [
            {"move_px": [round(x, 1), round(y, 1)], "likeness": round(value, 4)}
            for x, y, value in repeat.nearly
        ],
        "is_sure": repeat.is_sure,
        "artwork": artwork.digest,
    }


def _problems(repeat: SwatchRepeat, results: dict[str, Any]) -> tuple[Problem, ...]:
    found = []
    if not repeat.is_sure:
        found.append(
            Problem(
                "warning",
                "repeat",
                "the repeat is not sure",
                f"likeness {repeat.likeness:.2f}",
                "above 0.7, and 0.005 above that of other moves",
                "Look at the tile; scan a larger piece",
            )
        )
    ppi = results["ppi"]
    if ppi is not None and abs(ppi[0] / ppi[1] - 1) > _DIFFERENT_SCALE:
        found.append(
            Problem(
                "warning",
                "resolution",
                "the scale across and along differs",
                f"{ppi[0]:.1f} and {ppi[1]:.1f} pixels per inch",
                "the same",
                "Check the finished size",
            )
        )
    return tuple(found)


def _lines(results: dict[str, Any]) -> tuple[str, ...]:
    wide, high = results["repeat_px"]
    size = results["repeat_mm"]
    told = "" if size is None else f", {size[0]:.2f} x {size[1]:.2f} mm"
    lines = [
        f"{results['repeat']} repeat of {wide:.2f} x {high:.2f} px{told}",
        f"{results['columns']:g} across, {results['rows']:g} along; aslant by "
        f"{results['turned_degrees']:+.2f}, skewed by {results['skew_degrees']:+.2f} degrees",
        f"likeness {results['likeness']:.3f}, {'sure' if results['is_sure'] else 'not sure'}",
    ]
    lines += [
        f"nearly a repeat: {near['move_px'][0]:g} across, {near['move_px'][1]:g} along, likeness "
        f"{near['likeness']:.3f}"
        for near in results["nearly"]
    ]
    return tuple(lines)


def _write(
    path: Path,
    tile: NDArray[Any],
    artwork: Artwork,
    repeat: SwatchRepeat,
    ppi: tuple[float, float] | None,
) -> None:
    import tifffile

    more: dict[str, Any] = {}
    if ppi is not None:
        # The tile has whole pixels: its own pitch keeps the size of the repeat.
        wide, high = ppi[0] * tile.shape[1] / repeat.width_px, ppi[1] * tile.shape[0] / repeat.height_px
        more = {"resolution": (wide, high), "resolutionunit": "INCH"}
    with atomic_path(path) as part:
        tifffile.imwrite(
            part,
            tile[..., 0] if artwork.kind == "grey" else tile,
            photometric=_PHOTOMETRIC[artwork.kind],
            planarconfig=None if artwork.kind == "grey" else "CONTIG",
            compression="deflate",
            iccprofile=artwork.profile,
            metadata=None,
            **more,
        )
