"""``strikeoff roll lay``: a layout of pieces to a roll."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Command
from strikeoff.cli.params import dpi, file_path, names, number, size_mm
from strikeoff.cli.roll_outputs import cutter_options, output_options

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("lay", cls=Command)
@click.argument("layout", metavar="LAYOUT.json", type=file_path)
@click.option(
    "--planes",
    metavar="[NAME=]FILE",
    multiple=True,
    help="Planes of an artwork of the layout, or of the one that is left; may be repeated.",
)
@click.option(
    "--dpi", metavar="X[xY]", type=dpi, required=True, help="Addressability of the press, across x along."
)
@click.option(
    "--marks",
    metavar="KIND,..",
    type=names,
    help="Of trim, register, cutter, code, fold, eyelet; or all.",
)
@cutter_options
@click.option(
    "--fold", metavar="WxH", type=size_mm, help="Folds, from the trim at the sides x above and below [mm]."
)
@click.option("--eyelets", metavar="MM", type=number, help="Eyelets at most so far apart [mm].")
@click.option("--nozzles", is_flag=True, help="A line from every nozzle and ink in the leader.")
@output_options
@click.pass_obj
def lay(call: Call, /, layout: Path, out: Path | None, **options: Any) -> Result:
    """Lay the pieces of LAYOUT.json on a roll of cloth, each with its artwork."""
    from strikeoff import workbench

    return workbench.lay_out_roll(layout, out, **options, progress=call.progress)
