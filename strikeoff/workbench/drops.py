"""Planes at press pitch to what the heads take: drops, or contone for presses that screen by themselves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from strikeoff.base.errors import UsageError
from strikeoff.base.files import storage_errors
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.base.units import MM_PER_INCH
from strikeoff.inks.spaces import InkSpaces
from strikeoff.raster.bands import BandSource, ChannelSource, repeat_of_rows
from strikeoff.raster.pwg_writer import write_pwg
from strikeoff.raster.tiff_reader import open_planes
from strikeoff.raster.tiff_writer import write_planes
from strikeoff.screening.contone import ContoneSource
from strikeoff.screening.diffusion import DiffusedSource, diffusion_tables
from strikeoff.screening.laid_down import LaidDownSource
from strikeoff.screening.masks import roll_masks
from strikeoff.screening.pixel_kernels import COMPILED, PixelKernels
from strikeoff.screening.screen import ScreenedSource
from strikeoff.workbench.result import Result

DROPS_SCHEMA = "strikeoff/drops/1"
METHODS = ("masks", "diffusion", "contone")
_GUARD_LIMIT = 0.001
_PWG = ".pwg"
_QUICK = "packbits"


@dataclass(frozen=True)
class DropOptions:
    """How planes become drops.

    Attributes
    ----------
    method : {"masks", "diffusion", "contone"}
        Blue-noise masks; error diffusion; or ink in 8 bits, not screened.
    bits : int, optional
        1, 2 or 8 for each drop; by default 1 where heads have one size of drop, else 8; 8 for contone.
    compression : str
        Of a TIFF: ``none``, ``packbits``, ``deflate`` or ``zstd``.
    split : bool
        One file for each ink.
    """

    method: str = "masks"
    bits: int | None = None
    compression: str = "deflate"
    split: bool = False

    def __post_init__(self) -> None:
        if self.method not in METHODS:
            raise UsageError("unknown screening method", found=self.method, expected=", ".join(METHODS))


def write_drops(
    planes: BandSource,
    out: str | Path,
    spaces: InkSpaces,
    *,
    info: dict[str, Any],
    options: DropOptions,
    kernels: PixelKernels = COMPILED,
    progress: Progress = silent,
) -> Result:
    """Write the drops of planes at press pitch.

    Parameters
    ----------
    planes : BandSource
        Calibrated ink, uint16.
    out : str or Path
        File to write: ``.pwg`` for PWG Raster, else TIFF. With ``split`` the ink's name is put before
        the suffix.
    spaces : InkSpaces
        From calibrated ink to drops.
    info : dict
        Document of the planes; schema, screen and space are added.
    options : DropOptions
        How.
    kernels : PixelKernels
        Who computes them; the bytes do not depend on it.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    out = Path(out)
    laid_down = LaidDownSource(planes, spaces, kernels)
    levels = int(spaces.drops.shape[1])
    bits = options.bits or (8 if levels > 1 or options.method == "contone" else 1)
    progress("make the masks", 0.0)
    source, screen = _screened(laid_down, spaces, options.method, bits)
    info = info | {"schema": DROPS_SCHEMA, "ink_space": "laid-down", "screen": screen}
    names = tuple(ink.name for ink in spaces.inks)
    if options.split:
        paths = _write_split(out, source, names, bits, info, options.compression, progress)
    else:
        paths = (out,)
        _write(out, source, names, bits, info, options.compression, progress)
    results: dict[str, Any] = {
        "width_px": planes.width,
        "height_px": planes.height,
        "inks": list(names),
        "dpi": [round(MM_PER_INCH / pitch, 4) for pitch in planes.pitch_mm],
        "method": options.method,
        "bits": bits,
        "drop_levels": levels,
        "total_ink_laid_down_percent": round(spaces.total * 100, 3),
        "guard_share_touched": laid_down.share_touched(),
        "curves_digest": spaces.curves_digest,
        "bytes": sum(path.stat().st_size for path in paths),
    }
    touched = results["guard_share_touched"]
    lines: tuple[str, ...] = (
        f"{planes.width} x {planes.height} drops, inks {' '.join(names)}, {results['bytes'] / 1e6:.1f} MB",
        f"ink guard at {spaces.total * 100:g} % laid down: {touched * 100:.3g} % of the pixels lost ink",
    )
    if options.method == "diffusion":
        lines += ("diffused drops never repeat, so every row of the roll is stored",)
    return Result(results, _guard_problems(touched), paths, "done", lines)


