"""Artwork as the cloth will show it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.colour import profile_to_lab, require_known_colour
from strikeoff.artwork.records import Artwork
from strikeoff.base.errors import UsageError
from strikeoff.base.files import keep_inputs
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.condition.archive import read_condition
from strikeoff.condition.links import artwork_table
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import recipe_problems
from strikeoff.intake.bare_cloth import opaque_samples, printed_cover
from strikeoff.intake.colour_checks import OUT_DE00
from strikeoff.intake.colours import colour_need, display_lab
from strikeoff.intake.pictures import shown, with_places
from strikeoff.intake.survey import survey
from strikeoff.raster.bands import ArraySource, BandSource
from strikeoff.raster.tables import InkTable
from strikeoff.report.preview import cloth_preview, write_png
from strikeoff.separation.named import NamedSource
from strikeoff.workbench.artwork_check import open_small
from strikeoff.workbench.artwork_classes import artwork_white, source_intent
from strikeoff.workbench.artwork_named import NamedPlan, plan_named, spots_for, underbase_of
from strikeoff.workbench.artwork_white import (
    cloth_problems,
    held_problem,
    laid_by,
    underbase_problems,
    with_underbase,
)
from strikeoff.workbench.result import Result
from strikeoff.workbench.undecided import light_problems

FloatArray = NDArray[np.float64]

#: What a proof may show.
VIEWS = ("proof", "before-after", "gamut")
_LONGER_PX = 1600
_CHUNK = 65_536
_GAP_PX = 12
_CODES = 256


def proof_artwork(
    condition: str | Path,
    image: str | Path,
    out: str | Path,
    *,
    finished: tuple[float, float],
    view: str = "proof",
    intent: str = "perceptual",
    illuminant: str | None = None,
    observer: str | None = None,
    weave: str | None = None,
    yarn: float = 0.35,
    assume_profile: str | Path | None = None,
    page: int = 1,
    box: str = "trim",
    spots: str | Path | None = None,
    underbase: str | None = None,
    underbase_percent: float = 100.0,
    choke_mm: float = 0.0,
    progress: Progress = silent,
) -> Result:
    """Write a picture of artwork as the finished cloth will show it.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    image : str or Path
        PDF, TIFF, JPEG, PNG or PSD.
    out : str or Path
        PNG to write, sRGB, its resolution that of the finished goods.
    finished : tuple of float
        Size on the finished goods (across, along). [mm]
    view : {"proof", "before-after", "gamut"}
        The cloth; artwork and cloth side by side; or what the inks cannot reach, marked.
    intent : {"perceptual", "relative", "relative-bpc", "saturation", "absolute"}
        Rendering intent.
    illuminant, observer : str, optional
        Light under which the cloth is looked at; the condition's own by default.
    weave : {"plain", "twill", "satin"}, optional
        Binding to suggest.
    yarn : float
        Distance between yarns, finished. [mm]
    assume_profile : str or Path, optional
        ICC profile for artwork that carries none.
    page : int
        Page of a PDF, from 1.
    box : {"trim", "bleed", "crop", "media", "art"}
        Which of its boxes is printed.
    spots : str or Path, optional
        Tint tables of a swatch book, compiled for this condition; they go before inks of the same name.
    underbase : str, optional
        Ink, such as a white one, that is laid under all others but clear ones.
    underbase_percent : float
        Amount of it. [%]
    choke_mm : float
        How far it ends inside the edge of the others; below 0 outside. [mm]
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    if view not in VIEWS:
        raise UsageError("unknown view", found=view, expected=", ".join(VIEWS))
    record, digest = read_condition(condition)
    keep_inputs(out, image, condition)
    base = underbase_of(record, underbase, underbase_percent, choke_mm)
    book, spots_digest = spots_for(record, digest, spots)
    artwork = open_small(image, assume_profile, page, box, _LONGER_PX)
    require_known_colour(artwork)
    plan = plan_named(record, artwork, book, spots_digest)
    others = plan.without(artwork)
    has_alternates = artwork.page is not None and bool(others)
    if has_alternates:
        fallback = frozenset(others) if plan.inks or plan.tables else None
        artwork = open_small(image, assume_profile, page, box, _LONGER_PX, fallback)
    light, eye = record.light(illuminant, observer)
    model = record.under(light, eye)
    small = _small(artwork.planes, lambda f: progress("look at the artwork", 0.3 * f))
    seen_over_white = small
    cover = printed_cover(record, artwork)
    share_covered = None
    if cover is not None:
        share_covered = _small(cover, lambda f: None)
        small = opaque_samples(artwork, small, share_covered)
    pitch = finished[0] / small.shape[1]
    planes = _planes(
        record,
        artwork,
        small,
        share_covered,
        intent,
        plan,
        pitch,
        lambda f: progress("separate", 0.3 + 0.5 * f),
    )
    laid, uncut = (planes, None) if base is None else with_underbase(record, planes, base)
    inks = laid.read(0, planes.height)
    told = None if base is None or uncut is None else held_problem(record, base, uncut.use())
    held = () if told is None else (told,)
    progress("predict the cloth", 0.85)
    quick = record.inverse.quick if model is record.native else model
    lab = _predicted(quick, inks)
    cloth = cloth_preview(lab, model.view.white, pitch_mm=pitch, weave=weave, yarn_mm=yarn)
    before = shown(display_lab(artwork, seen_over_white))
    share, error = _out_of_gamut(record, artwork, small, share_covered)
    if view == "before-after":
        gap = np.full((cloth.shape[0], _GAP_PX, 3), 255, np.uint8)
        seen = np.concatenate([before, gap, cloth], axis=1)
    else:
        seen = cloth if view == "proof" else with_places(before, error > OUT_DE00)
    write_png(out, seen, pitch_mm=pitch)
    results: dict[str, Any] = {
        "view": view,
        "intent": intent,
        "light": {"illuminant": light, "observer": eye},
        "finished_mm": list(finished),
        "mm_per_pixel": round(pitch, 6),
        "width_px": seen.shape[1],
        "height_px": seen.shape[0],
        "out_of_gamut_share": share,
        "named_by_swatch": sorted(plan.tables),
        "underbase": None
        if base is None
        else {"ink": record.inks[base.ink], "percent": underbase_percent, "choke_mm": choke_mm},
        "named_in_alternates": others if has_alternates else [],
        "named_left_out": [] if has_alternates else others,
        "artwork": artwork.digest,
        "condition": digest,
        "label": record.label,
    }
    line = f"{view} under {light}/{eye}, {100 * share:.1f} % of the picture out of gamut"
    used = [name for place, name in enumerate(record.inks) if inks[..., place].any()]
    problems = (
        *recipe_problems(record),
        *light_problems(record, light, used),
        *underbase_problems(record, base),
        *held,
        *cloth_problems(record, artwork),
        *_without_ink(others, has_alternates),
    )
    return Result(results, problems, (Path(out),), "done", (line,))


