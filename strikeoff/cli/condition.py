"""``strikeoff condition``: what a press, its inks, a cloth and its finishing do."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli import (
    condition_gamut,
    condition_import,
    condition_inks,
    condition_lights,
    condition_report,
    condition_spots,
)
from strikeoff.cli.call import Call
from strikeoff.cli.command import Group
from strikeoff.cli.params import INK_SCALE, file_path, number, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result

group = Group("condition", help="What a press, its inks, a cloth and its finishing do.")
condition_inks.register(group)
group.add_command(condition_gamut.gamut)
group.add_command(condition_import.import_condition)
group.add_command(condition_lights.lights)
group.add_command(condition_report.report)
group.add_command(condition_spots.spots)

_ILLUMINANT = click.option("--illuminant", metavar="NAME", help="Light, such as D50, D65, A or FL2.")
_OBSERVER = click.option("--observer", metavar="DEGREES", help="CIE observer, 2 or 10 degrees.")
_INK_SCALE = click.option(
    "--ink-scale", type=INK_SCALE, default="percent", show_default=True, help="What full ink is in the file."
)


@group.command("build")
@click.option("--readings", metavar="FILE", type=file_path, required=True, help="Measured chart.")
@click.option("--total-ink", metavar="PCT", type=number, help="Most ink in one place, all inks together [%].")
@click.option("--limits", metavar="LIMITS.toml", type=file_path, help="Ink limits, inks and screen.")
@click.option(
    "--curves", metavar="CURVES.json", type=file_path, help="Curves that the chart was printed through."
)
@click.option(
    "--goods", metavar="FILE.toml", type=file_path, help="Press, cloth and finishing that it holds for."
)
@_INK_SCALE
@click.option("--name", metavar="TEXT", help="Name of the condition.")
@_ILLUMINANT
@_OBSERVER
@click.option("--black-start", metavar="L", type=number, help="Lightness at which black begins, 0-100.")
@click.option("--black-width", metavar="L", type=number, help="Lightness over which black comes in.")
@click.option("--black-maximum", metavar="PCT", type=number, help="Most black [%].")
@click.option("--black-strength", metavar="PCT", type=number, help="Share of black in neutrals [%].")
@click.option("--black-reach", metavar="C", type=number, help="Chroma from grey at which black is half.")
@click.option("--black-point", metavar="POINT", help="neutral (the default), patch, or Lab as L,A,B.")
@click.option("--grey", metavar="NAME", help="What neutral means: cloth (the default), fading or absolute.")
@click.option("--grey-fade", metavar="PCT", type=number, help="Cloth's colour gone at black, for fading [%].")
@click.option("--pure-black", is_flag=True, help="Print the artwork's own black with black alone.")
@click.option("--pure-inks", is_flag=True, help="Print the artwork's full inks with their namesakes alone.")
@click.option(
    "--process-ink",
    "process_inks",
    metavar="NAME",
    multiple=True,
    help="White, clear, fluorescent or metallic ink that colours are separated into; may be repeated.",
)
@click.option("--out", metavar="COND", type=written_path, required=True, help="Condition to write.")
@click.pass_obj
def build(call: Call, /, readings: Path, out: Path, **options: Any) -> Result:
    """Make a condition from the readings of a chart."""
    from strikeoff import workbench

    return workbench.build_condition(readings, out, **options, progress=call.progress)


@group.command("show")
@click.argument("condition", metavar="COND", type=file_path)
def show(condition: Path) -> Result:
    """Say what COND holds and how good it is."""
    from strikeoff import workbench

    return workbench.show_condition(condition)


@group.command("predict")
@click.argument("condition", metavar="COND", type=file_path)
@click.argument("patches", metavar="PATCHES", type=file_path)
@_ILLUMINANT
@_OBSERVER
@_INK_SCALE
@click.option(
    "--out", metavar="FILE", type=written_path, required=True, help="Patches with their colours to write."
)
@click.pass_obj
def predict(call: Call, /, condition: Path, patches: Path, out: Path, **options: Any) -> Result:
    """Say which colours the ink amounts in PATCHES give."""
    from strikeoff import workbench

    return workbench.predict(condition, patches, out, **options, progress=call.progress)


@group.command("match")
@click.argument("condition", metavar="COND", type=file_path)
@click.argument("colours", metavar="COLOURS", type=file_path)
@_ILLUMINANT
@_OBSERVER
@click.option(
    "--out", metavar="FILE", type=written_path, required=True, help="Colours with their inks to write."
)
@click.pass_obj
def match(call: Call, /, condition: Path, colours: Path, out: Path, **options: Any) -> Result:
    """Find the ink amounts for the absolute Lab values in COLOURS."""
    from strikeoff import workbench

    return workbench.match(condition, colours, out, **options, progress=call.progress)
