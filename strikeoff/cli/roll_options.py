"""``strikeoff roll options``: every way across a width."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.command import Command
from strikeoff.cli.lattice_options import lattice_options
from strikeoff.cli.params import number, size_mm, written_path
from strikeoff.cli.width_basis import width_options

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("options", cls=Command)
@click.option(
    "--finished",
    metavar="WxH",
    type=size_mm,
    required=True,
    help="Size of one repeat on the finished goods, across x along [mm].",
)
@click.option("--warp", metavar="PCT", type=number, required=True, help="Dimensional change along [%].")
@click.option("--weft", metavar="PCT", type=number, required=True, help="Dimensional change across [%].")
@width_options
@click.option("--order", metavar="M", type=number, required=True, help="Finished length ordered [m].")
@lattice_options
@click.option("--printer-width", metavar="MM", type=number, help="Most that the press prints [mm].")
@click.option("--selvedge", metavar="MM", type=number, help="Selvedge lost at each edge [mm].")
@click.option("--margin", metavar="MM", type=number, help="Unprinted cloth at each edge [mm].")
@click.option("--end-loss", metavar="MM", type=number, help="Finished length lost at the ends [mm].")
@click.option("--overlap", metavar="MM", type=number, help="Finished width that a join takes [mm].")
@click.option("--drop", metavar="MM", type=number, help="Finished length of a cut for joined widths [mm].")
@click.option("--drawing", metavar="FILE", type=written_path, help="Drawing to write, SVG or PDF.")
@click.option(
    "--repeat-plan",
    metavar="FILE",
    type=written_path,
    help="Drawing of the lattice of one option to write, SVG or PDF.",
)
@click.option("--plan-of", metavar="NAME", help="The option that --repeat-plan draws.")
def options(**options: Any) -> Result:
    """List every way to lay a repeat across a cuttable width."""
    from strikeoff import workbench

    return workbench.roll_options(**options)
