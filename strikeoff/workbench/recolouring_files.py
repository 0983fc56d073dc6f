"""Colourways written: planes and pictures."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.artwork.flat_survey import FlatSurvey, KeptWeights
from strikeoff.artwork.linear_rgb import LinearRgb
from strikeoff.artwork.palette_file import NamedPalette
from strikeoff.artwork.recolour import RecolouredSource
from strikeoff.artwork.records import Artwork
from strikeoff.artwork.unmix import Palette
from strikeoff.base.progress import Progress
from strikeoff.condition.record import Condition
from strikeoff.raster.tiff_writer import write_planes, write_rgb
from strikeoff.report.preview import srgb_profile
from strikeoff.separation.flat import STEPS, FlatSource
from strikeoff.separation.separate import InkMeter, InkUse
from strikeoff.spot.edges import edge_curves
from strikeoff.spot.wishes import ColourwayPrint
from strikeoff.workbench.artwork import planes_info
from strikeoff.workbench.colourways import srgb_space

_SAME_SPACE = 2e-4


@dataclass(frozen=True)
class RecolourJob:
    """What all colourways share."""

    record: Condition
    digest: str
    artwork: Artwork
    space: LinearRgb
    named: NamedPalette
    palette: Palette
    survey: FlatSurvey
    kept: KeptWeights


@dataclass(frozen=True)
class WrittenWay:
    """What one colourway was made into."""

    outputs: list[Path]
    files: dict[str, str]
    use: InkUse | None


def write_way(
    job: RecolourJob, way: ColourwayPrint, folder: Path, make: str, at: int, count: int, progress: Progress
) -> WrittenWay:
    """Write what one colourway is made into."""
    stem = file_stem(way.name)
    outputs, files, use = [], {}, None
    info = {
        "colourway": way.name,
        "artwork": {"name": Path(job.artwork.path).name, "digest": job.artwork.digest},
        "palette": list(job.named.names),
    }
    shares = {"planes": 0.5, "picture": 1.0} if make == "both" else {make: 1.0}
    begun = 0.0
    for what, ended in shares.items():
        path = folder / f"{stem}-{what}.tif"

        def step(stage: str, fraction: float, begun: float = begun, ended: float = ended) -> None:
            progress("write colourways", (at + begun + fraction * (ended - begun)) / count)

        if what == "planes":
            use = _write_planes(job, way, path, info, step)
        else:
            picture = _picture(job, way)
            write_rgb(path, picture, profile=srgb_profile(), info=info, progress=step)
        outputs.append(path)
        files[what] = path.name
        begun = ended
    return WrittenWay(outputs, files, use)


def _write_planes(
    job: RecolourJob, way: ColourwayPrint, path: Path, info: dict[str, Any], step: Progress
) -> InkUse:
    record = job.record
    curves = edge_curves(record.inverse.quick, way.recipes, job.survey.mixed, STEPS)
    planes = FlatSource(job.kept, np.rint(way.recipes * 65535.0).astype(np.uint16), curves)
    meter = InkMeter(
        planes, record.inks, record.limits.total, tuple(record.limits.weights), record.limits.counts()
    )
    write_planes(
        path, meter, ink_names=record.inks, info=planes_info(record, job.digest) | info, progress=step
    )
    return meter.use()


def _picture(job: RecolourJob, way: ColourwayPrint) -> RecolouredSource:
    """Return the artwork in the wished colours, as artwork again: its white is the cloth."""
    screen = srgb_space(8 if job.space.codes == 256 else 16)
    same = np.abs(job.space.curves - screen.curves).max() < _SAME_SPACE
    if same and np.abs(job.space.matrix - screen.matrix).max() < _SAME_SPACE:
        screen = job.space
    linear = screen.from_lab(job.record.connection.to_relative(way.wished_lab(job.record)))
    touched = tuple(wish.kind != "stays" for wish in way.wishes)
    if screen is job.space:
        kept = ~np.array(touched)
        linear[kept] = job.palette.linear[kept]
    return RecolouredSource(job.kept, linear, touched, screen)


def file_stem(name: str) -> str:
    """Return a colourway's name as part of a file name.

    Examples
    --------
    >>> file_stem("Night / 2 b"), file_stem("..")
    ('Night-2-b', 'colourway')
    """
    return re.sub(r"[^\w.]+", "-", name).strip("-.")[:80] or "colourway"
