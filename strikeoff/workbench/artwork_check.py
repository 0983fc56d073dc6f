"""What is wrong with artwork for a condition and a finished size."""

from __future__ import annotations

import math
from html import escape
from pathlib import Path
from typing import Any

import numpy as np

from strikeoff.artwork.opening import open_artwork
from strikeoff.artwork.pdf_wish import POINTS_PER_INCH, PageWish
from strikeoff.artwork.records import Artwork
from strikeoff.base.errors import UsageError
from strikeoff.base.files import write_text
from strikeoff.base.progress import Progress, silent
from strikeoff.condition.archive import read_condition
from strikeoff.condition.standing import recipe_problems
from strikeoff.intake.check import findings, look_at
from strikeoff.intake.colour_checks import ink_figures, out_of_gamut_share, solid_lab
from strikeoff.intake.pictures import reduced, shown
from strikeoff.intake.records import Finding, Wish
from strikeoff.intake.repeat_checks import joins
from strikeoff.intake.size_checks import effective_ppi
from strikeoff.intake.subject import Subject
from strikeoff.layout.repeat import lattice_of
from strikeoff.report.page import Section, render_page
from strikeoff.report.preview import picture
from strikeoff.report.tables import facts_html, paragraph
from strikeoff.separation.named import inks_for
from strikeoff.workbench.artwork_named import spots_for
from strikeoff.workbench.result import Outcome, Result

_PAGE_PX = 1200.0
_SWATCH = "display:inline-block;width:2.2em;height:1.2em;"
_GROUPS = (("error", "Faults"), ("warning", "Warnings"), ("note", "To be known"))


def check_artwork(
    condition: str | Path,
    image: str | Path,
    *,
    finished: tuple[float, float],
    repeat: str = "none",
    offset: str | None = None,
    mirror: str | None = None,
    turned: bool = False,
    only: str | None = None,
    bleed: float = 0.0,
    least_ppi: float = 150.0,
    least_line: float = 0.3,
    intent: str = "perceptual",
    assume_profile: str | Path | None = None,
    page: int = 1,
    box: str = "trim",
    spots: str | Path | None = None,
    out: str | Path | None = None,
    progress: Progress = silent,
) -> Result:
    """Check artwork before anything is printed.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    image : str or Path
        PDF, TIFF, JPEG, PNG or PSD.
    finished : tuple of float
        Size on the finished goods (across, along). [mm]
    repeat : {"none", "straight", "half-drop", "drop", "brick"}
        How it repeats; its edges are then compared.
    offset : str, optional
        How far a drop or brick moves, as a fraction such as ``1/3`` of its height or width.
    mirror : {"across", "along", "both"}, optional
        Which repeats are mirrored.
    turned : bool
        Every other repeat is turned by 180 degrees.
    only : {"across", "along"}, optional
        The one direction in which a stripe or border repeats.
    bleed : float
        Bleed that is needed at each edge, finished. [mm]
    least_ppi : float
        Resolution at the finished size below which pixels may show. [pixels per inch]
    least_line : float
        Thinnest line that the cloth holds, finished. [mm]
    intent : str
        Rendering intent with which it would be separated.
    assume_profile : str or Path, optional
        ICC profile for artwork that carries none.
    page : int
        Page of a PDF, from 1.
    box : {"trim", "bleed", "crop", "media", "art"}
        Which of its boxes is printed.
    spots : str or Path, optional
        Tint tables of a swatch book, compiled for this condition; they go before inks of the same name.
    out : str or Path, optional
        Page to write, HTML.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
        ``fail`` when something would spoil the goods, else ``pass``.
    """
    if repeat == "none" and (offset or mirror or turned or only):
        raise UsageError("artwork that does not repeat has no lattice", expected="--repeat and its kind")
    lattice = "none" if repeat == "none" else lattice_of(repeat, offset, mirror, turned, only)
    wish = Wish((finished[0], finished[1]), lattice, bleed, least_ppi, least_line, intent)
    record, digest = read_condition(condition)
    book, _ = spots_for(record, digest, spots)
    artwork = open_small(image, assume_profile, page, box, _PAGE_PX)
    named = inks_for(artwork.named, record.inks, record.spaces.channels)
    subject = look_at(artwork, record, wish, named, lambda f: progress("look at the artwork", f), book)
    found = findings(subject)
    results = _results(subject, found, digest)
    outputs: tuple[Path, ...] = ()
    if out is not None:
        progress("write the page", 0.9)
        write_text(out, _page(subject, found, results))
        outputs = (Path(out),)
    lines = [f"{len(found)} findings" if len(found) != 1 else "1 finding"]
    lines += [
        f"{finding.severity}: {finding.topic}: {finding.message}"
        + (f" ({finding.found})" if finding.found else "")
        + f". {finding.fix}"
        for finding in found
    ]
    outcome: Outcome = "fail" if any(finding.severity == "error" for finding in found) else "pass"
    told = {finding.message for finding in found}
    problems = (*recipe_problems(record), *(p for p in artwork.problems if p.message not in told))
    return Result(results, problems, outputs, outcome, tuple(lines))


