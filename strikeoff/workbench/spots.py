"""Swatch books through a condition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import write_text
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.condition.archive import read_condition
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import recipe_problems
from strikeoff.report.page import Section, render_page
from strikeoff.report.plots_spots import SpotView, spots_picture
from strikeoff.report.screen_colour import hex_colour
from strikeoff.report.tables import paragraph, table_html
from strikeoff.spot.book import Swatch, SwatchBook, read_book
from strikeoff.spot.compiled import SpotPrint, SpotTables, write_spots
from strikeoff.spot.direction import difference_words
from strikeoff.spot.recipes import Matched, match_swatches
from strikeoff.spot.tints import TINTS, tint_table
from strikeoff.workbench.object_colours import out_of_reach_problem
from strikeoff.workbench.result import Result
from strikeoff.workbench.undecided import undecided_elsewhere

#: Lights under which spectral targets are compared with their print.
SPOT_LIGHTS = ("D50", "D65", "A", "FL11", "LED-B3")
_TONE_WORTH_TELLING = 0.02
_MOST_DRAWN = 60


def match_spots(
    condition: str | Path,
    book: str | Path,
    out: str | Path,
    *,
    page: str | Path | None = None,
    progress: Progress = silent,
) -> Result:
    """Find how a condition prints the named colours of a swatch book, and compile their tint tables.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    book : str or Path
        Swatch book, TOML.
    out : str or Path
        Tint tables to write, for the separation of artwork.
    page : str or Path, optional
        Page (.html) or drawing (.svg) to write.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    form = None if page is None else Path(page).suffix.lower()
    if form not in (None, ".html", ".svg"):
        raise UsageError("unknown kind of page", found=form or str(page), expected=".html or .svg")
    record, digest = read_condition(condition)
    swatches = read_book(book)
    progress("match the colours", 0.0)
    try:
        matched = match_swatches(
            record, swatches.swatches, SPOT_LIGHTS, step=lambda f: progress("match the colours", f)
        )
    except InputError as error:
        error.path = error.path or str(book)
        raise
    matched, doubts = _without_doubtful(record, matched)
    tables = SpotTables(
        tuple(found.swatch.name for found in matched),
        record.inks,
        np.stack([tint_table(TINTS, found.tints) for found in matched]),
        digest,
        swatches.digest,
        tuple(_print(found) for found in matched),
    )
    spots = write_spots(out, tables)
    rows = [_row(record, found, tables.digest_of(i)) for i, found in enumerate(matched)]
    results = {
        "book": {"name": swatches.name, "digest": swatches.digest},
        "colours": rows,
        "in_reach": sum(row["in_reach"] is True for row in rows),
        "out_of_reach": sum(row["in_reach"] is False for row in rows),
        "spots": spots,
        "condition": digest,
        "label": record.label,
    }
    outputs = [Path(out)]
    if page is not None:
        drawing = _drawing(record, swatches, matched, rows)
        write_text(page, drawing if form == ".svg" else _page(record, swatches, rows, drawing))
        outputs.append(Path(page))
    problems = (*recipe_problems(record), *doubts, *_problems(rows))
    return Result(results, problems, tuple(outputs), "done", _lines(rows))


def _without_doubtful(record: Condition, matched: Sequence[Matched]) -> tuple[list[Matched], list[Problem]]:
    """Take away what nobody can know of prints under other lights than the condition's own, and say why."""
    own = record.setup.illuminant
    elsewhere = [found.light[0] != own or any(light != own for light in found.lights) for found in matched]
    inks = np.stack([found.inks for found in matched])
    mask, problems = undecided_elsewhere(record, inks, np.array(elsewhere))
    kept = []
    for found, undecided in zip(matched, mask, strict=True):
        known = found.light[0] == own
        less = replace(
            found,
            lights={light: value for light, value in found.lights.items() if light == own},
            de00=found.de00 if known else None,
            de00_u90=found.de00_u90 if known else None,
        )
        kept.append(less if undecided else found)
    return kept, problems


def _print(found: Matched) -> SpotPrint:
    target = None if found.target_lab is None else tuple(found.target_lab.tolist())
    return SpotPrint(*found.light, tuple(found.lab.tolist()), target, found.de00, found.lights)


def _kind(swatch: Swatch) -> str:
    if swatch.ink is not None:
        return "ink"
    return "recipe" if swatch.recipe is not None else "spectrum" if swatch.spectrum else "lab"


