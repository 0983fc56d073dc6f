"""Options that say how repeats stand beside each other."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

_OPTIONS = (
    click.option(
        "--repeat",
        type=click.Choice(["straight", "half-drop", "drop", "brick"]),
        default="straight",
        show_default=True,
        help="How repeats stand beside each other.",
    ),
    click.option(
        "--offset", metavar="N/K", help="How far a drop or brick moves, as a fraction of height or width."
    ),
    click.option(
        "--mirror",
        type=click.Choice(["across", "along", "both"]),
        help="Mirror every other column, every other row, or both.",
    ),
    click.option("--turned", is_flag=True, help="Turn every other repeat by 180 degrees."),
    click.option(
        "--only",
        type=click.Choice(["across", "along"]),
        help="A stripe or border: it repeats in this direction only.",
    ),
)


def lattice_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options to a command."""
    return lattice_details(_OPTIONS[0](command))


def lattice_details(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add all of them but the kind of repeat."""
    for option in reversed(_OPTIONS[1:]):
        command = option(command)
    return command