def open_small(
    image: str | Path,
    assume_profile: str | Path | None,
    page: int,
    box: str,
    longer_px: float,
    fallback: frozenset[str] | None = frozenset(),
) -> Artwork:
    """Open artwork; a page at the pitch that makes its longer side about so many pixels."""
    artwork = open_artwork(image, assume_profile=assume_profile, wish=PageWish((9.0, 9.0), page, box))
    if artwork.page is None:
        return artwork
    pitch = longer_px / max(artwork.page.size_pt(box)) * POINTS_PER_INCH
    wish = PageWish((pitch, pitch), page, box, fallback)
    return open_artwork(image, assume_profile=assume_profile, wish=wish)


def _results(subject: Subject, found: tuple[Finding, ...], digest: str) -> dict[str, Any]:
    artwork, ppi = subject.artwork, effective_ppi(subject)
    share, ink = out_of_gamut_share(subject), ink_figures(subject)
    limit = subject.condition.limits.total * 100
    stated = subject.stated_mm
    return {
        "findings": [finding.as_record() for finding in found],
        "artwork": artwork.digest,
        "artwork_kind": artwork.kind,
        "profile": artwork.profile_origin,
        "finished_mm": list(subject.wish.finished_mm),
        "stated_mm": None if stated is None else [round(side, 3) for side in stated],
        "effective_ppi": None if ppi is None else [round(value, 1) for value in ppi],
        "named": [_named_record(subject, name) for name in artwork.named],
        "out_of_gamut_share": share,
        "worst_colours": [
            {"lab": _rounded(lab), "reached_lab": _rounded(reached), "de00": round(error, 2), "share": part}
            for lab, reached, error, part in (subject.need.worst if subject.need else ())
        ],
        "highest_total_percent": None if ink is None else round(min(ink[0], 1.0) * limit, 2),
        "mean_total_percent": None if ink is None else round(ink[1] * limit, 2),
        "share_at_limit": None if ink is None else ink[2],
        "repeat": None if subject.wish.lattice is None else subject.wish.lattice.name,
        "joins": [
            {"edge": join.name, "jump_de": round(join.jump_de, 3), "over_inside": round(join.over_inside, 3)}
            for join in joins(subject)
        ],
        "condition": digest,
        "label": subject.condition.label,
    }


def _named_record(subject: Subject, name: str) -> dict[str, Any]:
    condition, ink, printed = subject.condition, subject.named_inks.get(name), subject.swatches.get(name)
    by_swatch = {
        "by_swatch": name in subject.swatches,
        "swatch": None if printed is None else printed.as_record(),
    }
    if ink is None:
        lab = None if printed is None else [round(value, 2) for value in printed.lab]
        return {"name": name, "ink": None, "full_tone_lab": lab, **by_swatch}
    solid = _rounded(solid_lab(condition, ink))
    return {"name": name, "ink": condition.spaces.channels[ink], "full_tone_lab": solid, **by_swatch}


def _rounded(lab: np.ndarray[Any, Any]) -> list[float]:
    return [round(float(value), 2) for value in lab]


