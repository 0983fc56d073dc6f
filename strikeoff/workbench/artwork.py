"""Artwork to ink planes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from strikeoff.artwork.colour import require_known_colour
from strikeoff.artwork.pdf_wish import PageWish
from strikeoff.artwork.pixels import with_pitch
from strikeoff.base.canonical import digest_bytes
from strikeoff.base.files import keep_inputs
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.base.units import MM_PER_INCH, pitch_mm
from strikeoff.condition.archive import read_condition
from strikeoff.condition.recipe_rules import RECIPE_RULES
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import recipe_problems
from strikeoff.intake.bare_cloth import printed_cover
from strikeoff.qualify.design_space import is_design_space
from strikeoff.raster.bands import BandSource
from strikeoff.raster.tiff_writer import write_planes
from strikeoff.separation.by_class import ByClassSource
from strikeoff.separation.separate import InkMeter, InkUse, separated
from strikeoff.workbench.artwork_classes import class_links, intents_by_class
from strikeoff.workbench.artwork_named import open_named, underbase_of
from strikeoff.workbench.artwork_white import (
    cloth_problems,
    held_problem,
    laid_by,
    metered,
    opaque_colours,
    underbase_problems,
    with_underbase,
)
from strikeoff.workbench.result import Result

PLANES_SCHEMA = "strikeoff/planes/1"


def separate(
    condition: str | Path,
    image: str | Path,
    out: str | Path,
    *,
    intent: str = "perceptual",
    intent_images: str | None = None,
    intent_graphics: str | None = None,
    intent_text: str | None = None,
    assume_profile: str | Path | None = None,
    dpi: float | None = None,
    page: int = 1,
    box: str = "trim",
    named: str = "ink",
    spots: str | Path | None = None,
    underbase: str | None = None,
    underbase_percent: float = 100.0,
    choke_mm: float = 0.0,
    progress: Progress = silent,
) -> Result:
    """Turn artwork into planes of calibrated ink.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    image : str or Path
        PDF, TIFF, JPEG, PNG or PSD; RGB, grey, CMYK or Lab, with named colours.
    out : str or Path
        Separated TIFF to write, 16 bit, one plane per ink.
    intent : {"perceptual", "relative", "relative-bpc", "absolute", "saturation"}
        Rendering intent; always relative for artwork in the condition's own design space.
    intent_images, intent_graphics, intent_text : str, optional
        Rendering intent of pictures, line work and type on a PDF page, in place of ``intent``. Other files
        are pictures throughout.
    assume_profile : str or Path, optional
        ICC profile for artwork that carries none.
    dpi : float, optional
        Resolution to state in the planes, whatever the artwork says; for PDF the pitch at which the page is
        drawn, by default that of the condition's screen. [dots per inch]
    page : int
        Page of a PDF, from 1.
    box : {"trim", "bleed", "crop", "media", "art"}
        Which of its boxes is printed.
    named : {"ink", "fallback"}
        What becomes of named colours without a swatch or an ink of their name: refused, or for PDF printed
        in the file's own alternate colours.
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
    record, digest = read_condition(condition)
    keep_inputs(out, image, condition)
    base = underbase_of(record, underbase, underbase_percent, choke_mm)
    wish = PageWish(_pitch(record, dpi), page, box)
    artwork, plan = open_named(record, digest, image, assume_profile, wish, named, spots)
    is_named = bool(plan.inks or plan.tables)
    require_known_colour(artwork)
    own_space = artwork.profile is not None and is_design_space(record, digest, artwork.profile)
    own = {"images": intent_images, "graphics": intent_graphics, "text": intent_text}
    intents = intents_by_class(artwork, intent, own)
    if own_space:
        intents = dict.fromkeys(intents, "relative")
    source = artwork.planes if is_named else artwork.source
    if dpi is not None and artwork.page is None:
        source = with_pitch(source, (pitch_mm(dpi), pitch_mm(dpi)))
    cover = printed_cover(record, artwork)
    if cover is not None:
        cover = with_pitch(cover, source.pitch_mm)
        source = opaque_colours(artwork, source, cover)
    links = class_links(record, artwork, intents, progress)
    intent, table, by_class = intents["images"], links.tables["images"], links.by_class
    laid = None
    if cover is not None:
        laid = laid_by(record, artwork, cover, table, lambda f: progress("mix with the cloth", f))
    if is_named or laid is not None:
        planes: BandSource = plan.source(record, artwork, source, table, by_class, laid)
    else:
        planes = separated(source, table) if by_class is None else ByClassSource(source, by_class)
    before: InkMeter | None = None
    if base is not None:
        planes, before = with_underbase(record, planes, base)
    meter = metered(record, planes)
    info = planes_info(record, digest) | {
        "artwork": {"name": Path(image).name, "digest": artwork.digest, "profile": artwork.profile_origin},
        "intent": intent,
        "link_digest": table.digest,
    }
    if laid is not None and laid.veil is not None:
        info["veil_digest"] = laid.veil.digest
    classes = links.facts()
    if by_class is not None:
        info["classes"] = classes
    if plan.spots_digest is not None:
        info["spots"] = {"digest": plan.spots_digest, "tables": plan.table_digests}
    write_planes(
        out,
        meter,
        ink_names=record.inks,
        info=info,
        progress=lambda stage, f: progress("separate", f),
    )
    use = meter.use()
    ppi = [round(MM_PER_INCH / pitch, 3) for pitch in source.pitch_mm]
    results: dict[str, Any] = {
        "width_px": artwork.width,
        "height_px": artwork.height,
        "resolution_ppi": ppi,
        "artwork_kind": artwork.kind,
        "bits": artwork.bits,
        "profile": artwork.profile_origin,
        "profile_digest": None if artwork.profile is None else digest_bytes(artwork.profile),
        "design_space": own_space,
        "named": {name: record.inks[ink] for name, ink in plan.inks.items()},
        "spots": {"digest": plan.spots_digest, "tables": plan.table_digests},
        "underbase": None
        if base is None
        else {"ink": record.inks[base.ink], "percent": underbase_percent, "choke_mm": choke_mm},
        "share_held": 0.0 if before is None else before.use().share_over_limit,
        "intent": intent,
        "classes": classes,
        "mean_coverage_percent": {
            ink: round(value * 100, 4) for ink, value in zip(use.inks, use.mean_coverage, strict=True)
        },
        "highest_total_percent": round(use.max_total * 100, 3),
        "total_ink_limit_percent": round(record.limits.total * 100, 3),
        "share_over_limit": use.share_over_limit,
        "condition": digest,
        "link": table.digest,
        "veil": None if laid is None or laid.veil is None else laid.veil.digest,
    }
    problems = [*recipe_problems(record), *underbase_problems(record, base), *cloth_problems(record, artwork)]
    if artwork.classes is None and (intent_graphics or intent_text):
        problems.append(
            Problem(
                "warning",
                "classes",
                "only PDF tells pictures, line work and type apart: all is printed as pictures",
                expected=f"intent {intent}",
            )
        )
    if own_space:
        problems.append(
            Problem(
                "note",
                "profile",
                "the artwork is in the design space of this condition, so it goes straight to its inks",
                expected="intent relative",
            )
        )
    if base is not None and before is not None:
        held = held_problem(record, base, before.use())
        problems += [] if held is None else [held]
    if use.share_over_limit > 0:
        problems.append(_over_limit(use, record.limits.total))
    mean = "  ".join(
        f"{ink} {value * 100:.1f} %" for ink, value in zip(use.inks, use.mean_coverage, strict=True)
    )
    lines = (
        f"{artwork.width} x {artwork.height} px, {artwork.kind}, {artwork.bits} bit, "
        f"{artwork.profile_origin}",
        f"mean ink {mean}; highest total {use.max_total * 100:.1f} %",
    )
    return Result(results, tuple(problems), (Path(out),), "done", lines)


