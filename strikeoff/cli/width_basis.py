"""Options that say how wide a roll is."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from strikeoff.cli.params import number

_OPTIONS = (
    click.option("--width", metavar="MM", type=number, required=True, help="Width of the cloth [mm]."),
    click.option(
        "--width-basis",
        type=click.Choice(["cloth", "finished"]),
        default="cloth",
        show_default=True,
        help="The width is that of the cloth before finishing, or after it.",
    ),
)


def width_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options to a command."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command
