"""``strikeoff finishing``: from measured grids to sizes and their risk."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.command import Group
from strikeoff.cli.params import dpi, file_path, number, size_mm, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result

group = Group("finishing", help="What finishing does to sizes, from measured grids.")


@group.command("measure")
@click.argument("readings", metavar="GRID.csv", type=file_path)
@click.option("--lines", metavar="FILE.csv", type=file_path, help="Readings of bow and skew.")
@click.option("--bow-limit", metavar="PCT", type=number, help="Most bow of a roll's worst place [%].")
@click.option("--skew-limit", metavar="PCT", type=number, help="Most skew of a roll's worst place [%].")
@click.option("--drawing", metavar="FILE", type=written_path, help="Drawing to write, SVG or PDF.")
def measure(readings: Path, **options: Any) -> Result:
    """Tell dimensional change and its spread from GRID.csv."""
    from strikeoff import workbench

    return workbench.measure_finishing(readings, **options)


@group.command("risk")
@click.argument("readings", metavar="GRID.csv", type=file_path)
@click.option(
    "--finished", metavar="WxH", type=size_mm, required=True, help="Finished size, across x along [mm]."
)
@click.option(
    "--tolerance",
    metavar="MM",
    type=number,
    required=True,
    help="Most that a size or a join may be off [mm].",
)
@click.option("--repeats", metavar="N", type=int, default=1, help="Repeats along the order.")
@click.option(
    "--dpi", metavar="X[xY]", type=dpi, help="Addressability of the press: adds the snapping error."
)
@click.option("--skew-sd", metavar="MM", type=number, default="0", help="Spread of skew of a piece [mm].")
@click.option("--cut-sd", metavar="MM", type=number, default="0", help="Spread of cutting a piece [mm].")
@click.option("--sew-sd", metavar="MM", type=number, default="0", help="Spread of sewing [mm].")
@click.option("--seed", metavar="N", type=int, default=1, help="Same seed, same answer.")
def risk(readings: Path, **options: Any) -> Result:
    """Tell the size to print, and the risk that sizes, seams and joins are off."""
    from strikeoff import workbench

    return workbench.finishing_risk(readings, **options)