def _over_limit(use: InkUse, limit: float) -> Problem:
    """Return what is said of pixels above the total."""
    return Problem(
        "error",
        "planes",
        "pixels above the total ink limit",
        found=f"{100 * use.share_over_limit:.2f} % of the pixels, up to {100 * use.max_total:.1f} % of ink",
        expected=f"at most {100 * limit:.1f} %",
        advice="Report it with condition and artwork: planes are made to hold the limit",
    )


def _pitch(record: Condition, dpi: float | None) -> tuple[float, float] | None:
    """Return the pitch at which a page is drawn: as asked, or that of the press."""
    if dpi is not None:
        return dpi, dpi
    screen = record.spaces.screen
    return None if screen is None else (float(screen.dpi_x), float(screen.dpi_y))


def planes_info(record: Condition, digest: str) -> dict[str, Any]:
    """Return what planes of a condition say about themselves."""
    day = record.goods.valid_until
    ends = {} if day is None else {"valid_until": day.isoformat()}
    return {
        "schema": PLANES_SCHEMA,
        "ink_space": "calibrated",
        "condition": {"name": record.name, "digest": digest, "label": record.label} | ends,
        "ink_columns": list(record.ink_columns),
        "total_ink": record.limits.total,
        "recipe_rules": RECIPE_RULES,
        "ink_spaces": None if record.spaces.is_plain else record.spaces.as_record(),
    }
