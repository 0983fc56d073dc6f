"""What finishing does to the demo's cloth: grids of several lots before, the roll's own afterwards."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from strikeoff.base.files import write_text
from strikeoff.mill.finishing import Finishing, Lot, draw_lot
from strikeoff.mill.grids import FinishingGrid, Specimen, finished_specimens, grid_table
from strikeoff.report.page import Section
from strikeoff.report.tables import facts_html, paragraph, table_html
from strikeoff.workbench.demo_files import FINISHED_MM, DemoRun
from strikeoff.workbench.result import Result

#: Most that a repeat may be off, or the edges of a seam may part. [mm]
TOLERANCE_MM = 5.0

_LOT_SEEDS = (401, 402, 403, 404, 405)
_SPECIMENS = 3
_ROLL_LOT_SEED = 26
_RISKS = {
    "width": "Width of a repeat on a new lot",
    "length": "Length of a repeat on a new lot",
    "order": "Length of all whole repeats on a new lot",
    "seam_same_lot": "Two edges at a seam one repeat long, same lot",
    "seam_other_lot": "Two edges at a seam one repeat long, other lot",
    "join_same_lot": "Two widths joined along all whole repeats, same lot",
}


def write_grids(path: Path, finishing: Finishing) -> None:
    """Finish specimens of several invented lots and write the readings of their grids."""
    lots = [draw_lot(finishing, seed).change_percent for seed in _LOT_SEEDS]
    found = finished_specimens(lots, finishing.specimen_sd_percent, specimens=_SPECIMENS, seed=_LOT_SEEDS[0])
    write_text(path, grid_table(found))


def roll_lot(finishing: Finishing) -> Lot:
    """Return the lot that the roll is printed on: one that no grid was read of."""
    return draw_lot(finishing, _ROLL_LOT_SEED)


def write_roll_grids(path: Path, grids: dict[str, FinishingGrid]) -> None:
    """Write the grids that stand on the roll itself, by the end of it that they stand at."""
    write_text(path, grid_table([Specimen("simulated roll", end, grid) for end, grid in grids.items()]))


def roll_size_lines(roll: Result, risk: Result) -> tuple[str, ...]:
    """Return what the roll says of sizes, and the spread of dimensional change apart from it."""
    risks = risk.results["risks"]
    told = (
        f"{name} {risks[name]['low_mm']:+.1f} to {risks[name]['high_mm']:+.1f} mm"
        for name in ("width", "length")
    )
    return (
        *roll.lines,
        "shrink spread, 90 % of new lots: " + ", ".join(told) + " (simulated, not yet shown on cloth)",
    )


def finishing_section(demo: DemoRun) -> Section:
    """Return the section on dimensional change, its spread, and what that does to sizes."""
    found, risk = demo.results["finishing"], demo.results["risk"]
    ways = [found["weft"], found["warp"]]
    change = [
        ("Dimensional change, mean", *(f"{row['change_percent']:+.2f} %" for row in ways)),
        ("Spread between specimens of a lot, sd", *(f"{row['specimen_sd_percent']:.2f} %" for row in ways)),
        ("Spread between lots, sd", *(f"{row['lot_sd_percent']:.2f} %" for row in ways)),
        (
            "A new piece of a new lot, 90 %",
            *("{:+.2f} to {:+.2f} %".format(*row["interval_90_percent"]) for row in ways),
        ),
        ("For 1000 mm finished, print", *(f"{row['printed_for_1000_mm']:.1f} mm" for row in ways)),
    ]
    risks = [
        (
            words,
            f"{risk['risks'][name]['low_mm']:+.1f} to {risk['risks'][name]['high_mm']:+.1f} mm",
            f"{100 * risk['risks'][name]['beyond']:.0f} %",
        )
        for name, words in _RISKS.items()
    ]
    lots = ways[0]["lots"]
    body = (
        paragraph(
            f"{ways[0]['specimens'] // lots} specimens of each of {lots} lots were printed with a grid of "
            "marks, finished and measured. The means say how large to print; the spread says how far the "
            "finished size will lie from what was ordered."
        )
        + table_html(("", "Across (weft)", "Along (warp)"), change)
        + _svg(demo.path("grids drawing"))
        + paragraph(
            "Size risk: what shrink spread does to a repeat of "
            f"{FINISHED_MM[0]:g} × {FINISHED_MM[1]:g} mm finished. Snapping to press pixels comes apart, "
            "with the roll."
        )
        + table_html(("", "90 % within", f"More than {TOLERANCE_MM:g} mm off"), risks)
    )
    return Section("finishing", "What finishing does to sizes", body, "simulated")


def roll_section(demo: DemoRun) -> Section:
    """Return the section on the roll: its drawing, and the size that it came out with."""
    roll, after = demo.results["roll"], demo.results["roll grids"]
    changes = [after[d]["change_percent"] for d in ("weft", "warp")]
    came_out = [p * (1 + change / 100) for p, change in zip(roll["printed_mm"], changes, strict=True)]
    off = [size - planned for size, planned in zip(came_out, roll["finished_mm"], strict=True)]
    facts = [
        ("Repeat, finished", _size(roll["finished_mm"])),
        ("Repeat, printed", _size(roll["printed_mm"])),
        ("Off by snapping to pixels", _signed(roll["snapping_error_mm"], 3)),
        ("Measured on this roll", _size(came_out)),
        ("This lot's change", change_words(changes[1], changes[0])),
        ("Off by this lot's change", _signed(off, 1)),
    ]
    return Section("roll", "The roll", facts_html(facts) + _svg(demo.path("drawing")), "simulated")


def change_words(warp_percent: float, weft_percent: float) -> str:
    """Return dimensional change in words that do not break before the percent sign."""
    return f"warp\u00a0{warp_percent:+.2f}\u00a0%, weft\u00a0{weft_percent:+.2f}\u00a0%"


def _svg(path: Path) -> str:
    """Return a drawing as a figure of the page, as wide as there is room."""
    text = path.read_text(encoding="utf-8")
    return '<svg class="figure" ' + text[text.index("<svg") + len("<svg ") :]


def _size(size_mm: Sequence[float]) -> str:
    return f"{size_mm[0]:.2f} × {size_mm[1]:.2f} mm"


def _signed(size_mm: Sequence[float], places: int) -> str:
    return f"{size_mm[0]:+.{places}f} × {size_mm[1]:+.{places}f} mm"