def _without_ink(names: Sequence[str], has_alternates: bool) -> tuple[Problem, ...]:
    if not names:
        return ()
    how = "shown in the file's own alternate colours" if has_alternates else "left out of the proof"
    return (
        Problem(
            "warning", "named colours", f"no swatch or ink of their name: {how}", found=", ".join(names)[:300]
        ),
    )


def _planes(
    record: Condition,
    artwork: Artwork,
    small: FloatArray,
    cover: FloatArray | None,
    intent: str,
    plan: NamedPlan,
    pitch_mm: float,
    step: Callable[[float], None],
) -> NamedSource:
    """Return calibrated ink of the small picture, by the way on which it would be separated."""
    table: InkTable = artwork_table(
        record,
        artwork.kind,
        lambda values: profile_to_lab(artwork.profile, artwork.kind, values, source_intent(intent)),
        intent,
        source_white=artwork_white(artwork),
        step=step,
    )
    pitch = (pitch_mm, pitch_mm)
    laid = None
    if cover is not None:
        laid = laid_by(record, artwork, ArraySource(_codes(cover), pitch), table)
    return plan.source(record, artwork, ArraySource(_codes(small), pitch), table, cover=laid)


def _codes(samples: FloatArray) -> NDArray[np.uint16]:
    return np.rint(samples * 65535.0).astype(np.uint16)


def _small(source: BandSource, step: Callable[[float], None]) -> FloatArray:
    return survey(source, step, longer_px=_LONGER_PX).small


def _predicted(model: Any, inks: NDArray[np.uint16]) -> FloatArray:
    """Return predicted Lab, shape (h, w, 3), each different recipe once."""
    rows = inks.reshape(-1, inks.shape[2]) // np.uint16(65536 // _CODES)
    packed = rows.astype(np.uint64) @ (np.uint64(_CODES) ** np.arange(rows.shape[1], dtype=np.uint64))
    _, first, index = np.unique(packed, return_index=True, return_inverse=True)
    recipes = inks.reshape(-1, inks.shape[2])[first] / 65535.0
    lab = np.concatenate([model.lab(recipes[at : at + _CHUNK]) for at in range(0, len(recipes), _CHUNK)])
    return np.asarray(lab[index].reshape(*inks.shape[:2], 3))


def _out_of_gamut(
    record: Condition, artwork: Artwork, small: FloatArray, cover: FloatArray | None
) -> tuple[float, FloatArray]:
    need = colour_need(artwork, small, record, "relative", {}, cover=cover)
    return float(np.mean(need.error > OUT_DE00)), need.error
