"""``strikeoff condition``: ink limits, light-ink split and tone curves."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from strikeoff.cli.call import Call
from strikeoff.cli.command import Command, Group
from strikeoff.cli.params import INK_SCALE, file_path, number, renewed_path, written_path

if TYPE_CHECKING:
    from strikeoff.workbench.result import Result

_RAMPS = click.option("--readings", metavar="FILE", type=file_path, required=True, help="Measured ramps.")
_INK_SCALE = click.option(
    "--ink-scale", type=INK_SCALE, default="percent", show_default=True, help="What full ink is in the file."
)
_PLOT = click.option("--plot", metavar="FILE.svg", type=written_path, help="Picture to write.")
_LIMITS = click.option(
    "--limits", metavar="LIMITS.toml", type=renewed_path, help="Ink limits, inks and screen."
)
_CURVES = click.option(
    "--curves", metavar="CURVES.json", type=file_path, help="Curves with a light-ink split."
)
_CURVES_OUT = click.option(
    "--out", metavar="CURVES.json", type=written_path, required=True, help="Curves to write."
)
_OUT = click.option("--out", metavar="COND", type=written_path, required=True, help="Condition to write.")


@click.command("limits", cls=Command)
@_RAMPS
@click.option(
    "--inks", metavar="LIMITS.toml", type=renewed_path, help="Ink limits that describe inks and screen."
)
@click.option(
    "--least-gain", metavar="PCT", type=number, help="Gain of colour per 10 % of ink that is enough."
)
@click.option("--hook", metavar="DEGREES", type=number, help="Turn of hue per 10 % of ink that is too much.")
@click.option("--growth", metavar="MM", type=number, help="Growth of a line's edge that is too much [mm].")
@_INK_SCALE
@_PLOT
@click.option("--out", metavar="LIMITS.toml", type=written_path, required=True, help="Ink limits to write.")
def limits(readings: Path, out: Path, **options: Any) -> Result:
    """Find how much of each ink is of use."""
    from strikeoff import workbench

    return workbench.find_ink_limits(readings, out, **options)


@click.command("total", cls=Command)
@click.option(
    "--readings", metavar="FILE", type=file_path, required=True, help="Measured overprints in steps."
)
@click.option(
    "--limits", metavar="LIMITS.toml", type=renewed_path, required=True, help="Ink limits and inks."
)
@click.option(
    "--least-gain", metavar="DE00", type=number, help="Gain of colour per 10 % of ink that is enough."
)
@click.option("--growth", metavar="MM", type=number, help="Growth of a line's edge that is too much [mm].")
@_INK_SCALE
@_PLOT
@click.option("--out", metavar="LIMITS.toml", type=written_path, required=True, help="Ink limits to write.")
def total(readings: Path, out: Path, **options: Any) -> Result:
    """Find how much ink in one place is of use."""
    from strikeoff import workbench

    return workbench.find_total_ink(readings, out, **options)


@click.command("split", cls=Command)
@_RAMPS
@click.option(
    "--limits", metavar="LIMITS.toml", type=renewed_path, required=True, help="Ink limits and inks."
)
@click.option(
    "--most-laid-down",
    metavar="PERCENT",
    type=number,
    help="Most that dark and light lay down together; by the total without it.",
)
@_INK_SCALE
@_CURVES_OUT
def split(readings: Path, out: Path, **options: Any) -> Result:
    """Share colours between dark and light inks."""
    from strikeoff import workbench

    return workbench.split_light_inks(readings, out, **options)


@click.command("linearise", cls=Command)
@_RAMPS
@_LIMITS
@_CURVES
@click.option(
    "--aim",
    metavar="AIM",
    default="colour",
    show_default=True,
    help="What is to be even: colour, sctv, lightness, or FILE.csv.",
)
@_INK_SCALE
@_PLOT
@_CURVES_OUT
def linearise(readings: Path, out: Path, **options: Any) -> Result:
    """Make tone curves from ramps printed without them."""
    from strikeoff import workbench

    return workbench.make_tone_curves(readings, out, **options)


@click.command("relinearise", cls=Command)
@click.argument("condition", metavar="COND", type=file_path)
@_RAMPS
@click.option(
    "--aim",
    metavar="AIM",
    default="condition",
    show_default=True,
    help="Tones to reach: condition, colour, sctv, lightness, or FILE.csv.",
)
@_INK_SCALE
@_PLOT
@_OUT
@click.pass_obj
def relinearise(call: Call, /, condition: Path, readings: Path, out: Path, **options: Any) -> Result:
    """Give COND new tone curves; its model stays."""
    from strikeoff import workbench

    return workbench.relinearise(condition, readings, out, **options, progress=call.progress)


@click.command("change-press", cls=Command)
@click.argument("condition", metavar="COND", type=file_path)
@_LIMITS
@_CURVES
@_OUT
@click.pass_obj
def change_press(call: Call, /, condition: Path, out: Path, **options: Any) -> Result:
    """Give COND another screen, drops or split; tone curves must then be made again."""
    from strikeoff import workbench

    return workbench.change_press(condition, out, **options, progress=call.progress)


def register(group: Group) -> None:
    """Add the commands to their noun."""
    for command in (limits, total, split, linearise, relinearise, change_press):
        group.add_command(command)
