"""A roll to drops."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from strikeoff.base.canonical import digest_file
from strikeoff.base.errors import InputError
from strikeoff.base.files import keep_inputs
from strikeoff.base.progress import Progress, silent
from strikeoff.raster.tiff_reader import open_planes
from strikeoff.workbench.artwork import PLANES_SCHEMA
from strikeoff.workbench.drops import DropOptions, write_drops
from strikeoff.workbench.result import Result
from strikeoff.workbench.roll_planes import ROLL_SCHEMA, planes_info, planes_problems, roll_spaces


def screen_roll(
    roll: str | Path,
    out: str | Path,
    *,
    method: str = "masks",
    bits: int | None = None,
    compression: str = "deflate",
    split: bool = False,
    progress: Progress = silent,
) -> Result:
    """Turn the planes of a roll into drops.

    Parameters
    ----------
    roll : str or Path
        Roll, or planes, from this program.
    out : str or Path
        File to write: separated TIFF, or PWG Raster for a name that ends in ``.pwg``.
    method : {"masks", "diffusion", "contone"}
        Blue-noise masks; error diffusion; or laid-down ink for a press that screens by itself.
    bits : int, optional
        1, 2 or 8 for each drop; by default as few as one size of drop needs, 8 for several and contone.
    compression : {"none", "packbits", "deflate", "zstd"}
        Of a TIFF.
    split : bool
        Write one file for each ink.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    keep_inputs(out, roll)
    source = open_planes(roll)
    info = planes_info(source, (ROLL_SCHEMA, PLANES_SCHEMA), "'roll compose'")
    if source.bits != 16:
        raise InputError("planes to screen must have 16 bits", path=roll, found=f"{source.bits} bits")
    options = DropOptions(method, bits, compression, split)
    info = info | {"roll_digest": digest_file(roll)}
    passed = planes_problems(info)
    done = write_drops(source, out, roll_spaces(info, source), info=info, options=options, progress=progress)
    return replace(done, problems=(*passed, *done.problems))
