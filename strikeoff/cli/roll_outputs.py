"""Options of the commands that write a roll: marks for the cutter, and what is written."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from strikeoff.cli.params import number, written_path

_CUTTER = (
    click.option("--cutter-every", metavar="MM", type=number, help="Finished distance of cutter marks [mm]."),
    click.option(
        "--bare", metavar="MM", type=number, help="Cloth at each edge where no mark may stand [mm]."
    ),
)
_OUTPUTS = (
    click.option("--job", metavar="TEXT", help="Name of the job in the slug line and the codes."),
    click.option("--positions", metavar="FILE", type=written_path, help="Positions to write, JSON or CSV."),
    click.option(
        "--drawing", metavar="FILE", type=written_path, help="Drawing of the roll to write, SVG or PDF."
    ),
    click.option(
        "--strip-reference",
        metavar="FILE",
        type=written_path,
        help="Patches of the control strip to write, ISO 28178 text.",
    ),
    click.option(
        "--drops", metavar="FILE", type=written_path, help="Drops of the roll to write, screened on the way."
    ),
    click.option("--out", metavar="ROLL.tif", type=written_path, help="Roll to write."),
)


def cutter_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of cutter marks to a command."""
    return _with(_CUTTER, command)


def output_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of what is written to a command."""
    return _with(_OUTPUTS, command)


def _with(options: tuple[Callable[..., Any], ...], command: Callable[..., Any]) -> Callable[..., Any]:
    for option in reversed(options):
        command = option(command)
    return command
