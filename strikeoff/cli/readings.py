"""``strikeoff readings``: files of measured patches."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.command import Group
from strikeoff.cli.params import INK_SCALE, file_path, number, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.readings import InkScale
    from strikeoff.workbench.result import Result

group = Group("readings", help="Files of measured patches.")


@group.command("check")
@click.argument("readings", metavar="FILE", type=file_path)
@click.option(
    "--ink-scale", type=INK_SCALE, default="percent", show_default=True, help="What full ink is in the file."
)
@click.option(
    "--condition", metavar="COND", type=file_path, help="Condition that predicts the patches, to find faults."
)
@click.option(
    "--wanted",
    metavar="DE",
    type=number,
    help="Half-width that each patch's mean should have; 0.5 by default.",
)
def check(readings: Path, ink_scale: InkScale, condition: Path | None, wanted: float | None) -> Result:
    """Say what FILE holds and what is wrong with it."""
    from strikeoff import workbench

    return workbench.check_readings(readings, ink_scale=ink_scale, condition=condition, wanted=wanted)


@group.command("assign")
@click.argument("chart", metavar="REFERENCE", type=file_path)
@click.argument("readings", metavar="FILE", type=file_path, nargs=-1, required=True)
@click.option(
    "--by",
    type=click.Choice(["names", "places", "order"]),
    help="How patches are found; what fits by default.",
)
@click.option(
    "--walk",
    type=click.Choice(["rows", "back", "turning", "columns"]),
    help="Order in which the chart was read; as it says by default.",
)
@click.option("--out", metavar="OUT", type=written_path, required=True, help="Readings with inks to write.")
def assign(chart: Path, readings: tuple[Path, ...], out: Path, **options: Any) -> Result:
    """Put plain readings in FILE ... on the patches of the chart of REFERENCE."""
    from strikeoff import workbench

    return workbench.assign_readings(chart, readings, out, **options)


@group.command("merge")
@click.argument("readings", metavar="FILE", type=file_path, nargs=-1, required=True)
@click.option(
    "--ink-scale", type=INK_SCALE, default="percent", show_default=True, help="What full ink is in the files."
)
@click.option("--out", metavar="FILE", type=written_path, required=True, help="Merged readings to write.")
def merge(readings: tuple[Path, ...], ink_scale: InkScale, out: Path) -> Result:
    """Average the repeats in FILE ... as spectra; all files must be read in one set-up."""
    from strikeoff import workbench

    return workbench.merge_readings(readings, out, ink_scale=ink_scale)


@group.command("convert")
@click.argument("readings", metavar="FILE", type=file_path)
@click.option(
    "--ink-scale", type=INK_SCALE, default="percent", show_default=True, help="What full ink is in the file."
)
@click.option("--out", metavar="OUT", type=written_path, required=True, help="Readings to write.")
def convert(readings: Path, ink_scale: InkScale, out: Path) -> Result:
    """Write FILE in the format of the ending of OUT: CSV, TSV, CxF3 or ISO 28178 text."""
    from strikeoff import workbench

    return workbench.convert_readings(readings, out, ink_scale=ink_scale)
