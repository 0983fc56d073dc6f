"""``strikeoff condition gamut``: how much colour a condition holds."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Command
from strikeoff.cli.params import file_path, number, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("gamut", cls=Command)
@click.argument("condition", metavar="COND", type=file_path)
@click.option("--compare", metavar="FILE", type=file_path, help="Condition, ICC profile or file of colours.")
@click.option(
    "--lightness", metavar="L", type=number, multiple=True, help="L* of a cut; 30, 50 and 70 by default."
)
@click.option(
    "--hue",
    "hues",
    metavar="DEGREES",
    type=number,
    multiple=True,
    help="Hue angle of a cut through the grey axis; 90 and 0 by default.",
)
@click.option("--out", metavar="FILE", type=written_path, required=True, help="Page or drawing to write.")
@click.pass_obj
def gamut(call: Call, /, condition: Path, out: Path, **options: Any) -> Result:
    """Measure and draw the gamut of COND."""
    from strikeoff import workbench

    return workbench.measure_gamut(condition, out, **options, progress=call.progress)
