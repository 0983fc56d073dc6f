"""Flat artwork in other colours: ink planes, pictures and a sheet of many colourways, unmixed once."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.artwork.flat_survey import scratch_weights, survey_flat
from strikeoff.artwork.linear_rgb import LinearRgb, flat_rgb
from strikeoff.artwork.opening import open_artwork
from strikeoff.artwork.palette import LEAST_PURE, MOST_UNEXPLAINED_RAGGED, fit_palette, sampled
from strikeoff.artwork.palette_file import NamedPalette, read_palette
from strikeoff.artwork.pixels import with_pitch
from strikeoff.artwork.unmix import Palette, Unmixer
from strikeoff.base.canonical import digest_file
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import keep_inputs
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.base.units import pitch_mm
from strikeoff.condition.archive import read_condition
from strikeoff.condition.standing import recipe_problems
from strikeoff.raster.bands import BandSource
from strikeoff.spot.book import read_book
from strikeoff.spot.colourway import MOST_COLOURWAYS, Colourway, read_colourways
from strikeoff.spot.contrast import MERGE_DE00, ColourPair, colour_pairs
from strikeoff.spot.wishes import print_colourways
from strikeoff.workbench.recolouring_files import RecolourJob, file_stem, write_way
from strikeoff.workbench.recolouring_report import (
    colourway_problems,
    colourway_record,
    is_undecided,
    without_doubtful,
)
from strikeoff.workbench.recolouring_sheet import SHEETS, Sheet, write_sheet
from strikeoff.workbench.result import Result

#: What may be made of each colourway.
MAKES = ("both", "planes", "picture")
_MAP_PX = 360
_WORTH_TELLING = 5e-3


def recolour_artwork(
    image: str | Path,
    palette: str | Path,
    colourways: Sequence[str | Path],
    *,
    condition: str | Path,
    out: str | Path,
    make: str = "both",
    book: str | Path | None = None,
    sheet: str | Path | None = None,
    merge_de: float = MERGE_DE00,
    dpi: float | None = None,
    assume_profile: str | Path | None = None,
    progress: Progress = silent,
) -> Result:
    """Give flat artwork other colours: each colourway as ink planes and as a picture, and all on one sheet.

    Parameters
    ----------
    image : str or Path
        Artwork of few colours.
    palette : str or Path
        Its palette, from `artwork_palette`.
    colourways : sequence of str or Path
        Colourways, TOML or CSV.
    condition : str or Path
        Condition file.
    out : str or Path
        Folder for the files.
    make : {"both", "planes", "picture"}
        What is written for each colourway.
    book : str or Path, optional
        Swatch book, TOML, for swatches that colourways name.
    sheet : str or Path, optional
        Sheet with all colourways: page (.html), paper (.pdf) or picture (.png).
    merge_de : float
        CIEDE2000 below which two colours count as merged, above 0.
    dpi : float, optional
        Resolution to state, whatever the artwork says. [dots per inch]
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
        When the palette does not fit the artwork, a colourway names a colour or a swatch that is not
        there, or a recipe does not fit the condition.
    """
    if make not in MAKES:
        raise UsageError("unknown thing to make", found=make, expected=", ".join(MAKES))
    if not merge_de > 0:
        raise UsageError("a difference is above 0", found=merge_de)
    form = None if sheet is None else Path(sheet).suffix.lower()
    if form is not None and form not in SHEETS:
        raise UsageError("unknown kind of sheet", found=form or str(sheet), expected=", ".join(SHEETS))
    record, digest = read_condition(condition)
    named = read_palette(palette)
    ways = _all_ways(colourways, named.names)
    swatches = None if book is None else read_book(book)
    stems = [file_stem(way.name) for way in ways]
    for name in (f"{stem}-{what}.tif" for stem in stems for what in ("planes", "picture")):
        keep_inputs(Path(out) / name, image, palette, *colourways, condition, book, assume_profile)
    artwork = open_artwork(image, assume_profile=assume_profile)
    source, space, read_as = flat_rgb(artwork)
    if dpi is not None:
        source = with_pitch(source, (pitch_mm(dpi), pitch_mm(dpi)))
    colours = _palette(source, space, named, artwork.digest)
    unmixer = Unmixer(source, space, colours)
    _check_fit(unmixer, image)
    prints = print_colourways(
        record, ways, named.names, named.lab, swatches, lambda f: progress("find recipes", f)
    )
    prints, doubts = without_doubtful(record, prints)
    with closing(scratch_weights(unmixer, out)) as kept:
        survey = survey_flat(unmixer, _MAP_PX, keep=kept.keep, step=lambda f: progress("unmix", f))
        _check_shares(survey.unexplained, survey.pure, image)
        job = RecolourJob(record, digest, artwork, space, named, colours, survey, kept)
        outputs, rows = [], []
        problems = [*recipe_problems(record), *doubts, *artwork.problems, *_problems(job)]
        pairs_of: list[list[ColourPair]] = []
        for at, way in enumerate(prints):
            made = write_way(job, way, Path(out), make, at, len(prints), progress)
            pairs = colour_pairs(
                record.connection.from_relative(named.lab), way.wished_lab(record), way.print_lab(record),
                survey.borders, merge_de,
            )  # fmt: skip
            pairs_of.append(pairs)
            rows.append(colourway_record(record, way, named.names, pairs, made.use) | {"files": made.files})
            problems += colourway_problems(rows[-1], ways[at], named.names)
            outputs += made.outputs
    if sheet is not None:
        progress("draw the sheet", 0.0)
        write_sheet(sheet, Sheet(record, named.names, survey, prints, rows, Path(image).name))
        outputs.append(Path(sheet))
    results: dict[str, Any] = {
        "width_px": artwork.width,
        "height_px": artwork.height,
        "read_as": read_as,
        "colours": [
            {
                "name": name,
                "lab": np.round(named.lab[k], 2).tolist(),
                "share": round(float(survey.shares[k]), 6),
            }
            for k, name in enumerate(named.names)
        ],
        "unexplained_share": round(survey.unexplained, 6),
        "colourways": rows,
        "cloth_lab": np.round(record.cloth_lab, 3).tolist(),
        "merge_de": merge_de,
        "total_ink_limit_percent": round(record.limits.total * 100, 3),
        "palette": digest_file(palette),
        "book": None if swatches is None else swatches.digest,
        "artwork": artwork.digest,
        "condition": digest,
        "label": record.label,
    }
    return Result(results, tuple(problems), tuple(outputs), "done", tuple(_line(row) for row in rows))


def _all_ways(paths: Sequence[str | Path], names: Sequence[str]) -> list[Colourway]:
    ways = [way for path in paths for way in read_colourways(path, names)]
    if not 0 < len(ways) <= MOST_COLOURWAYS:
        raise UsageError("number of colourways", found=len(ways), expected=f"1 to {MOST_COLOURWAYS}")
    stems = [file_stem(way.name) for way in ways]
    twice = sorted({stem for stem in stems if stems.count(stem) > 1})
    if twice:
        raise InputError(
            "two colourways have one name",
            found=twice[0][:60],
            advice='Name them in their files: name = "...", or the head of the column',
        )
    return ways


def _palette(source: BandSource, space: LinearRgb, named: NamedPalette, artwork: str) -> Palette:
    linear = space.from_lab(named.lab)
    held = space.holds(linear)
    if not held.all():
        raise InputError(
            "the artwork's colour space does not hold a colour of the palette",
            found=named.names[int(np.argmin(held))],
        )
    linear = np.clip(linear, 0.0, 1.0)
    # Noise and mixing hold for the artwork in which they were measured.
    own = named.artwork in (None, artwork)
    if own and named.noise is not None and named.mixing is not None:
        return Palette(linear, named.noise, named.mixing)
    fitted = fit_palette(source, space, linear, named.noise if own else None)
    return Palette(linear, fitted.noise, named.mixing or fitted.mixing) if own else fitted


def _check_fit(unmixer: Unmixer, image: str | Path) -> None:
    """Refuse after a few bands what the whole would only show later."""
    _check_shares(*sampled(unmixer), image)


def _check_shares(unexplained: float, pure: float, image: str | Path) -> None:
    if unexplained > MOST_UNEXPLAINED_RAGGED or pure < LEAST_PURE:
        raise InputError(
            "palette does not fit the artwork",
            path=image,
            found=f"{100 * unexplained:.0f} % of the pixels are no mixture of its colours, "
            f"{100 * pure:.0f} % are one alone",
            expected="flat artwork and all of its colours",
            advice="Find its palette with 'artwork palette'; pictures go through 'artwork separate'",
        )


def _problems(job: RecolourJob) -> list[Problem]:
    found = []
    if job.named.artwork is not None and job.named.artwork != job.artwork.digest:
        found.append(Problem("warning", "palette", "was found in other artwork than this"))
    if job.survey.unexplained > _WORTH_TELLING:
        found.append(
            Problem(
                "warning",
                "palette",
                "a colour may be missing: pixels that are no mixture take the nearest",
                found=f"{100 * job.survey.unexplained:.2f} % of the pixels",
            )
        )
    absent = [name for name, share in zip(job.named.names, job.survey.shares, strict=True) if share == 0]
    if absent:
        found.append(
            Problem("note", "palette", "colours that the artwork does not hold", ", ".join(absent)[:200])
        )
    return found


def _line(row: dict[str, Any]) -> str:
    far = [colour["name"] for colour in row["colours"] if colour["in_reach"] is False]
    merged = [" and ".join(pair["colours"]) for pair in row["pairs"] if pair["merges"]]
    unsure = [colour["name"] for colour in row["colours"] if is_undecided(colour)]
    words = [f"{len(far)} out of reach ({', '.join(far)})"] if far else []
    words += [f"{len(unsure)} undecided ({', '.join(unsure)})"] if unsure else []
    words = words or ["all in reach"]
    words += [f"merge: {'; '.join(merged)}"] if merged else []
    return f"{row['name']}: {'; '.join(words)}"