def _screened(
    laid_down: LaidDownSource, spaces: InkSpaces, method: str, bits: int
) -> tuple[BandSource, dict[str, Any]]:
    """Return the source of drops and what the file says about it."""
    if method == "contone":
        if bits != 8:
            raise UsageError("contone has 8 bits", found=bits)
        return ContoneSource(laid_down), {"method": "none, the press screens"}
    if method == "diffusion":
        volumes = [ink.drop_pl or (1.0,) for ink in spaces.inks]
        size = 1 if max(len(drops) for drops in volumes) == 1 else 2
        if bits not in (size, 8):
            raise UsageError("levels do not fit the bits", found=bits, expected=f"{size} or 8")
        source = DiffusedSource(laid_down, diffusion_tables(volumes), size, laid_down.kernels)
        return source, {
            "method": "error diffusion, Ostromoukhov 2001",
            "repeats": "never: errors run on, so equal rows of ink get drops of their own",
        }
    masks = roll_masks(len(spaces.inks), *repeat_of_rows(laid_down), pitch_mm=laid_down.pitch_mm)
    return ScreenedSource(laid_down, masks, spaces.drops, laid_down.kernels), {
        "method": "void-and-cluster mask",
        "rows": masks.base_rows,
        "columns": masks.thresholds.shape[2],
        "thresholds": masks.base_rows * masks.thresholds.shape[2],
        "period_rows": masks.period,
    }


def _write(
    path: Path,
    source: BandSource,
    names: Sequence[str],
    bits: int,
    info: dict[str, Any],
    compression: str,
    progress: Progress,
) -> None:
    def told(stage: str, fraction: float) -> None:
        progress("screen", fraction)

    if path.suffix.lower() == _PWG:
        write_pwg(path, source, ink_names=names, bits=bits, progress=told)
    else:
        write_planes(
            path, source, ink_names=names, info=info, bits=bits, compression=compression, progress=told
        )


def _write_split(
    out: Path,
    source: BandSource,
    names: Sequence[str],
    bits: int,
    info: dict[str, Any],
    compression: str,
    progress: Progress,
) -> tuple[Path, ...]:
    """Write a file for each ink and return their paths; drops are made once, into a file that goes again."""
    paths = tuple(out.with_name(f"{out.stem}-{name}{out.suffix}") for name in names)
    with storage_errors(out), TemporaryDirectory(prefix=f".{out.stem}-", dir=out.parent) as folder:
        together = Path(folder) / "together.tif"
        _write(together, source, names, bits, info, _QUICK, lambda stage, f: progress(stage, 0.9 * f))
        drops = open_planes(together)
        for number, (path, name) in enumerate(zip(paths, names, strict=True)):
            _write(path, ChannelSource(drops, number), (name,), bits, info, compression, silent)
            progress("screen", 0.9 + 0.1 * (number + 1) / len(names))
    return paths


def _guard_problems(touched: float) -> tuple[Problem, ...]:
    if touched <= _GUARD_LIMIT:
        return ()
    return (
        Problem(
            "warning",
            "ink guard",
            "took ink from many pixels: the planes pass the total ink limit",
            f"{100 * touched:.1f} %",
            f"at most {100 * _GUARD_LIMIT:.1f} %",
            "Separate the artwork through the condition's own limit",
        ),
    )
