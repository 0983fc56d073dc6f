"""How much colour a condition holds, and how much of another's."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from strikeoff.base.canonical import digest_bytes
from strikeoff.base.errors import InputError, UsageError
from strikeoff.base.files import read_bytes, write_text
from strikeoff.base.problems import Problem, raise_first_error
from strikeoff.base.progress import Progress, silent
from strikeoff.condition.archive import read_condition
from strikeoff.condition.record import Condition
from strikeoff.condition.standing import date_problems
from strikeoff.icc.profile import read_profile
from strikeoff.measurement.read import read_readings, readings_lab
from strikeoff.model.gamut import MAPPING_SPACE, WORST_HUE, WORST_HUE_STEPS
from strikeoff.model.gamut_body import GamutBody, shared_volume
from strikeoff.model.inverse import IN_GAMUT_DE00, solve
from strikeoff.report.page import Section, render_page
from strikeoff.report.plots_gamut import gamut_solid
from strikeoff.report.plots_gamut_compare import GamutOutline, gamut_comparison
from strikeoff.report.tables import facts_html, paragraph, table_html
from strikeoff.workbench.gamut_bodies import condition_body, profile_body
from strikeoff.workbench.hue_reach import HueReach, hue_reach
from strikeoff.workbench.object_colours import object_colour_problems, row_places
from strikeoff.workbench.result import Result

FloatArray = NDArray[np.float64]

_CUTS, _HUES = (30.0, 50.0, 70.0), (90.0, 0.0)
# How far above the darkest neutral a gamut is worth a cut that nobody asked for. [L*]
_ABOVE_BLACK = 5.0
_MOST_CUTS = 12
_PROFILE_BYTES = 64 << 20
_WORST = 10
# Colours that tables miss by so much are not sought once more one by one. [CIEDE2000]
_SURELY_OUT = 5.0
_D50 = np.array([96.42, 100.0, 82.49])


def measure_gamut(
    condition: str | Path,
    out: str | Path,
    *,
    compare: str | Path | None = None,
    lightness: Sequence[float] = (),
    hues: Sequence[float] = (),
    progress: Progress = silent,
) -> Result:
    """Measure and draw the gamut of a condition under its limits.

    Parameters
    ----------
    condition : str or Path
        Condition file.
    out : str or Path
        Page (.html) or drawing (.svg) to write.
    compare : str or Path, optional
        Another condition, an ICC profile, or a file of colours.
    lightness : sequence of float
        Where the gamut is cut; L* 30, 50 and 70 by default, 40 for 30 where it hardly reaches that.
    hues : sequence of float
        Hue angles of cuts through the grey axis; 90 and 0 by default. [degrees]
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result
    """
    form = Path(out).suffix.lower()
    if form not in (".html", ".svg"):
        raise UsageError("unknown kind of output", found=form or str(out), expected=".html or .svg")
    levels, angles = _cuts(lightness, _CUTS, 0.0, 100.0), _cuts(hues, _HUES, 0.0, 360.0)
    record, digest = read_condition(condition)
    progress("measure the gamut", 0.0)
    body = condition_body(record)
    levels = levels if lightness else usual_levels(float(body.mesh()[0, :, 0].max()))
    results: dict[str, Any] = {
        "name": record.name,
        "condition": digest,
        "label": record.label,
        "light": {"illuminant": record.setup.illuminant, "observer": record.setup.observer},
        "volume": round(body.volume()),
        "areas": [
            {"lightness": level, "area": round(_area(body.cut(level)))}
            for level in sorted({*range(10, 100, 10), *(lightness and levels)})
        ],
        "hue_cuts": [_hue_cut(reach) for reach in hue_reach(record, angles)],
        "worst_hue": {
            "space": MAPPING_SPACE,
            "munsell_hue": WORST_HUE,
            "departure_steps": WORST_HUE_STEPS,
        },
        "compared": None,
    }
    lines = [f"{record.name}: {results['volume']:,} cubic L*a*b* units, absolute D50"]
    outlines, colours = [_outline(record.name, body, levels)], None
    problems: list[Problem] = []
    if compare is not None:
        progress("compare", 0.4)
        name, kind, data = Path(compare).name, *_kind(compare)
        if kind == "colours":
            colours, found, problems = _cover_colours(record, compare)
            said = f"{found['in_gamut']} of {found['colours']} colours of {name} are in gamut"
            if worst := found["worst"]:
                said += f"; {worst[0]['id']} is farthest from it, by {worst[0]['de00']:.1f} CIEDE2000"
        else:
            called, other = _other_body(compare, data, record.name)
            outlines.append(_outline(called, other, levels))
            found = _shares(body, other)
            said = (
                f"{called}: {found['volume']:,} cubic L*a*b* units; "
                f"{100 * found['covered_share']:.1f} % of it lies within {record.name}, and it holds "
                f"{100 * found['covers_share']:.1f} % of {record.name}"
            )
        results["compared"] = {"name": name, "kind": kind, "digest": digest_bytes(data)} | found
        lines.append(said)
    progress("draw", 0.8)
    drawing = gamut_comparison(outlines, levels, hues=angles, colours=colours)
    if form == ".svg":
        write_text(out, drawing)
    else:
        write_text(out, _page(record, results, lines, drawing, body))
    problems += date_problems(record.goods)
    return Result(results, tuple(problems), (Path(out),), "done", tuple(lines))


def usual_levels(darkest: float) -> tuple[float, ...]:
    """Return the L* at which a gamut of a darkest neutral is cut unless otherwise asked.

    Examples
    --------
    >>> usual_levels(18.0), usual_levels(29.8)
    ((30.0, 50.0, 70.0), (40.0, 50.0, 70.0))
    """
    low, *rest = _CUTS
    return (low if darkest <= low - _ABOVE_BLACK else low + 10.0, *rest)


def _kind(path: str | Path) -> tuple[str, bytes]:
    data = read_bytes(path, 256 << 20)
    if data[:4] == b"PK\x03\x04":
        return "condition", data
    return ("profile" if data[36:40] == b"acsp" else "colours"), data


def _other_body(path: str | Path, data: bytes, beside: str) -> tuple[str, GamutBody]:
    """Return what a gamut is called, unlike the name that it stands beside, and its body."""
    file = Path(path).name
    if data[:2] == b"PK":
        other, _ = read_condition(path)
        called = other.name if other.name != beside else f"{other.name} ({file})"
        return called, condition_body(other)
    try:
        return file, profile_body(read_profile(data))
    except InputError as error:
        error.path = error.path or str(path)
        raise


def _cover_colours(record: Condition, path: str | Path) -> tuple[FloatArray, dict[str, Any], list[Problem]]:
    wanted, problems = read_readings(path, need_inks=False)
    raise_first_error(problems, path)
    light, eye = record.setup.illuminant, record.setup.observer
    aim = readings_lab(wanted, light, eye) if wanted.spectra is not None else readings_lab(wanted)
    de00 = solve(record.inverse, aim, exact=False).de00.copy()
    # What tables miss by a little single colours may reach: with many inks the overprint of two at a corner.
    missed = np.flatnonzero((de00 > IN_GAMUT_DE00) & (de00 < _SURELY_OUT))
    if len(missed):
        de00[missed] = np.minimum(de00[missed], solve(record.inverse, aim[missed]).de00)
    inside = de00 <= IN_GAMUT_DE00
    problems += object_colour_problems(aim, (light, eye), row_places(wanted), ~inside)
    worst = [int(i) for i in np.argsort(-de00)[:_WORST] if not inside[i]]
    results = {
        "colours": len(aim),
        "in_gamut": int(inside.sum()),
        "covered_share": round(float(inside.mean()), 4),
        "mean_de00": round(float(de00.mean()), 3),
        "max_de00": round(float(de00.max()), 3),
        "worst": [{"id": wanted.sample_ids[i], "de00": round(float(de00[i]), 3)} for i in worst],
    }
    return record.connection.to_absolute(aim), results, problems


def _shares(body: GamutBody, other: GamutBody) -> dict[str, Any]:
    own, theirs, common = shared_volume(body, other)
    return {
        "volume": round(other.volume()),
        "common_volume": round(common),
        "covered_share": round(common / max(theirs, 1.0), 4),
        "covers_share": round(common / max(own, 1.0), 4),
    }


def _area(ring: FloatArray) -> float:
    if not len(ring):
        return 0.0
    x, y = ring.T
    return 0.5 * abs(float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()))


def _outline(name: str, body: GamutBody, levels: Sequence[float]) -> GamutOutline:
    return GamutOutline(name, body.mesh(), [body.cut(level) for level in levels])


def _cuts(asked: Sequence[float], usual: tuple[float, ...], low: float, high: float) -> tuple[float, ...]:
    """Return where to cut, as asked or as usual, none twice."""
    for value in asked:
        if not low <= value <= high:
            raise UsageError("cut is out of range", found=f"{value:g}", expected=f"{low:g} to {high:g}")
    found = tuple(dict.fromkeys(float(value) for value in asked)) or usual
    if len(found) > _MOST_CUTS:
        raise UsageError("too many cuts", found=len(found), expected=f"at most {_MOST_CUTS}")
    return found


def _hue_cut(reach: HueReach) -> dict[str, float]:
    """Return the largest chroma at a hue angle, 0 where there is none, and the lightness where it stands."""
    return {
        "hue": reach.hue,
        "largest_chroma": round(reach.chroma, 2),
        "lightness": round(reach.lightness, 2),
    }


def _white(record: Condition) -> str:
    return "the bare cloth" if record.white_recipe is None else f"white, {record.white_words}"


def _page(record: Condition, results: dict[str, Any], lines: list[str], drawing: str, body: GamutBody) -> str:
    facts = [("volume", f"{results['volume']:,} cubic L*a*b* units")]
    facts += [
        (f"area at L* {row['lightness']}", f"{row['area']:,} square a*b* units")
        for row in results["areas"]
        if row["area"]
    ]
    words = paragraph(
        "Absolute CIELAB under D50, adapted from the condition's light; what the model reaches under the ink "
        f"limits, from the darkest neutral to {_white(record)} (coloured darks below it are left out). "
        "Colours outside are brought in at constant hue in "
        f"{MAPPING_SPACE}, which keeps Munsell hues but for small departures: {WORST_HUE}, the worst, strays "
        f"by {WORST_HUE_STEPS:g} of the 40 steps of the hue circle (root mean square)."
    )
    labels = record.label
    solid = gamut_solid(body.mesh().reshape(-1, 3), _D50)
    sections = [
        Section("gamut", "Gamut", words + "".join(paragraph(line) for line in lines) + drawing, labels),
        *_compared_sections(results["compared"]),
        Section("solid", "In the round", solid + facts_html(facts), labels),
    ]
    lead = f"{record.setup.illuminant}, {record.setup.observer} degree observer. {results['condition']}"
    return render_page(f"Gamut of {record.name}", lead, sections)


def _compared_sections(compared: dict[str, Any] | None) -> list[Section]:
    """Say which file was compared, and of colours which ones the gamut lacks and by how much."""
    if compared is None:
        return []
    body = table_html(["File", "digest"], [[compared["name"], compared["digest"]]], words=True)
    if compared["kind"] != "colours":
        return [Section("compared", "Compared with", body)]
    out = compared["colours"] - compared["in_gamut"]
    facts = [
        ("colours", f"{compared['colours']:,}"),
        ("in gamut", f"{compared['in_gamut']:,}, within {IN_GAMUT_DE00:g} CIEDE2000"),
        ("distance to the nearest print, mean", f"{compared['mean_de00']:.2f} CIEDE2000"),
        ("largest", f"{compared['max_de00']:.2f} CIEDE2000"),
    ]
    body += facts_html(facts)
    if out:
        rows = [[row["id"], f"{row['de00']:.2f}"] for row in compared["worst"]]
        body += table_html(["Out of gamut", "CIEDE2000 to the nearest print"], rows)
        if out > len(rows):
            body += paragraph(f"And {out - len(rows):,} more that lie nearer.")
    return [Section("compared", "Compared with", body)]
