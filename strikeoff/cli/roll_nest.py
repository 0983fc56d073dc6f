"""``strikeoff roll nest``: pieces of different sizes."""

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


class _Stretches(click.ParamType[Any]):
    """Stretches of cloth, such as ``1200-1350,8000-8200``."""

    name = "stretches"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if not isinstance(value, str):
            return value
        try:
            return tuple((float(a), float(b)) for a, b in (part.split("-") for part in value.split(",")))
        except ValueError:
            self.fail(f"{value!r} is no list of stretches such as 1200-1350,8000-8200", param, ctx)


@click.command("nest", cls=Command)
@click.argument("pieces", metavar="PIECES", type=file_path)
@click.option("--warp", metavar="PCT", type=number, required=True, help="Dimensional change along [%].")
@click.option("--weft", metavar="PCT", type=number, required=True, help="Dimensional change across [%].")
@width_options
@click.option("--margin", metavar="MM", type=number, help="Unprinted cloth at each edge [mm].")
@click.option("--gap", metavar="MM", type=number, help="Finished cloth between pieces [mm].")
@click.option(
    "--turn",
    type=click.Choice(["none", "180", "90"]),
    default="none",
    show_default=True,
    help="How pieces that do not say may be turned.",
)
@click.option(
    "--faults",
    metavar="A-B,..",
    type=_Stretches(),
    default=(),
    help="Stretches of unfinished cloth to avoid [mm].",
)
@click.option(
    "--stretch", metavar="MM", type=number, help="Most unfinished cloth that one group may span [mm]."
)
@click.option("--guillotine", is_flag=True, help="Free every piece by straight cuts from edge to edge.")
@click.option("--seconds", metavar="S", type=number, help="Longest search [s].")
@click.option("--seed", metavar="N", type=int, default=0, help="Of the search.")
@click.option("--layout", metavar="FILE", type=written_path, help="Layout document to write.")
@click.option("--drawing", metavar="FILE", type=written_path, help="Drawing to write, SVG or PDF.")
@click.pass_obj
def nest(call: Call, /, pieces: Path, **options: Any) -> Result:
    """Lay the pieces of a list so that they need little of the roll."""
    from strikeoff import workbench

    return workbench.roll_nest(pieces, **options, progress=call.progress)
