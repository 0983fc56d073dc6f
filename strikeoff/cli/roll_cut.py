"""``strikeoff roll cut``: cut paths in printed coordinates."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Command
from strikeoff.cli.params import file_path, names, number, size_mm, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("cut", cls=Command)
@click.option(
    "--layout",
    metavar="LAYOUT.json",
    type=file_path,
    help="Layout: its trims, or the pieces that a contour is laid on.",
)
@click.option(
    "--contour", metavar="FILE", type=file_path, help="Closed lines at finished size, SVG, DXF or PDF."
)
@click.option("--contour-layer", metavar="NAME", help="Layer of a PDF that holds the contour.")
@click.option("--alpha", metavar="IMAGE", type=file_path, help="Picture to trace.")
@click.option("--own-alpha", is_flag=True, help="Trace the artwork of each piece.")
@click.option(
    "--trace",
    type=click.Choice(["alpha", "ink"]),
    default="alpha",
    show_default=True,
    help="Trace transparency, or whatever is not bare.",
)
@click.option("--threshold", metavar="X", type=number, help="Coverage along a traced line, 0 to 1.")
@click.option("--smallest", metavar="MM2", type=number, help="Leave smaller specks of a trace out [mm2].")
@click.option("--size", metavar="WxH", type=size_mm, help="Finished size of the picture [mm].")
@click.option("--warp", metavar="PCT", type=number, help="Dimensional change along, without a layout [%].")
@click.option("--weft", metavar="PCT", type=number, help="Dimensional change across, without a layout [%].")
@click.option("--pieces", metavar="CODE,...", type=names, default=None, help="Pieces of the layout to cut.")
@click.option(
    "--offset", metavar="MM", type=number, help="Finished distance outside the contour, negative inside [mm]."
)
@click.option("--tolerance", metavar="MM", type=number, help="Most distance from the contour, finished [mm].")
@click.option(
    "--out", metavar="CUT", type=written_path, required=True, help="Paths to write: SVG, DXF or PDF."
)
@click.pass_obj
def cut(call: Call, /, out: Path, pieces: tuple[str, ...] | None, **options: Any) -> Result:
    """Write the paths along which printed cloth is cut."""
    from strikeoff import workbench

    return workbench.cut_roll(out, pieces=pieces or (), **options, progress=call.progress)
