"""``strikeoff roll``: from one repeat to the drops of a whole roll."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli import (
    roll_copies,
    roll_cut,
    roll_lay,
    roll_marks,
    roll_nest,
    roll_options,
    roll_panels,
    roll_shapes,
)
from strikeoff.cli.call import Call
from strikeoff.cli.command import Group
from strikeoff.cli.lattice_options import lattice_options
from strikeoff.cli.params import dpi, file_path, names, number, size_mm, written_path
from strikeoff.cli.roll_outputs import cutter_options, output_options
from strikeoff.cli.width_basis import width_options

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result

group = Group("roll", help="From one repeat to the drops of a whole roll.")
group.add_command(roll_copies.copies)
group.add_command(roll_cut.cut)
group.add_command(roll_lay.lay)
group.add_command(roll_marks.marks)
group.add_command(roll_nest.nest)
group.add_command(roll_options.options)
group.add_command(roll_panels.panels)
group.add_command(roll_shapes.nest_shapes)


@group.command("compose")
@click.argument("planes", metavar="PLANES.tif", type=file_path)
@lattice_options
@click.option(
    "--finished",
    metavar="WxH",
    type=size_mm,
    required=True,
    help="Size of one repeat on the finished goods, across x along [mm].",
)
@click.option(
    "--warp",
    metavar="PCT",
    type=number,
    required=True,
    help="Dimensional change along the roll, file to finished, shrinkage negative [%].",
)
@click.option(
    "--weft",
    metavar="PCT",
    type=number,
    required=True,
    help="Dimensional change across the roll, file to finished, shrinkage negative [%].",
)
@width_options
@click.option(
    "--length", metavar="MM", type=number, required=True, help="Length of the unfinished cloth [mm]."
)
@click.option(
    "--dpi", metavar="X[xY]", type=dpi, required=True, help="Addressability of the press, across x along."
)
@click.option("--margin", metavar="MM", type=number, help="Unprinted cloth at each edge [mm].")
@click.option("--nozzles", is_flag=True, help="A line from every nozzle and ink in the leader.")
@click.option(
    "--marks", metavar="KIND,..", type=names, help="Around the design: trim, register, cutter, code; or all."
)
@cutter_options
@click.option(
    "--repeat-plan",
    metavar="FILE",
    type=written_path,
    help="Drawing of the lattice of repeats to write, SVG or PDF.",
)
@output_options
@click.pass_obj
def compose(call: Call, /, planes: Path, out: Path | None, **options: Any) -> Result:
    """Lay the repeat in PLANES.tif out over a roll of cloth."""
    from strikeoff import workbench

    return workbench.compose_roll(planes, out, **options, progress=call.progress)


@group.command("screen")
@click.argument("roll", metavar="ROLL.tif", type=file_path)
@click.option(
    "--method",
    type=click.Choice(["masks", "diffusion", "contone"]),
    default="masks",
    show_default=True,
    help="Blue-noise masks, error diffusion, or ink in 8 bits for a press that screens by itself.",
)
@click.option("--bits", type=click.Choice(["1", "2", "8"]), help="Bits for each drop.")
@click.option(
    "--compression",
    type=click.Choice(["none", "packbits", "deflate", "zstd"]),
    default="deflate",
    show_default=True,
    help="Compression of a TIFF.",
)
@click.option("--one-file-per-ink", "split", is_flag=True, help="Write DROPS-INK.tif for each ink.")
@click.option(
    "--out", metavar="DROPS.tif", type=written_path, required=True, help="Drops to write; .pwg: PWG Raster."
)
@click.pass_obj
def screen(call: Call, /, roll: Path, out: Path, bits: str | None, **options: Any) -> Result:
    """Turn ROLL.tif into drops."""
    from strikeoff import workbench

    depth = None if bits is None else int(bits)
    return workbench.screen_roll(roll, out, bits=depth, **options, progress=call.progress)
