"""``strikeoff roll nest-shapes``: pieces of free shape on a roll."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Command
from strikeoff.cli.params import file_path, number, written_path
from strikeoff.cli.width_basis import width_options

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("nest-shapes", cls=Command)
@click.argument("shapes", metavar="SHAPES", type=file_path)
@click.option("--warp", metavar="PCT", type=number, required=True, help="Dimensional change along [%].")
@click.option("--weft", metavar="PCT", type=number, required=True, help="Dimensional change across [%].")
@width_options
@click.option("--margin", metavar="MM", type=number, help="Unprinted cloth at each edge [mm].")
@click.option("--gap", metavar="MM", type=number, help="Least finished distance between pieces [mm].")
@click.option("--count", metavar="N", type=int, default=1, show_default=True, help="Copies of each piece.")
@click.option(
    "--turn",
    type=click.Choice(["none", "180", "90", "any"]),
    default="180",
    show_default=True,
    help="Turns that the grain allows.",
)
@click.option("--seconds", metavar="S", type=int, help="Time for searching [s].")
@click.option("--seed", metavar="N", type=int, default=1, show_default=True, help="Seed of the search.")
@click.option("--threads", metavar="N", type=int, default=1, show_default=True, help="Threads of the search.")
@click.option("--tolerance", metavar="MM", type=number, help="Most distance from curves, finished [mm].")
@click.option("--drawing", metavar="FILE", type=written_path, help="Drawing to write, SVG or PDF.")
@click.option("--cuts", metavar="CUT", type=written_path, help="Cut paths to write: SVG, DXF or PDF.")
@click.option("--out", metavar="FILE.json", type=written_path, help="Places to write.")
@click.pass_obj
def nest_shapes(call: Call, /, shapes: Path, **options: Any) -> Result:
    """Nest the pieces in SHAPES on the shortest length of cloth."""
    from strikeoff import workbench

    return workbench.nest_roll_shapes(shapes, **options, progress=call.progress)
