"""``strikeoff roll panels``: work larger than the cloth."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.command import Command
from strikeoff.cli.params import number, size_mm, written_path
from strikeoff.cli.width_basis import width_options

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("panels", cls=Command)
@click.option(
    "--visible", metavar="WxH", type=size_mm, required=True, help="What is seen, across x along [mm]."
)
@click.option("--warp", metavar="PCT", type=number, required=True, help="Dimensional change along [%].")
@click.option("--weft", metavar="PCT", type=number, required=True, help="Dimensional change across [%].")
@width_options
@click.option("--margin", metavar="MM", type=number, help="Unprinted cloth at each edge [mm].")
@click.option(
    "--join",
    type=click.Choice(["overlap", "butt"]),
    default="overlap",
    show_default=True,
    help="Panels share a strip, or meet edge to edge.",
)
@click.option("--overlap", metavar="MM", type=number, help="Finished width of the shared strip [mm].")
@click.option("--trim", metavar="MM", type=number, help="Cut away at each edge, finished [mm].")
@click.option("--hem", is_flag=True, help="Fold a hem of 25 mm.")
@click.option("--pole", metavar="MM", type=number, help="Diameter of poles in pockets above and below [mm].")
@click.option("--stretch", metavar="PCT", type=number, help="How much the frame stretches the cloth [%].")
@click.option("--eyelets", metavar="MM", type=number, help="Eyelets at most so far apart [mm].")
@click.option(
    "--longest", metavar="MM", type=number, help="Most printed length of a panel; higher work has rows [mm]."
)
@click.option("--artwork", metavar="NAME", help="Artwork of the panels, in the layout.")
@click.option(
    "--whole-artwork",
    is_flag=True,
    help="Artwork with hems, pockets, trim; else they mirror what is seen.",
)
@click.option("--gap", metavar="MM", type=number, help="Finished cloth between panels of the layout [mm].")
@click.option("--layout", metavar="FILE", type=written_path, help="Layout document to write.")
@click.option("--drawing", metavar="FILE", type=written_path, help="Panel map to write, SVG or PDF.")
def panels(**options: Any) -> Result:
    """Split work that is wider than the cloth into panels."""
    from strikeoff import workbench

    return workbench.roll_panels(**options)