def _row(record: Condition, found: Matched, table: str) -> dict[str, Any]:
    inks = {
        ink: round(float(amount) * 100, 3)
        for ink, amount in zip(record.inks, found.inks, strict=True)
        if amount > 0
    }
    words = () if found.target_lab is None else difference_words(found.target_lab, found.lab)
    return {
        "name": found.swatch.name,
        "kind": _kind(found.swatch),
        "light": {"illuminant": found.light[0], "observer": found.light[1]},
        "target_lab": None if found.target_lab is None else np.round(found.target_lab, 3).tolist(),
        "recipe_percent": inks,
        "lab": np.round(found.lab, 3).tolist(),
        "de00": None if found.de00 is None else round(found.de00, 3),
        "de00_u90": None if found.de00_u90 is None else round(found.de00_u90, 3),
        "in_reach": found.in_reach,
        "direction": list(words) if found.in_reach is False else [],
        "lights_de00": {light: round(value, 3) for light, value in found.lights.items()},
        "tone_error_percent": round(found.tone_error * 100, 2),
        "table": table,
    }


def _problems(rows: Sequence[dict[str, Any]]) -> tuple[Problem, ...]:
    found = []
    for row in rows:
        where = f"colour {row['name']}"
        if row["in_reach"] is False:
            found.append(
                out_of_reach_problem(
                    where,
                    _words(row) or "close",
                    row["de00"],
                    row["target_lab"],
                    (row["light"]["illuminant"], row["light"]["observer"]),
                )
            )
        if row["tone_error_percent"] > _TONE_WORTH_TELLING * 100:
            found.append(
                Problem(
                    "note",
                    where,
                    "its tints miss their tone value, for no ink may fall from one tint to the next",
                    found=f"{row['tone_error_percent']:.1f} %",
                )
            )
    return tuple(found)


def _words(row: dict[str, Any]) -> str:
    return ", ".join(row["direction"])


def _said(row: dict[str, Any]) -> str:
    """Return one line on a colour."""
    if row["in_reach"] is None and row["kind"] in ("lab", "spectrum"):
        return f"undecided under {row['light']['illuminant']}"
    if row["in_reach"] is None:
        return "ink by name" if row["kind"] == "ink" else "fixed recipe"
    if row["in_reach"]:
        return f"in reach, CIEDE2000 {row['de00']:.2f}"
    return f"out of reach by {row['de00']:.1f} CIEDE2000: print is {_words(row) or 'close'}"


def _recipe(row: dict[str, Any]) -> str:
    return " ".join(f"{ink} {amount:.1f}" for ink, amount in row["recipe_percent"].items()) or "none"


def _lines(rows: Sequence[dict[str, Any]]) -> tuple[str, ...]:
    wide = min(max(len(row["name"]) for row in rows), 30)
    return tuple(f"{row['name'][:30]:<{wide}}  {_said(row)}; {_recipe(row)} %" for row in rows)


def _drawing(
    record: Condition, book: SwatchBook, matched: Sequence[Matched], rows: Sequence[dict[str, Any]]
) -> str:
    views = []
    for found, row in zip(matched[:_MOST_DRAWN], rows, strict=False):
        white = record.under(*found.light).view.white
        views.append(
            SpotView(
                found.swatch.name,
                None if found.target_lab is None else hex_colour(found.target_lab, white),
                hex_colour(found.lab, white),
                tuple(hex_colour(lab, white) for lab in found.tint_lab[::2]),
                _said(row),
            )
        )
    return spots_picture(views, f"{book.name} on {record.name}")


def _page(record: Condition, book: SwatchBook, rows: Sequence[dict[str, Any]], drawing: str) -> str:
    def figure(value: float | None, absent: str = "-") -> str:
        return absent if value is None else f"{value:.2f}"

    cells = [
        [
            row["name"],
            f"{row['light']['illuminant']}/{row['light']['observer']}",
            _recipe(row),
            " ".join(f"{v:.1f}" for v in row["lab"]),
            figure(row["de00"]),
            figure(row["de00_u90"]),
            _words(row) or "-",
        ]
        for row in rows
    ]
    head = ("colour", "light", "recipe [%]", "L* a* b* of the print", "CIEDE2000", "90 % radius", "print is")
    under = [
        [row["name"], *(figure(row["lights_de00"].get(light), "undecided") for light in SPOT_LIGHTS)]
        for row in rows
        if row["kind"] == "spectrum" and record.has_spectra
    ]
    sections = [Section("colours", "Colours", drawing, record.label)]
    sections.append(Section("recipes", "Recipes", table_html(head, cells, words=True), record.label))
    if under:
        words = paragraph("CIEDE2000 between the spectrum asked for and the predicted print.")
        table = table_html(("colour", *SPOT_LIGHTS), under)
        sections.append(Section("lights", "Under other lights", words + table, record.label))
    lead = f"Named colours of {book.name} on {record.name}; tints by tone value of ISO 20654"
    return render_page(f"Swatch book {book.name}", lead, sections)
