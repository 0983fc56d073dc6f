"""``strikeoff condition lights``: colours under other lights."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Command
from strikeoff.cli.params import INK_SCALE, file_path, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result


@click.command("lights", cls=Command)
@click.argument("condition", metavar="COND", type=file_path)
@click.argument("colours", metavar="COLOURS", type=file_path)
@click.option("--illuminant", "illuminants", metavar="NAME", multiple=True, help="Light; may be repeated.")
@click.option(
    "--light", "measured", metavar="FILE", type=file_path, multiple=True, help="Measured light; repeatable."
)
@click.option("--reference", metavar="NAME", help="Light under which colours are matched.")
@click.option("--observer", metavar="DEGREES", help="CIE observer, 2 or 10 degrees.")
@click.option("--uv-excluded", metavar="FILE", type=file_path, help="COLOURS read without ultraviolet.")
@click.option(
    "--ink-scale", type=INK_SCALE, default="percent", show_default=True, help="What full ink is in the file."
)
@click.option("--plot", metavar="FILE", type=written_path, help="Patches under each light: .svg or .html.")
@click.option("--out", metavar="FILE", type=written_path, required=True, help="Figures to write.")
@click.pass_obj
def lights(call: Call, /, condition: Path, colours: Path, out: Path, **options: Any) -> Result:
    """Say how COLOURS, or the ink amounts in them, look under other lights when printed."""
    from strikeoff import workbench

    return workbench.compare_lights(condition, colours, out, **options, progress=call.progress)
