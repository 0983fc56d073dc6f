"""The sheet of colourways: pictures on the cloth's white, colours, contrasts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.artwork.flat_survey import FlatSurvey
from strikeoff.base.files import write_text
from strikeoff.colour.cielab import lab_to_xyz
from strikeoff.condition.record import Condition
from strikeoff.report.page import Section, render_page
from strikeoff.report.paper import write_pdf
from strikeoff.report.plots_colourways import (
    ColourwayView,
    SwatchView,
    colourway_drawings,
    write_drawings_png,
)
from strikeoff.report.screen_colour import encode_srgb, hex_colour, xyz_to_linear_srgb
from strikeoff.report.tables import paragraph, table_html
from strikeoff.spot.wishes import ColourwayPrint
from strikeoff.workbench.recolouring_report import is_undecided

#: Endings of sheets.
SHEETS = (".html", ".pdf", ".png")
_MOST_PAIRS = 10


@dataclass(frozen=True)
class Sheet:
    """What a sheet shows.

    Attributes
    ----------
    record : Condition
        What it is printed in.
    names : tuple of str
        Palette colours.
    survey : FlatSurvey
        The artwork.
    prints : tuple of ColourwayPrint
        The colourways.
    rows : list of dict
        The same as they are reported.
    artwork : str
        Name of the file.
    """

    record: Condition
    names: tuple[str, ...]
    survey: FlatSurvey
    prints: tuple[ColourwayPrint, ...]
    rows: list[dict[str, Any]]
    artwork: str


def write_sheet(path: str | Path, sheet: Sheet) -> None:
    """Write a sheet in the form of its ending."""
    record = sheet.record
    views = [_view(sheet, way, row) for way, row in zip(sheet.prints, sheet.rows, strict=True)]
    drawings = colourway_drawings(views, hex_colour(record.cloth_lab, record.native.view.white))
    form = Path(path).suffix.lower()
    if form == ".png":
        write_drawings_png(path, drawings)
        return
    light = "/".join(record.light())
    words = (
        f"Predicted under {light} on the white of the cloth. In each pair of patches the left is the wish,"
        " the right the print; a single patch is a recipe. A screen or an office printer shows colours less"
        " exactly than the numbers."
    )
    sections = [
        Section(
            "colourways", "Colourways", paragraph(words) + "".join(drawings), record.label, tuple(drawings)
        )
    ]
    sections += [_colours(row, k) for k, row in enumerate(sheet.rows, 1)]
    sections.append(_contrasts(sheet.rows, record.label))
    title = f"Colourways of {sheet.artwork}"
    lead = f"{len(sheet.rows)} colourways of {len(sheet.names)} colours on {record.name}"
    if form == ".pdf":
        write_pdf(path, title, lead, sections)
    else:
        write_text(path, render_page(title, lead, sections))


def _view(sheet: Sheet, way: ColourwayPrint, row: dict[str, Any]) -> ColourwayView:
    white = sheet.record.native.view.white
    xyz = sheet.survey.linear(lab_to_xyz(way.print_lab(sheet.record), white))
    picture: NDArray[np.uint8] = encode_srgb(xyz_to_linear_srgb(xyz, white))
    swatches = tuple(
        SwatchView(
            colour["name"],
            colour["wished_hex"],
            colour["hex"],
            " ".join(f"{v:.1f}" for v in colour["lab"]),
            said(colour),
        )
        for colour in row["colours"]
    )
    far = sum(colour["in_reach"] is False for colour in row["colours"])
    merged = [" + ".join(pair["colours"]) for pair in row["pairs"] if pair["merges"]]
    unsure = sum(is_undecided(colour) for colour in row["colours"])
    counts = ((far, "out of reach"), (unsure, "undecided"))
    words = [f"{count} of {len(swatches)} {what}" for count, what in counts if count] or ["all in reach"]
    words += [f"merge: {', '.join(merged)}"] if merged else []
    return ColourwayView(row["name"], picture, swatches, f"{sheet.record.label}: {'; '.join(words)}")


def said(colour: dict[str, Any]) -> str:
    """Return one line on a colour of a colourway."""
    if is_undecided(colour):
        return f"{colour['wish']}; undecided under {colour['light']['illuminant']}"
    if colour["in_reach"] is None:
        return f"recipe {colour['wish']}"
    if colour["in_reach"]:
        return f"{colour['wish']}; in reach, CIEDE2000 {colour['de00']:.2f}"
    return f"{colour['wish']}; off by {colour['de00']:.1f}: {', '.join(colour['direction']) or 'close'}"


def _figure(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


def _lab(values: Sequence[float] | None) -> str:
    return "-" if values is None else " ".join(f"{v:.1f}" for v in values)


def _print_is(colour: dict[str, Any]) -> str:
    if is_undecided(colour):
        return f"undecided under {colour['light']['illuminant']}"
    return ", ".join(colour["direction"]) or ("recipe" if colour["in_reach"] is None else "in reach")


def _colours(row: dict[str, Any], number: int) -> Section:
    head = (
        "colour", "wish", "L* a* b* wished", "L* a* b* printed", "CIEDE2000", "90 % radius", "print is",
        "recipe [%]",
    )  # fmt: skip
    cells = [
        [
            colour["name"],
            colour["wish"],
            _lab(colour["wished_lab"]),
            _lab(colour["lab"]),
            _figure(colour["de00"]),
            _figure(colour["de00_u90"]),
            _print_is(colour),
            " ".join(f"{ink} {amount:.1f}" for ink, amount in colour["recipe_percent"].items()) or "none",
        ]
        for colour in row["colours"]
    ]
    return Section(f"colourway-{number}", row["name"], table_html(head, cells, words=True))


def _contrasts(rows: Sequence[dict[str, Any]], label: str) -> Section:
    head = ("colourway", "colours", "in the artwork", "wished", "printed", "L* step", "remark")
    cells = []
    for row in rows:
        for at, pair in enumerate(row["pairs"]):
            if at >= _MOST_PAIRS and not pair["merges"]:
                continue
            remark = "merge" if pair["merges"] else "light and dark change places" if pair["turns"] else "-"
            cells.append(
                [
                    row["name"],
                    " / ".join(pair["colours"]),
                    _figure(pair["de00_artwork"]),
                    _figure(pair["de00_wished"]),
                    _figure(pair["de00"]),
                    f"{pair['lightness']:+.1f}",
                    remark,
                ]
            )
    words = paragraph(
        f"CIEDE2000 between colours that meet in the artwork: the {_MOST_PAIRS} closest of each colourway."
    )
    return Section("contrast", "Contrast", words + table_html(head, cells, words=True), label)