def _page(subject: Subject, found: tuple[Finding, ...], results: dict[str, Any]) -> str:
    name = Path(subject.artwork.path).name
    wide, high = subject.wish.finished_mm
    sections = [_artwork_section(subject, results)]
    for severity, title in _GROUPS:
        group = [finding for finding in found if finding.severity == severity]
        if group:
            body = "".join(_finding_html(finding) for finding in group)
            label = subject.condition.label if any(f.topic in ("gamut", "ink") for f in group) else ""
            sections.append(Section(f"{severity}s", f"{title} ({len(group)})", body, label))
    if results["worst_colours"]:
        sections.append(_colour_section(subject))
    verdict = (
        "not fit to print as it is" if any(f.severity == "error" for f in found) else "nothing that stops it"
    )
    lead = f"For {wide:g} x {high:g} mm finished, printed as {subject.condition.name}: {verdict}."
    return render_page(f"Check of {name}", lead, sections)


def _artwork_section(subject: Subject, results: dict[str, Any]) -> Section:
    artwork = subject.artwork
    ppi, stated = results["effective_ppi"], results["stated_mm"]
    share = results["out_of_gamut_share"]
    facts = [
        ("Kind", f"{artwork.kind}, {artwork.bits} bit, {artwork.profile_origin}"),
        (
            "Pixels",
            f"{artwork.width} x {artwork.height}" if artwork.page is None else "a page, drawn as needed",
        ),
        ("Size in the file", "not stated" if stated is None else f"{stated[0]:.1f} x {stated[1]:.1f} mm"),
        (
            "Effective resolution",
            "no images" if ppi is None else f"{ppi[0]:.0f} x {ppi[1]:.0f} pixels per inch",
        ),
        ("Named colours", ", ".join(n["name"] for n in results["named"]) or "none"),
        ("Out of gamut", "not known" if share is None else f"{100 * share:.1f} % of the picture"),
        ("Digest", artwork.digest.removeprefix("sha256:")[:16]),
    ]
    body = picture(reduced(subject.picture), "The artwork") + facts_html(facts)
    return Section("artwork", "The artwork", body, subject.condition.label if share is not None else "")


def _finding_html(finding: Finding) -> str:
    facts = [("Found", finding.found), ("Expected", finding.expected), ("What to do", finding.fix)]
    html = f"<h3>{escape(finding.topic[0].upper() + finding.topic[1:])}: {escape(finding.message)}</h3>"
    html += facts_html([(name, value) for name, value in facts if value])
    if finding.picture is not None:
        html += picture(finding.picture, f"{finding.topic}: {finding.caption}")
        html += paragraph(finding.caption + ".", quiet=True)
    return html


def _colour_section(subject: Subject) -> Section:
    assert subject.need is not None
    rows = []
    for lab, reached, error, share in subject.need.worst:
        pair = shown(np.repeat(np.stack([lab, reached])[None], 1, axis=0))
        swatch = "".join(
            f'<span style="{_SWATCH}background:#{bytes(colour).hex()}"></span>' for colour in pair[0]
        )
        hue = math.degrees(math.atan2(lab[2], lab[1])) % 360
        rows.append(
            [swatch, f"{lab[0]:.0f}", f"{math.hypot(lab[1], lab[2]):.0f}", f"{hue:.0f}", f"{reached[0]:.0f}",
             f"{math.hypot(reached[1], reached[2]):.0f}", f"{error:.1f}", f"{100 * share:.2f} %"]
        )  # fmt: skip
    header = ["Asked, printed", "L*", "C*", "Hue", "L* printed", "C* printed", "CIEDE2000", "Share"]
    body = paragraph("Colours farthest from what the inks reach, relative to the cloth.")
    cells = "".join("<tr>" + "".join(f"<td>{cell}</td>" for cell in row) + "</tr>" for row in rows)
    heads = "".join(f"<th>{escape(text)}</th>" for text in header)
    body += f"<table><thead><tr>{heads}</tr></thead><tbody>{cells}</tbody></table>"
    return Section("colours", "Colours that will change", body, subject.condition.label)
