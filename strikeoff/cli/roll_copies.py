"""``strikeoff roll copies``: a grid of one piece."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.command import Command
from strikeoff.cli.params import dpi, number, size_mm, written_path
from strikeoff.cli.width_basis import width_options

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("copies", cls=Command)
@click.option(
    "--finished", metavar="WxH", type=size_mm, required=True, help="Size of a copy, across x along [mm]."
)
@click.option("--count", metavar="N", type=int, required=True, help="Copies wanted.")
@click.option("--warp", metavar="PCT", type=number, required=True, help="Dimensional change along [%].")
@click.option("--weft", metavar="PCT", type=number, required=True, help="Dimensional change across [%].")
@width_options
@click.option("--margin", metavar="MM", type=number, help="Unprinted cloth at each edge [mm].")
@click.option("--bleed", metavar="MM", type=number, help="Finished artwork beyond each edge [mm].")
@click.option("--gap", metavar="MM", type=number, help="Finished cloth between bleeds [mm].")
@click.option(
    "--turn",
    type=click.Choice(["none", "rows", "columns"]),
    default="none",
    show_default=True,
    help="Every other row or column stands on its head.",
)
@click.option("--fill", is_flag=True, help="Fill the last row with spare copies.")
@click.option("--artwork", metavar="NAME", help="Artwork of the copies, in the layout.")
@click.option("--mirror-bleed", is_flag=True, help="Artwork without bleed: its mirror image stands there.")
@click.option(
    "--dpi", metavar="X[xY]", type=dpi, help="Rows of the layout come after whole pixels of this press."
)
@click.option("--layout", metavar="FILE", type=written_path, help="Layout document to write.")
@click.option("--drawing", metavar="FILE", type=written_path, help="Drawing to write, SVG or PDF.")
def copies(**options: Any) -> Result:
    """Count the copies that a grid over the width will hold."""
    from strikeoff import workbench

    return workbench.roll_copies(**options)
