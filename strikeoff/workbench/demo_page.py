"""The demo's page: what a technician looks at first."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from strikeoff.base.canonical import digest_file
from strikeoff.base.files import write_text
from strikeoff.base.progress import Progress
from strikeoff.condition.archive import read_condition
from strikeoff.inks.laydown import laydown_ml_m2
from strikeoff.mill.world import printer
from strikeoff.report.cautions import cautions
from strikeoff.report.lineage import Node, lineage_graph
from strikeoff.report.page import FileRow, Section, render_page
from strikeoff.report.plots_inks import ink_use
from strikeoff.report.plots_quality import verdict_chart
from strikeoff.report.preview import picture, scale_bar_svg, write_png
from strikeoff.report.tables import facts_html, ink_table_html, paragraph, verdict_html
from strikeoff.workbench.condition_figures import (
    black_section,
    error_section,
    gamut_section,
    ink_colours,
    neutral_section,
    tone_section,
)
from strikeoff.workbench.condition_goods import goods_section
from strikeoff.workbench.demo_files import FABRIC, FILES, FINISHED_MM, PRINTER, READINGS_PER_PATCH, DemoRun
from strikeoff.workbench.demo_finishing import change_words, finishing_section, roll_section
from strikeoff.workbench.pictures import cloth_picture, drop_picture

_WHAT = {
    "readings": "Readings: 2,376 CMYK patches with spectra",
    "goods": "Goods that the condition holds for",
    "condition": "Printing condition",
    "profile v2": "ICC profile, version 2.4",
    "profile v4": "ICC profile, version 4.4",
    "grids": "Finishing grids of five lots",
    "grids drawing": "Drawing of dimensional change",
    "artwork": "Artwork: one repeat, RGB",
    "planes": "Calibrated ink planes of the repeat, 16 bit",
    "roll": "Ink planes of the roll at press pitch, 16 bit",
    "drops": "Drops of the roll, 1 bit per ink, for the press",
    "drawing": "Roll drawing",
    "strip": "Control strip reference",
    "strip start": "Strip readings, start of the roll",
    "strip end": "Strip readings, end of the roll",
    "roll grids": "Finishing grids on the roll",
    "verdict start": "Verdict, start of the roll",
    "verdict end": "Verdict, end of the roll",
    "preview": "Cloth preview at finished size",
    "close-up": "Drops, enlarged",
}

# A daisy's edge: light petals, grey outline, dark ground. [printed mm]
_CLOSE_UP_MM, _CLOSE_UP_SIZE_MM = (411.0, 330.0), 8.0

#: What came from what, and how sure it is.
_MADE_FROM: dict[str, tuple[tuple[str, ...], str]] = {
    "readings": ((), "measured"),
    "goods": (("grids",), "simulated"),
    "condition": (("readings", "goods"), "measured"),
    "artwork": ((), ""),
    "planes": (("condition", "artwork"), ""),
    "grids": ((), "simulated"),
    "roll": (("planes", "grids"), ""),
    "drops": (("roll",), ""),
    "strip": (("planes",), ""),
    "strip start": (("strip", "readings"), "simulated"),
    "strip end": (("strip", "readings"), "simulated"),
    "verdict start": (("condition", "strip start"), "simulated"),
    "verdict end": (("condition", "strip end"), "simulated"),
}


def write_page(demo: DemoRun, progress: Progress) -> Path:
    """Write ``index.html`` and its pictures; return its path."""
    condition, _ = read_condition(demo.path("condition"))
    progress("draw the page", 0.1)
    cloth, pitch_mm = cloth_picture(condition, demo.path("planes"), FINISHED_MM, (1300.0, 1000.0))
    write_png(demo.path("preview"), cloth, pitch_mm=pitch_mm)
    progress("draw the page", 0.3)
    drops = drop_picture(condition, demo.path("drops"), _CLOSE_UP_MM, _CLOSE_UP_SIZE_MM, 4)
    write_png(demo.path("close-up"), drops)
    sections = [
        _cloth_section(demo, cloth, pitch_mm, drops),
        goods_section(condition),
        finishing_section(demo),
        _verdict_section(demo, "start", "Proof: the strip at the start of the roll"),
        _verdict_section(demo, "end", "Proof: the same strip after things went wrong"),
        error_section(condition),
        tone_section(condition),
        gamut_section(condition),
        neutral_section(condition),
        black_section(condition),
        _ink_section(demo, ink_colours(condition)),
        roll_section(demo),
    ]
    progress("draw the page", 0.8)
    files = [_row(demo, key) for key in FILES]
    digests = {row.name: row.digest for row in files}
    nodes = [
        Node(key, _short(key), digests[FILES[key]], inputs, label, FILES[key])
        for key, (inputs, label) in _MADE_FROM.items()
    ]
    html = render_page(
        "Night meadow: from readings to drops",
        "One order, start to end: a printing condition from measured readings, artwork through it to ink, "
        "a half-drop repeat at its finished size, drops for the press, and the proof of the control strip.",
        sections,
        files=files,
        lineage_svg=lineage_graph(nodes),
        cautions=cautions(["reactive"]),
    )
    page = demo.folder / "index.html"
    write_text(page, html)
    return page


def _cloth_section(demo: DemoRun, cloth: Any, pitch_mm: float, drops: Any) -> Section:
    roll = demo.results["roll"]
    finished, printed, length = roll["finished_mm"], roll["printed_mm"], roll["design_printed_finished_m"]
    facts = [
        ("Repeat, finished", f"{finished[0]:.2f} × {finished[1]:.2f} mm"),
        ("Repeat, printed", f"{printed[0]:.2f} × {printed[1]:.2f} mm"),
        ("Design, finished", f"{length[1]:.2f} m long"),
        ("Design, printed", f"{length[0]:.2f} m long"),
        ("Laid out as", roll["repeat"]),
        ("Cloth", FABRIC),
        ("Measured change (simulated)", change_words(roll["warp_percent"], roll["weft_percent"])),
    ]
    body = (
        facts_html(facts)
        + picture(cloth, "Cloth with the half-drop repeat at finished size")
        + scale_bar_svg(pitch_mm, cloth.shape[1])
        + paragraph(
            "Colours are predicted for the cloth under D50 and shown against a white page; the screen limits "
            "what it can show. The weave is a suggestion, not a measurement.",
            quiet=True,
        )
        + paragraph("Eight millimetres of printed cloth, drop by drop, ink on ink:")
        + picture(drops, "Enlarged drops of four inks")
    )
    return Section("cloth", "The cloth at its finished size", body, ("measured", "simulated"))


def _verdict_section(demo: DemoRun, end: str, title: str) -> Section:
    record = demo.results[f"verdict {end}"]
    story = {
        "start": f"The mill prints the strip as it should, steams, washes, dries and reads each patch "
        f"{READINGS_PER_PATCH} times.",
        "end": "Same strip, later: the magenta head gives 8 % less and the steamer runs 3 °C too cold.",
    }[end]
    body = (
        paragraph(story) + verdict_html(record) + verdict_chart(record["items"], ident=f"verdict-{end}-chart")
    )
    return Section(f"proof-{end}", title, body, "simulated")


def _ink_section(demo: DemoRun, colours: tuple[str, ...]) -> Section:
    planes, roll = demo.results["planes"], demo.results["roll"]
    press = printer(PRINTER)
    names = list(planes["mean_coverage_percent"])
    laydown = [
        float(laydown_ml_m2(value / 100.0, press.dpi[0], press.dpi[1], press.drop_pl))
        for value in planes["mean_coverage_percent"].values()
    ]
    width_m = (roll["width_px"] - 2 * roll["margin_px"]) * 0.0254 / press.dpi[0]
    area = width_m * roll["design_printed_finished_m"][0]
    dots = f"{press.dpi[0]:g} × {press.dpi[1]:g} dpi"
    basis = f"Design only, drops of {press.drop_pl:g} pL at {dots} (invented press)."
    body = ink_use(names, colours, laydown) + ink_table_html(names, colours, laydown, area, basis=basis)
    body += paragraph(
        f"Highest total in any pixel {planes['highest_total_percent']:.1f} %, limit "
        f"{planes['total_ink_limit_percent']:g} %; {100 * planes['share_over_limit']:.0f} % of the pixels "
        "are above it."
    )
    return Section("ink", "Ink use", body, "simulated")


def _row(demo: DemoRun, key: str) -> FileRow:
    path = demo.path(key)
    made_from = _MADE_FROM.get(key, ((), ""))[0]
    origin = ", ".join(Path(FILES[name]).name for name in made_from)
    return FileRow(FILES[key], _WHAT[key], path.stat().st_size, digest_file(path), origin)


def _short(key: str) -> str:
    words = _WHAT[key].split(":")[0]
    return words if key.endswith(("start", "end")) else words.split(",")[0]
